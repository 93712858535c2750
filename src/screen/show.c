#include "screen/show.h"

#include <math.h>
#include <string.h>

#include "command/setup.h"

#define RATE_HZ 44100
#define LEAD_S 0.12 /* what is put into the player ahead of the moment shown */

void show_init(struct show *s, const struct voice_set *voices, uint64_t seed)
{
    memset(s, 0, sizeof *s);
    s->voices = voices;
    s->speed = 1;
    s->style.works = true;
    random_init(&s->random, seed);
}

static void bank_drop(struct show *s)
{
    if (s->player) {
        player_hush(s->player);
        player_free(s->player); /* nothing reads the bank's samples after this */
        s->player = NULL;
    }
    score_bank_free(s->bank);
    s->bank = NULL;
}

void show_release(struct show *s)
{
    bank_drop(s);
    event_list_release(&s->events);
    err_release(&s->trouble);
}

static void run_clear(struct show *s)
{
    event_list_clear(&s->events);
    s->knots = 0;
    s->at_s = s->length_s = 0;
    s->playing = false;
    s->put = 0;
    s->before = s->now;
}

void show_set(struct show *s, const struct clock *c, const struct change *change, size_t changes,
              int work_min)
{
    if (s->works.clock != c)
        bank_drop(s);
    else if (s->player)
        player_hush(s->player);
    works_init(&s->works, c, change, changes);
    moment_init(&s->now, &s->works, work_min);
    run_clear(s);
}

void show_set_rest(struct show *s, struct rest rest)
{
    s->now.rest = rest;
    run_clear(s);
}

/* ---- the two times ---- */

static void knot_add(struct show *s, double show_s, double run_s)
{
    if (s->knots < SHOW_KNOTS) {
        s->knot[s->knots].show_s = show_s;
        s->knot[s->knots++].run_s = run_s;
    }
}

static void knots_lay(struct show *s, double end_s)
{
    double run = s->before.t_s, show = 0;
    s->knots = 0;
    knot_add(s, 0, run);
    for (size_t i = 0; i <= s->events.count; i++) {
        double t = i < s->events.count ? s->events.at[i].t_s : end_s;
        double gap = t - run;
        if (gap <= 1e-9)
            continue;
        show += gap > SHOW_SILENCE_S ? SHOW_SHORT_S : gap;
        run = t;
        knot_add(s, show, run);
    }
    s->length_s = show + 1.2;
    knot_add(s, s->length_s, run + 1.2);
}

static double knot_map(const struct show *s, double v, bool to_run)
{
    for (size_t i = 1; i < s->knots; i++) {
        double a = to_run ? s->knot[i - 1].show_s : s->knot[i - 1].run_s;
        double b = to_run ? s->knot[i].show_s : s->knot[i].run_s;
        double fa = to_run ? s->knot[i - 1].run_s : s->knot[i - 1].show_s;
        double fb = to_run ? s->knot[i].run_s : s->knot[i].show_s;
        if (v <= b || i + 1 == s->knots)
            return b > a ? fa + (v - a) / (b - a) * (fb - fa) : fa;
    }
    return to_run ? s->before.t_s : 0;
}

double show_run_s(const struct show *s)
{
    return s->knots > 0 ? knot_map(s, s->at_s, true) : s->now.t_s;
}

/* ---- running the clock ---- */

void show_run(struct show *s, int minutes, enum turner by)
{
    struct chance chance;
    chance_draw(&chance, &s->random);
    run_clear(s);
    movement_turn(&s->works, &s->now, minutes, by, &chance, &s->events);
    if (by == BY_TIME || s->events.count > 0)
        knots_lay(s, s->now.t_s);
}

static double last_event_s(const struct show *s)
{
    double t = s->before.t_s;
    for (size_t i = 0; i < s->events.count; i++)
        t = s->events.at[i].t_s > t ? s->events.at[i].t_s : t;
    return t;
}

void show_take(struct show *s, const struct clock *c, const struct event_list *events)
{
    double first_s = events->count > 0 ? events->at[0].t_s : 0;
    show_set(s, c, NULL, 0, events->count > 0 ? events->at[0].hand_min % 1440 : 0);
    for (size_t i = 0; i < events->count; i++)
        event_list_add(&s->events, events->at[i]);
    s->before.t_s = first_s - 0.5;
    knots_lay(s, last_event_s(s));
}

void show_next_letoff(struct show *s, double now_s)
{
    const struct clock *c = s->works.clock;
    int ahead = clock_next_lobe(c, s->now.work_min);
    int early = ahead - (c->warn_min > 0 ? c->warn_min : 0) - 1;
    struct chance chance;
    chance_draw(&chance, &s->random);
    run_clear(s);
    if (early > 0) /* up to the warning in one sweep */
        movement_turn(&s->works, &s->now, early, BY_HAND, &chance, NULL);
    s->before = s->now;
    movement_turn(&s->works, &s->now, ahead - (early > 0 ? early : 0), BY_TIME, &chance, &s->events);
    double end_s = last_event_s(s);
    knots_lay(s, end_s > s->now.t_s ? end_s : s->now.t_s);
    show_play(s, now_s);
}

void show_do(struct show *s, enum action a, int amount)
{
    struct chance chance;
    chance_draw(&chance, &s->random);
    run_clear(s);
    movement_do(&s->works, &s->now, a, amount, &chance, &s->events);
    if (s->events.count > 0)
        knots_lay(s, last_event_s(s));
}

/* ---- sound ---- */

static bool sound_ready(struct show *s)
{
    const struct clock *c = s->works.clock;
    if (s->mute || !s->voices || !c)
        return false;
    if (!s->bank) {
        size_t n = setup_sounders(c, s->sounder);
        s->bank = score_bank_new(s->sounder, n, s->voices, &s->style, &s->trouble);
    }
    if (s->bank && !s->player) {
        s->player = player_new();
        player_open(s->player, &player_back_sdl, RATE_HZ, &s->trouble);
    }
    return s->bank && s->player;
}

static void put_sounds(struct show *s)
{
    double until = s->at_s + 0.5;
    for (; s->put < s->events.count; s->put++) {
        const struct event *e = &s->events.at[s->put];
        double show_s = knot_map(s, e->t_s, false);
        if (show_s > until)
            return;
        if (show_s < s->start_s - 1e-6)
            continue;
        const struct pcm *p = score_bank_sound(s->bank, e);
        double after = (show_s - s->start_s) / s->speed + LEAD_S;
        uint64_t frame = s->start_frame + (uint64_t)lrint(after * player_rate_hz(s->player));
        if (p && p->frames > 0 && !player_put(s->player, frame, p->at, p->frames, score_bank_gain(s->bank, e) * 0.8f))
            return;
    }
}

void show_play(struct show *s, double now_s)
{
    if (s->knots == 0)
        return;
    if (s->at_s >= s->length_s - 0.01)
        s->at_s = 0;
    s->playing = true;
    s->put = 0;
    s->start_s = s->at_s;
    s->started_s = now_s;
    if (sound_ready(s)) {
        player_hush(s->player);
        s->start_frame = player_now(s->player);
    }
}

void show_stop(struct show *s)
{
    s->playing = false;
    if (s->player)
        player_hush(s->player);
}

void show_seek(struct show *s, double show_s)
{
    show_stop(s);
    s->at_s = show_s < 0 ? 0 : show_s > s->length_s ? s->length_s : show_s;
}

void show_step(struct show *s, int by)
{
    double best = by > 0 ? s->length_s : 0;
    for (size_t i = 0; i < s->events.count; i++) {
        double t = knot_map(s, s->events.at[i].t_s, false);
        if (by > 0 && t > s->at_s + 0.005 && t < best)
            best = t;
        if (by < 0 && t < s->at_s - 0.005 && t > best)
            best = t;
    }
    show_seek(s, best);
}

/* The audio clock where there is one; what is heard now left the player LEAD_S ago. */
static double elapsed_s(const struct show *s, double now_s)
{
    if (s->player && s->bank) {
        uint64_t now = player_now(s->player);
        double past = ((double)now - (double)s->start_frame) / player_rate_hz(s->player) - LEAD_S;
        return past > 0 ? past : 0;
    }
    return now_s - s->started_s;
}

bool show_tick(struct show *s, double now_s)
{
    if (s->player) {
        enum player_news news = player_poll(s->player);
        if (news == PLAYER_LOST)
            s->news = "The loudspeaker has gone; the clock goes on silently.";
        else if (news == PLAYER_FOUND)
            s->news = "The loudspeaker is back.";
        if (!player_idle(s->player))
            s->last_s = now_s;
    }
    if (!s->playing)
        return false;
    s->at_s = s->start_s + elapsed_s(s, now_s) * s->speed;
    if (s->player && s->bank)
        put_sounds(s);
    if (s->at_s >= s->length_s) {
        s->at_s = s->length_s;
        s->playing = false;
    }
    s->last_s = now_s;
    return true;
}

bool show_rest(struct show *s, double now_s)
{
    if (s->player && !s->playing && player_idle(s->player) && now_s - s->last_s > 4) {
        player_free(s->player);
        s->player = NULL;
    }
    return s->player != NULL;
}

void show_pose(const struct show *s, struct plate_pose *pose)
{
    if (s->knots > 0 && s->at_s < s->length_s)
        plate_pose_at(pose, &s->works, &s->before, &s->events, show_run_s(s));
    else
        plate_pose_rest(pose, &s->works, &s->now);
}

const struct event *show_event(const struct show *s)
{
    const struct event *last = NULL;
    double t = show_run_s(s);
    for (size_t i = 0; i < s->events.count && s->knots > 0; i++)
        if (s->events.at[i].t_s <= t + 1e-6)
            last = &s->events.at[i];
    return last;
}
