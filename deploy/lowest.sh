#!/bin/sh
# Runs the tests with the lowest versions that pyproject.toml allows of what it names. Needs uv.
# Arguments go to pytest. PYTHON_VERSION=3.12 takes another Python, with the newest versions.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
command -v uv >/dev/null 2>&1 || { echo "Missing: uv." >&2 && exit 1; }
wanted=${PYTHON_VERSION:-}
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM
cd "$root"
if [ -n "$wanted" ]; then
    lock=dev.lock
else
    lock=$scratch/lowest.lock
    uv pip compile -q pyproject.toml --group dev --resolution lowest-direct \
        --python-version 3.11 -o "$lock"
fi
uv venv -q --python "${wanted:-3.11}" "$scratch/venv"
uv pip install -q --python "$scratch/venv/bin/python" -r "$lock"
"$scratch/venv/bin/python" -m pytest "$@"
