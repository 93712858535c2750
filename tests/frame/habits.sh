#!/bin/sh
# habits.sh - the rules of DEVELOPERS.md that a machine can check; one sentence for each breach.
set -eu
cd "$(dirname "$0")/../.."
breaches=$(mktemp)
trap 'rm -f "$breaches"' EXIT
breach() { echo "$*" >>"$breaches"; }

sources() { find src tests -name '*.[ch]' -not -path '*/corpus/*'; }

file_names_are_unique_in_the_whole_tree() {
    sources | sed 's|.*/||' | sort | uniq -d | while read -r name; do
        breach "$name: the name stands for more than one file: $(sources | grep "/$name\$" | tr '\n' ' ')"
    done
}

# Folder, and the folders it may include besides its own and the ground.
includes_point_down() {
    while read -r folder allowed; do
        [ -d "src/$folder" ] || continue
        grep -nE '^ *# *include "[a-z_]+/' "src/$folder"/*.[ch] | while IFS= read -r line; do
            to=${line#*\"}
            to=${to%%/*}
            case " $folder $allowed " in
            *" $to "*) ;;
            *) breach "${line%%:#*}: src/$folder includes src/$to, which does not lie below it." ;;
            esac
        done
    done <<TABLE
movement
diagnose movement
resync movement
drill movement diagnose resync
sound
listen
journal
draw movement
command movement diagnose resync drill sound listen journal draw
screen movement diagnose resync drill sound listen journal draw command
TABLE
    if grep -nE '^ *# *include "[a-z_]+/' src/*.[ch] | grep -v '^src/main.c:' >>"$breaches"; then
        breach "src/: the ground includes a folder above it (lines before)."
    fi
}

every_source_is_listed_where_it_is_built() {
    find src -name '*.c' | while read -r file; do
        grep -qw "${file##*/}" "${file%/*}/CMakeLists.txt" 2>/dev/null ||
            breach "$file: it is not named in ${file%/*}/CMakeLists.txt."
    done
}

every_header_compiles_alone() {
    # shellcheck disable=SC2046  # a list of options on purpose
    set -- -std=c11 -D_POSIX_C_SOURCE=200809L -D_DEFAULT_SOURCE -Isrc -Itests -fsyntax-only \
        $(for library in sdl2 SDL2_mixer cairo pangocairo yaml-0.1 jansson sqlite3 libpq kissfft-float; do
            pkg-config --cflags "$library" 2>/dev/null
        done)
    # One run of the compiler reads them one after the other, each alone; it names the header it was at.
    find src -name '*.h' -exec ${CC:-cc} "$@" -x c {} + 2>&1 | grep 'error' | while IFS= read -r said; do
        breach "${said%%:*}: a header that does not compile alone, or is read by one: $said"
    done
}

nothing_is_left_for_later() {
    grep -rnwE 'TODO|FIXME|XXX|HACK' src tests chimes sounds --include='*.[ch]' --include='*.yaml' \
        --include='*.txt' 2>/dev/null | while IFS= read -r line; do
        breach "$line: something is left for later; do it or say why not."
    done
}

scripts_are_sound() {
    command -v shellcheck >/dev/null 2>&1 || return 0
    find src tests .ci \( -name '*.sh' -o -path .ci/run \) -exec shellcheck -x -S warning -e SC2317 {} + >>"$breaches" || true
}

file_names_are_unique_in_the_whole_tree
includes_point_down
every_source_is_listed_where_it_is_built
every_header_compiles_alone
nothing_is_left_for_later
scripts_are_sound

cat "$breaches"
[ ! -s "$breaches" ]
