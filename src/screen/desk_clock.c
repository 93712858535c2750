/* desk_clock.c - which clock it is: three questions with pictures, or a list; and the quick line. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "diagnose/story.h"
#include "screen/desk_priv.h"

/* ---- pictures ---- */

enum picture { PICTURE_WINDING, PICTURE_POWER, PICTURE_SOUNDS };

static void dial_with_holes(struct canvas *c, double x, double y, double r, int holes)
{
    canvas_begin(c);
    canvas_arc(c, x, y, r, 0, 360);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    for (int i = 0; i < 12; i++) {
        double s = sin(i * M_PI / 6), k = cos(i * M_PI / 6);
        canvas_rule(c, x + s * r * 0.8, y - k * r * 0.8, x + s * r * 0.92, y - k * r * 0.92, TONE_INK, WEIGHT_HAIR);
    }
    for (int i = 0; i < holes; i++) {
        double hx = holes == 1 ? 0 : -0.42 + 0.84 * i / (holes - 1);
        double hy = holes == 3 && i == 1 ? 0.42 : 0.18;
        canvas_disc(c, x + hx * r, y + hy * r, 3, TONE_INK, TONE_INK, WEIGHT_HAIR);
    }
}

static void weights(struct canvas *c, double x, double y, double r)
{
    for (int i = -1; i <= 1; i += 2) {
        double wx = x + i * r * 0.4, top = y - r + (i > 0 ? 4 : 0);
        canvas_rule(c, wx, y - r, wx, top + r * 0.8, TONE_INK, WEIGHT_FINE);
        canvas_begin(c);
        canvas_rect(c, wx - 5, top + r * 0.8, 10, r, 2);
        canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 90, 2.2);
        canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    }
}

static void key_and_spring(struct canvas *c, double x, double y, double r)
{
    canvas_begin(c);
    for (int i = 0; i <= 60; i++) {
        double a = i * 0.32, q = r * (0.12 + 0.85 * i / 60.0);
        canvas_line_to(c, x + q * sin(a), y - q * cos(a));
    }
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

/* A dial with rays where it sounds. */
static void sounds_at(struct canvas *c, double x, double y, double r, int quarters)
{
    canvas_begin(c);
    canvas_arc(c, x, y, r * 0.62, 0, 360);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    for (int i = 0; i < 4; i++) {
        bool on = quarters == 4 || i == 0 || (quarters == 2 && i == 2);
        double s = sin(i * M_PI / 2), k = -cos(i * M_PI / 2);
        if (on)
            canvas_rule(c, x + s * r * 0.74, y + k * r * 0.74, x + s * r, y + k * r, TONE_INK, WEIGHT_HEAVY);
    }
}

static void draw_picture(struct canvas *c, enum picture what, int which, double x, double y, double r)
{
    if (what == PICTURE_WINDING)
        dial_with_holes(c, x, y, r, which);
    else if (what == PICTURE_POWER && which == 0)
        weights(c, x, y, r);
    else if (what == PICTURE_POWER)
        key_and_spring(c, x, y, r);
    else
        sounds_at(c, x, y, r, which == 0 ? 1 : which == 1 ? 2 : 4);
}

static const struct {
    enum picture picture;
    int which;
    const char *hint, *value, *hint2, *value2, *label;
} choices[] = {
    {PICTURE_WINDING, 1, "winding_points", "1", NULL, NULL, "one hole"},
    {PICTURE_WINDING, 2, "winding_points", "2", NULL, NULL, "two"},
    {PICTURE_WINDING, 3, "winding_points", "3", NULL, NULL, "three"},
    {PICTURE_POWER, 0, "power", "weight", NULL, NULL, "weights"},
    {PICTURE_POWER, 1, "power", "spring", NULL, NULL, "key, no weights"},
    {PICTURE_SOUNDS, 0, "half", "none", NULL, NULL, "hours only"},
    {PICTURE_SOUNDS, 1, "half", "single", NULL, NULL, "one at the half"},
    {PICTURE_SOUNDS, 2, "quarters", "all", NULL, NULL, "quarters"},
};

static bool is_chosen(const struct app *a, size_t i)
{
    const struct sheet *s = &a->call.sheet;
    const char *told = sheet_hint(s, choices[i].hint);
    char n[24];
    snprintf(n, sizeof n, "%ld", sheet_hint_number(s, choices[i].hint, -99));
    return (told && strcmp(told, choices[i].value) == 0) || strcmp(n, choices[i].value) == 0;
}

bool desk_is_pictured(const char *hint)
{
    for (size_t i = 0; i < sizeof choices / sizeof *choices; i++)
        if (strcmp(choices[i].hint, hint) == 0)
            return true;
    return false;
}

static double picture_buttons(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    size_t n = sizeof choices / sizeof *choices;
    double each = (w - 24) / (double)n, text = canvas_line_height(c, TYPE_SMALL) * 2, r = 17, h = 2 * r + text + 14;
    for (size_t i = 0; i < n; i++) {
        char name[48];
        bool on = is_chosen(a, i);
        double bx = x + (double)i * each + (choices[i].picture == PICTURE_POWER ? 12 : choices[i].picture == PICTURE_SOUNDS ? 24 : 0);
        snprintf(name, sizeof name, "hint-%s-%s", choices[i].hint, choices[i].value);
        struct ui_touch t = ui_area(u, name, bx, y, each - 6, h);
        canvas_begin(c);
        canvas_rect(c, bx, y, each - 6, h, 3);
        canvas_fill(c, on || t.over ? TONE_SHADE : TONE_CARD, 1);
        canvas_stroke(c, on ? TONE_INK : TONE_FAINT, on ? WEIGHT_HEAVY : WEIGHT_FINE);
        draw_picture(c, choices[i].picture, choices[i].which, bx + (each - 6) / 2, y + 8 + r, r);
        canvas_paragraph(c, bx + 2, y + 2 * r + 12, each - 10, TYPE_SMALL, TONE_INK, ALIGN_CENTRE, choices[i].label);
        if (t.pressed)
            call_set_hint(&a->call, choices[i].hint, choices[i].value);
    }
    return h;
}

/* ---- the clock ---- */

static void likeliest_line(struct app *a, double x, double y, double w)
{
    char line[300];
    size_t fits;
    const struct clock *k = app_clock(a);
    call_clock(&a->call, a->lib, &fits);
    bool judged = a->advice.version > 0 && a->advice.clocks > 0 && !sheet_empty(&a->call.sheet);
    if (fits == 0)
        snprintf(line, sizeof line, "No clock here has all of that. Taken for: %s.", k->name);
    else if (judged)
        snprintf(line, sizeof line, "%zu kinds fit. Likeliest, %.0f %%: %s.", fits, 100 * a->advice.clock[0].p, k->name);
    else
        snprintf(line, sizeof line, "%zu kinds fit. Commonest: %s.", fits, k->name);
    canvas_text_fit(&a->canvas, x, y, w, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, line);
}

static double told_clock(struct app *a, const struct clock *k, double x, double y, double w)
{
    struct ui *u = &a->ui;
    double bw = ui_button_width(u, "Not sure"), bh = ui_button_height(u), room = w - 2 * bw - 20;
    enum type type = canvas_text_width(&a->canvas, TYPE_HEAD, k->name) > room ? TYPE_STRONG : TYPE_HEAD;
    double line = canvas_line_height(&a->canvas, type);
    canvas_text_fit(&a->canvas, x, y + (bh - line) / 2, room, type, TONE_INK, ALIGN_LEFT, k->name);
    if (ui_button(u, "choose-clock", x + w - 2 * bw - 6, y, bw, bh, "Another", 0))
        a->desk.choose_clock = true;
    if (ui_button(u, "clock-unknown", x + w - bw, y, bw, bh, "Not sure", 0))
        call_set_clock(&a->call, "");
    return bh;
}

double desk_clock_part(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    const struct clock *told = a->call.sheet.clock[0] ? library_find_clock(a->lib, a->call.sheet.clock) : NULL;
    if (told)
        return told_clock(a, told, x, y, w);
    double h = picture_buttons(a, x, y, w), bh = ui_button_height(u);
    double bw = ui_button_width(u, "List") + 6, line = canvas_line_height(&a->canvas, TYPE_ITALIC);
    likeliest_line(a, x, y + h + 6 + (bh - line) / 2, w - bw - 12);
    if (ui_button(u, "choose-clock", x + w - bw, y + h + 6, bw, bh, "List", 0))
        a->desk.choose_clock = true;
    return h + 6 + bh;
}

void desk_choose_card(struct app *a, double x, double y, double w, double h)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double bh = ui_button_height(u), line = bh + 4;
    canvas_box(c, x - 4, y, w + 8, h, 4, TONE_CARD, TONE_INK, WEIGHT_BOLD);
    canvas_text(c, x + 14, y + 12, TYPE_HEAD, TONE_INK, ALIGN_LEFT, "Which clock?");
    double cw = ui_button_width(u, "Close");
    bool close = ui_button(u, "close-list", x + w - cw - 10, y + 10, cw, bh, "Close", 0) || ui_key(u, UI_ESCAPE, 0);
    double at = y + 54, inner = 0;
    double top = ui_scroll_begin(u, "clock-list", x + 10, at, w - 20, h - 64);
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < library_clocks(a->lib); i++) {
            const struct clock *k = library_clock(a->lib, i);
            char name[96];
            if (call_clock_fits(&a->call, k) == (pass == 1))
                continue;
            snprintf(name, sizeof name, "clock-%s", k->id);
            if (ui_button(u, name, x + 12, top + inner, w - 28, bh, k->name, UI_QUIET | UI_LEFT_TEXT)) {
                call_set_clock(&a->call, k->id);
                close = true;
            }
            inner += line;
        }
    ui_scroll_end(u, "clock-list", x + 10, at, w - 20, h - 64, inner);
    if (close)
        a->desk.choose_clock = false;
}

/* ---- the quick line: shorthand first, else plain words ---- */

/* What was taken stands in the rows below; here is what was not. */
static void tell_story(struct app *a, const struct story *story, const char *text)
{
    struct text left = {0};
    size_t took = story_count(story, STORY_UNDERSTOOD) + story_count(story, STORY_PERHAPS);
    for (size_t i = 0; i < story->parts; i++) {
        const struct story_part *p = &story->part[i];
        if (p->kind == STORY_UNUSED || p->kind == STORY_UNKNOWN)
            text_addf(&left, "%s\"%.*s\"", left.length ? ", " : "", (int)(p->to - p->from), text + p->from);
    }
    snprintf(a->desk.said, sizeof a->desk.said, "%s%s%.300s", took > 0 ? "Taken down." : "",
             left.length > 0 ? " Not understood: " : "", text_cstr(&left));
    a->desk.said_bad = left.length > 0;
    text_release(&left);
}

static bool take_story(struct app *a, const char *text)
{
    struct err e = {0};
    struct story story = {0};
    bool good = story_read(a->phrases, text, strlen(text), &a->call.sheet, &story, &e);
    if (good) {
        tell_story(a, &story, text);
        call_touch(&a->call);
    } else {
        snprintf(a->desk.said, sizeof a->desk.said, "%.390s", e.count > 0 ? e.line[0] : "Not understood.");
    }
    story_release(&story);
    err_release(&e);
    return good;
}

static bool take_words(struct app *a, const char *text)
{
    struct err e = {0};
    bool good = call_add(&a->call, text, &e);
    if (good)
        snprintf(a->desk.said, sizeof a->desk.said, "Taken down.");
    err_release(&e);
    return good || take_story(a, text);
}

double desk_quick_line(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double h = ui_field_height(u), bw = ui_button_width(u, "Add");
    bool add = ui_field(u, "quick", x, y, w - bw - 8, &a->call.entry,
                        "type or paste: 3:00 s2, 3:15 n3124 slow \xe2\x80\xa6 or the caller's words");
    add |= ui_button(u, "quick-add", x + w - bw, y, bw, h, "Add", 0);
    if (add && a->call.entry.length > 0 && take_words(a, text_cstr(&a->call.entry))) {
        text_clear(&a->call.entry);
        a->ui.focus = 0; /* so that one key answers the question */
    }
    if (!a->desk.said[0])
        return h;
    double th = canvas_text_height(c, TYPE_SMALL, w, a->desk.said);
    canvas_paragraph(c, x, y + h + 4, w, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, a->desk.said);
    return h + 4 + th;
}
