#!/bin/sh
# window_call.sh - one whole call in a real window: xdotool clicks and types, the draft on disk and the
# picture of the screen tell what came of it.  usage: window_call.sh PROGRAM
set -eu
program=$1
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
export XDG_CONFIG_HOME="$home/config" XDG_STATE_HOME="$home/state" XDG_DATA_HOME="$home/data"
export SDL_AUDIODRIVER=dummy PROGRAM="$program" HERE="$home"
mkdir -p "$XDG_CONFIG_HOME/letoff"
printf 'width: 1280\nheight: 800\nzoom: 1.00\ntext: 1.00\ncontrast: plain\nsound: no\n' > "$XDG_CONFIG_HOME/letoff/window.yaml"

cat > "$home/hand.sh" <<'HAND'
set -eu
fail() { echo "window_call: $1" >&2; kill "$pid" 2>/dev/null || true; exit 1; }
# Where a named place lies: asked of the program itself, after the same steps, without a window.
place() { "$PROGRAM" --places --size 1280x800 --do "$2" 2>/dev/null | awk -F'\t' -v n="$1" '$1 == n {print int($2 + $4 / 2), int($3 + $5 / 2); exit}'; }
"$PROGRAM" & pid=$!
for i in $(seq 100); do
    win=$(xdotool search --onlyvisible --class letoff 2>/dev/null | head -n 1) && [ -n "$win" ] && break
    sleep 0.2
done
[ -n "${win:-}" ] || fail "no window came up"
eval "$(xdotool getwindowgeometry --shell "$win")"
uses=0
click() { xdotool mousemove --sync $((X + $1)) $((Y + $2)); sleep 0.15; xdotool click 1; uses=$((uses + 1)); sleep 0.35; }
press() { xdotool key "$1"; uses=$((uses + 1)); sleep 0.15; }
click $(place choose-clock "wait 0")
click $(place clock-longcase-rack "click choose-clock")
click $(place cell-12:00 "click choose-clock; click clock-longcase-rack")
for k in equal equal 1 Right 2 3 4 5; do press $k; done
draft=$XDG_STATE_HOME/letoff/call-in-hand.yaml
for i in $(seq 50); do grep -q 'at: "6:00"' "$draft" 2>/dev/null && break; sleep 0.2; done
grep -q longcase-rack "$draft" || fail "the clock was not taken"
grep -q 'at: "6:00"' "$draft" || fail "the hours were not taken: $(cat "$draft")"
[ "$uses" -le 15 ] || fail "$uses uses"
# Advice: the accent comes onto the right half of the window when the suspects are painted.
for i in $(seq 150); do
    import -window "$win" -crop 500x700+770+0 +repage "$HERE/right.png"
    n=$(convert "$HERE/right.png" -fuzz 12% -fill black +opaque '#B83612' -fill white -opaque '#B83612' \
        -format '%[fx:int(mean*w*h)]' info: 2>/dev/null || echo 0)
    [ "${n%.*}" -gt 100 ] && break
    sleep 0.4
done
[ "${n%.*}" -gt 100 ] || fail "no suspect was painted"
# A kill loses nothing.
kill -9 "$pid"; wait "$pid" 2>/dev/null || true
grep -q 'at: "6:00"' "$draft" || fail "the draft went with the program"
"$PROGRAM" & pid=$!
sleep 2
xdotool key --clearmodifiers F2; sleep 1
win=$(xdotool search --onlyvisible --class letoff | head -n 1)
before=$(awk '{print $14 + $15}' /proc/$pid/stat); sleep 6
before=$(awk '{print $14 + $15}' /proc/$pid/stat); sleep 2
after=$(awk '{print $14 + $15}' /proc/$pid/stat)
[ $((after - before)) -le 6 ] || fail "not calm at rest: $((after - before)) ticks in 2 s"
xdotool key --clearmodifiers ctrl+q
for i in $(seq 50); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
kill -0 "$pid" 2>/dev/null && fail "Ctrl+Q did not end it"
call_by_pointer=$uses

# The same call without a pointer, in a fresh shop.
rm -f "$draft"
"$PROGRAM" & pid=$!
for i in $(seq 100); do xdotool search --onlyvisible --class letoff >/dev/null 2>&1 && break; sleep 0.2; done
sleep 1
xdotool type --delay 25 'clock longcase-rack, 12:00 s12, 1:00 s1, 2:00 s1, 3:00 s2, 4:00 s3'
xdotool key Return
for i in $(seq 50); do grep -q 'at: "4:00"' "$draft" 2>/dev/null && break; sleep 0.2; done
grep -q 'at: "4:00"' "$draft" || fail "the quick line was not taken by keyboard: $(cat "$draft" 2>/dev/null)"
win=$(xdotool search --onlyvisible --class letoff | head -n 1)
for i in $(seq 150); do
    import -window "$win" -crop 500x700+770+0 +repage "$HERE/right.png"
    n=$(convert "$HERE/right.png" -fuzz 12% -fill black +opaque '#B83612' -fill white -opaque '#B83612' \
        -format '%[fx:int(mean*w*h)]' info: 2>/dev/null || echo 0)
    [ "${n%.*}" -gt 100 ] && break
    sleep 0.4
done
[ "${n%.*}" -gt 100 ] || fail "no suspect was painted for the keyboard"
xdotool key ctrl+z; sleep 0.5
grep -q 'at: "4:00"' "$draft" && fail "Ctrl+Z took nothing back"
xdotool key ctrl+q
for i in $(seq 50); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
kill -0 "$pid" 2>/dev/null && fail "Ctrl+Q did not end it"
echo "a whole call in $call_by_pointer uses, and once more by keyboard alone"
HAND
xvfb-run -a -s "-screen 0 1400x900x24" sh "$home/hand.sh"
