/* plate_screen.c - the movement at work: hands to drag, slow motion, single step, parts explained. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "screen/app.h"

/* ---- the clock shown ---- */

static void take_clock(struct app *a)
{
    struct plate_view *v = &a->view;
    const struct clock *k = app_clock(a);
    if (a->show.works.clock == NULL || (strcmp(v->clock, k->id) != 0 && !a->show.playing)) {
        show_set(&a->show, k, NULL, 0, 168);
        v->fault = -1;
    }
    snprintf(v->clock, sizeof v->clock, "%s", k->id);
    v->plate.clock = a->show.works.clock;
}

static void take_belief(struct app *a)
{
    struct plate_view *v = &a->view;
    bool told = !sheet_empty(&a->call.sheet) && a->advice.version > 0;
    for (int i = 0; i < PLATE_PARTS; i++)
        v->plate.belief[i] = told ? a->advice.part[i] : 0;
    v->plate.doubts = told ? a->advice.doubts : 0;
    memcpy(v->plate.doubt, a->advice.doubt, sizeof v->plate.doubt);
}

/* ---- dragging the minute hand ---- */

static double pointer_deg(const struct plate *p, const struct ui_input *in)
{
    double deg = atan2(in->x - p->dial_x, -(in->y - p->dial_y)) * (180 / M_PI);
    return deg < 0 ? deg + 360 : deg;
}

static void turn_hands(struct app *a, int minutes)
{
    if (minutes == 0)
        return;
    show_run(&a->show, minutes, BY_HAND);
    if (a->show.events.count > 0)
        show_play(&a->show, a->now_s);
    a->ui.changed = true;
}

static void drag_hand(struct app *a)
{
    struct plate_view *v = &a->view;
    const struct ui_input *in = a->ui.in;
    double deg = pointer_deg(&v->plate, in);
    double far = hypot(in->x - v->plate.dial_x, in->y - v->plate.dial_y);
    if (in->pressed && far < v->plate.dial_r && far > v->plate.dial_r * 0.12) {
        v->dragging = true;
        v->drag_deg = v->plate.pose.minute_deg;
    }
    if (!in->down)
        v->dragging = false;
    if (!v->dragging || a->show.playing)
        return;
    double by = remainder(deg - v->drag_deg, 360);
    int minutes = (int)(by / 6 + (by > 0 ? 0.1 : -0.1)); /* a whole minute, all but a hair */
    if (minutes != 0) {
        turn_hands(a, minutes);
        v->drag_deg = fmod(v->drag_deg + minutes * 6 + 720, 360);
    }
}

/* ---- parts ---- */

static void step_part(struct app *a, int by)
{
    enum plate_part shown[PLATE_PARTS];
    size_t n = plate_shown(&a->view.plate, shown, PLATE_PARTS), at = 0;
    if (n == 0)
        return;
    for (size_t i = 0; i < n; i++)
        if ((int)shown[i] == a->view.focus)
            at = (i + n + (size_t)(by + (int)n)) % n;
    a->view.focus = (int)shown[at];
    a->ui.changed = true;
}

/* A name beside the part, joined by a thin line. */
static void name_part(struct app *a, enum plate_part part, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double px, py;
    if (!plate_anchor(&a->view.plate, part, &px, &py))
        return;
    const char *title = plate_part_row(part)->title;
    double tw = canvas_text_width(c, TYPE_UI_BOLD, title) + 18, th = canvas_line_height(c, TYPE_UI_BOLD) + 6;
    double lx = px + 26 + tw > x + w ? px - 26 - tw : px + 26, ly = py - 40 < y ? py + 20 : py - 40;
    canvas_rule(c, px, py, lx + (lx > px ? 0 : tw), ly + th / 2, TONE_INK, WEIGHT_LINE);
    canvas_disc(c, px, py, 3, TONE_CARD, TONE_INK, WEIGHT_LINE);
    canvas_box(c, lx, ly, tw, th, 2, TONE_CARD, TONE_INK, WEIGHT_LINE);
    canvas_text(c, lx + tw / 2, ly + 3, TYPE_UI_BOLD, TONE_INK, ALIGN_CENTRE, title);
}

static const char *const idle_text =
    "Point at a part, or press the arrow keys up and down, to see what it does and what goes wrong "
    "with it. Drag the minute hand forward or back; it waits while the clock sounds.";

static void explain(struct app *a, enum plate_part part, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    const struct plate_part_row *r = plate_part_row(part);
    if (!r) {
        canvas_paragraph(c, x, y, w, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, idle_text);
        return;
    }
    double label = w < 760 ? 118 : 170, half = (w - label) / 2 - 16;
    canvas_paragraph(c, x, y - 2, label - 10, TYPE_HEAD, TONE_INK, ALIGN_LEFT, r->title);
    double p = a->view.plate.belief[part];
    if (p >= PLATE_SUSPECT) {
        char n[48];
        snprintf(n, sizeof n, "suspect, %.0f %%", 100 * p);
        canvas_text(c, x, y + canvas_text_height(c, TYPE_HEAD, label - 10, r->title), TYPE_UI_BOLD, TONE_ACCENT,
                    ALIGN_LEFT, n);
    }
    canvas_paragraph(c, x + label, y, half, TYPE_SMALL, TONE_INK, ALIGN_LEFT, r->does);
    canvas_paragraph(c, x + label + half + 24, y, half, TYPE_SMALL, TONE_INK, ALIGN_LEFT, r->wrong);
}

/* ---- controls ---- */

static const char *happening(const struct event *e)
{
    static const char *const words[EVENT_KINDS] = {
        [EVENT_BLOW] = "a blow falls", [EVENT_NOTE] = "a note falls",
        [EVENT_WARN] = "warning: the train runs up and waits", [EVENT_RELEASE] = "released",
        [EVENT_CLICK] = "a lever moves, no train is freed", [EVENT_LOCK] = "locked, at rest",
        [EVENT_STALL] = "the train stands still", [EVENT_JAM] = "jammed",
        [EVENT_HAND_STALL] = "the hands stand under the lift", [EVENT_RUN_ON] = "runs on without end",
        [EVENT_POWER_OUT] = "run down",
    };
    return e ? words[e->kind] : "";
}

/* What differs from a sound clock wears the accent. */
static bool is_trouble(const struct event *e)
{
    return e && (e->kind == EVENT_STALL || e->kind == EVENT_JAM || e->kind == EVENT_HAND_STALL ||
                 e->kind == EVENT_RUN_ON || e->kind == EVENT_POWER_OUT);
}

static double move_buttons(struct app *a, double x, double y)
{
    struct ui *u = &a->ui;
    double bh = ui_button_height(u);
    struct { const char *name, *label; } row[] = {
        {"back-5", "\xe2\x88\x92" "5 min"}, {"on-5", "+5 min"},
    };
    for (size_t i = 0; i < 2; i++) {
        double w = ui_button_width(u, row[i].label);
        if (ui_button(u, row[i].name, x, y, w, bh, row[i].label, 0))
            turn_hands(a, i ? 5 : -5);
        x += w + 6;
    }
    double w = ui_button_width(u, "Next let-off") + 10;
    if (ui_button(u, "next-letoff", x, y, w, bh, "Next let-off", UI_PRIMARY))
        show_next_letoff(&a->show, a->now_s);
    return x + w + 18;
}

static double time_buttons(struct app *a, double x, double y)
{
    struct ui *u = &a->ui;
    struct show *s = &a->show;
    double bh = ui_button_height(u), w;
    const char *label = s->playing ? "Stop" : "Go on";
    w = ui_button_width(u, "Go on");
    if (ui_button(u, "go", x, y, w, bh, label, s->knots == 0 ? UI_OFF : 0)) {
        if (s->playing)
            show_stop(s);
        else
            show_play(s, a->now_s);
    }
    x += w + 6;
    for (int i = 0; i < 2; i++, x += 40)
        if (ui_button(u, i ? "step-on" : "step-back", x, y, 34, bh, i ? "\xe2\x96\xb8" : "\xe2\x97\x82",
                      s->knots == 0 ? UI_OFF : 0))
            show_step(s, i ? 1 : -1);
    w = ui_button_width(u, "Slow");
    if (ui_button(u, "slow", x + 4, y, w, bh, "Slow", s->speed < 1 ? UI_ON : 0)) {
        bool on = s->playing;
        show_stop(s);
        s->speed = s->speed < 1 ? 1 : 0.25;
        if (on)
            show_play(s, a->now_s);
    }
    return x + w + 22;
}

/* Sound, or with one of the likely faults in it. */
static void fault_buttons(struct app *a, double x, double y, double right)
{
    struct ui *u = &a->ui;
    struct plate_view *v = &a->view;
    double h = ui_chip_height(u), dy = (ui_button_height(u) - h) / 2, w;
    size_t n = a->advice.causes < 3 ? a->advice.causes : 3;
    if (sheet_empty(&a->call.sheet))
        return;
    if (ui_chip(u, "fault-none", x, y + dy, "in order", v->fault < 0, &w)) {
        v->fault = -1;
        show_set(&a->show, app_clock(a), NULL, 0, a->show.now.work_min);
    }
    x += w + 6;
    for (size_t i = 0; i < n; i++) {
        char name[24], label[140];
        const struct advice_cause *k = &a->advice.cause[i];
        const struct clock *clock = library_find_clock(a->lib, k->clock);
        if (k->changes == 0 || !clock)
            continue;
        snprintf(name, sizeof name, "fault-%zu", i + 1);
        snprintf(label, sizeof label, strlen(k->name) > 30 ? "%.28s\xe2\x80\xa6" : "%s", k->name);
        if (x + canvas_text_width(u->c, TYPE_SMALL, label) + 34 > right)
            return;
        if (ui_chip(u, name, x, y + dy, label, v->fault == (int)i, &w)) {
            v->fault = (int)i;
            show_set(&a->show, clock, k->change, k->changes, a->show.now.work_min);
        }
        x += w + 6;
    }
}

static void plate_keys(struct app *a)
{
    struct ui *u = &a->ui;
    if (u->field_focused)
        return;
    if (ui_key(u, UI_DOWN, 0))
        step_part(a, 1);
    if (ui_key(u, UI_UP, 0))
        step_part(a, -1);
    if (ui_key(u, UI_RIGHT, 0))
        turn_hands(a, 1);
    if (ui_key(u, UI_LEFT, 0))
        turn_hands(a, -1);
    if (ui_key(u, UI_RIGHT, UI_SHIFT))
        turn_hands(a, 5);
    if (ui_key(u, UI_LEFT, UI_SHIFT))
        turn_hands(a, -5);
    if (ui_letter(u, '.'))
        show_step(&a->show, 1);
    if (ui_letter(u, ','))
        show_step(&a->show, -1);
}

static void head_line(struct app *a, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    char time[8], line[120];
    const struct event *e = show_event(&a->show);
    double th = canvas_line_height(c, TYPE_TITLE);
    struct plate_pose *p = &a->view.plate.pose;
    int shown = (int)floor(p->hour_deg / 30) * 60 + (int)floor(p->minute_deg / 6 + 0.01);
    snprintf(line, sizeof line, "%s", text_dial(shown % 1440, time));
    const char *name = a->show.works.clock->name;
    bool fits = canvas_text_width(c, TYPE_TITLE, name) < w * 0.62;
    canvas_text_fit(c, x, fits ? y : y + 8, w * 0.62, fits ? TYPE_TITLE : TYPE_HEAD, TONE_INK, ALIGN_LEFT, name);
    canvas_text(c, x + w, y, TYPE_TITLE, TONE_INK, ALIGN_RIGHT, line);
    if (a->show.knots > 0 && e)
        canvas_text(c, x + w - canvas_text_width(c, TYPE_TITLE, line) - 18,
                    y + th - canvas_line_height(c, TYPE_ITALIC) - 4, is_trouble(e) ? TYPE_UI_BOLD : TYPE_ITALIC,
                    is_trouble(e) ? TONE_ACCENT : TONE_SOFT, ALIGN_RIGHT, happening(e));
}

void plate_screen(struct app *a, double x, double y, double w, double h)
{
    struct canvas *c = &a->canvas;
    struct plate_view *v = &a->view;
    double head = canvas_line_height(c, TYPE_TITLE) + 8, bar = ui_button_height(&a->ui) + 14;
    double foot = canvas_line_height(c, TYPE_SMALL) * 4 + 8, room = h - head - bar - foot;
    take_clock(a);
    take_belief(a);
    show_pose(&a->show, &v->plate.pose);
    head_line(a, x, y, w);
    double bx = move_buttons(a, x, y + head);
    bx = time_buttons(a, bx, y + head);
    fault_buttons(a, bx, y + head, x + w);
    double scale = w / PLATE_W < room / PLATE_H ? w / PLATE_W : room / PLATE_H;
    double px = x + (w - PLATE_W * scale) / 2, py = y + head + bar + (room - PLATE_H * scale) / 2;
    struct ui_input *in = a->ui.in;
    enum plate_part under = plate_part_at(&v->plate, in->x, in->y);
    bool inside = ui_over(&a->ui, px, py, PLATE_W * scale, PLATE_H * scale);
    int pointed = inside && under != PART_NONE ? (int)under : v->focus;
    if (pointed != v->plate.pointed)
        a->ui.changed = true;
    v->plate.pointed = pointed;
    ui_area(&a->ui, "plate", px, py, PLATE_W * scale, PLATE_H * scale);
    plate_draw(&v->plate, c, px, py, scale);
    if (inside)
        drag_hand(a);
    plate_keys(a);
    if (pointed != PART_NONE)
        name_part(a, (enum plate_part)pointed, x, y + head + bar, w);
    canvas_rule(c, x, y + h - foot, x + w, y + h - foot, TONE_INK, WEIGHT_HAIR);
    explain(a, (enum plate_part)pointed, x, y + h - foot + 8, w);
}
