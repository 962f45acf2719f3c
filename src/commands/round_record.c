/* The recording of a round: its name, and what it says of itself. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "commands/command.h"
#include "commands/json_out.h"
#include "commands/options.h"
#include "commands/round_job.h"
#include "commands/voice_file.h"
#include "sound/message.h"

/* 2024-01-01 UTC: a clock that says less was never set. */
#define CLOCK_SET_S 1704067200

char *round_describe(const void *of, const char *input, int number, double followed_hz)
{
    const struct round_job *job = of;
    json_t *voices = json_array();
    for (int i = 0; i < job->n_voices; i++)
        json_array_append_new(voices, voice_json(&job->voices[i]));
    size_t before;
    intake_before(job->intake, &before);
    json_t *document = json_pack("{s:s, s:o, s:o, s:I}", "thrum", THRUM_VERSION, "input", json_text(input),
                                 "senders", voices, "round_frame", (json_int_t)before);
    if (number > 1)
        json_object_set_new(document, "input_number", json_integer(number));
    if (followed_hz > 0.0)
        json_object_set_new(document, "followed_to_hz", json_real(followed_hz));
    if (round_wires(job) > 0)
        json_object_set_new(document, "wires", json_integer(round_wires(job)));
    if (job->halves)
        json_object_set_new(document, "halves", json_integer(round_wires(job)));
    char *text = document ? json_dumps(document, JSON_COMPACT | JSON_REAL_PRECISION(JSON_DIGITS)) : NULL;
    json_decref(document);
    return text;
}

/* Run by sudo: what is made belongs to the one who asked for it. 0: nobody to give it to. */
static unsigned owner_from(const char *variable)
{
    const char *text = getenv(variable);
    double number;
    bool good = text && number_from_text(text, &number) && number >= 1.0 && number < 4294967295.0;
    return good ? (unsigned)number : 0;
}

/* Of the first frame that will be read, in ms since 1970; 0 for sound that is older than this run. */
static int64_t start_time(const struct intake *intake)
{
    struct timespec now;
    if (!intake_info(intake)->live || clock_gettime(CLOCK_REALTIME, &now) != 0 || now.tv_sec < CLOCK_SET_S)
        return 0;
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000 -
           (int64_t)(1000.0 * (double)intake_remembered(intake) / intake_info(intake)->rate_hz);
}

int round_open_recorder(const struct round_job *job, struct thrum_recorder **recorder,
                        struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    char stem[64];
    struct tm local;
    time_t now = time(NULL);
    *recorder = NULL;
    if (!localtime_r(&now, &local) || strftime(stem, sizeof stem, "round-%Y%m%d-%H%M%S", &local) == 0)
        snprintf(stem, sizeof stem, "round");
    char *about = round_describe(job, info->name, 1, 0.0);
    struct thrum_recorder_config config = {.folder = job->record,
                                           .stem = stem,
                                           .rate_hz = info->rate_hz,
                                           .channels = info->channels,
                                           .about = about,
                                           .software = "thrum " THRUM_VERSION,
                                           .start_unix_ms = start_time(job->intake),
                                           .owner_uid = owner_from("SUDO_UID"),
                                           .owner_gid = owner_from("SUDO_GID")};
    enum thrum_status status = thrum_recorder_create(&config, recorder, message);
    free(about);
    if (status == THRUM_OK && config.start_unix_ms == 0 && info->live && !message->text[0])
        message_set(message, "the clock was never set (it says a year before 2024): the recording does not "
                             "know when it was made");
    return status == THRUM_OK ? CODE_DONE : CODE_OUTPUT;
}
