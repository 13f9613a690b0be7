#!/bin/sh
# Sets everything up and runs all checks. Arguments go to pytest.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/deploy/setup.sh"
setup dev
cd "$root"
# By $python: a script in .venv/bin names its interpreter by a path that may be long or spaced.
"$python" -m ruff check .
"$python" -m ruff format --check .
"$python" -m mypy
"$python" .venv/bin/lint-imports
"$python" -m pytest --numprocesses=auto --dist=worksteal "$@"
if [ -z "${WAVESETUP_TEST_POSTGRES_URL:-}" ]; then
    echo "Skipped: PostgreSQL. To include it: WAVESETUP_TEST_POSTGRES_URL=postgresql://user@host/database sh deploy/test.sh" >&2
fi
