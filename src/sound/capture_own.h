/* Inside of the capture; its thread only. */
#ifndef THRUM_SOUND_CAPTURE_OWN_H
#define THRUM_SOUND_CAPTURE_OWN_H

#include "sound/capture.h"

/* Something for the reader. An event that finds the queue full waits; only losses can be added to one that waits. */
void capture_tell(struct capture *c, enum thrum_source_event kind, uint64_t lost, const char *text);

/* Frames are counted against the clock from now on, as a stream begins. */
void capture_count_anew(struct capture *c);

/* The stream is over; the device is looked for from now on. Told once, however often a stream that was found again dies. */
void capture_go_away(struct capture *c, const char *text);

/* Where it is away: looks for it when it is time, or when somebody asks. */
void capture_look(struct capture *c, uint64_t now_ns);

#endif
