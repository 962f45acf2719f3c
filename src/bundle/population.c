#include "bundle/population.h"

#include <math.h>

#include "bundle/normal.h"

/* Spreads a little closer than what thirty wires can tell apart. */
const struct thrum_node thrum_cluster_spread_db[THRUM_CLUSTER_SPREADS] = {
    {0.0, 0.2}, {0.35, 0.1}, {0.7, 0.1}, {1.1, 0.1}, {1.7, 0.1},
    {2.6, 0.1}, {4.0, 0.1},  {6.2, 0.1}, {10.0, 0.1}};
const struct thrum_node thrum_loose_share[THRUM_LOOSE_SHARES] = {
    {0.002, 0.5}, {0.02, 0.2}, {0.12, 0.15}, {0.4, 0.1}, {0.9, 0.05}};

/* Gaps below the driven wire of wires outside the cluster: near neighbours a few dB, others up to tens of dB. */
#define RISE_DB     0.7
#define NEAR_GAP_DB 6.0
#define FAR_GAP_DB  100.0
/* How far below an otherwise even bundle a wire lies: mean. */
#define UNDER_DB 20.0
/* Lead over the cluster: gamma of shape 3 (mode 6 dB, free neighbours 2 to 3, tied ones 10 to 16), with a flat part
 * for the far end. */
#define LEAD_SCALE_DB 3.0
#define LEAD_FLAT     0.3
#define LEAD_MOST_DB  100.0

double thrum_lead_density(double lead_db)
{
    if (lead_db <= 0.0 || lead_db > LEAD_MOST_DB)
        return 0.0;
    double x = lead_db / LEAD_SCALE_DB;
    double gamma = 0.5 * x * x * exp(-x) / LEAD_SCALE_DB;
    double flat = fmin(x, 1.0) / LEAD_MOST_DB;
    return (1.0 - LEAD_FLAT) * gamma + LEAD_FLAT * flat;
}

double thrum_level_if_driven(const struct thrum_level *level, double driven_db)
{
    double off = level->db - driven_db;
    return level->heard ? thrum_normal_density(off, level->variance)
                        : thrum_normal_below(off / sqrt(level->variance));
}

double thrum_level_in_cluster(const struct thrum_level *level, double middle_db, double spread_db)
{
    double off = level->db - middle_db, variance = level->variance + spread_db * spread_db;
    return level->heard ? thrum_normal_density(off, variance) : thrum_normal_below(off / sqrt(variance));
}

/* Gap = sum of two exponentials: hardly any within a dB of the driven wire, most a few dB down. */
static double near_likelihood(const struct thrum_level *level, double driven_db)
{
    double down = driven_db - level->db;
    if (!level->heard) {
        double sd = sqrt(level->variance);
        return (NEAR_GAP_DB * thrum_tail_above(down, sd, NEAR_GAP_DB) -
                RISE_DB * thrum_tail_above(down, sd, RISE_DB)) /
               (NEAR_GAP_DB - RISE_DB);
    }
    double falling = NEAR_GAP_DB * thrum_tail_density(down, level->variance, NEAR_GAP_DB);
    double rising = RISE_DB * thrum_tail_density(down, level->variance, RISE_DB);
    return fmax(falling - rising, 1e-300) / (NEAR_GAP_DB - RISE_DB);
}

/* Gap = anything down to FAR_GAP_DB, alike: a scale would pull the driven wire towards the others, with a force that
 * grows with their number. */
static double far_likelihood(const struct thrum_level *level, double driven_db)
{
    double sd = sqrt(level->variance), z = (driven_db - level->db) / sd, far = z - FAR_GAP_DB / sd;
    return level->heard ? fmax(thrum_normal_below(z) - thrum_normal_below(far), 1e-300) / FAR_GAP_DB
                        : sd * (thrum_normal_ramp(-far) - thrum_normal_ramp(-z)) / FAR_GAP_DB;
}

double thrum_level_loose(const struct thrum_level *level, double driven_db)
{
    return 0.25 * near_likelihood(level, driven_db) + 0.75 * far_likelihood(level, driven_db);
}

double thrum_level_under(const struct thrum_level *level, double middle_db)
{
    double down = middle_db - level->db;
    return level->heard ? thrum_tail_density(down, level->variance, UNDER_DB)
                        : thrum_tail_above(down, sqrt(level->variance), UNDER_DB);
}
