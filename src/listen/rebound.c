#include "listen/rebound.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"

enum {
    FALLS = 256, /* remembered */
    BEFORE = 5,  /* frames that were steady before a fall */
    SLOPE = 3,   /* frames that a fall may take */
    PAST = BEFORE + SLOPE,
    SKIP = 2, /* frames after it, and before the sound jumps up again */
    LEAST = 8,
    LONGEST = 60,
    PRIOR_N = 4,
    LEAST_FALLS = 4
};

#define FRAME_S   0.02
#define LOOK_S    60.0
#define STEADY_DB 2.0 /* largest less smallest level before a fall */
#define FALL_DB   6.0
#define JUMP_DB   3.0      /* from frame to frame: the sound is back by itself */
#define BACK_DB   2.0      /* under the level before the fall: so is it */
#define QUIET_DB  (-110.0) /* rounding and digital silence have no slope */
#define USUAL_DB  0.8      /* hum wobbles */
#define SURE      4.2
#define RISE_DB   0.3
#define AT_ONCE   0.38
#define MOST      0.8

struct fall {
    uint64_t end; /* analysis sample at which it was over */
    float rise_db, first_half_db;
};

struct thrum_rebound {
    double rate_hz;
    int frame_size, in_frame;
    double energy;
    uint64_t fed;
    float past[PAST]; /* levels, newest last */
    int n_past;
    bool down;
    float before_db;
    float low[LONGEST + 1]; /* levels since the fall */
    int n_low;
    struct fall fall[FALLS]; /* ring */
    uint64_t n_falls;
};

enum thrum_status thrum_rebound_create(double rate_hz, struct thrum_rebound **rebound)
{
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

/* Rise over n levels by a straight line through them. */
static float rise_of(const float *db, int n)
{
    double sum = 0.0, middle = 0.5 * (n - 1);
    for (int i = 0; i < n; i++)
        sum += (i - middle) * (double)db[i];
    return (float)(sum * 12.0 / ((double)n * (n + 1.0)));
}

/* The trough is over: a fall with its slope, if it was long enough. */
static void end_trough(struct thrum_rebound *r)
{
    int n = r->n_low - SKIP;
    r->down = false;
    r->n_past = 0;
    if (n - SKIP < LEAST)
        return;
    const float *from = r->low + SKIP;
    n -= SKIP;
    float rise = rise_of(from, n), half = rise_of(from, n / 2);
    r->fall[r->n_falls++ % FALLS] = (struct fall){.end = r->fed, .rise_db = rise, .first_half_db = half};
}

static bool was_steady(const struct thrum_rebound *r)
{
    float high = r->past[0], low = r->past[0];
    for (int i = 1; i < BEFORE; i++) {
        high = fmaxf(high, r->past[i]);
        low = fminf(low, r->past[i]);
    }
    return r->n_past == PAST && high - low < (float)STEADY_DB;
}

static float mean_before(const struct thrum_rebound *r)
{
    float sum = 0.0f;
    for (int i = 0; i < BEFORE; i++)
        sum += r->past[i];
    return sum / BEFORE;
}

static void add_past(struct thrum_rebound *r, float db)
{
    memmove(r->past, r->past + 1, (PAST - 1) * sizeof *r->past);
    r->past[PAST - 1] = db;
    r->n_past += r->n_past < PAST;
}

static void add_level(struct thrum_rebound *r, float db)
{
    if (r->down) {
        bool jumped = r->n_low > 0 && db - r->low[r->n_low - 1] > (float)JUMP_DB;
        if (jumped || db > r->before_db - (float)BACK_DB || db < (float)QUIET_DB || r->n_low == LONGEST)
            end_trough(r);
        else
            r->low[r->n_low++] = db;
        if (r->down)
            return;
    }
    add_past(r, db);
    if (was_steady(r) && db < mean_before(r) - (float)FALL_DB) {
        r->down = true;
        r->before_db = mean_before(r);
        r->n_low = 0;
    }
}

void thrum_rebound_feed(struct thrum_rebound *rebound, const float *x, size_t n)
{
    struct thrum_rebound *r = rebound;
    for (size_t i = 0; i < n; i++) {
        r->energy += (double)x[i] * (double)x[i];
        r->fed++;
        if (++r->in_frame == r->frame_size) {
            add_level(r, (float)thrum_db_from_power(2.0 * r->energy / r->frame_size));
            r->energy = 0.0;
            r->in_frame = 0;
        }
    }
}

void thrum_rebound_judge(const struct thrum_rebound *rebound, uint64_t until,
                         struct thrum_rebound_value *value)
{
    const struct thrum_rebound *r = rebound;
    uint64_t look = (uint64_t)(LOOK_S * r->rate_hz), since = until > look ? until - look : 0;
    uint64_t first = r->n_falls > FALLS ? r->n_falls - FALLS : 0;
    double sum = 0.0, half = 0.0, scatter = PRIOR_N * USUAL_DB * USUAL_DB;
    int n = 0, rose = 0;
    memset(value, 0, sizeof *value);
    for (uint64_t i = first; i < r->n_falls; i++) {
        const struct fall *fall = &r->fall[i % FALLS];
        if (fall->end > until || fall->end < since)
            continue;
        n++;
        sum += (double)fall->rise_db;
        half += (double)fall->first_half_db;
        rose += fall->rise_db > 0.0f;
    }
    if (n == 0)
        return;
    for (uint64_t i = first; i < r->n_falls; i++) {
        const struct fall *fall = &r->fall[i % FALLS];
        if (fall->end <= until && fall->end >= since)
            scatter += ((double)fall->rise_db - sum / n) * ((double)fall->rise_db - sum / n);
    }
    value->n = n;
    value->rise_db = sum / n;
    value->sd_db = sqrt(scatter / (PRIOR_N + n - 1) / n);
    value->at_once = sum > 0.0 ? half / sum : 0.0;
    value->share = (double)rose / n;
    value->rides = n >= LEAST_FALLS && value->rise_db - SURE * value->sd_db > RISE_DB &&
                   value->share >= MOST && value->at_once > AT_ONCE;
}
