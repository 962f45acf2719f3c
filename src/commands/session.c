#include "commands/session.h"

#include <math.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/ears.h"
#include "commands/excluding.h"
#include "commands/marking.h"
#include "commands/moved_watch.h"
#include "commands/recorded.h"
#include "commands/replay.h"
#include "sound/message.h"

/* How often it is looked for readings that must be marked. */
#define MARK_EACH_S 0.25

struct session {
    struct session_config config;
    struct thrum_round *round;
    struct thrum_snapshot *seen; /* to see which readings are new */
    struct marking *marking;
    struct replay replay;  /* of the marks given */
    uint64_t frames, lost; /* all of the clock, pauses too */
    /* As noted last in the recording: where the sender is measured; 0: where it was learned */
    double followed_hz;
    double came_hz;   /* as told last: the rate by the clock; 0: the one of the info */
    uint64_t look_at; /* frame at which to look for new readings */
    int n_inputs;     /* that have sounded */
    bool recording;   /* the recorder takes more */
    _Atomic bool writing;
    char recording_path[512];
    char **part; /* [n_parts], once it is closed */
    int n_parts;
    struct moved_watch *watch; /* NULL: a sender that has moved is not looked for */
    struct thrum_message note; /* to be said with the next step */
    bool ended;
    int code;
    char trouble[512];
};

/* In a practice bundle, and where halves are searched, it is known which wires there are. */
static void name_wires(struct session *session, int n_wires)
{
    for (int i = 1; i <= n_wires; i++) {
        char tag[16];
        snprintf(tag, sizeof tag, "%d", i);
        thrum_round_exclude(session->round, tag, false);
    }
}

static enum thrum_status make_round(struct session *session, const struct session_config *config)
{
    const struct thrum_source_info *info = intake_info(config->intake);
    struct thrum_round_config *round = calloc(1, sizeof *round);
    if (!round)
        return THRUM_ERR_MEM;
    round->listener.rate_hz = info->rate_hz;
    round->listener.channels = info->channels;
    round->listener.channel = -1;
    round->listener.n_voices = config->n_voices;
    for (int i = 0; i < config->n_voices; i++)
        round->listener.voice[i] = config->voices[i];
    round->listener.bar = config->bar;
    round->pick = config->pick ? *config->pick : thrum_pick_config_default();
    struct practice_probe *probe = intake_practice(config->intake);
    round->n_wires = config->n_wires > 0 || !probe ? config->n_wires : practice_probe_wires(probe);
    round->halves = config->halves;
    round->hands_free = config->hands_free && config->n_marks == 0;
    round->take_when_enough = config->take_when_enough;
    enum thrum_status status = thrum_round_create(round, &session->round);
    if (status == THRUM_OK && (probe || config->halves))
        name_wires(session, probe ? practice_probe_wires(probe) : config->n_wires);
    if (status == THRUM_OK && config->exclude)
        status = exclude_wires(config->exclude, session->round);
    free(round);
    return status;
}

/* Keeps the worst code and the first text. */
static void trouble(struct session *session, int code, const char *text)
{
    if (code > session->code)
        session->code = code;
    if (!session->trouble[0])
        snprintf(session->trouble, sizeof session->trouble, "%s", text);
}

static void check_recorder(struct session *session, enum thrum_status status, struct thrum_message *message,
                           const struct thrum_message *said)
{
    if (said->text[0])
        *message = *said;
    if (status == THRUM_OK || !session->recording)
        return;
    session->recording = false;
    trouble(session, CODE_OUTPUT, said->text);
}

static void record(struct session *session, const float *samples, size_t frames, uint64_t lost,
                   struct thrum_message *message)
{
    struct thrum_message said = {.text = ""};
    struct thrum_recorder *recorder = session->config.recorder;
    atomic_store(&session->writing, session->recording);
    if (session->recording && lost > 0)
        check_recorder(session, thrum_recorder_lost(recorder, lost, &said), message, &said);
    if (session->recording && frames > 0)
        check_recorder(session, thrum_recorder_write(recorder, samples, frames, &said), message, &said);
    atomic_store(&session->writing, false);
}

/* The recording begins a little before the round. */
static void record_before(struct session *session)
{
    size_t frames;
    const float *samples = intake_before(session->config.intake, &frames);
    record(session, samples, frames, 0, &session->note);
    marking_before(session->marking, session->recording ? frames : 0);
}

int session_create(const struct session_config *config, struct session **session,
                   struct thrum_message *message)
{
    struct session *made = calloc(1, sizeof *made);
    *session = NULL;
    enum thrum_status status = made ? THRUM_OK : THRUM_ERR_MEM;
    if (status == THRUM_OK) {
        made->config = *config;
        made->n_inputs = 1;
        if (config->note)
            made->note = *config->note;
        made->recording = config->recorder != NULL;
        if (made->recording)
            snprintf(made->recording_path, sizeof made->recording_path, "%s",
                     thrum_recorder_path(config->recorder));
        made->seen = malloc(sizeof *made->seen);
        made->marking = marking_create();
        if (made->seen)
            thrum_snapshot_reserve(made->seen);
        bool replays =
            replay_begin(&made->replay, config->marks, config->n_marks, intake_source(config->intake),
                         config->n_voices == 1 ? &config->voices[0] : NULL);
        bool all = made->seen && made->marking && replays;
        status = all ? THRUM_OK : THRUM_ERR_MEM;
    }
    if (status == THRUM_OK)
        status = make_round(made, config);
    if (status == THRUM_OK && config->watch_moved && config->n_voices == 1 && config->n_marks == 0)
        made->watch = moved_watch_create(&config->voices[0], intake_info(config->intake)->rate_hz,
                                         intake_info(config->intake)->channels, config->follow_moved);
    if (status == THRUM_OK) {
        record_before(made);
        replay_to(&made->replay, made->round, 0, false);
        *session = made;
        return CODE_DONE;
    }
    struct thrum_message ignored;
    if (made)
        session_destroy(made);
    else
        thrum_recorder_close(config->recorder, &ignored);
    message_set(message, "this sound cannot be listened to: %s", thrum_status_text(status));
    return CODE_FILE;
}

void session_destroy(struct session *session)
{
    struct thrum_message ignored;
    if (!session)
        return;
    thrum_recorder_close(session->config.recorder, &ignored);
    thrum_round_destroy(session->round);
    for (int i = 0; i < session->n_parts; i++)
        free(session->part[i]);
    free(session->part);
    marking_destroy(session->marking);
    moved_watch_destroy(session->watch);
    free(session->seen);
    replay_end(&session->replay);
    free(session);
}

/* The recording's marks follow the readings. */
static void mark_readings(struct session *session)
{
    struct thrum_recorder *recorder = session->config.recorder;
    if (!recorder)
        return;
    thrum_round_snapshot(session->round, session->seen);
    if (marking_follow(session->marking, recorder, session->seen) == THRUM_ERR_FULL)
        trouble(session, CODE_OUTPUT, "the recording holds no more marks; begin a new round");
}

/* What was lost is silence to the round, up to a limit. */
static uint64_t pass(struct session *session, uint64_t lost)
{
    uint64_t most = (uint64_t)(SESSION_AWAY_MOST_S * intake_info(session->config.intake)->rate_hz);
    if (lost > most && marking_pause(session->marking, session->frames + most, lost - most))
        lost = most;
    thrum_round_lost(session->round, lost);
    return lost;
}

/* A note, not a touch: it has no length. */
static void note(struct session *session, const char *what, int decimals, double hz)
{
    struct thrum_recorder *recorder = session->config.recorder;
    if (!session->recording)
        return;
    struct thrum_mark mark = {.first = thrum_recorder_position(recorder)};
    snprintf(mark.label, sizeof mark.label, "%s%.*f", what, decimals, hz);
    (void)thrum_recorder_mark(recorder, &mark);
}

/* What the recording says of itself now; malloc'ed, NULL when there is nothing to be said. */
static char *describe(const struct session *session)
{
    const struct session_config *config = &session->config;
    if (!session->recording || !config->describe)
        return NULL;
    return config->describe(config->job, intake_input(config->intake), session->n_inputs,
                            session->followed_hz);
}

/* The recording says where the sender was followed to: a note says when, and every later part begins with it. */
static void note_move(struct session *session)
{
    double followed_hz = moved_watch_followed_hz(session->watch);
    if (followed_hz == session->followed_hz)
        return;
    session->followed_hz = followed_hz;
    note(session, RECORDED_MOVED, 6, followed_hz);
    char *about = describe(session);
    if (about)
        (void)thrum_recorder_about(session->config.recorder, about);
    free(about);
}

/* The input delivers another rate than it says: that is told wherever somebody looks, and the round goes on. */
static void follow_rate(struct session *session, struct thrum_message *message)
{
    double said_hz = intake_info(session->config.intake)->rate_hz;
    double came_hz = intake_came_hz(session->config.intake);
    if (fabs(came_hz - session->came_hz) < 0.5)
        return;
    session->came_hz = came_hz;
    thrum_round_input_faults(session->round, came_hz > 0.0 ? THRUM_FAULT_RATE : 0);
    note(session, "~rate ", 0, came_hz > 0.0 ? came_hz : said_hz);
    message_wrong_rate(message, said_hz, came_hz > 0.0 ? came_hz : said_hz);
}

enum thrum_status session_follow(struct session *session)
{
    if (!session->watch)
        return THRUM_ERR_NOT_FOUND;
    enum thrum_status status = moved_watch_follow(session->watch, session->round);
    note_move(session);
    mark_readings(session);
    return status;
}

const char *session_moved(const struct session *session)
{
    return session->watch ? moved_watch_text(session->watch) : "";
}

const char *session_followed(const struct session *session)
{
    return session->watch ? moved_watch_followed(session->watch) : session->replay.followed;
}

/* The recording goes on in a file of its own, and what was measured before is compared with nothing measured since. */
static void change_input(struct session *session)
{
    thrum_round_other_input(session->round);
    session->n_inputs++;
    char *about = describe(session);
    if (about)
        (void)thrum_recorder_other(session->config.recorder, about);
    free(about);
}

static void hear(struct session *session, const float *samples, const struct thrum_source_block *block,
                 struct thrum_message *message)
{
    uint64_t lost = block->lost;
    record(session, samples, block->frames, lost, message);
    uint64_t silence = lost > 0 ? pass(session, lost) : 0;
    ears_hear(session->config.ears, samples, block->frames);
    thrum_round_feed(session->round, samples, block->frames);
    if (session->watch) {
        moved_watch_hear(session->watch, session->round, session->seen, samples, block->frames, silence,
                         message);
        note_move(session);
    }
    session->lost += lost;
    session->frames += lost + block->frames;
    replay_to(&session->replay, session->round, session->frames, false);
    if (session->frames >= session->look_at) {
        mark_readings(session);
        session->look_at =
            session->frames + (uint64_t)(MARK_EACH_S * intake_info(session->config.intake)->rate_hz);
    }
}

/* In a guided practice bundle the probe is on the current wire while it is touched. */
static void move_probe(struct session *session)
{
    struct practice_probe *probe = intake_practice(session->config.intake);
    if (probe)
        practice_probe_place(probe, thrum_round_touched(session->round));
}

static size_t step_frames(const struct session *session)
{
    size_t block = session->config.block;
    double rate_hz = intake_info(session->config.intake)->rate_hz;
    block = replay_block(&session->replay, session->frames, block, rate_hz);
    if (session->config.for_s > 0.0) {
        double left = session->config.for_s * rate_hz - (double)session->frames;
        if (left < (double)block)
            block = left > 1.0 ? (size_t)left : 1;
    }
    return block;
}

enum session_state session_step(struct session *session, struct thrum_message *message)
{
    struct thrum_source_block block;
    *message = session->note;
    session->note.text[0] = 0;
    if (session->ended)
        return SESSION_ENDED;
    const float *samples = intake_read(session->config.intake, step_frames(session), &block);
    if (block.message.text[0])
        *message = block.message;
    follow_rate(session, message);
    hear(session, samples, &block, message);
    if (block.event == THRUM_SOURCE_OTHER)
        change_input(session);
    move_probe(session);
    double rate_hz = intake_info(session->config.intake)->rate_hz;
    if (block.event == THRUM_SOURCE_END ||
        (session->config.for_s > 0.0 && (double)session->frames >= session->config.for_s * rate_hz - 1.0))
        session->ended = true;
    if (block.event == THRUM_SOURCE_FAILED) {
        session->ended = true;
        trouble(session, intake_info(session->config.intake)->live ? CODE_DEVICE : CODE_FILE,
                block.message.text);
    }
    if (session->ended)
        return SESSION_ENDED;
    return intake_away(session->config.intake) ? SESSION_LOST_INPUT : SESSION_GOES_ON;
}

enum thrum_status session_act(struct session *session, enum thrum_action action, const char *tag)
{
    enum thrum_status status = thrum_round_act(session->round, action, tag);
    mark_readings(session);
    if (action == THRUM_FINISH)
        session->ended = true;
    return status;
}

enum thrum_status session_look(struct session *session, const char *name)
{
    return intake_look(session->config.intake, name);
}

bool session_offers(struct session *session, struct thrum_offers *offers)
{
    return intake_offers(session->config.intake, offers);
}

const char *session_input(const struct session *session)
{
    return intake_input(session->config.intake);
}

/* The names outlive the recorder. */
static void keep_parts(struct session *session)
{
    const struct thrum_recorder *recorder = session->config.recorder;
    int n = recorder && thrum_recorder_frames(recorder) > 0 ? thrum_recorder_parts(recorder) : 0;
    session->part = calloc((size_t)n + 1, sizeof *session->part);
    for (int i = 0; session->part && i < n; i++) {
        session->part[i] = strdup(thrum_recorder_part(recorder, i));
        if (!session->part[i])
            return;
        session->n_parts = i + 1;
    }
}

int session_finish(struct session *session, struct thrum_message *message)
{
    struct thrum_message said = {.text = ""};
    replay_to(&session->replay, session->round, session->frames, true);
    replay_later(session->round, session->config.later, session->config.n_later);
    thrum_round_end(session->round);
    mark_readings(session);
    session->ended = true;
    keep_parts(session);
    atomic_store(&session->writing, session->config.recorder != NULL);
    enum thrum_status status = thrum_recorder_close(session->config.recorder, &said);
    atomic_store(&session->writing, false);
    session->config.recorder = NULL;
    session->recording = false;
    if (status != THRUM_OK)
        trouble(session, CODE_OUTPUT, said.text);
    message_set(message, "%s", session->trouble);
    return session->code;
}

struct thrum_round *session_round(struct session *session)
{
    return session->round;
}

uint64_t session_frames(const struct session *session)
{
    return session->frames;
}

double session_rate(const struct session *session)
{
    return intake_info(session->config.intake)->rate_hz;
}

uint64_t session_lost(const struct session *session)
{
    return session->lost;
}

double session_came_hz(const struct session *session)
{
    return session->came_hz;
}

const char *session_recording(const struct session *session)
{
    return session->recording_path;
}

bool session_records(const struct session *session)
{
    return session->recording;
}

uint64_t session_recorded(const struct session *session)
{
    return session->config.recorder ? thrum_recorder_frames(session->config.recorder) : 0;
}

int session_parts(const struct session *session)
{
    return session->n_parts;
}

const char *session_part(const struct session *session, int part)
{
    return session->part[part];
}

bool session_writing(const struct session *session)
{
    return atomic_load(&session->writing);
}

const char *session_unmeasured(const struct session *session)
{
    return session->replay.unmeasured;
}
