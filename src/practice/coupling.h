/* From a configuration to how strong each tone is on each wire. */
#ifndef PRACTICE_COUPLING_H
#define PRACTICE_COUPLING_H

#include <stdbool.h>

#include "practice/dice.h"
#include "practice/network.h"
#include "thrum/practice.h"

/* Of one sender. */
struct coupling {
    const struct thrum_voice *voice; /* the configuration's */
    int n_tones;
    int driven; /* index of the wire the sender drives */
    double amplitude[THRUM_PRACTICE_MAX_WIRES]
                    [THRUM_VOICE_TONES]; /* of the tone, probe on the wire; full scale = 1 */
    struct phasor
        own[THRUM_PRACTICE_MAX_WIRES]
           [THRUM_VOICE_TONES]; /* of the wire itself as it ends, nobody lifting it; on the same scale */
};

/* Draws the layout, the driven wires and the endings, and solves the network at every tone of every sender. `more`: the
   draws of the further senders. Allocates some scratch and frees it: THRUM_OK or THRUM_ERR_MEM. couplings: shape
   [1 + config->n_more]; they point into the configuration. */
enum thrum_status coupling_draw(const struct thrum_practice_config *config, struct dice *dice,
                                struct dice *more, struct coupling *couplings);

/* Share of each tone in the time the voice sounds; sums to 1. */
void coupling_shares(const struct thrum_voice *voice, double *share);

#endif
