#!/bin/sh
# Runs all benchmarks and writes them as one Markdown document, to the file that is named first
# (or to standard output only). Load comes from wrk where that is installed, on loopback.
# --seconds N of load each (5); --requests 100000 watches the memory as well.
#
# navaltoolbox (AGPL-3.0) is compared with: it goes into an environment that is thrown away, and
# runs in a process of its own.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/deploy/setup.sh"
setup dev
file=/dev/null
case ${1:-} in
'' | -*) ;;
*) file=$1 && shift ;;
esac
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM
if "$python" -m venv "$scratch/library" &&
    "$scratch/library/bin/python" -m pip install -q --no-input --disable-pip-version-check \
        'navaltoolbox>=0.9,<1' >&2; then
    set -- --library "$scratch/library/bin/python" "$@"
else
    echo "navaltoolbox cannot be installed here: left out." >&2
fi
case $file in /*) ;; *) file=$PWD/$file ;; esac
cd "$root"
"$python" -m tests.bench "$@" | tee "$file"
