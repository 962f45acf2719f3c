/* What a recording of thrum round knows of itself: its senders' voices and its touches. */
#ifndef THRUM_RECORDED_H
#define THRUM_RECORDED_H

#include "commands/intake.h"
#include "thrum/round.h"

/* The voices it was made with. Returns how many; 0 when it does not say, or is no recording of ours.
 * Shape voices[THRUM_MAX_SENDERS]. */
int recorded_voices(const struct thrum_source *source, struct thrum_voice *voices);

/* How many wires a round by halves had, whose marks may be of groups; 0 for any other recording. */
int recorded_halves(const struct thrum_source *source);

/* Which input of its round it was made with, from 1: another one's strengths do not compare. */
int recorded_input(const struct thrum_source *source);

/* Whether it is a round or a part of one and not a single touch: touches are marked in it, or it is a later part. */
bool recorded_round(const struct thrum_source *source);

/* Measures its touches for these voices and adds them to a round. CODE_DONE, with a message when a touch could not be
 * measured (else ""); or CODE_FILE with one. */
int recorded_add(struct intake *intake, const struct thrum_voice *voices, int n_voices,
                 struct thrum_round *round, struct thrum_message *message);

#endif
