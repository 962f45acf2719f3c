/* thrum round: touch wires, watch the bar, get a name. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands/command.h"
#include "commands/excluding.h"
#include "commands/history.h"
#include "commands/marks_file.h"
#include "commands/practice_lesson.h"
#include "commands/progress.h"
#include "commands/recorded.h"
#include "commands/round_job.h"
#include "commands/say.h"
#include "commands/stop.h"
#include "commands/voice_file.h"
#include "sound/flac_copy.h"
#include "sound/message.h"
#include "sound/quiet.h"

/* Frames of one step: small where somebody watches, so that every snapshot is told. */
#define STEP_LIVE_S 0.05
#define STEP_S      0.1
/* How long the worker may take to finish. */
#define PATIENCE_S 8.0

/* --- Setting up ------------------------------------------------------------------------------------------------ */

static int open_sound(struct round_job *job, struct thrum_message *message)
{
    bool watched = job->screen || job->keys;
    job->watched = job->screen != NULL;
    struct intake_config config = {.from = job->from,
                                   .n_wires = job->n_wires,
                                   .hand = watched && !job->hands_free ? PRACTICE_GUIDED : PRACTICE_WALKS};
    return intake_open(&config, &job->intake, message);
}

/* Where there are no keys, a recorded round brings its touches along; else they are found. */
static int choose_touches(struct round_job *job, struct thrum_mark **marks, size_t *n,
                          struct thrum_message *message)
{
    *marks = NULL;
    *n = 0;
    if (job->screen || job->keys || job->hands_free)
        return CODE_DONE;
    int code = marks_inside(intake_source(job->intake), marks, n, message);
    job->hands_free = *n == 0;
    return code;
}

static int open_session(struct round_job *job, struct session **session, struct thrum_message *message)
{
    const struct thrum_source_info *info = intake_info(job->intake);
    if (job->n_wires == 0)
        job->n_wires = recorded_wires(intake_source(job->intake));
    struct session_config config = {.intake = job->intake,
                                    .voices = job->voices,
                                    .n_voices = job->n_voices,
                                    .n_wires = job->n_wires,
                                    .halves = job->halves,
                                    .exclude = &job->exclude,
                                    .pick = &job->pick,
                                    .bar = true,
                                    .ears = job->ears,
                                    .describe = round_describe,
                                    .job = job,
                                    .for_s = job->for_s};
    struct thrum_mark *marks;
    int code = choose_touches(job, &marks, &config.n_marks, message);
    config.marks = marks;
    config.hands_free = job->hands_free;
    config.watch_moved = true;
    config.follow_moved = !job->screen && !job->keys;
    config.take_when_enough = info->live || job->screen || job->keys;
    double step_s = info->live ? STEP_LIVE_S : job->screen || job->keys ? STEP_LIVE_S / 2.5 : STEP_S;
    config.block = (size_t)(step_s * info->rate_hz);
    if (code == CODE_DONE && job->record)
        code = round_open_recorder(job, &config.recorder, message);
    config.note = message; /* little room, for instance */
    if (code == CODE_DONE && !message->text[0])
        round_warn_of_ears(job, message);
    if (code == CODE_DONE)
        code = session_create(&config, session, message);
    if (code == CODE_DONE && config.n_marks > 0)
        code = recorded_exclude(intake_source(job->intake), session_round(*session), message);
    free(marks);
    return code;
}

/* --- Running --------------------------------------------------------------------------------------------------- */

/* Nobody watches and nothing has to be waited for: every step is told. */
static int run_plainly(struct session *session, struct round_teller *teller, struct worker_view *view,
                       struct thrum_message *trouble)
{
    enum session_state state;
    bool read = true;
    do {
        struct thrum_message message;
        state = session_step(session, &message);
        if (message.text[0])
            view->message = message;
        thrum_round_snapshot(session_round(session), &view->snapshot);
        view->recording = session_records(session);
        view->recorded = session_recorded(session);
        view->lost = session_lost(session);
        view->came_hz = session_came_hz(session);
        view->message_s = clock_s();
        snprintf(view->input, sizeof view->input, "%s", session_input(session));
        read = round_tell(teller, view);
    } while (state != SESSION_ENDED && read && !stop_asked());
    int code = session_finish(session, trouble);
    thrum_round_snapshot(session_round(session), &view->snapshot);
    return read ? code : CODE_OUTPUT;
}

/* A device, told in lines or events. */
static bool tell_worker(const struct round_job *job, struct worker *worker, struct round_teller *teller,
                        struct worker_view *view)
{
    double began_s = clock_s();
    bool read = true;
    while (!view->ended && read && !stop_asked() &&
           !(job->for_s > 0.0 && clock_s() - began_s > job->for_s + PATIENCE_S)) {
        round_look(job, worker, view, 0.25);
        read = round_tell(teller, view);
    }
    return read;
}

/* A hanging driver or disk must not keep the person waiting. */
static void leave_hanging(struct round_job *job, const struct session *session)
{
    thrum_screen_destroy(job->screen);
    bool disk = session_writing(session);
    if (disk)
        say("the disk does not take the rest of the recording; what it has taken is in %s",
            session_recording(session));
    else
        say("the sound input does not let go; leaving it");
    fflush(stdout);
    _exit(stop_insisted() ? CODE_BROKEN_OFF : disk ? CODE_OUTPUT : CODE_DEVICE);
}

static int run_worker(struct round_job *job, struct session *session, struct round_teller *teller,
                      struct worker_view *view, struct thrum_message *trouble)
{
    bool read = true;
    struct worker *worker =
        worker_start(session, (job->screen || job->keys) && !intake_info(job->intake)->live);
    if (!worker) {
        message_set(trouble, "%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_DEVICE;
    }
    if (job->screen)
        round_watch(job, worker, view);
    else if (job->keys)
        read = round_lead_by_lines(job, worker, teller, view);
    else
        read = tell_worker(job, worker, teller, view);
    worker_stop(worker);
    for (double until_s = clock_s() + PATIENCE_S; !view->ended && clock_s() < until_s && !stop_insisted();)
        worker_look(worker, view, 0.1);
    int code = view->code;
    *trouble = view->trouble;
    if (!worker_join(worker, 0.0))
        leave_hanging(job, session);
    return read ? code : CODE_OUTPUT;
}

/* Where the recording is; its copies, once it is closed. */
static int tell_recording(const struct round_job *job, const struct session *session)
{
    int code = CODE_DONE, n = session_parts(session);
    for (int i = 0; i < n; i++)
        say(i == 0 ? "recorded in %s" : "and in %s", session_part(session, i));
    for (int i = 0; job->flac && i < n; i++) {
        struct thrum_message message;
        char path[1024];
        if (thrum_flac_copy(session_part(session, i), path, sizeof path, &message) == THRUM_OK) {
            say("FLAC copy, read back and compared: %s", path);
        } else {
            say("%s", message.text);
            code = CODE_OUTPUT;
        }
    }
    return code;
}

/* Which input each reading was made with, as far as it is known: the first, and the last. */
static void name_inputs(struct findings *findings, const char *first, const char *last)
{
    const struct thrum_snapshot *snapshot = &findings->snapshot;
    int n = 0;
    while (n < snapshot->n_readings && snapshot->readings[n].faults & THRUM_FAULT_NOT_COMPARED)
        n++;
    findings_source(findings, 0, n, first);
    findings_source(findings, n, snapshot->n_readings, last);
}

/* The answer, once the screen is gone. */
static int answer(struct round_job *job, struct session *session, struct round_teller *teller,
                  const struct worker_view *view)
{
    struct findings *findings = findings_create();
    if (!findings)
        return CODE_OUTPUT;
    findings->by_hand = (job->watched || job->keys) && !job->hands_free;
    findings_take(findings, session_round(session));
    name_inputs(findings, intake_info(job->intake)->name, session_input(session));
    if (findings->no_voice)
        findings_warn(findings, "no-voice",
                      "no sender's voice was found; record the sender's own lead and give it: thrum learn "
                      "LEAD.wav --voice "
                      "V.json");
    if (session_followed(session)[0])
        findings_warn(findings, "moved", "%s; this round was measured there. Learn it again",
                      session_followed(session));
    if (job->json)
        round_tell_end(teller, view, findings);
    else
        findings_print(findings, stdout);
    struct practice_probe *probe = intake_practice(job->intake);
    if (probe && !job->json && (job->keys || job->watched))
        lesson_explain(practice_probe_bundle(probe), job->from, practice_probe_wires(probe),
                       &findings->snapshot, stdout);
    int code = findings_code(findings), kept = tell_recording(job, session);
    findings_destroy(findings);
    return kept > code ? kept : code;
}

static int run_session(struct round_job *job, struct session *session)
{
    struct worker_view *view = calloc(1, sizeof *view);
    struct round_teller *teller = calloc(1, sizeof *teller);
    struct thrum_message trouble = {.text = ""};
    int code = CODE_OUTPUT;
    if (view && teller) {
        thrum_snapshot_reserve(&view->snapshot);
        teller->job = job;
        stop_ends_at_once(!job->screen);
        if (job->screen || job->keys || intake_info(job->intake)->live)
            code = run_worker(job, session, teller, view, &trouble);
        else
            code = run_plainly(session, teller, view, &trouble);
        thrum_screen_destroy(job->screen);
        job->screen = NULL;
        stop_ends_at_once(true); /* everything is written, but for copies */
        if (trouble.text[0])
            say("%s", trouble.text);
        int picked = output_works() ? answer(job, session, teller, view) : CODE_OUTPUT;
        code = picked > code ? picked : code;
    }
    free(teller);
    free(view);
    return code;
}

static int run_sound(struct round_job *job, struct thrum_message *message)
{
    struct session *session = NULL;
    if (intake_info(job->intake)->note[0])
        say("%s: %s", intake_info(job->intake)->name, intake_info(job->intake)->note);
    int code = round_halves_ok(job);
    if (code == CODE_DONE && job->n_voices == 0)
        code = round_learn(job, message);
    if (code == CODE_DONE)
        code = round_open_ears(job, message);
    if (code == CODE_DONE)
        code = open_session(job, &session, message);
    if (code == CODE_DONE) {
        code = run_session(job, session);
        message->text[0] = 0;
    }
    session_destroy(session);
    ears_close(job->ears);
    return code;
}

/* --- The screen, and what the libraries say meanwhile ---------------------------------------------------------- */

static int make_screen(struct round_job *job)
{
    static const char *const looks[] = {"plain", "colour", "sun", "cellar", NULL};
    struct thrum_screen_config config = thrum_screen_config_default();
    config.ascii = job->ascii;
    config.no_colour = config.no_colour || job->no_colour;
    config.take_key = job->take_key;
    if (job->take_key && !thrum_screen_knows_key(job->take_key))
        return say_usage(
            "--take-key is one character, or enter, tab, pageup, pagedown, home, end, up, down, left, right, "
            "f1 to f12; not '%s'",
            job->take_key);
    if (job->look) {
        int i = 0;
        while (looks[i] && strcmp(looks[i], job->look) != 0)
            i++;
        if (!looks[i])
            return say_usage("--look is one of plain, colour, sun, cellar; not '%s'", job->look);
        config.look = (enum thrum_screen_look)i;
    }
    if (!job->json && !job->plain && isatty(STDOUT_FILENO))
        thrum_screen_create(&config, &job->screen);
    return CODE_DONE;
}

static int run_job(struct round_job *job)
{
    struct thrum_message message = {.text = ""};
    chatter_begin(&job->chatter);
    struct thrum_quiet *quiet = thrum_quiet_begin(job->chatter.path[0] ? job->chatter.path : NULL);
    say_stream(thrum_quiet_stream(quiet));
    int code = make_screen(job);
    /* Asked for, or at a terminal without a screen: keys as lines. Other people's standard input stays theirs. */
    if (!job->screen && !job->json && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO))
        job->keys = true;
    job->keys = job->keys && !job->screen;
    if (code == CODE_DONE && job->keys && strcmp(job->from, "-") == 0)
        code = say_usage("--keys needs standard input, and so does '--from -': name a file or a device");
    if (code == CODE_DONE && !job->screen && !job->keys && !job->hands_free &&
        strncmp(job->from, "device", 6) == 0) {
        say("there is no screen for keys here: touches are taken by themselves, as with --hands-free");
        job->hands_free = true;
    }
    if (code == CODE_DONE)
        code = open_sound(job, &message);
    if (code == CODE_DEVICE && (job->screen || job->wait))
        code = round_wait(job, open_sound, &message);
    if (code == CODE_DONE)
        code = run_sound(job, &message);
    thrum_screen_destroy(job->screen);
    if (message.text[0])
        say("%s", message.text);
    intake_close(job->intake);
    say_stream(NULL);
    thrum_quiet_end(quiet);
    chatter_end(&job->chatter);
    return code;
}

static int round_command(const struct command *command, int argc, char **argv)
{
    struct round_job *job = calloc(1, sizeof *job);
    if (!job) {
        say("%s", thrum_status_text(THRUM_ERR_MEM));
        return CODE_DEVICE;
    }
    const struct option_rule rules[] = {
        {.name = "from", .kind = OPTION_TEXT, .into = &job->from},
        {.name = "voice", .kind = OPTION_TEXTS, .into = &job->voice_paths},
        {.name = "wires", .kind = OPTION_COUNT, .into = &job->n_wires, .low = 1, .high = THRUM_MAX_WIRES},
        {.name = "exclude", .kind = OPTION_TEXTS, .into = &job->exclude},
        {.name = "history", .kind = OPTION_TEXTS, .into = &job->history},
        {.name = "halves", .kind = OPTION_FLAG, .into = &job->halves},
        {.name = "hands-free", .kind = OPTION_FLAG, .into = &job->hands_free},
        {.name = "record", .kind = OPTION_TEXT, .into = &job->record},
        {.name = "ears", .kind = OPTION_TEXT, .into = &job->ears_how},
        {.name = "ears-output", .kind = OPTION_TEXT, .into = &job->ears_output},
        {.name = "flac", .kind = OPTION_FLAG, .into = &job->flac},
        {.name = "for", .kind = OPTION_NUMBER, .into = &job->for_s, .low = 0.1, .high = 1e6},
        {.name = "json", .kind = OPTION_FLAG, .into = &job->json},
        {.name = "ascii", .kind = OPTION_FLAG, .into = &job->ascii},
        {.name = "no-colour", .kind = OPTION_FLAG, .into = &job->no_colour},
        {.name = "look", .kind = OPTION_TEXT, .into = &job->look},
        {.name = "keys", .kind = OPTION_FLAG, .into = &job->keys},
        {.name = "plain", .kind = OPTION_FLAG, .into = &job->plain},
        {.name = "wait", .kind = OPTION_FLAG, .into = &job->wait},
        {.name = "take-key", .kind = OPTION_TEXT, .into = &job->take_key},
        {.name = NULL},
    };
    struct thrum_message message;
    enum ears_mode mode;
    int code = CODE_DONE;
    enum options_result result = options_read(command, rules, &argc, argv);
    if (!job->from)
        job->from = "device:";
    if (result != OPTIONS_GO)
        code = result == OPTIONS_DONE ? CODE_DONE : CODE_USAGE;
    else if (!round_ears_mode(job->ears_how, &mode))
        code = say_usage("--ears is one of cues, guide, cleaned; not '%s'", job->ears_how);
    else if (job->flac && !job->record)
        code = say_usage("--flac copies a recording; add --record DIR");
    else if (!exclude_lists_ok(&job->exclude))
        code = CODE_USAGE;
    else if (argc > 0)
        code = say_usage("'%s' is no option; a file is named with --from file:%s", argv[0], argv[0]);
    else if ((code = voices_read(job->voice_paths.text, job->voice_paths.n, job->voices, &message)) !=
             CODE_DONE)
        say("%s", message.text);
    else if ((code = history_settings(&job->history, &job->pick)) == CODE_DONE) {
        job->n_voices = job->voice_paths.n;
        code = run_job(job);
    }
    free(job);
    return code;
}

const struct command command_round = {
    .name = "round",
    .summary = "touch the wires, watch the bar, get the name: live",
    .help = "Usage: thrum round [--from SOURCE] [OPTION...]\n"
            "Listens while you touch wires, ranks them, and names the one the sender drives.\n"
            "On a terminal: space begins and ends a touch, n p w or digits choose the tag,\n"
            "< > mend tags, u d take touches back, x exclude, i lost input, f finish, h help.\n"
            "\n"
            "  --from SOURCE   device:NAME (thrum inputs lists them), file:PATH, practice:N,\n"
            "                  or - for standard input; the default input without it\n"
            "  --voice V.json  a voice from thrum learn, one per sender; else learned first\n"
            "  --hands-free    touches are taken by themselves    --take-key KEY  another key\n"
            "  --halves        halves of the bundle first: it says which wires to hold next\n"
            "  --record DIR    keeps the sound there, touches marked   --flac  copies it too\n"
            "  --wires N       how many wires there are    --exclude TAGS  these cannot be it\n"
            "  --history JSON  what thrum rank --json wrote of an earlier round\n"
            "  --json          one JSON event a line       --no-colour, --ascii, --for S\n"
            "  --look HOW      plain, colour, sun, cellar  --ears cues, guide or cleaned\n"
            "  --plain, --keys  lines, keys as lines too   --wait  until there is an input\n"
            "\n"
            "Exit status: 0 picked, 1 no pick, 2 wrong usage, 3 sound input, 4 sound or\n"
            "voice file, 5 recording or answer could not be written.\n"
            "\n"
            "SAFETY: controller off and unplugged before wires are lifted; extra-low-voltage\n"
            "circuits only; test for voltage with a rated meter first; never tie a sender or\n"
            "a laptop to a live conductor; laptop on battery; dig by hand and have buried\n"
            "services marked; local codes and licensed practice come first.\n",
    .run = round_command,
};
