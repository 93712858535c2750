#include "suite.h"

#include <string.h>

#include "event.h"

static void every_kind_and_train_has_a_name_that_leads_back(void **state)
{
    (void)state;
    for (int k = 0; k < EVENT_KINDS; k++)
        assert_int_equal(event_kind_of(event_kind_name((enum event_kind)k)), k);
    for (int t = 0; t < TRAINS; t++)
        assert_int_equal(event_train_of(event_train_name((enum event_train)t)), t);
}

static void a_word_that_is_no_name_gives_minus_one(void **state)
{
    (void)state;
    static const char *const rows[] = {"", "Blow", "blows", "strike ", NULL};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_int_equal(event_kind_of(rows[i]), -1);
        assert_int_equal(event_train_of(rows[i]), -1);
    }
    assert_string_equal(event_kind_name(EVENT_KINDS), "?");
    assert_string_equal(event_train_name(TRAINS), "?");
}

static void only_blows_and_notes_sound(void **state)
{
    (void)state;
    for (int k = 0; k < EVENT_KINDS; k++) {
        struct event e = {.kind = (uint8_t)k};
        assert_int_equal(event_sounds(&e), k == EVENT_BLOW || k == EVENT_NOTE);
    }
}

static void a_list_keeps_what_is_added_in_order(void **state)
{
    (void)state;
    struct event_list list = {0};
    for (int i = 0; i < 1000; i++)
        event_list_add(&list, (struct event){.t_s = i});
    assert_int_equal(list.count, 1000);
    for (int i = 0; i < 1000; i++)
        assert_near(list.at[i].t_s, i, 0);
    event_list_clear(&list);
    assert_int_equal(list.count, 0);
    assert_true(list.room >= 1000);
    event_list_release(&list);
    assert_null(list.at);
    event_list_release(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_and_train_has_a_name_that_leads_back),
        cmocka_unit_test(a_word_that_is_no_name_gives_minus_one),
        cmocka_unit_test(only_blows_and_notes_sound),
        cmocka_unit_test(a_list_keeps_what_is_added_in_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
