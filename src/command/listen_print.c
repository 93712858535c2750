#include "command/listen_print.h"

#include <jansson.h>
#include <stdio.h>

#include "text.h"

static const char *sounder_name(const struct listen_print *p, size_t blow, char number[24])
{
    if (p->clock && p->heard->hammer[blow] != FIT_UNNAMED)
        return p->clock->sounder[p->heard->hammer[blow]].name;
    snprintf(number, 24, "%d", p->hearing->blow[blow].sounder + 1);
    return number;
}

static double sounder_p(const struct listen_print *p, size_t blow)
{
    return (double)(p->clock ? p->heard->hammer_p[blow] : p->hearing->blow[blow].p);
}

/* ---- for people ---- */

static void print_list(const struct listen_print *p)
{
    char number[24];
    for (size_t i = 0; i < p->hearing->blow_count; i++) {
        const struct heard_blow *b = &p->hearing->blow[i];
        printf("%9.3f s  %-12s %3.0f %%%s%s%s%s\n", b->t_s, sounder_name(p, i, number), 100 * sounder_p(p, i),
               b->quality & QUALITY_WEAK ? "  weak" : "", b->quality & QUALITY_DOUBLE ? "  double" : "",
               b->quality & QUALITY_BUZZ ? "  buzz" : "", b->quality & QUALITY_THUD ? "  thud" : "");
    }
}

/* Let-offs that could also be read otherwise. */
static void print_readings(const struct listen_print *p, struct text *t)
{
    for (size_t i = 0; i < p->heard->letoffs; i++) {
        const struct heard_letoff *l = &p->heard->letoff[i];
        for (size_t k = 1; k < l->readings; k++)
            if (l->reading[k].p >= 0.05)
                text_addf(t, "At %.1f s perhaps (%.0f %%): notes %s, struck %d.\n", l->t_s, 100 * l->reading[k].p,
                          l->reading[k].notes[0] ? l->reading[k].notes : "none", l->reading[k].strikes);
    }
}

void listen_print_text(const struct listen_print *p)
{
    struct text t = {0};
    hearing_summary(p->hearing, &t);
    text_add(&t, "\n");
    if (p->cut)
        text_add(&t, "The recording breaks off, or is longer than two hours; what came before was used.\n");
    fputs(text_cstr(&t), stdout);
    text_clear(&t);
    print_list(p);
    print_readings(p, &t);
    for (size_t i = 0; i < p->rhythms; i++)
        hear_rhythm_say(&p->rhythm[i], &t);
    if (p->sheet) {
        text_add(&t, "\nCall sheet:\n");
        sheet_print(p->sheet, &t);
    }
    if (p->cause) {
        text_add(&t, p->cause->pairs ? "\nNo single fault explains it well; two at once were thought of.\n" : "\n");
        report_groups(&p->cause->report, &t);
        text_add(&t, "\n");
        report_text(&p->cause->report, p->most, true, &t);
    } else if (p->no_cause) {
        text_addf(&t, "\n%s\n", p->no_cause);
    }
    fputs(text_cstr(&t), stdout);
    text_release(&t);
}

/* ---- for programs ---- */

static json_t *quality_json(unsigned quality)
{
    static const char *const names[] = {"weak", "double", "buzz", "thud", "tinny", "loud"};
    json_t *list = json_array();
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (quality & 1u << i)
            json_array_append_new(list, json_string(names[i]));
    return list;
}

static json_t *events_json(const struct listen_print *p)
{
    json_t *list = json_array();
    char number[24];
    for (size_t i = 0; i < p->hearing->blow_count; i++) {
        const struct heard_blow *b = &p->hearing->blow[i];
        json_array_append_new(list, json_pack("{s:f, s:s, s:f, s:f, s:o}", "t_s", b->t_s, "sounder",
                                              sounder_name(p, i, number), "p", sounder_p(p, i), "strength",
                                              (double)b->strength, "quality", quality_json(b->quality)));
    }
    return list;
}

static json_t *sounders_json(const struct listen_print *p)
{
    json_t *list = json_array();
    for (size_t i = 0; i < p->hearing->sounder_count; i++) {
        const struct heard_sounder *s = &p->hearing->sounder[i];
        json_array_append_new(list, json_pack("{s:i, s:f, s:i, s:f}", "id", (int)i + 1, "pitch_hz", s->pitch_hz,
                                              "blows", (int)s->blows, "ring_s", (double)s->ring_s));
    }
    return list;
}

static json_t *letoffs_json(const struct listen_print *p)
{
    json_t *list = json_array();
    for (size_t i = 0; i < p->heard->letoffs; i++) {
        const struct heard_letoff *l = &p->heard->letoff[i];
        json_t *readings = json_array();
        for (size_t k = 0; k < l->readings; k++)
            json_array_append_new(readings, json_pack("{s:s, s:i, s:f}", "notes", l->reading[k].notes, "strike",
                                                      l->reading[k].strikes, "p", l->reading[k].p));
        json_array_append_new(list, json_pack("{s:f, s:i, s:s, s:i, s:o}", "t_s", l->t_s, "blows", (int)l->count,
                                              "notes", l->notes, "strike", l->strikes, "readings", readings));
    }
    return list;
}

static json_t *arbors_json(const struct heard_rhythm *r)
{
    json_t *list = json_array();
    for (size_t i = 0; i < r->arbors; i++) {
        const struct arbor_fit *f = &r->arbor[i];
        const char *name = r->train->arbor[f->arbor].name;
        json_array_append_new(list, json_pack("{s:s, s:f, s:f, s:f, s:b, s:b, s:f}", "arbor", name ? name : "",
                                              "period_blows", f->period_blows, "explained", f->explained, "swing",
                                              f->swing, "fits", f->fits, "unheard", f->unheard, "blows_wanted",
                                              f->blows_wanted));
    }
    return list;
}

static json_t *rhythm_json(const struct listen_print *p)
{
    json_t *list = json_array();
    for (size_t i = 0; i < p->rhythms; i++) {
        const struct heard_rhythm *r = &p->rhythm[i];
        const struct rhythm *y = &r->rhythm;
        json_t *periods = json_array();
        for (size_t k = 0; k < y->period_count; k++)
            json_array_append_new(periods, json_pack("{s:f, s:f, s:f}", "blows", y->period[k].blows, "swing",
                                                     y->period[k].swing, "p", y->period[k].p));
        json_array_append_new(
            list, json_pack("{s:s, s:i, s:f, s:f, s:f, s:f, s:b, s:b, s:b, s:b, s:o, s:o}", "train",
                            r->chime ? "chime" : "strike", "blows", (int)r->blows, "interval_s", y->mean_s, "usual_s",
                            r->usual_s, "spread", y->spread, "drag", y->drag, "slow", y->slow, "fast", y->fast,
                            "dragging", y->dragging, "uneven", y->uneven, "periods", periods, "arbors", arbors_json(r)));
    }
    return list;
}

void listen_print_json(const struct listen_print *p)
{
    struct text sheet = {0}, found = {0};
    json_t *o = json_object();
    json_object_set_new(o, "events", events_json(p));
    json_object_set_new(o, "sounders", sounders_json(p));
    json_object_set_new(o, "letoffs", letoffs_json(p));
    json_object_set_new(o, "rhythm", rhythm_json(p));
    json_object_set_new(o, "cut", json_boolean(p->cut));
    if (p->sheet)
        sheet_print(p->sheet, &sheet);
    json_object_set_new(o, "sheet", json_string(text_cstr(&sheet)));
    json_object_set_new(o, "causes", json_array());
    json_object_set_new(o, "pairs", json_boolean(p->cause && p->cause->pairs));
    if (p->cause) {
        report_json(&p->cause->report, p->most, &found);
        json_t *answer = json_loads(text_cstr(&found), 0, NULL);
        json_object_update(o, answer);
        json_decref(answer);
    }
    json_dumpf(o, stdout, JSON_INDENT(2));
    putchar('\n');
    json_decref(o);
    text_release(&sheet);
    text_release(&found);
}
