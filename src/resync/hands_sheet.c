#include "resync/hands_sheet.h"

#include <stdio.h>
#include <string.h>

#include "mem.h"

static const char *const titles[HANDS_PARTS] = {
    [HANDS_OFF] = "Hands off",
    [HANDS_FIND] = "Find the let-off with no hands fitted",
    [HANDS_ON] = "Hands on, then chime, then strike",
    [HANDS_PROVE] = "Prove it",
};

const char *hands_part_title(enum hands_part p)
{
    return titles[p];
}

struct maker {
    struct hands_sheet *sheet;
    struct reset r;
    const struct clock *c;
    struct stance at;
};

static char *owned(struct text *t)
{
    char *copy = t->length ? mem_copy_text(text_cstr(t)) : NULL;
    text_release(t);
    return copy;
}

static void add(struct maker *m, enum hands_part part, double minutes, struct text *text, struct text *hear,
                const char *caution)
{
    struct hands_sheet *s = m->sheet;
    s->step = mem_grow(s->step, &s->room, s->steps + 1, sizeof *s->step);
    s->step[s->steps++] = (struct hands_step){part, owned(text), hear ? owned(hear) : NULL,
                                              caution ? mem_copy_text(caution) : NULL, minutes};
}

static void say(struct maker *m, enum hands_part part, double minutes, const char *words, const char *caution)
{
    struct text t = {0};
    text_add(&t, words);
    add(m, part, minutes, &t, NULL, caution);
}

static bool go(struct maker *m, struct done *d)
{
    if (!deed_do(&m->r, &m->at, DEED_FORWARD, stance_ahead(m->c, &m->at), d))
        return false;
    m->at = d->to;
    return true;
}

static const char *dial(const struct maker *m, int min, char out[8])
{
    if (!m->c->dials_24)
        return text_dial(min, out);
    snprintf(out, 8, "%d:%02d", min / 60 % 24, min % 60);
    return out;
}

static int shown(const struct maker *m)
{
    return stance_shown(m->r.w, &m->at);
}

/* --- off -------------------------------------------------------------------------------------- */

/* Carry on to an hour that sounds: the one at which the hands come off. */
static void to_the_hour(struct maker *m)
{
    struct done d;
    struct text text = {0}, hear = {0};
    char when[8];
    double minutes = 0;
    for (int i = 0; i < 100 && go(m, &d); i++) {
        minutes += d.minutes;
        if (shown(m) % 60 == 0 && d.heard.blows)
            break;
    }
    text_addf(&text, "Carry the minute hand forward to %s, waiting at each let-off, and let it finish sounding.",
              dial(m, shown(m), when));
    rung_say(&d.heard, m->c, &hear);
    add(m, HANDS_OFF, minutes, &text, &hear,
        "Hands come off only when all is quiet: a rack still down or a train in warning is lost or jammed.");
}

static void look_at_warning(struct maker *m)
{
    struct text t = {0};
    char from[8], to[8];
    if (!m->c->warn_min)
        return;
    int next = shown(m) + stance_ahead(m->c, &m->at);
    text_addf(&t, "Leave the motion work between the let-off and %s: from there to %s the train stands in warning.",
              dial(m, next - m->c->warn_min - 1, from), dial(m, next % 1440, to));
    add(m, HANDS_OFF, 0.5, &t, NULL, NULL);
}

static void what_to_mark(struct maker *m)
{
    struct text t = {0};
    const struct clock *c = m->c;
    char when[8];
    text_addf(&t, "Write down that it stands just after %s", dial(m, shown(m), when));
    if (c->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL)
        text_addf(&t, ", and which slot of the count wheel the lever lies in");
    text_add(&t, ". ");
    if (c->minute_square && !c->minute_bush)
        text_add(&t, "Mark the side of the square that is up and the minute hand's boss to match: it goes on four "
                     "ways and three are wrong. ");
    else if (c->minute_bush)
        text_add(&t, "Mark the bush against the minute hand, so that it need not be turned again. ");
    text_add(&t, c->hour_hand_keyed ? "The hour hand is keyed; it goes on one way."
                                    : "The hour hand sits by friction on its pipe; no mark is needed, it goes to what "
                                      "is struck.");
    add(m, HANDS_OFF, 1, &t, NULL, NULL);
}

static void off(struct maker *m)
{
    to_the_hour(m);
    look_at_warning(m);
    what_to_mark(m);
    say(m, HANDS_OFF, 2, "Hold the minute hand by its boss, draw the pin or undo the nut, then lift off washer, minute hand "
                         "and hour hand, and lay them in a tin in this order.",
        "Do not lever against the dial, and do not turn the arbor with the hand.");
}

/* --- find -------------------------------------------------------------------------------------- */

static struct hands_row *row_of(struct hands_sheet *s, const struct rung *heard)
{
    for (size_t i = 0; i < s->rows; i++)
        if (rung_same(&s->row[i].heard, heard))
            return &s->row[i];
    s->row = mem_grow(s->row, &s->row_room, s->rows + 1, sizeof *s->row);
    s->row[s->rows] = (struct hands_row){.heard = *heard};
    return &s->row[s->rows++];
}

#define ROUND_MOST 200
/* One round of the clock in step: what each let-off sounds. */
static int hear_round(struct maker *m, struct rung heard[ROUND_MOST], int shown_min[ROUND_MOST])
{
    struct stance keep = m->at;
    int n = clock_letoffs(m->c) < ROUND_MOST ? clock_letoffs(m->c) : ROUND_MOST;
    for (int i = 0; i < n; i++) {
        struct done d;
        if (!go(m, &d))
            return i;
        heard[i] = d.heard;
        shown_min[i] = m->c->dials_24 ? shown(m) : shown(m) % 720;
    }
    m->at = keep;
    return n;
}

/* True if `run` let-offs heard from i on are like those from k on. */
static bool alike(const struct rung *heard, int n, int i, int k, int run)
{
    for (int j = 0; j < run; j++)
        if (!rung_same(&heard[(i + j) % n], &heard[(k + j) % n]))
            return false;
    return true;
}

/* Let-offs to be heard in a row until no two times of the dial fit, from the worst place. */
static int listen_to(const struct rung *heard, const int *shown_min, int n)
{
    for (int run = 1; run <= n; run++) {
        bool sure = true;
        for (int i = 0; sure && i < n; i++)
            for (int k = 0; sure && k < i; k++)
                sure = shown_min[i] == shown_min[k] || !alike(heard, n, i, k, run);
        if (sure)
            return run;
    }
    return 0;
}

static void add_time(struct hands_row *row, int shown_min)
{
    for (size_t i = 0; i < row->times; i++)
        if (row->shown_min[i] == shown_min)
            return;
    if (row->times < HANDS_TIMES)
        row->shown_min[row->times++] = shown_min;
}

static void what_goes_with_what(struct maker *m)
{
    struct rung heard[ROUND_MOST];
    int shown_min[ROUND_MOST];
    int n = hear_round(m, heard, shown_min);
    for (int i = 0; i < n; i++)
        add_time(row_of(m->sheet, &heard[i]), shown_min[i]);
    m->sheet->listen = listen_to(heard, shown_min, n);
}

static void say_row(struct maker *m, const struct hands_row *row, struct text *t)
{
    char when[8];
    struct rung heard = row->heard;
    heard.tune[0] = 0; /* the count is enough here */
    text_addf(t, "%s when it %s", dial(m, row->shown_min[0], when), heard.blows && !heard.phrases ? "" : "sounds ");
    rung_say(&heard, m->c, t);
    text_add(t, "; ");
}

/* On the sheet stand only the rows that need no further listening. */
static void say_rows(struct maker *m, struct text *t)
{
    size_t more = 0;
    text_add(t, "By what is heard the hands belong to ");
    for (size_t i = 0; i < m->sheet->rows; i++)
        if (m->sheet->row[i].times == 1)
            say_row(m, &m->sheet->row[i], t);
        else
            more++;
    if (more)
        text_add(t, "anything else fits several places: go on to the next let-off.");
}

static void find(struct maker *m)
{
    struct text t = {0}, table = {0}, hear = {0};
    what_goes_with_what(m);
    text_add(&t, "When the work is done: set the minute hand loosely on its arbor as a crank, turn forward until the lifting "
                 "piece drops, and wait until all is quiet.");
    if (m->c->warn_min)
        text_addf(&hear, "a click and a whirr (the warning, about %d minutes of turning before), the drop, then the count",
                  m->c->warn_min);
    else
        text_add(&hear, "the drop, then the count");
    add(m, HANDS_FIND, 2, &t, &hear, "Forward only while no hand shows where the warning is.");
    say_rows(m, &table);
    add(m, HANDS_FIND, 1, &table, NULL, NULL);
    if (m->sheet->listen > 1) {
        text_addf(&t, "At most %d let-offs in a row have to be counted before it is certain where it stands.", m->sheet->listen);
        add(m, HANDS_FIND, 2, &t, NULL, NULL);
    }
}

/* --- on ---------------------------------------------------------------------------------------- */

static void fit_hands(struct maker *m)
{
    const struct clock *c = m->c;
    say(m, HANDS_ON, 1,
        c->hour_hand_keyed ? "Put the hour hand on its key; it must point to what was struck, else the motion work was parted."
                           : "Put the hour hand on its pipe so that it points straight at the hour that was struck.",
        NULL);
    say(m, HANDS_ON, 2,
        c->minute_bush ? "Put the minute hand on to point to twelve (or the quarter let off); turn its bush, never the arbor, until it "
                         "does so at the very drop."
        : c->minute_square ? "Put the minute hand on its square the marked way; at the drop it must point to twelve or the quarter "
                             "let off."
                           : "Put the minute hand on; at the drop it must point to twelve or the quarter let off. It has neither "
                             "bush nor square: if it does not, the motion work is meshed wrong.",
        "Check that the hands clear each other, the dial and the glass all the way round.");
}

static void set_chime(struct maker *m)
{
    const struct train *t = clock_train(m->c, TRAIN_CHIME);
    struct text text = {0}, hear = {0};
    if (!t || t->control != CONTROL_COUNT_WHEEL) {
        if (t)
            say(m, HANDS_ON, 0.5, "The quarters are read from the motion work and need no setting.", NULL);
        return;
    }
    if (t->corrector) {
        text_add(&text, "Chime: carry the hand through the hour, waiting at each quarter; the corrector puts it right at the hour, or "
                        "at the next.");
        text_add(&hear, "nothing at some quarters until the hour, then all four quarters and the hour");
    } else if (m->c->trip_chime) {
        text_add(&text, "Chime: raise its lever and let it run until the quarter that belongs to the hands has sounded.");
        text_add(&hear, "one quarter more each time, after the fourth the first again");
    } else {
        text_add(&text, "Chime: go back over the quarter and forward past it again until it agrees.");
        text_add(&hear, "one quarter more each time, after the fourth the first again");
    }
    add(m, HANDS_ON, 3, &text, &hear, NULL);
}

static void set_strike(struct maker *m)
{
    const struct train *t = &m->c->train[TRAIN_STRIKE];
    if (t->control == CONTROL_COUNT_WHEEL && m->c->trip_strike)
        say(m, HANDS_ON, 3, "Strike: if it disagrees with the hands, raise its wire and let it strike on to the right hour.", NULL);
    else if (t->control == CONTROL_COUNT_WHEEL && m->c->back != BACK_NO)
        say(m, HANDS_ON, 3, "Strike: if it disagrees with the hands, go back to a little before the let-off and forward past it again "
                            "until it agrees.", "Never back while it stands in warning.");
    else if (t->control == CONTROL_RACK)
        say(m, HANDS_ON, 1, "Strike: the rack reads the snail and keeps no count; if it is wrong by the same number every hour, move the "
                            "hour hand to what was struck.", NULL);
    else if (t->control)
        say(m, HANDS_ON, 0.5, "Strike: nothing to set.", NULL);
}

/* --- prove -------------------------------------------------------------------------------------- */

static void prove_stretch(struct maker *m, int letoffs)
{
    struct text text = {0}, hear = {0};
    char from[8], to[8], when[8];
    struct done d;
    double minutes = 0;
    dial(m, shown(m), from);
    for (int i = 0; i < letoffs && go(m, &d); i++) {
        minutes += d.minutes;
        text_addf(&hear, "%s%s ", i ? "; " : "", dial(m, shown(m), when));
        rung_say(&d.heard, m->c, &hear);
    }
    text_addf(&text, "Carry the hands from %s to %s, waiting at each let-off.", from, dial(m, shown(m), to));
    add(m, HANDS_PROVE, minutes, &text, &hear, NULL);
}

/* Two hours as they come, and the deepest drop: twelve to one. */
static void prove(struct maker *m)
{
    int each = m->c->lobes * 60 / m->c->lobe_period_min;
    each = each < 1 ? 1 : each;
    prove_stretch(m, 2 * each);
    m->at.work_min = (int16_t)stance_fold(m->c, m->at.work_min + stance_fold(m->c, 11 * 60 + 40 - shown(m)));
    m->at.rest = stance_rest(m->c, rest_in_step(m->r.w, (shown(m) + 1) % 1440));
    prove_stretch(m, m->c->lobe_period_min > 60 ? 2 : each + 1);
    say(m, HANDS_PROVE, 1, "Leave it on test with a twelve-hour chart to be ticked.", NULL);
}

void hands_sheet_init(struct hands_sheet *s, const struct works *w, int shown_min)
{
    struct maker m = {.sheet = s, .c = w->clock};
    *s = (struct hands_sheet){.step = NULL};
    reset_init(&m.r, w, shown_min, NULL);
    struct moment start = {.work_min = movement_work_at(w, shown_min)};
    start.rest = rest_in_step(w, (start.work_min + 1) % 1440);
    m.at = stance_of(w, &start);
    off(&m);
    find(&m);
    fit_hands(&m);
    set_chime(&m);
    set_strike(&m);
    prove(&m);
    reset_release(&m.r);
}

void hands_sheet_release(struct hands_sheet *s)
{
    for (size_t i = 0; i < s->steps; i++) {
        mem_free(s->step[i].text);
        mem_free(s->step[i].hear);
        mem_free(s->step[i].caution);
    }
    mem_free(s->step);
    mem_free(s->row);
    *s = (struct hands_sheet){.step = NULL};
}
