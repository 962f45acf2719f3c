#include "commands/practice_probe.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "signal/voiceset.h"

enum thrum_status practice_senders(struct thrum_practice_config *config, int n_senders)
{
    struct thrum_voice voices[THRUM_MAX_SENDERS];
    if (n_senders > config->n_wires)
        return THRUM_ERR_ARG;
    enum thrum_status status = thrum_voiceset_propose(n_senders, config->mains_hz, voices);
    if (status != THRUM_OK)
        return status;
    config->voice = voices[0];
    config->n_more = n_senders - 1;
    memcpy(config->more, voices + 1, (size_t)config->n_more * sizeof *voices);
    return THRUM_OK;
}

struct practice_probe {
    struct thrum_practice *practice;
    struct thrum_practice_config config;
    enum practice_hand hand;
    bool paced;
    struct timespec start;
    uint64_t played;
    int stop;                /* of the walk */
    uint64_t stop_left;      /* frames of it */
    int placed, placed_last; /* alike for one wire */
};

/* Waits until the frames played so far would have sounded. */
static void keep_pace(const struct practice_probe *probe)
{
    double due_s = (double)probe->played / probe->config.rate_hz;
    struct timespec due = probe->start;
    time_t whole = (time_t)due_s;
    due.tv_sec += whole;
    due.tv_nsec += (long)((due_s - (double)whole) * 1e9);
    if (due.tv_nsec >= 1000000000L) {
        due.tv_nsec -= 1000000000L;
        due.tv_sec++;
    }
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &due, NULL) == EINTR)
        ;
}

/* The walk's next stop that has frames left; false at its end. */
static bool walk_on(struct practice_probe *probe)
{
    while (probe->stop_left == 0) {
        if (probe->stop >= thrum_practice_walk_stops(probe->practice))
            return false;
        struct thrum_practice_stop stop = thrum_practice_walk_stop(probe->practice, probe->stop++);
        thrum_practice_place(probe->practice, stop.wire);
        probe->stop_left = stop.frames;
    }
    return true;
}

static size_t probe_read(void *context, float *samples, size_t max_frames)
{
    struct practice_probe *probe = context;
    size_t n = max_frames;
    if (probe->paced) {
        size_t block = (size_t)(probe->config.rate_hz / 50.0);
        n = n < block ? n : block;
    }
    if (probe->hand == PRACTICE_WALKS) {
        if (!walk_on(probe))
            return 0;
        n = n < probe->stop_left ? n : (size_t)probe->stop_left;
        probe->stop_left -= n;
    }
    thrum_practice_read(probe->practice, samples, n);
    probe->played += n;
    if (probe->paced)
        keep_pace(probe);
    return n;
}

static void probe_close(void *context)
{
    struct practice_probe *probe = context;
    thrum_practice_destroy(probe->practice);
    free(probe);
}

static struct thrum_source_info describe(const struct practice_probe *probe)
{
    struct thrum_source_info info = {.rate_hz = probe->config.rate_hz, .channels = 1};
    bool spoiled = probe->config.fault != THRUM_PRACTICE_NO_FAULT;
    snprintf(info.name, sizeof info.name, "practice:%llu%s%s", (unsigned long long)probe->config.seed,
             spoiled ? ":" : "", spoiled ? thrum_practice_fault_name(probe->config.fault) : "");
    if (probe->hand == PRACTICE_WALKS)
        for (int i = 0; i < thrum_practice_walk_stops(probe->practice); i++)
            info.frames += thrum_practice_walk_stop(probe->practice, i).frames;
    return info;
}

enum thrum_status practice_probe_open(const struct thrum_practice_config *config, enum practice_hand hand,
                                      bool paced, struct thrum_source **source, struct practice_probe **probe)
{
    static const struct thrum_source_functions functions = {.read = probe_read, .close = probe_close};
    struct practice_probe *made = calloc(1, sizeof *made);
    *source = NULL;
    *probe = NULL;
    if (!made)
        return THRUM_ERR_MEM;
    made->config = *config;
    made->hand = hand;
    made->paced = paced;
    made->placed = made->placed_last = THRUM_PROBE_IN_AIR;
    clock_gettime(CLOCK_MONOTONIC, &made->start);
    enum thrum_status status = thrum_practice_create(config, &made->practice);
    if (status == THRUM_OK) {
        if (hand == PRACTICE_AT_LEAD)
            thrum_practice_place(made->practice, THRUM_PROBE_AT_LEAD);
        struct thrum_source_info info = describe(made);
        status = thrum_source_from_functions(&functions, made, &info, source);
    }
    if (status != THRUM_OK) {
        probe_close(made);
        return status;
    }
    *probe = made;
    return THRUM_OK;
}

/* Number of the wire, 0 for none: "7", "w07". */
static int wire_number(const char *tag, size_t length)
{
    size_t before = strcspn(tag, "0123456789"), digits = length > before ? length - before : 0;
    if (digits == 0 || digits > 8 || strspn(tag + before, "0123456789") < digits)
        return 0;
    return atoi(tag + before);
}

void practice_probe_place(struct practice_probe *probe, const char *tag)
{
    if (probe->hand != PRACTICE_GUIDED)
        return;
    size_t length = tag ? strlen(tag) : 0, dash = tag ? strcspn(tag, "-") : 0;
    int first = tag ? wire_number(tag, dash) - 1 : -1, last = first;
    if (dash < length)
        last = wire_number(tag + dash + 1, length - dash - 1) - 1;
    if (first < 0 || last < first || last >= probe->config.n_wires)
        first = last = THRUM_PROBE_IN_AIR;
    if (first == probe->placed && last == probe->placed_last)
        return;
    probe->placed = first;
    probe->placed_last = last;
    if (last > first)
        thrum_practice_place_group(probe->practice, first, last);
    else
        thrum_practice_place(probe->practice, first);
}

int practice_probe_wires(const struct practice_probe *probe)
{
    return probe->config.n_wires;
}

const struct thrum_practice *practice_probe_bundle(const struct practice_probe *probe)
{
    return probe->practice;
}
