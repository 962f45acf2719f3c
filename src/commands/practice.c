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
#include "commands/practice_lesson.h"
#include "commands/practice_probe.h"
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
    const char *folder, *ending, *fault;
    double tone_hz;
    int senders;
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

static const struct thrum_voice *voice_of(const struct thrum_practice_config *config, int sender)
{
    return sender > 0 ? &config->more[sender - 1] : &config->voice;
}

static void wire_name(int wire, char *name, size_t size)
{
    snprintf(name, size, "w%02d", wire + 1);
}

/* With several senders, the strengths of each as played. */
static void note_senders(const struct practice_set *set, json_t *entry)
{
    if (set->job->senders < 2)
        return;
    json_t *played = json_object();
    for (int s = 0; s < set->job->senders; s++)
        json_object_set_new(played, voice_of(&set->job->config, s)->name,
                            json_level(thrum_practice_placed_strength_of(set->practice, s)));
    json_object_set_new(entry, "played_dbfs_by_sender", played);
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
        note_senders(set, wire);
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
    json_t *touch = json_pack("{s:s, s:s, s:o, s:o, s:o}", "wire", name, "tag", tag, "start_s",
                              json_rounded((double)first / rate_hz, 1e-6), "end_s",
                              json_rounded((double)(first + stop->frames) / rate_hz, 1e-6), "played_dbfs",
                              json_level(thrum_practice_placed_strength(set->practice)));
    note_senders(set, touch);
    json_array_append_new(set->walk, touch);
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

/* lead.wav, lead-b.wav, lead-c.wav ... */
static void lead_name(int sender, char *name, size_t size)
{
    if (sender > 0)
        snprintf(name, size, "lead-%c.wav", 'a' + sender);
    else
        snprintf(name, size, "lead.wav");
}

static json_t *sender_json(const struct practice_set *set, int sender)
{
    char name[16], lead[24];
    int driven = thrum_practice_driven_by(set->practice, sender);
    wire_name(driven, name, sizeof name);
    lead_name(sender, lead, sizeof lead);
    return json_pack("{s:o, s:o, s:o, s:s}", "driven", driven < 0 ? json_null() : json_string(name),
                     "driven_tag", driven < 0 ? json_null() : json_sprintf("%d", driven + 1), "voice",
                     voice_json(voice_of(&set->job->config, sender)), "lead", lead);
}

/* The first sender stands where it stands when it is the only one; several are listed too. */
static json_t *truth_json(const struct practice_set *set)
{
    const struct thrum_practice_config *config = &set->job->config;
    json_t *document =
        json_pack("{s:s, s:I, s:o, s:o}", "thrum", THRUM_VERSION, "seed", (json_int_t)config->seed, "rate_hz",
                  json_rounded(config->rate_hz, 1e-3), "mains_hz", json_mains(config->mains_hz));
    json_object_update_new(document, sender_json(set, 0));
    json_object_set(document, "wires", set->wires);
    json_object_set(document, "walk", set->walk);
    if (set->job->senders < 2)
        return document;
    json_t *senders = json_array();
    for (int s = 0; s < set->job->senders; s++)
        json_array_append_new(senders, sender_json(set, s));
    json_object_set_new(document, "senders", senders);
    return document;
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
    int code = CODE_DONE;
    for (int s = 0; s < set->job->senders && code == CODE_DONE; s++) {
        char name[24];
        lead_name(s, name, sizeof name);
        code = write_touch(set, name, THRUM_PROBE_AT_LEAD - s, LEAD_S);
    }
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

/* Several senders have the voices that thrum tone proposes. */
static int choose_voices(struct practice_job *job)
{
    struct thrum_practice_config *c = &job->config;
    if (job->tone_given || job->alternating)
        return say_usage("several senders have voices of their own; leave --tone and --alternating away");
    enum thrum_status status = practice_senders(c, job->senders);
    if (status == THRUM_ERR_ARG)
        return say_usage("%d senders need as many wires; there are %d", job->senders, c->n_wires);
    if (status != THRUM_OK)
        return say_usage("there are no %d voices well apart on %g Hz mains", job->senders, c->mains_hz);
    return CODE_DONE;
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

static void tell_written(const struct practice_job *job)
{
    FILE *stream = say_stream_now();
    int wires = job->config.n_wires;
    if (job->senders == 1)
        fprintf(stream,
                "%s: lead.wav, w01.wav to w%02d.wav, walk.wav, and the answer in truth.json.\n"
                "This is simulated sound. Rank it with: thrum rank %s/w[0-9]*.wav\n",
                job->folder, wires, job->folder);
    else
        fprintf(stream,
                "%s: lead.wav, lead-b.wav to lead-%c.wav, w01.wav to w%02d.wav, walk.wav, and the answer in\n"
                "truth.json. This is simulated sound. Learn each sender from its lead, and rank with all "
                "voices.\n",
                job->folder, 'a' + job->senders - 1, wires);
}

/* "thrum practice easy OPTION..." is a round on that bundle. */
static int run_lesson(int argc, char **argv)
{
    char from[64];
    char **all = calloc((size_t)argc + 2, sizeof *all);
    if (!all) {
        say("%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_OUTPUT;
    }
    snprintf(from, sizeof from, "--from=practice:%s", argv[0]);
    all[0] = from;
    memcpy(all + 1, argv + 1, sizeof *all * (size_t)(argc - 1));
    int code = command_round.run(&command_round, argc, all);
    free(all);
    return code;
}

static int practice(const struct command *command, int argc, char **argv)
{
    struct practice_job job = {.config = thrum_practice_config_default(1), .senders = 1};
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
        {.name = "senders", .kind = OPTION_COUNT, .into = &job.senders, .low = 1, .high = THRUM_MAX_SENDERS},
        {.name = "alternating", .kind = OPTION_FLAG, .into = &job.alternating},
        {.name = "square", .kind = OPTION_FLAG, .into = &c->square},
        {.name = "drift", .kind = OPTION_NUMBER, .into = &c->drift_hz_per_s, .low = -5, .high = 5},
        {.name = "no-sender", .kind = OPTION_FLAG, .into = &c->no_sender},
        {.name = "fault", .kind = OPTION_TEXT, .into = &job.fault},
        {.name = "ending", .kind = OPTION_TEXT, .into = &job.ending},
        {.name = "mains", .kind = OPTION_NUMBER, .into = &c->mains_hz, .low = 45, .high = 66},
        {.name = "hum", .kind = OPTION_NUMBER, .into = &c->hum_over_tone_db, .low = -120, .high = 60},
        {.name = NULL},
    };
    if (argc > 0 && lesson_config(argv[0], c))
        return run_lesson(argc, argv);
    bool nothing = argc == 0;
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if (nothing) {
        lesson_offer(stdout);
        return CODE_DONE;
    }
    if (argc > 0)
        return say_usage("'%s' is no option and no round; the folder is named with --write", argv[0]);
    int code = choose_ending(&job);
    if (code == CODE_DONE && job.fault && !thrum_practice_fault_find(job.fault, &c->fault))
        code =
            say_usage("--fault is one of gain-riding, gated, suppressed, clipped, dc, silent, lost; not '%s'",
                      job.fault);
    if (code != CODE_DONE)
        return code;
    if (job.senders > 1)
        code = choose_voices(&job);
    else
        choose_voice(&job);
    if (code != CODE_DONE)
        return code;
    if (!job.folder)
        return say_usage("say where to with --write DIR; to practise live: thrum round --from practice:%llu",
                         (unsigned long long)c->seed);
    if (!seed_given)
        return say_usage("say which bundle with --seed N: the same number always gives the same sound");
    code = write_practice(&job);
    if (code == CODE_DONE)
        tell_written(&job);
    return code;
}

const struct command command_practice = {
    .name = "practice",
    .summary = "writes recordings of a simulated bundle, to learn and to try",
    .help = "Usage: thrum practice easy|neighbours|harmonic [ROUND OPTION...]\n"
            "       thrum practice --seed N --write DIR [OPTION...]\n"
            "\n"
            "Simulates a bundle of wires, a sender, a hand with a probe, and the mains, and\n"
            "writes what the probe hears: lead.wav (at the sender's lead), w01.wav, w02.wav\n"
            "... (one touch each), walk.wav (all of them in one go), truth.json (the answer).\n"
            "To practise live: thrum round --from practice:N, or practice:N:SENDERS\n"
            "\n"
            "  --seed N          which bundle; the same number gives the same sound anywhere\n"
            "  --write DIR       the folder; made if it is not there\n"
            "  --replace         files of these names that are there already are replaced\n"
            "  --wires N         how many wires (24)    --rate HZ       samples a second\n"
            "  --touch S         length of a touch (3)  --tone HZ       the sender's tone\n"
            "  --alternating     two tones in turn      --square        a square wave\n"
            "  --drift HZ        it moves, a second     --senders N     so many at once\n"
            "  --ending HOW      the other wires hang free, or some (of them) are tied to the\n"
            "                    common, or all tied, or loaded, or the tone is shared\n"
            "  --no-sender       nothing drives any wire\n"
            "  --fault NAME      what the sound input does wrong: gain-riding, gated,\n"
            "                    suppressed, clipped, dc, silent, lost\n"
            "  --mains HZ        its frequency (50)     --hum DB        hum over tone (20)\n"
            "\n"
            "Exit status: 0 written, 2 wrong usage, 5 could not be written.\n",
    .run = practice,
};
