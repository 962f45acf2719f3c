/* What every kind of source has inside; seen by the sources only. */
#ifndef THRUM_SOUND_SOURCE_OWN_H
#define THRUM_SOUND_SOURCE_OWN_H

#include "sound/source.h"

/* The first member of each kind of source. */
struct thrum_source {
    struct thrum_source_info info;
    struct thrum_mark *marks; /* malloc'ed, [n_marks]; freed by thrum_source_close() */
    size_t n_marks;
    char *about; /* malloc'ed or NULL; freed by thrum_source_close() */
    /* block is zeroed, event DATA; max_frames is at least 1. */
    void (*read)(struct thrum_source *source, float *samples, size_t max_frames,
                 struct thrum_source_block *block);
    /* NULL for all but a device; name is one of an input, or "". */
    enum thrum_status (*look)(struct thrum_source *source, const char *name);
    bool (*offers)(struct thrum_source *source, struct thrum_offers *offers);
    /* Frees the whole object except marks. */
    void (*close)(struct thrum_source *source);
};

/* A block that ends the source with these words. */
void source_failed(struct thrum_source_block *block, const char *format, ...);

#endif
