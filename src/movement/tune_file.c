#include "movement/tune_file.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "movement/pitch.h"

enum { FROM_HIGHEST, FROM_LOWEST };

struct tune_row {
    struct tune tune;
    int numbering;
    const char *like, *about;
    const struct yaml_node *changes, *quarters, *pitch;
};

#define T(member) offsetof(struct tune_row, member)
static const struct yaml_word numberings[] = {
    {"highest", FROM_HIGHEST}, {"lowest", FROM_LOWEST}, {NULL, 0}};

static const struct yaml_key tune_keys[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = T(tune.id), .needed = true},
    {.key = "like", .kind = YAML_K_ID, .offset = T(like)},
    {.key = "name", .kind = YAML_K_TEXT, .offset = T(tune.name), .needed = true},
    {.key = "about", .kind = YAML_K_TEXT, .offset = T(about)},
    {.key = "status", .kind = YAML_K_TEXT, .offset = T(tune.status)},
    {.key = "source", .kind = YAML_K_TEXT, .offset = T(tune.source)},
    {.key = "numbering", .kind = YAML_K_WORD, .offset = T(numbering), .words = numberings},
    {.key = "bells",
     .kind = YAML_K_INT,
     .offset = T(tune.bells),
     .low = 1,
     .high = CLOCK_SOUNDERS - 1},
    {.key = "changes", .kind = YAML_K_NODE, .offset = T(changes)},
    {.key = "quarters", .kind = YAML_K_NODE, .offset = T(quarters)},
    {.key = "gap", .kind = YAML_K_REAL, .offset = T(tune.gap), .low = 1, .high = 8},
    {.key = "pitch", .kind = YAML_K_NODE, .offset = T(pitch)},
    {.key = "music", .kind = YAML_K_BOOL, .offset = T(tune.music)},
};
#define TUNE_KEYS (sizeof tune_keys / sizeof *tune_keys)

static bool add_note(struct tune_row *r, const struct yaml_node *n, int bell, struct err *e)
{
    struct tune *t = &r->tune;
    if (bell > t->bells) {
        yaml_complain(n, e, "the change uses bell %d, but the tune has %d bells.", bell, t->bells);
        return false;
    }
    if (t->notes == TUNE_NOTES) {
        yaml_complain(n, e, "the tune has more than %d notes; split it or leave repeats out.",
                      TUNE_NOTES);
        return false;
    }
    t->note[t->notes++] = bell && r->numbering == FROM_LOWEST ? t->bells + 1 - bell : bell;
    return true;
}

/* "3124": one bell a digit. */
static bool read_digits(struct tune_row *r, const struct yaml_node *n, struct err *e)
{
    const char *s = yaml_text(n);
    if (!*s || strspn(s, "0123456789") != strlen(s)) {
        yaml_complain(
            n, e,
            "key \"changes\" has \"%.40s\"; a change is bell numbers, as 3124 or [3, 1, 2, 4].", s);
        return false;
    }
    for (; *s; s++)
        if (!add_note(r, n, *s - '0', e))
            return false;
    return true;
}

static bool read_change(struct tune_row *r, const struct yaml_node *n, struct err *e)
{
    if (yaml_shape_of(n) == YAML_SCALAR)
        return read_digits(r, n, e);
    if (yaml_shape_of(n) != YAML_LIST || !yaml_count(n)) {
        yaml_complain(n, e, "a change is bell numbers, as 3124 or [3, 1, 2, 4].");
        return false;
    }
    for (size_t i = 0; i < yaml_count(n); i++) {
        long bell;
        if (!yaml_int(yaml_item(n, i), "changes", 0, CLOCK_SOUNDERS - 1, &bell, e) ||
            !add_note(r, yaml_item(n, i), (int)bell, e))
            return false;
    }
    return true;
}

static bool read_changes(struct tune_row *r, struct err *e)
{
    struct tune *t = &r->tune;
    const struct yaml_node *list = r->changes;
    if (yaml_shape_of(list) != YAML_LIST || !yaml_count(list) || yaml_count(list) > TUNE_CHANGES) {
        yaml_complain(list, e, "key \"changes\" wants a list of 1 to %d changes.", TUNE_CHANGES);
        return false;
    }
    t->changes = t->notes = 0;
    for (size_t i = 0; i < yaml_count(list); i++) {
        t->change_at[t->changes++] = t->notes;
        if (!read_change(r, yaml_item(list, i), e))
            return false;
    }
    t->change_at[t->changes] = t->notes;
    return true;
}

static bool read_quarters(struct tune_row *r, struct err *e)
{
    const struct yaml_node *list = r->quarters;
    if (yaml_shape_of(list) != YAML_LIST || !yaml_count(list) || yaml_count(list) > CLOCK_LOBES) {
        yaml_complain(list, e,
                      "key \"quarters\" wants the number of changes at each of 1 to %d quarters.",
                      CLOCK_LOBES);
        return false;
    }
    r->tune.quarters = 0;
    for (size_t i = 0; i < yaml_count(list); i++) {
        long changes;
        if (!yaml_int(yaml_item(list, i), "quarters", 0, TUNE_CHANGES, &changes, e))
            return false;
        r->tune.quarter[r->tune.quarters++] = (int)changes;
    }
    return true;
}

static bool read_pitches(struct tune_row *r, struct err *e)
{
    const struct yaml_node *list = r->pitch;
    struct tune *t = &r->tune;
    if (yaml_shape_of(list) != YAML_LIST || (int)yaml_count(list) != t->bells) {
        yaml_complain(list, e, "key \"pitch\" wants a list of %d notes, one for each bell.",
                      t->bells);
        return false;
    }
    bool good = true;
    for (int i = 0; i < t->bells; i++) {
        const struct yaml_node *n = yaml_item(list, (size_t)i);
        int bell = r->numbering == FROM_LOWEST ? t->bells - 1 - i : i;
        const char *printed = yaml_shape_of(n) == YAML_SCALAR ? yaml_text(n) : NULL;
        if (pitch_midi(printed) < 0) {
            yaml_complain(n, e, "key \"pitch\" has \"%.40s\"; a note is written as F#4 or Bb3.",
                          printed ? printed : "a list");
            good = false;
        } else {
            t->pitch[bell] = printed;
        }
    }
    return good;
}

/* A tune without quarters is known but fits no quarter chime (clock_fit.c says so).
 * The drum must come round: after the changes of all quarters of the hour it stands at its
 * beginning again, or the next hour would be another tune. */
static bool closes(const struct tune_row *r, const struct yaml_node *map, struct err *e)
{
    const struct tune *t = &r->tune;
    int an_hour = 0;
    for (int i = 0; i < t->quarters; i++)
        an_hour += t->quarter[i];
    if (t->quarters && (!an_hour || an_hour % t->changes)) {
        yaml_complain(map, e,
                      "the quarters of tune \"%s\" use %d changes an hour, which is not a whole "
                      "number of turns of a drum with %d changes.",
                      t->id, an_hour, t->changes);
        return false;
    }
    return true;
}

static bool pitches_fall(const struct tune *t, const struct yaml_node *map, struct err *e)
{
    for (int i = 1; i < t->bells; i++) {
        if (t->pitch[i] && t->pitch[i - 1] &&
            pitch_midi(t->pitch[i]) > pitch_midi(t->pitch[i - 1])) {
            yaml_complain(map, e,
                          "in tune \"%s\" bell %d (%s) is higher than bell %d (%s); bells are "
                          "numbered from the highest, or say `numbering: lowest`.",
                          t->id, i + 1, t->pitch[i], i, t->pitch[i - 1]);
            return false;
        }
    }
    return true;
}

static bool every_bell_used(const struct tune *t, const struct yaml_node *map, struct err *e)
{
    int highest = 0;
    for (int i = 0; i < t->notes; i++)
        highest = t->note[i] > highest ? t->note[i] : highest;
    if (highest)
        return true;
    yaml_complain(map, e, "tune \"%s\" is nothing but rests.", t->id);
    return false;
}

bool tune_file_read(const struct yaml_node *map, struct tune *t, struct err *e)
{
    struct tune_row r = {.tune = *t};
    if (!yaml_read_map(map, "tune", tune_keys, TUNE_KEYS, &r, e))
        return false;
    if (!r.tune.bells || (!r.changes && !r.tune.changes) || !r.tune.source) {
        yaml_complain(map, e, "tune \"%s\" lacks the key \"%s\".", r.tune.id,
                      !r.tune.bells    ? "bells"
                      : !r.tune.source ? "source"
                                       : "changes");
        return false;
    }
    if (r.tune.gap <= 0)
        r.tune.gap = 2; /* the first published spacing of the four-bell tune */
    bool good = !r.changes || read_changes(&r, e);
    good = (!r.quarters || read_quarters(&r, e)) && good;
    good = (!r.pitch || read_pitches(&r, e)) && good;
    good = good && every_bell_used(&r.tune, map, e) && closes(&r, map, e) &&
           pitches_fall(&r.tune, map, e);
    if (good)
        *t = r.tune;
    return good;
}

bool tune_file_wanted(const struct yaml_node *map, struct err *e)
{
    struct wanted_row {
        const char *name, *known;
    } row = {NULL, NULL};
    static const struct yaml_key keys[] = {
        {"name", YAML_K_TEXT, offsetof(struct wanted_row, name), .needed = true},
        {"known", YAML_K_TEXT, offsetof(struct wanted_row, known), .needed = true},
    };
    return yaml_read_map(map, "wanted tune", keys, 2, &row, e);
}
