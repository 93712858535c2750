#include "diagnose/story.h"

#include <stdlib.h>
#include <string.h>

#include "diagnose/cues.h"
#include "diagnose/sheet_priv.h"
#include "diagnose/story_facts.h"
#include "diagnose/story_rows.h"
#include "mem.h"

#define TIMES_MOST 12  /* times that wait for one thing heard */
#define SAID_MOST  200 /* bytes of the words kept with a row */

/* Putting rows together within one sentence.  The open group is the rows the last thing heard
 * made, one for each of its times. */
struct assembly {
    const struct phrases *p;
    const char *text;
    struct sheet *sheet;
    struct story *story;
    struct said said;
    size_t sentence_row; /* first row of this sentence */
    bool told;           /* something was heard; the last of it in the row */
    size_t told_row;     /* ... before any that was taken out */
    size_t open, opens; /* rows open .. open + opens - 1 */
    bool open_timed;    /* they have their time from the sentence */
    bool needs_time;    /* and are of no use without */
    bool hourless;      /* the phrase that made them names no hour, */
    size_t open_end;    /* ... and its bytes end here */
    size_t open_part;
    struct sheet_at time[TIMES_MOST];
    size_t time_part[TIMES_MOST];
    size_t times;           /* times named; */
    bool times_used;        /* ... and already put to something heard */
    bool list_goes_on;      /* the last thing met was a time */
    bool turned;            /* another matter began since the last time was named, */
    bool opposed;           /* ... one of `against`; */
    bool unread;            /* words with news that no phrase took stand behind it */
    enum heard_often often; /* waits for the next thing heard */
    size_t often_part;
    bool denied;              /* the last phrase was turned round */
    enum standing standing;   /* of what is taken now */
    bool *used;               /* by word: something has taken it */
    bool *bare;               /* by word: no phrase begins there */
    bool from_clause;         /* what is heard comes from a row of clauses */
    char paired;              /* the last phrase gave a time with blows (s) or phrases (p); 0 no */
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

/* There is no room for what the last part said, or it is said otherwise: it is accounted for as of no
 * use. */
static void no_room(struct assembly *a)
{
    a->story->part[a->story->parts - 1].kind = STORY_UNUSED;
}

/* The open group gets nothing more.  Its rows are the last of the sheet; without the time they
 * need they are taken out again. */
static void close_group(struct assembly *a)
{
    if (a->opens && a->needs_time && !a->open_timed) {
        a->told = false;
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
    a->times_used = a->opposed = false;
    a->often = OFTEN_ALWAYS;
    close_group(a);
    a->sentence_row = a->sheet->heards;
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

/* Does a row of the sheet tell otherwise of that time, or the same? */
static bool told_otherwise(const struct assembly *a, const struct heard *h,
                           const struct sheet_at *at)
{
    for (size_t i = 0; i < a->sheet->heards; i++) {
        const struct heard *row = &a->sheet->heard[i];
        bool other = (h->strike && row->strike && !rows_strike_fits(row, h)) ||
                     (h->chime && row->chime && h->chime != row->chime);
        if ((other || row_says_already(row, h)) && !a->others[i] && at_same(&row->at, at))
            return true;
    }
    return false;
}

/* What clauses say is read loosely; it gives way to what was said before. */
static bool gives_way(const struct assembly *a, const struct heard *h, bool waiting)
{
    if (!a->from_clause)
        return false;
    if (!waiting)
        return told_otherwise(a, h, &h->at);
    for (size_t i = 0; i < a->times; i++)
        if (told_otherwise(a, h, &a->time[i]))
            return true;
    return false;
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
    a->told = true;
    a->told_row = index;
}

static void add_time(struct assembly *a, const struct sheet_at *at)
{
    if (a->times == TIMES_MOST) {
        no_room(a);
        return;
    }
    a->turned = a->opposed = a->unread = false;
    a->time[a->times] = *at;
    a->time_part[a->times++] = a->story->parts - 1;
}

/* Do the times named wait for this?  "The quarters ..., but the hour is missing": they do not; "at the
 * half it strikes right" does not speak of the hour (`usual`: that it does is only usual). */
static bool times_wait(const struct assembly *a, const struct heard *h, bool usual)
{
    bool hour = h->at.kind == AT_RULE && h->at.rule == RULE_HOUR && !h->at.part;
    for (size_t i = 0; i < a->times; i++) {
        bool half = a->time[i].kind == AT_RULE && a->time[i].rule == RULE_HALF;
        if (!rows_time_fits(&h->at, &a->time[i]) && !(hour && half && usual))
            return false;
    }
    return a->times && !a->times_used;
}

static void hear_of_quarters(const struct assembly *a, struct heard *h)
{
    for (size_t i = 0; i < a->times; i++)
        if (!row_is_quarter(&a->time[i]))
            return;
    if (a->times && !a->times_used && row_say_of_chime(h))
        h->at.kind = AT_UNKNOWN;
}

/* "The chime was slow and on Monday morning it stopped half way": that is told of another time. */
static bool stops_midway(const struct heard *h, const struct words *words)
{
    return h->stopped || heard_how(h, words, "stops_midway");
}

/* "From eight on it strikes eight whatever the hour": every hour of the part named, not of the dial. */
static bool is_of_part(const struct assembly *a, const struct heard *h, const struct give *g)
{
    bool hours = h->at.kind == AT_RULE && h->at.rule == RULE_HOUR && !h->at.part;
    return !g->loose && hours && a->times == 1 && !a->times_used && a->time[0].part &&
           a->time[0].rule == RULE_HOUR;
}

/* Something heard.  A row that brings its own time takes no other; nor does one behind a comma that
 * names what it is about (`subject`) add to the one before: "eleven gets six, the later blows are
 * slower". */
static void hear(struct assembly *a, const struct heard *h, const struct give *g, bool parted,
                 bool subject, bool usual, bool subject_hour, size_t from, size_t to)
{
    bool example = parted && !g->loose && h->at.kind == AT_EXACT && h->strike == HEARD_STRIKE_COUNT;
    if (example && a->often == OFTEN_SOMETIMES) /* "sometimes it is wrong, six at five" */
        a->often = OFTEN_ALWAYS;
    struct heard of_part;
    if (is_of_part(a, h, g)) {
        of_part = *h;
        of_part.at = a->time[0];
        a->times_used = true;
        h = &of_part;
    }
    bool waiting = g->loose && !g->others && times_wait(a, h, usual);
    bool adds =
        g->loose && !g->others && a->opens > 0 && !waiting && !(parted && (h->stopped || subject)) &&
        !(a->unread && stops_midway(h, a->sheet->words)) &&
        !(a->from_clause && a->needs_time && !a->open_timed); /* what may yet be dropped */
    for (size_t i = 0; i < a->opens && adds; i++)
        adds = row_adds_to(&a->sheet->heard[a->open + i], h, a->open_timed, a->sheet->words) &&
               !a->others[a->open + i];
    if (adds) {
        for (size_t i = 0; i < a->opens; i++) {
            struct heard *row = &a->sheet->heard[a->open + i];
            row_merge(row, h, a->open_timed);
            if (row->often == OFTEN_ALWAYS)
                row->often = a->often;
            say_row(a, a->open + i, from, to);
        }
    } else if (gives_way(a, h, waiting)) {
        no_room(a);
        return;
    } else {
        close_group(a);
        if (waiting)
            for (size_t i = 0; i < a->times; i++)
                add_row(a, h, &a->time[i], false, from, to);
        else
            add_row(a, h, NULL, g->others, from, to);
        for (size_t i = 0; i < a->times && !g->loose; i++) /* "every hour is right but four" */
            a->times_used = a->times_used || at_same(&a->time[i], &h->at);
        a->open_timed = waiting || !g->loose;
        a->needs_time = g->timed;
        a->open_part = a->story->parts - 1;
        a->unread = false;
        a->hourless = g->loose && !subject_hour;
        a->open_end = to;
        a->times_used = a->times_used || waiting;
    }
    a->often = OFTEN_ALWAYS;
    a->list_goes_on = a->opposed = false;
    bool listed = h->at.kind == AT_EXACT || h->at.kind == AT_MINUTE;
    if (!g->loose && listed && a->opens) { /* "strikes twelve at four, five ..." */
        a->times = 0;
        add_time(a, &h->at);
        a->times_used = a->list_goes_on = true;
    }
}

/* Do the times named wait no longer now that another is named?  "It chimes at the half, but at the hour
 * ..." speaks of the hour; "each time, a little before one" of one; "at four a muddle, at five it is
 * right" of five. */
static bool no_longer_wait(const struct assembly *a, bool parted)
{
    bool vague = true;
    for (size_t i = 0; i < a->times; i++)
        vague = vague && row_is_vague(&a->time[i]);
    return vague || a->opposed || (a->unread && parted);
}

/* "It does not strike | on the half hour": the hour is only what is usual, and the half stands right behind. */
static bool takes_usual(const struct assembly *a, const struct sheet_at *at, size_t from)
{
    const struct sheet_at *row = &a->sheet->heard[a->open].at;
    return a->hourless && from <= a->open_end + 1 && at->kind == AT_RULE &&
           (at->rule == RULE_HALF || at->rule == RULE_QUARTER) && !at->part &&
           row->kind == AT_RULE && row->rule == RULE_HOUR && !row->part;
}

/* A time.  It goes to the thing heard before it in the sentence if that has none yet, to the
 * list of times it continues, or waits for the next thing heard. */
static void name_time(struct assembly *a, const struct sheet_at *at, bool parted,
                      bool list_may_go_on, size_t from, size_t to)
{
    if (a->opens && a->open_timed && row_is_vague(at)) /* "at ten to six every time" */
        return;
    if (a->opens && a->open_timed && /* "four of seven at seven o'clock" */
        at_same(&a->sheet->heard[a->open + a->opens - 1].at, at))
        return;
    bool habit =
        a->opens && a->open_timed && at->kind == AT_RULE; /* "always one ... at the hour" */
    for (size_t i = 0; i < a->opens && habit; i++) /* "seven at every hour from seven on" */
        habit = row_is_vague(&a->sheet->heard[a->open + i].at) ||
                row_is_whole_of(&a->sheet->heard[a->open + i].at, at);
    /* "it is right, at nine it strikes ten": nine is not when it is right */
    bool too_far = (parted && (a->needs_time || !list_may_go_on)) || a->opposed ||
                   (a->needs_time && a->unread); /* "strikes the hour and plays every quarter" */
    if (a->opens && (!a->open_timed || habit) && !too_far &&
        (rows_time_fits(&a->sheet->heard[a->open].at, at) || takes_usual(a, at, from))) {
        for (size_t i = 0; i < a->opens; i++) {
            row_put_time(&a->sheet->heard[a->open + i], at, a->sheet->words);
            say_row(a, a->open + i, from, to);
        }
        a->open_timed = true;
        a->times = 0;
        add_time(a, at);
        a->times_used = true;
    } else if (a->opens && a->list_goes_on && a->times_used && list_may_go_on) {
        struct heard copy = a->sheet->heard[a->open + a->opens - 1];
        add_row(a, &copy, at, false, from, to);
        add_time(a, at);
    } else if (a->times && !a->times_used && row_is_whole_of(at, &a->time[a->times - 1])) {
        return; /* "from six on each hour comes out ..." */
    } else if (a->times && !a->times_used && !no_longer_wait(a, parted)) {
        add_time(a, at);
    } else {
        close_group(a);
        a->times = 0;
        a->times_used = false;
        add_time(a, at);
    }
    a->list_goes_on = true;
}

/* "Half past is the same." */
static bool name_same(struct assembly *a, const struct sheet_at *at, size_t from, size_t to)
{
    if (!a->told || a->told_row >= a->sheet->heards)
        return false;
    struct heard copy = a->sheet->heard[a->told_row];
    copy.excepts = 0;
    copy.has_for = false;
    if (row_is_quarter(at))
        row_say_of_chime(&copy);
    close_group(a);
    add_row(a, &copy, at, false, from, to);
    a->open_timed = true;
    a->times = 0;
    add_time(a, at);
    return a->times_used = a->list_goes_on = true;
}

/* Does a joiner or a turn stand right before the word? */
static bool is_joined(const struct assembly *a, size_t at)
{
    return at > 0 && a->said.word[at].before == SAID_JOINED &&
           (phrases_joins(a->p, &a->said.word[at - 1]) || phrases_turns(a->p, &a->said.word[at - 1]));
}

static void name_often(struct assembly *a, enum heard_often often, bool parted, bool joined)
{
    bool to_group = a->opens && !parted && !joined;
    if (joined) /* "strikes at random and | sometimes jams" */
        close_group(a);
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

/* ---- the text ---- */

/* Is the phrase at `at` turned round by a negator behind the last match, or together with that? */
static bool negated(const struct assembly *a, size_t at, size_t since)
{
    return phrases_denied(a->p, &a->said, at, since) ||
           (a->denied && phrases_denial_goes_on(a->p, &a->said, since, at));
}

/* What stands as `standing` goes to the sheet only if it is true now: of what ought to be so that is
 * what the clock is; of what is still to come all but history; of what was so once history and what the
 * clock is; of what may be so what was heard (told as "maybe"). */
static bool may_stand(enum standing standing, const struct give *g)
{
    bool heard = g->kind != GIVE_FACT, hint = !strncmp(g->line, "hint ", 5);
    bool had = !strncmp(g->line, "had ", 4), seen = !strncmp(g->line, "seen ", 5);
    switch (standing) {
    case STANDING_PLAIN:
        return true;
    case STANDING_UNREAL:
        return hint;
    case STANDING_COMING:
        return !had;
    case STANDING_FORMER:
        return !heard && !seen;
    case STANDING_DOUBTFUL:
        return heard;
    case STANDING_ELSEWHERE:
        return false;
    }
    return true;
}

/* Is a sound spoken of, so that a single word of how it was is enough? */
static bool hears(const struct assembly *a)
{
    return a->opens || (a->times && !a->times_used);
}

/* Is the time at .. end one more of a list, or does something new begin with it: "silent at two and
 * three, at four it struck"? */
static bool goes_on(const struct assembly *a, size_t at, size_t end)
{
    const struct said *s = &a->said;
    if (phrases_turns(a->p, &s->word[at]))
        return false;
    return s->word[at].before == SAID_JOINED || end >= s->count ||
           s->word[end].before != SAID_JOINED || phrases_joins(a->p, &s->word[end]) ||
           phrases_turns(a->p, &s->word[end]);
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
    if (g->kind == GIVE_NOTHING) {
        for (size_t i = at; i < end; i++)
            a->said.word[i].spent = true;
        return true;
    }
    if (!may_stand(a->standing, g))
        return false;
    if (g->kind == GIVE_ONWARD) {
        struct sheet_at rest;
        bool any = rows_onward(a->sheet, &rest);
        if (any)
            name_time(a, &rest, parted, false, from, to);
        return any;
    }
    sheet_init(&got, phrases_words(a->p));
    if (!sheet_parse_shorthand(&got, g->line, strlen(g->line), NULL))
        goto done;
    good = g->kind == GIVE_FACT || !denied;
    if (g->kind == GIVE_FACT)
        good = story_join_facts(a->p, a->sheet, &got, denied);
    else if (denied)
        a->list_goes_on = false;
    else if (g->kind == GIVE_TIME)
        name_time(a, &got.heard[0].at, parted, goes_on(a, at, end), from, to);
    else if (g->kind == GIVE_SAME)
        good = name_same(a, &got.heard[0].at, from, to);
    else if (g->kind == GIVE_OFTEN)
        name_often(a, got.heard[0].often, parted, is_joined(a, at));
    else
        for (size_t i = 0; i < got.heards; i++) {
            if (g->loose && !g->others)
                hear_of_quarters(a, &got.heard[i]);
            bool hour = phrases_names_hour(a->p, &a->said, at, end);
            hear(a, &got.heard[i], g, parted, phrases_sounds(a->p, &a->said, at, end),
                 !parted && !a->turned && !hour, hour, from, to);
        }
done:
    sheet_release(&got);
    return good;
}

/* Hints among the words of a phrase: "Westminster chime breaks off in the middle".  They are written
 * behind what it gives, or taken if `gives` is NULL. */
static void take_within(struct assembly *a, const struct phrase_match *m, size_t at,
                        struct text *gives)
{
    struct phrase_match inner;
    struct give g;
    for (size_t i = at; i < m->end; i++) {
        if (!phrases_match_within(a->p, &a->said, i, m->end, &inner))
            continue;
        if (gives && !strstr(text_cstr(gives), inner.gives))
            text_addf(gives, ", %s", inner.gives);
        for (size_t next = 0; !gives && phrases_give(inner.gives, &next, &g);)
            take_give(a, &g, false, i, i, inner.end);
    }
}

static void use(struct assembly *a, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        a->used[i] = true;
}

/* The phrase at `at`: its part, and what it gives. */
static void take_match(struct assembly *a, const struct phrase_match *m, size_t at, size_t since)
{
    static const char *const stands[] = {
        [STANDING_PLAIN] = "",           [STANDING_UNREAL] = "not so: ",
        [STANDING_COMING] = "not yet: ", [STANDING_FORMER] = "once: ",
        [STANDING_DOUBTFUL] = "maybe: ", [STANDING_ELSEWHERE] = "not told of it: ",
    };
    bool before = negated(a, at, since), denied = before || m->denied, good = true;
    size_t begin = at, part = a->story->parts;
    /* "will not open for the bird" denies no bird, "no dependence on the hour" no hour */
    bool deniable = strncmp(m->gives, "hint ", 5) != 0 && strncmp(m->gives, "time ", 5) != 0;
    while (before && deniable && begin > since && !a->used[begin - 1] &&
           !phrases_negates(a->p, &a->said.word[begin]))
        begin--;
    use(a, begin, m->end);
    struct text gives = {0};
    a->denied = denied;
    a->standing = phrases_standing(a->p, &a->said, at, m->end);
    for (size_t i = at; i < m->end; i++)
        a->said.word[i].told = true;
    bool news = strcmp(m->gives, "nothing") != 0 && (deniable || !denied);
    text_addf(&gives, "%s%s%s", stands[a->standing], denied ? "not: " : "", m->gives);
    if (news)
        take_within(a, m, at, &gives);
    add_part(a, begin, m->end, STORY_UNDERSTOOD, text_cstr(&gives), m->say);
    text_release(&gives);
    struct give g;
    for (size_t next = 0; phrases_give(m->gives, &next, &g);)
        good = take_give(a, &g, denied, since, at, m->end) && good;
    if (news)
        take_within(a, m, at, NULL);
    a->standing = STANDING_PLAIN;
    if (!good)
        a->story->part[part].kind = STORY_UNUSED;
}

/* "Six at five, then six | at the half hour": the number is no hour. */
static bool is_count(const struct assembly *a, size_t end)
{
    size_t after = end;
    while (after < a->said.count && a->said.word[after].before == SAID_JOINED &&
           phrases_lists(a->p, &a->said.word[after]) && !phrases_joins(a->p, &a->said.word[after]))
        after++;
    struct phrase_match m;
    return after > end && after < a->said.count && a->said.word[after].before == SAID_JOINED &&
           phrases_match(a->p, &a->said, end, &m) && m.end > after && !strncmp(m.gives, "time ", 5);
}

/* "five" and "six" of "at four, five and six". */
static bool take_listed_hour(struct assembly *a, size_t at, size_t *end)
{
    int min;
    size_t last = a->times ? a->times - 1 : 0;
    if (!a->list_goes_on || !a->times || a->time[last].kind != AT_EXACT ||
        !phrases_hour(a->p, &a->said, at, end, &min) || is_count(a, *end) ||
        (a->times_used && !goes_on(a, at, *end)))
        return false;
    struct sheet_at time = a->time[last];
    time.min = min;
    time.known24 = false;
    char gives[32], dial[8];
    snprintf(gives, sizeof gives, "time %s", text_dial(min, dial));
    add_part(a, at, *end, STORY_UNDERSTOOD, gives, NULL);
    use(a, at, *end);
    name_time(a, &time, false, true, a->said.word[at].from, a->said.word[*end - 1].to);
    return true;
}

/* The time and the count that come next when the last two rows of the sentence are told in steps. */
static bool next_step(const struct assembly *a, struct heard *next)
{
    if (a->sheet->heards < a->sentence_row + 2)
        return false;
    const struct heard *last = &a->sheet->heard[a->sheet->heards - 1], *before = last - 1;
    bool counts = last->strike == HEARD_STRIKE_COUNT && before->strike == HEARD_STRIKE_COUNT &&
                  last->at.kind == AT_EXACT && before->at.kind == AT_EXACT;
    int step_min = (last->at.min - before->at.min + 720) % 720,
        step = counts ? last->value[0] - before->value[0] : 0;
    *next = *last;
    next->said = NULL;
    next->at.min = (last->at.min + step_min) % 720;
    next->at.known24 = false;
    next->value[0] += step;
    return step && (step_min == 30 || step_min == 60);
}

/* "six" and "eight" of "two at half past twelve, four at half past one, six, eight". */
static bool take_step(struct assembly *a, size_t at, size_t *end)
{
    struct heard next;
    char gives[32], dial[8];
    int count;
    bool parted = a->said.word[at].before == SAID_SOFT ||
                  (at > 0 && phrases_joins(a->p, &a->said.word[at - 1]));
    if (!parted || !phrases_count_at(a->p, &a->said, at, end, &count) || !next_step(a, &next) ||
        next.value[0] != count ||
        (*end < a->said.count && a->said.word[*end].before == SAID_JOINED &&
         !phrases_joins(a->p, &a->said.word[*end])))
        return false;
    snprintf(gives, sizeof gives, "%s s%d", text_dial(next.at.min, dial), count);
    add_part(a, at, *end, STORY_UNDERSTOOD, gives, NULL);
    use(a, at, *end);
    close_group(a);
    add_row(a, &next, NULL, false, a->said.word[at].from, a->said.word[*end - 1].to);
    a->open_timed = true;
    return true;
}

/* No news of what was heard, seen or done: a time, how often, what clock it is. */
static bool is_aside(const char *gives)
{
    struct give g;
    size_t next = 0;
    return phrases_give(gives, &next, &g) &&
           (!strncmp(g.line, "hint ", 5) || (g.kind != GIVE_FACT && g.kind != GIVE_ROW));
}

/* A single word with news, and one that is not sure by itself ("rusty"). */
static bool is_lone(const struct assembly *a, const char *gives, size_t own, size_t at)
{
    return own == 1 && !is_aside(gives) && !phrases_tells(a->p, &a->said, at);
}

/* The phrase at `at`, unless a better one begins within it: "movers bent something" is worth more
 * than "the movers". */
static bool find_phrase(const struct assembly *a, size_t at, struct phrase_match *m)
{
    struct phrase_match later;
    a->bare[at] = !phrases_match(a->p, &a->said, at, m);
    if (a->bare[at] || is_lone(a, m->gives, m->own, at) ||
        (!is_aside(m->gives) && phrases_part_of(a->p, &a->said, at)) ||
        !(hears(a) || phrases_says_enough(a->p, &a->said, at, m->end, m->own, m->gives)))
        return false;
    for (size_t i = at + 1; i < m->end; i++)
        if (phrases_match(a->p, &a->said, i, &later) && later.end >= m->end &&
            (later.own > m->own || (later.own == m->own && m->denied && !later.denied)))
            return phrases_match_until(a->p, &a->said, at, i, m); /* what stands before it */
    return true;
}

/* ---- clauses ---- */

/* Single words that give more than a time or what clock it is are read last: where much else of their
 * clause is not understood, they are not either. */
static void take_lone(struct assembly *a, size_t from, size_t to)
{
    struct phrase_match m;
    for (size_t at = from; at < to; at++)
        if (!a->used[at] && !a->bare[at] && !a->said.word[at].spent &&
            phrases_match_until(a->p, &a->said, at, to, &m) && is_lone(a, m.gives, m.own, at) &&
            phrases_is_sure(a->p, &a->said, a->used, from, to, at, m.end) &&
            (hears(a) || phrases_says_enough(a->p, &a->said, at, m.end, m.own, m.gives)))
            take_match(a, &m, at, from);
}

/* A part for each stretch of words the row takes that nothing else has taken. */
static void account_clause(struct assembly *a, const struct clause_match *m, size_t from)
{
    size_t first = SIZE_MAX, last = 0;
    for (size_t i = m->first; i <= m->end; i++) {
        bool mine = i < m->end && m->taken[i - from] && !a->used[i];
        if (mine) {
            first = first == SIZE_MAX ? i : first;
            last = i + 1;
        } else if (first != SIZE_MAX &&
                   (i == m->end || !phrases_filler(a->p, &a->said.word[i]) || a->used[i])) {
            add_part(a, first, last, STORY_UNDERSTOOD, m->gives, m->say);
            use(a, first, last);
            first = SIZE_MAX;
        }
    }
}

static void take_clause(struct assembly *a, const struct clause_match *m, size_t from)
{
    size_t part = a->story->parts;
    struct give g;
    bool good = true;
    account_clause(a, m, from);
    a->from_clause = true;
    for (size_t next = 0; phrases_give(m->gives, &next, &g);)
        good = take_give(a, &g, false, m->first, m->first, m->end) && good;
    a->from_clause = false;
    for (size_t i = part; !good && i < a->story->parts; i++)
        a->story->part[i].kind = STORY_UNUSED;
}

/* The clause is over: what do its words say that no phrase has taken? */
static void end_clause(struct assembly *a, size_t from, size_t to, bool wide)
{
    struct clause_match m;
    while (from < to && phrases_match_clause(a->p, &a->said, from, to, a->used, wide, hears(a), &m))
        take_clause(a, &m, from);
    if (!wide)
        take_lone(a, from, to);
}

static bool begins_clause(const struct assembly *a, size_t at)
{
    return a->said.word[at].before != SAID_JOINED || phrases_turns(a->p, &a->said.word[at]);
}

/* ---- pairs of a time and a count ---- */

/* What one time with something after it gives of it: s or p; 0 if it is no such pair. */
static char gives_pair(const struct phrase_match *m)
{
    const char *blank = strchr(m->gives, ' ');
    bool one = blank && strcspn(m->gives, "-.") > (size_t)(blank - m->gives); /* no "1:00-4:00" */
    bool pair = ((m->gives[0] >= '0' && m->gives[0] <= '9') || m->gives[0] == '*') && one &&
                (blank[1] == 's' || blank[1] == 'p') && !strchr(m->gives, ',');
    return pair ? blank[1] : 0;
}

static bool is_joiner(const struct assembly *a, size_t at)
{
    return at < a->said.count && phrases_filler(a->p, &a->said.word[at]);
}

/* The pair at `at`, or behind a word or two that only join. */
static bool find_pair(const struct assembly *a, size_t *at, bool follows, size_t *row,
                      struct phrase_match *m)
{
    for (size_t skip = 0; skip <= 2 && *at < a->said.count; skip++, ++*at) {
        if (phrases_match_pair(a->p, &a->said, *at, follows, row, m))
            return true;
        if (!follows || !is_joiner(a, *at))
            return false;
    }
    return false;
}

static void take_pair(struct assembly *a, const struct phrase_match *m, size_t at)
{
    struct give g;
    use(a, at, m->end);
    add_part(a, at, m->end, STORY_UNDERSTOOD, m->gives, m->say);
    for (size_t next = 0; phrases_give(m->gives, &next, &g);)
        take_give(a, &g, false, at, at, m->end);
    a->list_goes_on = false;
    a->paired = gives_pair(m);
}

/* A run of pairs from word `at`: two at least, or one behind a phrase that gave one. */
static bool take_pairs(struct assembly *a, size_t *at)
{
    struct phrase_match m, next;
    size_t row, other, first = *at, second;
    if (!find_pair(a, &first, a->paired, &row, &m) || (a->paired && a->paired != gives_pair(&m)))
        return false;
    second = m.end;
    bool run = find_pair(a, &second, true, &other, &next);
    if (!a->paired && !run)
        return false;
    if (!a->paired && a->said.word[*at].before == SAID_STOP)
        end_sentence(a);
    take_pair(a, &m, first);
    *at = m.end;
    return true;
}

/* ---- what words near each other mostly mean ---- */

static bool cue_tells_news(const struct assembly *a, const struct cue *cue)
{
    struct sheet got;
    sheet_init(&got, phrases_words(a->p));
    bool news = sheet_parse_shorthand(&got, cue->gives, strlen(cue->gives), NULL) &&
                story_tells_news(a->sheet, &got);
    sheet_release(&got);
    return news;
}

/* A cue that holds in words another has taken stands with that. */
static bool add_to_part(struct assembly *a, const struct cue *cue, const struct cue_match *m)
{
    size_t from = a->said.word[m->first].from, to = a->said.word[m->end - 1].to;
    for (size_t i = a->story->parts; i > 0; i--) {
        struct story_part *part = &a->story->part[i - 1];
        if (part->kind != STORY_PERHAPS || part->to <= from || part->from >= to)
            continue;
        struct text gives = {0};
        text_addf(&gives, "%s, %s", part->gives, cue->gives);
        mem_free(part->gives);
        part->gives = mem_copy_text(text_cstr(&gives));
        text_release(&gives);
        return true;
    }
    return false;
}

/* A part for each stretch of its words that nothing else has taken. */
static bool account_cue(struct assembly *a, const struct cue *cue, const struct cue_match *m)
{
    bool any = false;
    for (size_t at = m->first, end; at < m->end; at = end + 1) {
        size_t last = at;
        while (at < m->end && !a->used[at] && phrases_filler(a->p, &a->said.word[at]))
            at++;
        for (end = at; end < m->end && !a->used[end]; end++)
            if (!phrases_filler(a->p, &a->said.word[end]))
                last = end + 1;
        if (last > at) {
            add_part(a, at, last, STORY_PERHAPS, cue->gives, cue->say);
            use(a, at, last);
            any = true;
        }
    }
    return any || add_to_part(a, cue, m);
}

static void take_cue(struct assembly *a, const struct cue *cue, const struct cue_match *m)
{
    struct give g;
    if (!account_cue(a, cue, m))
        return;
    a->from_clause = true;
    for (size_t next = 0; phrases_give(cue->gives, &next, &g);)
        take_give(a, &g, false, m->first, m->first, m->end);
    a->from_clause = false;
    end_sentence(a);
}

/* The clause has been read; what do the words that are left over hint at?  Each row is judged by what stood on the
 * sheet before any, so that all can be counted alike. */
static void take_cues(struct assembly *a, size_t from, size_t to)
{
    const struct cues *cues = phrases_cues(a->p);
    struct cue_match m[CUE_MATCHES];
    struct story *s = a->story;
    size_t count = from < to ? cues_match(cues, &a->said, a->used, from, to, m) : 0,
           first = s->cues;
    for (size_t i = 0; i < count; i++)
        if (cue_tells_news(a, cues_at(cues, m[i].row))) {
            s->cue = mem_grow(s->cue, &s->cue_room, s->cues + 1, sizeof *s->cue);
            s->cue[s->cues++] = i;
        }
    for (size_t i = first; i < s->cues; i++) {
        const struct cue_match *match = &m[s->cue[i]];
        const struct cue *cue = cues_at(cues, match->row);
        if (cue->read && cue_tells_news(a, cue))
            take_cue(a, cue, match);
        s->cue[i] = match->row;
    }
}

static void read_cues(struct assembly *a)
{
    size_t from = 0;
    if (!phrases_cues(a->p))
        return;
    for (size_t at = 1; at <= a->said.count; at++)
        if (at == a->said.count || begins_clause(a, at) || phrases_joins(a->p, &a->said.word[at])) {
            take_cues(a, from, at);
            from = at;
        }
}

/* ---- from the first word to the last ---- */

/* Words from..to that nothing covers: told if any of them carries news. */
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

static void tell_unknowns(struct assembly *a)
{
    size_t from = 0;
    for (size_t at = 0; at <= a->said.count; at++) {
        bool over = at == a->said.count || a->used[at];
        if (over || a->said.word[at].before == SAID_STOP) {
            tell_unknown(a, from, at);
            from = over ? at + 1 : at;
        }
    }
}

static bool lies_within_part(const struct story *s, const struct said_span *span)
{
    for (size_t i = 0; i < s->parts; i++)
        if (s->part[i].from <= span->from && span->to <= s->part[i].to)
            return true;
    return false;
}

/* What was taken back, where it does not stand among the words of a part. */
static void tell_repairs(struct assembly *a)
{
    for (size_t i = 0; i < a->said.cuts; i++) {
        struct story *s = a->story;
        if (lies_within_part(s, &a->said.cut[i]))
            continue;
        s->part = mem_grow(s->part, &s->room, s->parts + 1, sizeof *s->part);
        s->part[s->parts++] = (struct story_part){a->said.cut[i].from, a->said.cut[i].to,
                                                  STORY_UNUSED, mem_copy_text("taken back"), NULL};
    }
}

static int by_place(const void *a, const void *b)
{
    size_t x = ((const struct story_part *)a)->from, y = ((const struct story_part *)b)->from;
    return (x > y) - (x < y);
}

static void drop_part(struct story *s, size_t i)
{
    mem_free(s->part[i].gives);
    memmove(&s->part[i], &s->part[i + 1], (s->parts - i - 1) * sizeof *s->part);
    s->parts--;
}

/* Words that were one in the text ("doesnt", "sevens") may have gone to two parts: the bytes stay with the
 * one that is understood, or the first. */
static void part_bytes(struct story *s, const char *text)
{
    for (size_t i = 1; i < s->parts; i++) {
        struct story_part *before = &s->part[i - 1], *p = &s->part[i];
        if (p->from >= before->to)
            continue;
        if (before->kind == STORY_UNKNOWN)
            before->to = p->from;
        else
            p->from = before->to;
        while (before->to > before->from && text[before->to - 1] == ' ')
            before->to--;
        size_t empty = before->from >= before->to ? i - 1 : p->from >= p->to ? i : s->parts;
        if (empty < s->parts) {
            drop_part(s, empty);
            i = i > 1 ? i - 2 : 0;
        }
    }
}

static bool holds_break(const struct assembly *a, size_t from, size_t to)
{
    for (size_t i = from + 1; i < to; i++)
        if (a->said.word[i].before != SAID_JOINED)
            return true;
    return false;
}

static void read_words(struct assembly *a)
{
    size_t since = 0; /* first word behind what was taken last */
    size_t clause = 0, sentence = 0;
    for (size_t at = 0; at < a->said.count;) {
        struct phrase_match m;
        size_t end = at;
        if (at > clause && begins_clause(a, at)) {
            end_clause(a, clause, at, false);
            clause = at;
        }
        if (a->said.word[at].before == SAID_STOP && at > sentence) {
            end_clause(a, sentence, at, true);
            sentence = at;
        }
        if (take_pairs(a, &end)) {
            at = since = clause = end;
            continue;
        }
        if (a->said.word[at].before == SAID_STOP) {
            since = at;
            a->paired = 0;
            end_sentence(a);
        }
        if (find_phrase(a, at, &m)) {
            take_match(a, &m, at, since);
            a->paired = gives_pair(&m);
            if (holds_break(a, at, m.end)) {
                end_clause(a, clause, m.end, false);
                clause = m.end;
            }
            at = since = m.end;
        } else if (take_step(a, at, &end) || take_listed_hour(a, at, &end)) {
            at = since = end;
        } else {
            bool turns = phrases_turns(a->p, &a->said.word[at]);
            a->turned = a->turned || turns;
            a->opposed = a->opposed || phrases_opposes(a->p, &a->said.word[at]);
            if (phrases_contrasts(a->p, &a->said.word[at]))
                close_group(a);
            if (turns || !phrases_lists(a->p, &a->said.word[at]))
                a->list_goes_on = false;
            if (turns || !phrases_filler(a->p, &a->said.word[at]))
                a->paired = 0;
            a->unread = a->unread || !(phrases_filler(a->p, &a->said.word[at]) ||
                                       phrases_noun(a->p, &a->said.word[at]));
            at++;
        }
    }
    end_clause(a, clause, a->said.count, false);
    end_clause(a, sentence, a->said.count, true);
    end_sentence(a);
    read_cues(a);
    tell_unknowns(a);
    tell_repairs(a);
    if (a->story->parts)
        qsort(a->story->part, a->story->parts, sizeof *a->story->part, by_place);
    part_bytes(a->story, a->text);
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
    a->used = mem_alloc((a->said.count + 1) * sizeof *a->used);
    a->bare = mem_alloc((a->said.count + 1) * sizeof *a->bare);
    read_words(a);
    rows_settle(sheet, a->others);
    said_release(&a->said);
    mem_free(a->used);
    mem_free(a->bare);
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
    mem_free(story->cue);
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
    static const char *const before[] = {
        [STORY_UNDERSTOOD] = "",
        [STORY_PERHAPS] = "perhaps ",
        [STORY_UNUSED] = "of no use: ",
        [STORY_UNKNOWN] = "not understood: ",
    };
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
