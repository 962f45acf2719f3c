/* What a sender was found to be, once more: with the far hum lines told from it, and heard more widely. */
#include <string.h>

#include "signal/touchfit_own.h"

#define RENEWALS 4 /* each leaves less of the beeps' edges in the far lines */

bool thrum_touchfit_has_near_lines(const struct thrum_touchfit *f)
{
    for (int k = 0; k < f->voice.n_tones; k++)
        if (f->tone[k].n_near > 0)
            return true;
    return false;
}

void thrum_touchfit_renew_far_lines(struct thrum_touchfit *f, const struct thrum_lock_state *state)
{
    if (thrum_touchfit_has_near_lines(f)) /* how stiff they are hangs on the noise, which is another by now */
        thrum_touchfit_fit_all(f, state);
    for (int k = 0; k < f->voice.n_tones; k++) {
        struct thrum_touchfit_tone *tone = &f->tone[k];
        if (tone->n_far == 0)
            continue;
        for (size_t m = 0; m < f->count; m++) /* rest holds the residual: put the old far lines back */
            tone->clean[m] = cplx_add(tone->rest[m], cplx_sub(tone->raw[m], tone->z[m]));
        memcpy(tone->rest, tone->clean, f->count * sizeof *tone->rest);
        for (int pass = 0; pass < 2; pass++)
            for (int i = 0; i < tone->n_far; i++)
                thrum_humlines_take_out(tone->fit, tone->baseband, &tone->far[i], tone->clean, f->first,
                                        f->count, tone->clean);
        for (size_t m = 0; m < f->count; m++)
            tone->z[m] = cplx_sub(tone->raw[m], cplx_sub(tone->rest[m], tone->clean[m]));
    }
}

/* The state of one fit, as meant in another one's stretch. */
static struct thrum_lock_state state_from(const struct thrum_touchfit *found, const struct thrum_touchfit *f)
{
    struct thrum_lock_state state = found->result.state;
    double later_s = thrum_touchfit_middle_s(f) - thrum_touchfit_middle_s(found);
    double moved_hz = state.slope_hz_per_s * later_s;
    state.timing.start_s += later_s / state.timing.scale;
    state.offset_hz += moved_hz;
    for (int k = 0; k < f->voice.n_tones; k++)
        state.tone_offset_hz[k] += moved_hz * f->voice.tones_hz[k] / f->voice.tones_hz[0];
    return state;
}

void thrum_touchfit_sharpen(struct thrum_touchfit *fit, const struct thrum_touchfit *found,
                            const struct thrum_touchfit_job *job)
{
    struct thrum_touchfit *f = fit;
    memset(&f->result, 0, sizeof f->result);
    f->free_steps = false;
    f->n_timings = f->voice.steady ? 0 : 3;
    if (found->result.n_beeps == 0 || !thrum_touchfit_take_stretch(f, job))
        return;
    struct thrum_lock_state state = state_from(found, f);
    for (int k = 0; k < f->voice.n_tones; k++)
        thrum_touchfit_prepare_tone(f, &f->tone[k], job);
    thrum_touchfit_use_clean(f);
    thrum_touchfit_noise_beside_beeps(f, &state);
    thrum_touchfit_climb(f, &state);
    thrum_touchfit_set_noise(f);
    for (int i = 0; i < RENEWALS; i++) {
        thrum_touchfit_renew_far_lines(f, &state);
        thrum_touchfit_climb(f, &state);
        thrum_touchfit_set_noise(f);
    }
    f->result.state = state;
    f->result.power = f->sums.power / f->sums.on;
}
