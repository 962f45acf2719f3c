/* thrum check: can this input be trusted to compare strengths? */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/check_facts.h"
#include "commands/command.h"
#include "commands/json_out.h"
#include "commands/lead.h"
#include "commands/options.h"
#include "commands/progress.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "sound/message.h"

struct check_job {
    const char *input, *from;
    double seconds;
    bool seconds_given, json;
};

#define LISTEN_S   10.0 /* of a device and a practice bundle */
#define FILE_S     60.0 /* of a file, at most */
#define PATIENCE_S 5.0
#define MOST_BYTES ((size_t)128 << 20)

/* Room for so many more frames; false when memory or the limit is reached. */
static bool make_room(struct check_sound *sound, size_t frames)
{
    size_t frame = sizeof(float) * (size_t)sound->info.channels;
    if (sound->frames + frames <= sound->room)
        return true;
    size_t room = 2 * sound->room > sound->frames + frames ? 2 * sound->room : sound->frames + frames;
    if (room * frame > MOST_BYTES)
        room = MOST_BYTES / frame;
    float *more = room >= sound->frames + frames ? realloc(sound->samples, room * frame) : NULL;
    if (!more)
        return false;
    sound->samples = more;
    sound->room = room;
    return true;
}

static void keep(struct check_sound *sound, const float *samples, size_t frames)
{
    size_t channels = (size_t)sound->info.channels;
    if (frames == 0 || sound->cut)
        return;
    if (!make_room(sound, frames)) {
        sound->cut = true;
        return;
    }
    memcpy(sound->samples + sound->frames * channels, samples, sizeof(float) * frames * channels);
    sound->frames += frames;
}

/* Takes in the sound, up to its end or for so long. */
static int take_in(const struct check_job *job, struct intake *intake, struct check_sound *sound,
                   struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(intake);
    bool endless = info->live || intake_practice(intake);
    double for_s = job->seconds_given ? job->seconds : endless ? LISTEN_S : FILE_S, began_s = clock_s();
    uint64_t most = (uint64_t)(for_s * info->rate_hz);
    struct thrum_source_block block = {.event = THRUM_SOURCE_DATA};
    struct progress progress;
    progress_begin(&progress, info->name);
    while (sound->frames < most && !sound->cut && !stop_asked()) {
        size_t left = (size_t)(most - sound->frames), n = left < INTAKE_FRAMES / 4 ? left : INTAKE_FRAMES / 4;
        const float *samples = intake_read(intake, n, &block);
        sound->lost += block.lost;
        keep(sound, samples, block.frames);
        progress_show(&progress, sound->frames, most, info->rate_hz);
        if (block.event == THRUM_SOURCE_END || block.event == THRUM_SOURCE_FAILED)
            break;
        if (info->live && clock_s() - began_s > for_s + PATIENCE_S) {
            message_set(message, "the input delivers no sound: check its plug and its permission");
            break;
        }
    }
    progress_end(&progress);
    sound->came_hz = intake_came_hz(intake);
    sound->cut |= !endless && !job->seconds_given && sound->frames >= most && info->frames > most;
    if (block.event == THRUM_SOURCE_FAILED)
        *message = block.message;
    if (sound->frames == 0 && !message->text[0])
        message_set(message,
                    "there is no sound in it; record the probe at the sender's lead for ten seconds");
    return !message->text[0] ? CODE_DONE : info->live ? CODE_DEVICE : CODE_FILE;
}

static int tell(const struct check_job *job, const struct check_facts *facts)
{
    if (job->json)
        json_print(check_json(facts));
    else
        check_print(facts, stdout);
    return facts->verdict == CHECK_TRUSTED ? CODE_DONE : CODE_NO_PICK;
}

static int check_intake(const void *asked, struct intake *intake)
{
    const struct check_job *job = asked;
    struct check_sound sound = {.info = *intake_info(intake)};
    struct check_facts *facts = calloc(1, sizeof *facts);
    struct thrum_message message = {.text = ""};
    if (sound.info.note[0])
        say("%s: %s", sound.info.name, sound.info.note);
    if (sound.info.live)
        say("listening to %s: hold the probe at the sender's own lead", sound.info.name);
    int code = take_in(job, intake, &sound, &message);
    enum thrum_status status = THRUM_OK;
    if (stop_asked())
        code = CODE_BROKEN_OFF;
    else if (code == CODE_DONE) {
        status = facts ? check_look(&sound, facts) : THRUM_ERR_MEM;
        if (status == THRUM_OK)
            code = tell(job, facts);
        else {
            message_set(&message, "it cannot be looked at: %s", thrum_status_text(status));
            code = CODE_FILE;
        }
    }
    if (message.text[0] && code != CODE_BROKEN_OFF) {
        char line[700];
        say_about(sound.info.name, message.text, line, sizeof line);
        say("%s", line);
    }
    free(sound.samples);
    free(facts);
    return code;
}

static int check(const struct command *command, int argc, char **argv)
{
    struct check_job job = {.seconds = LISTEN_S};
    const struct option_rule rules[] = {
        {.name = "input", .kind = OPTION_TEXT, .into = &job.input},
        {.name = "from", .kind = OPTION_TEXT, .into = &job.from},
        {.name = "seconds",
         .kind = OPTION_NUMBER,
         .into = &job.seconds,
         .low = 1,
         .high = 600,
         .given = &job.seconds_given},
        {.name = "json", .kind = OPTION_FLAG, .into = &job.json},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if (argc + (job.input != NULL) + (job.from != NULL) > 1)
        return say_usage("one input is checked at a time: --input NAME, a FILE, - or --from SOURCE");
    const char *from = job.from;
    char device[300];
    if (job.input && (size_t)snprintf(device, sizeof device, "device:%s", job.input) >= sizeof device)
        return say_usage("--input: no input has so long a name");
    if (job.input || (!from && argc == 0))
        from = job.input ? device : "device:";
    return lead_listen(from, argc == 1 ? argv[0] : NULL, check_intake, &job);
}

const struct command command_check = {
    .name = "check",
    .summary = "says whether an input can be trusted to compare strengths",
    .help = "Usage: thrum check [--input NAME | FILE | -] [--seconds N] [--json]\n"
            "\n"
            "Listens with the probe held at the sender's own lead, and says whether strengths\n"
            "from this input can be compared: nothing clipped, lost or silent, no level\n"
            "control, no noise suppression, no gate; how loud hum and noise are; and, where\n"
            "something is wrong, what to switch off. Nothing is changed.\n"
            "\n"
            "  --input NAME   any part of a name that thrum inputs lists; without it, a FILE\n"
            "                 or -, the default input\n"
            "  FILE, -        a recording, also of a walk; - is one on standard input\n"
            "  --from SOURCE  the same as for thrum round: device:, file:, practice:7, -\n"
            "  --seconds N    how long; 10 for a device, else the file's first minute\n"
            "  --json         one JSON document\n"
            "\n"
            "A level control shows in hum and noise that rise in the pauses of the beeps, so\n"
            "without beeps the verdict is UNCLEAR.\n"
            "\n"
            "Exit status: 0 trusted, 1 not to be trusted or unclear, 2 wrong usage, 3 sound\n"
            "input, 4 sound file, 5 the answer could not be written.\n",
    .run = check,
};
