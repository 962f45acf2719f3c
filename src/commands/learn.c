/* thrum learn: a sender's voice from its own lead. */
#include "thrum/learn.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/findings.h"
#include "commands/json_out.h"
#include "commands/lead.h"
#include "commands/options.h"
#include "commands/progress.h"
#include "commands/say.h"
#include "commands/scout.h"
#include "commands/stop.h"
#include "commands/voice_file.h"
#include "sound/message.h"

struct learn_job {
    const char *from, *voice_path, *name;
    double for_s;
    bool for_given, json;
};

/* How long a practice bundle or a device is listened to. */
#define LISTEN_S 8.0

/* The sound up to its end, or for so long. */
static int hear(const struct learn_job *job, struct intake *intake, struct thrum_learner *learner,
                struct scout *scout, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(intake);
    bool endless = info->live || intake_practice(intake);
    double for_s = job->for_given ? job->for_s : endless ? LISTEN_S : 0.0;
    uint64_t most = for_s > 0.0 ? (uint64_t)(for_s * info->rate_hz) : UINT64_MAX, frames = 0;
    struct thrum_source_block block = {.event = THRUM_SOURCE_DATA};
    struct progress progress;
    double began_s = clock_s();
    progress_begin(&progress, info->name);
    while (frames < most && !stop_asked()) {
        size_t n = most - frames < INTAKE_FRAMES / 4 ? (size_t)(most - frames) : INTAKE_FRAMES / 4;
        const float *samples = intake_read(intake, n, &block);
        thrum_learner_feed(learner, samples, block.frames);
        scout_feed(scout, samples, block.frames);
        frames += block.frames;
        progress_show(&progress, frames, info->frames, info->rate_hz);
        if (block.event == THRUM_SOURCE_END || block.event == THRUM_SOURCE_FAILED)
            break;
        if (info->live && clock_s() - began_s > for_s + 5.0) {
            message_set(message, "the input delivers no sound: check its plug and its permission");
            break;
        }
    }
    progress_end(&progress);
    if (block.event == THRUM_SOURCE_FAILED)
        *message = block.message;
    if (frames == 0 && !message->text[0])
        message_set(message, "there is no sound in it; record the sender's lead again");
    return !message->text[0] ? CODE_DONE : info->live ? CODE_DEVICE : CODE_FILE;
}

static void print_learned(const struct learn_job *job, const struct thrum_learned *learned)
{
    const struct thrum_voice *voice = &learned->voice;
    char text[400];
    voice_sentence(voice, text, sizeof text);
    printf("Voice: %s\n", text);
    printf("Level %.1f dBFS, %.0f dB clear of everything else.", voice->level_dbfs, learned->quality_db);
    if (learned->mains_hz > 0.0)
        printf(" Mains %.2f Hz.", learned->mains_hz);
    putchar('\n');
    if (voice->steady)
        puts("It never pauses: hum at the same frequency cannot be told from it. Let it beep if it can.");
    if (job->voice_path)
        printf("Written to %s; use it with: thrum rank --voice %s FILE...\n", job->voice_path,
               job->voice_path);
}

static int tell(const struct learn_job *job, struct thrum_learned *learned)
{
    struct thrum_message message;
    if (job->name)
        snprintf(learned->voice.name, sizeof learned->voice.name, "%s", job->name);
    json_t *document = learned_json(learned);
    int code = CODE_DONE;
    if (job->voice_path)
        code = json_write(document, job->voice_path, &message);
    if (code != CODE_DONE)
        say("%s", message.text);
    if (job->json)
        json_print(json_incref(document));
    else if (code == CODE_DONE)
        print_learned(job, learned);
    json_decref(document);
    return code;
}

static int refuse(const struct learn_job *job, const struct thrum_learned *learned)
{
    const char *text = thrum_not_voice_text(learned->what);
    if (job->json)
        json_print(json_pack("{s:n, s:s}", "voice", "heard", text));
    say("no sender's voice was found: %s", text);
    return CODE_NO_PICK;
}

/* A voice learned so fits this input, and no other. */
static void say_wrong_rate(const struct intake *intake)
{
    struct thrum_message said;
    double came_hz = intake_came_hz(intake);
    message_wrong_rate(&said, intake_info(intake)->rate_hz, came_hz);
    if (came_hz > 0.0)
        say("%s", said.text);
}

static int learn_from(const void *asked, struct intake *intake)
{
    const struct learn_job *job = asked;
    const struct thrum_source_info *info = intake_info(intake);
    struct thrum_learner *learner;
    struct scout *scout = NULL;
    struct thrum_message message = {.text = ""};
    struct thrum_learned learned, part;
    if (info->note[0])
        say("%s: %s", info->name, info->note);
    if (info->live)
        say("listening to %s: hold the probe at the sender's own lead", info->name);
    enum thrum_status status = thrum_learner_create(info->rate_hz, info->channels, &learner);
    if (status == THRUM_OK)
        status = scout_create(info->rate_hz, info->channels, &scout);
    if (status != THRUM_OK) {
        thrum_learner_destroy(learner);
        say("%s: %s", info->name, thrum_status_text(status));
        return CODE_FILE;
    }
    int code = hear(job, intake, learner, scout, &message);
    say_wrong_rate(intake);
    status = thrum_learner_result(learner, &learned);
    thrum_learner_destroy(learner);
    /* The probe may have come to the lead, or left it, in the middle. */
    scout_finish(scout);
    if (status != THRUM_OK && scout_best(scout, &part)) {
        learned = part;
        status = THRUM_OK;
    }
    scout_destroy(scout);
    if (stop_asked())
        return CODE_BROKEN_OFF;
    if (code != CODE_DONE) {
        char line[700];
        say_about(info->name, message.text, line, sizeof line);
        say("%s", line);
        return code;
    }
    return status == THRUM_OK ? tell(job, &learned) : refuse(job, &learned);
}

static int learn(const struct command *command, int argc, char **argv)
{
    struct learn_job job = {.for_s = LISTEN_S};
    const struct option_rule rules[] = {
        {.name = "from", .kind = OPTION_TEXT, .into = &job.from},
        {.name = "voice", .kind = OPTION_TEXT, .into = &job.voice_path},
        {.name = "name", .kind = OPTION_TEXT, .into = &job.name},
        {.name = "for",
         .kind = OPTION_NUMBER,
         .into = &job.for_s,
         .low = 1,
         .high = 600,
         .given = &job.for_given},
        {.name = "json", .kind = OPTION_FLAG, .into = &job.json},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if ((argc == 1) == (job.from != NULL) || argc > 1)
        return say_usage("one source is wanted: a FILE, or --from device:NAME, practice:SEED or -");
    if (job.name && strlen(job.name) >= THRUM_VOICE_NAME_SIZE)
        return say_usage("--name wants at most %d bytes", THRUM_VOICE_NAME_SIZE - 1);
    if (job.voice_path && strcmp(job.voice_path, "-") == 0)
        return say_usage("--voice wants a file's name; --json puts the voice on standard output");
    return lead_listen(job.from, argc == 1 ? argv[0] : NULL, learn_from, &job);
}

const struct command command_learn = {
    .name = "learn",
    .summary = "learns what a sender sounds like, from its own lead",
    .help = "Usage: thrum learn [OPTION...] FILE\n"
            "       thrum learn [OPTION...] --from SOURCE\n"
            "\n"
            "Learns a sender's voice, its tones and its cadence, from six seconds or more\n"
            "recorded with the probe at the sender's own lead.\n"
            "\n"
            "  --voice OUT.json  writes the voice there, for thrum rank and thrum round\n"
            "  --name NAME       the sender's name; a without it\n"
            "  --from SOURCE     listens to device:NAME (see thrum inputs), file:PATH,\n"
            "                    practice:SEED, or - for a sound file on standard input\n"
            "  --for SECONDS     how long; 8 for a device, else the whole file\n"
            "  --json            prints the voice as JSON\n"
            "\n"
            "A voice: {\"tones_hz\":[1037.0], \"pattern\":[{\"tone\":0,\"s\":0.25},\n"
            "{\"tone\":null,\"s\":0.25}], \"steady\":false, ...}; the pattern repeats, its tones\n"
            "are counted from 0, null is silence.\n"
            "\n"
            "Exit status: 0 a voice was found, 1 none, 2 wrong usage, 3 sound input,\n"
            "4 sound file, 5 the voice could not be written.\n",
    .run = learn,
};
