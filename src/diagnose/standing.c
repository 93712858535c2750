/* How what is said stands: plain, or denied, past, doubtful; and whether a word stands alone
 * (phrases_priv.h).
 *
 *     it [used to strike right] and now it strikes wrong         former, up to "and now"
 *     it [strikes well], but now it strikes six           former, whatever its tense
 *     somebody [may have knocked or tilted it], it leans         doubtful, up to the comma
 *     I do [not think it was ever dropped] but it was moved      denied, up to "but"
 *
 *     [my neighbour's] strikes the half, mine does not    elsewhere: of another clock
 *     [is the rope slipping?]                             elsewhere: asked, not told
 *     weights swapped? no                                 denied
 *
 * Such a word reaches to the end of its statement: a break, a word of `turns`, or a joiner behind
 * which another statement begins.  A negator reaches over a few words only, but over those of belief
 * and those that only fill it carries on. */
#include "diagnose/phrases_priv.h"

#include <string.h>

#define STANDING_REACH 8 /* words */
#define DENIAL_NEWS    3 /* words with news between a negator and what it turns round */
#define FEW_WORDS      2 /* that say little of what was heard */
#define LEFT_MOST      1 /* words not understood beside a single one that is */
#define DENIAL_REACH   8 /* words of any kind */
#define QUERY_WORDS    3 /* of a question without a verb */

bool phrases_begins_anew(const struct phrases *p, const struct said *s, size_t at)
{
    return s->word[at].before != SAID_JOINED ||
           (phrases_joins(p, &s->word[at]) && at + 1 < s->count &&
            phrases_listed(p->anew, s->word[at + 1].text));
}

/* First word of the statement that word `at` stands in, STANDING_REACH words away at most. */
static size_t statement_of(const struct phrases *p, const struct said *s, size_t at)
{
    size_t from = at;
    while (from > 0 && at - from < STANDING_REACH && !phrases_begins_anew(p, s, from) &&
           !phrases_turns(p, &s->word[at]) && !phrases_turns(p, &s->word[from - 1]))
        from--;
    return from;
}

enum standing phrases_stands(const struct phrases *p, const struct said *s, size_t at, size_t until)
{
    const struct {
        const struct patterns *patterns;
        enum standing standing;
    } rows[] = {
        {&p->coming, STANDING_COMING},
        {&p->unreal, STANDING_UNREAL},
        {&p->former, STANDING_FORMER},
        {&p->elsewhere, STANDING_ELSEWHERE},
        {&p->doubtful, STANDING_DOUBTFUL},
    };
    for (size_t k = 0; k < sizeof rows / sizeof *rows; k++) {
        bool of_other = rows[k].standing == STANDING_ELSEWHERE; /* "my neighbour's | has" names it, too */
        size_t end = patterns_end(p, rows[k].patterns, s, at, of_other ? s->count : until), behind;
        bool about = rows[k].standing == STANDING_DOUBTFUL && phrases_number(p, s, end, &behind);
        if (end > at && !about) /* "maybe five years" */
            return rows[k].standing;
    }
    return STANDING_PLAIN;
}

/* "Was right until Christmas", but not "was right until four", which is a time of the dial. */
static bool has_ended(const struct phrases *p, const struct said *s, size_t at, size_t end)
{
    size_t behind = patterns_end(p, &p->ended, s, end, s->count), time;
    bool past = false;
    for (size_t i = at > 0 ? at - 1 : 0; i < end; i++)
        past = past || phrases_listed(p->pasts, s->word[i].text);
    return past && end < s->count && s->word[end].before == SAID_JOINED && behind > end &&
           !phrases_time(p, s, behind, &time);
}

/* "It struck well for years, but now it strikes six at five": before such words is told what was. */
static bool is_superseded(const struct phrases *p, const struct said *s, size_t end)
{
    size_t last = end > 0 ? said_sentence_end(s, end - 1) : 0;
    for (size_t i = end; i < last; i++)
        if (patterns_end(p, &p->superseded, s, i, last) > i)
            return true;
    return false;
}

/* Does a question that is answered by yes or no begin with word `at`, or behind a joiner there? */
static bool asks_at(const struct phrases *p, const struct said *s, size_t at, size_t end)
{
    while (at + 1 < end && (phrases_joins(p, &s->word[at]) || phrases_turns(p, &s->word[at])))
        at++;
    return phrases_listed(p->asks, s->word[at].text);
}

/* The word a question begins with in the sentence of word `at`, before that or with it: its first, that of the last
 * clause ("it hangs slack, is that right?"), or the first of a few words ("Weights swapped?", "bought at a sale,
 * battery wound?"). */
static size_t question_start(const struct phrases *p, const struct said *s, size_t at)
{
    size_t first = said_sentence(s, at), end = said_sentence_end(s, at), last = end - 1;
    while (last > first && s->word[last].before == SAID_JOINED)
        last--;
    if (asks_at(p, s, first, end) || end - first <= QUERY_WORDS)
        return first;
    return last <= at && (asks_at(p, s, last, end) || end - last <= QUERY_WORDS) ? last : SIZE_MAX;
}

/* Is what stands at word `at` asked, and neither told along with the question nor told by the answer? */
static bool is_asked(const struct phrases *p, const struct said *s, size_t at)
{
    size_t from = s->word[at].asked ? question_start(p, s, at) : SIZE_MAX;
    size_t end = said_sentence_end(s, at);
    if (from == SIZE_MAX || (end < s->count && (phrases_listed(p->yeses, s->word[end].text) ||
                                                phrases_listed(p->noes, s->word[end].text))))
        return false;
    for (size_t i = from; i <= at; i++)
        if (patterns_end(p, &p->wonders, s, i, end) > i)
            return false;
    return true;
}

/* "Moved? No." */
static bool is_answered_no(const struct phrases *p, const struct said *s, size_t at)
{
    size_t end = said_sentence_end(s, at);
    return s->word[at].asked && question_start(p, s, at) != SIZE_MAX && end < s->count &&
           phrases_listed(p->noes, s->word[end].text);
}

enum standing phrases_standing(const struct phrases *p, const struct said *s, size_t at, size_t end)
{
    if (is_asked(p, s, at))
        return STANDING_ELSEWHERE;
    enum standing standing = STANDING_PLAIN;
    size_t from = statement_of(p, s, at);
    if (from > 0 && s->word[from].before == SAID_JOINED && phrases_turns(p, &s->word[from - 1]) &&
        phrases_stands(p, s, from - 1, at) == STANDING_COMING) /* "if i" */
        return STANDING_COMING;
    for (size_t i = from; i < at && standing == STANDING_PLAIN; i++) {
        standing = phrases_stands(p, s, i, at);
        if (standing == STANDING_UNREAL && s->word[i].told) /* "one less than it ought | at seven" */
            standing = STANDING_PLAIN;
    }
    bool over = standing == STANDING_PLAIN && (has_ended(p, s, at, end) || is_superseded(p, s, end));
    return over ? STANDING_FORMER : standing;
}

static bool carries_on(const struct phrases *p, const struct said_word *w)
{
    return phrases_listed(p->beliefs, w->text) || phrases_listed(p->skips, w->text) ||
           phrases_listed(p->filler, w->text);
}

bool phrases_denied(const struct phrases *p, const struct said *s, size_t at, size_t since)
{
    size_t news = 0;
    if (phrases_turns(p, &s->word[at]) || phrases_negates(p, &s->word[at])) /* "hear no tick" */
        return false;
    if (is_answered_no(p, s, at))
        return true;
    for (size_t i = at; i > since && at - i < DENIAL_REACH && news < DENIAL_NEWS; i--) {
        if (phrases_begins_anew(p, s, i) || phrases_turns(p, &s->word[i - 1]))
            return false;
        if (phrases_negates(p, &s->word[i - 1]))
            return true;
        news += !carries_on(p, &s->word[i - 1]);
    }
    return false;
}

bool phrases_denial_goes_on(const struct phrases *p, const struct said *s, size_t from, size_t at)
{
    bool nor = false;
    for (size_t i = from; i < at; i++) {
        if (s->word[i].before != SAID_JOINED || !carries_on(p, &s->word[i]))
            return false;
        nor = nor || phrases_listed(p->nors, s->word[i].text);
    }
    return nor && at < s->count && s->word[at].before == SAID_JOINED;
}

/* The first of the words of no meaning before word `at`, or that itself. */
static size_t skips_before(const struct phrases *p, const struct said *s, size_t at)
{
    while (at > 0 && s->word[at].before == SAID_JOINED &&
           phrases_listed(p->skips, s->word[at - 1].text))
        at--;
    return at;
}

bool phrases_part_of(const struct phrases *p, const struct said *s, size_t at)
{
    size_t end, i = skips_before(p, s, at);
    struct phrase_match name; /* "... of the Westminster | chime" */
    if (i > 0 && s->word[i].before == SAID_JOINED && phrases_match_within(p, s, i - 1, i, &name))
        i = skips_before(p, s, i - 1);
    if (i < 2 || s->word[i].before != SAID_JOINED || s->word[i - 1].before != SAID_JOINED ||
        !phrases_listed(p->genitives, s->word[i - 1].text))
        return false;
    return phrases_number(p, s, i - 2, &end) || phrases_noun(p, &s->word[i - 2]) ||
           !phrases_filler(p, &s->word[i - 2]);
}

bool phrases_sounds(const struct phrases *p, const struct said *s, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        if (patterns_end(p, &p->company, s, i, to) > i)
            return true;
    return false;
}

bool phrases_names_hour(const struct phrases *p, const struct said *s, size_t from, size_t to)
{
    for (size_t i = from; i < to; i++)
        if (phrases_listed(p->hourwords, s->word[i].text))
            return true;
    return false;
}

bool phrases_tells(const struct phrases *p, const struct said *s, size_t at)
{
    return patterns_end(p, &p->telling, s, at, s->count) > at;
}

bool phrases_is_sure(const struct phrases *p, const struct said *s, const bool *used, size_t from,
                     size_t to, size_t at, size_t end)
{
    size_t left = 0;
    for (size_t i = from; i < to; i++)
        left += (i < at || i >= end) && !used[i] && !s->word[i].spent &&
                !phrases_filler(p, &s->word[i]) && !phrases_noun(p, &s->word[i]);
    return left <= LEFT_MOST || phrases_tells(p, s, at);
}

bool phrases_says_enough(const struct phrases *p, const struct said *s, size_t at, size_t end,
                         size_t own, const char *gives)
{
    size_t first = said_sentence(s, at), last = said_sentence_end(s, at);
    bool alone = true;
    for (size_t i = first; i < last; i++)
        alone = alone && ((i >= at && i < end) || phrases_filler(p, &s->word[i]));
    bool still = strstr(gives, "stop=hands") || strstr(gives, "stop=clock"); /* is seen */
    return own > FEW_WORDS || *gives != '_' || still || alone || phrases_tells(p, s, at) ||
           phrases_sounds(p, s, first, last);
}
