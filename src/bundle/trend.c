#include "bundle/trend.h"

#include <math.h>

#include "thrum/units.h"

/* How fast senders sag, dB per minute: most hardly, one in twenty in earnest. */
static const double SLIGHT_SD = 0.15;
static const double REAL_SD = 1.5;
static const double REAL_CHANCE = 0.05;
static const double REVEALED_ODDS = 10.0;

/* Sums over all repeats, about each wire's own mean. */
struct repeats {
    double tt, ty, yy; /* weighted sums of squares and products */
    int extra;         /* readings beyond the first of each wire */
};

static struct repeats about_own_mean(int n, const int *wire, const double *db, const double *variance,
                                     const double *minutes, double spread_db)
{
    double w[THRUM_MAX_WIRES] = {0}, t[THRUM_MAX_WIRES] = {0}, y[THRUM_MAX_WIRES] = {0};
    int count[THRUM_MAX_WIRES] = {0};
    for (int i = 0; i < n; i++) {
        double weight = 1.0 / (spread_db * spread_db + variance[i]);
        w[wire[i]] += weight;
        t[wire[i]] += weight * minutes[i];
        y[wire[i]] += weight * db[i];
        count[wire[i]]++;
    }
    struct repeats r = {0};
    for (int i = 0; i < n; i++) {
        int k = wire[i];
        double weight = 1.0 / (spread_db * spread_db + variance[i]);
        double dt = minutes[i] - t[k] / w[k], dy = db[i] - y[k] / w[k];
        r.tt += weight * dt * dt;
        r.ty += weight * dt * dy;
        r.yy += weight * dy * dy;
    }
    for (int k = 0; k < THRUM_MAX_WIRES; k++)
        r.extra += count[k] > 1 ? count[k] - 1 : 0;
    return r;
}

/* Posterior of a slope with a normal prior of the given sd: mean, variance, ln of its marginal likelihood. */
static void explain(struct repeats r, double sd, double *mean, double *variance, double *ln_weight)
{
    double precision = r.tt + 1.0 / (sd * sd);
    *mean = r.ty / precision;
    *variance = 1.0 / precision;
    *ln_weight = 0.5 * r.ty * r.ty / precision - 0.5 * log(precision * sd * sd);
}

struct thrum_trend thrum_trend_fit(int n, const int *wire, const double *db, const double *variance,
                                   const double *minutes, double prior_db, double prior_weight)
{
    /* The spread left after a free slope; the slope costs one repeat. */
    double spread_db = prior_db;
    struct repeats r = {0};
    for (int pass = 0; pass < 3; pass++) {
        r = about_own_mean(n, wire, db, variance, minutes, spread_db);
        double left = r.tt > 0.0 ? r.yy - r.ty * r.ty / r.tt : r.yy;
        double extra = r.extra > 1 ? r.extra - 1 : 0;
        double scale = (prior_weight * prior_db * prior_db / (spread_db * spread_db) + fmax(left, 0.0)) /
                       (prior_weight + extra);
        spread_db = fmax(spread_db * sqrt(scale), 0.05);
    }
    r = about_own_mean(n, wire, db, variance, minutes, spread_db);

    double slight, slight_variance, ln_slight, real, real_variance, ln_real;
    explain(r, SLIGHT_SD, &slight, &slight_variance, &ln_slight);
    explain(r, REAL_SD, &real, &real_variance, &ln_real);
    double odds = REAL_CHANCE / (1.0 - REAL_CHANCE) * exp(fmin(ln_real - ln_slight, 300.0));
    double chance = odds / (1.0 + odds);
    struct thrum_trend trend = {.revealed = odds >= REVEALED_ODDS};
    trend.db_per_min = trend.revealed ? real : 0.0;
    double off_slight = slight - trend.db_per_min, off_real = real - trend.db_per_min;
    trend.variance = (1.0 - chance) * (slight_variance + off_slight * off_slight) +
                     chance * (real_variance + off_real * off_real);
    return trend;
}
