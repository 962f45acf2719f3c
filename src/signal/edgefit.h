/** @file edgefit.h
 *  A voice's tones and edges from the samples themselves: maximum likelihood for a sound that is, from edge to
 *  edge, one tone or none.
 *
 *  A piece of N samples that holds a tone of unknown amplitude and phase explains 2 |sum x exp(-j w t)|^2 / N of
 *  the energy. Frequencies and edges are put where the pieces explain most; the same edge of every repetition is
 *  moved together. Tones may lie as near to each other and follow as fast as they like; hum must be weak beside
 *  the tone or be taken out before (touchfit.h fits it too, but one tone's neighbourhood at a time).
 *  Source: S. M. Kay, Estimation Theory, 1993, ML of a sinusoid; segments by their summed likelihood (from memory).
 */
#ifndef THRUM_EDGEFIT_H
#define THRUM_EDGEFIT_H

#include <stddef.h>

#include "thrum/status.h"
#include "thrum/voice.h"

struct thrum_edgefit_result {
    struct thrum_voice
        voice;             /**< Tones at the sound's middle; steps; level_dbfs and spread_s are filled in. */
    double start_s;        /**< Time into the pattern at the first sample. */
    double slope_hz_per_s; /**< First tone's drift; the others move in proportion. */
    double quality_db;     /**< Tone over what is left within 60 Hz of it. */
    double unevenness;     /**< Scatter of the amplitudes of the pieces over their mean. */
    double explained;      /**< Share of the energy within 60 Hz of the tones that the voice explains. */
};

struct thrum_edgefit;

/** @param[in] n_max  Most samples of a sound. @retval THRUM_OK, THRUM_ERR_MEM. */
enum thrum_status thrum_edgefit_create(double rate_hz, size_t n_max, int n_tones, struct thrum_edgefit **fit);
void thrum_edgefit_destroy(struct thrum_edgefit *fit);

/**
 * @param[in]  x        Finite samples, shape [n].
 * @param[in]  voice    About right: tones within a bin of the look, steps within a fifth; n_tones as created.
 * @param[in]  begin_s  A repetition begins here.
 * @retval THRUM_OK
 * @retval THRUM_ERR_NOT_FOUND  No edge of the pattern lies in the sound.
 */
enum thrum_status thrum_edgefit_run(struct thrum_edgefit *fit, const float *x, size_t n,
                                    const struct thrum_voice *voice, double begin_s,
                                    struct thrum_edgefit_result *result);

/** What the last run left over when the voice is taken out, shape [n]. Belongs to the fit. */
const float *thrum_edgefit_rest(const struct thrum_edgefit *fit);

#endif
