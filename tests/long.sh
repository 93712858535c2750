#!/bin/sh
# long.sh - what is too long for every change: each fuzzer and each soak for as long as told.
#
#     sh tests/long.sh [SECONDS]   seconds for each (60 when not given)
#
# A soak is a program listed with letoff_long() in a CMakeLists.txt under tests/; it finds its seconds
# in LETOFF_LONG_S.  What a fuzzer finds is kept in build-fuzz/found/: mend it, then keep the input
# in the fuzzer's corpus folder.
set -eu
cd "$(dirname "$0")/.."
. src/packages.sh
seconds=${1:-60}
case $seconds in
'' | *[!0-9]*)
    echo "long.sh: met \"$seconds\", expected a number of seconds." >&2
    exit 2
    ;;
esac
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES
failed=0

quietly configure build -DLETOFF_TESTS=ON
quietly cmake --build build -j "$(processors)"
LETOFF_LONG_S=$seconds ctest --test-dir build -C long -L long --timeout $((seconds * 2 + 600)) \
    --output-on-failure --no-tests=ignore || failed=1

quietly configure build-fuzz -DLETOFF_TESTS=ON -DLETOFF_FUZZ=ON -DCMAKE_C_COMPILER=clang \
    -DLETOFF_FUZZ_S="$seconds" -DLETOFF_FUZZ_SEED=0
quietly cmake --build build-fuzz -j "$(processors)" --target fuzzers
ctest --test-dir build-fuzz -L fuzz -j "$(processors)" --timeout $((seconds * 2 + 600)) \
    --output-on-failure || failed=1

# The same suites as tests/run.sh, under clang's sanitizers, and everything that has threads under the thread sanitizer.
quietly configure build-asan-clang -DLETOFF_TESTS=ON -DLETOFF_SANITIZE=ON -DCMAKE_C_COMPILER=clang
quietly cmake --build build-asan-clang -j "$(processors)"
ctest --test-dir build-asan-clang -j "$(processors)" --timeout 600 --output-on-failure || failed=1
quietly configure build-tsan -DLETOFF_TESTS=ON -DLETOFF_THREADS=ON
quietly cmake --build build-tsan -j "$(processors)"
ctest --test-dir build-tsan -R 'player|hearing|listen|decoder_suite|test_call|test_desk|test_show|test_ui' -j "$(processors)" --timeout 600 \
    --output-on-failure || failed=1

quietly cmake --build build --target lint || failed=1
quietly cmake --build build --target tidy || failed=1

if [ "$failed" -eq 0 ]; then
    echo "Nothing new was found."
else
    echo "Something was found; see above and build-fuzz/found/."
fi
exit "$failed"
