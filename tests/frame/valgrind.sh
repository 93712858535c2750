#!/bin/sh
# valgrind.sh LETOFF - verbs of the command line under valgrind: no read of what was never written, nothing lost.
# (Drawing and sound are left to the sanitizers: their libraries keep caches to the end.)
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
command -v valgrind >/dev/null 2>&1 || { echo "There is no valgrind; left out."; exit 0; }
export XDG_DATA_HOME="$scratch/data"

clean() {
    valgrind -q --error-exitcode=9 --leak-check=full --show-leak-kinds=definite --errors-for-leak-kinds=definite \
        "$letoff" "$@" </dev/null >"$scratch/out" 2>"$scratch/err"
    status=$?
    grep '^==' "$scratch/err"
    [ "$status" -ne 9 ] && ! grep -q '^==' "$scratch/err"
}

printf 'clock: longcase-rack\nheard: [{at: "3:00", strike: 2}, {at: "4:00", strike: 3}]\n' >"$scratch/call.yaml"
while read -r row; do
    # shellcheck disable=SC2086  # words on purpose
    check "letoff $row" clean $row
done <<ROWS
list clocks
check chimes/longcase.yaml tests/fuzz/corpus/yaml/every-kind-wrong.yaml
find $scratch/call.yaml
play longcase-rack --from 2:59 --to 3:01 --no-sound --json
resync longcase-rack --hands 3:10 --struck 5
journal add --story one
journal list --json
no-such-verb
ROWS
ends_checks
