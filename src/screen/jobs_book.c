#include "screen/jobs_book.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "command/lessons.h"
#include "draw/pages.h"
#include "mem.h"

#define BOOK_BELIEF 0.005 /* least belief that is kept */
#define KIT_BELIEF 0.05   /* faults likelier than this are packed for */

/* ---- opening and reading ---- */

struct journaling *book_of(struct app *a)
{
    if (!a->journaling) {
        a->journaling = mem_alloc(sizeof *a->journaling);
        a->journaling->seen_s = -10 * BOOK_STALE_S;
        a->journaling->kept = UINT64_MAX;
        sheet_init(&a->journaling->sheet, a->words);
    }
    return a->journaling;
}

static void clear_lists(struct journaling *b)
{
    for (int i = 0; i < JOB_LISTS; i++)
        job_rows_release(&b->rows[i]);
    memset(b->rows, 0, sizeof b->rows);
    visit_rows_release(&b->today);
    b->today = (struct visit_rows){0};
}

static void clear_job(struct journaling *b)
{
    if (b->job_there)
        job_release(&b->job);
    b->job_there = false;
}

void journal_free(struct journaling *b)
{
    if (!b)
        return;
    clear_lists(b);
    clear_job(b);
    stats_release(&b->stats);
    sheet_release(&b->sheet);
    journal_close(b->j);
    struct text *typed[] = {&b->search, &b->other, &b->when, &b->van, &b->minutes};
    for (size_t i = 0; i < sizeof typed / sizeof *typed; i++)
        text_release(typed[i]);
    mem_free(b);
}

/* The first sentence of what went wrong, shown at the foot. */
static void tell(struct app *a, struct err *e)
{
    if (e->count > 0)
        app_notice(a, "%s", e->line[0]);
    err_release(e);
}

static bool nothing_there(const char *place)
{
    if (place && strstr(place, "://"))
        return false;
    char *path = place ? mem_copy_text(place) : journal_default_path();
    bool none = !path || access(path, F_OK) != 0;
    mem_free(path);
    return none;
}

static bool book_open(struct app *a, bool may_begin)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    if (b->j)
        return true;
    b->missing = nothing_there(a->journal_place);
    if (b->missing && !may_begin)
        return false;
    struct journal_options how = {.busy_ms = 1500};
    b->j = journal_open(a->journal_place, &how, &e);
    b->missing = false;
    snprintf(b->trouble, sizeof b->trouble, "%s", b->j ? "" : e.count > 0 ? e.line[0] : "The journal cannot be read.");
    err_release(&e);
    return b->j != NULL;
}

struct journal *book_journal(struct app *a, bool may_begin)
{
    return book_open(a, may_begin) ? book_of(a)->j : NULL;
}

void book_search(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    job_rows_release(&b->rows[LIST_FOUND]);
    b->rows[LIST_FOUND] = (struct job_rows){0};
    snprintf(b->searched, sizeof b->searched, "%s", text_cstr(&b->search));
    if (b->j && b->searched[0])
        job_find(b->j, b->searched, &b->rows[LIST_FOUND], &e);
    tell(a, &e);
}

static void read_sheet(struct journaling *b)
{
    const char *text = record_text(&b->job.call, "sheet");
    struct err quiet = {0};
    sheet_clear(&b->sheet);
    if (text[0] && !sheet_parse(&b->sheet, "the sheet", text, strlen(text), &quiet))
        sheet_clear(&b->sheet);
    err_release(&quiet);
}

static void read_job(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    clear_job(b);
    b->job_there = b->j && b->chosen[0] && job_read(b->j, b->chosen, &b->job, &e);
    if (b->job_there)
        read_sheet(b);
    tell(a, &e);
}

void book_choose(struct app *a, const char *call)
{
    struct journaling *b = book_of(a);
    snprintf(b->chosen, sizeof b->chosen, "%s", call);
    text_clear(&b->other);
    text_clear(&b->minutes);
    b->figures = false;
    read_job(a);
    if (b->job_there)
        text_add(&b->minutes, record_text(&b->job.call, "minutes"));
    a->ui.changed = true;
}

static double moved_by(const struct learned *l)
{
    return fabs(l->after - l->before);
}

/* Rows of the clocks, whatever the history, by how far they were moved. */
static void take_taught(struct journaling *b, struct learn *learn)
{
    size_t count;
    const struct learned *row = learn_show(learn, &count);
    bool *used = mem_alloc(count + 1);
    b->taughts = 0;
    while (b->taughts < BOOK_TAUGHT) {
        const struct learned *best = NULL;
        for (size_t i = 0; i < count; i++)
            if (!used[i] && row[i].found > 0 && !row[i].history && (!best || moved_by(&row[i]) > moved_by(best)))
                best = &row[i];
        if (!best)
            break;
        used[best - row] = true;
        struct taught_row *t = &b->taught[b->taughts++];
        *t = (struct taught_row){.before = best->before, .after = best->after, .found = best->found, .jobs = best->jobs};
        snprintf(t->clock, sizeof t->clock, "%s", best->clock);
        snprintf(t->fault, sizeof t->fault, "%s", best->fault);
    }
    mem_free(used);
}

static void read_lessons(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err quiet = {0};
    b->taughts = 0;
    struct learn *learn = b->j ? lessons_of(a->lib, b->j, &b->lessons, &quiet) : NULL;
    if (learn)
        take_taught(b, learn);
    learn_free(learn);
    err_release(&quiet);
}

void book_figures(struct app *a, int year)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    stats_release(&b->stats);
    b->stats = (struct stats){0};
    b->year = year;
    b->stats_there = b->j && stats_read(b->j, year, &b->stats, &e);
    read_lessons(a);
    tell(a, &e);
}

void book_read(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    char now[20];
    clear_lists(b);
    b->read = true;
    if (!book_open(a, false)) {
        clear_job(b);
        return;
    }
    journal_now(b->j, now);
    snprintf(b->day, sizeof b->day, "%.10s", now);
    if (!(job_visits(b->j, b->day, &b->today, &e) && job_list(b->j, JOBS_OPEN, 0, &b->rows[LIST_OPEN], &e) &&
          job_list(b->j, JOBS_CLOSED, BOOK_CLOSED, &b->rows[LIST_CLOSED], &e)))
        clear_lists(b);
    tell(a, &e);
    book_search(a);
    if (b->chosen[0])
        read_job(a);
    else if (b->rows[LIST_OPEN].count > 0)
        book_choose(a, b->rows[LIST_OPEN].at[0].call);
    if (b->figures)
        book_figures(a, b->year);
}

void book_look(struct app *a)
{
    struct journaling *b = book_of(a);
    if (!b->read || a->now_s - b->seen_s > BOOK_STALE_S)
        book_read(a);
    b->seen_s = a->now_s;
    if (strncmp(b->searched, text_cstr(&b->search), sizeof b->searched - 1) != 0)
        book_search(a);
}

/* A call may have been thought over several times; the last set counts. */
static const char *last_made(const struct record_list *list)
{
    const char *last = "";
    for (size_t i = 0; i < list->count; i++) {
        const char *made = record_text(&list->at[i], "made_at");
        last = strcmp(made, last) > 0 ? made : last;
    }
    return last;
}

static int likelier(const void *a, const void *b)
{
    double p = record_real(*(const struct record *const *)a, "p", 0);
    double q = record_real(*(const struct record *const *)b, "p", 0);
    return (p < q) - (p > q);
}

size_t book_beliefs(const struct journaling *b, const struct record **row, size_t room)
{
    const struct record_list *list = &b->job.of[RECORD_BELIEF];
    size_t n = 0;
    if (!b->job_there)
        return 0;
    const char *last = last_made(list);
    for (size_t i = 0; i < list->count && n < room; i++)
        if (strcmp(record_text(&list->at[i], "made_at"), last) == 0)
            row[n++] = &list->at[i];
    qsort(row, n, sizeof *row, likelier);
    return n;
}

/* ---- from and to the desk ---- */

/* Beliefs and advice only if they are of the sheet as it stands. */
static bool keep_beliefs(struct app *a, const char *id, struct err *e)
{
    struct journal *j = book_of(a)->j;
    struct belief_row row[ADVICE_CAUSES];
    const struct advice *v = &a->advice;
    if (v->version != a->call.version)
        return true;
    for (size_t i = 0; i < v->causes; i++)
        row[i] = (struct belief_row){v->cause[i].id, v->cause[i].part, v->cause[i].p > 1 ? 1 : v->cause[i].p};
    return job_believe(j, id, row, v->causes, BOOK_BELIEF, e) &&
           (!v->next.text[0] || job_advise(j, id, v->next.id, v->next.text, v->next.saves_min, e));
}

static void history_of(const struct app *a, struct text *out)
{
    for (size_t i = 0; i < words_count(a->words, WORD_HISTORY); i++)
        if (word_set_has(&a->call.sheet.history, (int)i))
            text_addf(out, "%s%s", out->length ? " " : "", words_at(a->words, WORD_HISTORY, i)->id);
}

static bool keep_all(struct app *a, const struct new_call *call, char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    struct journal *j = book_of(a)->j;
    if (!journal_begin(j, e))
        return false;
    if (job_add(j, call, id, e) && keep_beliefs(a, id, e))
        return journal_commit(j, e);
    journal_rollback(j);
    return false;
}

bool app_keep(struct app *a)
{
    struct text sheet = {0}, history = {0};
    struct err e = {0};
    char id[RECORD_ID_LENGTH + 1];
    const char *who = text_cstr(&a->desk.customer);
    if (a->call.version == book_of(a)->kept) {
        app_notice(a, "This call is in the journal already.");
        return false;
    }
    if (!book_open(a, true)) {
        app_notice(a, "%s", book_of(a)->trouble);
        return false;
    }
    sheet_print(&a->call.sheet, &sheet);
    history_of(a, &history);
    struct new_call call = {.customer = who[0] ? who : NULL, .movement = app_clock(a)->id,
                            .sheet = text_cstr(&sheet), .story = a->call.sheet.story,
                            .history = history.length ? history.at : NULL};
    bool ok = keep_all(a, &call, id, &e);
    if (ok) {
        book_of(a)->kept = a->call.version;
        book_choose(a, id);
        book_read(a);
        app_notice(a, "Kept in the journal.");
    }
    tell(a, &e);
    text_release(&sheet);
    text_release(&history);
    return ok;
}

void book_take_up(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    if (call_read(&a->call, "journal", record_text(&b->job.call, "sheet"), &e)) {
        a->page = PAGE_DESK;
        text_clear(&a->desk.customer);
        text_add(&a->desk.customer, record_text(&b->job.customer, "label"));
        app_notice(a, "Taken up again. Ctrl+Z brings the call before back.");
    }
    tell(a, &e);
}

/* ---- what was found ---- */

/* The finder learns from what was closed or taken back, and what stands on the desk is weighed anew. */
static void taught(struct app *a)
{
    advisor_relearn(a->advisor);
    a->desk.asked = 0;
    book_read(a);
}

bool book_is_open(const struct journaling *b)
{
    return b->job_there && strcmp(record_text(&b->job.call, "state"), "closed") != 0;
}

static const struct record *finding_of(const struct journaling *b, const char *fault)
{
    const struct record_list *list = &b->job.of[RECORD_FINDING];
    for (size_t i = 0; b->job_there && i < list->count; i++)
        if (strcmp(record_text(&list->at[i], "fault"), fault) == 0)
            return &list->at[i];
    return NULL;
}

bool book_is_found(const struct journaling *b, const char *fault)
{
    return finding_of(b, fault) != NULL;
}

static bool close_with(struct app *a, const struct found_fault *f, struct err *e)
{
    struct journaling *b = book_of(a);
    bool nothing = strcmp(f->fault, "none") == 0;
    struct closing c = {.faults = f, .fault_count = 1, .minutes = -1, .outcome = nothing ? "no_fault" : NULL};
    return job_close(b->j, b->chosen, &c, e);
}

static bool add_finding(struct journaling *b, const struct found_fault *f, struct err *e)
{
    struct record r;
    record_init(&r, RECORD_FINDING);
    record_set(&r, "call", b->chosen);
    record_set(&r, "fault", f->fault);
    record_set(&r, "part", f->part);
    record_set(&r, "class", f->class);
    bool ok = journal_put(b->j, &r, e);
    record_release(&r);
    return ok;
}

bool book_found(struct app *a, const char *fault)
{
    struct journaling *b = book_of(a);
    const struct fault *known = library_find_fault(a->lib, fault);
    const struct record *old = finding_of(b, fault);
    struct found_fault f = {fault, known ? known->part : NULL, known ? known->class : NULL};
    struct err e = {0};
    bool ok, was_open = book_is_open(b);
    if (!b->job_there)
        return false;
    if (was_open && !old)
        ok = close_with(a, &f, &e);
    else if (old)
        ok = journal_erase(b->j, RECORD_FINDING, old->id, NULL, NULL, &e);
    else
        ok = add_finding(b, &f, &e);
    if (ok) {
        char call[sizeof b->chosen];
        snprintf(call, sizeof call, "%s", b->chosen);
        book_choose(a, call);
        taught(a);
        if (was_open && !old)
            app_notice(a, "Closed: %s. The finder learns from it; Reopen takes it back.", known ? known->name : fault);
    }
    tell(a, &e);
    return ok;
}

bool book_reopen(struct app *a)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    bool ok = b->job_there && job_reopen(b->j, b->chosen, &e);
    if (ok)
        taught(a);
    tell(a, &e);
    return ok;
}

bool book_teaches(struct app *a, bool may)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    bool ok = b->job_there && job_teaches(b->j, b->chosen, may, &e);
    if (ok)
        taught(a);
    tell(a, &e);
    return ok;
}

bool book_learning(struct app *a, bool on)
{
    struct journaling *b = book_of(a);
    struct err e = {0};
    bool ok = b->j && journal_learning(b->j, on, &e);
    if (ok)
        taught(a);
    tell(a, &e);
    return ok;
}

bool book_set(struct app *a, enum record_kind kind, const char *id, const char *field, const char *value)
{
    struct journaling *b = book_of(a);
    struct record r;
    struct err e = {0};
    record_init(&r, kind);
    snprintf(r.id, sizeof r.id, "%s", id);
    record_set(&r, field, value);
    bool ok = b->j && journal_put(b->j, &r, &e);
    record_release(&r);
    if (ok)
        book_read(a);
    tell(a, &e);
    return ok;
}

/* ---- visits ---- */

static bool in_list(const char *const *list, size_t n, const char *word)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(list[i], word) == 0)
            return true;
    return false;
}

size_t book_kit(const struct app *a, const struct journaling *b, const char **kit, size_t room, double *minutes)
{
    const struct record *row[BOOK_BELIEFS];
    size_t n = 0, rows = book_beliefs(b, row, BOOK_BELIEFS);
    *minutes = 0;
    for (size_t i = 0; i < rows; i++) {
        const struct fault *f = library_find_fault(a->lib, record_text(row[i], "fault"));
        const struct cure *cure = f && f->cure ? library_find_cure(a->lib, f->cure) : NULL;
        double p = record_real(row[i], "p", 0);
        if (!cure || p < KIT_BELIEF)
            continue;
        *minutes += p * cure->minutes;
        for (size_t k = 0; k < cure->kits; k++)
            if (n < room && !in_list(kit, n, cure->kit[k]))
                kit[n++] = cure->kit[k];
    }
    return n;
}

#define KIT_MOST 24

bool book_plan(struct app *a, const char *when, const char *van)
{
    struct journaling *b = book_of(a);
    const char *kit[KIT_MOST];
    struct text list = {0};
    struct err e = {0};
    double minutes;
    size_t n = book_kit(a, b, kit, KIT_MOST, &minutes);
    for (size_t i = 0; i < n; i++)
        text_addf(&list, "%s%s", i ? "\n" : "", kit[i]);
    bool ok = b->job_there &&
              job_plan_visit(b->j, b->chosen, when, minutes < 1 ? 0 : (double)(int)(minutes + 0.5), van[0] ? van : NULL,
                             list.length ? list.at : NULL, &e);
    if (ok) {
        book_read(a);
        app_notice(a, "The visit was planned.");
    }
    tell(a, &e);
    text_release(&list);
    return ok;
}

/* Lines of a kit as the journal keeps it; cuts `kit` in place. */
static size_t kit_lines(char *kit, const char **line, size_t room)
{
    size_t n = 0;
    for (char *save = NULL, *s = strtok_r(kit, "\n", &save); s && n < room; s = strtok_r(NULL, "\n", &save))
        line[n++] = s;
    return n;
}

static size_t page_causes(const struct app *a, const struct journaling *b, struct page_cause *cause, size_t room)
{
    const struct record *row[BOOK_BELIEFS];
    size_t n = 0, rows = book_beliefs(b, row, BOOK_BELIEFS);
    for (size_t i = 0; i < rows && n < room; i++) {
        const struct fault *f = library_find_fault(a->lib, record_text(row[i], "fault"));
        if (f)
            cause[n++] = (struct page_cause){f->name, f->part, NULL, record_real(row[i], "p", 0)};
    }
    return n;
}

void book_visit_page(struct app *a)
{
    struct journaling *b = book_of(a);
    const struct record_list *visits = &b->job.of[RECORD_VISIT];
    if (!b->job_there || visits->count == 0)
        return;
    const struct record *v = &visits->at[visits->count - 1];
    const struct clock *k = library_find_clock(a->lib, record_text(&b->job.clock, "movement"));
    char *kit_text = mem_copy_text(record_text(v, "kit"));
    const char *kit[KIT_MOST];
    struct page_cause cause[8];
    struct text path = {0}, name = {0};
    struct pages p;
    struct err e = {0};
    struct page_visit visit = {.van = record_get(v, "van"), .when = record_get(v, "planned_at"),
                               .customer = record_get(&b->job.customer, "label"),
                               .clock_name = k ? k->name : record_get(&b->job.clock, "movement"),
                               .cause = cause, .causes = page_causes(a, b, cause, 8), .kit = kit,
                               .kits = kit_lines(kit_text, kit, KIT_MOST),
                               .minutes = record_real(v, "minutes", 0), .oil_enough = -1};
    pages_init(&p, a->types, paper_of_house(), &(struct ink){CONTRAST_PLAIN, 1});
    pages_visit(&p, &visit);
    text_addf(&name, "visit-%.8s.pdf", v->id);
    settings_path(&path, "XDG_DATA_HOME", ".local/share", text_cstr(&name));
    if (path.length && pages_write(&p, text_cstr(&path), &e))
        app_notice(a, "Written: %s", text_cstr(&path));
    else if (e.count == 0)
        app_notice(a, "It could not be written.");
    tell(a, &e);
    pages_release(&p);
    text_release(&path);
    text_release(&name);
    mem_free(kit_text);
}
