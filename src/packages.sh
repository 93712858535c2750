# shellcheck shell=sh disable=SC2034  # read in by other scripts, which use the lists
# packages.sh - the Debian packages letoff needs, and the one way they are installed.
# Read in by start.sh and tests/run.sh:  . src/packages.sh; install_missing $BUILD_PACKAGES
#
# To add a library: put its -dev package here, find it in src/CMakeLists.txt, name it in DEVELOPERS.md.

BUILD_PACKAGES="build-essential cmake ninja-build pkg-config
  libyaml-dev libjansson-dev libkissfft-dev libsqlite3-dev libpq-dev libseccomp-dev
  libsdl2-dev libsdl2-mixer-dev libcairo2-dev libpango1.0-dev
  libsndfile1-dev libopus-dev libogg-dev libavformat-dev libavcodec-dev libavutil-dev libswresample-dev
  fontconfig fonts-dejavu-core fonts-linuxlibertine"

TEST_PACKAGES="libcmocka-dev ccache clang clang-format clang-tidy llvm lld libclang-rt-dev wasi-libc
  libclang-rt-dev-wasm32 nodejs cppcheck
  valgrind gcovr locales shellcheck jq python3 python3-yaml sqlite3 postgresql
  xvfb xauth xdotool imagemagick poppler-utils sox ffmpeg aubio-tools espeak-ng libopencore-amrnb-dev libvo-amrwbenc-dev
  appstream desktop-file-utils librsvg2-bin groff-base fakeroot dpkg-dev debootstrap strace faketime"

# Run a command as the system's administrator.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif sudo -n true 2>/dev/null; then
        sudo -n "$@"
    elif command -v sudo >/dev/null 2>&1; then
        sudo "$@"
    else
        echo "This takes root or sudo."
        return 1
    fi
}

# install_missing PACKAGE...: installs those that are not there; asks nothing.
install_missing() {
    command -v dpkg-query >/dev/null 2>&1 || {
        echo "This is no Debian system; going on with the libraries that are there."
        return 0
    }
    missing=""
    for package in "$@"; do
        dpkg-query -W -f '${Status}' "$package" 2>/dev/null | grep -q '^install ok installed$' ||
            missing="$missing $package"
    done
    [ -n "$missing" ] || return 0
    echo "Installing:$missing"
    log=$(mktemp)
    as_root apt-get -q update >"$log" 2>&1 ||
        echo "The package lists could not be renewed; trying with the old ones."
    # shellcheck disable=SC2086  # a list of words on purpose
    if ! as_root env DEBIAN_FRONTEND=noninteractive apt-get -q -y --no-install-recommends install $missing >"$log" 2>&1; then
        tail -n 20 "$log"
        rm -f "$log"
        echo "These packages could not be installed:$missing"
        return 1
    fi
    rm -f "$log"
}

# configure FOLDER OPTION...: Ninja where there is one, but an old build folder keeps what it has.
configure() {
    tree=$1
    shift
    if [ ! -f "$tree/CMakeCache.txt" ] && command -v ninja >/dev/null 2>&1; then
        set -- -G Ninja "$@"
    fi
    cmake -S . -B "$tree" "$@"
}

# quietly COMMAND...: its output is shown only if it fails.
quietly() {
    said=$(mktemp)
    if "$@" >"$said" 2>&1; then
        rm -f "$said"
        return 0
    fi
    tail -n 60 "$said"
    rm -f "$said"
    return 1
}

processors() { nproc 2>/dev/null || echo 2; }
