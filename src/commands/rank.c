/* thrum rank: a round from recordings. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/excluding.h"
#include "commands/history.h"
#include "commands/json_out.h"
#include "commands/marks_file.h"
#include "commands/options.h"
#include "commands/progress.h"
#include "commands/rank_job.h"
#include "commands/recorded.h"
#include "commands/say.h"
#include "commands/search.h"
#include "commands/stop.h"
#include "commands/voice_file.h"

static void note_code(struct rank_job *job, int code)
{
    if (code > job->worst)
        job->worst = code;
}

void rank_say_of(const char *path, const char *text)
{
    char line[700];
    say_about(path, text, line, sizeof line);
    say("%s", line);
}

/* What went wrong with one file, now and in the answer; said once, however often the sound is heard. */
void rank_complain(struct rank_job *job, const char *path, int code, const char *text)
{
    char line[700];
    say_about(path, text, line, sizeof line);
    if (!job->moved)
        say("%s", line);
    findings_warn(job->findings, "file", "%s", line);
    note_code(job, code);
}

int rank_open(struct rank_job *job, const char *path, struct intake **intake, struct thrum_message *message)
{
    bool pipe = strcmp(path, "-") == 0;
    struct intake_config config = {.from = "-", .path = pipe ? NULL : path};
    if (pipe && job->piped) {
        *intake = job->piped;
        return CODE_DONE;
    }
    int code = intake_open(&config, intake, message);
    if (code == CODE_USAGE)
        code = CODE_FILE;
    if (pipe)
        job->piped = *intake;
    return code;
}

void rank_close(struct rank_job *job, struct intake *intake)
{
    if (intake != job->piped)
        intake_close(intake);
}

/* --- The end of a round --------------------------------------------------------------------------------------- */

/* What is to be excluded must be there: a slip of the pen would else pass unseen. */
static int exclude(struct rank_job *job, struct thrum_round *round)
{
    char tag[THRUM_WIRE_TAG_SIZE];
    thrum_round_snapshot(round, &job->findings->snapshot);
    if (exclude_unknown(&job->exclude, &job->findings->snapshot, tag))
        return say_usage("there is no wire '%s' here that could be excluded", tag);
    exclude_wires(&job->exclude, round);
    return CODE_DONE;
}

int rank_take_findings(struct rank_job *job, struct thrum_round *round)
{
    int code = exclude(job, round);
    if (code == CODE_DONE)
        findings_take(job->findings, round);
    return code;
}

/* --- The voice ----------------------------------------------------------------------------------------------- */

void rank_take_learned(struct rank_job *job, const struct thrum_learned *best)
{
    if (best->what == THRUM_VOICE_FOUND) {
        job->voices[0] = best->voice;
        job->n_voices = 1;
        return;
    }
    findings_warn(
        job->findings, "no-voice",
        "no sender's voice was found in the recordings (%s); record the sender's own lead and give it: thrum "
        "learn LEAD.wav --voice V.json",
        thrum_not_voice_text(best->what));
}

/* The first recording that knows its voices gives them, and which wires there are, and whether halves were searched. */
static void ask_recordings(struct rank_job *job)
{
    struct thrum_source *source;
    struct thrum_message message;
    bool voices = job->n_voices == 0;
    for (int i = 0; i < job->n_targets && (i == 0 || job->n_voices == 0); i++) {
        const char *path = job->targets[i].path;
        if (strcmp(path, "-") == 0 || thrum_source_open_file(path, &source, &message) != THRUM_OK)
            continue;
        if (voices && job->n_voices == 0)
            job->n_voices = recorded_voices(source, job->voices);
        if (i == 0 && !job->targets[i].tagged) {
            job->wires = recorded_wires(source);
            job->halves = recorded_halves(source);
        }
        thrum_source_close(source);
    }
}

/* Files that cannot be read are complained of when they are measured. */
static void learn_from_touches(struct rank_job *job)
{
    struct thrum_learned best = {.what = THRUM_NOT_ENOUGH};
    struct thrum_message message;
    for (int i = 0; i < job->n_targets && !stop_asked(); i++) {
        struct intake *intake;
        if (rank_open(job, job->targets[i].path, &intake, &message) != CODE_DONE)
            continue;
        search_touch(intake, &best, &message);
        rank_close(job, intake);
    }
    rank_take_learned(job, &best);
}

static int load_voices(struct rank_job *job)
{
    struct thrum_message message;
    int code = voices_read(job->voice_paths.text, job->voice_paths.n, job->voices, &message);
    if (code != CODE_DONE)
        say("%s", message.text);
    else
        job->n_voices = job->voice_paths.n;
    return code;
}

/* --- A file per wire ----------------------------------------------------------------------------------------- */

static enum thrum_status make_listener(const struct rank_job *job, const struct thrum_source_info *info,
                                       struct thrum_listener **listener)
{
    struct thrum_listener_config config = {
        .rate_hz = info->rate_hz, .channels = info->channels, .channel = -1, .n_voices = job->n_voices};
    memcpy(config.voice, job->voices, sizeof config.voice);
    return thrum_listener_create(&config, listener);
}

/* Hears all of it. CODE_DONE, or what the sound failed with; what came before is heard all the same. */
static int hear_all(struct intake *intake, const char *path, struct thrum_listener *listener,
                    uint64_t *frames, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(intake);
    struct thrum_source_block block;
    struct progress progress;
    progress_begin(&progress, path);
    *frames = 0;
    do {
        const float *samples = intake_read(intake, INTAKE_FRAMES, &block);
        if (block.lost > 0)
            thrum_listener_lost(listener, block.lost);
        thrum_listener_feed(listener, samples, block.frames);
        *frames += block.lost + block.frames;
        progress_show(&progress, *frames, info->frames, info->rate_hz);
    } while (block.event != THRUM_SOURCE_END && block.event != THRUM_SOURCE_FAILED && !stop_asked());
    progress_end(&progress);
    thrum_listener_finish(listener);
    if (block.event == THRUM_SOURCE_FAILED) {
        *message = block.message;
        return CODE_FILE;
    }
    return CODE_DONE;
}

static int measure_intake(struct rank_job *job, const struct target *target, struct intake *intake,
                          struct thrum_message *message)
{
    struct thrum_listener *listener;
    struct thrum_reading reading;
    uint64_t frames;
    enum thrum_status status = make_listener(job, intake_info(intake), &listener);
    if (status != THRUM_OK) {
        message_set(message, "it cannot be listened to: %s", thrum_status_text(status));
        return CODE_FILE;
    }
    thrum_listener_follow(listener, &job->last_heard);
    int code = hear_all(intake, target->path, listener, &frames, message);
    if (code == CODE_DONE && frames == 0) {
        message_set(message, "there is no sound in it; record the touch again");
        code = CODE_FILE;
    }
    if (frames > 0 && !stop_asked()) {
        status = thrum_listener_measure(listener, (struct thrum_span){0, frames}, &reading);
        memcpy(reading.wire, target->tag, sizeof reading.wire);
        if (status == THRUM_OK && reading.strength[0].heard)
            job->last_heard = reading;
        if (status == THRUM_OK)
            status = thrum_round_add(job->round, &reading);
        if (status == THRUM_ERR_FULL)
            message_set(message, "no room: a round holds %d wires and %d touches", THRUM_MAX_WIRES,
                        THRUM_MAX_READINGS);
        else if (status != THRUM_OK)
            message_set(message, "it cannot be measured: %s", thrum_status_text(status));
        if (status != THRUM_OK)
            code = CODE_FILE;
    }
    thrum_listener_destroy(listener);
    return code;
}

static void measure_target(struct rank_job *job, const struct target *target, int *readings)
{
    struct intake *intake;
    struct thrum_message message = {.text = ""};
    int code = rank_open(job, target->path, &intake, &message);
    if (code == CODE_DONE) {
        if (intake_info(intake)->note[0])
            findings_warn(job->findings, "file", "%s: %s", target->path, intake_info(intake)->note);
        bool part = !target->tagged && recorded_round(intake_source(intake));
        code = (part ? rank_part : measure_intake)(job, target, intake, &message);
        rank_close(job, intake);
    }
    if (code != CODE_DONE)
        rank_complain(job, target->path, code, message.text);
    int now = thrum_round_n_readings(job->round);
    findings_source(job->findings, *readings, now, target->path);
    *readings = now;
}

static int make_round(struct rank_job *job)
{
    struct thrum_round_config *config = calloc(1, sizeof *config);
    enum thrum_status status = config ? THRUM_OK : THRUM_ERR_MEM;
    if (config) {
        /* It only compares; nothing is fed to it. */
        config->listener.rate_hz = THRUM_RATE_MIN_HZ;
        config->listener.channels = 1;
        config->listener.channel = -1;
        config->listener.n_voices = job->n_voices;
        memcpy(config->listener.voice, job->voices, sizeof config->listener.voice);
        config->pick = job->pick;
        config->n_wires = job->wires;
        config->halves = job->halves > 0;
        status = thrum_round_create(config, &job->round);
    }
    for (int i = 1; status == THRUM_OK && i <= job->halves; i++) {
        char tag[THRUM_WIRE_TAG_SIZE];
        snprintf(tag, sizeof tag, "%d", i);
        status = thrum_round_exclude(job->round, tag, false);
    }
    free(config);
    if (status != THRUM_OK)
        say("the round cannot be made: %s", thrum_status_text(status));
    return status == THRUM_OK ? CODE_DONE : CODE_FILE;
}

/* One long file is hardly one touch: one alone, or one much longer than all others. */
static void hint_at_walk(struct rank_job *job)
{
    static const double LONG_TOUCH_S = 12.0, LONGER = 3.0;
    const struct thrum_snapshot *snapshot = &job->findings->snapshot;
    double longest_s = 0.0, next_s = 0.0;
    int longest = 0;
    for (int i = 0; i < snapshot->n_readings; i++) {
        const struct thrum_reading *reading = &snapshot->readings[i];
        double s = (double)reading->frames / reading->rate_hz;
        next_s = fmax(next_s, fmin(s, longest_s));
        longest = s > longest_s ? i : longest;
        longest_s = fmax(longest_s, s);
    }
    if (longest_s < LONG_TOUCH_S || longest_s < LONGER * next_s)
        return;
    if (job->n_targets == 1 && snapshot->n_readings == 1)
        findings_warn(job->findings, "walk",
                      "%s was taken as one touch of one wire; if it is a walk from wire to wire: thrum rank "
                      "--walk %s",
                      job->targets[0].path, job->targets[0].path);
    else if (job->n_targets > 1)
        findings_warn(
            job->findings, "walk",
            "'%s' was taken as one wire, touched for %.0f s, far longer than any other; if that "
            "recording is a walk from wire to wire, leave it out here and rank it by itself with --walk",
            snapshot->readings[longest].wire, longest_s);
}

static int rank_touches(struct rank_job *job)
{
    ask_recordings(job);
    if (job->n_voices == 0)
        learn_from_touches(job);
    int code = make_round(job), readings = 0;
    job->last_heard = (struct thrum_reading){.n_senders = 0};
    job->input = 0;
    if (code != CODE_DONE)
        return code;
    for (int i = 0; i < job->n_targets && !stop_asked(); i++)
        measure_target(job, &job->targets[i], &readings);
    code = rank_take_findings(job, job->round);
    hint_at_walk(job);
    thrum_round_destroy(job->round);
    return code;
}

/* A single file with marks inside is a recorded round. */
static bool has_marks(const char *path)
{
    struct thrum_source *source;
    struct thrum_message message;
    struct thrum_mark *marks;
    size_t n = 0;
    if (strcmp(path, "-") == 0 || thrum_source_open_file(path, &source, &message) != THRUM_OK)
        return false;
    if (marks_inside(source, &marks, &n, &message) == CODE_DONE)
        free(marks);
    thrum_source_close(source);
    return n > 0;
}

/* --- The command --------------------------------------------------------------------------------------------- */

static int hear(struct rank_job *job)
{
    return job->walk ? rank_walk(job, job->walk) : rank_touches(job);
}

static int rank_all(struct rank_job *job, int argc, char **argv)
{
    struct thrum_message message;
    int loaded = history_settings(&job->history, &job->pick);
    if (loaded == CODE_DONE && job->voice_paths.n > 0)
        loaded = load_voices(job);
    if (loaded != CODE_DONE)
        return loaded;
    if (!job->walk && argc == 1 && !strchr(argv[0], '=') && (job->marks || has_marks(argv[0])))
        job->walk = argv[0];
    if (!job->walk) {
        int code = targets_read(argv, argc, &job->targets, &message);
        if (code != CODE_DONE)
            return say_usage("%s", message.text);
        job->n_targets = argc;
    }
    int code = hear(job);
    return code == CODE_DONE && !stop_asked() && rank_moved(job, job->walk) ? hear(job) : code;
}

int rank_run(struct rank_job *job, int argc, char **argv, rank_answer *answer, const void *context)
{
    job->findings = findings_create();
    if (!job->findings) {
        say("%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_FILE;
    }
    int code = rank_all(job, argc, argv);
    if (stop_asked()) {
        code = CODE_BROKEN_OFF;
    } else if (code == CODE_DONE) {
        note_code(job, answer(job->findings, context));
        note_code(job, findings_code(job->findings));
        code = job->worst;
    }
    intake_close(job->piped);
    free(job->targets);
    findings_destroy(job->findings);
    return code;
}

int rank_usage(const struct rank_job *job, int argc, char **argv)
{
    if (!job->walk && argc == 0)
        return say_usage("which recordings? Give a file per wire, or --walk FILE");
    if (job->walk && argc > 0)
        return say_usage("with --walk there is no other file, but '%s' was given", argv[0]);
    if (job->marks && !job->walk && argc != 1)
        return say_usage("--marks belongs to one recording: --marks CSV --walk FILE");
    return exclude_lists_ok(&job->exclude) ? CODE_DONE : CODE_USAGE;
}

static int print_answer(const struct findings *findings, const void *context)
{
    const bool *json = context;
    if (*json)
        json_print(findings_json(findings));
    else
        findings_print(findings, stdout);
    return CODE_DONE;
}

static int rank(const struct command *command, int argc, char **argv)
{
    struct rank_job job = {.worst = CODE_DONE};
    bool json = false;
    const struct option_rule rules[] = {
        RANK_OPTIONS(job),
        {.name = "json", .kind = OPTION_FLAG, .into = &json},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    int code = rank_usage(&job, argc, argv);
    return code == CODE_DONE ? rank_run(&job, argc, argv, print_answer, &json) : code;
}

const struct command command_rank = {
    .name = "rank",
    .summary = "names the wire from recordings",
    .help = "Usage: thrum rank [OPTION...] FILE...\n"
            "       thrum rank [OPTION...] --walk FILE\n"
            "\n"
            "Compares recorded touches and names the wire that the sender drives, with the\n"
            "chance that this is right. One file is one touch; its wire's tag is the file's\n"
            "name without ending and without what follows a ~, or what stands before a =:\n"
            "\n"
            "  thrum rank w01.wav w02.wav w03.wav w02~2.wav     w02 was touched twice\n"
            "  thrum rank red=a.flac blue=b.flac\n"
            "  thrum rank --walk walk.wav       touches found, tagged 1, 2, 3 ... in order\n"
            "\n"
            "  --voice V.json   a sender's voice, from thrum learn; may be given several\n"
            "                   times. Without it: the recordings' own, else learned\n"
            "  --walk FILE      one unbroken recording. Labelled marks inside the file say\n"
            "                   which stretches are touches, as a recorded round has them\n"
            "  --marks CSV      lines tag,start_s,end_s that say so instead\n"
            "  --exclude TAGS   wires that cannot be it, as in w03,w11: charted, taped off\n"
            "  --history JSON   what --json wrote of an earlier round: how steady the hand is\n"
            "  --json           one JSON document. FILE may be - for standard input.\n"
            "\n"
            "Exit status: 0 picked, 1 no pick, 2 wrong usage, 4 a file was bad,\n"
            "5 the answer could not be written, 130 broken off.\n",
    .run = rank,
};
