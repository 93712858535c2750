/* report_json.c - the answer for programs.  A file of its own: the core library leaves out jansson. */
#include "diagnose/report.h"

#include <jansson.h>
#include <stdlib.h>

static json_t *list_of(const struct sentences *s)
{
    json_t *a = json_array();
    for (size_t i = 0; i < s->count; i++)
        json_array_append_new(a, json_string(s->at[i]));
    return a;
}

static json_t *json_ids(const struct belief_cause *c)
{
    json_t *ids = json_array();
    json_array_append_new(ids, json_string(c->id));
    if (c->second)
        json_array_append_new(ids, json_string(c->second->id));
    return ids;
}

static json_t *json_cause(const struct report *r, size_t i)
{
    const struct belief_cause *c = &r->belief.cause[i];
    const struct sentences nothing = {0};
    json_t *ids = json_ids(c);
    return json_pack("{s:o,s:s,s:s,s:s,s:f,s:{s:f,s:f,s:f},s:b,s:o,s:o}", "faults", ids, "name",
                     reasons_name(c), "part", c->part, "class", c->class, "p", c->p, "severity", "mean",
                     c->severity_mean, "low", c->severity_low, "high", c->severity_high,
                     "owner_safe", (int)c->owner_safe, "reasons",
                     list_of(i < REPORT_CAUSES ? &r->reasons[i] : &nothing), "predicts",
                     list_of(i < REPORT_CAUSES ? &r->predicts[i] : &nothing));
}

static json_t *json_shares(const struct belief_share *at, size_t n)
{
    json_t *o = json_object();
    for (size_t i = 0; i < n; i++)
        json_object_set_new(o, at[i].name, json_real(at[i].p));
    return o;
}

static json_t *json_clocks(const struct belief *b)
{
    json_t *a = json_array();
    for (size_t i = 0; i < b->clocks; i++)
        json_array_append_new(a, json_pack("{s:s,s:f}", "id", b->clock[i].name, "p", b->clock[i].p));
    return a;
}

static json_t *json_next(const struct next_step *n)
{
    json_t *kit = json_array(), *batch = json_array();
    for (size_t i = 0; i < n->kits; i++)
        json_array_append_new(kit, json_string(n->kit[i]));
    for (size_t i = 0; i < n->questions; i++)
        json_array_append_new(batch, json_pack("{s:s,s:s,s:f,s:f}", "id", n->batch[i].id, "text",
                                               n->batch[i].text, "minutes", n->batch[i].minutes,
                                               "saves_min", n->batch[i].saves_min));
    json_t *apart = n->apart_by >= APART_LEAST
                        ? json_pack("{s:s,s:s,s:f}", "id", n->apart.id, "text", n->apart.text,
                                    "differs", n->apart_by)
                        : json_null();
    return json_pack("{s:s,s:s,s:s,s:f,s:s,s:f,s:f,s:f,s:f,s:o,s:o,s:o}", "kind", next_kind_name(n->kind),
                     "id", n->id, "text", n->text, "saves_min", n->saves_min, "hazard", n->hazard,
                     "minutes", n->minutes, "p_cure", n->p_cure, "cost_min", n->cost_min,
                     "oil_suffices", n->oil_suffices, "kit", kit, "batch", batch,
                     "apart", apart);
}

static json_t *json_groups(const struct report *r)
{
    json_t *list = json_array();
    for (size_t i = 0; i < r->alike.groups; i++) {
        const struct alike_group *g = &r->alike.group[i];
        const char *part[ALIKE_CAUSES];
        json_t *causes = json_array(), *parts = json_array();
        struct text t = {0};
        char dial[8];
        for (size_t k = 0; k < g->causes; k++)
            json_array_append_new(causes, json_ids(&r->belief.cause[g->cause[k]]));
        size_t n = alike_parts(g, &r->belief, part, ALIKE_CAUSES);
        for (size_t k = 0; k < n; k++)
            json_array_append_new(parts, json_string(part[k]));
        if (g->causes > 1)
            alike_say(g, &r->belief, &t);
        json_array_append_new(list, json_pack("{s:f,s:o,s:o,s:o,s:s}", "p", g->p, "causes", causes, "parts", parts, "hear_at",
                                              g->hear_min < 0 ? json_null() : json_string(text_dial(g->hear_min, dial)),
                                              "apart", text_cstr(&t)));
        text_release(&t);
    }
    return list;
}

void report_json(const struct report *r, size_t most, struct text *out)
{
    const struct belief *b = &r->belief;
    json_t *causes = json_array();
    for (size_t i = 0; i < b->causes && (!most || i < most); i++)
        json_array_append_new(causes, json_cause(r, i));
    json_t *o = json_pack("{s:o,s:o,s:o,s:o,s:o,s:f,s:o,s:o}", "causes", causes, "by_class",
                          json_shares(b->by_class, b->classes), "by_part",
                          json_shares(b->by_part, b->parts), "clock", json_clocks(b), "next",
                          json_next(&r->next), "omitted", b->omitted, "first", list_of(&r->first),
                          "notes", list_of(&r->notes));
    json_object_set_new(o, "alike", json_groups(r));
    if (b->pairs_tried) { /* a bound, as `omitted` is */
        json_object_set_new(o, "omitted_pairs", json_real(b->pairs_untried));
        json_object_set_new(o, "omitted_pairs_about", json_real(b->pairs_about));
        json_object_set_new(o, "pairs_tried", json_integer((json_int_t)b->pairs_tried));
    }
    char *s = json_dumps(o, JSON_INDENT(2) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(9));
    text_add(out, s ? s : "{}");
    text_add(out, "\n");
    free(s);
    json_decref(o);
}
