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
#include "random.h"
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

/* ---- the file ---- */

/* A library of ship's bells alone, so that its tables are soon worked out: the tree's files by links. */
static char folder[] = "/tmp/letoff-tables-XXXXXX";

static const char *in_folder(const char *name)
{
    static char path[2][200];
    static int turn;
    turn = !turn;
    snprintf(path[turn], sizeof path[turn], "%s/%s", folder, name);
    return path[turn];
}

static struct library *ship;

static int open_ship(void **state)
{
    static const char *const files[] = {"ship.yaml", "cures.yaml", "faults-rack.yaml", "faults-count.yaml",
                                        "faults-power.yaml", "words.yaml"};
    char here[600], link[700];
    struct err e = {0};
    if (!mkdtemp(folder) || !getcwd(here, sizeof here))
        return -1;
    for (size_t i = 0; i < COUNT_OF(files); i++) {
        snprintf(link, sizeof link, "%s/chimes/%s", here, files[i]);
        if (symlink(link, in_folder(files[i])) != 0)
            return -1;
    }
    ship = library_load(folder, &e);
    err_print(&e, stderr);
    err_release(&e);
    return ship ? load(state) : -1;
}

static int close_ship(void **state)
{
    char command[80];
    library_free(ship);
    snprintf(command, sizeof command, "rm -r %s", folder);
    return system(command) == 0 ? unload(state) : -1;
}

static size_t clocks_written;
static void note_clock(const struct clock_case *k, size_t tables)
{
    assert_true(tables >= 1 && tables <= k->variants);
    clocks_written++;
}

static void a_clock_filled_from_a_file_does_what_a_fresh_one_does(void **state)
{
    (void)state;
    struct err e = {0};
    clocks_written = 0;
    assert_true(table_file_write(ship, in_folder("ship.tables"), note_clock, &e));
    assert_int_equal(clocks_written, library_clocks(ship));
    struct table_file *f = table_file_open(ship, in_folder("ship.tables"));
    assert_non_null(f);
    assert_true(table_file_size(f) > 1000);
    for (size_t c = 0; c < library_clocks(ship); c++) {
        struct clock_case filled = {0}, fresh = {0};
        assert_true(clock_case_init(&filled, ship, library_clock(ship, c)) &&
                    clock_case_init(&fresh, ship, library_clock(ship, c)));
        assert_true(table_file_fill(f, &filled));
        assert_int_equal(filled.variants, fresh.variants);
        for (size_t v = 0; v < filled.variants; v += 3)
            for (int i = 0; i < filled.classes.letoffs; i += 3) {
                struct start start[512];
                size_t n = fault_starts(filled.variant[v].fault, outcome_table_works(&fresh.table[0]),
                                        filled.classes.minute[i], start, 512);
                for (size_t s = 0; s < n; s += 3)
                    equal_rows(&filled, &fresh, v, outcome_rows_state(&filled.rows, start[s].rest), i);
            }
        clock_case_release(&filled);
        clock_case_release(&fresh);
    }
    table_file_close(f);
    table_file_close(NULL);
    assert_int_equal(table_file_size(NULL), 0);
    assert_null(table_file_open(lib, in_folder("ship.tables"))); /* of other data */
}

static void a_case_made_from_a_file_is_the_one_that_is_made_and_then_filled(void **state)
{
    (void)state;
    struct err e = {0};
    assert_true(table_file_write(ship, in_folder("ship.tables"), NULL, &e));
    struct table_file *f = table_file_open(ship, in_folder("ship.tables"));
    assert_non_null(f);
    for (size_t c = 0; c < library_clocks(ship); c++) {
        const struct clock *clock = library_clock(ship, c);
        struct clock_case at_once, filled;
        assert_true(table_file_case(f, &at_once, ship, clock));
        assert_true(clock_case_init(&filled, ship, clock) && table_file_fill(f, &filled));
        assert_int_equal(at_once.variants, filled.variants);
        assert_int_equal(at_once.listed, filled.listed);
        assert_int_equal(at_once.rows.walked, 0);
        assert_memory_equal(at_once.heeded, filled.heeded, sizeof filled.heeded);
        assert_memory_equal(at_once.due, filled.due, (size_t)filled.classes.letoffs * sizeof *filled.due);
        assert_memory_equal(at_once.order, filled.order, filled.variants * sizeof *filled.order);
        for (size_t v = 0; v < filled.variants; v++) {
            const struct variant *a = &at_once.variant[v], *b = &filled.variant[v];
            assert_ptr_equal(a->fault, b->fault);
            assert_true(a->share == b->share && a->severity == b->severity && a->swept == b->swept);
            assert_true(a->acts == b->acts && a->late == b->late && a->minute_off == b->minute_off &&
                        a->hour_off == b->hour_off && a->start == b->start);
        }
        clock_case_release(&at_once);
        clock_case_release(&filled);
    }
    struct clock_case none;
    assert_false(table_file_case(f, &none, lib, library_find_clock(lib, clocks[0]))); /* it is not in the file */
    table_file_close(f);
}

/* Rows that a works keeps by class, whether its states follow each other or lie apart. */
static void a_kept_row_is_found_and_no_other(void **state)
{
    static const uint32_t at[][6] = {{7}, {3, 4, 5, 6, 7, 8}, {1, 2, 40, 41, 90, 400}, {5, 9, 10, 11, 12, 300}};
    static const size_t count[] = {1, 6, 6, 6};
    (void)state;
    struct clock_case k;
    assert_true(clock_case_init(&k, ship, library_clock(ship, 0)));
    assert_true(k.classes.classes > 2);
    for (size_t i = 0; i < COUNT_OF(at); i++)
        for (uint64_t class = 0; class < 3; class++) {
            struct outcome_table t;
            uint64_t key[7];
            uint32_t row[7], found = 0;
            for (size_t n = 0; n < count[i]; n++) {
                key[n] = ((uint64_t)at[i][n] << 16 | class) + 1;
                row[n] = 100 + (uint32_t)n;
            }
            outcome_table_init(&t, &k.rows, NULL, 0);
            outcome_table_complete(&t, key, row, count[i]);
            assert_int_equal(outcome_table_kepts(&t), count[i]);
            for (uint64_t x = 0; x < 500 * 3; x++) {
                uint32_t is = outcome_table_kept(&t, ((x / 3) << 16 | x % 3) + 1);
                bool mine = x % 3 == class && found < count[i] && at[i][found] == x / 3;
                assert_int_equal(is, mine ? 100 + found : OUTCOME_NONE);
                found += mine;
            }
            assert_int_equal(found, count[i]);
            outcome_table_release(&t);
        }
    clock_case_release(&k);
}

/* The sound works' rows of all let-offs from one state. */
static void ask_rows(struct clock_case *k, uint32_t state, uint32_t *row)
{
    for (int i = 0; i < k->classes.letoffs; i++)
        row[i] = outcome_table_row(&k->table[0], state, i);
}

static void a_sound_works_that_is_settled_keeps_its_rows_and_learns_more(void **state)
{
    (void)state;
    struct clock_case k;
    uint32_t before[LETOFFS_MOST], more[LETOFFS_MOST], again[LETOFFS_MOST];
    assert_true(clock_case_init(&k, lib, library_find_clock(lib, "countwheel-78")));
    size_t row_bytes = (size_t)k.classes.letoffs * sizeof *before;
    const struct works *works = outcome_table_works(&k.table[0]);
    uint32_t one = outcome_rows_state(&k.rows, rest_in_step(works, k.classes.minute[0]));
    struct rest run_down = rest_in_step(works, k.classes.minute[0]);
    rest_set_power(&run_down, TRAIN_STRIKE, POWER_OUT);
    uint32_t other = outcome_rows_state(&k.rows, run_down);
    ask_rows(&k, one, before);
    for (int round = 0; round < 2; round++) {
        size_t walked = k.rows.walked, kept = outcome_table_kepts(&k.table[0]);
        outcome_table_settle(&k.table[0]);
        assert_true(outcome_table_kepts(&k.table[0]) > kept);
        ask_rows(&k, one, again);
        assert_memory_equal(again, before, row_bytes);
        assert_int_equal(k.rows.walked, walked); /* all of it was known */
        ask_rows(&k, other, round ? again : more);
        assert_int_equal(k.rows.walked > walked, !round);
    }
    assert_memory_equal(again, more, row_bytes);
    clock_case_release(&k);
}

/* What can be wrong with a file that was good: `at` a place from its beginning, or how much of it is left. */
static void a_file_that_was_hurt_is_refused_whole_or_clock_by_clock(void **state)
{
    enum { HEAD = 8 + 3 * 8, ID = 64 }; /* magic, stamp, clocks, bytes; then the first clock's id and numbers */
    static const struct {
        const char *what;
        long at;       /* < 0: nothing is written */
        uint64_t value;
        long cut;      /* bytes taken off the end */
        bool opens;    /* then no clock is filled, and all are as they were */
    } rows[] = {
        {"another magic", 0, 1, 0, false},
        {"another stamp", 8, 1, 0, false},
        {"another length told", 24, 1, 0, false},
        {"the end is missing", -1, 0, 1000, false},
        {"a head is all there is", -1, 0, -HEAD, false},
        {"no clock", 16, 0, 0, true},
        {"the clock has another name", HEAD, 1, 0, true},
        {"the clock is longer than the file", HEAD + ID, 1ull << 40, 0, true},
        {"the clock is shorter than its head", HEAD + ID, 8, 0, true},
        {"another sum", HEAD + ID + 8, 1, 0, true},
        {"more states than bytes", HEAD + ID + 16, 1ull << 50, 0, true},
        {"more rows than bytes", HEAD + ID + 24, 1ull << 30, 0, true},
        {"more edges than bytes", HEAD + ID + 32, 1ull << 62, 0, true},
        {"more soundings than bytes", HEAD + ID + 40, 1ull << 33, 0, true},
        {"more notes than bytes", HEAD + ID + 48, UINT64_MAX, 0, true},
        {"other let-offs", HEAD + ID + 64, 1, 0, true},
        {"other variants", HEAD + ID + 72, 1, 0, true},
        {"no table", HEAD + ID + 80, 0, 0, true},
        {"other classes", HEAD + ID + 88, 99, 0, true},
        {"slots that are no power of two", HEAD + ID + 96, 3, 0, true},
        {"more known than slots", HEAD + ID + 104, 1ull << 40, 0, true},
        {"more kept rows than bytes", HEAD + ID + 112, 1ull << 61, 0, true},
    };
    (void)state;
    struct err e = {0};
    size_t length;
    assert_true(table_file_write(ship, in_folder("good.tables"), NULL, &e));
    char *good = text_read_file(in_folder("good.tables"), (size_t)1 << 30, &length, &e);
    assert_non_null(good);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char *bytes = mem_copy_bytes(good, length);
        size_t left = rows[i].cut < 0 ? (size_t)-rows[i].cut : length - (size_t)rows[i].cut;
        if (rows[i].at >= 0)
            memcpy(bytes + rows[i].at, &rows[i].value, sizeof rows[i].value);
        assert_true(text_write_file(in_folder("hurt.tables"), bytes, left, &e));
        mem_free(bytes);
        struct table_file *f = table_file_open(ship, in_folder("hurt.tables"));
        if ((f != NULL) != rows[i].opens)
            fail_msg("%s: it is %s", rows[i].what, f ? "opened" : "refused");
        struct clock_case k;
        assert_true(clock_case_init(&k, ship, library_clock(ship, 0)));
        size_t tables = k.tables, states = k.rows.states;
        if (f && table_file_fill(f, &k))
            fail_msg("%s: the clock is filled", rows[i].what);
        assert_int_equal(k.tables, tables);
        assert_int_equal(k.rows.states, states);
        clock_case_release(&k);
        table_file_close(f);
    }
    mem_free(good);
    assert_null(table_file_open(ship, in_folder("no-such.tables")));
    assert_int_equal(e.count, 0);
    err_release(&e);
}

static void not_one_byte_of_a_clock_may_be_another(void **state)
{
    (void)state;
    struct err e = {0};
    struct random r;
    size_t length;
    assert_true(table_file_write(ship, in_folder("good.tables"), NULL, &e));
    char *bytes = text_read_file(in_folder("good.tables"), (size_t)1 << 30, &length, &e);
    assert_non_null(bytes);
    random_init(&r, 8);
    for (int turn = 0; turn < 40; turn++) {
        size_t at = 32 + random_below(&r, (unsigned)length - 32); /* behind the head of the file */
        bytes[at] ^= (char)(1u << random_below(&r, 8));
        assert_true(text_write_file(in_folder("hurt.tables"), bytes, length, &e));
        struct table_file *f = table_file_open(ship, in_folder("hurt.tables"));
        assert_non_null(f);
        size_t filled = 0;
        for (size_t c = 0; c < library_clocks(ship); c++) {
            struct clock_case k;
            assert_true(clock_case_init(&k, ship, library_clock(ship, c)));
            filled += table_file_fill(f, &k);
            clock_case_release(&k);
        }
        assert_true(filled < library_clocks(ship));
        table_file_close(f);
        mem_free(bytes);
        bytes = text_read_file(in_folder("good.tables"), (size_t)1 << 30, &length, &e);
    }
    mem_free(bytes);
    err_release(&e);
}

static void tables_of_own_data_are_kept_in_the_cache_once(void **state)
{
    (void)state;
    struct err e = {0};
    char path[1024];
    setenv("LETOFF_TABLES", "", 1);
    unsetenv("XDG_CACHE_HOME");
    unsetenv("HOME");
    assert_false(table_file_keep(ship, &e)); /* no place for them */
    assert_int_equal(e.count, 1);
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
    e = (struct err){0};
    setenv("HOME", folder, 1);
    assert_false(table_file_kept(ship));
    assert_true(table_file_place(ship, 3, path, sizeof path));
    assert_string_equal(path, in_folder(".cache/letoff/letoff.tables"));
    setenv("XDG_CACHE_HOME", in_folder("cache"), 1);
    assert_true(table_file_keep(ship, &e));
    assert_true(table_file_kept(ship));
    assert_int_equal(access(in_folder("cache/letoff/letoff.tables"), R_OK), 0);
    assert_true(table_file_keep(ship, &e)); /* they are there already */
    assert_false(table_file_place(ship, 4, path, sizeof path));
    assert_int_equal(e.count, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_completed_clock_does_what_a_fresh_one_does),
        cmocka_unit_test(a_clock_filled_from_a_file_does_what_a_fresh_one_does),
        cmocka_unit_test(a_case_made_from_a_file_is_the_one_that_is_made_and_then_filled),
        cmocka_unit_test(a_kept_row_is_found_and_no_other),
        cmocka_unit_test(a_sound_works_that_is_settled_keeps_its_rows_and_learns_more),
        cmocka_unit_test(a_file_that_was_hurt_is_refused_whole_or_clock_by_clock),
        cmocka_unit_test(not_one_byte_of_a_clock_may_be_another),
        cmocka_unit_test(tables_of_own_data_are_kept_in_the_cache_once),
    };
    return cmocka_run_group_tests(tests, open_ship, close_ship);
}
