#!/bin/sh
# window_pages.sh - three pages in a real window: a clock is set right, a round of the drill is played, and
# an open job is closed in two clicks.  usage: window_pages.sh PROGRAM
set -eu
program=$1
home=$(mktemp -d)
trap 'rm -rf "$home"' EXIT
export XDG_CONFIG_HOME="$home/config" XDG_STATE_HOME="$home/state" XDG_DATA_HOME="$home/data"
export SDL_AUDIODRIVER=dummy PROGRAM="$program" HERE="$home"
mkdir -p "$XDG_CONFIG_HOME/letoff"
printf 'width: 1280\nheight: 800\nzoom: 1.00\ntext: 1.00\ncontrast: plain\nsound: no\n' > "$XDG_CONFIG_HOME/letoff/window.yaml"
"$program" find --clock longcase-rack --heard '3:00 s2' --customer 'Mill Lane 3' > "$home/found.txt"
"$program" journal list > "$home/jobs.txt"
grep -q 'open.*Mill Lane 3' "$home/jobs.txt"

cat > "$home/hand.sh" <<'HAND'
set -eu
fail() { echo "window_pages: $1" >&2; kill "$pid" 2>/dev/null || true; exit 1; }
# Where named places lie: asked of the program itself, after the same steps, without a window.
look() { "$PROGRAM" --places --size 1280x800 --clock longcase-rack --do "$1" 2>/dev/null > "$HERE/places.txt"; }
place() { awk -F'\t' -v n="$1" '$1 == n {print int($2 + $4 / 2), int($3 + $5 / 2); exit}' "$HERE/places.txt"; }
# Ink on a part of the window: it changes when the page does.
ink() { import -window "$win" -crop "$1" +repage png:- | convert png:- -format '%#' info:; }
changed() { # area, ink before
    for i in $(seq 150); do [ "$(ink "$1")" != "$2" ] && return 0; sleep 0.2; done
    fail "nothing changed: $3"
}
settled() { # the ink of an area that has come to rest: a slow program is still drawing the last change
    was=
    for i in $(seq 150); do
        now=$(ink "$1")
        [ "$now" = "$was" ] && break
        was=$now
        sleep 0.5
    done
    echo "$now"
}
click() { xdotool mousemove --sync $((X + $1)) $((Y + $2)); sleep 0.15; xdotool click 1; sleep 0.3; }
"$PROGRAM" --clock longcase-rack & pid=$!
for i in $(seq 100); do
    win=$(xdotool search --onlyvisible --class letoff 2>/dev/null | head -n 1) && [ -n "$win" ] && break
    sleep 0.2
done
[ -n "${win:-}" ] || fail "no window came up"
eval "$(xdotool getwindowgeometry --shell "$win")"

# The journal: the job, then the fault.
look 'key f6; click open-1'
xdotool key F6; sleep 0.5
click $(place open-1)
click $(place fault-1)
for i in $(seq 30); do "$PROGRAM" journal list | grep -q closed && break; sleep 0.2; done
"$PROGRAM" journal list | grep -q 'closed.*Mill Lane 3' || fail "two clicks did not close the job: $("$PROGRAM" journal list)"

# Setting right: it struck one too few, so the shortest way is shown and walked by its key.
right=760x640+520+60
look 'key f4'
xdotool key F4; sleep 0.5
click $(place struck-2)
before=$(settled $right)
click $(place make-plan)
changed $right "$before" "no way was shown"
before=$(settled $right)
xdotool key y
changed $right "$before" "the step was not taken"

# The drill: begin, answer until the round is over; the answer is in the journal.
look 'key f5'
xdotool key F5; sleep 0.5
click $(place kind-time)
before=$(settled 560x500+120+60)
xdotool key n
changed 560x500+120+60 "$before" "no round began"
before=$(settled 560x500+120+60)
xdotool key 1
changed 560x500+120+60 "$before" "no answer was taken"
for i in $(seq 30); do "$PROGRAM" journal export | grep -q '"kind":"drill"' && break; sleep 0.2; done
"$PROGRAM" journal export | grep -q '"kind":"drill"' || fail "the answer was not kept"
xdotool key --clearmodifiers ctrl+q
for i in $(seq 50); do kill -0 "$pid" 2>/dev/null || break; sleep 0.1; done
kill -0 "$pid" 2>/dev/null && fail "Ctrl+Q did not end it"
echo "a job closed in two clicks, a clock set right, a round played"
HAND
xvfb-run -a -s "-screen 0 1400x900x24" sh "$home/hand.sh"
