#include "commands/levels_heard.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/intake.h"
#include "commands/progress.h"
#include "commands/stop.h"

/* The mains is known after a second of hum, and its harmonics are taken out a little later: in levels. */
#define UNKNOWN 14
#define SETTLED 4

void levels_free(struct levels_heard *levels)
{
    for (int s = 0; s < THRUM_MAX_SENDERS; s++)
        free(levels->dbfs[s]);
    free(levels->path);
    free(levels->begin_s);
    *levels = (struct levels_heard){.n = 0};
}

static bool make_room(struct levels_heard *levels)
{
    if (levels->n < levels->room)
        return true;
    size_t room = 2 * levels->room + 1024;
    for (int s = 0; s < levels->n_senders; s++) {
        float *more = realloc(levels->dbfs[s], room * sizeof *more);
        if (!more)
            return false;
        levels->dbfs[s] = more;
    }
    levels->room = room;
    return true;
}

static struct thrum_listener *make_listener(const struct thrum_snapshot *snapshot,
                                            const struct thrum_source_info *info)
{
    struct thrum_listener *listener = NULL;
    struct thrum_listener_config config = {.rate_hz = info->rate_hz,
                                           .channels = info->channels,
                                           .channel = -1,
                                           .bar = true,
                                           .n_voices = snapshot->n_senders};
    memcpy(config.voice, snapshot->sender, sizeof config.voice);
    return thrum_listener_create(&config, &listener) == THRUM_OK ? listener : NULL;
}

/* Touches that ended between two frames are followed, as they were when they were made. */
static void follow(struct thrum_listener *listener, const struct findings *findings, const char *path,
                   uint64_t from, uint64_t to)
{
    for (int i = 0; i < findings->snapshot.n_readings; i++) {
        const struct thrum_reading *reading = &findings->snapshot.readings[i];
        uint64_t end = reading->first_frame + reading->frames;
        if (findings->source[i] && strcmp(findings->source[i], path) == 0 && end > from && end <= to)
            thrum_listener_follow(listener, reading);
    }
}

/* Frames up to the next level. */
static size_t frames_to_next(uint64_t frames, double rate_hz, size_t n)
{
    double next = round((double)(n + 1) * LEVELS_STEP_S * rate_hz);
    return next > (double)frames ? (size_t)(next - (double)frames) : 0;
}

static bool take_levels(struct levels_heard *levels, const struct thrum_listener *listener)
{
    if (!make_room(levels))
        return false;
    for (int s = 0; s < levels->n_senders; s++)
        levels->dbfs[s][levels->n] = (float)thrum_listener_bar_dbfs(listener, s);
    levels->n++;
    return true;
}

/* What was taken as the sender's level until the hum was known, and while it was being taken out, was hum. */
static void forget_hum(struct levels_heard *levels, size_t n_of_file)
{
    size_t back = n_of_file < UNKNOWN + SETTLED ? n_of_file : UNKNOWN + SETTLED;
    for (int s = 0; s < levels->n_senders; s++)
        for (size_t i = levels->n - back; i < levels->n; i++)
            levels->dbfs[s][i] = NAN;
}

static bool hear(struct levels_heard *levels, const struct findings *findings, const char *path,
                 struct intake *intake, struct thrum_listener *listener)
{
    const struct thrum_source_info *info = intake_info(intake);
    struct thrum_source_block block;
    struct progress progress;
    uint64_t frames = 0;
    size_t n = 0, known = 0;
    bool good = true;
    struct thrum_now now;
    progress_begin(&progress, path);
    do {
        size_t wanted = frames_to_next(frames, info->rate_hz, n);
        const float *samples = intake_read(intake, wanted, &block);
        if (block.lost > 0)
            thrum_listener_lost(listener, block.lost);
        thrum_listener_feed(listener, samples, block.frames);
        follow(listener, findings, path, frames, frames + block.lost + block.frames);
        frames += block.lost + block.frames;
        for (; good && frames_to_next(frames, info->rate_hz, n) == 0; n++) {
            good = take_levels(levels, listener);
            thrum_listener_now(listener, &now);
            known = now.mains_hz > 0.0 ? known + 1 : 0;
            if (good && known == SETTLED)
                forget_hum(levels, n + 1);
        }
        progress_show(&progress, frames, info->frames, info->rate_hz);
    } while (good && block.event != THRUM_SOURCE_END && block.event != THRUM_SOURCE_FAILED && !stop_asked());
    progress_end(&progress);
    /* Its end is on the next step, as in sound_hear(). */
    if (good && (double)frames > round((double)n * LEVELS_STEP_S * info->rate_hz))
        good = take_levels(levels, listener);
    return good;
}

static bool hear_file(struct levels_heard *levels, const struct findings *findings, const char *path)
{
    struct intake_config config = {.from = "-", .path = path};
    struct thrum_message message;
    struct intake *intake;
    if (strcmp(path, "-") == 0 || intake_open(&config, &intake, &message) != CODE_DONE)
        return true;
    struct thrum_listener *listener = make_listener(&findings->snapshot, intake_info(intake));
    bool good = !listener || hear(levels, findings, path, intake, listener);
    thrum_listener_destroy(listener);
    intake_close(intake);
    return good;
}

bool levels_hear(struct levels_heard *levels, const struct findings *findings, const char *const *path,
                 int n_files)
{
    *levels = (struct levels_heard){.n_senders = findings->no_voice ? 0 : findings->snapshot.n_senders};
    levels->path = calloc((size_t)n_files + 1, sizeof *levels->path);
    levels->begin_s = calloc((size_t)n_files + 1, sizeof *levels->begin_s);
    bool good = levels->path && levels->begin_s;
    for (int i = 0; good && i < n_files && levels->n_senders > 0 && !stop_asked(); i++) {
        levels->path[i] = path[i];
        levels->begin_s[i] = (double)levels->n * LEVELS_STEP_S;
        levels->n_files = i + 1;
        good = hear_file(levels, findings, path[i]);
    }
    return good;
}

double levels_when(const struct levels_heard *levels, const struct findings *findings, int i)
{
    const struct thrum_reading *reading = &findings->snapshot.readings[i];
    for (int k = 0; k < levels->n_files && findings->source[i] && reading->rate_hz > 0.0; k++)
        if (strcmp(levels->path[k], findings->source[i]) == 0)
            return levels->begin_s[k] + (double)reading->first_frame / reading->rate_hz;
    return -1.0;
}
