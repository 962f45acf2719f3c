#include "commands/marking.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/recorded.h"

#define MOST_PAUSES 64

/* Frames that passed by at a frame of the round. */
struct pause {
    uint64_t at, frames;
};

struct marked {
    char tag[THRUM_WIRE_TAG_SIZE];
    uint64_t first, frames; /* of the reading */
    bool in_file;           /* whether the recording has the mark */
};

struct marking {
    uint64_t before; /* frames of the recording from before the round */
    struct pause pause[MOST_PAUSES];
    int n_pauses;
    int n_marked;
    struct marked marked[THRUM_MAX_READINGS];
    int n_left_out;
    char left_out[THRUM_MAX_WIRES][THRUM_WIRE_TAG_SIZE]; /* as noted */
};

struct marking *marking_create(void)
{
    return calloc(1, sizeof(struct marking));
}

void marking_destroy(struct marking *marking)
{
    free(marking);
}

void marking_before(struct marking *marking, uint64_t frames)
{
    marking->before = frames;
}

bool marking_pause(struct marking *marking, uint64_t clock, uint64_t frames)
{
    uint64_t paused = 0;
    if (marking->n_pauses == MOST_PAUSES)
        return false;
    for (int i = 0; i < marking->n_pauses; i++)
        paused += marking->pause[i].frames;
    marking->pause[marking->n_pauses++] = (struct pause){clock - paused, frames};
    return true;
}

/* Where a frame of the round is in the recording. */
static uint64_t recorded_at(const struct marking *marking, uint64_t frame)
{
    uint64_t at = marking->before + frame;
    for (int i = 0; i < marking->n_pauses && marking->pause[i].at <= frame; i++)
        at += marking->pause[i].frames;
    return at;
}

/* How many readings from the first on are marked as they are. */
static int still_marked(const struct marking *marking, const struct thrum_snapshot *snapshot)
{
    int i = 0;
    while (i < marking->n_marked && i < snapshot->n_readings) {
        const struct marked *marked = &marking->marked[i];
        const struct thrum_reading *reading = &snapshot->readings[i];
        if (strcmp(marked->tag, reading->wire) != 0 || marked->first != reading->first_frame ||
            marked->frames != reading->frames)
            break;
        i++;
    }
    return i;
}

static enum thrum_status mark_reading(struct marking *marking, struct thrum_recorder *recorder,
                                      const struct thrum_reading *reading)
{
    enum thrum_status status = THRUM_OK;
    struct marked *marked = &marking->marked[marking->n_marked++];
    uint64_t first = recorded_at(marking, reading->first_frame);
    struct thrum_mark mark = {.first = first, .end = first + reading->frames};
    snprintf(mark.label, sizeof mark.label, "%s", reading->wire);
    *marked = (struct marked){.first = reading->first_frame, .frames = reading->frames};
    memcpy(marked->tag, reading->wire, sizeof marked->tag);
    /* A recording that had to stop holds no touches made after that. */
    if (mark.end <= thrum_recorder_position(recorder)) {
        status = thrum_recorder_mark(recorder, &mark);
        marked->in_file = status != THRUM_ERR_FULL;
    }
    return status == THRUM_ERR_FULL ? status : THRUM_OK;
}

/* Beside the newest frame: behind it there may be no more. */
static enum thrum_status note(struct thrum_recorder *recorder, const char *what, const char *tag)
{
    uint64_t position = thrum_recorder_position(recorder);
    struct thrum_mark mark = {.first = position > 0 ? position - 1 : 0};
    snprintf(mark.label, sizeof mark.label, "%s%s", what, tag);
    return thrum_recorder_mark(recorder, &mark);
}

static void take_note_back(struct thrum_recorder *recorder, const char *what, const char *tag)
{
    char label[64];
    snprintf(label, sizeof label, "%s%s", what, tag);
    thrum_recorder_unmark(recorder, label);
}

/* One that is no longer left out stays a wire of the round, touched or not. */
static enum thrum_status note_wire(struct marking *marking, struct thrum_recorder *recorder, const char *tag,
                                   bool left_out)
{
    int i = 0;
    while (i < marking->n_left_out && strcmp(marking->left_out[i], tag) != 0)
        i++;
    if (left_out == (i < marking->n_left_out))
        return THRUM_OK;
    if (left_out)
        memcpy(marking->left_out[marking->n_left_out++], tag, THRUM_WIRE_TAG_SIZE);
    else
        memcpy(marking->left_out[i], marking->left_out[--marking->n_left_out], THRUM_WIRE_TAG_SIZE);
    take_note_back(recorder, left_out ? RECORDED_WIRE : RECORDED_EXCLUDED, tag);
    return note(recorder, left_out ? RECORDED_EXCLUDED : RECORDED_WIRE, tag);
}

enum thrum_status marking_follow(struct marking *marking, struct thrum_recorder *recorder,
                                 const struct thrum_snapshot *snapshot)
{
    enum thrum_status status = THRUM_OK;
    for (int good = still_marked(marking, snapshot); marking->n_marked > good;) {
        const struct marked *last = &marking->marked[--marking->n_marked];
        if (last->in_file)
            thrum_recorder_unmark(recorder, last->tag);
    }
    while (marking->n_marked < snapshot->n_readings) {
        enum thrum_status each = mark_reading(marking, recorder, &snapshot->readings[marking->n_marked]);
        status = status == THRUM_OK ? each : status;
    }
    for (int i = 0; i < snapshot->n_wires; i++)
        if (note_wire(marking, recorder, snapshot->wire[i], snapshot->excluded[i]) == THRUM_ERR_FULL)
            status = THRUM_ERR_FULL;
    return status;
}
