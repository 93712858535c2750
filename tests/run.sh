#!/bin/sh
# run.sh - everything a change must pass: builds, runs all suites, runs them again under the address,
# leak and undefined-behaviour sanitizers, the playing thread under the thread sanitizer, and fuzzes each reader for
# a few seconds.
#
#     sh tests/run.sh              LETOFF_FUZZ_S=20 sh tests/run.sh fuzzes each reader for 20 s
#
# Installs missing Debian packages (root or sudo).  The last line counts what passed and failed.
# Stays under ten minutes on two cores; tests/long.sh has what takes longer.
set -eu
cd "$(dirname "$0")/.."
. src/packages.sh
jobs=$(processors)
passed=0
failed=0
began=$(date +%s)

stage() { # says what is being done, and when
    echo "[$(($(date +%s) - began)) s] $*"
}

# suites FOLDER CTEST-OPTION...: runs them and adds to the counts.
suites() {
    tree=$1
    shift
    report=$tree/suites.txt
    ctest --test-dir "$tree" -j "$jobs" --timeout 300 --output-on-failure "$@" >"$report" 2>&1 || true
    # "97% tests passed, 1 tests failed out of 34"
    counts=$(sed -n 's/.*tests passed, \([0-9]*\) tests failed out of \([0-9]*\).*/\1 \2/p' "$report")
    if [ -z "$counts" ]; then
        tail -n 20 "$report"
        failed=$((failed + 1))
        return 0
    fi
    bad=${counts% *}
    passed=$((passed + ${counts#* } - bad))
    failed=$((failed + bad))
    if [ "$bad" -gt 0 ]; then
        grep -vE 'Start +[0-9]+: |Passed +[0-9.]+ sec|^ *$' "$report" | tail -n 200
    fi
}

# tree FOLDER TARGET OPTION...: configures and builds; a failed build counts as one failure.
tree() {
    folder=$1
    target=$2
    shift 2
    quietly configure "$folder" "$@" && quietly cmake --build "$folder" -j "$jobs" --target "$target" && return 0
    failed=$((failed + 1))
    return 1
}

stage "packages"
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES

stage "build"
tree build all -DLETOFF_TESTS=ON && { stage "suites"; suites build; }

stage "static checks"
if quietly cmake --build build --target lint; then passed=$((passed + 1)); else failed=$((failed + 1)); fi

stage "build with sanitizers"
# The outcome tables of the plain build serve the others too: they are of the same code and data.
export LETOFF_TABLES="$PWD/build/letoff.tables"
tree build-asan all -DLETOFF_TESTS=ON -DLETOFF_SANITIZE=ON && { stage "suites with sanitizers"; suites build-asan; }

stage "build with the thread sanitizer"
tree build-tsan test_player -DLETOFF_TESTS=ON -DLETOFF_THREADS=ON && { stage "threads"; suites build-tsan -R '^test_player$'; }

if command -v clang >/dev/null 2>&1; then
    stage "build the fuzzers"
    tree build-fuzz fuzzers -DLETOFF_TESTS=ON -DLETOFF_FUZZ=ON -DCMAKE_C_COMPILER=clang \
        -DLETOFF_FUZZ_S="${LETOFF_FUZZ_S:-3}" -DLETOFF_FUZZ_SEED=1 && { stage "fuzz"; suites build-fuzz -L fuzz; }
fi

stage "done"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
