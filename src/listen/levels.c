#include "listen/levels.h"

#include <math.h>

#define HAND_DB 1.0  /* scatter within a touch that is no step: the hand's wobble */
#define PRICE   12.0 /* of one more stretch, in squared deviations */
#define STEP_DB 2.0  /* smaller steps are not another wire */
/* Who lifts the probe between wires changes wires by lifts: between those it takes a larger step. */
#define LIFTED_ONCE_STEP_DB 3.0
#define LIFTED_STEP_DB      5.0
#define LIFT_DB             10.0 /* a lift is so far below both neighbours */
#define LIFT_PART           0.7  /* and lasts less than this part of them */

/* Cost of beeps [i, j) as one level, from running sums of weight, weight x and weight x^2. */
static double cost(const double (*sum)[3], int i, int j)
{
    double w = sum[j][0] - sum[i][0], x = sum[j][1] - sum[i][1], xx = sum[j][2] - sum[i][2];
    return fmax(xx - x * x / w, 0.0) + PRICE;
}

static double mean_db(const double (*sum)[3], int i, int j)
{
    return (sum[j][1] - sum[i][1]) / (sum[j][0] - sum[i][0]);
}

/* Join neighbours that are alike after all; a lift is no neighbour. */
static int join_alike(const double (*sum)[3], struct thrum_level_span *spans, int n, double alike_db)
{
    int kept = 0;
    for (int i = 0; i < n; i++) {
        bool lifted = kept > 0 && (spans[kept - 1].lift || spans[i].lift);
        if (kept > 0 && !lifted && fabs(spans[kept - 1].db - spans[i].db) < alike_db) {
            spans[kept - 1].end = spans[i].end;
            spans[kept - 1].db = mean_db(sum, spans[kept - 1].first, spans[i].end);
        } else {
            spans[kept++] = spans[i];
        }
    }
    return kept;
}

static double length_s(const struct thrum_level *beeps, const struct thrum_level_span *span)
{
    return beeps[span->end - 1].to_s - beeps[span->first].from_s;
}

/* The next stretch in one direction; a single beep cut by the hand's coming or going stands for none. -1: the end. */
static int neighbour(const struct thrum_level_span *spans, int n, int i, int by)
{
    for (i += by; i >= 0 && i < n; i += by)
        if (spans[i].end - spans[i].first > 1 || i == 0 || i == n - 1)
            return i;
    return -1;
}

/* Returns how many. */
static int mark_lifts(const struct thrum_level *beeps, struct thrum_level_span *spans, int n)
{
    int lifts = 0;
    for (int i = 0; i < n; i++) {
        double softer = 1e9, longer = 0.0;
        for (int by = -1; by <= 1; by += 2) {
            int k = neighbour(spans, n, i, by);
            if (k < 0)
                continue;
            softer = fmin(softer, spans[k].db);
            longer = fmax(longer, length_s(beeps, &spans[k]));
        }
        spans[i].lift =
            n > 1 && spans[i].db < softer - LIFT_DB && length_s(beeps, &spans[i]) < LIFT_PART * longer;
        lifts += spans[i].lift;
    }
    return lifts;
}

int thrum_levels_split(const struct thrum_level *beeps, int n, struct thrum_level_span *spans)
{
    double sum[THRUM_LEVELS_MAX + 1][3] = {{0}}, best[THRUM_LEVELS_MAX + 1] = {0};
    int from[THRUM_LEVELS_MAX + 1] = {0}, count = 0;
    for (int i = 0; i < n; i++) {
        double w = 1.0 / (HAND_DB * HAND_DB + beeps[i].sd_db * beeps[i].sd_db);
        sum[i + 1][0] = sum[i][0] + w;
        sum[i + 1][1] = sum[i][1] + w * beeps[i].db;
        sum[i + 1][2] = sum[i][2] + w * beeps[i].db * beeps[i].db;
        best[i + 1] = 1e300;
        for (int j = 0; j <= i; j++) {
            double c = best[j] + cost((const double(*)[3])sum, j, i + 1);
            if (c < best[i + 1]) {
                best[i + 1] = c;
                from[i + 1] = j;
            }
        }
    }
    for (int end = n; end > 0; end = from[end])
        count++;
    int at = count;
    for (int end = n; end > 0; end = from[end])
        spans[--at] = (struct thrum_level_span){
            .first = from[end], .end = end, .db = mean_db((const double(*)[3])sum, from[end], end)};
    count = join_alike((const double(*)[3])sum, spans, count, STEP_DB);
    int lifts = mark_lifts(beeps, spans, count);
    if (lifts > 0)
        count = join_alike((const double(*)[3])sum, spans, count,
                           lifts > 1 ? LIFTED_STEP_DB : LIFTED_ONCE_STEP_DB);
    return count;
}
