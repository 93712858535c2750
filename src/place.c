#include "place.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const struct {
    const char *name, *variable;
} places[PLACES] = {
    [PLACE_CHIMES] = {"chimes", "LETOFF_CHIMES"},
    [PLACE_SOUNDS] = {"sounds", "LETOFF_SOUNDS"},
};

const char *place_name(enum place p)
{
    return places[p].name;
}

const char *place_variable(enum place p)
{
    return places[p].variable;
}

bool place_is_folder(const char *path)
{
    struct stat st;
    return path && *path && !stat(path, &st) && S_ISDIR(st.st_mode);
}

/* Folder of the running program, with its slash; "" where the system does not tell. */
static void program_folder(char folder[4096])
{
    ssize_t length = readlink("/proc/self/exe", folder, 4095);
    folder[length > 0 ? length : 0] = 0;
    char *slash = strrchr(folder, '/');
    if (slash)
        slash[1] = 0;
    else
        folder[0] = 0;
}

bool place_installed(const char *name, struct text *into)
{
    char folder[4096];
    program_folder(folder);
    if (*folder)
        text_addf(into, "%s../share/letoff/%s", folder, name);
    return *folder != 0;
}

bool place_annexes(struct text *into)
{
    char folder[4096];
    program_folder(folder);
    if (*folder)
        text_addf(into, "%s../lib/letoff", folder);
    return *folder != 0;
}

/* Candidate `i` of own data; false when there are no more.  An empty one is left out. */
static bool candidate(enum place p, int i, struct text *path)
{
    const char *told = getenv(places[p].variable);
    switch (i) {
    case 0:
        text_add(path, told ? told : "");
        return true;
    case 1:
        place_installed(places[p].name, path);
        return true;
    case 2:
        text_addf(path, LETOFF_TREE "/%s", places[p].name);
        return true;
    case 3:
        text_addf(path, LETOFF_PREFIX "/share/letoff/%s", places[p].name);
        return true;
    default:
        return false;
    }
}

bool place_own(enum place p, struct text *into)
{
    struct text path = {0}, looked = {0};
    bool found = false;
    for (int i = 0; !found && candidate(p, i, &path); i++) {
        found = place_is_folder(text_cstr(&path));
        if (found)
            text_add(into, text_cstr(&path));
        else if (path.length)
            text_addf(&looked, "%s%s", looked.length ? ", " : "", text_cstr(&path));
        text_clear(&path);
    }
    if (!found)
        text_add(into, text_cstr(&looked));
    text_release(&looked);
    text_release(&path);
    return found;
}

bool place_user(enum place p, struct text *into)
{
    const char *data = getenv("XDG_DATA_HOME"), *home = getenv("HOME");
    struct text path = {0};
    if (data && *data)
        text_addf(&path, "%s/letoff/%s", data, places[p].name);
    else if (home && *home)
        text_addf(&path, "%s/.local/share/letoff/%s", home, places[p].name);
    text_add(into, text_cstr(&path));
    bool there = place_is_folder(text_cstr(&path));
    text_release(&path);
    return there;
}
