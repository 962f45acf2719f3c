#include "touch.h"

#include <math.h>
#include <string.h>

#include "thrum/listen.h"
#include "thrum/units.h"

struct touch_case touch_case_plain(void)
{
    return (struct touch_case){
        .rate_hz = 8000.0, .length_s = 3.0, .on_s = 0.25, .off_s = 0.25, .tone_hz = 1037.0, .snr_db = 60.0};
}

size_t touch_samples(const struct touch_case *c)
{
    return (size_t)lround(c->length_s * c->rate_hz);
}

/* Harmonics 8 to 22: where the mains wanders by 0.02 Hz they move by less than half a hertz. */
static double place_tone(struct rng *rng, const struct touch_case *c, double mains_hz)
{
    int h = 8 + (int)(15.0 * rng_uniform(rng));
    if (c->parity >= 0 && h % 2 != c->parity)
        h += h < 22 ? 1 : -1;
    return h * mains_hz + (rng_uniform(rng) < 0.5 ? -1.0 : 1.0) * c->off_hz;
}

void touch_make(struct rng *rng, const struct touch_case *c, struct touch *touch)
{
    double cycle_s = c->on_s + c->off_s, on = c->length_s * c->rate_hz * c->on_s / cycle_s;
    double amplitude = thrum_amplitude_from_db(TOUCH_DBFS);
    touch->n = touch_samples(c);
    touch->rate_hz = c->rate_hz;
    touch->mains_hz = c->mains_hz > 0.0 ? c->mains_hz + rng_between(rng, -0.1, 0.1) : 0.0;
    touch->voice = thrum_voice_beep(c->tone_hz > 0.0 ? c->tone_hz : place_tone(rng, c, touch->mains_hz),
                                    c->on_s, c->off_s);
    memset(touch->x, 0, touch->n * sizeof *touch->x);

    struct sender sender = {.voice = touch->voice, .dbfs = TOUCH_DBFS, .start_s = cycle_s * rng_uniform(rng)};
    touch->truth_dbfs =
        c->no_tone ? THRUM_FLOOR_DBFS : add_sender(rng, touch->x, touch->n, c->rate_hz, &sender);
    /* eta N_on = A^2 N_on / (2 s^2) */
    add_noise(rng, touch->x, touch->n, amplitude * sqrt(on / (2.0 * thrum_power_from_db(c->snr_db))));
    if (c->mains_hz > 0.0) {
        struct hum hum = {.hz = touch->mains_hz,
                          .wander_hz = 0.02,
                          .harmonics = 60,
                          .dbfs = TOUCH_DBFS + c->hum_db,
                          .wobble_db = 1.0};
        add_hum(rng, touch->x, touch->n, c->rate_hz, &hum);
    }
}

bool sound_measure(const float *x, size_t n, double rate_hz, const struct thrum_voice *voices, int n_voices,
                   struct thrum_reading *reading)
{
    struct thrum_listener_config config = {
        .rate_hz = rate_hz, .channels = 1, .channel = -1, .n_voices = n_voices};
    struct thrum_listener *listener;
    for (int i = 0; i < n_voices; i++)
        config.voice[i] = voices[i];
    if (thrum_listener_create(&config, &listener))
        return false;
    thrum_listener_feed(listener, x, n);
    thrum_listener_finish(listener);
    bool ok = !thrum_listener_measure(listener, (struct thrum_span){0, n}, reading);
    thrum_listener_destroy(listener);
    return ok;
}

bool touch_measure(const struct touch *touch, struct thrum_reading *reading)
{
    return sound_measure(touch->x, touch->n, touch->rate_hz, &touch->voice, 1, reading);
}
