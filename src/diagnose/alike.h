/* alike.h - causes that what was heard cannot tell apart.
 *
 * Each cause is laid along the report in the severity and the state to start from that suit it best (of clocks on
 * which they suit alike, the likeliest), and the chance it gives to each row is noted.  Two causes that give every
 * row the same chance sound alike there: no ear, however good, can choose between them by those let-offs, and what
 * the belief prefers it prefers by how often such things happen.  They are alike while the ratios of their chances,
 * row by row and all in one direction, do not come to more than ALIKE_FACTOR.
 *
 * A group holds the causes that sound like its likeliest one; each cause is in one group.  To part them
 * another let-off has to be heard, if one of them sounds otherwise there, or their parts looked at.
 */
#ifndef LETOFF_DIAGNOSE_ALIKE_H
#define LETOFF_DIAGNOSE_ALIKE_H

#include <stddef.h>
#include "diagnose/belief.h"
#include "text.h"

#define ALIKE_CAUSES 32
#define ALIKE_FACTOR 2.0

struct alike_group {
    size_t cause[ALIKE_CAUSES]; /* in the belief, likeliest first */
    size_t causes;
    double p;      /* of all of them together */
    int hear_min;  /* dial minute of the coming let-off that parts them best; -1: none does */
    double parted; /* how well it does: 0 not at all .. 1 */
};
struct alike {
    struct alike_group group[ALIKE_CAUSES]; /* likeliest first */
    size_t groups;
};

/* Groups of the likeliest causes: at most `most` (and ALIKE_CAUSES) of them, none below `least`.  Zeroed
 * when there is no row. */
void alike_find(struct alike *a, const struct belief *b, const struct sheet *sheet, size_t most, double least);
/* Fill hear_min and parted of a group. */
void alike_apart(struct alike_group *g, const struct belief *b, const struct sheet *sheet);
/* Their names: "a, b and c", "a, b, c and 4 others". */
void alike_names(const struct alike_group *g, const struct belief *b, struct text *out);
/* "hear it at 7:00, or look at the rack and the hammer". */
void alike_say(const struct alike_group *g, const struct belief *b, struct text *out);
/* The parts of a group's causes, each once; at most `most`, returns how many. */
size_t alike_parts(const struct alike_group *g, const struct belief *b, const char **part, size_t most);

#endif
