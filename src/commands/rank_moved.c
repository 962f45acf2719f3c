/* thrum rank: the second look when nothing was heard where the sender was learned. */
#include "commands/command.h"
#include "commands/moved.h"
#include "commands/rank_job.h"
#include "commands/search.h"
#include "commands/stop.h"

/* The clearest of what may be the learned voice, moved. */
struct found {
    struct thrum_voice learned, moved;
    double quality_db;
    bool is;
};

/* One that cannot be read has been complained of. */
static void look(struct rank_job *job, const char *path, bool walk, struct found *found)
{
    struct thrum_learned heard = {.what = THRUM_NOT_ENOUGH};
    struct thrum_voice moved;
    struct intake *intake;
    struct thrum_message message;
    if (rank_open(job, path, &intake, &message) != CODE_DONE)
        return;
    if (walk)
        search_walk(intake, path, &heard, &message);
    else
        search_touch(intake, &heard, &message);
    rank_close(job, intake);
    if (heard.what != THRUM_VOICE_FOUND || !moved_voice(&found->learned, &heard.voice, &moved) ||
        (found->is && heard.quality_db <= found->quality_db))
        return;
    found->is = true;
    found->moved = moved;
    found->quality_db = heard.quality_db;
}

static bool nothing_heard(const struct rank_job *job)
{
    const struct thrum_snapshot *snapshot = &job->findings->snapshot;
    return job->n_voices == 1 && snapshot->n_readings > 0 && snapshot->pick[0].outcome == THRUM_NO_TONE;
}

void rank_tell_followed(struct rank_job *job, const char *followed)
{
    if (followed[0] && !job->followed)
        findings_warn(job->findings, "moved", "%s; this round was measured there. Learn it again", followed);
    job->followed = job->followed || followed[0];
}

/* Standard input has been read and is gone. */
bool rank_moved(struct rank_job *job, const char *walk)
{
    struct found found = {.learned = job->voices[0]};
    char text[160];
    if (!nothing_heard(job) || job->piped)
        return false;
    if (walk)
        look(job, walk, true, &found);
    for (int i = 0; !walk && i < job->n_targets && !stop_asked(); i++)
        look(job, job->targets[i].path, false, &found);
    if (!found.is)
        return false;
    job->voices[0] = found.moved;
    job->moved = true;
    job->followed = false;
    job->findings->n_warnings = 0; /* they come again */
    moved_text(&found.learned, &found.moved, text, sizeof text);
    findings_warn(job->findings, "moved", "%s; this round was measured there. Learn it again", text);
    return true;
}
