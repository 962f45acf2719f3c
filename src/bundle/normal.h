/** @file normal.h
 *  The normal distribution and its neighbours, as the comparison needs them. All arguments finite.
 */
#ifndef THRUM_BUNDLE_NORMAL_H
#define THRUM_BUNDLE_NORMAL_H

/** Density at x of a normal distribution with mean 0 and the given variance (> 0). */
double thrum_normal_density(double x, double variance);

/** Chance that a standard normal value lies below z. */
double thrum_normal_below(double z);

#define THRUM_NORMAL_TABLE_FROM (-6.0)
#define THRUM_NORMAL_TABLE_TO   4.5
#define THRUM_NORMAL_TABLE_STEP (1.0 / 64.0)
#define THRUM_NORMAL_TABLE_SIZE 673

/** thrum_normal_below() where it is asked for most, for quick answers. */
struct thrum_normal_table {
    double below[THRUM_NORMAL_TABLE_SIZE], density[THRUM_NORMAL_TABLE_SIZE];
};
void thrum_normal_table_fill(struct thrum_normal_table *table);

/** thrum_normal_below(z): within the table to 3e-9 of it, by Taylor's series from the nearest step; beyond it the same. */
static inline double thrum_normal_table_below(const struct thrum_normal_table *table, double z)
{
    if (!(z >= THRUM_NORMAL_TABLE_FROM && z <= THRUM_NORMAL_TABLE_TO))
        return thrum_normal_below(z);
    int i = (int)((z - THRUM_NORMAL_TABLE_FROM) / THRUM_NORMAL_TABLE_STEP + 0.5);
    double at = THRUM_NORMAL_TABLE_FROM + i * THRUM_NORMAL_TABLE_STEP, d = z - at;
    /* the derivatives of the density are its products with Hermite polynomials */
    double series = 1.0 + d * (-at / 2.0 + d * ((at * at - 1.0) / 6.0 + d * (3.0 - at * at) * at / 24.0));
    return table->below[i] + table->density[i] * d * series;
}

/** Integral of thrum_normal_below() from minus infinity to z: the mean of what a standard normal value leaves of z, where
 * it leaves any. */
double thrum_normal_ramp(double z);

/**
 * Density at x of G + E, G normal with mean 0 and the given variance (> 0), E exponential with mean scale (> 0):
 * a level that lies above 0 by an exponential amount, measured with a normal error. For one below 0 take -x.
 */
double thrum_tail_density(double x, double variance, double scale);

/** Chance that G + E of thrum_tail_density() exceeds x; sd > 0. */
double thrum_tail_above(double x, double sd, double scale);

#endif
