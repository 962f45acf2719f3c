/** @file flac_copy.h
 *  A FLAC copy of a finished recording: the same samples in about half the room, with what the recording says of itself and
 *  its marks. The recording stays.
 */
#ifndef THRUM_FLAC_COPY_H
#define THRUM_FLAC_COPY_H

#include <stddef.h>

#include "sound/source.h"

/**
 * Copy, then read the copy again and compare every sample and mark; only then does it have its name.
 *
 * @param[in]  wav      A closed recording of ours: 24 bits, up to 8 channels.
 * @param[out] flac     Path of the copy: that of wav with .flac in place of .wav; _2 to _999 is added rather than replace
 *                      a file. "" on error.
 * @param[out] message  On error what is wrong; nothing is left of the copy then. Not NULL.
 * @retval THRUM_OK, THRUM_ERR_FILE, THRUM_ERR_FORMAT (more than 8 channels, no FLAC here), THRUM_ERR_FULL, THRUM_ERR_MEM.
 */
enum thrum_status thrum_flac_copy(const char *wav, char *flac, size_t size, struct thrum_message *message);

#endif
