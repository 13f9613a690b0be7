#!/bin/sh
# Continuous backup of a PostgreSQL store, and its restore to a point in time.
#
#   sh deploy/point-in-time.sh settings ARCHIVE                    lines for postgresql.conf
#   sh deploy/point-in-time.sh base FOLDER [CONNECTION]            a base backup, checked
#   sh deploy/point-in-time.sh restore FOLDER ARCHIVE DATA TIME    a data folder as of TIME
#
# On the machine of the database, as the user it runs as. Once: put the settings into
# postgresql.conf, restart, make a base backup; later one a week, and remove the older ones.
# ARCHIVE is best on another machine's disk, mounted here. At most 60 s of writes are lost.
#
# To restore: stop the service and the database, "restore" into a new DATA, and start PostgreSQL
# there. It replays up to TIME ("2025-07-05 14:30:00+00") and then takes writes. Then run
# "db current" and erase again who was erased since TIME. DEVELOPERS.md says when to rehearse.
set -eu
fail() { echo "$1" >&2 && exit 1; }
absolute() { case $1 in /*) echo "$1" ;; *) fail "$1 is no absolute path." ;; esac; }
case ${1:-} in
settings)
    archive=$(absolute "${2:?give a folder for the archive}")
    # Written beside and renamed: a file that breaks off is never taken for a whole one.
    cat <<END
wal_level = replica
archive_mode = on
archive_timeout = 60
archive_command = 'test ! -f "$archive/%f" && cp "%p" "$archive/.%f" && sync "$archive/.%f" && mv "$archive/.%f" "$archive/%f"'
END
    ;;
base)
    folder=$(absolute "${2:?give a new folder for the backup}")
    pg_basebackup --pgdata="$folder" --dbname="${3:-postgresql:///}" --checkpoint=fast \
        --wal-method=stream
    pg_verifybackup --quiet "$folder"
    ;;
restore)
    folder=$(absolute "${2:?give the folder of a base backup}")
    archive=$(absolute "${3:?give the folder of the archive}")
    data=$(absolute "${4:?give a new data folder}")
    when=${5:?give the time, such as 2025-07-05 14:30:00+00}
    [ ! -e "$data" ] || fail "$data is there already."
    pg_verifybackup --quiet "$folder"
    (umask 077 && cp -R "$folder" "$data")
    cat >>"$data/postgresql.auto.conf" <<END
restore_command = 'cp "$archive/%f" "%p"'
recovery_target_time = '$when'
recovery_target_action = 'promote'
archive_mode = off
END
    touch "$data/recovery.signal"
    ;;
*) fail "Give settings, base or restore; the head of $0 says how." ;;
esac
