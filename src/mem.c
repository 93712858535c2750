#include "mem.h"

#include <assert.h>
#include <limits.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#ifdef __GLIBC__
#include <malloc.h>
#include <sys/mman.h>
#include <unistd.h>
#endif

#define HOOKS_MOST 8

static struct {
    void (*call)(void *);
    void *with;
} hooks[HOOKS_MOST];
static size_t hook_count;
static atomic_bool exhausted;     /* set for good once the end has begun, */
static _Thread_local bool ending; /* ... by this thread */

/* The test aid: calls left until one fails; 0 and below = never. */
#define NOT_READ LONG_MIN /* the environment was not asked yet */
static atomic_long calls_left = NOT_READ;

static long fail_alloc_wish(void)
{
    const char *wish = getenv("LETOFF_FAIL_ALLOC");
    long n = wish ? strtol(wish, NULL, 10) : 0;
    return n > 0 ? n : 0;
}

static bool this_call_fails(void)
{
    long left = atomic_load(&calls_left);
    if (left == NOT_READ) {
        long wish = fail_alloc_wish();
        if (atomic_compare_exchange_strong(&calls_left, &left, wish)) /* another thread may have been first */
            left = wish;
    }
    return left > 0 && atomic_fetch_sub(&calls_left, 1) == 1;
}

void mem_exhausted(size_t bytes)
{
    /* A hook that itself runs out of memory, or a second thread, must not start the end again.  The thread that was
     * first has a second to say so and to end: the hooks may wait for this one. */
    if (atomic_exchange(&exhausted, true)) {
        if (!ending)
            nanosleep(&(struct timespec){.tv_sec = 1}, NULL);
        _Exit(3);
    }
    ending = true;
    fprintf(stderr,
            "letoff: There is not enough memory (%zu bytes were wanted); nothing was "
            "written half.\n",
            bytes);
    for (size_t i = hook_count; i-- > 0;)
        hooks[i].call(hooks[i].with);
    exit(3);
}

void mem_on_exhausted(void (*hook)(void *), void *with)
{
    assert(hook_count < HOOKS_MOST);
    hooks[hook_count].call = hook;
    hooks[hook_count].with = with;
    hook_count++;
}

void *mem_alloc(size_t bytes)
{
    void *p = this_call_fails() ? NULL : calloc(1, bytes ? bytes : 1);
    if (!p)
        mem_exhausted(bytes);
    return p;
}

static size_t wider_room(size_t room, size_t need)
{
    if (room < 8)
        room = 8;
    while (room < need)
        room = room > SIZE_MAX / 2 ? need : room * 2;
    return room;
}

void *mem_grow_bare(void *old, size_t *room, size_t need, size_t each)
{
    assert(each > 0);
    if (need <= *room && old)
        return old;
    size_t wide = wider_room(*room, need);
    if (wide > SIZE_MAX / each)
        mem_exhausted(SIZE_MAX);
    void *p = this_call_fails() ? NULL : realloc(old, wide * each);
    if (!p)
        mem_exhausted(wide * each);
    *room = wide;
    return p;
}

void *mem_grow(void *old, size_t *room, size_t need, size_t each)
{
    size_t kept = old ? *room : 0;
    if (old && need <= kept)
        return old;
    char *p = mem_grow_bare(old, room, need, each);
    memset(p + kept * each, 0, (*room - kept) * each);
    return p;
}

void *mem_grow_lent(void *old, size_t count, size_t *room, size_t need, size_t each)
{
    if (*room)
        return mem_grow_bare(old, room, need, each);
    void *own = mem_grow_bare(NULL, room, need > count ? need : count, each);
    if (count)
        memcpy(own, old, count * each);
    return own;
}

char *mem_copy_bytes(const char *text, size_t length)
{
    if (length == SIZE_MAX)
        mem_exhausted(length);
    char *copy = mem_alloc(length + 1);
    if (length)
        memcpy(copy, text, length);
    return copy;
}

char *mem_copy_text(const char *text)
{
    return text ? mem_copy_bytes(text, strlen(text)) : NULL;
}

void mem_free(void *p)
{
    free(p);
}

/* Memory that is touched for the first time comes page by page, and each of the small ones costs the system about as
 * long as filling several.  One heap for all threads, which grows by so much at once, lets it give large ones. */
#define HEAP_STEP  (64u << 20)
#define HEAP_BEGUN (1u << 20) /* more than the heap has to spare at first, so that it grows */

void mem_in_large_pages(void)
{
#if defined(__GLIBC__) && defined(MADV_HUGEPAGE)
    mallopt(M_ARENA_MAX, 1);
    mallopt(M_TOP_PAD, HEAP_STEP);
    mallopt(M_TRIM_THRESHOLD, 4 * HEAP_STEP);
    mallopt(M_MMAP_THRESHOLD, HEAP_STEP / 2);
    char *from = sbrk(0);
    void *volatile grown = mem_alloc(HEAP_BEGUN); /* or the compiler leaves both out */
    mem_free(grown);
    char *to = sbrk(0);
    size_t page = (size_t)sysconf(_SC_PAGESIZE);
    from += (page - (uintptr_t)from % page) % page;
    if (to > from)
        madvise(from, (size_t)(to - from), MADV_HUGEPAGE); /* a wish; without it all is as it was */
#endif
}
