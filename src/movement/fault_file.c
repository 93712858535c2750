#include "movement/fault_file.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "text.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
#define WORD_END                                                                                   \
    {                                                                                              \
        NULL, 0                                                                                    \
    }
#define MOST_NEAR 400

struct fault_row {
    struct fault fault;
    const struct yaml_node *part, *class, *needs, *set, *vary, *start, *tilts;
};

#define F(member) offsetof(struct fault_row, fault.member)
#define N(member) offsetof(struct fault_row, member)
static const struct yaml_key fault_keys[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = F(id), .needed = true},
    {.key = "name", .kind = YAML_K_TEXT, .offset = F(name), .needed = true},
    {.key = "part", .kind = YAML_K_NODE, .offset = N(part), .needed = true},
    {.key = "class", .kind = YAML_K_NODE, .offset = N(class), .needed = true},
    {.key = "about", .kind = YAML_K_TEXT, .offset = F(about), .needed = true},
    {.key = "prior",
     .kind = YAML_K_REAL,
     .offset = F(prior),
     .needed = true,
     .low = 0.001,
     .high = 100},
    {.key = "needs", .kind = YAML_K_NODE, .offset = N(needs)},
    {.key = "set", .kind = YAML_K_NODE, .offset = N(set)},
    {.key = "vary", .kind = YAML_K_NODE, .offset = N(vary)},
    {.key = "start", .kind = YAML_K_NODE, .offset = N(start)},
    {.key = "start_only", .kind = YAML_K_BOOL, .offset = F(start_only)},
    {.key = "tilts", .kind = YAML_K_NODE, .offset = N(tilts)},
    {.key = "cure", .kind = YAML_K_ID, .offset = F(cure), .needed = true},
    {.key = "source", .kind = YAML_K_TEXT, .offset = F(source), .needed = true},
    {.key = "wakes", .kind = YAML_K_TEXT, .offset = F(wakes)},
};

/* ---- parts and classes ---- */

static bool known_word(const struct yaml_node *n, const char *key, int (*of)(const char *),
                       const char *(*name)(int), const char **into, struct err *e)
{
    const char *word = yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : "";
    int i = of(word);
    if (i >= 0) {
        *into = name(i);
        return true;
    }
    const char *words[64];
    size_t count = 0;
    while (count < COUNT(words) && name((int)count))
        words[count] = name((int)count), count++;
    const char *near = text_nearest(word, words, count);
    yaml_complain(n, e, "key \"%s\" has \"%.40s\", which is no %s of this program%s%s%s.", key,
                  word, key, near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    return false;
}

/* ---- needs ---- */

enum need_kind { NEED_BOOL, NEED_CONTROL, NEED_LOCK, NEED_FALL, NEED_DRIVE };
#define B(member) NEED_BOOL, offsetof(struct fault_needs, member), 0
static const struct need {
    const char *word;
    enum need_kind kind;
    size_t offset;
    int value;
} needs[] = {
    {"rack", NEED_CONTROL, 0, CONTROL_RACK},
    {"count_wheel", NEED_CONTROL, 0, CONTROL_COUNT_WHEEL},
    {"run_strike", NEED_CONTROL, 0, CONTROL_RUN},
    {"lock_pallet", NEED_LOCK, 0, LOCK_PALLET},
    {"lock_hook", NEED_LOCK, 0, LOCK_HOOK},
    {"fall_at_warning", NEED_FALL, 0, FALL_AT_WARNING},
    {"fall_at_release", NEED_FALL, 0, FALL_AT_RELEASE},
    {"weight", NEED_DRIVE, 0, DRIVE_WEIGHT},
    {"spring", NEED_DRIVE, 0, DRIVE_SPRING},
    {"hammer", B(hammer)},
    {"strike", B(strike_any)},
    {"chime", B(chime)},
    {"music", B(music)},
    {"drum", B(drum)},
    {"corrector", B(corrector)},
    {"independent", B(independent)},
    {"half_short", B(half_short)},
    {"half_passing", B(half_passing)},
    {"half_count", B(half_count)},
    {"warning", B(warning)},
    {"flirt", B(flirt)},
    {"sprung_tail", B(sprung_tail)},
    {"rigid_tail", B(rigid_tail)},
    {"pipes", B(pipes)},
    {"odd_blow", B(odd_blow)},
    {"shift", B(shift)},
    {"night", B(night)},
    {"selector", B(selector)},
    {"hours_selector", B(hours_selector)},
    {"silent_strike", B(silent_strike)},
    {"silent_chime", B(silent_chime)},
    {"silent_lever", B(silent_any)},
    {"half", B(half)},
    {"many_tunes", B(many_tunes)},
    {"pairs", B(pairs)},
    {"bush", B(bush)},
    {"square", B(square)},
    {"friction_hour", B(friction_hour)},
    {"twenty_four", B(twenty_four)},
    {"hour_snail", B(hour_snail)},
    {"twelve_steps", B(twelve_steps)},
    {"from_chime", B(from_chime)},
    {"no_corrector", B(no_corrector)},
    {"no_count_wheel", B(no_count_wheel)},
    {"quarter_wheel", B(quarter_wheel)},
    {"quarter_rack", B(quarter_rack)},
    {"strike_train", B(strike_train)},
    {"strike_power", B(strike_power)},
    {"strike_warning", B(strike_warning)},
    {"chime_warning", B(chime_warning)},
};
#undef B

static void take_need(struct fault_needs *n, const struct need *need)
{
    switch (need->kind) {
    case NEED_BOOL:
        *(bool *)((char *)n + need->offset) = true;
        break;
    case NEED_CONTROL:
        n->strike = (enum control)need->value;
        break;
    case NEED_LOCK:
        n->lock = need->value;
        break;
    case NEED_FALL:
        n->fall = need->value;
        break;
    case NEED_DRIVE:
        n->drive = (enum drive)need->value;
        break;
    }
}

/* A list of words out of a table of rows that begin with the word; calls `take` for each. */
static bool each_word(const struct yaml_node *list, const char *key, struct err *e,
                      bool (*take)(void *, const char *), void *with, const char *const *known,
                      size_t known_count)
{
    if (yaml_shape_of(list) != YAML_LIST) {
        yaml_complain(list, e, "key \"%s\" wants a list of words.", key);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++) {
        const struct yaml_node *n = yaml_item(list, i);
        const char *word = yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : "";
        if (take(with, word))
            continue;
        const char *near = text_nearest(word, known, known_count);
        yaml_complain(n, e, "key \"%s\" has \"%.40s\", which is none of its words%s%s%s.", key,
                      word, near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
        good = false;
    }
    return good;
}

static bool take_need_word(void *with, const char *word)
{
    for (size_t i = 0; i < COUNT(needs); i++) {
        if (!strcmp(needs[i].word, word)) {
            take_need(with, &needs[i]);
            return true;
        }
    }
    return false;
}

bool fault_file_needs(const struct yaml_node *n, struct fault_needs *into, struct err *e)
{
    const char *known[COUNT(needs)];
    for (size_t i = 0; i < COUNT(needs); i++)
        known[i] = needs[i].word;
    return each_word(n, "needs", e, take_need_word, into, known, COUNT(needs));
}

/* ---- starts ---- */

static const struct yaml_word starts[] = {{"count_any", START_COUNT_ANY},
                                          {"count_half", START_COUNT_HALF},
                                          {"chime_any", START_CHIME_ANY},
                                          {"hanging", START_HANGING},
                                          {"silent_strike", START_SILENT_STRIKE},
                                          {"silent_chime", START_SILENT_CHIME},
                                          {"strike_out", START_STRIKE_OUT},
                                          {"chime_out", START_CHIME_OUT},
                                          {"going_out", START_GOING_OUT},
                                          {"strike_low", START_STRIKE_LOW},
                                          {"chime_low", START_CHIME_LOW},
                                          {"warned", START_WARNED},
                                          {"corrector", START_CORRECTOR},
                                          {"night", START_NIGHT},
                                          {"left_over", START_LEFT_OVER},
                                          {"tune_any", START_TUNE_ANY},
                                          WORD_END};

static bool take_start_word(void *with, const char *word)
{
    for (const struct yaml_word *w = starts; w->name; w++) {
        if (!strcmp(w->name, word)) {
            *(unsigned *)with |= (unsigned)w->value;
            return true;
        }
    }
    return false;
}

static bool read_starts(const struct yaml_node *n, unsigned *into, struct err *e)
{
    const char *known[COUNT(starts) - 1];
    for (size_t i = 0; i < COUNT(known); i++)
        known[i] = starts[i].name;
    return each_word(n, "start", e, take_start_word, into, known, COUNT(known));
}

/* ---- parameters ---- */

static bool find_par(const struct yaml_node *at, const char *name, enum par *into, struct err *e)
{
    *into = par_of(name);
    if (*into != PAR_COUNT)
        return true;
    const char *known[MOST_NEAR];
    size_t count = 0;
    for (int i = 0; i < PAR_COUNT && count < MOST_NEAR; i++)
        known[count++] = par_row((enum par)i)->name;
    const char *near = text_nearest(name, known, count);
    yaml_complain(at, e, "\"%.40s\" is no parameter of the mechanism%s%s%s.", name,
                  near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    return false;
}

static bool read_set(const struct yaml_node *map, struct fault *f, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP || yaml_count(map) > FAULT_SETS) {
        yaml_complain(map, e, "key \"set\" wants a map of at most %d parameters and their values.",
                      FAULT_SETS);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(map); i++) {
        enum par p;
        double v;
        const char *name = yaml_key_text(map, i);
        if (!find_par(yaml_key_node(map, i), name, &p, e) ||
            !yaml_real(yaml_item(map, i), name, par_row(p)->low, par_row(p)->high, &v, e))
            good = false;
        else
            f->set[f->sets++] = (struct change){p, v};
    }
    return good;
}

/* ---- axes ---- */

static const struct yaml_word domains[] = {{"strike_hammers", DOMAIN_STRIKE_HAMMERS},
                                           {"chime_hammers", DOMAIN_CHIME_HAMMERS},
                                           {"hammers", DOMAIN_HAMMERS},
                                           {"teeth", DOMAIN_TEETH},
                                           {"steps", DOMAIN_STEPS},
                                           {"entries", DOMAIN_ENTRIES},
                                           {"strike_arbors", DOMAIN_STRIKE_ARBORS},
                                           {"chime_arbors", DOMAIN_CHIME_ARBORS},
                                           {"drum_notes", DOMAIN_DRUM_NOTES},
                                           {"pins", DOMAIN_PINS},
                                           {"lobes", DOMAIN_LOBES},
                                           {"hammer_pairs", DOMAIN_HAMMER_PAIRS},
                                           WORD_END};

struct axis_row {
    const char *par;
    double from, to, step;
    double value[FAULT_VALUES], weight[FAULT_VALUES];
    size_t values, weights;
    int over;
};
#define A(member) offsetof(struct axis_row, member)
static const struct yaml_key axis_keys[] = {
    {.key = "par", .kind = YAML_K_TEXT, .offset = A(par), .needed = true},
    {.key = "from", .kind = YAML_K_REAL, .offset = A(from)},
    {.key = "to", .kind = YAML_K_REAL, .offset = A(to)},
    {.key = "step", .kind = YAML_K_REAL, .offset = A(step), .low = 1e-6, .high = 1000},
    {.key = "values",
     .kind = YAML_K_REALS,
     .offset = A(value),
     .room = FAULT_VALUES,
     .count_offset = A(values)},
    {.key = "weights",
     .kind = YAML_K_REALS,
     .offset = A(weight),
     .low = 0,
     .high = 1000,
     .room = FAULT_VALUES,
     .count_offset = A(weights)},
    {.key = "over", .kind = YAML_K_WORD, .offset = A(over), .words = domains},
};

/* `from`, `to`, `step`: the values between, both ends in. */
static bool spread(const struct yaml_node *n, struct axis_row *r, struct err *e)
{
    double count = floor((r->to - r->from) / r->step + 1e-6) + 1;
    if (!(count >= 1) || count > FAULT_VALUES) {
        yaml_complain(n, e, "from %g to %g in steps of %g is %.0f values; 1 to %d are allowed.",
                      r->from, r->to, r->step, count, FAULT_VALUES);
        return false;
    }
    r->values = (size_t)count;
    for (size_t i = 0; i < r->values; i++)
        r->value[i] = r->from + (double)i * r->step;
    return true;
}

static bool values_in_range(const struct yaml_node *n, const struct axis_row *r,
                            const struct par_row *p, struct err *e)
{
    for (size_t i = 0; i < r->values; i++) {
        if (r->value[i] < p->low - 1e-9 || r->value[i] > p->high + 1e-9) {
            yaml_complain(n, e, "parameter %s goes from %g to %g; the value %g lies outside.",
                          p->name, p->low, p->high, r->value[i]);
            return false;
        }
    }
    return true;
}

static bool weights_fit(const struct yaml_node *n, const struct axis_row *r, struct err *e)
{
    double sum = 0;
    for (size_t i = 0; i < r->weights; i++)
        sum += r->weight[i];
    if (!r->weights || (r->weights == r->values && sum > 0))
        return true;
    yaml_complain(n, e,
                  "there are %zu values but %zu weights; there must be one for each, not all zero.",
                  r->values, r->weights);
    return false;
}

static bool read_axis(const struct yaml_node *n, struct fault_axis *axis, struct err *e)
{
    struct axis_row r = {0};
    enum par p;
    if (!yaml_read_map(n, "axis of \"vary\"", axis_keys, COUNT(axis_keys), &r, e) ||
        !find_par(n, r.par, &p, e))
        return false;
    if (r.over) {
        *axis = (struct fault_axis){.par = p, .known_by_clock = true, .domain = r.over};
        return true;
    }
    if (!r.values && r.step <= 0) {
        yaml_complain(n, e,
                      "an axis wants \"values\", or \"from\", \"to\" and \"step\", or \"over\".");
        return false;
    }
    if ((!r.values && !spread(n, &r, e)) || !values_in_range(n, &r, par_row(p), e) ||
        !weights_fit(n, &r, e))
        return false;
    *axis = (struct fault_axis){.par = p, .values = (int)r.values};
    for (size_t i = 0; i < r.values; i++) {
        axis->value[i] = r.value[i];
        axis->weight[i] = r.weights ? r.weight[i] : 1;
    }
    return true;
}

static bool read_vary(const struct yaml_node *list, struct fault *f, struct err *e)
{
    if (yaml_shape_of(list) != YAML_LIST || yaml_count(list) > FAULT_AXES) {
        yaml_complain(list, e, "key \"vary\" wants a list of at most %d axes.", FAULT_AXES);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(list); i++)
        good = read_axis(yaml_item(list, i), &f->axis[f->axes++], e) && good;
    return good;
}

static bool read_tilts(const struct yaml_node *map, struct fault_tilt *tilt, size_t room, size_t *tilts,
                       struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP || yaml_count(map) > room) {
        yaml_complain(map, e, "key \"tilts\" wants a map of at most %zu words and factors.", room);
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(map); i++) {
        struct fault_tilt *t = &tilt[*tilts];
        t->word = yaml_key_text(map, i);
        if (yaml_real(yaml_item(map, i), t->word, 0.001, 1000, &t->factor, e))
            ++*tilts;
        else
            good = false;
    }
    return good;
}

bool fault_file_read(const struct yaml_node *row, struct fault *f, struct err *e)
{
    struct fault_row r = {.fault.needs = FAULT_NEEDS_NOTHING};
    bool good = yaml_read_map(row, "fault", fault_keys, COUNT(fault_keys), &r, e);
    good =
        (!r.part || known_word(r.part, "part", fault_part_of, fault_part_name, &r.fault.part, e)) &&
        good;
    good = (!r.class ||
            known_word(r.class, "class", fault_class_of, fault_class_name, &r.fault.class, e)) &&
           good;
    good = (!r.needs || fault_file_needs(r.needs, &r.fault.needs, e)) && good;
    good = (!r.set || read_set(r.set, &r.fault, e)) && good;
    good = (!r.vary || read_vary(r.vary, &r.fault, e)) && good;
    good = (!r.start || read_starts(r.start, &r.fault.start, e)) && good;
    good = (!r.tilts || read_tilts(r.tilts, r.fault.tilt, FAULT_TILTS, &r.fault.tilts, e)) && good;
    if (good && !r.fault.sets && !r.fault.axes && !r.fault.start) {
        yaml_complain(
            row, e,
            "fault \"%s\" changes nothing: it has neither \"set\" nor \"vary\" nor \"start\".",
            r.fault.id);
        good = false;
    }
    if (good)
        *f = r.fault;
    return good;
}

/* ---- classes ---- */

struct class_row {
    struct fault_class class;
    const struct yaml_node *id, *tilts;
};
static const struct yaml_key class_keys[] = {
    {.key = "id", .kind = YAML_K_NODE, .offset = offsetof(struct class_row, id), .needed = true},
    {.key = "tilts", .kind = YAML_K_NODE, .offset = offsetof(struct class_row, tilts), .needed = true},
};

bool fault_file_class(const struct yaml_node *row, struct fault_class *c, struct err *e)
{
    struct class_row r = {.id = NULL};
    if (!yaml_read_map(row, "class", class_keys, COUNT(class_keys), &r, e) ||
        !known_word(r.id, "id", fault_class_of, fault_class_name, &r.class.id, e) ||
        !read_tilts(r.tilts, r.class.tilt, FAULT_CLASS_TILTS, &r.class.tilts, e))
        return false;
    *c = r.class;
    return true;
}

/* ---- cures ---- */

enum { WHO_OWNER, WHO_VISIT, WHO_BENCH };
static const char *const who_name[] = {"owner", "visit", "bench"};
static const char *const hazard_name[] = {"none", "pinch", "weight", "spring", "glass", "heavy"};
static const struct yaml_word who_words[] = {
    {"owner", WHO_OWNER}, {"visit", WHO_VISIT}, {"bench", WHO_BENCH}, WORD_END};
static const struct yaml_word hazard_words[] = {
    {"none", 0}, {"pinch", 1}, {"weight", 2}, {"spring", 3}, {"glass", 4}, {"heavy", 5}, WORD_END};

struct cure_row {
    struct cure cure;
    int who, hazard;
};
#define U(member) offsetof(struct cure_row, cure.member)
static const struct yaml_key cure_keys[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = U(id), .needed = true},
    {.key = "text", .kind = YAML_K_TEXT, .offset = U(text), .needed = true},
    {.key = "who",
     .kind = YAML_K_WORD,
     .offset = offsetof(struct cure_row, who),
     .needed = true,
     .words = who_words},
    {.key = "minutes",
     .kind = YAML_K_REAL,
     .offset = U(minutes),
     .needed = true,
     .low = 0.5,
     .high = 5000},
    {.key = "parts_cost", .kind = YAML_K_REAL, .offset = U(parts_cost), .low = 0, .high = 5000},
    {.key = "hazard",
     .kind = YAML_K_WORD,
     .offset = offsetof(struct cure_row, hazard),
     .needed = true,
     .words = hazard_words},
    {.key = "kit", .kind = YAML_K_TEXTS, .offset = U(kit), .room = 8, .count_offset = U(kits)},
};

/* Nothing but harmless work may be asked of an owner. */
static bool owner_is_safe(const struct yaml_node *row, const struct cure_row *r, struct err *e)
{
    if (r->who != WHO_OWNER || r->hazard == 0 || r->hazard == 2)
        return true;
    yaml_complain(row, e,
                  "cure \"%s\" asks an owner to do what has the hazard \"%s\"; say visit or bench.",
                  r->cure.id, hazard_name[r->hazard]);
    return false;
}

bool fault_file_cure(const struct yaml_node *row, struct cure *c, struct err *e)
{
    struct cure_row r = {0};
    if (!yaml_read_map(row, "cure", cure_keys, COUNT(cure_keys), &r, e) ||
        !owner_is_safe(row, &r, e))
        return false;
    r.cure.who = who_name[r.who];
    r.cure.hazard = hazard_name[r.hazard];
    *c = r.cure;
    return true;
}
