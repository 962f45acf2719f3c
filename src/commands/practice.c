/* thrum practice: recordings of a simulated bundle. */
#include "thrum/practice.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/json_out.h"
#include "commands/options.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "commands/voice_file.h"
#include "commands/wav16.h"
#include "sound/message.h"

#define LEAD_S    8.0
#define BLOCK     4096
#define PATH_SIZE 1024

struct practice_job {
    struct thrum_practice_config config;
    const char *folder, *ending;
    double tone_hz;
    bool tone_given, alternating, replace;
};

/* What is being written, and what is known of it. */
struct practice_set {
    const struct practice_job *job;
    struct thrum_practice *practice;
    json_t *wires, *walk;
    float block[BLOCK];
};

static int write_failed(const char *path, int number)
{
    char why[128];
    text_errno(why, sizeof why, number);
    say("%s cannot be written: %s", path, why);
    return CODE_OUTPUT;
}

static int open_file(const struct practice_set *set, const char *name, char *path, struct wav16 *wav)
{
    if (snprintf(path, PATH_SIZE, "%s/%s", set->job->folder, name) >= PATH_SIZE) {
        say("%s: the path is too long", set->job->folder);
        return CODE_OUTPUT;
    }
    int number = wav16_open(path, set->job->config.rate_hz, set->job->replace, wav);
    if (number == EEXIST) {
        say("%s is there already; name another folder, or say --replace", path);
        return CODE_OUTPUT;
    }
    if (number) {
        wav16_close(wav);
        return write_failed(path, number);
    }
    return CODE_DONE;
}

static int put_frames(struct practice_set *set, const char *path, struct wav16 *wav, uint64_t frames)
{
    while (frames > 0 && !stop_asked()) {
        size_t n = frames < BLOCK ? (size_t)frames : BLOCK;
        thrum_practice_read(set->practice, set->block, n);
        int number = wav16_write(wav, set->block, n);
        if (number)
            return write_failed(path, number);
        frames -= n;
    }
    return stop_asked() ? CODE_BROKEN_OFF : CODE_DONE;
}

static int close_file(const char *path, struct wav16 *wav, int code)
{
    int number = wav16_close(wav);
    return code == CODE_DONE && number ? write_failed(path, number) : code;
}

/* One file with the probe in one place. */
static int write_touch(struct practice_set *set, const char *name, int place, double length_s)
{
    char path[PATH_SIZE];
    struct wav16 wav;
    int code = open_file(set, name, path, &wav);
    if (code != CODE_DONE)
        return code;
    thrum_practice_place(set->practice, place);
    code = put_frames(set, path, &wav, (uint64_t)(length_s * set->job->config.rate_hz + 0.5));
    return close_file(path, &wav, code);
}

static void wire_name(int wire, char *name, size_t size)
{
    snprintf(name, size, "w%02d", wire + 1);
}

static int write_wires(struct practice_set *set)
{
    for (int i = 0; i < set->job->config.n_wires; i++) {
        char name[16], file[24];
        wire_name(i, name, sizeof name);
        snprintf(file, sizeof file, "%s.wav", name);
        int code = write_touch(set, file, i, set->job->config.touch_s);
        if (code != CODE_DONE)
            return code;
        json_t *wire = json_pack("{s:s, s:s, s:o, s:o}", "wire", name, "file", file, "dbfs",
                                 json_level(thrum_practice_strength(set->practice, i)), "played_dbfs",
                                 json_level(thrum_practice_placed_strength(set->practice)));
        json_array_append_new(set->wires, wire);
    }
    return CODE_DONE;
}

static void note_stop(struct practice_set *set, const struct thrum_practice_stop *stop, uint64_t first)
{
    char name[16], tag[16];
    double rate_hz = set->job->config.rate_hz;
    if (stop->wire < 0)
        return;
    wire_name(stop->wire, name, sizeof name);
    snprintf(tag, sizeof tag, "%d", stop->wire + 1);
    json_array_append_new(
        set->walk, json_pack("{s:s, s:s, s:o, s:o, s:o}", "wire", name, "tag", tag, "start_s",
                             json_rounded((double)first / rate_hz, 1e-6), "end_s",
                             json_rounded((double)(first + stop->frames) / rate_hz, 1e-6), "played_dbfs",
                             json_level(thrum_practice_placed_strength(set->practice))));
}

static int write_walk(struct practice_set *set)
{
    char path[PATH_SIZE];
    struct wav16 wav;
    uint64_t first = 0;
    int code = open_file(set, "walk.wav", path, &wav);
    if (code != CODE_DONE)
        return code;
    for (int i = 0; i < thrum_practice_walk_stops(set->practice) && code == CODE_DONE; i++) {
        struct thrum_practice_stop stop = thrum_practice_walk_stop(set->practice, i);
        thrum_practice_place(set->practice, stop.wire);
        note_stop(set, &stop, first);
        code = put_frames(set, path, &wav, stop.frames);
        first += stop.frames;
    }
    return close_file(path, &wav, code);
}

static json_t *truth_json(const struct practice_set *set)
{
    const struct thrum_practice_config *config = &set->job->config;
    char name[16];
    int driven = thrum_practice_driven(set->practice);
    wire_name(driven, name, sizeof name);
    return json_pack("{s:s, s:I, s:o, s:o, s:o, s:o, s:o, s:s, s:O, s:O}", "thrum", THRUM_VERSION, "seed",
                     (json_int_t)config->seed, "rate_hz", json_rounded(config->rate_hz, 1e-3), "mains_hz",
                     json_mains(config->mains_hz), "driven", driven < 0 ? json_null() : json_string(name),
                     "driven_tag", driven < 0 ? json_null() : json_sprintf("%d", driven + 1), "voice",
                     voice_json(&config->voice), "lead", "lead.wav", "wires", set->wires, "walk", set->walk);
}

static int write_truth(const struct practice_set *set)
{
    char path[PATH_SIZE];
    struct thrum_message message;
    struct stat about;
    if (snprintf(path, sizeof path, "%s/truth.json", set->job->folder) >= PATH_SIZE)
        return CODE_OUTPUT;
    if (!set->job->replace && lstat(path, &about) == 0) {
        say("%s is there already; name another folder, or say --replace", path);
        return CODE_OUTPUT;
    }
    json_t *document = truth_json(set);
    int code = json_write(document, path, &message);
    json_decref(document);
    if (code != CODE_DONE)
        say("%s", message.text);
    return code;
}

static int write_set(struct practice_set *set)
{
    if (mkdir(set->job->folder, 0777) != 0 && errno != EEXIST)
        return write_failed(set->job->folder, errno);
    int code = write_touch(set, "lead.wav", THRUM_PROBE_AT_LEAD, LEAD_S);
    if (code == CODE_DONE)
        code = write_wires(set);
    if (code == CODE_DONE)
        code = write_walk(set);
    if (code == CODE_DONE)
        code = write_truth(set);
    return code;
}

static int write_practice(const struct practice_job *job)
{
    struct practice_set *set = calloc(1, sizeof *set);
    if (!set) {
        say("%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_OUTPUT;
    }
    set->job = job;
    set->wires = json_array();
    set->walk = json_array();
    int code = CODE_USAGE;
    enum thrum_status status = thrum_practice_create(&job->config, &set->practice);
    if (status == THRUM_OK)
        code = write_set(set);
    else
        say("such a bundle cannot be made: %s", thrum_status_text(status));
    thrum_practice_destroy(set->practice);
    json_decref(set->wires);
    json_decref(set->walk);
    free(set);
    return code;
}

static int choose_ending(struct practice_job *job)
{
    static const char *const names[] = {"free", "some", "tied", "loaded", "shared", NULL};
    for (int i = 0; job->ending && names[i]; i++) {
        if (strcmp(job->ending, names[i]) == 0) {
            job->config.ending = (enum thrum_ending)i;
            return CODE_DONE;
        }
    }
    if (!job->ending)
        return CODE_DONE;
    return say_usage("--ending is one of free, some, tied, loaded, shared; not '%s'", job->ending);
}

/* Two tones taking turns in place of one that beeps. */
static void choose_voice(struct practice_job *job)
{
    double tone_hz = job->tone_given ? job->tone_hz : job->config.voice.tones_hz[0];
    job->config.voice = thrum_voice_beep(tone_hz, 0.25, 0.25);
    if (!job->alternating)
        return;
    job->config.voice.n_tones = 2;
    job->config.voice.tones_hz[1] = tone_hz * 1.25;
    job->config.voice.step[1].tone = 1;
}

static int practice(const struct command *command, int argc, char **argv)
{
    struct practice_job job = {.config = thrum_practice_config_default(1)};
    struct thrum_practice_config *c = &job.config;
    bool seed_given = false;
    const struct option_rule rules[] = {
        {.name = "seed", .kind = OPTION_SEED, .into = &c->seed, .given = &seed_given},
        {.name = "write", .kind = OPTION_TEXT, .into = &job.folder},
        {.name = "replace", .kind = OPTION_FLAG, .into = &job.replace},
        {.name = "wires", .kind = OPTION_COUNT, .into = &c->n_wires, .low = 2, .high = THRUM_MAX_WIRES},
        {.name = "rate", .kind = OPTION_NUMBER, .into = &c->rate_hz, .low = 8000, .high = 192000},
        {.name = "touch", .kind = OPTION_NUMBER, .into = &c->touch_s, .low = 0.1, .high = 600},
        {.name = "tone",
         .kind = OPTION_NUMBER,
         .into = &job.tone_hz,
         .low = 300,
         .high = 2700,
         .given = &job.tone_given},
        {.name = "alternating", .kind = OPTION_FLAG, .into = &job.alternating},
        {.name = "square", .kind = OPTION_FLAG, .into = &c->square},
        {.name = "drift", .kind = OPTION_NUMBER, .into = &c->drift_hz_per_s, .low = -5, .high = 5},
        {.name = "no-sender", .kind = OPTION_FLAG, .into = &c->no_sender},
        {.name = "ending", .kind = OPTION_TEXT, .into = &job.ending},
        {.name = "mains", .kind = OPTION_NUMBER, .into = &c->mains_hz, .low = 45, .high = 66},
        {.name = "hum", .kind = OPTION_NUMBER, .into = &c->hum_over_tone_db, .low = -120, .high = 60},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if (argc > 0)
        return say_usage("'%s' is no option; the folder is named with --write", argv[0]);
    int code = choose_ending(&job);
    if (code != CODE_DONE)
        return code;
    choose_voice(&job);
    if (!job.folder)
        return say_usage("say where to with --write DIR; to practise live: thrum round --from practice:%llu",
                         (unsigned long long)c->seed);
    if (!seed_given)
        return say_usage("say which bundle with --seed N: the same number always gives the same sound");
    code = write_practice(&job);
    if (code == CODE_DONE)
        fprintf(say_stream_now(),
                "%s: lead.wav, w01.wav to w%02d.wav, walk.wav, and the answer in truth.json.\n"
                "This is simulated sound. Rank it with: thrum rank %s/w[0-9]*.wav\n",
                job.folder, c->n_wires, job.folder);
    return code;
}

const struct command command_practice = {
    .name = "practice",
    .summary = "writes recordings of a simulated bundle, to learn and to try",
    .help = "Usage: thrum practice --seed N --write DIR [OPTION...]\n"
            "\n"
            "Simulates a bundle of wires, a sender, a hand with a probe, and the mains, and\n"
            "writes what the probe hears: lead.wav (at the sender's lead), w01.wav, w02.wav\n"
            "... (one touch each), walk.wav (all of them in one go), truth.json (the answer).\n"
            "To practise live: thrum round --from practice:N\n"
            "\n"
            "  --seed N          which bundle; the same number gives the same sound anywhere\n"
            "  --write DIR       the folder; made if it is not there\n"
            "  --replace         files of these names that are there already are replaced\n"
            "  --wires N         how many wires (24)    --rate HZ       samples a second\n"
            "  --touch S         length of a touch (3)  --tone HZ       the sender's tone\n"
            "  --alternating     two tones in turn      --square        a square wave\n"
            "  --drift HZ        the tone moves by so much a second\n"
            "  --ending HOW      the other wires hang free, or some (of them) are tied to the\n"
            "                    common, or all tied, or loaded, or the tone is shared\n"
            "  --no-sender       nothing drives any wire\n"
            "  --mains HZ        its frequency (50)     --hum DB        hum over tone (20)\n"
            "\n"
            "Exit status: 0 written, 2 wrong usage, 5 could not be written.\n",
    .run = practice,
};
