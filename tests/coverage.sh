#!/bin/sh
# coverage.sh - which lines and branches the suites reach, in a build tree of its own.
#
#     sh tests/coverage.sh [FOLDER...]     folders of src/ to list (all when none is given)
set -eu
cd "$(dirname "$0")/.."
. src/packages.sh
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES

quietly configure build-coverage -DLETOFF_TESTS=ON -DLETOFF_COVERAGE=ON
quietly cmake --build build-coverage -j "$(processors)"
find build-coverage -name '*.gcda' -delete
ctest --test-dir build-coverage -j "$(processors)" --timeout 120 >build-coverage/suites.txt 2>&1 ||
    echo "Some suites failed; see build-coverage/suites.txt."

wanted=src/
for folder in "$@"; do
    [ "$wanted" = src/ ] && wanted="src/($folder" || wanted="$wanted|$folder"
done
[ "$wanted" = src/ ] || wanted="$wanted)/"
gcovr -r . --object-directory build-coverage --filter "$wanted" --exclude-throw-branches --print-summary
