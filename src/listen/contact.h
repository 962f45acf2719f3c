/** @file contact.h
 *  When does the probe rest on a wire, and when is it in the air? Seen from the hum: it collapses when the probe
 *  is lifted. Works on the analysis signal, below 290 Hz, where no sender's tone is.
 *
 *  Where the hum does not tell (none there, or it stays when the probe is lifted) the whole sound counts as one
 *  long contact, and levels.h looks for the touches in it. Pure; no allocation after creation.
 */
#ifndef THRUM_CONTACT_H
#define THRUM_CONTACT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "thrum/status.h"

/** One level every so many seconds. */
#define THRUM_CONTACT_FRAME_S 0.02
/** The floor and the contact level are judged over this much of the past. */
#define THRUM_CONTACT_LOOK_S 60.0

struct thrum_contact;

/** A stretch of contact, in analysis samples. */
struct thrum_contact_span {
    uint64_t first, end;
    /** The hum told where it begins and ends; false: nothing is known but that it was not told apart. */
    bool told;
};

enum thrum_status thrum_contact_create(double rate_hz, struct thrum_contact **contact);
void thrum_contact_destroy(struct thrum_contact *contact);

/** Hear n analysis samples. */
void thrum_contact_feed(struct thrum_contact *contact, const float *x, size_t n);

/**
 * The next finished contact, oldest first; each once. A contact longer than about 24 s is given in pieces.
 * @param[in] ended  The sound has ended: what is going on counts as finished.
 */
bool thrum_contact_next(struct thrum_contact *contact, bool ended, struct thrum_contact_span *span);

/** Is the probe on a wire now, as far as the hum tells? Since which analysis sample? */
bool thrum_contact_now(const struct thrum_contact *contact, uint64_t *since);

#endif
