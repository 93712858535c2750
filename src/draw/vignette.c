/* Each picture is drawn in a square of 100 by 100. */
#include "draw/vignette.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

static void line(struct canvas *c, double x1, double y1, double x2, double y2)
{
    canvas_rule(c, x1, y1, x2, y2, TONE_INK, WEIGHT_LINE);
}

static void thick(struct canvas *c, double x1, double y1, double x2, double y2)
{
    canvas_rule(c, x1, y1, x2, y2, TONE_INK, WEIGHT_HEAVY);
}

static void ring(struct canvas *c, double x, double y, double r)
{
    canvas_begin(c);
    canvas_arc(c, x, y, r, 0, 360);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void arc(struct canvas *c, double x, double y, double r, double from, double to)
{
    canvas_begin(c);
    canvas_arc(c, x, y, r, from, to);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void block(struct canvas *c, double x, double y, double w, double h, double angle)
{
    canvas_begin(c);
    canvas_rect(c, x, y, w, h, 2);
    canvas_fill(c, TONE_CARD, 1);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, angle, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void shape(struct canvas *c, const double (*xy)[2], size_t n, bool hatched)
{
    canvas_begin(c);
    canvas_polygon(c, xy, n);
    canvas_fill(c, TONE_CARD, 1);
    if (hatched)
        canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void ray(struct canvas *c, double x, double y, double r, double deg, bool heavy)
{
    double a = deg * (M_PI / 180), px = x + r * sin(a), py = y - r * cos(a);
    if (heavy)
        thick(c, x, y, px, py);
    else
        line(c, x, y, px, py);
}

static void dial(struct canvas *c)
{
    ring(c, 50, 50, 42);
    for (int i = 0; i < 12; i++) {
        double a = i * M_PI / 6;
        line(c, 50 + 34 * sin(a), 50 - 34 * cos(a), 50 + 39 * sin(a), 50 - 39 * cos(a));
    }
}

static void dial_and_hands(struct canvas *c)
{
    dial(c);
    ray(c, 50, 50, 20, 300, true);
    ray(c, 50, 50, 32, 50, false);
}

static void minute_hand(struct canvas *c)
{
    dial(c);
    ray(c, 50, 50, 33, 30, true);
}

static void hour_hand(struct canvas *c)
{
    dial(c);
    ray(c, 50, 50, 22, 300, true);
}

static void arrow_head(struct canvas *c, double x, double y, double deg)
{
    ray(c, x, y, 9, deg + 150, true);
    ray(c, x, y, 9, deg - 150, true);
}

static void hand_forward(struct canvas *c)
{
    minute_hand(c);
    arc(c, 50, 50, 24, 50, 140);
    arrow_head(c, 50 + 24 * sin(140 * M_PI / 180), 50 - 24 * cos(140 * M_PI / 180), 230);
}

static void hand_back(struct canvas *c)
{
    minute_hand(c);
    arc(c, 50, 50, 24, 250, 370);
    arrow_head(c, 50 + 24 * sin(250 * M_PI / 180), 50 - 24 * cos(250 * M_PI / 180), 160);
}

static void ear(struct canvas *c)
{
    canvas_begin(c);
    canvas_move(c, 34, 40);
    canvas_curve_to(c, 30, 8, 74, 8, 72, 40);
    canvas_curve_to(c, 71, 58, 56, 58, 56, 72);
    canvas_curve_to(c, 56, 92, 34, 92, 36, 72);
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
    canvas_begin(c);
    canvas_move(c, 45, 44);
    canvas_curve_to(c, 44, 24, 62, 24, 61, 40);
    canvas_curve_to(c, 60, 52, 48, 48, 49, 60);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    arc(c, 20, 42, 16, 240, 300);
    arc(c, 20, 42, 24, 240, 300);
}

static void weights(struct canvas *c)
{
    for (int i = 0; i < 3; i++) {
        double x = 22 + i * 28, y = 34 + (i == 1 ? 14 : i * 4);
        line(c, x, 6, x, y);
        block(c, x - 9, y, 18, 40, 90);
    }
}

static void key(struct canvas *c)
{
    ring(c, 36, 26, 15);
    ring(c, 64, 26, 15);
    line(c, 50, 36, 50, 88);
    block(c, 43, 70, 14, 20, 45);
}

static void hammer_at(struct canvas *c, double x)
{
    line(c, x, 84, x - 4, 34);
    block(c, x - 16, 22, 24, 13, 45);
}

static void hammers(struct canvas *c)
{
    for (int i = 0; i < 3; i++)
        hammer_at(c, 26 + i * 28);
}

static void tools(struct canvas *c)
{
    thick(c, 26, 84, 62, 40);
    ring(c, 70, 30, 14);
    line(c, 70, 16, 76, 30);
    line(c, 30, 20, 52, 46);
    thick(c, 56, 52, 78, 82);
}

static void calendar(struct canvas *c)
{
    block(c, 14, 20, 72, 14, 45);
    canvas_begin(c);
    canvas_rect(c, 14, 34, 72, 52, 2);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    for (int i = 1; i < 4; i++)
        line(c, 14 + i * 18, 34, 14 + i * 18, 86);
    line(c, 14, 52, 86, 52);
    line(c, 14, 69, 86, 69);
}

static void small_lever_dial(struct canvas *c)
{
    ring(c, 50, 54, 32);
    ray(c, 50, 54, 24, 305, true);
    line(c, 16, 20, 28, 30);
    line(c, 84, 20, 72, 30);
}

static void pendulum(struct canvas *c)
{
    line(c, 50, 8, 40, 66);
    block(c, 25, 62, 28, 28, 45);
    arc(c, 50, 8, 86, 172, 198);
}

static void oil(struct canvas *c)
{
    canvas_begin(c);
    canvas_move(c, 50, 12);
    canvas_curve_to(c, 66, 40, 74, 50, 74, 64);
    canvas_arc(c, 50, 64, 24, 90, 270);
    canvas_curve_to(c, 26, 50, 34, 40, 50, 12);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
}

static void cuckoo(struct canvas *c)
{
    const double roof[3][2] = {{50, 8}, {88, 42}, {12, 42}};
    shape(c, roof, 3, true);
    canvas_begin(c);
    canvas_rect(c, 22, 42, 56, 46, 0);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    ring(c, 50, 66, 15);
    block(c, 43, 24, 14, 14, 0);
}

static void clock_case(struct canvas *c)
{
    const double hood[5][2] = {{32, 18}, {50, 8}, {68, 18}, {68, 44}, {32, 44}};
    shape(c, hood, 5, false);
    ring(c, 50, 30, 9);
    block(c, 38, 44, 24, 34, 45);
    canvas_begin(c);
    canvas_rect(c, 32, 78, 36, 14, 0);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void house(struct canvas *c)
{
    const double roof[3][2] = {{50, 10}, {90, 44}, {10, 44}};
    shape(c, roof, 3, true);
    canvas_begin(c);
    canvas_rect(c, 20, 44, 60, 44, 0);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    block(c, 42, 62, 16, 26, 90);
}

static void room(struct canvas *c)
{
    line(c, 10, 84, 90, 84);
    line(c, 10, 84, 10, 14);
    block(c, 58, 44, 20, 40, 45);
    ring(c, 68, 54, 6);
    line(c, 22, 24, 42, 24);
    line(c, 22, 24, 22, 46);
    line(c, 42, 24, 42, 46);
    line(c, 22, 46, 42, 46);
}

static void uneven_floor(struct canvas *c)
{
    line(c, 8, 88, 92, 78);
    block(c, 36, 20, 28, 60, 45);
    ring(c, 50, 34, 9);
}

static void level(struct canvas *c)
{
    block(c, 10, 40, 80, 22, 0);
    canvas_disc(c, 54, 51, 6, TONE_CARD, TONE_INK, WEIGHT_LINE);
    line(c, 40, 40, 40, 62);
    line(c, 62, 40, 62, 62);
}

static void rack(struct canvas *c)
{
    canvas_begin(c);
    canvas_arc(c, 50, 92, 74, -34, 34);
    canvas_arc(c, 50, 92, 62, 34, -34);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    for (int i = -4; i <= 4; i++)
        ray(c, 50 + 74 * sin(i * 0.14), 92 - 74 * cos(i * 0.14), 7, i * 8, false);
    thick(c, 50, 92, 50, 32);
}

static void snail(struct canvas *c)
{
    canvas_begin(c);
    for (int i = 0; i < 12; i++)
        canvas_arc(c, 50, 50, 14 + i * 2.4, i * 30, i * 30 + 30);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    ring(c, 50, 50, 5);
}

static void count_wheel(struct canvas *c)
{
    static const double slot[] = {0, 22, 52, 92, 140, 200, 270};
    canvas_begin(c);
    for (int i = 0; i < 7; i++) {
        double end = i < 6 ? slot[i + 1] : 360;
        canvas_arc(c, 50, 50, 40, slot[i] + 4, end - 4);
        canvas_arc(c, 50, 50, 31, end - 4, end + 4);
    }
    canvas_close(c);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    ring(c, 50, 50, 8);
}

static void moon(struct canvas *c)
{
    canvas_begin(c);
    canvas_arc(c, 50, 50, 36, 20, 200);
    canvas_arc(c, 38, 46, 34, 185, 40);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    ray(c, 24, 26, 6, 0, false);
    ray(c, 24, 26, 6, 120, false);
    ray(c, 24, 26, 6, 240, false);
}

static void lever(struct canvas *c)
{
    canvas_begin(c);
    canvas_move(c, 10, 66);
    canvas_line_to(c, 78, 34);
    canvas_line_to(c, 90, 50);
    canvas_stroke(c, TONE_INK, WEIGHT_HEAVY);
    canvas_disc(c, 30, 57, 9, TONE_CARD, TONE_INK, WEIGHT_LINE);
}

static void gong(struct canvas *c)
{
    canvas_begin(c);
    for (int i = 0; i <= 110; i++) {
        double a = i * 0.2, r = 7 + 31.0 * i / 110;
        canvas_line_to(c, 44 + r * sin(a), 52 - r * cos(a));
    }
    canvas_stroke(c, TONE_INK, WEIGHT_BOLD);
    line(c, 92, 84, 84, 34);
    block(c, 78, 22, 16, 13, 45);
}

static void bell(struct canvas *c)
{
    canvas_begin(c);
    canvas_move(c, 14, 76);
    canvas_curve_to(c, 34, 60, 22, 18, 50, 16);
    canvas_curve_to(c, 78, 18, 66, 60, 86, 76);
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
    ring(c, 50, 84, 6);
}

static void rods(struct canvas *c)
{
    block(c, 12, 10, 76, 12, 45);
    for (int i = 0; i < 4; i++)
        thick(c, 24 + i * 17, 22, 24 + i * 17, 58 + i * 10);
}

static void cart(struct canvas *c)
{
    block(c, 12, 26, 54, 40, 45);
    const double cab[5][2] = {{66, 38}, {80, 38}, {90, 52}, {90, 66}, {66, 66}};
    shape(c, cab, 5, false);
    canvas_disc(c, 30, 70, 10, TONE_CARD, TONE_INK, WEIGHT_LINE);
    canvas_disc(c, 74, 70, 10, TONE_CARD, TONE_INK, WEIGHT_LINE);
}

static void music(struct canvas *c)
{
    thick(c, 36, 24, 36, 74);
    thick(c, 72, 16, 72, 66);
    thick(c, 36, 24, 72, 16);
    canvas_disc(c, 28, 76, 9, TONE_INK, TONE_INK, WEIGHT_FINE);
    canvas_disc(c, 64, 68, 9, TONE_INK, TONE_INK, WEIGHT_FINE);
}

static void fly(struct canvas *c)
{
    block(c, 10, 30, 80, 34, 45);
    thick(c, 50, 10, 50, 90);
}

static void drum(struct canvas *c)
{
    block(c, 14, 34, 72, 34, 0);
    line(c, 4, 51, 14, 51);
    line(c, 86, 51, 96, 51);
    for (int i = 0; i < 5; i++)
        canvas_disc(c, 24 + i * 13, 40 + (i * 7) % 22, 2.6, TONE_INK, TONE_INK, WEIGHT_FINE);
}

static void spring(struct canvas *c)
{
    ring(c, 50, 50, 42);
    canvas_begin(c);
    for (int i = 0; i <= 120; i++) {
        double a = i * 0.22, r = 6 + 32.0 * i / 120;
        canvas_line_to(c, 50 + r * sin(a), 50 - r * cos(a));
    }
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static void wheel(struct canvas *c, double x, double y, double r)
{
    ring(c, x, y, r);
    for (int i = 0; i < 12; i++) {
        double a = i * M_PI / 6;
        line(c, x + r * sin(a), y - r * cos(a), x + (r + 5) * sin(a), y - (r + 5) * cos(a));
    }
    ring(c, x, y, 4);
}

static void movement(struct canvas *c)
{
    wheel(c, 36, 60, 22);
    wheel(c, 68, 32, 15);
}

static void bellows(struct canvas *c)
{
    thick(c, 14, 80, 86, 80);
    thick(c, 14, 80, 84, 40);
    for (int i = 1; i < 4; i++)
        line(c, 14 + i * 22, 80, 14 + i * 20, 80 - i * 12);
    block(c, 66, 10, 16, 24, 90);
}

static void cam(struct canvas *c)
{
    canvas_begin(c);
    for (int i = 0; i < 4; i++) {
        canvas_arc(c, 50, 50, i == 0 ? 42 : 34, i * 90 - 6, i * 90 + 16);
        canvas_arc(c, 50, 50, 18, i * 90 + 40, i * 90 + 70);
    }
    canvas_close(c);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 5);
    canvas_stroke(c, TONE_INK, WEIGHT_LINE);
}

static const struct {
    const char *key;
    void (*draw)(struct canvas *c);
} rows[] = {
    {"ear", ear}, {"weights", weights}, {"key", key}, {"dial", dial_and_hands}, {"hammers", hammers},
    {"tools", tools}, {"calendar", calendar}, {"minute_hand", minute_hand}, {"silent_lever", small_lever_dial},
    {"pendulum", pendulum}, {"oil", oil}, {"hand_forward", hand_forward}, {"cuckoo", cuckoo},
    {"case", clock_case}, {"room", room}, {"rack", rack}, {"countwheel", count_wheel},
    {"selector", small_lever_dial}, {"moon", moon}, {"lever", lever}, {"hour_hand", hour_hand}, {"gong", gong},
    {"cart", cart}, {"music", music}, {"house", house}, {"hand_back", hand_back}, {"fly", fly}, {"drum", drum},
    {"level", level}, {"spring", spring}, {"rods", rods}, {"floor", uneven_floor}, {"snail", snail},
    {"movement", movement}, {"bellows", bellows}, {"cam", cam}, {"bell", bell},
};

static size_t row_of(const char *key)
{
    size_t i = 0, n = sizeof rows / sizeof *rows;
    while (i < n && (!key || strcmp(rows[i].key, key) != 0))
        i++;
    return i;
}

bool vignette_has(const char *key)
{
    return row_of(key) < sizeof rows / sizeof *rows;
}

bool vignette_draw(struct canvas *c, const char *key, double x, double y, double size)
{
    size_t i = row_of(key);
    if (i >= sizeof rows / sizeof *rows)
        return false;
    canvas_push(c, x, y, size / 100);
    rows[i].draw(c);
    canvas_pop(c);
    return true;
}
