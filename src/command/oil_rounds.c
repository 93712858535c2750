#include "command/oil_rounds.h"

#include <stdio.h>

#include "draw/oil_chart.h"

size_t oil_rounds(const struct clock *c, struct oil_place *list, size_t room)
{
    struct oil_row row[OIL_ROWS];
    size_t n = oil_chart(c, row);
    n = n < room ? n : room;
    for (size_t i = 0; i < n; i++) {
        snprintf(list[i].place, sizeof list[i].place, "%.63s", row[i].place);
        list[i].wants = oil_name(row[i].oil);
        list[i].note = row[i].note;
    }
    return n;
}
