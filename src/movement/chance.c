#include "movement/chance.h"

#include <stddef.h>

void chance_draw(struct chance *c, struct random *r)
{
    *c = (struct chance){.draw = r, .weight = 1};
}

void chance_script(struct chance *c, double least)
{
    *c = (struct chance){.weight = 1, .least = least};
}

void chance_rewind(struct chance *c)
{
    c->used = 0;
    c->weight = 1;
}

/* Weight of the branches taken before fork `depth`. */
static double weight_before(const struct chance *c, int depth)
{
    double w = 1;
    for (int i = 0; i < depth; i++)
        w *= (double)c->fork[i].p[c->fork[i].taken];
    return w;
}

/* The next branch of fork `at` worth walking; ways if none is left.  What is passed over is lost. */
static unsigned next_way(struct chance *c, int at)
{
    double before = weight_before(c, at);
    unsigned way = c->fork[at].taken + 1u;
    for (; way < c->fork[at].ways; way++) {
        double w = before * (double)c->fork[at].p[way];
        if (w >= c->least && w > 0)
            break;
        c->lost += w;
    }
    return way;
}

bool chance_next(struct chance *c)
{
    while (c->length > 0) {
        int at = c->length - 1;
        unsigned way = next_way(c, at);
        if (way < c->fork[at].ways) {
            c->fork[at].taken = (unsigned char)way;
            return true;
        }
        c->length--;
    }
    return false;
}

static unsigned draw_way(struct chance *c, const double *p, unsigned ways, double sum)
{
    double x = random_unit(c->draw) * sum;
    unsigned way = 0;
    for (; way + 1 < ways; way++) {
        x -= p[way];
        if (x < 0 && p[way] > 0)
            return way;
    }
    while (way > 0 && p[way] <= 0)
        way--;
    return way;
}

static unsigned likeliest(const double *p, unsigned ways)
{
    unsigned best = 0;
    for (unsigned i = 1; i < ways; i++)
        if (p[i] > p[best])
            best = i;
    return best;
}

/* Write down a fork met for the first time and take its first branch worth walking. */
static unsigned open_fork(struct chance *c, const double *p, unsigned ways, double sum)
{
    int at = c->length++;
    c->used++;
    c->fork[at].ways = (unsigned char)ways;
    for (unsigned i = 0; i < ways; i++)
        c->fork[at].p[i] = (float)(p[i] / sum);
    unsigned way = 0;
    for (; way < ways; way++) {
        double w = c->weight * (double)c->fork[at].p[way];
        if (w > 0 && w >= c->least)
            break;
        c->lost += w;
    }
    if (way == ways) { /* every branch too light: keep the likeliest, give back its weight */
        way = likeliest(p, ways);
        c->lost -= c->weight * (double)c->fork[at].p[way];
        c->fork[at].ways = (unsigned char)(way + 1);
    }
    c->fork[at].taken = (unsigned char)way;
    c->weight *= (double)c->fork[at].p[way];
    return way;
}

unsigned chance_pick(struct chance *c, const double *p, unsigned ways)
{
    double sum = 0;
    if (ways > CHANCE_WAYS)
        ways = CHANCE_WAYS;
    for (unsigned i = 0; i < ways; i++)
        sum += p[i];
    if (ways < 2 || sum <= 0)
        return 0;
    if (c->draw)
        return draw_way(c, p, ways, sum);
    if (c->used < c->length) {
        unsigned way = c->fork[c->used].taken;
        c->weight *= (double)c->fork[c->used++].p[way];
        return way < ways ? way : ways - 1;
    }
    if (c->length >= CHANCE_DEPTH)
        return likeliest(p, ways);
    return open_fork(c, p, ways, sum);
}

bool chance_yes(struct chance *c, double p)
{
    if (p <= 0)
        return false;
    if (p >= 1)
        return true;
    return chance_pick(c, (double[]){1 - p, p}, 2) == 1;
}
