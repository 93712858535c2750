/* The forms that the values of a call sheet may take, each with what it says.
 *
 * To add a form: a row here, where the key's reader (sheet_read.c) takes it; the suite reads every
 * one of them in a sheet. */
#include "diagnose/sheet_priv.h"

/* clang-format off */
const struct sheet_form sheet_forms_clock[] = {
    {"longcase-rack", "an id of letoff list clocks; leave it out when the kind of clock is not known"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_hints[] = {
    {"{winding_points: 3, power: weight, made: 1920}", "each hint with a value; leave out what is not known"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_history[] = {
    {"[moved_house, hands_turned_back]", "that happened"},
    {"[not hands_turned_back]", "\"not\": asked, and the answer was no"},
    {"[asked moved_house]", "\"asked\": it was so, but was said only when asked"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_seen[] = {
    {"[left_weight_still, hammers_free]", "that is so"},
    {"[not hammers_free]", "\"not\": asked, and the answer was no"},
    {"[asked hammers_free]", "\"asked\": it is so, but was said only when asked"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_years[] = {{"6", "years, 0 to 500; 0.5 is half a year"}, {NULL, NULL}};
const struct sheet_form sheet_forms_hands[] = {{"\"3:10\"", "a time of the dial"}, {NULL, NULL}};
const struct sheet_form sheet_forms_heard[] = {
    {"[{at: \"3:00\", strike: 2}, {at: \"4:00\", strike: 3}]",
     "rows in order of hearing; a let-off not listed was not observed"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_tried[] = {
    {"[{do: trip_by_hand, result: {strike: 4}}]", "rows in the order in which it was done"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_since[] = {{"{when: sudden, after: carriage}", "both or one of them"}, {NULL, NULL}};
const struct sheet_form sheet_forms_text[] = {{"\"strikes one too many\"", "any text"}, {NULL, NULL}};

const struct sheet_form sheet_forms_at[] = {
    {"\"3:00\"", "a time of the dial, in quotes; at 3:07 it was heard seven past three"},
    {"\"3:00 pm\"", "with the half of the day, where that matters"},
    {"\"~3:00\"", "about three"},
    {"\"*:28\"", "28 minutes past, at any hour"},
    {"{after: \"8:10\", before: \"8:30\"}", "once, at some time between"},
    {"{from: \"3:00\", to: \"11:00\", every: hour}", "a rule over part of the dial"},
    {"[\"9:00\", \"12:00\", \"1:00\"]", "a row for each of these, alike in all else"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_stood[] = {
    {"\"3:00\"", "a time of the dial"},
    {"\"*:28\"", "that minute of some hour"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_point[] = {
    {"\"8:10\"", "a time of the dial; or, in both, a minute of any hour like \"*:10\""},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_dial[] = {{"\"8:10\"", "a time of the dial"}, {NULL, NULL}};
const struct sheet_form sheet_forms_for[] = {
    {"\"5:00\"", "a let-off of the dial"},
    {"\"*:30\"", "that of the half of any hour"},
    {"every_hour", "the same as hour; so with half and quarter"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_except[] = {
    {"\"5:00\"", "that one"},
    {"\"*:30\"", "at that minute of every hour"},
    {"[\"5:00\", \"6:00\", half]", "a list: none of these"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_strike[] = {
    {"2", "so many blows, 0 to 24"},
    {"[1, 2]", "one of these counts (the caller was not sure, or both were heard)"},
    {"1 or 2", "the same"},
    {"{mostly: 1, sometimes: [2, 3]}", "a usual count, and others now and then"},
    {"{mostly: right, sometimes: none}", "the words may stand for a count there, and in a list"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_strike_error[] = {
    {"-1", "one less than due"},
    {"2", "two more than due"},
    {"[-1, 1]", "one of these"},
    {"{mostly: 0, sometimes: [-1]}", "usually right, now and then one less"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_notes[] = {
    {"\"3124\"", "bells in order, 1 the highest; 10 to 16 are a to g"},
    {"\"31.4 1?13\"", ". is a gap where a note should be, ? one not made out; blanks and - may stand between"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_phrases[] = {{"2", "so many, 0 to 24"}, {NULL, NULL}};
const struct sheet_form sheet_forms_quarter[] = {
    {"2", "the tune of that quarter: 1 to 4 (4 is the hour's)"},
    {"next", "the tune of the quarter after the one due"},
    {"previous", "the tune of the quarter before the one due"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_how[] = {{"[slow, uneven]", "a word or a list of words, all of which hold"}, {NULL, NULL}};
const struct sheet_form sheet_forms_after[] = {{"[carriage, moved_house]", "a word or a list of words"}, {NULL, NULL}};
const struct sheet_form sheet_forms_chime[] = {
    {"[none, wrong]", "one of these, now this, now that"},
    {"{mostly: right, sometimes: none}", "usually this, now and then that"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_stopped[] = {
    {"[strike, hands]", "all of these came to a stand"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_order[] = {{"[gong, call]", "two to six of these, the first heard first"}, {NULL, NULL}};
const struct sheet_form sheet_forms_seconds[] = {{"2.1", "seconds"}, {NULL, NULL}};
const struct sheet_form sheet_forms_intervals[] = {{"[2.1, 2.3]", "seconds from blow to blow, in order"}, {NULL, NULL}};
const struct sheet_form sheet_forms_date[] = {{"\"2026-10-25\"", "year, month, day"}, {NULL, NULL}};
const struct sheet_form sheet_forms_pm[] = {
    {"yes", "after noon, until midnight"},
    {"no", "before noon"},
    {NULL, NULL},
};
const struct sheet_form sheet_forms_result[] = {
    {"{strike: 4}", "what was heard then: a map with the keys of a row of heard"},
    {"starts", "or what came of it, a word"},
    {NULL, NULL},
};
/* clang-format on */
