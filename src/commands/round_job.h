/* One run of thrum round, and the ways to show it. */
#ifndef THRUM_ROUND_JOB_H
#define THRUM_ROUND_JOB_H

#include <stdbool.h>

#include "commands/chatter.h"
#include "commands/ears.h"
#include "commands/findings.h"
#include "commands/intake.h"
#include "commands/options.h"
#include "commands/session.h"
#include "commands/worker.h"
#include "screen/screen.h"

struct round_job {
    const char *from, *record, *look, *take_key, *ears_how, *ears_output;
    struct option_texts voice_paths, exclude, history;
    struct thrum_pick_config pick;
    double for_s;
    int n_wires;
    bool watched; /* began with a screen */
    bool keys;    /* lines of keys come from standard input: there is no screen */
    bool wait;    /* for an input that is not there */
    bool plain;   /* no screen, whatever the terminal can do */
    bool json, flac, halves, hands_free, ascii, no_colour;
    struct intake *intake;
    struct ears *ears;             /* NULL: off */
    struct thrum_message ears_off; /* why, where they were asked for */
    int n_voices;
    struct thrum_voice voices[THRUM_MAX_SENDERS];
    struct thrum_screen *screen; /* NULL: lines or events */
    struct chatter chatter;
};

/* The input could not be opened, message says why: tries again with open() every two seconds, and at any key of the screen, until
 * that gives another code than CODE_DEVICE, or somebody leaves (then CODE_DEVICE). PortAudio makes its list anew each time. */
int round_wait(struct round_job *job, int (*open)(struct round_job *, struct thrum_message *),
               struct thrum_message *message);

/* --- Lines and events ---------------------------------------------------------------------------------------- */

/* What has been printed so far, so that only news is. */
struct round_teller {
    const struct round_job *job;
    uint64_t next_frame; /* when the next snapshot is due */
    int readings;
    char told[THRUM_MAX_READINGS][THRUM_WIRE_TAG_SIZE]; /* tags of the readings told... */
    unsigned char told_how[THRUM_MAX_READINGS];         /* ...and what may change of them later */
    char current[THRUM_WIRE_TAG_SIZE];                  /* as last told */
    bool touching;
    bool input_told, input_lost, stuck, ears_gone;
    char input[160];                     /* as last told */
    char moved[160];                     /* as last told */
    struct thrum_offers offers;          /* as last told, since the input was lost */
    double came_hz;                      /* as last told */
    char picked[THRUM_MAX_SENDERS][160]; /* verdicts as last told */
    char line[1200];
    char ranking[THRUM_MAX_SENDERS][2048];
    bool head_told;
    enum thrum_record_state record; /* as last told */
};

/* Prints what is new, as lines or as JSON events. False when nobody reads any more. */
bool round_tell(struct round_teller *teller, const struct worker_view *view);

/* The end as JSON events: the last picks, the input. */
bool round_tell_end(struct round_teller *teller, const struct worker_view *view,
                    const struct findings *findings);

/* As long as the round goes on, tells it and does what the lines of standard input ask for. False when nobody reads any
 * more. */
bool round_lead_by_lines(const struct round_job *job, struct worker *worker, struct round_teller *teller,
                         struct worker_view *view);

/* --- The screen ---------------------------------------------------------------------------------------------- */

/* What the screen is told beside the snapshot. */
void round_facts(const struct round_job *job, const struct worker_view *view,
                 struct thrum_screen_facts *facts);

/* Draws and passes keys on until the technician or the sound ends it. */
void round_watch(const struct round_job *job, struct worker *worker, struct worker_view *view);

/* Does what a key asks for; true when the round is to end. view: what the technician has seen. */
bool round_pass_key(struct worker *worker, const struct worker_view *view,
                    const struct thrum_key_press *press);

/* --- Learning ------------------------------------------------------------------------------------------------ */

/* Fills the job's voices where none were given. CODE_DONE also when none was found: the round then says so. */
int round_learn(struct round_job *job, struct thrum_message *message);

/* --- Ears ---------------------------------------------------------------------------------------------------- */

/* EARS_OFF, "cues", "guide" or "cleaned"; false for anything else. */
bool round_ears_mode(const char *text, enum ears_mode *mode);

/* Opens them when they were asked for, and says where and how late they are. CODE_DONE, also without them where there is no output to
 * be opened: then it says why they are off. CODE_USAGE and a message else. */
int round_open_ears(struct round_job *job, struct thrum_message *message);

/* As worker_look(); the ears follow what is seen. */
void round_look(const struct round_job *job, struct worker *worker, struct worker_view *view, double wait_s);

/* Fills message when an open input could hear them, or when they are off though asked for. */
void round_warn_of_ears(const struct round_job *job, struct thrum_message *message);

/* --- Halves -------------------------------------------------------------------------------------------------- */

/* How many wires there are: those given, or the practice bundle's; 0 when it is not known. */
int round_wires(const struct round_job *job);

/* Whether what was asked for goes with --halves. CODE_DONE, or CODE_USAGE and has said so. The sound is open. */
int round_halves_ok(const struct round_job *job);

/* --- Recording ----------------------------------------------------------------------------------------------- */

/* What a recording says of itself, as JSON; malloc'ed, NULL without memory. input: the one that sounds, the number-th. followed_hz:
 * where the sender's first tone is measured, when not where it was learned; else 0. */
char *round_describe(const void *job, const char *input, int number, double followed_hz);

/* A new recording in the job's folder. CODE_DONE, or CODE_OUTPUT and a message. */
int round_open_recorder(const struct round_job *job, struct thrum_recorder **recorder,
                        struct thrum_message *message);

#endif
