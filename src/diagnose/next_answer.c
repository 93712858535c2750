/* What is answered to a question, put into the call sheet. */
#include "diagnose/next_step.h"

#include <stdio.h>
#include <string.h>
#include "text.h"

#define ANSWER_MOST 200

static bool is_one_of(const char *s, const char *a, const char *b, const char *c)
{
    return strcmp(s, a) == 0 || strcmp(s, b) == 0 || strcmp(s, c) == 0;
}

static bool answer_word(const struct question *q, struct sheet *s, const char *answer, struct err *e)
{
    bool seen = q->kind == QUESTION_SEEN;
    int i = words_ordinal(s->words, seen ? WORD_SEEN : WORD_HISTORY, q->word);
    if (is_one_of(answer, "yes", "y", "true")) {
        word_set_add(seen ? &s->seen : &s->history, i);
        word_set_add(seen ? &s->seen_asked : &s->history_asked, i);
    } else if (is_one_of(answer, "no", "n", "false"))
        word_set_add(seen ? &s->seen_not : &s->history_not, i);
    else {
        err_add(e, "the answer \"%s\" is neither yes nor no (? for not known)", answer);
        return false;
    }
    return true;
}

static bool answer_row(const struct question *q, struct sheet *s, const char *answer, struct err *e)
{
    static const struct {
        const char *said, *short_hand;
    } meaning[] = {
        {"none", "s0"},   {"silent", "s0"}, {"nothing", "s0"}, {"runs on", "s*"}, {"runs_on", "s*"},
        {"right", "s="},  {"wrong", "s!"},
    }, chimes[] = {
        {"silent", "c0"}, {"none", "c0"},   {"nothing", "c0"}, {"runs on", "c*"}, {"runs_on", "c*"},
        {"right", "c="},  {"wrong", "c!"},
    };
    char line[256], dial[8];
    const char *item = answer;
    for (size_t i = 0; i < sizeof meaning / sizeof *meaning; i++) {
        bool chime = q->kind == QUESTION_CHIME;
        if (strcmp(answer, chime ? chimes[i].said : meaning[i].said) == 0)
            item = chime ? chimes[i].short_hand : meaning[i].short_hand;
    }
    bool number = item[0] >= '0' && item[0] <= '9';
    text_dial(q->dial_min, dial);
    snprintf(line, sizeof line, "%s %s%s " HOW_BY_HAND, dial, number ? "s" : "", item);
    if (sheet_parse_shorthand(s, line, strlen(line), NULL))
        return true;
    err_add(e,
            "the answer \"%s\" does not tell what was heard; expected a number of blows, right, wrong, "
            "none, runs on or shorthand such as s3 (? for not known)",
            answer);
    return false;
}

static bool not_known(const char *answer)
{
    static const char *const said[] = {"", "?", "unknown", "not known", "don't know", "dont know",
                                       "do not know", "no idea", "dk", "skip"};
    for (size_t i = 0; i < sizeof said / sizeof *said; i++)
        if (strcmp(answer, said[i]) == 0)
            return true;
    return false;
}

/* Small letters without blanks or a full stop around them; of "yes, it does" the first word. */
static void plain_answer(const char *answer, char plain[], size_t room)
{
    size_t n = 0;
    while (*answer == ' ' || *answer == '\t')
        answer++;
    for (; *answer && n + 1 < room; answer++)
        plain[n++] = (char)(*answer >= 'A' && *answer <= 'Z' ? *answer - 'A' + 'a' : *answer);
    while (n && strchr(" \t.!", plain[n - 1]))
        n--;
    plain[n] = '\0';
    size_t first = strcspn(plain, " ,.;");
    bool yes = first == 3 && strncmp(plain, "yes", 3) == 0;
    bool no = first == 2 && strncmp(plain, "no", 2) == 0 && plain[first] != ' '; /* "no idea" */
    if (yes || no)
        plain[first] = '\0';
}

bool question_answer(const struct question *q, struct sheet *sheet, const char *said,
                     struct err *e)
{
    char answer[ANSWER_MOST];
    plain_answer(said, answer, sizeof answer);
    if (not_known(answer)) {
        if (q->kind == QUESTION_HINT) /* not every hint can be said to be unknown */
            sheet_set_hint(sheet, q->word, "unknown");
        return true;
    }
    switch (q->kind) {
    case QUESTION_SEEN:
    case QUESTION_HISTORY:
        return answer_word(q, sheet, answer, e);
    case QUESTION_HINT:
        if (sheet_set_hint(sheet, q->word, answer))
            return true;
        err_add(e, "\"%s\" is no value of the hint %s", answer, q->word);
        return false;
    default:
        return answer_row(q, sheet, answer, e);
    }
}
