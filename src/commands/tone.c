/* thrum tone: voices for phones and players that stand in for senders. */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "commands/command.h"
#include "commands/findings.h"
#include "commands/json_out.h"
#include "commands/options.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "commands/tone_play.h"
#include "commands/voice_file.h"
#include "commands/wav16.h"
#include "signal/keyed.h"
#include "signal/voiceset.h"
#include "sound/message.h"
#include "sound/quiet.h"

#define BLOCK     4096
#define PATH_SIZE 1024

struct tone_job {
    const char *voice_path, *out, *folder, *output;
    double tone_hz, on_s, off_s, for_s, level_dbfs, rate_hz, mains_hz;
    int set;
    bool tone_given, step_given, mains_given, for_given, rate_given, play, replace, json;
};

/* Each at most 80 columns. */
static const char *const safety[] = {
    "Connect a phone or player only through an isolating clip (a transformer).",
    "Only extra-low-voltage circuits, controller off, no voltage by a rated meter.",
    "Never tie a phone, a player, a sender or a laptop to a live conductor.",
    "Let it run on its battery, not on a charger.",
    "Local codes and licensed practice come first.",
};
#define SAFETY (sizeof safety / sizeof *safety)

static int write_failed(const char *path, int number)
{
    char why[128];
    if (number == EEXIST) {
        say("%s is there already; name another place, or say --replace", path);
        return CODE_OUTPUT;
    }
    text_errno(why, sizeof why, number);
    say("%s cannot be written: %s", path, why);
    return CODE_OUTPUT;
}

/* 0 or errno. */
static int put_sound(struct wav16 *wav, struct thrum_keyed *keyed, uint64_t frames)
{
    float block[BLOCK];
    int number = 0;
    while (frames > 0 && !number && !stop_asked()) {
        size_t n = frames < BLOCK ? (size_t)frames : BLOCK;
        thrum_keyed_make(keyed, block, n);
        number = wav16_write(wav, block, n);
        frames -= n;
    }
    return number;
}

/* A file that could not be finished is not left behind. */
static int write_sound(const struct tone_job *job, const struct thrum_voice *voice, const char *path)
{
    struct thrum_keyed keyed;
    struct wav16 wav;
    thrum_keyed_start(&keyed, voice, job->rate_hz, job->level_dbfs);
    int number = wav16_open(path, job->rate_hz, job->replace, &wav);
    if (number) {
        wav16_close(&wav);
        return write_failed(path, number);
    }
    number = put_sound(&wav, &keyed, thrum_keyed_whole_frames(&keyed, job->for_s));
    int closing = wav16_close(&wav);
    number = number ? number : closing;
    if (number || stop_asked())
        wav16_abandon(path);
    if (number)
        return write_failed(path, number);
    return stop_asked() ? CODE_BROKEN_OFF : CODE_DONE;
}

/* --- One voice ----------------------------------------------------------------------------------------------- */

static int one_voice(const struct tone_job *job, struct thrum_voice *voice)
{
    struct thrum_message message;
    const char *reason;
    if (job->voice_path && (job->tone_given || job->step_given))
        return say_usage("either --voice FILE or --tone, --on and --off");
    if (job->voice_path) {
        int code = voice_read(job->voice_path, voice, &message);
        if (code != CODE_DONE)
            say("%s", message.text);
        return code;
    }
    *voice = thrum_voice_beep(job->tone_hz, job->on_s, job->off_s);
    if (thrum_voice_check(voice, &reason) != THRUM_OK)
        return say_usage("%s", reason);
    return CODE_DONE;
}

static void print_safety(FILE *stream)
{
    fputs("\nSAFETY\n", stream);
    for (size_t i = 0; i < SAFETY; i++)
        fprintf(stream, "%s\n", safety[i]);
}

static json_t *safety_json(void)
{
    json_t *list = json_array();
    for (size_t i = 0; i < SAFETY; i++)
        json_array_append_new(list, json_string(safety[i]));
    return list;
}

static void tell_one(const struct tone_job *job, const struct thrum_voice *voice)
{
    char text[400];
    if (job->json) {
        json_t *senders = json_array();
        json_array_append_new(senders, voice_json(voice));
        json_print(json_pack("{s:s, s:o, s:o, s:o}", "thrum", THRUM_VERSION, "senders", senders, "file",
                             json_text(job->out), "safety", safety_json()));
        return;
    }
    voice_sentence(voice, text, sizeof text);
    printf("%s: %s, at %.1f dBFS. Play it over and over.\n", job->out, text, job->level_dbfs);
    if (voice->steady)
        puts("It never pauses: hum at the same frequency cannot be told from it. Let it beep if it can.");
    print_safety(stdout);
}

static int write_one(const struct tone_job *job)
{
    struct thrum_voice voice;
    int code = one_voice(job, &voice);
    if (code == CODE_DONE)
        code = write_sound(job, &voice, job->out);
    if (code == CODE_DONE)
        tell_one(job, &voice);
    return code;
}

/* --- Playing ------------------------------------------------------------------------------------------------- */

/* What is to be known before a wire is touched comes before the first sound. */
static void tell_playing(const struct tone_job *job, const struct thrum_voice *voice,
                         const struct thrum_output *output)
{
    char text[400];
    if (job->json) {
        json_t *senders = json_array();
        json_array_append_new(senders, voice_json(voice));
        json_print(json_pack("{s:s, s:o, s:o, s:o}", "thrum", THRUM_VERSION, "senders", senders, "output",
                             json_text(thrum_output_name(output)), "safety", safety_json()));
        return;
    }
    voice_sentence(voice, text, sizeof text);
    printf("\nPlaying on %s: %s, at %.1f dBFS. Ctrl-C stops it.\n", thrum_output_name(output), text,
           job->level_dbfs);
}

static int play_voice(const struct tone_job *job, const struct thrum_voice *voice,
                      struct thrum_message *message)
{
    struct sound_host host = sound_host_real();
    struct thrum_output *output;
    struct tone_play_config config = {.host = &host,
                                      .output = job->output,
                                      .voice = voice,
                                      .rate_hz = job->rate_given ? job->rate_hz : 0.0,
                                      .level_dbfs = job->level_dbfs,
                                      .for_s = job->for_given ? job->for_s : 0.0};
    int code = tone_play_open(&config, &output, message);
    if (code != CODE_DONE)
        return code;
    tell_playing(job, voice, output);
    fflush(stdout);
    return tone_play(&config, output, message);
}

static int play_one(const struct tone_job *job)
{
    struct thrum_voice voice;
    struct thrum_message message = {.text = ""};
    int code = one_voice(job, &voice);
    if (code != CODE_DONE)
        return code;
    if (!job->json)
        print_safety(stdout);
    fflush(stdout);
    struct thrum_quiet *quiet = thrum_quiet_begin(NULL);
    code = play_voice(job, &voice, &message);
    thrum_quiet_end(quiet);
    if (message.text[0])
        say("%s", message.text);
    return code;
}

/* --- A set of voices ----------------------------------------------------------------------------------------- */

static int path_in(const struct tone_job *job, const struct thrum_voice *voice, const char *ending,
                   char *path)
{
    if (snprintf(path, PATH_SIZE, "%s/%s.%s", job->folder, voice->name, ending) < PATH_SIZE)
        return CODE_DONE;
    say("%s: the path is too long", job->folder);
    return CODE_OUTPUT;
}

/* All or nothing is begun: a set with one old file in it would be a trap. */
static int look_for_old(const struct tone_job *job, const struct thrum_voice *voices)
{
    static const char *const endings[] = {"wav", "json"};
    char path[PATH_SIZE];
    struct stat about;
    for (int i = 0; i < 2 * job->set && !job->replace; i++) {
        int code = path_in(job, &voices[i / 2], endings[i % 2], path);
        if (code != CODE_DONE)
            return code;
        if (lstat(path, &about) == 0)
            return write_failed(path, EEXIST);
    }
    return CODE_DONE;
}

static int write_voice(const struct tone_job *job, const struct thrum_voice *voice)
{
    char path[PATH_SIZE];
    struct thrum_message message;
    int code = path_in(job, voice, "wav", path);
    if (code == CODE_DONE)
        code = write_sound(job, voice, path);
    if (code == CODE_DONE)
        code = path_in(job, voice, "json", path);
    if (code != CODE_DONE)
        return code;
    json_t *document = voice_json(voice);
    code = json_write(document, path, &message);
    json_decref(document);
    if (code != CODE_DONE)
        say("%s", message.text);
    return code;
}

static int write_voices(const struct tone_job *job, const struct thrum_voice *voices)
{
    if (mkdir(job->folder, 0777) != 0 && errno != EEXIST)
        return write_failed(job->folder, errno);
    int code = look_for_old(job, voices);
    for (int i = 0; i < job->set && code == CODE_DONE; i++)
        code = write_voice(job, &voices[i]);
    return code;
}

static struct thrum_voiceset_room room_of(const struct tone_job *job, const struct thrum_voice *voices)
{
    double hz[THRUM_MAX_SENDERS];
    for (int i = 0; i < job->set; i++)
        hz[i] = voices[i].tones_hz[0];
    return thrum_voiceset_room(hz, job->set, job->mains_hz);
}

static void print_files(const struct tone_job *job, const struct thrum_voice *voices)
{
    const char *first = voices[0].name, *last = voices[job->set - 1].name;
    printf("\nWritten to %s: %s.wav", job->folder, first);
    if (job->set > 1)
        printf(" to %s.wav", last);
    printf(", each for a player of its own, to be repeated;\n"
           "and the voices, %s.json",
           first);
    if (job->set > 1)
        printf(" to %s.json", last);
    puts(". With all players sounding at once:\n\n  thrum rank \\");
    for (int i = 0; i < job->set; i++)
        printf("    --voice %s/%s.json \\\n", job->folder, voices[i].name);
    puts("    FILE...");
}

static void print_set(const struct tone_job *job, const struct thrum_voice *voices)
{
    struct thrum_voiceset_room room = room_of(job, voices);
    printf("%d voice%s for %g Hz mains that may be %g %% off:\n\n  sender      tone   beep  pause\n",
           job->set, job->set == 1 ? "" : "s", job->mains_hz, 100.0 * THRUM_VOICESET_MAINS_OFF);
    for (int i = 0; i < job->set; i++)
        printf("  %-6s  %5.0f Hz  %.2f s %.2f s\n", voices[i].name, voices[i].tones_hz[0],
               voices[i].step[0].s, voices[i].step[1].s);
    printf("\nEvery tone is at least %.1f Hz from any harmonic of the mains", room.mains_hz);
    if (job->set > 1)
        printf(",\n%.0f Hz from the next tone, %.0f Hz from any multiple of another", room.apart_hz,
               room.harmonic_hz);
    if (job->set > 2)
        printf(",\n%.0f Hz from what any two others mix to when something is overloaded", room.mixed_hz);
    puts(".");
    if (job->folder)
        print_files(job, voices);
    else
        puts("Nothing was written; say where to with --write DIR.");
    print_safety(stdout);
}

static json_t *distance_json(double hz)
{
    return isfinite(hz) ? json_rounded(hz, 1e-3) : json_null();
}

static void print_set_json(const struct tone_job *job, const struct thrum_voice *voices)
{
    struct thrum_voiceset_room room = room_of(job, voices);
    json_t *senders = json_array();
    for (int i = 0; i < job->set; i++) {
        char path[PATH_SIZE];
        json_t *sender = voice_json(&voices[i]);
        if (job->folder && path_in(job, &voices[i], "wav", path) == CODE_DONE)
            json_object_set_new(sender, "file", json_text(path));
        json_array_append_new(senders, sender);
    }
    json_t *distances = json_pack("{s:o, s:o, s:o, s:o}", "mains", distance_json(room.mains_hz), "apart",
                                  distance_json(room.apart_hz), "harmonic", distance_json(room.harmonic_hz),
                                  "mixed", distance_json(room.mixed_hz));
    json_print(json_pack("{s:s, s:o, s:o, s:o, s:o}", "thrum", THRUM_VERSION, "mains_hz",
                         json_mains(job->mains_hz), "senders", senders, "distances_hz", distances, "safety",
                         safety_json()));
}

static int make_set(const struct tone_job *job)
{
    struct thrum_voice voices[THRUM_MAX_SENDERS];
    enum thrum_status status = thrum_voiceset_propose(job->set, job->mains_hz, voices);
    if (status != THRUM_OK)
        return say_usage("there are no %d voices well apart from each other and from %g Hz mains", job->set,
                         job->mains_hz);
    for (int i = 0; i < job->set; i++)
        voices[i].level_dbfs = job->level_dbfs;
    int code = job->folder ? write_voices(job, voices) : CODE_DONE;
    if (code != CODE_DONE)
        return code;
    if (job->json)
        print_set_json(job, voices);
    else
        print_set(job, voices);
    return CODE_DONE;
}

/* --- The command --------------------------------------------------------------------------------------------- */

static int look_over(const struct tone_job *job)
{
    if (job->set > 0 && (job->voice_path || job->tone_given || job->step_given))
        return say_usage("--set proposes its own voices; leave --voice, --tone, --on and --off away");
    if (job->set > 0 && job->out)
        return say_usage("a set goes into a folder: --write DIR in place of --out");
    if (job->set > 0 && !job->mains_given)
        return say_usage(
            "say what the mains is, so that the voices keep clear of it: --mains 50 or --mains 60");
    if (job->play && (job->set > 0 || job->out || job->folder))
        return say_usage("--play plays one voice and writes nothing; leave --set, --out and --write away");
    if (job->output && !job->play)
        return say_usage("--output says where to play; add --play");
    if (job->set == 0 && job->mains_given)
        return say_usage("--mains goes with --set N");
    if (job->set == 0 && job->folder)
        return say_usage("a single voice goes into a file: --out FILE.wav in place of --write");
    if (job->set == 0 && !job->out && !job->play)
        return say_usage("say where to with --out FILE.wav, play it with --play, or ask for voices with "
                         "--set N --mains HZ");
    if (job->out && strcmp(job->out, "-") == 0)
        return say_usage("--out wants the name of a file; players need one");
    return CODE_DONE;
}

static int tone(const struct command *command, int argc, char **argv)
{
    struct tone_job job = {.tone_hz = 1025.0,
                           .on_s = 0.25,
                           .off_s = 0.25,
                           .for_s = 60.0,
                           .level_dbfs = -3.0,
                           .rate_hz = 48000.0};
    const struct option_rule rules[] = {
        {.name = "set", .kind = OPTION_COUNT, .into = &job.set, .low = 1, .high = THRUM_MAX_SENDERS},
        {.name = "mains",
         .kind = OPTION_NUMBER,
         .into = &job.mains_hz,
         .low = 45,
         .high = 66,
         .given = &job.mains_given},
        {.name = "write", .kind = OPTION_TEXT, .into = &job.folder},
        {.name = "out", .kind = OPTION_TEXT, .into = &job.out},
        {.name = "voice", .kind = OPTION_TEXT, .into = &job.voice_path},
        {.name = "tone",
         .kind = OPTION_NUMBER,
         .into = &job.tone_hz,
         .low = THRUM_TONE_MIN_HZ,
         .high = THRUM_TONE_MAX_HZ,
         .given = &job.tone_given},
        {.name = "on",
         .kind = OPTION_NUMBER,
         .into = &job.on_s,
         .low = 0.04,
         .high = 2.0,
         .given = &job.step_given},
        {.name = "off",
         .kind = OPTION_NUMBER,
         .into = &job.off_s,
         .low = 0.04,
         .high = 2.0,
         .given = &job.step_given},
        {.name = "for",
         .kind = OPTION_NUMBER,
         .into = &job.for_s,
         .low = 1,
         .high = 3600,
         .given = &job.for_given},
        {.name = "level", .kind = OPTION_NUMBER, .into = &job.level_dbfs, .low = -60, .high = 0},
        {.name = "rate",
         .kind = OPTION_NUMBER,
         .into = &job.rate_hz,
         .low = 8000,
         .high = 192000,
         .given = &job.rate_given},
        {.name = "play", .kind = OPTION_FLAG, .into = &job.play},
        {.name = "output", .kind = OPTION_TEXT, .into = &job.output},
        {.name = "replace", .kind = OPTION_FLAG, .into = &job.replace},
        {.name = "json", .kind = OPTION_FLAG, .into = &job.json},
        {.name = NULL},
    };
    enum options_result result = options_read(command, rules, &argc, argv);
    if (result != OPTIONS_GO)
        return result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    if (argc > 0)
        return say_usage("'%s' is no option; the file is named with --out", argv[0]);
    int code = look_over(&job);
    if (code != CODE_DONE)
        return code;
    return job.play ? play_one(&job) : job.set > 0 ? make_set(&job) : write_one(&job);
}

const struct command command_tone = {
    .name = "tone",
    .summary = "writes or plays the sound of a voice that stands in for a sender",
    .help = "Usage: thrum tone --set N --mains HZ [--write DIR] [OPTION...]\n"
            "       thrum tone --out FILE.wav [--voice V.json | --tone HZ] [OPTION...]\n"
            "       thrum tone --play [--output NAME] [--voice V.json | --tone HZ] ...\n"
            "\n"
            "Proposes up to 8 voices that are well apart from each other, from the mains and\n"
            "from each other's harmonics, and writes them as sound for phones and players\n"
            "that repeat them; or writes one voice; or plays it here until Ctrl-C.\n"
            "  --set N           so many voices       --mains HZ  of the site, 50 or 60\n"
            "  --write DIR       a.wav and a.json, b.wav and b.json ... into this folder\n"
            "  --out FILE.wav    one voice            --voice V.json  as learned\n"
            "  --tone HZ         or this tone (1025)  --on S, --off S   its cadence (0.25)\n"
            "  --for S           its length (60), to the nearest whole cycle\n"
            "  --level DBFS      its strength (-3)    --rate HZ   samples a second (48000)\n"
            "  --replace         files that are there already are replaced\n"
            "  --json            one JSON document\n"
            "\n"
            "SAFETY: only through an isolating clip, only extra-low-voltage circuits, tested\n"
            "dead; never tie a phone, a player or a laptop to a live conductor.\n"
            "\n"
            "Exit status: 0 done, 2 wrong usage, 3 output, 4 voice file, 5 not written.\n",
    .run = tone,
};
