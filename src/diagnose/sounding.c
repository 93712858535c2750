#include "diagnose/sounding.h"

#include <math.h>
#include <string.h>
#include "mem.h"

#define AUDIBLE        0.02f /* below this strength a fall is not heard at all */
#define SOUNDINGS_MOST 65535

static uint32_t hash_bytes(const void *data, size_t length)
{
    const uint8_t *b = data;
    uint32_t h = 2166136261u; /* FNV-1a, 32 bits */
    for (size_t i = 0; i < length; i++)
        h = (h ^ b[i]) * 16777619u;
    return h ^ (h >> 15);
}

static void slots_rebuild(struct sounding_pool *p)
{
    size_t slots = p->slots ? p->slots * 2 : 256;
    while (2 * (p->count + 1) > slots)
        slots *= 2;
    mem_free(p->slot);
    p->slot = mem_alloc(slots * sizeof *p->slot);
    p->slots = slots;
    for (size_t i = 0; i < p->count; i++) {
        size_t at = hash_bytes(&p->at[i], sizeof p->at[i]) & (slots - 1);
        while (p->slot[at])
            at = (at + 1) & (slots - 1);
        p->slot[at] = (uint32_t)i + 1;
    }
}

uint32_t sounding_intern(struct sounding_pool *p, const struct sounding *s)
{
    if (2 * (p->count + 1) > p->slots)
        slots_rebuild(p);
    size_t at = hash_bytes(s, sizeof *s) & (p->slots - 1);
    while (p->slot[at]) {
        uint32_t id = p->slot[at] - 1;
        if (memcmp(&p->at[id], s, sizeof *s) == 0)
            return id;
        at = (at + 1) & (p->slots - 1);
    }
    p->at = mem_grow_lent(p->at, p->count, &p->room, p->count + 1, sizeof *p->at);
    p->at[p->count] = *s;
    p->slot[at] = (uint32_t)++p->count;
    return (uint32_t)p->count - 1;
}

static size_t sequence_length(const struct sounding_pool *p, size_t i)
{
    return p->sequence[i + 1] - p->sequence[i];
}

/* NULL for the first, which is empty, until there is another. */
static const uint8_t *sequence_bytes(const struct sounding_pool *p, size_t i)
{
    return p->byte ? p->byte + p->sequence[i] : NULL;
}

static void sequence_slots_rebuild(struct sounding_pool *p)
{
    size_t slots = p->sequence_slots ? p->sequence_slots * 2 : 256;
    while (2 * (p->sequences + 1) > slots)
        slots *= 2;
    mem_free(p->sequence_slot);
    p->sequence_slot = mem_alloc(slots * sizeof *p->sequence_slot);
    p->sequence_slots = slots;
    for (size_t i = 0; i < p->sequences; i++) {
        size_t at = hash_bytes(sequence_bytes(p, i), sequence_length(p, i)) & (slots - 1);
        while (p->sequence_slot[at])
            at = (at + 1) & (slots - 1);
        p->sequence_slot[at] = (uint32_t)i + 1;
    }
}

static uint16_t sequence_add(struct sounding_pool *p, const uint8_t *byte, size_t length)
{
    if (p->sequences >= SOUNDINGS_MOST)
        return 0;
    p->byte = mem_grow_lent(p->byte, p->bytes, &p->byte_room, p->bytes + length + 1, 1);
    memcpy(p->byte + p->bytes, byte, length);
    p->bytes += length;
    p->sequence = mem_grow_lent(p->sequence, p->sequences + 1, &p->sequence_room, p->sequences + 2, sizeof *p->sequence);
    p->sequence[++p->sequences] = (uint32_t)p->bytes;
    return (uint16_t)(p->sequences - 1);
}

uint16_t sounding_sequence_of(struct sounding_pool *p, const uint8_t *byte, size_t length)
{
    if (!length)
        return 0;
    if (2 * (p->sequences + 1) > p->sequence_slots)
        sequence_slots_rebuild(p);
    size_t at = hash_bytes(byte, length) & (p->sequence_slots - 1);
    while (p->sequence_slot[at]) {
        size_t id = p->sequence_slot[at] - 1;
        if (sequence_length(p, id) == length &&
            memcmp(p->byte + p->sequence[id], byte, length) == 0)
            return (uint16_t)id;
        at = (at + 1) & (p->sequence_slots - 1);
    }
    uint16_t id = sequence_add(p, byte, length);
    p->sequence_slot[at] = (uint32_t)id + 1;
    return id;
}

void sounding_pool_init(struct sounding_pool *p)
{
    memset(p, 0, sizeof *p);
    p->sequence = mem_grow(NULL, &p->sequence_room, 2, sizeof *p->sequence);
    p->sequence[0] = p->sequence[1] = 0;
    p->sequences = 1; /* the empty one */
    struct sounding nothing;
    memset(&nothing, 0, sizeof nothing);
    sounding_intern(p, &nothing);
}

void sounding_pool_release(struct sounding_pool *p)
{
    if (p->room)
        mem_free(p->at);
    if (p->byte_room)
        mem_free(p->byte);
    if (p->sequence_room)
        mem_free(p->sequence);
    mem_free(p->slot);
    mem_free(p->sequence_slot);
    memset(p, 0, sizeof *p);
}

const uint8_t *sounding_sequence(const struct sounding_pool *p, uint32_t sequence, size_t *length)
{
    *length = sequence_length(p, sequence);
    return p->byte ? p->byte + p->sequence[sequence] : (const uint8_t *)"";
}

/* What is gathered of one train while its events go by. */
struct gather {
    double first_s, last_s, round_s, release_s, warn_s, interval[SOUNDING_ENDLESS];
    uint8_t leader; /* sounder of the first fall; round_s is when it fell last */
    bool released, warned;
    size_t intervals;
    uint8_t order[SOUNDING_SEQUENCE];
    size_t falls, early, per_sounder[256];
    uint8_t some, all, flags;
};

static int bell_of(const struct train *t, uint8_t sounder)
{
    int bells = t->tunes ? t->tune[0]->bells : 0;
    for (int i = 0; i < bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return sounder + 1;
}

static void gather_fall(struct gather *g, const struct train *t, const struct event *e)
{
    if (e->strength < AUDIBLE) {
        g->flags |= SOUNDING_MOVED;
        return;
    }
    if (!g->falls)
        g->leader = e->sounder;
    if (e->sounder == g->leader)
        g->round_s = e->t_s;
    if (!g->falls)
        g->first_s = e->t_s;
    else if (e->t_s - g->last_s >= EARLY_GAP_S)
        g->early = g->falls; /* no interval of the run */
    else if (g->intervals < SOUNDING_ENDLESS)
        g->interval[g->intervals++] = e->t_s - g->last_s;
    g->last_s = e->t_s;
    if (g->falls < SOUNDING_SEQUENCE)
        g->order[g->falls] = e->kind == EVENT_NOTE ? (uint8_t)bell_of(t, e->sounder) : e->sounder;
    g->falls++;
    g->per_sounder[e->sounder]++;
    g->some |= e->quality;
    g->all &= e->quality;
    g->flags |= SOUNDING_MOVED;
}

static void gather_event(struct gather *g, const struct train *t, const struct event *e)
{
    switch ((enum event_kind)e->kind) {
    case EVENT_BLOW:
    case EVENT_NOTE:
        gather_fall(g, t, e);
        break;
    case EVENT_WARN:
        if (!g->warned)
            g->warn_s = e->t_s;
        g->warned = true;
        g->flags |= SOUNDING_WARNED;
        break;
    case EVENT_RELEASE:
        if (!g->released)
            g->release_s = e->t_s;
        g->released = true;
        g->flags |= SOUNDING_MOVED;
        break;
    case EVENT_CLICK:
        g->flags |= SOUNDING_CLICKED;
        break;
    case EVENT_LOCK:
        g->flags |= SOUNDING_LOCKED;
        break;
    case EVENT_STALL:
        g->flags |= SOUNDING_STALLED;
        break;
    case EVENT_JAM:
        g->flags |= SOUNDING_JAMMED;
        break;
    case EVENT_RUN_ON:
        g->flags |= SOUNDING_RUN_ON;
        break;
    case EVENT_POWER_OUT:
        g->flags |= SOUNDING_OUT;
        break;
    default:
        break;
    }
}

/* Several sounders worked at each count (ding-dong, call and gong): one count is one round of
 * them.  Where every count has a single fall, or repeats the same bell, each fall is counted. */
static bool counts_by_round(const struct train *t, int lobe)
{
    const struct lobe_use *use = &t->use[t->by == BY_LOBES && lobe >= 0 ? lobe : 0];
    const struct pattern *p = &t->pattern[use->pattern];
    for (int i = 1; i < p->strokes; i++)
        if (p->stroke[i].sounder != p->stroke[0].sounder)
            return true;
    return false;
}

static size_t most_of_one_sounder(const struct gather *g)
{
    size_t most = 0;
    for (size_t i = 0; i < 256; i++)
        if (g->per_sounder[i] > most)
            most = g->per_sounder[i];
    return most;
}

static double mean(const double *v, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    return n ? sum / (double)n : 0;
}

static int8_t eighths(double ratio)
{
    double e = ratio > 0 ? 8 * log2(ratio) : 0;
    return (int8_t)lround(fmax(-100, fmin(100, e)));
}

/* The pace of a run: a hammer that does not sound leaves gaps but makes no two falls closer, so
 * nearly the least interval is what the train goes at. */
static double quick(const double *v, size_t n)
{
    double least[2] = {1e9, 1e9};
    for (size_t i = 0; i < n; i++) {
        if (v[i] < least[0]) {
            least[1] = least[0];
            least[0] = v[i];
        } else if (v[i] < least[1]) {
            least[1] = v[i];
        }
    }
    return n > 5 ? least[1] : least[0];
}

/* Tempo of a run.  Rounds of several sounders are uneven by nature, so there only the mean from
 * the first sounder's first fall to its last against the clock's own counts. */
static void gather_tempo(const struct gather *g, const struct train *t, bool rounds,
                         struct train_sound *s)
{
    if (!g->intervals || s->count < 2)
        return;
    double own = t->power.interval_s;
    double m = rounds ? (g->round_s - g->first_s) / fmax(1, (double)g->per_sounder[g->leader] - 1)
                      : mean(g->interval, g->intervals);
    if (m <= 0)
        return;
    if (own > 0)
        s->pace = eighths((rounds ? m : quick(g->interval, g->intervals)) / own);
    s->gap = (uint8_t)fmin(255, round(m * 20));
    if (rounds || g->intervals < 2)
        return;
    double spread = 0;
    for (size_t i = 0; i < g->intervals; i++)
        spread += (g->interval[i] - m) * (g->interval[i] - m);
    spread = m > 0 ? sqrt(spread / (double)g->intervals) / m : 0;
    s->uneven = (uint8_t)fmin(60, round(spread * 20));
    size_t third = g->intervals > 5 ? g->intervals / 3 : 1;
    s->drag = eighths(mean(g->interval + g->intervals - third, third) / mean(g->interval, third));
}

static int8_t whole_minutes(double s)
{
    return (int8_t)lround(fmax(-120, fmin(120, s / 60)));
}

static void gather_close(struct gather *g, struct sounding_pool *p, const struct clock *c, int role,
                         int lobe, struct train_sound *s)
{
    const struct train *t = &c->train[role];
    bool rounds = role == TRAIN_STRIKE && counts_by_round(t, lobe);
    size_t count = rounds ? most_of_one_sounder(g) : g->falls;
    s->flags = g->flags;
    if (count >= SOUNDING_ENDLESS)
        s->flags |= SOUNDING_RUN_ON;
    bool endless = train_sound_endless(s);
    s->falls = (uint16_t)(endless ? SOUNDING_ENDLESS : g->falls);
    s->count = (uint16_t)(endless ? SOUNDING_ENDLESS : count);
    size_t kept = g->falls < SOUNDING_SEQUENCE ? g->falls : SOUNDING_SEQUENCE;
    s->sequence = endless ? 0 : sounding_sequence_of(p, g->order, kept);
    s->some = g->some;
    s->all = g->falls ? g->all : 0;
    s->minute = g->falls      ? whole_minutes(g->first_s)
                : g->released ? whole_minutes(g->release_s)
                : g->warned   ? whole_minutes(g->warn_s)
                              : (int8_t)0;
    gather_tempo(g, t, rounds, s);
}

static void gather_halt(struct sounding *s, const struct event_list *events, struct rest after)
{
    s->halt = after.stuck;
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (e->kind == EVENT_HAND_STALL || e->kind == EVENT_JAM || e->kind == EVENT_STALL)
            s->halt_min = whole_minutes(e->t_s);
    }
}

uint32_t sounding_digest(struct sounding_pool *p, const struct clock *c, int lobe,
                         const struct event_list *events, struct rest after)
{
    struct gather g[TRAINS];
    memset(g, 0, sizeof g);
    for (int i = 0; i < TRAINS; i++)
        g[i].all = 0xff;
    for (size_t i = 0; i < events->count; i++)
        if (events->at[i].train < TRAINS)
            gather_event(&g[events->at[i].train], &c->train[events->at[i].train], &events->at[i]);
    struct sounding s;
    memset(&s, 0, sizeof s);
    for (int i = 0; i < TRAINS; i++)
        gather_close(&g[i], p, c, i, lobe, &s.train[i]);
    gather_halt(&s, events, after);
    s.early = (uint8_t)g[TRAIN_STRIKE].early;
    const struct gather *chime = &g[TRAIN_CHIME], *strike = &g[TRAIN_STRIKE];
    if (chime->falls && strike->falls && strike->first_s > chime->last_s)
        s.pause = (uint8_t)fmin(255, round((strike->first_s - chime->last_s) * 10));
    return sounding_intern(p, &s);
}

bool sounding_silent(const struct sounding *s)
{
    for (int i = 0; i < TRAINS; i++)
        if (s->train[i].falls)
            return false;
    return true;
}

bool train_sound_endless(const struct train_sound *t)
{
    return t->flags & SOUNDING_RUN_ON && (t->flags & SOUNDING_OUT || t->count >= SOUNDING_ENDLESS);
}
