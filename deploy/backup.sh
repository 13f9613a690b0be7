#!/bin/sh
# Writes a backup of the store, named by its time, and keeps the newest ones.
#
#   sh deploy/backup.sh FOLDER [HOW_MANY]      (14)
#
# The store is that of WAVESETUP_DATABASE_URL. To restore, with the service stopped:
#   .venv/bin/python -m flask --app service db restore FILE
set -eu
root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
folder=${1:?give a folder for the backups}
keep=${2:-14}
case $keep in '' | *[!0-9]* | 0) echo "HOW_MANY is a number from 1." >&2 && exit 1 ;; esac
mkdir -p "$folder"
folder=$(CDPATH='' cd -- "$folder" && pwd)

cd "$root"
.venv/bin/python -m flask --app service db backup \
    "$folder/wavesetup-$(date -u +%Y%m%dT%H%M%SZ).backup"

# Only after a good one: the names sort by time.
find "$folder" -maxdepth 1 -name 'wavesetup-*Z.backup' | sort -r | tail -n "+$((keep + 1))" |
    while IFS= read -r old; do rm -- "$old"; done
