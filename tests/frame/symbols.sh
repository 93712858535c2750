#!/bin/sh
# symbols.sh BUILD - none of our global names is also a name of a library we use: the linker knows but
# one of each, and the library would call ours.
set -eu
build=$1
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT

find "$build/src" -name '*.a' -exec nm -g --defined-only {} + 2>/dev/null |
    awk 'NF == 3 { print $3 }' | sort -u >"$scratch/ours"
find "$build" -type f -perm -u+x \( -name letoff -o -name 'letoff-*' -o -name 'test_*' \) -exec ldd {} + 2>/dev/null |
    awk '/=>/ { print $3 }' | sort -u | while read -r library; do
    nm -D --defined-only "$library" 2>/dev/null | awk -v from="$library" '{ sub(/@.*/, "", $3); print $3, from }'
done | sort -u >"$scratch/theirs"

[ -s "$scratch/ours" ] && [ -s "$scratch/theirs" ]
join "$scratch/ours" "$scratch/theirs" >"$scratch/both"
sed 's/\([^ ]*\) \(.*\)/\1: the name is also one of \2; choose another./' "$scratch/both"
[ ! -s "$scratch/both" ]
