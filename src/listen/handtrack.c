#include "listen/handtrack.h"

#include <math.h>

#include "thrum/units.h"

#define ERROR_DB   0.15   /* of a level beside its noise */
#define SLIP_S     0.16   /* a level may be far off for so long: the probe slipped, or was on its way */
#define SLIP_LN    (-4.6) /* ln of the chance that a slip begins with a level... */
#define SLIP_ON_LN (-0.7) /* ...and that it goes on with the next */
#define SLIP_TO_LN (-3.7) /* ln density of its level: anywhere within 40 dB */

struct thrum_handtrack thrum_handtrack_begin(double level_db, double spread_db, double wobble_db)
{
    double variance = wobble_db * wobble_db;
    return (struct thrum_handtrack){.level = level_db,
                                    .pll = spread_db * spread_db,
                                    .pww = variance,
                                    .pss = variance / (THRUM_HAND_S * THRUM_HAND_S),
                                    .variance = variance,
                                    .slip_s = -1.0};
}

struct thrum_handmove thrum_handmove_over(double s)
{
    double u = s / THRUM_HAND_S, e = exp(-u);
    return (struct thrum_handmove){e * (1.0 + u), e * s, -e * u / THRUM_HAND_S, e * (1.0 - u)};
}

void thrum_handtrack_move(struct thrum_handtrack *track, const struct thrum_handmove *move)
{
    struct thrum_handtrack *k = track;
    const struct thrum_handmove *m = move;
    double w = k->variance, s = w / (THRUM_HAND_S * THRUM_HAND_S);
    double wobble = k->wobble, pww = k->pww - w, pws = k->pws, pss = k->pss - s, plw = k->plw;
    k->wobble = m->ww * wobble + m->ws * k->speed;
    k->speed = m->sw * wobble + m->ss * k->speed;
    k->plw = m->ww * plw + m->ws * k->pls;
    k->pls = m->sw * plw + m->ss * k->pls;
    k->pww = w + m->ww * m->ww * pww + 2.0 * m->ww * m->ws * pws + m->ws * m->ws * pss;
    k->pws = m->ww * m->sw * pww + (m->ww * m->ss + m->ws * m->sw) * pws + m->ws * m->ss * pss;
    k->pss = s + m->sw * m->sw * pww + 2.0 * m->sw * m->ss * pws + m->ss * m->ss * pss;
}

void thrum_handtrack_see(struct thrum_handtrack *track, const struct thrum_level *level, double floor_db)
{
    struct thrum_handtrack *k = track;
    const struct thrum_level *y = level;
    double off = fmax(y->db, floor_db) - k->level - k->wobble;
    double hl = k->pll + k->plw, hw = k->plw + k->pww, hs = k->pls + k->pws;
    double f = hl + hw + y->sd_db * y->sd_db + ERROR_DB * ERROR_DB;
    double fits = -0.5 * (log(2.0 * THRUM_PI * f) + off * off / f);
    double slips = SLIP_TO_LN + (k->slip_s < 0.0 ? SLIP_LN : SLIP_ON_LN);
    double since = k->slip_s < 0.0 ? y->from_s : k->slip_s;
    if (slips > fits && y->to_s - since <= SLIP_S) {
        k->ln += slips;
        k->slip_s = since;
        return;
    }
    k->ln += fits;
    k->slip_s = -1.0;
    k->level += hl / f * off;
    k->wobble += hw / f * off;
    k->speed += hs / f * off;
    k->pll -= hl / f * hl;
    k->plw -= hl / f * hw;
    k->pls -= hl / f * hs;
    k->pww -= hw / f * hw;
    k->pws -= hw / f * hs;
    k->pss -= hs / f * hs;
}
