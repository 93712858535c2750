# shellcheck shell=sh
# checks.sh - the little that suites written as scripts share:  . tests/frame/checks.sh
#
#     check "it says so" COMMAND...      the command must succeed; its output is shown if it does not, and what it
#                                        says was left out in any case
#     fails STATUS COMMAND...            true if the command ends with that status
#     ends_checks                        last line: exits 1 if a check failed
checks_failed=0
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

check() {
    sentence=$1
    shift
    if "$@" >"$scratch/check.out" 2>&1; then
        echo "ok: $sentence"
        grep 'left out' "$scratch/check.out" # what this machine cannot do; run.sh tells it at the end
    else
        echo "FAILED: $sentence"
        head -n 20 "$scratch/check.out"
        checks_failed=1
    fi
}

fails() {
    wanted=$1
    shift
    status=0
    "$@" || status=$?
    [ "$status" -eq "$wanted" ] && return 0
    echo "ended with status $status, expected $wanted"
    return 1
}

ends_checks() { exit "$checks_failed"; }
