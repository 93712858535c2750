#!/bin/sh
# long.sh - what is too long for every change: each fuzzer and each soak for as long as told, 10^7 days of all clocks,
# eight hours of the window, all suites under clang's sanitizers and whatever has threads under the thread sanitizer, the
# package on a fresh Debian, clang-tidy, and how much of the core the suites reach.
#
#     sh tests/long.sh [SECONDS [STAGE...]]   seconds for each (60 when not given); all stages when none is named:
#                                             soaks fuzz sanitizers threads static coverage
#
# A soak is a program listed with letoff_long() in a CMakeLists.txt under tests/; it finds its seconds in LETOFF_LONG_S.
# Fuzzers begin anew each time; the seed is told, and with LETOFF_FUZZ_SEED it is the same again.  What a fuzzer finds is
# kept in build-fuzz/found/: mend it, then keep the input in the fuzzer's corpus folder.
# The last line counts what passed and failed.
set -eu
cd "$(dirname "$0")/.."
. tests/stages.sh
seconds=${1:-60}
case $seconds in
'' | *[!0-9]*)
    echo "long.sh: met \"$seconds\", expected a number of seconds." >&2
    exit 2
    ;;
esac
[ $# -eq 0 ] || shift
stages=${*:-soaks fuzz sanitizers threads static coverage}
patience=$((seconds * 2 + 600))
seed=${LETOFF_FUZZ_SEED:-$(date +%s)}
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES

stage "build"
tree build all -DLETOFF_TESTS=ON || { ends_stages; exit 1; }
for name in $stages; do
    stage "$name"
    case $name in
    soaks)
        export LETOFF_LONG_S="$seconds"
        suites build -C long -L long --timeout "$patience"
        ;;
    fuzz)
        echo "seed $seed"
        tree build-fuzz fuzzers -DLETOFF_TESTS=ON -DLETOFF_FUZZ=ON -DLETOFF_AGAIN=OFF -DCMAKE_C_COMPILER=clang -DLETOFF_FUZZ_S="$seconds" \
            -DLETOFF_FUZZ_SEED="$seed" && suites build-fuzz -L fuzz --timeout "$patience"
        ;;
    sanitizers)
        tree build-asan-clang all -DLETOFF_TESTS=ON -DLETOFF_SANITIZE=ON -DCMAKE_C_COMPILER=clang &&
            suites build-asan-clang --timeout 600
        ;;
    threads)
        tree build-tsan all -DLETOFF_TESTS=ON -DLETOFF_THREADS=ON -DLETOFF_AGAIN=OFF &&
            suites build-tsan -R 'player|crew|test_belief|hearing|listen|clip|decoder_suite|test_hear|test_call|test_desk|test_show|test_ui|_page' --timeout 600
        ;;
    static)
        passes cmake --build build --target lint
        passes cmake --build build --target tidy
        ;;
    coverage) passes sh tests/coverage.sh --least 90 movement diagnose resync journal ;;
    *)
        echo "long.sh: there is no stage \"$name\"." >&2
        failed=$((failed + 1))
        ;;
    esac
done
ends_stages
