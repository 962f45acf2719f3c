#include "bundle/population.h"

#include <math.h>

#include "bundle/normal.h"

const struct thrum_node thrum_cluster_spread_db[THRUM_CLUSTER_SPREADS] = {
    {0.0, 0.25}, {0.5, 0.25}, {1.2, 0.2}, {3.0, 0.2}, {8.0, 0.1}};
const struct thrum_node thrum_loose_share[THRUM_LOOSE_SHARES] = {
    {0.02, 0.4}, {0.1, 0.3}, {0.35, 0.2}, {0.9, 0.1}};

/* Gaps below the driven wire of wires outside the cluster: near neighbours a few dB, others tens of dB. */
static const double NEAR_GAP_DB = 6.0;
static const double FAR_GAP_DB = 20.0;
/* How far wires stray from a cluster when nothing here is driven. */
static const double STRAY_UP_DB = 6.0;
static const double STRAY_DOWN_DB = 15.0;
/* Lead over the cluster: gamma of shape 2, with a flat part for the far end. */
static const double LEAD_SCALE_DB = 4.5;
static const double LEAD_FLAT = 0.2;
static const double LEAD_MOST_DB = 60.0;

double thrum_lead_density(double lead_db)
{
    if (lead_db <= 0.0 || lead_db > LEAD_MOST_DB)
        return 0.0;
    double gamma = lead_db / (LEAD_SCALE_DB * LEAD_SCALE_DB) * exp(-lead_db / LEAD_SCALE_DB);
    double flat = fmin(lead_db / LEAD_SCALE_DB, 1.0) / LEAD_MOST_DB;
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

double thrum_level_cut(const struct thrum_level *level, double middle_db, double spread_db, double driven_db)
{
    if (spread_db <= 0.0)
        return driven_db >= middle_db ? 1.0 : 0.0;
    double below = (driven_db - middle_db) / spread_db;
    double all = below > 5.0 ? 1.0 : thrum_normal_below(below);
    if (!level->heard)
        return 1.0; /* a limit below the driven wire: the cut takes hardly anything of it */
    double total = level->variance + spread_db * spread_db;
    double mean = (middle_db * level->variance + level->db * spread_db * spread_db) / total;
    double z = (driven_db - mean) / sqrt(level->variance * spread_db * spread_db / total);
    return (z > 5.0 ? 1.0 : thrum_normal_below(z)) / all;
}

static double gap_likelihood(const struct thrum_level *level, double driven_db, double gap_db)
{
    double down = driven_db - level->db;
    return level->heard ? thrum_tail_density(down, level->variance, gap_db)
                        : thrum_tail_above(down, sqrt(level->variance), gap_db);
}

double thrum_level_loose(const struct thrum_level *level, double driven_db)
{
    return 0.5 * gap_likelihood(level, driven_db, NEAR_GAP_DB) +
           0.5 * gap_likelihood(level, driven_db, FAR_GAP_DB);
}

double thrum_level_under(const struct thrum_level *level, double middle_db)
{
    return gap_likelihood(level, middle_db, STRAY_DOWN_DB);
}

double thrum_level_astray(const struct thrum_level *level, double middle_db)
{
    double up = level->db - middle_db;
    double above = level->heard ? thrum_tail_density(up, level->variance, STRAY_UP_DB)
                                : 1.0 - thrum_tail_above(up, sqrt(level->variance), STRAY_UP_DB);
    return 0.5 * above + 0.5 * thrum_level_under(level, middle_db);
}
