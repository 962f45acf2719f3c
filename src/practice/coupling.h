/* From a configuration to how strong each tone is on each wire. */
#ifndef PRACTICE_COUPLING_H
#define PRACTICE_COUPLING_H

#include <stdbool.h>

#include "practice/dice.h"
#include "thrum/practice.h"

struct coupling {
    int n_tones;
    int driven; /* index of the wire the sender drives */
    double amplitude[THRUM_PRACTICE_MAX_WIRES]
                    [THRUM_VOICE_TONES]; /* of the tone, probe on the wire; full scale = 1 */
};

/* Draws the layout, the driven wire and the endings, and solves the network at every tone. Allocates some
   scratch and frees it: THRUM_OK or THRUM_ERR_MEM. */
enum thrum_status coupling_draw(const struct thrum_practice_config *config, struct dice *dice,
                                struct coupling *coupling);

/* Share of each tone in the time the voice sounds; sums to 1. */
void coupling_shares(const struct thrum_voice *voice, double *share);

#endif
