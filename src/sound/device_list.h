/* The sound devices PortAudio knows, inputs or outputs, by stable names. PortAudio must be running. */
#ifndef THRUM_SOUND_DEVICE_LIST_H
#define THRUM_SOUND_DEVICE_LIST_H

#include <stdbool.h>

#include "sound/inputs.h"

struct device_entry {
    struct thrum_input info; /* of an output the same: its name, channels and rate */
    int device;              /* PortAudio's number, good until it is ended */
};

struct device_list {
    struct device_entry *entry; /* [n] malloc'ed */
    int n;
    int chosen; /* the one to open unasked; -1 when there is none, or none stands out */
    bool plays; /* outputs */
};

/* THRUM_OK (also with none) or THRUM_ERR_MEM. */
enum thrum_status device_list_make(struct device_list *list, bool plays);
void device_list_free(struct device_list *list);

/* Finds one by any part of its name, any case; "" or "default" is the chosen one. Never guesses among several.
 * THRUM_ERR_DEVICE (none), THRUM_ERR_ARG (several: message lists them). */
enum thrum_status device_list_find(const struct device_list *list, const char *name, int *found,
                                   struct thrum_message *message);

/* Exactly this stable name; -1 when it is not there. */
int device_list_exact(const struct device_list *list, const char *name);

/* Whether a folder such as /dev/snd has an input (pcm...c) that this user may not open: the hardware is there, only the right to
 * it is missing. False without such a folder. */
bool device_list_refused(const char *path_of_devices);

#endif
