#include "screen/frame.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "command/voices.h"
#include "draw/type_case.h"
#include "mem.h"

static const struct {
    const char *name, *label, *about;
    int key;
    void (*draw)(struct app *a, double x, double y, double w, double h);
} pages[PAGES] = {
    [PAGE_DESK] = {"desk", "Call", "take a call", UI_F1, desk_screen},
    [PAGE_PLATE] = {"plate", "Plate", "see it work", UI_F2, plate_screen},
    [PAGE_LISTEN] = {"listen", "Listen", "hear a clock", UI_F3, listen_screen},
    [PAGE_RIGHT] = {"right", "Set right", "back in step", UI_F4, right_screen},
    [PAGE_DRILL] = {"drill", "Drill", "train the ear", UI_F5, drill_screen},
    [PAGE_JOURNAL] = {"journal", "Journal", "calls and jobs", UI_F6, journal_screen},
};

int frame_page_of(const char *name)
{
    for (int i = 0; i < PAGES; i++)
        if (pages[i].draw && strcmp(pages[i].name, name) == 0)
            return i;
    return -1;
}

const char *frame_page_name(enum page page)
{
    return pages[page].name;
}

/* ---- life ---- */

static bool load_data(struct app *a, struct err *e)
{
    struct text path = {0};
    a->lib = library_load(NULL, e);
    if (!a->lib)
        return false;
    text_addf(&path, "%s/words.yaml", library_folder(a->lib));
    a->words = words_load(text_cstr(&path), e);
    text_clear(&path);
    text_addf(&path, "%s/phrases-en.yaml", library_folder(a->lib));
    a->phrases = a->words ? phrases_load(text_cstr(&path), a->words, e) : NULL;
    text_release(&path);
    return a->phrases && voices_load(&a->voices, e);
}

bool app_init(struct app *a, bool headless, bool draft, void (*wake)(void), struct err *e)
{
    struct text path = {0};
    memset(a, 0, sizeof *a);
    a->headless = headless;
    if (!load_data(a, e))
        return false;
    if (headless)
        settings_defaults(&a->set);
    else
        settings_load(&a->set);
    if (!(a->types = type_case_new(e)))
        return false;
    struct ink ink = {(enum contrast)a->set.contrast, a->set.text};
    canvas_init(&a->canvas, a->types, &ink, a->width, a->height);
    if (draft)
        settings_path(&path, "XDG_STATE_HOME", ".local/state", "call-in-hand.yaml");
    call_init(&a->call, a->words, path.length ? text_cstr(&path) : NULL);
    if (draft && call_draft_load(&a->call))
        app_notice(a, "The call in hand was taken up where it was left.");
    text_release(&path);
    show_init(&a->show, &a->voices, 1);
    a->show.mute = headless || !a->set.sound;
    a->view.plate.pointed = PART_NONE;
    a->view.focus = PART_NONE;
    a->view.fault = -1;
    a->desk.hour = -1;
    ui_focus(&a->ui, "quick");
    a->advisor = advisor_new(a->lib, a->words, wake);
    return true;
}

void app_release(struct app *a)
{
    advisor_free(a->advisor);
    show_release(&a->show);
    call_release(&a->call);
    text_release(&a->desk.find_word);
    text_release(&a->desk.answer);
    text_release(&a->desk.customer);
    listen_free(a->listening);
    right_free(a->righting);
    drill_screen_free(a->drilling);
    journal_free(a->journaling);
    canvas_release(&a->canvas);
    type_case_free(a->types);
    voice_set_release(&a->voices);
    phrases_free(a->phrases);
    words_free(a->words);
    library_free(a->lib);
}

const struct clock *app_clock(struct app *a)
{
    const struct advice *v = &a->advice;
    const struct clock *k = call_clock(&a->call, a->lib, NULL);
    bool told = a->call.sheet.clock[0] && library_find_clock(a->lib, a->call.sheet.clock);
    if (!told && v->clocks > 0 && !sheet_empty(&a->call.sheet)) {
        const struct clock *inferred = library_find_clock(a->lib, v->clock[0].id);
        if (inferred && call_clock_fits(&a->call, inferred))
            k = inferred;
    }
    return k ? k : library_clock(a->lib, 0);
}

void app_notice(struct app *a, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(a->notice, sizeof a->notice, fmt, ap);
    va_end(ap);
}

/* ---- playing ---- */

/* The let-off to play: the cell in hand, else the last one told, else three o'clock. */
static int letoff_in_hand(const struct app *a, const struct clock *k)
{
    int min = 180;
    for (size_t i = 0; i < a->call.sheet.heards; i++)
        if (a->call.sheet.heard[i].at.kind == AT_EXACT)
            min = a->call.sheet.heard[i].at.min % 720;
    if (a->desk.hour >= 0)
        min = a->desk.hour * 60 + a->desk.quarter * 15;
    if (clock_lobe_at(k, min) < 0)
        min += clock_next_lobe(k, min);
    return min % 1440;
}

static void start_before(struct app *a, const struct clock *k, const struct change *change,
                         size_t changes, int work_min)
{
    int early = k->warn_min + 2;
    show_set(&a->show, k, change, changes, (work_min + 1440 - early) % 1440);
}

void app_play_due(struct app *a)
{
    const struct clock *k = app_clock(a);
    start_before(a, k, NULL, 0, letoff_in_hand(a, k));
    show_next_letoff(&a->show, a->now_s);
    a->desk.play = 1;
}

void app_play_cause(struct app *a, size_t cause)
{
    if (cause >= a->advice.causes)
        return;
    const struct advice_cause *c = &a->advice.cause[cause];
    const struct clock *k = library_find_clock(a->lib, c->clock);
    if (!k)
        return;
    /* where the caller's clock now stands; at the cell in hand if it keeps no count */
    bool counts = k->train[TRAIN_STRIKE].control == CONTROL_COUNT_WHEEL ||
                  k->train[TRAIN_CHIME].control != CONTROL_NONE;
    start_before(a, k, c->change, c->changes, counts ? c->next_min : letoff_in_hand(a, k));
    if (counts && c->rest.stuck == STUCK_NOT)
        show_set_rest(&a->show, c->rest);
    show_next_letoff(&a->show, a->now_s);
    a->desk.play = 2;
}

/* ---- keys everywhere ---- */

static void keep_settings(struct app *a)
{
    if (!a->headless)
        settings_save(&a->set);
}

static void text_size(struct app *a, double by)
{
    double t = a->set.text + by;
    a->set.text = t < 0.8 ? 0.8 : t > 1.6 ? 1.6 : t;
    app_notice(a, "Text size %.0f %%.", 100 * a->set.text);
    keep_settings(a);
}

static void next_contrast(struct app *a)
{
    a->set.contrast = (a->set.contrast + 1) % CONTRASTS;
    app_notice(a, "Contrast: %s.", ink_contrast_name((enum contrast)a->set.contrast));
    keep_settings(a);
}

static void save_sheet(struct app *a)
{
    struct text path = {0};
    struct err e = {0};
    settings_path(&path, "XDG_DATA_HOME", ".local/share", "call-sheet.yaml");
    if (path.length && call_save(&a->call, text_cstr(&path), &e))
        app_notice(a, "The call sheet was written to %s.", text_cstr(&path));
    else
        app_notice(a, "The call sheet could not be written.");
    err_release(&e);
    text_release(&path);
}

static void common_keys(struct app *a)
{
    struct ui *u = &a->ui;
    for (int i = 0; i < PAGES; i++)
        if (pages[i].draw && (ui_key(u, pages[i].key, 0) || ui_key(u, '1' + i, UI_ALT)))
            a->page = (enum page)i;
    if (ui_key(u, 'z', UI_CTRL) && !call_undo(&a->call))
        app_notice(a, "Nothing to undo.");
    if ((ui_key(u, 'y', UI_CTRL) || ui_key(u, 'z', UI_CTRL | UI_SHIFT)) && !call_redo(&a->call))
        app_notice(a, "Nothing to redo.");
    if (ui_key(u, 'n', UI_CTRL)) {
        call_clear(&a->call);
        a->page = PAGE_DESK;
        a->desk.hour = -1;
        app_notice(a, "A new call. Ctrl+Z brings the old one back.");
    }
    if (ui_key(u, 's', UI_CTRL))
        save_sheet(a);
    if (ui_key(u, 'k', UI_CTRL))
        app_keep(a);
    if (ui_key(u, '=', UI_CTRL) || ui_key(u, '+', UI_CTRL) || ui_key(u, '=', UI_CTRL | UI_SHIFT))
        a->zoom_by += 1;
    if (ui_key(u, '-', UI_CTRL))
        a->zoom_by -= 1;
    if (ui_key(u, UI_F9, 0))
        text_size(a, a->set.text >= 1.55 ? 0.8 - a->set.text : 0.2);
    if (ui_key(u, UI_F10, 0))
        next_contrast(a);
    if (ui_key(u, UI_F11, 0)) {
        a->set.sound = !a->set.sound;
        a->show.mute = a->headless || !a->set.sound;
        app_notice(a, a->set.sound ? "Sound on." : "Sound off.");
        keep_settings(a);
    }
    if (ui_key(u, UI_F12, 0) || ui_letter(u, '/'))
        a->help = !a->help;
    if (ui_key(u, 'q', UI_CTRL))
        a->quit = true;
}

/* ---- drawing ---- */

/* Both grow with the text. */
static double index_width(struct app *a)
{
    double title = canvas_text_width(&a->canvas, TYPE_TITLE, "letoff") + 34;
    double label = canvas_text_width(&a->canvas, TYPE_UI_BOLD, "Set right") + 40;
    double w = title > label ? title : label;
    return w > 104 ? w : 104;
}

static double foot_height(struct app *a)
{
    return canvas_line_height(&a->canvas, TYPE_SMALL) + 13;
}

/* Open on the right, so that the leaf in hand is one with the page. */
static void tab_shape(struct canvas *c, double y, double w, double h, bool on, bool over)
{
    const double r = 7, x = 10, right = w + (on ? 1 : 0);
    canvas_begin(c);
    canvas_move(c, right, y);
    canvas_line_to(c, x + r, y);
    canvas_arc(c, x + r, y + r, r, 360, 270);
    canvas_line_to(c, x, y + h - r);
    canvas_arc(c, x + r, y + h - r, r, 270, 180);
    canvas_line_to(c, right, y + h);
    canvas_fill(c, on ? TONE_PAPER : over ? TONE_CARD : TONE_SHADE, 1);
    canvas_stroke(c, on ? TONE_INK : TONE_FAINT, on ? WEIGHT_LINE : WEIGHT_FINE);
}

/* A thumb index down the left edge: the leaf in hand is open towards the page. */
static void thumb_index(struct app *a, double h)
{
    struct ui *u = &a->ui;
    struct canvas *c = &a->canvas;
    double w = index_width(a), y = canvas_line_height(c, TYPE_TITLE) + 52, tab_h = (h - y - 20) / PAGES;
    tab_h = tab_h > 78 ? 78 : tab_h;
    canvas_text(c, 18, 24, TYPE_TITLE, TONE_INK, ALIGN_LEFT, "letoff");
    canvas_rule(c, 18, y - 30, w - 18, y - 30, TONE_INK, WEIGHT_FINE);
    for (int i = 0; i < PAGES; i++) {
        if (!pages[i].draw)
            continue;
        bool on = a->page == (enum page)i;
        char name[40], key[8];
        snprintf(name, sizeof name, "index-%s", pages[i].name);
        snprintf(key, sizeof key, "F%d", i + 1);
        struct ui_touch t = ui_area(u, name, 10, y + 3, w - 12, tab_h - 6);
        tab_shape(c, y + 3, w, tab_h - 6, on, t.over);
        double line = canvas_line_height(c, TYPE_UI_BOLD);
        canvas_text(c, 22, y + tab_h / 2 - line + 1, on ? TYPE_UI_BOLD : TYPE_UI, TONE_INK, ALIGN_LEFT,
                    pages[i].label);
        canvas_text(c, 22, y + tab_h / 2 + 1, TYPE_LABEL, TONE_SOFT, ALIGN_LEFT, key);
        if (t.pressed)
            a->page = (enum page)i;
        y += tab_h;
    }
}

static void page_ground(struct app *a)
{
    struct canvas *c = &a->canvas;
    canvas_begin(c);
    canvas_rect(c, 0, 0, index_width(a), a->height, 0);
    canvas_fill(c, TONE_SHADE, 1);
    canvas_rule(c, index_width(a), 0, index_width(a), a->height, TONE_INK, WEIGHT_LINE);
}

static void foot_line(struct app *a)
{
    struct canvas *c = &a->canvas;
    double left = index_width(a), y = a->height - foot_height(a), w = a->width - left;
    const char *hint = "Tab moves   Enter presses   Ctrl+Z undoes   F9 text   F10 contrast   F12 keys";
    double hw = canvas_text_width(c, TYPE_SMALL, hint);
    canvas_rule(c, left + 20, y, a->width - 20, y, TONE_FAINT, WEIGHT_HAIR);
    if (a->notice[0])
        canvas_text_fit(c, left + 24, y + 6, w - 48, TYPE_ITALIC, TONE_INK, ALIGN_LEFT, a->notice);
    else if (hw < w - 48)
        canvas_text(c, left + 24, y + 7, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, hint);
}

static const char *const help_rows[][2] = {
    {"F1 \xe2\x80\xa6 F6", "the six leaves of the index"},
    {"Tab, Shift+Tab", "next or last place; Enter or Space presses it"},
    {"Y  N  U", "yes, no, don't know: answers the question in large type"},
    {"figures", "in an hour: what was heard; 0 silent, * runs on, = right, ! wrong"},
    {"arrows", "from hour to hour in the grid; on the plate, the minute hand"},
    {"F7, F8", "play what is due; play what the likeliest fault sounds like"},
    {"Ctrl+L, Ctrl+V", "go to the quick line; paste a message into it"},
    {"Ctrl+Z, Ctrl+Y", "undo, redo"},
    {"Ctrl+N, Ctrl+S", "new call; write the call sheet to a file"},
    {"Ctrl+K", "keep the call in the journal"},
    {"Ctrl+plus, minus", "larger, smaller"},
    {"F9, F10, F11", "text size; plain, strong or night contrast; sound on and off"},
};

static void help_card(struct app *a)
{
    struct canvas *c = &a->canvas;
    size_t n = sizeof help_rows / sizeof *help_rows;
    double line = canvas_line_height(c, TYPE_BODY) + 8, w = 640, h = 90 + (double)n * line;
    w = w > a->width - 60 ? a->width - 60 : w;
    double x = (a->width - w) / 2, y = (a->height - h) / 2;
    canvas_begin(c);
    canvas_rect(c, x + 5, y + 6, w, h, 4);
    canvas_hatch(c, TONE_INK, WEIGHT_HAIR, 45, 3);
    canvas_box(c, x, y, w, h, 4, TONE_CARD, TONE_INK, WEIGHT_BOLD);
    canvas_text(c, x + 28, y + 20, TYPE_HEAD, TONE_INK, ALIGN_LEFT, "Keys");
    for (size_t i = 0; i < n; i++) {
        double yy = y + 60 + (double)i * line;
        canvas_text_fit(c, x + 28, yy, 150, TYPE_UI_BOLD, TONE_INK, ALIGN_LEFT, help_rows[i][0]);
        canvas_text_fit(c, x + 190, yy, w - 210, TYPE_BODY, TONE_INK, ALIGN_LEFT, help_rows[i][1]);
    }
    if (ui_key(&a->ui, UI_ESCAPE, 0) || a->ui.in->pressed)
        a->help = false;
}

bool frame_pass(struct app *a, struct ui_input *in)
{
    struct ui *u = &a->ui;
    a->now_s = in->now_s;
    if (in->pressed || in->keys > 0)
        a->notice[0] = 0;
    a->canvas.ink = (struct ink){(enum contrast)a->set.contrast, a->set.text};
    a->canvas.width = a->width;
    a->canvas.height = a->height;
    canvas_clear(&a->canvas);
    ui_begin(u, &a->canvas, in);
    u->blocked = a->help;
    page_ground(a);
    enum page was = a->page;
    thumb_index(a, a->height);
    double left = index_width(a) + 24;
    pages[was].draw(a, left, 18, a->width - left - 20, a->height - 26 - foot_height(a));
    common_keys(a);
    foot_line(a);
    if (a->help)
        help_card(a);
    ui_end(u);
    call_draft_save(&a->call);
    if (a->page != was)
        u->changed = true;
    return u->changed;
}

void frame_settle(struct app *a, struct ui_input *in)
{
    for (int i = 0; i < 4 && frame_pass(a, in); i++) {
        in->pressed = in->released = false;
        in->keys = 0;
        in->typed[0] = 0;
        in->wheel = 0;
    }
}

/* ---- time ---- */

bool frame_tick(struct app *a, double now_s)
{
    a->now_s = now_s;
    bool moves = show_tick(&a->show, now_s);
    if (a->show.news) {
        app_notice(a, "%s", a->show.news);
        a->show.news = NULL;
        moves = true;
    }
    if (a->show.trouble.count > 0) {
        app_notice(a, "%s", a->show.trouble.line[0]);
        err_release(&a->show.trouble);
        moves = true;
    }
    if (a->desk.asked != a->call.version) {
        a->desk.asked = a->call.version;
        if (a->headless)
            advisor_now(a->advisor, &a->call.sheet, a->call.version, &a->advice);
        else
            advisor_ask(a->advisor, &a->call.sheet, a->call.version, app_clock(a)->id);
        moves = true;
    }
    moves = listen_tick(a, now_s) || moves;
    return advisor_take(a->advisor, &a->advice) || moves;
}

static bool ends_in(const char *path, const char *end)
{
    size_t n = strlen(path), m = strlen(end);
    return n >= m && strcmp(path + n - m, end) == 0;
}

void frame_drop(struct app *a, const char *path)
{
    struct err e = {0};
    if (ends_in(path, ".yaml") || ends_in(path, ".yml")) {
        if (call_load(&a->call, path, &e)) {
            app_notice(a, "The call sheet %s was taken up.", path);
            a->page = PAGE_DESK;
        } else {
            app_notice(a, "%s", e.count > 0 ? e.line[0] : "This is no call sheet.");
        }
    } else if (listen_take_file(a, path)) {
        a->page = PAGE_LISTEN;
    }
    err_release(&e);
}
