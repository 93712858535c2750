#!/bin/sh
# manual.sh LETOFF FOLDER - letoff.1 on the standard output: FOLDER/manual-head.1, the verbs and options as
# the program itself tells them (--help), and FOLDER/manual-tail.1.
set -eu
letoff=$1
folder=$2

version=$("$letoff" --version | cut -d' ' -f2)

# What --help says of one verb: first line the form, then prose, then rows "  --option VALUE   help".
verb_section() {
    "$letoff" "$@" --help | awk '
        function plain(s) { gsub(/\\/, "\\e", s); gsub(/-/, "\\-", s); gsub(/^[.'"'"']/, "\\\\\\&&", s); return s }
        NR == 1 { print ".SS \"" plain($0) "\""; next }
        /^ *$/ { if (!rows) print ".PP"; next }
        /^  / {
            line = substr($0, 3)
            if (!match(line, /  +/)) { print plain(line); next }
            rows = 1
            print ".TP\n\\fB" plain(substr(line, 1, RSTART - 1)) "\\fR\n" plain(substr(line, RSTART + RLENGTH))
            next
        }
        rows { print ".PP"; rows = 0 }
        { print plain($0) }'
}

verbs_of() { # rows "letoff VERB  about" of the main help
    "$letoff" --help | awk '$1 == "letoff" && NF > 2 && $2 ~ /^[a-z]+$/ && /^letoff [a-z]+  / { print $2 }'
}

sed "s/@VERSION@/$version/" "$folder/manual-head.1"
echo '.SH VERBS'
for verb in $(verbs_of); do
    verb_section "$verb"
done
cat "$folder/manual-tail.1"
