#include "diagnose/hypothesis.h"

#include <math.h>
#include <string.h>
#include "diagnose/evidence.h"
#include "diagnose/sweep.h"
#include "mem.h"
#include "movement/move.h"

/* ---- variants ---- */

const struct fault fault_undescribed = {
    .id = "unknown", .name = "Something not in the list of faults", .part = "unknown", .class = "unknown"};

/* What one of the two parameters of how the hands stand comes to, whole minutes. */
static int hands_off(enum par which, const struct change *change, size_t changes)
{
    double par[PAR_COUNT];
    size_t i = 0;
    while (i < changes && change[i].par != which)
        i++;
    if (i == changes)
        return 0;
    for (par[which] = par_row(which)->sound; i < changes; i++)
        if (change[i].par == which)
            par_change(par, which, change[i].value);
    return (int)lround(par[which]);
}

/* Changes of the single variants stand in blocks, which never move. */
struct change_block {
    struct change_block *before;
    size_t used;
    struct change at[1000];
};

static struct change *change_kept(struct clock_case *k, const struct change *change, size_t changes)
{
    struct change_block *b = k->changes;
    if (!b || b->used + changes > sizeof b->at / sizeof b->at[0]) {
        b = mem_alloc(sizeof *b);
        b->before = k->changes;
        k->changes = b;
    }
    struct change *at = b->at + b->used;
    if (changes)
        memcpy(at, change, changes * sizeof *at);
    b->used += changes;
    return at;
}

static void variants_fit(struct clock_case *k, size_t more)
{
    if (k->tables + more <= k->table_room && k->variants + more <= k->variant_room)
        return;
    k->table = mem_grow_bare(k->table, &k->table_room, k->tables + more, sizeof *k->table);
    k->variant = mem_grow_bare(k->variant, &k->variant_room, k->variants + more, sizeof *k->variant);
}

/* Its table is to be made by the caller.  When the tables move in memory the shared rows must know where the sound
 * one is. */
static struct outcome_table *variant_add(struct clock_case *k, const struct fault *f, const struct change *change,
                                         size_t changes, double share, double severity)
{
    variants_fit(k, 1);
    if (k->rows.sound)
        k->rows.sound = &k->table[0];
    k->variant[k->variants++] = (struct variant){
        .fault = f,
        .share = share,
        .severity = severity,
        .start = f ? f->start : 0,
        .start_only = f && f->start_only,
        .minute_off = hands_off(PAR_minute_off_min, change, changes),
        .hour_off = hands_off(PAR_hour_off_min, change, changes),
        .late = VARIANT_LATE_NEW,
        .table = k->tables,
        .acts = k->tables,
    };
    return &k->table[k->tables++];
}

static void single_add(struct clock_case *k, const struct fault *f, const struct change *change, size_t changes,
                       double share, double severity)
{
    struct outcome_table *t = variant_add(k, f, change, changes, share, severity);
    outcome_table_init_lent(t, &k->rows, change_kept(k, change, changes), changes);
}

static void add_fault(struct clock_case *k, const struct fault *f)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    size_t variants = fault_variants(f, k->clock);
    variants_fit(k, variants);
    for (size_t v = 0; v < variants; v++) {
        double weight = 0, severity = 0;
        size_t changes = fault_variant(f, k->clock, v, change, &weight, &severity);
        if (weight > 0)
            single_add(k, f, change, changes, f->prior * weight, severity);
    }
}

static void shares_to_one(struct clock_case *k)
{
    double sum = 0;
    for (size_t i = 1; i < k->variants; i++)
        sum += k->variant[i].share;
    for (size_t i = 1; i < k->variants && sum > 0; i++)
        k->variant[i].share /= sum;
}

static void add_swept(struct clock_case *k, int swept, const struct change *change, size_t changes, double share)
{
    single_add(k, &fault_undescribed, change, changes, share, 0);
    k->variant[k->variants - 1].swept = swept;
}

/* Parameters that the sound works reads on its way round; the hands are never read but laid out. */
static void find_heeded(struct clock_case *k)
{
    for (size_t i = 0; i < k->rows.reads; i++)
        for (size_t w = 0; w < WORKS_TOUCHED; w++)
            k->heeded[w] |= k->rows.read[i][w];
    k->heeded[PAR_minute_off_min / 64] |= 1ull << (PAR_minute_off_min % 64);
    k->heeded[PAR_hour_off_min / 64] |= 1ull << (PAR_hour_off_min % 64);
}

static void add_sweep(struct clock_case *k)
{
    for (int p = 0; p < PAR_COUNT; p++) {
        double value[SWEEP_VALUES];
        bool read = k->heeded[p / 64] >> (p % 64) & 1;
        size_t n = read ? sweep_values((enum par)p, k->clock, value) : 0;
        for (size_t i = 0; i < n; i++)
            add_swept(k, p, &(struct change){(enum par)p, value[i]}, 1, 1.0 / (double)n);
    }
    for (int bit = 0; bit < SWEEP_STATES; bit++)
        if (sweep_state(bit, k->clock)) {
            add_swept(k, PAR_COUNT + bit, NULL, 0, 1);
            k->variant[k->variants - 1].start = 1u << bit;
            k->variant[k->variants - 1].start_only = true;
        }
}

static void find_due(struct clock_case *k)
{
    struct outcome_table *sound = &k->table[k->variant[0].table];
    for (int i = 0; i < k->classes.letoffs; i++) {
        struct rest r = rest_in_step(outcome_table_works(sound), k->classes.minute[i]);
        size_t edges, best = 0;
        const struct outcome_edge *e =
            outcome_table_edges(sound, outcome_rows_state(&k->rows, r), i, false, &edges);
        for (size_t j = 1; j < edges; j++)
            if (e[j].p > e[best].p)
                best = j;
        k->due[i] = edges ? e[best].outcome : 0;
    }
}

/* Of the sweep there is nothing yet. */
static bool list_faults(struct clock_case *k, const struct library *lib, const struct clock *c,
                        size_t expected)
{
    memset(k, 0, sizeof *k);
    k->clock = c;
    if (!letoff_classes_init(&k->classes, c))
        return false;
    variants_fit(k, expected);
    sounding_pool_init(&k->pool);
    outcome_rows_init(&k->rows, &k->classes, &k->pool);
    k->due = mem_alloc((size_t)k->classes.letoffs * sizeof *k->due);
    single_add(k, NULL, NULL, 0, 1, 0);
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        if (fault_applies(f, c))
            add_fault(k, f);
    }
    shares_to_one(k);
    k->listed = k->variants;
    k->rows.sound = &k->table[k->variant[0].table];
    return true;
}

bool clock_case_init(struct clock_case *k, const struct library *lib, const struct clock *c)
{
    if (!list_faults(k, lib, c, 1))
        return false;
    find_due(k);
    find_heeded(k);
    add_sweep(k);
    return true;
}

bool clock_case_list(struct clock_case *k, const struct library *lib, const struct clock *c,
                     const uint64_t heeded[WORKS_TOUCHED], size_t expected)
{
    if (!list_faults(k, lib, c, expected))
        return false;
    memcpy(k->heeded, heeded, sizeof k->heeded);
    add_sweep(k);
    return true;
}

void clock_case_release(struct clock_case *k)
{
    for (size_t i = 0; i < k->tables; i++)
        outcome_table_release(&k->table[i]);
    for (struct change_block *b = k->changes, *before; b; b = before) {
        before = b->before;
        mem_free(b);
    }
    mem_free(k->table);
    mem_free(k->variant);
    mem_free(k->pair_slot);
    mem_free(k->beside);
    mem_free(k->due);
    mem_free(k->order);
    habit_book_free(k->book);
    outcome_rows_release(&k->rows);
    sounding_pool_release(&k->pool);
    memset(k, 0, sizeof *k);
}

size_t clock_case_bytes(const struct clock_case *k)
{
    const struct outcome_rows *r = &k->rows;
    const struct sounding_pool *p = &k->pool;
    size_t sum = r->state_room * sizeof *r->state + r->row_room * sizeof *r->row +
                 r->edge_room * sizeof *r->edge + r->read_room * sizeof *r->read +
                 (r->state_slots + r->row_slots) * sizeof *r->row_slot + p->room * sizeof *p->at +
                 p->byte_room + p->sequence_room * sizeof *p->sequence +
                 (p->slots + p->sequence_slots) * sizeof *p->slot +
                 k->table_room * sizeof *k->table + k->variant_room * sizeof *k->variant;
    for (size_t i = 0; i < k->tables; i++)
        sum += outcome_table_bytes(&k->table[i]);
    return sum + habit_book_bytes(k->book);
}

/* Parameters that move the moment of the sound against the hands. */
static bool moves_moment(const struct outcome_table *t)
{
    for (size_t i = 0; i < t->changes; i++) {
        enum par p = t->change[i].par;
        if (p == PAR_letoff_late_min || p == PAR_letoff_scatter_min || p == PAR_warn_early_min ||
            (p >= PAR_warn_miss && p < PAR_warn_miss + TRAINS) ||
            (p >= PAR_warn_run && p < PAR_warn_run + TRAINS))
            return true;
    }
    return false;
}

static int find_lateness(struct clock_case *k, struct outcome_table *t)
{
    struct rest r = rest_in_step(outcome_table_works(t), k->classes.minute[0]);
    size_t edges;
    const struct outcome_edge *e =
        outcome_table_edges(t, outcome_rows_state(&k->rows, r), 0, false, &edges);
    double sum = 0, weight = 0;
    for (size_t i = 0; i < edges; i++) {
        const struct sounding *s = sounding_at(&k->pool, e[i].outcome);
        const struct train_sound *chime = &s->train[TRAIN_CHIME], *strike = &s->train[TRAIN_STRIKE];
        const struct train_sound *first = chime->falls ? chime : strike;
        sum += first->falls ? e[i].p * first->minute : 0;
        weight += first->falls ? e[i].p : 0;
    }
    return weight > 0 ? (int)lround(sum / weight) : 0;
}

int clock_case_late(struct clock_case *k, size_t variant)
{
    struct variant *v = &k->variant[variant];
    if (v->late == VARIANT_LATE_NEW)
        v->late = moves_moment(&k->table[v->table]) ? find_lateness(k, &k->table[v->acts]) : 0;
    return v->late;
}

/* ---- pairs ---- */

/* Where the pair is or may be put in the list of pairs; there must be room. */
static size_t pair_place(const struct clock_case *k, size_t a, size_t b)
{
    uint64_t h = ((uint64_t)a << 32 | b) * 0x9e3779b97f4a7c15ull;
    size_t at = (size_t)(h >> 33) & (k->pair_slots - 1);
    while (k->pair_slot[at]) {
        const struct variant *v = &k->variant[k->pair_slot[at] - 1];
        if (v->one == a && v->two == b)
            break;
        at = (at + 1) & (k->pair_slots - 1);
    }
    return at;
}

static void list_pairs(struct clock_case *k, size_t slots)
{
    mem_free(k->pair_slot);
    k->pair_slots = slots;
    k->pair_slot = mem_alloc(slots * sizeof *k->pair_slot);
    for (size_t i = k->variants - k->pairs; i < k->variants; i++)
        k->pair_slot[pair_place(k, k->variant[i].one, k->variant[i].two)] = (uint32_t)i + 1;
}

/* A table of the changes of one variant, like its own but good for all states: its own holds only those
 * that the fault by itself can come to. */
static size_t table_beside(struct clock_case *k, size_t variant)
{
    if (!k->beside)
        k->beside = mem_alloc((k->variants - k->pairs) * sizeof *k->beside);
    if (!k->beside[variant]) {
        const struct outcome_table *own = &k->table[k->variant[variant].table];
        k->table = mem_grow(k->table, &k->table_room, k->tables + 1, sizeof *k->table);
        k->rows.sound = &k->table[0];
        own = &k->table[k->variant[variant].table];
        outcome_table_init(&k->table[k->tables++], &k->rows, own->change, own->changes);
        k->beside[variant] = (uint32_t)k->tables;
    }
    return k->beside[variant] - 1;
}

/* Beside hands that stand wrong, or a count out of step, a works acts as it does alone, wherever it is
 * then found. */
static size_t acts_of_pair(struct clock_case *k, size_t a, size_t b, size_t own)
{
    bool plain_a = outcome_table_plain(&k->table[k->variant[a].table]);
    bool plain_b = outcome_table_plain(&k->table[k->variant[b].table]);
    if (plain_a && plain_b)
        return k->variant[0].table;
    return plain_a ? table_beside(k, b) : plain_b ? table_beside(k, a) : own;
}

static size_t join_changes(const struct clock_case *k, size_t a, size_t b, struct change change[OUTCOME_CHANGES])
{
    const size_t part[] = {a, b};
    size_t n = 0;
    for (size_t p = 0; p < 2; p++) {
        const struct outcome_table *t = &k->table[k->variant[part[p]].table];
        for (size_t i = 0; i < t->changes && n < OUTCOME_CHANGES; i++)
            change[n++] = t->change[i];
    }
    return n;
}

size_t clock_case_pair(struct clock_case *k, size_t a, size_t b, double share)
{
    if (2 * (k->pairs + 1) > k->pair_slots)
        list_pairs(k, k->pair_slots ? 2 * k->pair_slots : 64);
    size_t at = pair_place(k, a, b);
    if (k->pair_slot[at])
        return k->pair_slot[at] - 1;
    struct change change[OUTCOME_CHANGES];
    size_t n = join_changes(k, a, b, change);
    const struct fault *second = k->variant[b].fault;
    double severity = fmax(k->variant[a].severity, k->variant[b].severity);
    outcome_table_init(variant_add(k, k->variant[a].fault, change, n, share, severity), &k->rows, change, n);
    size_t acts = acts_of_pair(k, a, b, k->tables - 1);
    struct variant *v = &k->variant[k->variants - 1];
    v->second = second;
    v->one = a;
    v->two = b;
    v->acts = acts;
    v->start |= second ? second->start : 0;
    v->start_only |= second && second->start_only;
    k->pairs++;
    k->pair_slot[at] = (uint32_t)k->variants;
    return k->variants - 1;
}

/* Tables that no variant reads or owns any more go, and the others close up. */
static void close_up_tables(struct clock_case *k)
{
    size_t singles = k->variants - k->pairs, kept = singles; /* a single variant has a table of its own */
    uint32_t *now = mem_alloc(k->tables * sizeof *now);
    for (size_t i = singles; i < k->variants; i++)
        now[k->variant[i].table] = now[k->variant[i].acts] = 1;
    for (size_t i = 0; i < k->tables; i++) {
        bool wanted = i < singles || now[i];
        now[i] = (uint32_t)(i < singles ? i : kept);
        if (!wanted)
            outcome_table_release(&k->table[i]);
        else if (i >= singles)
            k->table[kept++] = k->table[i];
        if (!wanted)
            now[i] = UINT32_MAX;
    }
    for (size_t i = singles; i < k->variants; i++) {
        k->variant[i].table = now[k->variant[i].table];
        k->variant[i].acts = now[k->variant[i].acts];
    }
    for (size_t i = 0; k->beside && i < singles; i++)
        k->beside[i] = k->beside[i] ? now[k->beside[i] - 1] + 1 : 0; /* UINT32_MAX + 1 is none */
    k->tables = kept;
    mem_free(now);
}

void clock_case_keep_pairs(struct clock_case *k, size_t from, const bool *keep, size_t *now)
{
    size_t to = from, pairs = k->variants - from;
    for (size_t i = 0; i < pairs; i++) {
        now[i] = to;
        if (keep[i])
            k->variant[to++] = k->variant[from + i];
    }
    k->pairs -= k->variants - to;
    k->variants = to;
    close_up_tables(k);
    if (k->pair_slots)
        list_pairs(k, k->pair_slots);
}

void clock_case_drop_pairs(struct clock_case *k)
{
    k->variants -= k->pairs;
    k->pairs = 0;
    close_up_tables(k);
    mem_free(k->pair_slot);
    k->pair_slot = NULL;
    k->pair_slots = 0;
}

/* ---- hints ---- */

/* How often a caller says the hint wrongly; hints not listed take the last row. */
static const struct {
    const char *word;
    double wrong;
} hint_errors[] = {
    {"trains", 0.02},   {"winding_points", 0.02}, {"power", 0.02},   {"chime", 0.01},
    {"count", 0.06},    {"half", 0.08},           {"music", 0.05},   {"selector", 0.08},
    {"dial_hours", 0.02}, {"quarters", 0.06},     {"runs_days", 0.1}, {"hour_letoff", 0.1},
    {"corrector", 0.1}, {"count_wheel_sets", 0.05}, {"case", 0.04},  {"sounder", 0.1},
    {"silence_lever", 0.12},
    {NULL, 0.3},
};

static double hint_wrong(const char *word)
{
    size_t i = 0;
    while (hint_errors[i].word && strcmp(hint_errors[i].word, word) != 0)
        i++;
    return hint_errors[i].wrong;
}

/* The clock's values for a word; NULL if its file does not say. */
static const struct clock_hint *clock_says(const struct clock *c, const char *word)
{
    for (size_t i = 0; i < c->hints; i++)
        if (strcmp(c->hint[i].word, word) == 0)
            return &c->hint[i];
    return NULL;
}

static bool number_near(const struct clock_hint *h, long told)
{
    for (size_t i = 0; i < h->values; i++) {
        double v;
        if (text_real(h->value[i], &v) && v > 0 && fabs(log((double)told / v)) < 0.25)
            return true;
    }
    return false;
}

static bool value_fits(const struct clock_hint *h, const char *told)
{
    for (size_t i = 0; i < h->values; i++)
        if (strcmp(h->value[i], told) == 0)
            return true;
    return false;
}

static bool can_be_silenced(const struct clock *c)
{
    return c->silent_strike || c->silent_chime || c->night_from_min != c->night_to_min;
}

static double one_hint(const struct sheet *s, const struct clock *c, const struct word *w)
{
    const char *told = sheet_hint(s, w->id);
    long number = sheet_hint_number(s, w->id, -1);
    if ((!told && number < 0) || (told && strcmp(told, "unknown") == 0))
        return 1;
    const struct clock_hint *h = clock_says(c, w->id);
    if (strcmp(w->id, "winding_points") == 0)
        return number == c->winding_points ? 1 : hint_wrong(w->id);
    if (strcmp(w->id, "silence_lever") == 0 && told && strcmp(told, "no") != 0 && !can_be_silenced(c))
        return hint_wrong(w->id); /* what is seen on the clock cannot be lacking there */
    if (!h)
        return HINT_UNTOLD;
    bool fits = told ? value_fits(h, told) : number_near(h, number);
    return fits ? 1 : hint_wrong(w->id);
}

double hint_fit(const struct sheet *s, const struct clock *c)
{
    if (s->clock[0])
        return strcmp(s->clock, c->id) == 0 ? 1 : 0;
    double fit = 1;
    for (size_t i = 0; i < words_count(s->words, WORD_HINT); i++)
        fit *= one_hint(s, c, words_at(s->words, WORD_HINT, i));
    return fit;
}

/* ---- tilts ---- */

static bool says(const struct sheet *s, const char *word, bool (*predicted)(const char *seen_word))
{
    const struct words *w = s->words;
    if (sheet_had(s, word) || words_has(w, WORD_AFTER, &s->since_after, word))
        return true;
    int when = words_ordinal(w, WORD_WHEN, word);
    if (when >= 0 && when == s->since_when)
        return true;
    return sheet_seen(s, word) && !(predicted && predicted(word));
}

static bool denied(const struct sheet *s, const char *word)
{
    return words_has(s->words, WORD_HISTORY, &s->history_not, word) ||
           words_has(s->words, WORD_SEEN, &s->seen_not, word);
}

/* Years since oil: a train dries over about eight years, so what is dry or worn grows likelier. */
static double oil_tilt(const struct sheet *s, const struct fault *f)
{
    if (s->years_since_oil < 0)
        return 1;
    bool dry = strcmp(f->class, "dry_or_dirty_oil") == 0, worn = strcmp(f->class, "worn_part") == 0;
    double years = fmin(s->years_since_oil, 40);
    return dry ? fmin(4, 0.3 + years / 8) : worn ? fmin(2, 0.7 + years / 30) : 1;
}

/* A thing of the history is so for no reason once in ten (HISTORY_BASE h), so with the fault it is so
 * with h t / (1 + h (t - 1)). */
double history_yes(double tilt)
{
    double so = HISTORY_BASE * tilt / (1 + HISTORY_BASE * (tilt - 1));
    return ANSWER_WRONG + (1 - 2 * ANSWER_WRONG) * so;
}

/* Who tells it unasked thinks it bears on the matter, and that it is told speaks for the fault besides; an answer to a
 * question may be so for no reason, or wrong, and does less to the odds. */
static double tilted(const struct sheet *s, const char *word, double factor,
                     bool (*predicted)(const char *seen_word))
{
    bool asked = words_has(s->words, WORD_HISTORY, &s->history_asked, word);
    if (asked && sheet_had(s, word))
        return history_yes(factor) / history_yes(1);
    if (says(s, word, predicted))
        return pow(factor, TILT_UNASKED);
    return denied(s, word) ? (1 - history_yes(factor)) / (1 - history_yes(1)) : 1;
}

/* Something is told that may tilt a fault, besides its oil. */
static bool tells_words(const struct sheet *s)
{
    const struct word_set *const set[] = {&s->history, &s->history_not, &s->seen, &s->seen_not, &s->since_after};
    bool any = s->since_when >= 0;
    for (size_t i = 0; i < sizeof set / sizeof *set; i++)
        any |= !word_set_empty(set[i]);
    return any;
}

double fault_tilt(const struct sheet *s, const struct fault *f,
                  bool (*predicted)(const char *seen_word))
{
    double odds = oil_tilt(s, f);
    bool any = tells_words(s);
    for (size_t i = 0; any && i < f->tilts; i++)
        odds *= tilted(s, f->tilt[i].word, f->tilt[i].factor, predicted);
    return fmin(TILT_MOST, fmax(1 / TILT_MOST, odds));
}
