/* core_example.c - the core library at work: what a clock sounds, which faults explain a report, and how it is
 * brought back into step.
 *
 *     cc core_example.c $(pkg-config --cflags --libs letoff-core) -o core_example
 *     ./core_example longcase-rack "3:00 s2, 4:00 s3"
 */
#include <stdio.h>
#include <string.h>

#include "diagnose/report.h"
#include "mem.h"
#include "movement/library.h"
#include "movement/move.h"
#include "resync/presume.h"

static void sound(const struct clock *clock)
{
    struct works works;
    struct moment now;
    struct random random;
    struct chance chance;
    struct event_list heard = {0};
    int blows = 0;
    works_init(&works, clock, NULL, 0);
    random_init(&random, 1);
    chance_draw(&chance, &random);
    moment_init(&now, &works, 2 * 60 + 50);
    movement_turn(&works, &now, 20, BY_TIME, &chance, &heard);
    for (size_t i = 0; i < heard.count; i++)
        blows += heard.at[i].kind == EVENT_BLOW;
    printf("%s: %d blows from 2:50 to 3:10\n", clock->id, blows);
    event_list_release(&heard);
}

static void find(const struct library *lib, const struct clock *clock, const char *told,
                 struct err *e)
{
    struct text path = {0}, answer = {0};
    text_addf(&path, "%s/words.yaml", library_folder(lib));
    struct words *words = words_load(text_cstr(&path), e);
    struct sheet sheet = {0};
    struct report report;
    if (words) {
        sheet_init(&sheet, words);
        snprintf(sheet.clock, sizeof sheet.clock, "%s", clock->id);
        struct finder *finder = finder_new(lib);
        if (sheet_parse_shorthand(&sheet, told, strlen(told), e) &&
            report_init(&report, finder, &sheet, NULL)) {
            report_text(&report, 3, false, &answer);
            fputs(text_cstr(&answer), stdout);
            report_release(&report);
        }
        finder_free(finder);
        sheet_release(&sheet);
    }
    words_free(words);
    text_release(&path);
    text_release(&answer);
}

static void put_in_step(const struct clock *clock)
{
    struct works works;
    struct reset reset;
    struct stance_chance *may_be = NULL;
    struct told told = told_nothing();
    told.hands_min = 3 * 60 + 10;
    told.struck = 5;
    works_init(&works, clock, NULL, 0);
    reset_init(&reset, &works, 3 * 60 + 10, NULL);
    size_t count = presume(&reset, &told, &may_be);
    printf("It shows 3:10 and struck 5: %zu ways it may stand\n", count);
    if (count) {
        struct stance first = may_be[0].stance;
        struct plan *plan = plan_find(&reset, &first, NULL, 1);
        for (size_t i = 0; i < plan->steps; i++)
            printf("%zu. %s  Hear: %s.\n", i + 1, plan->step[i].text, plan->step[i].hear);
        plan_free(plan);
    }
    mem_free(may_be);
    reset_release(&reset);
}

int main(int argc, char **argv)
{
    struct err e = {0};
    struct library *lib = library_load(NULL, &e);
    const struct clock *clock =
        lib ? library_find_clock(lib, argc > 1 ? argv[1] : "longcase-rack") : NULL;
    if (clock) {
        sound(clock);
        find(lib, clock, argc > 2 ? argv[2] : "3:00 s2, 4:00 s3", &e);
        put_in_step(clock);
    } else {
        err_add(&e, "There is no such clock.");
    }
    err_print(&e, stderr);
    int status = err_status(&e);
    err_release(&e);
    library_free(lib);
    return status;
}
