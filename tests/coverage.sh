#!/bin/sh
# coverage.sh - which lines and branches the suites reach, in a build tree of its own.
#
#     sh tests/coverage.sh [--least PERCENT] [FOLDER...]     folders of src/ to list (all when none is given);
#                                                            fails where the suites reach fewer of a folder's lines
set -eu
cd "$(dirname "$0")/.."
. src/packages.sh
least=0
[ "${1:-}" != --least ] || {
    least=$2
    shift 2
}
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES

quietly configure build-coverage -DLETOFF_TESTS=ON -DLETOFF_COVERAGE=ON
quietly cmake --build build-coverage -j "$(processors)"
find build-coverage -name '*.gcda' -delete
ctest --test-dir build-coverage -j "$(processors)" --timeout 120 >build-coverage/suites.txt 2>&1 ||
    echo "Some suites failed; see build-coverage/suites.txt."

report() { # FILTER GCOVR-OPTION...: branches of errors the compiler adds are left out
    filter=$1
    shift
    gcovr -r . --object-directory build-coverage --filter "$filter" --exclude-throw-branches "$@"
}

[ $# -gt 0 ] || set -- .
poor=0
for folder in "$@"; do
    [ "$folder" = . ] && filter=src/ || filter="src/$folder/"
    report "$filter" --print-summary --fail-under-line "$least" || poor=1
done
exit "$poor"
