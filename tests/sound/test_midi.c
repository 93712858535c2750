#include "suite.h"

#include <string.h>
#include "err.h"
#include "event.h"
#include "sound/midi.h"

/* ---- a reader of Standard MIDI Files that shares nothing with the writer ------------------------- */

struct heard {
    double t_s, hz; /* pitch with its bend */
    int channel, velocity, program, track;
    double length_s; /* 0 while it sounds */
};

struct reader {
    const unsigned char *at;
    size_t left;
    int format, tracks, division;
    double tempo_us;
    struct heard note[64];
    int notes, ends, program[16], bend[16];
};

static unsigned take(struct reader *r, int bytes)
{
    unsigned value = 0;
    assert_true(r->left >= (size_t)bytes);
    for (; bytes > 0; bytes--, r->left--)
        value = value << 8 | *r->at++;
    return value;
}

static unsigned take_length(struct reader *r)
{
    unsigned value = 0, byte;
    do {
        byte = take(r, 1);
        value = value << 7 | (byte & 127);
    } while (byte & 128);
    return value;
}

static void note_off(struct reader *r, int channel, double hz, double t_s)
{
    for (int i = 0; i < r->notes; i++) {
        struct heard *h = &r->note[i];
        if (h->channel == channel && h->length_s == 0 && fabs(h->hz - hz) < 1e-6 * hz && t_s > h->t_s) {
            h->length_s = t_s - h->t_s;
            return;
        }
    }
    fail_msg("a note ends at %g s that never began", t_s);
}

static void channel_message(struct reader *r, int status, int track, double t_s)
{
    int kind = status & 0xF0, channel = status & 15;
    int a = (int)take(r, 1), b = kind == 0xC0 || kind == 0xD0 ? 0 : (int)take(r, 1);
    double semitones = (r->bend[channel] - 8192) / 8192.0 * 2;
    double hz = 440 * pow(2, (a - 69 + semitones) / 12);
    assert_true(a < 128 && b < 128);
    if (kind == 0xC0)
        r->program[channel] = a;
    else if (kind == 0xE0)
        r->bend[channel] = a | b << 7;
    else if (kind == 0x90 && b)
        r->note[r->notes++] = (struct heard){t_s, hz, channel, b, r->program[channel], track, 0};
    else if (kind == 0x80 || kind == 0x90)
        note_off(r, channel, hz, t_s);
    else
        fail_msg("an unexpected message %02x", status);
}

static void track_read(struct reader *r, int track)
{
    assert_int_equal(take(r, 4), 0x4D54726B); /* MTrk */
    size_t length = take(r, 4), end = r->left - length;
    double t_s = 0;
    bool ended = false;
    while (r->left > end) {
        assert_false(ended);
        t_s += take_length(r) * r->tempo_us / 1e6 / r->division;
        int status = (int)take(r, 1);
        if (status == 0xFF) {
            int kind = (int)take(r, 1);
            unsigned bytes = take_length(r);
            if (kind == 0x51)
                r->tempo_us = take(r, 3), bytes -= 3;
            ended = kind == 0x2F;
            while (bytes--)
                take(r, 1);
        } else {
            channel_message(r, status, track, t_s);
        }
    }
    assert_true(ended && r->left == end);
    r->ends++;
}

static void file_read(struct reader *r, const struct text *file)
{
    *r = (struct reader){.at = (const unsigned char *)file->at, .left = file->length, .tempo_us = 5e5};
    for (int c = 0; c < 16; c++)
        r->bend[c] = 8192, r->program[c] = -1;
    assert_int_equal(take(r, 4), 0x4D546864); /* MThd */
    assert_int_equal(take(r, 4), 6);
    r->format = (int)take(r, 2);
    r->tracks = (int)take(r, 2);
    r->division = (int)take(r, 2);
    for (int i = 0; i < r->tracks; i++)
        track_read(r, i);
    assert_int_equal(r->left, 0);
}

/* ---- the suite ---------------------------------------------------------------------------------- */

static struct voice_set set;

static int voices_load(void **state)
{
    (void)state;
    return voice_set_load_folder(&set, "sounds", NULL, NULL) ? 0 : -1;
}

static int voices_release(void **state)
{
    (void)state;
    voice_set_release(&set);
    return 0;
}

static const struct score_sounder SOUNDERS[] = {
    {"1", "rod", 415.3047, 1},      {"2", "rod", 369.9944, 1}, {"3", "rod", 333, 0.5f},
    {"bird", "cuckoo-high", 493.8833, 1},
};

static void strike(struct event_list *list, double t_s, int sounder, float strength, unsigned quality)
{
    event_list_add(list, (struct event){.t_s = t_s, .kind = EVENT_NOTE, .sounder = (uint8_t)sounder,
                                        .strength = strength, .quality = (uint8_t)quality});
}

static const struct {
    double t_s;
    int sounder;
    float strength;
} RUN[] = {
    {0.5, 0, 1}, {1.0, 1, 0.5f}, {1.5, 2, 1}, {1.7, 3, 1}, {1.75, 0, 1}, {300.001, 0, 0.25f},
};

static void the_blows_come_back_from_the_file(void **state)
{
    (void)state;
    for (int format = 0; format <= 1; format++) {
        struct event_list list = {0};
        struct text file = {0};
        struct reader r;
        for (size_t i = 0; i < COUNT_OF(RUN); i++)
            strike(&list, RUN[i].t_s, RUN[i].sounder, RUN[i].strength, 0);
        assert_true(midi_build(&list, SOUNDERS, 4, &set, NULL, format, &file, NULL));
        file_read(&r, &file);
        assert_int_equal(r.format, format);
        assert_int_equal(r.tracks, format ? 5 : 1);
        assert_int_equal(r.notes, COUNT_OF(RUN));
        for (size_t i = 0; i < COUNT_OF(RUN); i++) {
            const struct score_sounder *s = &SOUNDERS[RUN[i].sounder];
            int found = 0;
            for (int k = 0; k < r.notes; k++) {
                const struct heard *h = &r.note[k];
                if (fabs(h->t_s - RUN[i].t_s) > 0.0006 || fabs(h->hz / s->hz - 1) > 2e-4)
                    continue;
                found++;
                assert_int_equal(h->velocity, lround(127 * RUN[i].strength * s->gain));
                assert_int_equal(h->program, voice_find(&set, s->voice)->midi_program);
                assert_int_equal(h->track, format ? RUN[i].sounder + 1 : 0);
                assert_true(h->length_s > 0 && h->length_s <= 2.001);
            }
            assert_int_equal(found, 1);
        }
        event_list_release(&list);
        text_release(&file);
    }
}

static void a_rod_struck_again_ends_its_note_first(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct text file = {0};
    struct reader r;
    strike(&list, 1, 0, 1, 0);
    strike(&list, 1.25, 0, 1, 0);
    strike(&list, 1.25, 1, 1, 0);
    assert_true(midi_build(&list, SOUNDERS, 4, &set, NULL, 0, &file, NULL));
    file_read(&r, &file);
    assert_near(r.note[0].length_s, 0.25, 1e-9);
    event_list_release(&list);
    text_release(&file);
}

static void faults_of_a_blow_are_in_the_notes(void **state)
{
    (void)state;
    struct event_list list = {0};
    struct text file = {0};
    struct reader r;
    strike(&list, 0, 0, 1, QUALITY_DOUBLE);
    strike(&list, 5, 0, 1, QUALITY_WEAK);
    assert_true(midi_build(&list, SOUNDERS, 4, &set, NULL, 0, &file, NULL));
    file_read(&r, &file);
    assert_int_equal(r.notes, 3);
    assert_near(r.note[1].t_s, 0.08, 1e-9);
    assert_true(r.note[1].velocity < r.note[0].velocity);
    assert_true(r.note[2].velocity < 64);
    event_list_release(&list);
    text_release(&file);
}

/* More sounders than channels: every pitch still comes out right. */
static void forty_sounders_share_the_channels(void **state)
{
    (void)state;
    struct score_sounder many[40];
    for (int i = 0; i < 40; i++)
        many[i] = (struct score_sounder){"n", "comb", 300 * pow(2, i / 31.0), 1};
    for (int format = 0; format <= 1; format++) {
        struct event_list list = {0};
        struct text file = {0};
        struct reader r;
        for (int i = 0; i < 40; i++)
            strike(&list, 0.1 * i, i, 1, 0);
        assert_true(midi_build(&list, many, 40, &set, NULL, format, &file, NULL));
        assert_true(file.length > 40 * 8);
        if (format == 0) {
            file_read(&r, &file);
            assert_int_equal(r.notes, 40);
            for (int i = 0; i < 40; i++) {
                assert_near(r.note[i].hz, many[i].hz, 0.1);
                assert_int_not_equal(r.note[i].channel, 9);
            }
        }
        event_list_release(&list);
        text_release(&file);
    }
}

static void what_cannot_be_written_is_said(void **state)
{
    (void)state;
    static const struct {
        int sounder, format;
        const char *said;
    } row[] = {{7, 1, "sounder 8"}, {0, 2, "format 2"}};
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct event_list list = {0};
        struct text file = {0};
        struct err e = {0};
        strike(&list, 0, row[i].sounder, 1, 0);
        assert_false(midi_build(&list, SOUNDERS, 4, &set, NULL, row[i].format, &file, &e));
        assert_int_equal(e.count, 1);
        assert_non_null(strstr(e.line[0], row[i].said));
        assert_int_equal(file.length, 0);
        assert_false(midi_save(&list, SOUNDERS, 4, &set, NULL, row[i].format, "/nowhere/x.mid", NULL));
        err_release(&e);
        event_list_release(&list);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_blows_come_back_from_the_file),
        cmocka_unit_test(a_rod_struck_again_ends_its_note_first),
        cmocka_unit_test(faults_of_a_blow_are_in_the_notes),
        cmocka_unit_test(forty_sounders_share_the_channels),
        cmocka_unit_test(what_cannot_be_written_is_said),
    };
    return cmocka_run_group_tests(tests, voices_load, voices_release);
}
