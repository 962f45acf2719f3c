/* One round being run: sound is read, recorded, listened to, and marked. The same for a device, a file and a practice
 * bundle, with a screen or without. One thread at a time. */
#ifndef THRUM_SESSION_H
#define THRUM_SESSION_H

#include <stdbool.h>
#include <stdint.h>

#include "commands/intake.h"
#include "commands/options.h"
#include "sound/recorder.h"
#include "thrum/round.h"

/* A longer time away is no time of the round: it would listen to silence for as long as the laptop slept. */
#define SESSION_AWAY_MOST_S 5.0

struct ears;
struct recorded_move;
struct session;

struct session_config {
    struct intake *intake; /* borrowed; what it has from before the round is recorded first */
    const struct thrum_voice *voices;
    int n_voices;
    int n_wires;                          /* expected; 0: as many as are touched */
    const struct thrum_pick_config *pick; /* copied; NULL: the everyday settings */
    const struct option_texts
        *exclude; /* wires that cannot be it, as exclude_lists_ok() wants them; borrowed, NULL ok */
    bool halves;  /* as in thrum_round_config; n_wires is given, or it is a practice bundle */
    bool hands_free;
    bool take_when_enough; /* as in thrum_round_config */
    bool watch_moved;      /* a sender that has moved is looked for in touches that do not hear it... */
    bool follow_moved;     /* ...and followed without being asked, as long as no touch has heard it */
    bool bar;              /* for a screen */
    const struct thrum_mark
        *marks; /* touches known beforehand, in frames, borrowed; taken in place of found ones */
    size_t n_marks;
    /* Where the sender was followed to, so many frames after the end of this sound, borrowed: touches in it are measured anew as they
     * would have been then. NULL ok. */
    const struct recorded_move *later;
    size_t n_later;
    struct thrum_recorder *recorder; /* NULL: nothing is recorded. Owned by the session from now on. */
    /* What the recording says of itself, malloc'ed, once the nth input has taken over, or the sender was followed to a tone
     * (followed_hz; 0: it was not); NULL ok. */
    char *(*describe)(const void *job, const char *input, int number, double followed_hz);
    const void *job;
    const struct thrum_message *note; /* to be said with the first step, "" for none; NULL ok */
    struct ears *ears;                /* hear what is read; borrowed, NULL ok */
    double for_s;                     /* stop after so much sound; 0: at its end */
    size_t block;                     /* frames of one step, at most */
};

enum session_state {
    SESSION_GOES_ON,
    SESSION_LOST_INPUT, /* the device has gone; going on means waiting for it */
    SESSION_ENDED
};

/* CODE_DONE, or what the program ends with and a message. The recorder is the session's in both cases. */
int session_create(const struct session_config *config, struct session **session,
                   struct thrum_message *message);
void session_destroy(struct session *session);

/* The next block of sound. message: something the user should know, or "". */
enum session_state session_step(struct session *session, struct thrum_message *message);

/* What the technician asks. */
enum thrum_status session_act(struct session *session, enum thrum_action action, const char *tag);

/* Look for an input that has gone, or take another one in its place: as thrum_source_look(). */
enum thrum_status session_look(struct session *session, const char *name);

/* The inputs there are, as thrum_source_offers(), and the one that sounds. */
bool session_offers(struct session *session, struct thrum_offers *offers);
const char *session_input(const struct session *session);

/* The sender was found elsewhere: where, as a sentence without a full stop; "" when it was not, or is measured there. */
const char *session_moved(const struct session *session);

/* Measure it there from now on. THRUM_ERR_NOT_FOUND when it was not found elsewhere. */
enum thrum_status session_follow(struct session *session);

/* Where it was followed to, as session_moved(); "" when it was not. */
const char *session_followed(const struct session *session);

/* The end: a touch in progress is taken, the recording closed. CODE_DONE, or what went wrong on the way: CODE_DEVICE,
 * CODE_FILE, CODE_OUTPUT; message says what. */
int session_finish(struct session *session, struct thrum_message *message);

struct thrum_round *session_round(struct session *session);
uint64_t session_frames(const struct session *session);
double session_rate(const struct session *session); /* frames per second */
uint64_t session_lost(const struct session *session);

/* The rate at which frames come by the clock, when it is not that of the input's info; else 0. */
double session_came_hz(const struct session *session);

/* Recording: its path ("" for none), whether it goes on, frames written. */
const char *session_recording(const struct session *session);
bool session_records(const struct session *session);
uint64_t session_recorded(const struct session *session);

/* Once it is finished: the files of the recording that hold sound, and their paths. */
int session_parts(const struct session *session);
const char *session_part(const struct session *session, int part);

/* The recording is being written just now: when that lasts, the disk is slow. Any thread. */
bool session_writing(const struct session *session);

/* Label of the first mark given that lay outside the sound or could not be measured; "" for none. */
const char *session_unmeasured(const struct session *session);

#endif
