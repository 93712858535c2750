#include "command/hear_hints.h"

#include <string.h>

#define NOTES_LEAST 8 /* two changes: one alone is in many tunes */
#define RENUMBER_LEAST 12
#define RENUMBER_BELLS 5

static char digit(int bell)
{
    return bell < 10 ? (char)('0' + bell) : (char)('a' + bell - 10);
}

static int highest(const char *notes)
{
    int most = 0;
    for (; *notes; notes++) {
        int bell = *notes >= 'a' ? *notes - 'a' + 10 : *notes - '0';
        most = bell > most ? bell : most;
    }
    return most;
}

/* The notes stand in this order somewhere on the drum, which goes round. */
static bool on_drum(const struct tune *t, const char *notes)
{
    size_t n = strlen(notes);
    for (int first = 0; first < t->notes; first++) {
        size_t k = 0;
        while (k < n && notes[k] == digit(t->note[(first + (int)k) % t->notes]))
            k++;
        if (k == n)
            return true;
    }
    return false;
}

static bool known_tune(const struct library *lib, const char *notes, bool *westminster)
{
    for (size_t k = 0; k < library_tunes(lib); k++) {
        const struct tune *t = library_tune(lib, k);
        if (t->music || t->bells != highest(notes) || !on_drum(t, notes))
            continue;
        *westminster = !strncmp(t->id, "westminster", strlen("westminster"));
        return true;
    }
    return false;
}

/* The next order of the digits, as a counter turns; false after the last. */
static bool next_order(char *order, int n)
{
    int i = n - 2, j = n - 1;
    while (i >= 0 && order[i] > order[i + 1])
        i--;
    if (i < 0)
        return false;
    while (order[j] < order[i])
        j--;
    char swap = order[i];
    order[i] = order[j];
    order[j] = swap;
    for (int a = i + 1, b = n - 1; a < b; a++, b--) {
        swap = order[a];
        order[a] = order[b];
        order[b] = swap;
    }
    return true;
}

/* Pitch told through a telephone may put two rods the wrong way round: if some other numbering makes a known
 * tune of a long enough run, that is how they stand. */
static bool renumber(const struct library *lib, char *notes, bool *westminster)
{
    char order[] = "12345", trial[HEARING_NOTES_MOST];
    int bells = highest(notes);
    if (strlen(notes) < RENUMBER_LEAST || bells < 3 || bells > RENUMBER_BELLS)
        return false;
    order[bells] = 0;
    do {
        size_t i = 0;
        for (; notes[i]; i++)
            trial[i] = notes[i] > '0' && notes[i] <= '0' + bells ? order[notes[i] - '1'] : notes[i];
        trial[i] = 0;
        if (known_tune(lib, trial, westminster)) {
            memcpy(notes, trial, i + 1);
            return true;
        }
    } while (next_order(order, bells));
    return false;
}

void hear_hints(struct heard_clock *c, const struct library *lib, struct sheet *sheet)
{
    for (size_t i = 0; i < c->letoffs; i++) {
        char *notes = c->letoff[i].notes;
        bool westminster = false;
        if (strlen(notes) < NOTES_LEAST)
            continue;
        if (!known_tune(lib, notes, &westminster))
            renumber(lib, notes, &westminster);
        if (westminster)
            sheet_set_hint(sheet, "chime", "westminster");
    }
}
