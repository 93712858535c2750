/* rest.h - the whole state of a mechanism between let-offs, as a handful of small integers.
 *
 * Eight bytes, canonical: equal situations are equal states and can be compared with ==
 * (rest_same) and used as a key (rest_key).  Where the hands stand is not in it: that is the
 * business of struct moment (move.h).  Angles and speeds live only inside a let-off.
 */
#ifndef LETOFF_MOVEMENT_REST_H
#define LETOFF_MOVEMENT_REST_H

#include <stdbool.h>
#include <stdint.h>
#include <string.h>

struct works;

/* What holds the clock up; 0 nothing. */
enum stuck {
    STUCK_NOT,
    STUCK_HANDS,       /* hands stalled under the lift; pendulum or balance goes on */
    STUCK_TAIL,        /* rack tail on the twelve-to-one face: hands held, going train stops */
    STUCK_WARNING,     /* warning pin wedged on its lever: both trains held */
    STUCK_STRIKE,      /* strike train stands in mid-run */
    STUCK_CHIME,       /* chime train stands in mid-run */
    STUCK_MUSIC,
    STUCK_GOING,       /* going train or beat has failed */
    STUCK_KINDS
};

enum rest_flag {
    REST_WARNED_STRIKE = 1, /* run up to the warning and waiting */
    REST_WARNED_CHIME = 2,
    REST_CORRECTOR = 4,     /* chime locked by the corrector */
    REST_SILENT_STRIKE = 8, /* owner's levers */
    REST_SILENT_CHIME = 16,
    REST_RACK_LOST = 32,    /* rack out of the pallet's reach */
    REST_NOTE_HELD = 64,    /* a hammer was left on the lift at the stop */
    REST_PIN_PHASE = 128,   /* spare for trains whose hammer star has two places */
};

enum power_level { POWER_OUT, POWER_LOW, POWER_GOOD, POWER_FULL };

struct rest {
    uint8_t count;   /* strike: next entry of the count wheel; rack clocks: 0 */
    uint8_t left;    /* blows left over from an interrupted count; rack: teeth it hangs down */
    uint8_t quarter; /* chime: next entry of the quarter count wheel (or rack teeth hanging) */
    uint8_t drum;    /* chime: next change on the drum */
    uint8_t flags;   /* enum rest_flag */
    uint8_t stuck;   /* enum stuck */
    uint8_t power;   /* enum power_level, two bits a train: going, strike, chime, music */
    uint8_t tune;    /* low 4 bits selected tune; high 4 bits changes left over of a quarter */
};
_Static_assert(sizeof(struct rest) == 8, "a rest state is eight bytes");

static inline uint64_t rest_key(struct rest r)
{
    uint64_t k;
    memcpy(&k, &r, sizeof k);
    return k;
}
static inline bool rest_same(struct rest a, struct rest b)
{
    return rest_key(a) == rest_key(b);
}
static inline enum power_level rest_power(struct rest r, int train)
{
    return (enum power_level)((r.power >> (2 * train)) & 3);
}
void rest_set_power(struct rest *r, int train, enum power_level level);

/* The state in which the next let-off at or after `work_min` sounds right. */
struct rest rest_in_step(const struct works *w, int work_min);
/* True if what sounds from here on is right for these hands (compares canonical parts that
 * matter for sound: count, quarter, drum, left-overs, stuck). */
bool rest_is_in_step(const struct works *w, struct rest r, int work_min);
/* The same against a state due that is already known. */
bool rest_agrees(const struct works *w, struct rest r, struct rest due);

#endif
