/* shop.h - the shop around a call: what its closed jobs taught, and keeping the call with what was
 * believed and advised.
 *
 *     struct shop shop;
 *     shop_open(&shop, &desk, NULL, false, &e); // lessons of the journal, if there is one
 *     shop_teach(&shop, &options);            // into the finder's options
 *     ... report_init(&report, desk.finder, &desk.sheet, &options) ...
 *     shop_keep(where, "Mill Lane", &desk, &report, id, &e);
 *     shop_close(&shop);
 */
#ifndef LETOFF_COMMAND_SHOP_H
#define LETOFF_COMMAND_SHOP_H

#include "command/desk.h"
#include "command/habits.h"
#include "command/lessons.h"
#include "diagnose/report.h"
#include "journal/journal.h"

struct shop {
    struct learn *learn; /* NULL: the shipped priors stand */
    struct lessons got;
    struct habits habits; /* how far its callers can be trusted, how long its work takes */
    struct text history; /* words of the sheet, as lessons_view wants them */
    struct lessons_view view;
};

/* Reads the lessons; `where` as in journal_open, a default journal that is not there is none.  A
 * journal that cannot be read adds its sentence and leaves the shipped priors: the call goes on.
 * The sheet of the desk must be filled. */
void shop_open(struct shop *s, const struct desk *d, const char *where, bool may_be_new,
               struct err *e);
void shop_close(struct shop *s);
/* The two halves of shop_open: what the journal teaches, once; and the sheet it is wanted for,
 * again whenever its history has changed. */
void shop_read(struct shop *s, const struct library *lib, const char *where, bool may_be_new,
               struct err *e);
void shop_hear(struct shop *s, const struct words *words, const struct sheet *sheet);
/* `s` must outlive the finding and its report. */
void shop_teach(struct shop *s, struct belief_options *o);

/* Keeps sheet, beliefs over KEEP_LEAST and the next step as one new call, all or nothing.
 * customer may be NULL. */
#define KEEP_LEAST 0.005
bool shop_keep(const char *where, const char *customer, const struct desk *d,
               const struct report *r, char id[RECORD_ID_LENGTH + 1], struct err *e);

#endif
