/* count.c - the count wheel (locking plate): it keeps its own count.
 *
 * Each let-off raises the count lever out of a slot; the train runs and the lever drops into the
 * next slot that comes round.  The wheel knows nothing of the hands, so whatever moves one
 * without the other stays wrong until it is struck round (E. Beckett, Clocks, Watches and Bells,
 * 8th ed., f.169-172).
 *
 *     rest.count  the entry struck at the next let-off
 *     rest.left   blows left over when the lever dropped into no slot (0 none)
 *
 * A lever that drops late runs on into the next count; one that drops early leaves the rest for
 * the next let-off; one that never drops lets the train run down.
 */
#include "movement/passing_priv.h"

#include <math.h>

/* Let-offs of the train from its phase minute to `work_min`: the entry due there. */
int count_due(const struct clock *c, const struct train *t, int work_min)
{
    int n = 0, m = t->entry_phase_min;
    int span = (work_min - t->entry_phase_min) % 1440;
    if (span < 0)
        span += 1440;
    for (int i = 0; i < span;) {
        int lobe = clock_lobe_at(c, m), ahead = clock_next_lobe(c, m);
        if (lobe >= 0 && t->use[lobe].read == READ_COUNT)
            n++;
        i += ahead;
        m = (m + ahead) % 1440;
    }
    return t->entries ? n % t->entries : 0;
}

/* After how many blows an early lever drops: a geometric law cut off at the end of the count. */
static int early_stop(struct passing *p, int blows)
{
    double q = par(p, PAR_count_early), ways[CHANCE_WAYS], left = 1;
    int n = blows - 1 < CHANCE_WAYS - 1 ? blows - 1 : CHANCE_WAYS - 1;
    if (q <= 0 || n < 1)
        return blows;
    for (int i = 0; i < n; i++) {
        ways[i] = left * q;
        left *= 1 - q;
    }
    ways[n] = left;
    int at = (int)chance_pick(p->chance, ways, (unsigned)n + 1);
    return at == n ? blows : at + 1;
}

static bool lever_misses(struct passing *p, int entry)
{
    if ((int)lround(par(p, PAR_count_slot)) == entry && happens(p, PAR_count_slot_late))
        return true;
    return happens(p, PAR_count_late);
}

static int advance(const struct train *t, int entry)
{
    return t->entries ? (entry + 1) % t->entries : 0;
}

/* A lever held up passes the slots of so many blows: the wheel goes on by them. */
static void pass_held(struct passing *p, const struct train *t)
{
    struct rest *r = &p->m->rest;
    int blows = p->held_blows, left = r->left ? r->left : t->entry[r->count];
    while (blows >= left && blows > 0) {
        blows -= left;
        r->count = (uint8_t)advance(t, r->count);
        left = t->entry[r->count];
    }
    r->left = (uint8_t)(blows ? left - blows : 0);
}

/* Blows to the next slot that really takes the lever; moves the wheel on. */
static int blows_to_slot(struct passing *p, const struct train *t)
{
    struct rest *r = &p->m->rest;
    int blows = r->left ? r->left : t->entry[r->count];
    int entry = r->count;
    r->left = 0;
    for (int guard = 0; guard < 3 && lever_misses(p, entry); guard++) {
        entry = advance(t, entry);
        blows += t->entry[entry];
    }
    if ((int)lround(par(p, PAR_count_slot)) == entry && happens(p, PAR_count_slot_early) &&
        blows > 1) {
        r->left = 1;
        r->count = (uint8_t)entry;
        return blows - 1;
    }
    int stop = early_stop(p, blows);
    r->left = (uint8_t)(blows - stop);
    r->count = (uint8_t)(r->left ? entry : advance(t, entry));
    return stop;
}

struct run count_run(struct passing *p, enum event_train role, int lobe)
{
    const struct train *t = &p->c->train[role];
    struct run run = {.role = role, .pattern = t->use[lobe].pattern};
    struct rest *r = &p->m->rest;
    if (r->count >= t->entries)
        r->count = 0;
    run.odd_blow = t->use[lobe].odd_blow;
    run.letters = t->entry_hammers[r->count];
    if (p->held_blows)
        pass_held(p, t);
    if (happens(p, PAR_count_never)) {
        run.run_on = true;
        return run;
    }
    bool slips = happens(p, PAR_count_slip), holds = happens(p, PAR_count_hoop_off);
    int before = r->count;
    run.blows = blows_to_slot(p, t) + (holds ? 1 : 0);
    if (slips)
        r->count = (uint8_t)before;
    return run;
}
