#include "diagnose/story.h"

#include <string.h>

#include "diagnose/sheet_priv.h"
#include "mem.h"

#define TIMES_MOST    12  /* times that wait for one thing heard */
#define NEGATOR_REACH 3   /* words between a negator and the phrase it turns round */
#define SAID_MOST     200 /* bytes of the words kept with a row */

/* Putting rows together within one sentence.  The open group is the rows the last thing heard
 * made, one for each of its times. */
struct assembly {
    const struct phrases *p;
    const char *text;
    struct sheet *sheet;
    struct story *story;
    struct said said;
    size_t open, opens; /* rows open .. open + opens - 1 */
    bool open_timed;    /* they have their time from the sentence */
    bool needs_time;    /* and are of no use without */
    size_t open_part;
    struct sheet_at time[TIMES_MOST];
    size_t time_part[TIMES_MOST];
    size_t times;           /* times named; */
    bool times_used;        /* ... and already put to something heard */
    bool list_goes_on;      /* the last thing met was a time */
    enum heard_often often; /* waits for the next thing heard */
    size_t often_part;
    bool others[SHEET_ROWS];  /* rows that speak of the let-offs not named */
    size_t begin[SHEET_ROWS]; /* where the words of a row begin */
};

static struct story_part *add_part(struct assembly *a, size_t from_word, size_t to_word,
                                   enum story_kind kind, const char *gives, const char *say)
{
    struct story *s = a->story;
    s->part = mem_grow(s->part, &s->room, s->parts + 1, sizeof *s->part);
    struct story_part *part = &s->part[s->parts++];
    part->from = a->said.word[from_word].from;
    part->to = a->said.word[to_word - 1].to;
    part->kind = kind;
    part->gives = mem_copy_text(gives);
    part->say = say;
    return part;
}

/* There is no room for what the last part said: it is accounted for as of no use. */
static void no_room(struct assembly *a)
{
    a->story->part[a->story->parts - 1].kind = STORY_UNUSED;
}

/* The open group gets nothing more.  Its rows are the last of the sheet; without the time they
 * need they are taken out again. */
static void close_group(struct assembly *a)
{
    if (a->opens && a->needs_time && !a->open_timed) {
        a->story->part[a->open_part].kind = STORY_UNUSED;
        while (a->opens)
            sheet_remove_heard(a->sheet, a->open + --a->opens);
    }
    a->opens = 0;
    a->open_timed = a->needs_time = false;
    a->list_goes_on = false;
}

/* At the end of a sentence whatever still waits is of no use. */
static void end_sentence(struct assembly *a)
{
    if (!a->times_used)
        for (size_t i = 0; i < a->times; i++)
            a->story->part[a->time_part[i]].kind = STORY_UNUSED;
    if (a->often != OFTEN_ALWAYS) {
        for (size_t i = 0; i < a->opens; i++)
            if (a->sheet->heard[a->open + i].often == OFTEN_ALWAYS)
                a->sheet->heard[a->open + i].often = a->often;
        if (!a->opens)
            a->story->part[a->often_part].kind = STORY_UNUSED;
    }
    a->times = 0;
    a->times_used = false;
    a->often = OFTEN_ALWAYS;
    close_group(a);
}

/* Keep the words of the text with the row: from where it began to `to`. */
static void say_row(struct assembly *a, size_t row, size_t from, size_t to)
{
    struct heard *h = &a->sheet->heard[row];
    if (!h->said || from < a->begin[row])
        a->begin[row] = from;
    if (to - a->begin[row] > SAID_MOST)
        return;
    mem_free(h->said);
    h->said = mem_copy_bytes(a->text + a->begin[row], to - a->begin[row]);
}

static void add_row(struct assembly *a, const struct heard *h, const struct sheet_at *at,
                    bool others, size_t from, size_t to)
{
    struct heard *row = sheet_add_heard(a->sheet);
    if (!row) {
        no_room(a);
        return;
    }
    size_t index = a->sheet->heards - 1;
    *row = *h;
    row->said = NULL;
    if (at)
        row->at = *at;
    if (row->often == OFTEN_ALWAYS)
        row->often = a->often;
    a->others[index] = others;
    say_row(a, index, from, to);
    if (!a->opens)
        a->open = index;
    a->opens++;
}

/* "at any let-off" is what is said of a habit; a more exact time may take its place. */
static bool is_vague(const struct sheet_at *at)
{
    return at->kind == AT_UNKNOWN || (at->kind == AT_RULE && at->rule == RULE_ANY && !at->part);
}

/* Could what is usual at `row` be meant of the time `at`?  Hours are no quarters. */
static bool time_fits(const struct sheet_at *row, const struct sheet_at *at)
{
    return row->kind != AT_RULE || at->kind != AT_RULE || row->rule == at->rule ||
           row->rule == RULE_ANY || (row->rule == RULE_HOUR && at->rule == RULE_OTHER_HOUR);
}

static bool strike_fits(const struct heard *row, const struct heard *more)
{
    if (!row->strike || !more->strike)
        return true;
    return row->strike == more->strike && row->values == more->values &&
           row->mostly == more->mostly &&
           !memcmp(row->value, more->value, row->values * sizeof *row->value);
}

/* Told by one of the two only, or the same by both. */
static bool told_same(unsigned row, unsigned more)
{
    return !row || !more || row == more;
}

/* Does `more` tell nothing that the row tells otherwise? */
static bool adds_to(const struct heard *row, const struct heard *more, bool timed)
{
    bool same_time = is_vague(&more->at) || is_vague(&row->at) || at_same(&more->at, &row->at) ||
                     (timed && time_fits(&row->at, &more->at));
    bool other_matter = more->stopped && !timed && (row->strike || row->chime);
    return same_time && !other_matter && strike_fits(row, more) &&
           told_same(row->chime, more->chime) && !(*row->notes && *more->notes) &&
           told_same(row->stopped, more->stopped) && !(row->has_for && more->has_for) &&
           !(row->phrases >= 0 && more->phrases >= 0) &&
           !((row->quarter || row->quarter_shift) && (more->quarter || more->quarter_shift)) &&
           !(row->orders && more->orders) && told_same(row->hammers, more->hammers);
}

static void merge_strike(struct heard *row, const struct heard *more)
{
    bool of_chime = row->chime == HEARD_CHIME_RUNS_ON && more->strike == HEARD_STRIKE_RUNS_ON;
    if (!more->strike || (of_chime && !row->strike)) /* "the chime runs on until ..." */
        return;
    row->strike = more->strike;
    row->values = more->values;
    row->mostly = more->mostly;
    memcpy(row->value, more->value, sizeof row->value);
}

static void merge_lists(struct heard *row, const struct heard *more)
{
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++)
        row->how.bits[i] |= more->how.bits[i];
    if (more->orders) {
        memcpy(row->order, more->order, sizeof row->order);
        row->orders = more->orders;
    }
    for (size_t i = 0; i < more->excepts && row->at.kind == AT_RULE; i++)
        if (row->excepts < SHEET_EXCEPT)
            row->except[row->excepts++] = more->except[i];
}

static void merge(struct heard *row, const struct heard *more, bool timed)
{
    if (!timed && is_vague(&row->at) && more->at.kind != AT_UNKNOWN)
        row->at = more->at;
    merge_strike(row, more);
    merge_lists(row, more);
    row->chime = more->chime ? more->chime : row->chime;
    if (*more->notes)
        strcpy(row->notes, more->notes);
    row->phrases = more->phrases >= 0 ? more->phrases : row->phrases;
    row->quarter = more->quarter ? more->quarter : row->quarter;
    row->quarter_shift = more->quarter_shift ? more->quarter_shift : row->quarter_shift;
    row->hammers = more->hammers ? more->hammers : row->hammers;
    row->stopped = more->stopped ? more->stopped : row->stopped;
    row->freed_by = more->freed_by >= 0 ? more->freed_by : row->freed_by;
    row->train = more->train >= 0 ? more->train : row->train;
    row->often = more->often ? more->often : row->often;
    row->interval_s = more->interval_s > 0 ? more->interval_s : row->interval_s;
    row->pause_s = more->pause_s > 0 ? more->pause_s : row->pause_s;
    if (more->has_for) {
        row->has_for = true;
        row->due = more->due;
    }
}

static void add_time(struct assembly *a, const struct sheet_at *at)
{
    if (a->times == TIMES_MOST) {
        no_room(a);
        return;
    }
    a->time[a->times] = *at;
    a->time_part[a->times++] = a->story->parts - 1;
}

/* Do the times named wait for this?  "The quarters ..., but the hour is missing": they do not. */
static bool times_wait(const struct assembly *a, const struct heard *h)
{
    for (size_t i = 0; i < a->times; i++)
        if (!time_fits(&h->at, &a->time[i]))
            return false;
    return a->times && !a->times_used;
}

static bool is_quarter(const struct sheet_at *at)
{
    return (at->kind == AT_RULE && at->rule == RULE_QUARTER) ||
           (at->kind == AT_MINUTE && (at->min == 15 || at->min == 45));
}

/* What is said of quarters is said of the chime: "every quarter is right". */
static void hear_of_quarters(const struct assembly *a, struct heard *h)
{
    static const enum heard_chime chime[] = {[HEARD_STRIKE_NONE] = HEARD_CHIME_NONE,
                                             [HEARD_STRIKE_RIGHT] = HEARD_CHIME_RIGHT,
                                             [HEARD_STRIKE_WRONG] = HEARD_CHIME_WRONG};
    for (size_t i = 0; i < a->times; i++)
        if (!is_quarter(&a->time[i]))
            return;
    if (!a->times || a->times_used || h->chime || h->strike >= sizeof chime / sizeof *chime ||
        !chime[h->strike])
        return;
    h->chime = chime[h->strike];
    h->strike = HEARD_STRIKE_UNSAID;
    h->at.kind = AT_UNKNOWN;
}

/* Something heard.  A row that brings its own time takes no other. */
static void hear(struct assembly *a, const struct heard *h, const struct give *g, bool parted,
                 size_t from, size_t to)
{
    bool waiting = g->loose && !g->others && times_wait(a, h);
    bool adds = g->loose && !g->others && a->opens > 0 && !waiting && !(parted && h->stopped);
    for (size_t i = 0; i < a->opens && adds; i++)
        adds = adds_to(&a->sheet->heard[a->open + i], h, a->open_timed) && !a->others[a->open + i];
    if (adds) {
        for (size_t i = 0; i < a->opens; i++) {
            struct heard *row = &a->sheet->heard[a->open + i];
            merge(row, h, a->open_timed);
            if (row->often == OFTEN_ALWAYS)
                row->often = a->often;
            say_row(a, a->open + i, from, to);
        }
    } else {
        close_group(a);
        if (waiting)
            for (size_t i = 0; i < a->times; i++)
                add_row(a, h, &a->time[i], false, from, to);
        else
            add_row(a, h, NULL, g->others, from, to);
        a->open_timed = waiting || !g->loose;
        a->needs_time = g->timed;
        a->open_part = a->story->parts - 1;
        a->times_used = a->times_used || waiting;
    }
    a->often = OFTEN_ALWAYS;
    a->list_goes_on = false;
    if (!g->loose && h->at.kind == AT_EXACT && a->opens) { /* "strikes twelve at four, five ..." */
        a->times = 0;
        add_time(a, &h->at);
        a->times_used = a->list_goes_on = true;
    }
}

/* The time of a row is `at`.  What is early or late at some minute was due at its usual time. */
static void put_time(struct heard *row, const struct sheet_at *at, const struct words *words)
{
    bool off = heard_how(row, words, "early") || heard_how(row, words, "late");
    if (off && !row->has_for && at->kind == AT_MINUTE && row->at.kind == AT_RULE) {
        row->has_for = true;
        row->due = row->at;
    }
    row->at = *at;
}

/* A time.  It goes to the thing heard before it in the sentence if that has none yet, to the
 * list of times it continues, or waits for the next thing heard. */
static void name_time(struct assembly *a, const struct sheet_at *at, size_t from, size_t to)
{
    if (a->opens && a->open_timed && is_vague(at)) /* "at ten to six every time" */
        return;
    if (a->opens && !a->open_timed && time_fits(&a->sheet->heard[a->open].at, at)) {
        for (size_t i = 0; i < a->opens; i++) {
            put_time(&a->sheet->heard[a->open + i], at, a->sheet->words);
            say_row(a, a->open + i, from, to);
        }
        a->open_timed = true;
        a->times = 0;
        add_time(a, at);
        a->times_used = true;
    } else if (a->opens && a->list_goes_on && a->times_used) {
        struct heard copy = a->sheet->heard[a->open + a->opens - 1];
        add_row(a, &copy, at, false, from, to);
        add_time(a, at);
    } else if (a->times && !a->times_used) {
        add_time(a, at);
    } else {
        close_group(a);
        a->times = 0;
        a->times_used = false;
        add_time(a, at);
    }
    a->list_goes_on = true;
}

static void name_often(struct assembly *a, enum heard_often often, bool parted)
{
    bool to_group = a->opens && !parted;
    a->list_goes_on = false;
    for (size_t i = 0; i < a->opens && to_group; i++)
        to_group = a->sheet->heard[a->open + i].often == OFTEN_ALWAYS;
    if (!to_group) {
        a->often = often;
        a->often_part = a->story->parts - 1;
        return;
    }
    for (size_t i = 0; i < a->opens; i++)
        a->sheet->heard[a->open + i].often = often;
}

/* ---- facts ---- */

/* Words the sheet has the other way round clash; those it has already say nothing new. */
static bool join_sets(struct word_set *to, const struct word_set *more,
                      const struct word_set *other)
{
    bool good = true;
    for (size_t i = 0; i < WORDS_PER_KIND / 64; i++) {
        good = good && !(more->bits[i] & other->bits[i]);
        to->bits[i] |= more->bits[i] & ~other->bits[i];
    }
    return good;
}

static bool join_hints(struct sheet *to, const struct sheet *more)
{
    bool good = true;
    for (size_t i = 0; i < SHEET_HINTS; i++) {
        if (more->hint[i] == HINT_UNSAID)
            continue;
        good = good && (to->hint[i] == HINT_UNSAID || to->hint[i] == more->hint[i]);
        if (to->hint[i] == HINT_UNSAID)
            to->hint[i] = more->hint[i];
    }
    return good;
}

static bool join_tried(struct sheet *to, const struct sheet *more)
{
    for (size_t i = 0; i < more->trieds; i++) {
        struct tried *t = sheet_add_tried(to);
        if (!t)
            return false;
        *t = more->tried[i]; /* shorthand gives no `said`, so nothing is owned twice */
    }
    return true;
}

/* Facts to the sheet; turned round if `denied`.  False if they clash with what it holds or
 * cannot be denied. */
static bool join_facts(struct sheet *to, const struct sheet *more, bool denied)
{
    static const struct word_set none;
    if (denied) {
        if (word_set_empty(&more->history) && word_set_empty(&more->seen))
            return false;
        bool good = join_sets(&to->history_not, &more->history, &to->history);
        return join_sets(&to->seen_not, &more->seen, &to->seen) && good;
    }
    bool good = join_sets(&to->history, &more->history, &to->history_not);
    good = join_sets(&to->history_not, &more->history_not, &to->history) && good;
    good = join_sets(&to->seen, &more->seen, &to->seen_not) && good;
    good = join_sets(&to->seen_not, &more->seen_not, &to->seen) && good;
    join_sets(&to->since_after, &more->since_after, &none);
    if (to->since_when < 0)
        to->since_when = more->since_when;
    if (to->years_since_oil < 0)
        to->years_since_oil = more->years_since_oil;
    if (to->hands_min < 0)
        to->hands_min = more->hands_min;
    if (!*to->clock)
        strcpy(to->clock, more->clock);
    good = join_tried(to, more) && good;
    return join_hints(to, more) && good;
}

/* ---- the text ---- */

/* Is there a negator shortly before word `at`, in the same clause and behind the last match? */
static bool negated(const struct assembly *a, size_t at, size_t since)
{
    for (size_t back = 1; back <= NEGATOR_REACH && at - since >= back; back++) {
        if (a->said.word[at - back + 1].before != SAID_JOINED)
            return false;
        if (phrases_negates(a->p, &a->said.word[at - back]))
            return true;
    }
    return false;
}

/* One part of what a phrase gives, from words at .. end; `since` is the first word behind the
 * phrase before.  False if it was of no use. */
static bool take_give(struct assembly *a, const struct give *g, bool denied, size_t since,
                      size_t at, size_t end)
{
    struct sheet got;
    bool good = false, parted = a->said.word[at].before != SAID_JOINED;
    size_t from = a->said.word[at].from, to = a->said.word[end - 1].to;
    for (size_t i = at; i > since && !parted; i--) /* "..., and the strike binds" */
        parted = a->said.word[i].before != SAID_JOINED;
    if (g->kind == GIVE_NOTHING)
        return true;
    sheet_init(&got, phrases_words(a->p));
    if (!sheet_parse_shorthand(&got, g->line, strlen(g->line), NULL))
        goto done;
    good = g->kind == GIVE_FACT || !denied;
    if (g->kind == GIVE_FACT)
        good = join_facts(a->sheet, &got, denied);
    else if (denied)
        a->list_goes_on = false;
    else if (g->kind == GIVE_TIME)
        name_time(a, &got.heard[0].at, from, to);
    else if (g->kind == GIVE_OFTEN)
        name_often(a, got.heard[0].often, parted);
    else
        for (size_t i = 0; i < got.heards; i++) {
            if (g->loose && !g->others)
                hear_of_quarters(a, &got.heard[i]);
            hear(a, &got.heard[i], g, parted, from, to);
        }
done:
    sheet_release(&got);
    return good;
}

/* Hints among the words of a phrase: "Westminster chime breaks off in the middle". */
static void take_within(struct assembly *a, const struct phrase_match *m, size_t at,
                        struct text *gives)
{
    struct phrase_match inner;
    struct give g;
    for (size_t i = at; i < m->end; i++)
        if (phrases_match_within(a->p, &a->said, i, m->end, &inner) &&
            !strstr(text_cstr(gives), inner.gives)) {
            text_addf(gives, ", %s", inner.gives);
            for (size_t next = 0; phrases_give(inner.gives, &next, &g);)
                take_give(a, &g, false, i, i, inner.end);
        }
}

/* The phrase at `at`: its part, and what it gives. */
static void take_match(struct assembly *a, const struct phrase_match *m, size_t at, size_t since)
{
    bool before = negated(a, at, since), denied = before || m->denied, good = true;
    size_t begin = at, part = a->story->parts;
    while (before && begin > since && !phrases_negates(a->p, &a->said.word[begin]))
        begin--;
    struct text gives = {0};
    text_addf(&gives, "%s%s", denied ? "not: " : "", m->gives);
    take_within(a, m, at, &gives);
    add_part(a, begin, m->end, STORY_UNDERSTOOD, text_cstr(&gives), m->say);
    text_release(&gives);
    struct give g;
    for (size_t next = 0; phrases_give(m->gives, &next, &g);)
        good = take_give(a, &g, denied, since, at, m->end) && good;
    if (!good)
        a->story->part[part].kind = STORY_UNUSED;
}

/* "five" and "six" of "at four, five and six". */
static bool take_listed_hour(struct assembly *a, size_t at, size_t *end)
{
    int min;
    size_t last = a->times ? a->times - 1 : 0;
    if (!a->list_goes_on || !a->times || a->time[last].kind != AT_EXACT ||
        !phrases_hour(a->p, &a->said, at, end, &min))
        return false;
    struct sheet_at time = a->time[last];
    time.min = min;
    time.known24 = false;
    char gives[32], dial[8];
    snprintf(gives, sizeof gives, "time %s", text_dial(min, dial));
    add_part(a, at, *end, STORY_UNDERSTOOD, gives, NULL);
    name_time(a, &time, a->said.word[at].from, a->said.word[*end - 1].to);
    return true;
}

/* Words from..to that no phrase covers: told if any of them carries news. */
static void tell_unknown(struct assembly *a, size_t from, size_t to)
{
    bool news = false;
    for (size_t i = from; i < to; i++)
        news = news ||
               !(phrases_filler(a->p, &a->said.word[i]) || phrases_noun(a->p, &a->said.word[i]));
    while (from < to && phrases_filler(a->p, &a->said.word[from]))
        from++;
    while (to > from && phrases_filler(a->p, &a->said.word[to - 1]))
        to--;
    if (news)
        add_part(a, from, to, STORY_UNKNOWN, NULL, NULL);
}

/* The phrase at `at`, unless a better one begins within it: "movers bent something" is worth more
 * than "the movers". */
static bool find_phrase(const struct assembly *a, size_t at, struct phrase_match *m)
{
    struct phrase_match later;
    if (!phrases_match(a->p, &a->said, at, m))
        return false;
    for (size_t i = at + 1; i < m->end; i++)
        if (phrases_match(a->p, &a->said, i, &later) && later.end >= m->end &&
            (later.own > m->own || (later.own == m->own && m->denied && !later.denied)))
            return phrases_match_until(a->p, &a->said, at, i, m); /* what stands before it */
    return true;
}

static void read_words(struct assembly *a)
{
    size_t unknown = 0; /* first word not yet accounted for */
    for (size_t at = 0; at < a->said.count;) {
        struct phrase_match m;
        size_t end;
        if (a->said.word[at].before == SAID_STOP) {
            tell_unknown(a, unknown, at);
            unknown = at;
            end_sentence(a);
        }
        if (find_phrase(a, at, &m)) {
            bool denied = negated(a, at, unknown);
            size_t begin = at;
            while (denied && begin > unknown && !phrases_negates(a->p, &a->said.word[begin]))
                begin--;
            tell_unknown(a, unknown, begin);
            take_match(a, &m, at, unknown);
            at = unknown = m.end;
        } else if (take_listed_hour(a, at, &end)) {
            at = unknown = end;
        } else {
            if (!phrases_filler(a->p, &a->said.word[at]) || phrases_turns(a->p, &a->said.word[at]))
                a->list_goes_on = false;
            at++;
        }
    }
    tell_unknown(a, unknown, a->said.count);
    end_sentence(a);
}

/* "Right at all others": all let-offs but those the story names one by one. */
static void except_the_named(struct assembly *a)
{
    struct sheet *s = a->sheet;
    for (size_t i = 0; i < s->heards; i++) {
        struct heard *h = &s->heard[i];
        for (size_t j = 0; a->others[i] && j < s->heards; j++) {
            const struct heard *named = &s->heard[j];
            struct sheet_at at = named->has_for ? named->due : named->at;
            if (a->others[j] || (at.kind != AT_EXACT && at.kind != AT_MINUTE))
                continue;
            at.about = false;
            bool twice = false;
            for (size_t k = 0; k < h->excepts; k++)
                twice = twice || at_same(&h->except[k], &at);
            if (!twice && h->excepts < SHEET_EXCEPT)
                h->except[h->excepts++] = at;
        }
    }
}

bool story_read(const struct phrases *p, const char *text, size_t length, struct sheet *sheet,
                struct story *story, struct err *e)
{
    size_t bad;
    if (!text_is_utf8(text, length, &bad)) {
        err_at(e, "story", 1, bad + 1, "this is no well-formed text (UTF-8)");
        return false;
    }
    if (length > SHEET_TEXT) {
        err_at(e, "story", 0, 0, "the story is %zu bytes long; at most %d are taken", length,
               SHEET_TEXT);
        return false;
    }
    char *copy = mem_copy_bytes(text, length);
    struct assembly *a = mem_alloc(sizeof *a);
    a->p = p, a->text = copy, a->sheet = sheet, a->story = story;
    said_split(&a->said, copy, length);
    phrases_spell(p, &a->said);
    read_words(a);
    except_the_named(a);
    said_release(&a->said);
    mem_free(a);
    if (sheet->story)
        mem_free(copy);
    else
        sheet->story = copy;
    return true;
}

void story_release(struct story *story)
{
    for (size_t i = 0; i < story->parts; i++)
        mem_free(story->part[i].gives);
    mem_free(story->part);
    memset(story, 0, sizeof *story);
}

size_t story_count(const struct story *story, enum story_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < story->parts; i++)
        count += story->part[i].kind == kind;
    return count;
}

void story_print(const struct story *story, const char *text, struct text *out)
{
    static const char *const before[] = {"", "of no use: ", "not understood: "};
    for (size_t i = 0; i < story->parts; i++) {
        const struct story_part *p = &story->part[i];
        text_addf(out, "%s\"", before[p->kind]);
        text_add_bytes(out, text + p->from, p->to - p->from);
        text_add(out, "\"");
        if (p->gives)
            text_addf(out, " -> %s", p->gives);
        text_add(out, "\n");
    }
}
