/* Charts say what the clock's data say, fit their paper, and can be written in three forms. */
#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "draw/oil_chart.h"
#include "draw/pages.h"
#include "draw/type_case.h"
#include "movement/library.h"

static struct library *lib;
static struct type_case *types;

static int setup(void **state)
{
    struct err e = {0};
    (void)state;
    lib = library_load("chimes", &e);
    types = type_case_new(NULL);
    return lib ? 0 : -1;
}

static int teardown(void **state)
{
    (void)state;
    library_free(lib);
    type_case_free(types);
    return 0;
}

static size_t count_texts(const struct pages *p, const char *part)
{
    size_t n = 0;
    for (size_t i = 0; i < p->count; i++)
        for (size_t m = 0; m < p->page[i].marks; m++)
            n += p->page[i].mark[m].kind == MARK_TEXT &&
                 strstr(canvas_letters(&p->page[i], &p->page[i].mark[m]), part) != NULL;
    return n;
}

static void assert_fits(const struct pages *p)
{
    for (size_t i = 0; i < p->count; i++)
        for (size_t m = 0; m < p->page[i].marks; m++) {
            const struct mark *k = &p->page[i].mark[m];
            if (k->x < -2 || k->y < -2 || k->x + k->w > p->page[i].width + 2 ||
                k->y + k->h > p->page[i].height + 2)
                fail_msg("%s, page %zu: a mark at %.0f,%.0f %.0fx%.0f leaves the paper", p->title,
                         i + 1, (double)k->x, (double)k->y, (double)k->w, (double)k->h);
        }
}

static void all_charts_of_all_clocks_fit_both_papers(void **state)
{
    (void)state;
    struct ink ink = {0};
    for (size_t i = 0; i < library_clocks(lib); i++)
        for (int paper = 0; paper <= PAPER_LETTER; paper++) {
            struct pages p;
            pages_init(&p, types, (enum paper)paper, &ink);
            pages_proving(&p, library_clock(lib, i));
            pages_oiling(&p, library_clock(lib, i));
            pages_winding(&p, library_clock(lib, i));
            assert_in_range(p.count, 3, 10);
            assert_fits(&p);
            pages_release(&p);
        }
}

/* Twelve hours of an hour and three quarters are 48 let-offs; the hours strike 78 blows. */
static void the_proving_chart_has_a_box_for_every_letoff(void **state)
{
    (void)state;
    struct ink ink = {0};
    struct pages p;
    pages_init(&p, types, PAPER_A4, &ink);
    pages_proving(&p, library_find_clock(lib, "floor-westminster-rack"));
    assert_int_equal(count_texts(&p, "4 phrases, then "), 12);
    assert_int_equal(count_texts(&p, "3 phrases"), 12);
    assert_int_equal(count_texts(&p, "156 blows"), 1);
    assert_true(count_texts(&p, "then 12") == 1 && count_texts(&p, "11:45") == 1);
    pages_release(&p);
}

/* A ship's bell strikes one to eight, singles told; by night a quiet cam is said; a grande sonnerie of France
 * tells the hour before its quarters. */
static void the_proving_chart_says_what_the_mechanism_sounds(void **state)
{
    (void)state;
    static const struct { const char *clock, *text; size_t times; } rows[] = {
        {"ships-bell", "strikes 8", 3}, {"ships-bell", "strikes 1", 3},     {"floor-triple-chime", "silent by night", 36},
        {"french-grande", "12, then 3 quarters", 1}, {"roman-strike", "strikes 2", 4},
    };
    struct ink ink = {0};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct pages p;
        pages_init(&p, types, PAPER_A4, &ink);
        pages_proving(&p, library_find_clock(lib, rows[i].clock));
        if (count_texts(&p, rows[i].text) != rows[i].times)
            fail_msg("%s: \"%s\" %zu times", rows[i].clock, rows[i].text, count_texts(&p, rows[i].text));
        pages_release(&p);
    }
}

/* Text too wide for its place is marked to be cut (canvas.h, canvas_text_fit). */
static bool cuts_words(const struct pages *p)
{
    for (size_t i = 0; i < p->count; i++)
        for (size_t m = 0; m < p->page[i].marks; m++)
            if (p->page[i].mark[m].kind == MARK_TEXT && p->page[i].mark[m].alpha <= 0)
                return true;
    return false;
}

static void no_chart_cuts_its_words(void **state)
{
    (void)state;
    struct ink ink = {0};
    for (size_t i = 0; i < library_clocks(lib); i++)
        for (int paper = 0; paper <= PAPER_LETTER; paper++) {
            struct pages p;
            pages_init(&p, types, (enum paper)paper, &ink);
            pages_proving(&p, library_clock(lib, i));
            pages_winding(&p, library_clock(lib, i));
            pages_oiling(&p, library_clock(lib, i));
            if (cuts_words(&p))
                fail_msg("%s: words are cut", library_clock(lib, i)->id);
            pages_release(&p);
        }
}

static const struct oil_row *row_of(const struct oil_row *row, size_t n, const char *place)
{
    for (size_t i = 0; i < n; i++)
        if (strstr(row[i].place, place))
            return &row[i];
    return NULL;
}

/* https://www.m-p.co.uk/muk/ryoc/doc_page33.shtml and http://listoy.com/Clocks/Oil-Clock-4.htm:
 * pivots yes, wheel teeth no; the two disagree about levers. */
static void oil_goes_to_pivots_not_to_teeth_and_disputes_are_said(void **state)
{
    (void)state;
    for (size_t i = 0; i < library_clocks(lib); i++) {
        const struct clock *k = library_clock(lib, i);
        struct oil_row row[OIL_ROWS];
        size_t n = oil_chart(k, row);
        const struct oil_row *pivots = row_of(row, n, "Going train, pivots");
        assert_non_null(pivots);
        assert_int_equal(pivots->oil, OIL_CLOCK);
        assert_int_equal(pivots->count, 2 * (k->train[TRAIN_GOING].arbors ? k->train[TRAIN_GOING].arbors : 4));
        assert_int_equal(row_of(row, n, "teeth and pinions")->oil, OIL_DRY);
        assert_int_equal(row_of(row, n, "Lifting piece stud")->oil, OIL_DISPUTED);
        if (k->train[TRAIN_STRIKE].control == CONTROL_RACK)
            assert_int_equal(row_of(row, n, "Rack post")->oil, OIL_DISPUTED);
    }
}

static void long_plans_go_on_on_the_next_page(void **state)
{
    (void)state;
    struct ink ink = {0};
    struct pages p;
    struct page_step step[60];
    for (size_t i = 0; i < COUNT_OF(step); i++)
        step[i] = (struct page_step){"Carry the minute hand forward to the next let-off and wait.",
                                     "Three blows.", NULL, 1};
    pages_init(&p, types, PAPER_LETTER, &ink);
    pages_steps(&p, "Setting right", "An invented clock", step, COUNT_OF(step));
    assert_true(p.count >= 3);
    assert_int_equal(count_texts(&p, "Setting right"), p.count);
    assert_int_equal(count_texts(&p, "Three blows."), 60);
    assert_fits(&p);
    pages_release(&p);
}

static void a_call_report_carries_causes_and_the_caution(void **state)
{
    (void)state;
    struct ink ink = {0};
    struct pages p;
    const char *heard[] = {"at 3:00 it struck 4"};
    const struct page_cause cause[] = {{"Rack tail bent", "rack tail", "Explains what was heard.", 0.62}};
    struct page_call call = {.when = "25 November", .customer = "Mill Lane, Aldermere",
                             .heard = heard, .heards = 1, .cause = cause, .causes = 1,
                             .clock = library_find_clock(lib, "longcase-rack")};
    call.belief[PART_RACK_TAIL] = 0.62;
    pages_init(&p, types, PAPER_A4, &ink);
    pages_call(&p, &call);
    assert_int_equal(count_texts(&p, "62 %"), 1);
    assert_int_equal(count_texts(&p, "leave that to a trained repairer"), p.count);
    assert_true(canvas_count_tone(&p.page[p.count - 1], TONE_ACCENT) > 0);
    assert_fits(&p);
    pages_release(&p);
}

static void three_forms_are_written_and_others_refused(void **state)
{
    (void)state;
    struct ink ink = {0};
    struct pages p;
    struct err e = {0};
    char path[64];
    pages_init(&p, types, PAPER_A4, &ink);
    pages_proving(&p, library_clock(lib, 0));
    static const char *const ends[] = {"pdf", "svg", "png"};
    for (size_t i = 0; i < COUNT_OF(ends); i++) {
        snprintf(path, sizeof path, "/tmp/letoff-pages-%d.%s", (int)getpid(), ends[i]);
        assert_true(pages_write(&p, path, &e));
        assert_int_equal(access(path, R_OK), 0);
        unlink(path);
    }
    assert_false(pages_write(&p, "/tmp/chart.doc", &e));
    assert_int_equal(err_status(&e), EXIT_BAD_INPUT);
    err_release(&e);
    pages_release(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_charts_of_all_clocks_fit_both_papers),
        cmocka_unit_test(the_proving_chart_has_a_box_for_every_letoff),
        cmocka_unit_test(the_proving_chart_says_what_the_mechanism_sounds),
        cmocka_unit_test(no_chart_cuts_its_words),
        cmocka_unit_test(oil_goes_to_pivots_not_to_teeth_and_disputes_are_said),
        cmocka_unit_test(long_plans_go_on_on_the_next_page),
        cmocka_unit_test(a_call_report_carries_causes_and_the_caution),
        cmocka_unit_test(three_forms_are_written_and_others_refused),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
