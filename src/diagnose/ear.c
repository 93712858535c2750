#include "diagnose/ear.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

const struct ear_model ear_usual = {
    .miscount = 0.01,
    .miscount_each = 0.006,
    .asleep = 0.01,
    .dreamt = 0.004,
    .slip = 0.01,
    .word_hit = 0.8,
    .word_false = 0.02,
    .unnoticed = 0.5,
    .normal_anyway = 0.12,
    .tune_missed = 0.15,
    .note_slip = 3.4, /* who writes notes down gets one in thirty wrong */
    .pace_spread = 0.15,
};

const struct ear_model ear_recording = {
    .miscount = 0.006,
    .miscount_each = 0.002,
    .asleep = 0.003,
    .dreamt = 1e-7,
    .slip = 0.005,
    .word_hit = 0.75,
    .word_false = 0.03,
    .unnoticed = 0.5,
    .normal_anyway = 0.12,
    .tune_missed = 0.15,
    .note_slip = 6.5, /* doubts about single blows come as readings of their own */
    .pace_spread = 0.25,
};

/* ---- counts ---- */

double ear_count(const struct ear_model *m, int made, int heard)
{
    if (made == heard)
        return made == 0         ? 1 - m->dreamt
               : made >= HEARD_ENDLESS ? 0.95
                                 : 1 - m->miscount - m->miscount_each * fmin(made, 24) - m->asleep;
    if (heard == 0)
        return m->asleep;
    if (made == 0)
        return m->dreamt / 12;
    if (made >= HEARD_ENDLESS) /* counted as far as patience went */
        return heard > 12 ? 0.02 : 0.001;
    if (heard >= HEARD_ENDLESS)
        return made > 16 ? 0.3 : made > 12 ? 0.08 : 0.002;
    double wrong = m->miscount + m->miscount_each * fmin(made, 24);
    int apart = abs(made - heard);
    return wrong * (apart == 1 ? 0.4 : apart == 2 ? 0.06 : 0.004);
}

static int made_count(const struct train_sound *t)
{
    return train_sound_endless(t) ? HEARD_ENDLESS : t->count;
}

/* The train whose counts the caller speaks of as the strike. */
static const struct train_sound *strike_of(const struct sounding *s)
{
    return &s->train[TRAIN_STRIKE];
}

static double count_wrong(const struct ear_model *m, int made, int due)
{
    if (made == due)
        return m->miscount + m->miscount_each * fmin(made, 24) + 0.01;
    if (made == 0) /* most people call that silence, not a wrong number */
        return 0.2;
    return made >= HEARD_ENDLESS ? 0.4 : 0.95;
}

/* "Right" is seldom counted out at each hour, so one blow more or less may pass. */
static double count_right(const struct ear_model *m, int made, int due)
{
    if (made == due)
        return 0.97;
    if (made == 0 || made >= HEARD_ENDLESS)
        return m->slip;
    double pass = abs(made - due) == 1 ? 0.01 + 0.01 * fmin(due, 12) : 0.01;
    return fmax(pass, ear_count(m, made, due));
}

#define SILENT_ROUND 12 /* who says "silent at three" has heard nothing so many minutes round it */

/* "Silent" was said: nothing, or it came so late that it was taken for something else. */
static double silence_told(const struct ear_at *a, const struct heard *h, const struct train_sound *t)
{
    if (!t->falls)
        return 1 - a->model->dreamt;
    int told = h->at.kind == AT_EXACT ? h->at.min : a->dial_min;
    int off = abs(((a->shown_min + t->minute - told) % 720 + 720 + 360) % 720 - 360);
    return off <= SILENT_ROUND ? a->model->asleep : 0.25;
}

/* A word that stands for the strike by itself, or for one of several. */
static double word_told(const struct ear_model *m, enum heard_strike word, int made, int due)
{
    switch (word) {
    case HEARD_STRIKE_RIGHT:
        return count_right(m, made, due);
    case HEARD_STRIKE_WRONG:
    case HEARD_STRIKE_SAME_ERROR: /* of one let-off; of several see same_error.c */
        return count_wrong(m, made, due);
    case HEARD_STRIKE_SOME:
        return made ? 0.98 : m->dreamt;
    case HEARD_STRIKE_HOURS:
        return made > 1 ? 0.95 : made == 1 ? 0.08 : m->dreamt;
    default:
        return 1;
    }
}

static double one_of_counts(const struct ear_model *m, int made, const struct heard *h, int due)
{
    bool error = h->strike == HEARD_STRIKE_ERROR_SET;
    double p = 0;
    for (size_t i = 0; i < h->values; i++) {
        int value = h->value[i];
        p += error       ? ear_count(m, made, value + due)
             : value < 0 ? word_told(m, (enum heard_strike) - value, made, due)
                         : ear_count(m, made, value);
    }
    return fmin(1, p);
}

double ear_strike(const struct ear_model *m, const struct heard *h, int made, int due)
{
    switch (h->strike) {
    case HEARD_STRIKE_UNSAID:
    case HEARD_STRIKE_UNNOTICED:
        return 1;
    case HEARD_STRIKE_COUNT:
        return ear_count(m, made, h->value[0]);
    case HEARD_STRIKE_NONE:
        return ear_count(m, made, 0);
    case HEARD_STRIKE_RUNS_ON:
        return ear_count(m, made, HEARD_ENDLESS);
    case HEARD_STRIKE_RIGHT:
    case HEARD_STRIKE_WRONG:
    case HEARD_STRIKE_SOME:
    case HEARD_STRIKE_HOURS:
    case HEARD_STRIKE_SAME_ERROR:
        return word_told(m, h->strike, made, due);
    case HEARD_STRIKE_ERROR:
        return due + h->value[0] < 0 ? m->slip : ear_count(m, made, due + h->value[0]);
    case HEARD_STRIKE_SET:
    case HEARD_STRIKE_ERROR_SET:
        return one_of_counts(m, made, h, due);
    }
    return 1;
}

static int around(int minutes)
{
    int m = ((minutes % 720) + 720) % 720;
    return m > 360 ? m - 720 : m;
}

/* Where a blow falls by itself some minutes before the others, the row speaks of that one if its time is nearer. */
static bool tells_of_early(const struct ear_at *a, const struct heard *h)
{
    int early_min = a->shown_min + strike_of(a->sound)->minute, told;
    if (!a->sound->early || (h->at.kind != AT_EXACT && h->at.kind != AT_MINUTE))
        return false;
    told = h->at.kind == AT_EXACT ? h->at.min : ear_nearest(h->at.min, a->shown_min);
    return abs(around(told - early_min)) < abs(around(told - a->shown_min));
}

static int told_count(const struct ear_at *a, const struct heard *h)
{
    int made = made_count(strike_of(a->sound)), early = a->sound->early;
    return !early || made >= HEARD_ENDLESS ? made : tells_of_early(a, h) ? early : made - early;
}

static double row_strike(const struct ear_at *a, const struct heard *h)
{
    if (h->strike == HEARD_STRIKE_NONE)
        return silence_told(a, h, strike_of(a->sound));
    return ear_strike(a->model, h, told_count(a, h), made_count(strike_of(a->due)));
}

/* ---- tunes ---- */

#define NOTES_MOST 64

/* Edit distance of two note orders; `?` in the heard one fits any note, `.` is a missing note. */
static int notes_apart(const char *heard, size_t heards, const uint8_t *made, size_t mades)
{
    int row[NOTES_MOST + 1];
    if (heards > NOTES_MOST)
        heards = NOTES_MOST;
    if (mades > NOTES_MOST)
        mades = NOTES_MOST;
    for (size_t j = 0; j <= mades; j++)
        row[j] = (int)j;
    for (size_t i = 1; i <= heards; i++) {
        int corner = row[0];
        bool gap = heard[i - 1] == '.';
        row[0] = (int)i;
        for (size_t j = 1; j <= mades; j++) {
            char c = heard[i - 1];
            int bell = c >= 'a' && c <= 'g' ? c - 'a' + 10 : c - '0';
            int change = corner + (c == '?' || bell == made[j - 1] ? 0 : 1);
            int drop = row[j] + (gap ? 0 : 1), add = row[j - 1] + 1;
            corner = row[j];
            row[j] = change < drop ? (change < add ? change : add) : (drop < add ? drop : add);
        }
    }
    return row[mades];
}

/* The train that sounds the quarters: the chime, or the strike where it does both. */
static const struct train_sound *quarters_of(const struct ear_at *a, const struct sounding *s)
{
    return clock_train(a->clock, TRAIN_CHIME)   ? &s->train[TRAIN_CHIME]
           : clock_train(a->clock, TRAIN_MUSIC) ? &s->train[TRAIN_MUSIC]
                                                : &s->train[TRAIN_STRIKE];
}

static bool has_quarters(const struct ear_at *a)
{
    return clock_train(a->clock, TRAIN_CHIME) || a->clock->lobes > 2;
}

static double chime_right(const struct ear_at *a, const struct train_sound *made,
                          const struct train_sound *due)
{
    if (made->sequence == due->sequence && made->falls == due->falls)
        return 0.97;
    if (!made->falls || train_sound_endless(made))
        return a->model->slip;
    return made->falls == due->falls ? a->model->tune_missed : 0.05;
}

static double chime_wrong(const struct ear_at *a, const struct train_sound *made,
                          const struct train_sound *due)
{
    (void)a;
    if (made->sequence == due->sequence && made->falls == due->falls)
        return 0.03;
    if (!made->falls)
        return 0.4; /* a tune that is out is also one that stays away at times */
    return made->falls == due->falls ? 0.8 : 0.95;
}

/* "It does not stop chiming": a quarter of the length due is hardly ever called that, one that is half as
 * long again may be. */
static double chime_runs_on(const struct ear_at *a, const struct train_sound *made, const struct train_sound *due)
{
    if (train_sound_endless(made))
        return 0.95;
    if (!made->falls)
        return a->model->dreamt / 12;
    return 2 * made->falls >= 3 * due->falls ? 0.05 : 0.002;
}

/* A chime told of a clock that has none: seldom is the strike called so once a technician wrote it down. */
#define CHIME_ELSEWHERE 0.02

static double one_chime(const struct ear_at *a, const struct heard *h, enum heard_chime chime)
{
    const struct train_sound *made = quarters_of(a, a->sound), *due = quarters_of(a, a->due);
    bool told = chime != HEARD_CHIME_UNSAID && chime != HEARD_CHIME_UNNOTICED;
    if (told && chime != HEARD_CHIME_NONE && !has_quarters(a))
        return CHIME_ELSEWHERE;
    switch (chime) {
    case HEARD_CHIME_UNSAID:
    case HEARD_CHIME_UNNOTICED:
        return 1;
    case HEARD_CHIME_NONE:
        if (!has_quarters(a)) /* they only said there is no chime */
            return 1;
        return silence_told(a, h, made);
    case HEARD_CHIME_RIGHT:
        return chime_right(a, made, due);
    case HEARD_CHIME_WRONG:
        return chime_wrong(a, made, due);
    case HEARD_CHIME_SOME:
        return made->falls ? 0.98 : a->model->dreamt;
    case HEARD_CHIME_RUNS_ON:
        return chime_runs_on(a, made, due);
    }
    return 1;
}

/* One of several: any of them. */
static double row_chime(const struct ear_at *a, const struct heard *h)
{
    double p = one_chime(a, h, h->chime);
    for (int chime = 0; h->chime_also >> chime; chime++)
        p += h->chime_also >> chime & 1 ? one_chime(a, h, (enum heard_chime)chime) : 0;
    return fmin(1, p);
}

static double row_notes(const struct ear_at *a, const struct heard *h)
{
    if (!h->notes[0])
        return 1;
    const struct train_sound *made = quarters_of(a, a->sound);
    size_t length;
    const uint8_t *note = sounding_sequence(a->pool, made->sequence, &length);
    int apart = notes_apart(h->notes, strlen(h->notes), note, length);
    double slip = a->model->note_slip;
    return length ? 0.9 * exp(-slip * apart) : a->model->dreamt * exp(-0.15 * slip * apart);
}

static int phrases_of(const struct ear_at *a, const struct train_sound *t)
{
    const struct train *chime = clock_train(a->clock, TRAIN_CHIME);
    if (!chime || !chime->tunes)
        return t->count;
    const struct tune *tune = chime->tune[0];
    double per = tune->changes ? (double)tune->notes / tune->changes : 4;
    return (int)lround(t->falls / per);
}

static double row_phrases(const struct ear_at *a, const struct heard *h)
{
    if (h->phrases < 0)
        return 1;
    const struct train_sound *t = quarters_of(a, a->sound);
    if (train_sound_endless(t))
        return 0.01;
    int made = phrases_of(a, t), apart = abs(made - h->phrases);
    return apart == 0 ? 0.93 : made == 0 ? a->model->dreamt : apart == 1 ? 0.03 : 0.008;
}

/* The dial minute of the lobe that sounds quarter q (1..3, 4 the hour), as its due order. */
static const struct train_sound *quarter_due(const struct ear_at *a, int q, const struct tune *t,
                                             struct train_sound *room, size_t *first, size_t *notes)
{
    (void)a;
    memset(room, 0, sizeof *room);
    int change = 0;
    for (int i = 1; i < q && i <= t->quarters; i++)
        change += t->quarter[i - 1];
    int end = change + (q <= t->quarters ? t->quarter[q - 1] : 0);
    *first = (size_t)t->change_at[change % (t->changes ? t->changes : 1)];
    *notes = 0;
    for (int i = change; i < end && t->changes; i++)
        *notes += (size_t)(t->change_at[i % t->changes + 1] - t->change_at[i % t->changes]);
    room->falls = (uint16_t)*notes;
    return room;
}

static bool sounds_quarter(const struct ear_at *a, const struct train_sound *made, int q,
                           bool *length_fits)
{
    const struct train *chime = clock_train(a->clock, TRAIN_CHIME);
    struct train_sound due;
    size_t first, notes, length;
    if (!chime || !chime->tunes || !chime->tune[0]->notes) {
        *length_fits = made->count == (q == 4 ? 4 : q);
        return *length_fits;
    }
    const struct tune *t = chime->tune[0];
    quarter_due(a, q, t, &due, &first, &notes);
    const uint8_t *note = sounding_sequence(a->pool, made->sequence, &length);
    *length_fits = made->falls == notes;
    if (length != notes)
        return false;
    for (size_t i = 0; i < notes; i++)
        if (note[i] != t->note[(first + i) % (size_t)t->notes])
            return false;
    return true;
}

static int quarter_at(int dial_min)
{
    int q = dial_min % 60 / 15;
    return q == 0 ? 4 : q;
}

static double row_quarter(const struct ear_at *a, const struct heard *h)
{
    if (!h->quarter && !h->quarter_shift)
        return 1;
    int q = h->quarter ? h->quarter : (quarter_at(a->dial_min) - 1 + h->quarter_shift + 4) % 4 + 1;
    const struct train_sound *made = quarters_of(a, a->sound);
    bool fits;
    if (sounds_quarter(a, made, q, &fits))
        return 0.93;
    if (!made->falls || train_sound_endless(made))
        return a->model->dreamt;
    return fits ? 0.45 : 0.03;
}

/* ---- which hammers, in which order, at which pace ---- */

static size_t sounders_used(const struct ear_at *a, const struct sounding *s, bool used[256])
{
    size_t length, count = 0;
    const uint8_t *b = sounding_sequence(a->pool, strike_of(s)->sequence, &length);
    memset(used, 0, 256 * sizeof used[0]);
    for (size_t i = 0; i < length; i++)
        if (!used[b[i]]) {
            used[b[i]] = true;
            count++;
        }
    return count;
}

static double row_hammers(const struct ear_at *a, const struct heard *h)
{
    bool used[256];
    if (h->hammers == HAMMERS_UNSAID)
        return 1;
    size_t count = sounders_used(a, a->sound, used);
    const double no = 0.03, yes = 0.9;
    switch (h->hammers) {
    case HAMMERS_UNSAID:
    case HAMMERS_OUTER:
    case HAMMERS_INNER:
        return 1;
    case HAMMERS_SINGLE:
    case HAMMERS_HIGH:
    case HAMMERS_LOW:
        return count == 1 ? yes : no;
    case HAMMERS_BOTH:
        return count >= 2 ? yes : no;
    case HAMMERS_ALL:
        return count >= 1 ? yes : no;
    case HAMMERS_NONE:
        return count == 0 ? yes : no;
    }
    return 1;
}

static bool sounder_is(const struct ear_at *a, uint8_t sounder, enum heard_order what)
{
    const char *voice = sounder < a->clock->sounders ? a->clock->sounder[sounder].voice : NULL;
    const char *name = sounder < a->clock->sounders ? a->clock->sounder[sounder].name : NULL;
    voice = voice ? voice : "";
    name = name ? name : "";
    bool call = strstr(voice, "cuckoo") || strstr(voice, "pipe") || strstr(name, "cuckoo") ||
                strstr(name, "call") || strstr(name, "pipe");
    if (what == ORDER_CALL)
        return call;
    return (what == ORDER_GONG || what == ORDER_BELL) && !call;
}

/* First time (in falls) that something of the kind is heard; -1 never. */
static int first_in(const struct ear_at *a, const struct sounding *sounding, enum heard_order what)
{
    if (what == ORDER_CHIME)
        return sounding->train[TRAIN_CHIME].falls ? 0 : -1;
    if (what == ORDER_STRIKE)
        return strike_of(sounding)->falls ? 1 : -1;
    if (what == ORDER_MUSIC)
        return sounding->train[TRAIN_MUSIC].falls ? 1000 : -1;
    size_t length;
    const uint8_t *b = sounding_sequence(a->pool, strike_of(sounding)->sequence, &length);
    for (size_t i = 0; i < length; i++)
        if (sounder_is(a, b[i], what))
            return (int)i;
    return -1;
}
static int first_of(const struct ear_at *a, enum heard_order what)
{
    return first_in(a, a->sound, what);
}

static double row_order(const struct ear_at *a, const struct heard *h)
{
    double p = 1;
    for (size_t i = 0; i + 1 < h->orders; i++) {
        int one = first_of(a, h->order[i]), two = first_of(a, h->order[i + 1]);
        p *= one < 0 || two < 0 ? 0.15 : one < two ? 0.95 : 0.04;
    }
    return p;
}

static double near_ratio(double told, double made, double spread)
{
    if (made <= 0)
        return 0.3;
    double e = log(told / made) / spread;
    return 0.02 + 0.98 * exp(-0.5 * e * e);
}

static double row_intervals(const struct ear_at *a, const struct heard *h)
{
    const struct train_sound *t =
        strike_of(a->sound)->falls ? strike_of(a->sound) : quarters_of(a, a->sound);
    double p = 1, told = h->interval_s;
    for (size_t i = 0; i < h->intervals && told <= 0; i++)
        told = h->intervals_s[i]; /* the first positive one stands for the pace */
    if (told > 0)
        p *= near_ratio(told, t->gap / 20.0, a->model->pace_spread);
    if (h->pause_s > 0 && a->sound->pause)
        p *= near_ratio(h->pause_s, a->sound->pause / 10.0, 2 * a->model->pace_spread);
    return p;
}

/* ---- when ---- */

double ear_minute(int really, int told, int due, bool about)
{
    int off = abs(around(really - told));
    if (about)
        return off <= 2 ? 1 : off <= 5 ? 0.7 : off <= 8 ? 0.3 : off <= 12 ? 0.06 : 0.005;
    /* "at three": the three o'clock strike, told by its name */
    if (around(told - due) == 0) {
        static const double named[] = {1, 1, 0.8, 0.5, 0.3, 0.22, 0.12, 0.08, 0.06, 0.05, 0.04};
        return off < 11 ? named[off] : 0.01;
    }
    /* a minute is named because it was not the due one: then it was hardly on time */
    static const double on_time[] = {1, 0.3, 0.12, 0.06, 0.04, 0.03};
    if (around(really - due) == 0)
        return off < 6 ? on_time[off] : 0.004;
    static const double fine[] = {1, 0.7, 0.4, 0.2, 0.08, 0.04};
    static const double five[] = {1, 0.9, 0.8, 0.6, 0.4, 0.25, 0.12, 0.07, 0.04};
    if (off > 8)
        return 0.004;
    return told % 5 == 0 ? five[off] : off > 5 ? 0.008 : fine[off];
}

bool ear_answers(const struct heard *h, const struct words *words, int due_min)
{
    return h->at.kind == AT_EXACT && around(h->at.min - due_min) == 0 && heard_how(h, words, HOW_BY_HAND);
}

int ear_nearest(int minute, int to)
{
    return to + (((minute - to) % 60 + 90) % 60 - 30);
}

static bool told_silence(const struct heard *h)
{
    return h->strike == HEARD_STRIKE_NONE || h->chime == HEARD_CHIME_NONE;
}

/* Only rows that name a minute speak of when it sounded. */
static double row_minute(const struct ear_at *a, const struct heard *h)
{
    const struct train_sound *t =
        strike_of(a->sound)->falls ? strike_of(a->sound) : quarters_of(a, a->sound);
    if (!t->falls)
        return 1;
    int really = a->shown_min + (a->sound->early && !tells_of_early(a, h) ? 0 : t->minute);
    if (told_silence(h)) /* what is told to be silent is not told to be on time */
        return 1;
    if (h->at.kind == AT_EXACT)
        return ear_answers(h, a->words, a->dial_min) ? 1 : ear_minute(really, h->at.min, a->dial_min, h->at.about);
    if (h->at.kind == AT_MINUTE)
        return ear_minute(really, ear_nearest(h->at.min, really), ear_nearest(a->dial_min, really), h->at.about);
    if (h->at.kind == AT_RULE) { /* "every hour": at the hour, unless late or early is said */
        bool said = heard_how(h, a->words, "late") || heard_how(h, a->words, "early") ||
                    heard_how(h, a->words, "varying_time") || h->has_for;
        return said ? 1 : ear_minute(really, a->dial_min, a->dial_min, false);
    }
    return 1;
}

/* ---- how ---- */

struct quality {
    const char *word;
    double (*degree)(const struct ear_at *a);
    double told_anyway; /* chance that it is told when it is not there; 0: ear_model's word_false */
    int blows;          /* who says it speaks of so many blows in a run at least */
    bool may_be_still;  /* it may be said where nothing sounded at all */
};
#define MATTER_OF_TASTE 0.15

static const struct train_sound *loudest(const struct ear_at *a)
{
    const struct train_sound *q = quarters_of(a, a->sound), *s = strike_of(a->sound);
    return s->falls ? s : q;
}

static double any_train(const struct ear_at *a, unsigned bit)
{
    unsigned some = 0;
    for (int i = 0; i < TRAINS; i++)
        some |= a->sound->train[i].some;
    return some & bit ? 1 : 0;
}

static double ramp(double x, double low, double high)
{
    return x <= low ? 0 : x >= high ? 1 : (x - low) / (high - low);
}

/* Pace against the clock's own, whichever train is further off; 3 eighths = 30 %. */
static double pace(const struct ear_at *a, int sign)
{
    double most = -100;
    for (int i = 0; i < TRAINS; i++)
        if (a->sound->train[i].falls > 1)
            most = fmax(most, sign * (a->sound->train[i].pace - a->due->train[i].pace));
    return ramp(most, 0.9, 3);
}

static double q_slow(const struct ear_at *a)
{
    return pace(a, 1);
}
static double q_fast(const struct ear_at *a)
{
    return pace(a, -1);
}
static double q_uneven(const struct ear_at *a)
{
    double most = 0;
    for (int i = 0; i < TRAINS; i++)
        most = fmax(most, (double)a->sound->train[i].uneven - a->due->train[i].uneven);
    return ramp(most, 1, 4);
}
static double drag(const struct ear_at *a, int sign)
{
    double most = 0;
    for (int i = 0; i < TRAINS; i++)
        most = fmax(most, sign * (double)(a->sound->train[i].drag - a->due->train[i].drag));
    return ramp(most, 0.9, 3);
}
static double q_slowing(const struct ear_at *a)
{
    return drag(a, 1);
}
static double q_speeding(const struct ear_at *a)
{
    return drag(a, -1);
}
static double q_silent(const struct ear_at *a)
{
    return sounding_silent(a->sound);
}
static double q_runs_on(const struct ear_at *a)
{
    for (int i = 0; i < TRAINS; i++)
        if (train_sound_endless(&a->sound->train[i]))
            return 1;
    return 0;
}
static double q_stops(const struct ear_at *a)
{
    for (int i = 0; i < TRAINS; i++)
        if (a->sound->train[i].flags & (SOUNDING_STALLED | SOUNDING_JAMMED))
            return 1;
    return a->sound->halt != STUCK_NOT ? 0.7 : 0;
}
static double q_midway(const struct ear_at *a)
{
    for (int i = 0; i < TRAINS; i++)
        if (a->sound->train[i].flags & SOUNDING_STALLED && a->sound->train[i].falls)
            return 1;
    return q_stops(a) * 0.3;
}
static double q_loud(const struct ear_at *a)
{
    return any_train(a, QUALITY_LOUD);
}
static double q_soft(const struct ear_at *a)
{
    return any_train(a, QUALITY_WEAK);
}
static double q_dull(const struct ear_at *a)
{
    return fmax(any_train(a, QUALITY_THUD), 0.5 * any_train(a, QUALITY_WEAK));
}
static double q_thud(const struct ear_at *a)
{
    return any_train(a, QUALITY_THUD);
}
static double q_buzz(const struct ear_at *a)
{
    return any_train(a, QUALITY_BUZZ);
}
static double q_double(const struct ear_at *a)
{
    return any_train(a, QUALITY_DOUBLE);
}
static double q_tinny(const struct ear_at *a)
{
    return any_train(a, QUALITY_TINNY);
}
static double q_click(const struct ear_at *a)
{
    unsigned flags = 0;
    for (int i = 0; i < TRAINS; i++)
        flags |= a->sound->train[i].flags;
    return sounding_silent(a->sound) && flags & (SOUNDING_CLICKED | SOUNDING_WARNED) ? 1 : 0;
}
static double q_whirr(const struct ear_at *a)
{
    unsigned flags = 0;
    for (int i = 0; i < TRAINS; i++)
        flags |= a->sound->train[i].flags;
    return sounding_silent(a->sound) && flags & (SOUNDING_MOVED | SOUNDING_WARNED) ? 1 : 0;
}
static double q_late(const struct ear_at *a)
{
    const struct train_sound *t = loudest(a);
    return t->falls ? ramp(around(a->shown_min + t->minute - a->dial_min), 0.5, 3) : 0;
}
static double q_early(const struct ear_at *a)
{
    const struct train_sound *t = loudest(a);
    return t->falls ? ramp(-around(a->shown_min + t->minute - a->dial_min), 0.5, 3) : 0;
}
static double q_on_both(const struct ear_at *a)
{
    bool used[256];
    size_t made = sounders_used(a, a->sound, used), due = sounders_used(a, a->due, used);
    return made > due ? 1 : 0;
}
static double q_wrong_sounder(const struct ear_at *a)
{
    bool made[256], due[256];
    sounders_used(a, a->sound, made);
    sounders_used(a, a->due, due);
    for (int i = 0; i < 256; i++)
        if (made[i] && !due[i])
            return 1;
    return 0;
}

/* Orders of notes, made and due. */
struct notes {
    const uint8_t *made, *due;
    size_t mades, dues;
};
static struct notes notes_of(const struct ear_at *a)
{
    struct notes n;
    n.made = sounding_sequence(a->pool, quarters_of(a, a->sound)->sequence, &n.mades);
    n.due = sounding_sequence(a->pool, quarters_of(a, a->due)->sequence, &n.dues);
    return n;
}
static double q_note_missing(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    const size_t most = n.dues > 4 ? n.dues / 4 : 1; /* the same note may come in each phrase */
    return n.mades && n.mades < n.dues && n.mades + most >= n.dues ? 1 : 0;
}
static double q_last_missing(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    return n.mades && n.dues && n.made[n.mades - 1] != n.due[n.dues - 1] ? 1 : 0;
}
static double q_last_first(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    if (n.mades < 2 || n.dues < 2 || n.made[0] == n.due[0])
        return 0;
    size_t same = 0, most = n.mades - 1 < n.dues ? n.mades - 1 : n.dues;
    for (size_t i = 0; i < most; i++)
        same += n.made[i + 1] == n.due[i];
    return same + 1 >= most ? 1 : 0;
}
static double q_first_missing(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    return n.mades && n.dues && n.made[0] != n.due[0] ? 1 : 0;
}
static double q_first_last(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    if (n.mades < 2 || n.dues < 2 || n.made[0] == n.due[0])
        return 0;
    size_t same = 0, most = n.mades < n.dues - 1 ? n.mades : n.dues - 1;
    for (size_t i = 0; i < most; i++)
        same += n.made[i] == n.due[i + 1];
    return same + 1 >= most ? 1 : 0;
}
static double q_swapped(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    if (n.mades != n.dues || !n.mades)
        return 0;
    size_t off = 0;
    for (size_t i = 0; i < n.mades; i++)
        off += n.made[i] != n.due[i];
    return off == 0 ? 0 : off * 2 <= n.mades ? 1 : 0.5;
}
static double q_jumbled(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    if (!n.mades || !n.dues)
        return 0;
    size_t off = n.mades > n.dues ? n.mades - n.dues : n.dues - n.mades;
    for (size_t i = 0; i < n.mades && i < n.dues; i++)
        off += n.made[i] != n.due[i];
    return ramp((double)off, 0, 3);
}
static double phrase_shift(const struct ear_at *a, int shift)
{
    const struct train_sound *made = quarters_of(a, a->sound);
    bool fits;
    int q = (quarter_at(a->dial_min) - 1 + shift + 4) % 4 + 1;
    return sounds_quarter(a, made, q, &fits) ? 1 : fits && made->falls ? 0.4 : 0;
}
static double q_ahead(const struct ear_at *a)
{
    return phrase_shift(a, 1);
}
static double q_behind(const struct ear_at *a)
{
    return phrase_shift(a, -1);
}
static double q_many(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    return n.mades > n.dues;
}
/* Hammers of two tunes at once: more notes than are due there, and closer. */
static double q_together(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    const struct train_sound *made = quarters_of(a, a->sound), *due = quarters_of(a, a->due);
    return n.mades > n.dues && made->gap && !train_sound_endless(made) ? ramp((double)due->gap / made->gap, 1.2, 1.5) : 0;
}
static double q_few(const struct ear_at *a)
{
    struct notes n = notes_of(a);
    return n.mades && n.mades < n.dues;
}
static double q_long_pause(const struct ear_at *a)
{
    return a->sound->pause > 1.5 * a->due->pause + 10 ? 1 : 0;
}
static double q_no_pause(const struct ear_at *a)
{
    return a->due->pause > 8 && strike_of(a->sound)->falls && a->sound->pause < 0.4 * a->due->pause ? 1 : 0;
}
static double q_jams(const struct ear_at *a)
{
    for (int i = 0; i < TRAINS; i++)
        if (a->sound->train[i].flags & SOUNDING_JAMMED)
            return 1;
    return a->sound->halt == STUCK_WARNING || a->sound->halt == STUCK_TAIL ? 1
           : a->sound->halt != STUCK_NOT                                   ? 0.5
                                                                           : 0;
}
static double q_hands_along(const struct ear_at *a)
{
    return a->sound->halt == STUCK_WARNING || a->sound->halt == STUCK_TAIL ||
                   a->sound->halt == STUCK_HANDS
               ? 1
               : 0;
}
static double q_gong_fails(const struct ear_at *a)
{
    return first_in(a, a->due, ORDER_GONG) >= 0 && first_of(a, ORDER_CALL) >= 0 && first_of(a, ORDER_GONG) < 0;
}
static double q_call_fails(const struct ear_at *a)
{
    return first_in(a, a->due, ORDER_CALL) >= 0 && first_of(a, ORDER_CALL) < 0 && first_of(a, ORDER_GONG) >= 0;
}
static double q_one_tone(const struct ear_at *a)
{
    bool made[256], due[256];
    size_t mades = sounders_used(a, a->sound, made), dues = sounders_used(a, a->due, due);
    return mades && mades < dues && first_of(a, ORDER_CALL) >= 0;
}
static double q_wrong(const struct ear_at *a)
{
    return a->sound == a->due ? 0 : 1;
}
static double q_right(const struct ear_at *a)
{
    return a->sound == a->due ? 1 : 0;
}

/* To add a quality: a row here, a function above that reads it from the sounding.  Words that
 * concern several let-offs (irregular, unreliable) have no row: see evidence.c. */
static const struct quality qualities[] = {
    {"silent", q_silent, .may_be_still = true},
    {"slow", q_slow, 0, 2},
    {"fast", q_fast, 0, 2},
    {"uneven", q_uneven, MATTER_OF_TASTE, 3},
    {"slowing", q_slowing, 0, 3},
    {"speeding_up", q_speeding, 0, 3},
    {"runs_on", q_runs_on},
    {"stops", q_stops, .may_be_still = true},
    {"stops_midway", q_midway},
    {"loud", q_loud, MATTER_OF_TASTE},
    {"soft", q_soft, MATTER_OF_TASTE},
    {"weak_first", q_soft},
    {"weak_last", q_soft},
    {"dull", q_dull, MATTER_OF_TASTE},
    {"thud", q_thud},
    {"buzz", q_buzz},
    {"double", q_double},
    {"tinny", q_tinny},
    {"cracked", q_buzz},
    {"click_only", q_click, .may_be_still = true},
    {"whirr_only", q_whirr, .may_be_still = true},
    {"late", q_late, .may_be_still = true},
    {"early", q_early, .may_be_still = true},
    {"on_both", q_on_both},
    {"wrong_sounder", q_wrong_sounder},
    {"one_note_missing", q_note_missing},
    {"last_note_missing", q_last_missing},
    {"last_note_first", q_last_first},
    {"first_note_missing", q_first_missing},
    {"first_note_last", q_first_last},
    {"notes_swapped", q_swapped},
    {"jumbled", q_jumbled},
    {"phrase_ahead", q_ahead},
    {"phrase_behind", q_behind},
    {"too_many_notes", q_many},
    {"too_few_notes", q_few},
    {"notes_together", q_together, MATTER_OF_TASTE},
    {"long_pause", q_long_pause, MATTER_OF_TASTE},
    {"no_pause", q_no_pause, MATTER_OF_TASTE},
    {"jams", q_jams, .may_be_still = true},
    {"bound", q_stops, .may_be_still = true},
    {"takes_hands_along", q_hands_along, .may_be_still = true},
    {"gong_fails", q_gong_fails},
    {"call_fails", q_call_fails},
    {"one_tone_call", q_one_tone},
    {"wrong", q_wrong, .may_be_still = true},
    {"right", q_right, .may_be_still = true},
};

static const struct quality *quality_of(const char *word)
{
    for (size_t i = 0; i < sizeof qualities / sizeof *qualities; i++)
        if (qualities[i].word[0] == word[0] && strcmp(qualities[i].word, word) == 0) /* asked for every outcome */
            return &qualities[i];
    return NULL;
}

static const struct quality *quality_at(const struct words *words, int how_ordinal)
{
    const struct word *w = words_at(words, WORD_HOW, (size_t)how_ordinal);
    return w ? quality_of(w->id) : NULL;
}

double ear_quality(const struct ear_at *a, int how_ordinal)
{
    const struct quality *q = quality_at(a->words, how_ordinal);
    return q ? q->degree(a) : -1;
}

bool ear_judges(const struct words *words, int how_ordinal)
{
    return quality_at(words, how_ordinal) != NULL;
}

bool ear_tells_sound(const struct heard *h, const struct words *words)
{
    for (int i = -1; (i = word_set_next(&h->how, i)) >= 0;) {
        const struct quality *q = quality_at(words, i);
        if (q && !q->may_be_still)
            return true;
    }
    return false;
}

static double told_anyway(const struct ear_model *m, const struct quality *q)
{
    return q && q->told_anyway > 0 ? q->told_anyway : m->word_false;
}

/* Qualities nobody takes for the clock's own manner: when they are there and a row that tells of
 * the sound does not mention them, they went unnoticed. */
static double (*const noticeable[])(const struct ear_at *a) = {q_slow, q_fast, q_uneven, q_thud,
                                                              q_buzz, q_double, q_loud};

static double most_noticeable(const struct ear_at *a)
{
    double most = 0;
    for (size_t i = 0; i < sizeof noticeable / sizeof *noticeable; i++)
        most = fmax(most, noticeable[i](a));
    return most;
}

/* The longest run of blows that is due there, or came. */
static int longest_run(const struct ear_at *a)
{
    int most = 0;
    for (int i = 0; i < TRAINS; i++)
        for (int k = 0; k < 2; k++) {
            int falls = (k && a->sound ? a->sound : a->due)->train[i].falls;
            most = falls > most ? falls : most;
        }
    return most;
}

static bool told_of_chime(const struct heard *h)
{
    return h->chime == HEARD_CHIME_RIGHT || h->chime == HEARD_CHIME_WRONG || h->chime == HEARD_CHIME_SOME;
}

static bool told_of_strike(const struct heard *h)
{
    return h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_UNNOTICED && h->strike != HEARD_STRIKE_NONE;
}

/* "The quarters are right, the hour is silent": of two trains the one that is told not to sound is meant. */
static double degree_of(const struct quality *q, const struct ear_at *a, const struct heard *h)
{
    if (q->degree == q_silent && h->strike == HEARD_STRIKE_NONE && told_of_chime(h))
        return strike_of(a->sound)->falls == 0;
    if (q->degree == q_silent && h->chime == HEARD_CHIME_NONE && told_of_strike(h) && has_quarters(a))
        return quarters_of(a, a->sound)->falls == 0;
    return q->degree(a);
}

static double row_how(const struct ear_at *a, const struct heard *h)
{
    const struct ear_model *m = a->model;
    double p = 1;
    bool told = false;
    for (int i = -1; (i = word_set_next(&h->how, i)) >= 0;) {
        const struct quality *q = quality_at(a->words, i);
        if (!q)
            continue;
        told = true;
        if (q->blows > longest_run(a))
            continue;
        double anyway = told_anyway(m, q);
        p *= anyway + (m->word_hit - anyway) * degree_of(q, a, h);
    }
    if (told || sounding_silent(a->sound))
        return p;
    double off = most_noticeable(a);
    if (heard_how(h, a->words, "normal"))
        return p * (1 - off * (1 - m->normal_anyway));
    return p * (1 - off * (1 - m->unnoticed));
}

/* Something besides words of its sound. */
static bool told_more(const struct heard *h)
{
    return (h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_UNNOTICED) ||
           (h->chime != HEARD_CHIME_UNSAID && h->chime != HEARD_CHIME_UNNOTICED) || h->notes[0] || h->phrases >= 0 ||
           h->quarter || h->quarter_shift || h->hammers != HAMMERS_UNSAID || h->orders || h->intervals ||
           h->interval_s > 0 || h->pause_s > 0 || h->stopped != STOPPED_NOTHING;
}

bool ear_means(const struct ear_at *a, const struct heard *h)
{
    if (told_more(h) || word_set_empty(&h->how))
        return true;
    int run = longest_run(a);
    for (int i = -1; (i = word_set_next(&h->how, i)) >= 0;) {
        const struct quality *q = quality_at(a->words, i);
        if (!q || q->blows <= run)
            return true;
    }
    return false;
}

double ear_best(const struct ear_at *a, const struct heard *h)
{
    double p = 1;
    if (h->strike != HEARD_STRIKE_UNSAID && h->strike != HEARD_STRIKE_UNNOTICED)
        p *= 0.95;
    if (h->chime != HEARD_CHIME_UNSAID && h->chime != HEARD_CHIME_UNNOTICED)
        p *= 0.95;
    p *= h->notes[0] || h->phrases >= 0 || h->quarter || h->quarter_shift ? 0.92 : 1;
    p *= h->hammers != HAMMERS_UNSAID ? 0.9 : 1;
    for (int i = -1; (i = word_set_next(&h->how, i)) >= 0;)
        p *= ear_judges(a->words, i) ? a->model->word_hit : 1;
    return p;
}

double ear_tune(const struct ear_at *a, const struct heard *h)
{
    return row_notes(a, h) * row_phrases(a, h) * row_quarter(a, h);
}

double ear_blows(const struct ear_at *a, const struct heard *h)
{
    return row_hammers(a, h) * row_order(a, h) * row_intervals(a, h);
}

double ear_word(const struct ear_model *m, const char *word, double degree)
{
    double anyway = told_anyway(m, quality_of(word));
    return anyway + (m->word_hit - anyway) * degree;
}

double ear_row(const struct ear_at *a, const struct heard *h)
{
    double p = row_strike(a, h);
    p *= row_chime(a, h);
    p *= ear_tune(a, h);
    p *= ear_blows(a, h);
    p *= row_minute(a, h);
    return p * row_how(a, h);
}

/* ---- standing still ---- */

static double kind_stopped(const struct ear_at *a, enum heard_stopped what)
{
    const struct sounding *s = a->sound;
    bool strike = s->train[TRAIN_STRIKE].flags & (SOUNDING_STALLED | SOUNDING_JAMMED) ||
                  s->halt == STUCK_STRIKE;
    bool chime = s->train[TRAIN_CHIME].flags & (SOUNDING_STALLED | SOUNDING_JAMMED) ||
                 s->halt == STUCK_CHIME;
    bool music = s->train[TRAIN_MUSIC].flags & (SOUNDING_STALLED | SOUNDING_JAMMED) ||
                 s->halt == STUCK_MUSIC;
    bool clock = s->halt == STUCK_TAIL || s->halt == STUCK_WARNING || s->halt == STUCK_GOING;
    bool hands = s->halt == STUCK_HANDS;
    switch (what) {
    case STOPPED_NOTHING:
        return 1;
    case STOPPED_HANDS: /* many say "the hands" of a clock that stands altogether */
        return hands ? 0.95 : clock ? 0.5 : 0;
    case STOPPED_CLOCK:
        return clock ? 0.95 : hands ? 0.4 : 0;
    case STOPPED_TRAIN:
        return strike || chime || music ? 0.9 : 0;
    case STOPPED_STRIKE:
        return strike ? 0.95 : 0;
    case STOPPED_CHIME:
        return chime ? 0.95 : 0;
    case STOPPED_MUSIC:
        return music ? 0.95 : 0;
    }
    return 0;
}

static bool in_window(const struct sheet_at *at, int minute)
{
    int turn = at->any_hour ? 60 : 720;
    int span = ((at->end_min - at->min) % turn + turn) % turn;
    int from = ((minute - at->min) % turn + turn) % turn;
    return from <= span;
}

static double window_fits(const struct sheet_at *at, int minute)
{
    for (int d = 0; d <= 6; d++)
        if (in_window(at, minute + d) || in_window(at, minute - d))
            return d <= 1 ? 1 : 0.7 - 0.1 * d;
    return 0.02;
}

double ear_stopped(const struct ear_at *a, const struct heard *h)
{
    double p = kind_stopped(a, h->stopped);
    for (int what = 0; h->stopped_also >> what; what++) /* one stand, told by all that it held */
        p = h->stopped_also >> what & 1 ? fmin(p, kind_stopped(a, (enum heard_stopped)what)) : p;
    if (p <= 0)
        return 0;
    int really = a->shown_min + a->sound->halt_min;
    switch (h->at.kind) {
    case AT_EXACT:
        return p * ear_minute(really, h->at.min, -1000, h->at.about);
    case AT_MINUTE:
        return p * ear_minute(really, ear_nearest(h->at.min, really), -1000, true);
    case AT_WINDOW:
        return p * window_fits(&h->at, really);
    case AT_RULE:
    case AT_ONE:
    case AT_UNKNOWN:
        return p;
    }
    return p;
}

/* ---- when nothing is known of the mechanism ---- */

double ear_blind(const struct heard *h, const struct words *words)
{
    double p = 1;
    switch (h->strike) {
    case HEARD_STRIKE_COUNT:
    case HEARD_STRIKE_ERROR:
        p *= 0.09;
        break;
    case HEARD_STRIKE_SET:
    case HEARD_STRIKE_ERROR_SET:
        p *= fmin(0.6, 0.09 * (double)h->values);
        break;
    case HEARD_STRIKE_NONE:
        p *= 0.2;
        break;
    case HEARD_STRIKE_RUNS_ON:
        p *= 0.03;
        break;
    case HEARD_STRIKE_RIGHT:
    case HEARD_STRIKE_WRONG:
    case HEARD_STRIKE_SAME_ERROR:
        p *= 0.4;
        break;
    default:
        break;
    }
    if (h->chime_also)
        p *= 0.6; /* as a set of counts */
    else if (h->chime == HEARD_CHIME_NONE || h->chime == HEARD_CHIME_RUNS_ON)
        p *= 0.2;
    else if (h->chime == HEARD_CHIME_RIGHT || h->chime == HEARD_CHIME_WRONG)
        p *= 0.4;
    if (h->notes[0]) /* what is known of the tune bears on some of the notes even then */
        p *= 0.02 * pow(0.4, fmax(0, (double)strlen(h->notes) - 4));
    if (h->phrases >= 0 || h->quarter || h->quarter_shift)
        p *= 0.2;
    if (h->stopped != STOPPED_NOTHING)
        p *= 0.1;
    size_t how = word_set_count(&h->how) - (heard_how(h, words, HOW_BY_HAND) ? 1 : 0);
    return p * pow(0.2, (double)(how > 3 ? 3 : how));
}
