/* verb_resync.c - back in step: the shortest safe hand actions, each with what must be heard.
 *
 * With --follow the plan is walked in the terminal: after each step a line says what was really
 * heard ("" as it must be, "5" five blows, "p2" two phrases, "p4 3" both, "0" nothing, "5 m30" five and
 * where a loose minute hand points); when that is not what was due, what may be the case is worked out anew and a new plan follows.
 */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "command/command.h"
#include "command/options.h"
#include "command/plan_pages.h"
#include "command/setup.h"
#include "draw/type_case.h"
#include "mem.h"
#include "resync/presume.h"
#include "resync/step_text.h"
#include "text.h"

struct resync {
    const char *hands, *time, *at, *state, *out, *paper;
    long struck, phrase, tune;
    bool unknown, night, bench, json, follow, no_trip;
    enum paper size;
    struct library *lib;
    const struct clock *clock;
    struct works works;
    struct reset reset;
    struct told told;
    struct stance_chance *may_be;
    size_t count;
};

/* --- what was told ------------------------------------------------------------------------------ */

static bool read_time(const char *name, const char *value, int *min, bool *known24, struct err *e)
{
    if (text_time(value, min, known24))
        return true;
    err_add(e, "%s \"%.40s\" is no time; expected is H:MM, e.g. 3:20 or 15:20.", name, value);
    return false;
}

static bool read_told(struct resync *v, int *target, struct err *e)
{
    bool known = false, good = true;
    int hands = TOLD_NOTHING, at = TOLD_NOTHING;
    bool hands_known = false, at_known = false;
    *target = TOLD_NOTHING;
    if (v->time)
        good = read_time("--time", v->time, target, &known, e) && good;
    if (v->hands)
        good = read_time("--hands", v->hands, &hands, &hands_known, e) && good;
    if (v->at)
        good = read_time("--at-let-off", v->at, &at, &at_known, e) && good;
    if (!good)
        return false;
    if (*target != TOLD_NOTHING)
        *target = told_target(v->clock, *target, known);
    if (*target == TOLD_NOTHING) /* no time given: bring strike and chime right where the hands are */
        *target = hands >= 0 ? hands : at >= 0 ? at : 720;
    v->told = told_nothing();
    v->told.hands_min = hands < 0 ? hands : told_near(v->clock, hands, hands_known, *target);
    v->told.at_min = at < 0 ? at : told_near(v->clock, at, at_known, *target);
    v->told.struck = (int)v->struck;
    v->told.phrases = (int)v->phrase;
    v->told.unknown = v->unknown;
    if (v->at && !v->hands)
        v->told.hands_min = v->told.at_min; /* nobody has touched them since */
    return true;
}

static bool set_state(struct resync *v, struct err *e)
{
    struct setup s = {.clock = v->clock, .works = v->works, .sound = v->works};
    int shown = v->told.hands_min < 0 ? 0 : v->told.hands_min;
    moment_init(&s.moment, &s.works, movement_work_at(&s.works, shown));
    s.moment.rest = rest_in_step(&v->works, (s.moment.work_min + 1) % 1440);
    if (!setup_state(&s, v->state, e))
        return false;
    v->may_be = mem_alloc(sizeof *v->may_be);
    v->may_be[0] = (struct stance_chance){stance_of(&v->works, &s.moment), 1};
    v->may_be[0].stance.hands_off = v->told.hands_min < 0;
    v->count = 1;
    return true;
}

static bool find_states(struct resync *v, struct err *e)
{
    if (v->state)
        return set_state(v, e);
    v->count = presume(&v->reset, &v->told, &v->may_be);
    if (v->count)
        return true;
    err_add(e, "No %s in order, in or out of step, could sound like that; it has a fault: letoff find looks for it.",
            v->clock->id);
    return false;
}

static struct plan *plan_now(struct resync *v)
{
    struct stance *s = mem_alloc((v->count + 1) * sizeof *s);
    double *p = mem_alloc((v->count + 1) * sizeof *p);
    for (size_t i = 0; i < v->count; i++) {
        s[i] = v->may_be[i].stance;
        p[i] = v->may_be[i].p;
    }
    struct plan *plan = plan_find(&v->reset, s, p, v->count);
    mem_free(s);
    mem_free(p);
    return plan;
}

/* --- JSON ------------------------------------------------------------------------------------------ */

static json_t *step_json(const struct step *s)
{
    json_t *o = json_pack("{s:s, s:s, s:s, s:f, s:s, s:i, s:i, s:i}", "do", deed_row(s->deed)->word, "text", s->text,
                          "hear", s->hear, "minutes", s->minutes, "hazard", s->hazard, "blows", s->heard.blows,
                          "phrases", s->heard.phrases, "amount", s->amount);
    char hands[8];
    json_object_set_new(o, "hands", s->to_min < 0 ? json_null() : json_string(text_dial(s->to_min, hands)));
    return o;
}

static json_t *plan_json(const struct plan *p)
{
    json_t *steps = json_array(), *branches = json_array();
    for (size_t i = 0; i < p->steps; i++)
        json_array_append_new(steps, step_json(&p->step[i]));
    for (size_t i = 0; i < p->branches; i++) {
        json_t *then = plan_json(p->branch[i].then);
        json_object_set_new(then, "if_blows", json_integer(p->branch[i].heard.blows));
        json_object_set_new(then, "if_phrases", json_integer(p->branch[i].heard.phrases));
        json_object_set_new(then, "p", json_real(p->branch[i].p));
        json_array_append_new(branches, then);
    }
    json_t *o = json_pack("{s:o, s:f, s:f, s:b, s:b}", "steps", steps, "minutes", p->minutes, "worst_minutes", p->worst_min,
                          "optimal", p->optimal, "found", p->found);
    double whole = floor(p->blows + 0.5);
    bool certain = !p->branches && fabs(p->blows - whole) < 1e-6;
    json_object_set_new(o, "blows", certain ? json_integer((json_int_t)whole) : json_real(p->blows));
    if (p->proof)
        json_object_set_new(o, "proof", json_string(p->proof));
    if (p->why)
        json_object_set_new(o, "why", json_string(p->why));
    json_object_set_new(o, "branches", branches);
    return o;
}

static void print_json(const struct resync *v, const struct plan *p)
{
    const char *rule[RULES_MOST];
    size_t n = step_text_rules(v->clock, rule);
    json_t *o = plan_json(p), *rules = json_array();
    for (size_t i = 0; i < n; i++)
        json_array_append_new(rules, json_string(rule[i]));
    json_object_set_new(o, "clock", json_string(v->clock->id));
    json_object_set_new(o, "states", json_integer((json_int_t)v->count));
    json_object_set_new(o, "rules", rules);
    if (v->told.hands_min < 0)
        json_object_set_new(o, "premise", json_string(STEP_BARE));
    json_object_set_new(o, "caution", json_string(STEP_CAUTION));
    json_dumpf(o, stdout, JSON_COMPACT | JSON_REAL_PRECISION(6));
    putchar('\n');
    json_decref(o);
}

/* --- text --------------------------------------------------------------------------------------------- */

static void print_plan(const struct clock *c, const struct plan *p, int depth)
{
    struct text heard = {0};
    for (size_t i = 0; i < p->steps; i++)
        printf("%*s%2zu. %s\n%*s    Hear: %s.\n", 4 * depth, "", i + 1, p->step[i].text, 4 * depth, "",
               p->step[i].hear);
    if (p->proof)
        printf("%*s    %s\n", 4 * depth, "", p->proof);
    if (!p->found && !p->branches)
        printf("%*s    %s\n", 4 * depth, "", p->why);
    for (size_t i = 0; i < p->branches; i++) {
        text_clear(&heard);
        rung_say(&p->branch[i].heard, c, &heard);
        printf("%*s    If it %s%s:\n", 4 * depth, "", p->branch[i].heard.blows && !p->branch[i].heard.phrases ? "" : "sounds ",
               text_cstr(&heard));
        print_plan(c, p->branch[i].then, depth + 1);
    }
    text_release(&heard);
}

static void print_sum(const struct plan *p)
{
    double minutes = p->minutes < 1 ? 1 : p->minutes;
    printf("About %.0f minute%s and %.0f blow%s%s.%s\n", minutes, minutes < 1.5 ? "" : "s", p->blows,
           p->blows > 0.5 && p->blows < 1.5 ? "" : "s", p->branches ? " to be expected" : "",
           p->optimal ? " No shorter way is allowed on this movement." : "");
    if (p->branches)
        printf("At worst about %.0f minutes.\n", p->worst_min);
}

static void print_text(const struct resync *v, const struct plan *p)
{
    const char *rule[RULES_MOST];
    size_t n = step_text_rules(v->clock, rule);
    printf("%s\n", v->clock->name);
    if (v->told.hands_min < 0)
        printf("  %s\n", STEP_BARE);
    if (!p->steps && p->found)
        printf("It is in step and shows the time; nothing need be done.\n");
    print_plan(v->clock, p, 0);
    if (p->steps)
        print_sum(p);
    for (size_t i = 0; i < n; i++)
        printf("  %s\n", rule[i]);
    printf("  %s\n", STEP_CAUTION);
}

/* --- step by step --------------------------------------------------------------------------------------- */

struct answer {
    bool as_due, quit;
    struct noticed noticed;
};

/* "5", "p2", "p4 3", "0", "5 m30" */
static bool read_answer(const char *line, struct answer *a)
{
    char copy[64];
    long n;
    *a = (struct answer){.noticed = {0, 0, -1, 0}};
    snprintf(copy, sizeof copy, "%.60s", line);
    copy[strcspn(copy, "\r\n")] = 0;
    a->as_due = !copy[0];
    a->quit = !strcmp(copy, "q");
    if (a->as_due || a->quit)
        return true;
    for (char *save = NULL, *word = strtok_r(copy, " ,", &save); word; word = strtok_r(NULL, " ,", &save)) {
        bool phrases = *word == 'p', minute = *word == 'm';
        if (!strcmp(word, "music")) {
            a->noticed.music = 1;
            continue;
        }
        if (!text_int(word + (phrases || minute), &n) || n < 0 || n > 99)
            return false;
        *(phrases ? &a->noticed.phrases : minute ? &a->noticed.pointed : &a->noticed.blows) = (int)n;
    }
    if (!a->noticed.pointed)
        a->noticed.pointed = 60;
    return true;
}

/* Where the plan parts an answer is wanted, and a nod is none.  False at the end of the answers. */
static bool ask(struct answer *a, const struct plan *parts)
{
    char line[128];
    bool points = parts && plan_asks_pointed(parts), plays = parts && plan_asks_music(parts);
    for (;;) {
        printf("   Heard (%s5, p2, p4 3, 0%s%s; q ends): ", parts ? "" : "Enter: as it must be; ",
               points ? ", and m30 where the loose hand points" : "", plays ? ", and music if it played" : "");
        fflush(stdout);
        if (!fgets(line, sizeof line, stdin))
            return false;
        if (read_answer(line, a) && !(a->as_due && parts) && !(points && !a->quit && a->noticed.pointed < 0))
            return !a->quit;
        printf("   Say it as a number of blows, or p and a number of phrases%s.\n", points ? ", and m and the minute" : "");
    }
}

/* Where the clock may be after this step, by what was heard; false if nothing fits. */
static bool learn(struct resync *v, const struct step *s, const struct noticed *noticed)
{
    struct stance_chance *then = mem_alloc((v->count + 1) * sizeof *then);
    size_t n = plan_heard(&v->reset, v->may_be, v->count, s->deed, s->amount, noticed, then);
    mem_free(v->may_be);
    v->may_be = then;
    v->count = n;
    return n > 0;
}

/* What was heard fits nothing thought of: think of everything it may have been before the step, and
 * keep what would have sounded like that. */
static bool think_again(struct resync *v, const struct step *s, const struct noticed *noticed)
{
    struct told told = told_nothing();
    struct stance_chance *before = NULL, *then;
    told.hands_min = s->from_min < 0 ? TOLD_NOTHING : s->from_min;
    told.unknown = true;
    size_t n = presume(&v->reset, &told, &before);
    then = mem_alloc((n + 1) * sizeof *then);
    mem_free(v->may_be);
    v->count = plan_heard(&v->reset, before, n, s->deed, s->amount, noticed, then);
    v->may_be = then;
    mem_free(before);
    return v->count > 0;
}

/* Where one is in a plan. */
struct place_in {
    const struct plan *part;
    size_t step;
};

static bool parts_here(const struct place_in *at)
{
    return at->step + 1 == at->part->steps && at->part->branches;
}

/* On to what comes after a step that sounded so; false when the plan must be made anew. */
static bool place_goes_on(struct place_in *at, const struct noticed *n)
{
    const struct step *s = &at->part->step[at->step];
    if (parts_here(at)) {
        const struct plan *then = plan_branch_heard(at->part, n);
        *at = (struct place_in){then ? then : at->part, 0};
        return then != NULL;
    }
    at->step++;
    return n->blows == s->heard.blows && n->phrases == s->heard.phrases;
}

enum walked { WALKED_ON, WALKED_ANEW, WALKED_LOST, WALKED_QUIT };

/* One step done and heard. */
static enum walked walk_step(struct resync *v, struct place_in *at)
{
    const struct step *s = &at->part->step[at->step];
    struct answer a;
    printf("-> %s\n   Must be heard: %s.\n", s->text, s->hear);
    if (!ask(&a, parts_here(at) ? at->part : NULL))
        return WALKED_QUIT;
    if (a.as_due)
        a.noticed = noticed_of(&s->heard);
    bool known = learn(v, s, &a.noticed) || think_again(v, s, &a.noticed);
    if (known && place_goes_on(at, &a.noticed))
        return WALKED_ON;
    printf("   That is not what was due.%s\n", known ? " The plan is made anew." : "");
    return known ? WALKED_ANEW : WALKED_LOST;
}

/* Go through a plan until it is done or must be made anew. */
static enum walked walk_plan(struct resync *v, const struct plan *p)
{
    struct place_in at = {p, 0};
    enum walked went = WALKED_ON;
    if (!p->found && p->why)
        printf("%s\n", p->why);
    while (went == WALKED_ON && at.step < at.part->steps)
        went = walk_step(v, &at);
    if (went == WALKED_ON && at.part->found)
        printf("In step. %s\n", at.part->proof ? at.part->proof : "");
    else if (went == WALKED_ON && at.part != p && at.part->why)
        printf("%s\n", at.part->why);
    return went;
}

static void follow(struct resync *v, struct err *e)
{
    enum walked went = WALKED_ANEW;
    for (int guard = 0; went == WALKED_ANEW && guard < 100; guard++) {
        struct plan *p = plan_now(v);
        went = walk_plan(v, p);
        plan_free(p);
    }
    if (went == WALKED_LOST)
        err_add(e, "No %s in order could sound like that; it has a fault: letoff find looks for it.", v->clock->id);
}

/* --- on paper ------------------------------------------------------------------------------------------------- */

static void draw_plan(const struct resync *v, const struct plan *p, struct err *e)
{
    struct pages pages;
    struct ink ink = {0};
    struct type_case *types = type_case_new(e);
    if (!types)
        return;
    pages_init(&pages, types, v->size, &ink);
    plan_pages_add(&pages, v->clock, p);
    pages_write(&pages, v->out, e);
    pages_release(&pages);
    type_case_free(types);
}

/* --- the verb ----------------------------------------------------------------------------------------------- */

static void work_out(struct resync *v, struct err *e)
{
    if (v->follow) {
        follow(v, e);
        return;
    }
    struct plan *p = plan_now(v);
    if (v->out)
        draw_plan(v, p, e);
    else if (v->json)
        print_json(v, p);
    else
        print_text(v, p);
    plan_free(p);
}

static void resync(struct resync *v, const char *clock, struct err *e)
{
    int target;
    bool known = true;
    v->size = v->paper ? paper_of(v->paper, &known) : paper_of_house();
    if (!known)
        err_add(e, "--paper \"%.40s\" is no paper; expected is a4 or letter.", v->paper);
    v->lib = library_load(NULL, e);
    v->clock = v->lib ? setup_clock(v->lib, clock, e) : NULL;
    if (!v->clock || !read_told(v, &target, e) || !known)
        return;
    works_init(&v->works, v->clock, NULL, 0);
    struct minds minds = v->night ? minds_by_night() : minds_by_day();
    minds.bench = v->bench;
    minds.no_trip = v->no_trip;
    reset_init(&v->reset, &v->works, target, &minds);
    if (v->tune >= 0 && !(v->clock->selector && v->tune < v->clock->train[TRAIN_CHIME].tunes)) {
        err_add(e, "--tune %ld: the clock %s has no selector for such a tune.", v->tune, v->clock->id);
        return;
    }
    v->reset.want_tune = (int)v->tune;
    v->reset.any_time = !v->time && v->told.hands_min == TOLD_NOTHING;
    if (find_states(v, e))
        work_out(v, e);
}

int verb_resync(int argc, char **argv)
{
    struct resync v = {.struck = TOLD_NOTHING, .phrase = TOLD_NOTHING, .tune = -1};
    const struct option options[] = {
        {"--hands", OPTION_TEXT, &v.hands, "H:MM", "what the hands show; left out: they are off", 0, 0},
        {"--time", OPTION_TEXT, &v.time, "H:MM", "what they must show in the end (where they are)", 0, 0},
        {"--struck", OPTION_INT, &v.struck, "N", "what it last struck, 0 nothing", 0, 24},
        {"--phrase", OPTION_INT, &v.phrase, "K", "phrases it last chimed, 0 nothing", 0, 12},
        {"--at-let-off", OPTION_TEXT, &v.at, "H:MM", "what the hands showed then", 0, 0},
        {"--unknown", OPTION_FLAG, &v.unknown, NULL, "nothing else may be relied on: find it out on the way", 0, 0},
        {"--state", OPTION_TEXT, &v.state, "WORDS", "where it stands, as for play: count=3,quarter=2,hung=5 ...", 0, 0},
        {"--tune", OPTION_INT, &v.tune, "N", "where the tune selector must stand in the end, from 0", 0, 15},
        {"--night", OPTION_FLAG, &v.night, NULL, "spare the neighbours: blows weigh more than minutes", 0, 0},
        {"--bench", OPTION_FLAG, &v.bench, NULL, "the movement is on the bench: the drum can be slipped", 0, 0},
        {"--no-trip", OPTION_FLAG, &v.no_trip, NULL, "the wire or lever cannot be reached", 0, 0},
        {"--follow", OPTION_FLAG, &v.follow, NULL, "step by step, told what was heard", 0, 0},
        {"--out", OPTION_TEXT, &v.out, "FILE", "draw the plan into .pdf, .svg or .png, with a box for each step", 0, 0},
        {"--paper", OPTION_TEXT, &v.paper, "a4|letter", "size of the page (as PAPERSIZE says, else a4)", 0, 0},
        {"--json", OPTION_FLAG, &v.json, NULL, "print the plan as JSON", 0, 0},
    };
    const struct usage u = {"letoff resync CLOCK --hands H:MM --struck N [--phrase K] [--time H:MM] [--unknown]",
                            "Brings hands, strike and chime into step by the fewest minutes; each step says what must "
                            "be heard.",
                            options, sizeof options / sizeof options[0], 1, 1};
    struct err e = {0};
    const char *clock = NULL;
    size_t plains = 0;
    enum options_result r = options_read(&u, argc, argv, &clock, &plains, &e);
    if (r == OPTIONS_OK)
        resync(&v, clock, &e);
    reset_release(&v.reset);
    mem_free(v.may_be);
    library_free(v.lib);
    return options_end(&e);
}
