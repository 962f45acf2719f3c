/** @file together.h
 *  Several senders in one stretch of sound, each measured as if it were alone.
 *
 *  A keyed tone is heard far beside its frequency: a voice 25 Hz from another one 20 dB stronger is not heard at all.
 *  So what was found of each is taken out before the next is measured, the strongest first, and then all once more
 *  with everything else taken out, until nothing changes. What is taken out is fitted over a wider band than it is
 *  measured in: an edge in the wrong place is a click, which every voice hears. Pure; no allocation after creation.
 */
#ifndef THRUM_TOGETHER_H
#define THRUM_TOGETHER_H

#include <stddef.h>

#include "signal/strength.h"
#include "signal/touchfit.h"

/** One voice in the stretch. */
struct thrum_together {
    struct thrum_strength strength;
    struct thrum_strength_notes notes;
};

/** Room for telling several voices apart. */
struct thrum_together_room;

/** @param[in] n_max  Most samples of a stretch. @retval THRUM_OK, THRUM_ERR_ARG (as thrum_touchfit_create()), THRUM_ERR_MEM. */
enum thrum_status thrum_together_create(double rate_hz, const struct thrum_voice *voices, int n_voices,
                                        size_t n_max, struct thrum_together_room **room);
void thrum_together_destroy(struct thrum_together_room *room);

/**
 * @param[in]     room  For these voices; NULL for a single one.
 * @param[in]     fits  One per voice. Shape [n_fits], 1 to THRUM_MAX_SENDERS.
 * @param[in]     job   The stretch; from must be NULL.
 * @param[out]    voices  Shape [n_fits]. The fits hold their last run.
 */
void thrum_together_measure(struct thrum_together_room *room, struct thrum_touchfit *const *fits, int n_fits,
                            const struct thrum_touchfit_job *job, struct thrum_together *voices);

#endif
