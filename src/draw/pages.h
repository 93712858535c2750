/* pages.h - printed pages: proving chart, oiling chart, call report, visit plan, plans of steps.
 *
 * A set of pages grows as it is filled; a chart that does not fit goes on on the next page under
 * the same head.  Every page names the clock, says what it is, and carries the caution at its foot.
 *
 *     struct pages p;
 *     pages_init(&p, types, PAPER_A4, &ink);
 *     pages_proving(&p, works);
 *     pages_oiling(&p, clock);
 *     pages_write(&p, "chart.pdf", &err);
 *     pages_release(&p);
 */
#ifndef LETOFF_DRAW_PAGES_H
#define LETOFF_DRAW_PAGES_H

#include <stdbool.h>
#include <stddef.h>
#include "draw/canvas.h"
#include "draw/plate_parts.h"
#include "err.h"
#include "movement/clock.h"

enum paper { PAPER_A4, PAPER_LETTER };
#define PAGES_MOST 24

struct pages {
    struct type_case *types;
    struct ink ink;
    enum paper paper;
    struct canvas page[PAGES_MOST];
    size_t count;
    char title[96], under[160];  /* head of the page in hand */
    double y;                    /* where the next thing goes */
};

void pages_init(struct pages *p, struct type_case *types, enum paper paper, const struct ink *ink);
void pages_release(struct pages *p);
/* By the ending of the path: .pdf holds all pages; .svg and .png one file a page, the second
 * named NAME-2.svg and so on.  Any other ending is an error. */
bool pages_write(const struct pages *p, const char *path, struct err *e);
enum paper paper_of(const char *name, bool *known); /* "a4", "letter" */
/* What this house prints on: the variable PAPERSIZE, else the first word of /etc/papersize (both as with
 * libpaper), else A4. */
enum paper paper_of_house(void);

/* Twelve hours (24 where the clock needs them): each let-off with what must sound, and a box. */
void pages_proving(struct pages *p, const struct clock *clock);
/* The same over a full winding, a line a day: power faults show late. */
void pages_winding(struct pages *p, const struct clock *clock);
void pages_oiling(struct pages *p, const struct clock *clock);

/* Steps of any plan: setting right, hands off and on, a visit. */
struct page_step {
    const char *text, *hear, *caution; /* hear and caution may be NULL */
    double minutes;                    /* 0: not said */
    const char *heading;               /* stands above it; may be NULL */
};
void pages_steps(struct pages *p, const char *title, const char *under,
                 const struct page_step *step, size_t steps);

struct page_cause {
    const char *name, *part, *reason; /* reason may be NULL */
    double p;
};
/* What was said on the telephone and what it means.  Texts may be NULL. */
struct page_call {
    const char *number, *when, *customer, *clock_name, *story;
    const char *const *heard;
    size_t heards;
    const struct page_cause *cause;
    size_t causes;
    const char *advice;                /* what the owner may do */
    const struct clock *clock;         /* for the plate, or NULL */
    double belief[PLATE_PARTS];
};
void pages_call(struct pages *p, const struct page_call *call);

struct page_visit {
    const char *van, *when, *customer, *clock_name;
    const struct page_cause *cause;
    size_t causes;
    const char *const *kit;
    size_t kits;
    double minutes;
    double oil_enough;       /* chance that cleaning and oiling suffices, 0..1; < 0 not said */
    const char *comes_back;  /* how soon it may come back */
    const struct page_step *step;
    size_t steps;
};
void pages_visit(struct pages *p, const struct page_visit *visit);

#endif
