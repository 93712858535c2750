#include "listen/sandbox.h"

#include <errno.h>
#include <linux/fcntl.h> /* AT_EMPTY_PATH */
#include <signal.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>

#include <seccomp.h>

/* Under the address or thread sanitizer: gcc and clang say so in their own ways. */
#ifdef __has_feature
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define SANITIZED
#endif
#endif
#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__
#define SANITIZED
#endif

static bool limit(int what, rlim_t most)
{
    struct rlimit now;
    if (getrlimit(what, &now) != 0)
        return false;
    if (now.rlim_max != RLIM_INFINITY && now.rlim_max < most)
        most = now.rlim_max;
    return setrlimit(what, &(struct rlimit){most, most}) == 0;
}

bool sandbox_limit(const struct sandbox_limits *limits)
{
    bool ok = limit(RLIMIT_CPU, limits->cpu_s) && limit(RLIMIT_FSIZE, limits->output_bytes) && limit(RLIMIT_NOFILE, 16) &&
              limit(RLIMIT_CORE, 0);
#ifndef SANITIZED /* its shadow memory alone is terabytes of address space */
    ok = ok && limit(RLIMIT_AS, limits->memory_bytes);
#endif
    return ok;
}

/* What decoding from an open file to an open pipe needs: memory, reading, writing, the time, the end.
 * Anything else is the end of the process: no file, program, socket or thread is opened, whoever asks. */
static const int allowed[] = {
    SCMP_SYS(read),          SCMP_SYS(write),        SCMP_SYS(lseek),     SCMP_SYS(fstat),
    SCMP_SYS(brk),           SCMP_SYS(munmap),       SCMP_SYS(mremap),    SCMP_SYS(madvise),
    SCMP_SYS(futex),
    SCMP_SYS(clock_gettime), SCMP_SYS(gettimeofday), SCMP_SYS(getrandom), SCMP_SYS(exit),
    SCMP_SYS(exit_group),    SCMP_SYS(rt_sigreturn), SCMP_SYS(close),     SCMP_SYS(getpid),
    SCMP_SYS(gettid),        SCMP_SYS(tgkill),       SCMP_SYS(rt_sigprocmask),
    SCMP_SYS(sysinfo), /* the C library asks how much memory there is before it sorts */
#ifdef SANITIZED /* its own report and leak check at the end */
    SCMP_SYS(sigaltstack),   SCMP_SYS(sched_yield),
#endif
};

/* Calls that are allowed in one form only: memory that cannot be run, and what an open file is (the call is
 * the same that looks up any path). */
static bool allow_in_part(scmp_filter_ctx filter)
{
    const struct scmp_arg_cmp no_code = SCMP_A2(SCMP_CMP_MASKED_EQ, PROT_EXEC, 0);
    return seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(mmap), 1, no_code) == 0 &&
           seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(mprotect), 1, no_code) == 0 &&
           seccomp_rule_add(filter, SCMP_ACT_ALLOW, SCMP_SYS(newfstatat), 1,
                            SCMP_A3(SCMP_CMP_EQ, AT_EMPTY_PATH)) == 0;
}

bool sandbox_enter(void)
{
    if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0)
        return false;
    scmp_filter_ctx filter = seccomp_init(SCMP_ACT_KILL_PROCESS);
    if (!filter)
        return false;
    bool ok = true;
    for (size_t i = 0; i < sizeof allowed / sizeof *allowed; i++)
        ok = ok && seccomp_rule_add(filter, SCMP_ACT_ALLOW, allowed[i], 0) == 0;
    ok = ok && allow_in_part(filter) && seccomp_load(filter) == 0;
    seccomp_release(filter);
    return ok;
}
