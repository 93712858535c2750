#include "listen/taps.h"

#include <math.h>
#include <stdlib.h>

#include "mem.h"

#define KEYS 10
#define TAP_SURE 0.97f /* people miss a blow or tap twice now and then */
#define TAP_RIGHT 0.9f /* and press the neighbouring key */

static int by_time(const void *a, const void *b)
{
    const struct tap *x = a, *y = b;
    return (x->t_s > y->t_s) - (x->t_s < y->t_s);
}

/* Keys used get sounders in their order; key 0 alone is one sounder of unknown height. */
static void name_keys(struct hearing *h, const struct tap *tap, size_t count, uint8_t sounder_of[KEYS])
{
    size_t blows[KEYS] = {0};
    for (size_t i = 0; i < count; i++)
        blows[tap[i].key]++;
    for (int turn = 1; turn <= KEYS; turn++) {
        int key = turn % KEYS; /* 0, of which nothing is known, comes last */
        if (!blows[key])
            continue;
        sounder_of[key] = (uint8_t)h->sounder_count;
        h->sounder[h->sounder_count++] = (struct heard_sounder){.blows = blows[key], .strength = 1, .tapped = true};
    }
}

static void add_tap(struct hearing *h, const struct tap *tap, uint8_t sounder)
{
    h->blow = mem_grow(h->blow, &h->blow_room, h->blow_count + 1, sizeof *h->blow);
    struct heard_blow *b = &h->blow[h->blow_count++];
    float others = h->sounder_count > 1 ? (1 - TAP_RIGHT) / (float)(h->sounder_count - 1) : 0;
    *b = (struct heard_blow){.t_s = tap->t_s, .sounder = sounder, .sure = TAP_SURE, .strength = 1};
    for (size_t k = 0; k < h->sounder_count; k++)
        b->sounder_p[k] = h->sounder_count == 1 ? 1 : k == sounder ? TAP_RIGHT : others;
    b->p = b->sounder_p[sounder];
}

void taps_to_hearing(const struct tap *tap, size_t count, struct hearing *h)
{
    struct tap *good = mem_alloc((count + 1) * sizeof *good);
    uint8_t sounder_of[KEYS] = {0};
    size_t n = 0;
    for (size_t i = 0; i < count; i++)
        if (isfinite(tap[i].t_s) && tap[i].key >= 0 && tap[i].key < KEYS)
            good[n++] = tap[i];
    qsort(good, n, sizeof *good, by_time);
    hearing_clear(h);
    name_keys(h, good, n, sounder_of);
    for (size_t i = 0; i < n; i++)
        add_tap(h, &good[i], sounder_of[good[i].key]);
    h->length_s = n ? good[n - 1].t_s : 0;
    hearing_divide(h);
    mem_free(good);
}
