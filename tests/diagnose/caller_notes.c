/* caller_notes.c - what callers say in their own words, through the phrase table and the finder.
 *
 *     caller_notes [--read] [--wrong] [--account] [--only WORDS] [--less SHARE,LOT] [--no-cues]
 *                  [--need FACTS,CLASS,PART,FALSE] FILE...
 *
 * For every note of the files (caller_notes.yaml says what stands in them): which of the facts
 * reached the call sheet, what stands there that the note does not say, at which place the finder
 * puts an accepted class and an accepted part, and then the sums.  --read leaves the finder out.
 * --less leaves out a share of the phrase table's rows by lot, --no-cues the cues (cues.h).
 * --wrong prints only notes with something wrong, --account what each word of them gave.
 * --need gives the least per cent of the first three sums and the most of false facts that is good
 * enough; otherwise the exit status is 1.  False facts are counted in files whose notes say in `also`
 * what else is true.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "diagnose/belief.h"
#include "diagnose/story.h"
#include "less_phrases.h"
#include "mem.h"
#include "note_facts.h"
#include "yaml_map.h"

#define ACCEPTED 12

struct note {
    const char *text, *reads, *also;
    const char *class[ACCEPTED], *part[ACCEPTED];
    size_t classes, parts;
};
static const struct yaml_key note_keys[] = {
    {"text", YAML_K_TEXT, offsetof(struct note, text), .needed = true},
    {"reads", YAML_K_TEXT, offsetof(struct note, reads), .needed = true},
    {"also", YAML_K_TEXT, offsetof(struct note, also)},
    {"class", YAML_K_TEXTS, offsetof(struct note, class), .room = ACCEPTED,
     .count_offset = offsetof(struct note, classes)},
    {"part", YAML_K_TEXTS, offsetof(struct note, part), .room = ACCEPTED,
     .count_offset = offsetof(struct note, parts)},
};

struct sums {
    size_t notes, facts, facts_read, given, false_facts, whole, class_first, class_three,
        part_three, parts_asked;
};
struct bench {
    struct words *words;
    struct phrases *phrases;
    struct library *lib;
    struct finder *finder; /* NULL: only read */
    bool wrong_only, account, no_cues;
    const char *only, *less;
    struct sums sums;
};

/* ---- facts ---- */

static bool set_within(const struct word_set *part, const struct word_set *whole)
{
    for (size_t i = 0; i < sizeof part->bits / sizeof *part->bits; i++)
        if (part->bits[i] & ~whole->bits[i])
            return false;
    return true;
}

static bool has_except(const struct heard *got, const struct sheet_at *at)
{
    for (size_t i = 0; i < got->excepts; i++)
        if (same_place(at, &got->except[i]))
            return true;
    return false;
}

/* Does the row say all that is wanted?  It may say more. */
static bool row_says(const struct heard *got, const struct heard *want)
{
    if (!same_place(&want->at, &got->at) || !set_within(&want->how, &got->how))
        return false;
    for (size_t i = 0; i < want->excepts; i++)
        if (!has_except(got, &want->except[i]))
            return false;
    for (size_t i = 0; i < want->values; i++)
        if (i >= got->values || want->value[i] != got->value[i])
            return false;
    return (!want->strike || want->strike == got->strike) &&
           (!want->chime || want->chime == got->chime) &&
           (want->phrases < 0 || want->phrases == got->phrases) &&
           (!want->quarter || want->quarter == got->quarter) &&
           (!want->quarter_shift || want->quarter_shift == got->quarter_shift) &&
           (!want->hammers || want->hammers == got->hammers) &&
           (!want->stopped || want->stopped == got->stopped) &&
           (!want->has_for || (got->has_for && same_place(&want->due, &got->due))) &&
           (want->often == OFTEN_ALWAYS || want->often == got->often);
}

static bool heard_within(const struct sheet *want, const struct sheet *got)
{
    for (size_t i = 0; i < want->heards; i++) {
        bool found = false;
        for (size_t j = 0; j < got->heards && !found; j++)
            found = row_says(&got->heard[j], &want->heard[i]);
        if (!found)
            return false;
    }
    return true;
}

static bool hints_within(const struct sheet *want, const struct sheet *got)
{
    for (size_t i = 0; i < SHEET_HINTS; i++)
        if (want->hint[i] != HINT_UNSAID && want->hint[i] != got->hint[i])
            return false;
    return true;
}

static bool sheet_within(const struct sheet *want, const struct sheet *got)
{
    return hints_within(want, got) && heard_within(want, got) &&
           set_within(&want->history, &got->history) &&
           set_within(&want->history_not, &got->history_not) &&
           set_within(&want->seen, &got->seen) && set_within(&want->seen_not, &got->seen_not) &&
           set_within(&want->since_after, &got->since_after) &&
           (want->since_when < 0 || want->since_when == got->since_when) &&
           (want->years_since_oil < 0 || want->years_since_oil == got->years_since_oil);
}

/* One of the readings "a | b" stands on the sheet.  A reading that is no shorthand ends the run. */
static bool fact_read(const struct bench *b, const char *fact, const struct sheet *got)
{
    bool good = false;
    while (*fact && !good) {
        size_t length = strcspn(fact, "|");
        struct sheet want;
        struct err e = {0};
        sheet_init(&want, b->words);
        if (!sheet_parse_shorthand(&want, fact, length, &e)) {
            err_print(&e, stderr);
            exit(2);
        }
        good = sheet_within(&want, got);
        sheet_release(&want);
        err_release(&e);
        fact += length + (fact[length] == '|');
    }
    return good;
}

/* ---- one note ---- */

static void read_facts(struct bench *b, const struct note *n, const struct sheet *got,
                       struct text *missed)
{
    struct sums *s = &b->sums;
    size_t before = s->facts - s->facts_read;
    for (const char *at = n->reads; *at;) {
        char fact[400];
        size_t length = strcspn(at, ",");
        snprintf(fact, sizeof fact, "%.*s", (int)length, at);
        at += length + (at[length] == ',');
        s->facts++;
        if (fact_read(b, fact, got))
            s->facts_read++;
        else
            text_addf(missed, " [%s]", fact + strspn(fact, " "));
    }
    s->whole += before == s->facts - s->facts_read;
}

/* All that `reads` and `also` say, either of two readings too. */
static void true_sheet(const struct bench *b, const struct note *n, struct sheet *truth)
{
    const char *const texts[] = {n->reads, n->also ? n->also : ""};
    sheet_init(truth, b->words);
    for (size_t i = 0; i < 2; i++)
        for (const char *at = texts[i]; *at;) {
            struct err e = {0};
            size_t length = strcspn(at, ",|");
            if (!sheet_parse_shorthand(truth, at, length, &e)) {
                err_print(&e, stderr);
                exit(2);
            }
            at += length + (at[length] != '\0');
        }
}

/* What stands on the sheet that the note does not say. */
static void find_false(struct bench *b, const struct note *n, const struct sheet *got,
                       struct text *out)
{
    struct fact *fact = mem_alloc(FACTS_MOST * sizeof *fact);
    struct sheet truth;
    true_sheet(b, n, &truth);
    size_t count = facts_of(got, fact, FACTS_MOST);
    b->sums.given += count;
    for (size_t i = 0; i < count; i++)
        if (!fact_holds(&fact[i], &truth)) {
            b->sums.false_facts++;
            text_add(out, " [");
            fact_print(&fact[i], b->words, out);
            text_add(out, "]");
        }
    sheet_release(&truth);
    mem_free(fact);
}

static size_t place_of(const struct belief_share *at, size_t n, const char *const *accepted,
                       size_t count)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < count; j++)
            if (!strcmp(at[i].name, accepted[j]))
                return i + 1;
    return 0;
}

static void find_cause(struct bench *b, const struct note *n, const struct sheet *sheet,
                       struct text *line, bool *good)
{
    struct belief belief = {0};
    struct sums *s = &b->sums;
    if (!sheet_empty(sheet) && belief_find(b->finder, sheet, NULL, &belief)) {
        size_t class = place_of(belief.by_class, belief.classes, n->class, n->classes);
        size_t part = place_of(belief.by_part, belief.parts, n->part, n->parts);
        s->class_first += class == 1;
        s->class_three += class && class <= 3;
        s->part_three += part && part <= 3;
        *good = *good && class == 1 && (!n->parts || (part && part <= 3));
        text_addf(line, " class %zu part %zu ", class, part);
        for (size_t i = 0; i < belief.causes && i < 4; i++)
            text_addf(line, " %s %.2f", belief.cause[i].id, belief.cause[i].p);
    } else {
        *good = false;
        text_add(line, " no answer");
    }
    s->parts_asked += n->parts > 0;
    belief_release(&belief);
}

static void one_note(struct bench *b, const struct note *n, size_t number)
{
    struct sheet sheet;
    struct story story = {0};
    struct err e = {0};
    struct text missed = {0}, untrue = {0}, line = {0}, shorthand = {0};
    sheet_init(&sheet, b->words);
    if (!story_read(b->phrases, n->text, strlen(n->text), &sheet, &story, &e))
        err_print(&e, stderr);
    b->sums.notes++;
    read_facts(b, n, &sheet, &missed);
    if (n->also)
        find_false(b, n, &sheet, &untrue);
    bool good = !missed.length && !untrue.length;
    if (b->finder)
        find_cause(b, n, &sheet, &line, &good);
    sheet_print_shorthand(&sheet, &shorthand);
    if (!good || !b->wrong_only) {
        printf("%3zu %s\n    %s\n   %s\n", number, n->text, text_cstr(&shorthand),
               text_cstr(&line));
        if (missed.length)
            printf("    missed%s\n", text_cstr(&missed));
        if (untrue.length)
            printf("    not said%s\n", text_cstr(&untrue));
        if (b->account) {
            text_clear(&line);
            story_print(&story, n->text, &line);
            printf("%s", text_cstr(&line));
        }
    }
    text_release(&missed);
    text_release(&untrue);
    text_release(&line);
    text_release(&shorthand);
    story_release(&story);
    sheet_release(&sheet);
    err_release(&e);
}

static bool run_file(struct bench *b, const char *path)
{
    struct err e = {0};
    struct yaml_tree *tree = yaml_load(path, &e);
    const struct yaml_node *notes = tree ? yaml_get(yaml_root(tree), "notes") : NULL;
    for (size_t i = 0; notes && i < yaml_count(notes); i++) {
        struct note n = {0};
        if (yaml_read_map(yaml_item(notes, i), "note", note_keys,
                          sizeof note_keys / sizeof *note_keys, &n, &e) &&
            (!b->only || strstr(n.text, b->only)))
            one_note(b, &n, i + 1);
    }
    bool good = notes && !e.count;
    err_print(&e, stderr);
    err_release(&e);
    yaml_free(tree);
    return good;
}

/* ---- sums ---- */

static double per_cent(size_t part, size_t whole)
{
    return whole ? 100.0 * (double)part / (double)whole : 100;
}

static bool tell_sums(const struct bench *b, const double need[4])
{
    const struct sums *s = &b->sums;
    double got[4] = {per_cent(s->facts_read, s->facts), per_cent(s->class_first, s->notes),
                     per_cent(s->part_three, s->parts_asked),
                     s->given ? per_cent(s->false_facts, s->given) : 0};
    printf("%zu notes: facts %zu of %zu (%.0f %%), notes wholly read %zu\n", s->notes,
           s->facts_read, s->facts, got[0], s->whole);
    if (s->given)
        printf("facts not said: %zu of %zu given (%.1f %%)\n", s->false_facts, s->given, got[3]);
    if (b->finder)
        printf(
            "class first %zu of %zu (%.0f %%), in three %zu; part in three %zu of %zu (%.0f %%)\n",
            s->class_first, s->notes, got[1], s->class_three, s->part_three, s->parts_asked,
            got[2]);
    bool good = got[0] >= need[0] && got[3] <= need[3];
    if (b->finder)
        good = good && got[1] >= need[1] && got[2] >= need[2];
    if (!good)
        printf(
            "wanted: facts %.0f %%, class first %.0f %%, part in three %.0f %%, not said at most "
            "%.1f %%\n",
            need[0], need[1], need[2], need[3]);
    return good;
}

static bool load(struct bench *b)
{
    struct err e = {0};
    b->lib = library_load("chimes", &e);
    b->words = words_load("chimes/words.yaml", &e);
    double share = 0;
    unsigned lot = 0;
    if (b->less && sscanf(b->less, "%lf,%u", &share, &lot) != 2)
        return false;
    b->phrases =
        b->words ? less_phrases("chimes/phrases-en.yaml", b->no_cues ? NULL : "chimes/cues-en.yaml",
                                b->words, share, lot, &e)
                 : NULL;
    err_print(&e, stderr);
    err_release(&e);
    return b->lib && b->phrases;
}

static void unload(struct bench *b)
{
    finder_free(b->finder);
    phrases_free(b->phrases);
    words_free(b->words);
    library_free(b->lib);
}

int main(int argc, char **argv)
{
    struct bench b = {0};
    double need[4] = {[3] = 100};
    bool find = true, good = true;
    int files = 1;
    for (; good && files < argc && !strncmp(argv[files], "--", 2); files++) {
        if (!strcmp(argv[files], "--read"))
            find = false;
        else if (!strcmp(argv[files], "--wrong"))
            b.wrong_only = true;
        else if (!strcmp(argv[files], "--account"))
            b.account = true;
        else if (!strcmp(argv[files], "--no-cues"))
            b.no_cues = true;
        else if (!strcmp(argv[files], "--less") && files + 1 < argc)
            b.less = argv[++files];
        else if (!strcmp(argv[files], "--only") && files + 1 < argc)
            b.only = argv[++files];
        else if (!strcmp(argv[files], "--need") && files + 1 < argc)
            good = sscanf(argv[++files], "%lf,%lf,%lf,%lf", &need[0], &need[1], &need[2],
                          &need[3]) >= 3;
        else
            good = false;
    }
    good = good && load(&b);
    if (good && find)
        b.finder = finder_new(b.lib);
    for (int i = files; good && i < argc; i++)
        good = run_file(&b, argv[i]);
    if (!good)
        fprintf(stderr, "caller_notes: see the top of caller_notes.c\n");
    int status = !good ? 2 : tell_sums(&b, need) ? 0 : 1;
    unload(&b);
    return status;
}
