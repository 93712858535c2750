#include "command/setup.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "mem.h"
#include "text.h"

const struct clock *setup_clock(const struct library *lib, const char *id, struct err *e)
{
    const struct clock *c = library_find_clock(lib, id);
    size_t n = library_clocks(lib);
    if (c)
        return c;
    const char **names = mem_alloc((n + 1) * sizeof *names);
    for (size_t i = 0; i < n; i++)
        names[i] = library_clock(lib, i)->id;
    const char *near = text_nearest(id, names, n);
    err_add(e, "There is no clock \"%.60s\"%s%s%s; letoff list clocks shows those there are.", id,
            near ? "; the nearest is \"" : "", near ? near : "", near ? "\"" : "");
    mem_free(names);
    return NULL;
}

static const struct fault *find_fault(const struct library *lib, const char *id, struct err *e)
{
    const struct fault *f = library_find_fault(lib, id);
    size_t n = library_faults(lib);
    if (f)
        return f;
    const char **names = mem_alloc((n + 1) * sizeof *names);
    for (size_t i = 0; i < n; i++)
        names[i] = library_fault(lib, i)->id;
    const char *near = text_nearest(id, names, n);
    err_add(e, "There is no fault \"%.60s\"%s%s%s; letoff list faults shows those there are.", id,
            near ? "; the nearest is \"" : "", near ? near : "", near ? "\"" : "");
    mem_free(names);
    return NULL;
}

/* "ID" or "ID=0.7"; severity stays below 0 when none is given. */
static const struct fault *read_fault(const struct library *lib, const char *word, double *severity,
                                      struct err *e)
{
    const char *equals = strchr(word, '=');
    char id[80];
    *severity = -1;
    snprintf(id, sizeof id, "%.*s", equals ? (int)(equals - word) : 79, word);
    if (equals && (!text_real(equals + 1, severity) || *severity < 0 || *severity > 1)) {
        err_add(e, "The severity in \"%.80s\" must be a number from 0 to 1.", word);
        return NULL;
    }
    return find_fault(lib, id, e);
}

/* The variant nearest in severity (the middle one of those), or one drawn by its share. */
static size_t choose_variant(const struct fault *f, const struct clock *c, double severity,
                             struct random *random)
{
    struct change change[FAULT_SETS + FAULT_AXES + 1];
    size_t n = fault_variants(f, c), best = 0;
    double left = random_unit(random), least = 9, weight, at;
    for (size_t v = 0; v < n; v++) {
        fault_variant(f, c, v, change, &weight, &at);
        if (severity < 0) {
            left -= weight;
            if (left < 0)
                return v;
        } else if (fabs(at - severity) + 1e-9 * fabs((double)v - (double)n / 2) < least) {
            least = fabs(at - severity) + 1e-9 * fabs((double)v - (double)n / 2);
            best = v;
        }
    }
    return best;
}

static bool join_fault(struct setup *s, const struct library *lib, const char *word,
                       struct change *change, size_t *changes, struct random *random, struct err *e)
{
    double weight, severity;
    const struct fault *f = read_fault(lib, word, &severity, e);
    if (!f)
        return false;
    if (!fault_applies(f, s->clock)) {
        err_add(e, "The fault \"%s\" cannot occur on the clock \"%s\", which lacks the part.", f->id,
                s->clock->id);
        return false;
    }
    size_t v = choose_variant(f, s->clock, severity, random);
    *changes += fault_variant(f, s->clock, v, change + *changes, &weight, &severity);
    s->fault[s->faults] = f;
    s->severity[s->faults++] = severity;
    return true;
}

/* One of the states a fault may be found in, out of step if it has any such. */
static void choose_start(struct setup *s, const struct fault *f, struct random *random)
{
    struct start start[128];
    struct rest due = rest_in_step(&s->works, s->moment.work_min);
    size_t n = fault_starts(f, &s->works, s->moment.work_min, start, 128);
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += n > 1 && rest_same(start[i].rest, due) ? 0 : start[i].p;
    double left = random_unit(random) * sum;
    for (size_t i = 0; i < n; i++) {
        left -= n > 1 && rest_same(start[i].rest, due) ? 0 : start[i].p;
        if (left < 0) {
            s->moment.rest = start[i].rest;
            return;
        }
    }
}

bool setup_init(struct setup *s, const struct library *lib, const struct clock *clock,
                const char *const *faults, size_t count, int shown_min, struct random *random,
                struct err *e)
{
    struct change change[SETUP_FAULTS * (FAULT_SETS + FAULT_AXES + 1)];
    size_t changes = 0;
    bool good = true;
    *s = (struct setup){.clock = clock};
    if (count > SETUP_FAULTS) {
        err_add(e, "At most %d faults can be set at once; %zu were given.", SETUP_FAULTS, count);
        return false;
    }
    for (size_t i = 0; i < count; i++)
        good = join_fault(s, lib, faults[i], change, &changes, random, e) && good;
    if (!good)
        return false;
    works_init(&s->works, clock, change, changes);
    works_init(&s->sound, clock, NULL, 0);
    moment_init(&s->moment, &s->works, movement_work_at(&s->works, shown_min));
    for (size_t i = 0; i < s->faults; i++)
        if (s->fault[i]->start)
            choose_start(s, s->fault[i], random);
    return true;
}

/* --- --state ------------------------------------------------------------------------------ */

static bool set_power_word(struct setup *s, int train, const char *value)
{
    static const char *const words[] = {"out", "low", "good", "full"};
    for (int i = 0; i < 4; i++)
        if (!strcmp(value, words[i])) {
            rest_set_power(&s->moment.rest, train, (enum power_level)i);
            return true;
        }
    return false;
}

static bool set_number(uint8_t *to, const char *value, long most)
{
    long n;
    if (!text_int(value, &n) || n < 0 || n > most)
        return false;
    *to = (uint8_t)n;
    return true;
}

static bool set_silent(struct setup *s, const char *value)
{
    bool both = !strcmp(value, "both");
    if (!both && strcmp(value, "strike") && strcmp(value, "chime"))
        return false;
    if (both || !strcmp(value, "strike"))
        s->moment.rest.flags |= REST_SILENT_STRIKE;
    if (both || !strcmp(value, "chime"))
        s->moment.rest.flags |= REST_SILENT_CHIME;
    return true;
}

static bool set_hands(struct setup *s, const char *value)
{
    int minutes;
    if (!text_time(value, &minutes, NULL))
        return false;
    s->moment.work_min = movement_work_at(&s->works, minutes);
    return true;
}

static bool set_word(struct setup *s, const char *key, const char *value)
{
    const struct clock *c = s->clock;
    struct rest *r = &s->moment.rest;
    int strikes = c->train[TRAIN_STRIKE].entries, quarters = c->train[TRAIN_CHIME].entries;
    if (!strcmp(key, "hands"))
        return set_hands(s, value);
    if (!strcmp(key, "count")) /* place of the count wheel, 0 .. entries-1 */
        return set_number(&r->count, value, strikes > 0 ? strikes - 1 : 0);
    if (!strcmp(key, "quarter")) /* place of the quarter count wheel */
        return set_number(&r->quarter, value, quarters > 0 ? quarters - 1 : 0);
    if (!strcmp(key, "drum"))
        return set_number(&r->drum, value, TUNE_CHANGES - 1);
    if (!strcmp(key, "hung")) /* teeth the rack hangs down */
        return set_number(&r->left, value, 24);
    if (!strcmp(key, "tune"))
        return set_number(&r->tune, value, c->train[TRAIN_CHIME].tunes - 1);
    if (!strcmp(key, "silent"))
        return set_silent(s, value);
    int train = event_train_of(key); /* strike=out, chime=low ... */
    return train >= 0 && set_power_word(s, train, value);
}

bool setup_state(struct setup *s, const char *words, struct err *e)
{
    bool good = true;
    char *copy = mem_copy_text(words), *next = copy;
    while (next && *next) {
        char *word = next, *comma = strchr(next, ','), *equals;
        next = comma ? comma + 1 : NULL;
        if (comma)
            *comma = 0;
        equals = strchr(word, '=');
        if (equals)
            *equals = 0;
        if (!equals || !set_word(s, word, equals + 1)) {
            err_add(e, "--state \"%.40s%s%.40s\" is no state of this clock; expected are hands=H:MM, "
                       "count=N, quarter=N, drum=N, hung=N, tune=N, silent=strike|chime|both, or "
                       "going|strike|chime|music=out|low|good|full.",
                    word, equals ? "=" : "", equals ? equals + 1 : "");
            good = false;
        }
    }
    mem_free(copy);
    return good;
}

size_t setup_sounders(const struct clock *c, struct score_sounder *to)
{
    for (int i = 0; i < c->sounders; i++)
        to[i] = (struct score_sounder){c->sounder[i].name, c->sounder[i].voice, c->sounder[i].hz,
                                       (float)c->sounder[i].gain};
    return (size_t)c->sounders;
}
