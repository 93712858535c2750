/* tuned.h - numbers of the diagnosis that were chosen, so that tests can ask what hangs on each of them.
 *
 * Such a number stands where its subject is, with its reason, as
 *
 *     #define SEEN_HIT TUNED(seen_hit, 0.6)
 *
 * and is that value and nothing else.  Only in the library diagnose_tunable, which is made for tests/diagnose/scorecard.c
 * and never installed (LETOFF_TUNABLE), it is taken so many times, by the member of `tuned_times` of its name.  A chance
 * that is multiplied stays one.
 *
 * To add a number: a row here, and TUNED around its value.
 */
#ifndef LETOFF_DIAGNOSE_TUNED_H
#define LETOFF_DIAGNOSE_TUNED_H

#define TUNED_TABLE(row)                                                                           \
    row(tilt_strength) row(seen_hit) row(seen_false) row(seen_false_felt) row(filter_strict)       \
    row(filter_detail) row(filter_just_now) row(sweep_gap) row(unknown_seen) row(puzzled)

#ifdef LETOFF_TUNABLE
#define TUNED_MEMBER(name) double name;
extern struct tuned_times {
    TUNED_TABLE(TUNED_MEMBER)
} tuned_times; /* all 1 to begin with; a finder that has worked with others is to be made anew */
double tuned_value(double value, double times);
#define TUNED(name, value) tuned_value(value, tuned_times.name)
#else
#define TUNED(name, value) (value)
#endif

#endif
