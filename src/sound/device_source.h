/* The device source's inner door, for tests. */
#ifndef THRUM_SOUND_DEVICE_SOURCE_H
#define THRUM_SOUND_DEVICE_SOURCE_H

#include "sound/host.h"
#include "sound/source.h"

enum thrum_status device_source_open(const struct sound_host *host, const char *name,
                                     struct thrum_source **source, struct thrum_message *message);

/* Blocks that the driver flagged as overflowed; a diagnosis, not a loss. */
uint64_t device_source_overflows(const struct thrum_source *source);

/* One step of the capture, where the host gives it no thread: as if that went on while the reader is held up. */
void device_source_step(struct thrum_source *source);

#endif
