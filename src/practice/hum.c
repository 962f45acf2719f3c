#include "practice/hum.h"

#include <math.h> /* only sqrt and floor, which are exact everywhere */

#include "practice/exact.h"
#include "practice/sender.h"

enum { TILE = 8 }; /* samples summed side by side */

#define LEVEL_S  1.0 /* correlation time of a harmonic's level */
#define WANDER_S 5.0 /* and of the mains frequency */

/* Odd harmonics fall as 1/sqrt(h), even ones lie 10 dB below, each 3 dB more or less. */
static void draw_harmonics(struct hum *hum, int wanted)
{
    double power = 0.0;
    for (int h = 1; h <= wanted; h++) {
        double p = (h % 2 ? 1.0 : 0.1) / h;
        double a = sqrt(p) * exact_amplitude(dice_between(&hum->dice, -3.0, 3.0));
        exact_cos_sin(dice_uniform(&hum->dice), &hum->phase_c[h - 1], &hum->phase_s[h - 1]);
        hum->amplitude[h - 1] = a;
        power += a * a;
    }
    for (int h = 1; h <= wanted; h++)
        hum->amplitude[h - 1] /= sqrt(power);
}

static void next_targets(struct hum *hum)
{
    hum->hz_now = hum->hz_next;
    hum->hz_next = hum->mains_hz + hum->wander_hz * slow_next(&hum->wander, &hum->dice);
    for (int k = 0; k < hum->harmonics; k++) {
        double db = hum->wobble_db * slow_next(&hum->level[k], &hum->dice);
        hum->now[k] = hum->next[k];
        hum->next[k] = hum->amplitude[k] * exact_amplitude(db);
    }
}

void hum_start(struct hum *hum, const struct thrum_practice_config *config, int hop, struct dice dice)
{
    *hum = (struct hum){.hop = hop,
                        .rate_hz = config->rate_hz,
                        .mains_hz = config->mains_hz,
                        .wander_hz = config->mains_wander_hz,
                        .wobble_db = config->hum_wobble_db,
                        .dice = dice};
    double step_s = hop * PRACTICE_BLOCK / config->rate_hz;
    int carried = (int)(PRACTICE_BAND * config->rate_hz / config->mains_hz);
    hum->harmonics = config->harmonics < carried ? config->harmonics : carried;
    draw_harmonics(hum, config->harmonics);
    hum->turns = dice_uniform(&hum->dice);
    slow_start(&hum->wander, &hum->dice, step_s, WANDER_S);
    for (int k = 0; k < hum->harmonics; k++)
        slow_start(&hum->level[k], &hum->dice, step_s, LEVEL_S);
    next_targets(hum);
    next_targets(hum);
}

/* Sum over h of (p_h cos h a + q_h sin h a) by Clenshaw's recurrence, TILE angles side by side. Coefficients
   move by dp, dq from sample to sample; the first sample is number `first` of the block. */
static void sum_tile(const double *p, const double *q, const double *dp, const double *dq, int harmonics,
                     int first, const double *c, const double *s, double *wave)
{
    double p1[TILE] = {0}, p2[TILE] = {0}, q1[TILE] = {0}, q2[TILE] = {0}, x[TILE], number[TILE];
    for (int i = 0; i < TILE; i++) {
        x[i] = 2.0 * c[i];
        number[i] = first + i;
    }
    for (int k = harmonics - 1; k >= 0; k--)
        for (int i = 0; i < TILE; i++) {
            double a = p[k] + dp[k] * number[i] + x[i] * p1[i] - p2[i];
            double b = q[k] + dq[k] * number[i] + x[i] * q1[i] - q2[i];
            p2[i] = p1[i];
            p1[i] = a;
            q2[i] = q1[i];
            q1[i] = b;
        }
    for (int i = 0; i < TILE; i++)
        wave[i] = p1[i] * c[i] - p2[i] + q1[i] * s[i];
}

void hum_make(struct hum *hum, double *wave)
{
    double c[PRACTICE_BLOCK], s[PRACTICE_BLOCK], turn_c, turn_s;
    double p[PRACTICE_HARMONICS], q[PRACTICE_HARMONICS], dp[PRACTICE_HARMONICS], dq[PRACTICE_HARMONICS];
    double per_block = 1.0 / hum->hop, per_sample = per_block / PRACTICE_BLOCK;
    double hz = hum->hz_now + (hum->hz_next - hum->hz_now) * ((hum->block + 0.5) * per_block);

    exact_cos_sin(hum->turns, &c[0], &s[0]);
    exact_cos_sin(hz / hum->rate_hz, &turn_c, &turn_s);
    for (int i = 1; i < PRACTICE_BLOCK; i++) {
        c[i] = c[i - 1] * turn_c - s[i - 1] * turn_s;
        s[i] = s[i - 1] * turn_c + c[i - 1] * turn_s;
    }
    hum->turns += PRACTICE_BLOCK * (hz / hum->rate_hz);
    hum->turns -= floor(hum->turns);

    for (int k = 0; k < hum->harmonics; k++) {
        double slope = hum->next[k] - hum->now[k], a = hum->now[k] + slope * (hum->block * per_block);
        p[k] = a * hum->phase_c[k];
        q[k] = -a * hum->phase_s[k];
        dp[k] = slope * per_sample * hum->phase_c[k];
        dq[k] = -slope * per_sample * hum->phase_s[k];
    }
    for (int i = 0; i < PRACTICE_BLOCK; i += TILE)
        sum_tile(p, q, dp, dq, hum->harmonics, i, c + i, s + i, wave + i);
    if (++hum->block == hum->hop) {
        hum->block = 0;
        next_targets(hum);
    }
}
