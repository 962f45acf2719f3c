/* A recording's marks follow its round: a reading that is taken back, completed or given another tag, and a wire that is left
 * out, is in the recording as it is in the round. One thread at a time. */
#ifndef THRUM_MARKING_H
#define THRUM_MARKING_H

#include <stdbool.h>
#include <stdint.h>

#include "sound/recorder.h"
#include "thrum/round.h"
#include "thrum/status.h"

struct marking;

/* NULL without memory. */
struct marking *marking_create(void);
void marking_destroy(struct marking *marking);

/* The recording has so many frames from before the round. */
void marking_before(struct marking *marking, uint64_t frames);

/* At a frame of the clock so many frames follow that the recording has and the round does not. False: no more pauses can
 * be kept; nothing is changed then. */
bool marking_pause(struct marking *marking, uint64_t clock, uint64_t frames);

/* Mark the readings of the snapshot that are not marked as they are, and take back marks without a reading; the same with notes
 * of the wires left out. A reading beyond the end of the recording gets no mark. THRUM_ERR_FULL: the recording holds no more
 * marks. */
enum thrum_status marking_follow(struct marking *marking, struct thrum_recorder *recorder,
                                 const struct thrum_snapshot *snapshot);

#endif
