/* What the whole sound's spectrum tells: the noise between all lines, and whether it ends at 4 or 8 kHz as if it had been
 * cut off, as telephones and Bluetooth headsets do. */
#ifndef THRUM_CHECK_BAND_H
#define THRUM_CHECK_BAND_H

#include "commands/check_facts.h"

/* Fills noise_dbfs and band_hz for the first channel's sound; THRUM_FLOOR_DBFS and 0 when it is shorter than a second.
 * THRUM_OK or THRUM_ERR_MEM. */
enum thrum_status check_band(const struct check_sound *sound, struct check_facts *facts);

#endif
