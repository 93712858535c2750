/* desk_screen.c - taking a call: what was heard on the left, what it means on the right.
 *
 * The left column asks what clock it is (three pictures), takes what was heard (a line of
 * shorthand or plain words, or the twelve hours to click and type into) and what happened before.
 * The right column reads: what to see to first, the next question in large type, the likely causes
 * with their reasons, and the plate with the suspects painted on it.  Any answer can be changed at
 * any time; nothing waits.
 */
#include <stdio.h>
#include <string.h>

#include "draw/hours_grid.h"
#include "draw/notes_row.h"
#include "mem.h"
#include "screen/app.h"
#include "screen/desk_priv.h"

/* ---- due above heard ---- */

static void heard_notes(const struct heard *h, struct notes *n)
{
    memset(n, 0, sizeof *n);
    n->chime_unsaid = !h || (!h->notes[0] && h->chime != HEARD_CHIME_NONE);
    n->strike_unsaid = !h || !(h->strike == HEARD_STRIKE_COUNT || h->strike == HEARD_STRIKE_NONE ||
                               h->strike == HEARD_STRIKE_RUNS_ON);
    if (!h)
        return;
    for (const char *s = h->notes; *s && n->count < NOTES_MOST; s++)
        if (*s != '.')
            n->bell[n->count++] = (unsigned char)(*s >= '1' && *s <= '9' ? *s - '0'
                                                  : *s >= 'a' && *s <= 'g' ? *s - 'a' + 10 : 0);
    n->blows = h->strike == HEARD_STRIKE_COUNT     ? h->value[0]
               : h->strike == HEARD_STRIKE_RUNS_ON ? NOTES_RUN_ON
                                                   : 0;
}

/* The sound clock's own events of this let-off. */
static void due_notes(const struct clock *k, int min, struct notes *n)
{
    struct works w;
    struct moment m;
    struct random r;
    struct chance chance;
    struct event_list list = {0};
    random_init(&r, 1);
    chance_draw(&chance, &r);
    works_init(&w, k, NULL, 0);
    moment_init(&m, &w, (min + 1440 - 1) % 1440);
    movement_turn(&w, &m, 1, BY_TIME, &chance, &list);
    memset(n, 0, sizeof *n);
    for (size_t i = 0; i < list.count; i++)
        if (event_sounds(&list.at[i])) {
            notes_of_events(n, k, &list, list.at[i].letoff);
            break;
        }
    n->strike_unsaid = train_counts_at(k, TRAIN_STRIKE, min) == 0;
    event_list_release(&list);
}

/* ---- the twelve hours ---- */

static bool wrong_notes(const struct clock *k, int min, const struct heard *h)
{
    struct notes due, heard;
    due_notes(k, min, &due);
    heard_notes(h, &heard);
    return notes_differ(&due, &heard);
}

/* The last rule told that covers this hour. */
static const struct heard *rule_at(const struct sheet *s, int min)
{
    for (size_t i = s->heards; i-- > 0;)
        if (heard_is_rule(&s->heard[i]) && heard_covers(&s->heard[i], min, 720))
            return &s->heard[i];
    return NULL;
}

static void fill_cell(struct app *a, struct hours_cell *cell, const struct clock *k, int hour, int quarter)
{
    int min = hour * 60 + quarter * 15;
    const struct heard *h = call_heard_at(&a->call, min);
    bool in_hand = a->desk.hour == hour && a->desk.quarter == quarter;
    int due = train_counts_at(k, TRAIN_STRIKE, min), changes = 0;
    if (k->train[TRAIN_CHIME].control != CONTROL_NONE)
        changes = train_counts_at(k, TRAIN_CHIME, min);
    memset(cell, 0, sizeof *cell);
    cell->sounds = clock_lobe_at(k, min) >= 0;
    if (due > 0 || changes > 0)
        snprintf(cell->due, sizeof cell->due, "%d", due > 0 ? due : changes);
    if (!h)
        h = rule_at(&a->call.sheet, min);
    if (h) {
        call_cell_text(h, cell->heard);
        cell->state = desk_row_differs(h, due, changes) || (h->notes[0] && wrong_notes(k, min, h)) ? CELL_DIFFERS : CELL_RIGHT;
    }
    if (in_hand && a->desk.typed[0]) {
        snprintf(cell->heard, sizeof cell->heard, "%.8s_", a->desk.typed);
        cell->state = CELL_UNTOLD;
    }
    cell->focused = in_hand;
}

/* Does a row say something else than what is due?  Words like "slow" count as a difference too. */
bool desk_row_differs(const struct heard *h, int due, int changes)
{
    switch (h->strike) {
    case HEARD_STRIKE_COUNT: return h->value[0] != due;
    case HEARD_STRIKE_ERROR: return h->value[0] != 0;
    case HEARD_STRIKE_NONE: return due > 0;
    case HEARD_STRIKE_RUNS_ON:
    case HEARD_STRIKE_WRONG:
    case HEARD_STRIKE_SAME_ERROR:
    case HEARD_STRIKE_SET:
    case HEARD_STRIKE_ERROR_SET: return true;
    default: break;
    }
    if (h->chime_also)
        return true;
    if (h->chime == HEARD_CHIME_NONE)
        return changes > 0;
    if (h->chime == HEARD_CHIME_WRONG || h->chime == HEARD_CHIME_RUNS_ON)
        return true;
    return (h->phrases >= 0 && changes > 0 && h->phrases != changes) || h->stopped != STOPPED_NOTHING;
}

static void cell_due(const struct clock *k, int min, bool *strikes, bool *chimes)
{
    *strikes = train_counts_at(k, TRAIN_STRIKE, min) > 0;
    *chimes = k->train[TRAIN_CHIME].control != CONTROL_NONE && train_counts_at(k, TRAIN_CHIME, min) > 0;
}

/* What stands typed goes into the sheet. */
static void commit_cell(struct app *a, const struct clock *k)
{
    struct desk_view *d = &a->desk;
    bool strikes, chimes;
    int min = d->hour * 60 + d->quarter * 15;
    if (d->hour < 0 || !d->typed[0])
        return;
    cell_due(k, min, &strikes, &chimes);
    if (!call_set_cell(&a->call, min, d->typed, strikes, chimes))
        app_notice(a, "\"%s\" means nothing here: a count, 0 silent, * runs on, = right, ! wrong, ? not noticed.",
                   d->typed);
    d->typed[0] = 0;
}

static void move_cell(struct app *a, const struct clock *k, int hours, int quarters)
{
    struct desk_view *d = &a->desk;
    commit_cell(a, k);
    d->hour = (d->hour + hours + 12) % 12;
    for (int step = 0; step < 4 && quarters != 0; step++) {
        d->quarter = (d->quarter + quarters + 4) % 4;
        if (clock_lobe_at(k, d->hour * 60 + d->quarter * 15) >= 0)
            break;
    }
    if (clock_lobe_at(k, d->hour * 60 + d->quarter * 15) < 0)
        d->quarter = 0;
}

/* A count that can grow no further is taken at once and the next hour comes up. */
static void type_in_cell(struct app *a, const struct clock *k, char ch)
{
    struct desk_view *d = &a->desk;
    bool strikes, chimes;
    size_t n = strlen(d->typed);
    cell_due(k, d->hour * 60 + d->quarter * 15, &strikes, &chimes);
    if (n + 1 >= sizeof d->typed)
        return;
    d->typed[n] = ch;
    d->typed[n + 1] = 0;
    bool sign = strchr("=!?*", ch) != NULL;
    bool full = strikes && (n == 1 || ch == '0' || ch > '1');
    if (sign || full || (!strikes && ch == '0' && n == 0))
        move_cell(a, k, 1, 0);
}

static void grid_keys(struct app *a, const struct clock *k)
{
    struct ui *u = &a->ui;
    struct desk_view *d = &a->desk;
    static const struct { int code, hours, quarters; } moves[] = {
        {UI_RIGHT, 1, 0}, {UI_LEFT, -1, 0}, {UI_DOWN, 0, 1}, {UI_UP, 0, -1}, {UI_ENTER, 1, 0}};
    for (size_t i = 0; i < sizeof moves / sizeof *moves; i++)
        if (ui_key(u, moves[i].code, 0))
            move_cell(a, k, moves[i].hours, moves[i].quarters);
    for (int ch = '0'; ch <= '9'; ch++)
        if (ui_key(u, ch, 0))
            type_in_cell(a, k, (char)ch);
    static const struct { int code; unsigned mods; char ch; } signs[] = {
        {'=', 0, '='}, {'!', 0, '!'}, {'1', UI_SHIFT, '!'}, {'*', 0, '*'}, {'8', UI_SHIFT, '*'},
        {'*', UI_SHIFT, '*'}, {'/', UI_SHIFT, '?'}, {'r', 0, '='}, {'w', 0, '!'}};
    for (size_t i = 0; i < sizeof signs / sizeof *signs; i++)
        if (ui_key(u, signs[i].code, signs[i].mods))
            type_in_cell(a, k, signs[i].ch);
    if (ui_key(u, UI_BACKSPACE, 0) || ui_key(u, UI_DELETE, 0)) {
        if (d->typed[0])
            d->typed[strlen(d->typed) - 1] = 0;
        else
            call_set_cell(&a->call, d->hour * 60 + d->quarter * 15, "", true, true);
    }
    if (ui_key(u, UI_ESCAPE, 0))
        d->typed[0] = 0;
}

static double grid_part(struct app *a, const struct clock *k, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    struct ui *u = &a->ui;
    struct desk_view *d = &a->desk;
    static struct hours_grid g;
    memset(&g, 0, sizeof g);
    bool focused = ui_has_focus(u, "hours");
    for (int h = 0; h < 12; h++)
        for (int q = 0; q < GRID_ROWS; q++)
            fill_cell(a, &g.cell[h][q], k, h, q);
    double height = hours_grid_place(&g, c, x, y, w);
    int hour, quarter;
    double px = u->in->x, py = u->in->y, ox = 0, oy = 0;
    canvas_to_page(c, &ox, &oy);
    bool hit = !u->blocked && hours_grid_at(&g, px - ox, py - oy, &hour, &quarter);
    struct ui_touch t = ui_area(u, "hours", x, y, w, height);
    if (t.over && hit && g.cell[hour][quarter].sounds)
        g.cell[hour][quarter].pointed = true;
    if (t.over && hit && u->in->pressed && g.cell[hour][quarter].sounds) {
        commit_cell(a, k);
        d->hour = hour;
        d->quarter = quarter;
        u->by_keyboard = false;
    }
    if (t.focused && d->hour < 0)
        d->hour = d->quarter = 0;
    if (t.focused)
        grid_keys(a, k);
    else if (focused || d->typed[0])
        commit_cell(a, k);
    if (!t.focused && d->hour >= 0)
        g.cell[d->hour][d->quarter].focused = false;
    hours_grid_draw(&g, c);
    return height;
}

static const char *const how_words[] = {"slow", "uneven", "fast", "soft", "dull", "buzz", "double", "late"};

/* How it sounded at the hour in hand. */
static double how_part(struct app *a, int min, double x, double y, double w)
{
    double at = x, cw, h = ui_chip_height(&a->ui);
    if (!call_heard_at(&a->call, min))
        return 0;
    for (size_t i = 0; i < sizeof how_words / sizeof *how_words && at < x + w - 60; i++) {
        char name[40];
        snprintf(name, sizeof name, "how-%s", how_words[i]);
        if (ui_chip(&a->ui, name, at, y, how_words[i], call_sounded(&a->call, min, how_words[i]), &cw))
            call_toggle_how(&a->call, min, how_words[i]);
        at += cw + 6;
    }
    return h + 10;
}

static double rows_part(struct app *a, const struct clock *k, double x, double y, double w)
{
    struct notes due, heard;
    struct desk_view *d = &a->desk;
    if (d->hour < 0)
        return 0;
    int min = d->hour * 60 + d->quarter * 15, bells = 1;
    const struct train *chime = clock_train(k, TRAIN_CHIME);
    if (chime && chime->tunes > 0)
        bells = chime->tune[0]->bells;
    char head[32], time[8];
    snprintf(head, sizeof head, "AT %s", text_dial(min, time));
    canvas_text(&a->canvas, x, y, TYPE_LABEL, TONE_INK, ALIGN_LEFT, head);
    double top = canvas_line_height(&a->canvas, TYPE_LABEL);
    due_notes(k, min, &due);
    heard_notes(call_heard_at(&a->call, min), &heard);
    top += notes_row_draw(&a->canvas, x, y + top - 6, w, bells, &due, &heard);
    return top + how_part(a, min, x, y + top, w);
}

/* ---- words ---- */

static void plain_word(const char *id, char out[64])
{
    snprintf(out, 64, "%s", id);
    for (char *s = out; *s; s++)
        *s = *s == '_' ? ' ' : *s;
}

struct chips {
    double x, y, left, right;
};

static void chip(struct app *a, struct chips *at, enum word_kind kind, const char *id)
{
    char label[64], name[96];
    double w = 0, natural;
    bool on = call_has(&a->call, kind, id);
    plain_word(id, label);
    snprintf(name, sizeof name, "word-%s", id);
    natural = canvas_text_width(&a->canvas, TYPE_SMALL, label) + (on ? 34 : 20);
    if (at->x + natural > at->right && at->x > at->left) {
        at->x = at->left;
        at->y += ui_chip_height(&a->ui) + 6;
    }
    if (ui_chip(&a->ui, name, at->x, at->y, label, on, &w))
        call_toggle(&a->call, kind, id);
    at->x += w + 6;
}

static double chips_row(struct app *a, const char *label, enum word_kind kind, const char *const *ids,
                        size_t n, double x, double y, double w)
{
    struct canvas *c = &a->canvas;
    double lead = canvas_text_width(c, TYPE_LABEL, "LOOK FIRST") + 14;
    struct chips at = {x + lead, y, x + lead, x + w};
    canvas_text(c, x, y + (ui_chip_height(&a->ui) - canvas_line_height(c, TYPE_LABEL)) / 2, TYPE_LABEL,
                TONE_SOFT, ALIGN_LEFT, label);
    for (size_t i = 0; i < n; i++)
        if (words_find(a->words, kind, ids[i]))
            chip(a, &at, kind, ids[i]);
    return at.y + ui_chip_height(&a->ui) - y;
}

static const char *const look_first[] = {"pendulum_stopped", "not_level", "beat_uneven", "weight_at_bottom",
                                         "spring_feels_loose", "silent_lever_at_silent", "hands_stall"};
static const char *const since_words[] = {"sudden", "gradual", "always", "comes_and_goes"};
static const char *const before_words[] = {"moved_house", "hands_turned_back", "clocks_went_back", "ran_down",
                                           "wound", "serviced", "oiled", "stood_for_years", "weights_removed"};

#define N(list) (sizeof list / sizeof *list)

/* A chip that stands for something told otherwise; pressed, it is taken away. */
static bool told_chip(struct app *a, struct chips *at, const char *name, const char *label)
{
    double w = 0, natural = canvas_text_width(&a->canvas, TYPE_SMALL, label) + 34;
    if (at->x + natural > at->right && at->x > at->left) {
        at->x = at->left;
        at->y += ui_chip_height(&a->ui) + 6;
    }
    bool hit = ui_chip(&a->ui, name, at->x, at->y, label, true, &w);
    at->x += w + 6;
    return hit;
}

/* Answers of "no", and what was told of the clock beyond the pictures: seen, and free to change. */
static void told_answers(struct app *a, struct chips *at)
{
    static const enum word_kind kinds[] = {WORD_SEEN, WORD_HISTORY};
    for (size_t k = 0; k < 2; k++)
        for (size_t i = 0; i < words_count(a->words, kinds[k]); i++) {
            const char *id = words_at(a->words, kinds[k], i)->id;
            char plain[64], label[80], name[96];
            if (!call_has_not(&a->call, kinds[k], id))
                continue;
            plain_word(id, plain);
            snprintf(label, sizeof label, "not: %s", plain);
            snprintf(name, sizeof name, "not-%s", id);
            if (told_chip(a, at, name, label))
                call_forget_not(&a->call, kinds[k], id);
        }
    for (size_t i = 0; i < words_count(a->words, WORD_HINT); i++) {
        const struct word *hint = words_at(a->words, WORD_HINT, i);
        const char *value = sheet_hint(&a->call.sheet, hint->id);
        char label[120], name[96];
        if (!value || strcmp(value, "unknown") == 0 || desk_is_pictured(hint->id))
            continue;
        snprintf(label, sizeof label, "%s: %s", hint->id, value);
        for (char *s = label; *s; s++)
            *s = *s == '_' ? ' ' : *s;
        snprintf(name, sizeof name, "told-%s", hint->id);
        if (told_chip(a, at, name, label))
            call_set_hint(&a->call, hint->id, value);
    }
}

/* Words of other rows that are on, and what a search finds. */
static double more_words(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    double lead = canvas_text_width(&a->canvas, TYPE_LABEL, "LOOK FIRST") + 14, h = ui_field_height(u);
    static const enum word_kind kinds[] = {WORD_SEEN, WORD_HISTORY};
    ui_field(u, "find-word", x + lead, y, 210, &a->desk.find_word, "another word \xe2\x80\xa6");
    struct chips at = {x + lead + 220, y + (h - ui_chip_height(u)) / 2, x + lead, x + w};
    const char *find = text_cstr(&a->desk.find_word);
    size_t shown = 0;
    for (size_t k = 0; k < N(kinds); k++)
        for (size_t i = 0; i < words_count(a->words, kinds[k]); i++) {
            const struct word *word = words_at(a->words, kinds[k], i);
            char plain[64];
            bool listed = false;
            plain_word(word->id, plain);
            for (size_t j = 0; j < N(look_first); j++)
                listed |= strcmp(word->id, look_first[j]) == 0;
            for (size_t j = 0; j < N(before_words); j++)
                listed |= strcmp(word->id, before_words[j]) == 0;
            bool found = find[0] && strstr(plain, find) && shown < 10;
            if (listed || !(call_has(&a->call, kinds[k], word->id) || found))
                continue;
            shown++;
            chip(a, &at, kinds[k], word->id);
        }
    told_answers(a, &at);
    double end = at.y + ui_chip_height(u) - y;
    return end > h ? end : h;
}

/* ---- rows told ---- */

static double told_rows(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    const struct sheet *s = &a->call.sheet;
    double line = canvas_line_height(c, TYPE_BODY) + 5, top = y;
    if (s->story && s->story[0]) {
        char said[420];
        snprintf(said, sizeof said, "\xe2\x80\x9c%.380s%s\xe2\x80\x9d", s->story, strlen(s->story) > 380 ? " \xe2\x80\xa6" : "");
        for (size_t n = strlen(said), bad; n > 0 && !text_is_utf8(said, n, &bad); n = strlen(said))
            memmove(said + bad, said + bad + 1, n - bad); /* a character cut in two */
        y += canvas_paragraph(c, x + 8, y + 2, w - 16, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, said) + 8;
    }
    for (size_t i = 0; i < s->heards; i++) {
        struct text t = {0};
        char name[32];
        bool clash = a->advice.version == a->call.version && a->advice.clash == (int)i;
        heard_say(&s->heard[i], a->words, &t);
        snprintf(name, sizeof name, "remove-%zu", i + 1);
        bool gone = ui_button(u, name, x, y, 24, line - 3, "\xc3\x97", UI_QUIET);
        canvas_text_fit(c, x + 32, y, w - 40, clash ? TYPE_STRONG : TYPE_BODY, clash ? TONE_ACCENT : TONE_INK,
                        ALIGN_LEFT, text_cstr(&t));
        text_release(&t);
        y += line;
        if (gone) {
            call_remove_heard(&a->call, i);
            break;
        }
    }
    return y - top;
}

static double section(struct app *a, double x, double y, double w, const char *label)
{
    struct canvas *c = &a->canvas;
    double lw = canvas_text(c, x, y, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, label);
    double mid = y + canvas_line_height(c, TYPE_LABEL) / 2;
    canvas_rule(c, x + lw + 10, mid, x + w, mid, TONE_FAINT, WEIGHT_HAIR);
    return canvas_line_height(c, TYPE_LABEL) + 7;
}

/* Whose clock it is, and the call into the journal. */
static double keep_part(struct app *a, double x, double y, double w)
{
    struct ui *u = &a->ui;
    double bw = ui_button_width(u, "Keep in the journal"), fh = ui_field_height(u), top = y;
    y += section(a, x, y, w, "KEEP");
    double pw = ui_button_width(u, "Print");
    bool keep = ui_field(u, "customer", x, y, w - bw - pw - 16, &a->desk.customer, "customer, in the shop's own words");
    if (ui_button(u, "keep-call", x + w - bw, y, bw, fh, "Keep in the journal", 0) || keep)
        app_keep(a);
    if (ui_button(u, "print-call", x + w - bw - pw - 8, y, pw, fh, "Print", a->advice.version > 0 ? 0 : UI_OFF))
        desk_print(a);
    return y + fh - top;
}

static double left_column(struct app *a, double x, double y, double w)
{
    const struct clock *k = app_clock(a);
    double top = y;
    y += desk_clock_part(a, x, y, w) + 12;
    y += section(a, x, y, w, "WHAT WAS HEARD");
    y += desk_quick_line(a, x, y, w) + 8;
    y += grid_part(a, k, x, y, w) + 6;
    y += rows_part(a, k, x, y, w);
    if (a->call.sheet.heards > 0 || a->call.sheet.story)
        y += told_rows(a, x, y, w) + 6;
    y += section(a, x, y, w, "WHAT ELSE");
    y += chips_row(a, "LOOK FIRST", WORD_SEEN, look_first, N(look_first), x, y, w) + 8;
    y += chips_row(a, "SINCE", WORD_WHEN, since_words, N(since_words), x, y, w) + 8;
    y += chips_row(a, "BEFORE", WORD_HISTORY, before_words, N(before_words), x, y, w) + 8;
    y += more_words(a, x, y, w) + 14;
    if (!sheet_empty(&a->call.sheet))
        y += keep_part(a, x, y, w) + 8;
    return y - top;
}

/* Ctrl+L goes to the quick line; a message pasted with no field in hand goes there too. */
static void desk_keys(struct app *a)
{
    struct ui *u = &a->ui;
    if (ui_key(u, 'l', UI_CTRL))
        ui_focus(u, "quick");
    if (u->field_was_focused || !u->paste || !ui_key(u, 'v', UI_CTRL))
        return;
    char *text = u->paste(u->clip_with);
    for (char *s = text; s && *s; s++)
        *s = *s == '\n' || *s == '\r' || *s == '\t' ? ' ' : *s;
    if (text)
        text_add(&a->call.entry, text);
    mem_free(text);
    ui_focus(u, "quick");
}

void desk_screen(struct app *a, double x, double y, double w, double h)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double head = canvas_line_height(c, TYPE_TITLE) + 10, gap = 28;
    double left_w = (w - gap) * (w > 900 ? 0.56 : 0.55), right_x = x + left_w + gap;
    double nb = ui_button_width(u, "New call") + 8;
    canvas_text(c, x, y, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "Taking a call");
    desk_keys(a);
    if (ui_button(u, "new-call", x + left_w - nb, y + 2, nb, 0, "New call", 0)) {
        call_clear(&a->call);
        a->desk.hour = -1;
        a->desk.said[0] = 0;
        app_notice(a, "A new call. Ctrl+Z brings the old one back.");
    }
    double top = ui_scroll_begin(u, "left", x, y + head, left_w, h - head);
    double inner = left_column(a, x, top + 2, left_w) + 6;
    ui_scroll_end(u, "left", x, y + head, left_w, h - head, inner);
    canvas_rule(c, right_x - gap / 2, y + 4, right_x - gap / 2, y + h, TONE_FAINT, WEIGHT_HAIR);
    desk_answer_part(a, right_x, y, x + w - right_x, h);
    if (a->desk.choose_clock)
        desk_choose_card(a, x, y + head, left_w, h - head);
}
