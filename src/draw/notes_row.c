#include "draw/notes_row.h"

#include <stdio.h>
#include <string.h>

/* ---- from events ---- */

static int bell_of(const struct train *t, int sounder)
{
    for (int i = 0; i < CLOCK_SOUNDERS; i++)
        if (t->hammer[i] == sounder)
            return i + 1;
    return 0;
}

void notes_of_events(struct notes *n, const struct clock *clock, const struct event_list *list,
                     int letoff)
{
    double last_s = -1e9;
    memset(n, 0, sizeof *n);
    for (size_t i = 0; i < list->count; i++) {
        const struct event *e = &list->at[i];
        if (e->letoff != letoff)
            continue;
        if (e->kind == EVENT_NOTE && n->count < NOTES_MOST)
            n->bell[n->count++] = (unsigned char)bell_of(&clock->train[e->train], e->sounder);
        if (e->kind == EVENT_BLOW && e->train == TRAIN_STRIKE && e->t_s - last_s > 0.02) {
            const struct train *t = &clock->train[TRAIN_STRIKE];
            double together = t->patterns > 0 && t->pattern[0].strokes > 1
                                  ? 0.5 * t->power.interval_s : 0.02;
            n->blows += e->t_s - last_s > together;
            last_s = e->t_s;
        }
        if (e->kind == EVENT_RUN_ON && e->train == TRAIN_STRIKE)
            n->blows = NOTES_RUN_ON;
    }
}

/* ---- matching ---- */

static bool same_bell(const struct notes *a, int i, const struct notes *b, int k)
{
    return a->bell[i] == b->bell[k] || a->bell[i] == 0 || b->bell[k] == 0;
}

/* Wagner and Fischer's table of edit distances, read back from the end. */
size_t notes_match(const struct notes *due, const struct notes *heard, struct note_match *match)
{
    static _Thread_local unsigned char cost[NOTES_MOST + 1][NOTES_MOST + 1];
    int n = due->count, m = heard->count;
    size_t total = 0;
    for (int i = 0; i <= n; i++)
        for (int k = 0; k <= m; k++) {
            int best = i + k;
            if (i > 0 && k > 0) {
                int swap = cost[i - 1][k - 1] + !same_bell(due, i - 1, heard, k - 1);
                int drop = cost[i - 1][k] + 1, add = cost[i][k - 1] + 1;
                best = swap <= drop && swap <= add ? swap : drop < add ? drop : add;
            }
            cost[i][k] = (unsigned char)best;
        }
    for (int i = n, k = m; i > 0 || k > 0;) {
        struct note_match *x = &match[total++];
        if (i > 0 && k > 0 &&
            cost[i][k] == cost[i - 1][k - 1] + !same_bell(due, i - 1, heard, k - 1)) {
            bool same = same_bell(due, i - 1, heard, k - 1);
            *x = (struct note_match){--i, --k, same ? NOTE_SAME : NOTE_CHANGED};
        } else if (i > 0 && cost[i][k] == cost[i - 1][k] + 1) {
            *x = (struct note_match){--i, -1, NOTE_MISSING};
        } else {
            *x = (struct note_match){-1, --k, NOTE_ADDED};
        }
    }
    for (size_t a = 0; a < total / 2; a++) {
        struct note_match swap = match[a];
        match[a] = match[total - 1 - a];
        match[total - 1 - a] = swap;
    }
    return total;
}

bool notes_differ(const struct notes *due, const struct notes *heard)
{
    struct note_match match[2 * NOTES_MOST];
    if (!heard->strike_unsaid && due->blows != heard->blows)
        return true;
    if (heard->chime_unsaid)
        return false;
    size_t n = notes_match(due, heard, match);
    for (size_t i = 0; i < n; i++)
        if (match[i].fate != NOTE_SAME)
            return true;
    return false;
}

/* ---- drawing ---- */

struct staff {
    struct canvas *c;
    double x, top, gap; /* first note's place, line of bell 1, distance of lines */
    int bells;
    double step;
};

static double line_of(const struct staff *s, int bell)
{
    return bell > 0 ? s->top + (bell - 1) * s->gap : s->top + (s->bells - 1) * s->gap / 2;
}

static void staff_lines(const struct staff *s, double x0, double x1)
{
    for (int b = 1; b <= s->bells; b++)
        canvas_rule(s->c, x0, line_of(s, b), x1, line_of(s, b), TONE_FAINT, WEIGHT_HAIR);
}

static void head(const struct staff *s, double x, int bell, bool filled, bool odd)
{
    double y = line_of(s, bell), r = s->gap * 0.46;
    enum tone edge = odd ? TONE_ACCENT : TONE_INK;
    r = r > 4.6 ? 4.6 : r < 3 ? 3 : r;
    canvas_begin(s->c);
    canvas_arc(s->c, x, y, r, 0, 360);
    canvas_fill(s->c, filled ? edge : TONE_CARD, 1);
    canvas_stroke(s->c, edge, odd ? WEIGHT_BOLD : WEIGHT_LINE);
}

/* The mark that tells the kind of difference without colour. */
static void fate_mark(const struct staff *s, double x, double y, enum note_fate fate)
{
    const double a = 4;
    if (fate == NOTE_MISSING) {
        canvas_rule(s->c, x - a, y - a, x + a, y + a, TONE_ACCENT, WEIGHT_BOLD);
        canvas_rule(s->c, x - a, y + a, x + a, y - a, TONE_ACCENT, WEIGHT_BOLD);
    } else if (fate == NOTE_ADDED) {
        canvas_rule(s->c, x - a, y, x + a, y, TONE_ACCENT, WEIGHT_BOLD);
        canvas_rule(s->c, x, y - a, x, y + a, TONE_ACCENT, WEIGHT_BOLD);
    } else if (fate == NOTE_CHANGED) {
        canvas_rule(s->c, x - a, y - 2, x + a, y - 2, TONE_ACCENT, WEIGHT_BOLD);
        canvas_rule(s->c, x - a, y + 2, x + a, y + 2, TONE_ACCENT, WEIGHT_BOLD);
    }
}

/* Blows as strokes, every fifth laid across, with the number behind. */
static double blows_draw(struct canvas *c, double x, double y, int blows, int against, bool hollow)
{
    bool endless = blows >= NOTES_RUN_ON;
    int shown = endless ? 14 : blows > 24 ? 24 : blows;
    double step = 8;
    for (int i = 0; i < shown; i++) {
        bool odd = against >= 0 && (i >= against || (endless && i >= against));
        double bx = x + i * step + (i / 5) * 5;
        canvas_rule(c, bx, y - 9, bx, y + 9, odd ? TONE_ACCENT : TONE_INK,
                    odd ? WEIGHT_HEAVY : hollow ? WEIGHT_LINE : WEIGHT_BOLD);
    }
    double end = x + shown * step + (shown > 0 ? (shown - 1) / 5 : 0) * 5;
    char n[24];
    if (endless)
        snprintf(n, sizeof n, "\xe2\x80\xa6 runs on");
    else if (blows > 0)
        snprintf(n, sizeof n, "%d", blows);
    else
        snprintf(n, sizeof n, "none");
    double h = canvas_line_height(c, TYPE_UI_BOLD);
    bool odd = against >= 0 && against != blows;
    canvas_text(c, end + 5, y - h / 2, TYPE_UI_BOLD, odd ? TONE_ACCENT : TONE_INK, ALIGN_LEFT, n);
    return end;
}

/* Missing blows: gaps with crosses where they should have been. */
static void blows_missing(struct canvas *c, double x, double y, int heard, int due)
{
    const double a = 3;
    for (int i = heard; i < due && i < 24; i++) {
        double bx = x + i * 8 + (i / 5) * 5 + 26;
        canvas_rule(c, bx - a, y - a, bx + a, y + a, TONE_ACCENT, WEIGHT_BOLD);
        canvas_rule(c, bx - a, y + a, bx + a, y - a, TONE_ACCENT, WEIGHT_BOLD);
    }
}

static void chime_rows(struct staff *up, struct staff *down, const struct notes *due,
                       const struct notes *heard)
{
    struct note_match match[2 * NOTES_MOST];
    bool compare = heard && !heard->chime_unsaid;
    struct notes same = *due;
    size_t n = notes_match(due, compare ? heard : &same, match);
    for (size_t i = 0; i < n; i++) {
        double x = up->x + (double)i * up->step;
        bool odd = compare && match[i].fate != NOTE_SAME;
        if (match[i].due >= 0)
            head(up, x, due->bell[match[i].due], false, false);
        if (compare && match[i].heard >= 0)
            head(down, x, heard->bell[match[i].heard], true, odd);
        if (odd && match[i].fate == NOTE_MISSING)
            fate_mark(down, x, line_of(down, due->bell[match[i].due]), NOTE_MISSING);
        else if (odd)
            fate_mark(down, x, down->top + (down->bells - 0.2) * down->gap + 4, match[i].fate);
    }
}

static void strike_rows(struct canvas *c, double x, double up, double down,
                        const struct notes *due, const struct notes *heard)
{
    if (!due->strike_unsaid)
        blows_draw(c, x, up, due->blows, -1, true);
    if (!heard || heard->strike_unsaid)
        return;
    blows_draw(c, x, down, heard->blows, due->strike_unsaid ? -1 : due->blows, false);
    if (!due->strike_unsaid && heard->blows < due->blows)
        blows_missing(c, x, down, heard->blows, due->blows);
}

double notes_row_draw(struct canvas *c, double x, double y, double width, int bells,
                      const struct notes *due, const struct notes *heard)
{
    double label = canvas_text_width(c, TYPE_LABEL, "HEARD") + 16, lh = canvas_line_height(c, TYPE_LABEL);
    int longest = heard && heard->count > due->count ? heard->count : due->count;
    bool chime = longest > 0;
    double gap = bells > 6 ? 6 : 9, staff_h = chime ? gap * (bells - 1) : 0;
    double row = (staff_h < 20 ? 20 : staff_h) + 18;
    bool strike = !due->strike_unsaid || (heard && !heard->strike_unsaid);
    double room = width - label - (strike ? 170 : 0) - 10;
    double step = longest > 1 ? room / longest : 18;
    step = step > 17 ? 17 : step;
    struct staff up = {c, x + label + 8, y + (row - staff_h) / 2, gap, bells, step}, down = up;
    down.top += row;
    canvas_text(c, x, y + row / 2 - lh / 2, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "DUE");
    canvas_text(c, x, y + row * 1.5 - lh / 2, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, "HEARD");
    double after = x + label;
    if (chime) {
        after = up.x + longest * step + 18;
        staff_lines(&up, x + label, after - 16);
        if (!heard || !heard->chime_unsaid)
            staff_lines(&down, x + label, after - 16);
        chime_rows(&up, &down, due, heard);
    }
    strike_rows(c, after + 4, y + row / 2, y + row * 1.5, due, heard);
    if (heard && heard->chime_unsaid && heard->strike_unsaid)
        canvas_text(c, x + label, y + row * 1.5 - lh / 2, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT,
                    "nothing told yet");
    return 2 * row + (chime ? 10 : 2);
}
