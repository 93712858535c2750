#include "movement/pitch.h"

#include <math.h>
#include <string.h>

int pitch_midi(const char *printed)
{
    static const int above_c[] = {['A' - 'A'] = 9, ['B' - 'A'] = 11, ['C' - 'A'] = 0,
                                  ['D' - 'A'] = 2, ['E' - 'A'] = 4,  ['F' - 'A'] = 5,
                                  ['G' - 'A'] = 7};
    if (!printed || printed[0] < 'A' || printed[0] > 'G')
        return -1;
    int n = above_c[printed[0] - 'A'];
    const char *rest = printed + 1;
    if (*rest == '#')
        n++, rest++;
    else if (*rest == 'b')
        n--, rest++;
    if (*rest < '0' || *rest > '8' || rest[1] != '\0')
        return -1;
    n += 12 * (*rest - '0' + 1);
    return n < 12 || n > 119 ? -1 : n;
}

bool pitch_hz(const char *printed, double *hz)
{
    int n = pitch_midi(printed);
    if (n < 0)
        return false;
    *hz = 440.0 * pow(2.0, (n - 69) / 12.0);
    return true;
}
