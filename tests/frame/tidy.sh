#!/bin/sh
# tidy.sh BUILD - clang-tidy over src/ and tests/; .clang-tidy says what is looked for and what not, and why.
set -eu
build=$1
cd "$(dirname "$0")/../.."
. src/packages.sh
said=$(mktemp)
trap 'rm -f "$said"' EXIT
jq -r '.[].file' "$build/compile_commands.json" | grep -E "^$PWD/(src|tests)/" | sort -u |
    xargs -P "$(processors)" -n 4 clang-tidy -p "$build" --quiet >"$said" 2>/dev/null || true
grep -E '(warning|error): ' "$said" | sort -u || { echo "clang-tidy is content."; exit 0; }
exit 1
