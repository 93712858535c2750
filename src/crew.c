#include "crew.h"

#include <unistd.h>

#ifdef __wasi__ /* one thread is all there is */

size_t crew_hands(void)
{
    return 1;
}

void crew_run(size_t count, size_t hands, void (*piece)(void *with, size_t i, size_t hand), void *with)
{
    (void)hands;
    for (size_t i = 0; i < count; i++)
        piece(with, i, 0);
}

#else

#include <pthread.h>
#include <stdatomic.h>

size_t crew_hands(void)
{
    long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n < 1 ? 1 : n > CREW_MOST ? CREW_MOST : (size_t)n;
}

struct crew {
    void (*piece)(void *with, size_t i, size_t hand);
    void *with;
    size_t count;
    atomic_size_t next;
};

struct hand {
    struct crew *crew;
    size_t number;
    pthread_t thread;
};

static void *work(void *of)
{
    struct hand *h = of;
    struct crew *c = h->crew;
    for (size_t i; (i = atomic_fetch_add(&c->next, 1)) < c->count;)
        c->piece(c->with, i, h->number);
    return NULL;
}

void crew_run(size_t count, size_t hands, void (*piece)(void *with, size_t i, size_t hand), void *with)
{
    struct crew c = {.piece = piece, .with = with, .count = count};
    struct hand hand[CREW_MOST];
    size_t helpers = 0;
    atomic_init(&c.next, 0);
    hands = hands > CREW_MOST ? CREW_MOST : hands > count ? count : hands;
    for (size_t i = 1; i < hands; i++) {
        hand[i] = (struct hand){.crew = &c, .number = i};
        if (pthread_create(&hand[i].thread, NULL, work, &hand[i]) != 0)
            break; /* those that are there share what is to be done */
        helpers++;
    }
    hand[0] = (struct hand){.crew = &c, .number = 0};
    work(&hand[0]);
    for (size_t i = 1; i <= helpers; i++)
        pthread_join(hand[i].thread, NULL);
}

#endif
