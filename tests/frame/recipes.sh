#!/bin/sh
# recipes.sh LETOFF - the recipes of DEVELOPERS.md, followed to the letter: what stands in their YAML blocks is put
# into the user's folder, and the commands of their numbered steps are run as they are written.
set -u
letoff=$(cd "$(dirname "$1")" && pwd)/$(basename "$1")
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
export XDG_DATA_HOME="$scratch/data" SDL_AUDIODRIVER=alsa ALSA_CONFIG_PATH=/nonexistent # what is played is not waited for
own=$XDG_DATA_HOME/letoff/chimes
mkdir -p "$own"
# Only the clocks that the recipes name, and no calls: `letoff check` works out what all clocks do wherever a user has clocks or
# faults, which takes a while.
mkdir "$scratch/chimes"
cp -r chimes/tunes chimes/cures.yaml chimes/classes.yaml chimes/faults-*.yaml chimes/words.yaml chimes/phrases-*.yaml "$scratch/chimes"
named_clock() { # ID FILE: what stands before the clocks, and this one
    awk -v id="$1" '/^  - id: / { clocks = 1; on = $3 == id } !clocks || on' "chimes/$2.yaml" >"$scratch/chimes/$2.yaml"
}
named_clock longcase-rack longcase
named_clock floor-westminster-rack westminster
export LETOFF_CHIMES="$scratch/chimes"

section() { # TITLE: its text
    awk -v title="### $1" '$0 == title { on = 1; next } /^##/ { on = 0 } on' DEVELOPERS.md
}
block() { section "$1" | awk '/^```yaml$/ { on = 1; next } /^```$/ { on = 0 } on'; }
id_in() { sed -n 's/^  - id: *//p' "$1" | head -n 1; }

# The `letoff ...` commands of a section, FILE and CLOCK put in.
follow() { # TITLE FILE CLOCK
    section "$1" | grep -o '`letoff [^`]*`' | tr -d '`' | sed "s|FILE|$2|; s|CLOCK|$3|; s/^letoff //" >"$scratch/commands"
    [ -s "$scratch/commands" ] || { echo "the recipe runs nothing"; return 1; }
    while read -r command; do
        echo "letoff $command"
        # shellcheck disable=SC2086  # words as they are written
        "$letoff" $command </dev/null || return 1
    done <"$scratch/commands"
}

recipe() { # THING-ARTICLE LIST CLOCK: writes the block, lists it, follows the steps
    file=$own/$2.yaml
    block "To add a $1" >"$scratch/block.yaml"
    [ -s "$scratch/block.yaml" ] || { echo "there is no YAML in it"; return 1; }
    "$letoff" check "$scratch/block.yaml" || return 1
    follow_with=$scratch/block.yaml
    cp "$scratch/block.yaml" "$file"
    "$letoff" list "$2" | grep "^$(id_in "$file") " || return 1
    follow "To add a $1" "$follow_with" "$3"
}

the_new_clock_strikes() { "$letoff" play "$(id_in "$own/clocks.yaml")" --from 2:50 --to 3:05 --no-sound | grep -q 'strikes 3'; }
the_new_clock_is_diagnosed() {
    "$letoff" find --clock "$(id_in "$own/clocks.yaml")" --heard '3:00 s2, 4:00 s3' --json |
        jq -e --arg id "$(id_in "$own/clocks.yaml")" '.clock[0].id == $id and (.causes | length > 1)'
}
the_new_fault_is_found() {
    "$letoff" find --clock longcase-rack --heard '3:00 s4, 4:00 s4, 5:00 s5, 6:00 s7' --json |
        jq -e --arg id "$(id_in "$own/faults.yaml")" '[.causes[] | select(.faults == [$id]) | .p] | length == 1 and .[0] > 0.005'
}
the_new_tune_is_played() {
    cat >"$scratch/with-tune.yaml" <<YAML
clocks:
  - id: river-chimer
    like: floor-westminster-rack
    name: Floor clock with river quarters
    trains:
      chime: {tunes: [$(id_in "$own/tunes.yaml")], entries: [3, 3, 3, 3], wheel_blows: 12, power: {days: 6.7}}
YAML
    "$letoff" check "$scratch/with-tune.yaml" && cp "$scratch/with-tune.yaml" "$own/" &&
        "$letoff" play river-chimer --from 3:14 --to 3:16 --no-sound --json |
        jq -e '[.events[] | select(.kind == "note")] | length == 12'
}

# In a folder of its own: `letoff check` works out what all clocks do wherever a user has clocks, which takes a while.
the_recipe_of_a_voice() {
    export XDG_DATA_HOME="$scratch/voices"
    mkdir -p "$XDG_DATA_HOME/letoff/sounds"
    block "To add a voice" >"$scratch/voices.yaml" && [ -s "$scratch/voices.yaml" ] || return 1
    "$letoff" check "$scratch/voices.yaml" || return 1
    cp "$scratch/voices.yaml" "$XDG_DATA_HOME/letoff/sounds/"
    "$letoff" list voices | grep '^river-bell '
}
# A clock that sounds the new voice is another recording than the same with the old one.
the_new_voice_is_played() {
    mkdir -p "$XDG_DATA_HOME/letoff/chimes"
    for voice in bell-large river-bell; do
        printf 'clocks:\n  - {id: with-%s, like: longcase-rack, name: With another bell, sounders: [{name: bell, voice: %s, pitch: A4}]}\n' \
            "$voice" "$voice" >"$XDG_DATA_HOME/letoff/chimes/with-$voice.yaml"
        "$letoff" play "with-$voice" --from 2:59 --to 3:01 --no-sound --out "$scratch/$voice.wav" || return 1
    done
    ! cmp -s "$scratch/bell-large.wav" "$scratch/river-bell.wav"
}
# Files and functions that the recipes name are there.
what_the_recipes_name_is_there() {
    for title in "add a mechanism" "add a word to the call sheet" "add a verb" "add a field or a kind of record to the journal" "add a screen" \
        "add a part to the plate" "add a voice" "add a library" "add a fuzzed reader"; do
        section "To $title" | grep -q '[^ ]' || echo "To $title: it says nothing"
    done >"$scratch/wrong"
    sed -n '/^## Recipes/,$p' DEVELOPERS.md | grep -oE '`[a-z_./A-Z-]*/?[a-z_-]+\.(c|h|sh|yaml|txt)`' | tr -d '`' | grep -v NAME | sort -u |
        while read -r file; do
            [ -e "$file" ] || find src tests chimes sounds -name "${file##*/}" | grep -q . || echo "$file: there is no such file"
        done >>"$scratch/wrong"
    cat "$scratch/wrong"
    [ ! -s "$scratch/wrong" ]
}

check "the recipe of a clock can be followed" recipe clock clocks river-longcase
check "the new clock strikes" the_new_clock_strikes
check "the new clock is diagnosed" the_new_clock_is_diagnosed
check "the recipe of a tune can be followed" recipe tune tunes river-longcase
check "the new tune is played" the_new_tune_is_played
check "the recipe of a fault can be followed" recipe fault faults longcase-rack
check "the new fault is found" the_new_fault_is_found
check "the recipe of a voice can be followed" the_recipe_of_a_voice
check "the new voice is played" the_new_voice_is_played
check "what the recipes name is there" what_the_recipes_name_is_there
ends_checks
