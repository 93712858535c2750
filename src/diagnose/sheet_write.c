/* Writing a call sheet: as YAML, and a row in plain words. */
#include "diagnose/sheet_priv.h"

#include <string.h>

/* A flow map that is being written: puts "{" or ", " before each key. */
struct flow {
    struct text *out;
    bool begun;
};

static struct text *flow_key(struct flow *f, const char *key)
{
    text_addf(f->out, "%s%s: ", f->begun ? ", " : "{", key);
    f->begun = true;
    return f->out;
}

static void flow_word(struct flow *f, const char *key, const char *word)
{
    text_add(flow_key(f, key), word);
}

static void flow_end(struct flow *f)
{
    text_add(f->out, f->begun ? "}" : "{}");
}

/* Beyond ASCII, YAML takes these only escaped, or ends a line at them (YAML 1.1, chapter 5). */
static const unsigned escaped[][2] = {
    {0x7f, 0x9f},
    {0x2028, 0x2029},
    {0xfeff, 0xfeff},
    {0xfffe, 0xffff},
};

/* The code point of two or three bytes of UTF-8 at s, with their number; others need no escape. */
static unsigned code_point(const char *s, size_t *bytes)
{
    const unsigned char *u = (const unsigned char *)s;
    *bytes = 1;
    if (u[0] >> 5 == 6 && u[1]) {
        *bytes = 2;
        return (u[0] & 31u) << 6 | (u[1] & 63u);
    }
    if (u[0] >> 4 == 14 && u[1] && u[2]) {
        *bytes = 3;
        return (u[0] & 15u) << 12 | (u[1] & 63u) << 6 | (u[2] & 63u);
    }
    return u[0] < 128 ? u[0] : 0x10000;
}

static bool wants_escape(unsigned point)
{
    for (size_t i = 0; i < sizeof escaped / sizeof *escaped; i++)
        if (point >= escaped[i][0] && point <= escaped[i][1])
            return true;
    return point < 32;
}

static void write_quoted(const char *s, struct text *out)
{
    text_add(out, "\"");
    for (size_t bytes; *s; s += bytes) {
        unsigned c = code_point(s, &bytes);
        if (c == '"' || c == '\\')
            text_addf(out, "\\%c", (int)c);
        else if (c == '\n')
            text_add(out, "\\n");
        else if (wants_escape(c))
            text_addf(out, "\\u%04X", c);
        else
            text_add_bytes(out, s, bytes);
    }
    text_add(out, "\"");
}

/* The words of the set, each with `before` put to it, parted by commas. */
static void write_set(const struct word_set *set, const char *before, const struct words *w,
                      enum word_kind kind, bool *begun, struct text *out)
{
    for (size_t i = 0; i < words_count(w, kind); i++)
        if (word_set_has(set, (int)i)) {
            text_addf(out, "%s%s%s", *begun ? ", " : "", before, words_at(w, kind, i)->id);
            *begun = true;
        }
}

/* "word", or "[word, word]" when there are several. */
static void write_words(const struct word_set *set, const struct words *w, enum word_kind kind,
                        struct text *out)
{
    bool several = word_set_count(set) != 1, begun = false;
    text_add(out, several ? "[" : "");
    write_set(set, "", w, kind, &begun, out);
    text_add(out, several ? "]" : "");
}

static void write_count(int value, bool error, struct text *out)
{
    if (!error && value == HEARD_ENDLESS)
        text_add(out, "runs_on");
    else if (!error && value == 0)
        text_add(out, "none");
    else
        text_addf(out, "%d", value);
}

static void write_value(int value, bool error, struct text *out)
{
    const char *word = error ? NULL : heard_value_word(sheet_strike_words, value);
    if (word)
        text_add(out, word);
    else
        write_count(value, error, out);
}

static void write_counts(const struct heard *h, bool error, struct text *out)
{
    size_t first = h->mostly;
    if (h->mostly) {
        text_add(out, "{mostly: ");
        write_value(h->value[0], error, out);
        text_add(out, ", sometimes: ");
    }
    text_add(out, "[");
    for (size_t i = first; i < h->values; i++) {
        text_add(out, i > first ? ", " : "");
        write_value(h->value[i], error, out);
    }
    text_add(out, h->mostly ? "]}" : "]");
}

static void write_strike(const struct heard *h, struct flow *f)
{
    switch (h->strike) {
    case HEARD_STRIKE_UNSAID:
        return;
    case HEARD_STRIKE_COUNT:
        write_count(h->value[0], false, flow_key(f, "strike"));
        return;
    case HEARD_STRIKE_ERROR:
        write_count(h->value[0], true, flow_key(f, "strike_error"));
        return;
    case HEARD_STRIKE_SAME_ERROR:
        flow_word(f, "strike_error", sheet_name(sheet_error_words, h->strike));
        return;
    case HEARD_STRIKE_SET:
        write_counts(h, false, flow_key(f, "strike"));
        return;
    case HEARD_STRIKE_ERROR_SET:
        write_counts(h, true, flow_key(f, "strike_error"));
        return;
    default:
        flow_word(f, "strike", sheet_name(sheet_strike_words, h->strike));
    }
}

/* The words of the bits, each with a comma before it but the first unless `begun`. */
static void write_bits(const struct yaml_word *words, unsigned bits, bool begun, struct text *out)
{
    for (int value = 0; bits >> value; value++)
        if (bits >> value & 1) {
            text_addf(out, "%s%s", begun ? ", " : "", sheet_name(words, value));
            begun = true;
        }
}

/* "[none, wrong]", or "{mostly: right, sometimes: [none]}" */
static void write_several(const struct yaml_word *words, int first, unsigned also, bool mostly,
                          struct text *out)
{
    text_addf(out, mostly ? "{mostly: %s, sometimes: [" : "[%s", sheet_name(words, first));
    write_bits(words, also, !mostly, out);
    text_add(out, mostly ? "]}" : "]");
}

static void write_chime(const struct heard *h, struct flow *f)
{
    if (*h->notes)
        text_addf(flow_key(f, "notes"), "\"%s\"", h->notes);
    if (h->phrases >= 0)
        text_addf(flow_key(f, "phrases"), "%d", h->phrases);
    if (h->quarter)
        text_addf(flow_key(f, "quarter"), "%d", h->quarter);
    if (!h->quarter && h->quarter_shift)
        flow_word(f, "quarter", h->quarter_shift > 0 ? "next" : "previous");
    if (h->chime_also)
        write_several(sheet_chime_words, (int)h->chime, h->chime_also, h->chime_mostly,
                      flow_key(f, "chime"));
    else if (h->chime)
        flow_word(f, "chime", sheet_name(sheet_chime_words, h->chime));
    if (h->hammers)
        flow_word(f, "hammers", sheet_name(sheet_hammers_words, h->hammers));
    if (h->orders) {
        text_add(flow_key(f, "order"), "[");
        for (size_t i = 0; i < h->orders; i++)
            text_addf(f->out, "%s%s", i ? ", " : "", sheet_name(sheet_order_words, h->order[i]));
        text_add(f->out, "]");
    }
}

static void write_seconds(const struct heard *h, struct flow *f)
{
    if (h->interval_s > 0)
        number_write(h->interval_s, flow_key(f, "interval_s"));
    if (h->intervals) {
        text_add(flow_key(f, "intervals_s"), "[");
        for (size_t i = 0; i < h->intervals; i++) {
            text_add(f->out, i ? ", " : "");
            number_write(h->intervals_s[i], f->out);
        }
        text_add(f->out, "]");
    }
    if (h->pause_s > 0)
        number_write(h->pause_s, flow_key(f, "pause_s"));
}

static void write_times(const struct heard *h, struct flow *f)
{
    if (h->at.kind != AT_UNKNOWN)
        at_write(&h->at, flow_key(f, "at"));
    if (h->has_for)
        at_write_due(&h->due, flow_key(f, "for"));
}

static void write_excepts(const struct heard *h, struct flow *f)
{
    if (!h->excepts)
        return;
    text_add(flow_key(f, "except"), h->excepts > 1 ? "[" : "");
    for (size_t i = 0; i < h->excepts; i++) {
        text_add(f->out, i ? ", " : "");
        at_write_due(&h->except[i], f->out);
    }
    text_add(f->out, h->excepts > 1 ? "]" : "");
}

void heard_print(const struct heard *h, const struct words *w, struct text *out)
{
    struct flow f = {.out = out};
    write_times(h, &f);
    write_strike(h, &f);
    write_chime(h, &f);
    if (h->stopped_also)
        write_several(sheet_stopped_words, (int)h->stopped, h->stopped_also, false,
                      flow_key(&f, "stopped"));
    else if (h->stopped)
        flow_word(&f, "stopped", sheet_name(sheet_stopped_words, h->stopped));
    if (h->freed_by >= 0)
        flow_word(&f, "freed_by", words_at(w, WORD_FREED_BY, (size_t)h->freed_by)->id);
    if (h->train >= 0)
        flow_word(&f, "train", sheet_name(sheet_train_words, h->train));
    write_seconds(h, &f);
    if (!word_set_empty(&h->how))
        write_words(&h->how, w, WORD_HOW, flow_key(&f, "how"));
    if (h->often)
        flow_word(&f, "often", sheet_name(sheet_often_words, h->often));
    write_excepts(h, &f);
    if (h->year)
        text_addf(flow_key(&f, "date"), "\"%04d-%02d-%02d\"", h->year, h->month, h->day);
    if (h->said)
        write_quoted(h->said, flow_key(&f, "said"));
    flow_end(&f);
}

static void write_tried(const struct tried *t, const struct words *w, struct text *out)
{
    struct flow f = {.out = out};
    flow_word(&f, "do", words_at(w, WORD_DO, (size_t)t->action)->id);
    if (t->train >= 0)
        flow_word(&f, "train", sheet_name(sheet_train_words, t->train));
    if (t->has_at)
        at_write(&t->at, flow_key(&f, "at"));
    if (t->has_row)
        heard_print(&t->row, w, flow_key(&f, "result"));
    else if (t->result >= 0)
        flow_word(&f, "result", words_at(w, WORD_RESULT, (size_t)t->result)->id);
    flow_end(&f);
}

static void write_hints(const struct sheet *s, struct text *out)
{
    struct flow f = {.out = out};
    for (size_t i = 0; i < words_count(s->words, WORD_HINT) && i < SHEET_HINTS; i++) {
        const struct word *w = words_at(s->words, WORD_HINT, i);
        if (s->hint[i] == HINT_UNSAID)
            continue;
        text_add(out, f.begun ? "" : "hints: ");
        if (!w->values)
            text_addf(flow_key(&f, w->id), "%d", s->hint[i]);
        else
            flow_word(&f, w->id, w->value[s->hint[i]]);
    }
    if (f.begun)
        text_add(out, "}\n");
}

static void write_said_sets(const char *key, const struct word_set *set,
                            const struct word_set *denied, const struct word_set *asked,
                            const struct words *w, enum word_kind kind, struct text *out)
{
    struct word_set told = word_set_less(set, asked), answered = word_set_both(set, asked);
    bool begun = false;
    if (word_set_empty(set) && word_set_empty(denied))
        return;
    text_addf(out, "%s: [", key);
    write_set(&told, "", w, kind, &begun, out);
    write_set(&answered, "asked ", w, kind, &begun, out);
    write_set(denied, "not ", w, kind, &begun, out);
    text_add(out, "]\n");
}

static void write_since(const struct sheet *s, struct text *out)
{
    struct flow f = {.out = out};
    if (s->since_when < 0 && word_set_empty(&s->since_after))
        return;
    text_add(out, "since: ");
    if (s->since_when >= 0)
        flow_word(&f, "when", words_at(s->words, WORD_WHEN, (size_t)s->since_when)->id);
    if (!word_set_empty(&s->since_after))
        write_words(&s->since_after, s->words, WORD_AFTER, flow_key(&f, "after"));
    flow_end(&f);
    text_add(out, "\n");
}

static void write_line(const char *key, const char *value, struct text *out)
{
    if (!value)
        return;
    text_addf(out, "%s: ", key);
    write_quoted(value, out);
    text_add(out, "\n");
}

static void write_rows(const struct sheet *s, struct text *out)
{
    text_add(out, s->heards ? "heard:\n" : "");
    for (size_t i = 0; i < s->heards; i++) {
        text_add(out, "  - ");
        heard_print(&s->heard[i], s->words, out);
        text_add(out, "\n");
    }
    text_add(out, s->trieds ? "tried:\n" : "");
    for (size_t i = 0; i < s->trieds; i++) {
        text_add(out, "  - ");
        write_tried(&s->tried[i], s->words, out);
        text_add(out, "\n");
    }
}

void sheet_print(const struct sheet *s, struct text *out)
{
    write_line("story", s->story, out);
    write_line("source", s->source, out);
    if (*s->clock)
        text_addf(out, "clock: \"%s\"\n", s->clock);
    write_hints(s, out);
    write_said_sets("history", &s->history, &s->history_not, &s->history_asked, s->words,
                    WORD_HISTORY, out);
    write_said_sets("seen", &s->seen, &s->seen_not, &s->seen_asked, s->words, WORD_SEEN, out);
    if (s->years_since_oil >= 0) {
        text_add(out, "years_since_oil: ");
        number_write(s->years_since_oil, out);
        text_add(out, "\n");
    }
    if (s->hands_min >= 0) {
        text_add(out, "hands: \"");
        at_write_time(s->hands_min, false, " ", out);
        text_add(out, "\"\n");
    }
    write_rows(s, out);
    write_since(s, out);
}

/* ---- a row in plain words ---- */

static void say_time(const struct sheet_at *at, struct text *out)
{
    static const char *const every[] = {"at every let-off", "at every hour", "at every half hour",
                                        "at every quarter", "at every other hour"};
    static const char *const one[] = {"at some let-off", "at one of the hours",
                                      "at one of the half hours", "at one of the quarters",
                                      "at some hour"};
    switch (at->kind) {
    case AT_UNKNOWN:
        text_add(out, "once, it is not known when");
        return;
    case AT_EXACT:
        text_add(out, at->about ? "at about " : "at ");
        at_write_time(at->min, at->known24, " ", out);
        return;
    case AT_MINUTE:
        text_addf(out, "at %s%d minute%s past each hour", at->about ? "about " : "", at->min,
                  at->min == 1 ? "" : "s");
        return;
    case AT_ONE:
        text_add(out, one[at->rule]);
        return;
    case AT_RULE:
        text_add(out, every[at->rule]);
        break;
    case AT_WINDOW:
        text_add(out, at->about ? "about" : "somewhere");
        if (at->any_hour) {
            text_addf(out, " between %d and %d minutes past the hour", at->min, at->end_min);
            return;
        }
        break;
    }
    if (at->kind == AT_RULE && !at->part)
        return;
    text_add(out, at->kind == AT_RULE ? " from " : " between ");
    at_write_time(at->min, at->known24, " ", out);
    text_add(out, at->kind == AT_RULE ? " to " : " and ");
    at_write_time(at->end_min, at->known24, " ", out);
}

static void say_due(const struct sheet_at *due, struct text *out)
{
    if (due->kind == AT_RULE && due->rule == RULE_ANY)
        text_add(out, "what was due");
    else if (due->kind == AT_RULE)
        text_addf(out, "the %s", sheet_name(sheet_rule_words, due->rule));
    else if (due->kind == AT_MINUTE)
        text_addf(out, "%d past", due->min);
    else
        at_write_time(due->min, due->known24, " ", out);
}

static void say_error(int error, struct text *out)
{
    if (!error)
        text_add(out, "the count due");
    else
        text_addf(out, "%d too %s", error < 0 ? -error : error, error < 0 ? "few" : "many");
}

static void say_value(const struct heard *h, size_t i, struct text *out)
{
    static const char *const words[] = {
        [HEARD_STRIKE_RIGHT] = "the count due",
        [HEARD_STRIKE_WRONG] = "a wrong count",
        [HEARD_STRIKE_SOME] = "something (not counted)",
        [HEARD_STRIKE_HOURS] = "as for an hour (not counted)",
    };
    bool error = h->strike == HEARD_STRIKE_ERROR || h->strike == HEARD_STRIKE_ERROR_SET;
    if (error)
        say_error(h->value[i], out);
    else if (h->value[i] < 0)
        text_add(out, words[-h->value[i]]);
    else if (h->value[i] == HEARD_ENDLESS)
        text_add(out, "without end");
    else if (h->value[i] == 0)
        text_add(out, "nothing");
    else
        text_addf(out, "%d", h->value[i]);
}

static void say_strike(const struct heard *h, struct text *out)
{
    static const char *const said[] = {
        [HEARD_STRIKE_NONE] = "it did not strike",
        [HEARD_STRIKE_RUNS_ON] = "it struck without end",
        [HEARD_STRIKE_UNNOTICED] = "the strike was not listened to",
        [HEARD_STRIKE_RIGHT] = "it struck the count due",
        [HEARD_STRIKE_WRONG] = "it struck a wrong count",
        [HEARD_STRIKE_SOME] = "it struck (not counted)",
        [HEARD_STRIKE_HOURS] = "it struck as for an hour (not counted)",
        [HEARD_STRIKE_SAME_ERROR] = "its count was wrong, always by the same number",
    };
    if (h->values == 0) {
        text_add(out, said[h->strike]);
        return;
    }
    text_add(out, h->mostly ? "it mostly struck " : "it struck ");
    say_value(h, 0, out);
    for (size_t i = 1; i < h->values; i++) {
        bool last = i + 1 == h->values;
        text_add(out, h->mostly && i == 1 ? ", at times " : last ? " or " : ", ");
        say_value(h, i, out);
    }
}

static void say_chime(const struct heard *h, const char **and, struct text *out)
{
    static const char *const said[] = {
        [HEARD_CHIME_NONE] = "it did not chime",
        [HEARD_CHIME_RIGHT] = "the chime was right",
        [HEARD_CHIME_WRONG] = "the chime was wrong",
        [HEARD_CHIME_SOME] = "it chimed",
        [HEARD_CHIME_RUNS_ON] = "it chimed without end",
        [HEARD_CHIME_UNNOTICED] = "the chime was not listened to",
    };
    if (h->chime) {
        text_addf(out, "%s%s", *and, said[h->chime]);
        for (int value = 0; h->chime_also >> value; value++)
            if (h->chime_also >> value & 1)
                text_addf(out, "%s%s", h->chime_mostly ? ", at times " : " or ", said[value]);
        *and = ", ";
    }
    if (*h->notes) {
        text_addf(out, "%sthe notes were %s", *and, h->notes);
        *and = ", ";
    }
    if (h->phrases >= 0) {
        text_addf(out, "%s%d phrase%s came", *and, h->phrases, h->phrases == 1 ? "" : "s");
        *and = ", ";
    }
    if (h->quarter || h->quarter_shift) {
        static const char *const tune[] = {"first quarter", "half hour", "third quarter", "hour"};
        text_addf(out, "%sit was the tune of the %s", *and,
                  h->quarter ? tune[h->quarter - 1]
                             : (h->quarter_shift > 0 ? "next quarter" : "quarter before"));
        *and = ", ";
    }
}

static void say_stop(const struct heard *h, const struct words *w, const char **and,
                     struct text *out)
{
    static const char *const said[] = {
        [STOPPED_HANDS] = "the hands stopped", [STOPPED_CLOCK] = "the clock stopped",
        [STOPPED_TRAIN] = "the train stopped", [STOPPED_STRIKE] = "the strike stopped",
        [STOPPED_CHIME] = "the chime stopped", [STOPPED_MUSIC] = "the music stopped",
    };
    if (!h->stopped)
        return;
    text_addf(out, "%s%s", *and, said[h->stopped]);
    for (int value = 0; h->stopped_also >> value; value++)
        if (h->stopped_also >> value & 1)
            text_addf(out, " and %s", said[value]);
    *and = ", ";
    if (h->freed_by >= 0)
        text_addf(out, " (freed by: %s)", words_at(w, WORD_FREED_BY, (size_t)h->freed_by)->id);
}

static void say_rest(const struct heard *h, const struct words *w, struct text *out)
{
    if (h->hammers)
        text_addf(out, ", hammers heard: %s", sheet_name(sheet_hammers_words, h->hammers));
    for (size_t i = 0; i < h->orders; i++)
        text_addf(out, "%s%s", i ? " before " : ", ", sheet_name(sheet_order_words, h->order[i]));
    if (h->interval_s > 0) {
        text_add(out, ", ");
        number_write(h->interval_s, out);
        text_add(out, " s apart");
    }
    if (h->pause_s > 0) {
        text_add(out, ", after a pause of ");
        number_write(h->pause_s, out);
        text_add(out, " s");
    }
    for (size_t i = 0; i < words_count(w, WORD_HOW); i++)
        if (word_set_has(&h->how, (int)i)) {
            const char *id = words_at(w, WORD_HOW, i)->id;
            text_add(out, ", ");
            for (; *id; id++)
                text_add_bytes(out, *id == '_' ? " " : id, 1);
        }
    if (h->often)
        text_addf(out, " (%s)", sheet_name(sheet_often_words, h->often));
    for (size_t i = 0; i < h->excepts; i++) {
        text_add(out, i ? " and " : ", but not at ");
        say_due(&h->except[i], out);
    }
}

void heard_say(const struct heard *h, const struct words *w, struct text *out)
{
    const char *and = h->at.kind == AT_UNKNOWN ? ", " : " ";
    say_time(&h->at, out);
    if (h->has_for) {
        text_add(out, ", for ");
        say_due(&h->due, out);
        and = ", ";
    }
    if (h->strike) {
        text_add(out, and);
        say_strike(h, out);
        and = ", ";
    }
    say_chime(h, &and, out);
    say_stop(h, w, &and, out);
    say_rest(h, w, out);
}
