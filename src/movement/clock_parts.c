#include "movement/clock_parts.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "movement/pitch.h"
#include "text.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))
#define WORD_END                                                                                   \
    {                                                                                              \
        NULL, 0                                                                                    \
    }

/* ---- small helpers ---- */

static bool want_list(const struct yaml_node *n, const char *key, size_t most, struct err *e)
{
    if (yaml_shape_of(n) == YAML_LIST && yaml_count(n) && yaml_count(n) <= most)
        return true;
    yaml_complain(n, e, "key \"%s\" wants a list of 1 to %zu items.", key, most);
    return false;
}

static bool want_map(const struct yaml_node *n, const char *key, struct err *e)
{
    if (yaml_shape_of(n) == YAML_MAP)
        return true;
    yaml_complain(n, e, "key \"%s\" wants a map of keys and values.", key);
    return false;
}

static bool read_ints(const struct yaml_node *n, const char *key, long low, long high, int *into,
                      int *count, size_t room, struct err *e)
{
    if (!want_list(n, key, room, e))
        return false;
    *count = 0;
    for (size_t i = 0; i < yaml_count(n); i++) {
        long v;
        if (!yaml_int(yaml_item(n, i), key, low, high, &v, e))
            return false;
        into[(*count)++] = (int)v;
    }
    return true;
}

/* ---- power ---- */

#define P(member) offsetof(struct power, member)
static const struct yaml_word drives[] = {
    {"none", DRIVE_NONE}, {"weight", DRIVE_WEIGHT}, {"spring", DRIVE_SPRING}, WORD_END};
static const struct yaml_key power_keys[] = {
    {.key = "drive", .kind = YAML_K_WORD, .offset = P(drive), .words = drives},
    {.key = "weight_kg", .kind = YAML_K_REAL, .offset = P(weight_kg), .low = 0.01, .high = 2000},
    {.key = "barrel_mm", .kind = YAML_K_REAL, .offset = P(barrel_mm), .low = 5, .high = 1500},
    {.key = "turns", .kind = YAML_K_REAL, .offset = P(turns), .low = 0.5, .high = 500},
    {.key = "spring_full_nmm",
     .kind = YAML_K_REAL,
     .offset = P(spring_full_nmm),
     .low = 1,
     .high = 50000},
    {.key = "spring_mid_nmm",
     .kind = YAML_K_REAL,
     .offset = P(spring_mid_nmm),
     .low = 1,
     .high = 50000},
    {.key = "spring_low_nmm",
     .kind = YAML_K_REAL,
     .offset = P(spring_low_nmm),
     .low = 1,
     .high = 50000},
    {.key = "hammer_mj", .kind = YAML_K_REAL, .offset = P(hammer_mj), .low = 0.001, .high = 1e6},
    {.key = "heavy", .kind = YAML_K_REAL, .offset = P(heavy), .low = 1, .high = 5},
    {.key = "fly_mm", .kind = YAML_K_REAL, .offset = P(fly_mm), .low = 1, .high = 1500},
    {.key = "fly_high_mm", .kind = YAML_K_REAL, .offset = P(fly_high_mm), .low = 1, .high = 1500},
    {.key = "fly_turns", .kind = YAML_K_REAL, .offset = P(fly_turns), .low = 0.5, .high = 500},
    {.key = "loss", .kind = YAML_K_REAL, .offset = P(loss), .low = 0, .high = 0.95},
    {.key = "interval_s", .kind = YAML_K_REAL, .offset = P(interval_s), .low = 0.02, .high = 60},
    {.key = "days", .kind = YAML_K_REAL, .offset = P(days), .low = 0.1, .high = 400},
};

bool clock_parts_power(const struct yaml_node *map, struct power *p, struct err *e)
{
    return yaml_read_map(map, "power", power_keys, COUNT(power_keys), p, e);
}

/* ---- lobes ---- */

static bool read_lobe(const struct yaml_node *n, const struct clock *c, struct lobe *lobe,
                      struct err *e)
{
    struct lobe_row {
        int minute;
        bool tall;
    } row = {0, false};
    const struct yaml_key keys[] = {
        {.key = "minute",
         .kind = YAML_K_INT,
         .offset = offsetof(struct lobe_row, minute),
         .needed = true,
         .low = 0,
         .high = c->lobe_period_min - 1},
        {.key = "tall", .kind = YAML_K_BOOL, .offset = offsetof(struct lobe_row, tall)},
    };
    if (yaml_shape_of(n) == YAML_SCALAR) {
        long minute;
        if (!yaml_int(n, "lobes", 0, c->lobe_period_min - 1, &minute, e))
            return false;
        row.minute = (int)minute;
    } else if (!yaml_read_map(n, "lobe", keys, COUNT(keys), &row, e)) {
        return false;
    }
    *lobe = (struct lobe){row.minute, row.tall};
    return true;
}

bool clock_parts_lobes(struct clock_draft *d, struct err *e)
{
    struct clock *c = &d->clock;
    if (!d->lobes) {
        yaml_complain(d->row, e, "clock \"%s\" lacks the key \"lobes\".", c->id);
        return false;
    }
    if (!want_list(d->lobes, "lobes", CLOCK_LOBES, e))
        return false;
    c->lobes = 0;
    for (size_t i = 0; i < yaml_count(d->lobes); i++) {
        const struct yaml_node *n = yaml_item(d->lobes, i);
        struct lobe lobe;
        if (!read_lobe(n, c, &lobe, e))
            return false;
        for (int k = 0; k < c->lobes; k++) {
            if (c->lobe[k].minute == lobe.minute) {
                yaml_complain(n, e, "two lobes stand at minute %d.", lobe.minute);
                return false;
            }
        }
        c->lobe[c->lobes++] = lobe;
    }
    if (c->lobe[0].minute == 0)
        return true;
    yaml_complain(d->lobes, e, "the first lobe of clock \"%s\" must be the hour's, at minute 0.",
                  c->id);
    return false;
}

static int lobe_of(const struct clock *c, const char *minute)
{
    long m;
    if (text_int(minute, &m))
        for (int i = 0; i < c->lobes; i++)
            if (c->lobe[i].minute == m)
                return i;
    return -1;
}

/* ---- sounders ---- */

struct sounder_row {
    struct sounder sounder;
};
#define S(member) offsetof(struct sounder_row, sounder.member)
static const struct yaml_key sounder_keys[] = {
    {.key = "name", .kind = YAML_K_TEXT, .offset = S(name), .needed = true},
    {.key = "voice", .kind = YAML_K_ID, .offset = S(voice), .needed = true},
    {.key = "pitch", .kind = YAML_K_TEXT, .offset = S(pitch)},
    {.key = "hz", .kind = YAML_K_REAL, .offset = S(hz), .low = 10, .high = 10000},
    {.key = "gain", .kind = YAML_K_REAL, .offset = S(gain), .low = 0.01, .high = 10},
};

static bool read_sounder(const struct yaml_node *n, struct sounder *s, struct err *e)
{
    struct sounder_row row = {{.gain = 1}};
    if (!yaml_read_map(n, "sounder", sounder_keys, COUNT(sounder_keys), &row, e))
        return false;
    if (row.sounder.pitch && !pitch_hz(row.sounder.pitch, &row.sounder.hz)) {
        yaml_complain(n, e, "key \"pitch\" has \"%.40s\"; a note is written as F#4 or Bb3.",
                      row.sounder.pitch);
        return false;
    }
    if (row.sounder.hz <= 0) {
        yaml_complain(n, e, "sounder \"%s\" has neither \"pitch\" nor \"hz\".", row.sounder.name);
        return false;
    }
    *s = row.sounder;
    return true;
}

static int sounder_of(const struct clock *c, const char *name)
{
    for (int i = 0; name && i < c->sounders; i++)
        if (!strcmp(c->sounder[i].name, name))
            return i;
    return -1;
}

bool clock_parts_sounders(struct clock_draft *d, struct err *e)
{
    struct clock *c = &d->clock;
    if (!d->sounders) {
        yaml_complain(d->row, e, "clock \"%s\" lacks the key \"sounders\".", c->id);
        return false;
    }
    if (!want_list(d->sounders, "sounders", CLOCK_SOUNDERS, e))
        return false;
    bool good = true;
    c->sounders = 0;
    for (size_t i = 0; i < yaml_count(d->sounders); i++) {
        struct sounder s;
        if (!read_sounder(yaml_item(d->sounders, i), &s, e)) {
            good = false;
        } else if (sounder_of(c, s.name) >= 0) {
            yaml_complain(yaml_item(d->sounders, i), e, "two sounders are called \"%s\".", s.name);
            good = false;
        } else {
            c->sounder[c->sounders++] = s;
        }
    }
    return good;
}

/* Sounder by name, with the nearest known one in the sentence. */
static bool find_sounder(const struct yaml_node *n, const struct clock *c, uint8_t *into,
                         struct err *e)
{
    const char *name = yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : NULL;
    int found = sounder_of(c, name);
    if (found >= 0) {
        *into = (uint8_t)found;
        return true;
    }
    const char *names[CLOCK_SOUNDERS];
    for (int i = 0; i < c->sounders; i++)
        names[i] = c->sounder[i].name;
    const char *near = name ? text_nearest(name, names, (size_t)c->sounders) : NULL;
    yaml_complain(n, e, "\"%.40s\" is no sounder of clock \"%s\"%s%s%s.", name ? name : "a list",
                  c->id, near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    return false;
}

/* ---- hints ---- */

static bool read_hint(const struct yaml_node *map, size_t i, struct clock_hint *h, struct err *e)
{
    const struct yaml_node *n = yaml_item(map, i);
    size_t values = yaml_shape_of(n) == YAML_LIST ? yaml_count(n) : 1;
    h->word = yaml_key_text(map, i);
    h->values = 0;
    for (size_t k = 0; k < values; k++) {
        const struct yaml_node *v = yaml_shape_of(n) == YAML_LIST ? yaml_item(n, k) : n;
        if (yaml_shape_of(v) != YAML_SCALAR || h->values == COUNT(h->value)) {
            yaml_complain(v, e, "hint \"%.40s\" wants a word or a list of at most %zu words.",
                          h->word, COUNT(h->value));
            return false;
        }
        h->value[h->values++] = yaml_text(v);
    }
    return true;
}

static const char *hint_value(const struct clock *c, const char *word, const char *else_this)
{
    for (size_t i = 0; i < c->hints; i++)
        if (!strcmp(c->hint[i].word, word) && c->hint[i].values)
            return c->hint[i].value[0];
    return else_this;
}

bool clock_parts_hints(struct clock_draft *d, struct err *e)
{
    struct clock *c = &d->clock;
    bool good = true;
    c->hints = 0;
    if (d->hints && !want_map(d->hints, "hints", e))
        return false;
    for (size_t i = 0; d->hints && i < yaml_count(d->hints); i++) {
        if (c->hints == CLOCK_HINTS) {
            yaml_complain(d->hints, e, "clock \"%s\" has more than %d hints.", c->id, CLOCK_HINTS);
            return false;
        }
        good = read_hint(d->hints, i, &c->hint[c->hints], e) && good;
        c->hints++;
    }
    static const char *const by_control[] = {[CONTROL_NONE] = "none",
                                             [CONTROL_RACK] = "rack",
                                             [CONTROL_COUNT_WHEEL] = "countwheel",
                                             [CONTROL_RUN] = "none"};
    c->count = hint_value(c, "count", by_control[d->train[TRAIN_STRIKE].train.control]);
    c->half = hint_value(c, "half", "none");
    c->chime = hint_value(c, "chime", "none");
    c->age = hint_value(c, "age", "unknown");
    c->housing = hint_value(c, "case", "unknown");
    return good;
}

/* ---- night silence ---- */

bool clock_parts_night(struct clock_draft *d, struct err *e)
{
    struct clock *c = &d->clock;
    if (!d->night_from && !d->night_to)
        return true;
    if (d->night_from && d->night_to && text_time(d->night_from, &c->night_from_min, NULL) &&
        text_time(d->night_to, &c->night_to_min, NULL))
        return true;
    yaml_complain(
        d->row, e,
        "clock \"%s\" wants both \"night_from\" and \"night_to\" as times, like \"22:10\".", c->id);
    return false;
}

/* ---- trains ---- */

static bool read_arbors(struct train_draft *d, struct err *e)
{
    struct train *t = &d->train;
    if (!want_list(d->arbors, "arbors", CLOCK_ARBORS, e))
        return false;
    static const struct yaml_key keys[] = {
        {.key = "name",
         .kind = YAML_K_TEXT,
         .offset = offsetof(struct arbor, name),
         .needed = true},
        {.key = "wheel",
         .kind = YAML_K_INT,
         .offset = offsetof(struct arbor, wheel),
         .low = 6,
         .high = 300},
        {.key = "pinion",
         .kind = YAML_K_INT,
         .offset = offsetof(struct arbor, pinion),
         .low = 2,
         .high = 100},
    };
    bool good = true;
    t->arbors = 0;
    for (size_t i = 0; i < yaml_count(d->arbors); i++) {
        struct arbor a = {0};
        if (yaml_read_map(yaml_item(d->arbors, i), "arbor", keys, COUNT(keys), &a, e))
            t->arbor[t->arbors++] = a;
        else
            good = false; /* it may have no name to go by */
    }
    return good;
}

static bool find_arbor(const struct clock_draft *d, const struct train *t, const char *key,
                       const char *name, int *into, struct err *e)
{
    if (!name)
        return true;
    for (int i = 0; i < t->arbors; i++) {
        if (!strcmp(t->arbor[i].name, name)) {
            *into = i;
            return true;
        }
    }
    yaml_complain(d->row, e,
                  "key \"%s\" of the %s train names \"%s\", which is none of its arbors.", key,
                  event_train_name(t->role), name);
    return false;
}

static bool read_stroke(const struct yaml_node *n, const struct clock *c, struct stroke *s,
                        struct err *e)
{
    *s = (struct stroke){0};
    if (yaml_shape_of(n) == YAML_SCALAR)
        return find_sounder(n, c, &s->sounder, e);
    struct stroke_row {
        const struct yaml_node *sounder;
        double at;
    } row = {NULL, 0};
    static const struct yaml_key keys[] = {
        {.key = "sounder",
         .kind = YAML_K_NODE,
         .offset = offsetof(struct stroke_row, sounder),
         .needed = true},
        {.key = "at",
         .kind = YAML_K_REAL,
         .offset = offsetof(struct stroke_row, at), /* not always right behind: 4-byte pointers */
         .low = 0,
         .high = 0.95},
    };
    if (!yaml_read_map(n, "stroke", keys, COUNT(keys), &row, e) ||
        !find_sounder(row.sounder, c, &s->sounder, e))
        return false;
    s->at = (float)row.at;
    return true;
}

static bool read_patterns(const struct clock *c, struct train_draft *d, struct err *e)
{
    struct train *t = &d->train;
    if (!want_list(d->patterns, "patterns", CLOCK_PATTERNS, e))
        return false;
    bool good = true;
    t->patterns = 0;
    for (size_t i = 0; i < yaml_count(d->patterns); i++) {
        const struct yaml_node *list = yaml_item(d->patterns, i);
        if (!want_list(list, "patterns", CLOCK_STROKES, e))
            return false;
        struct pattern *p = &t->pattern[t->patterns++];
        p->strokes = 0;
        for (size_t k = 0; k < yaml_count(list); k++)
            good = read_stroke(yaml_item(list, k), c, &p->stroke[p->strokes++], e) && good;
    }
    return good;
}

static bool read_edges(const struct yaml_node *n, struct snail *s, struct err *e)
{
    if (!n)
        return true;
    double half = s->turn_min / 2.0 / s->steps;
    if (yaml_shape_of(n) != YAML_LIST || (int)yaml_count(n) != s->steps) {
        yaml_complain(n, e, "key \"edges\" wants %d numbers, one for each step.", s->steps);
        return false;
    }
    for (int i = 0; i < s->steps; i++)
        if (!yaml_real(yaml_item(n, (size_t)i), "edges", -half, half, &s->edge_min[i], e))
            return false;
    return true;
}

static bool read_snail(const struct yaml_node *n, struct snail *s, struct err *e)
{
    struct snail_row {
        struct snail snail;
        const struct yaml_node *steps, *edges;
    } row = {.snail = {.turn_min = 720}};
    static const struct yaml_key keys[] = {
        {.key = "steps",
         .kind = YAML_K_NODE,
         .offset = offsetof(struct snail_row, steps),
         .needed = true},
        {.key = "edges", .kind = YAML_K_NODE, .offset = offsetof(struct snail_row, edges)},
        {.key = "turn_min",
         .kind = YAML_K_INT,
         .offset = offsetof(struct snail_row, snail.turn_min),
         .low = 60,
         .high = 1440},
        {.key = "lead_min",
         .kind = YAML_K_INT,
         .offset = offsetof(struct snail_row, snail.lead_min),
         .low = 0,
         .high = 90},
        {.key = "bevelled",
         .kind = YAML_K_BOOL,
         .offset = offsetof(struct snail_row, snail.bevelled)},
    };
    if (!yaml_read_map(n, "snail", keys, COUNT(keys), &row, e) ||
        !read_ints(row.steps, "steps", 0, CLOCK_STEPS, row.snail.teeth, &row.snail.steps,
                   CLOCK_STEPS, e) ||
        !read_edges(row.edges, &row.snail, e))
        return false;
    *s = row.snail;
    return true;
}

static bool read_snails(struct train_draft *d, struct err *e)
{
    struct train *t = &d->train;
    if (!want_list(d->snails, "snails", CLOCK_SNAILS, e))
        return false;
    bool good = true;
    t->snails = 0;
    for (size_t i = 0; i < yaml_count(d->snails); i++)
        good = read_snail(yaml_item(d->snails, i), &t->snail[t->snails++], e) && good;
    return good;
}

static const struct yaml_word readings[] = {{"nothing", READ_NOTHING}, {"snail", READ_SNAIL},
                                            {"one", READ_ONE},         {"count", READ_COUNT},
                                            {"passing", READ_PASSING}, WORD_END};

static bool read_use(const struct yaml_node *n, struct lobe_use *use, struct err *e)
{
    struct use_row {
        int read, snail, pattern;
        bool odd_blow;
    } row = {0};
    static const struct yaml_key keys[] = {
        {.key = "read",
         .kind = YAML_K_WORD,
         .offset = offsetof(struct use_row, read),
         .needed = true,
         .words = readings},
        {.key = "snail",
         .kind = YAML_K_INT,
         .offset = offsetof(struct use_row, snail),
         .low = 0,
         .high = CLOCK_SNAILS - 1},
        {.key = "pattern",
         .kind = YAML_K_INT,
         .offset = offsetof(struct use_row, pattern),
         .low = 0,
         .high = CLOCK_PATTERNS - 1},
        {.key = "odd_blow", .kind = YAML_K_BOOL, .offset = offsetof(struct use_row, odd_blow)},
    };
    bool good = yaml_shape_of(n) == YAML_SCALAR
                    ? yaml_one_of(n, "use", readings, &row.read, e)
                    : yaml_read_map(n, "use of a lobe", keys, COUNT(keys), &row, e);
    if (good)
        *use = (struct lobe_use){(enum reading)row.read, row.snail, row.pattern, row.odd_blow};
    return good;
}

static bool read_uses(const struct clock *c, struct train_draft *d, struct err *e)
{
    if (!want_map(d->use, "use", e))
        return false;
    struct train *t = &d->train;
    bool good = true;
    memset(t->use, 0, sizeof t->use);
    for (size_t i = 0; i < yaml_count(d->use); i++) {
        int lobe = lobe_of(c, yaml_key_text(d->use, i));
        if (lobe < 0) {
            yaml_complain(yaml_key_node(d->use, i), e,
                          "\"%.40s\" is not the minute of a lobe of clock \"%s\".",
                          yaml_key_text(d->use, i), c->id);
            good = false;
        } else {
            good = read_use(yaml_item(d->use, i), &t->use[lobe], e) && good;
        }
    }
    return good;
}

static bool read_entry_hammers(const struct clock *c, struct train_draft *d, struct err *e)
{
    struct train *t = &d->train;
    const struct yaml_node *list = d->entry_hammers;
    if (yaml_shape_of(list) != YAML_LIST || (int)yaml_count(list) != t->entries) {
        yaml_complain(list, e, "key \"entry_hammers\" wants %d words, one for each entry.",
                      t->entries);
        return false;
    }
    for (int i = 0; i < t->entries; i++) {
        const struct yaml_node *n = yaml_item(list, (size_t)i);
        const char *s = yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : "";
        char letters[CLOCK_SOUNDERS + 1] = "";
        for (int k = 0; k < c->sounders; k++)
            letters[k] = (char)('a' + k);
        if ((int)strlen(s) != t->entry[i] || strspn(s, letters) != strlen(s)) {
            yaml_complain(n, e,
                          "key \"entry_hammers\" has \"%.40s\"; entry %d has %d blows, each one of "
                          "the letters \"%s\".",
                          s, i + 1, t->entry[i], letters);
            return false;
        }
        t->entry_hammers[i] = s;
    }
    return true;
}

static bool read_hammers(const struct clock *c, struct train_draft *d, struct err *e)
{
    if (!want_list(d->hammers, "hammers", CLOCK_SOUNDERS, e))
        return false;
    bool good = true;
    memset(d->train.hammer, EVENT_NO_SOUNDER, sizeof d->train.hammer);
    for (size_t i = 0; i < yaml_count(d->hammers); i++)
        good = find_sounder(yaml_item(d->hammers, i), c, &d->train.hammer[i], e) && good;
    return good;
}

static bool read_tunes(struct train_draft *d, tune_finder *find, void *with, struct err *e)
{
    struct train *t = &d->train;
    if (!want_list(d->tunes, "tunes", CLOCK_TUNES, e))
        return false;
    bool good = true;
    t->tunes = 0;
    for (size_t i = 0; i < yaml_count(d->tunes); i++) {
        const struct yaml_node *n = yaml_item(d->tunes, i);
        const struct tune *tune = yaml_shape_of(n) == YAML_SCALAR ? find(with, yaml_text(n)) : NULL;
        if (!tune) {
            yaml_complain(n, e,
                          "\"%.40s\" is no tune; `letoff list tunes` shows those that are known.",
                          yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : "a list");
            good = false;
        } else {
            t->tune[t->tunes++] = tune;
        }
    }
    return good;
}

static bool find_shared(const struct clock_draft *d, struct train_draft *t, struct err *e)
{
    if (!t->shares)
        return true;
    t->train.shares = event_train_of(t->shares);
    if (t->train.shares >= 0 && t->train.shares != (int)t->train.role)
        return true;
    yaml_complain(
        d->row, e,
        "key \"shares\" has \"%.40s\"; another train is expected: going, strike, chime or music.",
        t->shares);
    return false;
}

bool clock_parts_train(const struct clock_draft *d, struct train_draft *t, tune_finder *find,
                       void *with, struct err *e)
{
    const struct clock *c = &d->clock;
    bool good = !t->arbors || read_arbors(t, e);
    good = find_arbor(d, &t->train, "pins_on", t->pins_on, &t->train.pins_on, e) && good;
    good = find_arbor(d, &t->train, "warning_on", t->warning_on, &t->train.warning_on, e) && good;
    good = (!t->patterns || read_patterns(c, t, e)) && good;
    good = (!t->snails || read_snails(t, e)) && good;
    good = (!t->entries || read_ints(t->entries, "entries", 0, 100, t->train.entry,
                                     &t->train.entries, CLOCK_ENTRIES, e)) &&
           good;
    good = (!t->use || read_uses(c, t, e)) && good;
    good = (!t->hammers || read_hammers(c, t, e)) && good;
    good = (!t->tunes || read_tunes(t, find, with, e)) && good;
    good = find_shared(d, t, e) && good;
    return good && (!t->entry_hammers || read_entry_hammers(c, t, e));
}
