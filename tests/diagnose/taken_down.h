/* taken_down.h - a call told in shorthand, taken down and weighed at the desk of finder_desk.h. */
#ifndef LETOFF_TESTS_TAKEN_DOWN_H
#define LETOFF_TESTS_TAKEN_DOWN_H

#include "diagnose/finder_desk.h"

#include <string.h>

struct taken {
    struct sheet sheet;
    struct belief belief;
};

static void take_down(struct taken *t, struct desk *d, const char *line)
{
    sheet_init(&t->sheet, d->words);
    assert_true(sheet_parse_shorthand(&t->sheet, line, strlen(line), NULL));
    assert_true(belief_find(d->finder, &t->sheet, NULL, &t->belief));
}

static void taken_release(struct taken *t)
{
    belief_release(&t->belief);
    sheet_release(&t->sheet);
}

#endif
