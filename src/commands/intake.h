/* The sound a command works on, from any source, with a memory: what was read to learn a voice is heard again. */
#ifndef THRUM_INTAKE_H
#define THRUM_INTAKE_H

#include <stdbool.h>

#include "commands/practice_probe.h"
#include "sound/source.h"

struct intake;

struct intake_config {
    const char *from;            /* device:NAME, file:PATH, practice:SEED, -; kept as long as the intake */
    const char *path;            /* a file, in place of from; or NULL */
    struct thrum_source *source; /* open already, in place of both, and the intake's from now on; or NULL */
    enum practice_hand hand;     /* for a practice bundle... */
    bool paced;                  /* ...in the time it would take in life */
    int n_wires;                 /* of a practice bundle; 0: as many as it has by default */
};

/* Frames of one read, at most. */
#define INTAKE_FRAMES 65536

/* Opens it. *intake is NULL unless CODE_DONE is returned; else message says what to do. */
int intake_open(const struct intake_config *config, struct intake **intake, struct thrum_message *message);
void intake_close(struct intake *intake);

const struct thrum_source_info *intake_info(const struct intake *intake);

/* NULL unless it is a practice bundle. */
struct practice_probe *intake_practice(struct intake *intake);
const struct thrum_source *intake_source(const struct intake *intake);

/* As thrum_source_read(), at most max_frames; samples hold until the next call. */
const float *intake_read(struct intake *intake, size_t max_frames, struct thrum_source_block *block);

/* The input that sounds now, or did last: its name in the info, until another one took its place. */
const char *intake_input(const struct intake *intake);

/* As thrum_source_look() and thrum_source_offers(). */
enum thrum_status intake_look(struct intake *intake, const char *name);
bool intake_offers(struct intake *intake, struct thrum_offers *offers);

/* Whether the device has gone and is not back yet. */
bool intake_away(const struct intake *intake);

/* At which rate frames really come, or came when it was recorded; 0 when that is the one of the info. */
double intake_came_hz(const struct intake *intake);

/* From now on what is read is remembered, as far as there is room; before the first read only. */
void intake_remember(struct intake *intake);

/* True when there is no more room: stop reading and go back. Never with a device, which forgets its oldest sound. */
bool intake_full(const struct intake *intake);

/* What was remembered is read again first, with its losses, then what follows; nothing is remembered any more. */
enum thrum_status intake_again(struct intake *intake, struct thrum_message *message);

/* In place of that: nothing is read again, but the last seconds stand before what follows. A loss cuts them short. */
void intake_go_on(struct intake *intake, double before_s);

/* Those: shape [*frames * channels], until the next read. NULL when there are none. */
const float *intake_before(const struct intake *intake, size_t *frames);

/* Frames from the first one that is known to where the source is now: those to be read again, or those before. */
uint64_t intake_remembered(const struct intake *intake);

#endif
