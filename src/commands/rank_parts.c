/* thrum rank: parts of a recorded round. Each part is heard by itself; what was done in a later one to touches of an earlier one is
 * done there, too. */
#include <stdlib.h>
#include <string.h>

#include "commands/command.h"
#include "commands/rank_job.h"
#include "commands/recorded.h"
#include "commands/session.h"

struct moves {
    struct recorded_move *move;
    size_t n;
};

/* Up to where the later parts were gone through. */
struct gone {
    uint64_t end;   /* of the last one, as frames of the recording... */
    uint64_t after; /* ...and of the round since the end of the part that is heard */
};

static void go_to_end(struct gone *gone, const struct thrum_source *part)
{
    uint64_t frames = thrum_source_info(part)->frames;
    gone->end = recorded_first_frame(part) + frames;
    gone->after += frames;
}

/* To the begin of the next part: a long time away is a short one to the round. */
static void go_over_gap(struct gone *gone, const struct thrum_source *next)
{
    uint64_t begins = recorded_first_frame(next), gap = begins > gone->end ? begins - gone->end : 0;
    uint64_t most = (uint64_t)(SESSION_AWAY_MOST_S * thrum_source_info(next)->rate_hz);
    gone->after += gap < most ? gap : most;
}

/* Where the sender was followed to in one later part. */
static void add_moves(struct moves *moves, const struct thrum_source *later, const struct thrum_voice *voice,
                      uint64_t after)
{
    struct recorded_move *move;
    size_t n = recorded_moves(later, voice, &move);
    struct recorded_move *grown = n > 0 ? realloc(moves->move, (moves->n + n) * sizeof *grown) : NULL;
    if (grown)
        moves->move = grown;
    for (size_t i = 0; grown && i < n; i++)
        if (move[i].frame > 0) /* frame 0: it is noted in a part before */
            grown[moves->n++] = (struct recorded_move){after + move[i].frame, move[i].tone_hz};
    free(move);
}

/* What cannot be read is complained of when its own turn comes. */
static struct moves find_moves(const struct rank_job *job, const struct target *target,
                               const struct thrum_source *part)
{
    struct moves moves = {0};
    struct gone gone = {.after = 0};
    struct thrum_source *later;
    struct thrum_message ignored;
    const struct target *end = job->targets + job->n_targets;
    go_to_end(&gone, part);
    gone.after = 0;
    for (const struct target *t = target + 1; job->n_voices == 1 && t < end && target_comes_after(t, target);
         t++) {
        if (thrum_source_open_file(t->path, &later, &ignored) != THRUM_OK)
            continue;
        go_over_gap(&gone, later);
        add_moves(&moves, later, &job->voices[0], gone.after);
        go_to_end(&gone, later);
        thrum_source_close(later);
    }
    return moves;
}

int rank_part(struct rank_job *job, const struct target *target, struct intake *intake,
              struct thrum_message *message)
{
    int input = recorded_input(intake_source(intake));
    if (job->input > 0 && input != job->input)
        thrum_round_other_input(job->round);
    job->input = input;
    char followed[160] = "";
    struct moves later = find_moves(job, target, intake_source(intake));
    const struct recorded_round_config config = {.intake = intake,
                                                 .voices = job->voices,
                                                 .n_voices = job->n_voices,
                                                 .later = later.move,
                                                 .n_later = later.n};
    int code = recorded_add(&config, job->round, followed, message);
    free(later.move);
    rank_tell_followed(job, followed);
    if (code == CODE_DONE && message->text[0])
        findings_warn(job->findings, "mark", "%s: %s", target->path, message->text);
    return code;
}
