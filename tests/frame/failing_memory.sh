#!/bin/sh
# failing_memory.sh LETOFF - every verb with its Nth allocation failing, for many N: the end is one
# sentence and status 3, never a crash, never a second line (under sanitizers: no leak).
set -u
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
        n=$((n + 1 + n / 6))
    done
}

"$letoff" journal add --customer "Mill Lane" --clock longcase-rack --story "strikes 2 at 3" \
    --journal "$scratch/shop.db" >/dev/null

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
journal list --json --journal $scratch/shop.db
journal export --journal $scratch/shop.db
ROWS
ends_checks
