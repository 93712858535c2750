#include "annex.h"

#include <dlfcn.h>
#include <stdatomic.h>
#include <string.h>
#include <unistd.h>

#include "place.h"
#include "text.h"

/* Where annex `name` lies; false when it is nowhere. */
static bool find(const char *name, struct text *path)
{
    if (place_annexes(path)) {
        text_addf(path, "/letoff-%s.so", name);
        if (access(text_cstr(path), R_OK) == 0)
            return true;
    }
    text_clear(path);
    text_addf(path, LETOFF_ANNEXES "/letoff-%s.so", name);
    return access(text_cstr(path), R_OK) == 0;
}

static const char *reason(void)
{
    const char *said = dlerror();
    return said ? said : "no reason was given";
}

static const void *load(const char *name, struct err *e)
{
    struct text path = {0};
    const void *offered = NULL;
    void *object = NULL;
    if (!find(name, &path))
        err_device(e, "The part of the program called letoff-%s.so was not found beside it; install letoff again.", name);
    else if (!(object = dlopen(text_cstr(&path), RTLD_NOW | RTLD_LOCAL)) || !(offered = dlsym(object, "letoff_annex")))
        err_device(e, "The part of the program called letoff-%s.so cannot be loaded (%s).", name, reason());
    text_release(&path);
    return offered;
}

/* Two threads may load at once; both are given the same object. */
const void *annex_open(struct annex *a, struct err *e)
{
    const void *offered = atomic_load(&a->offered);
    if (!offered && (offered = load(a->name, e)))
        atomic_store(&a->offered, offered);
    return offered;
}
