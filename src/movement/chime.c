/* chime.c - quarters: the count wheel says how many changes, the drum which notes.
 *
 *     rest.quarter  entry of the quarter count wheel played next (1, 2, 3, 4 changes)
 *     rest.drum     change on the drum played next
 *     REST_CORRECTOR  locked after the third quarter: only the taller hour lobe frees it, so a
 *                   chime that is out of step falls silent until the hour and is then right
 *
 * The drum turns on by a fixed angle for each change, and stops just behind the last note:
 *
 *      |  1 2 3 4 . . | 3 1 2 4 . . |        gap: from note 4 to the next change
 *            stop here ^  (STOP_AFTER of a note gap behind the last note)
 *
 * so a drum that is late by more than that leaves its last note on the lift and sounds it first
 * next time, and one early by nearly the whole pause sounds the first note of the next change
 * at the end (mb.nawcc.org/threads/197116).  Nothing of this is written in: the notes sounded are
 * those whose place on the drum lies in the window it turns through.
 */
#include "movement/passing_priv.h"

#include <math.h>
#include "movement/power.h"

#define STOP_AFTER 0.3 /* of a note gap, ours */

/* Place of note `i` on the drum, in note gaps from its first change. */
static double note_place(const struct tune *u, int i)
{
    double at = 0;
    for (int c = 0; c < u->changes; c++) {
        if (i < u->change_at[c + 1])
            return at + (i - u->change_at[c]);
        at += u->change_at[c + 1] - u->change_at[c] - 1 + u->gap;
    }
    return at;
}

static double drum_round(const struct tune *u)
{
    return u->notes - u->changes + u->changes * u->gap;
}

/* Where the drum stands when the change `c` is played next. */
static double stop_place(const struct tune *u, int c)
{
    double at = note_place(u, u->change_at[c]) - u->gap + STOP_AFTER;
    return at;
}

static const struct tune *tune_set(const struct passing *p, const struct train *t)
{
    int i = p->m->rest.tune & 15;
    return t->tunes ? t->tune[i < t->tunes ? i : 0] : NULL;
}

/* Between two tunes wide tails catch the pins of both. */
static bool catches_both(const struct passing *p, const struct train *t)
{
    double side = par(p, PAR_drum_side);
    return t->tunes > 1 && par(p, PAR_tail_wide) > 0.5 && side > 0.25 && side < 0.75;
}

/* A drum shifted endways: its pins pass beside the hammer tails or only just catch them. */
static double side_strength(const struct passing *p, const struct train *t)
{
    double side = catches_both(p, t) ? 0 : par(p, PAR_drum_side);
    return side < 0.25 ? 1 : side < 0.45 ? 0.35 : side <= 0.55 ? 0 : 0.35;
}

static const struct tune *tune_beside(const struct passing *p, const struct train *t)
{
    return t->tune[((p->m->rest.tune & 15) + 1) % t->tunes];
}

static const struct tune *tune_under(const struct passing *p, const struct train *t)
{
    if (par(p, PAR_drum_side) > 0.55 && t->tunes > 1 && !catches_both(p, t))
        return tune_beside(p, t);
    return tune_set(p, t);
}

struct drum_note {
    double at; /* note gaps after the start of the run */
    int note;  /* index on the drum */
    const struct tune *tune; /* of this track */
};

/* Insertion sort: the list is a rotation, or two lists end to end. */
static void sort_notes(struct drum_note *list, int n)
{
    for (int i = 1; i < n; i++)
        for (int k = i; k > 0 && list[k].at < list[k - 1].at; k--) {
            struct drum_note swap = list[k];
            list[k] = list[k - 1];
            list[k - 1] = swap;
        }
}

/* Notes whose place lies in the window of `length` from `from`, in order; returns how many. */
static int notes_in(const struct passing *p, const struct tune *u, double from, double length,
                    struct drum_note *list, int room)
{
    double off = par(p, PAR_drum_late) + par(p, PAR_drum_notes), round_trip = drum_round(u);
    int n = 0;
    for (int i = 0; i < u->notes; i++) {
        double at = fmod(note_place(u, i) + off - from, round_trip);
        if (at < 0)
            at += round_trip;
        for (; at < length && n < room; at += round_trip)
            if (u->note[i])
                list[n++] = (struct drum_note){at, i, u};
    }
    sort_notes(list, n);
    return n;
}

static double window_length(const struct tune *u, int from, int changes)
{
    double sum = 0;
    for (int i = 0; i < changes; i++) {
        int c = (from + i) % u->changes;
        sum += u->change_at[c + 1] - u->change_at[c] - 1 + u->gap;
    }
    return sum;
}

#define RUN_NOTES 192

static void chime_stall(struct passing *p, int changes_left, bool out)
{
    if (out)
        passing_spent(p, TRAIN_CHIME);
    else
        passing_emit(p, EVENT_STALL, TRAIN_CHIME, -1, 0, 0);
    p->m->rest.stuck = out ? STUCK_NOT : STUCK_CHIME;
    p->m->rest.tune = (uint8_t)((p->m->rest.tune & 15) | (changes_left > 15 ? 15 : changes_left) << 4);
}

#define MEAN_CHANGES 2.5 /* of the four quarters */
#define STOP_PLACES 4

/* Time, in note gaps, when a train that seizes stops; beyond the end when it does not. */
static double seize_place(struct passing *p, double length, int changes)
{
    int at = passing_seizes(p, TRAIN_CHIME, changes / MEAN_CHANGES, STOP_PLACES);
    return at < 0 ? length + 9 : length * at / STOP_PLACES;
}

/* The same for what is left of the winding. */
static double spent_place(struct passing *p, double length)
{
    static const double even[STOP_PLACES] = {1, 1, 1, 1};
    if (!chance_yes(p->chance, par_train(p, PAR_runs_out, TRAIN_CHIME)))
        return length + 9;
    return length * chance_pick(p->chance, even, STOP_PLACES) / STOP_PLACES;
}

static bool note_falls(struct passing *p, const struct train *t, const struct drum_note *n, bool dead)
{
    int sounder = t->hammer[n->tune->note[n->note] - 1];
    if (!hammer_lifts(p, sounder))
        return false;
    double strength = side_strength(p, t);
    if (!dead && (int)lround(par(p, PAR_pin_bent)) != n->note && strength > 0)
        hammer_fall(p, TRAIN_CHIME, sounder, strength);
    return true;
}

/* The notes of the tune beside, whose changes take the same part of the drum. */
static int notes_beside(const struct passing *p, const struct train *t, int changes, double length,
                        struct drum_note *list, int room)
{
    const struct tune *u = tune_beside(p, t);
    int from = u->changes ? p->m->rest.drum % u->changes : 0;
    double own = window_length(u, from, changes);
    int n = notes_in(p, u, stop_place(u, from), own, list, room);
    for (int i = 0; i < n; i++)
        list[i].at *= own > 0 ? length / own : 1;
    return n;
}

/* Turn the drum by `changes`; false if the train stalled. */
static bool drum_turn(struct passing *p, const struct train *t, int changes, bool dead)
{
    const struct tune *u = tune_under(p, t);
    struct drum_note list[RUN_NOTES];
    struct rest *r = &p->m->rest;
    enum power_level level = passing_power(p, TRAIN_CHIME);
    double start = p->t_s;
    int shift = (int)lround(par(p, PAR_drum_changes)) % u->changes;
    int from = (r->drum + shift + u->changes) % u->changes;
    double length = window_length(u, from, changes), stop = seize_place(p, length, changes);
    double spent = spent_place(p, length);
    int n = notes_in(p, u, stop_place(u, from), length, list, RUN_NOTES);
    if (catches_both(p, t))
        n += notes_beside(p, t, changes, length, list + n, RUN_NOTES - n);
    sort_notes(list, n);
    double gap = pace_interval(works_pace(p->w, TRAIN_CHIME), level, 0), at = 0;
    for (int i = 0; i < n; i++) {
        gap = pace_interval(works_pace(p->w, TRAIN_CHIME), level, i);
        if (gap <= 0 || list[i].at > stop || list[i].at > spent ||
            !note_falls(p, t, &list[i], dead)) {
            chime_stall(p, changes, gap > 0 && list[i].at > spent);
            return false;
        }
        p->t_s += (i + 1 < n ? list[i + 1].at - list[i].at : length - list[i].at) * gap;
        at = list[i].at;
    }
    if (!n)
        p->t_s = start + length * (gap > 0 ? gap : 1);
    (void)at;
    if (u->changes)
        r->drum = (uint8_t)((r->drum + changes) % u->changes);
    p->m->used[TRAIN_CHIME] += n;
    return true;
}

/* How many changes this let-off plays, and where that leaves the count wheel. */
static int changes_due(struct passing *p, const struct train *t, int *played)
{
    struct rest *r = &p->m->rest;
    int left = r->tune >> 4;
    if (r->quarter >= t->entries)
        r->quarter = 0;
    int n = left ? left : t->entry[r->quarter];
    *played = r->quarter;
    r->tune &= 15;
    if (n > 1 && happens(p, PAR_chime_short)) {
        r->tune = (uint8_t)(r->tune | (n - 1) << 4);
        *played = -1;
        return 1;
    }
    r->quarter = (uint8_t)((r->quarter + 1) % t->entries);
    if (happens(p, PAR_chime_over)) {
        *played = r->quarter;
        n += t->entry[r->quarter];
        r->quarter = (uint8_t)((r->quarter + 1) % t->entries);
    }
    return n;
}

static void corrector_locks(struct passing *p, const struct train *t, int played)
{
    if (!t->corrector || played != t->entries - 2)
        return;
    if (!happens(p, PAR_corrector_no_lock))
        p->m->rest.flags |= REST_CORRECTOR;
}

void chime_run(struct passing *p)
{
    const struct train *t = &p->c->train[TRAIN_CHIME];
    bool dead = happens(p, PAR_hammers_dead_chime);
    int played = -1;
    if (happens(p, PAR_chime_never)) {
        if (drum_turn(p, t, 12, dead))
            passing_power_out(p, TRAIN_CHIME);
        return;
    }
    if (happens(p, PAR_drum_slip))
        p->m->rest.drum = (uint8_t)((p->m->rest.drum + t->tune[0]->changes - 1) % t->tune[0]->changes);
    int changes = changes_due(p, t, &played);
    if (!drum_turn(p, t, changes, dead))
        return;
    passing_emit(p, EVENT_LOCK, TRAIN_CHIME, -1, 0, 0);
    corrector_locks(p, t, played);
    if (played >= 0)
        passing_hand_over(p, BY_CHIME, (played + 1) % p->c->lobes);
}

void music_run(struct passing *p)
{
    const struct train *t = &p->c->train[TRAIN_MUSIC];
    const struct tune *u = tune_set(p, t);
    struct rest *r = &p->m->rest;
    enum power_level level = passing_power(p, TRAIN_MUSIC);
    if (!u || !u->notes)
        return;
    bool rest_only = r->flags & REST_PIN_PHASE, early = happens(p, PAR_music_early);
    int from = rest_only ? u->notes * 7 / 10 : 0, to = early && !rest_only ? u->notes * 7 / 10 : u->notes;
    for (int i = from; i < to; i++) {
        double gap = pace_interval(works_pace(p->w, TRAIN_MUSIC), level, i - from);
        if (gap <= 0) {
            passing_emit(p, EVENT_STALL, TRAIN_MUSIC, -1, 0, 0);
            r->stuck = STUCK_MUSIC;
            return;
        }
        if (u->note[i])
            hammer_fall(p, TRAIN_MUSIC, t->hammer[u->note[i] - 1], 1);
        p->t_s += gap;
    }
    r->flags = (uint8_t)(to < u->notes ? r->flags | REST_PIN_PHASE : r->flags & ~REST_PIN_PHASE);
    p->m->used[TRAIN_MUSIC] += to - from;
    passing_emit(p, EVENT_LOCK, TRAIN_MUSIC, -1, 0, 0);
}
