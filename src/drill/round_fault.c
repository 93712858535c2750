/* round_fault.c - find the hidden fault by asking and put it right: every question, journey and cure costs
 * minutes.
 *
 * A fault is drawn by how common it is, set into the simulator, and a caller tells of a few let-offs.
 * What the caller answers after that is read from the same mechanism.  A move is a question, the
 * cure of a named fault (where it can be done: over the telephone, in the house, at the bench), or going
 * there and looking.  A wrong name costs its cure and the way, and the round goes on until it is right.
 *
 * The expert is the fault finder: it asks while a question is worth its minutes, and then follows its
 * own plan of repair (next_step.h).  It plays the same round by the same rules, with the same caller;
 * the minutes it took are the mark, and a hint is its next move.  So who follows the hints from the
 * beginning takes just those minutes.
 */
#include <ctype.h>
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
#define EXPERT_MOST 8 /* questions an expert asks */
#define TRIED_MOST 6 /* wrong names after which one only looks */
#define MOVES_MOST (QUESTIONS + NAMES + 5)
#define PLAN_MOST 48
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

enum where { AT_PHONE, AT_HOUSE, AT_BENCH };

enum move_kind {
    MOVE_ASK,
    MOVE_CURE,  /* of a named fault, or leave-alone; goes there if need be */
    MOVE_OIL,   /* clean and oil in the house */
    MOVE_FETCH, /* to the bench */
    MOVE_LOOK,  /* for the fault, with the movement before one; goes there if need be */
};
struct move {
    enum move_kind kind;
    size_t question;            /* of the finding, for MOVE_ASK */
    const char *cure;           /* id, for MOVE_CURE */
    const struct fault *fault;  /* whose cure it is; NULL for leave-alone */
    double minutes;             /* the way and the work */
};

struct finding {
    struct caller caller;
    bool oil_does;              /* merely dry, and oil in the house gets it going */
    struct sheet sheet;
    struct belief belief;       /* of this sheet */
    struct question question[QUESTIONS];
    size_t questions;
    struct move move[MOVES_MOST];
    size_t moves, best;         /* best: the expert's; ROUND_NO_CHOICE */
    char asked[ASKED_MOST][80];
    size_t askeds;
    const char *tried[TRIED_MOST]; /* cures that were not it */
    size_t trieds;
    bool tried_there, oiled;    /* a cure away from the telephone; clean and oil in the house */
    enum where where;
    double spent_min;
    bool done;
    struct text best_line;      /* what the expert did */
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

/* --- what a move costs -------------------------------------------------------------------------------------- */

static const char leave_alone[] = "leave-alone", clean_and_oil[] = "clean-and-oil";

static const struct cure *cure_named(const struct round *r, const char *id)
{
    return id ? library_find_cure(r->room->lib, id) : NULL;
}

static enum where place_of(const struct cure *c)
{
    const char *who = c && c->who ? c->who : "owner";
    return !strcmp(who, "bench") ? AT_BENCH : !strcmp(who, "visit") ? AT_HOUSE : AT_PHONE;
}

static double cure_minutes(const struct cure *c)
{
    return c ? fmax(0.5, c->minutes) : 1;
}

static double way_minutes(enum where from, enum where to)
{
    if (to <= from)
        return 0;
    return to == AT_BENCH ? BENCH_MIN : VISIT_MIN;
}

static enum where later(enum where a, enum where b)
{
    return a > b ? a : b;
}

/* Where the move leaves one. */
static enum where move_place(const struct round *r, const struct finding *f, const struct move *m)
{
    switch (m->kind) {
    case MOVE_CURE:
        return later(f->where, place_of(cure_named(r, m->cure)));
    case MOVE_OIL:
    case MOVE_LOOK:
        return later(f->where, AT_HOUSE);
    case MOVE_FETCH:
        return AT_BENCH;
    case MOVE_ASK:
        break;
    }
    return f->where;
}

static double move_minutes(const struct round *r, const struct finding *f, const struct move *m)
{
    enum where to = move_place(r, f, m);
    double way = way_minutes(f->where, to);
    switch (m->kind) {
    case MOVE_ASK:
        return f->question[m->question].minutes;
    case MOVE_CURE:
        return way + cure_minutes(cure_named(r, m->cure));
    case MOVE_OIL:
        return way + OIL_VISIT_MIN;
    case MOVE_LOOK:
        return way + (to == AT_BENCH ? LOOK_BENCH_MIN : LOOK_VISIT_MIN);
    case MOVE_FETCH:
        break;
    }
    return way;
}

static bool is_cure_of(const char *cure, const struct fault *f)
{
    return cure && f->cure && !strcmp(cure, f->cure);
}

/* Merely dry: oil in the house may do, the rest of it wants the bench. */
static bool only_dry(const struct round *r, const struct fault *f)
{
    return is_cure_of(clean_and_oil, f) && place_of(cure_named(r, f->cure)) == AT_BENCH;
}

static bool was_tried(const struct finding *f, const char *cure)
{
    for (size_t i = 0; i < f->trieds; i++)
        if (!strcmp(f->tried[i], cure))
            return true;
    return false;
}

static bool was_asked(const struct finding *f, const char *id)
{
    for (size_t i = 0; i < f->askeds; i++)
        if (!strcmp(f->asked[i], id))
            return true;
    return false;
}

/* --- doing a move ------------------------------------------------------------------------------------------- */

static void do_ask(struct finding *f, const struct question *q, struct text *came)
{
    struct err quiet = {0};
    char answer[64];
    answer_of(&f->caller, q, answer);
    snprintf(f->asked[f->askeds++], sizeof f->asked[0], "%s", q->id);
    question_answer(q, &f->sheet, answer, &quiet);
    err_release(&quiet);
    text_addf(came, "%s Answer: %s.", q->text, answer);
}

static void not_that(struct finding *f, const char *cure, double minutes, struct text *came)
{
    if (cure && f->trieds < TRIED_MOST)
        f->tried[f->trieds++] = cure;
    f->tried_there = f->tried_there || f->where != AT_PHONE;
    text_addf(came, "%s: that was not it, %.0f minute%s for nothing.",
              f->where == AT_PHONE ? "The owner tried it" : f->where == AT_HOUSE ? "It was done in the house" : "It was done at the bench",
              minutes, minutes < 1.5 ? "" : "s");
}

/* Seen with one's own eyes, and then what it wants is done. */
static void do_look(const struct round *r, struct finding *f, struct text *came)
{
    const struct fault *truth = truth_of(&f->caller);
    const struct cure *cure = cure_named(r, truth->cure);
    double way = way_minutes(f->where, place_of(cure));
    f->spent_min += way + cure_minutes(cure);
    f->done = true;
    text_addf(came, "Looking finds it: %s (%s).%s", truth->name, truth->part, way > 0 ? " It must be fetched to the bench for it." : "");
}

static void do_move(const struct round *r, struct finding *f, const struct move *m, struct text *came)
{
    const struct fault *truth = truth_of(&f->caller);
    double minutes = move_minutes(r, f, m);
    f->where = move_place(r, f, m);
    f->spent_min += minutes;
    switch (m->kind) {
    case MOVE_ASK:
        do_ask(f, &f->question[m->question], came);
        return;
    case MOVE_FETCH:
        text_add(came, "It is on the bench.");
        return;
    case MOVE_LOOK:
        do_look(r, f, came);
        return;
    case MOVE_OIL:
        f->oiled = true;
        f->done = f->oil_does;
        break;
    case MOVE_CURE:
        f->done = is_cure_of(m->cure, truth);
        break;
    }
    if (f->done)
        text_addf(came, "Right, it goes as it should after %.0f minute%s.", minutes, minutes < 1.5 ? "" : "s");
    else
        not_that(f, m->kind == MOVE_CURE ? m->cure : NULL, minutes, came);
}

/* --- what there is to choose from ------------------------------------------------------------------------------ */

static bool think(const struct round *r, struct finding *f)
{
    belief_release(&f->belief);
    return belief_find(r->room->finder, &f->sheet, NULL, &f->belief);
}

static size_t add_move(const struct round *r, struct finding *f, struct move m)
{
    for (size_t i = 0; i < f->moves; i++) {
        const struct move *x = &f->move[i];
        if (x->kind == m.kind && (m.kind != MOVE_CURE || x->fault == m.fault) && (m.kind != MOVE_ASK || x->question == m.question))
            return i;
    }
    if (f->moves == MOVES_MOST)
        return ROUND_NO_CHOICE;
    m.minutes = move_minutes(r, f, &m);
    f->move[f->moves] = m;
    return f->moves++;
}

static bool worth_asking(const struct finding *f, const struct question *q)
{
    return q->kind != QUESTION_HINT && !was_asked(f, q->id);
}

/* The question the finder would ask, put in as one of those on offer; NULL when it would act. */
static const struct question *expert_question(const struct round *r, struct finding *f)
{
    struct next_step next = {0};
    if (f->where != AT_PHONE || f->trieds || f->askeds >= EXPERT_MOST)
        return NULL;
    next_step_find(&next, r->room->finder, &f->belief, &f->sheet);
    for (size_t i = 0; i < next.questions && next.kind == NEXT_QUESTION; i++)
        if (worth_asking(f, &next.batch[i])) {
            f->question[0] = next.batch[i];
            f->questions = 1;
            return &f->question[0];
        }
    return NULL;
}

static const struct fault *likeliest_with(const struct finding *f, const char *cure)
{
    for (size_t i = 0; i < f->belief.causes; i++)
        if (f->belief.cause[i].fault && is_cure_of(cure, f->belief.cause[i].fault))
            return f->belief.cause[i].fault;
    return NULL;
}

/* A step of the finder's plan as a move of the round. */
static struct move move_of_step(const struct finding *f, const struct plan_step *s)
{
    if (!strncmp(s->cure, "look", 4))
        return (struct move){.kind = s->place == NEXT_BENCH && f->where != AT_BENCH ? MOVE_FETCH : MOVE_LOOK};
    if (s->place == NEXT_BENCH && f->where != AT_BENCH)
        return (struct move){.kind = MOVE_FETCH};
    if (s->place == NEXT_VISIT && !strcmp(s->cure, clean_and_oil))
        return (struct move){.kind = MOVE_OIL};
    return (struct move){.kind = MOVE_CURE, .cure = s->cure, .fault = likeliest_with(f, s->cure)};
}

/* Ask while it is worth it; then the owner's cures; then what is done there first; then look. */
static struct move expert_move(const struct round *r, struct finding *f)
{
    struct plan_step step[PLAN_MOST];
    if (expert_question(r, f))
        return (struct move){.kind = MOVE_ASK, .question = 0};
    size_t n = next_plan(&f->belief, step, PLAN_MOST);
    for (size_t i = 0; i < n && !f->tried_there && !f->oiled; i++)
        if (!was_tried(f, step[i].cure) && (f->where == AT_PHONE || step[i].place != NEXT_OWNER))
            return move_of_step(f, &step[i]);
    return (struct move){.kind = MOVE_LOOK};
}

/* Further questions beside the expert's; their order must not give the best away. */
static void gather_questions(const struct round *r, struct finding *f)
{
    struct question all[2 * QUESTIONS + ASKED_MOST];
    size_t n = f->askeds < ASKED_MOST && f->where == AT_PHONE
                   ? next_questions(r->room->finder, &f->belief, &f->sheet, -60, all, sizeof all / sizeof all[0]) : 0;
    for (size_t i = 0; i < n && f->questions < QUESTIONS; i++)
        if (worth_asking(f, &all[i]) && (!f->questions || strcmp(all[i].id, f->question[0].id) != 0))
            f->question[f->questions++] = all[i];
    for (size_t i = 1; i < f->questions; i++)
        for (size_t k = i; k > 0 && strcmp(f->question[k].text, f->question[k - 1].text) < 0; k--) {
            struct question swap = f->question[k];
            f->question[k] = f->question[k - 1];
            f->question[k - 1] = swap;
        }
}

static int move_order(const struct move *a, const struct move *b)
{
    bool named = a->fault && b->fault;
    return named ? strcmp(a->fault->name, b->fault->name) : (int)(a->fault == NULL) - (int)(b->fault == NULL);
}

static void add_name(const struct round *r, struct finding *f, const struct fault *x)
{
    if (x && x->cure && !was_tried(f, x->cure))
        add_move(r, f, (struct move){.kind = MOVE_CURE, .cure = x->cure, .fault = x});
}

/* What it may be: the likely ones and the truth, in the order of the alphabet. */
static void gather_names(const struct round *r, struct finding *f, const struct move *best)
{
    size_t first = f->moves;
    if (best->kind == MOVE_CURE)
        add_move(r, f, *best);
    add_name(r, f, truth_of(&f->caller));
    for (size_t i = 0; i < f->belief.causes && f->moves - first < NAMES; i++)
        add_name(r, f, f->belief.cause[i].fault);
    for (size_t i = first + 1; i < f->moves; i++)
        for (size_t k = i; k > first && move_order(&f->move[k], &f->move[k - 1]) < 0; k--) {
            struct move swap = f->move[k];
            f->move[k] = f->move[k - 1];
            f->move[k - 1] = swap;
        }
}

/* All moves, with the expert's among them. */
static void gather_moves(const struct round *r, struct finding *f)
{
    char asks[80] = "";
    f->questions = f->moves = 0;
    struct move best = expert_move(r, f);
    if (best.kind == MOVE_ASK)
        snprintf(asks, sizeof asks, "%s", f->question[best.question].id);
    gather_questions(r, f);
    for (size_t i = 0; i < f->questions; i++) {
        if (!strcmp(f->question[i].id, asks))
            best.question = i;
        add_move(r, f, (struct move){.kind = MOVE_ASK, .question = i});
    }
    if (f->trieds < TRIED_MOST)
        gather_names(r, f, &best);
    if (f->where == AT_PHONE && !was_tried(f, leave_alone))
        add_move(r, f, (struct move){.kind = MOVE_CURE, .cure = leave_alone});
    if (f->where != AT_BENCH && !f->oiled && likeliest_with(f, clean_and_oil))
        add_move(r, f, (struct move){.kind = MOVE_OIL});
    if (f->where != AT_BENCH)
        add_move(r, f, (struct move){.kind = MOVE_FETCH});
    add_move(r, f, (struct move){.kind = MOVE_LOOK});
    f->best = add_move(r, f, best);
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

static const char *move_text(const struct round *r, const struct finding *f, const struct move *m, struct text *t)
{
    enum where to = move_place(r, f, m);
    static const char *const places[] = {"the owner tries it", "in the house", "at the bench"};
    text_clear(t);
    switch (m->kind) {
    case MOVE_ASK:
        text_addf(t, "Ask: %s", f->question[m->question].text);
        break;
    case MOVE_CURE:
        if (m->fault)
            text_addf(t, "It is: %s (%s); %s", m->fault->name, m->fault->part, places[to]);
        else
            text_add(t, "Nothing is wrong: let the owner leave it alone");
        break;
    case MOVE_OIL:
        text_add(t, "It is merely dry: clean and oil it in the house");
        break;
    case MOVE_FETCH:
        text_add(t, "Fetch it to the bench");
        break;
    case MOVE_LOOK:
        text_add(t, f->where == AT_PHONE ? "Go there and look for it" : "Look for it now, and do what it wants");
        break;
    }
    return text_cstr(t);
}

/* What the fault finder does with the same caller, by the same moves. */
static double expert_line(struct round *r, const struct finding *f, struct text *line)
{
    struct finding *x = mem_alloc(sizeof *x);
    struct text words = {0}, came = {0};
    double minutes = INFINITY;
    *x = (struct finding){.caller = f->caller, .oil_does = f->oil_does};
    copy_sheet(f, &x->sheet);
    bool good = think(r, x);
    for (int i = 0; i < ASKED_MOST + TRIED_MOST && good && !x->done; i++) {
        x->questions = 0;
        struct move m = expert_move(r, x);
        text_clear(&came);
        if (m.kind != MOVE_ASK)
            text_addf(line, "%s. ", move_text(r, x, &m, &words));
        do_move(r, x, &m, &came);
        if (m.kind != MOVE_FETCH)
            text_addf(line, "%s ", text_cstr(&came));
        good = m.kind != MOVE_ASK || think(r, x);
    }
    if (x->done)
        minutes = x->spent_min;
    sheet_release(&x->sheet);
    belief_release(&x->belief);
    text_release(&words);
    text_release(&came);
    mem_free(x);
    return minutes;
}

/* --- the round -------------------------------------------------------------------------------------------------- */

static void say_prompt(struct round *r, const struct finding *f)
{
    static const char *const now[] = {"Ask, name the fault, or go", "You are in the house. Name the fault, or look",
                                      "It is on the bench. Name the fault, or look"};
    struct text story = {0};
    for (size_t i = 0; i < f->sheet.heards; i++) {
        if (i)
            text_add(&story, "; ");
        heard_say(&f->sheet.heard[i], r->room->words, &story);
    }
    if (story.length)
        story.at[0] = (char)toupper((unsigned char)story.at[0]);
    round_prompt(r, "A caller with this clock: %s. %s. Spent so far: %.1f minutes. %s.", r->clock->name, text_cstr(&story),
                 f->spent_min, now[f->where]);
    text_release(&story);
}

static void offer_moves(struct round *r, struct finding *f)
{
    struct text t = {0};
    round_clear_choices(r);
    gather_moves(r, f);
    say_prompt(r, f);
    for (size_t i = 0; i < f->moves; i++)
        round_offer(r, f->move[i].minutes, "%s", move_text(r, f, &f->move[i], &t));
    text_release(&t);
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
        f->oil_does = only_dry(r, truth_of(&f->caller)) && random_unit(&r->room->random) < OIL_WORKS;
        text_clear(&f->best_line);
        r->best_min = expert_line(r, f, &f->best_line);
        if (!isfinite(r->best_min) || !think(r, f))
            continue;
        r->part = truth_of(&f->caller)->part;
        offer_moves(r, f);
        return true;
    }
    return false;
}

/* Found is right: as quick as the expert, or without a wrong name and not much slower. */
static void fault_end(struct round *r)
{
    struct finding *f = r->own;
    const struct fault *truth = truth_of(&f->caller);
    int score = round_score(r->best_min, f->spent_min);
    bool vain = f->trieds || (f->oiled && !f->oil_does);
    round_review(r, "It was: %s (%s). %s Best line, %.0f minutes: %s", truth->name, truth->part, truth->about ? truth->about : "",
                 r->best_min, text_cstr(&f->best_line));
    round_finish(r, score == 100 || (score >= ROUND_GOOD && !vain), score);
}

static void fault_choose(struct round *r, size_t choice)
{
    struct finding *f = r->own;
    struct text came = {0};
    struct move m = f->move[choice];
    do_move(r, f, &m, &came);
    r->spent_min = f->spent_min;
    round_came(r, "%s", text_cstr(&came));
    text_release(&came);
    if (f->done || (m.kind == MOVE_ASK && !think(r, f)))
        fault_end(r);
    else
        offer_moves(r, f);
}

static void fault_release(struct round *r)
{
    struct finding *f = r->own;
    belief_release(&f->belief);
    sheet_release(&f->sheet);
    text_release(&f->best_line);
}

static size_t fault_best(const struct round *r)
{
    const struct finding *f = r->own;
    return f->best;
}

const struct round_way round_fault_way = {fault_make, fault_choose, fault_release, fault_best};
