#!/bin/sh
# window_soak.sh - hours of a shop's use of the real window, compressed: every ten minutes a call is taken, looked at on
# the plate, listened for, set right, kept in the journal, a round of the drill is played, the window is resized.
# Memory must be steady: after two hours of warming up it may not grow by more than one part in twenty.
#
#     window_soak.sh PROGRAM [HOURS]     8 hours when not given, about half a minute each
set -eu
program=$1
hours=${2:-8}
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
export XDG_CONFIG_HOME="$home/config" XDG_STATE_HOME="$home/state" XDG_DATA_HOME="$home/data"
export SDL_AUDIODRIVER=dummy PROGRAM="$program" HERE="$home" HOURS="$hours"
mkdir -p "$XDG_CONFIG_HOME/letoff"
printf 'width: 1280\nheight: 800\nzoom: 1.00\ntext: 1.00\ncontrast: plain\nsound: yes\n' > "$XDG_CONFIG_HOME/letoff/window.yaml"

cat > "$home/hand.sh" <<'HAND'
set -eu
fail() { echo "window_soak: $1" >&2; kill "$pid" 2>/dev/null || true; exit 1; }
"$PROGRAM" 2>"$HERE/told" & pid=$!
for i in $(seq 100); do
    win=$(xdotool search --onlyvisible --class letoff 2>/dev/null | head -n 1) && [ -n "$win" ] && break
    sleep 0.2
done
[ -n "${win:-}" ] || fail "no window came up"
uses=0
press() { for k; do xdotool key --clearmodifiers "$k"; uses=$((uses + 1)); sleep 0.04; done; }
write() { xdotool type --delay 6 "$1"; uses=$((uses + ${#1})); press Return; }
click() { xdotool mousemove --sync "$1" "$2" click 1; uses=$((uses + 1)); sleep 0.05; }
resident() { awk '/^VmRSS/ {print $2}' "/proc/$pid/status"; }

ten_minutes() { # NUMBER
    case $(($1 % 3)) in
    0) line='clock longcase-rack, 12:00 s12, 1:00 s1, 2:00 s1, 3:00 s2, 4:00 s3' ;;
    1) line='clock countwheel-78, 3:00 s4, 4:00 s5, 5:00 s6, had moved_house' ;;
    *) line='it strikes four at three and five at four since we had it cleaned' ;;
    esac
    press F1 ctrl+n
    write "$line"
    sleep 0.6
    press Tab Tab Down Return ctrl+z ctrl+y
    press F2 space Tab Right Left space
    click $((200 + 37 * ($1 % 20))) $((150 + 23 * ($1 % 20)))
    sleep 0.4
    press F3 Tab F4 Tab Tab Return y n F5 n 1 2 Return F7 F6 Down Return ctrl+k
    press F12 Escape F10
    if [ $(($1 % 2)) -eq 0 ]; then xdotool windowsize "$win" 1000 700; else xdotool windowsize "$win" 1280 800; fi
    sleep 0.3
    kill -0 "$pid" 2>/dev/null || fail "it ended after $uses uses: $(cat "$HERE/told")"
}

warm=
for hour in $(seq "$HOURS"); do
    for part in 1 2 3 4 5 6; do ten_minutes $((hour * 6 + part)); done
    press F1
    sleep 1
    now=$(resident)
    echo "hour $hour: $uses uses, $now kB"
    [ "$hour" -ne 2 ] || warm=$now
done
[ -z "$warm" ] || [ "$now" -le $((warm + warm / 20)) ] || fail "memory grew from $warm kB to $now kB"
press ctrl+q
for i in $(seq 100); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
kill -0 "$pid" 2>/dev/null && fail "Ctrl+Q did not end it"
wait "$pid" || fail "it ended with status $?: $(cat "$HERE/told")"
echo "$HOURS hours, $uses uses, ${warm:-$now} kB after warming up, $now kB at the end"
HAND
xvfb-run -a -s "-screen 0 1400x900x24" sh "$home/hand.sh"
