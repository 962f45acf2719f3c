#include "listen/rebound.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "thrum/units.h"

enum {
    STRETCHES = 512, /* remembered */
    BEFORE = 5,      /* frames that were steady before a fall */
    SLOPE = 3,       /* frames that a fall may take */
    PAST = BEFORE + SLOPE,
    EDGE = 2, /* frames left out at either end of a stretch */
    LEAST = 6,
    LONGEST = 60,
    SETTLE = 15, /* frames left out after a jump up: a hand comes to rest */
    LEVELS = 2,  /* of the sound, of its changes */
    PRIOR_N = 4,
    LEAST_N = 3,
    LONGEST_FRAME = 320, /* 20 ms at the highest analysis rate */
    LANES = 4
};

#define FRAME_S   0.02
#define LOOK_S    60.0
#define DOWN_S    6.0 /* so long after a fall */
#define STEADY_DB 2.0 /* largest less smallest level before a fall */
#define FALL_DB   6.0
#define JUMP_DB   3.0      /* within two frames: another sound */
#define BACK_DB   2.0      /* under the level before the fall: it is as loud again */
#define QUIET_DB  (-110.0) /* rounding and digital silence have no slope */
#define USUAL     1.5      /* dB a second: slopes of hum that wobbles, standard deviation */
#define FRAME_DB2 7500.0   /* variance of a slope by noise, times the number of frames cubed */
#define MOST      15.0     /* dB a second: a steeper slope counts as this one */
#define SURE      3.2      /* standard errors; these are wide, honest rounds stay below 2.5 */
#define AT_ONCE   0.38     /* of the rise lies in the first half */

/* What followed a fall, as far as nothing jumped. */
struct stretch {
    uint64_t end;                            /* analysis sample at which it was over */
    float slope[LEVELS], first_half[LEVELS]; /* dB a second */
    float weight;
};

struct thrum_rebound {
    double rate_hz;
    int frame_size, in_frame;
    float frame[1 + LONGEST_FRAME]; /* before its samples the one that came before it */
    uint64_t fed;
    float past[PAST]; /* levels, newest last */
    int n_past;
    int down_left; /* frames that still belong to a fall; 0: there is none */
    int settle;    /* frames to leave out */
    float before_db;
    float low[LEVELS][LONGEST]; /* levels of the stretch */
    int n_low;
    struct stretch stretch[STRETCHES]; /* ring */
    uint64_t n_stretches;
};

enum thrum_status thrum_rebound_create(double rate_hz, struct thrum_rebound **rebound)
{
    *rebound = NULL;
    if (!(rate_hz >= 8000.0 && rate_hz < 16000.0))
        return THRUM_ERR_ARG;
    struct thrum_rebound *r = calloc(1, sizeof *r);
    *rebound = r;
    if (!r)
        return THRUM_ERR_MEM;
    r->rate_hz = rate_hz;
    r->frame_size = (int)(FRAME_S * rate_hz + 0.5);
    return THRUM_OK;
}

void thrum_rebound_destroy(struct thrum_rebound *rebound)
{
    free(rebound);
}

/* dB a second by a straight line through n levels. */
static float slope_of(const float *db, int n)
{
    double sum = 0.0, middle = 0.5 * (n - 1);
    for (int i = 0; i < n; i++)
        sum += (i - middle) * (double)db[i];
    return (float)(fmax(fmin(sum * 12.0 / (n * ((double)n * n - 1.0)) / FRAME_S, MOST), -MOST));
}

static float mean_of(const float *db, int n)
{
    float sum = 0.0f;
    for (int i = 0; i < n; i++)
        sum += db[i];
    return sum / (float)n;
}

/* Remembered, if it was long enough. */
static void end_stretch(struct thrum_rebound *r)
{
    int n = r->n_low - 2 * EDGE;
    r->n_low = 0;
    if (n < LEAST)
        return;
    struct stretch *stretch = &r->stretch[r->n_stretches++ % STRETCHES];
    for (int k = 0; k < LEVELS; k++) {
        stretch->slope[k] = slope_of(r->low[k] + EDGE, n);
        stretch->first_half[k] = slope_of(r->low[k] + EDGE, n / 2);
    }
    stretch->end = r->fed;
    stretch->weight = (float)(1.0 / (USUAL * USUAL + FRAME_DB2 / ((double)n * n * n)));
}

static void look_for_fall(struct thrum_rebound *r, float db)
{
    memmove(r->past, r->past + 1, (PAST - 1) * sizeof *r->past);
    r->past[PAST - 1] = db;
    r->n_past += r->n_past < PAST;
    float high = r->past[0], low = r->past[0], before = mean_of(r->past, BEFORE);
    for (int i = 1; i < BEFORE; i++) {
        high = fmaxf(high, r->past[i]);
        low = fminf(low, r->past[i]);
    }
    if (r->n_past < PAST || high - low >= (float)STEADY_DB || db >= before - (float)FALL_DB)
        return;
    r->down_left = (int)(DOWN_S / FRAME_S);
    r->before_db = before;
    r->n_low = r->settle = 0;
}

static void end_fall(struct thrum_rebound *r)
{
    end_stretch(r);
    r->down_left = r->n_past = 0;
}

/* How far the level is from that of one or two frames ago, whichever is farther. */
static float jump(const struct thrum_rebound *r, float db)
{
    float one = r->n_low > 0 ? db - r->low[0][r->n_low - 1] : 0.0f;
    float two = r->n_low > 1 ? db - r->low[0][r->n_low - 2] : 0.0f;
    return fabsf(two) > fabsf(one) ? two : one;
}

/* A frame after a fall. */
static void follow(struct thrum_rebound *r, const float *db)
{
    if (db[0] > r->before_db - (float)BACK_DB || db[0] < (float)QUIET_DB || --r->down_left == 0) {
        end_fall(r);
        return;
    }
    if (r->settle > 0) {
        r->settle--;
        return;
    }
    float step = jump(r, db[0]);
    if (fabsf(step) > (float)JUMP_DB || r->n_low == LONGEST)
        end_stretch(r);
    if (step > (float)JUMP_DB) {
        r->settle = SETTLE;
        return;
    }
    for (int k = 0; k < LEVELS; k++)
        r->low[k][r->n_low] = db[k];
    r->n_low++;
}

/* Energy of the n samples after x[0], and of the changes up to them. */
THRUM_WIDE static void energies(const float *x, int n, double energy[LEVELS])
{
    double sound[LANES] = {0}, changes[LANES] = {0};
    int whole = n - n % LANES;
    for (int i = 1; i <= whole; i += LANES)
        for (int k = 0; k < LANES; k++)
            sound[k] += (double)x[i + k] * (double)x[i + k];
    for (int i = 1; i <= whole; i += LANES)
        for (int k = 0; k < LANES; k++) {
            double change = (double)x[i + k] - (double)x[i + k - 1];
            changes[k] += change * change;
        }
    for (int i = whole + 1; i <= n; i++) {
        double change = (double)x[i] - (double)x[i - 1];
        sound[0] += (double)x[i] * (double)x[i];
        changes[0] += change * change;
    }
    energy[0] = (sound[0] + sound[2]) + (sound[1] + sound[3]);
    energy[1] = (changes[0] + changes[2]) + (changes[1] + changes[3]);
}

static void end_frame(struct thrum_rebound *r)
{
    double energy[LEVELS];
    float db[LEVELS];
    energies(r->frame, r->frame_size, energy);
    for (int k = 0; k < LEVELS; k++)
        db[k] = (float)thrum_db_from_power(2.0 * energy[k] / r->frame_size);
    r->frame[0] = r->frame[r->frame_size];
    r->in_frame = 0;
    if (r->down_left > 0)
        follow(r, db);
    if (r->down_left == 0)
        look_for_fall(r, db[0]);
}

void thrum_rebound_feed(struct thrum_rebound *rebound, const float *x, size_t n)
{
    struct thrum_rebound *r = rebound;
    while (n > 0) {
        size_t room = (size_t)(r->frame_size - r->in_frame), take = n < room ? n : room;
        memcpy(r->frame + 1 + r->in_frame, x, take * sizeof *x);
        r->in_frame += (int)take;
        r->fed += take;
        x += take;
        n -= take;
        if (r->in_frame == r->frame_size)
            end_frame(r);
    }
}

/* ---- judging ---- */

/* Weighted sums over stretches. */
struct sums {
    int n;
    double weight, slope[LEVELS], squares[LEVELS], first_half[LEVELS];
};

static void add(struct sums *sums, const struct stretch *stretch)
{
    double w = (double)stretch->weight;
    sums->n++;
    sums->weight += w;
    for (int k = 0; k < LEVELS; k++) {
        double slope = (double)stretch->slope[k];
        sums->slope[k] += w * slope;
        sums->squares[k] += w * slope * slope;
        sums->first_half[k] += w * (double)stretch->first_half[k];
    }
}

/* Standard error of the mean slope; with few stretches their scatter is held against what it usually is. */
static double error_of(const struct sums *sums, int k)
{
    double scatter = sums->squares[k] - sums->slope[k] * sums->slope[k] / sums->weight;
    return sqrt((fmax(scatter, 0.0) + PRIOR_N) / (sums->n - 1 + PRIOR_N) / sums->weight);
}

/* Surely up, and no less at the beginning. */
static bool rises(const struct sums *sums)
{
    for (int k = 0; k < LEVELS && sums->n >= LEAST_N; k++)
        if (sums->slope[k] / sums->weight > SURE * error_of(sums, k) &&
            0.5 * sums->first_half[k] > AT_ONCE * sums->slope[k])
            return true;
    return false;
}

void thrum_rebound_judge(const struct thrum_rebound *rebound, uint64_t until,
                         struct thrum_rebound_value *value)
{
    const struct thrum_rebound *r = rebound;
    uint64_t look = (uint64_t)(LOOK_S * r->rate_hz), since = until > look ? until - look : 0;
    uint64_t first = r->n_stretches > STRETCHES ? r->n_stretches - STRETCHES : 0;
    struct sums all = {.n = 0};
    memset(value, 0, sizeof *value);
    for (uint64_t i = first; i < r->n_stretches; i++) {
        const struct stretch *stretch = &r->stretch[i % STRETCHES];
        if (stretch->end <= until && stretch->end >= since)
            add(&all, stretch);
    }
    if (all.n == 0)
        return;
    value->n = all.n;
    value->slope = all.slope[1] / all.weight;
    value->sd = error_of(&all, 1);
    value->rides = rises(&all);
}
