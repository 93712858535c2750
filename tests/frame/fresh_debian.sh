#!/bin/sh
# fresh_debian.sh BUILD - a Debian 12 made by debootstrap: the package is installed with one command, the demo call
# answered with a second.  Needs root and a Debian mirror; the bare system is kept in BUILD/debian.tar.
set -u
build=$(cd "$1" && pwd)
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
mirror=${LETOFF_DEBIAN_MIRROR:-http://deb.debian.org/debian}
if [ "$(id -u)" -ne 0 ] || ! command -v debootstrap >/dev/null 2>&1 || ! unshare -m true 2>/dev/null; then
    echo "A fresh system needs root, debootstrap and mounts; left out."
    exit 0
fi
root=$scratch/debian

makes_a_system() {
    if [ ! -s "$build/debian.tar" ]; then
        debootstrap --variant=minbase bookworm "$root" "$mirror" >"$scratch/debootstrap" 2>&1 || { tail -n 5 "$scratch/debootstrap"; return 1; }
        tar -C "$root" -cf "$build/debian.tar.new" . && mv "$build/debian.tar.new" "$build/debian.tar"
    else
        mkdir -p "$root" && tar -C "$root" -xf "$build/debian.tar"
    fi
}
in_root() {
    unshare -m sh -c 'mount -t proc proc "$0/proc" && exec chroot "$0" "$@"' "$root" \
        /usr/bin/env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 DEBIAN_FRONTEND=noninteractive "$@"
}
makes_the_package() {
    cpack --config "$build/CPackConfig.cmake" -G DEB -B "$scratch/made" && cp "$scratch"/made/letoff_*.deb "$root/tmp/letoff.deb"
}
one_command_installs_it() {
    cp /etc/resolv.conf "$root/etc/" 2>/dev/null
    in_root apt-get -q update && in_root apt-get -q -y --no-install-recommends install /tmp/letoff.deb
}
a_second_answers_the_demo_call() {
    in_root letoff find /usr/share/letoff/chimes/calls/demo-call.yaml | tee "$scratch/answer"
    grep -q '%' "$scratch/answer"
}
the_doctor_is_content() { in_root letoff doctor --json | tee "$scratch/doctor" | grep -q '"good":true'; }

check "debootstrap makes a system" makes_a_system
check "cpack makes the package" makes_the_package
check "one command installs it" one_command_installs_it
check "a second answers the demo call" a_second_answers_the_demo_call
check "the doctor is content" the_doctor_is_content
ends_checks
