#include "bundle/normal.h"

#include <math.h>

#include "thrum/units.h"

double thrum_normal_density(double x, double variance)
{
    return exp(-0.5 * x * x / variance) / sqrt(2.0 * THRUM_PI * variance);
}

double thrum_normal_below(double z)
{
    return 0.5 * erfc(-z * 0.70710678118654752440);
}

void thrum_normal_table_fill(struct thrum_normal_table *table)
{
    for (int i = 0; i < THRUM_NORMAL_TABLE_SIZE; i++) {
        double z = THRUM_NORMAL_TABLE_FROM + i * THRUM_NORMAL_TABLE_STEP;
        table->below[i] = thrum_normal_below(z);
        table->density[i] = thrum_normal_density(z, 1.0);
    }
}

double thrum_normal_ramp(double z)
{
    return fmax(z * thrum_normal_below(z) + thrum_normal_density(z, 1.0), 0.0);
}

double thrum_tail_density(double x, double variance, double scale)
{
    double sd = sqrt(variance);
    double z = x / sd - sd / scale;
    if (z > -6.0)
        return exp(0.5 * variance / (scale * scale) - x / scale) * thrum_normal_below(z) / scale;
    /* Far below: the product above would be huge times tiny. Mills' ratio, relative error below 1/z^4. */
    double mills = (1.0 - 1.0 / (z * z)) / -z;
    return thrum_normal_density(x, variance) * sd * mills / scale;
}

double thrum_tail_above(double x, double sd, double scale)
{
    return thrum_normal_below(-x / sd) + scale * thrum_tail_density(x, sd * sd, scale);
}
