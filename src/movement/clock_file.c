#include "movement/clock_file.h"

#include <stdint.h>
#include <string.h>

#include "movement/clock_parts.h"

#define DAY 1440
#define WORD_END                                                                                   \
    {                                                                                              \
        NULL, 0                                                                                    \
    }

static const struct yaml_word backs[] = {
    {"yes", BACK_YES}, {"no", BACK_NO}, {"unless_warned", BACK_UNLESS_WARNED}, WORD_END};
static const struct yaml_word controls[] = {{"none", CONTROL_NONE},
                                            {"rack", CONTROL_RACK},
                                            {"count_wheel", CONTROL_COUNT_WHEEL},
                                            {"run", CONTROL_RUN},
                                            WORD_END};
static const struct yaml_word let_offs[] = {
    {"lobes", BY_LOBES}, {"chime", BY_CHIME}, {"strike", BY_STRIKE}, WORD_END};
static const struct yaml_word locks[] = {{"pallet", LOCK_PALLET}, {"hook", LOCK_HOOK}, WORD_END};
static const struct yaml_word falls[] = {
    {"warning", FALL_AT_WARNING}, {"release", FALL_AT_RELEASE}, WORD_END};

#define C(member) offsetof(struct clock_draft, member)
static const struct yaml_key clock_keys[] = {
    {.key = "id", .kind = YAML_K_ID, .offset = C(clock.id), .needed = true},
    {.key = "like", .kind = YAML_K_ID, .offset = C(like)},
    {.key = "name", .kind = YAML_K_TEXT, .offset = C(clock.name), .needed = true},
    {.key = "about", .kind = YAML_K_TEXT, .offset = C(clock.about)},
    {.key = "family", .kind = YAML_K_TEXT, .offset = C(clock.family)},
    {.key = "source", .kind = YAML_K_TEXT, .offset = C(clock.source)},
    {.key = "share", .kind = YAML_K_REAL, .offset = C(clock.share), .low = 0, .high = 100},
    {.key = "hints", .kind = YAML_K_NODE, .offset = C(hints)},
    {.key = "winding_points",
     .kind = YAML_K_INT,
     .offset = C(clock.winding_points),
     .low = 0,
     .high = 6},
    {.key = "cycle_min", .kind = YAML_K_INT, .offset = C(clock.cycle_min), .low = 720, .high = DAY},
    {.key = "lobe_period_min",
     .kind = YAML_K_INT,
     .offset = C(clock.lobe_period_min),
     .low = 60,
     .high = 720},
    {.key = "lobes", .kind = YAML_K_NODE, .offset = C(lobes)},
    {.key = "warn_min", .kind = YAML_K_INT, .offset = C(clock.warn_min), .low = 0, .high = 14},
    {.key = "sounders", .kind = YAML_K_NODE, .offset = C(sounders)},
    {.key = "trains", .kind = YAML_K_NODE, .offset = C(trains)},
    {.key = "hands_back", .kind = YAML_K_WORD, .offset = C(clock.back), .words = backs},
    {.key = "back_counts", .kind = YAML_K_BOOL, .offset = C(clock.back_counts)},
    {.key = "hour_hand_keyed", .kind = YAML_K_BOOL, .offset = C(clock.hour_hand_keyed)},
    {.key = "minute_bush", .kind = YAML_K_BOOL, .offset = C(clock.minute_bush)},
    {.key = "minute_square", .kind = YAML_K_BOOL, .offset = C(clock.minute_square)},
    {.key = "trip_strike", .kind = YAML_K_BOOL, .offset = C(clock.trip_strike)},
    {.key = "trip_chime", .kind = YAML_K_BOOL, .offset = C(clock.trip_chime)},
    {.key = "silent_strike", .kind = YAML_K_BOOL, .offset = C(clock.silent_strike)},
    {.key = "silent_chime", .kind = YAML_K_BOOL, .offset = C(clock.silent_chime)},
    {.key = "night_from", .kind = YAML_K_TEXT, .offset = C(night_from)},
    {.key = "night_to", .kind = YAML_K_TEXT, .offset = C(night_to)},
    {.key = "hours_selector", .kind = YAML_K_BOOL, .offset = C(clock.hours_selector)},
    {.key = "hush_hammers", .kind = YAML_K_BOOL, .offset = C(clock.hush_hammers)},
    {.key = "selector", .kind = YAML_K_BOOL, .offset = C(clock.selector)},
    {.key = "dials_24", .kind = YAML_K_BOOL, .offset = C(clock.dials_24)},
    {.key = "day_blows", .kind = YAML_K_INT, .offset = C(day_blows), .low = 0, .high = 2000},
};

#define D(member) offsetof(struct train_draft, member)
static const struct yaml_key train_keys[] = {
    {.key = "control", .kind = YAML_K_WORD, .offset = D(train.control), .words = controls},
    {.key = "let_off_by", .kind = YAML_K_WORD, .offset = D(train.by), .words = let_offs},
    {.key = "use", .kind = YAML_K_NODE, .offset = D(use)},
    {.key = "patterns", .kind = YAML_K_NODE, .offset = D(patterns)},
    {.key = "snails", .kind = YAML_K_NODE, .offset = D(snails)},
    {.key = "rack_teeth",
     .kind = YAML_K_INT,
     .offset = D(train.rack_teeth),
     .low = 1,
     .high = CLOCK_STEPS},
    {.key = "lock", .kind = YAML_K_WORD, .offset = D(train.lock), .words = locks},
    {.key = "fall", .kind = YAML_K_WORD, .offset = D(train.fall), .words = falls},
    {.key = "sprung_tail", .kind = YAML_K_BOOL, .offset = D(train.sprung_tail)},
    {.key = "entries", .kind = YAML_K_NODE, .offset = D(entries)},
    {.key = "entry_hammers", .kind = YAML_K_NODE, .offset = D(entry_hammers)},
    {.key = "entry_phase_min",
     .kind = YAML_K_INT,
     .offset = D(train.entry_phase_min),
     .low = 0,
     .high = DAY - 1},
    {.key = "wheel_blows", .kind = YAML_K_INT, .offset = D(wheel_blows), .low = 1, .high = 1000},
    {.key = "tunes", .kind = YAML_K_NODE, .offset = D(tunes)},
    {.key = "hammers", .kind = YAML_K_NODE, .offset = D(hammers)},
    {.key = "corrector", .kind = YAML_K_BOOL, .offset = D(train.corrector)},
    {.key = "flirt", .kind = YAML_K_BOOL, .offset = D(train.flirt)},
    {.key = "shares", .kind = YAML_K_TEXT, .offset = D(shares)},
    {.key = "power", .kind = YAML_K_NODE, .offset = D(power)},
    {.key = "arbors", .kind = YAML_K_NODE, .offset = D(arbors)},
    {.key = "pins_on", .kind = YAML_K_TEXT, .offset = D(pins_on)},
    {.key = "pins", .kind = YAML_K_INT, .offset = D(train.pins), .low = 1, .high = 1000},
    {.key = "warning_on", .kind = YAML_K_TEXT, .offset = D(warning_on)},
};
#define COUNT(a) (sizeof(a) / sizeof *(a))

void clock_file_start(struct clock_draft *d)
{
    *d = (struct clock_draft){0};
    struct clock *c = &d->clock;
    c->share = 1;
    c->cycle_min = 720;
    c->lobe_period_min = 60;
    c->warn_min = 5; /* about five minutes is the rule, see the check values on warning */
    c->back = BACK_UNLESS_WARNED;
    c->back_counts = true;
    for (int i = 0; i < TRAINS; i++) {
        d->train[i].train.role = (enum event_train)i;
        d->train[i].train.shares = -1;
        d->train[i].train.warning_on = -1;
    }
    d->train[TRAIN_GOING].train.control = CONTROL_RUN; /* there always is one */
}

static bool read_trains(const struct yaml_node *map, struct clock_draft *d, struct err *e)
{
    if (yaml_shape_of(map) != YAML_MAP) {
        yaml_complain(map, e, "key \"trains\" wants a map of going, strike, chime and music.");
        return false;
    }
    bool good = true;
    for (size_t i = 0; i < yaml_count(map); i++) {
        int role = event_train_of(yaml_key_text(map, i));
        if (role < 0) {
            yaml_complain(yaml_key_node(map, i), e,
                          "\"%.40s\" is no train; known are going, strike, chime and music.",
                          yaml_key_text(map, i));
            good = false;
            continue;
        }
        struct train_draft *t = &d->train[role];
        good =
            yaml_read_map(yaml_item(map, i), "train", train_keys, COUNT(train_keys), t, e) && good;
        if (t->power) /* laid over the model's, so it is read at once */
            good = clock_parts_power(t->power, &t->train.power, e) && good;
        t->power = NULL;
    }
    return good;
}

bool clock_file_read(const struct yaml_node *row, struct clock_draft *d, struct err *e)
{
    d->row = row;
    d->trains = NULL;
    bool good = yaml_read_map(row, "clock", clock_keys, COUNT(clock_keys), d, e);
    if (d->trains)
        good = read_trains(d->trains, d, e) && good;
    return good;
}

bool clock_file_finish(struct clock_draft *d, tune_finder *find, void *with, struct err *e)
{
    bool good = clock_parts_lobes(d, e);
    good = clock_parts_sounders(d, e) && good;
    good = clock_parts_hints(d, e) && good;
    good = clock_parts_night(d, e) && good;
    for (int i = 0; good && i < TRAINS; i++)
        good = clock_parts_train(d, &d->train[i], find, with, e);
    for (int i = 0; i < TRAINS; i++)
        d->clock.train[i] = d->train[i].train;
    return good && clock_parts_fit(d, e);
}
