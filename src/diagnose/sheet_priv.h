/* sheet_priv.h - what the readers and writers of a call sheet share: the names of its small
 * vocabularies, and times.  For this folder only. */
#ifndef LETOFF_DIAGNOSE_SHEET_PRIV_H
#define LETOFF_DIAGNOSE_SHEET_PRIV_H

#include "diagnose/sheet.h"
#include "diagnose/sheet_keys.h"
#include "yaml_map.h"

/* Names as in YAML; the first of several names of one value is the one written. */
extern const struct yaml_word sheet_strike_words[]; /* enum heard_strike, the ones with a word */
extern const struct yaml_word sheet_error_words[];  /* of strike_error */
extern const struct yaml_word sheet_chime_words[];
extern const struct yaml_word sheet_often_words[];
extern const struct yaml_word sheet_stopped_words[];
extern const struct yaml_word sheet_hammers_words[];
extern const struct yaml_word sheet_order_words[];
extern const struct yaml_word sheet_train_words[];
extern const struct yaml_word sheet_rule_words[]; /* hour, half, quarter, any */
extern const struct yaml_word sheet_at_words[];   /* every_hour ...: a whole `at` */
/* Forms of the values, by key (sheet_forms.c). */
extern const struct sheet_form sheet_forms_clock[], sheet_forms_hints[], sheet_forms_history[],
    sheet_forms_seen[], sheet_forms_years[], sheet_forms_hands[], sheet_forms_heard[],
    sheet_forms_tried[], sheet_forms_since[], sheet_forms_text[], sheet_forms_at[],
    sheet_forms_point[], sheet_forms_dial[], sheet_forms_for[], sheet_forms_except[],
    sheet_forms_strike[], sheet_forms_strike_error[], sheet_forms_notes[], sheet_forms_phrases[],
    sheet_forms_quarter[], sheet_forms_how[], sheet_forms_after[], sheet_forms_order[],
    sheet_forms_chime[], sheet_forms_stopped[], sheet_forms_stood[], sheet_forms_seconds[],
    sheet_forms_intervals[], sheet_forms_date[], sheet_forms_pm[], sheet_forms_result[];
const char *sheet_name(const struct yaml_word *words, int value); /* NULL if it has none */
int sheet_value(const struct yaml_word *words, const char *name); /* -1 if it is none */

/* Times and signs of the shorthand; of several rows for one time the first is written. */
#define SHORT_TIMES 12
extern const struct sheet_short_time {
    const char *name;
    enum at_kind kind;
    enum at_rule rule;
} sheet_short_times[SHORT_TIMES];
extern const struct yaml_word sheet_strike_signs[];
extern const struct yaml_word sheet_chime_signs[];

/* "3:00", "~3:00 pm", "*:28", every_hour, an_hour, any, unknown; false if it is none of them. */
bool at_read(const char *text, struct sheet_at *at);
/* hour, half, quarter, any, "5:00", "*:30": what `for` and `except` may hold. */
bool at_read_due(const char *text, struct sheet_at *at);
bool at_same(const struct sheet_at *a, const struct sheet_at *b);
void at_write_time(int min, bool known24, const char *between, struct text *out);
void at_write(const struct sheet_at *at, struct text *out);      /* as a YAML value */
void at_write_due(const struct sheet_at *at, struct text *out);  /* likewise, for `for` */

/* Copy the notes of "3124 1213" without blanks and dashes; false if one is no note or there are
 * more than SHEET_NOTES. */
bool notes_read(const char *text, char notes[SHEET_NOTES + 1]);

/* "2026-10-25" of a real calendar day. */
bool date_read(const char *text, int *year, int *month, int *day);

/* True if the row tells anything beside its time. */
bool heard_tells(const struct heard *h);
/* The word that stands for a count in a set, below 0 there; NULL if the value is a number. */
const char *heard_value_word(const struct yaml_word *words, int value);
/* Names the strike by the values read: one value alone is a plain count, error, none or runs_on. */
void sheet_settle_counts(struct heard *h, bool error);
/* Of a set of chimes only what is not the first stays; one alone is no set. */
void sheet_settle_chimes(struct heard *h);
bool heard_same(const struct heard *a, const struct heard *b);
void heard_release(struct heard *h);

/* A foreign text as it may stand in a sentence: cut after 60 bytes, control characters as "?". */
struct sheet_shown {
    char at[72];
};
struct sheet_shown sheet_shown(const char *text);

/* The shortest decimal that reads back as the same number. */
void number_write(double value, struct text *out);

#endif
