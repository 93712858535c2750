/* round_fault.c - find the hidden fault by asking: each question costs minutes, naming it ends the round.
 *
 * A fault is drawn by how common it is, set into the simulator, and a caller tells of a few let-offs.
 * What the caller answers after that is read from the same mechanism.  The best line is what the
 * fault finder would have asked and named with the same caller; the trainee is marked against
 * its minutes.  Naming the wrong cause costs a vain journey and the wrong cure; another fault with
 * the same cure is as good as right.
 */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "diagnose/evidence.h"
#include "diagnose/next_step.h"
#include "drill/round_priv.h"
#include "mem.h"

#define QUESTIONS 5
#define NAMES 6
#define ASKED_MOST 16
#define EXPERT_MOST 6
#define TOLD_LETOFFS 3
#define TILT_TOLD 2.0 /* a history this much likelier under the fault is taken to be so */

/* The caller's clock as it really is. */
struct caller {
    struct clock_case *kase;
    size_t variant;
    struct works w;
    struct moment m;
    struct random random;
};

struct finding {
    struct caller caller;
    struct sheet sheet;
    struct belief belief;
    struct question question[QUESTIONS];
    size_t questions;
    const struct fault *name[NAMES + 1];
    size_t names;
    char asked[ASKED_MOST][80];
    size_t askeds;
    struct text best;
};

static const struct fault *truth_of(const struct caller *c)
{
    return c->kase->variant[c->variant].fault;
}

/* --- the hidden clock ------------------------------------------------------------------------------- */

static double fault_weight(const struct round *r, const struct fault *f)
{
    double weight = f->prior > 0 ? sqrt(f->prior) : 0.1; /* rare ones must be met too */
    return round_weak(r, f->part) ? 6 * weight : weight;
}

static bool draw_variant(struct round *r, struct caller *c)
{
    double sum = 0;
    for (int pass = 0; pass < 2; pass++) {
        double left = pass ? random_unit(&r->room->random) * sum : 0;
        for (size_t v = 1; v < c->kase->variants; v++) {
            const struct variant *x = &c->kase->variant[v];
            double weight = x->fault && !x->second && x->fault->cure ? fault_weight(r, x->fault) * x->share : 0;
            sum += pass ? 0 : weight;
            left -= weight;
            if (pass && weight > 0 && left < 0) {
                c->variant = v;
                return true;
            }
        }
    }
    return false;
}

static void draw_start(struct round *r, struct caller *c, int work_min)
{
    struct start start[256];
    double left = random_unit(&r->room->random);
    moment_init(&c->m, &c->w, work_min);
    size_t n = fault_starts(truth_of(c), &c->w, work_min, start, 256);
    for (size_t i = 0; i < n; i++) {
        left -= start[i].p;
        if (left < 0) {
            c->m.rest = start[i].rest;
            break;
        }
    }
}

static bool draw_caller(struct round *r, struct caller *c)
{
    r->clock = round_draw_clock(r, NULL);
    c->kase = r->clock ? finder_case(r->room->finder, r->clock) : NULL;
    if (!c->kase || !draw_variant(r, c))
        return false;
    c->w = *outcome_table_works(&c->kase->table[c->kase->variant[c->variant].table]);
    random_init(&c->random, random_bits(&r->room->random));
    int shown = 60 * (1 + (int)random_below(&r->room->random, 10)) + 50;
    draw_start(r, c, movement_work_at(&c->w, shown));
    return true;
}

/* --- what the caller hears ------------------------------------------------------------------------------ */

struct letoff_heard {
    int shown_min;
    struct tally_of {
        int blows, notes;
        char tune[SHEET_NOTES + 1];
        bool endless, stopped;
    } got;
};

static void take_note(struct tally_of *g, const struct clock *c, int sounder)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    size_t at = strlen(g->tune);
    g->notes++;
    for (int i = 0; t->tunes && i < t->tune[0]->bells && i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder && at < SHEET_NOTES)
            g->tune[at] = (char)(i < 9 ? '1' + i : 'a' + i - 9);
}

/* A stroke of the same count as the one before it: call after call, tang after ting. */
static bool same_count(const struct train *t, int before, int sounder)
{
    for (int i = 0; i < t->patterns; i++)
        for (int k = 1; k < t->pattern[i].strokes; k++)
            if (before != sounder && t->pattern[i].stroke[k - 1].sounder == before && t->pattern[i].stroke[k].sounder == sounder)
                return true;
    return false;
}

static struct tally_of count_up(const struct clock *c, const struct event_list *events)
{
    struct tally_of g = {0};
    int before = -1;
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        g.endless = g.endless || (e->kind == EVENT_RUN_ON && e->train == TRAIN_STRIKE);
        if (e->kind == EVENT_NOTE && e->train == TRAIN_CHIME)
            take_note(&g, c, e->sounder);
        if (e->kind != EVENT_BLOW)
            continue;
        g.blows += !same_count(&c->train[TRAIN_STRIKE], before, e->sounder);
        before = e->sounder;
    }
    return g;
}

/* On to the next let-off, by time or by a finger. */
static struct letoff_heard next_letoff(struct caller *c, enum turner by)
{
    struct event_list events = {0};
    struct chance chance;
    struct letoff_heard h;
    int ahead = clock_next_lobe(c->w.clock, c->m.work_min);
    chance_draw(&chance, &c->random);
    int done = movement_turn(&c->w, &c->m, ahead, by, &chance, &events);
    h.got = count_up(c->w.clock, &events);
    h.got.stopped = done < ahead;
    h.shown_min = moment_shown(&c->w, &c->m);
    event_list_release(&events);
    return h;
}

static bool due_at(const struct clock *c, enum event_train role, int shown_min)
{
    return train_counts_at(c, role, shown_min) > 0;
}

static void say_shorthand(const struct clock *c, const struct letoff_heard *h, struct text *out)
{
    char when[8];
    text_addf(out, "%s%s", out->length ? ", " : "", text_dial(h->shown_min, when));
    if (clock_train(c, TRAIN_CHIME) && (h->got.notes || due_at(c, TRAIN_CHIME, h->shown_min))) {
        if (!h->got.notes)
            text_add(out, " c0");
        else if (h->got.tune[0])
            text_addf(out, " n%s", h->got.tune);
        else
            text_add(out, " c.");
    }
    if (h->got.endless || h->got.blows > SHEET_COUNT_MOST)
        text_add(out, " s*");
    else if (h->got.blows || due_at(c, TRAIN_STRIKE, h->shown_min))
        text_addf(out, " s%d", h->got.blows);
    if (h->got.stopped)
        text_add(out, " stop=clock");
}

static bool as_due(const struct clock *c, const struct letoff_heard *h, struct caller *sound)
{
    struct letoff_heard due = next_letoff(sound, BY_TIME);
    (void)c;
    return !h->got.stopped && due.got.blows == h->got.blows && !strcmp(due.got.tune, h->got.tune);
}

/* The story: a few let-offs in a row, at least one of them not as it should be. */
static bool tell(struct round *r, struct finding *f)
{
    struct text rows = {0};
    struct err quiet = {0};
    struct caller sound = f->caller;
    bool wrong = false;
    works_init(&sound.w, r->clock, NULL, 0);
    moment_init(&sound.m, &sound.w, moment_shown(&f->caller.w, &f->caller.m));
    int n = r->clock->lobes > 2 ? TOLD_LETOFFS + 1 : TOLD_LETOFFS;
    for (int i = 0; i < n; i++) {
        struct letoff_heard h = next_letoff(&f->caller, BY_TIME);
        wrong = !as_due(r->clock, &h, &sound) || wrong;
        say_shorthand(r->clock, &h, &rows);
        if (h.got.stopped)
            break;
    }
    bool good = wrong && sheet_parse_shorthand(&f->sheet, text_cstr(&rows), rows.length, &quiet);
    err_release(&quiet);
    text_release(&rows);
    return good;
}

/* --- what the caller answers --------------------------------------------------------------------------------- */

static double tilt_of(const struct fault *f, const char *word)
{
    for (size_t i = 0; i < f->tilts; i++)
        if (!strcmp(f->tilt[i].word, word))
            return f->tilt[i].factor;
    return 1;
}

/* What can be seen, as the mechanism shows it over twelve hours. */
static const char *seen_answer(struct caller *c, const char *word)
{
    struct habit h;
    struct filter_state from = {outcome_rows_state(&c->kase->rows, c->m.rest), 1};
    int next = letoff_from(&c->kase->classes, (c->m.work_min + 1) % 1440);
    habit_init(&h, c->kase, &c->kase->variant[c->variant], next, &from, 1);
    double degree = habit_degree(&h, word);
    if (degree < 0)
        return tilt_of(truth_of(c), word) >= TILT_TOLD ? "yes" : "no";
    return degree >= 0.5 ? "yes" : "no";
}

/* The caller leads the hands on to that let-off, waiting at each. */
static void lead_on(struct caller *c, const struct question *q, char answer[64])
{
    struct letoff_heard h = {0};
    bool there = false;
    for (int i = 0; i < clock_letoffs(c->w.clock) && !there; i++) {
        h = next_letoff(c, BY_HAND);
        if (h.got.stopped)
            break;
        there = h.shown_min % 720 == q->dial_min % 720;
    }
    if (!there) {
        snprintf(answer, 64, "?");
    } else if (q->kind == QUESTION_STRIKE) {
        if (h.got.endless || h.got.blows > SHEET_COUNT_MOST)
            snprintf(answer, 64, "runs on");
        else
            snprintf(answer, 64, "%d", h.got.blows);
    } else {
        struct caller sound = *c;
        works_init(&sound.w, c->w.clock, NULL, 0);
        int lead = c->w.clock->warn_min + 1;
        moment_init(&sound.m, &sound.w, (h.shown_min - lead + 1440) % 1440);
        struct letoff_heard due = next_letoff(&sound, BY_TIME);
        snprintf(answer, 64, "%s", !h.got.notes ? "silent" : strcmp(due.got.tune, h.got.tune) ? "wrong" : "right");
    }
}

static void answer_of(struct caller *c, const struct question *q, char answer[64])
{
    switch (q->kind) {
    case QUESTION_SEEN:
        snprintf(answer, 64, "%s", seen_answer(c, q->word));
        break;
    case QUESTION_HISTORY:
        snprintf(answer, 64, "%s", tilt_of(truth_of(c), q->word) >= TILT_TOLD ? "yes" : "no");
        break;
    case QUESTION_HINT:
        snprintf(answer, 64, "unknown");
        break;
    default:
        lead_on(c, q, answer);
        break;
    }
}

/* --- what it comes to --------------------------------------------------------------------------------------- */

static bool as_good_as(const struct fault *named, const struct fault *truth)
{
    return named == truth || (named && named->cure && truth->cure && !strcmp(named->cure, truth->cure));
}

static double cure_minutes(const struct round *r, const struct fault *f)
{
    const struct cure *cure = f && f->cure ? library_find_cure(r->room->lib, f->cure) : NULL;
    return cure ? cure->minutes : UNKNOWN_MIN;
}

static double minutes_in_all(const struct round *r, const struct caller *c, double asking, const struct fault *named)
{
    double right = cure_minutes(r, truth_of(c));
    if (as_good_as(named, truth_of(c)))
        return asking + right;
    return asking + cure_minutes(r, named) + VISIT_MIN + right;
}

static bool was_asked(char asked[][80], size_t n, const char *id)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(asked[i], id))
            return true;
    return false;
}

/* What the finder would ask next that has not been asked; NULL when it would act. */
static const struct question *expert_question(const struct next_step *next, char asked[][80], size_t n)
{
    for (size_t i = 0; i < next->questions && next->kind == NEXT_QUESTION; i++)
        if (next->batch[i].kind != QUESTION_HINT && !was_asked(asked, n, next->batch[i].id))
            return &next->batch[i];
    return NULL;
}

/* --- the best line -------------------------------------------------------------------------------------------- */

static void copy_sheet(const struct finding *f, struct sheet *to)
{
    struct text t = {0};
    struct err quiet = {0};
    sheet_init(to, f->sheet.words);
    sheet_print(&f->sheet, &t);
    sheet_parse(to, "the call", text_cstr(&t), t.length, &quiet);
    err_release(&quiet);
    text_release(&t);
}

/* Ask what the fault finder would ask until it would stop, and name what it would name. */
static double expert_line(struct round *r, const struct finding *f, struct text *line)
{
    struct caller caller = f->caller;
    struct sheet sheet;
    double minutes = 0;
    char asked[EXPERT_MOST][80];
    size_t askeds = 0;
    const struct fault *named = NULL;
    copy_sheet(f, &sheet);
    for (int i = 0; i <= EXPERT_MOST; i++) {
        struct belief b = {0};
        struct next_step next = {0};
        char answer[64];
        struct err quiet = {0};
        if (!belief_find(r->room->finder, &sheet, NULL, &b))
            break;
        named = b.causes ? b.cause[0].fault : NULL;
        next_step_find(&next, r->room->finder, &b, &sheet);
        const struct question *asks = i < EXPERT_MOST ? expert_question(&next, asked, askeds) : NULL;
        if (asks) {
            answer_of(&caller, asks, answer);
            text_addf(line, "%s Answer: %s. ", asks->text, answer);
            minutes += asks->minutes;
            snprintf(asked[askeds++], sizeof asked[0], "%s", asks->id);
            question_answer(asks, &sheet, answer, &quiet);
            err_release(&quiet);
        } else {
            text_addf(line, "Then name: %s (%.0f %%).", named ? named->name : "unknown", b.causes ? 100 * b.cause[0].p : 0);
        }
        belief_release(&b);
        if (!asks)
            break;
    }
    sheet_release(&sheet);
    return minutes_in_all(r, &f->caller, minutes, named);
}

/* --- the round -------------------------------------------------------------------------------------------------- */

static void offer_questions(struct round *r, struct finding *f)
{
    struct question all[2 * QUESTIONS + ASKED_MOST];
    size_t n = next_questions(r->room->finder, &f->belief, &f->sheet, -60, all, sizeof all / sizeof all[0]);
    f->questions = 0;
    for (size_t i = 0; i < n && f->questions < QUESTIONS; i++)
        if (all[i].kind != QUESTION_HINT && !was_asked(f->asked, f->askeds, all[i].id))
            f->question[f->questions++] = all[i];
    for (size_t i = 1; i < f->questions; i++) /* their order must not give the best away */
        for (size_t k = i; k > 0 && strcmp(f->question[k].text, f->question[k - 1].text) < 0; k--) {
            struct question swap = f->question[k];
            f->question[k] = f->question[k - 1];
            f->question[k - 1] = swap;
        }
    for (size_t i = 0; i < f->questions; i++)
        round_offer(r, f->question[i].minutes, "Ask: %s", f->question[i].text);
}

static void add_name(struct finding *f, const struct fault *x)
{
    size_t at = f->names;
    for (size_t i = 0; i < f->names; i++)
        if (f->name[i] == x)
            return;
    while (at > 0 && strcmp(f->name[at - 1]->name, x->name) > 0) {
        f->name[at] = f->name[at - 1];
        at--;
    }
    f->name[at] = x;
    f->names++;
}

/* What it may be: the likely ones and the truth, in the order of the alphabet. */
static void offer_names(struct round *r, struct finding *f)
{
    f->names = 0;
    for (size_t i = 0; i < f->belief.causes && f->names < NAMES; i++)
        if (f->belief.cause[i].fault)
            add_name(f, f->belief.cause[i].fault);
    add_name(f, truth_of(&f->caller));
    for (size_t i = 0; i < f->names; i++)
        round_offer(r, 0, "It is: %s (%s)", f->name[i]->name, f->name[i]->part);
}

static void say_prompt(struct round *r, const struct finding *f)
{
    struct text story = {0};
    for (size_t i = 0; i < f->sheet.heards; i++) {
        if (i)
            text_add(&story, "; ");
        heard_say(&f->sheet.heard[i], r->room->words, &story);
    }
    round_prompt(r, "A caller with this clock: %s. %s. Spent so far: %.1f minutes. Ask, or name the fault.", r->clock->name,
                 text_cstr(&story), r->spent_min);
    text_release(&story);
}

static bool think(struct round *r)
{
    struct finding *f = r->own;
    belief_release(&f->belief);
    if (!belief_find(r->room->finder, &f->sheet, NULL, &f->belief))
        return false;
    round_clear_choices(r);
    say_prompt(r, f);
    if (f->askeds < ASKED_MOST)
        offer_questions(r, f);
    else
        f->questions = 0;
    offer_names(r, f);
    return true;
}

static bool fault_make(struct round *r)
{
    struct finding *f = r->own = mem_alloc(sizeof *f);
    sheet_init(&f->sheet, r->room->words);
    for (int tries = 0; tries < 30; tries++) {
        sheet_clear(&f->sheet);
        if (!draw_caller(r, &f->caller) || !tell(r, f))
            continue;
        snprintf(f->sheet.clock, sizeof f->sheet.clock, "%s", r->clock->id);
        r->best_min = expert_line(r, f, &f->best);
        r->part = truth_of(&f->caller)->part;
        return think(r);
    }
    return false;
}

static void fault_name(struct round *r, const struct fault *named)
{
    struct finding *f = r->own;
    const struct fault *truth = truth_of(&f->caller);
    bool right = as_good_as(named, truth);
    r->spent_min = minutes_in_all(r, &f->caller, r->spent_min, named);
    round_came(r, right ? "Right." : "No: a journey for nothing.");
    round_review(r, "It was: %s (%s). %s Best line, %.0f minutes with the cure: %s", truth->name, truth->part,
                 truth->about ? truth->about : "", r->best_min, text_cstr(&f->best));
    int score = round_score(r->best_min, r->spent_min);
    round_finish(r, right, right ? score : score / 2); /* as quick as the finder, and yet not found */
}

static void fault_choose(struct round *r, size_t choice)
{
    struct finding *f = r->own;
    char answer[64];
    struct err quiet = {0};
    if (choice >= f->questions) {
        fault_name(r, f->name[choice - f->questions]);
        return;
    }
    struct question q = f->question[choice];
    answer_of(&f->caller, &q, answer);
    r->spent_min += q.minutes;
    snprintf(f->asked[f->askeds++], sizeof f->asked[0], "%s", q.id);
    question_answer(&q, &f->sheet, answer, &quiet);
    err_release(&quiet);
    round_came(r, "%s Answer: %s.", q.text, answer);
    if (!think(r))
        fault_name(r, NULL);
}

static void fault_release(struct round *r)
{
    struct finding *f = r->own;
    belief_release(&f->belief);
    sheet_release(&f->sheet);
    text_release(&f->best);
}

static size_t name_at(const struct finding *f, const struct fault *x)
{
    for (size_t i = 0; i < f->names; i++)
        if (f->name[i] == x)
            return f->questions + i;
    return ROUND_NO_CHOICE;
}

static size_t fault_best(const struct round *r)
{
    struct finding *f = r->own;
    struct next_step next = {0};
    next_step_find(&next, r->room->finder, &f->belief, &f->sheet);
    const struct question *asks = expert_question(&next, f->asked, f->askeds);
    for (size_t i = 0; i < f->questions && asks; i++)
        if (!strcmp(f->question[i].id, asks->id))
            return i;
    for (size_t i = 0; i < f->belief.causes; i++)
        if (f->belief.cause[i].fault)
            return name_at(f, f->belief.cause[i].fault);
    return ROUND_NO_CHOICE;
}

const struct round_way round_fault_way = {fault_make, fault_choose, fault_release, fault_best};
