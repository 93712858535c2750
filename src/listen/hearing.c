#include "listen/hearing.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "listen/decoder.h"
#include "listen/listener.h"
#include "listen/rhythm.h"
#include "mem.h"

#define LETOFF_GAP_S 14.0 /* longer silences part two let-offs; large bells wait up to 10 s */
#define AGAIN_GAP_S 5.0   /* ... or this, where a tune begins anew */
#define LETOFF_GAPS 6.0   /* ... unless the pace itself is so slow that this many intervals are longer */

void hearing_clear(struct hearing *h)
{
    h->blow_count = h->part_count = h->sounder_count = 0;
    memset(h->sounder, 0, sizeof h->sounder);
    h->length_s = 0;
    h->noise_db = 0;
}

void hearing_release(struct hearing *h)
{
    mem_free(h->blow);
    mem_free(h->part);
    *h = (struct hearing){0};
}

void hearing_from_pcm(struct hearing *h, const struct pcm *p)
{
    struct listener *l = listener_new();
    if (p->rate_hz == LISTENER_RATE_HZ || p->frames == 0) {
        listener_feed(l, p->at, p->frames);
    } else {
        struct pcm resampled = {0};
        pcm_resample(p, LISTENER_RATE_HZ, &resampled);
        listener_feed(l, resampled.at, resampled.frames);
        pcm_release(&resampled);
    }
    listener_finish(l);
    listener_hearing(l, h);
    listener_free(l);
}

struct file_hearing {
    struct listener *listener;
    void (*progress)(void *with, double done_s, double whole_s);
    void *with;
};

static bool feed_block(void *with, const float *samples, size_t frames)
{
    struct file_hearing *f = with;
    listener_feed(f->listener, samples, frames);
    return true;
}

static void pass_progress(void *with, double done_s, double whole_s)
{
    struct file_hearing *f = with;
    if (f->progress)
        f->progress(f->with, done_s, whole_s);
}

bool hearing_from_file(struct hearing *h, const char *path, void (*progress)(void *, double, double), void *with,
                       bool *cut, struct err *e)
{
    struct file_hearing f = {listener_new(), progress, with};
    struct decoder_job job = {.path = path, .block = feed_block, .progress = pass_progress, .with = &f};
    hearing_clear(h);
    bool ok = decoder_run(&job, cut, e);
    if (ok) {
        listener_finish(f.listener);
        listener_hearing(f.listener, h);
    }
    listener_free(f.listener);
    return ok;
}

/* ---- dividing ---- */

bool hearing_second_stroke(const struct hearing *h, const struct heard_part *part, size_t blow)
{
    return part->pairs && h->blow[blow].sounder != h->blow[part->first].sounder;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Median interval within blows first .. first+count-1; 0 for fewer than two. */
static double median_interval(const struct hearing *h, size_t first, size_t count)
{
    if (count < 2)
        return 0;
    double *d = mem_alloc((count - 1) * sizeof *d);
    for (size_t i = 0; i + 1 < count; i++)
        d[i] = h->blow[first + i + 1].t_s - h->blow[first + i].t_s;
    qsort(d, count - 1, sizeof *d, by_value);
    double median = d[(count - 1) / 2];
    mem_free(d);
    return median;
}

/* Blow i is on a sounder that has had its turn, among others, since `first`: what the hour is struck on after
 * the chime has not. */
static bool begins_again(const struct hearing *h, size_t first, size_t i)
{
    bool again = false, others = false;
    for (size_t k = first; k < i; k++) {
        again |= h->blow[k].sounder == h->blow[i].sounder;
        others |= h->blow[k].sounder != h->blow[i].sounder;
    }
    return again && others;
}

/* How many blows from `first` on sound in one go. */
static size_t letoff_length(const struct hearing *h, size_t first)
{
    size_t i = first + 1;
    for (; i < h->blow_count; i++) {
        double gap = h->blow[i].t_s - h->blow[i - 1].t_s;
        double pace = median_interval(h, first, i - first);
        if (gap > (begins_again(h, first, i) ? AGAIN_GAP_S : LETOFF_GAP_S) && gap > LETOFF_GAPS * pace)
            break;
    }
    return i - first;
}

static bool same_sounder(const struct hearing *h, size_t i, size_t j)
{
    return h->blow[i].sounder == h->blow[j].sounder;
}

/* Blows at the end of a let-off that are all on one sounder. */
static size_t tail_of_one(const struct hearing *h, size_t first, size_t count)
{
    size_t n = 1;
    while (n < count && same_sounder(h, first + count - 1, first + count - 1 - n))
        n++;
    return n;
}

/* Blows at the end that go to and fro between two sounders, high then low (bim-bam), in pairs with a longer
 * gap after each; an even number, 0 for none. */
static size_t tail_of_pairs(const struct hearing *h, size_t first, size_t count)
{
    size_t last = first + count - 1, n = 2;
    if (count < 2 || same_sounder(h, last, last - 1))
        return 0;
    while (n + 2 <= count && same_sounder(h, last - n, last) && same_sounder(h, last - n - 1, last - 1))
        n += 2;
    return n;
}

static bool used_before(const struct hearing *h, size_t first, size_t until, uint8_t sounder)
{
    for (size_t i = first; i < until; i++)
        if (h->blow[i].sounder == sounder)
            return true;
    return false;
}

static double gap_before(const struct hearing *h, size_t i)
{
    return h->blow[i].t_s - h->blow[i - 1].t_s;
}

/* Where the strike begins within a let-off of `count` blows from `first` on: a run on one sounder at its
 * end that the chime before it did not use, or that is set off by a pause.  `count` = no strike. */
static size_t strike_start(const struct hearing *h, size_t first, size_t count)
{
    size_t run = tail_of_one(h, first, count), start = first + count - run;
    if (run == count)
        return 0;
    bool fresh = !used_before(h, first, start, h->blow[start].sounder);
    double pace = median_interval(h, first, start - first);
    bool paused = pace > 0 && gap_before(h, start) > 1.6 * pace;
    if (fresh && (run >= 2 || paused))
        return start - first;
    if (run >= 3 || (run == 2 && paused && median_interval(h, start, run) > 1.3 * pace))
        return start - first;
    return count;
}

/* A let-off that is nothing but pairs high-low with a wider gap after each: quarters of a ting-tang or
 * an hour struck on two.  A few are quarters (at most three, four at the hour); more are an hour. */
static bool all_pairs(const struct hearing *h, size_t first, size_t count)
{
    size_t pairs = tail_of_pairs(h, first, count);
    if (pairs != count)
        return false;
    for (size_t i = first + 2; i < first + count; i += 2)
        if (gap_before(h, i) < 1.1 * (h->blow[i - 1].t_s - h->blow[i - 2].t_s))
            return false;
    return true;
}

/* A let-off that is nothing but the same three sounders in the same order again and again, with a wider gap after each
 * round (a cuckoo: the gong and the two notes of the call): how many rounds, 0 for none. */
static int all_threes(const struct hearing *h, size_t first, size_t count)
{
    if (count < 6 || count % 3 != 0 || same_sounder(h, first, first + 1) ||
        same_sounder(h, first, first + 2) || same_sounder(h, first + 1, first + 2))
        return 0;
    for (size_t i = first + 3; i < first + count; i++)
        if (!same_sounder(h, i, i - 3))
            return 0;
    for (size_t i = first + 3; i < first + count; i += 3)
        if (gap_before(h, i) < 1.1 * gap_before(h, i - 1) ||
            gap_before(h, i) < 1.1 * gap_before(h, i - 2))
            return 0;
    return (int)(count / 3);
}

/* Median gap between a blow on one sounder and the next blow, where that is on the other; 0 for fewer than two. */
static double median_gap(const struct hearing *h, size_t first, size_t count, uint8_t from, uint8_t to)
{
    double *d = mem_alloc((count + 1) * sizeof *d), median = 0;
    size_t n = 0;
    for (size_t i = first + 1; i < first + count; i++)
        if (h->blow[i - 1].sounder == from && h->blow[i].sounder == to)
            d[n++] = gap_before(h, i);
    qsort(d, n, sizeof *d, by_value);
    if (n >= 2)
        median = d[(n - 1) / 2];
    mem_free(d);
    return median;
}

#define LOOSE_LEAST 4    /* pairs */
#define LOOSE_OFF   0.15 /* of the time from pair to pair: farther off it is no stroke of a pair */

/* Strokes of pairs laid on their places in time, one after the other. */
struct pair_count {
    double early_s, every_s, from_s; /* of the second stroke after the first; of the pairs; where the latest began */
    int pairs, strokes, odd;
    bool had[2];
};

static void lay_stroke(struct pair_count *c, double t_s, bool second)
{
    double began_s = t_s - (second ? c->early_s : 0), steps = c->pairs ? (began_s - c->from_s) / c->every_s : 1;
    int whole = (int)floor(steps + 0.5);
    if (whole < 0 || fabs(steps - whole) > LOOSE_OFF || (whole == 0 && c->had[second])) {
        c->odd++;
        return;
    }
    if (whole > 0) {
        c->pairs += whole;
        c->from_s = began_s;
        c->had[0] = c->had[1] = false;
    }
    c->had[second] = true;
    c->strokes++;
}

/* As all_pairs, but now and then a stroke did not sound, or something was heard besides: how many pairs, 0 for none.
 * The first pair and the last are whole. */
static int loose_pairs(const struct hearing *h, size_t first, size_t count)
{
    if (count < 2 * LOOSE_LEAST - 1 || same_sounder(h, first, first + 1))
        return 0;
    uint8_t high = h->blow[first].sounder, low = h->blow[first + 1].sounder;
    struct pair_count c = {.early_s = median_gap(h, first, count, high, low)};
    double after_s = median_gap(h, first, count, low, high);
    if (c.early_s <= 0 || after_s < 1.1 * c.early_s)
        return 0;
    c.every_s = c.early_s + after_s;
    for (size_t i = first; i < first + count; i++) {
        const struct heard_blow *b = &h->blow[i];
        if (b->sounder == high || b->sounder == low)
            lay_stroke(&c, b->t_s, b->sounder == low);
        else
            c.odd++;
    }
    bool good = c.pairs >= LOOSE_LEAST && c.had[0] && c.had[1] && 2 * c.pairs - c.strokes + c.odd <= c.pairs / LOOSE_LEAST;
    return good ? c.pairs : 0;
}

static struct heard_part *add_part(struct hearing *h, int letoff, size_t first, size_t count, enum part_kind kind)
{
    h->part = mem_grow(h->part, &h->part_room, h->part_count + 1, sizeof *h->part);
    struct heard_part *p = &h->part[h->part_count++];
    *p = (struct heard_part){.kind = (uint8_t)kind, .letoff = letoff, .first = first, .count = count};
    p->interval_s = median_interval(h, first, count);
    for (size_t i = first; i < first + count; i++) {
        uint8_t q = h->blow[i].quality;
        p->how |= (uint8_t)((q & QUALITY_WEAK ? PART_WEAK : 0) | (q & QUALITY_BUZZ ? PART_BUZZ : 0) |
                            (q & QUALITY_THUD ? PART_THUD : 0) | (q & QUALITY_DOUBLE ? PART_DOUBLE : 0));
    }
    return p;
}

static void add_strike(struct hearing *h, int letoff, size_t first, size_t count, size_t pairs)
{
    struct heard_part *p = add_part(h, letoff, first, count, PART_STRIKE);
    p->pairs = pairs > 0;
    p->strikes = (int)(pairs ? pairs : count);
    double exact = 1;
    for (size_t i = first; i < first + count; i++)
        exact *= (double)h->blow[i].sure;
    p->strikes_p = (float)exact;
    if (pairs < 2)
        return;
    double *d = mem_alloc(count * sizeof *d), last_s = h->blow[first].t_s;
    size_t n = 0;
    for (size_t i = first + 1; i < first + count; i++)
        if (!hearing_second_stroke(h, p, i)) {
            d[n++] = h->blow[i].t_s - last_s;
            last_s = h->blow[i].t_s;
        }
    qsort(d, n, sizeof *d, by_value);
    if (n)
        p->interval_s = d[(n - 1) / 2];
    mem_free(d);
}

static void divide_letoff(struct hearing *h, int letoff, size_t first, size_t count)
{
    int rounds = all_threes(h, first, count);
    rounds = rounds                       ? rounds
             : all_pairs(h, first, count) ? (int)count / 2
                                          : loose_pairs(h, first, count);
    if (rounds) {
        add_strike(h, letoff, first, count, (size_t)rounds);
        return;
    }
    size_t chime = strike_start(h, first, count);
    size_t pairs = chime == count ? tail_of_pairs(h, first, count) : 0;
    if (pairs >= 4 && pairs < count && !used_before(h, first, first + count - pairs, h->blow[first + count - 1].sounder)) {
        add_part(h, letoff, first, count - pairs, PART_CHIME);
        add_strike(h, letoff, first + count - pairs, pairs, pairs / 2);
        return;
    }
    if (chime > 0)
        add_part(h, letoff, first, chime, PART_CHIME);
    if (chime < count) {
        add_strike(h, letoff, first + chime, count - chime, 0);
        h->part[h->part_count - 1].gap_s = chime ? gap_before(h, first + chime) : 0;
    }
}

/* ---- pace ---- */

/* Without a clock to compare with only what would be strange on any house clock; set-up values of ours. */
static const struct {
    double fast_s, slow_s;
} house_pace[] = {[PART_CHIME] = {0.2, 1.6}, [PART_STRIKE] = {0.45, 3.5}};

#define PAUSE 1.35          /* an interval so many times the usual one is a pause between changes */
#define SOUND_JITTER_S 0.005
#define TAP_JITTER_S 0.03

static void judge_pace(const struct hearing *h, struct heard_part *part)
{
    size_t n = 0;
    double *t_s = mem_alloc((part->count + 1) * sizeof *t_s);
    bool *skip = mem_alloc(part->count + 1);
    struct rhythm r;
    for (size_t i = 0; i < part->count; i++) {
        if (hearing_second_stroke(h, part, part->first + i))
            continue;
        t_s[n] = h->blow[part->first + i].t_s;
        skip[n] = part->kind == PART_CHIME && n > 0 && t_s[n] - t_s[n - 1] > PAUSE * part->interval_s;
        n++;
    }
    bool tapped = h->sounder[h->blow[part->first].sounder].tapped;
    rhythm_of(&r, t_s, skip, n, 0, tapped ? TAP_JITTER_S : SOUND_JITTER_S, NULL, 0);
    part->how |= (uint8_t)((r.dragging ? PART_DRAGGING : 0) | (r.uneven ? PART_UNEVEN : 0));
    if (r.intervals > 0)
        part->how |= (uint8_t)((r.mean_s > house_pace[part->kind].slow_s ? PART_SLOW : 0) |
                               (r.mean_s < house_pace[part->kind].fast_s ? PART_FAST : 0));
    mem_free(t_s);
    mem_free(skip);
}

void hearing_divide(struct hearing *h)
{
    int letoff = 0;
    h->part_count = 0;
    for (size_t first = 0; first < h->blow_count; letoff++) {
        size_t count = letoff_length(h, first);
        divide_letoff(h, letoff, first, count);
        first += count;
    }
    for (size_t p = 0; p < h->part_count; p++)
        judge_pace(h, &h->part[p]);
}

/* ---- telling ---- */

void hearing_to_events(const struct hearing *h, struct event_list *events)
{
    for (size_t p = 0; p < h->part_count; p++) {
        const struct heard_part *part = &h->part[p];
        bool chime = part->kind == PART_CHIME;
        for (size_t i = part->first; i < part->first + part->count; i++) {
            const struct heard_blow *b = &h->blow[i];
            event_list_add(events, (struct event){
                                       .t_s = b->t_s,
                                       .letoff = (int16_t)part->letoff,
                                       .kind = chime ? EVENT_NOTE : EVENT_BLOW,
                                       .train = chime ? TRAIN_CHIME : TRAIN_STRIKE,
                                       .sounder = b->sounder,
                                       .quality = b->quality,
                                       .strength = b->strength,
                                   });
        }
    }
}

static void write_notes(const struct hearing *h, const struct heard_part *part, char *notes)
{
    size_t length = strlen(notes);
    for (size_t i = part->first; i < part->first + part->count && length + 1 < HEARING_NOTES_MOST; i++)
        notes[length++] = h->blow[i].sounder < 9 ? (char)('1' + h->blow[i].sounder) : '?';
    notes[length] = 0;
}

size_t hearing_rows(const struct hearing *h, struct heard_row *rows, size_t most)
{
    size_t count = 0;
    int letoff = -1;
    for (size_t p = 0; p < h->part_count; p++) {
        const struct heard_part *part = &h->part[p];
        if (part->letoff != letoff) {
            letoff = part->letoff;
            if (count++ < most)
                rows[count - 1] = (struct heard_row){.t_s = h->blow[part->first].t_s, .strike_p = 1};
        }
        if (count > most)
            continue;
        struct heard_row *row = &rows[count - 1];
        row->until_s = h->blow[part->first + part->count - 1].t_s;
        if (part->kind == PART_CHIME || part->pairs)
            write_notes(h, part, row->notes);
        if (part->kind == PART_CHIME) {
            row->note_interval_s = part->interval_s;
            row->note_how |= part->how;
        } else {
            row->strike = part->strikes;
            row->strike_p = part->strikes_p;
            row->strike_interval_s = part->interval_s;
            row->gap_s = part->gap_s;
            row->strike_how |= part->how;
        }
    }
    return count;
}

void hearing_how_words(unsigned how, struct text *t)
{
    static const struct {
        unsigned bit;
        const char *word;
    } words[] = {
        {PART_SLOW, "slow"}, {PART_FAST, "fast"}, {PART_DRAGGING, "dragging"}, {PART_UNEVEN, "uneven"},
        {PART_WEAK, "weak"}, {PART_BUZZ, "buzz"}, {PART_THUD, "thud"},         {PART_DOUBLE, "double"},
    };
    bool any = false;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (how & words[i].bit) {
            text_addf(t, "%s%s", any ? ", " : "", words[i].word);
            any = true;
        }
}

static const char *number_word(size_t n, char room[24])
{
    static const char *const words[] = {"no",  "one",   "two",   "three", "four", "five",   "six",
                                        "seven", "eight", "nine", "ten",   "eleven", "twelve"};
    if (n < sizeof words / sizeof *words)
        return words[n];
    snprintf(room, 24, "%zu", n);
    return room;
}

static size_t sounders_in(const struct hearing *h, const struct heard_part *part)
{
    bool used[256] = {false};
    size_t n = 0;
    for (size_t i = part->first; i < part->first + part->count; i++) {
        n += !used[h->blow[i].sounder];
        used[h->blow[i].sounder] = true;
    }
    return n;
}

static void tell_chime(const struct hearing *h, const struct heard_part *part, struct text *t)
{
    char a[24], b[24];
    size_t n = sounders_in(h, part);
    text_addf(t, "%s sounder%s, %s note%s", number_word(n, a), n == 1 ? "" : "s", number_word(part->count, b),
              part->count == 1 ? "" : "s");
}

static void tell_strike(const struct hearing *h, const struct heard_part *part, bool after_chime, struct text *t)
{
    char a[24], b[24];
    const char *place = "";
    if (after_chime && part->first > 0)
        place = h->blow[part->first].sounder > h->blow[part->first - 1].sounder ? " lower" : " other";
    const char *times = part->strikes == 1 ? "time" : "times";
    if (part->pairs)
        text_addf(t, "%s sounders in turn, %s %s", number_word(sounders_in(h, part), b),
                  number_word((size_t)part->strikes, a), times);
    else
        text_addf(t, "one%s sounder %s %s", place, number_word((size_t)part->strikes, a), times);
}

void hearing_summary(const struct hearing *h, struct text *t)
{
    if (h->part_count == 0) {
        text_add(t, "No blow was heard.");
        return;
    }
    for (size_t p = 0; p < h->part_count; p++) {
        const struct heard_part *part = &h->part[p];
        bool follows = p > 0 && h->part[p - 1].letoff == part->letoff;
        text_add(t, p == 0 ? "" : follows ? ", then " : " ");
        size_t start = t->length;
        if (part->kind == PART_CHIME)
            tell_chime(h, part, t);
        else
            tell_strike(h, part, follows, t);
        if (!follows && t->at[start] >= 'a' && t->at[start] <= 'z')
            t->at[start] = (char)(t->at[start] - 'a' + 'A');
        if (part->how) {
            text_add(t, " (");
            hearing_how_words(part->how, t);
            text_add(t, ")");
        }
        bool last = p + 1 == h->part_count || h->part[p + 1].letoff != part->letoff;
        text_add(t, last ? "." : "");
    }
}
