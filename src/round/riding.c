#include "round/riding.h"

#include <math.h>

#define SURE     4.5  /* standard errors */
#define LEAST_DB 0.04 /* honest touches have no bias of this size */
#define MOST     0.6  /* of the readings point the same way */

enum { LEAST_READINGS = 3 };

void thrum_riding_mark(struct thrum_reading *readings, int n)
{
    double weight = 0.0, sum = 0.0;
    int told = 0, louder = 0;
    for (int i = 0; i < n; i++) {
        double sd = readings[i].breath_sd_db;
        if (!(sd > 0.0))
            continue;
        weight += 1.0 / (sd * sd);
        sum += readings[i].breath_db / (sd * sd);
        told++;
        louder += readings[i].breath_db > 0.0;
    }
    if (told < LEAST_READINGS || sum / weight - SURE / sqrt(weight) < LEAST_DB || louder < MOST * told)
        return;
    for (int i = 0; i < n; i++)
        if (readings[i].breath_sd_db > 0.0)
            readings[i].faults |= THRUM_FAULT_GAIN_RIDING;
}
