#include "listen/together.h"

#include <math.h>
#include <string.h>

#include "thrum/units.h"

#define PASSES   5    /* over all voices, the first look not counted */
#define STILL_DB 0.01 /* changes that end it */

struct work {
    struct thrum_touchfit *const *fits;
    int n;
    struct thrum_touchfit_job job; /* on what is left */
    float *rest;
    bool out[THRUM_MAX_SENDERS]; /* taken out of the rest */
    struct thrum_together *voices;
};

static void look(struct work *w, int i)
{
    const struct thrum_touchfit_result *fit = thrum_touchfit_run(w->fits[i], &w->job);
    thrum_strength_judge(fit, &w->voices[i].strength, &w->voices[i].notes);
}

/* Voices in the order they are taken out: the strongest that is heard first, what is not heard last. */
static void sort_by_strength(const struct work *w, int *order)
{
    for (int i = 0; i < w->n; i++) {
        int at = i;
        for (; at > 0 && w->voices[i].strength.dbfs > w->voices[order[at - 1]].strength.dbfs; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

/* Measure one with all others taken out, as far as they are known. True when that changed something. */
static bool look_again(struct work *w, int i)
{
    struct thrum_strength before = w->voices[i].strength;
    if (w->out[i])
        thrum_touchfit_add(w->fits[i], 1.0, w->rest, w->job.n);
    look(w, i);
    w->out[i] = w->voices[i].strength.heard;
    if (w->out[i])
        thrum_touchfit_add(w->fits[i], -1.0, w->rest, w->job.n);
    return w->out[i] != before.heard || fabs(w->voices[i].strength.dbfs - before.dbfs) > STILL_DB;
}

static int heard(const struct work *w)
{
    int n = 0;
    for (int i = 0; i < w->n; i++)
        n += w->voices[i].strength.heard;
    return n;
}

void thrum_together_measure(struct thrum_touchfit *const *fits, int n_fits,
                            const struct thrum_touchfit_job *job, float *rest, struct thrum_together *voices)
{
    struct work w = {.fits = fits, .n = n_fits, .job = *job, .rest = rest, .voices = voices};
    int order[THRUM_MAX_SENDERS];
    for (int i = 0; i < n_fits; i++)
        look(&w, i);
    if (n_fits < 2 || heard(&w) == 0)
        return;
    memcpy(rest, job->x, job->n * sizeof *rest);
    w.job.x = rest;
    for (int pass = 0; pass < PASSES; pass++) {
        bool moved = false;
        sort_by_strength(&w, order);
        for (int k = 0; k < n_fits; k++) {
            if (pass == 0 && k == 0) { /* nothing has been taken out yet */
                thrum_touchfit_add(fits[order[0]], -1.0, rest, job->n);
                w.out[order[0]] = true;
                continue;
            }
            moved |= look_again(&w, order[k]);
        }
        /* What is alone needs no second pass: it was measured with nothing beside it. */
        if (heard(&w) < 2 || (pass > 0 && !moved))
            return;
    }
}
