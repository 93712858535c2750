#include "drill/drill.h"

#include "mem.h"

/* How often each kind comes up at each level. */
static const int often[6][ROUND_KINDS] = {
    [1] = {[ROUND_TIME] = 4, [ROUND_CLOCK] = 3, [ROUND_OIL] = 1},
    [2] = {[ROUND_TIME] = 2, [ROUND_CLOCK] = 2, [ROUND_OIL] = 2, [ROUND_RESET] = 2},
    [3] = {[ROUND_TIME] = 1, [ROUND_CLOCK] = 1, [ROUND_OIL] = 1, [ROUND_RESET] = 3, [ROUND_DEFECT] = 3},
    [4] = {[ROUND_OIL] = 1, [ROUND_RESET] = 2, [ROUND_DEFECT] = 2, [ROUND_FAULT] = 4},
    [5] = {[ROUND_RESET] = 2, [ROUND_DEFECT] = 2, [ROUND_FAULT] = 6},
};

void drill_init(struct drill *d, struct training *room, int level)
{
    *d = (struct drill){.room = room, .level = level < 1 ? 1 : level > 5 ? 5 : level, .only = -1, .last = ROUND_KINDS};
}

void drill_release(struct drill *d)
{
    for (size_t i = 0; i < d->misses; i++) {
        mem_free(d->miss[i].prompt);
        mem_free(d->miss[i].review);
    }
    mem_free(d->miss);
    *d = (struct drill){.room = NULL};
}

/* The same kind is not asked twice running when there is another. */
static enum round_kind draw_kind(struct drill *d)
{
    int sum = 0, weight[ROUND_KINDS];
    for (int k = 0; k < ROUND_KINDS; k++) {
        weight[k] = often[d->level][k] * (k == (int)d->last ? 1 : 3);
        sum += weight[k];
    }
    int left = (int)random_below(&d->room->random, (unsigned)sum);
    for (int k = 0; k < ROUND_KINDS; k++) {
        left -= weight[k];
        if (left < 0)
            return (enum round_kind)k;
    }
    return ROUND_TIME;
}

struct round *drill_next(struct drill *d)
{
    for (int tries = 0; tries < 12; tries++) {
        enum round_kind kind = d->only >= 0 ? (enum round_kind)d->only : draw_kind(d);
        struct round *r = round_new(d->room, kind, d->level);
        if (r) {
            d->last = kind;
            return r;
        }
    }
    return NULL;
}

static bool missed(const struct round *r)
{
    return !r->right || r->score < DRILL_BAD;
}

char *drill_note(const struct round *r)
{
    struct text t = {0};
    if (!missed(r))
        return NULL;
    text_addf(&t, "%s %s", r->prompt, r->review);
    char *note = mem_copy_text(text_cstr(&t));
    text_release(&t);
    return note;
}

static void keep_miss(struct drill *d, const struct round *r)
{
    d->miss = mem_grow(d->miss, &d->miss_room, d->misses + 1, sizeof *d->miss);
    d->miss[d->misses++] = (struct drill_miss){r->kind, mem_copy_text(r->prompt), mem_copy_text(r->review), r->part};
}

void drill_take(struct drill *d, const struct round *r)
{
    d->rounds++;
    d->score += r->score;
    d->spent_min += r->spent_min;
    d->best_min += r->best_min;
    if (missed(r))
        keep_miss(d, r);
    d->good_row = r->score >= DRILL_GOOD ? d->good_row + 1 : 0;
    d->bad_row = r->score < DRILL_BAD ? d->bad_row + 1 : 0;
    if (d->good_row == 3 && d->level < 5) {
        d->level++;
        d->good_row = 0;
    }
    if (d->bad_row == 2 && d->level > 1) {
        d->level--;
        d->bad_row = 0;
    }
}

double drill_score(const struct drill *d)
{
    return d->rounds ? (double)d->score / (double)d->rounds : 0;
}
