#include "draw/oil_chart.h"

#include <stdio.h>
#include <string.h>

static void add(struct oil_row row[OIL_ROWS], size_t *n, const char *place, int count, enum oil oil,
                enum plate_part part, const char *note)
{
    if (*n >= OIL_ROWS || count < 1)
        return;
    struct oil_row *r = &row[(*n)++];
    snprintf(r->place, sizeof r->place, "%s", place);
    r->count = count;
    r->oil = oil;
    r->part = part;
    r->note = note;
}

static const char *const fill =
    "Fill the space between pivot and hole; sink not to the brim, none down the plate.";
static const char *const levers_note =
    "Two sources keep gravity levers dry, one oils them lightly. If oiled, the merest trace: "
    "thickened oil makes them drop late some months on.";

static void train_rows(const struct clock *c, int role, struct oil_row row[OIL_ROWS], size_t *n)
{
    static const char *const name[TRAINS] = {"Going", "Strike", "Chime", "Music"};
    const struct train *t = &c->train[role];
    char place[64];
    bool own = role == TRAIN_GOING || (t->control != CONTROL_NONE && t->shares < 0);
    if (!own)
        return;
    snprintf(place, sizeof place, "%s train, pivots", name[role]);
    add(row, n, place, 2 * (t->arbors > 0 ? t->arbors : 4), OIL_CLOCK, PART_PIVOTS, fill);
    snprintf(place, sizeof place, "%s train, teeth and pinions", name[role]);
    add(row, n, place, t->arbors > 1 ? t->arbors - 1 : 3, OIL_DRY, PART_PIVOTS,
        "Oil on pinions run by brass wheels wears them.");
    if (t->power.drive == DRIVE_SPRING) {
        snprintf(place, sizeof place, "%s mainspring", name[role]);
        add(row, n, place, 1, OIL_GREASE, PART_POWER,
            "Only with the spring let down and out; never with the movement wound.");
        snprintf(place, sizeof place, "%s winding click and barrel arbor", name[role]);
        add(row, n, place, 2, OIL_CLOCK, PART_POWER, "A trace.");
    } else if (t->power.drive == DRIVE_WEIGHT) {
        snprintf(place, sizeof place, "%s pulley and winding click", name[role]);
        add(row, n, place, 2, OIL_CLOCK, PART_CABLE, "A trace on the pulley's pin.");
        snprintf(place, sizeof place, "%s line, cable or chain", name[role]);
        add(row, n, place, 1, OIL_DRY, PART_CABLE, "Oil gathers grit and slips on the wheel.");
    }
}

static void strike_rows(const struct clock *c, struct oil_row row[OIL_ROWS], size_t *n)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    if (t->control == CONTROL_RACK) {
        add(row, n, "Rack post", 1, OIL_DISPUTED, PART_RACK, levers_note);
        add(row, n, "Rack hook stud", 1, OIL_DISPUTED, PART_RACK_HOOK, levers_note);
        add(row, n, "Rack teeth and rack tail", 2, OIL_DRY, PART_RACK_TAIL, "They fall on the snail dry.");
        add(row, n, "Snail", 1, OIL_DRY, PART_SNAIL, "");
        add(row, n, "Gathering pallet, where it rubs", 1, OIL_CLOCK, PART_GATHERING_PALLET,
            "A touch where the tail meets its stop.");
    } else if (t->control == CONTROL_COUNT_WHEEL) {
        add(row, n, "Count wheel rim and slots", 1, OIL_DRY, PART_COUNT_WHEEL, "");
        add(row, n, "Count lever pivots", 2, OIL_DISPUTED, PART_COUNT_LEVER, levers_note);
    }
    add(row, n, "Hammer pins or star, and hammer tail", c->sounders, OIL_CLOCK, PART_HAMMER,
        "A touch where pin meets tail: steel slides there under load.");
    add(row, n, "Hammer arbor pivots", 2, OIL_CLOCK, PART_HAMMER, fill);
}

static void chime_rows(const struct clock *c, struct oil_row row[OIL_ROWS], size_t *n)
{
    const struct train *t = &c->train[TRAIN_CHIME];
    if (t->control == CONTROL_NONE)
        return;
    add(row, n, "Chime drum pivots", 2, OIL_CLOCK, PART_CHIME_DRUM, fill);
    add(row, n, "Drum pins and hammer tails", c->sounders, OIL_CLOCK, PART_CHIME_DRUM,
        "A touch along the tails; wipe off what stands proud.");
    add(row, n, "Quarter count wheel", 1, OIL_DRY, PART_CHIME_COUNT_WHEEL, "");
    add(row, n, "Chime levers, studs", 2, OIL_DISPUTED, PART_COUNT_LEVER, levers_note);
    if (t->corrector)
        add(row, n, "Corrector stud", 1, OIL_DISPUTED, PART_CORRECTOR, levers_note);
}

size_t oil_chart(const struct clock *clock, struct oil_row row[OIL_ROWS])
{
    size_t n = 0;
    for (int t = 0; t < TRAINS; t++)
        train_rows(clock, t, row, &n);
    add(row, &n, "Pallet faces and pallet pivots", 4, OIL_CLOCK, PART_BEAT,
        "A trace on each face; pivots as the others.");
    add(row, &n, "Crutch fork or balance", 1, OIL_CLOCK, PART_BEAT, "The merest trace in the fork.");
    add(row, &n, "Cannon wheel, minute wheel post", 2, OIL_CLOCK, PART_MOTION_WORK,
        "A trace on the post; none on the motion work's teeth.");
    add(row, &n, "Lobes and lifting piece, where they rub", clock->lobes, OIL_CLOCK,
        PART_LIFTING_PIECE, "A touch on each lobe: a slow contact under load.");
    add(row, &n, "Lifting piece stud", 1, OIL_DISPUTED, PART_LIFTING_PIECE, levers_note);
    strike_rows(clock, row, &n);
    chime_rows(clock, row, &n);
    add(row, &n, "Fly: friction spring on its arbor", 1, OIL_DRY, PART_FLY,
        "Its grip must not be greased; only its pivots are oiled.");
    add(row, &n, "Hammer faces, rods, gongs, bells", clock->sounders, OIL_DRY, PART_SOUNDER, "");
    return n;
}

const char *oil_name(enum oil oil)
{
    static const char *const names[OILS] = {"clock oil", "grease", "dry", "sources differ"};
    return names[oil];
}
