#include "round/riding.h"

#include <math.h>

#define SURE     4.5  /* standard errors */
#define LEAST_DB 0.04 /* honest touches have no bias of this size */
#define MOST     0.6  /* of the readings point the same way */

enum { LEAST_READINGS = 3 };

/* What the readings that could tell say together. */
struct told {
    int n, louder;
    double weights, squares, sum; /* of the weights, of their squares, of what they weigh */
};

/* Every reading weighed by its own error and by what touches differ beyond their errors. */
static struct told weigh(const struct thrum_reading *readings, int n, double between)
{
    struct told told = {0};
    for (int i = 0; i < n; i++) {
        double sd = readings[i].breath_sd_db;
        if (!(sd > 0.0))
            continue;
        double weight = 1.0 / (sd * sd + between);
        told.weights += weight;
        told.squares += weight * weight;
        told.sum += weight * readings[i].breath_db;
        told.n++;
        told.louder += readings[i].breath_db > 0.0;
    }
    return told;
}

/* Variance from touch to touch, after DerSimonian and Laird (Controlled Clinical Trials 7, 1986, from memory): hum that wobbles in
 * time with the beeps is no error of one beep against the next, but does as it likes in the next touch. */
static double variance_between(const struct thrum_reading *readings, int n)
{
    struct told told = weigh(readings, n, 0.0);
    double mean = told.sum / told.weights, q = 0.0;
    for (int i = 0; i < n; i++) {
        double sd = readings[i].breath_sd_db, off = readings[i].breath_db - mean;
        q += sd > 0.0 ? off * off / (sd * sd) : 0.0;
    }
    double share = told.weights - told.squares / told.weights;
    return share > 0.0 ? fmax(q - (told.n - 1), 0.0) / share : 0.0;
}

struct thrum_riding thrum_riding_together(const struct thrum_reading *readings, int n)
{
    struct told told = weigh(readings, n, 0.0);
    if (told.n == 0)
        return (struct thrum_riding){0};
    told = weigh(readings, n, variance_between(readings, n));
    return (struct thrum_riding){told.n, told.louder, told.sum / told.weights, 1.0 / sqrt(told.weights)};
}

void thrum_riding_mark(struct thrum_reading *readings, int n)
{
    struct thrum_riding all = thrum_riding_together(readings, n);
    if (all.n < LEAST_READINGS || all.louder < MOST * all.n || all.db - SURE * all.sd_db < LEAST_DB)
        return;
    for (int i = 0; i < n; i++)
        if (readings[i].breath_sd_db > 0.0)
            readings[i].faults |= THRUM_FAULT_GAIN_RIDING;
}
