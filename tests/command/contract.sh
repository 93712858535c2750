#!/bin/sh
# contract.sh PROGRAM - the command line keeps its contract: keys of the JSON, exit statuses, one
# whole sentence for each problem, all of them at once, nothing written half.
set -u
letoff=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
export SDL_AUDIODRIVER=dummy XDG_DATA_HOME="$work/data" XDG_CACHE_HOME="$work/cache"
passed=0
failed=0

ok() { passed=$((passed + 1)); }
bad() { failed=$((failed + 1)); echo "not so: $*"; }

# json 'sentence' FILTER COMMAND...: the filter must give true
json() {
    says=$1 filter=$2
    shift 2
    if "$@" 2>"$work/err" | jq -e "$filter" >/dev/null 2>&1; then ok; else bad "$says"; head -n 3 "$work/err"; fi
}
# refused 'sentence' STATUS PATTERN COMMAND...: ends with the status and says the pattern
refused() {
    says=$1 status=$2 pattern=$3
    shift 3
    "$@" >"$work/out" 2>"$work/err" </dev/null
    got=$?
    if [ "$got" -eq "$status" ] && grep -Eq -- "$pattern" "$work/err"; then ok; else bad "$says (status $got)"; head -n 3 "$work/err"; fi
}

# --- results -----------------------------------------------------------------------------------
json "play lists events with their keys" \
    '.clock == "longcase-rack" and (.events | length > 0) and (.events[0] | has("t_s") and has("hand") and has("kind") and has("train") and has("sounder") and has("strength") and has("letoff"))' \
    "$letoff" play longcase-rack --from 2:50 --to 3:10 --json
json "three blows at three" '[.events[] | select(.kind == "blow")] | length == 3' \
    "$letoff" play longcase-rack --from 2:50 --to 3:10 --json
json "the full hour of Westminster" '[.events[] | select(.kind == "note")] | length == 16' \
    "$letoff" play floor-westminster-rack --from 14:50 --to 15:05 --json
json "a fault changes what is played" '[.events[] | select(.kind == "blow")] | length != 3' \
    "$letoff" play longcase-rack --from 2:50 --to 3:10 --json --state strike=out
json "24 clocks or more, with their keys" \
    'length >= 24 and all(.[]; has("id") and has("name") and has("trains") and has("count") and has("half") and has("chime") and has("power"))' \
    "$letoff" list clocks --json
json "130 faults or more, each with part, class and clocks" \
    'length >= 130 and all(.[]; (.part | length > 0) and (.class | length > 0) and (.clocks | length > 0))' \
    "$letoff" list faults --json
for what in tunes voices words sheet; do
    json "list $what" 'length > 0 and all(.[]; has("id"))' "$letoff" list $what --json
done
json "list sheet: keys of a row and of its values, all hints, and words with their meaning" \
    'all(.[]; has("map") and has("key") and (.about | length > 0) and (.values | length > 0)) and
     all(.[].values[]; has("value") and has("about") and has("example")) and
     (map(.id) | index("heard.at") and index("since.after") and index("hints.power") and index("tried.result"))' \
    "$letoff" list sheet --json
mkdir "$work/keys"
"$letoff" list sheet --json | jq -r '.[].values[0].example | @base64' | while read -r sheet; do
    keys=$((${keys:-0} + 1))
    echo "$sheet" | base64 -d >"$work/keys/$keys.yaml"
done
if "$letoff" check "$work"/keys/*.yaml >"$work/out" 2>&1 && [ "$(wc -l <"$work/out")" -ge 70 ]; then
    ok
else
    bad "list sheet: an example of each key is in order"
    grep -v 'in order' "$work/out" | head -n 3
fi
printf 'heard: [{at: "3:00", strike: 1, strike: 2}]\n' >"$work/twice.yaml"
"$letoff" check "$work/twice.yaml" >"$work/out" 2>&1
if [ "$(wc -l <"$work/out")" -eq 1 ]; then ok; else bad "check: a doubled key is told of once"; cat "$work/out"; fi
printf 'heard: [{at: "3:00", strike: none, how: runs_on}]\n' >"$work/odd.yaml"
if "$letoff" check "$work/odd.yaml" >"$work/out" 2>&1 && grep -q 'odd.yaml:1: note: ' "$work/out" && grep -q 'in order' "$work/out"; then
    ok
else
    bad "check: what was perhaps not meant so is told, and is in order"
fi
json "find: it stands among the notes" '.notes | any(test("silence"))' "$letoff" find "$work/odd.yaml" --json
for verb in find check; do
    if "$letoff" $verb --help | grep -q 'list sheet'; then ok; else bad "$verb --help names list sheet"; fi
done
json "resync: keys of the plan and of its steps" \
    'has("minutes") and has("blows") and .optimal and (.steps | length > 0) and all(.steps[]; has("do") and has("text") and has("hear") and has("minutes") and has("hazard"))' \
    "$letoff" resync floor-westminster-rack --hands 3:20 --phrase 3 --time 4:10 --json
json "resync: a count wheel one too many is tripped eleven times" \
    '[.steps[].do] == [range(11) | "trip_strike"]' \
    "$letoff" resync longcase-countwheel-78 --hands 5:05 --struck 6 --json
json "resync: a state nobody knows is found out on the way" \
    '.found and (.branches | length > 1) and .worst_minutes >= .minutes' \
    "$letoff" resync mantel-countwheel-90 --hands 3:20 --unknown --time 4:10 --json
json "resync: hands in a tin" '.found and ([.steps[].do] | index("fit_hands") != null)' \
    "$letoff" resync longcase-rack --struck 7 --time 2:10 --json
refused "resync: a time that is none" 2 'is no time' "$letoff" resync longcase-rack --hands 25:99
refused "resync: a strike that no clock in order makes" 2 'letoff find' \
    "$letoff" resync longcase-rack --hands 3:10 --struck 13
json "listen: taps are counted, laid beside the clock and its rhythm" \
    '(.events | length == 4) and (.sheet | contains("strike: 4")) and (.rhythm[0] | has("train") and has("interval_s") and has("usual_s") and has("slow") and has("fast") and has("dragging") and has("uneven") and has("periods") and has("arbors")) and (.causes | length > 0) and (.letoffs[0].readings | length > 0)' \
    "$letoff" listen --taps '0 1.7 3.4 5.1' --clock longcase-rack --at 3:00 --json
# What play writes can be heard apart again: the hands were led on from let-off to let-off, nobody waited.
"$letoff" play floor-westminster-rack --from 15:40 --to 16:02 --out "$work/two.wav" --no-sound >/dev/null
json "listen: two let-offs of one recording follow each other on the dial" \
    '.sheet | test("at: \"3:45\".*notes: \"132442131234\"") and test("at: \"4:00\", strike: 4, notes: \"3124321313244213\"")' \
    "$letoff" listen "$work/two.wav" --clock floor-westminster-rack --at 3:45 --json
refused "listen: words that are no taps" 2 'is no tap' "$letoff" listen --taps 'one two'
refused "listen: no sound at all" 2 'wants one of' "$letoff" listen
json "chart: every hour of the strike is proved" \
    '([.proving[] | select(.hands | endswith(":00")) | .blows] | add) == 78 and (.oiling | length > 0) and (.hands | length > 8)' \
    "$letoff" chart floor-westminster-rack --json
"$letoff" resync chime-no-corrector --unknown --hands 3:20 --paper letter --out "$work/plan.pdf" && [ -s "$work/plan.pdf" ] && ok || bad "resync: a plan is drawn"
refused "resync: paper that is none" 2 'a4 or letter' "$letoff" resync longcase-rack --hands 3:05 --struck 4 --paper foolscap
printf '7\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n' | "$letoff" resync longcase-countwheel-78 --unknown --follow >"$work/out" 2>"$work/err"
if [ $? -eq 0 ] && grep -q "Put the hands on so that they show 7:00" "$work/out" && tail -n 1 "$work/out" | grep -q "In step"; then ok; else bad "resync: hands from a tin go on at what was struck"; fi
refused "chart: paper that is none" 2 'a4 or letter' "$letoff" chart longcase-rack --paper foolscap
refused "chart: an ending that cannot be drawn" 2 'pdf' "$letoff" chart longcase-rack --out "$work/x.doc"
PAPERSIZE=letter "$letoff" chart floor-westminster-rack --out "$work/words.pdf"
if pdfinfo "$work/words.pdf" | grep -q 'Page size: *612 x 792' && pdftotext "$work/words.pdf" - | grep -q '4 phrases, then 12' && pdftotext "$work/words.pdf" - | grep -q 'Over a full winding'; then ok; else bad "chart: words can be selected, on the paper of the house"; fi
"$letoff" chart floor-westminster-rack --paper a4 --out "$work/words.pdf"
if pdfinfo "$work/words.pdf" | grep -q 'A4'; then ok; else bad "chart: a4 when told"; fi
for kind in pdf svg png; do
    "$letoff" chart longcase-rack --out "$work/chart.$kind" --paper letter && [ -s "$work/chart.$kind" ] && ok || bad "chart.$kind is drawn"
done
printf '1\n2\n3\n1\n2\n3\n' >"$work/answers"
json "drill: a scripted session has a score" \
    '(.rounds | length == 3) and has("score") and has("level") and all(.rounds[]; has("kind") and has("clock") and has("score") and has("right") and has("part") and has("review"))' \
    "$letoff" drill --seed 4 --kind time --rounds 3 --answers "$work/answers" --json
printf '1\n1\n1\n1\n' >"$work/ones"
"$letoff" drill --seed 5 --kind defect --level 3 --rounds 4 --answers "$work/ones" --journal "$work/drill.db" >"$work/out"
json "drill: what was missed is kept in the journal and shown for review" \
    '(.parts | length > 0) and all(.parts[]; has("part") and has("asked") and has("right") and has("due")) and (.missed | length > 0) and all(.missed[]; .round == "defect" and (.note | contains("It was: ")))' \
    "$letoff" drill --review --journal "$work/drill.db" --json
refused "drill: a kind that is none" 2 'no kind of round' "$letoff" drill --seed 4 --kind tea
refused "drill: answers that are not there" 3 'cannot be read' "$letoff" drill --seed 4 --answers "$work/none"
printf '\n\n5\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n\n' | "$letoff" resync longcase-countwheel-78 --hands 3:05 --struck 5 --time 3:10 --follow >"$work/out" 2>"$work/err"
if [ $? -eq 0 ] && grep -q "made anew" "$work/out" && tail -n 1 "$work/out" | grep -q "In step"; then ok; else bad "resync: a wrong answer at a step is planned for anew"; fi
json "find: chances of all causes sum to one, none and unknown among them" \
    '([.causes[].p] | add) as $s | $s > 0.999 and $s < 1.001 and ([.causes[].faults[]] | index("unknown") != null)' \
    "$letoff" find --clock longcase-rack --heard '3:00 s4, 4:00 s5, 5:00 s6' --json
json "find: keys of a cause and of the answer" \
    'has("by_class") and has("by_part") and has("clock") and has("next") and has("omitted") and (.causes[0] | has("part") and has("class") and has("p") and has("severity") and has("owner_safe") and has("reasons") and has("predicts")) and (.next | has("kind") and has("id") and has("text") and has("saves_min") and has("hazard"))' \
    "$letoff" find --clock longcase-rack --heard '3:00 s4, 4:00 s5, 5:00 s6' --json
json "find: a rack clock an hour out all round has its hour hand moved" \
    '.causes[0].part == "hour hand" and .causes[0].class == "setting" and .causes[0].owner_safe' \
    "$letoff" find --clock longcase-rack --heard '3:00 s4, 4:00 s5, 5:00 s6' --json
json "find: a count wheel clock may as well be out of count" \
    '[.causes[:3][].part] | (index("count wheel") != null) and (index("hour hand") != null)' \
    "$letoff" find --clock mantel-countwheel-90 --heard '3:00 s4, 4:00 s5, 5:00 s6' --json

# --- files -------------------------------------------------------------------------------------
if "$letoff" play longcase-rack --from 2:50 --to 3:05 --out "$work/x.wav" >/dev/null 2>&1 && [ -s "$work/x.wav" ]; then ok; else bad "play writes a WAV file"; fi
if "$letoff" play floor-westminster-rack --from 2:50 --to 3:05 --out "$work/x.mid" >/dev/null 2>&1 && [ "$(head -c 4 "$work/x.mid")" = MThd ]; then ok; else bad "play writes a MIDI file"; fi
"$letoff" play floor-westminster-rack --from 2:50 --to 3:20 --fault drum-late --out "$work/x.svg" >/dev/null 2>&1 && grep -q '<text' "$work/x.svg" && ok || bad "play writes an SVG picture with text in it"
"$letoff" play floor-westminster-rack --from 2:50 --to 3:20 --out "$work/x.pdf" >/dev/null 2>&1 && [ "$(head -c 4 "$work/x.pdf")" = %PDF ] && ok || bad "play writes a PDF picture"
refused "an ending that is no sound" 2 'must end in' "$letoff" play longcase-rack --out "$work/x.doc"
[ ! -e "$work/x.doc" ] && ok || bad "nothing is left of a refused file"

# --- bad usage ---------------------------------------------------------------------------------
refused "an unknown verb" 2 'nearest is "find"' "$letoff" fnd
refused "an unknown option" 2 'nearest is --heard' "$letoff" find --hard x
refused "an unknown clock" 2 'There is no clock' "$letoff" play longcase-rak
refused "an unknown fault" 2 'There is no fault' "$letoff" play longcase-rack --fault nothing
refused "a fault the clock cannot have" 2 'cannot occur' "$letoff" play longcase-rack --fault drum-late
refused "a severity out of range" 2 'from 0 to 1' "$letoff" play longcase-rack --fault tail-angle-short=7
refused "a comma in a number" 2 'whole number' "$letoff" play longcase-rack --seed 1,5
refused "an impossible time" 2 'wants a time' "$letoff" play longcase-rack --from 25:99
refused "nothing told" 2 'Nothing was told' "$letoff" find
refused "a missing file" 3 'none.yaml' "$letoff" find "$work/none.yaml"

# --- bad sheets: all mistakes at once, with file:line:column ---------------------------------------
sheet() { # NAME, text on stdin
    cat >"$work/$1"
}
sheet keys.yaml <<'EOS'
clok: longcase-rack
heard:
  - {at: "3:00", strike: "2,5"}
  - {at: "27:00", strike: 3}
  - {at: "4:00", hwo: slow}
EOS
refused "unknown keys, comma numbers, impossible times" 2 'keys.yaml:1:1: .*clock' "$letoff" find "$work/keys.yaml"
for place in 'keys.yaml:3:' 'keys.yaml:4:' 'keys.yaml:5:'; do
    grep -q "$place" "$work/err" && ok || bad "the mistake at $place is told with the others"
done
printf 'heard:\n  - {at: "3:00", strike: 2, said: "\377\376"}\n' >"$work/utf8.yaml"
refused "broken UTF-8" 2 'utf8.yaml:2:' "$letoff" find "$work/utf8.yaml"
: >"$work/empty.yaml"
refused "an empty file" 2 'empty.yaml' "$letoff" find "$work/empty.yaml"
head -c 10485760 /dev/zero | tr '\0' 'a' >"$work/big.yaml"
refused "a file of ten megabytes" 2 'big.yaml' "$letoff" find "$work/big.yaml"
head -c 3000 /dev/urandom >"$work/noise.yaml"
refused "noise" 2 'noise.yaml' "$letoff" find "$work/noise.yaml"
printf 'heard: [%s\n' "$(printf '[%.0s' $(seq 500))" >"$work/deep.yaml"
refused "a deep nest" 2 'deep.yaml' "$letoff" find "$work/deep.yaml"
refused "a clock that is none" 2 'clock' "$letoff" find --clock nothing --heard '3:00 s2'

# --- check -------------------------------------------------------------------------------------
"$letoff" check tests/cases/*.yaml chimes/*.yaml chimes/tunes/*.yaml sounds/*.yaml >/dev/null 2>"$work/err" && ok || { bad "the tree's own files are in order"; head -n 3 "$work/err"; }
sheet tune.yaml <<'EOS'
tunes:
  - id: my-tune
    name: Our own
    bells: 4
    changes: {I: [1, 2, 9, 4]}
    drum: [I]
EOS
refused "a user's tune with a bell too many" 2 'tune.yaml:[0-9]+:[0-9]+: ' "$letoff" check "$work/tune.yaml"
# A small tree of data, so that working out its tables takes no time, and a fault of the user's own.
mkdir -p "$work/few" "$XDG_DATA_HOME/letoff/chimes"
cp -r chimes/tunes chimes/cures.yaml chimes/faults-count.yaml chimes/words.yaml chimes/ship.yaml "$work/few"
sheet data/letoff/chimes/ours.yaml <<'EOS'
faults:
  - id: our-hands-out
    name: Hands put on an hour out
    part: hour hand
    class: setting
    about: The hour hand was put on an hour out.
    prior: 1
    set: {hour_off_min: 60}
    cure: move-hour-hand
    source: common practice, no source
EOS
few() { LETOFF_CHIMES="$work/few" LETOFF_TABLES="" "$@"; }
if few "$letoff" check "$XDG_DATA_HOME/letoff/chimes/ours.yaml" >"$work/out" 2>"$work/err" &&
    [ -s "$XDG_CACHE_HOME/letoff/letoff.tables" ] && grep -q 'working out' "$work/out"; then ok; else bad "check works out the tables of the user's own data"; cat "$work/out" "$work/err"; fi
few "$letoff" check "$XDG_DATA_HOME/letoff/chimes/ours.yaml" >"$work/out" 2>"$work/err"
if grep -q 'working out' "$work/out"; then bad "tables that are there are not worked out again"; else ok; fi
few json "and the fault is found with them" '.causes[] | select(.faults == ["our-hands-out"]) | .p > 0.3' \
    "$letoff" find --heard 'clock ships-bell, 4:00 s6' --json
rm -r "$XDG_DATA_HOME/letoff/chimes"

# --- the shop ------------------------------------------------------------------------------------
shop=$work/shop.db
echo 'done' | "$letoff" ask --clock longcase-rack --heard '3:00 s2' --customer 'Mill Lane' --journal "$shop" >"$work/out" 2>"$work/err"
if grep -q 'Kept as call' "$work/out"; then ok; else bad "ask keeps the call"; head -n 3 "$work/err"; fi
json "what was asked stands in the journal" 'length == 1 and .[0].customer == "Mill Lane"' \
    "$letoff" journal list --journal "$shop" --json
for end in svg png pdf; do
    "$letoff" journal stats --journal "$shop" --out "$work/year.$end" >/dev/null 2>"$work/err"
    if [ -s "$work/year.$end" ]; then ok; else bad "stats draws a $end"; head -n 3 "$work/err"; fi
done
refused "a picture of another kind is refused" 2 'expected a name that ends in' \
    "$letoff" journal stats --journal "$shop" --out "$work/year.gif"

echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
