#include "listen/together.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"

#define PASSES     6     /* over all voices, the first look not counted */
#define STILL_DB   0.02  /* changes that end it */
#define SUSPECT_LG (-10) /* a score that noise alone does not reach */
#define SUSPECTED  2     /* passes in which such voices are taken out too, heard or not */

struct thrum_together_room {
    struct thrum_touchfit *wide[THRUM_MAX_SENDERS];
    float *rest; /* [n_max] */
};

struct work {
    struct thrum_touchfit *const *fits, *const *wide;
    int n;
    struct thrum_touchfit_job job; /* on what is left */
    float *rest;
    int pass;
    bool out[THRUM_MAX_SENDERS]; /* taken out of the rest */
    struct thrum_together *voices;
};

enum thrum_status thrum_together_create(double rate_hz, const struct thrum_voice *voices, int n_voices,
                                        size_t n_max, struct thrum_together_room **room)
{
    *room = NULL;
    struct thrum_together_room *r = calloc(1, sizeof *r);
    if (!r)
        return THRUM_ERR_MEM;
    enum thrum_status status = THRUM_OK;
    for (int i = 0; i < n_voices && !status; i++)
        status = thrum_touchfit_create_wide(rate_hz, &voices[i], &r->wide[i]);
    r->rest = calloc(n_max, sizeof *r->rest);
    if (!status && !r->rest)
        status = THRUM_ERR_MEM;
    if (status) {
        thrum_together_destroy(r);
        return status;
    }
    *room = r;
    return THRUM_OK;
}

void thrum_together_destroy(struct thrum_together_room *room)
{
    if (!room)
        return;
    for (int i = 0; i < THRUM_MAX_SENDERS; i++)
        thrum_touchfit_destroy(room->wide[i]);
    free(room->rest);
    free(room);
}

static void look(struct work *w, int i)
{
    const struct thrum_touchfit_result *fit = thrum_touchfit_run(w->fits[i], &w->job);
    thrum_strength_judge(fit, &w->voices[i].strength, &w->voices[i].notes);
}

/* Two voices of like strength may keep each other from being heard, so at first what is only suspected goes too. */
static bool to_be_out(const struct work *w, int i)
{
    const struct thrum_strength *strength = &w->voices[i].strength;
    return strength->heard || (w->pass < SUSPECTED && strength->score < SUSPECT_LG &&
                               thrum_touchfit_last(w->fits[i])->power > 0.0);
}

/* Voices in the order they are taken out: the strongest first, what is not taken out last. */
static void sort_by_strength(const struct work *w, int *order)
{
    double power[THRUM_MAX_SENDERS];
    for (int i = 0; i < w->n; i++) {
        int at = i;
        power[i] = to_be_out(w, i) ? thrum_touchfit_last(w->fits[i])->power : 0.0;
        for (; at > 0 && power[i] > power[order[at - 1]]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

static void take_out(struct work *w, int i)
{
    thrum_touchfit_sharpen(w->wide[i], w->fits[i], &w->job);
    thrum_touchfit_add(w->wide[i], -1.0, w->rest, w->job.n);
    w->out[i] = true;
}

static void put_back(struct work *w, int i)
{
    thrum_touchfit_add(w->wide[i], 1.0, w->rest, w->job.n);
    w->out[i] = false;
}

/* Measure one with all others taken out, as far as they are known. True when that changed something. */
static bool look_again(struct work *w, int i)
{
    struct thrum_strength before = w->voices[i].strength;
    bool was_out = w->out[i];
    if (was_out)
        put_back(w, i);
    look(w, i);
    if (to_be_out(w, i))
        take_out(w, i);
    return w->out[i] != was_out || w->out[i] != w->voices[i].strength.heard ||
           fabs(w->voices[i].strength.dbfs - before.dbfs) > STILL_DB;
}

/* How many are or will be taken out. */
static int count_out(const struct work *w)
{
    int n = 0;
    for (int i = 0; i < w->n; i++)
        n += w->out[i] || to_be_out(w, i);
    return n;
}

void thrum_together_measure(struct thrum_together_room *room, struct thrum_touchfit *const *fits, int n_fits,
                            const struct thrum_touchfit_job *job, struct thrum_together *voices)
{
    struct work w = {.fits = fits, .n = n_fits, .job = *job, .voices = voices};
    int order[THRUM_MAX_SENDERS];
    for (int i = 0; i < n_fits; i++)
        look(&w, i);
    if (n_fits < 2 || count_out(&w) == 0)
        return;
    w.wide = room->wide;
    w.job.x = w.rest = memcpy(room->rest, job->x, job->n * sizeof *job->x);
    for (bool moved = true; moved && w.pass < PASSES; w.pass++) {
        moved = false;
        sort_by_strength(&w, order);
        for (int k = 0; k < n_fits; k++) {
            if (w.pass == 0 && k == 0) { /* nothing has been taken out yet */
                take_out(&w, order[0]);
                moved |= !voices[order[0]].strength.heard;
                continue;
            }
            moved |= look_again(&w, order[k]);
        }
        /* What is alone needs no second pass: it was measured with nothing beside it. */
        if (count_out(&w) < 2 && voices[order[0]].strength.heard)
            return;
    }
}
