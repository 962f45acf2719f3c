#include "signal/sounding.h"

#include "thrum/units.h"

#define CLEAR_DB 12.0 /* over the pauses; noise is louder in about 6 windows of 100 */
#define UP_DB    0.2  /* what pause_db moves by in a window that is louder than it, */
#define DOWN_DB  0.8  /* and in one that is not: the two make it a fifth */

struct thrum_sounding thrum_sounding_begin(double hz, double rate_hz)
{
    return (struct thrum_sounding){.turn = {1.0, 0.0}, .step = cplx_turn(-2.0 * THRUM_PI * hz / rate_hz)};
}

void thrum_sounding_feed(struct thrum_sounding *sounding, const float *x, size_t n)
{
    struct cplx turn = sounding->turn, sum = sounding->sum;
    for (size_t i = 0; i < n; i++) {
        sum = cplx_add(sum, cplx_scale(turn, (double)x[i]));
        turn = cplx_mul(turn, sounding->step);
    }
    sounding->turn = turn;
    sounding->sum = sum;
    sounding->n += n;
}

void thrum_sounding_end_window(struct thrum_sounding *sounding)
{
    struct thrum_sounding *s = sounding;
    if (s->n == 0)
        return;
    double db = thrum_db_from_power(2.0 * cplx_power(s->sum) / ((double)s->n * (double)s->n));
    if (!s->begun)
        s->pause_db = db;
    s->begun = true;
    s->on = db > s->pause_db + CLEAR_DB;
    s->pause_db += db > s->pause_db ? fmin(UP_DB, db - s->pause_db) : -fmin(DOWN_DB, s->pause_db - db);
    s->turn = (struct cplx){1.0, 0.0}; /* a window's phase does not matter, so rounding shall not add up */
    s->sum = (struct cplx){0.0, 0.0};
    s->n = 0;
}
