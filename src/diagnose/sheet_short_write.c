/* The shorthand of a call sheet: writing. */
#include "diagnose/sheet_priv.h"

static void write_point(const struct sheet_at *at, int min, bool any_hour, struct text *out)
{
    text_add(out, at->about ? "~" : "");
    if (any_hour)
        text_addf(out, "*:%02d", min);
    else
        at_write_time(min, at->known24, "", out);
}

static const char *short_name(enum at_kind kind, enum at_rule rule)
{
    for (size_t i = 0; i < SHORT_TIMES; i++)
        if (sheet_short_times[i].kind == kind && sheet_short_times[i].rule == rule)
            return sheet_short_times[i].name;
    return "?";
}

static void write_time(const struct sheet_at *at, struct text *out)
{
    if (at->kind == AT_EXACT || at->kind == AT_MINUTE) {
        write_point(at, at->min, at->kind == AT_MINUTE, out);
    } else if (at->kind == AT_WINDOW) {
        write_point(at, at->min, at->any_hour, out);
        text_add(out, "..");
        write_point(at, at->end_min, at->any_hour, out);
    } else {
        if (at->part) {
            write_point(at, at->min, false, out);
            text_add(out, "-");
            write_point(at, at->end_min, false, out);
            text_add(out, "/");
        }
        text_add(out, short_name(at->kind, at->rule));
    }
}

static void write_value(int value, bool error, struct text *out)
{
    const char *sign = error ? NULL : heard_value_word(sheet_strike_signs, value);
    if (sign)
        text_add(out, sign);
    else if (!error && value == HEARD_ENDLESS)
        text_add(out, "*");
    else
        text_addf(out, error ? "%+d" : "%d", value);
}

static void write_strike(const struct heard *h, struct text *out)
{
    bool error = h->strike == HEARD_STRIKE_ERROR || h->strike == HEARD_STRIKE_ERROR_SET;
    if (!h->strike)
        return;
    text_add(out, " s");
    if (!h->values) {
        text_add(out, sheet_name(sheet_strike_signs, h->strike));
        return;
    }
    for (size_t i = 0; i < h->values; i++) {
        text_add(out, !i ? "" : h->mostly && i == 1 ? "(" : "/");
        write_value(h->value[i], error, out);
    }
    text_add(out, h->mostly ? ")" : "");
}

static void write_word(const char *key, const char *word, struct text *out)
{
    if (word)
        text_addf(out, " %s=%s", key, word);
}

static void write_chime(const struct heard *h, struct text *out)
{
    if (*h->notes)
        text_addf(out, " n%s", h->notes);
    if (h->phrases >= 0)
        text_addf(out, " p%d", h->phrases);
    if (h->quarter)
        text_addf(out, " q%d", h->quarter);
    else if (h->quarter_shift)
        text_addf(out, " q%+d", h->quarter_shift);
    if (h->chime)
        text_addf(out, " c%s", sheet_name(sheet_chime_signs, h->chime));
    bool begun = false;
    for (int value = 0; h->chime_also >> value; value++)
        if (h->chime_also >> value & 1) {
            text_addf(out, "%s%s", h->chime_mostly && !begun ? "(" : "/",
                      sheet_name(sheet_chime_signs, value));
            begun = true;
        }
    text_add(out, h->chime_mostly ? ")" : "");
    if (h->interval_s > 0) {
        text_add(out, " i");
        number_write(h->interval_s, out);
    }
    for (size_t i = 0; i < h->intervals; i++) {
        text_add(out, i ? "/" : " i");
        number_write(h->intervals_s[i], out);
    }
    text_add(out, h->intervals == 1 ? "/" : "");
}

static void write_keys(const struct heard *h, const struct words *w, struct text *out)
{
    if (h->has_for) {
        struct text due = {0};
        if (h->due.kind == AT_RULE)
            text_add(&due, sheet_name(sheet_rule_words, h->due.rule));
        else
            write_time(&h->due, &due);
        write_word("for", text_cstr(&due), out);
        text_release(&due);
    }
    write_word("hammers", h->hammers ? sheet_name(sheet_hammers_words, h->hammers) : NULL, out);
    write_word("stop", h->stopped ? sheet_name(sheet_stopped_words, h->stopped) : NULL, out);
    for (int value = 0; h->stopped_also >> value; value++)
        if (h->stopped_also >> value & 1)
            text_addf(out, "/%s", sheet_name(sheet_stopped_words, value));
    if (h->freed_by >= 0)
        write_word("freed", words_at(w, WORD_FREED_BY, (size_t)h->freed_by)->id, out);
    write_word("train", h->train >= 0 ? sheet_name(sheet_train_words, h->train) : NULL, out);
    write_word("often", h->often ? sheet_name(sheet_often_words, h->often) : NULL, out);
    for (size_t i = 0; i < h->orders; i++)
        text_addf(out, "%s%s", i ? ">" : " order=", sheet_name(sheet_order_words, h->order[i]));
    if (h->pause_s > 0) {
        text_add(out, " pause=");
        number_write(h->pause_s, out);
    }
    if (h->year)
        text_addf(out, " date=%04d-%02d-%02d", h->year, h->month, h->day);
    for (size_t i = 0; i < h->excepts; i++) {
        text_add(out, i ? "/" : " not=");
        if (h->except[i].kind == AT_RULE)
            text_add(out, sheet_name(sheet_rule_words, h->except[i].rule));
        else
            write_time(&h->except[i], out);
    }
}

static void write_items(const struct heard *h, const struct words *w, struct text *out)
{
    write_strike(h, out);
    write_chime(h, out);
    for (size_t i = 0; i < words_count(w, WORD_HOW); i++)
        if (word_set_has(&h->how, (int)i))
            text_addf(out, " %s", words_at(w, WORD_HOW, i)->id);
    write_keys(h, w, out);
}

void heard_print_shorthand(const struct heard *h, const struct words *w, struct text *out)
{
    write_time(&h->at, out);
    write_items(h, w, out);
}

static void begin_row(struct text *out)
{
    text_add(out, out->length ? ", " : "");
}

static void write_set(const char *row, const struct word_set *set, const struct words *w,
                      enum word_kind kind, struct text *out)
{
    if (word_set_empty(set))
        return;
    begin_row(out);
    text_add(out, row);
    for (size_t i = 0; i < words_count(w, kind); i++)
        if (word_set_has(set, (int)i))
            text_addf(out, " %s", words_at(w, kind, i)->id);
}

static void write_said(const char *row, const char *asked_row, const struct word_set *set,
                       const struct word_set *asked, const struct words *w, enum word_kind kind,
                       struct text *out)
{
    struct word_set told = word_set_less(set, asked), answered = word_set_both(set, asked);
    write_set(row, &told, w, kind, out);
    write_set(asked_row, &answered, w, kind, out);
}

static void write_hints(const struct sheet *s, struct text *out)
{
    bool begun = false;
    for (size_t i = 0; i < words_count(s->words, WORD_HINT) && i < SHEET_HINTS; i++) {
        const struct word *w = words_at(s->words, WORD_HINT, i);
        if (s->hint[i] == HINT_UNSAID)
            continue;
        if (!begun) {
            begin_row(out);
            text_add(out, "hint");
            begun = true;
        }
        if (w->values)
            text_addf(out, " %s=%s", w->id, w->value[s->hint[i]]);
        else
            text_addf(out, " %s=%d", w->id, s->hint[i]);
    }
}

static bool write_tried(const struct tried *t, const struct words *w, struct text *out)
{
    begin_row(out);
    text_addf(out, "did %s", words_at(w, WORD_DO, (size_t)t->action)->id);
    if (t->train >= 0)
        text_addf(out, ":%s", sheet_name(sheet_train_words, t->train));
    if (t->has_at) {
        text_add(out, "@");
        write_time(&t->at, out);
    }
    if (t->has_row) {
        text_add(out, " -> ");
        heard_print_shorthand(&t->row, w, out);
        return !t->row.said;
    }
    if (t->result >= 0)
        text_addf(out, " -> %s", words_at(w, WORD_RESULT, (size_t)t->result)->id);
    return true;
}

static void write_since(const struct sheet *s, struct text *out)
{
    if (s->since_when < 0 && word_set_empty(&s->since_after))
        return;
    begin_row(out);
    text_add(out, "since");
    if (s->since_when >= 0)
        text_addf(out, " %s", words_at(s->words, WORD_WHEN, (size_t)s->since_when)->id);
    for (size_t i = 0; i < words_count(s->words, WORD_AFTER); i++)
        if (word_set_has(&s->since_after, (int)i))
            text_addf(out, " %s", words_at(s->words, WORD_AFTER, i)->id);
}

/* `out` is empty at first. */
static bool write_sheet(const struct sheet *s, struct text *out)
{
    bool whole_sheet = !s->story && !s->source;
    if (*s->clock) {
        begin_row(out);
        text_addf(out, "clock %s", s->clock);
    }
    write_hints(s, out);
    write_said("had", "asked-had", &s->history, &s->history_asked, s->words, WORD_HISTORY, out);
    write_set("not-had", &s->history_not, s->words, WORD_HISTORY, out);
    write_said("seen", "asked-seen", &s->seen, &s->seen_asked, s->words, WORD_SEEN, out);
    write_set("not-seen", &s->seen_not, s->words, WORD_SEEN, out);
    if (s->years_since_oil >= 0) {
        begin_row(out);
        text_add(out, "oil ");
        number_write(s->years_since_oil, out);
    }
    if (s->hands_min >= 0) {
        begin_row(out);
        text_add(out, "hands ");
        at_write_time(s->hands_min, false, "", out);
    }
    for (size_t i = 0; i < s->heards; i++) {
        begin_row(out);
        heard_print_shorthand(&s->heard[i], s->words, out);
        whole_sheet = whole_sheet && !s->heard[i].said;
    }
    for (size_t i = 0; i < s->trieds; i++)
        whole_sheet = write_tried(&s->tried[i], s->words, out) && whole_sheet;
    write_since(s, out);
    return whole_sheet;
}

bool sheet_print_shorthand(const struct sheet *s, struct text *out)
{
    struct text line = {0};
    bool all = write_sheet(s, &line);
    text_add(out, text_cstr(&line));
    text_release(&line);
    return all;
}
