#include "wires.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "check.h"

struct wires_plan wires_plan_usual(uint64_t seed)
{
    return (struct wires_plan){
        .seed = seed,
        .n_wires = 12,
        .rate_hz = 8000,
        .touch_s = 3,
        .sender = {.voice = thrum_voice_beep(1037, 0.25, 0.25), .dbfs = -45, .wobble_db = 0.5},
        .hum = {.hz = 50.02, .wander_hz = 0.02, .harmonics = 40, .dbfs = -25, .wobble_db = 0.5},
        .noise_dbfs = -75,
        .least_down_db = 8,
        .spread_db = 5,
        .placement_db = 0.5,
    };
}

struct wires wires_made(const struct wires_plan *plan)
{
    struct wires w = {.plan = *plan, .rng = rng_seeded(plan->seed), .driven = -1};
    w.n = (size_t)lrint(plan->rate_hz * plan->touch_s);
    w.hum_n = 4 * w.n;
    w.hum = calloc(w.hum_n, sizeof *w.hum);
    assert_non_null(w.hum);
    add_hum(&w.rng, w.hum, w.hum_n, plan->rate_hz, &plan->hum);
    if (!plan->no_sender && plan->least_down_db > 0.0)
        w.driven = (int)(rng_uniform(&w.rng) * plan->n_wires);
    for (int i = 0; i < plan->n_wires; i++) {
        w.dbfs[i] = plan->sender.dbfs;
        if (i == w.driven || plan->least_down_db <= 0.0)
            continue;
        int neighbour = i == w.driven - 1 || i == w.driven + 1;
        w.dbfs[i] -= plan->least_down_db + (neighbour ? 0.0 : rng_between(&w.rng, 0, plan->spread_db));
    }
    return w;
}

void wires_free(struct wires *wires)
{
    free(wires->hum);
    wires->hum = NULL;
}

double wires_touch(struct wires *wires, int i, float *x)
{
    struct wires *w = wires;
    const struct wires_plan *plan = &w->plan;
    struct sender sender = plan->sender;
    size_t from = (size_t)(rng_uniform(&w->rng) * (double)(w->hum_n - w->n));
    float gain = (float)thrum_amplitude_from_db(rng_between(&w->rng, -3, 3));
    double played = THRUM_FLOOR_DBFS;
    for (size_t k = 0; k < w->n; k++)
        x[k] = gain * w->hum[from + k];
    add_noise(&w->rng, x, w->n, thrum_amplitude_from_db(plan->noise_dbfs) * sqrt(0.5));
    if (plan->no_sender)
        return played;
    sender.dbfs = w->dbfs[i] + plan->placement_db * rng_normal(&w->rng);
    sender.start_s = rng_uniform(&w->rng) * thrum_voice_cycle_s(&sender.voice);
    return add_sender(&w->rng, x, w->n, plan->rate_hz, &sender);
}

struct thrum_snapshot *wires_round(const struct wires_plan *plan, int *driven)
{
    struct wires w = wires_made(plan);
    struct thrum_round_config config = {.pick = thrum_pick_config_default(), .n_wires = plan->n_wires};
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    struct thrum_round *round;
    float *x = calloc(w.n, sizeof *x);
    config.listener = (struct thrum_listener_config){
        .rate_hz = plan->rate_hz, .channels = 1, .channel = -1, .n_voices = 1, .voice = {plan->sender.voice}};
    assert_non_null(snapshot);
    assert_non_null(x);
    assert_int_equal(thrum_round_create(&config, &round), THRUM_OK);
    for (int i = 0; i < plan->n_wires; i++) {
        wires_touch(&w, i, x);
        assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
        thrum_round_feed(round, x, w.n);
        assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
    }
    thrum_round_end(round);
    thrum_round_snapshot(round, snapshot);
    *driven = w.driven;
    thrum_round_destroy(round);
    free(x);
    wires_free(&w);
    return snapshot;
}
