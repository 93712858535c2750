/* Speakers who put themselves right (phrases_priv.h): "at four, no, five", "it gave 11 (correction:
 * 10)".
 *
 * Behind one of the table's `repairs` a number or a time takes the place of the one before.  The words
 * from that on up to the last word of the repair are cut out; those between stay only if they stand
 * behind it.  So does one of the `contraries` ("the left weight sticks, no, the right one"), whatever
 * stands between.  Where nothing is put right, the words of the repair alone are cut out, so that "no,
 * wait" denies nothing and is no waiting. */
#include "diagnose/phrases_priv.h"

#include <string.h>

#define WORDS_BETWEEN 3 /* a number and the repair */
#define TIME_WORDS    4 /* of one time: "quarter past four" */
#define CONTRARY_FAR  5 /* words from the repair to the contrary that holds */

static bool number_or_time(const struct phrases *p, const struct said *s, size_t at, size_t *end)
{
    size_t other;
    bool number = phrases_number(p, s, at, end), time = phrases_time(p, s, at, &other);
    if (time && (!number || other > *end))
        *end = other;
    return number || time;
}

/* First word of the number or time that ends shortly before the repair; `repair` if there is none. */
static size_t taken_back(const struct phrases *p, const struct said *s, size_t repair)
{
    size_t first = said_sentence(s, repair), end;
    for (size_t last = repair; last > first && repair - last <= WORDS_BETWEEN; last--) {
        size_t from = last > first + TIME_WORDS ? last - TIME_WORDS : first;
        for (; from < last; from++)
            if (number_or_time(p, s, from, &end) && end == last)
                return from;
    }
    return repair;
}

/* A repair of one word ("no") must stand between breaks, or one of them and a number, or numbers. */
static size_t repair_at(const struct phrases *p, const struct said *s, size_t at)
{
    size_t end = patterns_end(p, &p->repairs, s, at, s->count), behind;
    if (end != at + 1)
        return end;
    bool parted = s->word[at].before != SAID_JOINED,
         parted_behind = end >= s->count || s->word[end].before != SAID_JOINED,
         number = end < s->count && phrases_number(p, s, end, &behind);
    bool between = number && taken_back(p, s, at) < at;
    return (parted && (parted_behind || number)) || between ? end : at;
}

static bool put_right(const struct phrases *p, const struct said *s, size_t from)
{
    size_t end;
    for (size_t i = from; i < s->count && i <= from + WORDS_BETWEEN; i++) {
        if (i > from && s->word[i].before == SAID_STOP)
            return false;
        if (number_or_time(p, s, i, &end))
            return true;
    }
    return false;
}

/* "The left ..., no, the right": what was said of the left holds for the right. */
static bool put_contrary(const struct phrases *p, struct said *s, size_t repair, size_t end)
{
    size_t first = said_sentence(s, repair), last = said_sentence_end(s, repair), to = end;
    while (to < last && to - end < CONTRARY_FAR && !phrases_listed(p->contraries, s->word[to].text))
        to++;
    if (to == last || to - end == CONTRARY_FAR)
        return false;
    for (size_t i = repair; i-- > first;)
        if (phrases_listed(p->contraries, s->word[i].text)) {
            strcpy(s->word[i].text, s->word[to].text);
            said_cut(s, repair, to + 1, false);
            return true;
        }
    return false;
}

void phrases_repair(const struct phrases *p, struct said *s)
{
    for (size_t at = 0; at < s->count; at++) {
        size_t end = repair_at(p, s, at);
        if (end == at || put_contrary(p, s, at, end))
            continue;
        size_t from = put_right(p, s, end) ? taken_back(p, s, at) : at;
        if (from == at && end == at + 1)
            continue;
        said_cut(s, from, end, from < at);
        at = from ? from - 1 : 0;
    }
}
