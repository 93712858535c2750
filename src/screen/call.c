#include "screen/call.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "mem.h"

/* ---- steps ---- */

/* A sheet with a clock or hints alone cannot be read again, since it tells nothing; while a call is
 * being taken it is what there is, so it is kept with this as its story. */
#define NOTHING_YET "(nothing told yet)"

static char *print_of(const struct call *c)
{
    struct text t = {0};
    sheet_print(&c->sheet, &t);
    if (t.length > 0 && sheet_empty(&c->sheet))
        text_add(&t, "story: \"" NOTHING_YET "\"\n");
    return t.at ? t.at : mem_copy_text("");
}

static void drop_steps(struct call *c, size_t from)
{
    while (c->steps > from)
        mem_free(c->step[--c->steps]);
}

static void keep_step(struct call *c)
{
    drop_steps(c, c->steps > 0 ? c->at + 1 : 0);
    if (c->steps == CALL_UNDO) {
        mem_free(c->step[0]);
        memmove(c->step, c->step + 1, (CALL_UNDO - 1) * sizeof *c->step);
        c->steps--;
    }
    c->step[c->steps] = print_of(c);
    c->at = c->steps++;
    c->version++;
}

void call_init(struct call *c, const struct words *words, const char *draft_path)
{
    memset(c, 0, sizeof *c);
    c->words = words;
    sheet_init(&c->sheet, words);
    if (draft_path)
        text_add(&c->draft_path, draft_path);
    keep_step(c);
}

void call_release(struct call *c)
{
    sheet_release(&c->sheet);
    drop_steps(c, 0);
    text_release(&c->entry);
    text_release(&c->draft_path);
}

void call_clear(struct call *c)
{
    sheet_clear(&c->sheet);
    text_clear(&c->entry);
    keep_step(c);
}

void call_touch(struct call *c)
{
    char *now = print_of(c);
    bool same = c->steps > 0 && strcmp(now, c->step[c->at]) == 0;
    mem_free(now);
    if (!same)
        keep_step(c);
}

/* An empty sheet prints as nothing that could be read again. */
static bool take_text(struct sheet *to, const struct words *words, const char *name,
                      const char *text, struct err *e)
{
    struct sheet fresh;
    sheet_init(&fresh, words);
    bool blank = text[strspn(text, " \t\r\n{}-")] == 0;
    if (!blank && !sheet_parse(&fresh, name, text, strlen(text), e)) {
        sheet_release(&fresh);
        return false;
    }
    if (fresh.story && strcmp(fresh.story, NOTHING_YET) == 0) {
        mem_free(fresh.story);
        fresh.story = NULL;
    }
    sheet_release(to);
    *to = fresh;
    return true;
}

static bool show_step(struct call *c, size_t at)
{
    struct err e = {0};
    bool good = take_text(&c->sheet, c->words, "undo", c->step[at], &e);
    err_release(&e);
    if (good) {
        c->at = at;
        c->version++;
    }
    return good;
}

bool call_undo(struct call *c)
{
    return c->at > 0 && show_step(c, c->at - 1);
}

bool call_redo(struct call *c)
{
    return c->at + 1 < c->steps && show_step(c, c->at + 1);
}

bool call_read(struct call *c, const char *name, const char *text, struct err *e)
{
    if (!take_text(&c->sheet, c->words, name, text, e))
        return false;
    call_touch(c);
    return true;
}

bool call_load(struct call *c, const char *path, struct err *e)
{
    struct sheet fresh;
    sheet_init(&fresh, c->words);
    if (!sheet_load(&fresh, path, e)) {
        sheet_release(&fresh);
        return false;
    }
    sheet_release(&c->sheet);
    c->sheet = fresh;
    call_touch(c);
    return true;
}

bool call_save(const struct call *c, const char *path, struct err *e)
{
    char *now = print_of(c);
    bool good = text_write_file(path, now, strlen(now), e);
    mem_free(now);
    return good;
}

/* ---- the draft: "# entry: ..." on the first line, the sheet below it ---- */

static uint64_t hash_of(const char *s)
{
    uint64_t h = 14695981039346656037u;
    for (; *s; s++)
        h = (h ^ (unsigned char)*s) * 1099511628211u;
    return h;
}

void call_draft_save(struct call *c)
{
    struct text t = {0};
    struct err e = {0};
    if (c->draft_path.length == 0)
        return;
    text_addf(&t, "# entry: %s\n", text_cstr(&c->entry));
    text_add(&t, c->step[c->at]);
    uint64_t h = hash_of(text_cstr(&t));
    if (h != c->drafted && text_write_file(text_cstr(&c->draft_path), t.at, t.length, &e))
        c->drafted = h;
    err_release(&e);
    text_release(&t);
}

bool call_draft_load(struct call *c)
{
    static const char head[] = "# entry: ";
    struct err e = {0};
    size_t n = 0;
    char *text = c->draft_path.length
                     ? text_read_file(text_cstr(&c->draft_path), 1 << 20, &n, &e) : NULL;
    bool good = false;
    if (text) {
        char *line = strchr(text, '\n');
        if (line && strncmp(text, head, sizeof head - 1) == 0) {
            *line = 0;
            text_clear(&c->entry);
            text_add(&c->entry, text + sizeof head - 1);
            good = call_read(c, "draft", line + 1, &e);
        }
        mem_free(text);
    }
    err_release(&e);
    return good && (!sheet_empty(&c->sheet) || c->entry.length > 0);
}

/* ---- rows ---- */

bool call_add(struct call *c, const char *shorthand, struct err *e)
{
    if (!sheet_parse_shorthand(&c->sheet, shorthand, strlen(shorthand), e))
        return false;
    call_touch(c);
    return true;
}

void call_remove_heard(struct call *c, size_t row)
{
    if (row < c->sheet.heards) {
        sheet_remove_heard(&c->sheet, row);
        call_touch(c);
    }
}

static int row_at(const struct call *c, int dial_min)
{
    for (size_t i = 0; i < c->sheet.heards; i++) {
        const struct heard *h = &c->sheet.heard[i];
        if (h->at.kind == AT_EXACT && !h->has_for && h->at.min % 720 == dial_min)
            return (int)i;
    }
    return -1;
}

const struct heard *call_heard_at(const struct call *c, int dial_min)
{
    int i = row_at(c, dial_min);
    return i < 0 ? NULL : &c->sheet.heard[i];
}

static bool all_figures(const char *s)
{
    return s[0] && s[strspn(s, "0123456789")] == 0;
}

/* Shorthand for one cell; false if the typing means nothing there. */
static bool cell_words(const char *typed, bool strikes, bool chimes, char out[64])
{
    size_t n = strlen(typed);
    const char *both = strikes && chimes ? "s%c c%c" : strikes ? "s%c" : "c%c";
    if (n == 1 && strchr("=!?*", typed[0])) {
        if (typed[0] == '*' && strikes)
            snprintf(out, 64, "s*");
        else
            snprintf(out, 64, both, typed[0], typed[0]);
        return true;
    }
    if (!all_figures(typed) || n > 40)
        return false;
    if (n == 1 && typed[0] == '0' && !strikes)
        snprintf(out, 64, "c0");
    else if (strikes && n <= 2 && atoi(typed) <= SHEET_COUNT_MOST)
        snprintf(out, 64, "s%d", atoi(typed));
    else if (chimes && n == 1)
        snprintf(out, 64, "p%s", typed);
    else if (chimes)
        snprintf(out, 64, "n%s", typed);
    else
        return false;
    return true;
}

bool call_set_cell(struct call *c, int dial_min, const char *typed, bool strikes, bool chimes)
{
    char words[64], line[96];
    int old = row_at(c, dial_min), hour = dial_min / 60;
    struct err e = {0};
    if (!typed[0]) {
        if (old >= 0)
            call_remove_heard(c, (size_t)old);
        return true;
    }
    if (!cell_words(typed, strikes, chimes, words))
        return false;
    snprintf(line, sizeof line, "%d:%02d %s", hour ? hour : 12, dial_min % 60, words);
    bool good = sheet_parse_shorthand(&c->sheet, line, strlen(line), &e);
    if (good && old >= 0) {
        /* the new row takes the place of the old one, so that the order of hearing stays */
        struct heard fresh = c->sheet.heard[c->sheet.heards - 1];
        c->sheet.heard[c->sheet.heards - 1] = c->sheet.heard[old];
        c->sheet.heard[old] = fresh;
        sheet_remove_heard(&c->sheet, c->sheet.heards - 1);
    }
    if (good)
        call_touch(c);
    err_release(&e);
    return good;
}

static const char *strike_sign(const struct heard *h)
{
    switch (h->strike) {
    case HEARD_STRIKE_NONE: return "0";
    case HEARD_STRIKE_RUNS_ON: return "*";
    case HEARD_STRIKE_UNNOTICED: return "?";
    case HEARD_STRIKE_RIGHT: return "\xe2\x9c\x93";
    case HEARD_STRIKE_WRONG: return "!";
    case HEARD_STRIKE_SAME_ERROR:
        return "~";
    case HEARD_STRIKE_SOME: return "some";
    case HEARD_STRIKE_HOURS: return "hour";
    default: return "";
    }
}

static const char *chime_sign(const struct heard *h)
{
    switch (h->chime) {
    case HEARD_CHIME_NONE: return "0";
    case HEARD_CHIME_RIGHT: return "\xe2\x9c\x93";
    case HEARD_CHIME_WRONG: return "!";
    case HEARD_CHIME_SOME: return "some";
    case HEARD_CHIME_RUNS_ON: return "*";
    case HEARD_CHIME_UNNOTICED: return "?";
    default: return "";
    }
}

void call_cell_text(const struct heard *h, char out[12])
{
    out[0] = 0;
    if (h->strike == HEARD_STRIKE_COUNT)
        snprintf(out, 12, "%d", h->value[0]);
    else if (h->strike == HEARD_STRIKE_ERROR)
        snprintf(out, 12, "%+d", h->value[0]);
    else if (h->strike == HEARD_STRIKE_SET && h->values > 0 && h->value[0] < 0)
        snprintf(out, 12, "%s\xe2\x80\xa6",
                 strike_sign(&(struct heard){.strike = (enum heard_strike) - h->value[0]}));
    else if (h->strike == HEARD_STRIKE_SET && h->values > 0)
        snprintf(out, 12, "%d\xe2\x80\xa6", h->value[0] % 100);
    else if (h->strike != HEARD_STRIKE_UNSAID)
        snprintf(out, 12, "%s", strike_sign(h));
    else if (h->notes[0])
        snprintf(out, 12, "%.4s%s", h->notes, h->notes[4] ? "\xe2\x80\xa6" : "");
    else if (h->phrases >= 0)
        snprintf(out, 12, "%d ph", h->phrases % 100);
    else if (h->chime != HEARD_CHIME_UNSAID)
        snprintf(out, 12, "%s%s", chime_sign(h), h->chime_also ? "\xe2\x80\xa6" : "");
    else
        snprintf(out, 12, "\xc2\xb7");
}

/* ---- words and clock ---- */

static struct word_set *set_of(struct call *c, enum word_kind kind)
{
    return kind == WORD_HISTORY ? &c->sheet.history
           : kind == WORD_SEEN  ? &c->sheet.seen
           : kind == WORD_AFTER ? &c->sheet.since_after
                                : NULL;
}

bool call_has(const struct call *c, enum word_kind kind, const char *id)
{
    int o = words_ordinal(c->words, kind, id);
    const struct word_set *set = set_of((struct call *)(size_t)c, kind);
    if (kind == WORD_WHEN)
        return o >= 0 && c->sheet.since_when == o;
    return set && o >= 0 && word_set_has(set, o);
}

/* A word that is taken up puts out those that cannot be true with it. */
static void put_out_clashes(struct call *c, enum word_kind kind, struct word_set *set, int o)
{
    const struct word *a = words_at(c->words, kind, (size_t)o);
    for (size_t i = 0; i < words_count(c->words, kind); i++)
        if ((int)i != o && word_set_has(set, (int)i) && words_clash(a, words_at(c->words, kind, i)))
            word_set_remove(set, (int)i);
}

void call_toggle(struct call *c, enum word_kind kind, const char *id)
{
    int o = words_ordinal(c->words, kind, id);
    struct word_set *set = set_of(c, kind);
    if (o < 0)
        return;
    if (kind == WORD_WHEN) {
        c->sheet.since_when = c->sheet.since_when == o ? -1 : o;
    } else if (set && word_set_has(set, o)) {
        word_set_remove(set, o);
    } else if (set) {
        word_set_add(set, o);
        put_out_clashes(c, kind, set, o);
        if (kind == WORD_HISTORY)
            word_set_remove(&c->sheet.history_not, o);
        if (kind == WORD_SEEN)
            word_set_remove(&c->sheet.seen_not, o);
    }
    call_touch(c);
}

static struct word_set *not_set_of(struct call *c, enum word_kind kind)
{
    return kind == WORD_HISTORY ? &c->sheet.history_not : kind == WORD_SEEN ? &c->sheet.seen_not : NULL;
}

bool call_has_not(const struct call *c, enum word_kind kind, const char *id)
{
    int o = words_ordinal(c->words, kind, id);
    const struct word_set *set = not_set_of((struct call *)(size_t)c, kind);
    return set && o >= 0 && word_set_has(set, o);
}

void call_forget_not(struct call *c, enum word_kind kind, const char *id)
{
    struct word_set *set = not_set_of(c, kind);
    if (set) {
        word_set_remove(set, words_ordinal(c->words, kind, id));
        call_touch(c);
    }
}

bool call_sounded(const struct call *c, int dial_min, const char *how)
{
    const struct heard *h = call_heard_at(c, dial_min);
    return h && heard_how(h, c->words, how);
}

void call_toggle_how(struct call *c, int dial_min, const char *how)
{
    int row = row_at(c, dial_min), o = words_ordinal(c->words, WORD_HOW, how);
    if (row < 0 || o < 0)
        return;
    struct word_set *set = &c->sheet.heard[row].how;
    if (word_set_has(set, o))
        word_set_remove(set, o);
    else
        word_set_add(set, o);
    call_touch(c);
}

void call_set_clock(struct call *c, const char *id)
{
    snprintf(c->sheet.clock, sizeof c->sheet.clock, "%s", id);
    c->sheet.clock_line = c->sheet.clock_column = 0;
    call_touch(c);
}

void call_set_hint(struct call *c, const char *key, const char *value)
{
    const char *now = sheet_hint(&c->sheet, key);
    long number = sheet_hint_number(&c->sheet, key, HINT_UNSAID);
    char told[24];
    snprintf(told, sizeof told, "%ld", number);
    int o = words_ordinal(c->words, WORD_HINT, key);
    bool again = (now && strcmp(now, value) == 0) || (number != HINT_UNSAID && strcmp(told, value) == 0);
    if (again && o >= 0)
        c->sheet.hint[o] = HINT_UNSAID;
    else
        sheet_set_hint(&c->sheet, key, value);
    call_touch(c);
}

static bool hint_fits(const struct call *c, const struct clock *k, const char *key)
{
    const char *told = sheet_hint(&c->sheet, key);
    long number = sheet_hint_number(&c->sheet, key, HINT_UNSAID);
    char figure[24];
    snprintf(figure, sizeof figure, "%ld", number);
    if (!told && number == HINT_UNSAID)
        return true;
    if (told && strcmp(told, "unknown") == 0)
        return true;
    if (strcmp(key, "winding_points") == 0)
        return number == HINT_UNSAID || k->winding_points == number;
    for (size_t i = 0; i < k->hints; i++) {
        if (strcmp(k->hint[i].word, key) != 0)
            continue;
        for (size_t v = 0; v < k->hint[i].values; v++)
            if (strcmp(k->hint[i].value[v], told ? told : figure) == 0)
                return true;
        return false;
    }
    return true;
}

bool call_clock_fits(const struct call *c, const struct clock *k)
{
    for (size_t i = 0; i < words_count(c->words, WORD_HINT); i++)
        if (!hint_fits(c, k, words_at(c->words, WORD_HINT, i)->id))
            return false;
    return true;
}

const struct clock *call_clock(const struct call *c, const struct library *lib, size_t *fits)
{
    const struct clock *best = NULL;
    size_t n = 0;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *k = library_clock(lib, i);
        if (!call_clock_fits(c, k))
            continue;
        n++;
        if (!best || k->share > best->share)
            best = k;
    }
    if (fits)
        *fits = n;
    const struct clock *told = c->sheet.clock[0] ? library_find_clock(lib, c->sheet.clock) : NULL;
    return told ? told : best;
}
