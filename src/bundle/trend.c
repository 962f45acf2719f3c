#include "bundle/trend.h"

#include <math.h>

#include "base/order.h"
#include "thrum/units.h"

/* How fast senders sag, dB per minute: most hardly, one in twenty in earnest. */
#define SLIGHT_SD     0.15
#define REAL_SD       1.5
#define REAL_CHANCE   0.05
#define REVEALED_ODDS 10.0

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

static double median(double *x, int n)
{
    thrum_order(x, n);
    return 0.5 * (x[(n - 1) / 2] + x[n / 2]);
}

/* The same from all readings about their common middle, strays pulled in. Wires lie as they lie, so this proves no
 * trend; but where all wires read alike from first to last there can be none. */
static struct repeats about_common_middle(int n, const double *db, const double *minutes, double least_sd)
{
    static const double SD_PER_DEVIATION = 1.4826; /* of a normal distribution, over its median deviation */
    static const double STRAY = 2.0;
    double x[THRUM_MAX_READINGS], t = 0.0;
    struct repeats r = {0};
    if (n < 3)
        return r;
    for (int i = 0; i < n; i++) {
        x[i] = db[i];
        t += minutes[i] / n;
    }
    double middle = median(x, n);
    for (int i = 0; i < n; i++)
        x[i] = fabs(db[i] - middle);
    double sd = fmax(SD_PER_DEVIATION * median(x, n), least_sd);
    for (int i = 0; i < n; i++) {
        double off = fmax(fmin(db[i] - middle, STRAY * sd), -STRAY * sd);
        r.tt += (minutes[i] - t) * (minutes[i] - t) / (sd * sd);
        r.ty += (minutes[i] - t) * off / (sd * sd);
    }
    return r;
}

/* Posterior of a slope with a normal prior of the given sd, and ln of its marginal likelihood. */
struct slope {
    double mean, variance, ln_weight;
};

static struct slope explain(struct repeats r, double sd)
{
    double precision = r.tt + 1.0 / (sd * sd);
    return (struct slope){r.ty / precision, 1.0 / precision,
                          0.5 * r.ty * r.ty / precision - 0.5 * log(precision * sd * sd)};
}

static double odds_of(struct slope real, struct slope slight)
{
    return REAL_CHANCE / (1.0 - REAL_CHANCE) * exp(fmin(real.ln_weight - slight.ln_weight, 300.0));
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

    struct slope slight = explain(r, SLIGHT_SD), real = explain(r, REAL_SD);
    struct thrum_trend trend = {.revealed = odds_of(real, slight) >= REVEALED_ODDS};
    trend.db_per_min = trend.revealed ? real.mean : 0.0;

    struct repeats across = about_common_middle(n, db, minutes, spread_db);
    r.tt += across.tt;
    r.ty += across.ty;
    slight = explain(r, SLIGHT_SD);
    real = explain(r, REAL_SD);
    double odds = odds_of(real, slight);
    double off_slight = slight.mean - trend.db_per_min, off_real = real.mean - trend.db_per_min;
    trend.variance = (slight.variance + off_slight * off_slight) / (1.0 + odds) +
                     (real.variance + off_real * off_real) * odds / (1.0 + odds);
    return trend;
}
