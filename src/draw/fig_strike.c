/* fig_strike.c - the strike work: rack and snail, count wheel, or a passing hammer.
 *
 * Rack and snail.  The rack turns on its post; its tail rests on the snail.  Letting it fall by k
 * teeth turns it by k * PITCH_DEG, which carries the tail tip along a circle about the post.  The
 * snail is drawn from that same geometry: the radius of the step for k is the distance of the tip
 * from the snail's centre with the rack down k teeth, and a step stands under the tip at the angle
 * where the tip then is.  So on the plate, as in brass, the tail touches whatever hour it is.
 */
#include <math.h>
#include <stdio.h>

#include "draw/plate_priv.h"

#define PITCH_DEG 2.7
static const struct pt post = {195, 300};   /* of the rack */
static const struct pt centre = {303, 232}; /* of the motion work */
static const double sector_r = 170, tail_r = 106, tail_deg = 96;
static const double gather_deg = -13;       /* where the pallet works, seen from the post */

static struct pt tail_tip(double teeth)
{
    return polar(post.x, post.y, tail_r, tail_deg - teeth * PITCH_DEG);
}

static double step_radius(double teeth)
{
    struct pt t = tail_tip(teeth);
    return hypot(t.x - centre.x, t.y - centre.y);
}

static double contact_deg(double teeth)
{
    struct pt t = tail_tip(teeth);
    return atan2(t.x - centre.x, -(t.y - centre.y)) * (180 / M_PI);
}

static void snail_outline(struct canvas *c, const struct snail *s, double turn_deg)
{
    double part = 360.0 / s->steps;
    canvas_begin(c);
    for (int i = 0; i < s->steps; i++) {
        double r = step_radius(s->teeth[i]);
        double from = turn_deg + contact_deg(s->teeth[i]) - (i + 1) * part;
        canvas_arc(c, centre.x, centre.y, r, from + part, from);
    }
    canvas_close(c);
}

/* Which of the train's snails turns with the hours, or the first. */
static const struct snail *hour_snail(const struct train *t)
{
    for (int i = 0; i < t->snails; i++)
        if (t->snail[i].turn_min >= 720)
            return &t->snail[i];
    return t->snails > 0 ? &t->snail[0] : NULL;
}

static void motion_work(struct fig *f)
{
    const struct plate_pose *p = f->pose;
    const struct snail *s = hour_snail(&f->clock->train[TRAIN_STRIKE]);
    fig_part(f, PART_MOTION_WORK);
    fig_wheel(f, centre.x, centre.y, 82, 72, p->work_min * 0.5, 0);
    fig_part(f, PART_SNAIL);
    if (s) {
        double turn = (p->work_min + s->lead_min) / s->turn_min * 360;
        snail_outline(f->c, s, turn);
        fig_solid(f, 0.3);
        fig_place(f, centre.x, centre.y, centre.x, centre.y, 58);
    }
    fig_part(f, PART_MOTION_WORK);
    fig_disc(f, centre.x, centre.y, 12, 0);
    fig_disc(f, centre.x, centre.y, 6, 0.6);
}

/* The wheel that carries the lobes; one turn in a lobe period. */
static void lobe_wheel(struct fig *f, double x, double y, double r, double tip_deg)
{
    const struct clock *k = f->clock;
    double period = k->lobe_period_min > 0 ? k->lobe_period_min : 60;
    double turn = -f->pose->work_min / period * 360;
    fig_part(f, PART_MOTION_WORK);
    fig_wheel(f, x, y, r, 36, turn, 4);
    fig_part(f, PART_LIFTING_PIECE);
    for (int i = 0; i < k->lobes; i++) {
        double deg = tip_deg + turn + k->lobe[i].minute / period * 360;
        struct pt pin = polar(x, y, r * 0.72, deg);
        fig_disc(f, pin.x, pin.y, k->lobe[i].tall ? 6.5 : 4.6, 0.7);
    }
}

static void warning_wheel(struct fig *f, double x, double y, double r, enum event_train role)
{
    double turns = train_turns_per_blow(&f->clock->train[role],
                                        f->clock->train[role].warning_on);
    double deg = 218 + f->pose->turned[role] * (turns > 0 ? turns : 4) * 360;
    fig_part(f, PART_WARNING);
    fig_wheel(f, x, y, r, 0, deg, 4);
    struct pt pin = polar(x, y, r * 0.74, deg);
    fig_disc(f, pin.x, pin.y, 3.8, 0.9);
}

/* ---- rack ---- */

static void trace_sector(struct canvas *c, double first_deg, int teeth)
{
    double last = first_deg + teeth * PITCH_DEG + 3;
    canvas_begin(c);
    canvas_arc(c, post.x, post.y, sector_r - 22, last, first_deg - 5);
    struct pt p = polar(post.x, post.y, sector_r, first_deg - 5);
    canvas_line_to(c, p.x, p.y);
    for (int i = 0; i < teeth; i++) {
        struct pt root = polar(post.x, post.y, sector_r - 7, first_deg + i * PITCH_DEG);
        struct pt tip = polar(post.x, post.y, sector_r, first_deg + i * PITCH_DEG + 0.5);
        struct pt back = polar(post.x, post.y, sector_r - 7, first_deg + (i + 0.95) * PITCH_DEG);
        canvas_line_to(c, root.x, root.y);
        canvas_line_to(c, tip.x, tip.y);
        canvas_line_to(c, back.x, back.y);
    }
    p = polar(post.x, post.y, sector_r - 7, last);
    canvas_line_to(c, p.x, p.y);
    canvas_close(c);
}

static void rack(struct fig *f)
{
    const struct train *t = &f->clock->train[TRAIN_STRIKE];
    int teeth = (t->rack_teeth > 0 ? t->rack_teeth : 12) + 2;
    double first = gather_deg - f->pose->rack * PITCH_DEG;
    double mid = first + teeth * PITCH_DEG * 0.42;
    struct pt top = polar(post.x, post.y, sector_r - 18, mid);
    fig_part(f, PART_RACK);
    fig_lever(f, post.x, post.y, 20, top.x, top.y, 13);
    trace_sector(f->c, first, teeth);
    fig_solid(f, 0.25);
    struct pt a = polar(post.x, post.y, sector_r - 10, first);
    struct pt b = polar(post.x, post.y, sector_r - 10, first + teeth * PITCH_DEG);
    fig_place(f, a.x, a.y, b.x, b.y, 12);
    fig_part(f, PART_LOCKING_PIN);
    struct pt pin = polar(post.x, post.y, sector_r - 14, first - 3);
    fig_disc(f, pin.x, pin.y, 4, 0.9);
}

static void tail(struct fig *f)
{
    struct pt tip = tail_tip(f->pose->rack);
    bool sprung = f->clock->train[TRAIN_STRIKE].sprung_tail;
    fig_part(f, PART_RACK_TAIL);
    fig_lever(f, post.x, post.y, 17, tip.x, tip.y, sprung ? 5 : 8);
    fig_disc(f, tip.x, tip.y, 4.5, 0.8);
    fig_part(f, PART_RACK);
    fig_disc(f, post.x, post.y, 13, 0);
    fig_pivot(f, post.x, post.y, 7);
    fig_part(f, PART_RETURN_SPRING);
    fig_spring(f, post.x - 60, post.y + 62, post.x - 9, post.y + 10, 6, 3.5);
    fig_part(f, PART_NONE);
    fig_pivot(f, post.x - 60, post.y + 62, 4);
}

static void pallet(struct fig *f)
{
    struct pt g = polar(post.x, post.y, sector_r + 13, gather_deg);
    double deg = 168 + f->pose->turned[TRAIN_STRIKE] * 360;
    struct pt nose = polar(g.x, g.y, 17, deg), back = polar(g.x, g.y, 30, deg + 185);
    fig_part(f, PART_GATHERING_PALLET);
    if (f->clock->train[TRAIN_STRIKE].lock == LOCK_PALLET)
        fig_lever(f, g.x, g.y, 10, back.x, back.y, 5);
    fig_lever(f, g.x, g.y, 12, nose.x, nose.y, 5);
    fig_disc(f, g.x, g.y, 8, 0);
    fig_pivot(f, g.x, g.y, 4);
}

static void hook(struct fig *f, double lift)
{
    const struct pt stud = {338, 96};
    struct pt beak = polar(post.x, post.y, sector_r + 3, gather_deg + 13.5);
    struct pt knee = {beak.x + 9, beak.y - 14};
    double up = f->pose->hook * 2.2 + lift * 4.5;
    beak = turned(beak, stud.x, stud.y, up);
    knee = turned(knee, stud.x, stud.y, up);
    fig_part(f, PART_RACK_HOOK);
    fig_lever(f, knee.x, knee.y, 9, beak.x, beak.y, 3.5);
    fig_lever(f, stud.x, stud.y, 15, knee.x, knee.y, 9);
    fig_disc(f, stud.x, stud.y, 10, 0);
    fig_pivot(f, stud.x, stud.y, 5);
}

static void lifting_piece(struct fig *f, double lift)
{
    const struct pt stud = {432, 226};
    struct pt low = turned((struct pt){369, 296}, stud.x, stud.y, lift * 4.5);
    struct pt up = turned((struct pt){288, 126}, stud.x, stud.y, lift * 4.5);
    struct pt stop = turned((struct pt){398, 108}, stud.x, stud.y, lift * 4.5);
    fig_part(f, PART_LIFTING_PIECE);
    fig_lever(f, stud.x, stud.y, 15, stop.x, stop.y, 7);
    fig_lever(f, stud.x, stud.y, 17, up.x, up.y, 8);
    fig_lever(f, stud.x, stud.y, 17, low.x, low.y, 8);
    fig_disc(f, stop.x, stop.y, 6, 0.7);
    fig_disc(f, stud.x, stud.y, 11, 0);
    fig_pivot(f, stud.x, stud.y, 5.5);
}

void fig_rack_work(struct fig *f)
{
    double lift = f->pose->lift[TRAIN_STRIKE];
    warning_wheel(f, 424, 66, 34, TRAIN_STRIKE);
    lobe_wheel(f, 392, 330, 46, 315);
    motion_work(f);
    rack(f);
    tail(f);
    pallet(f);
    hook(f, lift);
    lifting_piece(f, lift);
}

/* ---- count wheel ---- */

static const struct pt count_at = {196, 196};
#define COUNT_R 122.0
#define SLOT_DEPTH 15.0

static int counts_in(const struct train *t)
{
    int sum = 0;
    for (int i = 0; i < t->entries; i++)
        sum += t->entry[i];
    return sum > 0 ? sum : 1;
}

/* The slot after each entry takes the place of the last blow's gap. */
static void trace_count_wheel(struct canvas *c, const struct train *t, struct pt at, double r,
                              double depth, double turn_deg)
{
    double each = 360.0 / counts_in(t), deg = turn_deg, gap = each * 0.62;
    gap = gap > 5 ? 5 : gap;
    canvas_begin(c);
    for (int i = 0; i < t->entries; i++) {
        double end = deg + t->entry[i] * each;
        canvas_arc(c, at.x, at.y, r, deg + gap / 2, end - gap / 2);
        canvas_arc(c, at.x, at.y, r - depth, end - gap / 2 + 0.3, end + gap / 2 - 0.3);
        deg = end;
    }
    canvas_close(c);
}

static void count_numbers(struct canvas *c, const struct train *t, double turn_deg)
{
    double each = 360.0 / counts_in(t), deg = turn_deg;
    for (int i = 0; i < t->entries; i++) {
        char n[8];
        double mid = deg + t->entry[i] * each / 2;
        struct pt p = polar(count_at.x, count_at.y, COUNT_R - 26, mid);
        snprintf(n, sizeof n, "%d", t->entry[i]);
        if (t->entry[i] > 1 || t->entries <= 12)
            canvas_text_turned(c, p.x, p.y, TYPE_SMALL, 15, TONE_SOFT, mid, n);
        deg += t->entry[i] * each;
    }
}

static void count_wheel(struct fig *f, const struct train *t)
{
    double turn = -f->pose->count * 360.0 / counts_in(t);
    fig_part(f, PART_COUNT_WHEEL);
    trace_count_wheel(f->c, t, count_at, COUNT_R, SLOT_DEPTH, turn);
    fig_solid(f, 0);
    fig_shadow(f, count_at.x, count_at.y, COUNT_R - 38, COUNT_R - SLOT_DEPTH);
    canvas_begin(f->c);
    canvas_arc(f->c, count_at.x, count_at.y, COUNT_R - 38, 0, 360);
    canvas_fill(f->c, TONE_PAPER, 1);
    fig_line(f, WEIGHT_HAIR);
    for (int i = 0; i < 4; i++) {
        struct pt a = polar(count_at.x, count_at.y, 14, turn + 45 + i * 90);
        struct pt b = polar(count_at.x, count_at.y, COUNT_R - 39, turn + 45 + i * 90);
        fig_lever(f, a.x, a.y, 13, b.x, b.y, 9);
    }
    fig_disc(f, count_at.x, count_at.y, 20, 0.15);
    fig_pivot(f, count_at.x, count_at.y, 6);
    count_numbers(f->c, t, turn);
    fig_place(f, count_at.x, count_at.y, count_at.x, count_at.y, COUNT_R);
}

static void hoop_wheel(struct fig *f, struct pt at, double r)
{
    double turn = f->pose->turned[TRAIN_STRIKE] * 360;
    fig_part(f, PART_LOCKING_PIN);
    canvas_begin(f->c);
    canvas_arc(f->c, at.x, at.y, r, turn + 17, turn + 343);
    canvas_arc(f->c, at.x, at.y, r - 11, turn + 345, turn + 375);
    canvas_close(f->c);
    fig_solid(f, 0.35);
    fig_place(f, at.x, at.y, at.x, at.y, r);
    fig_pivot(f, at.x, at.y, 6);
}

static void count_levers(struct fig *f, double up)
{
    const struct pt stud = {424, 92};
    double raise = 1 + up * 4.3;
    struct pt nose = turned((struct pt){count_at.x + 3, count_at.y - COUNT_R + 12}, stud.x, stud.y,
                            raise);
    struct pt bend = turned((struct pt){count_at.x + 10, count_at.y - COUNT_R - 26}, stud.x, stud.y,
                            raise);
    struct pt lock = turned((struct pt){386, 163}, stud.x, stud.y, raise * 1.6 - 1.6);
    fig_part(f, PART_COUNT_LEVER);
    fig_lever(f, bend.x, bend.y, 9, nose.x, nose.y, 5);
    fig_lever(f, stud.x, stud.y, 16, bend.x, bend.y, 9);
    fig_lever(f, stud.x, stud.y, 15, lock.x, lock.y, 7);
    fig_disc(f, stud.x, stud.y, 11, 0);
    fig_pivot(f, stud.x, stud.y, 5.5);
}

static void count_lifting(struct fig *f, double lift)
{
    const struct pt stud = {44, 366};
    double up = -lift * 2.2;
    struct pt end = turned((struct pt){372, 352}, stud.x, stud.y, up);
    struct pt lug = turned((struct pt){134, 378}, stud.x, stud.y, up);
    struct pt on = turned((struct pt){134, 360}, stud.x, stud.y, up);
    struct pt stop = turned((struct pt){391, 332}, stud.x, stud.y, up);
    fig_part(f, PART_LIFTING_PIECE);
    canvas_begin(f->c);
    canvas_move(f->c, end.x - 22, end.y);
    canvas_line_to(f->c, 353, 92 - lift * 6);
    fig_line(f, WEIGHT_LINE);
    fig_lever(f, on.x, on.y, 10, lug.x, lug.y, 7);
    fig_lever(f, end.x, end.y, 9, stop.x, stop.y, 6);
    fig_lever(f, stud.x, stud.y, 16, end.x, end.y, 8);
    fig_disc(f, stud.x, stud.y, 11, 0);
    fig_pivot(f, stud.x, stud.y, 5.5);
}

void fig_count_work(struct fig *f)
{
    const struct train *t = &f->clock->train[TRAIN_STRIKE];
    double lift = f->pose->lift[TRAIN_STRIKE];
    double up = f->pose->count_lever > lift ? f->pose->count_lever : lift;
    count_wheel(f, t);
    hoop_wheel(f, (struct pt){386, 207}, 46);
    warning_wheel(f, 422, 318, 36, TRAIN_STRIKE);
    lobe_wheel(f, 134, 412, 40, 0);
    count_lifting(f, lift);
    count_levers(f, up);
}

/* ---- a fixed run or a passing hammer ---- */

void fig_run_work(struct fig *f)
{
    double lift = f->pose->lift[TRAIN_STRIKE];
    const struct pt stud = {120, 150};
    struct pt end = turned((struct pt){250, 190}, stud.x, stud.y, -lift * 6);
    struct pt head = turned((struct pt){60, 60}, stud.x, stud.y, -lift * 6);
    fig_part(f, PART_MOTION_WORK);
    fig_wheel(f, 330, 250, 90, 72, f->pose->work_min * 0.5, 4);
    lobe_wheel(f, 250, 250, 56, 0);
    fig_part(f, PART_LIFTING_PIECE);
    fig_lever(f, stud.x, stud.y, 16, end.x, end.y, 8);
    fig_part(f, PART_HAMMER);
    fig_lever(f, stud.x, stud.y, 13, head.x, head.y, 7);
    fig_disc(f, head.x, head.y, 14, 0.5);
    fig_pivot(f, stud.x, stud.y, 6);
}

/* ---- chime ---- */

static void trace_quarter_wheel(struct canvas *c, const struct train *t, struct pt at, double r,
                                double turn_deg)
{
    trace_count_wheel(c, t, at, r, 13, turn_deg);
}

static void quarter_wheel(struct fig *f, const struct train *t, struct pt at, double r)
{
    double turn = -f->pose->quarter * 360.0 / counts_in(t);
    fig_part(f, PART_CHIME_COUNT_WHEEL);
    if (t->entries > 0)
        trace_quarter_wheel(f->c, t, at, r, turn);
    else {
        canvas_begin(f->c);
        canvas_arc(f->c, at.x, at.y, r, 0, 360);
    }
    fig_solid(f, 0);
    fig_shadow(f, at.x, at.y, r * 0.62, r - 13);
    fig_place(f, at.x, at.y, at.x, at.y, r);
    double deg = turn, each = 360.0 / counts_in(t);
    for (int i = 0; i < t->entries && t->entries <= 8; i++) {
        char n[8];
        struct pt p = polar(at.x, at.y, r * 0.46, deg + t->entry[i] * each / 2);
        snprintf(n, sizeof n, "%d", t->entry[i]);
        canvas_text_turned(f->c, p.x, p.y, TYPE_SMALL, 16, TONE_SOFT, deg + t->entry[i] * each / 2,
                           n);
        deg += t->entry[i] * each;
    }
    fig_disc(f, at.x, at.y, 14, 0.3);
    fig_pivot(f, at.x, at.y, 5);
}

static void quarter_lever(struct fig *f, struct pt at, double r)
{
    const struct pt stud = {250, 52};
    double lift = f->pose->lift[TRAIN_CHIME];
    double up = f->pose->quarter_lever > lift ? f->pose->quarter_lever : lift;
    struct pt nose = turned((struct pt){at.x + 2, at.y - r + 10}, stud.x, stud.y, 1 + up * 7);
    struct pt bend = turned((struct pt){at.x + 8, at.y - r - 22}, stud.x, stud.y, 1 + up * 7);
    fig_part(f, PART_COUNT_LEVER);
    fig_lever(f, bend.x, bend.y, 8, nose.x, nose.y, 5);
    fig_lever(f, stud.x, stud.y, 14, bend.x, bend.y, 8);
    fig_disc(f, stud.x, stud.y, 9, 0);
    fig_pivot(f, stud.x, stud.y, 4.5);
}

/* The cam of four lobes, one taller, and the lifting piece that rides on it. */
static void quarter_cam(struct fig *f, struct pt at)
{
    const struct clock *k = f->clock;
    double period = k->lobe_period_min > 0 ? k->lobe_period_min : 60;
    double turn = f->pose->work_min / period * 360;
    int n = k->lobes > 0 ? k->lobes : 1;
    fig_part(f, PART_MOTION_WORK);
    canvas_begin(f->c);
    for (int i = 0; i < n; i++) {
        double tip = turn + 270 - k->lobe[i].minute / period * 360, high = k->lobe[i].tall ? 48 : 40;
        struct pt low = polar(at.x, at.y, 22, tip - 4), top = polar(at.x, at.y, high, tip);
        struct pt shoulder = polar(at.x, at.y, high - 6, tip + 24);
        struct pt foot = polar(at.x, at.y, 22, tip + 360.0 / n - 12);
        canvas_line_to(f->c, low.x, low.y);
        canvas_line_to(f->c, top.x, top.y);
        canvas_line_to(f->c, shoulder.x, shoulder.y);
        canvas_line_to(f->c, foot.x, foot.y);
    }
    canvas_close(f->c);
    fig_solid(f, 0.3);
    fig_place(f, at.x, at.y, at.x, at.y, 42);
    fig_disc(f, at.x, at.y, 9, 0);
    fig_pivot(f, at.x, at.y, 4.5);
}

static void chime_lifting(struct fig *f)
{
    const struct pt stud = {262, 196};
    double up = f->pose->lift[TRAIN_CHIME] * 5;
    struct pt foot = turned((struct pt){312, 160}, stud.x, stud.y, up);
    struct pt top = turned((struct pt){228, 76}, stud.x, stud.y, up);
    fig_part(f, PART_LIFTING_PIECE);
    fig_lever(f, stud.x, stud.y, 14, top.x, top.y, 7);
    fig_lever(f, stud.x, stud.y, 15, foot.x, foot.y, 7);
    fig_disc(f, stud.x, stud.y, 9, 0);
    fig_pivot(f, stud.x, stud.y, 4.5);
}

static void corrector(struct fig *f, struct pt at, double r)
{
    const struct pt stud = {214, 236};
    double swing = (1 - f->pose->corrector) * 9;
    struct pt hook = turned((struct pt){at.x + r * 0.9, at.y + r * 0.42}, stud.x, stud.y, swing);
    struct pt arm = turned((struct pt){330, 214}, stud.x, stud.y, swing);
    fig_part(f, PART_CORRECTOR);
    fig_lever(f, stud.x, stud.y, 14, arm.x, arm.y, 7);
    fig_lever(f, stud.x, stud.y, 15, hook.x, hook.y, 6);
    fig_disc(f, hook.x, hook.y, 5.5, 0.7);
    fig_disc(f, stud.x, stud.y, 9, 0);
    fig_pivot(f, stud.x, stud.y, 4.5);
}

/* Pins on the near half of the drum, turned with it. */
static void drum_pins(struct fig *f, const struct tune *tune, double x, double y, double w,
                      double h)
{
    int bells = tune->bells > 0 ? tune->bells : 1;
    for (int i = 0; i < tune->notes; i++) {
        double around = (double)i / tune->notes, now = f->pose->drum / tune->changes;
        double a = (around - now) * 2 * M_PI;
        if (tune->note[i] <= 0 || cos(a) < -0.02)
            continue;
        double px = x + 14 + (w - 28) * (tune->note[i] - 0.5) / bells;
        double py = y + h / 2 - 8 + sin(a) * (h / 2 - 3);
        fig_disc(f, px, py, 2.6, 0.9);
    }
}

static void drum(struct fig *f, const struct train *t, double x, double y, double w, double h)
{
    int n = f->pose->tune < t->tunes ? f->pose->tune : 0;
    fig_part(f, PART_CHIME_DRUM);
    fig_bar(f, x - 26, y + h / 2 - 5, w + 52, 10, 2, 0.5);
    canvas_begin(f->c);
    canvas_rect(f->c, x, y, w, h, 5);
    fig_solid(f, 0);
    for (int i = 0; i < 9 && f->belief < PLATE_SUSPECT; i++) {
        double yy = y + h - 2 - i * i * 0.55;
        canvas_rule(f->c, x + 3, yy, x + w - 3, yy, TONE_INK, WEIGHT_HAIR);
    }
    fig_place(f, x + h / 2, y + h / 2, x + w - h / 2, y + h / 2, h / 2);
    if (t->tunes > 0 && t->tune[n])
        drum_pins(f, t->tune[n], x, y, w, h);
}

void fig_chime_work(struct fig *f)
{
    const struct train *t = &f->clock->train[TRAIN_CHIME];
    const struct pt at = {122, 150};
    const double r = 86;
    quarter_wheel(f, t, at, r);
    quarter_cam(f, (struct pt){360, 168});
    if (t->corrector)
        corrector(f, at, r);
    chime_lifting(f);
    quarter_lever(f, at, r);
    warning_wheel(f, 398, 62, 32, TRAIN_CHIME);
    if (t->tunes > 0)
        drum(f, t, 60, 284, 340, 82);
}
