/* plate.h - the movement of a clock as an engraved plate, drawn from its data.
 *
 * Figures of dial, strike work, chime work, trains, hammers and sounders stand on a plate of
 * PLATE_W by PLATE_H; which are there and what they look like follows from the clock.  A pose
 * (plate_pose.h) says how everything stands.  Each part drawn leaves its places behind for
 * pointing at, and the belief that it is at fault is painted on it: wash and line of the accent,
 * a denser hatch the likelier it is, and a numbered flag on the likeliest few.
 *
 *     struct plate plate = {.clock = c, .pose = pose, .belief = belief, .pointed = PART_NONE};
 *     plate_draw(&plate, canvas, 0, 0, 1.0);
 *     enum plate_part under = plate_part_at(&plate, mouse_x, mouse_y);
 */
#ifndef LETOFF_DRAW_PLATE_H
#define LETOFF_DRAW_PLATE_H

#include <stdbool.h>
#include <stddef.h>
#include "draw/canvas.h"
#include "draw/plate_parts.h"
#include "draw/plate_pose.h"
#include "movement/clock.h"

#define PLATE_W 1200.0
#define PLATE_H 800.0
#define PLATE_PLACES 600
#define PLATE_FLAGS 4         /* suspects that get a numbered flag */
#define PLATE_SUSPECT 0.04    /* belief under which a part is not marked at all */

/* A place of a part on the page: all points within r of the line from 1 to 2. */
struct plate_place {
    int part;
    float x1, y1, x2, y2, r;
    float belief; /* painted on it */
};

/* A share of the belief in a part that is about one train or one sounder only. */
#define PLATE_DOUBTS 24
struct plate_doubt {
    int part, train, sounder; /* -1: any */
    double p;
};

struct plate {
    /* filled by the caller */
    const struct clock *clock;
    struct plate_pose pose;
    double belief[PLATE_PARTS];  /* 0..1 */
    int pointed;                 /* enum plate_part under pointer or focus, PART_NONE */
    struct plate_doubt doubt[PLATE_DOUBTS]; /* shares of `belief` that are nearer known */
    size_t doubts;
    /* filled by plate_draw */
    struct plate_place place[PLATE_PLACES];
    size_t places;
    double dial_x, dial_y, dial_r; /* on the page, for dragging hands */
};

/* Draw with the plate's top left corner at x, y of the current frame.  Clears the places. */
void plate_draw(struct plate *p, struct canvas *c, double x, double y, double scale);
/* The part at a point of the page, nearest and smallest first; PART_NONE. */
enum plate_part plate_part_at(const struct plate *p, double x, double y);
/* Where to put a caption for the part; false if this clock does not show it. */
bool plate_anchor(const struct plate *p, enum plate_part part, double *x, double *y);
/* Only the dial with its hands, in a square of `size`. */
void plate_draw_dial(struct plate *p, struct canvas *c, double x, double y, double size);
/* The parts this plate shows, in reading order; for the tab key. */
size_t plate_shown(const struct plate *p, enum plate_part *part, size_t room);

#endif
