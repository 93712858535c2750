#!/bin/sh
# run.sh - everything a change must pass: builds, runs all suites, runs them again under the address,
# leak and undefined-behaviour sanitizers (but for those that count over very many cases, look at something else than
# memory, or go the same ways as others: letoff_count and letoff_once in tests/CMakeLists.txt), the playing thread
# under the thread sanitizer, and fuzzes each reader for a few seconds.
#
#     sh tests/run.sh              LETOFF_FUZZ_S=20 sh tests/run.sh fuzzes each reader for 20 s
#
# Installs missing Debian packages (root or sudo).  The last line counts what passed and failed.
# Stays under ten minutes on two cores; tests/long.sh has what takes longer.
set -eu
cd "$(dirname "$0")/.."
. tests/stages.sh

stage "packages"
# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES $TEST_PACKAGES

stage "build"
tree build all -DLETOFF_TESTS=ON && { stage "suites"; suites build --timeout 300; }

stage "static checks"
passes cmake --build build --target lint

stage "build with sanitizers"
# The outcome tables of the plain build serve the others too: they are of the same code and data.
export LETOFF_TABLES="$PWD/build/letoff.tables"
tree build-asan all -DLETOFF_TESTS=ON -DLETOFF_SANITIZE=ON -DLETOFF_AGAIN=ON && { stage "suites with sanitizers"; suites build-asan --timeout 300 -LE "count|once"; }

stage "build with the thread sanitizer"
tree build-tsan 'test_player test_crew' -DLETOFF_TESTS=ON -DLETOFF_THREADS=ON -DLETOFF_AGAIN=ON && { stage "threads"; suites build-tsan --timeout 300 -R '^test_(player|crew)$'; }

if command -v clang >/dev/null 2>&1; then
    stage "build the fuzzers"
    tree build-fuzz fuzzers -DLETOFF_TESTS=ON -DLETOFF_FUZZ=ON -DLETOFF_AGAIN=ON -DCMAKE_C_COMPILER=clang \
        -DLETOFF_FUZZ_S="${LETOFF_FUZZ_S:-3}" -DLETOFF_FUZZ_SEED=1 && { stage "fuzz"; suites build-fuzz --timeout 300 -L fuzz; }
fi

ends_stages
