#!/bin/sh
# Runs the tests with the lowest versions that pyproject.toml allows of what it names. Arguments go
# to pytest. PYTHON_VERSION=3.12 takes that Python instead, with the versions of dev.lock.
# Exit code 3: that Python or its packages cannot be had here, so nothing was tried.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
version=${PYTHON_VERSION:-3.11}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM
cd "$root"
. "$root/deploy/setup.sh"
setup dev
uv() { "$python" -m uv "$@"; }

untried() {
    echo "$1: not tried." >&2
    exit 3
}

# One on the path may be a stand-in for a version that is not chosen: it has to run.
for other in "python$version" "$HOME/.pyenv/versions/$version".*/bin/python; do
    "$other" -c '' 2>/dev/null && break
    other=
done
# Where there is none, uv may know or bring one.
[ -n "$other" ] || other=$(uv python find "$version" 2>/dev/null) || untried "No Python $version"

lock=dev.lock
if [ -z "${PYTHON_VERSION:-}" ]; then
    lock=$scratch/lowest.lock
    uv pip compile -q pyproject.toml --group dev --resolution lowest-direct \
        --python-version 3.11 -o "$lock" || untried "The lowest versions cannot be found out"
fi
uv venv -q --python "$other" "$scratch/venv"
uv pip install -q --python "$scratch/venv/bin/python" -r "$lock" ||
    untried "The packages cannot be installed"
"$scratch/venv/bin/python" -m pytest -p no:cacheprovider "$@"
