/* The inputs PortAudio knows, by stable names. PortAudio must be running. */
#ifndef THRUM_SOUND_INPUT_LIST_H
#define THRUM_SOUND_INPUT_LIST_H

#include "sound/inputs.h"

struct input_entry {
    struct thrum_input input;
    int device; /* PortAudio's number, good until it is ended */
};

struct input_list {
    struct input_entry *entry; /* [n] malloc'ed */
    int n;
    int chosen; /* the one to open unasked; -1 when there is none */
};

/* THRUM_OK (also with none) or THRUM_ERR_MEM. */
enum thrum_status input_list_make(struct input_list *list);
void input_list_free(struct input_list *list);

/* Finds one by any part of its name, any case; "" is the chosen one.
 * THRUM_ERR_DEVICE (none), THRUM_ERR_ARG (several: message lists them). */
enum thrum_status input_list_find(const struct input_list *list, const char *name, int *found,
                                  struct thrum_message *message);

/* Exactly this stable name; -1 when it is not there. */
int input_list_exact(const struct input_list *list, const char *name);

#endif
