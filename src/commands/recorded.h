/* What a recording of thrum round knows of itself: its senders' voices and its touches. */
#ifndef THRUM_RECORDED_H
#define THRUM_RECORDED_H

#include "commands/intake.h"
#include "thrum/round.h"

/* The voices it was made with. Returns how many; 0 when it does not say, or is no recording of ours.
 * Shape voices[THRUM_MAX_SENDERS]. */
int recorded_voices(const struct thrum_source *source, struct thrum_voice *voices);

/* How many wires its round knew there are, touched or not; 0 when it does not say. */
int recorded_wires(const struct thrum_source *source);

/* How many wires a round by halves had, whose marks may be of groups; 0 for any other recording. */
int recorded_halves(const struct thrum_source *source);

/* Which input of its round it was made with, from 1: another one's strengths do not compare. */
int recorded_input(const struct thrum_source *source);

/* When it was begun, "2026-05-04 06:07:08 UTC", and the name of the input it was made with; "" where it does not say. */
void recorded_start(const struct thrum_source *source, char *text, size_t size);
void recorded_input_name(const struct thrum_source *source, char *text, size_t size);

/* A note of this label, and a frequency in Hz, says that the round measured its sender there from then on. */
#define RECORDED_MOVED "~moved "

/* Notes of these labels, a tag behind them: that wire cannot be it; and it can, although it may be that nobody touched it. */
#define RECORDED_EXCLUDED "~excluded "
#define RECORDED_WIRE     "~wire "

/* Leaves out of the round what was left out when this was recorded, and names the wires it names; a note that names none is passed
 * over. CODE_DONE, or a message where there is no memory. */
int recorded_exclude(const struct thrum_source *source, struct thrum_round *round,
                     struct thrum_message *message);

struct recorded_move {
    uint64_t frame; /* of this file */
    double tone_hz; /* the first tone */
};

/* Where the sender of this voice was followed to, in order of time; frame 0: in an earlier part. Returns how many; *moves malloc'ed,
 * NULL without memory. What is too far from the voice is another sender's and left out. */
size_t recorded_moves(const struct thrum_source *source, const struct thrum_voice *voice,
                      struct recorded_move **moves);

/* Its first frame in the whole recording; 0 when it does not say. */
uint64_t recorded_first_frame(const struct thrum_source *source);

/* Whether it is a round or a part of one and not a single touch: touches are marked in it, or it is a later part. */
bool recorded_round(const struct thrum_source *source);

struct recorded_round_config {
    struct intake *intake; /* borrowed, as all of it */
    const struct thrum_voice *voices;
    int n_voices;
    const struct recorded_move *later; /* as in session_config, [n_later]; NULL ok */
    size_t n_later;
};

/* Measures its touches for these voices and adds them to a round. CODE_DONE, with a message when a touch could not be
 * measured (else ""); or CODE_FILE with one. followed: as session_followed(), 160 bytes. */
int recorded_add(const struct recorded_round_config *recorded, struct thrum_round *round, char *followed,
                 struct thrum_message *message);

#endif
