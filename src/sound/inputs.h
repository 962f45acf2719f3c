/** @file inputs.h
 *  The list of sound inputs. Main thread only; starts and ends PortAudio by itself. While a device source is open the
 *  list is the old one: new inputs show after it is closed.
 */
#ifndef THRUM_INPUTS_H
#define THRUM_INPUTS_H

#include <stdbool.h>

#include "sound/source.h"
#include "thrum/status.h"

struct thrum_input {
    char name[160];  /**< Stable: host API, name and ordinal among equals. */
    int channels;    /**< At most. */
    double rate_hz;  /**< The device's default; 0 when it gives nonsense. */
    bool is_default; /**< The one that is opened unasked: not always the system's (a monitor never is). */
    bool monitor;    /**< Hears the loudspeakers, not the probe. */
    bool bluetooth;
};

/**
 * @param[out] inputs  Shape [max]; may be NULL when max is 0.
 * @param[out] count   How many there are, also beyond max.
 * @retval THRUM_OK (also with none), THRUM_ERR_DEVICE.
 */
enum thrum_status thrum_inputs_list(struct thrum_input *inputs, int max, int *count,
                                    struct thrum_message *message);

#endif
