#!/usr/bin/env bash
# A PostgreSQL that one test starts and stops, apart from the one that all tests share.
#
# Prints "ready URL"; then takes lines on standard input and answers each with "done":
#   stop MODE   fast (clients are told) or immediate (as in a power cut)
#   start       on the same port, with the same data
# At the end of the input it stops the cluster and removes everything.
set -uo pipefail
cd "$(dirname "$0")/../.." || exit 70

run=$(mktemp -d -t baystart-own.XXXXXX) || exit 70
say() { printf '%s\n' "$*" >&2; }
free_port() {
  python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}
unset BAYSTART_TEST_POSTGRES
. tests/support/postgres.sh

trap 'postgres_stop; rm -rf "$run"' EXIT
trap 'exit 143' INT TERM HUP

postgres_start || exit 70
url=$BAYSTART_TEST_POSTGRES
port=${url##*:}
port=${port%%/*}
echo "ready $url"

control() { (cd / && as_postgres "$postgres_bin/pg_ctl" "$@" -w -t 60 -D "$postgres_data/data") >/dev/null; }

while read -r order mode; do
  case $order in
    stop) control stop -m "$mode" || exit 70 ;;
    start)
      control start -l "$postgres_data/log" \
        -o "-p $port -c listen_addresses=127.0.0.1 -c unix_socket_directories='$postgres_data'" || exit 70
      ;;
    *) say "no such order: $order"; exit 64 ;;
  esac
  echo done
done
