/* par.h - everything about a movement that can be out of order, as one vector of numbers.
 *
 * A fault is a change of some of these numbers and nothing else; what is then heard follows from
 * the mechanism.  Each row of the table below is one parameter: its name in data files, how two
 * changes of it combine, its value in a sound movement, its range and what it means.
 *
 * To add a parameter: 1. add a row; 2. read it in the one mechanism file it belongs to; 3. give
 * a fault row in chimes/faults.yaml that changes it (a test finds parameters nobody changes).
 *
 * Rows marked "x4" are four parameters, one for each enum event_train, named NAME_going,
 * NAME_strike, NAME_chime, NAME_music and addressed as PAR_NAME + train.
 */
#ifndef LETOFF_MOVEMENT_PAR_H
#define LETOFF_MOVEMENT_PAR_H

/* How changes from several faults combine. */
enum par_join {
    JOIN_ADD, /* offsets: the sum */
    JOIN_MUL, /* factors: the product */
    JOIN_SET, /* choices: the last one given */
    JOIN_MAX, /* chances: 1 - (1-a)(1-b) */
};

/* P(NAME, join, sound value, low, high, "meaning") and P4 for one per train. */
#define PAR_TABLE(P, P4)                                                                           \
    /* motion work and hands */                                                                    \
    P(minute_off_min, ADD, 0, -30, 30, "minute hand ahead of its pipe: its bush turned, minutes")  \
    P(hour_off_min, ADD, 0, -360, 360, "hour hand ahead of the hour pipe, minutes of the dial")    \
    P(hour_loose, MAX, 0, 0, 1, "hour hand loose on its pipe: stays behind, 1 = swings free")      \
    P(minute_loose, MAX, 0, 0, 1, "minute hand loose: slips under the lift, chance per let-off")   \
    P(snail_off_min, ADD, 0, -360, 360, "snail ahead of the hour pipe (meshed off), minutes")      \
    P(snail_slip, MAX, 0, 0, 1, "star or snail loose: chance that it lags a step at a let-off, and another") \
    P(night_off_min, ADD, 0, -720, 720, "24 h silencing cam ahead of the hands, minutes")          \
    P(cannon_grip, MUL, 1, 0, 3, "friction of the cannon tube on its arbor against as made")       \
    P(going_stop, MAX, 0, 0, 1, "going train or beat fails: chance that the clock stops at all")   \
    P(going_slow, MUL, 1, 0.2, 2, "pace of the going train against right")                         \
    /* let-off */                                                                                  \
    P(lift_loss, ADD, 0, -0.5, 1, "lift lost at every lobe (worn, bent, gummed), share of lift")   \
    P(lift_loss_quarters, ADD, 0, -0.5, 1, "lift lost at the lower lobes only")                    \
    P(lift_loss_hour, ADD, 0, -0.5, 1, "lift lost at the hour lobe only")                          \
    P(lift_scatter, ADD, 0, 0, 0.5, "lift varies by up to this share either way (loose lever)")    \
    P(lift_load, MUL, 1, 0, 20, "work of lifting against as made (gum, rubbing, bent)")            \
    P(lift_stand_min, SET, -1, -1, 15, "minutes before the drop at which a lift too heavy stands, -1 as made") \
    P(letoff_late_min, ADD, 0, -30, 30, "lever set so that it drops this many minutes late")       \
    P(letoff_scatter_min, ADD, 0, 0, 15, "lever loose on its arbor: drops early or late by so much")\
    P(letoff_miss, MAX, 0, 0, 1, "lifting piece misses the lobe: chance per let-off")              \
    P(lobe_miss, SET, -1, -1, 3, "which lobe is worn or bent away (0 = hour), -1 none")            \
    P(stick_up, MAX, 0, 0, 1, "lifting piece or detent stays up after release: chance per let-off")\
    P4(trip_gum, MAX, 0, 0, 1, "train in warning does not start when let go: chance per let-off")  \
    /* warning */                                                                                  \
    P4(warn_run, SET, 0.5, 0, 1.5, "run of the warning wheel in turns")                            \
    P4(warn_miss, MAX, 0, 0, 1, "warning pin misses its lever: chance; the train goes at warning") \
    P(warn_early_min, ADD, 0, -10, 25, "warning comes this many minutes earlier than made")        \
    P4(rise, MAX, 0, 0, 1, "hammer already on the rise at warning: share of a full lift")          \
    /* rack and snail */                                                                           \
    P(tail_teeth, ADD, 0, -6, 6, "rack falls this many teeth further (tail or hook bent)")         \
    P(tail_len, ADD, 0, -0.5, 0.5, "growth of that error per tooth past the first (tail length)")  \
    P(tail_scatter, ADD, 0, 0, 3, "tail loose: the rack falls by up to so many teeth too far or short")\
    P(tail_side, ADD, 0, 0, 3, "tail bent sideways: engagement lost, share of the snail's width")  \
    P(snail_wobble, ADD, 0, 0, 3, "snail out of flat: engagement varies by this share round it")   \
    P(snail_wobble_at, SET, 6, 1, 12, "hour at which a wobbling snail stands furthest from the tail")\
    P(snail_burr_at_min, SET, -1, -1, 719, "place of a high spot on the snail, minutes; -1 none")  \
    P(snail_burr_min, ADD, 0, 0, 20, "length of that high spot, minutes of turning")               \
    P(snail_worn_step, SET, 0, 0, 12, "step of the snail that is worn or filed, 0 none")           \
    P(snail_worn_teeth, ADD, 0, -3, 3, "depth of that wear, teeth")                                \
    P(rack_stick, MAX, 0, 0, 1, "rack does not fall (gum, bent): chance per let-off")              \
    P(rack_part, MAX, 0, 0, 1, "rack falls only partly: chance per let-off")                       \
    P(rack_slow, MAX, 0, 0, 1, "rack falls slowly (gum): chance that a long fall is caught before its end")\
    P(rack_rebound, MAX, 0, 0, 1, "rack bounces off the snail: chance that the hook holds it short")\
    P(rack_over, MAX, 0, 0, 1, "tail slips off or behind the snail at any step: chance")           \
    P(rack_reach, SET, 0, 0, 1, "1 = no guard pin: a rack left down swings out of the pallet's reach")\
    P(rack_bent_tooth, SET, 0, 0, 12, "rack tooth bent or broken: the pallet does not gather it, 0 none")\
    P(hook_zone, ADD, 0.02, 0, 0.5, "half width of the tooth tip where the hook may go either way")\
    P(hook_tooth, SET, 0, 0, 12, "rack tooth that the hook may slip off, 0 none")                  \
    P(hook_slip, MAX, 0, 0, 1, "chance that it slips off that tooth at each turn of the pallet")   \
    P(hook_slip_any, MAX, 0, 0, 1, "chance that the hook slips off any tooth (worn hook)")         \
    P(hook_up, MAX, 0, 0, 1, "hook does not drop (gummed, held): chance per let-off")              \
    P(pallet_miss, MAX, 0, 0, 1, "gathering pallet carries no tooth: chance per turn")             \
    P(pallet_two, MAX, 0, 0, 1, "gathering pallet carries two teeth: chance per turn")             \
    P(pallet_lock_miss, MAX, 0, 0, 1, "locking at the end of the count fails: chance")             \
    P(pallet_bind, MAX, 0, 0, 1, "pallet tail binds on the rack pin so the rack is held: chance")  \
    P(half_open, MAX, 0, 0, 1, "short lift too high: the half hour reads the snail: chance")       \
    P(half_lost, MAX, 0, 0, 1, "short lift too low: the half hour does not sound: chance")         \
    P(passing_lost, MAX, 0, 0, 1, "passing hammer not lifted or not dropped: chance")              \
    P(quarter_rack_stick, MAX, 0, 0, 1, "rack of the quarters does not fall: chance per let-off")  \
    P(quarter_pallet_miss, MAX, 0, 0, 1, "pallet of the quarters carries no tooth: chance per turn") \
    P(quarter_hook_up, MAX, 0, 0, 1, "hook of the quarter rack does not drop: chance per let-off") \
    P(tail_rigid, SET, -1, -1, 1, "1 = sprung tail stiff or replaced by a rigid one, -1 as made")  \
    /* count wheel */                                                                              \
    P(count_late, MAX, 0, 0, 1, "count lever drops late and runs into the next count: chance")     \
    P(count_early, MAX, 0, 0, 1, "count lever drops early and leaves the rest: chance per blow")   \
    P(count_never, MAX, 0, 0, 1, "count lever or locking does not drop at all: chance per let-off")\
    P(count_slot, SET, -1, -1, 47, "slot of the count wheel that is bent or burred, -1 none")      \
    P(count_slot_late, MAX, 0, 0, 1, "chance that the lever misses that slot")                     \
    P(count_slot_early, MAX, 0, 0, 1, "chance that the lever drops one blow before that slot")     \
    P(count_slip, MAX, 0, 0, 1, "count wheel slips on its arbor: chance per let-off")              \
    P(count_hoop_off, MAX, 0, 0, 1, "hoop or cam out with the count wheel: chance it holds too long")\
    /* chime */                                                                                    \
    P(corrector_no_lock, MAX, 0, 0, 1, "corrector does not lock after the third quarter: chance")  \
    P(corrector_no_free, MAX, 0, 0, 1, "corrector not freed by the hour lobe: chance")             \
    P(chime_over, MAX, 0, 0, 1, "chime count lever passes a slot: next quarter follows on: chance")\
    P(chime_short, MAX, 0, 0, 1, "chime caught after a single change: chance")                     \
    P(chime_never, MAX, 0, 0, 1, "chime locking does not drop: runs to the end of power: chance")  \
    P(handover_miss, MAX, 0, 0, 1, "chime does not let off the strike (or strike the music): chance")\
    P(drum_changes, ADD, 0, -9, 9, "drum turned on its arbor by whole changes")                    \
    P(drum_notes, ADD, 0, -9, 9, "drum turned on its arbor by whole notes")                        \
    P(drum_late, ADD, 0, -1, 1, "drum late by this part of a note gap; early when negative")       \
    P(drum_slip, MAX, 0, 0, 1, "drum grub screw loose: chance to slip a note at a let-off")        \
    P(drum_side, ADD, 0, 0, 1, "drum shifted endways between tunes, share of the way to the next") \
    P(tail_wide, SET, 0, 0, 1, "1 = hammer tails so wide that between two tunes they catch the pins of both") \
    P(pin_bent, SET, -1, -1, 399, "note of the drum whose pin is bent or missing, -1 none")        \
    P(music_early, MAX, 0, 0, 1, "music stops short of its notch: chance")                         \
    /* hammers and sounders; hammer numbers are sounder indices */                                 \
    P(hammer_dead, SET, -1, -1, 31, "hammer that does not reach its sounder, -1 none")             \
    P(hammer_weak, SET, -1, -1, 31, "hammer that strikes softly, -1 none")                         \
    P(hammer_double, SET, -1, -1, 31, "hammer that bounces (no check), -1 none")                   \
    P(hammer_thud, SET, -1, -1, 31, "hammer that rests on its sounder, -1 none")                   \
    P(hammer_buzz, SET, -1, -1, 31, "sounder that rattles, -1 none")                               \
    P(hammer_tinny, SET, -1, -1, 31, "hammer with a hard or worn face, -1 none")                   \
    P(hammer_bound, SET, -1, -1, 31, "hammer that binds: its train stalls when it must lift it, -1 none")\
    P(hammer_swap_a, SET, -1, -1, 31, "one of two hammers or rods exchanged, -1 none")             \
    P(hammer_swap_b, SET, -1, -1, 31, "the other one")                                             \
    P(hammers_loud, MAX, 0, 0, 1, "1 = everything sounds much too loud")                           \
    P(hammers_weak, MAX, 0, 0, 1, "1 = everything sounds much too soft")                           \
    P(sounders_dull, MAX, 0, 0, 1, "1 = nothing rings: block of rods or gong loose on the case")   \
    P(hammers_dead_strike, MAX, 0, 0, 1, "strike hammer does not fall at all: chance per let-off") \
    P(hammers_dead_chime, MAX, 0, 0, 1, "no chime hammer falls: chance per let-off")               \
    P(star_pin, SET, -1, -1, 15, "pin of the hammer wheel that is bent or missing, -1 none")       \
    P(shift_stuck, SET, 0, -1, 1, "hammer shift held at the hour set (1) or never moved (-1)")     \
    P(odd_blow, SET, 0, -1, 1, "odd-blow lever: 1 never suppresses, -1 always")                    \
    P(odd_blow_slip, MAX, 0, 0, 1, "odd-blow lever stays where it was: chance per let-off")        \
    P(order_swap, SET, 0, 0, 1, "1 = hammers of one count timed in the other order")               \
    P(bellows_lost, SET, -1, -1, 31, "pipe that only puffs (bellows torn), -1 none")               \
    P(pipes_mute, SET, 0, 0, 1, "1 = no bellows gives wind, though bird and gong work")            \
    P(bird_stuck, MAX, 0, 0, 1, "bird or door catches and holds the train: chance per let-off")    \
    P(silenced, SET, 0, 0, 3, "silent lever in fact: 1 strike, 2 chime, 3 both, whatever it shows")\
    /* power, friction, governor: one per train */                                                 \
    P4(torque, MUL, 1, 0, 6, "driving torque against as made")                                     \
    P4(friction, MUL, 1, 0.2, 30, "friction of the train against freshly oiled")                   \
    P4(fly_drag, MUL, 1, 0.01, 20, "drag of the fly against as made (loose or small: less)")       \
    P4(hammer_work, MUL, 1, 0, 5, "work of lifting the hammers against as made")                   \
    P4(stall, MAX, 0, 0, 1, "train seizes on the way: chance in a mean run, six blows or 2.5 changes")\
    P4(arbor_bad, SET, -1, -1, 9, "arbor with a bad pivot or bent tooth, counted from the barrel, -1 none")\
    P4(arbor_drag, ADD, 0, 0, 1, "share of the torque it takes at its worst moment")               \
    P4(dead, SET, 0, 0, 1, "1 = no power reaches the train at all (weight off, spring broken)")    \
    P4(runs_out, MAX, 0, 0, 1, "what is left of the winding gives out in a run: chance per let-off")\
    P4(spring_rough, ADD, 0, 0, 1, "mainspring dry: torque jumps by this share")                   \
    P4(spring_clings, MAX, 0, 0, 1, "its coils cling: share of the torque that a long run is not given")\
    P4(train_rattle, MAX, 0, 0, 1, "train noisy while it runs")

enum par {
#define PAR_ONE(name, join, sound, low, high, meaning) PAR_##name,
#define PAR_FOUR(name, join, sound, low, high, meaning)                                            \
    PAR_##name, PAR_##name##_strike, PAR_##name##_chime, PAR_##name##_music,
    PAR_TABLE(PAR_ONE, PAR_FOUR)
#undef PAR_ONE
#undef PAR_FOUR
    PAR_COUNT
};

struct par_row {
    const char *name; /* as in data files; per-train rows carry the train's name behind it */
    enum par_join join;
    double sound, low, high;
    const char *meaning;
};

const struct par_row *par_row(enum par p);
/* PAR_COUNT if `name` is none; per-train rows answer to NAME_strike etc. */
enum par par_of(const char *name);
/* All at the sound value. */
void par_defaults(double v[PAR_COUNT]);
/* Join one change into the vector and keep it in range. */
void par_change(double v[PAR_COUNT], enum par p, double value);

#endif
