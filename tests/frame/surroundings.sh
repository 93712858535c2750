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

sanitized() { nm -D "$letoff" 2>/dev/null | grep -qE '__(asan|tsan)_init'; }

# The same answers to the byte where numbers are written with a comma, and where the locale is none.  Under sanitizers
# the same lines would run three times over.
same_answers_in_every_locale() {
    ! sanitized || return 0
    printf 'clock: longcase-rack\nheard: [{at: "3:00", strike: 2, interval_s: 1.7}]\n' >"$scratch/call.yaml"
    while read -r row; do
        for locale in C de_DE.UTF-8 xx_YY; do
            # shellcheck disable=SC2086  # words on purpose
            LOCPATH=$locales LC_ALL=$locale "$letoff" $row >"$scratch/said-$locale" 2>&1
        done
        [ -s "$scratch/said-C" ] && cmp "$scratch/said-C" "$scratch/said-de_DE.UTF-8" && cmp "$scratch/said-C" "$scratch/said-xx_YY" ||
            { echo "letoff $row"; return 1; }
    done <<ROWS
find $scratch/call.yaml --json
find $scratch/call.yaml --sheet
find --sheet --story "a second and a half between the blows, strikes 3 at 2"
resync longcase-rack --hands 3:10 --struck 5 --json
chart longcase-rack --json
list voices --json
list clocks --json
listen --taps 0,1.7,3.4 --clock longcase-rack --at 3:00 --json
listen --taps 0,1.7,drei --clock longcase-rack
check tests/fuzz/corpus/yaml/every-kind-wrong.yaml chimes/longcase.yaml
drill --seed 4 --kind time --rounds 1 --answers /dev/null
ROWS
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

# A disk of 2 MB, filled, where mounting is allowed: what does not fit leaves nothing, what was there stays whole.
on_a_small_disk() {
    if [ "$(id -u)" -ne 0 ] || ! unshare -m true 2>/dev/null; then
        echo "The small disk is left out: mounting is not allowed here."
        return 0
    fi
    mkdir -p "$scratch/disk" && unshare -m sh -eu -c '
        mount -t tmpfs -o size=2m none "$1/disk"
        "$2" journal add --journal "$1/disk/journal.db" --story "the first call" >/dev/null
        dd if=/dev/zero of="$1/disk/filler" bs=4k 2>/dev/null || true
        status=0
        "$2" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$1/disk/a.wav" || status=$?
        [ "$status" -eq 3 ] && [ -z "$(find "$1/disk" -name "a.wav*")" ]
        status=0
        "$2" journal add --journal "$1/disk/journal.db" --story "the second call" || status=$?
        [ "$status" -eq 3 ]
        rm "$1/disk/filler"
        "$2" journal check --journal "$1/disk/journal.db"
        "$2" journal list --journal "$1/disk/journal.db" | grep -q "the first call"
    ' sh "$scratch" "$letoff"
}

# The clock of the desk jumps back by ten years between two entries of one call: the later entry wins all the
# same, and nothing is lost.
the_clock_jumps() {
    if ! command -v faketime >/dev/null 2>&1 || sanitized; then
        echo "The jumping clock is left out: there is no faketime, or a sanitizer must come before it."
        return 0
    fi
    at=$scratch/jump.db
    call=$(faketime "2030-03-01 12:00:00" "$letoff" journal add --journal "$at" --story "before the jump") || return 1
    faketime "2020-03-01 12:00:00" "$letoff" journal advice "$call" "leave it stopped" --journal "$at" &&
        faketime "2020-03-29 02:30:00" "$letoff" journal list --journal "$at" | grep -q "before the jump" &&
        "$letoff" journal check --journal "$at" &&
        "$letoff" journal show "$call" --journal "$at" | grep -q "leave it stopped"
}

draws_without_fonts() {
    mkdir -p "$scratch/nofonts"
    printf '<fontconfig><dir>%s</dir><cachedir>%s</cachedir></fontconfig>' "$scratch/nofonts" "$scratch/cache" >"$scratch/fonts.conf"
    FONTCONFIG_FILE=$scratch/fonts.conf "$letoff" chart longcase-rack --out "$scratch/a.pdf" && [ -s "$scratch/a.pdf" ]
}

draws_in_a_comma_locale() { # numbers in the drawing's own language keep their point
    LOCPATH=$locales LC_ALL=de_DE.UTF-8 "$letoff" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/comma.svg" &&
        LC_ALL=C "$letoff" play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/plain.svg" &&
        cmp "$scratch/comma.svg" "$scratch/plain.svg"
}

# A home that cannot be written: calls are answered, only keeping them fails, in one sentence.
keeps_nothing_in_a_read_only_home() {
    nobody=
    [ "$(id -u)" -ne 0 ] || nobody="setpriv --reuid=65534 --regid=65534 --clear-groups"
    chmod 755 "$scratch"
    mkdir -p "$scratch/counts" && chmod 777 "$scratch/counts" # where a build that counts lines may write
    mkdir -p "$scratch/ro" && chmod 555 "$scratch/ro"
    # shellcheck disable=SC2086
    if ! env -u XDG_DATA_HOME HOME="$scratch/ro" GCOV_PREFIX="$scratch/counts" $nobody "$letoff" list clocks >/dev/null 2>&1; then
        echo "The home that cannot be written is left out: another user cannot reach the build tree."
        return 0
    fi
    # shellcheck disable=SC2086
    fails 3 env -u XDG_DATA_HOME HOME="$scratch/ro" GCOV_PREFIX="$scratch/counts" $nobody "$letoff" journal add --story one 2>"$scratch/err" && [ "$(wc -l <"$scratch/err")" -eq 1 ]
}

check "a small disk: nothing is half written, and the journal stays sound" on_a_small_disk
check "the clock may jump back between two entries" the_clock_jumps
check "papers are drawn without fonts" draws_without_fonts
check "a comma locale changes no drawing" draws_in_a_comma_locale
check "a home that cannot be written keeps no journal, and says so once" keeps_nothing_in_a_read_only_home
check "it runs without HOME" env -u HOME "$letoff" list clocks
check "it runs when HOME is not there" env HOME=/nonexistent "$letoff" list clocks
check "it runs in a home that cannot be written" runs_in_a_read_only_home
check "it runs without any variable" env -i "$letoff" list clocks
check "it finds its data from another folder" sh -c "cd / && '$letoff' list clocks | grep -q longcase-rack"
check "a missing sound card is one line, and it goes on" one_line_about_the_missing_sound
check "a comma locale changes no number" same_numbers_in_a_comma_locale
check "every verb answers alike in every locale" same_answers_in_every_locale
check "a full disk is status 3" fails 3 full_output
check "a closed output is status 3" fails 3 closed_output
check "a closed input does not matter" closed_input
check "a file that cannot be written leaves nothing behind" nothing_is_left_of_a_file_that_could_not_be_written
check "a missing file is status 3" fails 3 "$letoff" check "$scratch/no-such.yaml"
ends_checks
