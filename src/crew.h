/* crew.h - one piece of work after another, on as many processors as there are.
 *
 *     static void one(void *with, size_t i, size_t hand) { ... }     // hand < crew_hands()
 *     crew_run(count, crew_hands(), one, &mine);                     // all are done when it returns
 *
 * Pieces are taken in order of their numbers, by whoever is free: no piece may need another's result
 * or touch what another touches.  `hand` tells which of the workers it is, for working memory that is
 * used again and again.  Where no thread can be had the caller does all the work.
 */
#ifndef LETOFF_CREW_H
#define LETOFF_CREW_H

#include <stddef.h>

#define CREW_MOST 8

/* Processors of this machine, 1 to CREW_MOST. */
size_t crew_hands(void);
void crew_run(size_t count, size_t hands, void (*piece)(void *with, size_t i, size_t hand), void *with);

#endif
