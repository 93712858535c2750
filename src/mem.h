/* mem.h - memory, with one place where running out of it ends the program.
 *
 * Every allocation of the program goes through here.  When none is to be had, one
 * sentence is printed and the program ends with status 3 after running the hooks
 * set by mem_on_exhausted (the journal closes its file there).
 * For tests the environment variable LETOFF_FAIL_ALLOC=N makes the Nth call fail.
 */
#ifndef LETOFF_MEM_H
#define LETOFF_MEM_H

#include <stddef.h>

void *mem_alloc(size_t bytes); /* zeroed; never NULL; 0 bytes give 1 */
/* Doubles *room until it is >= need (counted in things of `each` bytes); the new part is zeroed. */
void *mem_grow(void *old, size_t *room, size_t need, size_t each);
/* The same, but the new part may hold anything: for what is written before it is read. */
void *mem_grow_bare(void *old, size_t *room, size_t need, size_t each);
/* As mem_grow_bare, for an array whose `count` members may be lent: *room 0 says that they lie in memory of
 * somebody else (a mapped file).  They are copied then, and the array is its own. */
void *mem_grow_lent(void *old, size_t count, size_t *room, size_t need, size_t each);
char *mem_copy_text(const char *text);                   /* free with mem_free; NULL gives NULL */
char *mem_copy_bytes(const char *text, size_t length);   /* copy with a NUL behind it */
void mem_free(void *p);                                  /* NULL is fine */
void mem_on_exhausted(void (*hook)(void *), void *with); /* at most 8 hooks, last set first run */
/* The program is about to work with tens of megabytes: take them from the system in large pages, where it has them, and
 * keep what is freed.  Changes the whole process and nothing that can be seen but time; once, before there are threads. */
void mem_in_large_pages(void);
/* End the program as a failed allocation does: for a library that tells us it ran out. */
void mem_exhausted(size_t bytes) __attribute__((noreturn));

#endif
