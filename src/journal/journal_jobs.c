#include "journal/journal_jobs.h"

#include <stdio.h>
#include <string.h>
#include "journal/journal_priv.h"
#include "mem.h"
#include "text.h"

/* Stores and releases a record; a failure leaves the transaction broken. */
static bool keep(struct journal *j, struct record *r, char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    bool ok = journal_put(j, r, e);
    if (id)
        memcpy(id, r->id, RECORD_ID_LENGTH + 1);
    record_release(r);
    return ok;
}

static bool finish(struct journal *j, bool ok, struct err *e)
{
    if (ok)
        return journal_commit(j, e);
    journal_rollback(j);
    return false;
}

/* ---- taking a call ------------------------------------------------------------------------ */

/* The oldest record the statement finds; "" if none. */
static bool pick(struct journal *j, const char *sql, const char *text, const char *of,
                 char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    bool ok;
    char *found = store_one(&j->store, e, &ok, sql, of ? 2 : 1, text, of);
    snprintf(id, RECORD_ID_LENGTH + 1, "%s", found ? found : "");
    mem_free(found);
    return ok;
}

static bool find_or_add_customer(struct journal *j, const char *label,
                                 char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    struct record r;
    id[0] = '\0';
    if (!label || !label[0])
        return true;
    if (!pick(j, "SELECT id FROM customer WHERE lower(label) = lower($1) ORDER BY updated_ms, id",
              label, NULL, id, e))
        return false;
    if (id[0])
        return true;
    record_init(&r, RECORD_CUSTOMER);
    record_set(&r, "label", label);
    return keep(j, &r, id, e);
}

static bool find_or_add_clock(struct journal *j, const char *customer, const char *movement,
                              char id[RECORD_ID_LENGTH + 1], struct err *e)
{
    struct record r;
    id[0] = '\0';
    if (!movement || !movement[0])
        return true;
    if (customer[0] && !pick(j,
                             "SELECT id FROM clock WHERE lower(movement) = lower($1) AND "
                             "customer = $2 ORDER BY updated_ms, id",
                             movement, customer, id, e))
        return false;
    if (id[0])
        return true;
    record_init(&r, RECORD_CLOCK);
    record_set(&r, "customer", customer[0] ? customer : NULL);
    record_set(&r, "movement", movement);
    return keep(j, &r, id, e);
}

bool job_add(struct journal *j, const struct new_call *call, char id[RECORD_ID_LENGTH + 1],
             struct err *e)
{
    char customer[RECORD_ID_LENGTH + 1], clock[RECORD_ID_LENGTH + 1], now[20];
    struct record r;
    if (!journal_begin(j, e))
        return false;
    bool ok = find_or_add_customer(j, call->customer, customer, e) &&
              find_or_add_clock(j, customer, call->movement, clock, e);
    if (ok) {
        journal_now(j, now);
        record_init(&r, RECORD_CALL);
        record_set(&r, "customer", customer[0] ? customer : NULL);
        record_set(&r, "clock", clock[0] ? clock : NULL);
        record_set(&r, "taken_at", call->taken_at ? call->taken_at : now);
        record_set(&r, "state", "open");
        record_set(&r, "sheet", call->sheet);
        record_set(&r, "story", call->story);
        record_set(&r, "history", call->history);
        record_set(&r, "desk", call->desk);
        ok = keep(j, &r, id, e);
    }
    if (ok && call->draft_slot)
        ok = journal_draft_drop(j, call->draft_slot, e);
    return finish(j, ok, e);
}

static bool believe_one(struct journal *j, const char *call, const char *now,
                        const struct belief_row *row, struct err *e)
{
    struct record r;
    record_init(&r, RECORD_BELIEF);
    record_set(&r, "call", call);
    record_set(&r, "made_at", now);
    record_set(&r, "fault", row->fault);
    record_set(&r, "part", row->part);
    record_set_real(&r, "p", row->p);
    return keep(j, &r, NULL, e);
}

bool job_believe(struct journal *j, const char *call, const struct belief_row *rows, size_t count,
                 double least, struct err *e)
{
    char now[20];
    bool ok = true;
    if (!journal_begin(j, e))
        return false;
    journal_now(j, now);
    for (size_t i = 0; ok && i < count; i++)
        if (rows[i].p >= least)
            ok = believe_one(j, call, now, &rows[i], e);
    return finish(j, ok, e);
}

bool job_advise(struct journal *j, const char *call, const char *action, const char *text,
                double saves_min, struct err *e)
{
    struct record r;
    char now[20];
    journal_now(j, now);
    record_init(&r, RECORD_ADVICE);
    record_set(&r, "call", call);
    record_set(&r, "given_at", now);
    record_set(&r, "action", action);
    record_set(&r, "text", text);
    record_set_real(&r, "saves_min", saves_min);
    return keep(j, &r, NULL, e);
}

bool job_plan_visit(struct journal *j, const char *call, const char *planned_at, double minutes,
                    const char *van, const char *kit, struct err *e)
{
    struct record r;
    record_init(&r, RECORD_VISIT);
    record_set(&r, "call", call);
    record_set(&r, "planned_at", planned_at);
    if (minutes > 0)
        record_set_real(&r, "minutes", minutes);
    record_set(&r, "van", van);
    record_set(&r, "kit", kit);
    record_set(&r, "done", "no");
    return keep(j, &r, NULL, e);
}

/* ---- closing ------------------------------------------------------------------------------ */

static bool keep_findings(struct journal *j, const char *call, const struct closing *c,
                          struct err *e)
{
    struct record r;
    bool ok = true;
    for (size_t i = 0; ok && i < c->fault_count; i++) {
        record_init(&r, RECORD_FINDING);
        record_set(&r, "call", call);
        record_set(&r, "fault", c->faults[i].fault);
        record_set(&r, "part", c->faults[i].part);
        record_set(&r, "class", c->faults[i].class);
        ok = keep(j, &r, NULL, e);
    }
    for (size_t i = 0; ok && i < c->part_count; i++) {
        record_init(&r, RECORD_PART);
        record_set(&r, "call", call);
        record_set(&r, "name", c->parts[i].name);
        record_set_int(&r, "count", c->parts[i].count);
        ok = keep(j, &r, NULL, e);
    }
    return ok;
}

static bool keep_work(struct journal *j, const char *call, const struct closing *c, struct err *e)
{
    struct record r;
    bool ok = true;
    for (size_t i = 0; ok && i < c->work_count; i++) {
        record_init(&r, RECORD_WORK);
        record_set(&r, "call", call);
        record_set(&r, "action", c->work[i].action);
        record_set_real(&r, "minutes", c->work[i].minutes);
        ok = keep(j, &r, NULL, e);
    }
    for (size_t i = 0; ok && i < c->check_count; i++) {
        if (c->checks[i].wrong > c->checks[i].trials) {
            err_add(e, "%s: %ld of %ld statements were wrong, expected at most all of them.",
                    c->checks[i].what, c->checks[i].wrong, c->checks[i].trials);
            return false;
        }
        record_init(&r, RECORD_HEARING);
        record_set(&r, "call", call);
        record_set(&r, "what", c->checks[i].what);
        record_set_int(&r, "trials", c->checks[i].trials);
        record_set_int(&r, "wrong", c->checks[i].wrong);
        ok = keep(j, &r, NULL, e);
    }
    return ok;
}

/* Planned visits count as made; *any tells whether there were some. */
static bool close_visits(struct journal *j, const char *call, bool *any, struct err *e)
{
    struct record_list visits = {0};
    bool ok = journal_list(j, RECORD_VISIT, "call", call, NULL, &visits, e);
    *any = visits.count > 0;
    for (size_t i = 0; ok && i < visits.count; i++) {
        struct record done;
        record_init(&done, RECORD_VISIT);
        memcpy(done.id, visits.at[i].id, sizeof done.id);
        record_set(&done, "done", "yes");
        ok = keep(j, &done, NULL, e);
    }
    record_list_release(&visits);
    return ok;
}

static double minutes_of_work(const struct closing *c)
{
    double sum = 0;
    for (size_t i = 0; i < c->work_count; i++)
        sum += c->work[i].minutes;
    return c->minutes >= 0 || c->work_count == 0 ? c->minutes : sum;
}

static bool close_call(struct journal *j, const char *call, const struct closing *c, bool visited,
                       struct err *e)
{
    struct record r;
    char now[20];
    double minutes = minutes_of_work(c);
    journal_now(j, now);
    record_init(&r, RECORD_CALL);
    snprintf(r.id, sizeof r.id, "%s", call);
    record_set(&r, "state", "closed");
    record_set(&r, "closed_at", now);
    record_set(&r, "outcome", c->outcome ? c->outcome : visited ? "visit" : "phone");
    if (minutes >= 0)
        record_set_real(&r, "minutes", minutes);
    record_set(&r, "note", c->note);
    return keep(j, &r, NULL, e);
}

static bool is_state(struct journal *j, const char *call, const char *state, const char *otherwise,
                     struct err *e)
{
    struct record r;
    bool ok = journal_get(j, RECORD_CALL, call, &r, e);
    if (ok && strcmp(record_text(&r, "state"), state) != 0) {
        err_add(e, "The call %.8s %s.", call, otherwise);
        ok = false;
    }
    record_release(&r);
    return ok;
}

bool job_close(struct journal *j, const char *call, const struct closing *c, struct err *e)
{
    bool visited = false;
    if (!journal_begin(j, e))
        return false;
    bool ok = is_state(j, call, "open", "is closed already; reopen it first to change it", e) &&
              keep_findings(j, call, c, e) && keep_work(j, call, c, e) &&
              close_visits(j, call, &visited, e) && close_call(j, call, c, visited, e);
    return finish(j, ok, e);
}

bool job_reopen(struct journal *j, const char *call, struct err *e)
{
    struct record r;
    if (!journal_begin(j, e))
        return false;
    record_init(&r, RECORD_CALL);
    snprintf(r.id, sizeof r.id, "%s", call);
    record_set(&r, "state", "open");
    record_set(&r, "closed_at", "");
    bool ok = is_state(j, call, "closed", "is open already", e) && keep(j, &r, NULL, e);
    record_release(&r);
    return finish(j, ok, e);
}

bool job_teaches(struct journal *j, const char *call, bool may, struct err *e)
{
    struct record r;
    if (!journal_begin(j, e))
        return false;
    record_init(&r, RECORD_CALL);
    snprintf(r.id, sizeof r.id, "%s", call);
    record_set(&r, "lesson", may ? "yes" : "no");
    bool there = false, ok = journal_exists(j, RECORD_CALL, call, &there, e);
    if (ok && !there)
        err_add(e, "There is no call %s in the journal %s.", call, journal_name(j));
    ok = ok && there && keep(j, &r, NULL, e);
    record_release(&r);
    return finish(j, ok, e);
}

/* ---- reading ------------------------------------------------------------------------------ */

static bool read_named(struct journal *j, enum record_kind kind, const char *id, struct record *r,
                       struct err *e)
{
    record_init(r, kind);
    return !id[0] || journal_get(j, kind, id, r, e);
}

bool job_read(struct journal *j, const char *call, struct job *job, struct err *e)
{
    memset(job, 0, sizeof *job);
    record_init(&job->customer, RECORD_CUSTOMER);
    record_init(&job->clock, RECORD_CLOCK);
    bool ok =
        journal_get(j, RECORD_CALL, call, &job->call, e) &&
        read_named(j, RECORD_CUSTOMER, record_text(&job->call, "customer"), &job->customer, e) &&
        read_named(j, RECORD_CLOCK, record_text(&job->call, "clock"), &job->clock, e);
    for (int kind = RECORD_BELIEF; ok && kind <= RECORD_RECORDING; kind++)
        ok = journal_list(j, (enum record_kind)kind, "call", call, NULL, &job->of[kind], e);
    if (!ok)
        job_release(job);
    return ok;
}

void job_release(struct job *job)
{
    record_release(&job->call);
    record_release(&job->customer);
    record_release(&job->clock);
    for (int kind = 0; kind < RECORD_KINDS; kind++)
        record_list_release(&job->of[kind]);
}

/* Lists come by one statement with what they need from the neighbours. */
#define ROW_COLUMNS                                                                                \
    "c.id, c.taken_at, c.state, u.label, k.movement, c.outcome, c.story, "                         \
    "(SELECT min(v.planned_at) FROM visit v WHERE v.call = c.id AND (v.done IS NULL OR "           \
    "v.done <> 'yes')) "                                                                           \
    "FROM call c LEFT JOIN customer u ON u.id = c.customer LEFT JOIN clock k ON k.id = c.clock "

static char *copy(const char *value)
{
    return mem_copy_text(value ? value : "");
}

static bool take_job(void *with, const char *const *v)
{
    struct job_rows *rows = with;
    rows->at = mem_grow(rows->at, &rows->room, rows->count + 1, sizeof *rows->at);
    struct job_row *row = &rows->at[rows->count++];
    memset(row, 0, sizeof *row);
    snprintf(row->call, sizeof row->call, "%s", v[0]);
    row->taken_at = copy(v[1]);
    row->state = copy(v[2]);
    row->customer = copy(v[3]);
    row->movement = copy(v[4]);
    row->outcome = copy(v[5]);
    row->story = copy(v[6]);
    row->next_visit = copy(v[7]);
    return true;
}

static bool take_fault(void *with, const char *const *v)
{
    struct text *found = with;
    text_addf(found, "%s%s", found->length ? " " : "", v[0] ? v[0] : "");
    return true;
}

static bool add_found(struct journal *j, struct job_rows *rows, struct err *e)
{
    bool ok = true;
    for (size_t i = 0; i < rows->count; i++) {
        struct text found = {0};
        ok = ok && store_query(&j->store, e, take_fault, &found,
                               "SELECT fault FROM finding WHERE call = $1 ORDER BY updated_ms, id",
                               1, rows->at[i].call);
        rows->at[i].found = copy(text_cstr(&found));
        text_release(&found);
    }
    return ok;
}

bool job_list(struct journal *j, enum job_which which, size_t most, struct job_rows *rows,
              struct err *e)
{
    char limit[48] = "";
    struct text sql = {0};
    if (most > 0)
        snprintf(limit, sizeof limit, " LIMIT %zu", most);
    text_addf(&sql, "SELECT " ROW_COLUMNS "%s ORDER BY c.taken_at DESC, c.id%s",
              which == JOBS_ALL    ? ""
              : which == JOBS_OPEN ? "WHERE c.state = 'open'"
                                   : "WHERE c.state = 'closed'",
              limit);
    bool ok =
        store_query(&j->store, e, take_job, rows, text_cstr(&sql), 0) && add_found(j, rows, e);
    text_release(&sql);
    return ok;
}

/* "lower(a) LIKE $n OR ..." over all text fields of a kind; "" if it has none. */
static void add_match(struct text *sql, enum record_kind kind, size_t param)
{
    bool any = false;
    for (const struct field *f = record_shape(kind)->field; f->name; f++)
        if (f->type == FIELD_TEXT || f->type == FIELD_WORD || f->type == FIELD_TIME) {
            text_addf(sql, "%slower(%s) LIKE $%zu ESCAPE '!'", any ? " OR " : "", f->name, param);
            any = true;
        }
}

/* One word in a call, in whose it is, in its clock, or in what hangs on it. */
static void add_word(struct text *sql, size_t param)
{
    text_addf(sql, "%s (c.id IN (SELECT id FROM call WHERE ", param > 1 ? " AND" : " WHERE");
    add_match(sql, RECORD_CALL, param);
    text_add(sql, ") OR c.customer IN (SELECT id FROM customer WHERE ");
    add_match(sql, RECORD_CUSTOMER, param);
    text_add(sql, ") OR c.clock IN (SELECT id FROM clock WHERE ");
    add_match(sql, RECORD_CLOCK, param);
    text_add(sql, ")");
    for (int kind = RECORD_ADVICE; kind <= RECORD_RECORDING; kind++) {
        text_addf(sql, " OR c.id IN (SELECT call FROM %s WHERE ",
                  record_shape((enum record_kind)kind)->name);
        add_match(sql, (enum record_kind)kind, param);
        text_add(sql, ")");
    }
    text_add(sql, ")");
}

static void add_pattern(struct text *out, const char *word, size_t length)
{
    text_add(out, "%");
    for (size_t i = 0; i < length; i++) {
        char c = word[i] >= 'A' && word[i] <= 'Z' ? (char)(word[i] + 32) : word[i];
        if (strchr("%_!", c))
            text_add(out, "!");
        text_add_bytes(out, &c, 1);
    }
    text_add(out, "%");
}

#define WORDS_MOST 8

bool job_find(struct journal *j, const char *words, struct job_rows *rows, struct err *e)
{
    struct text sql = {0}, pattern[WORDS_MOST] = {{0}};
    const char *params[WORDS_MOST];
    size_t count = 0, bad;
    if (!text_is_utf8(words, strlen(words), &bad)) {
        err_add(e, "The words to look for are no UTF-8 text at byte %zu.", bad);
        return false;
    }
    text_add(&sql, "SELECT " ROW_COLUMNS);
    for (const char *w = words; *w && count < WORDS_MOST;) {
        size_t length = strcspn(w, " \t\n");
        if (length > 0) {
            add_pattern(&pattern[count], w, length);
            params[count] = text_cstr(&pattern[count]);
            add_word(&sql, ++count);
        }
        w += length + (w[length] != '\0');
    }
    text_add(&sql, " ORDER BY c.taken_at DESC, c.id");
    bool ok = j->store.back->run(&j->store, text_cstr(&sql), count, params, take_job, rows, e) &&
              add_found(j, rows, e);
    text_release(&sql);
    for (size_t i = 0; i < count; i++)
        text_release(&pattern[i]);
    return ok;
}

void job_rows_release(struct job_rows *rows)
{
    for (size_t i = 0; i < rows->count; i++) {
        struct job_row *r = &rows->at[i];
        char *owned[] = {r->taken_at, r->state, r->customer, r->movement,
                         r->outcome,  r->story, r->found,    r->next_visit};
        for (size_t k = 0; k < sizeof owned / sizeof *owned; k++)
            mem_free(owned[k]);
    }
    mem_free(rows->at);
    *rows = (struct job_rows){0};
}

static bool take_visit(void *with, const char *const *v)
{
    struct visit_rows *rows = with;
    rows->at = mem_grow(rows->at, &rows->room, rows->count + 1, sizeof *rows->at);
    struct visit_row *row = &rows->at[rows->count++];
    memset(row, 0, sizeof *row);
    snprintf(row->visit, sizeof row->visit, "%s", v[0]);
    snprintf(row->call, sizeof row->call, "%s", v[1] ? v[1] : "");
    row->planned_at = copy(v[2]);
    row->van = copy(v[3]);
    row->customer = copy(v[4]);
    row->movement = copy(v[5]);
    row->kit = copy(v[6]);
    row->note = copy(v[7]);
    if (v[8])
        text_real(v[8], &row->minutes);
    row->done = v[9] && strcmp(v[9], "yes") == 0;
    return true;
}

bool job_visits(struct journal *j, const char *day, struct visit_rows *rows, struct err *e)
{
    char pattern[12];
    snprintf(pattern, sizeof pattern, "%.10s%%", day ? day : "");
    if (strpbrk(pattern, "_!") || strcspn(pattern, "%") != (day ? 10u : 0u)) {
        err_add(e, "\"%s\" is no day, expected YYYY-MM-DD.", day);
        return false;
    }
    struct text sql = {0};
    text_addf(&sql,
              "SELECT v.id, v.call, v.planned_at, v.van, u.label, k.movement, v.kit, v.note, "
              "v.minutes, v.done FROM visit v LEFT JOIN call c ON c.id = v.call "
              "LEFT JOIN customer u ON u.id = c.customer LEFT JOIN clock k ON k.id = c.clock "
              "WHERE v.planned_at LIKE $1%s ORDER BY v.planned_at, v.id",
              day ? "" : " AND (v.done IS NULL OR v.done <> 'yes')");
    bool ok = store_query(&j->store, e, take_visit, rows, text_cstr(&sql), 1, pattern);
    text_release(&sql);
    return ok;
}

void visit_rows_release(struct visit_rows *rows)
{
    for (size_t i = 0; i < rows->count; i++) {
        struct visit_row *r = &rows->at[i];
        char *owned[] = {r->planned_at, r->van, r->customer, r->movement, r->kit, r->note};
        for (size_t k = 0; k < sizeof owned / sizeof *owned; k++)
            mem_free(owned[k]);
    }
    mem_free(rows->at);
    *rows = (struct visit_rows){0};
}
