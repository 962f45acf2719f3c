#include "walks.h"

#include <math.h>
#include <stdlib.h>

#include "check.h"

struct walk walk_made(const struct thrum_practice_config *config)
{
    struct thrum_practice *practice;
    struct walk walk = {.rate_hz = config->rate_hz, .n_wires = 0, .voice = config->voice};
    assert_int_equal(thrum_practice_create(config, &practice), THRUM_OK);
    int stops = thrum_practice_walk_stops(practice);
    for (int i = 0; i < stops; i++)
        walk.n += thrum_practice_walk_stop(practice, i).frames;
    walk.x = malloc(walk.n * sizeof *walk.x);
    assert_non_null(walk.x);
    walk.driven = thrum_practice_driven(practice);
    size_t at = 0;
    for (int i = 0; i < stops; i++) {
        struct thrum_practice_stop stop = thrum_practice_walk_stop(practice, i);
        thrum_practice_place(practice, stop.wire);
        thrum_practice_read(practice, walk.x + at, (size_t)stop.frames);
        if (stop.wire >= 0) {
            walk.touch[walk.n_wires] = (struct thrum_span){at, at + stop.frames};
            walk.dbfs[walk.n_wires++] = thrum_practice_strength(practice, stop.wire);
        }
        at += (size_t)stop.frames;
    }
    thrum_practice_destroy(practice);
    return walk;
}

void walk_free(struct walk *walk)
{
    free(walk->x);
    walk->x = NULL;
}

/* A listener that has heard all of the walk. */
static struct thrum_listener *listened(const struct walk *walk, size_t block)
{
    struct thrum_listener_config config = {
        .rate_hz = walk->rate_hz, .channels = 1, .channel = -1, .n_voices = 1, .voice = {walk->voice}};
    struct thrum_listener *listener;
    config.find_touches = true;
    assert_int_equal(thrum_listener_create(&config, &listener), THRUM_OK);
    for (size_t at = 0; at < walk->n; at += block)
        thrum_listener_feed(listener, walk->x + at, walk->n - at < block ? walk->n - at : block);
    thrum_listener_finish(listener);
    return listener;
}

int walk_heard(const struct walk *walk, size_t block, struct thrum_span *found)
{
    struct thrum_listener *listener = listened(walk, block);
    int n = 0;
    while (n < WALK_TOUCHES && thrum_listener_next_touch(listener, &found[n]))
        n++;
    thrum_listener_destroy(listener);
    return n;
}

int walk_strongest(const struct walk *walk, struct thrum_reading *strongest)
{
    struct thrum_listener *listener = listened(walk, 4096);
    struct thrum_span span;
    struct thrum_reading reading;
    int best = -1;
    for (int n = 0; thrum_listener_next_touch(listener, &span); n++) {
        assert_int_equal(thrum_listener_measure(listener, span, &reading), THRUM_OK);
        if (!reading.strength[0].heard ||
            (best >= 0 && reading.strength[0].dbfs <= strongest->strength[0].dbfs))
            continue;
        *strongest = reading;
        best = n;
    }
    thrum_listener_destroy(listener);
    return best;
}

void walk_expect(const struct walk *walk, const struct thrum_span *found, int n_found, double border_s)
{
    assert_int_equal(n_found, walk->n_wires);
    for (int i = 0; i < n_found; i++) {
        assert_close((double)found[i].first / walk->rate_hz, (double)walk->touch[i].first / walk->rate_hz,
                     border_s);
        assert_close((double)found[i].end / walk->rate_hz, (double)walk->touch[i].end / walk->rate_hz,
                     border_s);
    }
}
