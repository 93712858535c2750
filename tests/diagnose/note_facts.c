#include "note_facts.h"

#include <string.h>

/* ---- taking apart ---- */

struct facts {
    struct fact *at;
    size_t count, most;
};

static struct fact *add(struct facts *f, enum fact_kind kind)
{
    static struct fact spare; /* what there is no room for */
    struct fact *fact = f->count < f->most ? &f->at[f->count++] : &spare;
    memset(fact, 0, sizeof *fact);
    fact->kind = kind;
    heard_init(&fact->row);
    return fact;
}

static void add_set(struct facts *f, enum fact_kind kind, const struct word_set *set, bool denied)
{
    for (int i = 0; i < WORDS_PER_KIND; i++)
        if (word_set_has(set, i)) {
            struct fact *fact = add(f, kind);
            fact->which = i;
            fact->denied = denied;
        }
}

static struct heard *add_row(struct facts *f, const struct heard *from)
{
    struct heard *row = &add(f, FACT_HEARD)->row;
    row->at = from->at;
    row->often = from->often;
    memcpy(row->except, from->except, sizeof row->except);
    row->excepts = from->excepts;
    return row;
}

static void add_strike(struct facts *f, const struct heard *h)
{
    struct heard *row = add_row(f, h);
    row->strike = h->strike;
    row->values = h->values;
    row->mostly = h->mostly;
    memcpy(row->value, h->value, sizeof row->value);
}

static void add_heard(struct facts *f, const struct heard *h)
{
    if (h->strike)
        add_strike(f, h);
    if (h->chime)
        add_row(f, h)->chime = h->chime;
    if (*h->notes)
        strcpy(add_row(f, h)->notes, h->notes);
    if (h->phrases >= 0)
        add_row(f, h)->phrases = h->phrases;
    if (h->quarter)
        add_row(f, h)->quarter = h->quarter;
    if (h->quarter_shift)
        add_row(f, h)->quarter_shift = h->quarter_shift;
    if (h->hammers)
        add_row(f, h)->hammers = h->hammers;
    if (h->stopped)
        add_row(f, h)->stopped = h->stopped;
    for (int i = 0; i < WORDS_PER_KIND; i++)
        if (word_set_has(&h->how, i))
            word_set_add(&add_row(f, h)->how, i);
}

size_t facts_of(const struct sheet *s, struct fact *into, size_t most)
{
    struct facts f = {into, 0, most};
    for (int i = 0; i < SHEET_HINTS; i++)
        if (s->hint[i] != HINT_UNSAID) {
            struct fact *fact = add(&f, FACT_HINT);
            fact->which = i;
            fact->value = s->hint[i];
        }
    add_set(&f, FACT_HISTORY, &s->history, false);
    add_set(&f, FACT_HISTORY, &s->history_not, true);
    add_set(&f, FACT_SEEN, &s->seen, false);
    add_set(&f, FACT_SEEN, &s->seen_not, true);
    add_set(&f, FACT_SINCE, &s->since_after, false);
    for (size_t i = 0; i < s->trieds; i++)
        add(&f, FACT_TRIED)->which = s->tried[i].action;
    for (size_t i = 0; i < s->heards; i++)
        add_heard(&f, &s->heard[i]);
    return f.count;
}

/* ---- bearing out ---- */

/* Thirty minutes past any hour are the halves. */
static struct sheet_at as_rule(const struct sheet_at *at)
{
    struct sheet_at rule = *at;
    if (at->kind == AT_MINUTE && at->min % 30 == 0) {
        rule.kind = AT_RULE;
        rule.rule = at->min == 30 ? RULE_HALF : RULE_HOUR;
        rule.min = 0;
    }
    return rule;
}

bool same_place(const struct sheet_at *x, const struct sheet_at *y)
{
    const struct sheet_at first = as_rule(x), second = as_rule(y), *a = &first, *b = &second;
    int cycle = a->known24 && b->known24 ? 1440 : 720;
    return a->kind == b->kind && a->rule == b->rule && a->min % cycle == b->min % cycle &&
           a->end_min % cycle == b->end_min % cycle && a->part == b->part;
}

static bool is_excepted(const struct heard *row, const struct sheet_at *at)
{
    for (size_t i = 0; i < row->excepts; i++)
        if (same_place(&row->except[i], at) ||
            (at->kind == AT_EXACT && at_covers(&row->except[i], at->min % 720, 720)))
            return true;
    return false;
}

/* Is what the true row says said of the other place too? */
static bool place_holds(const struct heard *truth, const struct heard *row)
{
    const struct sheet_at *at = &row->at;
    if (at->kind == AT_UNKNOWN || same_place(&truth->at, at) ||
        (truth->has_for && same_place(&truth->due, at)))
        return true;
    if (at->kind == AT_ONE)
        return truth->at.kind == AT_RULE ? truth->at.rule == at->rule : truth->at.kind == AT_EXACT;
    if (truth->at.kind == AT_RULE && at->kind == AT_RULE && truth->at.rule == RULE_ANY)
        return !truth->at.part;
    return truth->at.kind == AT_RULE && (at->kind == AT_EXACT || at->kind == AT_MINUTE) &&
           at_covers(&truth->at, at->min % 720, 720) && !is_excepted(truth, at);
}

static int due_count(const struct sheet_at *at)
{
    int min = at->min % 720;
    return min % 60 == 30 ? 1 : min % 60 ? -1 : min ? min / 60 : 12;
}

static bool how_has(const struct heard *h, const struct words *w, const char *const *how)
{
    for (; *how; how++)
        if (heard_how(h, w, *how))
            return true;
    return false;
}

static bool is_silent(const struct heard *h, const struct words *w)
{
    static const char *const how[] = {"silent", "whirr_only", "click_only", NULL};
    return h->strike == HEARD_STRIKE_NONE || h->chime == HEARD_CHIME_NONE || how_has(h, w, how);
}

static bool same_strike(const struct heard *a, const struct heard *b)
{
    return a->strike == b->strike && a->values == b->values &&
           !memcmp(a->value, b->value, a->values * sizeof *a->value);
}

/* The count the true row gives at the other's place; -1 if it gives none. */
static int true_count(const struct heard *truth, const struct sheet_at *at)
{
    int due = at->kind == AT_EXACT ? due_count(at) : -1;
    if (truth->strike == HEARD_STRIKE_COUNT)
        return truth->value[0];
    if (due < 0)
        return -1;
    return truth->strike == HEARD_STRIKE_RIGHT   ? due
           : truth->strike == HEARD_STRIKE_ERROR ? due + truth->value[0]
           : truth->strike == HEARD_STRIKE_HOURS ? (at->min % 720 < 60 ? 12 : at->min % 720 / 60)
                                                 : -1;
}

static bool strike_holds(const struct heard *truth, const struct heard *row, const struct words *w)
{
    int count = true_count(truth, &row->at), due = due_count(&row->at);
    bool exact = row->at.kind == AT_EXACT && count >= 0;
    if (same_strike(truth, row))
        return true;
    switch (row->strike) {
    case HEARD_STRIKE_SOME:
        return truth->strike && truth->strike != HEARD_STRIKE_NONE;
    case HEARD_STRIKE_NONE:
        return is_silent(truth, w);
    case HEARD_STRIKE_WRONG:
        return truth->strike == HEARD_STRIKE_RUNS_ON || truth->strike == HEARD_STRIKE_ERROR ||
               (truth->strike == HEARD_STRIKE_COUNT && truth->at.kind == AT_RULE) ||
               (exact && count != due);
    case HEARD_STRIKE_COUNT:
        return exact && count == row->value[0];
    case HEARD_STRIKE_RIGHT:
        return exact && count == due;
    case HEARD_STRIKE_ERROR:
        return exact && count == due + row->value[0];
    case HEARD_STRIKE_RUNS_ON:
        return heard_how(truth, w, "runs_on");
    case HEARD_STRIKE_HOURS:
        return row->at.kind == AT_MINUTE && truth->strike == HEARD_STRIKE_SOME;
    default:
        return false;
    }
}

static bool chime_holds(const struct heard *truth, const struct heard *row, const struct words *w)
{
    static const char *const wrong[] = {
        "one_note_missing",   "last_note_missing", "last_note_first",
        "first_note_missing", "first_note_last",   "notes_swapped",
        "notes_together",     "jumbled",           "another_tune",
        "phrase_ahead",       "phrase_behind",     "too_many_notes",
        "too_few_notes",      "stops_midway",      NULL};
    if (row->chime == truth->chime)
        return true;
    switch (row->chime) {
    case HEARD_CHIME_NONE:
        return is_silent(truth, w);
    case HEARD_CHIME_SOME:
        return truth->chime > HEARD_CHIME_NONE || truth->quarter || truth->phrases > 0;
    case HEARD_CHIME_WRONG:
        return truth->quarter || truth->quarter_shift || *truth->notes || truth->phrases >= 0 ||
               how_has(truth, w, wrong);
    default:
        return false;
    }
}

/* Words that go together or say the same as something else in a row. */
static bool how_holds(const struct heard *truth, const struct heard *row, const struct words *w)
{
    static const struct {
        const char *word, *like;
    } likes[] = {
        {"thud", "dull"},
        {"dull", "thud"},
        {"uneven", "irregular"},
        {"irregular", "uneven"},
        {"stops", "stops_midway"},
        {"stops", "jams"},
        {"jams", "stops"},
        {"too_few_notes", "stops_midway"},
        {"too_few_notes", "last_note_missing"},
        {"unreliable", "irregular"},
    };
    if (heard_how(row, w, "normal") || word_set_count(&row->how) == 0)
        return true;
    struct word_set both = word_set_both(&truth->how, &row->how);
    if (!word_set_empty(&both))
        return true;
    if (heard_how(row, w, "silent"))
        return is_silent(truth, w);
    if (heard_how(row, w, "runs_on"))
        return truth->strike == HEARD_STRIKE_RUNS_ON || truth->chime == HEARD_CHIME_RUNS_ON;
    if (heard_how(row, w, "late") || heard_how(row, w, "early"))
        return truth->has_for;
    if (heard_how(row, w, "irregular") && truth->strike == HEARD_STRIKE_WRONG)
        return true;
    for (size_t i = 0; i < sizeof likes / sizeof *likes; i++)
        if (heard_how(row, w, likes[i].word) && heard_how(truth, w, likes[i].like))
            return true;
    return false;
}

static bool row_holds(const struct heard *truth, const struct heard *row, const struct words *w)
{
    bool often = truth->often == row->often || row->often == OFTEN_MAYBE ||
                 (truth->often == OFTEN_MOSTLY && row->often == OFTEN_ALWAYS);
    if (!often || !place_holds(truth, row))
        return false;
    if (row->strike)
        return strike_holds(truth, row, w);
    if (row->chime)
        return chime_holds(truth, row, w);
    return how_holds(truth, row, w) && (!*row->notes || !strcmp(row->notes, truth->notes)) &&
           (row->phrases < 0 || row->phrases == truth->phrases) &&
           (!row->quarter || row->quarter == truth->quarter) &&
           (!row->quarter_shift || row->quarter_shift == truth->quarter_shift) &&
           (!row->hammers || row->hammers == truth->hammers) &&
           (!row->stopped || row->stopped == truth->stopped);
}

static bool says_so(const struct fact *f, const struct sheet *truth)
{
    switch (f->kind) {
    case FACT_HINT:
        return truth->hint[f->which] == f->value;
    case FACT_HISTORY:
        return word_set_has(f->denied ? &truth->history_not : &truth->history, f->which);
    case FACT_SEEN:
        return word_set_has(f->denied ? &truth->seen_not : &truth->seen, f->which);
    case FACT_SINCE:
        return word_set_has(&truth->since_after, f->which);
    case FACT_TRIED:
        for (size_t i = 0; i < truth->trieds; i++)
            if (truth->tried[i].action == f->which)
                return true;
        return false;
    case FACT_HEARD:
        for (size_t i = 0; i < truth->heards; i++)
            if (row_holds(&truth->heard[i], &f->row, truth->words))
                return true;
        return false;
    default:
        return true;
    }
}

/* What follows from something else on the sheet, in shorthand. */
static const struct {
    const char *fact, *from;
} implied[] = {
    {"seen quarters_wrong", "? c!"},
    {"seen quarters_right", "? c="},
    {"hint quarters=all", "? c."},
    {"hint quarters=all", "? c0"},
    {"hint quarters=all", "quarters silent"},
    {"hint quarters=all", "? c="},
    {"hint quarters=all", "quarters slow"},
    {"hint quarters=all", "quarters fast"},
    {"hint quarters=all", "? c!"},
    {"seen hour_count_right", "hours s="},
    {"seen strike_late_by_hand", "? late"},
    {"seen strike_early_by_hand", "? early"},
    {"seen strike_late_by_hand", "? varying_time"},
    {"seen strike_early_by_hand", "? varying_time"},
    {"seen whirr_no_blows", "? whirr_only"},
    {"? whirr_only", "seen whirr_no_blows"},
    {"seen click_no_strike", "? click_only"},
    {"? click_only", "seen click_no_strike"},
    {"seen clock_stops", "? stop=clock"},
    {"? stop=clock", "seen clock_stops"},
    {"seen strike_stops_midway", "? stops_midway"},
    {"? stop=strike", "? stops_midway"},
    {"seen too_loud", "? loud"},
    {"? loud", "seen too_loud"},
    {"seen too_soft", "? soft"},
    {"? soft", "seen too_soft"},
    {"seen rattle", "? buzz"},
    {"? buzz", "seen rattle"},
    {"seen grinding", "? grinding"},
    {"? grinding", "seen grinding"},
    {"seen half_hour_on_hour", "hours s1"},
    {"seen hours_at_half", "halves s#"},
    {"hint chime=cuckoo", "hint case=cuckoo"},
    {"hint case=cuckoo", "hint chime=cuckoo"},
    {"hint trains=3", "hint winding_points=3"},
    {"hint trains=2", "hint winding_points=2"},
    {"hint power=weight", "hint winding_points=3"},
    {"had stood_unused", "had stood_for_years"},
    {"had serviced", "had serviced_by_amateur"},
    {"had taken_apart", "had self_repaired"},
    {"seen night_lever_on", "seen silent_hours_wrong"},
    {"hint night_silence=yes", "seen night_lever_on"},
    {"seen weight_jammed_at_top", "had weight_jammed"},
    {"had weight_jammed", "seen weight_jammed_at_top"},
    {"had weight_jammed", "had overwound"},
    {"seen weight_jammed_at_top", "had overwound"},
    {"had minute_hand_off", "had hands_refitted"},
    {"since time_change", "had clocks_went_back"},
    {"since time_change", "had clocks_went_forward"},
    {"since service", "had serviced"},
    {"since winding", "had wound"},
    {"since chime_switched_on", "had chime_switched_on"},
    {"since moved_house", "had moved_house"},
    {"since hands_turned_back", "had hands_turned_back"},
    {"seen not_level", "had tilted"},
    {"had chain_off", "seen chain_loose"},
    {"seen chain_loose", "had chain_off"},
    {"hint drive=fusee", "hint power=spring"},
    {"hint power=spring", "hint drive=fusee"},
    {"had clocks_went_back", "had hands_turned_back"},
    {NULL, NULL},
};

static bool parse_fact(const char *shorthand, const struct words *words, struct fact *into)
{
    struct sheet s;
    sheet_init(&s, words);
    bool good =
        sheet_parse_shorthand(&s, shorthand, strlen(shorthand), NULL) && facts_of(&s, into, 1);
    sheet_release(&s);
    return good;
}

static bool same_fact(const struct fact *f, const struct fact *rule, const struct words *w)
{
    if (f->kind != rule->kind || f->which != rule->which || f->value != rule->value || f->denied)
        return false;
    if (f->kind != FACT_HEARD)
        return true;
    if (f->row.at.kind != AT_UNKNOWN && f->row.at.kind != AT_RULE)
        return false;
    struct heard loose = f->row;
    memset(&loose.at, 0, sizeof loose.at);
    loose.often = OFTEN_ALWAYS;
    return row_holds(&loose, &rule->row, w) &&
           (rule->row.stopped != STOPPED_NOTHING) == (f->row.stopped != STOPPED_NOTHING) &&
           !f->row.strike;
}

bool fact_holds(const struct fact *f, const struct sheet *truth)
{
    if (says_so(f, truth))
        return true;
    for (size_t i = 0; implied[i].from; i++) {
        struct fact fact, from;
        if (parse_fact(implied[i].fact, truth->words, &fact) && same_fact(f, &fact, truth->words) &&
            parse_fact(implied[i].from, truth->words, &from) && says_so(&from, truth))
            return true;
    }
    return false;
}

/* ---- saying ---- */

static void print_word(const char *before, enum word_kind kind, const struct fact *f,
                       const struct words *words, struct text *out)
{
    text_addf(out, "%s%s%s", f->denied ? "not-" : "", before,
              words_at(words, kind, (size_t)f->which)->id);
}

void fact_print(const struct fact *f, const struct words *words, struct text *out)
{
    const struct word *hint;
    switch (f->kind) {
    case FACT_HINT:
        hint = words_at(words, WORD_HINT, (size_t)f->which);
        if (f->value >= 0 && (size_t)f->value < hint->values)
            text_addf(out, "hint %s=%s", hint->id, hint->value[f->value]);
        else
            text_addf(out, "hint %s=%d", hint->id, f->value);
        return;
    case FACT_HISTORY:
        print_word("had ", WORD_HISTORY, f, words, out);
        return;
    case FACT_SEEN:
        print_word("seen ", WORD_SEEN, f, words, out);
        return;
    case FACT_SINCE:
        print_word("since ", WORD_AFTER, f, words, out);
        return;
    case FACT_TRIED:
        print_word("did ", WORD_DO, f, words, out);
        return;
    case FACT_HEARD:
        heard_print_shorthand(&f->row, words, out);
        return;
    }
}
