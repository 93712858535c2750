#include "command/play_picture.h"

#include <stdio.h>

#include "command/picture_file.h"
#include "draw/notes_row.h"
#include "draw/type_case.h"

#define WIDTH 720.0
#define MARGIN 36.0
#define TIME_WIDTH 70.0
#define GAP 16.0
#define SAME_MIN 14 /* a sounding so near belongs to the let-off that was due */

/* Serial number and hands of each let-off of a run. */
struct letoffs {
    int serial[PLAY_PICTURE_ROWS], hand_min[PLAY_PICTURE_ROWS], count;
    bool more;
};

static void take(struct letoffs *l, const struct event_list *events)
{
    for (size_t i = 0; i < events->count; i++) {
        const struct event *e = &events->at[i];
        if (e->letoff < 0 || (l->count && l->serial[l->count - 1] == e->letoff))
            continue;
        if (l->count == PLAY_PICTURE_ROWS) {
            l->more = true;
            return;
        }
        l->serial[l->count] = e->letoff;
        l->hand_min[l->count++] = e->hand_min;
    }
    for (int i = 0; i < l->count; i++) /* the hands at the first sound, if there is one */
        for (size_t k = events->count; k-- > 0;)
            if (events->at[k].letoff == l->serial[i] && event_sounds(&events->at[k]))
                l->hand_min[i] = events->at[k].hand_min;
}

static int bells_of(const struct clock *c)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    return t->tunes ? t->tune[0]->bells : t->control ? 1 : 0;
}

static int partner(const struct letoffs *due, int hand_min)
{
    for (int i = 0; i < due->count; i++) {
        int apart = (due->hand_min[i] - hand_min + 2160) % 1440 - 720;
        if (apart <= SAME_MIN && apart >= -SAME_MIN)
            return i;
    }
    return -1;
}

static double draw_row(struct canvas *c, double y, const struct clock *clock, int hand_min,
                       const struct notes *due, const struct notes *sounded)
{
    char at[16];
    snprintf(at, sizeof at, "%d:%02d", hand_min / 60, hand_min % 60);
    canvas_text(c, MARGIN, y + 4, TYPE_NUMERAL, notes_differ(due, sounded) ? TONE_ACCENT : TONE_INK,
                ALIGN_LEFT, at);
    double h = notes_row_draw(c, MARGIN + TIME_WIDTH, y, WIDTH - 2 * MARGIN - TIME_WIDTH,
                              bells_of(clock), due, sounded);
    return h + GAP;
}

static double draw_head(struct canvas *c, const struct clock *clock, const char *under)
{
    double y = MARGIN;
    canvas_text_fit(c, MARGIN, y, WIDTH - 2 * MARGIN, TYPE_TITLE, TONE_INK, ALIGN_LEFT, clock->name);
    y += canvas_line_height(c, TYPE_TITLE) + 4;
    y += canvas_paragraph(c, MARGIN, y, WIDTH - 2 * MARGIN, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, under);
    canvas_rule(c, MARGIN, y + 8, WIDTH - MARGIN, y + 8, TONE_FAINT, WEIGHT_FINE);
    return y + 24;
}

static double draw_all(struct canvas *c, const struct clock *clock, const char *under,
                       const struct event_list *due, const struct event_list *sounded)
{
    struct letoffs a = {.count = 0}, b = {.count = 0};
    double y = draw_head(c, clock, under);
    take(&a, due);
    take(&b, sounded);
    for (int i = 0; i < b.count; i++) {
        struct notes should = {.count = 0}, does = {.count = 0};
        int at = partner(&a, b.hand_min[i]);
        if (at >= 0)
            notes_of_events(&should, clock, due, a.serial[at]);
        notes_of_events(&does, clock, sounded, b.serial[i]);
        y += draw_row(c, y, clock, b.hand_min[i], &should, &does);
    }
    if (a.more || b.more) {
        canvas_text(c, MARGIN, y, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, "There were more let-offs than are drawn here.");
        y += canvas_line_height(c, TYPE_SMALL);
    }
    return y + MARGIN;
}

bool play_picture(const struct clock *clock, const char *under, const struct event_list *due,
                  const struct event_list *sounded, const char *path, struct err *e)
{
    struct type_case *types = type_case_new(e);
    struct ink ink = {0};
    struct canvas trial, c;
    if (!types)
        return false;
    canvas_init(&trial, types, &ink, WIDTH, 10000);
    double height = draw_all(&trial, clock, under, due, sounded); /* how tall it comes out */
    canvas_init(&c, types, &ink, WIDTH, height);
    canvas_box(&c, 0, 0, WIDTH, height, 0, TONE_PAPER, TONE_PAPER, WEIGHT_HAIR);
    draw_all(&c, clock, under, due, sounded);
    bool good = picture_write(&c, clock->name, path, e);
    canvas_release(&trial);
    canvas_release(&c);
    type_case_free(types);
    return good;
}
