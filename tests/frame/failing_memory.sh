#!/bin/sh
# failing_memory.sh LETOFF [HALVES] - every verb with its Nth allocation failing, for many N: the end is one
# sentence and status 3, never a crash, never a second line (under sanitizers: no leak).
# N becomes so many halves of itself each time: 3, or, under sanitizers, which are slow, 16.
set -u
halves=${2:-3}
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh

# ends_clean N ARGUMENT...: 0 clean end, 1 not, 2 it has fewer allocations than that.
ends_clean() {
    nth=$1
    shift
    status=0
    LETOFF_FAIL_ALLOC=$nth "$letoff" "$@" >/dev/null 2>"$scratch/said" </dev/null || status=$?
    if [ "$status" -eq 3 ] && [ "$(wc -l <"$scratch/said")" -eq 1 ] &&
        grep -q '^letoff: There is not enough memory' "$scratch/said"; then
        return 0
    fi
    LETOFF_FAIL_ALLOC=0 "$letoff" "$@" >/dev/null 2>"$scratch/usual" </dev/null
    if [ "$status" -eq $? ] && cmp -s "$scratch/said" "$scratch/usual"; then
        return 2
    fi
    echo "letoff $*: allocation $nth failing ended with status $status"
    cat "$scratch/said"
    return 1
}

# Goes through N in steps that grow, until the verb no longer gets that far.
sweep() {
    n=1
    while [ "$n" -lt 10000000 ]; do
        ends_clean "$n" "$@"
        case $? in
        1) return 1 ;;
        2) [ "$n" -gt 1 ] && return 0 || return 1 ;;
        esac
        n=$((n * halves / 2 + 1))
    done
}

"$letoff" journal add --customer "Mill Lane" --clock longcase-rack --story "strikes 2 at 3" \
    --journal "$scratch/shop.db" >/dev/null

# A call is kept whole or not at all, wherever memory ran out, and the journal is sound afterwards.
journal_stays_sound() {
    n=1
    while [ "$n" -lt 100000 ]; do
        before=$("$letoff" journal list --journal "$journal" | wc -l)
        status=0
        LETOFF_FAIL_ALLOC=$n "$letoff" journal add --journal "$journal" --story "call $n" --clock longcase-rack >/dev/null 2>&1 || status=$?
        after=$("$letoff" journal list --journal "$journal" | wc -l)
        "$letoff" journal check --journal "$journal" >/dev/null || return 1
        [ "$status" -eq 0 ] && [ "$after" -gt "$before" ] && return 0
        [ "$status" -eq 3 ] && [ "$after" -le $((before + 1)) ] || { echo "allocation $n: status $status, $before calls, then $after"; return 1; }
        n=$((n * halves / 2 + 1))
    done
    return 1
}

journal=$scratch/journal.db
export XDG_DATA_HOME="$scratch/data" SDL_AUDIODRIVER=dummy SDL_VIDEODRIVER=dummy
printf 'clock: longcase-rack\nheard: [{at: "3:00", strike: 2}, {at: "4:00", strike: 3}]\n' >"$scratch/call.yaml"
"$letoff" journal add --journal "$journal" --story "strikes one too many" --clock longcase-rack >/dev/null
"$letoff" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/three.wav" >/dev/null
check "the journal stays sound" journal_stays_sound
while read -r row; do
    # shellcheck disable=SC2086  # words on purpose
    check "letoff $row" sweep $row
done <<ROWS
check chimes/longcase.yaml chimes/words.yaml chimes/faults.yaml
check chimes/calls/demo-call.yaml
check tests/fuzz/corpus/yaml/every-kind-wrong.yaml
list clocks --json
list words
play longcase-rack --from 2:59 --to 3:01 --no-sound --json
play longcase-rack --from 2:59 --to 3:01 --no-sound --out $scratch/a.wav
play longcase-rack --from 2:59 --to 3:01 --no-sound --out $scratch/a.mid
play longcase-rack --from 2:59 --to 3:01 --no-sound --out $scratch/a.svg
find $scratch/call.yaml --json
find $scratch/call.yaml --shorthand
ask $scratch/call.yaml
resync longcase-countwheel-78 --hands 3:10 --struck 5
chart longcase-rack --out $scratch/a.pdf
drill --seed 1 --rounds 1
listen $scratch/three.wav --clock longcase-rack --at 3:00
journal list --journal $journal --json
journal stats --journal $journal
journal export --journal $journal
doctor --json
journal list --json --journal $scratch/shop.db
journal export --journal $scratch/shop.db
ROWS
ends_checks
