#include "diagnose/attempt.h"

#include <math.h>
#include <string.h>
#include "mem.h"
#include "movement/move.h"

#define STATES_MOST 24   /* likeliest places where the clock may stand */
#define PLACE_LEAST 0.01 /* of all: of a less likely place the rest tell as much */
#define BRANCH_LEAST 5e-3 /* thirty notes that may be late have more ways than anybody waits for */
#define TOLD_ANYWAY 0.06 /* a result is told that did not come */
#define TOLD_RIGHT 0.9

/* One thing a caller may have done, in terms of the mechanism. */
enum deed {
    DEED_NONE,      /* nothing the mechanism shows */
    DEED_TRIP, DEED_PULL, DEED_WIND, DEED_FREE, DEED_LEVER, DEED_TURN_HOUR, DEED_TURN_QUARTER,
    DEED_TOUCH,     /* a tap or touch that sets off what only waits */
    DEED_HAMMER, DEED_WAIT, DEED_ROUND, DEED_RESET
};
static const struct {
    const char *word;
    enum deed deed;
} deeds[] = {
    {"trip_by_hand", DEED_TRIP},
    {"pull_weight", DEED_PULL},
    {"wind", DEED_WIND},
    {"hand_back", DEED_FREE},
    {"push_silent_lever", DEED_LEVER},
    {"turn_to_hour", DEED_TURN_HOUR},
    {"turn_to_quarter", DEED_TURN_QUARTER},
    {"tap_case", DEED_TOUCH},
    {"touch_warning_wheel", DEED_TOUCH},
    {"touch_hammer", DEED_HAMMER},
    {"wait_an_hour", DEED_WAIT},
    {"set_forward_strike_by_strike", DEED_ROUND},
    {"turn_round_all_hours", DEED_ROUND},
    {"reset_count", DEED_RESET},
};

static enum deed deed_of(const struct words *w, int ordinal)
{
    const struct word *word = words_at(w, WORD_DO, (size_t)ordinal);
    for (size_t i = 0; word && i < sizeof deeds / sizeof *deeds; i++)
        if (strcmp(deeds[i].word, word->id) == 0)
            return deeds[i].deed;
    return DEED_NONE;
}

/* What came of one deed, as far as a caller sees it. */
struct result {
    bool allowed;        /* the clock has the lever for it */
    bool sounded, right; /* hammers fell; as a sound clock in this state would */
    bool endless, freed, was_stuck, still_stuck, jammed;
    enum power_level had; /* before, of the train in question */
    double waits;        /* how far it only waited to be touched */
    uint32_t outcome, due;
};

static int role_of(const struct tried *t, const struct clock *c)
{
    if (t->train >= 0)
        return t->train;
    return clock_train(c, TRAIN_STRIKE) ? TRAIN_STRIKE : TRAIN_CHIME;
}

static int to_next(const struct clock *c, int from, int minute_of_hour)
{
    int ahead = 0;
    do
        ahead += clock_next_lobe(c, (from + ahead) % 1440);
    while (ahead < 720 && minute_of_hour >= 0 && (from + ahead) % 60 != minute_of_hour);
    return ahead;
}

/* Do it; false when the mechanism does not allow it. */
static bool carry_out(enum deed d, const struct tried *t, const struct works *w, struct moment *m,
                      struct chance *chance, struct event_list *out)
{
    const struct clock *c = w->clock;
    int role = role_of(t, c);
    switch (d) {
    case DEED_TRIP:
        if (t->train != TRAIN_STRIKE && movement_do(w, m, ACTION_TRIP_CHIME, 0, chance, out))
            return true;
        return movement_do(w, m, ACTION_TRIP_STRIKE, 0, chance, out);
    case DEED_PULL:
        return movement_do(w, m, ACTION_PULL_WEIGHT, role, chance, out);
    case DEED_WIND:
        return t->train >= 0 ? movement_do(w, m, ACTION_WIND_TRAIN, role, chance, out)
                             : movement_do(w, m, ACTION_WIND, 0, chance, out);
    case DEED_FREE:
        return movement_do(w, m, ACTION_FREE, 0, chance, out);
    case DEED_LEVER:
        movement_do(w, m, ACTION_SILENT_STRIKE, 0, chance, out);
        movement_do(w, m, ACTION_SILENT_CHIME, 0, chance, out);
        movement_turn(w, m, to_next(c, m->work_min, 0), BY_TIME, chance, out);
        return true;
    case DEED_TURN_HOUR:
    case DEED_RESET:
        movement_turn(w, m, to_next(c, m->work_min, 0), BY_HAND, chance, out);
        return true;
    case DEED_TURN_QUARTER:
        movement_turn(w, m, to_next(c, m->work_min, -1), BY_HAND, chance, out);
        return true;
    case DEED_WAIT: { /* past the next hour, then what the let-off after it does */
        struct event_list quiet = {0};
        movement_turn(w, m, to_next(c, m->work_min, 0), BY_TIME, chance, &quiet);
        event_list_release(&quiet);
        movement_turn(w, m, to_next(c, m->work_min, -1), BY_TIME, chance, out);
        return true;
    }
    default:
        return true;
    }
}

static uint32_t digest(struct clock_case *k, const struct event_list *out, const struct moment *m)
{
    int lobe = clock_lobe_at(k->clock, m->work_min);
    return sounding_digest(&k->pool, k->clock, lobe < 0 ? 0 : lobe, out, m->rest);
}

/* A touch sets off a train that is let go but does not start. */
static double waiting(const struct works *w, struct rest r)
{
    double most = r.flags & (REST_WARNED_STRIKE | REST_WARNED_CHIME) ? 0.9 : 0;
    for (int i = TRAIN_STRIKE; i < TRAINS; i++) {
        most = fmax(most, w->par[PAR_trip_gum + i] > 0 ? 0.9 : 0);
        most = fmax(most, w->par[PAR_warn_run + i] < 0.3 ? 0.8 : 0);
        most = fmax(most, w->par[PAR_stall + i] > 0 || w->par[PAR_friction + i] > 2 ? 0.6 : 0);
    }
    return most;
}

/* What comes of it in a sound clock that stands so. */
static uint32_t due_of(enum deed d, const struct tried *t, struct clock_case *k, const struct works *sound,
                       struct moment ideal, struct event_list *out)
{
    struct chance sure;
    event_list_clear(out);
    chance_script(&sure, 1);
    chance_rewind(&sure);
    ideal.rest.stuck = STUCK_NOT;
    carry_out(d, t, sound, &ideal, &sure, out);
    return digest(k, out, &ideal);
}

static struct result try_once(enum deed d, const struct tried *t, struct clock_case *k,
                              const struct works *w, uint32_t due_then, struct moment *m,
                              struct chance *chance, struct event_list *out)
{
    struct result r = {.due = due_then};
    int role = role_of(t, k->clock);
    r.was_stuck = m->rest.stuck != STUCK_NOT;
    r.had = w->par[PAR_dead + role] > 0.5 ? POWER_LOW : rest_power(m->rest, role);
    r.waits = waiting(w, m->rest);
    event_list_clear(out);
    r.allowed = carry_out(d, t, w, m, chance, out);
    r.still_stuck = m->rest.stuck != STUCK_NOT;
    r.freed = r.was_stuck && !r.still_stuck;
    m->t_s = 0;
    r.outcome = digest(k, out, m);
    const struct sounding *made = sounding_at(&k->pool, r.outcome), *due = sounding_at(&k->pool, r.due);
    r.sounded = !sounding_silent(made);
    r.right = r.sounded;
    for (int i = 0; i < TRAINS; i++) {
        r.right &= made->train[i].falls == due->train[i].falls &&
                   made->train[i].sequence == due->train[i].sequence;
        r.endless |= train_sound_endless(&made->train[i]);
        r.jammed |= (made->train[i].flags & SOUNDING_JAMMED) != 0;
    }
    return r;
}

static double told(double degree)
{
    return TOLD_ANYWAY + (TOLD_RIGHT - TOLD_ANYWAY) * degree;
}

/* "It took fifteen turns" is told where winding takes many: of what has run down, less of what is low or cannot be
 * wound tight, and seldom of a train that goes in the midst of its week (judgement). */
static double turns_taken(enum power_level had)
{
    return had == POWER_OUT ? 1 : had == POWER_LOW ? 0.7 : 0.1;
}

/* How far a result word fits; -1 when it says nothing here. */
static double word_degree(const char *word, enum deed d, const struct result *r)
{
    bool touch = d == DEED_TOUCH;
    if (strcmp(word, "starts") == 0)
        return touch ? r->waits : r->sounded || r->freed ? 1 : r->waits * 0.6;
    if (strcmp(word, "nothing") == 0)
        return touch ? 1 - r->waits : r->sounded || r->freed ? 0 : 1;
    if (strcmp(word, "works") == 0 || strcmp(word, "works_once") == 0 || strcmp(word, "cured") == 0 ||
        strcmp(word, "right_amount") == 0)
        return touch ? r->waits : r->right ? 1 : r->sounded ? 0.2 : 0;
    if (strcmp(word, "stays_wrong") == 0 || strcmp(word, "returns") == 0)
        return r->right ? 0.1 : 1;
    if (strcmp(word, "frees") == 0)
        return r->freed ? 1 : 0.1;
    if (strcmp(word, "jams") == 0)
        return r->jammed ? 1 : 0;
    if (strcmp(word, "runs_on") == 0)
        return r->endless ? 1 : 0;
    if (strcmp(word, "took_turns") == 0)
        return turns_taken(r->had);
    if (strcmp(word, "took_none") == 0)
        return 0.75 * (1 - turns_taken(r->had));
    return -1;
}

#define HELPS_ANYWAY 0.1 /* another fault's cure seems to have helped */

static bool cured_by(const struct variant *v, const char *cure)
{
    return (v->fault && v->fault->cure && strcmp(v->fault->cure, cure) == 0) ||
           (v->second && v->second->cure && strcmp(v->second->cure, cure) == 0);
}

/* What is done that the mechanism has no action for is some faults' cure (words.yaml says which).  How far it fits that
 * this helped, or did not; -1 when it says nothing. */
static double remedy_degree(const struct word *action, const char *result, const struct variant *v)
{
    bool helped = strcmp(result, "cured") == 0 || strcmp(result, "works") == 0;
    bool failed = strcmp(result, "nothing") == 0 || strcmp(result, "stays_wrong") == 0 ||
                  strcmp(result, "returns") == 0;
    for (size_t i = 0; i < action->cures; i++)
        if (cured_by(v, action->cure[i]))
            return helped ? 1 : failed ? action->cure_fails[i] : -1;
    return !action->cures ? -1 : helped ? HELPS_ANYWAY : failed ? 1 : -1;
}

static double ring_degree(const struct works *w, const char *word)
{
    bool dead = w->par[PAR_hammers_dead_strike] > 0.5 || w->par[PAR_hammers_dead_chime] > 0.5 ||
                w->par[PAR_hammer_bound] >= 0;
    return strcmp(word, "rings") == 0 ? !dead : strcmp(word, "no_ring") == 0 ? dead : -1;
}

static double chance_told(const struct sheet *s, const struct tried *t, enum deed d,
                          struct clock_case *k, const struct variant *v, const struct works *w,
                          const struct filter_plan *plan, const struct ear_model *ear,
                          const struct result *r)
{
    double p = 1;
    if (!r->allowed)
        return 0.3; /* not a clock on which that can be done */
    const struct word *word = t->result >= 0 ? words_at(s->words, WORD_RESULT, (size_t)t->result) : NULL;
    if (word) {
        double degree =
            d == DEED_HAMMER ? ring_degree(w, word->id)
            : d == DEED_NONE || d == DEED_ROUND
                ? remedy_degree(words_at(s->words, WORD_DO, (size_t)t->action), word->id, v)
                : word_degree(word->id, d, r);
        p *= degree < 0 ? 1 : told(degree);
    }
    if (t->has_row && d != DEED_NONE && d != DEED_HAMMER && d != DEED_ROUND && !t->row.has_for) {
        struct ear_at at = plan->ear;
        struct heard row = t->row;
        row.at = (struct sheet_at){.kind = AT_UNKNOWN}; /* by hand: the minute does not count */
        at.model = ear;
        at.sound = sounding_at(&k->pool, r->outcome);
        at.due = sounding_at(&k->pool, r->due);
        p *= fmax(0.02, ear_row(&at, &row));
    }
    return p;
}

struct place {
    struct rest rest;
    double p;
};

/* Keep the likeliest places; they are few. */
static size_t place_add(struct place *at, size_t n, struct rest r, double p)
{
    for (size_t i = 0; i < n; i++)
        if (rest_same(at[i].rest, r)) {
            at[i].p += p;
            return n;
        }
    if (n < STATES_MOST) {
        at[n] = (struct place){r, p};
        return n + 1;
    }
    size_t least = 0;
    for (size_t i = 1; i < n; i++)
        if (at[i].p < at[least].p)
            least = i;
    if (p > at[least].p)
        at[least] = (struct place){r, p};
    return n;
}

/* One row of `tried` over all places that matter, in all ways that do; the places move on. */
static double one_attempt(const struct sheet *s, const struct tried *t, struct clock_case *k,
                          const struct variant *v, const struct works *w,
                          const struct filter_plan *plan, int work_min, const struct ear_model *ear,
                          struct place *at, size_t *n)
{
    const struct works *sound = outcome_table_works(&k->table[k->variant[0].table]);
    enum deed d = deed_of(s->words, t->action);
    struct place next[STATES_MOST];
    size_t nexts = 0;
    double sum = 0, before = 0, all = 0;
    struct event_list out = {0};
    for (size_t i = 0; i < *n; i++)
        all += at[i].p;
    for (size_t i = 0; i < *n; i++) {
        struct chance chance;
        if (at[i].p < PLACE_LEAST * all)
            continue;
        /* as moment_init would fill it, but for the state in step that is not wanted */
        const struct moment from = {.work_min = (work_min % 1440 + 1440) % 1440, .rest = at[i].rest};
        uint32_t due = due_of(d, t, k, sound, from, &out);
        chance_script(&chance, BRANCH_LEAST);
        do {
            chance_rewind(&chance);
            struct moment m = from;
            struct result r = try_once(d, t, k, w, due, &m, &chance, &out);
            before += at[i].p * chance.weight;
            double p = at[i].p * chance.weight * chance_told(s, t, d, k, v, w, plan, ear, &r);
            nexts = place_add(next, nexts, m.rest, p);
            sum += p;
        } while (chance_next(&chance));
    }
    event_list_release(&out);
    memcpy(at, next, nexts * sizeof *at);
    *n = nexts;
    return before > 0 ? sum / before : 1;
}

double attempt_chance(const struct sheet *sheet, struct clock_case *k, const struct variant *v,
                      const struct filter_plan *plan, const struct filter_space *space,
                      const struct ear_model *ear)
{
    const struct works *w = outcome_table_works(&k->table[v->table]);
    int last = plan->step[plan->steps - 1].letoff;
    int work_min = (k->classes.minute[last] + 1) % 1440;
    struct place at[STATES_MOST];
    size_t n = 0;
    double p = 1;
    for (size_t i = 0; i < space->ends; i++)
        if (space->end[i].p > 0)
            n = place_add(at, n, k->rows.state[space->end[i].state], space->end[i].p);
    for (size_t i = 0; i < sheet->trieds && n; i++)
        p *= one_attempt(sheet, &sheet->tried[i], k, v, w, plan, work_min, ear, at, &n);
    return p;
}
