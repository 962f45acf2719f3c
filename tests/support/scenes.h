/* Snapshots of a round in every state a screen must tell apart, made by hand: no sound is measured here.
 * The place is Hollin Fern House, 24 grey wires tagged 1 to 24. */
#ifndef THRUM_TEST_SCENES_H
#define THRUM_TEST_SCENES_H

#include "screen/screen.h"

enum scene_name {
    SCENE_START,
    SCENE_HOLD,
    SCENE_ENOUGH,
    SCENE_WEAKER,   /* a touch that need not be held: far weaker than the best */
    SCENE_HOPELESS, /* a touch of which more time would tell no more */
    SCENE_TAKEN,    /* hands free: the touch was taken while the probe rests */
    SCENE_PICKED,
    SCENE_CLOSE,
    SCENE_CHECK_TAG, /* picked, but the touches may be miscounted */
    SCENE_UNTRUSTED, /* picked, but the input changes strengths by itself */
    SCENE_NO_TONE,
    SCENE_EVERYWHERE,
    SCENE_SILENCE,
    SCENE_TOO_LOW,
    SCENE_OTHER_CADENCE,
    SCENE_OVERLOAD,
    SCENE_WAIT,
    SCENE_LOST,
    SCENE_ENDED,
    SCENE_FINISHED,
    SCENE_TWO_SENDERS,
    SCENE_ONE_WIRE, /* two senders are strongest on one wire */
    SCENE_RECORDING_FAILED,
    SCENE_HALVES,   /* wires 3 to 14 are held together */
    SCENE_NONSENSE, /* no number is one, every index is out of range */
    SCENES
};

/* "start", "hold", ...; NULL beyond the last. */
const char *scene_text(enum scene_name name);

void scene_make(enum scene_name name, struct thrum_snapshot *snapshot, struct thrum_screen_facts *facts);

#endif
