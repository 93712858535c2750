#!/bin/sh
# start.sh - from a fresh clone to a first diagnosis: installs what is missing, builds into build/,
# finds the fault of the call in chimes/calls/demo-call.yaml, and opens the window where there is a display.
#
#     sh src/start.sh              LETOFF_NO_WINDOW=1 sh src/start.sh keeps to the terminal
#
# Safe to run again; runs as root or with sudo, without display and sound card.
set -eu
cd "$(dirname "$0")/.."
. src/packages.sh

# shellcheck disable=SC2086  # a list of words on purpose
install_missing $BUILD_PACKAGES

echo "Building into build/ ..."
[ -f build/CMakeCache.txt ] || quietly configure build -DLETOFF_TESTS=OFF
quietly cmake --build build -j "$(processors)"

echo
echo "The call: chimes/calls/demo-call.yaml"
sed 's/^/    /' chimes/calls/demo-call.yaml
echo
echo "\$ build/letoff find chimes/calls/demo-call.yaml"
build/letoff find chimes/calls/demo-call.yaml

if [ -z "${LETOFF_NO_WINDOW:-}" ] && [ -n "${DISPLAY:-}${WAYLAND_DISPLAY:-}" ]; then
    echo
    echo "Opening the window; close it to end."
    build/letoff
else
    echo
    echo "Next: build/letoff --help.  With a display, build/letoff opens the window."
fi
