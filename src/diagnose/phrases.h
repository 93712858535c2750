/* phrases.h - the phrase table: what free words mean on a call sheet, as data.
 *
 * One file holds one language (chimes/phrases-en.yaml); another language is another file.
 *
 *     language: en
 *     numbers: {one: 1, twenty five: 25}                # words for numbers
 *     repeats: {once: 1, twice: 2}                      # for counts only, never an hour
 *     units: [minutes, times]                           # a number before these is no hour
 *     hourmarks: [oclock, pm]                           # a number before these is an hour, no count
 *     signs: {"=": equals, "@": at}                     # marks that are read as words
 *     shortened: [poss, approx]                         # a stop behind these ends no sentence
 *     filler: [the, it, my]                             # carry no meaning, never complained about
 *     nouns: [strike, gong]                             # no news by themselves, but shown with news
 *     joiners: [and, or]                                # hold lists together; filler besides
 *     turns: [but, yet]                                 # another matter begins: no list goes on
 *     contrasts: [while]                                # of another time: none behind goes to what is before
 *     against: [but]                                    # a time behind takes what waits from those before
 *     enders: [every, instead]                          # a phrase with `ends` ends before these, too
 *     narrows: {cuckoo: wall}                           # a value of a hint takes the place of the wider one
 *     listers: [at, the]                                # a list of times goes on over these and joiners
 *     anew: [it, now]                                   # behind a joiner another statement begins
 *     negators: [not, never]                            # turn a fact round, undo anything else,
 *                                                       # before a phrase or once between its words
 *     beliefs: [think, ever]                            # a negator reaches over these: "not think it ever"
 *     nors: [or, nor]                                   # what is denied goes on behind these
 *     binders: [no, zero]                               # in a clause row, of the word behind it only
 *     genitives: [of]                                   # "a note of the chime" says nothing of the chime
 *     hourwords: [hour]                                 # what names these speaks of no half hour
 *     contraries: [left, right]                         # one takes the other's place ("left, no, right")
 *     skips: [the, really]                              # may stand between the words of any pattern
 *     alike: {doesnt: does not, mantle: mantel}         # read as if the other were said, in texts
 *                                                       # and in patterns
 *     ordinary: [height]                                # no misspelling of a word of the table
 *     endings: {ies: [y], ed: ["-", e]}                 # nor is one with these, "-" or e in their place
 *     classes: {strike: [strikes, struck, goes off]}    # what stands for each other: @strike
 *     times:                                            # what <time> may be
 *       - {say: "half past <hour>", min: 30}            # minutes added to the hour
 *       - {say: "<m> [minutes] to <hour>", min: -<m>}
 *       - {say: "noon | midday", min: 0}
 *       - {say: "<hour> pm", min: 0, half: pm}
 *       - {say: "<hour>", min: 0, bare: yes}            # a mere number
 *     unreal: "should|supposed"                         # how things stand behind such words is told
 *     coming: "i can|going to"                          # in standing.c: not so, not yet, once, maybe
 *     former: "used to"
 *     doubtful: "may have|maybe"
 *     elsewhere: "my other clock"                        # told of another clock, or of a person
 *     asks: [is, does]                                  # a question that begins so tells nothing:
 *                                                       # "Is the rope slipping?"
 *     wonders: "why|is it normal"                        # ... but what stands behind these is told
 *     cues: cues-en.yaml                                # what words near each other mostly mean (cues.h)
 *     yeses: [yes]                                      # ... or answered with one of these;
 *     noes: [no]                                        # or denied with one of these
 *     ended: "till|until"                               # before these, together with a word of pasts,
 *     superseded: "but now"                             # what stands before these in its sentence, too
 *     pasts: [was, were]                                # it was so once
 *     repairs: "no wait|i mean"                         # what stands before is taken back: repair.c
 *     company: "strike|gong"                            # a word or two of how it sounded need one of
 *                                                       # these in their sentence
 *     telling: "rust*|muffled"                          # ... but not these, which tell enough
 *     phrases:
 *       - {say: "turned back | turned the hands back", gives: "had hands_turned_back"}
 *       - {say: "at <time>", gives: "time <time>"}
 *       - {say: "@strike <n>", gives: "_ s<n>"}
 *       - {say: "cuckoo", gives: "hint case=cuckoo", within: yes} # also among the words of another
 *       - {say: "we had <n>", gives: "_at s<n>", ends: yes} # nothing that it counts behind it
 *     pairs:                                            # times with what was struck, one after another
 *       - {say: "<time> equals <n>", gives: "<time> s<n>"}
 *     clauses:                                          # things said in one clause, in any order
 *       - {all: ["left", "@weight", "@no", "@moves"], gives: "seen left_weight_still"}
 *       - {all: ["@chimes", "@slow"], but: ["@strike"], gives: "_quarters slow"}
 *
 * A clause ends at a comma, a stop or a word of `turns`.  When the phrases have taken their words from
 * it, the rows of `clauses` look at what is left: a row is read when all its patterns are found in the
 * clause, in any order and with other words between, none of `but` is, no negator or word that puts it
 * out of the plain (`unreal` and the like) stands there that the row does not name, and at least one of
 * its patterns has words nothing else has used.  A row with `wide: yes` is looked for in the whole
 * sentence too.  The row with the most words wins, then the one with them nearest together.  Other words
 * are left for other rows, or told as not understood.
 *
 * A single word with news, in a phrase or a row, is read when all else of its clause has been: where
 * more than one other word is left over there it is not sure, and not taken (but see `telling`).
 *
 * A pair with `whole: yes` holds only as a sentence of its own ("At eight, seven.").
 * A pair counts only in a row of them ("6 = 7, 7 = 8"), or behind a phrase that gave the same kind of
 * thing ("three struck four, four five"); those with `follows: yes` only there.
 *
 * A pattern (`say`, or a list of them) is a row of words.  | parts whole patterns; (a|b c) are
 * choices; [a] may be missing; turn* is any word that begins so; @name is any entry of a class;
 * ... is a gap of up to four words within the clause; a comma may stand where the
 * pattern has one and nowhere else.  Slots: <n> and <n2> a number 0..24,
 * <list> numbers "2, 3 or 4", <hour> 1..12, <time> and <time2> a time of the dial, <moment> one
 * that is no mere number, <clock> a time in digits ("3:15"), <m> minutes 1..59,
 * <five> those in fives ("ten to three", but not "one to three"), <years> a number
 * to 500, <notes> digits of a tune.
 *
 * A phrase with `ends: yes` holds only where its statement ends behind it: before a break, a joiner, a
 * lister, a word of `turns` or of `enders`, so that "we had two" is not read in "we had two clocks".
 *
 * What it gives is shorthand (sheet.h) with the slots filled in (<past> and <less> are the minutes
 * of <m> after and before the hour: "*:<less>"; <hand> and <hand2> where the minute hand is at the
 * <hour> and the <n> of the dial; <next> and <prior> the full hours after and before <time>, <next2> and
 * <prior2> those of <time2>), and besides
 *     time T      a time for what is heard in the same sentence ("time <time>", "time hours")
 *     time onward the hours behind the part of the dial told of last ("after that it is one short")
 *     same T      the last thing heard is heard at that time, too ("half past is the same")
 *     often W     how often
 *     nothing     no news: these words are not to be taken for anything else
 *     _ ITEMS     a row heard at the time given elsewhere in the sentence, else at an unknown one
 *     _hours ITEMS, _quarters, _halves, _any ...: likewise, else at that rule
 *     _at ITEMS   likewise, but of no use without a time
 *     _others ITEMS   at every let-off but the ones named in the story
 * Everything is checked when the file is loaded.
 */
#ifndef LETOFF_DIAGNOSE_PHRASES_H
#define LETOFF_DIAGNOSE_PHRASES_H

#include <stdbool.h>
#include <stddef.h>
#include "diagnose/said.h"
#include "diagnose/words.h"
#include "err.h"

#define PHRASE_GIVES 400

struct phrases;

/* NULL with sentences when anything is wrong.  `words` must outlive the table.  Of a file its file of cues is loaded,
 * too (cues.h); a text has none yet. */
struct phrases *phrases_load(const char *path, const struct words *words, struct err *e);
struct phrases *phrases_parse(const char *name, const char *text, size_t length,
                              const struct words *words, struct err *e);
void phrases_free(struct phrases *p);
const char *phrases_language(const struct phrases *p);
const struct words *phrases_words(const struct phrases *p);
size_t phrases_count(const struct phrases *p);
struct cues;
const struct cues *phrases_cues(const struct phrases *p); /* or NULL */
/* Read this file of cues with the table; false with sentences, and without cues, when anything is wrong with it. */
bool phrases_take_cues(struct phrases *p, const char *path, struct err *e);

/* The best phrase that begins at word `at`: the one with the most words of its own, then the
 * shortest stretch, then the first of the file. */
struct phrase_match {
    size_t end;                /* first word behind it */
    size_t own;                /* words of the text it names or fills a slot with */
    bool denied;               /* a negator stood between its words: "was not dropped" */
    const char *say;           /* the pattern, for showing */
    char gives[PHRASE_GIVES];  /* slots filled in */
};
/* Does a value of a hint say more exactly what `wider` says: a cuckoo clock is a wall clock? */
bool phrases_narrow(const struct phrases *p, const char *value, const char *wider);
bool phrases_match(const struct phrases *p, const struct said *s, size_t at,
                   struct phrase_match *match);
/* The same among the words before `until` only. */
bool phrases_match_until(const struct phrases *p, const struct said *s, size_t at, size_t until,
                         struct phrase_match *match);
/* Likewise, of the phrases that also hold within others only. */
bool phrases_match_within(const struct phrases *p, const struct said *s, size_t at, size_t until,
                          struct phrase_match *match);
/* Put the words of a text into the spelling of the table, before anything is matched: `alike` words
 * become what they stand for, and a word the table does not know becomes the one it does know when
 * only one is a slip of the pen away.  The bytes they come from stay the same.  Then what the speaker
 * takes back is cut out ("at four, no, five"). */
void phrases_spell(const struct phrases *p, struct said *s);
/* A clause row in the words from .. to - 1; `wide`: of the rows that go beyond a clause only.  `used` says
 * for each word of the text whether something else has taken it; `hears` that a sound is spoken of
 * already, so that a row of a word or two may add to it.  The words it takes are the `taken` ones, counted
 * from `from`. */
#define CLAUSE_WORDS 60 /* of one clause; what goes on longer is cut */
struct clause_match {
    size_t first, end; /* first word and the one behind the last */
    size_t own;        /* words of the text its patterns take */
    bool taken[CLAUSE_WORDS];
    const char *say;
    char gives[PHRASE_GIVES];
};
bool phrases_match_clause(const struct phrases *p, const struct said *s, size_t from, size_t to,
                          const bool *used, bool wide, bool hears, struct clause_match *match);
/* A pair at word `at`; `follows` if another stands before it.  `row` is the number of its row: a run
 * of pairs keeps to one. */
bool phrases_match_pair(const struct phrases *p, const struct said *s, size_t at, bool follows,
                        size_t *row, struct phrase_match *match);
/* A bare hour at word `at` ("five" in "at four, five and six"): the minute of the dial. */
bool phrases_hour(const struct phrases *p, const struct said *s, size_t at, size_t *end, int *min);
/* A number at word `at`. */
bool phrases_count_at(const struct phrases *p, const struct said *s, size_t at, size_t *end,
                      int *count);
/* One comma part of what a phrase gives, ready for sheet_parse_shorthand. */
struct give {
    enum give_kind {
        GIVE_TIME,    /* line is a row with that time and nothing of worth behind it */
        GIVE_ONWARD,  /* the hours behind the part of the dial told of last; line is empty */
        GIVE_SAME,    /* likewise, of a time at which the last thing heard is heard, too */
        GIVE_OFTEN,   /* line is a row with that often=, likewise */
        GIVE_ROW,     /* a heard row; if `loose` its time is only the usual one, if
                       `timed` it is of no use without one from the sentence */
        GIVE_FACT,    /* anything else */
        GIVE_NOTHING, /* no news; line is empty */
    } kind;
    bool loose, timed, others;
    char line[PHRASE_GIVES + 32];
};
/* The parts one after another: start with *at = 0; false at the end. */
bool phrases_give(const char *gives, size_t *at, struct give *g);

/* How the words at .. end - 1 stand in the text, from those before them in their statement, and, if they
 * tell of the past, from the one behind them: "were right until Christmas". */
enum standing {
    STANDING_PLAIN,
    STANDING_UNREAL,   /* behind "should": it is not so */
    STANDING_COMING,   /* behind "I can": not yet */
    STANDING_FORMER,   /* behind "used to": it was so once */
    STANDING_DOUBTFUL, /* behind "may have": nobody knows */
    STANDING_ELSEWHERE, /* behind "my neighbour's has", or asked: not told of this clock */
};
enum standing phrases_standing(const struct phrases *p, const struct said *s, size_t at, size_t end);
/* Is there a negator shortly before word `at`, in its statement and not before word `since`? */
bool phrases_denied(const struct phrases *p, const struct said *s, size_t at, size_t since);
/* Do only words that carry a denial on ("or", "nor") stand from .. at - 1? */
bool phrases_denial_goes_on(const struct phrases *p, const struct said *s, size_t from, size_t at);
/* Is what is named at word `at` only what another thing belongs to: "the first note of | the chime"? */
bool phrases_part_of(const struct phrases *p, const struct said *s, size_t at);
/* Do the words from .. to - 1 name something that sounds? */
bool phrases_sounds(const struct phrases *p, const struct said *s, size_t from, size_t to);
/* Do the words from .. to - 1 speak of the hour? */
bool phrases_names_hour(const struct phrases *p, const struct said *s, size_t from, size_t to);
/* Does a word stand there that is sure by itself? */
bool phrases_tells(const struct phrases *p, const struct said *s, size_t at);
/* Is a single word, at .. end - 1, sure?  Not where more than one other word with news of its clause from
 * .. to - 1 is left over: neither `used` nor spent. */
bool phrases_is_sure(const struct phrases *p, const struct said *s, const bool *used, size_t from,
                     size_t to, size_t at, size_t end);
/* A word or two say little of what was heard: "slowly" may be the weight's way.  It says enough when
 * it makes up its sentence, or that names something that sounds.  More always do (`own`: how
 * many the table knows of those from at .. end - 1), and other matters need no company. */
bool phrases_says_enough(const struct phrases *p, const struct said *s, size_t at, size_t end,
                         size_t own, const char *gives);

bool phrases_filler(const struct phrases *p, const struct said_word *w);
bool phrases_joins(const struct phrases *p, const struct said_word *w);
bool phrases_lists(const struct phrases *p, const struct said_word *w);
bool phrases_noun(const struct phrases *p, const struct said_word *w);
bool phrases_turns(const struct phrases *p, const struct said_word *w);
bool phrases_contrasts(const struct phrases *p, const struct said_word *w);
bool phrases_opposes(const struct phrases *p, const struct said_word *w);
bool phrases_negates(const struct phrases *p, const struct said_word *w);

#endif
