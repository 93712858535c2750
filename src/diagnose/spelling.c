/* The words of a text in the spelling of the table (phrases_priv.h).
 *
 * A caller's note is typed in haste: "dosnt", "quater", "cukoo", "striek".  A word that the table does
 * not know is taken for one it does know when just one of them is a slip of the pen away: two
 * letters exchanged, one left out, one too many, or one sound for another.  The first letter is
 * hardly ever the wrong one, and short words are too near each other, so both are left alone.  A known
 * word with one of the table's `endings` is no slip: "looking" is not "locking" where "look" is known. */
#include "diagnose/phrases_priv.h"

#include <stdlib.h>
#include <string.h>

#include "mem.h"

#define SLIP_LETTERS 5 /* shortest word in which one letter may stand for another */

const char *phrases_alike(const struct phrases *p, const char *word)
{
    for (size_t i = 0; i < p->alikes; i++)
        if (!strcmp(p->alike[i].word, word))
            return p->alike[i].as;
    return NULL;
}

/* ---- the words of the table ---- */

static void know(struct phrases *p, const char *word)
{
    p->known = mem_grow(p->known, &p->known_room, p->knowns + 1, sizeof *p->known);
    p->known[p->knowns++] = word;
}

static void know_list(struct phrases *p, const struct yaml_node *list)
{
    for (size_t i = 0; list && i < yaml_count(list); i++)
        know(p, yaml_text(yaml_item(list, i)));
}

/* Each word of a row of words; a beginning ("chim*") is none. */
static void know_row(struct phrases *p, const char *row)
{
    for (size_t length; *row; row += length + (row[length] == ' ')) {
        length = strcspn(row, " ");
        if (row[length - 1] != '*')
            know(p, phrases_keep(p, row, length));
    }
}

static void know_patterns(struct phrases *p, const struct patterns *patterns)
{
    for (size_t i = 0; i < patterns->count; i++)
        for (size_t j = 0; j < patterns->at[i].nodes; j++)
            if (patterns->at[i].node[j].kind == NODE_WORD)
                know(p, patterns->at[i].node[j].text);
}

static int by_letters(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static void sort_known(struct phrases *p)
{
    size_t kept = 0;
    qsort(p->known, p->knowns, sizeof *p->known, by_letters);
    for (size_t i = 0; i < p->knowns; i++)
        if (!kept || strcmp(p->known[kept - 1], p->known[i]))
            p->known[kept++] = p->known[i];
    p->knowns = kept;
}

void phrases_learn(struct phrases *p)
{
    for (size_t i = 0; i < PHRASE_WORD_LISTS; i++)
        know_list(p, *phrases_word_list(p, i));
    for (size_t i = 0; i < p->numbers; i++) {
        know(p, p->number[i].first);
        if (p->number[i].second)
            know(p, p->number[i].second);
    }
    for (size_t i = 0; i < p->classes; i++)
        for (size_t j = 0; j < p->class[i].count; j++)
            know_row(p, p->class[i].word[j]);
    for (size_t i = 0; i < p->times; i++)
        know_patterns(p, &p->time[i].patterns);
    for (size_t i = 0; i < p->phrases; i++)
        know_patterns(p, &p->phrase[i].patterns);
    for (size_t i = 0; i < PHRASE_PATTERN_LISTS; i++)
        know_patterns(p, phrases_pattern_list(p, i));
    for (size_t i = 0; i < p->pairs; i++)
        know_patterns(p, &p->pair[i].patterns);
    for (size_t i = 0; i < p->clauses; i++)
        know_patterns(p, &p->clause[i].all);
    sort_known(p);
}

/* ---- slips ---- */

static bool in_table(const struct phrases *p, const char *word)
{
    return bsearch(&word, p->known, p->knowns, sizeof *p->known, by_letters) ||
           phrases_alike(p, word);
}

static bool vowel(char c)
{
    return c && strchr("aeiouy", c);
}

/* "stop", of which the ending doubles the last letter. */
static bool doubles(const char *stem, size_t length)
{
    return length >= 3 && length <= 4 && !vowel(stem[length - 1]) &&
           !strchr("wx", stem[length - 1]) && vowel(stem[length - 2]) && !vowel(stem[length - 3]);
}

/* Is the word one of the table with an ending?  `instead` is what stood where the ending is, "-" for
 * nothing: "ies" is "y". */
static bool has_ending(const struct phrases *p, const char *word, const char *ending,
                       const char *instead)
{
    size_t length = strlen(word), tail = strlen(ending);
    char stem[SAID_LETTERS + 8];
    if (length < tail + 3 || length >= SAID_LETTERS || strcmp(word + length - tail, ending))
        return false;
    length -= tail;
    bool bare = !strcmp(instead, "-"), grows = vowel(*ending);
    snprintf(stem, sizeof stem, "%.*s%s", (int)length, word, bare ? "" : instead);
    if (!(bare && grows && (doubles(stem, length) || stem[length - 1] == 'e')) && in_table(p, stem))
        return true;
    stem[length - 1] = '\0';
    return bare && grows && word[length - 1] == word[length - 2] && doubles(stem, length - 1) &&
           in_table(p, stem);
}

static bool is_known(const struct phrases *p, const char *word)
{
    bool known = in_table(p, word) || (p->cues && cues_know(p->cues, word));
    for (size_t i = 0; !known && p->endings && i < yaml_count(p->endings); i++) {
        const struct yaml_node *stems = yaml_item(p->endings, i);
        for (size_t k = 0; !known && k < yaml_count(stems); k++)
            known =
                has_ending(p, word, yaml_key_text(p->endings, i), yaml_text(yaml_item(stems, k)));
    }
    return known;
}

/* One sound, two letters. */
static bool sounds_alike(char a, char b)
{
    static const char *const like[] = {"csk", "sz", "ckq", "fv", "gj", "td", "mn"};
    for (size_t i = 0; i < sizeof like / sizeof *like; i++)
        if (a && b && strchr(like[i], a) && strchr(like[i], b))
            return true;
    return vowel(a) && vowel(b);
}

/* What kind of slip makes `word` of `meant`: the likeliest kinds first; 0 if it is none. */
enum slip { SLIP_NONE, SLIP_SWAPPED, SLIP_LETTER, SLIP_SOUND, SLIP_OTHER };

static enum slip slip_of(const char *word, const char *meant)
{
    size_t same = 0, tail = 0, lw = strlen(word), lm = strlen(meant);
    while (word[same] && word[same] == meant[same])
        same++;
    while (tail < lw - same && tail < lm - same && word[lw - 1 - tail] == meant[lm - 1 - tail])
        tail++;
    size_t of_word = lw - same - tail, of_meant = lm - same - tail;
    if (of_word == 2 && of_meant == 2 && word[same] == meant[same + 1] &&
        word[same + 1] == meant[same])
        return SLIP_SWAPPED;
    if (!same)
        return SLIP_NONE;
    if (of_word + of_meant == 1)
        return lw > 3 && lm > 3 ? SLIP_LETTER : SLIP_NONE;
    if (of_word != 1 || of_meant != 1 || lw < SLIP_LETTERS)
        return SLIP_NONE;
    return sounds_alike(word[same], meant[same]) ? SLIP_SOUND : lw > 6 ? SLIP_OTHER : SLIP_NONE;
}

/* An s more or less makes another form of a word, not a slip. */
static bool other_form(const char *word, const char *meant)
{
    size_t lw = strlen(word), lm = strlen(meant), shorter = lw < lm ? lw : lm;
    return lw != lm && !strncmp(word, meant, shorter) &&
           (lw > lm ? word[shorter] : meant[shorter]) == 's';
}

/* The one word of the table that is meant, or NULL: of the likeliest kind of slip there may be only
 * one. */
static const char *meant_by(const struct phrases *p, const struct said_word *w)
{
    const char *meant = NULL;
    enum slip best = SLIP_OTHER + 1;
    bool twice = false;
    if (strlen(w->text) < 3 || w->number >= 0 || w->minute >= 0 || is_known(p, w->text))
        return NULL;
    for (size_t i = 0; i < p->knowns; i++) {
        enum slip slip = slip_of(w->text, p->known[i]);
        if (!slip || slip > best || other_form(w->text, p->known[i]))
            continue;
        twice = slip == best;
        best = slip;
        meant = p->known[i];
    }
    return twice ? NULL : meant;
}

/* ---- the text ---- */

static void spell(struct said_word *w, const char *word, size_t length)
{
    memset(w->text, 0, sizeof w->text);
    memcpy(w->text, word, length < SAID_LETTERS ? length : SAID_LETTERS - 1);
}

/* Word `at` becomes the row of words; returns how many they are. */
static size_t replace(struct said *s, size_t at, const char *row)
{
    size_t count = 0;
    for (size_t length; *row; row += length + (row[length] == ' '), count++) {
        length = strcspn(row, " ");
        if (count) {
            s->word = mem_grow(s->word, &s->room, s->count + 1, sizeof *s->word);
            memmove(&s->word[at + count + 1], &s->word[at + count],
                    (s->count - at - count) * sizeof *s->word);
            s->count++;
            s->word[at + count] = s->word[at];
            s->word[at + count].before = SAID_JOINED;
        }
        spell(&s->word[at + count], row, length);
    }
    return count;
}

/* Marks become the words they stand for; those that stand for none go. */
static void read_signs(const struct phrases *p, struct said *s)
{
    size_t kept = 0;
    for (size_t i = 0; i < s->count; i++) {
        struct said_word *w = &s->word[i];
        const char *as = NULL;
        for (size_t k = 0; w->sign && p->signs && k < yaml_count(p->signs); k++)
            if (!strcmp(yaml_key_text(p->signs, k), w->text))
                as = yaml_text(yaml_item(p->signs, k));
        if (as)
            spell(w, as, strlen(as));
        if (as || !w->sign)
            s->word[kept++] = *w;
        else if (i + 1 < s->count && s->word[i + 1].before < w->before)
            s->word[i + 1].before = w->before;
    }
    s->count = kept;
}

/* "Tone poss. thin": the stop behind a word cut short ends no sentence. */
static void join_shortened(const struct phrases *p, struct said *s)
{
    for (size_t i = 0; i + 1 < s->count; i++)
        if (s->word[i + 1].before == SAID_STOP && s->word[i + 1].from - s->word[i].to <= 2 &&
            phrases_listed(p->shortened, s->word[i].text))
            s->word[i + 1].before = SAID_JOINED;
}

void phrases_spell(const struct phrases *p, struct said *s)
{
    read_signs(p, s);
    join_shortened(p, s);
    for (size_t at = 0; at < s->count;) {
        const char *meant = meant_by(p, &s->word[at]);
        if (meant)
            spell(&s->word[at], meant, strlen(meant));
        const char *as = phrases_alike(p, s->word[at].text);
        at += as ? replace(s, at, as) : 1;
    }
    phrases_repair(p, s);
    phrases_mark(p, s);
}
