/* ui.h - widgets: identity, place, update, react, draw - all in one call, onto a canvas.
 *
 * The screen is described anew whenever something has happened.  A widget is a call with an
 * identity and a place; it looks at the input, says whether it was used, and puts what is to be
 * seen on the canvas.  Nothing is kept but what has to outlive a pass: which widget has the focus,
 * which is held down, and where each list was scrolled to.
 *
 *     ui_begin(&ui, &canvas, &input);
 *     if (ui_button(&ui, "new", x, y, 120, 0, "New call", 0)) call_clear(&call);
 *     ui_end(&ui);
 *
 * Identities are names; they also stand on the canvas as names of places, so that tests and
 * scripts find a widget by its name.  A name given twice in one pass gets "#2" and so on.
 * Tab and Shift+Tab walk the widgets in the order of the calls; Enter and Space press.
 * Focus is shown by a double ring of ink, never by the accent.
 */
#ifndef LETOFF_SCREEN_UI_H
#define LETOFF_SCREEN_UI_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include "draw/canvas.h"
#include "text.h"

enum ui_key_code { /* printable keys are their character, lower case */
    UI_TAB = 9, UI_ENTER = 13, UI_ESCAPE = 27, UI_SPACE = 32, UI_DELETE = 127,
    UI_BACKSPACE = 0x10000, UI_LEFT, UI_RIGHT, UI_UP, UI_DOWN, UI_HOME, UI_END, UI_PAGE_UP,
    UI_PAGE_DOWN, UI_F1, UI_F2, UI_F3, UI_F4, UI_F5, UI_F6, UI_F7, UI_F8, UI_F9, UI_F10, UI_F11,
    UI_F12
};
enum ui_mod { UI_SHIFT = 1, UI_CTRL = 2, UI_ALT = 4 };

struct ui_key {
    int code;
    unsigned mods;
    bool used;
};

#define UI_KEYS 32
#define UI_TYPED 512
/* What happened since the pass before. */
struct ui_input {
    double x, y;         /* pointer, points of the page */
    bool down;           /* left button now */
    bool pressed, released;
    double wheel;        /* lines, up is positive */
    struct ui_key key[UI_KEYS];
    size_t keys;
    char typed[UI_TYPED];   /* UTF-8 text typed or pasted */
    char editing[64];    /* text an input method is still composing */
    double now_s;        /* seconds, any origin; the only clock a screen sees */
};

#define UI_ORDER 400
#define UI_SCROLLS 16
struct ui {
    struct canvas *c;
    struct ui_input *in;
    uint64_t focus, hot, held, next_hot, scrolled_to; /* hashes of identities; 0 none */
    uint64_t order[UI_ORDER];
    size_t orders;
    bool focus_seen, field_focused;  /* the focused widget was there; it takes text */
    bool field_was_focused;
    bool by_keyboard;                /* focus ring wanted */
    bool blocked;                    /* a popup lies above: no pointer for what is below */
    bool changed;                    /* something was used: describe the screen once more */
    struct { uint64_t id; double at, inner; } scroll[UI_SCROLLS];
    size_t scrolls;
    struct { int cursor, mark; double left; uint64_t id; } edit; /* of the focused field */
    char *(*paste)(void *with);      /* clipboard; mem_free the text; may be NULL */
    void (*copy)(void *with, const char *text);
    void *clip_with;
    double in_x, in_y;               /* where the pointer was last, for passes without input */
    bool in_down;
    double text_x, text_y, text_h;   /* where text is typed, for input methods */
};

enum ui_flag {
    UI_PRIMARY = 1,   /* filled with ink */
    UI_ON = 2,        /* chosen */
    UI_OFF = 4,       /* cannot be used now */
    UI_QUIET = 8,     /* no border until pointed at */
    UI_LEFT_TEXT = 16,
    UI_SMALL = 32,
};

void ui_begin(struct ui *u, struct canvas *c, struct ui_input *in);
/* Tab keys, lost focus.  Call last. */
void ui_end(struct ui *u);

uint64_t ui_id(const char *name);
void ui_focus(struct ui *u, const char *name);
bool ui_has_focus(const struct ui *u, const char *name);
/* True once if this key (with exactly these modifiers) was pressed and nobody used it. */
bool ui_key(struct ui *u, int code, unsigned mods);
/* As ui_key for a plain letter or figure; never while a field has the focus. */
bool ui_letter(struct ui *u, int code);
/* Pointer inside and not blocked. */
bool ui_over(const struct ui *u, double x, double y, double w, double h);

/* An area that can be pressed and focused; draws nothing but the focus ring and its name. */
struct ui_touch {
    bool pressed;  /* used: released over it, or Enter */
    bool over, held, focused;
};
struct ui_touch ui_area(struct ui *u, const char *name, double x, double y, double w, double h);

/* h = 0: the natural height.  keycap: a letter shown before the label that also presses it. */
bool ui_button(struct ui *u, const char *name, double x, double y, double w, double h,
               const char *label, unsigned flags);
bool ui_key_button(struct ui *u, const char *name, double x, double y, double w, double h,
                   const char *keycap, int code, const char *label, unsigned flags);
double ui_button_height(struct ui *u);
double ui_button_width(struct ui *u, const char *label); /* natural */
/* A word to switch on and off, as wide as it is; *w gets the width. */
bool ui_chip(struct ui *u, const char *name, double x, double y, const char *label, bool on,
             double *w);
double ui_chip_height(struct ui *u);

/* One line of text, up to UI_FIELD_MOST bytes: what is typed or pasted beyond is left out, never half a
 * character.  True when Enter was pressed in it.  The text may change otherwise too. */
#define UI_FIELD_MOST 20000 /* as much as a call sheet takes of a story */
bool ui_field(struct ui *u, const char *name, double x, double y, double w, struct text *text,
              const char *hint);
double ui_field_height(struct ui *u);

/* A column that scrolls when `inner` (height of what was drawn, told by the last ui_scroll_end)
 * is more than h.  Draw between begin and end with y starting at the returned value. */
double ui_scroll_begin(struct ui *u, const char *name, double x, double y, double w, double h);
void ui_scroll_end(struct ui *u, const char *name, double x, double y, double w, double h,
                   double inner);

#endif
