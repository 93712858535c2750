#!/bin/sh
# no_network.sh LETOFF - no verb opens a network connection, whatever it is asked; only a PostgreSQL journal
# that was named does, and that is how the test knows it would see one.
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
export XDG_DATA_HOME="$scratch/data" SDL_AUDIODRIVER=dummy SDL_VIDEODRIVER=dummy

trace() { strace -f -qq -e trace=socket,connect -o "$scratch/trace" "$letoff" "$@" >"$scratch/out" 2>&1 </dev/null; }
if ! strace -qq -o /dev/null true 2>/dev/null; then
    echo "Processes cannot be traced here; left out."
    exit 0
fi
opens_none() {
    trace "$@" || { cat "$scratch/out"; return 1; }
    ! grep -E 'AF_(INET|INET6|PACKET)' "$scratch/trace" # AF_NETLINK: the kernel's list of sound devices
}
opens_one() {
    trace "$@"
    grep -qE 'AF_INET' "$scratch/trace"
}

"$letoff" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/three.wav" >/dev/null
printf 'clock: longcase-rack\nheard: [{at: "3:00", strike: 2}]\n' >"$scratch/call.yaml"
while read -r row; do
    # shellcheck disable=SC2086  # words on purpose
    check "letoff $row" opens_none $row
done <<ROWS
--help
list clocks
list voices
check chimes/longcase.yaml
play longcase-rack --from 2:59 --to 3:01
play longcase-rack --from 2:59 --to 3:01 --no-sound --out $scratch/a.svg
find $scratch/call.yaml --pairs
ask $scratch/call.yaml
resync longcase-countwheel-78 --hands 3:10 --struck 5
chart longcase-rack --out $scratch/a.pdf
drill --seed 1 --rounds 1
listen $scratch/three.wav --clock longcase-rack
journal add --story one
journal list
doctor
ROWS
check "a PostgreSQL journal that was named does" opens_one journal list --journal postgresql://letoff@127.0.0.1:1/none
ends_checks
