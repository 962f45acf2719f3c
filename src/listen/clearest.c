#include "listen/clearest.h"

int thrum_hum_in(struct thrum_mains *mains, const float *x, size_t n,
                 struct thrum_mains_value found[THRUM_MAINS_MAX], struct thrum_hum_source *hum)
{
    double hz[THRUM_MAINS_OTHERS];
    int count = 0;
    thrum_mains_measure(mains, x, n, found);
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        if (found[i].found)
            hum[count++] = (struct thrum_hum_source){.hz = found[i].hz,
                                                     .slope_hz_per_s = found[i].slope_hz_per_s,
                                                     .wander_hz = found[i].wander_hz};
    int others = thrum_mains_others(mains, hz);
    for (int i = 0; i < others; i++)
        hum[count++] = (struct thrum_hum_source){.hz = hz[i], .alone = true};
    return count;
}

/* Voices in turn, `from` first; all of them, or until one is heard. */
static struct thrum_clearest best_in(const struct thrum_touch_tools *tools, const float *x, size_t n,
                                     int from, bool all)
{
    struct thrum_mains_value found[THRUM_MAINS_MAX];
    struct thrum_hum_source hum[THRUM_HUM_SOURCES];
    struct thrum_touchfit_job job = {.x = x, .n = n, .hum = hum};
    struct thrum_clearest best = {0};
    job.n_hum = thrum_hum_in(tools->mains, x, n, found, hum);
    for (int k = 0; k < tools->n_fits && (all || !best.strength.heard); k++) {
        int i = (from + k) % tools->n_fits;
        struct thrum_clearest one = {.voice = i, .fit = thrum_touchfit_run(tools->fits[i], &job)};
        thrum_strength_judge(one.fit, &one.strength, &one.notes);
        if (!best.fit || one.strength.score < best.strength.score)
            best = one;
    }
    return best;
}

struct thrum_clearest thrum_clearest_in(const struct thrum_touch_tools *tools, const float *x, size_t n)
{
    return best_in(tools, x, n, 0, true);
}

struct thrum_clearest thrum_heard_in(const struct thrum_touch_tools *tools, const float *x, size_t n,
                                     int from)
{
    return best_in(tools, x, n, from, false);
}
