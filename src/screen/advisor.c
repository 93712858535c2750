#include "screen/advisor.h"

#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "command/shop.h"
#include "diagnose/report.h"
#include "mem.h"

struct advisor {
    const struct library *lib;
    const struct words *words;
    struct finder *finder;       /* the thread's, but for advisor_now */
    struct shop shop;            /* likewise: what its closed jobs taught */
    void (*wake)(void);
    pthread_t thread;
    pthread_mutex_t lock, work;  /* work: one at a time with the finder */
    pthread_cond_t wanted;
    char *sheet;                 /* waiting */
    char guess[64];
    uint64_t version;
    bool busy, quit, fresh;
    bool relearn;                /* the journal is to be read (again) first */
    const char *place;           /* of the journal; NULL the usual one */
    struct advice answer;
};

/* ---- from report to plain values ---- */

/* What is too long for a line ends at a word. */
static void copy_line(char to[ADVICE_LINE], const char *from)
{
    static const char more[] = " \xe2\x80\xa6";
    if (snprintf(to, ADVICE_LINE, "%s", from) < ADVICE_LINE)
        return;
    char *end = to + ADVICE_LINE - sizeof more;
    while (end > to && *end != ' ')
        end--;
    memcpy(end, more, sizeof more);
}

static void copy_lines(char to[][ADVICE_LINE], size_t *count, const struct sentences *from)
{
    *count = 0;
    for (size_t i = 0; i < from->count && *count < ADVICE_LINES; i++)
        copy_line(to[(*count)++], from->at[i]);
}

/* The state the clock is likeliest in after the report. */
static void take_works(struct advice_cause *c, const struct held *h, const struct sheet *sheet)
{
    struct closer closer;
    closer_init(&closer, h, sheet, NULL);
    const struct outcome_table *t = closer.own;
    snprintf(c->clock, sizeof c->clock, "%s", h->kase->clock->id);
    c->changes = t->changes;
    if (t->changes > 0)
        memcpy(c->change, t->change, t->changes * sizeof *t->change);
    double most = -1;
    for (size_t i = 0; i < closer.space.ends; i++)
        if (closer.space.end[i].p > most && closer.space.end[i].state < h->kase->rows.states) {
            most = closer.space.end[i].p;
            c->rest = h->kase->rows.state[closer.space.end[i].state];
        }
    c->next_min = h->kase->classes.minute[closer.next % h->kase->classes.letoffs];
    closer_release(&closer);
}

static void take_cause(struct advice_cause *c, const struct report *r, size_t i)
{
    const struct belief_cause *b = &r->belief.cause[i];
    memset(c, 0, sizeof *c);
    snprintf(c->id, sizeof c->id, "%s", b->id);
    snprintf(c->part, sizeof c->part, "%s", b->part);
    snprintf(c->class, sizeof c->class, "%s", b->class);
    snprintf(c->name, sizeof c->name, "%s", b->fault ? b->fault->name
             : strcmp(b->id, "none") == 0 ? "Nothing is wrong" : "Something not known here");
    c->p = b->p;
    c->severity = b->severity_mean;
    c->owner_safe = b->owner_safe;
    if (b->cure) {
        snprintf(c->cure, sizeof c->cure, "%s", b->cure->text);
        snprintf(c->who, sizeof c->who, "%s", b->cure->who);
        snprintf(c->hazard, sizeof c->hazard, "%s", b->cure->hazard ? b->cure->hazard : "none");
    }
    if (i < REPORT_CAUSES) {
        copy_lines(c->why, &c->whys, &r->reasons[i]);
        copy_lines(c->then, &c->thens, &r->predicts[i]);
    }
    if (b->best < r->belief.helds)
        take_works(c, &r->belief.held[b->best], r->sheet);
}

/* Which train or sounder a fault is about: parameters of one train end in its name, those of one
 * hammer begin with "hammer_" and have its sounder as value. */
static void take_doubt(struct advice *a, const struct advice_cause *c)
{
    static const char *const ends[TRAINS] = {"_going", "_strike", "_chime", "_music"};
    struct plate_doubt d = {plate_part_of(c->part), -1, -1, c->p};
    for (size_t i = 0; i < c->changes; i++) {
        const char *name = par_row(c->change[i].par)->name;
        size_t n = strlen(name);
        for (int t = 0; t < TRAINS; t++)
            if (n > strlen(ends[t]) && strcmp(name + n - strlen(ends[t]), ends[t]) == 0)
                d.train = t;
        if (strncmp(name, "hammer_", 7) == 0 && c->change[i].value >= 0 && c->change[i].value < CLOCK_SOUNDERS &&
            par_row(c->change[i].par)->sound < 0)
            d.sounder = (int)c->change[i].value;
    }
    if ((d.train >= 0 || d.sounder >= 0) && d.part != PART_NONE && a->doubts < PLATE_DOUBTS)
        a->doubt[a->doubts++] = d;
}

static void take_shares(struct advice *a, const struct belief *b)
{
    for (size_t i = 0; i < b->parts; i++) {
        enum plate_part part = plate_part_of(b->by_part[i].name);
        if (part != PART_NONE)
            a->part[part] = b->by_part[i].p;
    }
    for (size_t i = 0; i < b->clocks && a->clocks < ADVICE_CLOCKS; i++) {
        snprintf(a->clock[a->clocks].id, sizeof a->clock[0].id, "%s", b->clock[i].name);
        a->clock[a->clocks++].p = b->clock[i].p;
    }
    for (size_t i = 0; i < b->classes && a->classes < sizeof a->class / sizeof *a->class; i++) {
        snprintf(a->class[a->classes].name, sizeof a->class[0].name, "%s", b->by_class[i].name);
        a->class[a->classes++].p = b->by_class[i].p;
    }
}

static double wall_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

/* A journal that cannot be read teaches nothing; its page says so. */
static void learn(struct advisor *a, const struct sheet *sheet, struct belief_options *o)
{
    struct err quiet = {0};
    pthread_mutex_lock(&a->lock);
    bool wanted = a->relearn;
    const char *place = a->place;
    a->relearn = false;
    pthread_mutex_unlock(&a->lock);
    if (wanted) {
        shop_close(&a->shop);
        shop_read(&a->shop, a->lib, place, false, &quiet);
    }
    shop_hear(&a->shop, a->words, sheet);
    shop_teach(&a->shop, o);
    err_release(&quiet);
}

/* What nobody knows sounds like anything: it is not worth a word. */
static struct alike_group known_of(const struct alike_group *g, const struct belief *b)
{
    struct alike_group known = *g;
    known.causes = 0;
    for (size_t i = 0; i < g->causes; i++)
        if (strcmp(b->cause[g->cause[i]].id, "unknown") != 0)
            known.cause[known.causes++] = g->cause[i];
    return known;
}

static void take_alike(struct advice *to, const struct report *r)
{
    for (size_t i = 0; i < r->alike.groups && to->alikes < ADVICE_LINES; i++) {
        struct alike_group g = known_of(&r->alike.group[i], &r->belief);
        struct text t = {0};
        if (g.causes < 2)
            continue;
        alike_names(&g, &r->belief, &t);
        text_add(&t, " sound alike in what was heard; to tell them apart ");
        alike_say(&g, &r->belief, &t);
        text_add(&t, ".");
        snprintf(to->alike[to->alikes++], ADVICE_ALIKE, "%s", text_cstr(&t));
        text_release(&t);
    }
}

static void work_out(struct advisor *a, const struct sheet *sheet, uint64_t version,
                     struct advice *to)
{
    struct report r;
    struct belief_options options = {.pairs = false};
    double began_s = wall_s();
    memset(to, 0, sizeof *to);
    to->version = version;
    to->clash = -1;
    learn(a, sheet, &options);
    to->jobs = a->shop.got.jobs;
    if (report_init(&r, a->finder, sheet, &options)) {
        to->fits = true;
        for (size_t i = 0; i < r.belief.causes && to->causes < ADVICE_CAUSES; i++)
            take_cause(&to->cause[to->causes++], &r, i);
        for (size_t i = 0; i < to->causes; i++)
            take_doubt(to, &to->cause[i]);
        take_shares(to, &r.belief);
        to->next = r.next;
        to->clash = r.clash;
        to->omitted = r.belief.omitted;
        copy_lines(to->first, &to->firsts, &r.first);
        copy_lines(to->note, &to->notes, &r.notes);
        take_alike(to, &r);
        report_release(&r);
    }
    to->took_s = wall_s() - began_s;
}

/* guess NULL: as the sheet says.  False if there was nothing to guess. */
static bool work_text(struct advisor *a, const char *text, uint64_t version, const char *guess,
                      struct advice *to)
{
    struct sheet s;
    struct err e = {0};
    bool does = false;
    sheet_init(&s, a->words);
    if (text[strspn(text, " \t\r\n{}-")] == 0 || sheet_parse(&s, "desk", text, strlen(text), &e)) {
        does = !guess || (guess[0] && !s.clock[0] && !sheet_empty(&s));
        if (does && guess)
            snprintf(s.clock, sizeof s.clock, "%s", guess);
        if (does)
            work_out(a, &s, version, to);
        to->rough = guess != NULL;
    }
    sheet_release(&s);
    err_release(&e);
    return does;
}

/* ---- the thread ---- */

static void publish(struct advisor *a, const struct advice *made)
{
    pthread_mutex_lock(&a->lock);
    a->answer = *made;
    a->fresh = true;
    pthread_mutex_unlock(&a->lock);
    if (a->wake)
        a->wake();
}

static bool overtaken(struct advisor *a)
{
    pthread_mutex_lock(&a->lock);
    bool newer = a->sheet != NULL || a->quit;
    pthread_mutex_unlock(&a->lock);
    return newer;
}

static void work_both(struct advisor *a, const char *text, uint64_t version, const char *guess)
{
    struct advice *made = mem_alloc(sizeof *made);
    pthread_mutex_lock(&a->work);
    if (work_text(a, text, version, guess, made))
        publish(a, made);
    if (!overtaken(a)) {
        work_text(a, text, version, NULL, made);
        publish(a, made);
    }
    pthread_mutex_unlock(&a->work);
    mem_free(made);
}

static void *run(void *with)
{
    struct advisor *a = with;
    pthread_mutex_lock(&a->lock);
    while (!a->quit) {
        if (!a->sheet) {
            a->busy = false;
            pthread_cond_wait(&a->wanted, &a->lock);
            continue;
        }
        char *text = a->sheet;
        uint64_t version = a->version;
        char guess[64];
        memcpy(guess, a->guess, sizeof guess);
        a->sheet = NULL;
        pthread_mutex_unlock(&a->lock);
        work_both(a, text, version, guess);
        mem_free(text);
        pthread_mutex_lock(&a->lock);
    }
    pthread_mutex_unlock(&a->lock);
    return NULL;
}

struct advisor *advisor_new(const struct library *lib, const struct words *words,
                            void (*wake)(void))
{
    struct advisor *a = mem_alloc(sizeof *a);
    a->lib = lib;
    a->words = words;
    a->wake = wake;
    a->finder = finder_new(lib);
    a->relearn = true;
    pthread_mutex_init(&a->lock, NULL);
    pthread_mutex_init(&a->work, NULL);
    pthread_cond_init(&a->wanted, NULL);
    pthread_create(&a->thread, NULL, run, a);
    return a;
}

void advisor_free(struct advisor *a)
{
    if (!a)
        return;
    pthread_mutex_lock(&a->lock);
    a->quit = true;
    pthread_cond_signal(&a->wanted);
    pthread_mutex_unlock(&a->lock);
    pthread_join(a->thread, NULL);
    mem_free(a->sheet);
    finder_free(a->finder);
    shop_close(&a->shop);
    pthread_mutex_destroy(&a->lock);
    pthread_mutex_destroy(&a->work);
    pthread_cond_destroy(&a->wanted);
    mem_free(a);
}

void advisor_journal(struct advisor *a, const char *place)
{
    pthread_mutex_lock(&a->lock);
    a->place = place;
    a->relearn = true;
    pthread_mutex_unlock(&a->lock);
}

void advisor_relearn(struct advisor *a)
{
    pthread_mutex_lock(&a->lock);
    a->relearn = true;
    pthread_mutex_unlock(&a->lock);
}

void advisor_ask(struct advisor *a, const struct sheet *sheet, uint64_t version, const char *guess)
{
    struct text t = {0};
    sheet_print(sheet, &t);
    pthread_mutex_lock(&a->lock);
    mem_free(a->sheet);
    a->sheet = t.at ? t.at : mem_copy_text("");
    a->version = version;
    snprintf(a->guess, sizeof a->guess, "%s", guess ? guess : "");
    a->busy = true;
    pthread_cond_signal(&a->wanted);
    pthread_mutex_unlock(&a->lock);
}

bool advisor_take(struct advisor *a, struct advice *to)
{
    pthread_mutex_lock(&a->lock);
    bool fresh = a->fresh;
    if (fresh)
        *to = a->answer;
    a->fresh = false;
    pthread_mutex_unlock(&a->lock);
    return fresh;
}

bool advisor_busy(struct advisor *a)
{
    pthread_mutex_lock(&a->lock);
    bool busy = a->busy;
    pthread_mutex_unlock(&a->lock);
    return busy;
}

void advisor_now(struct advisor *a, const struct sheet *sheet, uint64_t version, struct advice *to)
{
    struct text t = {0};
    sheet_print(sheet, &t);
    pthread_mutex_lock(&a->work);
    work_text(a, text_cstr(&t), version, NULL, to);
    pthread_mutex_unlock(&a->work);
    text_release(&t);
}
