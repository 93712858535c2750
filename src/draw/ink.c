#include "draw/ink.h"

#include <math.h>

struct rgb {
    unsigned char r, g, b;
};

static const struct rgb palette[CONTRASTS][TONES] = {
    [CONTRAST_PLAIN] = {
        [TONE_PAPER] = {0xF1, 0xEE, 0xE6},
        [TONE_CARD] = {0xFB, 0xFA, 0xF6},
        [TONE_SHADE] = {0xE4, 0xE1, 0xD8},
        [TONE_INK] = {0x1B, 0x22, 0x2B},
        [TONE_SOFT] = {0x4A, 0x52, 0x5C},
        [TONE_FAINT] = {0xA9, 0xAB, 0xAA},
        [TONE_ACCENT] = {0xB8, 0x36, 0x12},
        [TONE_WASH] = {0xF4, 0xD9, 0xCB},
    },
    [CONTRAST_STRONG] = {
        [TONE_PAPER] = {0xFF, 0xFF, 0xFF},
        [TONE_CARD] = {0xFF, 0xFF, 0xFF},
        [TONE_SHADE] = {0xE6, 0xE6, 0xE6},
        [TONE_INK] = {0x00, 0x00, 0x00},
        [TONE_SOFT] = {0x22, 0x22, 0x22},
        [TONE_FAINT] = {0x70, 0x70, 0x70},
        [TONE_ACCENT] = {0xA4, 0x22, 0x00},
        [TONE_WASH] = {0xFF, 0xDD, 0xCE},
    },
    [CONTRAST_NIGHT] = {
        [TONE_PAPER] = {0x14, 0x19, 0x20},
        [TONE_CARD] = {0x1C, 0x23, 0x2C},
        [TONE_SHADE] = {0x2A, 0x33, 0x3E},
        [TONE_INK] = {0xE6, 0xE8, 0xE8},
        [TONE_SOFT] = {0xB0, 0xB8, 0xC0},
        [TONE_FAINT] = {0x5A, 0x66, 0x72},
        [TONE_ACCENT] = {0xFF, 0x8A, 0x5C},
        [TONE_WASH] = {0x4A, 0x2A, 0x20},
    },
};

#define SERIF "Linux Libertine O, Libertinus Serif, TeX Gyre Pagella, DejaVu Serif, serif"
#define SANS "Linux Biolinum O, Libertinus Sans, DejaVu Sans, sans-serif"
#define MONO "Linux Libertine Mono O, DejaVu Sans Mono, monospace"

static const struct {
    const char *family;
    double size;
    bool italic;
    int bold;
    double spacing;
} type_rows[TYPES] = {
    [TYPE_BODY] = {SERIF, 16, false, 400, 0},
    [TYPE_SMALL] = {SERIF, 14, false, 400, 0},
    [TYPE_LABEL] = {SANS, 12, false, 700, 0.09},
    [TYPE_UI] = {SANS, 15.5, false, 400, 0.005},
    [TYPE_UI_BOLD] = {SANS, 15.5, false, 700, 0.005},
    [TYPE_STRONG] = {SERIF, 16, false, 700, 0},
    [TYPE_ITALIC] = {SERIF, 15, true, 400, 0},
    [TYPE_HEAD] = {SERIF, 20, false, 700, 0},
    [TYPE_TITLE] = {SERIF, 29, false, 400, 0.01},
    [TYPE_ASK] = {SERIF, 27, false, 400, 0},
    [TYPE_NUMERAL] = {SANS, 15, false, 400, 0},
    [TYPE_ROMAN] = {SERIF, 20, false, 400, 0.02},
    [TYPE_MONO] = {MONO, 14, false, 400, 0},
};

static const double widths[WEIGHTS] = {
    [WEIGHT_HAIR] = 0.5, [WEIGHT_FINE] = 0.8, [WEIGHT_LINE] = 1.2,
    [WEIGHT_BOLD] = 2.0, [WEIGHT_HEAVY] = 3.2,
};

void ink_rgb(const struct ink *ink, enum tone tone, double rgb[3])
{
    const struct rgb *c = &palette[ink->contrast][tone];
    rgb[0] = c->r / 255.0;
    rgb[1] = c->g / 255.0;
    rgb[2] = c->b / 255.0;
}

double ink_width(const struct ink *ink, enum weight weight)
{
    return widths[weight] * (ink->contrast == CONTRAST_STRONG ? 1.3 : 1);
}

double ink_size(const struct ink *ink, enum type type)
{
    return type_rows[type].size * (ink->text > 0 ? ink->text : 1);
}

const char *ink_family(enum type type)
{
    return type_rows[type].family;
}

bool ink_italic(enum type type)
{
    return type_rows[type].italic;
}

int ink_boldness(enum type type)
{
    return type_rows[type].bold;
}

double ink_spacing(enum type type)
{
    return type_rows[type].spacing;
}

static double linear(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}

static double luminance(const struct ink *ink, enum tone tone)
{
    double c[3];
    ink_rgb(ink, tone, c);
    return 0.2126 * linear(c[0]) + 0.7152 * linear(c[1]) + 0.0722 * linear(c[2]);
}

double ink_ratio(const struct ink *ink, enum tone a, enum tone b)
{
    double la = luminance(ink, a), lb = luminance(ink, b);
    return la > lb ? (la + 0.05) / (lb + 0.05) : (lb + 0.05) / (la + 0.05);
}

const char *ink_contrast_name(enum contrast c)
{
    static const char *const names[CONTRASTS] = {"plain", "strong", "night"};
    return names[c];
}
