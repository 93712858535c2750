/* opened_app.h - the program with its window closed and drawn at 1280x800, opened once for a suite:
 *
 *     static int program(void **state) { (void)state; setenv(...); return app_opened(); }
 *     static int program_ends(void **state) { (void)state; app_closed(); return 0; }
 */
#ifndef LETOFF_TESTS_OPENED_APP_H
#define LETOFF_TESTS_OPENED_APP_H

#include "suite.h"

#include "err.h"
#include "mem.h"
#include "screen/frame.h"

static struct app *app;

/* 0 when it could be opened, else -1 with its sentences on stderr, as a group's beginning gives it. */
static int app_opened(void)
{
    struct err e = {0};
    app = mem_alloc(sizeof *app);
    bool good = app_init(app, true, false, NULL, &e);
    err_print(&e, stderr);
    err_release(&e);
    app->width = 1280;
    app->height = 800;
    return good ? 0 : -1;
}

static void app_closed(void)
{
    app_release(app);
    mem_free(app);
}

#endif
