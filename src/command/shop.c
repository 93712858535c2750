#include "command/shop.h"

#include <math.h>
#include <string.h>

#include "journal/journal_jobs.h"
#include "mem.h"

static void add_history(const struct words *words, const struct sheet *sheet, struct text *out)
{
    for (size_t i = 0; i < words_count(words, WORD_HISTORY); i++)
        if (word_set_has(&sheet->history, (int)i))
            text_addf(out, "%s%s", out->length ? " " : "", words_at(words, WORD_HISTORY, i)->id);
}

void shop_read(struct shop *s, const struct library *lib, const char *where, bool may_be_new,
               struct err *e)
{
    memset(s, 0, sizeof *s);
    habits_init(&s->habits);
    if (lessons_nothing_yet(where, may_be_new))
        return; /* the priors of all faults need not be gathered then */
    s->learn = lessons_learned(lib, where, may_be_new, &s->got, e);
    if (s->learn && !s->got.off)
        habits_read(&s->habits, where, e);
}

void shop_hear(struct shop *s, const struct words *words, const struct sheet *sheet)
{
    text_clear(&s->history);
    add_history(words, sheet, &s->history);
    s->view = (struct lessons_view){.learn = s->learn, .history = text_cstr(&s->history)};
}

void shop_open(struct shop *s, const struct desk *d, const char *where, bool may_be_new,
               struct err *e)
{
    shop_read(s, d->lib, where, may_be_new, e);
    shop_hear(s, d->words, &d->sheet);
}

void shop_close(struct shop *s)
{
    learn_free(s->learn);
    habits_release(&s->habits);
    text_release(&s->history);
    memset(s, 0, sizeof *s);
}

void shop_teach(struct shop *s, struct belief_options *o)
{
    habits_teach(&s->habits, o);
    if (!s->learn || s->got.jobs == 0)
        return;
    o->shop = lessons_factor;
    o->shop_with = &s->view;
}

static bool keep_beliefs(struct journal *j, const char *call, const struct belief *b, struct err *e)
{
    struct belief_row *rows = mem_alloc((b->causes + 1) * sizeof *rows);
    for (size_t i = 0; i < b->causes; i++)
        rows[i] = (struct belief_row){b->cause[i].id, b->cause[i].part, fmin(b->cause[i].p, 1)};
    bool ok = job_believe(j, call, rows, b->causes, KEEP_LEAST, e);
    mem_free(rows);
    return ok;
}

static bool keep_all(struct journal *j, const struct new_call *call, const struct report *r,
                     char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    return job_add(j, call, id, e) && keep_beliefs(j, id, &r->belief, e) &&
           (!r->next.text[0] || job_advise(j, id, r->next.id, r->next.text, r->next.saves_min, e));
}

bool shop_keep(const char *where, const char *customer, const struct desk *d,
               const struct report *r, char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    struct text sheet = {0}, history = {0};
    struct journal *j = journal_open(where, NULL, e);
    sheet_print(&d->sheet, &sheet);
    add_history(d->words, &d->sheet, &history);
    const char *clock = d->sheet.clock[0] ? d->sheet.clock : NULL;
    if (!clock && r->belief.clocks && r->belief.clock[0].p > 0.95)
        clock = r->belief.clock[0].name;
    struct new_call call = {.customer = customer,
                            .movement = clock,
                            .sheet = text_cstr(&sheet),
                            .history = history.length ? history.at : NULL};
    bool ok = j && journal_begin(j, e);
    if (ok && keep_all(j, &call, r, id, e))
        ok = journal_commit(j, e);
    else if (ok) {
        journal_rollback(j);
        ok = false;
    }
    journal_close(j);
    text_release(&sheet);
    text_release(&history);
    return ok;
}
