/* The voice of a round for which none was given. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/progress.h"
#include "commands/recorded.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "commands/scout.h"
#include "commands/search.h"
#include "commands/stop.h"
#include "sound/message.h"

#define LEAD_S 8.0
/* Frames of one read of a device, so that keys and the picture do not wait. */
#define LIVE_BLOCK 4096
#define DRAW_S     0.05
/* What was heard at the sender's lead, kept in the recording before the round begins. */
#define BEFORE_S 5.0

static void take(struct round_job *job, const struct thrum_learned *learned)
{
    job->voices[0] = learned->voice;
    job->n_voices = 1;
}

/* In a practice bundle the probe has been at the lead before the round begins. */
static int learn_practice(struct round_job *job, struct thrum_message *message)
{
    struct intake_config config = {.from = job->from, .hand = PRACTICE_AT_LEAD, .n_wires = job->n_wires};
    struct intake *intake;
    struct thrum_learner *learner = NULL;
    struct thrum_learned learned;
    struct thrum_source_block block;
    int code = intake_open(&config, &intake, message);
    if (code != CODE_DONE)
        return code;
    const struct thrum_source_info *info = intake_info(intake);
    if (thrum_learner_create(info->rate_hz, info->channels, &learner) == THRUM_OK) {
        for (double s = 0.0; s < LEAD_S; s += (double)block.frames / info->rate_hz) {
            const float *samples = intake_read(intake, LIVE_BLOCK, &block);
            thrum_learner_feed(learner, samples, block.frames);
            if (block.frames == 0)
                break;
        }
        if (thrum_learner_result(learner, &learned) == THRUM_OK)
            take(job, &learned);
    }
    thrum_learner_destroy(learner);
    intake_close(intake);
    return CODE_DONE;
}

static int learn_recording(struct round_job *job, struct thrum_message *message)
{
    struct thrum_learned best = {.what = THRUM_NOT_ENOUGH};
    int code = search_walk(job->intake, intake_info(job->intake)->name, &best, message);
    if (best.what == THRUM_VOICE_FOUND)
        take(job, &best);
    return code;
}

/* --- Live ------------------------------------------------------------------------------------------------------ */

/* What to do meanwhile. With hands free the touches themselves are learned from, and heard again afterwards. */
static const char *instruction(const struct round_job *job)
{
    return job->hands_free ? "LEARNING the sender's voice from your first touches: go on touching wires"
                           : "LEARNING: hold the probe at the sender's own lead";
}

static bool draw_learning(const struct round_job *job, struct worker_view *view, const struct scout *scout,
                          struct thrum_screen_facts *facts)
{
    struct thrum_key_press press;
    struct thrum_learned heard;
    bool stop = false;
    scout_best(scout, &heard);
    message_set(&view->message, "%s", instruction(job));
    if (heard.what != THRUM_NOT_ENOUGH && heard.what != THRUM_VOICE_FOUND)
        message_set(&view->message, "%s (so far: %s)", instruction(job), thrum_not_voice_text(heard.what));
    view->message_s = clock_s();
    round_facts(job, view, facts);
    facts->record = THRUM_RECORD_OFF;
    while (thrum_screen_key(job->screen, &press))
        stop = stop || press.key == THRUM_KEY_QUIT || press.key == THRUM_KEY_FINISH;
    thrum_screen_draw(job->screen, &view->snapshot, facts);
    return !stop;
}

struct live_learning {
    struct scout *scout;
    struct worker_view *view;
    struct thrum_screen_facts *facts;
};

/* Until a voice is found, or there is no more sound to find one in. */
static void hear_live(struct round_job *job, struct live_learning *live)
{
    struct thrum_source_block block;
    struct thrum_learned best;
    double drawn_s = 0.0, began_s = clock_s();
    bool go_on = true;
    while (go_on && !stop_asked() && !scout_best(live->scout, &best)) {
        const float *samples = intake_read(job->intake, LIVE_BLOCK, &block);
        scout_feed(live->scout, samples, block.frames);
        live->view->snapshot.now.frames += block.frames;
        live->view->input_lost = intake_away(job->intake);
        if (job->screen && clock_s() - drawn_s >= DRAW_S) {
            drawn_s = clock_s();
            go_on = draw_learning(job, live->view, live->scout, live->facts);
        }
        if (block.event == THRUM_SOURCE_END || block.event == THRUM_SOURCE_FAILED ||
            (job->for_s > 0.0 && clock_s() - began_s > job->for_s))
            go_on = false;
    }
    if (scout_best(live->scout, &best))
        take(job, &best);
}

static int learn_live(struct round_job *job, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    struct live_learning live = {.view = calloc(1, sizeof *live.view),
                                 .facts = calloc(1, sizeof *live.facts)};
    int code = CODE_DONE;
    if (!live.view || !live.facts || scout_create(info->rate_hz, info->channels, &live.scout) != THRUM_OK) {
        message_set(message, "%s", thrum_status_text(THRUM_ERR_MEM));
        code = CODE_DEVICE;
    } else {
        live.view->snapshot.rate_hz = info->rate_hz;
        snprintf(live.view->snapshot.current, sizeof live.view->snapshot.current, "1");
        if (!job->screen)
            say("%s", instruction(job));
        intake_remember(job->intake);
        hear_live(job, &live);
        if (job->hands_free)
            intake_again(job->intake, message);
        else
            intake_go_on(job->intake, BEFORE_S);
    }
    scout_destroy(live.scout);
    free(live.view);
    free(live.facts);
    return code;
}

int round_learn(struct round_job *job, struct thrum_message *message)
{
    job->n_voices = recorded_voices(intake_source(job->intake), job->voices);
    if (job->n_voices > 0)
        return CODE_DONE;
    if (intake_practice(job->intake))
        return learn_practice(job, message);
    return intake_info(job->intake)->live ? learn_live(job, message) : learn_recording(job, message);
}
