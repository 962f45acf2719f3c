/** @file output.h
 *  A sound output: tones for a sender, a monitor for the ear. Mono in, the same on both sides of a stereo device.
 *
 *  Opened without a callback and written only by what the device has room for, so that no call waits for a device that
 *  has died; starting, opening and ending are limited in time. Starts PortAudio by itself: while an output is open,
 *  new devices are not found by the list of inputs. One thread at a time uses an output.
 */
#ifndef THRUM_OUTPUT_H
#define THRUM_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "sound/host.h"
#include "sound/source.h"
#include "thrum/status.h"

struct thrum_output;

struct thrum_output_config {
    const char
        *name; /**< Any part of its stable name, any case; NULL, "" or "default": the system's default, or
                           the only one there is. */
    double rate_hz; /**< Exactly this, 8000 to 192000; 0: what the device likes best. */
    /** Wanted time from writing to hearing, 0.01 to 1; 0: 0.1 to 0.3 as the device likes. */
    double latency_s;
};

/**
 * Open and start; the device plays silence until something is written.
 *
 * @param[out] output   Owned by the caller, or NULL on error. Free with thrum_output_close().
 * @param[out] message  On error one line saying what is wrong and what to do next. May be NULL.
 * @retval THRUM_OK, THRUM_ERR_DEVICE, THRUM_ERR_MEM, THRUM_ERR_ARG (a number is outside its range; several
 *         outputs fit, and the message lists them).
 */
enum thrum_status thrum_output_open(const struct thrum_output_config *config, struct thrum_output **output,
                                    struct thrum_message *message);

/** The same with another clock, for tests. */
enum thrum_status output_open(const struct sound_host *host, const struct thrum_output_config *config,
                              struct thrum_output **output, struct thrum_message *message);

/** Frames per second as really played; the device's name. Valid until it is closed. */
double thrum_output_rate_hz(const struct thrum_output *output);
const char *thrum_output_name(const struct thrum_output *output);

/** Seconds from writing to hearing, as the device says; 0.05 to 1. */
double thrum_output_latency_s(const struct thrum_output *output);

/** Times at which the device ran dry because nothing was written in time. */
uint64_t thrum_output_gaps(const struct thrum_output *output);

/** Frames there is room for now. @retval THRUM_OK, THRUM_ERR_DEVICE (it is gone, or has had no room for a second). */
enum thrum_status thrum_output_room(struct thrum_output *output, size_t *frames);

/**
 * Play what there is room for now; never waits.
 *
 * @param[in]  samples  Full scale = +/-1, limited to it; NaN is played as 0. Shape [n].
 * @param[out] taken    How many were taken, 0 to n.
 * @retval THRUM_OK, THRUM_ERR_DEVICE (the device is gone: close it).
 */
enum thrum_status thrum_output_offer(struct thrum_output *output, const float *samples, size_t n,
                                     size_t *taken);

/**
 * Play all of it, waiting for room. A device that takes nothing for a second counts as gone.
 *
 * @retval THRUM_OK, THRUM_ERR_DEVICE with a message.
 */
enum thrum_status thrum_output_write(struct thrum_output *output, const float *samples, size_t n,
                                     struct thrum_message *message);

/** Stop and free, within some seconds whatever the device does. to_the_end: what was written is heard first. NULL ok. */
void thrum_output_close(struct thrum_output *output, bool to_the_end);

#endif
