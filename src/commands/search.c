#include "commands/search.h"

#include "commands/command.h"
#include "commands/progress.h"
#include "commands/scout.h"
#include "commands/stop.h"
#include "sound/message.h"

#define TOUCH_S     30.0  /* of a touch */
#define WALK_S      60.0  /* of a walk, when something was found */
#define WALK_MOST_S 240.0 /* of a walk */

struct limits {
    double when_found_s, most_s;
};

static bool far_enough(const struct scout *scout, const struct intake *intake, double heard_s,
                       const struct limits *limits)
{
    struct thrum_learned best;
    if (scout_is_sure(scout) || intake_full(intake) || heard_s >= limits->most_s)
        return true;
    return heard_s >= limits->when_found_s && scout_best(scout, &best);
}

static int search(struct intake *intake, const char *name, const struct limits *limits,
                  struct thrum_learned *best, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(intake);
    struct scout *scout;
    struct thrum_source_block block;
    struct progress progress;
    struct thrum_learned found;
    double frames = 0.0;
    if (scout_create(info->rate_hz, info->channels, &scout) != THRUM_OK) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_FILE;
    }
    progress_begin(&progress, name);
    intake_remember(intake);
    do {
        const float *samples = intake_read(intake, INTAKE_FRAMES / 4, &block);
        scout_feed(scout, samples, block.frames);
        frames += (double)block.frames;
        progress_show(&progress, (uint64_t)frames, 0, info->rate_hz);
    } while (block.event != THRUM_SOURCE_END && block.event != THRUM_SOURCE_FAILED && !stop_asked() &&
             !far_enough(scout, intake, frames / info->rate_hz, limits));
    progress_end(&progress);
    if (!scout_is_sure(scout))
        scout_finish(scout);
    scout_best(scout, &found);
    scout_keep_better(best, &found);
    scout_destroy(scout);
    /* A failure in the sound shows again when it is measured. */
    return code_of_source(intake_again(intake, message));
}

int search_touch(struct intake *intake, struct thrum_learned *best, struct thrum_message *message)
{
    static const struct limits limits = {TOUCH_S, TOUCH_S};
    return search(intake, intake_info(intake)->name, &limits, best, message);
}

int search_walk(struct intake *intake, const char *name, struct thrum_learned *best,
                struct thrum_message *message)
{
    static const struct limits limits = {WALK_S, WALK_MOST_S};
    return search(intake, name, &limits, best, message);
}
