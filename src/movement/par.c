#include "movement/par.h"

#include <string.h>

#define ROW(NAME, join, sound, low, high, meaning) {NAME, JOIN_##join, sound, low, high, meaning},
#define PAR_ONE(name, ...) ROW(#name, __VA_ARGS__)
#define PAR_FOUR(name, ...)                                                                        \
    ROW(#name "_going", __VA_ARGS__)                                                               \
    ROW(#name "_strike", __VA_ARGS__)                                                              \
    ROW(#name "_chime", __VA_ARGS__)                                                               \
    ROW(#name "_music", __VA_ARGS__)

static const struct par_row rows[PAR_COUNT] = {PAR_TABLE(PAR_ONE, PAR_FOUR)};

const struct par_row *par_row(enum par p)
{
    return &rows[p];
}

enum par par_of(const char *name)
{
    for (int i = 0; i < PAR_COUNT; i++)
        if (!strcmp(rows[i].name, name))
            return (enum par)i;
    return PAR_COUNT;
}

void par_defaults(double v[PAR_COUNT])
{
    for (int i = 0; i < PAR_COUNT; i++)
        v[i] = rows[i].sound;
}

static double joined(enum par_join join, double old, double value)
{
    switch (join) {
    case JOIN_ADD:
        return old + value;
    case JOIN_MUL:
        return old * value;
    case JOIN_MAX:
        return 1 - (1 - old) * (1 - value);
    case JOIN_SET:
        break;
    }
    return value;
}

void par_change(double v[PAR_COUNT], enum par p, double value)
{
    double x = joined(rows[p].join, v[p], value);
    v[p] = x < rows[p].low ? rows[p].low : x > rows[p].high ? rows[p].high : x;
}
