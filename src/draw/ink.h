/* ink.h - the look, in one place: paper, ink lines, hatching, and one warm accent.
 *
 * A page looks like an engraved handbook plate.  There are a paper, inks of three strengths and
 * exactly one warm colour.  The accent (TONE_ACCENT and its wash) always and only means "heard
 * differs from expected" or "suspect"; focus, selection and headings never use it.  Whatever
 * wears the accent also wears a heavier hatch and a mark, so that nothing hangs on colour alone.
 *
 * All sizes are in points of the page (1/72 inch in print, one logical pixel in the window); the
 * painter scales the whole page.  Text sizes are multiplied by ink.text.
 */
#ifndef LETOFF_DRAW_INK_H
#define LETOFF_DRAW_INK_H

#include <stdbool.h>

enum tone {
    TONE_PAPER,  /* ground */
    TONE_CARD,   /* what lies on the paper: fields, sheets */
    TONE_SHADE,  /* recesses, hover, empty cells */
    TONE_INK,    /* lines and text */
    TONE_SOFT,   /* second text */
    TONE_FAINT,  /* rules, guide lines; never text */
    TONE_ACCENT, /* heard differs from expected / suspect */
    TONE_WASH,   /* the same as a ground */
    TONES
};
enum contrast { CONTRAST_PLAIN, CONTRAST_STRONG, CONTRAST_NIGHT, CONTRASTS };

/* Widths of lines. */
enum weight { WEIGHT_HAIR, WEIGHT_FINE, WEIGHT_LINE, WEIGHT_BOLD, WEIGHT_HEAVY, WEIGHTS };

/* Styles of text. */
enum type {
    TYPE_BODY,    /* reading text */
    TYPE_SMALL,   /* captions, secondary lines */
    TYPE_LABEL,   /* names of fields and figures: letterspaced small capitals of the sans */
    TYPE_UI,      /* what stands on a button or in a cell: sans */
    TYPE_UI_BOLD,
    TYPE_STRONG,  /* reading text, emphasised */
    TYPE_ITALIC,  /* figure captions, remarks */
    TYPE_HEAD,    /* head of a section */
    TYPE_TITLE,   /* name of the page */
    TYPE_ASK,     /* the question to read out, large */
    TYPE_NUMERAL, /* figures in tables: lining, all of one width */
    TYPE_ROMAN,   /* numerals of a dial; size by the caller */
    TYPE_MONO,    /* shorthand and call sheets */
    TYPES
};

struct ink {
    enum contrast contrast;
    double text;  /* text size, 1 as designed; 0.8 .. 2 */
};

/* A zeroed struct ink counts as plain contrast and text size 1. */
void ink_rgb(const struct ink *ink, enum tone tone, double rgb[3]);
double ink_width(const struct ink *ink, enum weight weight);  /* strong contrast widens lines */
double ink_size(const struct ink *ink, enum type type);       /* em of that style in points */
const char *ink_family(enum type type);                       /* fontconfig list of families */
bool ink_italic(enum type type);
int ink_boldness(enum type type);                             /* 400 or 700 */
double ink_spacing(enum type type);                           /* letterspacing, share of the em */

/* Contrast ratio of two tones, 1..21 (WCAG 2.1, relative luminance of sRGB). */
double ink_ratio(const struct ink *ink, enum tone a, enum tone b);
const char *ink_contrast_name(enum contrast c); /* "plain", "strong", "night" */

#endif
