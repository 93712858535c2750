# shellcheck shell=sh disable=SC2034
# stages.sh - what run.sh and long.sh share; read in from the top of the tree:  . tests/stages.sh
#
#     stage WHAT...                    says what is being done, and when
#     tree FOLDER TARGET OPTION...     configures and builds; a failed build counts as one failure
#     suites FOLDER CTEST-OPTION...    runs them, adds to the counts, and tells what was left out and why
#     passes COMMAND...                one check: counts, and shows what it said if it fails
#     ends_stages                      last line: "N passed, M failed", status 1 if a check failed
. src/packages.sh
jobs=$(processors)
passed=0
failed=0
began=$(date +%s)

stage() {
    echo "[$(($(date +%s) - began)) s] $*"
}

tree() {
    folder=$1
    target=$2
    shift 2
    # shellcheck disable=SC2086  # one target or several
    quietly configure "$folder" "$@" && quietly cmake --build "$folder" -j "$jobs" --target $target && return 0
    failed=$((failed + 1))
    return 1
}

suites() {
    tree=$1
    shift
    report=$tree/suites.txt
    # One more than there are processors: some suites mostly wait, for a window or a child.
    ctest --test-dir "$tree" -j "$((jobs + 1))" --output-on-failure --no-tests=ignore "$@" >"$report" 2>&1 || true
    # "97% tests passed, 1 tests failed out of 34"
    counts=$(sed -n 's/.*tests passed, \([0-9]*\) tests failed out of \([0-9]*\).*/\1 \2/p' "$report")
    if [ -z "$counts" ]; then
        tail -n 20 "$report"
        failed=$((failed + 1))
        return 0
    fi
    bad=${counts% *}
    # What a suite left out, and why: its own words.
    grep -hE 'left out|\[  SKIPPED \]' "$tree/Testing/Temporary/LastTest.log" | sort -u
    passed=$((passed + ${counts#* } - bad))
    failed=$((failed + bad))
    if [ "$bad" -gt 0 ]; then
        grep -vE 'Start +[0-9]+: |Passed +[0-9.]+ sec|^ *$' "$report" | tail -n 200
    fi
}

passes() {
    if quietly "$@"; then passed=$((passed + 1)); else failed=$((failed + 1)); fi
}

ends_stages() {
    stage "done"
    echo "$passed passed, $failed failed"
    [ "$failed" -eq 0 ]
}
