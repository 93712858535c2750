#include "repair_minutes.h"

#include <math.h>
#include <string.h>
#include "mem.h"

/* ---- the table ---- */

struct places {
    double owner, visit, bench;
};
static const struct yaml_key place_keys[] = {
    {"owner", YAML_K_REAL, offsetof(struct places, owner), false, 0, 10000, NULL, 0, 0},
    {"visit", YAML_K_REAL, offsetof(struct places, visit), true, 0, 10000, NULL, 0, 0},
    {"bench", YAML_K_REAL, offsetof(struct places, bench), true, 0, 10000, NULL, 0, 0},
};

struct oil {
    double minutes, works;
};
static const struct yaml_key oil_keys[] = {
    {"minutes", YAML_K_REAL, offsetof(struct oil, minutes), true, 0, 10000, NULL, 0, 0},
    {"works", YAML_K_REAL, offsetof(struct oil, works), true, 0, 1, NULL, 0, 0},
};

struct ask {
    double seen, history, hint, sound, each_letoff;
};
static const struct yaml_key ask_keys[] = {
    {"seen", YAML_K_REAL, offsetof(struct ask, seen), true, 0, 100, NULL, 0, 0},
    {"history", YAML_K_REAL, offsetof(struct ask, history), true, 0, 100, NULL, 0, 0},
    {"hint", YAML_K_REAL, offsetof(struct ask, hint), true, 0, 100, NULL, 0, 0},
    {"sound", YAML_K_REAL, offsetof(struct ask, sound), true, 0, 100, NULL, 0, 0},
    {"each_letoff", YAML_K_REAL, offsetof(struct ask, each_letoff), true, 0, 100, NULL, 0, 0},
};

static const struct yaml_word place_words[] = {
    {"owner", PLACE_OWNER}, {"visit", PLACE_VISIT}, {"bench", PLACE_BENCH}, {NULL, 0}};
static const struct yaml_key cure_keys[] = {
    {"id", YAML_K_ID, offsetof(struct charge, id), true, 0, 0, NULL, 0, 0},
    {"who", YAML_K_WORD, offsetof(struct charge, who), true, 0, 0, place_words, 0, 0},
    {"minutes", YAML_K_REAL, offsetof(struct charge, minutes), true, 0, 10000, NULL, 0, 0},
};

static const struct yaml_word symptom_words[] = {
    {"stands", SYMPTOM_STANDS},
    {"runs_on", SYMPTOM_RUNS_ON},
    {"strike_silent", SYMPTOM_STRIKE_SILENT},
    {"chime_silent", SYMPTOM_CHIME_SILENT},
    {"sometimes_silent", SYMPTOM_SOMETIMES_SILENT},
    {"chime_wrong", SYMPTOM_CHIME_WRONG},
    {"one_error", SYMPTOM_ONE_ERROR},
    {"counts_wrong", SYMPTOM_COUNTS_WRONG},
    {"off_time", SYMPTOM_OFF_TIME},
    {"pace", SYMPTOM_PACE},
    {"tone", SYMPTOM_TONE},
    {"nothing", SYMPTOM_NOTHING},
    {NULL, 0},
};
static const struct yaml_key chart_keys[] = {
    {"symptom", YAML_K_WORD, offsetof(struct chart_row, symptom), true, 0, 0, symptom_words, 0, 0},
    {"try", YAML_K_TEXTS, offsetof(struct chart_row, cure), true, 0, 0, NULL, 6,
     offsetof(struct chart_row, cures)},
};
static const struct yaml_key world_keys[] = {
    {"name", YAML_K_TEXT, offsetof(struct world_row, name), true, 0, 0, NULL, 0, 0},
    {"seed", YAML_K_INT, offsetof(struct world_row, seed), true, 0, 1e6, NULL, 0, 0},
    {"misheard", YAML_K_REAL, offsetof(struct world_row, misheard), true, 0, 1, NULL, 0, 0},
    {"ear", YAML_K_REAL, offsetof(struct world_row, ear), true, 0, 10, NULL, 0, 0},
    {"priors", YAML_K_REAL, offsetof(struct world_row, priors), true, 0, 3, NULL, 0, 0},
    {"off_grid", YAML_K_BOOL, offsetof(struct world_row, off_grid), true, 0, 0, NULL, 0, 0},
    {"lacking", YAML_K_REAL, offsetof(struct world_row, lacking), true, 0, 0.5, NULL, 0, 0},
};

struct draft {
    const struct yaml_node *travel, *look, *oil, *ask, *unlisted, *worlds, *chart, *cures;
    int questions, rows;
};
static const struct yaml_key table_keys[] = {
    {"travel", YAML_K_NODE, offsetof(struct draft, travel), true, 0, 0, NULL, 0, 0},
    {"look", YAML_K_NODE, offsetof(struct draft, look), true, 0, 0, NULL, 0, 0},
    {"oil_in_house", YAML_K_NODE, offsetof(struct draft, oil), true, 0, 0, NULL, 0, 0},
    {"ask", YAML_K_NODE, offsetof(struct draft, ask), true, 0, 0, NULL, 0, 0},
    {"unlisted", YAML_K_NODE, offsetof(struct draft, unlisted), true, 0, 0, NULL, 0, 0},
    {"questions", YAML_K_INT, offsetof(struct draft, questions), true, 0, 20, NULL, 0, 0},
    {"rows", YAML_K_INT, offsetof(struct draft, rows), true, 1, 40, NULL, 0, 0},
    {"worlds", YAML_K_NODE, offsetof(struct draft, worlds), true, 0, 0, NULL, 0, 0},
    {"chart", YAML_K_NODE, offsetof(struct draft, chart), true, 0, 0, NULL, 0, 0},
    {"cures", YAML_K_NODE, offsetof(struct draft, cures), true, 0, 0, NULL, 0, 0},
};
#define KEYS(k) (k), sizeof(k) / sizeof *(k)

static bool read_places(const struct yaml_node *n, const char *what, double out[PLACES],
                        struct err *e)
{
    struct places p = {0, 0, 0};
    bool ok = yaml_read_map(n, what, KEYS(place_keys), &p, e);
    out[PLACE_OWNER] = p.owner;
    out[PLACE_VISIT] = p.visit;
    out[PLACE_BENCH] = p.bench;
    return ok;
}

static bool read_asking(struct minutes_table *t, const struct draft *d, struct err *e)
{
    struct oil oil = {0, 0};
    struct ask ask = {0, 0, 0, 0, 0};
    bool ok = yaml_read_map(d->oil, "oil_in_house", KEYS(oil_keys), &oil, e);
    ok = yaml_read_map(d->ask, "ask", KEYS(ask_keys), &ask, e) && ok;
    t->oil_min = oil.minutes;
    t->oil_works = oil.works;
    t->ask[QUESTION_SEEN] = ask.seen;
    t->ask[QUESTION_HISTORY] = ask.history;
    t->ask[QUESTION_HINT] = ask.hint;
    t->ask_sound = ask.sound;
    t->each_letoff = ask.each_letoff;
    return ok;
}

static bool read_rows(struct minutes_table *t, const struct draft *d, struct err *e)
{
    bool ok = true;
    t->worlds = yaml_count(d->worlds) < 4 ? yaml_count(d->worlds) : 4;
    for (size_t i = 0; i < t->worlds; i++)
        ok = yaml_read_map(yaml_item(d->worlds, i), "world", KEYS(world_keys), &t->world[i], e) &&
             ok;
    t->chart_rows = yaml_count(d->chart) < SYMPTOMS ? yaml_count(d->chart) : SYMPTOMS;
    for (size_t i = 0; i < t->chart_rows; i++)
        ok =
            yaml_read_map(yaml_item(d->chart, i), "chart row", KEYS(chart_keys), &t->chart[i], e) &&
            ok;
    for (size_t i = 0; i < yaml_count(d->cures); i++) {
        t->cure = mem_grow(t->cure, &t->cure_room, t->cures + 1, sizeof *t->cure);
        ok = yaml_read_map(yaml_item(d->cures, i), "cure", KEYS(cure_keys), &t->cure[t->cures++],
                           e) &&
             ok;
    }
    return ok;
}

bool minutes_table_load(struct minutes_table *t, const char *path, struct err *e)
{
    struct draft d = {0};
    memset(t, 0, sizeof *t);
    t->tree = yaml_load(path, e);
    if (!t->tree || !yaml_read_map(yaml_root(t->tree), "table", KEYS(table_keys), &d, e))
        return false;
    t->questions = d.questions;
    t->rows = d.rows;
    bool ok = read_places(d.travel, "travel", t->travel, e);
    ok = read_places(d.look, "look", t->look, e) && ok;
    ok = read_places(d.unlisted, "unlisted", t->unlisted, e) && ok;
    ok = read_asking(t, &d, e) && ok;
    return read_rows(t, &d, e) && ok;
}

void minutes_table_release(struct minutes_table *t)
{
    mem_free(t->cure);
    if (t->tree)
        yaml_tree_free(t->tree);
    memset(t, 0, sizeof *t);
}

/* ---- charges ---- */

static enum place place_of(const char *who)
{
    return !who || strcmp(who, "visit") == 0 ? PLACE_VISIT
           : strcmp(who, "owner") == 0       ? PLACE_OWNER
                                             : PLACE_BENCH;
}

struct charge minutes_of_cure(const struct minutes_table *t, const char *id, const struct cure *c)
{
    for (size_t i = 0; i < t->cures; i++)
        if (strcmp(t->cure[i].id, id) == 0)
            return t->cure[i];
    enum place p = place_of(c ? c->who : NULL);
    return (struct charge){id, (int)p, t->unlisted[p]};
}

double minutes_of_question(const struct minutes_table *t, enum question_kind kind, int letoffs)
{
    if (kind == QUESTION_STRIKE || kind == QUESTION_CHIME)
        return t->ask_sound + t->each_letoff * letoffs;
    return t->ask[kind];
}

double minutes_spent(const struct spent *s)
{
    return s->owner + s->way + s->look + s->in_vain + s->cure;
}

/* One is there (at the house or the bench) and has not yet found it: look, then do what is wanted. */
static void look_and_do(const struct minutes_table *t, struct want want, enum place at,
                        struct spent *s)
{
    s->look += t->look[at];
    s->way += at == PLACE_VISIT && want.cure.who == PLACE_BENCH ? t->travel[PLACE_BENCH] : 0;
    s->cure += want.cure.minutes;
}

static bool is_oil(const char *cure)
{
    return strcmp(cure, "clean-and-oil") == 0;
}

/* The first cure of the plan is done there, and if it was not that, one looks. */
static void do_there(const struct minutes_table *t, struct want want, const char *cure,
                     enum place at, struct spent *s)
{
    bool oil = at == PLACE_VISIT && is_oil(cure);
    bool right = oil ? want.oil_does : strcmp(cure, want.cure.id) == 0;
    double minutes = oil ? t->oil_min : minutes_of_cure(t, cure, NULL).minutes;
    if (right) {
        s->cure += minutes;
        return;
    }
    s->in_vain += minutes;
    look_and_do(t, want, at, s);
}

struct spent minutes_of_plan(const struct minutes_table *t, struct want want,
                             const struct plan_step *step, size_t steps)
{
    struct spent s = {0, 0, 0, 0, 0};
    size_t i = 0;
    for (; i < steps && step[i].place == NEXT_OWNER; i++) {
        s.owner += minutes_of_cure(t, step[i].cure, NULL).minutes;
        if (strcmp(step[i].cure, want.cure.id) == 0)
            return s;
    }
    enum place at = i < steps && step[i].place == NEXT_BENCH ? PLACE_BENCH : PLACE_VISIT;
    s.way += t->travel[at];
    if (i == steps || strncmp(step[i].cure, "look", 4) == 0)
        look_and_do(t, want, at, &s);
    else
        do_there(t, want, step[i].cure, at, &s);
    return s;
}

struct spent minutes_of_oil_visit(const struct minutes_table *t, struct want want)
{
    struct spent s = {0, t->travel[PLACE_VISIT], 0, 0, 0};
    do_there(t, want, "clean-and-oil", PLACE_VISIT, &s);
    return s;
}

struct spent minutes_at_best(const struct minutes_table *t, struct want want)
{
    if (want.oil_does)
        return minutes_of_oil_visit(t, want);
    return (struct spent){0, t->travel[want.cure.who], 0, 0, want.cure.minutes};
}

/* ---- the chart ---- */

static bool clock_may_want(const struct library *lib, const struct clock *clock, const char *cure)
{
    if (strcmp(cure, "leave-alone") == 0)
        return true;
    for (size_t i = 0; i < library_faults(lib); i++) {
        const struct fault *f = library_fault(lib, i);
        if (f->cure && strcmp(f->cure, cure) == 0 && fault_applies(f, clock))
            return true;
    }
    return false;
}

size_t minutes_of_chart(const struct minutes_table *t, enum symptom s, const struct library *lib,
                        const struct clock *clock, struct plan_step *out, size_t room)
{
    static const enum next_kind kind[PLACES] = {NEXT_OWNER, NEXT_VISIT, NEXT_BENCH};
    size_t n = 0;
    for (size_t i = 0; i < t->chart_rows; i++)
        for (size_t k = 0; t->chart[i].symptom == (int)s && k < t->chart[i].cures && n < room;
             k++) {
            const char *id = t->chart[i].cure[k];
            if (clock_may_want(lib, clock, id))
                out[n++] = (struct plan_step){
                    .cure = id, .place = kind[minutes_of_cure(t, id, NULL).who], .p = 0};
        }
    return n;
}
