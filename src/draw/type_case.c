#include "draw/type_case.h"

#include <pango/pangocairo.h>
#include <string.h>

#include "mem.h"
#include "text.h"

#define SHELVES 512

struct sort {
    struct sort *next;
    uint64_t key;
    PangoLayout *layout;
    double width;
    double em;
    enum type type;
    bool wrap;
    char *text;
};

struct type_case {
    PangoFontMap *map;
    PangoContext *context;
    struct sort *shelf[SHELVES];
    size_t kept;
};

struct type_case *type_case_new(struct err *e)
{
    (void)e; /* for the front */
    struct type_case *t = mem_alloc(sizeof *t);
    t->map = pango_cairo_font_map_new();
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(t->map), 72);
    t->context = pango_font_map_create_context(t->map);
    pango_context_set_round_glyph_positions(t->context, FALSE);
    cairo_font_options_t *o = cairo_font_options_create();
    cairo_font_options_set_hint_metrics(o, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_hint_style(o, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_antialias(o, CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(t->context, o);
    cairo_font_options_destroy(o);
    return t;
}

static void shelves_clear(struct type_case *t)
{
    for (size_t i = 0; i < SHELVES; i++)
        while (t->shelf[i]) {
            struct sort *s = t->shelf[i];
            t->shelf[i] = s->next;
            g_object_unref(s->layout);
            mem_free(s->text);
            mem_free(s);
        }
    t->kept = 0;
}

void type_case_free(struct type_case *t)
{
    if (!t)
        return;
    shelves_clear(t);
    g_object_unref(t->context);
    g_object_unref(t->map);
    mem_free(t);
}

static void set_features(PangoLayout *layout, enum type type, double em)
{
    PangoAttrList *a = pango_attr_list_new();
    if (ink_spacing(type) > 0)
        pango_attr_list_insert(
            a, pango_attr_letter_spacing_new((int)(ink_spacing(type) * em * PANGO_SCALE)));
    if (type == TYPE_NUMERAL)
        pango_attr_list_insert(a, pango_attr_font_features_new("tnum=1, lnum=1"));
    pango_layout_set_attributes(layout, a);
    pango_attr_list_unref(a);
}

static PangoFontDescription *description(enum type type, double em)
{
    PangoFontDescription *d = pango_font_description_new();
    pango_font_description_set_family_static(d, ink_family(type));
    pango_font_description_set_absolute_size(d, em * PANGO_SCALE);
    pango_font_description_set_weight(d, (PangoWeight)ink_boldness(type));
    if (ink_italic(type))
        pango_font_description_set_style(d, PANGO_STYLE_ITALIC);
    return d;
}

bool type_case_face(struct type_case *t, enum type type, struct text *into)
{
    PangoFontFamily **families;
    int count = 0;
    pango_font_map_list_families(t->map, &families, &count);
    g_free(families);
    PangoFontDescription *wanted = description(type, ink_size(&(struct ink){0}, type));
    PangoFont *font = count ? pango_context_load_font(t->context, wanted) : NULL;
    pango_font_description_free(wanted);
    if (!font)
        return false;
    PangoFontDescription *got = pango_font_describe(font);
    text_add(into, pango_font_description_get_family(got));
    pango_font_description_free(got);
    g_object_unref(font);
    return true;
}

static PangoLayout *lay(struct type_case *t, enum type type, double em, double width, bool wrap,
                        const char *text)
{
    PangoLayout *layout = pango_layout_new(t->context);
    PangoFontDescription *d = description(type, em);
    pango_layout_set_font_description(layout, d);
    pango_font_description_free(d);
    set_features(layout, type, em);
    if (width > 0)
        pango_layout_set_width(layout, (int)(width * PANGO_SCALE));
    if (width > 0 && wrap)
        pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    else if (width > 0)
        pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
    if (!wrap)
        pango_layout_set_single_paragraph_mode(layout, TRUE);
    pango_layout_set_text(layout, text, -1);
    return layout;
}

static uint64_t key_of(enum type type, double em, double width, bool wrap, const char *text)
{
    uint64_t h = 14695981039346656037u ^ ((uint64_t)type << 3 | wrap);
    h = (h ^ (uint64_t)(em * 64)) * 1099511628211u;
    h = (h ^ (uint64_t)(width * 64)) * 1099511628211u;
    for (; *text; text++)
        h = (h ^ (unsigned char)*text) * 1099511628211u;
    return h;
}

PangoLayout *type_case_layout(struct type_case *t, enum type type, double em, double width,
                              bool wrap, const char *text)
{
    uint64_t key = key_of(type, em, width, wrap, text);
    for (struct sort *s = t->shelf[key % SHELVES]; s; s = s->next)
        if (s->key == key && s->type == type && s->em == em && s->width == width &&
            s->wrap == wrap && strcmp(s->text, text) == 0)
            return s->layout;
    if (t->kept >= TYPE_CASE_MOST)
        shelves_clear(t);
    struct sort *s = mem_alloc(sizeof *s);
    *s = (struct sort){.next = t->shelf[key % SHELVES], .key = key, .width = width, .em = em,
                       .type = type, .wrap = wrap, .text = mem_copy_text(text)};
    s->layout = lay(t, type, em, width, wrap, text);
    t->shelf[key % SHELVES] = s;
    t->kept++;
    return s->layout;
}

void type_case_measure(struct type_case *t, enum type type, double em, double width, bool wrap,
                       const char *text, double *w, double *h)
{
    PangoRectangle r;
    pango_layout_get_extents(type_case_layout(t, type, em, width, wrap, text), NULL, &r);
    *w = (double)r.width / PANGO_SCALE;
    *h = (double)r.height / PANGO_SCALE;
}

double type_case_x_of(struct type_case *t, enum type type, double em, const char *text, int index)
{
    PangoRectangle r;
    pango_layout_index_to_pos(type_case_layout(t, type, em, 0, false, text), index, &r);
    return (double)r.x / PANGO_SCALE;
}

int type_case_index_at(struct type_case *t, enum type type, double em, const char *text, double x)
{
    int index = 0, trailing = 0;
    pango_layout_xy_to_index(type_case_layout(t, type, em, 0, false, text), (int)(x * PANGO_SCALE),
                             0, &index, &trailing);
    const char *p = text + index;
    while (trailing-- > 0 && *p)
        p = g_utf8_next_char(p);
    return (int)(p - text);
}
