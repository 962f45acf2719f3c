#include "listen/meddling.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/reading.h"

#define SURE         4.2 /* standard errors */
#define KNOWN_BEFORE 4   /* beeps that the scatter's usual size is worth */
#define BREATH_DB    0.25
#define ALL_BUT_FEW  0.75 /* of the beeps */
/* So much of the breath happens within the pause: a level control is slow, a sender's output is not */
#define RISING       0.2
#define OVERSHOOT_DB 0.6
#define BOTH_SURE    3.0 /* floor and onsets together */
#define BOTH_DB      0.15
#define ALL_FALL_DB  2.5 /* each beep of three or more: no hand does that */
#define BOTH_FALL_DB 8.0 /* each of two */
#define FADES_ON     0.3 /* of the fall comes late */
#define GATE_DB      10.0
#define HUM_LINE     0.4 /* of the low band in one line: it is hum */

enum { LEAST_BEEPS = 3 };

struct thrum_meddling {
    struct thrum_breathing *breathing;
};

enum thrum_status thrum_meddling_create(double rate_hz, struct thrum_meddling **meddling)
{
    *meddling = NULL;
    struct thrum_meddling *m = calloc(1, sizeof *m);
    enum thrum_status status = m ? thrum_breathing_create(rate_hz, &m->breathing) : THRUM_ERR_MEM;
    if (status) {
        thrum_meddling_destroy(m);
        return status;
    }
    *meddling = m;
    return THRUM_OK;
}

void thrum_meddling_destroy(struct thrum_meddling *meddling)
{
    if (!meddling)
        return;
    thrum_breathing_destroy(meddling->breathing);
    free(meddling);
}

static double sure_db(double db, double sd_db)
{
    return db - SURE * sd_db;
}

/* The standard errors that are as sure with so few beeps, whose scatter is itself uncertain: Student's t beside the normal
   distribution, two terms of its expansion (Cornish and Fisher 1937, from memory). */
static double sure_of_few(int n)
{
    double nu = n - 1 + KNOWN_BEFORE, z = SURE;
    return z + z * (z * z + 1.0) / (4.0 * nu) + z * ((5.0 * z * z + 16.0) * z * z + 3.0) / (96.0 * nu * nu);
}

static bool breathes(const struct thrum_breath *breath)
{
    return breath->n >= LEAST_BEEPS && breath->db - sure_of_few(breath->n) * breath->sd_db > BREATH_DB &&
           breath->share >= ALL_BUT_FEW && breath->rises_db > RISING * breath->db;
}

/* Hum and the rest together: they breathe alike, and their errors have nothing to do with each other. */
static struct thrum_breath together(const struct thrum_breath *a, const struct thrum_breath *b)
{
    double u = a->n > 0 ? 1.0 / (a->sd_db * a->sd_db) : 0.0, v = b->n > 0 ? 1.0 / (b->sd_db * b->sd_db) : 0.0;
    if (u <= 0.0 || v <= 0.0)
        return u > 0.0 ? *a : *b;
    return (struct thrum_breath){.n = a->n < b->n ? a->n : b->n,
                                 .db = (u * a->db + v * b->db) / (u + v),
                                 .sd_db = 1.0 / sqrt(u + v),
                                 .rises_db = (u * a->rises_db + v * b->rises_db) / (u + v),
                                 .rises_sd_db = fmax(a->rises_sd_db, b->rises_sd_db),
                                 .share = fmin(a->share, b->share)};
}

/* The floor breathes and the onsets overshoot, each less surely. */
static bool does_both(const struct thrum_breath *floor, const struct thrum_fading_value *fading)
{
    return floor->n >= LEAST_BEEPS && fading->n >= LEAST_BEEPS && floor->db > BOTH_SURE * floor->sd_db &&
           fading->db > BOTH_SURE * fading->sd_db && floor->db > BOTH_DB && fading->db > BOTH_DB &&
           floor->share >= ALL_BUT_FEW && fading->share >= ALL_BUT_FEW;
}

/* Gone at the end of the pauses; either it went in the middle of the pause, when no beep could have taken it along, or it is
 * the hum, which no beep brings. */
static bool vanishes(const struct thrum_breath *breath, bool hum)
{
    return breath->n >= LEAST_BEEPS && breath->share <= 1.0 - ALL_BUT_FEW &&
           ((hum && breath->db + SURE * breath->sd_db < -GATE_DB) ||
            breath->rises_db + SURE * breath->rises_sd_db < -GATE_DB);
}

static bool falls(const struct thrum_fading_value *fading)
{
    if ((fading->n >= LEAST_BEEPS && fading->least_db > ALL_FALL_DB) ||
        (fading->n == 2 && fading->least_db > BOTH_FALL_DB))
        return true;
    return fading->n >= LEAST_BEEPS && sure_db(fading->db, fading->sd_db) > OVERSHOOT_DB &&
           fading->share >= ALL_BUT_FEW;
}

void thrum_meddling_judge(struct thrum_meddling *meddling, const float *x, size_t n,
                          const struct thrum_touchfit *fit, const struct thrum_touchfit_result *result,
                          struct thrum_meddling_value *value)
{
    memset(value, 0, sizeof *value);
    thrum_breathing_measure(meddling->breathing, x, n, result, &value->breathing);
    thrum_fading_measure(fit, result, &value->fading);
    const struct thrum_breathing_value *b = &value->breathing;
    value->floor = together(&b->rest, &b->low);
    bool riding = breathes(&b->rest) || breathes(&b->low) || breathes(&value->floor) ||
                  does_both(&value->floor, &value->fading);
    bool falling = falls(&value->fading);
    bool fading = falling && !riding && value->fading.late_db > FADES_ON * value->fading.db;
    if (riding || (falling && !fading))
        value->faults |= THRUM_FAULT_GAIN_RIDING;
    if (fading)
        value->faults |= THRUM_FAULT_SUPPRESSED;
    if (vanishes(&b->rest, false) || (b->low_line > HUM_LINE && vanishes(&b->low, true)))
        value->faults |= THRUM_FAULT_GATED;
}
