/* thrum rank --walk: one unbroken recording of many touches. */
#include <stdio.h>
#include <stdlib.h>

#include "commands/command.h"
#include "commands/marks_file.h"
#include "commands/progress.h"
#include "commands/rank_job.h"
#include "commands/recorded.h"
#include "commands/say.h"
#include "commands/scout.h"
#include "commands/search.h"
#include "commands/session.h"
#include "commands/stop.h"

/* A mark beyond the end is a mistake in a table made by hand; inside a file it means that the file was cut short. */
static void tell_unmeasured(struct rank_job *job, const char *path, const char *label)
{
    char text[200];
    snprintf(text, sizeof text, "the mark '%.60s' lies outside the sound, or is too short to measure", label);
    if (job->marks)
        rank_complain(job, path, CODE_FILE, text);
    else
        findings_warn(job->findings, "mark", "%s: %s", path, text);
}

static int run_walk(struct rank_job *job, const char *path, struct session *session, struct intake *intake)
{
    struct thrum_message message;
    struct progress progress;
    const struct thrum_source_info *info = intake_info(intake);
    progress_begin(&progress, path);
    while (session_step(session, &message) != SESSION_ENDED && !stop_asked())
        progress_show(&progress, session_frames(session), info->frames, info->rate_hz);
    progress_end(&progress);
    if (stop_asked())
        return CODE_DONE;
    int code = session_finish(session, &message);
    int usage = rank_take_findings(job, session_round(session));
    if (usage != CODE_DONE)
        return usage;
    rank_tell_followed(job, session_followed(session));
    findings_source(job->findings, 0, job->findings->snapshot.n_readings, path);
    if (code == CODE_DONE && session_frames(session) == 0) {
        message_set(&message, "there is no sound in it; record the walk again");
        code = CODE_FILE;
    }
    if (code != CODE_DONE)
        rank_complain(job, path, code, message.text);
    if (session_unmeasured(session)[0])
        tell_unmeasured(job, path, session_unmeasured(session));
    if (job->findings->snapshot.n_readings == 0)
        findings_warn(job->findings, "no-touches",
                      "no touches were found in %s; rest the probe at least a second on each wire and lift "
                      "it between, or "
                      "give the touches with --marks",
                      path);
    return CODE_DONE;
}

/* Marks given, else marks inside the file. */
static int find_marks(struct rank_job *job, struct intake *intake, struct thrum_mark **marks, size_t *n)
{
    struct thrum_message message;
    int code = job->marks ? marks_read(job->marks, intake_info(intake)->rate_hz, marks, n, &message)
                          : marks_inside(intake_source(intake), marks, n, &message);
    if (code != CODE_DONE)
        say("%s", message.text);
    return code;
}

static int rank_walk_intake(struct rank_job *job, const char *path, struct intake *intake)
{
    struct thrum_message message;
    struct thrum_learned best = {.what = THRUM_NOT_ENOUGH};
    struct thrum_mark *marks = NULL;
    size_t n_marks = 0;
    struct session *session = NULL;
    if (intake_info(intake)->note[0])
        findings_warn(job->findings, "file", "%s: %s", path, intake_info(intake)->note);
    int code = find_marks(job, intake, &marks, &n_marks);
    if (code == CODE_DONE && job->n_voices == 0)
        job->n_voices = recorded_voices(intake_source(intake), job->voices);
    if (code == CODE_DONE && job->n_voices == 0) {
        code = search_walk(intake, path, &best, &message);
        if (code != CODE_DONE)
            rank_say_of(path, message.text);
        rank_take_learned(job, &best);
    }
    if (code == CODE_DONE) {
        int halves = job->marks ? 0 : recorded_halves(intake_source(intake));
        struct session_config config = {.intake = intake,
                                        .pick = &job->pick,
                                        .voices = job->voices,
                                        .n_voices = job->n_voices,
                                        .n_wires =
                                            halves > 0 ? halves : recorded_wires(intake_source(intake)),
                                        .halves = halves > 0,
                                        .hands_free = true,
                                        .marks = marks,
                                        .n_marks = n_marks,
                                        .block = INTAKE_FRAMES};
        code = session_create(&config, &session, &message);
        if (code == CODE_DONE && !job->marks)
            code = recorded_exclude(intake_source(intake), session_round(session), &message);
        if (code != CODE_DONE)
            rank_say_of(path, message.text);
    }
    if (code == CODE_DONE)
        code = run_walk(job, path, session, intake);
    session_destroy(session);
    free(marks);
    return code;
}

int rank_walk(struct rank_job *job, const char *path)
{
    struct intake *intake;
    struct thrum_message message;
    int code = rank_open(job, path, &intake, &message);
    if (code != CODE_DONE) {
        rank_say_of(path, message.text);
        return code;
    }
    code = rank_walk_intake(job, path, intake);
    rank_close(job, intake);
    return code;
}
