#include "event.h"

#include <string.h>

#include "mem.h"

static const char *const kind_names[EVENT_KINDS] = {
    [EVENT_BLOW] = "blow",
    [EVENT_NOTE] = "note",
    [EVENT_WARN] = "warn",
    [EVENT_RELEASE] = "release",
    [EVENT_CLICK] = "click",
    [EVENT_LOCK] = "lock",
    [EVENT_STALL] = "stall",
    [EVENT_JAM] = "jam",
    [EVENT_HAND_STALL] = "hand_stall",
    [EVENT_RUN_ON] = "run_on",
    [EVENT_POWER_OUT] = "power_out",
};

static const char *const train_names[TRAINS] = {
    [TRAIN_GOING] = "going",
    [TRAIN_STRIKE] = "strike",
    [TRAIN_CHIME] = "chime",
    [TRAIN_MUSIC] = "music",
};

void event_list_add(struct event_list *list, struct event e)
{
    list->at = mem_grow(list->at, &list->room, list->count + 1, sizeof *list->at);
    list->at[list->count++] = e;
}

void event_list_clear(struct event_list *list)
{
    list->count = 0;
}

void event_list_release(struct event_list *list)
{
    mem_free(list->at);
    *list = (struct event_list){0};
}

bool event_sounds(const struct event *e)
{
    return e->kind == EVENT_BLOW || e->kind == EVENT_NOTE;
}

const char *event_kind_name(enum event_kind kind)
{
    return (unsigned)kind < EVENT_KINDS ? kind_names[kind] : "?";
}

const char *event_train_name(enum event_train train)
{
    return (unsigned)train < TRAINS ? train_names[train] : "?";
}

static int name_index(const char *name, const char *const *names, int count)
{
    for (int i = 0; name && i < count; i++)
        if (strcmp(name, names[i]) == 0)
            return i;
    return -1;
}

int event_kind_of(const char *name)
{
    return name_index(name, kind_names, EVENT_KINDS);
}

int event_train_of(const char *name)
{
    return name_index(name, train_names, TRAINS);
}
