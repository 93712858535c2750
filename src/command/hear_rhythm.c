#include "command/hear_rhythm.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"
#include "movement/works.h"

#define SOUND_JITTER_S 0.01
#define PAUSE 1.6 /* times the usual step: a rest of the tune, a hammer that does not sound, another let-off */

/* Blows of one train in order. */
struct beats {
    double *t_s;
    bool *skip; /* the interval before it is no step of the train */
    size_t count;
};

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* The step: nearly the least of the intervals, since rests only make them longer. */
static double step_of(const struct beats *b)
{
    double *between = mem_alloc((b->count + 1) * sizeof *between), step = 0;
    size_t n = 0;
    for (size_t i = 1; i < b->count; i++)
        if (!b->skip[i])
            between[n++] = b->t_s[i] - b->t_s[i - 1];
    if (n) {
        qsort(between, n, sizeof *between, by_size);
        step = between[n / 8];
    }
    mem_free(between);
    return step;
}

static void gather(const struct heard_clock *c, size_t letoff, size_t until, const struct hearing *h,
                   enum heard_role role, struct beats *b)
{
    b->t_s = mem_alloc((h->blow_count + 1) * sizeof *b->t_s);
    b->skip = mem_alloc((h->blow_count + 1) * sizeof *b->skip);
    for (size_t l = letoff; l < until; l++) {
        bool first = true;
        for (size_t i = c->letoff[l].first; i < c->letoff[l].first + c->letoff[l].count; i++)
            if (c->role[i] == role) {
                b->skip[b->count] = first;
                b->t_s[b->count++] = h->blow[i].t_s;
                first = false;
            }
    }
    double step = step_of(b);
    for (size_t i = 1; i < b->count; i++)
        b->skip[i] = b->skip[i] || b->t_s[i] - b->t_s[i - 1] > PAUSE * step;
}

static void release(struct beats *b)
{
    mem_free(b->t_s);
    mem_free(b->skip);
}

/* Serial numbers run on over a rest by as many steps as it lasted; from one let-off to the next the train
 * stood, so its next blow is the next number. */
static void fit_arbors(struct heard_rhythm *r, const struct beats *b)
{
    struct beat *beat = mem_alloc((b->count + 1) * sizeof *beat);
    double serial = 0;
    size_t n = 0;
    for (size_t i = 1; i < b->count; i++) {
        double between = b->t_s[i] - b->t_s[i - 1], steps = floor(between / r->rhythm.mean_s + 0.5);
        serial += b->skip[i] && steps > 1 && steps < 6 ? steps : 1;
        if (!b->skip[i])
            beat[n++] = (struct beat){serial, between};
    }
    r->arbors = arbors_fit(r->train, beat, n, 0, r->arbor);
    mem_free(beat);
}

static bool judge(struct heard_rhythm *r, const struct heard_clock *c, const struct clock *clock,
                  const struct hearing *h, bool chime, double jitter_s)
{
    struct beats b = {.count = 0};
    enum event_train role = chime ? TRAIN_CHIME : TRAIN_STRIKE;
    *r = (struct heard_rhythm){.chime = chime};
    gather(c, 0, c->letoffs, h, chime ? HEARD_NOTE : HEARD_COUNT, &b);
    r->blows = b.count;
    if (clock && (r->train = clock_train(clock, role)) != NULL) {
        struct works made;
        works_init(&made, clock, NULL, 0);
        r->usual_s = made.pace[role].interval_s[POWER_GOOD];
    }
    if (b.count >= 3)
        rhythm_of(&r->rhythm, b.t_s, b.skip, b.count, r->usual_s, jitter_s, NULL, 0);
    bool any = b.count >= 3 && r->rhythm.intervals >= 2;
    if (any && r->train && r->rhythm.uneven)
        fit_arbors(r, &b);
    release(&b);
    return any;
}

size_t hear_rhythm(const struct heard_clock *c, const struct clock *clock, const struct hearing *h,
                   double jitter_s, struct heard_rhythm to[HEAR_RHYTHMS])
{
    size_t n = 0;
    for (int chime = 0; chime < 2; chime++)
        n += judge(&to[n], c, clock, h, chime != 0, jitter_s);
    return n;
}

bool hear_note_rhythm(const struct heard_clock *c, size_t letoff, const struct hearing *h, struct rhythm *to)
{
    struct beats b = {.count = 0};
    gather(c, letoff, letoff + 1, h, HEARD_NOTE, &b);
    if (b.count >= 4)
        rhythm_of(to, b.t_s, b.skip, b.count, 0, SOUND_JITTER_S, NULL, 0);
    bool good = b.count >= 4 && to->intervals >= 3;
    release(&b);
    return good;
}

size_t hear_intervals(const struct heard_clock *c, size_t letoff, const struct hearing *h, double *to, size_t most)
{
    const struct heard_letoff *l = &c->letoff[letoff];
    enum heard_role role = l->strikes ? HEARD_COUNT : HEARD_NOTE;
    double last = -1;
    size_t n = 0;
    for (size_t i = l->first; i < l->first + l->count && n < most; i++)
        if (c->role[i] == role) {
            if (last >= 0)
                to[n++] = h->blow[i].t_s - last;
            last = h->blow[i].t_s;
        }
    return n;
}

/* ---- in words ---- */

static void say_pace(const struct heard_rhythm *r, struct text *t)
{
    const struct rhythm *y = &r->rhythm;
    text_addf(t, "%s: %zu %s, %.2f s apart", r->chime ? "Chime" : "Strike", r->blows, r->chime ? "notes" : "blows",
              y->mean_s);
    if (r->usual_s > 0)
        text_addf(t, " (this clock as made: about %.2f s%s)", r->usual_s, y->slow ? "; slow" : y->fast ? "; fast" : "");
    if (y->dragging)
        text_addf(t, "; dragging, each %.1f %% longer than the one before", 100 * y->drag);
    text_addf(t, "; %s.\n", y->uneven ? "uneven" : "even");
}

static void say_periods(const struct heard_rhythm *r, struct text *t)
{
    for (size_t i = 0; i < r->rhythm.period_count && i < 3; i++)
        text_addf(t, "  swings by %.0f %% once in %.2f blows (%.0f %%)\n", 100 * r->rhythm.period[i].swing,
                  r->rhythm.period[i].blows, 100 * r->rhythm.period[i].p);
}

static void say_arbors(const struct heard_rhythm *r, struct text *t)
{
    double wanted = 0;
    size_t fits = 0;
    for (size_t i = 0; i < r->arbors; i++)
        if (r->arbor[i].fits) {
            const struct arbor *a = &r->train->arbor[r->arbor[i].arbor];
            text_addf(t, "%s%s", fits++ ? ", " : "  Arbors that fit: ", a->name ? a->name : "an arbor");
            wanted = fmax(wanted, r->arbor[i].blows_wanted);
        }
    text_add(t, fits ? ".\n" : r->arbors ? "  No arbor of this train fits the unevenness.\n" : "");
    if (fits > 1 && wanted > 0)
        text_addf(t, "  About %.0f more %s would tell some of them apart.\n",
                  fmax(1, ceil(wanted - (double)r->rhythm.intervals)), r->chime ? "notes" : "blows");
    bool said = false;
    for (size_t i = 0; i < r->arbors; i++)
        if (r->arbor[i].unheard) {
            const char *name = r->train->arbor[r->arbor[i].arbor].name;
            text_addf(t, "%s%s", said ? ", " : "  Turn whole times a blow, so cannot be judged by ear: ",
                      name ? name : "an arbor");
            said = true;
        }
    text_add(t, said ? ".\n" : "");
}

void hear_rhythm_say(const struct heard_rhythm *r, struct text *t)
{
    say_pace(r, t);
    if (!r->rhythm.uneven)
        return;
    say_periods(r, t);
    say_arbors(r, t);
}
