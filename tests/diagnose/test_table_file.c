/* Tables worked out beforehand give what is worked out when wanted. */
#include "suite.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include "diagnose/belief.h"
#include "diagnose/table_file.h"
#include "mem.h"
#include "movement/known_clocks.h"
#include "text.h"

static const char *const clocks[] = {"longcase-rack-rigid", "countwheel-78", "ships-bell"};

static void equal_rows(struct clock_case *a, struct clock_case *b, size_t variant, uint32_t state,
                       int letoff)
{
    size_t n, m;
    struct outcome_table *t = &a->table[a->variant[variant].acts];
    struct outcome_table *u = &b->table[b->variant[variant].acts];
    const struct outcome_edge *x = outcome_table_edges(t, state, letoff, false, &n);
    uint32_t same = outcome_rows_state(&b->rows, a->rows.state[state]);
    const struct outcome_edge *y = outcome_table_edges(u, same, letoff, false, &m);
    assert_int_equal(n, m);
    for (size_t i = 0; i < n; i++) {
        double p = 0; /* branches may stand in another order where states were met in another */
        for (size_t k = 0; k < m; k++)
            if (rest_same(a->rows.state[x[i].next], b->rows.state[y[k].next]) &&
                sounding_at(&a->pool, x[i].outcome)->train[TRAIN_STRIKE].count ==
                    sounding_at(&b->pool, y[k].outcome)->train[TRAIN_STRIKE].count)
                p += y[k].p;
        assert_true(p + 1e-6 >= x[i].p);
    }
}

static void a_completed_clock_does_what_a_fresh_one_does(void **state)
{
    (void)state;
    for (size_t c = 0; c < COUNT_OF(clocks); c++) {
        struct clock_case whole, fresh;
        const struct clock *clock = library_find_clock(lib, clocks[c]);
        assert_non_null(clock);
        assert_true(clock_case_init(&whole, lib, clock) && clock_case_init(&fresh, lib, clock));
        size_t tables = clock_case_complete(&whole);
        assert_true(tables > 1 && tables < whole.variants);
        for (size_t v = 0; v < whole.variants; v += 7)
            for (int i = 0; i < whole.classes.letoffs; i += 5) {
                struct start start[512];
                size_t n = fault_starts(whole.variant[v].fault, outcome_table_works(&whole.table[0]),
                                        whole.classes.minute[i], start, 512);
                for (size_t s = 0; s < n; s += 3)
                    equal_rows(&whole, &fresh, v, outcome_rows_state(&whole.rows, start[s].rest), i);
            }
        clock_case_release(&whole);
        clock_case_release(&fresh);
    }
}

static void a_file_that_is_cut_short_or_of_other_data_is_refused(void **state)
{
    (void)state;
    char path[] = "/tmp/letoff-tables-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    static const char text[] = "letoffT1 and then nothing that belongs there, long enough for a head";
    assert_true(write(fd, text, sizeof text) == (ssize_t)sizeof text);
    close(fd);
    assert_null(table_file_open(lib, path));
    assert_null(table_file_open(lib, "/nonexistent/letoff.tables"));
    unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_completed_clock_does_what_a_fresh_one_does),
        cmocka_unit_test(a_file_that_is_cut_short_or_of_other_data_is_refused),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
