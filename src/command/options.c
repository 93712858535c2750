#include "command/options.h"

#include <string.h>

#include "text.h"

static const struct option help_row = {"--help", OPTION_FLAG, NULL, NULL, "show this help", 0, 0};

static const struct option *find(const struct usage *u, const char *name, size_t length)
{
    for (size_t i = 0; i < u->count; i++)
        if (strlen(u->options[i].name) == length && !strncmp(u->options[i].name, name, length))
            return &u->options[i];
    if (length == 6 && !strncmp(name, "--help", 6))
        return &help_row;
    return NULL;
}

static void unknown(const struct usage *u, const char *word, size_t length, struct err *e)
{
    const char *names[64];
    char name[64];
    size_t n = u->count < 64 ? u->count : 64;
    for (size_t i = 0; i < n; i++)
        names[i] = u->options[i].name;
    snprintf(name, sizeof name, "%.*s", (int)(length < 60 ? length : 60), word);
    const char *near = text_nearest(name, names, n);
    if (near)
        err_add(e, "There is no option %s; the nearest is %s.", name, near);
    else
        err_add(e, "There is no option %s; --help lists those there are.", name);
}

static bool out_of_range(const struct option *o, double v, const char *text, struct err *e)
{
    if (o->low == o->high || (v >= o->low && v <= o->high))
        return false;
    err_add(e, "%s %s is out of range; it must lie between %g and %g.", o->name, text, o->low,
            o->high);
    return true;
}

static void take_number(const struct option *o, const char *text, struct err *e)
{
    double real;
    long whole;
    if (o->kind == OPTION_INT) {
        if (!text_int(text, &whole))
            err_add(e, "%s wants a whole number, not \"%s\".", o->name, text);
        else if (!out_of_range(o, (double)whole, text, e))
            *(long *)o->into = whole;
    } else if (!text_real(text, &real)) {
        err_add(e, "%s wants a number written with a decimal point, not \"%s\".", o->name, text);
    } else if (!out_of_range(o, real, text, e)) {
        *(double *)o->into = real;
    }
}

static void take(const struct option *o, const char *text, struct err *e)
{
    struct option_list *list;
    int minutes;
    switch (o->kind) {
    case OPTION_FLAG:
        break;
    case OPTION_TEXT:
        *(const char **)o->into = text;
        break;
    case OPTION_INT:
    case OPTION_REAL:
        take_number(o, text, e);
        break;
    case OPTION_TIME:
        if (!text_time(text, &minutes, NULL))
            err_add(e, "%s wants a time such as 14:50, not \"%s\".", o->name, text);
        else
            *(int *)o->into = minutes;
        break;
    case OPTION_MANY:
        list = o->into;
        if (list->count == OPTION_MOST)
            err_add(e, "%s may be given at most %d times.", o->name, OPTION_MOST);
        else
            list->at[list->count++] = text;
        break;
    }
}

/* One word that begins with a dash; returns how many words of argv it used. */
static int read_option(const struct usage *u, int argc, char **argv, int i, bool *help,
                       struct err *e)
{
    const char *equals = strchr(argv[i], '=');
    size_t length = equals ? (size_t)(equals - argv[i]) : strlen(argv[i]);
    const struct option *o = find(u, argv[i], length);
    if (!o) {
        unknown(u, argv[i], length, e);
        return 1;
    }
    if (o->kind == OPTION_FLAG) {
        if (equals)
            err_add(e, "%s takes no value.", o->name);
        else if (o == &help_row)
            *help = true;
        else
            *(bool *)o->into = true;
        return 1;
    }
    if (equals) {
        take(o, equals + 1, e);
        return 1;
    }
    if (i + 1 >= argc) {
        err_add(e, "%s wants a value: %s %s.", o->name, o->name, o->value ? o->value : "VALUE");
        return 1;
    }
    take(o, argv[i + 1], e);
    return 2;
}

enum options_result options_read(const struct usage *u, int argc, char **argv, const char **plain,
                                 size_t *plains, struct err *e)
{
    bool help = false, only_plain = false;
    size_t before = e->count, n = 0;
    for (int i = 1; i < argc;) {
        if (!only_plain && !strcmp(argv[i], "--")) {
            only_plain = true;
            i++;
        } else if (!only_plain && argv[i][0] == '-' && argv[i][1]) {
            i += read_option(u, argc, argv, i, &help, e);
        } else {
            if (n < u->most)
                plain[n] = argv[i];
            n++;
            i++;
        }
    }
    if (help) {
        options_help(u, stdout);
        return OPTIONS_HELP;
    }
    if (n < u->least)
        err_add(e, "Something is missing; the form is: %s", u->line);
    if (n > u->most)
        err_add(e, "\"%s\" is one word too many; the form is: %s",
                u->most ? argv[argc - 1] : argv[1], u->line);
    if (plains)
        *plains = n < u->most ? n : u->most;
    return e->count > before ? OPTIONS_BAD : OPTIONS_OK;
}

int options_end(struct err *e)
{
    int status = err_status(e);
    err_print(e, stderr);
    err_release(e);
    return status;
}

void options_help(const struct usage *u, FILE *out)
{
    fprintf(out, "%s\n\n%s\n", u->line, u->about);
    if (u->count)
        fprintf(out, "\n");
    for (size_t i = 0; i < u->count; i++) {
        const struct option *o = &u->options[i];
        char head[64];
        snprintf(head, sizeof head, "%s%s%s", o->name, o->value ? " " : "",
                 o->value ? o->value : "");
        fprintf(out, "  %-22s %s\n", head, o->help);
    }
    fprintf(out, "  %-22s %s\n", help_row.name, help_row.help);
}
