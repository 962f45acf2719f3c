#include "sounds.h"

#include <math.h>
#include <stdbool.h>

#include "thrum/units.h"

/* A ring: two poles at hz, half of its energy gone in about 0.11/bandwidth. */
struct ring {
    double a1, a2, y1, y2;
};

static struct ring ring_at(double hz, double bandwidth_hz, double rate_hz)
{
    double r = exp(-THRUM_PI * bandwidth_hz / rate_hz);
    return (struct ring){.a1 = 2.0 * r * cos(2.0 * THRUM_PI * hz / rate_hz), .a2 = -r * r};
}

static double ring_next(struct ring *ring, double x)
{
    double y = x + ring->a1 * ring->y1 + ring->a2 * ring->y2;
    ring->y2 = ring->y1;
    ring->y1 = y;
    return y;
}

/* Each syllable: a pitch that glides, three formants in parallel; or a hiss; then often a pause. */
void sound_speech(struct rng *rng, float *x, size_t n, double rate_hz)
{
    for (size_t at = 0; at < n;) {
        size_t length = (size_t)(rate_hz * rng_between(rng, 0.08, 0.35));
        bool hiss = rng_uniform(rng) < 0.25;
        double pitch = rng_between(rng, 90.0, 230.0), glide = rng_between(rng, -60.0, 60.0), turn = 0.0;
        double level = thrum_amplitude_from_db(rng_between(rng, -50.0, -30.0));
        struct ring formant[3] = {ring_at(rng_between(rng, 280.0, 850.0), 80.0, rate_hz),
                                  ring_at(rng_between(rng, 900.0, 2300.0), 100.0, rate_hz),
                                  ring_at(rng_between(rng, 2300.0, 3200.0), 150.0, rate_hz)};
        for (size_t i = 0; i < length && at + i < n; i++) {
            double part = (double)i / (double)length, drive = 0.1 * rng_normal(rng);
            turn += (pitch + glide * part) / rate_hz;
            if (!hiss && turn >= 1.0)
                drive = 3.0;
            turn -= floor(turn);
            double y = ring_next(&formant[0], drive) + 0.5 * ring_next(&formant[1], drive) +
                       0.25 * ring_next(&formant[2], drive);
            x[at + i] += (float)(level * sin(THRUM_PI * part) * (hiss ? drive * 10.0 : y));
        }
        at += length;
        if (rng_uniform(rng) < 0.5)
            at += (size_t)(rate_hz * rng_between(rng, 0.02, 0.4));
    }
    add_noise(rng, x, n, 1e-4);
}

void sound_wind(struct rng *rng, float *x, size_t n, double rate_hz)
{
    double keep = exp(-2.0 * THRUM_PI * 20.0 / rate_hz), slow = exp(-1.0 / (0.4 * rate_hz)), brown = 0.0;
    double gust = rng_normal(rng);
    for (size_t i = 0; i < n; i++) {
        gust = slow * gust + sqrt(1.0 - slow * slow) * rng_normal(rng);
        brown = keep * brown + sqrt(1.0 - keep * keep) * rng_normal(rng);
        x[i] += (float)(0.03 * brown * thrum_amplitude_from_db(6.0 * gust));
    }
    add_noise(rng, x, n, 1e-5);
}

static void click(struct rng *rng, float *x, size_t n, double rate_hz)
{
    struct ring body = ring_at(rng_between(rng, 400.0, 3200.0), rng_between(rng, 50.0, 1000.0), rate_hz);
    double level = thrum_amplitude_from_db(rng_between(rng, -40.0, -15.0));
    for (size_t i = 0; i < n && i < (size_t)(0.1 * rate_hz); i++)
        x[i] += (float)(level * ring_next(&body, i == 0 ? 1.0 : 0.0));
}

void sound_clicks(struct rng *rng, float *x, size_t n, double rate_hz)
{
    double a_second = rng_between(rng, 1.0, 10.0);
    for (double t = 0.0; t < (double)n; t -= rate_hz / a_second * log(1.0 - rng_uniform(rng)))
        click(rng, x + (size_t)t, n - (size_t)t, rate_hz);
    add_noise(rng, x, n, 1e-4);
}

void sound_click_train(struct rng *rng, float *x, size_t n, double rate_hz)
{
    double each = rate_hz / rng_between(rng, 1.0, 20.0);
    struct rng same = *rng;
    for (double t = each * rng_uniform(rng); t < (double)n; t += each) {
        struct rng again = same; /* every click alike */
        click(&again, x + (size_t)t, n - (size_t)t, rate_hz);
    }
    add_noise(rng, x, n, 1e-4);
}

void sound_gain_steps(struct rng *rng, float *x, size_t n, double rate_hz)
{
    for (size_t at = 0; at < n;) {
        size_t length = (size_t)(rate_hz * rng_between(rng, 0.1, 0.8));
        length = length < n - at ? length : n - at;
        add_noise(rng, x + at, length, thrum_amplitude_from_db(rng_between(rng, -60.0, -40.0)));
        at += length;
    }
}
