#include "bundle/placement.h"

#include <math.h>
#include <string.h>

#include "bundle/trend.h"

/* A touch that heard nothing, held against readings of the same wire that lie above its limit. */
#define BELOW_LIMIT_DB 1.0
#define LIMIT_VARIANCE 4.0

/* Hands differ, but a spread beyond this many times the usual one is hardly met: ln of how rare it is, at most. */
#define MOST_TIMES 2.2
#define UNHEARD_OF 8.0

static void add(struct thrum_placement *p, int wire, double db, double variance, double minutes, double *at)
{
    p->wire[p->n] = wire;
    p->db[p->n] = db;
    p->variance[p->n] = variance;
    at[p->n] = minutes;
    p->n++;
}

/* A wire heard in one touch and not in another, below what was heard: the silent touch counts as a low reading. */
static void add_silent_touches(struct thrum_placement *p, const struct thrum_touch *touches, int n_touches,
                               double *at)
{
    double sum[THRUM_MAX_WIRES] = {0};
    for (int i = 0; i < p->n; i++)
        sum[p->wire[i]] += p->db[i];
    for (int i = 0; i < n_touches; i++) {
        const struct thrum_touch *t = &touches[i];
        if (!t->heard && p->heard[t->wire] > 0 && sum[t->wire] / p->heard[t->wire] > t->high_db)
            add(p, t->wire, t->high_db - BELOW_LIMIT_DB, LIMIT_VARIANCE, t->at_s / 60.0, at);
    }
}

static void take_trend_out(struct thrum_placement *p, const double *at)
{
    struct thrum_trend trend =
        thrum_trend_fit(p->n, p->wire, p->db, p->variance, at, p->prior_db, p->prior_weight);
    double middle = 0.0;
    for (int i = 0; i < p->n; i++)
        middle += at[i] / p->n;
    for (int i = 0; i < p->n; i++) {
        double dt = at[i] - middle;
        p->db[i] -= trend.db_per_min * dt;
        p->variance[i] += trend.variance * dt * dt;
    }
    p->trend_revealed = trend.revealed;
    p->trend_db_per_min = trend.db_per_min;
}

/* Needs the levels, so everything else of the placement. */
static void set_apart(struct thrum_placement *p, const bool *excluded)
{
    struct thrum_levels levels;
    double most_db = -(double)INFINITY;
    thrum_placement_levels(p, p->prior_db, &levels);
    for (int k = 0; k < p->n_wires; k++)
        if (!excluded[k] && p->heard[k] > 0)
            most_db = fmax(most_db, levels.mean_db[k]);
    for (int k = 0; k < p->n_wires; k++)
        p->apart[k] = excluded[k] && p->heard[k] > 0 && levels.mean_db[k] > most_db;
}

void thrum_placement_collect(struct thrum_placement *p, const struct thrum_pick_config *config, int n_wires,
                             const struct thrum_touch *touches, int n_touches)
{
    double at[THRUM_MAX_READINGS];
    memset(p, 0, sizeof *p);
    p->n_wires = n_wires;
    p->prior_db = config->placement_db;
    p->prior_weight = config->placement_weight;
    for (int i = 0; i < n_wires; i++)
        p->limit_db[i] = (double)INFINITY;
    for (int i = 0; i < n_touches; i++) {
        const struct thrum_touch *t = &touches[i];
        p->touches[t->wire]++;
        if (t->heard) {
            p->heard[t->wire]++;
            add(p, t->wire, t->dbfs, t->sd_db * t->sd_db, t->at_s / 60.0, at);
        } else {
            p->limit_db[t->wire] = fmin(p->limit_db[t->wire], t->high_db);
        }
    }
    add_silent_touches(p, touches, n_touches, at);
    take_trend_out(p, at);
    set_apart(p, config->excluded);
}

void thrum_placement_levels(const struct thrum_placement *p, double spread_db, struct thrum_levels *levels)
{
    double weight[THRUM_MAX_WIRES] = {0}, sum[THRUM_MAX_WIRES] = {0};
    double ln_fit = 0.0;
    for (int i = 0; i < p->n; i++) {
        double w = 1.0 / (spread_db * spread_db + p->variance[i]);
        weight[p->wire[i]] += w;
        sum[p->wire[i]] += w * p->db[i];
        ln_fit += 0.5 * log(w);
    }
    for (int k = 0; k < p->n_wires; k++) {
        levels->mean_db[k] = weight[k] > 0.0 ? sum[k] / weight[k] : THRUM_FLOOR_DBFS;
        levels->variance[k] = weight[k] > 0.0 ? 1.0 / weight[k] : 0.0;
        if (weight[k] > 0.0)
            ln_fit -= 0.5 * log(weight[k]);
    }
    for (int i = 0; i < p->n; i++) {
        double off = p->db[i] - levels->mean_db[p->wire[i]];
        ln_fit -= 0.5 * off * off / (spread_db * spread_db + p->variance[i]);
    }
    levels->ln_fit = ln_fit;
}

int thrum_placement_repeats(const struct thrum_placement *p)
{
    int wires = 0;
    for (int k = 0; k < p->n_wires; k++)
        wires += p->heard[k] > 0;
    return p->n - wires;
}

double thrum_placement_ln_prior(const struct thrum_placement *p, double spread_db)
{
    double ratio = p->prior_db * p->prior_db / (spread_db * spread_db);
    double excess = pow(spread_db / (MOST_TIMES * p->prior_db), 6.0);
    return 0.5 * p->prior_weight * (log(ratio) - ratio) - excess / (1.0 + excess / UNHEARD_OF);
}
