#!/bin/sh
# Sets everything up, starts the service, asks it for advice once and prints the card.
# --once stops after that. WAVESETUP_BIND=host:port listens elsewhere than 127.0.0.1:8000.
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
. "$root/deploy/setup.sh"
setup runtime
exec "$python" "$root/deploy/run.py" "$@"
