#include "command/listen_picture.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command/picture_file.h"
#include "draw/notes_row.h"
#include "draw/spectro.h"
#include "draw/type_case.h"
#include "listen/spectrogram.h"
#include "mem.h"
#include "movement/move.h"

#define WIDTH 900.0
#define MARGIN 36.0
#define SOUND_HEIGHT 260.0
#define TIME_WIDTH 80.0
#define GAP 16.0
#define COLUMNS 1200
#define BANDS 160
#define HIGH_HZ 4000
#define FLOOR_DB (-60)
#define SPAN_S 90.0     /* longer than this, only the stretch that sounds is drawn */
#define BEFORE_S 1.0
#define AFTER_S 3.0
#define NAMES_MOST 600
#define HALF_DAY_MIN 721
#define SAME_MIN 14

/* Everything a sound clock does in half a day. */
static void let_run(const struct clock *c, struct event_list *events)
{
    struct works w;
    struct moment m;
    struct chance chance;
    struct random r;
    works_init(&w, c, NULL, 0);
    random_init(&r, 1);
    chance_draw(&chance, &r);
    moment_init(&m, &w, 1);
    movement_turn(&w, &m, HALF_DAY_MIN, BY_TIME, &chance, events);
}

static int bell_of_digit(char c)
{
    return c >= '1' && c <= '9' ? c - '0' : c >= 'a' && c <= 'g' ? c - 'a' + 10 : 0;
}

static void notes_heard(struct notes *n, const struct heard_letoff *l)
{
    *n = (struct notes){.blows = l->strikes};
    for (const char *s = l->notes; *s && n->count < NOTES_MOST; s++)
        n->bell[n->count++] = (unsigned char)bell_of_digit(*s);
}

static int apart(const struct notes *due, const struct notes *heard)
{
    struct note_match match[2 * NOTES_MOST];
    size_t n = notes_match(due, heard, match);
    int sum = abs(due->blows - heard->blows);
    for (size_t i = 0; i < n; i++)
        sum += match[i].fate != NOTE_SAME;
    return sum;
}

/* The let-off of the sound clock that was due: by time, or the nearest in what it sounds.  The
 * minute it is due, or -1. */
static int find_due(struct notes *due, const struct listen_picture *p, const struct event_list *day, int at_min,
                    const struct notes *heard)
{
    int best = 1000, minute = -1, before = -1;
    for (size_t i = 0; i < day->count; i++) {
        const struct event *e = &day->at[i];
        if (e->letoff < 0 || e->letoff == before || !event_sounds(e))
            continue;
        struct notes here;
        before = e->letoff;
        notes_of_events(&here, p->clock, day, e->letoff);
        int later = (e->hand_min - at_min + 1440) % 720, near = later < 360 ? later : 720 - later;
        int off = at_min < 0 ? apart(&here, heard) : near;
        if (off < best && (at_min < 0 || off <= SAME_MIN)) {
            best = off;
            *due = here;
            minute = e->hand_min % 720;
        }
    }
    return minute;
}

static double draw_letoff(struct canvas *c, double y, const struct listen_picture *p, const struct event_list *day,
                          size_t i, int bells)
{
    const struct heard_letoff *l = &p->heard->letoff[i];
    struct notes due = {.count = 0}, heard;
    char at[32];
    int at_min = hear_shown_at(p->heard, p->clock, i, p->at_min);
    notes_heard(&heard, l);
    due.chime_unsaid = due.strike_unsaid = true;
    int minute = p->clock ? find_due(&due, p, day, at_min, &heard) : -1;
    bool differs = minute >= 0 && notes_differ(&due, &heard);
    if (minute >= 0)
        snprintf(at, sizeof at, "%s%d:%02d", p->at_min < 0 ? "as " : "", minute < 60 ? 12 : minute / 60, minute % 60);
    else
        snprintf(at, sizeof at, "%.1f s", l->t_s);
    canvas_text(c, MARGIN, y + 4, TYPE_NUMERAL, differs ? TONE_ACCENT : TONE_INK, ALIGN_LEFT, at);
    return notes_row_draw(c, MARGIN + TIME_WIDTH, y, WIDTH - 2 * MARGIN - TIME_WIDTH, bells, &due, &heard) + GAP;
}

static int bells_of(const struct listen_picture *p)
{
    int bells = (int)p->hearing->sounder_count;
    if (p->clock && p->clock->train[TRAIN_CHIME].tunes)
        bells = p->clock->train[TRAIN_CHIME].tune[0]->bells;
    else if (p->clock)
        bells = p->clock->train[TRAIN_CHIME].control ? p->clock->sounders : 1;
    return bells > 0 ? bells : 1;
}

/* The stretch of the recording that is drawn. */
static void stretch_of(const struct listen_picture *p, double *from_s, double *until_s)
{
    const struct hearing *h = p->hearing;
    *from_s = 0;
    *until_s = (double)p->sound->frames / p->sound->rate_hz;
    if (*until_s <= SPAN_S || !h->blow_count)
        return;
    *from_s = h->blow[0].t_s > BEFORE_S ? h->blow[0].t_s - BEFORE_S : 0;
    double last = h->blow[h->blow_count - 1].t_s + AFTER_S;
    *until_s = last < *until_s ? last : *until_s;
}

static const char *name_of(const struct listen_picture *p, size_t blow, char room[8])
{
    if (p->clock && p->heard->hammer[blow] != FIT_UNNAMED && p->heard->role[blow] != HEARD_NOTE)
        return p->clock->sounder[p->heard->hammer[blow]].name;
    int bell = p->hearing->blow[blow].sounder + 1;
    for (int i = 0; p->clock && i < CLOCK_SOUNDERS; i++)
        if (p->clock->train[TRAIN_CHIME].tunes && i < p->clock->train[TRAIN_CHIME].tune[0]->bells &&
            p->clock->train[TRAIN_CHIME].hammer[i] == p->heard->hammer[blow])
            bell = i + 1;
    snprintf(room, 8, "%d", bell % 1000);
    return room;
}

static void draw_sound(struct canvas *c, double y, const struct listen_picture *p, const struct spectrogram *s,
                       double from_s)
{
    size_t n = p->hearing->blow_count < NAMES_MOST ? p->hearing->blow_count : NAMES_MOST;
    struct spectro_blow *blow = mem_alloc((n + 1) * sizeof *blow);
    char(*room)[8] = mem_alloc((n + 1) * sizeof *room);
    for (size_t i = 0; i < n; i++) {
        const struct heard_blow *b = &p->hearing->blow[i];
        bool odd = b->quality & (QUALITY_WEAK | QUALITY_DOUBLE | QUALITY_BUZZ | QUALITY_THUD);
        blow[i] = (struct spectro_blow){b->t_s - from_s, name_of(p, i, room[i]), odd, (double)b->sure};
    }
    struct spectro picture = {s->db, (int)s->columns, (int)s->rows, s->column_s, s->row_hz, (double)s->floor_db, blow, n};
    spectro_draw(c, MARGIN, y, WIDTH - 2 * MARGIN, SOUND_HEIGHT, &picture);
    mem_free(blow);
    mem_free(room);
}

static double draw_all(struct canvas *c, const struct listen_picture *p, const struct spectrogram *s, double from_s,
                       const struct event_list *day)
{
    double y = MARGIN;
    struct text sum = {0};
    hearing_summary(p->hearing, &sum);
    canvas_text_fit(c, MARGIN, y, WIDTH - 2 * MARGIN, TYPE_TITLE, TONE_INK, ALIGN_LEFT,
                    p->clock ? p->clock->name : "What was heard");
    y += canvas_line_height(c, TYPE_TITLE) + 4;
    y += canvas_paragraph(c, MARGIN, y, WIDTH - 2 * MARGIN, TYPE_ITALIC, TONE_SOFT, ALIGN_LEFT, text_cstr(&sum)) + 12;
    text_release(&sum);
    if (s->columns) {
        draw_sound(c, y, p, s, from_s);
        y += SOUND_HEIGHT + 2 * GAP;
    }
    if (from_s > 0) {
        char line[80];
        snprintf(line, sizeof line, "Drawn from %.0f s of the recording on.", from_s);
        canvas_text(c, MARGIN, y, TYPE_SMALL, TONE_SOFT, ALIGN_LEFT, line);
        y += canvas_line_height(c, TYPE_SMALL) + 6;
    }
    for (size_t i = 0; i < p->heard->letoffs; i++)
        y += draw_letoff(c, y, p, day, i, bells_of(p));
    return y + MARGIN;
}

static double look_at_sound(const struct listen_picture *p, struct spectrogram *s)
{
    double from_s = 0, until_s = 0;
    if (!p->sound->frames)
        return 0;
    stretch_of(p, &from_s, &until_s);
    size_t first = (size_t)(from_s * p->sound->rate_hz), last = (size_t)(until_s * p->sound->rate_hz);
    struct pcm part = {.at = p->sound->at + first, .frames = last > first ? last - first : 0, .rate_hz = p->sound->rate_hz};
    if (part.frames + first > p->sound->frames)
        part.frames = p->sound->frames - first;
    spectrogram_of(s, &part, COLUMNS, BANDS, HIGH_HZ, FLOOR_DB);
    return from_s;
}

bool listen_picture(const struct listen_picture *p, const char *path, struct err *e)
{
    struct type_case *types = type_case_new(e);
    struct ink ink = {0};
    struct canvas trial, c;
    struct event_list day = {0};
    struct spectrogram s = {0};
    if (!types)
        return false;
    double from_s = look_at_sound(p, &s);
    if (p->clock)
        let_run(p->clock, &day);
    canvas_init(&trial, types, &ink, WIDTH, 10000);
    double height = draw_all(&trial, p, &s, from_s, &day); /* how tall it comes out */
    canvas_init(&c, types, &ink, WIDTH, height);
    canvas_box(&c, 0, 0, WIDTH, height, 0, TONE_PAPER, TONE_PAPER, WEIGHT_HAIR);
    draw_all(&c, p, &s, from_s, &day);
    bool good = picture_write(&c, p->clock ? p->clock->name : "What was heard", path, e);
    canvas_release(&trial);
    canvas_release(&c);
    spectrogram_release(&s);
    event_list_release(&day);
    type_case_free(types);
    return good;
}
