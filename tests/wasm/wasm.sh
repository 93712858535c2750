#!/bin/sh
# wasm.sh BUILD SUITE... - the core compiled to WebAssembly passes its own suites under Node.
#
# SUITE is FOLDER/test_NAME.  The native suite of the build runs first and leaves what libyaml made of the texts
# it read (events_file.h); then the same sources run as WebAssembly.  Needs clang, lld, wasi-libc, Node.
set -u
build=$(cd "$1" && pwd)
shift
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh
for tool in clang wasm-ld node; do
    command -v $tool >/dev/null 2>&1 || { echo "There is no $tool; left out."; exit 0; }
done
work=$build/wasm
mkdir -p "$work/include" "$work/core" "$scratch/events"
cp /usr/include/yaml.h "$work/include/" || exit 1

# compile SOURCE OBJECT: again only if something it could depend on is newer.
compile() {
    [ -s "$2" ] && [ -z "$(find "$1" src tests/wasm -name '*.[ch]' -newer "$2" | head -n 1)" ] && return 0
    clang --target=wasm32-wasi -std=c11 -O2 -D_POSIX_C_SOURCE=200809L -D_DEFAULT_SOURCE -D_WASI_EMULATED_GETPID -D_WASI_EMULATED_PROCESS_CLOCKS \
        -DLETOFF_TREE='"."' -DLETOFF_PREFIX='"/usr"' \
        -Itests/wasm/shims -I"$work/include" -Isrc -Itests -Itests/wasm -c "$1" -o "$2"
}

core_compiles() {
    for source in src/crew.c src/err.c src/event.c src/mem.c src/pcm.c src/place.c src/random.c src/text.c src/yaml_map.c \
        src/movement/*.c src/diagnose/*.c src/resync/*.c tests/wasm/yaml_play.c tests/wasm/stand_ins.c; do
        case $source in */report_json.c) continue ;; esac
        echo "$source"
    done >"$scratch/sources"
    while read -r source; do
        compile "$source" "$work/core/$(basename "$source" .c).o" || return 1
    done <"$scratch/sources"
}

# Node 20 throws away the code of functions that have long been waited for, and dies when a long suite returns to
# them: hence --no-flush-bytecode.
suite_passes() { # FOLDER/test_NAME
    name=$(basename "$1")
    LD_PRELOAD="$scratch/record.so" LETOFF_YAML_EVENTS="$scratch/events" "$build/tests/$1" >"$scratch/native" 2>&1 ||
        { echo "the native suite fails"; return 1; }
    compile "tests/$1.c" "$work/$name.o" &&
        clang --target=wasm32-wasi -Wl,-z,stack-size=4194304 -Wl,--stack-first "$work/$name.o" "$work"/core/*.o -lm -lwasi-emulated-getpid -lwasi-emulated-process-clocks -o "$work/$name.wasm" &&
        node --no-warnings --no-flush-bytecode tests/wasm/run.mjs "$work/$name.wasm" "$scratch/events" >"$scratch/said" 2>&1 || {
        tail -n 5 "$scratch/said"
        return 1
    }
    passed=$(grep -c '^ok: ' "$scratch/said")
    wanted=$(grep -c '^\[ *OK \]' "$scratch/native")
    echo "$passed of $wanted"
    [ "$passed" -gt 0 ] && [ "$passed" -ge "$wanted" ]
}

check "the recorder compiles" ${CC:-cc} -shared -fPIC -Itests/wasm tests/wasm/yaml_record.c -o "$scratch/record.so" -ldl
check "the core compiles to WebAssembly" core_compiles
for suite in "$@"; do
    check "$suite passes under Node" suite_passes "$suite"
done
ends_checks
