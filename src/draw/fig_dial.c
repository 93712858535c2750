/* fig_dial.c - the dial: numerals, minute ring, hands, and the small dials of the levers. */
#include <math.h>
#include <stdio.h>

#include "draw/plate_priv.h"

static const char *const romans[12] = {"XII", "I", "II", "III", "IIII", "V",
                                       "VI", "VII", "VIII", "IX", "X", "XI"};

static void ticks(struct canvas *c, double r)
{
    for (int i = 0; i < 60; i++) {
        struct pt a = polar(0, 0, r, i * 6), b = polar(0, 0, r - (i % 5 ? r * 0.035 : r * 0.055), i * 6);
        canvas_rule(c, a.x, a.y, b.x, b.y, TONE_INK, i % 5 ? WEIGHT_HAIR : WEIGHT_LINE);
    }
}

static void ring(struct canvas *c, double r, enum weight weight)
{
    canvas_begin(c);
    canvas_arc(c, 0, 0, r, 0, 360);
    canvas_stroke(c, TONE_INK, weight);
}

/* The plate of the dial, with a bezel shaded on the side away from the light. */
static void dial_ground(struct canvas *c, double r)
{
    canvas_begin(c);
    canvas_arc(c, 0, 0, r, 0, 360);
    canvas_fill(c, TONE_CARD, 1);
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
    canvas_begin(c);
    canvas_arc(c, 0, 0, r, 80, 220);
    canvas_arc(c, 0, 0, r * 0.945, 220, 80);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 2.6);
    ring(c, r * 0.945, WEIGHT_LINE);
    ring(c, r * 0.905, WEIGHT_HAIR);
    ring(c, r * 0.60, WEIGHT_HAIR);
    ring(c, r * 0.585, WEIGHT_FINE);
}

static void numerals(struct canvas *c, double r)
{
    for (int i = 0; i < 12; i++) {
        struct pt p = polar(0, 0, r * 0.735, i * 30);
        bool low = i >= 4 && i <= 8;
        canvas_text_turned(c, p.x, p.y, TYPE_ROMAN, r * 0.19, TONE_INK, i * 30 + (low ? 180 : 0),
                           romans[i]);
    }
}

/* A hand that swells towards its tip, with a pierced heart on the hour hand. */
static void hand(struct fig *f, double deg, double length, double wide, bool pierced)
{
    struct canvas *c = f->c;
    const double outline[][2] = {{0.5, -0.18}, {0.42, 0.28}, {0.5, 0.5}, {1.0, 0.66},
                                 {0.62, 0.80}, {0.16, 0.93}, {0, 1}};
    canvas_begin(c);
    for (int side = -1; side <= 1; side += 2)
        for (int i = 0; i < 7; i++) {
            int k = side < 0 ? i : 6 - i;
            struct pt along = polar(0, 0, outline[k][1] * length, deg);
            struct pt off = polar(0, 0, outline[k][0] * wide * side, deg + 90);
            canvas_line_to(c, along.x + off.x, along.y + off.y);
        }
    canvas_close(c);
    if (f->belief >= PLATE_SUSPECT) {
        fig_solid(f, 0.5);
    } else {
        canvas_fill(c, TONE_INK, 1);
        fig_line(f, WEIGHT_HAIR);
    }
    struct pt tip = polar(0, 0, length, deg), heart = polar(0, 0, 0.66 * length, deg);
    if (pierced)
        canvas_disc(c, heart.x, heart.y, wide * 0.42, TONE_CARD, TONE_INK, WEIGHT_HAIR);
    struct pt near = polar(0, 0, length * 0.25, deg);
    fig_place(f, near.x, near.y, tip.x, tip.y, wide * 0.8 + 3);
}

/* A little dial with a pointer and a word at each side. */
static void small_dial(struct fig *f, double x, double y, double r, double deg, const char *left,
                       const char *right)
{
    struct canvas *c = f->c;
    canvas_begin(c);
    canvas_arc(c, x, y, r, 0, 360);
    fig_solid(f, 0);
    fig_place(f, x, y, x, y, r);
    struct pt tip = polar(x, y, r * 0.72, deg);
    canvas_rule(c, x, y, tip.x, tip.y, TONE_INK, WEIGHT_BOLD);
    canvas_disc(c, x, y, 2.2, TONE_INK, TONE_INK, WEIGHT_HAIR);
    double page = 1, zero = 0, unused = 0;
    canvas_to_page(c, &page, &unused);
    canvas_to_page(c, &zero, &unused);
    if (r * 0.62 * (page - zero) < 7.5) /* too small to be read: left out */
        return;
    canvas_text_turned(c, x - r * 1.15, y + r + 8, TYPE_SMALL, r * 0.62, TONE_SOFT, 0, left);
    canvas_text_turned(c, x + r * 1.15, y + r + 8, TYPE_SMALL, r * 0.62, TONE_SOFT, 0, right);
}

static void levers(struct fig *f, double r)
{
    const struct clock *k = f->clock;
    if (k->silent_strike || k->silent_chime || k->night_from_min != k->night_to_min) {
        bool silent = f->pose->silent_strike || f->pose->silent_chime;
        fig_part(f, PART_SILENT_LEVER);
        small_dial(f, r * 0.30, r * 0.26, r * 0.105, silent ? 60 : -60, "sound", "silent");
    }
    if (k->selector) {
        const struct train *t = &k->train[TRAIN_CHIME];
        double share = t->tunes > 1 ? (double)f->pose->tune / (t->tunes - 1) : 0;
        fig_part(f, PART_SELECTOR);
        small_dial(f, -r * 0.30, r * 0.26, r * 0.105, -60 + 120 * share, "tune", "");
    }
}

static void dial_face(struct fig *f, double r)
{
    dial_ground(f->c, r);
    ticks(f->c, r * 0.945);
    numerals(f->c, r);
    levers(f, r);
    fig_part(f, PART_HOUR_HAND);
    hand(f, f->pose->hour_deg, r * 0.56, r * 0.052, true);
    fig_part(f, PART_MINUTE_HAND);
    hand(f, f->pose->minute_deg, r * 0.885, r * 0.042, false);
    fig_part(f, PART_NONE);
    fig_disc(f, 0, 0, r * 0.045, 0);
    fig_disc(f, 0, 0, r * 0.018, 0.8);
}

void fig_dial(struct fig *f, double size)
{
    double r = size / 2 - 3, x = 0, y = 0, ex = r, ey = 0;
    canvas_push(f->c, size / 2, size / 2, 1);
    dial_face(f, r);
    canvas_to_page(f->c, &x, &y);
    canvas_to_page(f->c, &ex, &ey);
    f->plate->dial_x = x;
    f->plate->dial_y = y;
    f->plate->dial_r = ex - x;
    canvas_pop(f->c);
}
