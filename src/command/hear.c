#include "command/hear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "command/candidates.h"
#include "command/hear_rhythm.h"
#include "listen/decoder.h"
#include "mem.h"
#include "movement/works.h"

#define CANDIDATES_TRIED 400 /* of those near in length, the most promising */

/* --- let-offs -------------------------------------------------------------------------------- */

static struct heard_letoff *new_letoff(struct heard_clock *out, const struct heard_part *part, double t_s)
{
    struct heard_letoff *l = &out->letoff[out->letoffs++];
    *l = (struct heard_letoff){.first = part->first, .t_s = t_s};
    return l;
}

#define PACE_BITS (PART_DRAGGING | PART_UNEVEN)

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* The pace of the notes: nearly the least of the times between them, since a hammer that does not
 * sound leaves gaps but never makes two notes closer. */
static double quick_interval_s(const struct hearing *h, const struct heard_part *p)
{
    double interval[256];
    size_t n = 0;
    for (size_t i = p->first + 1; i < p->first + p->count && n < 256; i++)
        interval[n++] = h->blow[i].t_s - h->blow[i - 1].t_s;
    if (!n)
        return 0;
    qsort(interval, n, sizeof interval[0], by_size);
    return interval[n / 8];
}

/* Blows of one sounder in a part, and how many of them have the quality. */
static bool sounder_has(const struct hearing *h, const struct heard_part *p, size_t sounder,
                        unsigned quality)
{
    size_t all = 0, with = 0;
    for (size_t i = p->first; i < p->first + p->count; i++)
        if (h->blow[i].sounder == sounder) {
            all++;
            with += (h->blow[i].quality & quality) != 0;
        }
    return all >= 2 && with * 4 >= all * 3;
}

/* A quality is said of a part when one hammer has it nearly always, or many blows have it: a single
 * blow may be the room or the telephone. */
static unsigned sound_bits(const struct hearing *h, const struct heard_part *p)
{
    static const struct {
        unsigned quality, bit;
    } rows[] = {{QUALITY_WEAK, PART_WEAK}, {QUALITY_BUZZ, PART_BUZZ}, {QUALITY_THUD, PART_THUD},
                {QUALITY_DOUBLE, PART_DOUBLE}};
    unsigned bits = 0;
    for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
        size_t with = 0;
        for (size_t i = p->first; i < p->first + p->count; i++)
            with += (h->blow[i].quality & rows[r].quality) != 0;
        bool many = with >= 2 && with * 5 >= p->count * 2;
        for (size_t k = 0; k < h->sounder_count && !many; k++)
            many = sounder_has(h, p, k, rows[r].quality);
        bits |= many ? rows[r].bit : 0;
    }
    return bits;
}

static void divide(struct heard_clock *out, const struct hearing *h)
{
    int letoff = -1;
    struct heard_letoff *l = NULL;
    for (size_t i = 0; i < h->part_count; i++) {
        const struct heard_part *p = &h->part[i];
        if (!l || p->letoff != letoff) {
            if (out->letoffs == HEAR_LETOFFS_MOST)
                return;
            l = new_letoff(out, p, h->blow[p->first].t_s);
            letoff = p->letoff;
        }
        l->count = p->first + p->count - l->first;
        if (p->kind == PART_STRIKE) {
            l->strikes += p->strikes;
            l->strike_interval_s = p->interval_s;
            l->strike_how |= (p->how & PACE_BITS) | sound_bits(h, p);
        } else {
            l->note_interval_s = quick_interval_s(h, p);
            l->note_how |= (p->how & PACE_BITS) | sound_bits(h, p);
        }
    }
}

/* --- naming ------------------------------------------------------------------------------------ */

#define BLOW_ASTRAY 0.02 /* what each blow too many or too few costs the fit at the least */

struct near {
    struct fit_candidate candidate;
    double promise; /* its weight, and what the blows that are not there cost it */
};

static int by_promise(const void *a, const void *b)
{
    double x = ((const struct near *)a)->promise, y = ((const struct near *)b)->promise;
    return x < y ? 1 : x > y ? -1 : 0;
}

/* Candidates of about the right length, the most promising first. */
static size_t near_in_length(const struct candidates *all, size_t blows, struct fit_candidate *to)
{
    struct near *near = mem_alloc((all->count + 1) * sizeof *near);
    size_t n = 0, slack = 3 + blows / 5;
    for (size_t i = 0; i < all->count; i++) {
        size_t count = all->at[i].count, astray = count > blows ? count - blows : blows - count;
        if (astray <= slack)
            near[n++] = (struct near){all->at[i], all->at[i].prior * pow(BLOW_ASTRAY, (double)astray)};
    }
    if (n)
        qsort(near, n, sizeof *near, by_promise);
    n = n < CANDIDATES_TRIED ? n : CANDIDATES_TRIED;
    for (size_t i = 0; i < n; i++)
        to[i] = near[i].candidate;
    mem_free(near);
    return n;
}

static void name_blows(struct heard_clock *out, const struct heard_letoff *l, const struct fit_result *r,
                       size_t hammers)
{
    for (size_t i = 0; i < l->count; i++) {
        const float *p = &r->hammer_p[i * FIT_HAMMERS_MOST];
        size_t best = 0;
        for (size_t k = 1; k < hammers; k++)
            best = p[k] > p[best] ? k : best;
        out->hammer[l->first + i] = p[best] > 0 ? (uint8_t)best : FIT_UNNAMED;
        out->hammer_p[l->first + i] = p[best];
    }
}

static int bell_of(const struct clock *c, int sounder)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    for (int i = 0; t->tunes && i < t->tune[0]->bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return 0;
}

static char bell_digit(const struct clock *c, uint8_t hammer)
{
    int bell = hammer == FIT_UNNAMED ? 0 : bell_of(c, hammer);
    return bell == 0 ? '?' : bell < 10 ? (char)('0' + bell) : (char)('a' + bell - 10);
}

/* Without a candidate that explains the let-off: by the parts the listener divided it into. */
static void read_parts(struct heard_letoff *l, const struct heard_clock *out, const struct clock *c,
                       const struct hearing *h)
{
    size_t n = 0;
    for (size_t i = 0; i < h->part_count; i++) {
        const struct heard_part *p = &h->part[i];
        if (p->kind != PART_CHIME || p->first < l->first || p->first >= l->first + l->count)
            continue;
        for (size_t k = p->first; k < p->first + p->count && n + 1 < sizeof l->notes; k++)
            l->notes[n++] = bell_digit(c, out->hammer[k]);
    }
    l->notes[n] = 0;
}

/* Along the blows the candidate expects: one of the chime is a note, one of the strike a stroke,
 * which counts if it is the first of a count.  An extra blow is taken for what the one before it
 * was.  What is counted is what was heard, never what was expected. */
static enum heard_role role_of(unsigned tag)
{
    return tag & TAG_MUSIC ? HEARD_MUSIC : tag & TAG_COUNT ? HEARD_COUNT : tag & TAG_STRIKE ? HEARD_STROKE : HEARD_NOTE;
}

static void read_roles(const struct heard_letoff *l, const struct fit_result *r, const unsigned char *tag,
                       uint8_t *role)
{
    unsigned last = tag[0];
    for (size_t i = 0; i < l->count; i++) {
        if (r->expected_of[i] >= 0)
            last = tag[r->expected_of[i]];
        role[l->first + i] = (uint8_t)role_of(last);
    }
}

static double median_between(const double *at, size_t count)
{
    double between[256];
    size_t n = 0;
    for (size_t i = 1; i < count && n < 256; i++)
        between[n++] = at[i] - at[i - 1];
    if (n)
        qsort(between, n, sizeof between[0], by_size);
    return n ? between[(n - 1) / 2] : 0;
}

static void read_words(struct heard_reading *to, const struct heard_letoff *l, const struct clock *c,
                       const struct hearing *h, const uint8_t *hammer, const uint8_t *role)
{
    size_t n = 0, beats = 0;
    double beat[256];
    for (size_t i = l->first; i < l->first + l->count; i++) {
        if (role[i] == HEARD_NOTE && n + 1 < sizeof to->notes)
            to->notes[n++] = bell_digit(c, hammer[i]);
        if (role[i] == HEARD_COUNT && beats < 256)
            beat[beats++] = h->blow[i].t_s;
    }
    to->notes[n] = 0;
    to->strikes = (int)beats;
    to->strike_interval_s = median_between(beat, beats);
}

static void add_reading(struct heard_letoff *l, const struct heard_reading *new)
{
    size_t i = 0;
    while (i < l->readings &&
           (strcmp(l->reading[i].notes, new->notes) != 0 || l->reading[i].strikes != new->strikes))
        i++;
    if (i == HEAR_READINGS_MOST)
        return;
    if (i == l->readings)
        l->reading[l->readings++] = *new;
    else
        l->reading[i].p += new->p;
    for (; i > 0 && l->reading[i].p > l->reading[i - 1].p; i--) {
        struct heard_reading swap = l->reading[i];
        l->reading[i] = l->reading[i - 1];
        l->reading[i - 1] = swap;
    }
}

#define READ_LEAST 0.02 /* candidates less likely than this are not read by themselves */
#define READ_MOST 12

/* What the blows would say if just this candidate had been played. */
static void read_as(struct heard_clock *out, struct heard_letoff *l, const struct candidates *all,
                    const struct fit_candidate *as, double p, const struct hearing *h,
                    const struct fit_options *options)
{
    struct fit_result r = {0};
    struct heard_reading reading = {.p = p};
    fit_hearing(&r, h, l->first, l->count, as, 1, options);
    name_blows(out, l, &r, options->hammers);
    read_roles(l, &r, candidates_tags(all, as), out->role);
    read_words(&reading, l, all->clock, h, out->hammer, out->role);
    add_reading(l, &reading);
    fit_release(&r);
}

static size_t likeliest_left(const struct fit_result *r, const bool *done)
{
    size_t best = r->candidate_count;
    for (size_t i = 0; i < r->candidate_count; i++)
        if (!done[i] && (best == r->candidate_count || r->posterior[i] > r->posterior[best]))
            best = i;
    return best;
}

/* The best candidate is read last, so that names and roles of the blows are its own. */
static void read_fit(struct heard_clock *out, struct heard_letoff *l, const struct candidates *all,
                     const struct fit_candidate *list, const struct fit_result *r, const struct hearing *h,
                     const struct fit_options *options)
{
    bool *done = mem_alloc((r->candidate_count + 1) * sizeof *done);
    size_t order[READ_MOST], n = 0;
    while (n < READ_MOST) {
        size_t next = likeliest_left(r, done);
        if (next == r->candidate_count || (n && r->posterior[next] < READ_LEAST))
            break;
        done[next] = true;
        order[n++] = next;
    }
    while (n-- > 0)
        read_as(out, l, all, &list[order[n]], r->posterior[order[n]], h, options);
    mem_free(done);
}

/* A part each: what the listener took for a strike is one. */
static void roles_of_parts(const struct heard_clock *out, const struct heard_letoff *l, const struct hearing *h)
{
    for (size_t i = 0; i < h->part_count; i++) {
        const struct heard_part *p = &h->part[i];
        if (p->first < l->first || p->first >= l->first + l->count)
            continue;
        for (size_t k = 0; k < p->count; k++)
            out->role[p->first + k] = (uint8_t)(p->kind == PART_CHIME    ? HEARD_NOTE
                                                : hearing_second_stroke(h, p, p->first + k) ? HEARD_STROKE
                                                                         : HEARD_COUNT);
    }
}

void heard_clock_read(struct heard_clock *c, size_t letoff, size_t reading)
{
    struct heard_letoff *l = &c->letoff[letoff];
    if (reading >= l->readings)
        return;
    const struct heard_reading *r = &l->reading[reading];
    memcpy(l->notes, r->notes, sizeof l->notes);
    l->strikes = r->strikes;
    l->strike_interval_s = r->strike_interval_s;
}

static void name_letoff(struct heard_clock *out, size_t letoff, const struct candidates *all,
                        const struct clock *clock, const struct hearing *h)
{
    struct heard_letoff *l = &out->letoff[letoff];
    struct fit_candidate *list = mem_alloc((all->count + 1) * sizeof *list);
    struct fit_result r = {0};
    double hz[CLOCK_SOUNDERS];
    size_t n = near_in_length(all, l->count, list);
    for (int i = 0; i < clock->sounders; i++)
        hz[i] = clock->sounder[i].hz;
    struct fit_options options = {.hammers = (size_t)clock->sounders, .pitch_hz = hz};
    if (n) {
        fit_hearing(&r, h, l->first, l->count, list, n, &options);
        l->explained = 1 - r.none;
    }
    roles_of_parts(out, l, h);
    if (n && l->explained > 0.5) {
        read_fit(out, l, all, list, &r, h, &options);
        name_blows(out, l, &r, options.hammers);
        heard_clock_read(out, letoff, 0);
    } else {
        if (n)
            name_blows(out, l, &r, options.hammers);
        read_parts(l, out, clock, h);
    }
    fit_release(&r);
    mem_free(list);
}

/* Without a clock: the sounders' own numbers, 1 = highest. */
static void number_letoffs(struct heard_clock *out, const struct hearing *h)
{
    struct heard_row row[HEAR_LETOFFS_MOST];
    size_t n = hearing_rows(h, row, HEAR_LETOFFS_MOST);
    for (size_t i = 0; i < out->letoffs && i < n; i++) {
        memcpy(out->letoff[i].notes, row[i].notes, sizeof row[i].notes);
        roles_of_parts(out, &out->letoff[i], h);
    }
}

void hear_name(struct heard_clock *out, const struct library *lib, const struct clock *clock,
               const struct hearing *h)
{
    struct candidates all;
    *out = (struct heard_clock){0};
    divide(out, h);
    out->role = mem_alloc(h->blow_count + 1);
    if (!clock) {
        number_letoffs(out, h);
        return;
    }
    out->hammer = mem_alloc(h->blow_count + 1);
    out->hammer_p = mem_alloc((h->blow_count + 1) * sizeof *out->hammer_p);
    memset(out->hammer, FIT_UNNAMED, h->blow_count);
    candidates_make(&all, lib, clock);
    for (size_t i = 0; i < out->letoffs; i++)
        name_letoff(out, i, &all, clock, h);
    candidates_release(&all);
}

void heard_clock_release(struct heard_clock *c)
{
    mem_free(c->hammer);
    mem_free(c->hammer_p);
    mem_free(c->role);
    *c = (struct heard_clock){0};
}

/* --- rows ------------------------------------------------------------------------------------------- */

static void add_how(struct heard *row, const struct words *words, const char *word)
{
    int ordinal = words_ordinal(words, WORD_HOW, word);
    if (ordinal >= 0)
        word_set_add(&row->how, ordinal);
}

static void add_hows(struct heard *row, const struct words *words, unsigned how)
{
    static const struct {
        unsigned bit;
        const char *word;
    } rows[] = {
        {PART_DRAGGING, "slowing"}, {PART_UNEVEN, "uneven"}, {PART_WEAK, "soft"},
        {PART_BUZZ, "buzz"},        {PART_THUD, "thud"},     {PART_DOUBLE, "double"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (how & rows[i].bit)
            add_how(row, words, rows[i].word);
}

/* Slow or fast against this clock as made. */
static void add_tempo(struct heard *row, const struct words *words, double interval_s, double usual_s)
{
    if (interval_s <= 0 || usual_s <= 0)
        return;
    if (interval_s > 1.4 * usual_s)
        add_how(row, words, "slow");
    else if (interval_s < 0.68 * usual_s)
        add_how(row, words, "fast");
}

/* A pair on one bell (ship's bells) comes short and long: its median interval says nothing. */
static bool counts_evenly(const struct train *t)
{
    const struct pattern *p = &t->pattern[0];
    return p->strokes < 2 || p->stroke[0].sounder != p->stroke[1].sounder;
}

/* Rests of a tune and hammers that do not sound are no unevenness of the train. */
static unsigned note_pace(const struct heard_clock *c, size_t letoff, const struct hearing *h)
{
    struct rhythm r;
    if (!hear_note_rhythm(c, letoff, h, &r))
        return 0;
    return (r.dragging ? PART_DRAGGING : 0) | (r.uneven ? PART_UNEVEN : 0);
}

/* To the hundredth of a second: more is not known, and reads badly. */
static double hundredths(double s)
{
    return floor(s * 100 + 0.5) / 100;
}

static void add_intervals(struct heard *row, const struct heard_clock *c, size_t letoff, const struct hearing *h)
{
    row->intervals = hear_intervals(c, letoff, h, row->intervals_s, SHEET_INTERVALS);
    for (size_t i = 0; i < row->intervals; i++)
        row->intervals_s[i] = hundredths(row->intervals_s[i]);
}

/* From the last note to the first blow of the strike; 0 unless there are both, in this order. */
static double pause_s(const struct heard_clock *c, const struct heard_letoff *l, const struct hearing *h)
{
    double note_s = -1;
    for (size_t i = l->first; i < l->first + l->count; i++) {
        enum heard_role role = c->role[i];
        if (role == HEARD_NOTE)
            note_s = h->blow[i].t_s;
        else if (role == HEARD_COUNT || role == HEARD_STROKE)
            return note_s >= 0 ? hundredths(h->blow[i].t_s - note_s) : 0;
    }
    return 0;
}

/* More notes in one go than any quarter of this clock has, by half: it ran on. */
static bool chimes_on(const struct clock *clock, size_t notes)
{
    const struct tune *t = clock->train[TRAIN_CHIME].tunes ? clock->train[TRAIN_CHIME].tune[0] : NULL;
    int most = 0;
    for (int i = 0; t && i < t->quarters; i++)
        most = t->quarter[i] > most ? t->quarter[i] : most;
    return t && t->changes && most && 2 * notes > 3u * (size_t)(most * t->notes / t->changes);
}

#define RUNS_ON_FROM 24 /* no clock has so many blows due */

static void add_row(const struct heard_clock *c, size_t letoff, const struct clock *clock, const struct hearing *h,
                    int at_min, struct sheet *sheet)
{
    const struct heard_letoff *l = &c->letoff[letoff];
    struct heard *row = sheet_add_heard(sheet);
    if (!row)
        return;
    if (at_min >= 0)
        row->at = (struct sheet_at){.kind = AT_EXACT, .min = at_min % 720};
    snprintf(row->notes, sizeof row->notes, "%.*s", SHEET_NOTES, l->notes);
    if (l->strikes > RUNS_ON_FROM) {
        row->strike = HEARD_STRIKE_RUNS_ON;
    } else if (l->strikes) {
        row->strike = HEARD_STRIKE_COUNT;
        row->value[0] = l->strikes < SHEET_COUNT_MOST ? l->strikes : SHEET_COUNT_MOST;
        row->values = 1;
    } else {
        row->strike = HEARD_STRIKE_NONE;
    }
    if (clock && clock->train[TRAIN_CHIME].tunes && !l->notes[0] && row->strike == HEARD_STRIKE_COUNT)
        row->chime = HEARD_CHIME_NONE; /* where it is due, its silence was recorded as well */
    if (clock && chimes_on(clock, strlen(l->notes))) {
        row->chime = HEARD_CHIME_RUNS_ON;
        row->notes[0] = 0;
    }
    row->pause_s = pause_s(c, l, h);
    row->interval_s = l->strike_interval_s > 0 ? hundredths(l->strike_interval_s) : 0;
    if (row->interval_s > 0) /* of notes it would be the rests that are told */
        add_intervals(row, c, letoff, h);
    add_hows(row, sheet->words, (l->note_how & ~PACE_BITS) | note_pace(c, letoff, h) | l->strike_how);
    if (clock) {
        struct works made;
        works_init(&made, clock, NULL, 0);
        if (counts_evenly(&clock->train[TRAIN_STRIKE]))
            add_tempo(row, sheet->words, l->strike_interval_s, made.pace[TRAIN_STRIKE].interval_s[POWER_GOOD]);
        if (clock->train[TRAIN_CHIME].tunes) /* pairs come short and long as well */
            add_tempo(row, sheet->words, l->note_interval_s, made.pace[TRAIN_CHIME].interval_s[POWER_GOOD]);
    }
}

#define BY_ITSELF_MIN 8 /* let-offs nearer than this: nobody waited for the next, the hands were led on */

static bool at_lobe(const struct clock *clock, int min)
{
    for (int off = -1; off <= 1; off++)
        for (int i = 0; i < clock->lobes; i++)
            if ((min + off) % clock->lobe_period_min == clock->lobe[i].minute)
                return true;
    return false;
}

/* From between the lobes on to one: what falls at the warning and what falls at its time, of one let-off. */
static bool rest_of_letoff(const struct clock *clock, double since_s, int before_min)
{
    int after_min = before_min + (int)floor(since_s / 60 + 0.5);
    return clock && before_min >= 0 && after_min > before_min && since_s / 60 < BY_ITSELF_MIN &&
           !at_lobe(clock, before_min) && at_lobe(clock, after_min);
}

/* What the hands showed at a let-off after one at before_min: as much later as the recording says; when that is
 * nearer than a clock comes by itself, the lobe that comes next.  -1 unknown. */
static int shown_after(const struct clock *clock, double since_s, int before_min)
{
    double since_min = since_s / 60;
    if (before_min < 0)
        return -1;
    if (since_min >= BY_ITSELF_MIN || rest_of_letoff(clock, since_s, before_min))
        return before_min + (int)floor(since_min + 0.5);
    return clock ? before_min + clock_next_lobe(clock, before_min) : -1;
}

int hear_shown_at(const struct heard_clock *c, const struct clock *clock, size_t letoff, int at_min)
{
    for (size_t i = 1; i <= letoff && i < c->letoffs; i++)
        at_min = shown_after(clock, c->letoff[i].t_s - c->letoff[i - 1].t_s, at_min);
    return at_min;
}

/* Of a let-off that came in two parts each row tells its own: what the other has is not silent. */
static void join_rows(struct heard *one, struct heard *other)
{
    struct heard *notes = one->notes[0] ? one : other, *strike = one->notes[0] ? other : one;
    if (notes->strike != HEARD_STRIKE_NONE || strike->notes[0] || strike->strike != HEARD_STRIKE_COUNT)
        return;
    notes->strike = HEARD_STRIKE_UNSAID;
    strike->chime = HEARD_CHIME_UNSAID;
}

#define NEAR_MIN 3         /* nearer to a let-off, or to an end of the recording, a lobe is not known to have been silent */
#define APART_MIN 15       /* about a let-off that came at no lobe, late or at its warning: it may be that of the lobe */

/* Lobes that were passed while it was recorded and nothing sounded, from one minute to another. */
static void add_silence(const struct clock *clock, double from_min, double until_min, struct sheet *sheet)
{
    for (int min = (int)ceil(from_min + NEAR_MIN); min <= (int)floor(until_min - NEAR_MIN); min++) {
        bool lobe = false;
        for (int i = 0; i < clock->lobes; i++)
            lobe |= (min + 720) % clock->lobe_period_min == clock->lobe[i].minute;
        struct heard *row = lobe ? sheet_add_heard(sheet) : NULL;
        if (!row)
            continue;
        row->at = (struct sheet_at){.kind = AT_EXACT, .min = (min + 720) % 720};
        row->strike = clock->train[TRAIN_STRIKE].patterns ? HEARD_STRIKE_NONE : HEARD_STRIKE_UNSAID;
        row->chime = clock->train[TRAIN_CHIME].tunes ? HEARD_CHIME_NONE : HEARD_CHIME_UNSAID;
    }
}

/* What spans more time than a recording may was put together of several, with gaps between them. */
static bool of_one_recording(const struct heard_clock *c, const struct hearing *h)
{
    return c->letoffs && c->letoff[c->letoffs - 1].t_s <= DECODER_SECONDS_MOST && h->length_s <= DECODER_SECONDS_MOST;
}

static int apart_min(const struct clock *clock, int shown)
{
    return at_lobe(clock, shown) ? 0 : APART_MIN;
}

/* From the let-off before this one, or from the beginning of the recording. */
static void add_silence_before(const struct heard_clock *c, const struct hearing *h, size_t letoff,
                               const struct clock *clock, int at_min, struct sheet *sheet)
{
    int shown = hear_shown_at(c, clock, letoff, at_min), before = letoff ? hear_shown_at(c, clock, letoff - 1, at_min) : -1;
    double since_min = (c->letoff[letoff].t_s - (letoff ? c->letoff[letoff - 1].t_s : 0)) / 60;
    if (clock && shown >= 0 && of_one_recording(c, h) && (!letoff || since_min >= BY_ITSELF_MIN))
        add_silence(clock, shown - since_min + (before >= 0 ? apart_min(clock, before) : 0), shown - apart_min(clock, shown), sheet);
}

void hear_rows(const struct heard_clock *c, const struct clock *clock, const struct hearing *h, int at_min,
               struct sheet *sheet)
{
    for (size_t i = 0; i < c->letoffs; i++) {
        add_silence_before(c, h, i, clock, at_min, sheet);
        add_row(c, i, clock, h, hear_shown_at(c, clock, i, at_min), sheet);
        if (i > 0 && sheet->heards > 1 &&
            rest_of_letoff(clock, c->letoff[i].t_s - c->letoff[i - 1].t_s, hear_shown_at(c, clock, i - 1, at_min)))
            join_rows(&sheet->heard[sheet->heards - 2], &sheet->heard[sheet->heards - 1]);
    }
    int last = c->letoffs ? hear_shown_at(c, clock, c->letoffs - 1, at_min) : -1;
    if (clock && last >= 0 && of_one_recording(c, h))
        add_silence(clock, last + apart_min(clock, last), last + (h->length_s - c->letoff[c->letoffs - 1].t_s) / 60, sheet);
}
