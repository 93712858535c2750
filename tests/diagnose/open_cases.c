#include "open_cases.h"

#include <dirent.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include "diagnose/story.h"
#include "mem.h"
#include "note_facts.h"


static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static size_t case_names(const char *folder, char **name)
{
    size_t n = 0;
    DIR *d = opendir(folder);
    for (struct dirent *e; d && (e = readdir(d)) && n < CASES_MOST;) {
        const char *dot = strrchr(e->d_name, '.');
        if (dot && strcmp(dot, ".yaml") == 0)
            name[n++] = mem_copy_text(e->d_name);
    }
    if (d)
        closedir(d);
    qsort(name, n, sizeof *name, by_name);
    return n;
}

/* The answers of one case as a JSON object, or NULL. */
static json_t *answer_of(FILE *f, const char *id)
{
    char line[16384];
    if (!f)
        return NULL;
    rewind(f);
    while (fgets(line, sizeof line, f)) {
        json_t *o = json_loads(line, 0, NULL);
        const char *mine = o ? json_string_value(json_object_get(o, "id")) : NULL;
        if (mine && strcmp(mine, id) == 0)
            return o;
        json_decref(o);
    }
    return NULL;
}

/* Is `word` among the strings of any key with `which` in its name? */
static bool accepted(json_t *answer, const char *which, const char *word)
{
    const char *key;
    json_t *value, *item;
    size_t i;
    json_object_foreach (answer, key, value) {
        if (!strstr(key, which))
            continue;
        const char *one = json_string_value(value);
        if (one && strcmp(one, word) == 0)
            return true;
        json_array_foreach (value, i, item)
            if (json_string_value(item) && strcmp(json_string_value(item), word) == 0)
                return true;
    }
    return false;
}

struct score {
    int rank;
    double p;
};

static struct score score_of(json_t *answer, const char *which, const struct belief_share *at,
                             size_t n)
{
    struct score s = {0};
    for (size_t i = 0; i < n; i++)
        if (accepted(answer, which, at[i].name)) {
            s.p += at[i].p;
            if (!s.rank)
                s.rank = (int)i + 1;
        }
    return s;
}

void case_totals_add(struct case_totals *t, struct case_score s)
{
    if (t->cases < CASES_MOST)
        t->score[t->cases] = s;
    t->cases++;
    t->class_first += s.class_rank == 1;
    t->class_three += s.class_rank && s.class_rank <= 3;
    t->part_first += s.part_rank == 1;
    t->part_three += s.part_rank && s.part_rank <= 3;
    t->log_class += s.log_class;
    t->log_part += s.log_part;
}

static void print_case(const char *id, const struct belief *b, json_t *answer, struct case_totals *t,
                       double ms)
{
    struct score c = {0}, p = {0};
    if (answer) {
        c = score_of(answer, "class", b->by_class, b->classes);
        p = score_of(answer, "part", b->by_part, b->parts);
        case_totals_add(t, (struct case_score){c.rank, p.rank, log(fmax(c.p, 1e-4)), log(fmax(p.p, 1e-4))});
    }
    if (t->quiet)
        return;
    printf("%-6s", id);
    if (answer)
        printf(" class %2d %.2f  part %2d %.2f ", c.rank, c.p, p.rank, p.p);
    printf(" %5.0f ms  %s", ms, b->clocks ? b->clock[0].name : "-");
    for (size_t i = 0; i < b->causes && i < 4; i++)
        printf("  %s%s%s %.2f", b->cause[i].id, b->cause[i].second ? "+" : "",
               b->cause[i].second ? b->cause[i].second->id : "", b->cause[i].p);
    printf("  omitted %.0e\n", b->omitted);
}

static bool of_the_call(const struct fact *f)
{
    return f->kind == FACT_HISTORY || f->kind == FACT_SEEN || f->kind == FACT_HEARD;
}

/* How many facts of the one sheet the other bears out; those it does not are told. */
static int count_borne(const struct sheet *of, const struct sheet *by, int *all, const char *tell)
{
    struct fact *fact = mem_alloc(FACTS_MOST * sizeof *fact);
    struct text out = {0};
    size_t count = facts_of(of, fact, FACTS_MOST);
    int borne = 0;
    for (size_t i = 0; i < count; i++) {
        if (!of_the_call(&fact[i]) || heard_how(&fact[i].row, of->words, "normal"))
            continue;
        bool holds = fact_holds(&fact[i], by);
        ++*all;
        borne += holds;
        if (!holds) {
            text_add(&out, " [");
            fact_print(&fact[i], of->words, &out);
            text_add(&out, "]");
        }
    }
    if (tell && out.length)
        printf("       %s%s\n", *all && of->story && of->source ? "missed" : "more",
               text_cstr(&out));
    text_release(&out);
    mem_free(fact);
    return borne;
}

/* The sheet becomes what its story is read as. */
static bool read_story(struct sheet *s, struct case_totals *t)
{
    struct sheet got;
    struct story story = {0};
    struct text line = {0};
    sheet_init(&got, s->words);
    bool good = s->story && story_read(t->phrases, s->story, strlen(s->story), &got, &story, NULL);
    if (good) {
        t->read += count_borne(s, &got, &t->told, t->quiet ? NULL : "missed");
        t->borne += count_borne(&got, s, &t->given, t->quiet ? NULL : "more");
        sheet_print_shorthand(&got, &line);
        if (!t->quiet)
            printf("       %s\n       %s\n", s->story, text_cstr(&line));
        sheet_release(s);
        *s = got;
    } else {
        sheet_release(&got);
    }
    text_release(&line);
    story_release(&story);
    return good;
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec / 1e6;
}

static bool one_case(struct finder *f, const struct words *words, const char *folder,
                     const char *name, FILE *answers, struct case_totals *t)
{
    char path[1024], id[64];
    struct err e = {0};
    struct sheet s;
    struct belief b = {0};
    snprintf(path, sizeof path, "%s/%s", folder, name);
    snprintf(id, sizeof id, "%.*s", (int)(strlen(name) - 5), name);
    sheet_init(&s, words);
    bool ok = sheet_load(&s, path, &e);
    if (ok && t->phrases)
        ok = read_story(&s, t);
    double before = now_ms();
    if (f && ok && !(t->phrases && sheet_empty(&s)) && belief_find(f, &s, t->options, &b)) {
        json_t *answer = answer_of(answers, id);
        print_case(id, &b, answer, t, now_ms() - before);
        json_decref(answer);
    } else if (f || !ok) {
        if (t->phrases) /* a story of which nothing is understood helps nobody */
            case_totals_add(t, (struct case_score){0, 0, log(1e-4), log(1e-4)});
        printf("%-6s could not be read or placed\n", id);
    }
    err_print(&e, stderr);
    err_release(&e);
    belief_release(&b);
    sheet_release(&s);
    return ok;
}

void case_totals_print(const struct case_totals *t)
{
    if (t->cases)
        printf("%d cases: class first %d, in three %d, mean log %.2f; part first %d, in three %d, "
               "mean log %.2f\n",
               t->cases, t->class_first, t->class_three, t->log_class / t->cases, t->part_first,
               t->part_three, t->log_part / t->cases);
    if (t->told)
        printf(
            "facts of the sheets by hand in the stories' sheets: %d of %d; of what those say the "
            "sheets by hand bear out %d of %d\n",
            t->read, t->told, t->borne, t->given);
}

int open_cases_run(struct finder *f, const struct words *words, const char *folder, const char *only,
                   struct case_totals *t)
{
    char answers_path[1024], *name[CASES_MOST];
    snprintf(answers_path, sizeof answers_path, "%s/answers.jsonl", folder);
    FILE *answers = fopen(answers_path, "r");
    size_t n = case_names(folder, name);
    int failed = 0;
    for (size_t i = 0; i < n; i++) {
        if (!only || strstr(name[i], only))
            failed += !one_case(f, words, folder, name[i], answers, t);
        mem_free(name[i]);
    }
    if ((t->cases || t->told) && !t->quiet)
        case_totals_print(t);
    if (answers)
        fclose(answers);
    return failed;
}
