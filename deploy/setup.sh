# Read by run.sh and test.sh: finds a Python, and keeps .venv as the lock says.
#
# setup runtime | dev   →   $python, that of the virtual environment
# Plain POSIX sh; paths may hold spaces.

# The rule engine is built from C source, and on 3.13 it builds and then fails at import.
fits() {
    "$1" - 2>/dev/null <<'PY'
import ensurepip, os, sys, sysconfig, venv
headers = os.path.join(sysconfig.get_path("include"), "Python.h")
sys.exit(not ((3, 11) <= sys.version_info[:2] <= (3, 12) and os.path.exists(headers)))
PY
}

find_python() {
    for candidate in "${PYTHON:-python3.11}" python3.11 python3.12 python3; do
        if command -v "$candidate" >/dev/null 2>&1 && fits "$candidate"; then
            command -v "$candidate"
            return
        fi
    done
    # Not found: uv, where there is one, brings a Python with its headers.
    if command -v uv >/dev/null 2>&1; then
        uv python install 3.11 >&2 && uv python find --managed-python --no-project 3.11
    fi
}

setup() {
    lock=$root/$1.lock
    venv=$root/.venv
    stamp=$venv/.installed
    python=$venv/bin/python
    # What is installed for development is enough to run.
    if [ -f "$stamp" ] && fits_venv &&
        { same_as "$lock" || { [ "$1" = runtime ] && same_as "$root/dev.lock"; }; }; then
        return
    fi
    missing=
    base=$(find_python) || base=
    [ -n "$base" ] || missing="Python 3.11 or 3.12 with venv and C headers (or uv, which can bring one)"
    if ! command -v "${CC:-cc}" >/dev/null 2>&1 && ! command -v gcc >/dev/null 2>&1; then
        missing="${missing:+$missing, and }a C compiler (cc or gcc)"
    fi
    if [ -n "$missing" ]; then
        echo "Missing: $missing." >&2
        exit 1
    fi
    echo "Setting up .venv from $1.lock with $base …" >&2
    fits_venv || "$base" -m venv --clear "$venv"
    rm -f "$stamp"
    by_uv || by_pip -r "$lock" >&2
    # Only now: an installation that was broken off is done again.
    cksum <"$lock" >"$stamp"
}

by_pip() {
    "$python" -m pip install -q --no-input --disable-pip-version-check --require-hashes "$@"
}

# A lock that has uv in it is installed by that: a seventh of pip's work. Where it finds no
# packages, pip may: they are not told of a registry in the same way.
by_uv() {
    grep -q '^uv==' "$lock" || return 1
    sed -n '/^uv==/,/# via/p' "$lock" >"$venv/uv.txt"
    by_pip --no-deps -r "$venv/uv.txt" >&2 && "$python" -m uv pip install -q --python "$python" \
        --require-hashes -r "$lock" >&2
}

# Its Python still runs, also after a move of the folder or an upgrade of the system.
fits_venv() {
    [ -x "$python" ] && "$python" -c \
        'import pip, sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 12))' 2>/dev/null
}

same_as() {
    [ "$(cksum <"$1")" = "$(cat "$stamp")" ]
}
