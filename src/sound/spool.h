/* A pipe poured into a temporary file, for formats that cannot be read as they come. */
#ifndef THRUM_SOUND_SPOOL_H
#define THRUM_SOUND_SPOOL_H

#include <stdint.h>

#include "sound/bytes.h"
#include "sound/source.h"

#define SPOOL_MAX_BYTES ((int64_t)2 << 30)

/* Everything of the pipe, from its first byte. *fd: an unnamed temporary file, owned by the caller; -1 on error. */
enum thrum_status spool_pipe(struct bytes *pipe, int *fd, int64_t *size, struct thrum_message *message);

#endif
