/* app.h - the window's program: what all screens share.
 *
 * A screen is one row in frame.c: a name, a key, a function that describes it.  Everything a
 * screen changes goes through the call, the show or its own part of struct app.
 */
#ifndef LETOFF_SCREEN_APP_H
#define LETOFF_SCREEN_APP_H

#include "diagnose/phrases.h"
#include "diagnose/words.h"
#include "draw/plate.h"
#include "movement/library.h"
#include "screen/advisor.h"
#include "screen/call.h"
#include "screen/settings.h"
#include "screen/show.h"
#include "screen/ui.h"
#include "sound/voice.h"

enum page { PAGE_DESK, PAGE_PLATE, PAGE_LISTEN, PAGE_RIGHT, PAGE_DRILL, PAGE_JOURNAL, PAGES };

/* What the desk keeps beside the call. */
struct desk_view {
    int hour, quarter;        /* cell in hand */
    char typed[44];           /* being typed into it */
    size_t open_cause;        /* whose reasons are shown */
    bool choose_clock, more_words;
    struct text find_word;
    struct text answer;       /* to a question by number */
    struct text customer;     /* label of the customer, for the journal */
    char said[400];           /* what was last understood, or not */
    bool said_bad;
    char aside[12][80];       /* ids of questions the caller could not answer */
    size_t asides;
    uint64_t asked;           /* version handed to the advisor */
    int play;                 /* what the show plays: 0 nothing, 1 due, 2 fault */
};

struct plate_view {
    struct plate plate;
    char clock[64];           /* shown */
    uint64_t belief_of;       /* version of the advice painted */
    int focus;                /* enum plate_part by keyboard */
    bool dragging;
    double drag_deg;          /* of the minute hand when last seen */
    int fault;                /* index of a fault tried out, -1 none */
};

struct listening;
struct righting;
struct drilling;
struct journaling;

struct app {
    struct library *lib;
    struct words *words;
    struct phrases *phrases;
    struct voice_set voices;
    struct settings set;
    struct ui ui;
    struct canvas canvas;
    struct type_case *types;
    enum page page;
    double width, height;     /* points */
    double now_s;
    bool quit, headless;
    struct call call;
    struct advisor *advisor;
    struct advice advice;
    struct show show;
    struct desk_view desk;
    struct plate_view view;
    struct listening *listening;
    struct righting *righting;
    struct drilling *drilling;
    struct journaling *journaling;
    const char *journal_place; /* as in journal_open; NULL the usual one */
    char notice[300];         /* one line at the foot; goes with the next key or click */
    double zoom_by;           /* wish to change the zoom, steps */
    bool help;
};

/* The clock in hand: told, inferred, or the commonest that fits. */
const struct clock *app_clock(struct app *a);
void app_notice(struct app *a, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* Screens: describe within x, y, w, h. */
void desk_screen(struct app *a, double x, double y, double w, double h);
void plate_screen(struct app *a, double x, double y, double w, double h);
void listen_screen(struct app *a, double x, double y, double w, double h);
void right_screen(struct app *a, double x, double y, double w, double h);
void drill_screen(struct app *a, double x, double y, double w, double h);
void journal_screen(struct app *a, double x, double y, double w, double h);
/* A dropped file. */
bool listen_take_file(struct app *a, const char *path);
/* Sound that came in; true while the microphone is open. */
bool listen_tick(struct app *a, double now_s);
void listen_free(struct listening *l);
void right_free(struct righting *r);
void drill_screen_free(struct drilling *d);
void journal_free(struct journaling *j);

/* Keep the call in hand in the journal, with what is believed of it. */
bool app_keep(struct app *a);

/* Play what is due, or what the cause would sound, at the let-off in hand. */
void app_play_due(struct app *a);
void app_play_cause(struct app *a, size_t cause);

#endif
