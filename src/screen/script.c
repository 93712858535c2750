#include "screen/script.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "screen/frame.h"

static const struct { const char *word; int code; } keys[] = {
    {"tab", UI_TAB}, {"enter", UI_ENTER}, {"escape", UI_ESCAPE}, {"space", UI_SPACE},
    {"delete", UI_DELETE}, {"backspace", UI_BACKSPACE}, {"left", UI_LEFT}, {"right", UI_RIGHT},
    {"up", UI_UP}, {"down", UI_DOWN}, {"home", UI_HOME}, {"end", UI_END}, {"pageup", UI_PAGE_UP},
    {"pagedown", UI_PAGE_DOWN}, {"plus", '+'}, {"minus", '-'}, {"equals", '='},
};

int script_key(const char *word, unsigned *mods)
{
    *mods = 0;
    for (;;) {
        if (strncmp(word, "ctrl+", 5) == 0)
            *mods |= UI_CTRL, word += 5;
        else if (strncmp(word, "shift+", 6) == 0)
            *mods |= UI_SHIFT, word += 6;
        else if (strncmp(word, "alt+", 4) == 0)
            *mods |= UI_ALT, word += 4;
        else
            break;
    }
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (strcmp(keys[i].word, word) == 0)
            return keys[i].code;
    if (word[0] == 'f' && isdigit((unsigned char)word[1])) {
        int n = atoi(word + 1);
        return n >= 1 && n <= 12 ? UI_F1 + n - 1 : 0;
    }
    return word[0] && !word[1] ? (unsigned char)word[0] : 0;
}

struct hand {
    struct app *a;
    double x, y;
    bool down;
    size_t uses;
};

static void pass(struct hand *h, struct ui_input *in)
{
    in->x = h->x;
    in->y = h->y;
    in->down = h->down;
    in->now_s = h->a->now_s;
    frame_settle(h->a, in);
    show_tick(&h->a->show, h->a->now_s);
}

static void press(struct hand *h, bool down)
{
    struct ui_input in = {.pressed = down, .released = !down};
    h->down = down;
    pass(h, &in);
}

static void point(struct hand *h, double x, double y)
{
    struct ui_input in = {0};
    h->x = x;
    h->y = y;
    pass(h, &in);
}

static bool place_of(struct hand *h, const char *rest, double *x, double *y, struct err *e)
{
    if (sscanf(rest, "%lf %lf", x, y) == 2)
        return true;
    const struct mark *m = canvas_find_name(&h->a->canvas, rest);
    if (!m) {
        err_add(e, "script: there is no place named \"%s\" on this screen.", rest);
        return false;
    }
    *x = m->x + m->w / 2;
    *y = m->y + m->h / 2;
    return true;
}

static bool do_click(struct hand *h, const char *rest, struct err *e)
{
    double x, y;
    if (!place_of(h, rest, &x, &y, e))
        return false;
    point(h, x, y);
    press(h, true);
    press(h, false);
    h->uses++;
    return true;
}

static bool do_move(struct hand *h, const char *rest, struct err *e)
{
    double x, y;
    if (!place_of(h, rest, &x, &y, e))
        return false;
    point(h, x, y);
    return true;
}

static bool do_drag(struct hand *h, const char *rest, struct err *e)
{
    double x1, y1, x2, y2;
    if (sscanf(rest, "%lf %lf %lf %lf", &x1, &y1, &x2, &y2) != 4) {
        err_add(e, "script: \"drag %s\": four numbers were expected.", rest);
        return false;
    }
    point(h, x1, y1);
    press(h, true);
    for (int i = 1; i <= 10; i++)
        point(h, x1 + (x2 - x1) * i / 10, y1 + (y2 - y1) * i / 10);
    press(h, false);
    h->uses++;
    return true;
}

static void do_code(struct hand *h, int code, unsigned mods, const char *typed)
{
    struct ui_input in = {.keys = 1};
    in.key[0] = (struct ui_key){code, mods, false};
    pass(h, &in);
    if (typed) { /* the text comes apart from its key, as from the system */
        struct ui_input text = {0};
        snprintf(text.typed, sizeof text.typed, "%s", typed);
        pass(h, &text);
    }
    h->uses++;
}

static bool do_key(struct hand *h, const char *rest, struct err *e)
{
    unsigned mods;
    int code = script_key(rest, &mods);
    if (!code) {
        err_add(e, "script: \"%s\" is no key.", rest);
        return false;
    }
    char typed[2] = {(char)code, 0};
    do_code(h, code, mods, code >= 32 && code < 127 && !(mods & (UI_CTRL | UI_ALT)) ? typed : NULL);
    return true;
}

static bool do_type(struct hand *h, const char *rest, struct err *e)
{
    (void)e;
    for (const char *s = rest; *s;) {
        char one[8] = {0};
        size_t n = 1;
        while ((s[n] & 0xC0) == 0x80)
            n++;
        memcpy(one, s, n < 7 ? n : 7);
        do_code(h, n == 1 ? tolower((unsigned char)*s) : 0, 0, one);
        s += n;
    }
    return true;
}

static bool do_wait(struct hand *h, const char *rest, struct err *e)
{
    double s = atof(rest);
    struct ui_input in = {0};
    (void)e;
    frame_tick(h->a, h->a->now_s);
    for (double t = 0; t < s; t += 0.05) {
        h->a->now_s += 0.05;
        frame_tick(h->a, h->a->now_s);
    }
    pass(h, &in);
    return true;
}

static bool do_drop(struct hand *h, const char *rest, struct err *e)
{
    struct ui_input in = {0};
    (void)e;
    frame_drop(h->a, rest);
    h->uses++;
    pass(h, &in);
    return true;
}

static bool do_wheel(struct hand *h, const char *rest, struct err *e)
{
    struct ui_input in = {.wheel = atof(rest)};
    (void)e;
    pass(h, &in);
    return true;
}

static const struct {
    const char *verb;
    bool (*run)(struct hand *h, const char *rest, struct err *e);
} verbs[] = {
    {"click", do_click}, {"move", do_move}, {"drag", do_drag}, {"key", do_key},
    {"type", do_type},   {"wait", do_wait}, {"drop", do_drop}, {"wheel", do_wheel},
};

static bool run_step(struct hand *h, const char *step, struct err *e)
{
    for (size_t i = 0; i < sizeof verbs / sizeof *verbs; i++) {
        size_t n = strlen(verbs[i].verb);
        if (strncmp(step, verbs[i].verb, n) == 0 && (step[n] == ' ' || !step[n]))
            return verbs[i].run(h, step[n] ? step + n + 1 : "", e);
    }
    err_add(e, "script: \"%s\" is no step; click, move, drag, key, type, wait, drop or wheel was expected.", step);
    return false;
}

bool script_run(struct app *a, const char *script, size_t *uses, struct err *e)
{
    struct hand h = {.a = a, .x = -1, .y = -1};
    bool good = true;
    point(&h, -1, -1);
    while (good && *script) {
        size_t n = strcspn(script, ";\n");
        char step[1200];
        while (n > 0 && isspace((unsigned char)*script))
            script++, n--;
        snprintf(step, sizeof step, "%.*s", (int)(n < sizeof step ? n : sizeof step - 1), script);
        if (step[0])
            good = run_step(&h, step, e);
        script += n;
        script += *script ? 1 : 0;
    }
    if (uses)
        *uses = h.uses;
    return good;
}
