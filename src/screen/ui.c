#include "screen/ui.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw/type_case.h"
#include "mem.h"

uint64_t ui_id(const char *name)
{
    uint64_t h = 14695981039346656037u;
    for (; *name; name++)
        h = (h ^ (unsigned char)*name) * 1099511628211u;
    return h ? h : 1;
}

void ui_begin(struct ui *u, struct canvas *c, struct ui_input *in)
{
    u->c = c;
    u->in = in;
    u->orders = 0;
    u->focus_seen = false;
    u->field_was_focused = u->field_focused;
    u->field_focused = false;
    u->blocked = false;
    u->changed = false;
    u->next_hot = 0;
    if (in->pressed)
        u->by_keyboard = false;
}

static void focus_step(struct ui *u, int by)
{
    size_t at = 0;
    if (u->orders == 0)
        return;
    for (size_t i = 0; i < u->orders; i++)
        if (u->order[i] == u->focus)
            at = i;
    if (!u->focus_seen)
        at = by > 0 ? u->orders - 1 : 0;
    u->focus = u->order[(at + u->orders + (size_t)(by + (int)u->orders)) % u->orders];
    u->by_keyboard = true;
    u->changed = true;
}

void ui_end(struct ui *u)
{
    if (ui_key(u, UI_TAB, 0))
        focus_step(u, 1);
    if (ui_key(u, UI_TAB, UI_SHIFT))
        focus_step(u, -1);
    if (u->hot != u->next_hot) {
        u->hot = u->next_hot;
        u->changed = true;
    }
    if (u->in->released)
        u->held = 0;
    u->scrolled_to = u->changed ? u->scrolled_to : u->focus;
}

void ui_focus(struct ui *u, const char *name)
{
    u->focus = ui_id(name);
    u->edit.id = 0;
    u->changed = true;
}

bool ui_has_focus(const struct ui *u, const char *name)
{
    return u->focus == ui_id(name);
}

bool ui_key(struct ui *u, int code, unsigned mods)
{
    for (size_t i = 0; i < u->in->keys; i++) {
        struct ui_key *k = &u->in->key[i];
        if (!k->used && k->code == code && k->mods == mods) {
            k->used = true;
            u->changed = true;
            return true;
        }
    }
    return false;
}

bool ui_letter(struct ui *u, int code)
{
    if (u->field_was_focused || u->field_focused)
        return false;
    return ui_key(u, code, 0) || ui_key(u, code, UI_SHIFT);
}

bool ui_over(const struct ui *u, double x, double y, double w, double h)
{
    double x2 = x + w, y2 = y + h;
    canvas_to_page(u->c, &x, &y);
    canvas_to_page(u->c, &x2, &y2);
    return !u->blocked && u->in->x >= x && u->in->x < x2 && u->in->y >= y && u->in->y < y2;
}

/* ---- areas ---- */

static void focus_ring(struct ui *u, double x, double y, double w, double h)
{
    canvas_begin(u->c);
    canvas_rect(u->c, x - 3, y - 3, w + 6, h + 6, 6);
    canvas_stroke(u->c, TONE_PAPER, WEIGHT_HEAVY);
    canvas_stroke(u->c, TONE_INK, WEIGHT_BOLD);
}

static void order_add(struct ui *u, uint64_t id)
{
    if (u->orders < UI_ORDER)
        u->order[u->orders++] = id;
}

struct ui_touch ui_area(struct ui *u, const char *name, double x, double y, double w, double h)
{
    uint64_t id = ui_id(name);
    struct ui_touch t = {.over = ui_over(u, x, y, w, h), .focused = u->focus == id};
    canvas_name(u->c, x, y, w, h, name);
    order_add(u, id);
    if (t.over)
        u->next_hot = id;
    if (t.over && u->in->pressed) {
        u->held = id;
        u->focus = id;
        t.focused = true;
        u->changed = true;
    }
    t.held = u->held == id && u->in->down;
    if (u->held == id && u->in->released && t.over) {
        t.pressed = true;
        u->changed = true;
    }
    if (t.focused) {
        u->focus_seen = true;
        if (!u->blocked && (ui_key(u, UI_ENTER, 0) || (!u->field_was_focused && ui_key(u, UI_SPACE, 0))))
            t.pressed = true;
        if (u->by_keyboard)
            focus_ring(u, x, y, w, h);
    }
    return t;
}

/* ---- buttons ---- */

double ui_button_height(struct ui *u)
{
    return ceil(canvas_line_height(u->c, TYPE_UI) + 12);
}

double ui_button_width(struct ui *u, const char *label)
{
    return ceil(canvas_text_width(u->c, TYPE_UI_BOLD, label) + 26);
}

static enum tone button_ground(const struct ui_touch *t, unsigned flags)
{
    if (flags & UI_OFF)
        return TONE_PAPER;
    if (flags & (UI_PRIMARY | UI_ON))
        return t->over ? TONE_SOFT : TONE_INK;
    return t->over || t->held ? TONE_SHADE : TONE_CARD;
}

static void button_draw(struct ui *u, const struct ui_touch *t, double x, double y, double w,
                        double h, const char *keycap, const char *label, unsigned flags)
{
    struct canvas *c = u->c;
    bool filled = flags & (UI_PRIMARY | UI_ON);
    enum type type = flags & UI_SMALL ? TYPE_SMALL : filled ? TYPE_UI_BOLD : TYPE_UI;
    enum tone ink = flags & UI_OFF ? TONE_FAINT : filled ? TONE_PAPER : TONE_INK;
    double line = canvas_line_height(c, type), tx = x + w / 2, cap = 0;
    if (!(flags & UI_QUIET) || t->over || filled) {
        canvas_begin(c);
        canvas_rect(c, x, y, w, h, 3);
        canvas_fill(c, button_ground(t, flags), 1);
        canvas_stroke(c, flags & UI_OFF ? TONE_FAINT : TONE_INK, flags & UI_QUIET ? WEIGHT_FINE : WEIGHT_LINE);
    }
    if (keycap) {
        cap = line + 4 > canvas_text_width(c, TYPE_UI_BOLD, keycap) + 10
                  ? line + 4 : canvas_text_width(c, TYPE_UI_BOLD, keycap) + 10;
        canvas_box(c, x + 7, y + (h - line - 2) / 2, cap, line + 2, 3, filled ? TONE_INK : TONE_PAPER,
                   ink, WEIGHT_FINE);
        canvas_text(c, x + 7 + cap / 2, y + (h - line) / 2, TYPE_UI_BOLD, ink, ALIGN_CENTRE, keycap);
    }
    if (flags & UI_LEFT_TEXT || keycap)
        canvas_text_fit(c, x + 12 + cap + (keycap ? 4 : 0), y + (h - line) / 2, w - cap - 20, type, ink,
                        ALIGN_LEFT, label);
    else
        canvas_text_fit(c, tx, y + (h - line) / 2, w - 8, type, ink, ALIGN_CENTRE, label);
}

bool ui_button(struct ui *u, const char *name, double x, double y, double w, double h,
               const char *label, unsigned flags)
{
    return ui_key_button(u, name, x, y, w, h, NULL, 0, label, flags);
}

bool ui_key_button(struct ui *u, const char *name, double x, double y, double w, double h,
                   const char *keycap, int code, const char *label, unsigned flags)
{
    if (h <= 0)
        h = ui_button_height(u);
    if (w <= 0)
        w = ui_button_width(u, label) + (keycap ? 34 : 0);
    struct ui_touch t = {0};
    if (flags & UI_OFF)
        canvas_name(u->c, x, y, w, h, name);
    else
        t = ui_area(u, name, x, y, w, h);
    button_draw(u, &t, x, y, w, h, keycap, label, flags);
    if (t.focused && u->by_keyboard)
        focus_ring(u, x, y, w, h);
    bool lettered = code && !(flags & UI_OFF) && !u->blocked &&
                    (code >= UI_F1 ? ui_key(u, code, 0) : ui_letter(u, code));
    return t.pressed || lettered;
}

double ui_chip_height(struct ui *u)
{
    return ceil(canvas_line_height(u->c, TYPE_SMALL) + 8);
}

/* A chosen word is struck in ink and ticked; an open one is only outlined. */
bool ui_chip(struct ui *u, const char *name, double x, double y, const char *label, bool on,
             double *w)
{
    struct canvas *c = u->c;
    double h = ui_chip_height(u), line = canvas_line_height(c, TYPE_SMALL);
    *w = ceil(canvas_text_width(c, TYPE_SMALL, label) + (on ? 34 : 20));
    struct ui_touch t = ui_area(u, name, x, y, *w, h);
    canvas_begin(c);
    canvas_rect(c, x, y, *w, h, h / 2);
    canvas_fill(c, on ? TONE_INK : t.over ? TONE_SHADE : TONE_CARD, 1);
    canvas_stroke(c, on ? TONE_INK : TONE_SOFT, WEIGHT_FINE);
    if (on) {
        canvas_begin(c);
        canvas_move(c, x + 10, y + h / 2);
        canvas_line_to(c, x + 14, y + h / 2 + 4);
        canvas_line_to(c, x + 20, y + h / 2 - 5);
        canvas_stroke(c, TONE_PAPER, WEIGHT_BOLD);
    }
    canvas_text(c, x + (on ? 25 : 10), y + (h - line) / 2, TYPE_SMALL, on ? TONE_PAPER : TONE_INK,
                ALIGN_LEFT, label);
    if (t.focused && u->by_keyboard)
        focus_ring(u, x, y, *w, h);
    return t.pressed;
}

/* ---- scrolling ---- */

static size_t scroll_of(struct ui *u, const char *name)
{
    uint64_t id = ui_id(name);
    for (size_t i = 0; i < u->scrolls; i++)
        if (u->scroll[i].id == id)
            return i;
    if (u->scrolls == UI_SCROLLS)
        u->scrolls = 0;
    u->scroll[u->scrolls].id = id;
    u->scroll[u->scrolls].at = 0;
    u->scroll[u->scrolls].inner = 0;
    return u->scrolls++;
}

double ui_scroll_begin(struct ui *u, const char *name, double x, double y, double w, double h)
{
    size_t s = scroll_of(u, name);
    double most = u->scroll[s].inner - h;
    if (ui_over(u, x, y, w, h) && u->in->wheel != 0) {
        u->scroll[s].at -= u->in->wheel * 36;
        u->in->wheel = 0;
        u->changed = true;
    }
    u->scroll[s].at = u->scroll[s].at > most ? most : u->scroll[s].at;
    u->scroll[s].at = u->scroll[s].at < 0 ? 0 : u->scroll[s].at;
    canvas_begin(u->c);
    canvas_rect(u->c, x - 6, y, w + 12, h, 0);
    canvas_clip(u->c);
    return y - u->scroll[s].at;
}

/* Keep the focused widget in sight when focus moved by keyboard. */
static void scroll_to_focus(struct ui *u, size_t s, double y, double h)
{
    if (!u->by_keyboard || !u->focus)
        return;
    for (size_t i = 0; i < u->c->marks; i++) {
        const struct mark *m = &u->c->mark[i];
        double top = y, left = 0;
        if (m->kind != MARK_NAME || ui_id(canvas_letters(u->c, m)) != u->focus)
            continue;
        canvas_to_page(u->c, &left, &top);
        if (m->y < top)
            u->scroll[s].at -= top - m->y + 8, u->changed = true;
        else if (m->y + m->h > top + h && m->h < h)
            u->scroll[s].at += m->y + m->h - top - h + 8, u->changed = true;
        return;
    }
}

void ui_scroll_end(struct ui *u, const char *name, double x, double y, double w, double h,
                   double inner)
{
    size_t s = scroll_of(u, name);
    canvas_unclip(u->c);
    if (fabs(u->scroll[s].inner - inner) > 0.5)
        u->changed = true;
    u->scroll[s].inner = inner;
    if (inner <= h + 0.5)
        return;
    if (u->focus != u->scrolled_to) /* once for each move, so that the wheel stays free */
        scroll_to_focus(u, s, y, h);
    double bar = h * h / inner, at = y + (h - bar) * u->scroll[s].at / (inner - h);
    canvas_begin(u->c);
    canvas_rect(u->c, x + w + 2, at, 4, bar, 2);
    canvas_fill(u->c, TONE_SOFT, 1);
}

/* ---- fields ---- */

double ui_field_height(struct ui *u)
{
    return ceil(canvas_line_height(u->c, TYPE_UI) + 14);
}

static void erase(struct text *t, int from, int to)
{
    if (from > to) {
        int swap = from;
        from = to;
        to = swap;
    }
    memmove(t->at + from, t->at + to, t->length - (size_t)to + 1);
    t->length -= (size_t)(to - from);
}

static void insert(struct text *t, int at, const char *s)
{
    char *tail = mem_copy_text(text_cstr(t) + at);
    t->length = (size_t)at;
    if (t->at)
        t->at[at] = 0;
    text_add(t, s);
    text_add(t, tail);
    mem_free(tail);
}

static int step_back(const char *s, int at)
{
    while (at > 0 && (s[--at] & 0xC0) == 0x80)
        ;
    return at;
}

static int step_on(const char *s, int at, int length)
{
    if (at < length)
        at++;
    while (at < length && (s[at] & 0xC0) == 0x80)
        at++;
    return at;
}

static bool selection_drop(struct ui *u, struct text *t)
{
    if (u->edit.cursor == u->edit.mark)
        return false;
    int low = u->edit.cursor < u->edit.mark ? u->edit.cursor : u->edit.mark;
    erase(t, u->edit.cursor, u->edit.mark);
    u->edit.cursor = u->edit.mark = low;
    return true;
}

static void put_text(struct ui *u, struct text *t, const char *s)
{
    char clean[UI_TYPED];
    size_t n = 0, bad;
    for (; *s && n + 1 < sizeof clean; s++)
        clean[n++] = *s == '\n' || *s == '\r' || *s == '\t' ? ' ' : *s;
    clean[n] = 0;
    selection_drop(u, t);
    if (t->length + n > UI_FIELD_MOST)
        clean[n = t->length < UI_FIELD_MOST ? UI_FIELD_MOST - t->length : 0] = 0;
    while (n > 0 && !text_is_utf8(clean, n, &bad))
        clean[--n] = 0; /* a character cut in two at the end */
    insert(t, u->edit.cursor, clean);
    u->edit.cursor += (int)n;
    u->edit.mark = u->edit.cursor;
    u->changed = true;
}

/* Long clipboard texts come in pieces, so that nothing is lost. */
static void put_pasted(struct ui *u, struct text *t, const char *s)
{
    size_t n = strlen(s), at = 0;
    while (at < n) {
        char piece[UI_TYPED];
        size_t take = n - at < sizeof piece - 1 ? n - at : sizeof piece - 1;
        while (take > 0 && at + take < n && (s[at + take] & 0xC0) == 0x80)
            take--;
        if (take == 0)
            return;
        memcpy(piece, s + at, take);
        piece[take] = 0;
        put_text(u, t, piece);
        at += take;
    }
}

static void move_cursor(struct ui *u, int to, bool keep_mark)
{
    u->edit.cursor = to;
    if (!keep_mark)
        u->edit.mark = to;
}

static void field_moves(struct ui *u, struct text *t)
{
    const char *s = text_cstr(t);
    int n = (int)t->length;
    for (unsigned shift = 0; shift <= UI_SHIFT; shift++) {
        if (ui_key(u, UI_LEFT, shift))
            move_cursor(u, step_back(s, u->edit.cursor), shift);
        if (ui_key(u, UI_RIGHT, shift))
            move_cursor(u, step_on(s, u->edit.cursor, n), shift);
        if (ui_key(u, UI_HOME, shift))
            move_cursor(u, 0, shift);
        if (ui_key(u, UI_END, shift))
            move_cursor(u, n, shift);
    }
    if (ui_key(u, 'a', UI_CTRL)) {
        u->edit.mark = 0;
        u->edit.cursor = n;
    }
}

static void field_clipboard(struct ui *u, struct text *t)
{
    bool cut = ui_key(u, 'x', UI_CTRL);
    if ((ui_key(u, 'c', UI_CTRL) || cut) && u->copy && u->edit.cursor != u->edit.mark) {
        int low = u->edit.cursor < u->edit.mark ? u->edit.cursor : u->edit.mark;
        int high = u->edit.cursor + u->edit.mark - low;
        char *piece = mem_copy_bytes(text_cstr(t) + low, (size_t)(high - low));
        u->copy(u->clip_with, piece);
        mem_free(piece);
        if (cut)
            selection_drop(u, t);
    }
    if (u->paste && (ui_key(u, 'v', UI_CTRL) || ui_key(u, UI_BACKSPACE, UI_ALT | UI_CTRL))) {
        char *piece = u->paste(u->clip_with);
        if (piece)
            put_pasted(u, t, piece);
        mem_free(piece);
    }
}

static void field_edit(struct ui *u, struct text *t)
{
    const char *s = text_cstr(t);
    int n = (int)t->length;
    u->edit.cursor = u->edit.cursor > n ? n : u->edit.cursor;
    u->edit.mark = u->edit.mark > n ? n : u->edit.mark;
    field_moves(u, t);
    field_clipboard(u, t);
    if (ui_key(u, UI_BACKSPACE, 0) && !selection_drop(u, t) && u->edit.cursor > 0) {
        int from = step_back(s, u->edit.cursor);
        erase(t, from, u->edit.cursor);
        move_cursor(u, from, false);
    }
    if (ui_key(u, UI_DELETE, 0) && !selection_drop(u, t) && u->edit.cursor < (int)t->length)
        erase(t, u->edit.cursor, step_on(text_cstr(t), u->edit.cursor, (int)t->length));
    if (u->in->typed[0]) {
        put_text(u, t, u->in->typed);
        u->in->typed[0] = 0;
    }
    /* Printable keys belong to the field even where their text comes apart from them. */
    for (size_t i = 0; i < u->in->keys; i++)
        if (u->in->key[i].code >= 32 && u->in->key[i].code < 0x10000 &&
            !(u->in->key[i].mods & (UI_CTRL | UI_ALT)))
            u->in->key[i].used = true;
}

static void field_draw(struct ui *u, double x, double y, double w, double h, struct text *t,
                       const char *hint, bool focused)
{
    struct canvas *c = u->c;
    const char *s = text_cstr(t);
    double em = ink_size(&c->ink, TYPE_UI), line = canvas_line_height(c, TYPE_UI);
    double ty = y + (h - line) / 2, left = x + 10;
    canvas_box(c, x, y, w, h, 2, TONE_CARD, TONE_INK, focused ? WEIGHT_BOLD : WEIGHT_FINE);
    canvas_begin(c);
    canvas_rect(c, x + 4, y + 1, w - 8, h - 2, 0);
    canvas_clip(c);
    if (!s[0] && !(focused && u->in->editing[0]))
        canvas_text_fit(c, left, ty, w - 16, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, hint);
    double at = type_case_x_of(c->types, TYPE_UI, em, s, focused ? u->edit.cursor : 0);
    double shift = focused && at > w - 40 ? at - (w - 40) : 0;
    if (focused && u->edit.cursor != u->edit.mark) {
        double to = type_case_x_of(c->types, TYPE_UI, em, s, u->edit.mark);
        canvas_begin(c);
        canvas_rect(c, left - shift + (at < to ? at : to), ty - 1, fabs(to - at), line + 2, 0);
        canvas_fill(c, TONE_SHADE, 1);
    }
    if (s[0])
        canvas_text(c, left - shift, ty, TYPE_UI, TONE_INK, ALIGN_LEFT, s);
    if (focused) {
        if (u->in->editing[0])
            canvas_text(c, left - shift + at, ty, TYPE_UI_BOLD, TONE_SOFT, ALIGN_LEFT, u->in->editing);
        canvas_rule(c, left - shift + at, ty, left - shift + at, ty + line, TONE_INK, WEIGHT_BOLD);
        u->text_x = left - shift + at;
        u->text_y = ty;
        u->text_h = line;
        canvas_to_page(c, &u->text_x, &u->text_y);
    }
    canvas_unclip(c);
}

static void field_pointer(struct ui *u, double x, const struct ui_touch *t, const char *s, bool fresh)
{
    double px = x + 10, py = 0;
    canvas_to_page(u->c, &px, &py);
    if (!t->held || !(u->in->pressed || u->in->down))
        return;
    int at = type_case_index_at(u->c->types, TYPE_UI, ink_size(&u->c->ink, TYPE_UI), s, u->in->x - px);
    u->edit.cursor = at;
    if (u->in->pressed || fresh)
        u->edit.mark = at;
}

bool ui_field(struct ui *u, const char *name, double x, double y, double w, struct text *text,
              const char *hint)
{
    double h = ui_field_height(u);
    uint64_t id = ui_id(name);
    bool was = u->focus == id && !u->blocked;
    bool entered = was && ui_key(u, UI_ENTER, 0);
    if (was && u->edit.id != id) {
        u->edit.id = id;
        u->edit.cursor = u->edit.mark = (int)text->length;
    }
    if (was) {
        u->field_focused = true;
        field_edit(u, text);
    }
    struct ui_touch t = ui_area(u, name, x, y, w, h);
    if (t.focused)
        u->field_focused = true;
    bool fresh = t.focused && u->edit.id != id;
    u->edit.id = t.focused ? id : u->edit.id;
    field_pointer(u, x, &t, text_cstr(text), fresh);
    field_draw(u, x, y, w, h, text, hint, t.focused);
    if (t.focused && u->by_keyboard)
        focus_ring(u, x, y, w, h);
    return entered;
}
