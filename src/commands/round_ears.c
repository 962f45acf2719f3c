/* The ears of a round. */
#include <string.h>

#include "commands/command.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "sound/message.h"

bool round_ears_mode(const char *text, enum ears_mode *mode)
{
    static const char *const names[] = {
        [EARS_CUES] = "cues", [EARS_GUIDE] = "guide", [EARS_CLEANED] = "cleaned"};
    *mode = EARS_OFF;
    for (int i = EARS_CUES; text && i <= EARS_CLEANED; i++)
        if (strcmp(text, names[i]) == 0)
            *mode = (enum ears_mode)i;
    return !text || *mode != EARS_OFF;
}

void round_warn_of_ears(const struct round_job *job, struct thrum_message *message)
{
    if (job->ears_how && !job->ears)
        *message = job->ears_off;
    else if (job->ears_how && intake_info(job->intake)->live)
        message_set(message,
                    "EARS ARE HEARD BY THE PROBE from loudspeakers%s: wear headphones, or leave --ears out. "
                    "They are about %.2f s late.",
                    job->record ? ", and stay in the recording" : "", ears_late_s(job->ears));
    else if (job->ears_how)
        message_set(message, "Ears: %s, about %.2f s late", ears_output(job->ears), ears_late_s(job->ears));
}

int round_open_ears(struct round_job *job, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    struct ears_config config = {.output = job->ears_output,
                                 .rate_hz = info->rate_hz,
                                 .channels = info->channels,
                                 .voices = job->voices,
                                 .n_voices = job->n_voices};
    round_ears_mode(job->ears_how, &config.mode);
    if (config.mode == EARS_OFF)
        return CODE_DONE;
    if (!job->screen && !info->live) {
        message_set(message, "--ears is for a round in real time: on a screen, or from a device");
        return CODE_USAGE;
    }
    int code = ears_open(&config, &job->ears, message);
    if (code == CODE_DEVICE) {
        message_set(&job->ears_off, "EARS ARE OFF: %s", message->text);
        message_set(message, "%s", "");
        say("%s", job->ears_off.text);
        return CODE_DONE;
    }
    if (code == CODE_DONE)
        say("ears: %s, about %.2f s later than at the probe", ears_output(job->ears), ears_late_s(job->ears));
    if (code == CODE_DONE && info->live) {
        struct thrum_message warning;
        round_warn_of_ears(job, &warning);
        say("%s", warning.text);
    }
    return code;
}

void round_look(const struct round_job *job, struct worker *worker, struct worker_view *view, double wait_s)
{
    worker_look(worker, view, wait_s);
    ears_see(job->ears, view);
}
