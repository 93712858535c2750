#!/bin/sh
# surroundings.sh LETOFF - the program where something it is used to is not there: no home, no
# display, no sound card, a full disk, a closed output, another locale, another folder.
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
locales=$(dirname "$letoff")/locale
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh

# A machine without display and sound card, whatever this one has.
unset DISPLAY WAYLAND_DISPLAY PULSE_SERVER XDG_RUNTIME_DIR XDG_DATA_HOME XDG_CACHE_HOME

play="play longcase-rack --from 2:59 --to 3:01"

one_line_about_the_missing_sound() {
    # shellcheck disable=SC2086  # words on purpose
    SDL_AUDIODRIVER=alsa ALSA_CONFIG_PATH=/nonexistent "$letoff" $play >"$scratch/out" 2>"$scratch/err" || return 1
    cat "$scratch/out" "$scratch/err"
    [ "$(wc -l <"$scratch/err")" -eq 1 ] && grep -q 'no sound device' "$scratch/err" && grep -q 'strikes 3' "$scratch/out"
}

same_numbers_in_a_comma_locale() {
    # shellcheck disable=SC2086
    LC_ALL=C "$letoff" $play --no-sound --json >"$scratch/plain.json" &&
        LOCPATH=$locales LC_ALL=de_DE.UTF-8 "$letoff" $play --no-sound --json >"$scratch/comma.json" &&
        cmp "$scratch/plain.json" "$scratch/comma.json" && grep -q '"t_s":60\.' "$scratch/plain.json"
}

runs_in_a_read_only_home() {
    mkdir -p "$scratch/home" && chmod 555 "$scratch/home" || return 1
    HOME=$scratch/home "$letoff" list clocks && HOME=$scratch/home "$letoff" check chimes/longcase.yaml
}

nothing_is_left_of_a_file_that_could_not_be_written() {
    mkdir "$scratch/full.wav" || return 1
    # shellcheck disable=SC2086
    fails 3 "$letoff" $play --no-sound --out "$scratch/full.wav" || return 1
    [ -z "$(find "$scratch" -name 'full.wav.*')" ]
}

full_output() { "$letoff" list clocks --json >/dev/full; }
closed_output() { "$letoff" list clocks >&-; }
closed_input() { "$letoff" list clocks <&-; }

check "it runs without HOME" env -u HOME "$letoff" list clocks
check "it runs when HOME is not there" env HOME=/nonexistent "$letoff" list clocks
check "it runs in a home that cannot be written" runs_in_a_read_only_home
check "it runs without any variable" env -i "$letoff" list clocks
check "it finds its data from another folder" sh -c "cd / && '$letoff' list clocks | grep -q longcase-rack"
check "a missing sound card is one line, and it goes on" one_line_about_the_missing_sound
check "a comma locale changes no number" same_numbers_in_a_comma_locale
check "a full disk is status 3" fails 3 full_output
check "a closed output is status 3" fails 3 closed_output
check "a closed input does not matter" closed_input
check "a file that cannot be written leaves nothing behind" nothing_is_left_of_a_file_that_could_not_be_written
check "a missing file is status 3" fails 3 "$letoff" check "$scratch/no-such.yaml"
ends_checks
