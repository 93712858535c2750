/* fig_train.c - one train from its weight or spring up to the fly (or the pendulum).
 *
 * Wheels stand in a zigzag, each meshing with the pinion of the next; radii and speeds come from
 * the gear counts where the clock gives them.
 */
#include <math.h>
#include <stdio.h>

#include "draw/plate_priv.h"

#define TRAIN_WHEELS 8
struct stack {
    struct pt at[TRAIN_WHEELS];
    double r[TRAIN_WHEELS];
    int wheels;
};

static double wheel_radius(const struct arbor *a, int i, int n)
{
    if (a && a->wheel > 0)
        return 14 + 0.26 * a->wheel;
    return 40 - 20.0 * i / (n > 1 ? n - 1 : 1);
}

/* Wheels as large as height and width allow, meshing, swaying from side to side. */
static struct stack stack_of(const struct train *t, double x, double w, double bottom)
{
    struct stack s = {.wheels = t->arbors > 0 ? t->arbors : 4};
    double tall = 70, widest = 0;
    s.wheels = s.wheels > TRAIN_WHEELS ? TRAIN_WHEELS : s.wheels;
    for (int i = 0; i < s.wheels; i++) {
        double r = wheel_radius(t->arbors > 0 ? &t->arbor[i] : NULL, i, s.wheels);
        s.r[i] = r > 46 ? 46 : r < 13 ? 13 : r;
        tall += s.r[i] * (i == 0 ? 2 : 1.02);
        widest = s.r[i] > widest ? s.r[i] : widest;
    }
    double grow = (bottom - 40) / tall, room = (w - 22) / (2 * widest);
    grow = grow > room ? room : grow;
    grow = grow > 1.7 ? 1.7 : grow < 0.5 ? 0.5 : grow;
    double side = 9 * grow;
    for (int i = 0; i < s.wheels; i++) {
        s.r[i] *= grow;
        if (i == 0) {
            s.at[0] = (struct pt){x - side, bottom - s.r[0]};
            continue;
        }
        double reach = s.r[i - 1] + 6 * grow, dx = 2 * side;
        side = -side;
        s.at[i] = (struct pt){x - side, s.at[i - 1].y - sqrt(reach * reach - dx * dx)};
    }
    return s;
}

static double arbor_deg(const struct fig *f, const struct train *t, int i)
{
    double per = t->arbors > 0 ? train_turns_per_blow(t, i) : 0;
    static const double rough[TRAIN_WHEELS] = {0.01, 0.08, 0.5, 4, 8, 16, 16, 16};
    double turns = f->pose->turned[t->role] * (per > 0 ? per : rough[i]);
    return (i % 2 ? -1 : 1) * fmod(turns, 1) * 360;
}

static void wheels(struct fig *f, const struct train *t, const struct stack *s)
{
    for (int i = s->wheels - 1; i >= 0; i--) {
        const struct arbor *a = t->arbors > 0 ? &t->arbor[i] : NULL;
        bool top = i == s->wheels - 1 && i > 0;
        double deg = arbor_deg(f, t, i);
        fig_part(f, t->warning_on == i && i > 0 && t->arbors > 0 ? PART_WARNING : PART_PIVOTS);
        if (!(top && a && a->wheel == 0))
            fig_wheel(f, s->at[i].x, s->at[i].y, s->r[i], a ? a->wheel : 0, deg, i < 2 ? 5 : 4);
        if (t->pins_on == i && i > 0)
            for (int k = 0; k < t->pins && k < 16; k++) {
                struct pt p = polar(s->at[i].x, s->at[i].y, s->r[i] - 9, deg + k * 360.0 / t->pins);
                fig_disc(f, p.x, p.y, 2.6, 0.9);
            }
        fig_part(f, PART_PIVOTS);
        if (i > 0)
            fig_pinion(f, s->at[i].x, s->at[i].y, 7.5, a ? a->pinion : 8, -deg);
        fig_disc(f, s->at[i].x, s->at[i].y, 3, 0.8);
    }
}

/* The fly, seen along its vanes: it narrows as it turns. */
static void fly(struct fig *f, const struct train *t, struct pt at)
{
    double deg = fmod(f->pose->turned[t->role] * 9, 1) * 360;
    double wide = 5 + 31 * fabs(cos(deg * (M_PI / 180)));
    fig_part(f, PART_FLY);
    fig_bar(f, at.x - wide, at.y - 12, 2 * wide, 24, 1.5, 0.3);
    fig_bar(f, at.x - 2.5, at.y - 17, 5, 34, 1, 0.7);
}

static void escapement(struct fig *f, struct pt at, double r)
{
    double deg = f->pose->swing * 3.5;
    struct pt stud = {at.x, at.y - r - 20};
    fig_part(f, PART_BEAT);
    struct pt a = turned((struct pt){at.x - r * 0.8, at.y - r * 0.55}, stud.x, stud.y, deg);
    struct pt b = turned((struct pt){at.x + r * 0.8, at.y - r * 0.55}, stud.x, stud.y, deg);
    fig_lever(f, stud.x, stud.y, 8, a.x, a.y, 4.5);
    fig_lever(f, stud.x, stud.y, 8, b.x, b.y, 4.5);
    fig_pivot(f, stud.x, stud.y, 4);
}

static void pendulum(struct fig *f, double x, double y, double length)
{
    double deg = -f->pose->swing * 3.2;
    struct pt bob = polar(x, y, length, 180 + deg), end = polar(x, y, length + 24, 180 + deg);
    fig_part(f, PART_BEAT);
    canvas_begin(f->c);
    canvas_move(f->c, x, y);
    canvas_line_to(f->c, end.x, end.y);
    fig_line(f, WEIGHT_LINE);
    fig_place(f, x, y, end.x, end.y, 4);
    fig_disc(f, bob.x, bob.y, 19, 0.3);
    fig_disc(f, bob.x, bob.y, 13, 0);
}

static void hung_weight(struct fig *f, double x, double top, double bottom, double wound)
{
    double h = 62, y = top + 26 + (bottom - top - h - 26) * (1 - wound);
    fig_part(f, PART_CABLE);
    for (int i = -1; i <= 1; i += 2) {
        canvas_begin(f->c);
        canvas_move(f->c, x + i * 7, top);
        canvas_line_to(f->c, x + i * 7, y - 10);
        fig_line(f, WEIGHT_FINE);
    }
    fig_place(f, x, top, x, y - 12, 8);
    fig_disc(f, x, y - 10, 9, 0.2);
    fig_pivot(f, x, y - 10, 3);
    fig_part(f, PART_POWER);
    fig_weight(f, x, y, 30, h);
}

/* One line of wound-ness under a spring barrel. */
static void drive(struct fig *f, const struct train *t, const struct stack *s, double h)
{
    double wound = f->pose->wound[t->role];
    struct pt at = s->at[0];
    if (t->power.drive == DRIVE_WEIGHT) {
        fig_part(f, PART_CABLE);
        fig_disc(f, at.x, at.y, s->r[0] * 0.55, 0.4);
        hung_weight(f, at.x, at.y + s->r[0] * 0.5, h - 8, wound);
    } else if (t->power.drive == DRIVE_SPRING) {
        fig_part(f, PART_POWER);
        fig_barrel(f, at.x, at.y, s->r[0] + 4, wound);
    }
}

void fig_train(struct fig *f, enum event_train role, double w, double h)
{
    static const char *const names[TRAINS] = {"going", "strike", "chime", "music"};
    const struct train *t = &f->clock->train[role];
    bool weight = t->power.drive == DRIVE_WEIGHT;
    double bottom = h - (weight ? (h > 520 ? h * 0.36 : 118) : 40);
    struct stack s = stack_of(t, w / 2, w, bottom);
    int top = s.wheels - 1;
    drive(f, t, &s, h);
    if (role == TRAIN_GOING && !weight)
        pendulum(f, w / 2, s.at[top].y - s.r[top] - 20, (h - s.at[top].y) * 0.86);
    wheels(f, t, &s);
    if (t->power.drive == DRIVE_SPRING)
        drive(f, t, &s, h);
    if (role == TRAIN_GOING) {
        escapement(f, s.at[top], s.r[top]);
        if (weight)
            pendulum(f, w / 2 + w * 0.28, s.at[top].y - s.r[top] - 20, (h - s.at[top].y) * 0.8);
    } else {
        fly(f, t, (struct pt){w / 2, s.at[top].y - s.r[top] - 22});
    }
    fig_lettering(f, w / 2, s.at[top].y - s.r[top] - 52, ALIGN_CENTRE, names[role]);
}
