/* fault_file.h - faults and cures as they stand in a data file.
 *
 *     faults:
 *       - id: tail-angle-short
 *         name: Rack tail set so that the rack falls short
 *         part: rack tail             # the fixed part words, see fault_part_of
 *         class: out_of_adjustment    # the fixed class words, see fault_class_of
 *         about: ...                  # what is wrong, in the words of the trade
 *         prior: 3                    # against the other faults of a clock
 *         needs: [rack, lock_pallet]  # what the clock must have; words in fault_file.c
 *         set: {rack_reach: 1}        # parameters of par.h
 *         vary:
 *           - {par: tail_teeth, from: -1, to: -0.3, step: 0.05}
 *           - {par: tail_len, values: [-0.01, 0, 0.01], weights: [1, 2, 1]}
 *           - {par: hook_tooth, over: teeth}      # as many values as the clock has teeth
 *         start: [count_any]          # states the clock may be found in, beside in step
 *         start_only: yes             # never found in step
 *         wakes: ...                  # what brings a latent fault out
 *         tilts: {hands_turned_back: 4}   # words of words.yaml: odds times this when on the sheet
 *         cure: bend-tail
 *         source: https://... or "common practice, no source"
 *     class_tilts:                    # of every fault of a class, but for words that its row has itself
 *       - {id: worn_part, tilts: {gradual: 1.7, sudden: 0.7}}
 *     cures:
 *       - {id: bend-tail, text: ..., who: bench, minutes: 30, parts_cost: 0, hazard: pinch, kit: [pliers]}
 *
 * A row says what is changed in the mechanism and never what is heard.
 * To add a fault: copy the nearest row, change it, run `letoff check FILE`; if no parameter does
 * what is wanted, par.h tells how to add one.
 */
#ifndef LETOFF_MOVEMENT_FAULT_FILE_H
#define LETOFF_MOVEMENT_FAULT_FILE_H

#include <stdbool.h>
#include "err.h"
#include "movement/fault.h"
#include "yaml_map.h"

/* Fill *f or *c from one row.  Strings belong to the tree.  False, with a sentence for everything
 * that is wrong. */
bool fault_file_read(const struct yaml_node *row, struct fault *f, struct err *e);
bool fault_file_class(const struct yaml_node *row, struct fault_class *c, struct err *e);
bool fault_file_cure(const struct yaml_node *row, struct cure *c, struct err *e);
/* Add to *into, which begins as FAULT_NEEDS_NOTHING, what a list under the key `needs` names; words of call sheets
 * have such a list too. */
bool fault_file_needs(const struct yaml_node *list, struct fault_needs *into, struct err *e);

#endif
