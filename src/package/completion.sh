#!/bin/sh
# completion.sh LETOFF - the bash completion on the standard output.  Verbs and their options are those the
# program tells in its --help; ids of clocks, faults and the like are asked of it while typing.
set -eu
letoff=$1

verbs_of() {
    "$letoff" --help | awk '/^letoff [a-z]+  / { print $2 }'
}

options_of() {
    "$letoff" "$@" --help | awk '/^  --/ { print $1 }' | tr '\n' ' ' | sed 's/ $//'
}

journal_verbs() {
    "$letoff" journal --help | awk '/^  [a-z]+ / { print $1 }' | tr '\n' ' ' | sed 's/ $//'
}

verbs=$(verbs_of | tr '\n' ' ' | sed 's/ $//')
cat <<HEAD
# Bash completion of letoff, made from its own --help.
# shellcheck disable=SC2207  # ids hold no blanks
_letoff_ids() { letoff list "\$1" 2>/dev/null | cut -d' ' -f1; }

_letoff() {
    local word=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD-1]} verb=\${COMP_WORDS[1]-}
    local options="" words=""
    COMPREPLY=()
    if [ "\$COMP_CWORD" -eq 1 ]; then
        COMPREPLY=(\$(compgen -W "$verbs --help --version" -- "\$word"))
        return
    fi
    case \$before in
    --clock) COMPREPLY=(\$(compgen -W "\$(_letoff_ids clocks)" -- "\$word")); return ;;
    --fault | --found) COMPREPLY=(\$(compgen -W "\$(_letoff_ids faults)" -- "\$word")); return ;;
    --out | --sheet | --journal) COMPREPLY=(\$(compgen -f -- "\$word")); return ;;
    esac
    case \$verb in
HEAD
for verb in $(verbs_of); do
    if [ "$verb" = journal ]; then
        echo "    journal)"
        echo "        if [ \"\$COMP_CWORD\" -eq 2 ]; then words=\"$(journal_verbs)\"; else"
        echo "            case \${COMP_WORDS[2]} in"
        for inner in $(journal_verbs); do
            echo "            $inner) options=\"$(options_of journal "$inner")\" ;;"
        done
        echo "            esac"
        echo "        fi ;;"
        continue
    fi
    echo "    $verb) options=\"$(options_of "$verb")\" ;;"
done
cat <<'TAIL'
    esac
    if [ "$COMP_CWORD" -eq 2 ]; then
        case $verb in
        play | resync | chart) words=$(_letoff_ids clocks) ;;
        list) words="clocks tunes faults voices words sheet" ;;
        esac
    fi
    if [ -n "$words" ] && [ "${word#-}" = "$word" ]; then
        COMPREPLY=($(compgen -W "$words" -- "$word"))
    elif [ "${word#-}" != "$word" ]; then
        COMPREPLY=($(compgen -W "$options" -- "$word"))
    else
        COMPREPLY=($(compgen -f -- "$word"))
    fi
}
complete -o filenames -F _letoff letoff
TAIL
