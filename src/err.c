#include "err.h"

#include <stdarg.h>

#include "mem.h"
#include "text.h"

/* Keeps the sentence, or only counts it when the list is full. */
static void keep(struct err *e, struct text *sentence)
{
    if (e->count < ERR_MOST)
        e->line[e->count] = mem_copy_text(text_cstr(sentence));
    e->count++;
    text_release(sentence);
}

void err_add(struct err *e, const char *fmt, ...)
{
    if (!e)
        return;
    struct text t = {0};
    va_list args;
    va_start(args, fmt);
    text_addv(&t, fmt, args);
    va_end(args);
    keep(e, &t);
}

void err_at(struct err *e, const char *file, size_t line, size_t column, const char *fmt, ...)
{
    if (!e)
        return;
    struct text t = {0};
    text_add(&t, file);
    if (line)
        text_addf(&t, ":%zu", line);
    if (line && column)
        text_addf(&t, ":%zu", column);
    text_add(&t, ": ");
    va_list args;
    va_start(args, fmt);
    text_addv(&t, fmt, args);
    va_end(args);
    keep(e, &t);
}

void err_device(struct err *e, const char *fmt, ...)
{
    if (!e)
        return;
    struct text t = {0};
    va_list args;
    va_start(args, fmt);
    text_addv(&t, fmt, args);
    va_end(args);
    keep(e, &t);
    e->device = true;
}

static size_t kept(const struct err *e)
{
    return e->count < ERR_MOST ? e->count : ERR_MOST;
}

void err_move(struct err *to, struct err *from)
{
    if (!to) {
        err_release(from);
        return;
    }
    size_t have = kept(from), over = from->count - have;
    for (size_t i = 0; i < have; i++) {
        if (to->count < ERR_MOST)
            to->line[to->count] = from->line[i];
        else
            mem_free(from->line[i]);
        to->count++;
        from->line[i] = NULL;
    }
    to->count += over;
    to->device = to->device || from->device;
    *from = (struct err){0};
}

void err_print(const struct err *e, FILE *out)
{
    for (size_t i = 0; i < kept(e); i++)
        fprintf(out, "%s\n", e->line[i]);
    if (e->count > ERR_MOST)
        fprintf(out, "%zu more problems were met and are not shown.\n", e->count - ERR_MOST);
}

int err_status(const struct err *e)
{
    if (!e->count)
        return EXIT_DONE;
    return e->device ? EXIT_DEVICE : EXIT_BAD_INPUT;
}

void err_release(struct err *e)
{
    for (size_t i = 0; i < kept(e); i++)
        mem_free(e->line[i]);
    *e = (struct err){0};
}
