#include <stdio.h>
#include <stdlib.h>

#include "commands/command.h"
#include "commands/marks_file.h"
#include "commands/recorded.h"
#include "commands/session.h"
#include "commands/stop.h"
#include "sound/message.h"

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

int recorded_add(const struct recorded_round_config *recorded, struct thrum_round *round, char *followed,
                 struct thrum_message *message)
{
    struct thrum_mark *marks;
    struct session *session = NULL;
    struct session_config config = {.intake = recorded->intake,
                                    .voices = recorded->voices,
                                    .n_voices = recorded->n_voices,
                                    .later = recorded->later,
                                    .n_later = recorded->n_later,
                                    .block = INTAKE_FRAMES};
    const struct thrum_source *source = intake_source(recorded->intake);
    int code = marks_inside(source, &marks, &config.n_marks, message);
    if (code != CODE_DONE)
        return code;
    config.marks = marks;
    config.n_wires = recorded_halves(source);
    config.halves = config.n_wires > 0;
    code = session_create(&config, &session, message);
    free(marks);
    if (code != CODE_DONE)
        return code;
    while (session_step(session, message) != SESSION_ENDED && !stop_asked())
        ;
    code = session_finish(session, message);
    struct thrum_message ignored, *told = code == CODE_DONE ? message : &ignored;
    int added = add_readings(session, round, told), left_out = recorded_exclude(source, round, told);
    added = added == CODE_DONE ? left_out : added;
    if (code == CODE_DONE && added == CODE_DONE && session_unmeasured(session)[0])
        message_set(message, "the mark '%.60s' lies outside the sound, or is too short to measure",
                    session_unmeasured(session));
    snprintf(followed, 160, "%s", session_followed(session));
    session_destroy(session);
    return code == CODE_DONE ? added : code;
}
