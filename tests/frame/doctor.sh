#!/bin/sh
# doctor.sh LETOFF - `letoff doctor` finds what was taken away on purpose, says how to mend it, and tells
# by its status whether calls can still be answered.
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
unset DISPLAY WAYLAND_DISPLAY PULSE_SERVER XDG_RUNTIME_DIR XDG_DATA_HOME LETOFF_CHIMES LETOFF_SOUNDS LETOFF_DECODE
export SDL_AUDIODRIVER=dummy SDL_VIDEODRIVER=dummy HOME="$scratch/home"
mkdir "$HOME"

# finds STATUS ID HEALTH VARIABLE=VALUE...: doctor ends with STATUS, finds ID in that health and offers to
# mend what is not good; all its output is one JSON value.  Rows that follow each other with the same status and
# variables look at one answer.
looked_at=
finds() {
    status=$1 id=$2 health=$3
    shift 3
    if [ "$looked_at" != "$status $*" ]; then
        looked_at=
        fails "$status" env "$@" "$letoff" doctor --json >"$scratch/json" 2>"$scratch/err" || return 1
        looked_at="$status $*"
    fi
    [ ! -s "$scratch/err" ] || { cat "$scratch/err"; return 1; }
    jq -e --arg id "$id" --arg health "$health" --argjson good "$([ "$status" -eq 0 ] && echo true || echo false)" '
        .good == $good and ([.checks[] | select(.id == $id)] | length == 1 and
        .[0].health == $health and (.[0].said | length > 0) and (.[0].health == "good" or (.[0].mend | length > 0)))' \
        <"$scratch/json" >/dev/null || { jq . <"$scratch/json"; return 1; }
}

changes_nothing() { "$letoff" doctor && [ -z "$(find "$HOME" -mindepth 1)" ]; }
counts_the_calls() {
    "$letoff" journal add --story "strikes one too many" && finds 0 journal good CALLS=1 && grep -q '1 calls in' "$scratch/json"
}

no_chimes=$scratch/empty
mkdir "$no_chimes"
printf 'voices: [{id: x' >"$scratch/broken.yaml"
mkdir -p "$scratch/bad/letoff/sounds" "$scratch/bad/letoff/chimes"
cp "$scratch/broken.yaml" "$scratch/bad/letoff/sounds/"
mkdir -p "$scratch/odd/letoff"
printf 'no journal at all, and long enough to be taken for none' >"$scratch/odd/letoff/journal.db"
printf '<fontconfig><dir>%s</dir><cachedir>%s</cachedir></fontconfig>' "$no_chimes" "$scratch/cache" >"$scratch/nofonts.conf"

check "looking changes nothing" changes_nothing
check "data that are there are good" finds 0 data good A=1
check "a journal that is not there yet is good" finds 0 journal good A=1
check "the decoder is tried out" finds 0 decoder good A=1
check "a sound device that is there is good" finds 0 loudspeaker good A=1
check "no display is a limit" finds 0 display limited A=1
check "fonts that are there are good" finds 0 fonts good A=1
check "data that are not there are broken, and calls cannot be answered" finds 3 data broken LETOFF_CHIMES="$no_chimes"
check "so are words" finds 3 words broken LETOFF_CHIMES="$no_chimes"
check "voices of the user's own that are broken are a limit" finds 0 voices limited XDG_DATA_HOME="$scratch/bad"
check "no place for a journal is a limit" finds 0 journal limited -u HOME
check "a journal that is none is a limit" finds 0 journal limited XDG_DATA_HOME="$scratch/odd"
check "a decoder that decodes nothing is a limit" finds 0 decoder limited LETOFF_DECODE=/bin/true
check "a decoder that is not there is a limit" finds 0 decoder limited LETOFF_DECODE="$scratch/none"
check "no sound device is a limit" finds 0 loudspeaker limited SDL_AUDIODRIVER=alsa ALSA_CONFIG_PATH=/nonexistent
check "no microphone is a limit" finds 0 microphone limited SDL_AUDIODRIVER=alsa ALSA_CONFIG_PATH=/nonexistent
check "no fonts are a limit" finds 0 fonts limited FONTCONFIG_FILE="$scratch/nofonts.conf"
check "calls in the journal are counted" counts_the_calls
check "it takes no words" fails 2 "$letoff" doctor please
ends_checks
