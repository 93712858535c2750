/* move.c - hands carried round, and what a person can do.
 *
 * Between lobes only two things can happen: the snail's steep face meets the tail of a rack that
 * was left down, and the hands come to rest inside a warning.  Everything else is at a lobe.
 */
#include "movement/move.h"

#include <math.h>
#include <string.h>

#include "movement/passing_priv.h"
#include "movement/power.h"

#define LOW_SHARE 0.9 /* of the winding used when power is called low (ours) */
#define FACE_TEETH 3  /* a drop of the snail that a hanging tail cannot slide over */

static int wrap(int minutes)
{
    return ((minutes % 1440) + 1440) % 1440;
}

void moment_init(struct moment *m, const struct works *w, int work_min)
{
    *m = (struct moment){.work_min = wrap(work_min), .rest = rest_in_step(w, wrap(work_min))};
}

/* Hands on their pipes against the motion work; the hour hand counts in whole hours here,
 * a smaller error of it shows between the figures and is read as the nearer hour. */
static int hands_ahead(const struct works *w, int minute_off, int hour_off)
{
    int minute = (int)lround(works_par(w, PAR_minute_off_min)) + minute_off;
    int hour = (int)lround((works_par(w, PAR_hour_off_min) + hour_off) / 60);
    return minute + 60 * hour;
}

int moment_shown(const struct works *w, const struct moment *m)
{
    return wrap(m->work_min + hands_ahead(w, m->minute_off, m->hour_off));
}

int movement_work_at(const struct works *w, int shown_min)
{
    return wrap(shown_min - hands_ahead(w, 0, 0));
}

/* --- power used up ----------------------------------------------------------------------- */

static void use_power(const struct works *w, struct moment *m, struct event_list *out)
{
    for (int t = TRAIN_GOING; t < TRAINS; t++) {
        double all = power_capacity(w->clock, (enum event_train)t);
        enum power_level was = rest_power(m->rest, t), now = was;
        if (was == POWER_OUT || (t != TRAIN_GOING && !clock_train(w->clock, (enum event_train)t)))
            continue;
        if (m->used[t] >= all)
            now = POWER_OUT;
        else if (m->used[t] >= LOW_SHARE * all)
            now = POWER_LOW;
        if (now == was || now > was)
            continue;
        rest_set_power(&m->rest, t, now);
        if (now == POWER_OUT && out)
            event_list_add(out, (struct event){.t_s = m->t_s, .hand_min = (int16_t)moment_shown(w, m),
                                               .letoff = EVENT_NO_LETOFF, .kind = EVENT_POWER_OUT,
                                               .train = (uint8_t)t, .sounder = EVENT_NO_SOUNDER});
    }
}

/* --- the twelve-to-one face ---------------------------------------------------------------- */

static bool tail_is_sprung(const struct works *w)
{
    int set = (int)lround(works_par(w, PAR_tail_rigid));
    return set < 0 ? w->clock->train[TRAIN_STRIKE].sprung_tail : set == 0;
}

static const struct snail *hour_snail(const struct clock *c)
{
    const struct train *t = &c->train[TRAIN_STRIKE];
    for (int i = 0; t->control == CONTROL_RACK && i < c->lobes; i++)
        if (t->use[i].read == READ_SNAIL)
            return &t->snail[t->use[i].snail];
    return NULL;
}

/* True if turning from `m->work_min` one minute on brings a steep face against the hanging tail. */
static bool face_meets_tail(const struct works *w, const struct moment *m, const struct snail *s)
{
    const struct train *t = &w->clock->train[TRAIN_STRIKE];
    int down = rack_hanging(m, TRAIN_STRIKE);
    int here = rack_snail_teeth(w, t, s, m->work_min);
    int next = rack_snail_teeth(w, t, s, wrap(m->work_min + 1));
    return next < here && down - next >= FACE_TEETH;
}

/* Minutes, at most `most`, that the hands can go before the tail is met. */
static int free_minutes(const struct works *w, struct moment *m, int most)
{
    const struct snail *s = hour_snail(w->clock);
    if (!s || !rack_hanging(m, TRAIN_STRIKE))
        return most;
    struct moment ahead = *m;
    for (int i = 0; i < most; i++) {
        if (face_meets_tail(w, &ahead, s)) {
            if (!(tail_is_sprung(w) && s->bevelled))
                return i;
            int up = rack_snail_teeth(w, &w->clock->train[TRAIN_STRIKE], s, wrap(ahead.work_min + 1));
            m->rest.left = ahead.rest.left = (uint8_t)up; /* the tail climbs the slope */
        }
        ahead.work_min = wrap(ahead.work_min + 1);
    }
    return most;
}

static void note_at(const struct works *w, struct moment *m, enum event_kind kind,
                    enum event_train role, struct event_list *out)
{
    if (out)
        event_list_add(out, (struct event){.t_s = m->t_s, .hand_min = (int16_t)moment_shown(w, m),
                                           .letoff = EVENT_NO_LETOFF, .kind = (uint8_t)kind,
                                           .train = (uint8_t)role, .sounder = EVENT_NO_SOUNDER});
}

/* --- turning ------------------------------------------------------------------------------- */

static bool hands_held(struct moment *m, enum turner by)
{
    switch (m->rest.stuck) {
    case STUCK_HANDS:
    case STUCK_GOING: /* a finger turns the hands all the same */
        if (by == BY_TIME)
            return true;
        if (m->rest.stuck == STUCK_HANDS)
            m->rest.stuck = STUCK_NOT;
        return false;
    case STUCK_TAIL:
    case STUCK_WARNING:
        return true;
    default:
        return false;
    }
}

static void pass_minutes(struct moment *m, int minutes, enum turner by)
{
    m->work_min = wrap(m->work_min + minutes);
    m->t_s += minutes * (by == BY_TIME ? 60.0 : 0.5);
    if (by == BY_TIME)
        m->used[TRAIN_GOING] += minutes / 1440.0;
}

static double last_event_s(const struct event_list *out, size_t from, double t_s)
{
    for (size_t i = from; out && i < out->count; i++)
        if (out->at[i].t_s > t_s)
            t_s = out->at[i].t_s;
    return t_s;
}

static void turn_over_lobe(const struct works *w, struct moment *m, enum turner by,
                           struct chance *chance, struct event_list *out)
{
    size_t before = out ? out->count : 0;
    movement_letoff(w, m, clock_lobe_at(w->clock, m->work_min), by, chance, out);
    if (by == BY_HAND) /* the finger waits until all is quiet */
        m->t_s = last_event_s(out, before, m->t_s);
    use_power(w, m, out);
}

static int turn_forward(const struct works *w, struct moment *m, int minutes, enum turner by,
                        struct chance *chance, struct event_list *out)
{
    int done = 0;
    while (done < minutes && !hands_held(m, by)) {
        int to_lobe = clock_next_lobe(w->clock, m->work_min);
        int step = to_lobe < minutes - done ? to_lobe : minutes - done;
        int free = free_minutes(w, m, step);
        pass_minutes(m, free, by);
        done += free;
        if (free < step) {
            m->rest.stuck = STUCK_TAIL;
            note_at(w, m, EVENT_JAM, TRAIN_GOING, out);
            break;
        }
        use_power(w, m, out);
        if (by == BY_TIME && rest_power(m->rest, TRAIN_GOING) == POWER_OUT) {
            m->rest.stuck = STUCK_GOING;
            break;
        }
        if (step == to_lobe) {
            int at = m->work_min;
            turn_over_lobe(w, m, by, chance, out);
            done -= (at - m->work_min + 1440) % 1440; /* a stall leaves the hands short of it */
        }
    }
    return done;
}

/* Let the train that waits in the warning go, because the lifting piece has dropped. */
static void drop_out_of_warning(const struct works *w, struct moment *m, int lobe,
                                struct chance *chance, struct event_list *out)
{
    struct passing p = {.w = w, .c = w->clock, .m = m, .chance = chance, .out = out, .lobe = lobe,
                        .by = BY_HAND, .work_min = m->work_min, .base_s = m->t_s, .t_s = m->t_s,
                        .lift = 1, .phase = -1};
    bool chime = m->rest.flags & REST_WARNED_CHIME, strike = m->rest.flags & REST_WARNED_STRIKE;
    m->rest.flags &= (uint8_t) ~(REST_WARNED_CHIME | REST_WARNED_STRIKE);
    if (chime)
        passing_release(&p, TRAIN_CHIME, lobe);
    if (strike)
        passing_release(&p, TRAIN_STRIKE, lobe);
    m->letoff++;
    m->t_s = p.t_s > m->t_s ? p.t_s : m->t_s;
}

static int turn_back(const struct works *w, struct moment *m, int minutes, enum turner by,
                     struct chance *chance, struct event_list *out)
{
    const struct clock *c = w->clock;
    bool warned = m->rest.flags & (REST_WARNED_CHIME | REST_WARNED_STRIKE);
    int ahead = clock_next_lobe(c, m->work_min), done = 0;
    if (warned && c->back == BACK_UNLESS_WARNED)
        return 0;
    if (m->rest.stuck == STUCK_HANDS || m->rest.stuck == STUCK_TAIL)
        m->rest.stuck = STUCK_NOT;
    if (m->rest.stuck == STUCK_WARNING)
        return 0;
    for (; done < minutes; done++) {
        if (clock_lobe_at(c, m->work_min) >= 0 && done > 0 && c->back == BACK_NO)
            break;
        pass_minutes(m, -1, BY_HAND);
        m->t_s += 1.0; /* time goes on though the hands go back */
        if (warned && ahead + done + 1 > c->warn_min) {
            drop_out_of_warning(w, m, clock_lobe_at(c, wrap(m->work_min + ahead + done + 1)), chance,
                                out);
            warned = false;
        }
    }
    (void)by;
    return -done;
}

/* Hands left standing within the warning of the next lobe: the train has run up. */
static void rest_in_warning(const struct works *w, struct moment *m, struct event_list *out)
{
    const struct clock *c = w->clock;
    int ahead = clock_next_lobe(c, m->work_min);
    int lobe = clock_lobe_at(c, wrap(m->work_min + ahead));
    if (m->rest.stuck || ahead > c->warn_min)
        return;
    for (int i = TRAIN_STRIKE; i <= TRAIN_CHIME; i++) {
        const struct train *t = clock_train(c, (enum event_train)i);
        uint8_t flag = i == TRAIN_CHIME ? REST_WARNED_CHIME : REST_WARNED_STRIKE;
        if (!t || t->by != BY_LOBES || t->flirt || t->use[lobe].read == READ_NOTHING ||
            t->use[lobe].read == READ_PASSING || rest_power(m->rest, i) == POWER_OUT ||
            (m->rest.flags & flag))
            continue;
        if (i == TRAIN_CHIME && (m->rest.flags & REST_CORRECTOR) && !c->lobe[lobe].tall)
            continue;
        m->rest.flags |= flag;
        note_at(w, m, EVENT_WARN, (enum event_train)i, out);
    }
}

int movement_turn(const struct works *w, struct moment *m, int minutes, enum turner by,
                  struct chance *chance, struct event_list *out)
{
    int done;
    if (minutes < 0)
        done = turn_back(w, m, -minutes, by, chance, out);
    else
        done = turn_forward(w, m, minutes, by, chance, out);
    if (by != BY_TIME)
        rest_in_warning(w, m, out);
    return done;
}

/* --- what a person may do -------------------------------------------------------------------- */

static const char *const action_names[ACTIONS] = {
    [ACTION_TRIP_STRIKE] = "trip_strike",     [ACTION_TRIP_CHIME] = "trip_chime",
    [ACTION_WIND] = "wind",                   [ACTION_WIND_TRAIN] = "wind_train",
    [ACTION_PULL_WEIGHT] = "pull_weight",     [ACTION_FREE] = "free",
    [ACTION_HOUR_HAND] = "hour_hand",         [ACTION_MINUTE_BUSH] = "minute_bush",
    [ACTION_SILENT_STRIKE] = "silent_strike", [ACTION_SILENT_CHIME] = "silent_chime",
    [ACTION_TUNE] = "tune",                   [ACTION_DRUM] = "drum",
};

const char *action_name(enum action a)
{
    return action_names[a];
}

int action_of(const char *name)
{
    for (int i = 0; i < ACTIONS; i++)
        if (!strcmp(action_names[i], name))
            return i;
    return -1;
}

static int first_lobe_of(const struct clock *c, enum event_train role)
{
    for (int i = 0; i < c->lobes; i++)
        if (c->train[role].use[i].read != READ_NOTHING && c->train[role].use[i].read != READ_PASSING)
            return i;
    return 0;
}

/* Trip by wire or lever: what the hands would do at the lobe, without the hands. */
static bool trip(const struct works *w, struct moment *m, enum event_train role,
                 struct chance *chance, struct event_list *out)
{
    const struct clock *c = w->clock;
    if (!clock_train(c, role) || !(role == TRAIN_STRIKE ? c->trip_strike : c->trip_chime))
        return false;
    struct passing p = {.w = w, .c = c, .m = m, .chance = chance, .out = out,
                        .lobe = first_lobe_of(c, role), .by = BY_HAND, .work_min = m->work_min,
                        .base_s = m->t_s, .t_s = m->t_s, .lift = 1.2, .phase = -1};
    if (role == TRAIN_CHIME)
        m->rest.flags &= (uint8_t)~REST_CORRECTOR; /* the lever throws the corrector off too */
    passing_release(&p, role, p.lobe);
    m->letoff++;
    m->t_s = p.t_s + 1;
    return true;
}

static void unstick(struct moment *m, enum event_train role)
{
    static const uint8_t own[TRAINS] = {STUCK_GOING, STUCK_STRIKE, STUCK_CHIME, STUCK_MUSIC};
    if (m->rest.stuck == own[role])
        m->rest.stuck = STUCK_NOT;
}

/* A rack that was left down while its train had no power is gathered as soon as it has some. */
static void gather_hanging(const struct works *w, struct moment *m, struct chance *chance,
                           struct event_list *out)
{
    const struct train *t = &w->clock->train[TRAIN_STRIKE];
    if (t->control != CONTROL_RACK || !rack_hanging(m, TRAIN_STRIKE))
        return;
    struct passing p = {.w = w, .c = w->clock, .m = m, .chance = chance, .out = out, .by = BY_HAND,
                        .work_min = m->work_min, .base_s = m->t_s, .t_s = m->t_s, .lift = 1,
                        .phase = -1};
    if (works_par(w, PAR_rack_reach) > 0.5) /* it swung past the pallet: nothing gathers it */
        m->rest.flags |= REST_RACK_LOST;
    struct run run = rack_gather(&p, TRAIN_STRIKE, first_lobe_of(w->clock, TRAIN_STRIKE));
    passing_emit(&p, EVENT_RELEASE, TRAIN_STRIKE, -1, 0, 0);
    hammer_run(&p, &run);
    m->letoff++;
    m->t_s = p.t_s + 1;
}

static void wind_one(const struct works *w, struct moment *m, enum event_train role,
                     struct chance *chance, struct event_list *out)
{
    if (role != TRAIN_GOING && !clock_train(w->clock, role))
        return;
    bool was_out = rest_power(m->rest, role) == POWER_OUT;
    m->used[role] = 0;
    rest_set_power(&m->rest, role, POWER_GOOD);
    if (role == TRAIN_GOING && m->rest.stuck == STUCK_GOING)
        m->rest.stuck = STUCK_NOT;
    if (was_out && role == TRAIN_STRIKE)
        gather_hanging(w, m, chance, out);
}

static bool set_flag(struct moment *m, bool allowed, uint8_t flag, int on)
{
    if (!allowed)
        return false;
    m->rest.flags = (uint8_t)(on ? m->rest.flags | flag : m->rest.flags & ~flag);
    return true;
}

static bool do_train(const struct works *w, struct moment *m, enum action a, int amount,
                     struct chance *chance, struct event_list *out)
{
    if (amount < TRAIN_GOING || amount >= TRAINS)
        return false;
    if (a == ACTION_WIND_TRAIN)
        wind_one(w, m, (enum event_train)amount, chance, out);
    else {
        unstick(m, (enum event_train)amount);
        if (amount == TRAIN_STRIKE && rest_power(m->rest, amount) != POWER_OUT)
            gather_hanging(w, m, chance, out);
    }
    return true;
}

static bool slip_drum(const struct works *w, struct moment *m, int amount)
{
    const struct train *t = &w->clock->train[TRAIN_CHIME];
    int n = t->tunes ? t->tune[0]->changes : 0;
    if (!n)
        return false;
    m->rest.drum = (uint8_t)((((m->rest.drum + amount) % n) + n) % n);
    return true;
}

bool movement_do(const struct works *w, struct moment *m, enum action a, int amount,
                 struct chance *chance, struct event_list *out)
{
    const struct clock *c = w->clock;
    switch (a) {
    case ACTION_TRIP_STRIKE:
        return trip(w, m, TRAIN_STRIKE, chance, out);
    case ACTION_TRIP_CHIME:
        return trip(w, m, TRAIN_CHIME, chance, out);
    case ACTION_WIND:
        for (int t = 0; t < TRAINS; t++)
            wind_one(w, m, (enum event_train)t, chance, out);
        return true;
    case ACTION_WIND_TRAIN:
    case ACTION_PULL_WEIGHT:
        return do_train(w, m, a, amount, chance, out);
    case ACTION_FREE: /* a rack that swung out of reach is put back in action too */
        m->rest.stuck = STUCK_NOT;
        m->rest.flags &= (uint8_t)~REST_RACK_LOST;
        return true;
    case ACTION_HOUR_HAND:
        if (c->hour_hand_keyed)
            return false;
        m->hour_off += amount;
        return true;
    case ACTION_MINUTE_BUSH:
        if (!c->minute_bush && !(c->minute_square && amount % 15 == 0))
            return false;
        m->minute_off += amount;
        return true;
    case ACTION_SILENT_STRIKE:
        return set_flag(m, c->silent_strike, REST_SILENT_STRIKE, amount);
    case ACTION_SILENT_CHIME:
        return set_flag(m, c->silent_chime, REST_SILENT_CHIME, amount);
    case ACTION_TUNE:
        if (amount < 0 || amount >= (c->hours_selector ? 2 : c->selector ? c->train[TRAIN_CHIME].tunes : 0))
            return false;
        m->rest.tune = (uint8_t)((m->rest.tune & 0xf0) | amount);
        return true;
    case ACTION_DRUM:
        return slip_drum(w, m, amount);
    case ACTIONS:
        break;
    }
    return false;
}
