/* pthread.h - what the ground asks of threads, where there is but one. */
#ifndef LETOFF_SHIM_PTHREAD_H
#define LETOFF_SHIM_PTHREAD_H

typedef int pthread_once_t;
#define PTHREAD_ONCE_INIT 0

static inline int pthread_once(pthread_once_t *done, void (*call)(void))
{
    if (!*done)
        call();
    *done = 1;
    return 0;
}

#endif
