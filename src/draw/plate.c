#include "draw/plate.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "draw/plate_priv.h"

/* ---- pointing ---- */

static double distance_to(const struct plate_place *s, double x, double y)
{
    double dx = s->x2 - s->x1, dy = s->y2 - s->y1, n = dx * dx + dy * dy;
    double t = n > 0 ? ((x - s->x1) * dx + (y - s->y1) * dy) / n : 0;
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    return hypot(x - (s->x1 + t * dx), y - (s->y1 + t * dy));
}

static double place_size(const struct plate_place *s)
{
    double n = hypot(s->x2 - s->x1, s->y2 - s->y1);
    return s->r * (2 * n + 3.2 * s->r);
}

enum plate_part plate_part_at(const struct plate *p, double x, double y)
{
    int best = PART_NONE;
    double least = 1e12;
    for (size_t i = 0; i < p->places; i++) {
        const struct plate_place *s = &p->place[i];
        if (distance_to(s, x, y) <= s->r + 1 && place_size(s) <= least) {
            least = place_size(s);
            best = s->part;
        }
    }
    return (enum plate_part)best;
}

bool plate_anchor(const struct plate *p, enum plate_part part, double *x, double *y)
{
    double most = -1;
    for (size_t i = 0; i < p->places; i++) {
        const struct plate_place *s = &p->place[i];
        double weight = place_size(s) * (1e-6 + (double)s->belief); /* the likelier place, then the larger */
        if (s->part != (int)part || weight <= most)
            continue;
        most = weight;
        *x = (s->x1 + s->x2) / 2;
        *y = (s->y1 + s->y2) / 2;
    }
    return most >= 0;
}

size_t plate_shown(const struct plate *p, enum plate_part *part, size_t room)
{
    size_t n = 0;
    for (int i = 0; i < PLATE_PARTS && n < room; i++) {
        double x, y;
        if (plate_anchor(p, (enum plate_part)i, &x, &y))
            part[n++] = (enum plate_part)i;
    }
    return n;
}

/* ---- flags and captions ---- */

/* The likeliest parts that this clock shows; how many carry a flag. */
static size_t rank_suspects(const struct plate *p, int rank[PLATE_FLAGS])
{
    size_t n = 0;
    bool taken[PLATE_PARTS] = {false};
    double x, y;
    while (n < PLATE_FLAGS) {
        int best = PART_NONE;
        for (int i = 0; i < PLATE_PARTS; i++)
            if (!taken[i] && p->belief[i] >= PLATE_SUSPECT &&
                plate_anchor(p, (enum plate_part)i, &x, &y) && (best == PART_NONE || p->belief[i] > p->belief[best]))
                best = i;
        if (best == PART_NONE)
            break;
        taken[best] = true;
        rank[n++] = best;
    }
    return n;
}

/* A pennant on a staff, with its number; in page units. */
static void flag(struct canvas *c, double x, double y, size_t number)
{
    char n[24];
    double size = 13 * (c->ink.text > 0 ? c->ink.text : 1), h = size * 1.5, w = size * 1.9;
    snprintf(n, sizeof n, "%zu", number);
    canvas_rule(c, x, y, x, y - h * 1.9, TONE_ACCENT, WEIGHT_BOLD);
    const double shape[5][2] = {{x, y - h * 1.9}, {x + w, y - h * 1.9}, {x + w - 5, y - h * 1.4},
                                {x + w, y - h * 0.9}, {x, y - h * 0.9}};
    canvas_begin(c);
    canvas_polygon(c, shape, 5);
    canvas_fill(c, TONE_CARD, 1);
    canvas_stroke(c, TONE_ACCENT, WEIGHT_BOLD);
    canvas_text_turned(c, x + w * 0.42, y - h * 1.4, TYPE_UI_BOLD, size, TONE_INK, 0, n);
    canvas_disc(c, x, y, 3.4, TONE_ACCENT, TONE_ACCENT, WEIGHT_FINE);
}

static void draw_flags(const struct plate *p, struct canvas *c)
{
    int rank[PLATE_FLAGS];
    size_t n = rank_suspects(p, rank);
    for (size_t i = n; i-- > 0;) {
        double x, y;
        if (plate_anchor(p, (enum plate_part)rank[i], &x, &y))
            flag(c, x, y, i + 1);
    }
}

/* ---- composition ---- */

static void strike_work(struct fig *f, double x, double y, double scale)
{
    const struct train *t = &f->clock->train[TRAIN_STRIKE];
    canvas_push(f->c, x, y, scale);
    f->train = TRAIN_STRIKE;
    if (t->control == CONTROL_RACK)
        fig_rack_work(f);
    else if (t->control == CONTROL_COUNT_WHEEL)
        fig_count_work(f);
    else
        fig_run_work(f);
    f->train = -1;
    fig_part(f, PART_NONE);
    fig_caption(f, 230, 466, t->control == CONTROL_RACK          ? "Rack and snail"
                            : t->control == CONTROL_COUNT_WHEEL ? "Count wheel"
                                                                : "Lifting work");
    canvas_pop(f->c);
}

static void dial_and_caption(struct fig *f, double x, double y, double size)
{
    canvas_push(f->c, x, y, 1);
    fig_dial(f, size);
    fig_caption(f, size / 2, size + 18, "Dial and hands");
    canvas_pop(f->c);
}

static void trains_row(struct fig *f, double x, double y, double w, double h)
{
    int n = 0;
    enum event_train role[TRAINS];
    for (int t = 0; t < TRAINS; t++) {
        const struct train *tr = &f->clock->train[t];
        bool own = t == TRAIN_GOING || (tr->control != CONTROL_NONE && tr->shares < 0);
        if (own && (t == TRAIN_GOING || tr->power.drive != DRIVE_NONE))
            role[n++] = (enum event_train)t;
    }
    double each = w / (n > 0 ? n : 1), scale = each / 122;
    scale = scale > h / 440 ? h / 440 : scale;
    for (int i = 0; i < n; i++) {
        canvas_push(f->c, x + each * i + (each - 122 * scale) / 2, y, scale);
        f->train = (int)role[i];
        fig_train(f, role[i], 122, (h - 30) / scale);
        canvas_pop(f->c);
    }
    f->train = -1;
    fig_part(f, PART_NONE);
    canvas_push(f->c, x, y, 1);
    fig_caption(f, w / 2, h - 12, n > 1 ? "The trains" : "The train");
    canvas_pop(f->c);
}

static void sounders_box(struct fig *f, double x, double y, double w, double h)
{
    double natural = 56.0 * f->clock->sounders + 40;
    double scale = w / natural > h / 260 ? h / 260 : w / natural;
    scale = scale > 1.7 ? 1.7 : scale;
    canvas_push(f->c, x, y, scale);
    fig_sounders(f, w / scale, (h - 46) / scale);
    canvas_pop(f->c);
    fig_part(f, PART_NONE);
    canvas_push(f->c, x, y, 1);
    fig_caption(f, w / 2, h - 12, f->clock->sounders > 1 ? "Hammers and sounders" : "Hammer and sounder");
    canvas_pop(f->c);
}

static void compose_chime(struct fig *f)
{
    dial_and_caption(f, 6, 14, 352);
    strike_work(f, 376, 12, 0.84);
    canvas_push(f->c, 796, 20, 0.84);
    f->train = TRAIN_CHIME;
    fig_chime_work(f);
    f->train = -1;
    fig_part(f, PART_NONE);
    fig_caption(f, 230, 456, "Quarter work and drum");
    canvas_pop(f->c);
    trains_row(f, 0, 424, 520, 372);
    sounders_box(f, 530, 424, 664, 372);
}

static void compose_plain(struct fig *f)
{
    dial_and_caption(f, 6, 14, 380);
    strike_work(f, 412, 96, 1.16);
    trains_row(f, 944, 22, 250, 774);
    sounders_box(f, 6, 452, 380, 344);
}

void plate_draw(struct plate *p, struct canvas *c, double x, double y, double scale)
{
    struct fig f = {.plate = p, .c = c, .clock = p->clock, .pose = &p->pose, .part = PART_NONE,
                    .train = -1, .sounder = -1};
    p->places = 0;
    canvas_push(c, x, y, scale);
    if (p->clock->train[TRAIN_CHIME].control != CONTROL_NONE)
        compose_chime(&f);
    else
        compose_plain(&f);
    canvas_pop(c);
    draw_flags(p, c);
}

void plate_draw_dial(struct plate *p, struct canvas *c, double x, double y, double size)
{
    struct fig f = {.plate = p, .c = c, .clock = p->clock, .pose = &p->pose, .part = PART_NONE,
                    .train = -1, .sounder = -1};
    p->places = 0;
    canvas_push(c, x, y, 1);
    fig_dial(&f, size);
    canvas_pop(c);
}
