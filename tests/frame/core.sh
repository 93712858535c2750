#!/bin/sh
# core.sh BUILD - movement, diagnose and resync as an installed C library: the example is compiled with what
# pkg-config says and runs; the library asks for nothing but the C library, libm and libyaml.
set -u
build=$(cd "$1" && pwd)
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
to=$scratch/prefix
export PKG_CONFIG_PATH="$to/lib/pkgconfig"

installs() { cmake --install "$build" --prefix "$to" --component core && [ -s "$to/lib/libletoff-core.a" ]; }
headers_compile_alone() {
    find "$to/include/letoff" -name '*.h' | while read -r header; do
        # shellcheck disable=SC2046  # options
        ${CC:-cc} -std=c11 -D_POSIX_C_SOURCE=200809L -fsyntax-only $(pkg-config --cflags letoff-core) -x c "$header" 2>&1 |
            grep 'error' && echo "$header" >>"$scratch/bad"
    done
    [ ! -e "$scratch/bad" ] && [ -s "$to/include/letoff/movement/move.h" ] && [ -s "$to/include/letoff/err.h" ] &&
        [ ! -e "$to/include/letoff/command" ]
}
example_compiles() {
    # shellcheck disable=SC2046  # options
    ${CC:-cc} -std=c11 -Wall -Wextra -Werror "$to/share/doc/letoff-core-dev/examples/core_example.c" \
        $(pkg-config --cflags --libs letoff-core) -o "$scratch/example"
}
example_runs() {
    "$scratch/example" longcase-rack "3:00 s2, 4:00 s3" >"$scratch/out" || { cat "$scratch/out"; return 1; }
    cat "$scratch/out"
    grep -q '3 blows from 2:50 to 3:10' "$scratch/out" && grep -q '%' "$scratch/out" && grep -q 'Hear: ' "$scratch/out"
}
needs_little() {
    ldd "$scratch/example" | awk '{ print $1 }' | grep -vE '^(linux-vdso|libyaml|libm\.|libc\.|/lib)' >"$scratch/more"
    cat "$scratch/more"
    [ ! -s "$scratch/more" ]
}

check "it installs" installs
check "its headers compile alone" headers_compile_alone
check "the example compiles with what pkg-config says" example_compiles
check "the example runs" example_runs
check "it needs the C library and libyaml only" needs_little
ends_checks
