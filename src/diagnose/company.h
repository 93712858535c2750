/* company.h - variants of one clock followed through a report together.
 *
 * How the report lies along the let-offs hangs on how the hands stand against the work and on the states the
 * clock may be found in, not on what is wrong with it: variants that agree in these are a company and go
 * through one plan (filter.h), parted only where their works give different rows.
 */
#ifndef LETOFF_DIAGNOSE_COMPANY_H
#define LETOFF_DIAGNOSE_COMPANY_H

#include "diagnose/filter.h"
#include "diagnose/hypothesis.h"

#define STARTS_MOST 512

/* States the clock may be found in, at most STARTS_MOST; returns how many. */
size_t variant_starts(struct clock_case *k, const struct variant *v, int letoff, struct filter_state *out);
/* It is led in by an hour unheard. */
bool variant_burns(const struct variant *v);

/* Ways in which the report may lie: which half of the day, which of the other hours, how long the
 * rules were listened to. */
struct ways {
    struct filter_setting set[8];
    double share[8];
    size_t count;
};
struct ways ways_of(const struct sheet *sheet, struct clock_case *k, size_t variant);

/* Plans of one clock for one sheet, made when a setting is first met. */
struct plans {
    const struct sheet *sheet;
    struct clock_case *kase;
    struct ear_at ear;
    bool heard_only; /* leave aside what was seen and tried */
    struct planned {
        struct filter_setting set;
        struct filter_plan plan;
    } **at;
    size_t count, room;
};
/* Sheet, case and ear must outlive them. */
void plans_init(struct plans *p, const struct sheet *sheet, struct clock_case *k, const struct ear_model *ear);
void plans_release(struct plans *p);
struct filter_plan *plan_for(struct plans *p, const struct filter_setting *set);

/* What the rows alone came to for one variant: its chance, and what was given up of it. */
struct rows_alone {
    double chance, dropped;
    bool known;
};

/* Variants of one clock that can be followed together: the hands stand alike against the work and
 * the clock may be found in the same states. */
struct company {
    size_t variant;
    double weight, bound, chance, dropped;
    int minute_off, hour_off, late;
    unsigned start;
    bool start_only;
    size_t acts;
    bool begun; /* some row told of one let-off of this clock, or none of any */
};
/* For qsort: those of one company together; and in it those that act alike. */
int company_order(const void *a, const void *b);
int company_order_by_acts(const void *a, const void *b);
/* Follow a company in that order through the rows, and weigh what was seen and tried.  `alone`: by variant, what
 * a first look at the rows alone left, or is to leave (p->heard_only); NULL: none. */
void follow_company(struct plans *p, struct rows_alone *alone, struct company *c, size_t n, struct filter_space *space);

#endif
