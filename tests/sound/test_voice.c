#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include "err.h"
#include "mem.h"
#include "pcm.h"
#include "random.h"
#include "sound/voice.h"
#include "text.h"

/* A folder of its own for voice files. */
static char folder[] = "/tmp/letoff-voice-XXXXXX";
static char path[64];

static int folder_make(void **state)
{
    (void)state;
    if (!mkdtemp(folder))
        return -1;
    snprintf(path, sizeof path, "%s/a.yaml", folder);
    return 0;
}

static int folder_remove(void **state)
{
    (void)state;
    static const char *const FILES[] = {"a.yaml", "b.yaml", "own.wav", "notes.txt"};
    for (size_t i = 0; i < COUNT_OF(FILES); i++) {
        char name[64];
        snprintf(name, sizeof name, "%s/%s", folder, FILES[i]);
        unlink(name);
    }
    return rmdir(folder);
}

static void file_write(const char *name, const char *text)
{
    struct err e = {0};
    assert_true(text_write_file(name, text, strlen(text), &e));
    err_release(&e);
}

static void every_voice_the_header_names_is_there(void **state)
{
    (void)state;
    static const char *const IDS[] = {
        "rod", "rod-bim-bam", "tube", "bell-small", "bell-large", "bell-turret", "bell-ship", "ting",
        "tang", "gong-coiled", "cuckoo-high", "cuckoo-low", "flute", "comb", "click", "warning",
        "lock", "clunk", "whirr", "tick", "tock",
    };
    struct voice_set set = {0};
    struct err e = {0};
    assert_true(voice_set_load_folder(&set, "sounds", NULL, &e));
    assert_int_equal(e.count, 0);
    assert_int_equal(set.count, COUNT_OF(IDS));
    for (size_t i = 0; i < COUNT_OF(IDS); i++) {
        const struct voice *v = voice_find(&set, IDS[i]);
        assert_non_null(v);
        assert_true(v->source[0] && v->name[0]);
        assert_true(v->kind == VOICE_NOISE ? v->noise.level > 0 : v->partials > 0);
    }
    assert_null(voice_find(&set, "trumpet"));
    assert_string_equal(voice_nearest(&set, "gong-coild"), "gong-coiled");
    voice_set_release(&set);
    voice_set_release(&set);
}

/* Hum, prime, tierce, quint, nominal: Keltek Trust; Strike tone (Wikipedia). */
static void cast_bells_have_the_five_tuned_partials(void **state)
{
    (void)state;
    static const char *const BELLS[] = {"bell-large", "bell-turret"};
    static const double TUNED[] = {0.5, 1, 1.2, 1.5, 2};
    struct voice_set set = {0};
    assert_true(voice_set_load_folder(&set, "sounds", NULL, NULL));
    for (size_t b = 0; b < COUNT_OF(BELLS); b++) {
        const struct voice *v = voice_find(&set, BELLS[b]);
        for (size_t i = 0; i < COUNT_OF(TUNED); i++)
            assert_near(v->partial[i].ratio / v->pitch_ratio, TUNED[i], 1e-9);
    }
    voice_set_release(&set);
}

#define HEAD "voices:\n  - id: x\n    name: an x\n    source: ours\n"

static void each_mistake_has_its_sentence_and_adds_nothing(void **state)
{
    (void)state;
    static const struct {
        const char *text, *said, *where;
        size_t count;
    } row[] = {
        {"voices: []\n", "at least one voice", ":1:", 1},
        {"voice: []\n", "voice", ":1:", 2},
        {"", "empty", "", 1},
        {"voices: 3\n", "list", ":1:9", 1},
        {"voices: [3]\n", "voice", ":1:10", 1},
        {HEAD, "neither partials nor a law nor a recording", ":2:", 1},
        {HEAD "    law: clamped\n", "clamped", ":5:10", 2},
        {HEAD "    law: clamped_rod\n    modes: 99\n", "99", ":6:12", 1},
        {HEAD "    law: clamped_rod\n    pitch_mode: 9\n    modes: 4\n", "pitch_mode", ":2:", 1},
        {HEAD "    law: clamped_rod\n    t60_s: 6,5\n", "6,5", ":6:12", 1},
        {HEAD "    law: clamped_rod\n    partials: [{ratio: 1, level: 1}]\n", "beside a law", ":6:",
         1},
        {HEAD "    partials: [{ratio: 1}]\n", "level", ":5:", 1},
        {HEAD "    partials: [{ratio: -1, level: 1}]\n", "ratio", ":5:", 1},
        {HEAD "    partials: []\n", "1 to 24", ":5:", 1},
        {HEAD "    kind: noise\n", "needs a noise map", ":2:", 1},
        {HEAD "    kind: noise\n    noise: {level: 1, ms: 9, low_hz: 900, high_hz: 300}\n",
         "not below", ":6:", 1},
        {HEAD "    law: free_tube\n    low_hz: 900\n    high_hz: 100\n", "no range", ":2:", 1},
        {HEAD "    law: free_tube\n    colour: red\n    level: 7\n    split: much\n", "colour", ":6:",
         3},
        {HEAD "    recording: none.wav\n    recording_hz: 440\n", "none.wav", ":2:", 1},
        {HEAD "    recording: none.wav\n", "recording_hz", ":2:", 1},
        {HEAD "    law: free_tube\n  - id: x\n    name: again\n    source: ours\n    law: free_tube\n",
         "twice", ":6:", 1},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct voice_set set = {0};
        struct err e = {0};
        file_write(path, row[i].text);
        assert_false(voice_set_load(&set, path, NULL, &e));
        if (e.count != row[i].count)
            fail_msg("row %zu: %zu sentences, the first: %s", i, e.count, e.line[0]);
        struct text all = {0};
        for (size_t k = 0; k < e.count; k++)
            text_addf(&all, "%s\n", e.line[k]);
        if (!strstr(text_cstr(&all), row[i].said) || !strstr(text_cstr(&all), row[i].where))
            fail_msg("row %zu says: %s", i, text_cstr(&all));
        text_release(&all);
        assert_int_equal(set.count, 0);
        err_release(&e);
        voice_set_release(&set);
    }
}

static void a_voice_of_the_shop_takes_the_place_of_ours(void **state)
{
    (void)state;
    char other[64];
    struct voice_set set = {0};
    snprintf(other, sizeof other, "%s/b.yaml", folder);
    file_write(path, HEAD "    law: free_tube\n    level: 0.2\n");
    file_write(other, HEAD "    law: free_tube\n    level: 0.9\n");
    assert_true(voice_set_load_folder(&set, folder, NULL, NULL));
    assert_int_equal(set.count, 1);
    assert_near(voice_find(&set, "x")->level, 0.9, 1e-12);
    voice_set_release(&set);
    unlink(other);
}

static void a_recording_stands_in_for_the_recipe(void **state)
{
    (void)state;
    char wav[64];
    struct pcm own;
    struct voice_set set = {0};
    snprintf(wav, sizeof wav, "%s/own.wav", folder);
    pcm_init(&own, 8000);
    pcm_reserve(&own, 400);
    own.at[3] = 0.5f;
    assert_true(pcm_write_wav(&own, wav, NULL));
    file_write(path, HEAD "    recording: own.wav\n    recording_hz: 262\n");
    assert_true(voice_set_load(&set, path, NULL, NULL));
    const struct voice *v = voice_find(&set, "x");
    assert_int_equal(v->recording.frames, 400);
    assert_int_equal(v->recording.rate_hz, 8000);
    assert_near(v->recording_hz, 262, 0);
    voice_set_release(&set);
    pcm_release(&own);
}

static void a_folder_that_is_missing_is_a_failed_device(void **state)
{
    (void)state;
    struct voice_set set = {0};
    struct err e = {0};
    assert_false(voice_set_load_folder(&set, "/nowhere/at/all", NULL, &e));
    assert_int_equal(e.count, 1);
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    err_release(&e);
}

/* Bytes of a good file changed at random: refused or read, never worse. */
static void a_spoilt_file_is_refused_or_read(void **state)
{
    (void)state;
    size_t length;
    char *good = text_read_file("sounds/bells.yaml", 1 << 20, &length, NULL);
    assert_non_null(good);
    struct random r;
    random_init(&r, 11);
    int refused = 0, rounds = 150;
    for (int i = 0; i < rounds; i++) {
        struct text bad = {0};
        text_add_bytes(&bad, good, length);
        for (int k = 0; k < 3; k++)
            bad.at[random_below(&r, (unsigned)length)] = (char)random_below(&r, 256);
        assert_true(text_write_file(path, bad.at, bad.length, NULL));
        struct voice_set set = {0};
        struct err e = {0};
        bool read = voice_set_load(&set, path, NULL, &e);
        assert_true(read ? set.count > 0 && e.count == 0 : set.count == 0 && e.count > 0);
        refused += !read;
        err_release(&e);
        voice_set_release(&set);
        text_release(&bad);
    }
    assert_true(refused > rounds / 3);
    mem_free(good);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_voice_the_header_names_is_there),
        cmocka_unit_test(cast_bells_have_the_five_tuned_partials),
        cmocka_unit_test(each_mistake_has_its_sentence_and_adds_nothing),
        cmocka_unit_test(a_voice_of_the_shop_takes_the_place_of_ours),
        cmocka_unit_test(a_recording_stands_in_for_the_recipe),
        cmocka_unit_test(a_folder_that_is_missing_is_a_failed_device),
        cmocka_unit_test(a_spoilt_file_is_refused_or_read),
    };
    return cmocka_run_group_tests(tests, folder_make, folder_remove);
}
