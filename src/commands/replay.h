/* What a technician did in a round that was recorded is done again as its sound goes by: touches, and following a sender that moved. */
#ifndef THRUM_REPLAY_H
#define THRUM_REPLAY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "commands/recorded.h"
#include "sound/source.h"
#include "thrum/round.h"
#include "thrum/voice.h"

struct replay {
    struct thrum_voice voice;
    struct thrum_mark *mark; /* copied, in order of their ends */
    size_t n_marks, next_mark;
    struct recorded_move *move;
    size_t n_moves, next_move;
    char unmeasured
        [64]; /* label of the first mark that lay outside the sound or could not be measured; "" for none */
    char followed[160]; /* where the sender was followed to, as moved_text(); "" when it was not */
};

/* marks: shape [n_marks]; none: nothing is done. voice: the only one of the round, else NULL: then nobody is followed. False without
 * memory. replay_end() in every case. */
bool replay_begin(struct replay *replay, const struct thrum_mark *marks, size_t n_marks,
                  const struct thrum_source *source, const struct thrum_voice *voice);
void replay_end(struct replay *replay);

/* The round has heard so many frames. at_end: there are no more, a mark that reaches beyond is cut. */
void replay_to(struct replay *replay, struct thrum_round *round, uint64_t frames, bool at_end);

/* The sound is over; where the sender was followed to so many frames later is done to its touches. */
void replay_later(struct thrum_round *round, const struct recorded_move *later, size_t n);

/* How many of `block` frames may be heard next: no mark is passed by more than half a second, since older sound is forgotten
 * after a minute, and no move by a frame. */
size_t replay_block(const struct replay *replay, uint64_t frames, size_t block, double rate_hz);

#endif
