#include "suite.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>
#include "err.h"
#include "event.h"
#include "measure.h"
#include "random.h"
#include "sound/perform.h"
#include "sound/player.h"
#include "sound/score.h"
#include "text.h"

#define RATE_HZ 44100

static void wait_ms(int ms)
{
    struct timespec t = {ms / 1000, ms % 1000 * 1000000L};
    nanosleep(&t, NULL);
}

/* A click that can be found again: one sample. */
static const float CLICK[1] = {0.5f};

/* ---- mixing, with a back end that the test turns by hand ---------------------------------------- */

static bool hand_here = true, hand_alive = true;

static bool hand_open(struct player *p, int rate_hz, struct err *e)
{
    (void)p, (void)rate_hz;
    if (!hand_here)
        err_device(e, "There is no sound device.");
    hand_alive = hand_here;
    return hand_here;
}

static void hand_close(struct player *p)
{
    (void)p;
}

static bool hand_is_alive(struct player *p)
{
    (void)p;
    return hand_alive;
}

static bool hand_found(struct player *p)
{
    (void)p;
    return hand_here;
}

static const struct player_back hand = {
    .name = "hand", .open = hand_open, .close = hand_close, .alive = hand_is_alive,
    .found = hand_found,
};

static struct player *hand_player(void)
{
    struct player *p = player_new();
    hand_here = true;
    assert_true(player_open(p, &hand, RATE_HZ, NULL));
    return p;
}

/* Any order, any size of block: each blow on its own sample. */
static void blows_land_on_their_sample_whatever_the_blocks(void **state)
{
    (void)state;
    static const uint64_t AT[] = {5000, 0, 1, 777, 1023, 1024, 4096, 9999, 778};
    static const size_t BLOCK[] = {1, 1024, 333, 512, 4096, 7};
    for (size_t b = 0; b < COUNT_OF(BLOCK); b++) {
        struct player *p = hand_player();
        float out[10000 + 4096];
        for (size_t i = 0; i < COUNT_OF(AT); i++)
            assert_true(player_put(p, AT[i], CLICK, 1, 1));
        for (size_t done = 0; done < 10000; done += BLOCK[b])
            player_mix(p, out + done, BLOCK[b]);
        for (uint64_t i = 0; i < 10000; i++) {
            bool want = false;
            for (size_t k = 0; k < COUNT_OF(AT); k++)
                want |= AT[k] == i;
            assert_near(out[i], want ? 0.5 : 0, 0);
        }
        assert_true(player_idle(p));
        assert_int_equal(player_late(p), 0);
        player_free(p);
    }
}

static void a_late_blow_sounds_at_once_and_is_counted(void **state)
{
    (void)state;
    struct player *p = hand_player();
    float out[256];
    player_mix(p, out, 256);
    player_put(p, 10, CLICK, 1, 1);
    player_mix(p, out, 256);
    assert_near(out[0], 0.5, 0);
    assert_int_equal(player_late(p), 1);
    player_free(p);
}

static void the_queue_refuses_what_it_cannot_hold(void **state)
{
    (void)state;
    struct player *p = hand_player();
    float out[64];
    for (int i = 0; i < PLAYER_QUEUE; i++)
        assert_true(player_put(p, 1000 + i, CLICK, 1, 1));
    assert_false(player_put(p, 5000, CLICK, 1, 1));
    assert_false(player_idle(p));
    player_mix(p, out, 64);
    assert_true(player_put(p, 5000, CLICK, 1, 1));
    player_free(p);
}

static void a_hush_fades_what_sounds_and_forgets_what_waits(void **state)
{
    (void)state;
    static float tone[30000];
    float out[8192];
    for (size_t i = 0; i < COUNT_OF(tone); i++)
        tone[i] = 0.4f;
    struct player *p = hand_player();
    player_put(p, 0, tone, COUNT_OF(tone), 1);
    player_put(p, 6000, CLICK, 1, 1);
    player_mix(p, out, 1024);
    player_hush(p);
    player_put(p, 4096, CLICK, 1, 1); /* put after the hush: stays */
    player_mix(p, out, 8192);
    assert_near(out[0], 0.4, 0.001);
    assert_true(out[256] < 0.3f && out[256] > 0.1f);
    for (int i = 512; i < 8192; i++)
        assert_near(out[i], i == 4096 - 1024 ? 0.5 : 0, 0);
    assert_true(player_idle(p));
    player_free(p);
}

static void too_much_at_once_is_bent_not_cut(void **state)
{
    (void)state;
    struct player *p = hand_player();
    float out[16];
    for (int i = 0; i < 9; i++)
        player_put(p, 3, CLICK, 1, 1);
    player_mix(p, out, 16);
    assert_true(out[3] > 0.9f && out[3] <= 1);
    player_free(p);
}

/* ---- devices that are not there, go, and come ---------------------------------------------------- */

static void without_a_device_the_run_goes_on_in_silence(void **state)
{
    (void)state;
    struct player *p = player_new();
    struct err e = {0};
    hand_here = false;
    assert_false(player_open(p, &hand, RATE_HZ, &e));
    assert_int_equal(e.count, 1);
    assert_int_equal(err_status(&e), EXIT_DEVICE);
    assert_false(player_sounding(p));
    uint64_t start = player_now(p);
    player_put(p, start + 441, CLICK, 1, 1);
    wait_ms(40);
    assert_int_equal(player_poll(p), PLAYER_AS_BEFORE);
    assert_true(player_now(p) >= start + 1764 && player_now(p) < start + 10 * RATE_HZ);
    assert_true(player_idle(p));
    err_release(&e);
    player_free(p);
}

static void a_device_that_goes_is_noticed_and_taken_again(void **state)
{
    (void)state;
    struct player *p = hand_player();
    float out[1024];
    assert_true(player_sounding(p));
    player_mix(p, out, 1024);
    hand_alive = hand_here = false;
    assert_int_equal(player_poll(p), PLAYER_LOST);
    assert_false(player_sounding(p));
    wait_ms(20);
    assert_int_equal(player_poll(p), PLAYER_AS_BEFORE);
    uint64_t silent = player_now(p);
    assert_true(silent >= 1024);
    hand_here = true;
    assert_int_equal(player_poll(p), PLAYER_FOUND);
    assert_true(player_sounding(p));
    player_mix(p, out, 64);
    assert_true(player_now(p) >= silent);
    player_free(p);
}

static void a_driver_that_does_not_exist_is_one_sentence(void **state)
{
    (void)state;
    struct player *p = player_new();
    struct err e = {0};
    setenv("SDL_AUDIODRIVER", "nosuchdriver", 1);
    assert_false(player_open(p, &player_back_sdl, RATE_HZ, &e));
    assert_int_equal(e.count, 1);
    assert_non_null(strstr(e.line[0], "no sound device"));
    err_release(&e);
    player_free(p);
}

/* ---- the real way out, into a file --------------------------------------------------------------- */

static char disk[] = "/tmp/letoff-disk-XXXXXX";

static int disk_make(void **state)
{
    (void)state;
    int file = mkstemp(disk);
    setenv("SDL_DISKAUDIOFILE", disk, 1);
    setenv("SDL_DISKAUDIODELAY", "4", 1); /* ms a buffer: six times as fast as time */
    return file < 0 ? -1 : close(file);
}

static int disk_remove(void **state)
{
    (void)state;
    return unlink(disk);
}

/* What the driver wrote: float samples on two channels. */
static void disk_read(struct pcm *to)
{
    FILE *f = fopen(disk, "rb");
    float pair[2];
    assert_non_null(f);
    pcm_init(to, RATE_HZ);
    while (fread(pair, sizeof pair, 1, f) == 1) {
        assert_near(pair[0], pair[1], 0);
        pcm_add(to, pair, 1);
    }
    fclose(f);
}

static void play_out(struct player *p, struct perform *w)
{
    for (int i = 0; i < 2000; i++) {
        player_poll(p);
        if (!perform_step(w))
            return;
        wait_ms(2);
    }
    fail_msg("the run does not end");
}

/* Through SDL2_mixer every blow lies within a millisecond of its time, at its pitch.  A click on frame 0
 * marks the start: the driver may have sent a few empty buffers before it. */
static void through_the_mixer_blows_land_where_they_were_told(void **state)
{
    (void)state;
    static const double T_S[] = {0.25, 0.75123, 1.75, 2.2504, 3.3333};
    static const struct score_sounder bell[] = {{"low", "tang", 900, 1}, {"high", "ting", 1500, 1}};
    struct score_style style = {.decay = 0.1, .rate_hz = RATE_HZ};
    struct voice_set set = {0};
    struct event_list list = {0};
    struct score_cues cues = {0};
    struct perform now;
    struct pcm out = {0};
    assert_true(voice_set_load_folder(&set, "sounds", NULL, NULL));
    for (size_t i = 0; i < COUNT_OF(T_S); i++)
        event_list_add(&list, (struct event){.t_s = T_S[i], .kind = EVENT_BLOW, .strength = 1,
                                             .sounder = (uint8_t)(i % 2)});
    struct score_bank *bank = score_bank_new(bell, 2, &set, &style, NULL);
    assert_true(score_cue(bank, &list, &cues, NULL));
    setenv("SDL_AUDIODRIVER", "disk", 1);
    struct player *p = player_new();
    assert_true(player_put(p, 0, CLICK, 1, 1));
    perform_init(&now, p, &cues, 0);
    assert_true(perform_step(&now)); /* all wait for frame 0 */
    assert_true(player_open(p, &player_back_sdl, RATE_HZ, NULL));
    assert_true(player_sounding(p));
    play_out(p, &now);
    assert_true(perform_now_s(&now) > 3.3);
    player_free(p);
    disk_read(&out);
    double start_s = measure_onset_s(&out, 0, 0.4);
    assert_true(start_s >= 0 && start_s < 1);
    for (size_t i = 0; i < COUNT_OF(T_S); i++) {
        double hz = bell[i % 2].hz, t_s = start_s + T_S[i];
        assert_near(measure_onset_s(&out, t_s - 0.05, 0.003), t_s, 0.001);
        assert_near(measure_peak_hz(&out, t_s + 0.005, 0.08, 0.9 * hz, 1.1 * hz), hz, 0.01 * hz);
    }
    score_cues_release(&cues);
    score_bank_free(bank);
    event_list_release(&list);
    voice_set_release(&set);
    pcm_release(&out);
}

static void a_performance_can_be_stopped(void **state)
{
    (void)state;
    static float tone[RATE_HZ];
    struct pcm sound = {.at = tone, .frames = RATE_HZ, .rate_hz = RATE_HZ};
    struct score_cue at[] = {{0, &sound, 1, 0}, {1000, &sound, 1, 1}};
    struct score_cues cues = {.at = at, .count = 2};
    struct player *p = player_new();
    struct perform now;
    assert_true(player_open(p, &player_back_dummy, RATE_HZ, NULL));
    perform_init(&now, p, &cues, player_now(p));
    player_poll(p);
    assert_true(perform_step(&now));
    perform_stop(&now);
    for (int i = 0; i < 100 && perform_step(&now); i++) {
        wait_ms(5);
        player_poll(p);
    }
    assert_false(perform_step(&now));
    assert_true(perform_now_s(&now) < 1);
    player_free(p);
}

/* ---- recordings in other formats ----------------------------------------------------------------- */

static void be(struct text *t, unsigned long value, int bytes)
{
    for (int i = bytes - 1; i >= 0; i--) {
        char c = (char)(value >> (8 * i) & 255);
        text_add_bytes(t, &c, 1);
    }
}

/* A second of 500 Hz as AIFF, 16 bits, 8000 Hz (8000 = 1.953125 * 2^12 as an 80-bit real). */
static void aiff_make(struct text *t)
{
    text_add(t, "FORM");
    be(t, 4 + 26 + 16 + 16000, 4);
    text_add(t, "AIFFCOMM");
    be(t, 18, 4);
    be(t, 1, 2);
    be(t, 8000, 4);
    be(t, 16, 2);
    be(t, 0x400B, 2);
    be(t, 0xFA000000ul, 4);
    be(t, 0, 4);
    text_add(t, "SSND");
    be(t, 8 + 16000, 4);
    be(t, 0, 4);
    be(t, 0, 4);
    for (int i = 0; i < 8000; i++)
        be(t, (unsigned long)(lround(16000 * sin(2 * 3.14159265358979 * 500 * i / 8000)) & 0xFFFF), 2);
}

static void recordings_are_decoded_without_a_device(void **state)
{
    (void)state;
    char path[] = "/tmp/letoff-aiff-XXXXXX.aiff";
    struct text file = {0};
    struct pcm got = {0};
    struct err e = {0};
    int opened = mkstemps(path, 5);
    assert_true(opened >= 0 && close(opened) == 0);
    aiff_make(&file);
    assert_true(text_write_file(path, file.at, file.length, NULL));
    unsetenv("SDL_AUDIODRIVER");
    assert_true(player_read_recording(&got, path, &e));
    assert_near((double)got.frames / got.rate_hz, 1, 0.01);
    assert_near(measure_peak_hz(&got, 0.1, 0.5, 450, 550), 500, 0.2);
    assert_near(pcm_peak(&got), 16000 / 32768.0, 0.02);
    pcm_release(&got);
    assert_true(text_write_file(path, "no sound at all", 15, NULL));
    assert_false(player_read_recording(&got, path, &e));
    assert_int_equal(e.count, 1);
    assert_false(player_read_recording(&got, "/nowhere/x.ogg", &e));
    assert_int_equal(e.count, 2);
    err_release(&e);
    text_release(&file);
    unlink(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blows_land_on_their_sample_whatever_the_blocks),
        cmocka_unit_test(a_late_blow_sounds_at_once_and_is_counted),
        cmocka_unit_test(the_queue_refuses_what_it_cannot_hold),
        cmocka_unit_test(a_hush_fades_what_sounds_and_forgets_what_waits),
        cmocka_unit_test(too_much_at_once_is_bent_not_cut),
        cmocka_unit_test(without_a_device_the_run_goes_on_in_silence),
        cmocka_unit_test(a_device_that_goes_is_noticed_and_taken_again),
        cmocka_unit_test(a_driver_that_does_not_exist_is_one_sentence),
        cmocka_unit_test_setup_teardown(through_the_mixer_blows_land_where_they_were_told, disk_make,
                                        disk_remove),
        cmocka_unit_test(a_performance_can_be_stopped),
        cmocka_unit_test(recordings_are_decoded_without_a_device),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
