/* plate_priv.h - what the figures of a plate share; for this folder only. */
#ifndef LETOFF_DRAW_PLATE_PRIV_H
#define LETOFF_DRAW_PLATE_PRIV_H

#include "draw/plate.h"

/* A figure being drawn: the part in hand decides how shapes are engraved. */
struct fig {
    struct plate *plate;
    struct canvas *c;
    const struct clock *clock;
    const struct plate_pose *pose;
    int part;      /* enum plate_part in hand, PART_NONE for frame and ground */
    double belief; /* of that part, here */
    int train, sounder; /* what is being drawn, -1 none in particular */
    int number;    /* figures drawn so far */
};

struct pt {
    double x, y;
};
/* Point at a dial angle (degrees clockwise from 12) and distance. */
struct pt polar(double x, double y, double r, double deg);
/* p turned about (x, y) by deg clockwise. */
struct pt turned(struct pt p, double x, double y, double deg);

/* Take a part in hand; shapes drawn until the next call belong to it. */
void fig_part(struct fig *f, enum plate_part part);
/* Engrave the current path of the canvas as a solid of the part in hand; depth 0 (flat) .. 1. */
void fig_solid(struct fig *f, double depth);
void fig_line(struct fig *f, enum weight weight); /* stroke the path as the part in hand */
/* Leave a place behind for the part in hand. */
void fig_place(struct fig *f, double x1, double y1, double x2, double y2, double r);
/* "Fig. 2  Strike work" under a figure, centred at x; text keeps a readable size. */
void fig_caption(struct fig *f, double x, double y, const char *text);
/* Small lettering that keeps a readable size at any scale. */
void fig_lettering(struct fig *f, double x, double y, enum align align, const char *text);

double fig_lettering_width(const struct fig *f, const char *text);

/* Shapes; all leave their places behind. */
void fig_wheel(struct fig *f, double x, double y, double r, int teeth, double turn_deg, int spokes);
/* The shaded lower right of a ring. */
void fig_shadow(struct fig *f, double x, double y, double inner, double outer);
void fig_pinion(struct fig *f, double x, double y, double r, int leaves, double turn_deg);
void fig_disc(struct fig *f, double x, double y, double r, double depth);
void fig_pivot(struct fig *f, double x, double y, double r); /* screw head or pivot end */
void fig_lever(struct fig *f, double x1, double y1, double w1, double x2, double y2, double w2);
void fig_bar(struct fig *f, double x, double y, double w, double h, double round, double depth);
void fig_spring(struct fig *f, double x1, double y1, double x2, double y2, int turns, double wide);
void fig_weight(struct fig *f, double x, double y, double w, double h);
void fig_barrel(struct fig *f, double x, double y, double r, double wound);

/* Figures, each in its own box whose origin is the frame's. */
void fig_dial(struct fig *f, double size);
void fig_rack_work(struct fig *f);   /* 460 x 420 */
void fig_count_work(struct fig *f);  /* 460 x 420 */
void fig_run_work(struct fig *f);    /* 460 x 420: a fixed run or a passing hammer */
void fig_chime_work(struct fig *f);  /* 460 x 420 */
void fig_train(struct fig *f, enum event_train role, double w, double h);
void fig_sounders(struct fig *f, double w, double h);

#endif
