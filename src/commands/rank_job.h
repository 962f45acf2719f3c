/* A round from recordings: what the parts of thrum rank share, and what thrum review has of it. */
#ifndef THRUM_RANK_JOB_H
#define THRUM_RANK_JOB_H

#include <stdbool.h>

#include "commands/findings.h"
#include "commands/intake.h"
#include "commands/options.h"
#include "commands/targets.h"
#include "sound/message.h"
#include "thrum/learn.h"
#include "thrum/round.h"

struct rank_job {
    struct option_texts voice_paths, exclude, history;
    struct thrum_pick_config pick; /* with what earlier rounds taught */
    const char *walk;              /* what is ranked as a walk; NULL: the targets */
    const char *marks;
    int wires;  /* how many a recorded round knew of; 0: none */
    int halves; /* wires of a round by halves that was recorded in parts; 0: none */
    int n_voices;
    struct thrum_voice voices[THRUM_MAX_SENDERS];
    struct target *targets; /* [n_targets] */
    int n_targets;
    struct intake *piped; /* standard input, kept open between learning and measuring; or NULL */
    struct thrum_round *round;
    struct findings *findings;
    int input; /* of its round, which the last part was made with; 0: none yet */
    struct thrum_reading
        last_heard; /* files stand in the order of the touches, most often: a sender that sags is followed */
    bool moved;     /* the sound is heard for the second time, at tones that moved */
    bool followed;  /* it has been told that the sender was followed when this was recorded */
    int worst;
};

/* The options that say what is ranked, for a command's table. */
#define RANK_OPTIONS(job)                                                                                    \
    {.name = "voice", .kind = OPTION_TEXTS, .into = &(job).voice_paths},                                     \
        {.name = "walk", .kind = OPTION_TEXT, .into = &(job).walk},                                          \
        {.name = "exclude", .kind = OPTION_TEXTS, .into = &(job).exclude},                                   \
        {.name = "history", .kind = OPTION_TEXTS, .into = &(job).history},                                   \
    {                                                                                                        \
        .name = "marks", .kind = OPTION_TEXT, .into = &(job).marks                                           \
    }

/* Whether they go together. CODE_DONE, or CODE_USAGE and has said why not. */
int rank_usage(const struct rank_job *job, int argc, char **argv);

/* What is done with what the round came to; the program ends with its status or with a worse one. */
typedef int rank_answer(const struct findings *findings, const void *context);

/* Ranks what the job and the arguments name, and answers unless there is nothing to answer with. The program's exit status. */
int rank_run(struct rank_job *job, int argc, char **argv, rank_answer *answer, const void *context);

/* Says what went wrong with a file; complain: in the answer too, and the exit status follows. */
void rank_say_of(const char *path, const char *text);
void rank_complain(struct rank_job *job, const char *path, int code, const char *text);

/* Opens a file, or standard input once for all. CODE_DONE, or what went wrong and a message. */
int rank_open(struct rank_job *job, const char *path, struct intake **intake, struct thrum_message *message);
void rank_close(struct rank_job *job, struct intake *intake);

/* What was learned becomes the job's voice, or the answer says why there is none. */
void rank_take_learned(struct rank_job *job, const struct thrum_learned *best);

/* The round has been heard: excludes what is to be excluded, gathers the findings. CODE_DONE, or CODE_USAGE and has said so. */
int rank_take_findings(struct rank_job *job, struct thrum_round *round);

/* A walk: touches found, or as its marks say. CODE_DONE, or what the program ends with and has said so. */
int rank_walk(struct rank_job *job, const char *path);

/* A part of a recorded round: its touches have their own tags. Parts come in their order. CODE_DONE, or what went wrong and a
 * message. */
int rank_part(struct rank_job *job, const struct target *target, struct intake *intake,
              struct thrum_message *message);

/* The recordings say that their sender was followed there, as session_followed(): so does the answer, once. */
void rank_tell_followed(struct rank_job *job, const char *followed);

/* Nothing was heard, but the learned cadence is there at other tones: then these are the job's voice, the answer says so,
 * and the sound is to be heard once more. walk: the recording of a walk, or NULL. */
bool rank_moved(struct rank_job *job, const char *walk);

#endif
