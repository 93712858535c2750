#!/bin/sh
# symbols.sh BUILD - none of our global names is also a name of a library we use: the linker knows but
# one of each, and the library would call ours.
set -eu
build=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

find "$build/src" -name '*.a' -exec nm -g --defined-only {} + 2>/dev/null |
    awk 'NF == 3 { print $3 }' | LC_ALL=C sort -u >"$scratch/ours"
# Of programs that ask for the same libraries one is enough to follow.
find "$build" -type f -perm -u+x \( -name letoff -o -name 'letoff-*' -o -name 'test_*' \) -exec readelf -d {} + 2>/dev/null |
    awk '/^File: / { if (wants && !seen[wants]++) print file; file = $2; wants = "" }
        /\(NEEDED\)/ { wants = wants $NF }
        END { if (wants && !seen[wants]++) print file }' >"$scratch/programs"
xargs ldd <"$scratch/programs" 2>/dev/null | awk '/=>/ { print $3 }' | sort -u >"$scratch/libraries"
xargs nm -D -A --defined-only <"$scratch/libraries" 2>/dev/null |
    awk '{ sub(/@.*/, "", $NF); from = $1; sub(/:[^:]*$/, "", from); print $NF, from }' | LC_ALL=C sort -u >"$scratch/theirs"

[ -s "$scratch/ours" ] && [ -s "$scratch/theirs" ]
LC_ALL=C join "$scratch/ours" "$scratch/theirs" >"$scratch/both"
sed 's/\([^ ]*\) \(.*\)/\1: the name is also one of \2; choose another./' "$scratch/both"
[ ! -s "$scratch/both" ]
