#include "command/hear_hints.h"

#include <string.h>

#define NOTES_LEAST 8 /* two changes: one alone is in many tunes */

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

void hear_hints(const struct heard_clock *c, const struct library *lib, struct sheet *sheet)
{
    for (size_t i = 0; i < c->letoffs; i++) {
        const char *notes = c->letoff[i].notes;
        if (strlen(notes) < NOTES_LEAST)
            continue;
        for (size_t k = 0; k < library_tunes(lib); k++) {
            const struct tune *t = library_tune(lib, k);
            if (t->music || t->bells != highest(notes) || !on_drum(t, notes))
                continue;
            if (!strncmp(t->id, "westminster", strlen("westminster")))
                sheet_set_hint(sheet, "chime", "westminster");
            return;
        }
    }
}
