#include "practice/config.h"

#include <math.h>
#include <stddef.h>

struct thrum_practice_config thrum_practice_config_default(uint64_t seed)
{
    return (struct thrum_practice_config){.seed = seed,
                                          .n_wires = 24,
                                          .rate_hz = 48000.0,
                                          .voice = thrum_voice_beep(1037.0, 0.25, 0.25),
                                          .ending = THRUM_ENDING_SOME,
                                          .tone_dbfs = -42.0,
                                          .hum_over_tone_db = 20.0,
                                          .mains_hz = 50.0,
                                          .harmonics = 60,
                                          .mains_wander_hz = 0.02,
                                          .hum_wobble_db = 1.0,
                                          .noise_dbfs = -62.0,
                                          .hand_wobble_db = 0.7,
                                          .placement_db = 1.0,
                                          .touch_s = 3.0,
                                          .lift_s = 0.8};
}

static bool within(double value, double low, double high)
{
    return value >= low && value <= high; /* false for NaN */
}

static bool more_are_sound(const struct thrum_practice_config *c)
{
    if (c->n_more < 0 || c->n_more >= THRUM_MAX_SENDERS || c->n_more >= c->n_wires)
        return false;
    for (int i = 0; i < c->n_more; i++)
        if (thrum_voice_check(&c->more[i], NULL) != THRUM_OK)
            return false;
    return true;
}

bool practice_config_is_sound(const struct thrum_practice_config *c)
{
    return more_are_sound(c) && c->n_wires >= 2 && c->n_wires <= THRUM_PRACTICE_MAX_WIRES &&
           within(c->rate_hz, THRUM_RATE_MIN_HZ, THRUM_RATE_MAX_HZ) &&
           thrum_voice_check(&c->voice, NULL) == THRUM_OK && (int)c->ending >= THRUM_ENDING_FREE &&
           c->ending <= THRUM_ENDING_SHARED && within(c->drift_hz_per_s, -100.0, 100.0) &&
           within(c->sag_db_per_min, 0.0, 60.0) && within(c->tone_dbfs, -150.0, 0.0) &&
           within(c->hum_over_tone_db, -1000.0, 80.0) && within(c->mains_hz, 45.0, 66.0) &&
           c->harmonics >= 1 && c->harmonics <= 66 && within(c->mains_wander_hz, 0.0, 1.0) &&
           within(c->hum_wobble_db, 0.0, 10.0) && within(c->noise_dbfs, -1000.0, 0.0) &&
           within(c->hand_wobble_db, 0.0, 10.0) && within(c->placement_db, 0.0, 20.0) &&
           within(c->touch_s, 0.01, 3600.0) && within(c->lift_s, 0.0, 3600.0) &&
           thrum_practice_fault_name(c->fault);
}
