#include "bundle/slice.h"

#include <math.h>

#include "base/order.h"

/* Of the wires outside the cluster, those that carry the sender like the driven one: spliced to it. */
#define SPLICED_SHARE 0.05

/* What is not heard: the limit is the 97.5 % point, and the threshold itself is this soft. */
#define LIMIT_SD_DB 1.0
#define LIMIT_POINT 1.96

#define REACH 4.5 /* standard errors that are looked at on either side */

/* Middle of the levels; limits count as their value. */
static void set_median(struct thrum_slice *s)
{
    double sorted[THRUM_MAX_WIRES] = {0};
    int n_heard = 0;
    for (int j = 0; j < s->n; j++) {
        sorted[j] = s->level[j].db;
        n_heard += s->level[j].heard;
    }
    thrum_order(sorted, s->n);
    s->mostly_heard = 2 * n_heard > s->n;
    s->median_db = 0.5 * (sorted[(s->n - 1) / 2] + sorted[s->n / 2]);
}

static void set_outside(struct thrum_slice *s)
{
    double top = -(double)INFINITY;
    for (int j = 0; j < s->n; j++)
        if (s->level[j].heard)
            top = fmax(top, s->level[j].db);
    for (int j = 0; j < s->n; j++)
        s->outside[j] = thrum_level_loose(&s->level[j], top + sqrt(s->level[j].variance));
}

void thrum_slice_levels(struct thrum_slice *s, const struct thrum_placement *p, double spread_db)
{
    struct thrum_levels levels;
    thrum_placement_levels(p, spread_db, &levels);
    s->n = 0;
    for (int k = 0; k < p->n_wires; k++) {
        if (p->touches[k] == 0 || p->apart[k])
            continue;
        struct thrum_level *level = &s->level[s->n];
        level->heard = p->heard[k] > 0;
        level->db = level->heard ? levels.mean_db[k] : p->limit_db[k] - LIMIT_POINT * LIMIT_SD_DB;
        level->variance =
            level->heard ? levels.variance[k] : spread_db * spread_db + LIMIT_SD_DB * LIMIT_SD_DB;
        s->wire[s->n++] = k;
    }
    set_median(s);
    set_outside(s);
    s->ln_scale = levels.ln_fit + thrum_placement_ln_prior(p, spread_db);
}

/* Levels the driven wire may have: around the strongest, and far above if wires are left untouched. */
static void set_driven_nodes(struct thrum_slice *s, bool untouched)
{
    enum { BEYOND = 8 }; /* points far above all readings */
    double low = -(double)INFINITY, high = -(double)INFINITY, least = (double)INFINITY;
    for (int j = 0; j < s->n; j++) {
        double reach = REACH * sqrt(s->level[j].variance);
        high = fmax(high, s->level[j].heard ? s->level[j].db + reach : s->level[j].db);
        if (s->level[j].heard)
            low = fmax(low, s->level[j].db - reach);
    }
    for (int j = 0; j < s->n; j++) {
        double sd = sqrt(s->level[j].variance);
        if (s->level[j].heard && s->level[j].db + REACH * sd > low)
            least = fmin(least, sd);
    }
    int most = THRUM_DRIVEN_NODES - BEYOND;
    double step = fmax(least, (high - low) / (most - 1));
    s->n_driven = 0;
    for (double a = low; a < high + step && s->n_driven < most; a += step)
        s->driven_db[s->n_driven++] = a;
    for (int i = 0; untouched && i < BEYOND; i++) {
        step *= 1.5;
        s->driven_db[s->n_driven] = s->driven_db[s->n_driven - 1] + step;
        s->n_driven++;
    }
    for (int k = 0; k < s->n_driven; k++) {
        double left = k > 0 ? s->driven_db[k] - s->driven_db[k - 1] : 0.0;
        double right = k + 1 < s->n_driven ? s->driven_db[k + 1] - s->driven_db[k] : 0.0;
        s->driven_width[k] = 0.5 * (left + right);
    }
}

static void set_driven_likelihoods(struct thrum_slice *s)
{
    for (int j = 0; j < s->n; j++) {
        for (int k = 0; k < s->n_driven; k++) {
            double driven = s->scale[j] * thrum_level_if_driven(&s->level[j], s->driven_db[k]);
            double loose = s->scale[j] * thrum_level_loose(&s->level[j], s->driven_db[k]);
            s->if_driven[k][j] = driven;
            s->loose[k][j] = (1.0 - SPLICED_SHARE) * loose + SPLICED_SHARE * driven;
        }
    }
}

void thrum_slice_driven(struct thrum_slice *s, bool untouched)
{
    set_driven_nodes(s, untouched);
    set_driven_likelihoods(s);
}

/* Where the middle of a cluster of the given spread is, and how well that is known: a few rounds of weighing every
 * wire by its chance of belonging to the cluster. */
void thrum_slice_find_middle(const struct thrum_slice *s, double spread_db, double *middle_db, double *width)
{
    static const double OUTSIDE = 0.01; /* density of wires outside, per dB, for this purpose */
    enum { PASSES = 5 };
    *middle_db = s->median_db;
    *width = 0.0;
    for (int pass = 0; pass < PASSES && s->mostly_heard; pass++) {
        double sum = 0.0, weight = 1e-9;
        for (int j = 0; j < s->n; j++) {
            if (!s->level[j].heard)
                continue;
            double inside = thrum_level_in_cluster(&s->level[j], *middle_db, spread_db);
            double w = inside / (inside + OUTSIDE) / (s->level[j].variance + spread_db * spread_db);
            sum += w * s->level[j].db;
            weight += w;
        }
        *middle_db = (sum + 1e-9 * *middle_db) / weight;
        *width = 1.0 / sqrt(weight);
    }
}

/* Middles to integrate over: around the best, or, when most wires are not heard, all the way down from the limits. */
void thrum_slice_middles(struct thrum_slice *s, double middle_db, double width)
{
    enum { HALF = 3 };
    if (!s->mostly_heard) {
        s->n_middle = THRUM_MIDDLE_NODES;
        s->middle_width = 5.0;
        for (int q = 0; q < s->n_middle; q++)
            s->middle_db[q] = middle_db + 5.0 - s->middle_width * q;
        return;
    }
    s->n_middle = 2 * HALF + 1;
    s->middle_width = fmin(width, 20.0) * 1.25;
    for (int q = 0; q < s->n_middle; q++)
        s->middle_db[q] = middle_db + (q - HALF) * s->middle_width;
}

/* ln of the likelihood of all wires in one cluster and its loose wires, for every share of those. */
static void fit_cluster(const struct thrum_slice *s, double middle_db, double spread_db,
                        double ln_fit[THRUM_LOOSE_SHARES])
{
    enum { CHUNK = 8 }; /* densities multiplied before the logarithm is taken */
    double product[THRUM_LOOSE_SHARES];
    for (int u = 0; u < THRUM_LOOSE_SHARES; u++) {
        ln_fit[u] = 0.0;
        product[u] = 1.0;
    }
    for (int j = 0; j < s->n; j++) {
        double in = thrum_level_in_cluster(&s->level[j], middle_db, spread_db);
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            product[u] *=
                thrum_loose_share[u].value * s->outside[j] + (1.0 - thrum_loose_share[u].value) * in;
        if (j % CHUNK != CHUNK - 1 && j + 1 < s->n)
            continue;
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++) {
            ln_fit[u] += log(product[u]);
            product[u] = 1.0;
        }
    }
}

void thrum_slice_look(const struct thrum_slice *s, struct thrum_look *look)
{
    look->best = -(double)INFINITY;
    for (int t = 0; t < THRUM_CLUSTER_SPREADS; t++) {
        double spread_db = thrum_cluster_spread_db[t].value;
        thrum_slice_find_middle(s, spread_db, &look->middle_db[t], &look->width[t]);
        fit_cluster(s, look->middle_db[t], spread_db, look->ln_fit[t]);
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            look->best = fmax(look->best, look->ln_fit[t][u]);
    }
}

void thrum_slice_scale(struct thrum_slice *s, const struct thrum_look *look)
{
    int best_t = 0, best_u = 0;
    for (int t = 0; t < THRUM_CLUSTER_SPREADS; t++)
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            if (look->ln_fit[t][u] > look->ln_fit[best_t][best_u]) {
                best_t = t;
                best_u = u;
            }
    double share = thrum_loose_share[best_u].value, spread_db = thrum_cluster_spread_db[best_t].value;
    for (int j = 0; j < s->n; j++)
        s->scale[j] =
            1.0 / (share * s->outside[j] +
                   (1.0 - share) * thrum_level_in_cluster(&s->level[j], look->middle_db[best_t], spread_db));
    s->ln_scale += look->best;
}
