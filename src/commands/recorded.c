#include "commands/recorded.h"

#include <jansson.h>
#include <limits.h>
#include <stdlib.h>

#include "commands/command.h"
#include "commands/marks_file.h"
#include "commands/session.h"
#include "commands/stop.h"
#include "commands/voice_file.h"
#include "sound/message.h"

/* The JSON object in its comment; NULL when it is not ours. */
static json_t *read_about(const struct thrum_source *source)
{
    json_t *about = json_loads(thrum_source_about(source), 0, NULL);
    if (json_is_string(json_object_get(about, "thrum")))
        return about;
    json_decref(about);
    return NULL;
}

int recorded_voices(const struct thrum_source *source, struct thrum_voice *voices)
{
    struct thrum_message message;
    json_t *about = read_about(source), *senders = json_object_get(about, "senders");
    int n = (int)json_array_size(senders);
    if (n > THRUM_MAX_SENDERS)
        n = 0;
    for (int i = 0; i < n; i++)
        if (voice_from_json(json_array_get(senders, (size_t)i), "its voice", &voices[i], &message) !=
            CODE_DONE)
            n = 0;
    json_decref(about);
    return n;
}

int recorded_halves(const struct thrum_source *source)
{
    json_t *about = read_about(source);
    json_int_t n = json_integer_value(json_object_get(about, "halves"));
    json_decref(about);
    return n >= 2 && n <= THRUM_MAX_WIRES ? (int)n : 0;
}

int recorded_input(const struct thrum_source *source)
{
    json_t *about = read_about(source);
    json_int_t number = json_integer_value(json_object_get(about, "input_number"));
    json_decref(about);
    return number >= 2 && number <= INT_MAX ? (int)number : 1;
}

bool recorded_round(const struct thrum_source *source)
{
    struct thrum_message message;
    struct thrum_mark *marks;
    size_t n = 0;
    json_t *about = read_about(source);
    if (about && marks_inside(source, &marks, &n, &message) == CODE_DONE)
        free(marks);
    bool later_part = json_integer_value(json_object_get(about, "part")) > 1;
    json_decref(about);
    return n > 0 || later_part;
}

static int add_readings(struct session *session, struct thrum_round *round, struct thrum_message *message)
{
    struct thrum_snapshot *seen = malloc(sizeof *seen);
    enum thrum_status status = seen ? THRUM_OK : THRUM_ERR_MEM;
    if (seen)
        thrum_round_snapshot(session_round(session), seen);
    for (int i = 0; status == THRUM_OK && i < seen->n_readings; i++)
        status = thrum_round_add(round, &seen->readings[i]);
    free(seen);
    if (status == THRUM_ERR_FULL)
        message_set(message, "no room: a round holds %d wires and %d touches", THRUM_MAX_WIRES,
                    THRUM_MAX_READINGS);
    else if (status != THRUM_OK)
        message_set(message, "it cannot be measured: %s", thrum_status_text(status));
    return status == THRUM_OK ? CODE_DONE : CODE_FILE;
}

int recorded_add(struct intake *intake, const struct thrum_voice *voices, int n_voices,
                 struct thrum_round *round, struct thrum_message *message)
{
    struct thrum_mark *marks;
    struct session *session = NULL;
    struct session_config config = {
        .intake = intake, .voices = voices, .n_voices = n_voices, .block = INTAKE_FRAMES};
    int code = marks_inside(intake_source(intake), &marks, &config.n_marks, message);
    if (code != CODE_DONE)
        return code;
    config.marks = marks;
    config.n_wires = recorded_halves(intake_source(intake));
    config.halves = config.n_wires > 0;
    code = session_create(&config, &session, message);
    free(marks);
    if (code != CODE_DONE)
        return code;
    while (session_step(session, message) != SESSION_ENDED && !stop_asked())
        ;
    code = session_finish(session, message);
    int added = add_readings(session, round, code == CODE_DONE ? message : &(struct thrum_message){""});
    if (code == CODE_DONE && added == CODE_DONE && session_unmeasured(session)[0])
        message_set(message, "the mark '%.60s' lies outside the sound, or is too short to measure",
                    session_unmeasured(session));
    session_destroy(session);
    return code == CODE_DONE ? added : code;
}
