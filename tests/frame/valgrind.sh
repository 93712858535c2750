#!/bin/sh
# valgrind.sh LETOFF [all] - verbs of the command line under valgrind: no read of what was never written, nothing lost.
# Rows that begin with + only with "all", as the long run asks for: every verb.
# (Drawing and sound are left to the sanitizers: their libraries keep caches to the end.)
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
command -v valgrind >/dev/null 2>&1 || { echo "There is no valgrind; left out."; exit 0; }
export XDG_DATA_HOME="$scratch/data"

clean() {
    valgrind -q --suppressions=tests/frame/valgrind.supp --error-exitcode=9 --leak-check=full --show-leak-kinds=definite --errors-for-leak-kinds=definite \
        "$letoff" "$@" </dev/null >"$scratch/out" 2>"$scratch/err"
    status=$?
    grep '^==' "$scratch/err"
    [ "$status" -ne 9 ] && ! grep -q '^==' "$scratch/err"
}

printf 'clock: longcase-rack\nheard: [{at: "3:00", strike: 2}, {at: "4:00", strike: 3}]\n' >"$scratch/call.yaml"
printf '4\n\n\n1\n' >"$scratch/answers"
"$letoff" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/three.wav" >/dev/null
"$letoff" journal add --story "strikes one too many" --customer "Mill Lane" --clock longcase-rack >/dev/null
"$letoff" journal export --out "$scratch/all.jsonl" >/dev/null
"$letoff" journal add --story "the other van's call" --journal "$scratch/other.db" >/dev/null
call=$("$letoff" journal list --json | jq -r '.[0].call')
customer=$("$letoff" journal export | jq -r 'select(.kind == "customer") | .id' | head -n 1)
while read -r row; do
    case $row in
    +*) [ "${2:-}" = all ] && row=${row#+} || continue ;;
    esac
    # shellcheck disable=SC2086  # words on purpose
    check "letoff $row" clean $row
done <<ROWS
+--help
+--version
list clocks
+list words --json
+list sheet
check chimes/longcase.yaml tests/fuzz/corpus/yaml/every-kind-wrong.yaml
find $scratch/call.yaml
+find --sheet --story "strikes one too many since the move"
+ask $scratch/call.yaml
play longcase-rack --from 2:59 --to 3:01 --no-sound --json
+play longcase-rack --from 2:59 --to 3:01 --no-sound --out $scratch/b.wav
resync longcase-rack --hands 3:10 --struck 5
+chart longcase-rack --json
+drill --seed 4 --kind time --rounds 1 --answers $scratch/answers
+listen $scratch/three.wav --clock longcase-rack --at 3:00 --no-cause
listen --taps 0,1.7,3.4 --clock longcase-rack --at 3:00 --no-cause
+doctor --json
journal add --story one
journal list --json
+journal show $call
+journal advice $call stopped
+journal plan $call 2031-05-06T10:00
+journal visits 2031-05-06
+journal close $call --found rack-tail-bent --minutes 30
+journal reopen $call
+journal find Mill
+journal stats
+journal learn
+journal export --as csv
+journal import $scratch/all.jsonl
+journal merge $scratch/other.db
+journal check
+journal schema
+journal erase $customer
no-such-verb
ROWS
ends_checks
