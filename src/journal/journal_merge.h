/* journal_merge.h - take in another journal: the van's copy, another desk's file, a server.
 *
 * The result is the union of all edits and erasures (rules in journal.h), so merging twice, or
 * in the other order, or there and back, changes nothing more.  Customers erased in the one are
 * erased in the other, bytes and kept copies included. */
#ifndef LETOFF_JOURNAL_MERGE_H
#define LETOFF_JOURNAL_MERGE_H

#include "journal/journal.h"

struct merge_result {
    size_t records; /* records of `from` that brought something new */
    size_t edits;   /* edits of `from` that were new */
    size_t erased;  /* erasures of `from` that were new, with what went along */
};

/* All or nothing; `from` is only read. */
bool journal_merge(struct journal *into, struct journal *from, struct merge_result *result,
                   struct err *e);

#endif
