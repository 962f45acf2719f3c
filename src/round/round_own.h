/* Inside of a round. */
#ifndef THRUM_ROUND_OWN_H
#define THRUM_ROUND_OWN_H

#include "bundle/halves.h"
#include "round/ahead.h"
#include "round/hold.h"
#include "thrum/round.h"

struct thrum_round {
    struct thrum_round_config config;
    struct thrum_listener *listener;
    struct thrum_assign *assign; /* NULL for one voice */
    uint64_t frames, look_each, look_at;
    char current[THRUM_WIRE_TAG_SIZE];
    int times_round; /* all wires have been touched so often, and are to be once more in order; 0 until asked for */
    bool touching, finished, stale; /* stale: the pick is older than the readings */
    uint64_t touch_first;
    struct thrum_reading so_far;
    struct hold hold; /* of the touch in progress, ... */
    int looks_since_enough;
    uint64_t hold_frame; /* ...judged here */
    struct ahead ahead;
    uint64_t taken_at; /* when the touch in progress was taken; older than it: not yet */
    uint64_t last_end; /* end of the last touch found, where the next one may be of the same wire; else 0 */
    bool last_short;   /* it was not enough before */
    bool typed;        /* the current tag, by the last key, and nothing was taken since */
    int n_wires;
    char wire[THRUM_MAX_WIRES][THRUM_WIRE_TAG_SIZE];
    bool excluded[THRUM_MAX_WIRES];
    bool named[THRUM_MAX_WIRES]; /* is a wire of the round although it may not have been touched */
    int n_readings;
    struct thrum_reading readings[THRUM_MAX_READINGS];
    struct thrum_pick pick[THRUM_MAX_SENDERS];
    struct thrum_pick_config pick_config;
    struct thrum_touch touches[THRUM_MAX_READINGS];
    struct thrum_group_touch groups[THRUM_MAX_READINGS]; /* where halves are searched */
};

/* Nothing is known yet of the touch in progress. */
void round_forget_so_far(struct thrum_round *r);

/* Index of the wire or -1; the same, made new if it has to be, -1 when there is no room. */
int round_find_wire(const struct thrum_round *r, const char *tag);
int round_wire(struct thrum_round *r, const char *tag);

/* Readings of that wire. */
int round_touches(const struct thrum_round *r, const char *tag);

/* Whether the tag is that of a group, and the indices of its first and last wire. Never where halves are not searched. */
bool round_group(const struct thrum_round *r, const char *tag, int *first, int *last);

/* Whether it looks like the tag of a group, but of wires that are not there. Never where halves are not searched. */
bool round_no_group(const struct thrum_round *r, const char *tag);

/* Lists the touches of groups; returns how many. */
int round_list_groups(struct thrum_round *r);

/* Where halves are searched: the current tag becomes that of the touch that tells most. */
void round_follow(struct thrum_round *r);

/* The current tag after a touch of its wire: the next one in order, or the one that the round's advice names. Where nobody
 * watches (touches found when they are over), in order. */
void round_move_on(struct thrum_round *r);

/* As THRUM_ALL_AGAIN. */
void round_all_again(struct thrum_round *r);
bool round_is_all_again(const struct thrum_round *r);

/* As THRUM_NEW. */
void round_to_new_wire(struct thrum_round *r);

/* Whether an excluded wire lies among them. */
bool round_left_out(const struct thrum_round *r, int first, int last);

/* From a group to the wire beside it; false for a current tag that is no group. */
bool round_move_group(struct thrum_round *r, int by);

/* The stretch that counts as the touch in progress, and whether there is one. */
bool round_touch_now(const struct thrum_round *r, struct thrum_span *span);

/* That touch was taken while it lasted. */
bool round_taken(const struct thrum_round *r, const struct thrum_span *span);

/* The touch begins so soon after the last one that it may be of the same wire; false where that is settled, or does not matter. */
bool round_comes_soon(const struct thrum_round *r, const struct thrum_span *span);

/* The reading says nothing of its wire: the input gave no signal at all, or it was another input. */
bool round_no_strength(const struct thrum_reading *reading);

/* Makes the picks from all readings. */
void round_pick_all(struct thrum_round *r);

/* The actions that change what has been touched, as in enum thrum_action. */
enum thrum_status round_undo(struct thrum_round *r);
enum thrum_status round_drop(struct thrum_round *r);
enum thrum_status round_move_tags(struct thrum_round *r, int by);

#endif
