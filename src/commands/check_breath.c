#include "commands/check_breath.h"

#include <math.h>

#include "round/riding.h"

#define WOULD_DB   0.25 /* of what the beeps add to the level: so much a level control would let all breathe */
#define SURE       4.5  /* standard errors: no chance */
#define DOUBT      2.0  /* and no longer to be called chance */
#define CLEARLY    3.0
#define LEAST_DB   0.04 /* honest inputs have no bias of this size */
#define QUIETER_DB 0.3

enum { LEAST_STRETCHES = 2 };

/* By how much the beeps raise the level of all the sound: what a level control goes by. */
static double raised_db(const struct thrum_reading *reading)
{
    double rest = thrum_power_from_db(reading->hum_dbfs) + thrum_power_from_db(reading->noise_dbfs);
    double tone = reading->n_senders > 0 ? thrum_power_from_db(reading->strength[0].dbfs) : 0.0;
    return 10.0 * log10(1.0 + tone / fmax(rest, 1e-20));
}

static double mean_raised_db(const struct thrum_reading *readings, int n)
{
    double weights = 0.0, sum = 0.0;
    for (int i = 0; i < n; i++) {
        double sd = readings[i].breath_sd_db;
        if (!(sd > 0.0))
            continue;
        weights += 1.0 / (sd * sd);
        sum += raised_db(&readings[i]) / (sd * sd);
    }
    return weights > 0.0 ? sum / weights : 0.0;
}

/* A control gives back in the pauses what the beeps have pushed down, and no more. */
static bool rides(const struct thrum_riding *all, double raised)
{
    return all->n >= LEAST_STRETCHES && all->db - SURE * all->sd_db > LEAST_DB &&
           all->db - DOUBT * all->sd_db < raised;
}

static enum check_breath judge(const struct thrum_riding *all, double raised)
{
    if (all->n == 0)
        return CHECK_BREATH_UNKNOWN;
    if (all->db > DOUBT * all->sd_db && all->db - DOUBT * all->sd_db < raised)
        return CHECK_BREATH_LOUDER;
    if (all->db + CLEARLY * all->sd_db < -QUIETER_DB)
        return CHECK_BREATH_QUIETER;
    return WOULD_DB * raised > SURE * all->sd_db ? CHECK_BREATH_ALIKE : CHECK_BREATH_UNKNOWN;
}

void check_breath(const struct thrum_reading *readings, int n, struct check_facts *facts)
{
    struct thrum_riding all = thrum_riding_together(readings, n);
    double raised = mean_raised_db(readings, n);
    facts->told = all.n;
    facts->breath_db = all.db;
    facts->breath_sd_db = all.sd_db;
    facts->breath = judge(&all, raised);
    facts->would_show = facts->breath == CHECK_BREATH_ALIKE;
    if (rides(&all, raised))
        facts->faults |= THRUM_FAULT_GAIN_RIDING;
}
