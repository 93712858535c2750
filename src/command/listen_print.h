/* listen_print.h - what was heard, for people and for programs. */
#ifndef LETOFF_COMMAND_LISTEN_PRINT_H
#define LETOFF_COMMAND_LISTEN_PRINT_H

#include "command/hear_cause.h"
#include "command/hear_rhythm.h"

struct listen_print {
    const struct clock *clock;         /* NULL unknown */
    const struct hearing *hearing;
    const struct heard_clock *heard;
    const struct sheet *sheet;         /* NULL: nothing was heard */
    const struct heard_rhythm *rhythm;
    size_t rhythms;
    const struct heard_cause *cause;   /* NULL: not asked, or too little is known */
    const char *no_cause;              /* then the sentence that says why, or NULL */
    bool cut;                          /* the recording broke off */
    size_t most;                       /* causes, 0: as report.h */
};

void listen_print_text(const struct listen_print *p);
void listen_print_json(const struct listen_print *p);

#endif
