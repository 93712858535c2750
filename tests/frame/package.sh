#!/bin/sh
# package.sh BUILD [clean] - the Debian package: made, looked through, unpacked anywhere and run from there; with
# "clean", as the long run asks for, also installed with dpkg into a clean root that holds nothing but the packages
# it says it depends on.
#
# The clean root is put together from the packages of this system: Debian's essential ones and everything
# letoff's dependencies lead to, with their rows of the dpkg database, so that dpkg itself judges whether
# the dependencies are met.  tests/long.sh does the same in a root made by debootstrap.
set -u
build=$(cd "$1" && pwd)
cd "$(dirname "$0")/../.." || exit 1
. tests/frame/checks.sh

made() { cpack --config "$build/CPackConfig.cmake" -G DEB -B "$scratch/made" -D CPACK_DEBIAN_COMPRESSION_TYPE=gzip && ls "$scratch"/made/letoff_*.deb; }
check "cpack makes the package" made
[ "$checks_failed" -eq 0 ] || ends_checks
deb=$(ls "$scratch"/made/letoff_*.deb)
root=$scratch/unpacked
dpkg-deb -x "$deb" "$root"

everything_is_in_it() {
    missing=0
    while read -r file; do
        [ -s "$root/usr/$file" ] || { echo "/usr/$file is not in the package"; missing=1; }
    done <<FILES
bin/letoff
libexec/letoff/letoff-decode
libexec/letoff/letoff-decode-sndfile
libexec/letoff/letoff-decode-opus
libexec/letoff/letoff-decode-media
lib/letoff/letoff-paint.so
lib/letoff/letoff-sound.so
lib/letoff/letoff-window.so
lib/letoff/letoff-postgres.so
share/letoff/chimes/words.yaml
share/letoff/chimes/tunes/four-bell.yaml
share/letoff/chimes/calls/demo-call.yaml
share/letoff/sounds/bells.yaml
share/man/man1/letoff.1
share/bash-completion/completions/letoff
share/applications/org.letoff.Letoff.desktop
share/icons/hicolor/scalable/apps/org.letoff.Letoff.svg
share/metainfo/org.letoff.Letoff.metainfo.xml
share/doc/letoff/copyright
FILES
    return "$missing"
}

# No folder of the machine it was built on, and nothing that any user may change.
nothing_is_odd() {
    dpkg-deb -c "$deb" >"$scratch/list" || return 1
    awk '$2 != "root/root" || $1 ~ /^..s|^.....s|w..w|^........w/ || $6 !~ /^\.\/(usr\/.*)?$/ { print; bad = 1 } END { exit bad }' "$scratch/list"
}

unpacked() { env -i HOME=/nonexistent PATH=/usr/bin:/bin "$root/usr/bin/letoff" "$@"; }
says_its_version() { [ "$(unpacked --version)" = "letoff $(dpkg-deb -f "$deb" Version)" ]; }
runs_where_it_was_unpacked() {
    unpacked list clocks | grep -q longcase-rack &&
        unpacked play longcase-rack --from 2:59 --to 3:01 --no-sound --out "$scratch/a.wav" &&
        unpacked find "$root/usr/share/letoff/chimes/calls/demo-call.yaml" --json | jq -e '.causes | length > 0'
}

# The files read are those of the package, although the tree it was built from is there too.
reads_its_own_data() {
    command -v strace >/dev/null 2>&1 || return 0
    unpacked list clocks >/dev/null # so that a failure is not blamed on strace
    strace -f -e trace=openat -o "$scratch/opened" env -i HOME=/nonexistent "$root/usr/bin/letoff" list voices >/dev/null 2>&1 || return 0
    grep -q "$root/usr/bin/../share/letoff/sounds/bells.yaml" "$scratch/opened" &&
        ! grep -q "$PWD/sounds" "$scratch/opened"
}

# What a verb does not want is not loaded before it (src/annex.h).
starts_light() {
    ldd "$root/usr/bin/letoff" >"$scratch/light" && ! grep -E 'SDL|cairo|pango|libpq' "$scratch/light"
}
says_what_is_broken() {
    cp -R "$root" "$scratch/torn" && echo torn >"$scratch/torn/usr/lib/letoff/letoff-paint.so" || return 1
    env -i HOME=/nonexistent "$scratch/torn/usr/bin/letoff" chart longcase-rack --out "$scratch/a.pdf" >"$scratch/said" 2>&1
    status=$?
    cat "$scratch/said"
    [ "$status" -eq 3 ] && [ "$(wc -l <"$scratch/said")" -eq 1 ] && grep -q 'letoff-paint.so cannot be loaded (.*)\.$' "$scratch/said"
}

manual_is_sound() {
    groff -man -ww -z "$root/usr/share/man/man1/letoff.1" 2>"$scratch/groff" && [ ! -s "$scratch/groff" ] || {
        cat "$scratch/groff"
        return 1
    }
}

# The verbs of the program's own help, each with its own section.
manual_tells_every_verb() {
    "$build/letoff" --help | awk '/^letoff [a-z]+  / { print $2 }' >"$scratch/verbs"
    [ -s "$scratch/verbs" ] || return 1
    while read -r verb; do
        grep -q "^\.SS \"letoff $verb" "$root/usr/share/man/man1/letoff.1" || { echo "no section on $verb"; return 1; }
    done <"$scratch/verbs"
}

# complete WORD...: what is offered after these words.
complete_words() {
    PATH="$root/usr/bin:$PATH" bash -c '
        . "$1"; shift
        COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=()
        _letoff; printf "%s\n" "${COMPREPLY[@]}"' _ "$root/usr/share/bash-completion/completions/letoff" "$@"
}
completion_offers_verbs_options_and_ids() {
    complete_words letoff pl | grep -qx play &&
        complete_words letoff find --cl | grep -qx -- --clock &&
        complete_words letoff find --clock longcase-r | grep -qx longcase-rack &&
        complete_words letoff play longcase-r | grep -qx longcase-rack &&
        complete_words letoff journal ex | grep -qx export &&
        complete_words letoff journal add --st | grep -qx -- --story &&
        complete_words letoff list vo | grep -qx voices
}

check "everything is in it" everything_is_in_it
check "its files are root's and lie under /usr" nothing_is_odd
check "it runs where it was unpacked" runs_where_it_was_unpacked
check "it says the package's version" says_its_version
check "it reads its own data" reads_its_own_data
check "it starts without the libraries of window, sound and paper" starts_light
check "it says what of it cannot be loaded" says_what_is_broken
check "the manual is well formed" manual_is_sound
check "the manual tells every verb" manual_tells_every_verb
check "the completion offers verbs, options and ids" completion_offers_verbs_options_and_ids
check "the desktop entry is valid" desktop-file-validate "$root/usr/share/applications/org.letoff.Letoff.desktop"
check "the AppStream data are valid" appstreamcli validate --no-net "$root/usr/share/metainfo/org.letoff.Letoff.metainfo.xml"
check "the icon is a picture" rsvg-convert -w 64 -o "$scratch/icon.png" "$root/usr/share/icons/hicolor/scalable/apps/org.letoff.Letoff.svg"

# ---- the clean root ----

# All that is needed by the essential packages, dpkg and the package itself, out of what is installed here.
closure() {
    dpkg-query -W -f '${Package}\t${Essential}\t${Pre-Depends},${Depends}\t${Provides}\n' >"$scratch/packages"
    printf '(letoff)\tyes\tdpkg,%s\t\n' "$(dpkg-deb -f "$deb" Depends)" >>"$scratch/packages"
    awk -F '\t' '
        function bare(s) { gsub(/\([^)]*\)|[ \t]|:any/, "", s); return s }
        { if ($2 == "yes") queue[++last] = $1; needs[$1] = bare($1 == "(letoff)" ? $3 : $3)
          n = split(bare($4), p, ","); for (i = 1; i <= n; i++) if (p[i] != "") giver[p[i]] = giver[p[i]] " " $1 }
        END {
            for (at = 1; at <= last; at++) {
                name = queue[at]
                if (seen[name]++) continue
                if (name in needs) { if (name != "(letoff)") print name; n = split(needs[name], d, /[,|]/)
                    for (i = 1; i <= n; i++) if (d[i] != "") queue[++last] = d[i] }
                n = split(giver[name], g, " ")
                for (i = 1; i <= n && !(name in needs); i++) queue[++last] = g[i]
            }
        }' "$scratch/packages" | sort -u
}

copy_packages() { # FOLDER NAME...: their files but for papers, and their rows of the database
    to=$1
    shift
    mkdir -p "$to/usr/bin" "$to/usr/sbin" "$to/usr/lib" "$to/usr/lib64"
    for link in /bin /sbin /lib /lib64; do # a merged /usr: the links first, tar puts them off
        [ -L "$link" ] && cp -P "$link" "$to/"
    done
    dpkg-query -L "$@" | grep '^/' | grep -vE '^/usr/share/(doc|man|locale|info)/.' | sort -u |
        while IFS= read -r file; do [ -e "$file" ] || [ -L "$file" ] && echo "$file"; done >"$scratch/files"
    tar -cf - --no-recursion -P -T "$scratch/files" 2>/dev/null | tar -xf - -P --transform "s|^/|$to/|S" || return 1
    mkdir -p "$to/var/lib/dpkg/info" "$to/var/lib/dpkg/updates" "$to/var/log" "$to/tmp" "$to/proc" "$to/dev"
    : >"$to/var/lib/dpkg/available"
    awk -v names="$*" 'BEGIN { RS = ""; ORS = "\n\n"; n = split(names, a, " "); for (i = 1; i <= n; i++) want[a[i]] = 1 }
        { name = $2; if (name in want) print }' /var/lib/dpkg/status >"$to/var/lib/dpkg/status"
    for name in "$@"; do
        cp /var/lib/dpkg/info/"$name".* /var/lib/dpkg/info/"$name":*.* "$to/var/lib/dpkg/info/" 2>/dev/null
    done
    cp /var/lib/dpkg/info/format "$to/var/lib/dpkg/info/"
}

# With a /proc of its own, which goes when the command ends.
in_root() {
    unshare -m sh -c 'mount -t proc proc "$0/proc" && exec chroot "$0" "$@"' "$clean" \
        /usr/bin/env -i HOME=/root PATH=/usr/sbin:/usr/bin:/sbin:/bin LC_ALL=C.UTF-8 "$@"
}

clean_root_is_made() {
    # shellcheck disable=SC2046  # names
    copy_packages "$clean" $(closure) && in_root /sbin/ldconfig && in_root dpkg --audit
}
dpkg_installs_it() { cp "$deb" "$clean/tmp/letoff.deb" && in_root dpkg -i /tmp/letoff.deb && in_root dpkg -s letoff | grep -q '^Status: install ok installed'; }
nothing_is_missing_to_link() {
    for program in /usr/bin/letoff /usr/libexec/letoff/letoff-decode /usr/libexec/letoff/letoff-decode-sndfile \
        /usr/libexec/letoff/letoff-decode-opus /usr/libexec/letoff/letoff-decode-media \
        /usr/lib/letoff/letoff-paint.so /usr/lib/letoff/letoff-sound.so /usr/lib/letoff/letoff-window.so /usr/lib/letoff/letoff-postgres.so; do
        in_root ldd "$program" >"$scratch/ldd" || return 1
        ! grep 'not found' "$scratch/ldd" || return 1
    done
}
the_demo_call_is_answered() { in_root letoff find --most 3 /usr/share/letoff/chimes/calls/demo-call.yaml | tee "$scratch/answer" && [ -s "$scratch/answer" ]; }
it_plays() { in_root letoff play longcase-rack --from 2:59 --to 3:01 --no-sound --out /tmp/a.wav && [ -s "$clean/tmp/a.wav" ]; }
it_keeps_a_journal() { in_root letoff journal add --story "strikes one too many" && in_root letoff journal list | grep -q "one too many"; }
the_doctor_is_content() {
    in_root letoff doctor --json >"$scratch/doctor" &&
        jq -e '[.checks[] | select(.id == "decoder" or .id == "data" or .id == "fonts" or .id == "voices") | .health == "good"] | length == 4 and all' \
            <"$scratch/doctor" || { cat "$scratch/doctor"; return 1; }
}
it_can_be_removed() { in_root dpkg -r letoff && [ ! -e "$clean/usr/bin/letoff" ] && [ ! -e "$clean/usr/share/letoff" ]; }

[ "${2:-}" = clean ] || ends_checks
clean=$scratch/clean
if [ "$(id -u)" -ne 0 ] || ! unshare -m chroot / true 2>/dev/null; then
    echo "The clean root needs root, chroot and mounts; left out."
    ends_checks
fi
check "a clean root is made of its dependencies" clean_root_is_made
check "dpkg installs it there" dpkg_installs_it
check "nothing is missing to link it" nothing_is_missing_to_link
check "the demo call is answered there" the_demo_call_is_answered
check "it plays there" it_plays
check "it keeps a journal there" it_keeps_a_journal
check "the doctor finds data, decoder and fonts there" the_doctor_is_content
check "it can be removed" it_can_be_removed
ends_checks
