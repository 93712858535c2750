/* sandbox.h - give up every right but to read, compute and write what is already open.
 *
 * For the small decoder program only.  Limits: processor time, memory, file size, open files.  Then
 * a list of allowed system calls (seccomp-bpf); any other ends the process with SIGSYS.  There is no
 * way back, and threads cannot be started after it.
 */
#ifndef LETOFF_SANDBOX_H
#define LETOFF_SANDBOX_H

#include <stdbool.h>
#include <stddef.h>

struct sandbox_limits {
    unsigned cpu_s;
    size_t output_bytes; /* of any file it writes to; pipes have no limit */
    size_t memory_bytes; /* address space; not set when built with the address sanitizer */
};

/* False when the kernel refuses (then nothing may be decoded). */
bool sandbox_limit(const struct sandbox_limits *limits);
bool sandbox_enter(void);

#endif
