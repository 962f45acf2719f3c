/** @file round.h
 *  One round: sound and the technician's keys in, a snapshot out.
 *
 *  Pure: no I/O, no clock, no locks, no allocation after creation. The live screen draws the snapshot, JSON
 *  prints it, a file played through the same calls gives the same one. One round belongs to one thread.
 */
#ifndef THRUM_ROUND_H
#define THRUM_ROUND_H

#include "thrum/listen.h"
#include "thrum/pick.h"
#include "thrum/reading.h"
#include "thrum/status.h"
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

struct thrum_round;

struct thrum_round_config {
    struct thrum_listener_config listener; /**< find_touches is set from hands_free. */
    struct thrum_pick_config pick;
    int n_wires; /**< Wires expected; 0 = as many as are touched. */
    /** Groups of wires are touched too: a tag like "3-14" is wires 3 to 14 held together, and the current
     *  tag becomes that of the touch that tells most. The wires are to be named beforehand, with
     *  thrum_round_exclude(); one voice at most. */
    bool halves;
    bool hands_free; /**< Touches found by the listener become readings by themselves. */
    /** And as soon as one is enough it is taken, while the probe still rests: for somebody who watches. It
     *  is measured once more over its whole length when it has ended. Needs listener.bar, and hum that tells
     *  when the probe rests. */
    bool take_when_enough;
};

/** What the technician can do. */
enum thrum_action {
    THRUM_TAKE, /**< Begin a touch of the current wire; a second time ends it and moves to the next tag: in order, but to
                     the wire that the pick's next_touch names where all wires have been touched (n_wires is set) or the
                     one in order has been; to the picked wire where there is nothing more to settle. With hands free:
                     take the touch in progress now, where the hum tells that there is one. */
    THRUM_NEXT,     /**< Next tag. */
    THRUM_PREVIOUS, /**< Previous tag. */
    THRUM_GO_TO,    /**< The tag given. */
    THRUM_NEW, /**< On with wires not touched yet: the first such tag after the last wire that was new. */
    THRUM_ALL_AGAIN, /**< Every known wire once more, in order from the one after the last touch on; excluded ones are
                          left out. While some wait to be touched: on with those. */
    THRUM_REPEAT,  /**< Touch the last wire once more: back to its tag. */
    THRUM_UNDO,    /**< Drop the last reading (or the touch in progress) and go back to its tag. */
    THRUM_DROP,    /**< Drop the last reading of the current wire, however long ago; the tag stays. */
    THRUM_EXCLUDE, /**< The current wire cannot be it (again: it can). */
    THRUM_TAG_LOWER, /**< Mend a wire touched twice: the last touch belongs to the tag before; that is the one in progress, as
                          long as it has not been taken. Else, and right after THRUM_GO_TO, where the current wire has been
                          touched: its last touch, and all touches made after that, move. The current tag becomes the one
                          that follows the last touch. */
    THRUM_TAG_HIGHER, /**< Mend a wire skipped: the same the other way. */
    THRUM_FINISH      /**< End the round: a touch in progress is taken, the pick stands. */
};

/** Whether the touch in progress is worth holding on to; the first that holds for any sender. */
enum thrum_hold {
    THRUM_HOLD_ON,       /**< Hold on: hold_s says for how much longer. */
    THRUM_HOLD_NARROW,   /**< The interval is narrow enough. */
    THRUM_HOLD_HOPELESS, /**< More time would not help: nothing is heard, or it is too weak under the noise. */
    THRUM_HOLD_WEAKER    /**< Far below the strongest wire so far: the interval does not matter. */
};

/** All that is known after a block of sound. A value without pointers; two megabytes of room, so keep it off the stack and
 *  copy it with thrum_snapshot_copy(). What is beyond a count is not set. */
struct thrum_snapshot {
    double rate_hz;
    struct thrum_now now;              /**< What is heard. */
    char current[THRUM_WIRE_TAG_SIZE]; /**< Tag of the wire that the next touch belongs to. */
    bool halves;                       /**< Halves are searched... */
    bool group;                        /**< ...and the current tag is that of a group... */
    bool group_left_out; /**< ...among whose wires are excluded ones, which are not held with it. */
    /** After THRUM_ALL_AGAIN, while a wire waits for its touch: current is in order, whatever the advice. */
    bool all_again;
    bool touching;               /**< A touch is in progress... */
    struct thrum_span touch;     /**< ...this one; end = now.frames. */
    struct thrum_reading so_far; /**< The touch in progress, measured so far; frames = 0 if none. */
    bool enough;                 /**< The touch in progress is worth taking; stays so while it lasts. */
    enum thrum_hold hold;        /**< Why it is, or THRUM_HOLD_ON. */
    bool taken;                  /**< Hands free: the touch in progress has been taken; lift the probe. */
    double hold_s; /**< How much longer to hold, as far as can be told; 0 when enough, or without a touch. */
    /** Hands free: the touch in progress began soon after one that was not enough, and may be one more of the last reading's
     *  wire: a probe that slipped. THRUM_REPEAT makes it that. */
    bool may_be_again;
    int n_wires;
    char wire[THRUM_MAX_WIRES][THRUM_WIRE_TAG_SIZE]; /**< Tags, in the order they appeared. [n_wires] */
    bool excluded[THRUM_MAX_WIRES];
    int n_readings;
    int n_complete; /**< So many of them, from the first, are measured over their whole length. */
    struct thrum_reading readings[THRUM_MAX_READINGS]; /**< In the order made. [n_readings] */
    int n_senders;
    struct thrum_voice sender[THRUM_MAX_SENDERS];
    struct thrum_pick pick[THRUM_MAX_SENDERS]; /**< Per sender; indices point into wire. [n_senders] */
    bool finished;
};

/**
 * Make a round.
 *
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  As for thrum_listener_create(), or n_wires outside 0 to THRUM_MAX_WIRES, or halves with several voices.
 * @retval THRUM_ERR_MEM
 */
enum thrum_status thrum_round_create(const struct thrum_round_config *config, struct thrum_round **round);

/** Free it. NULL is allowed. */
void thrum_round_destroy(struct thrum_round *round);

/** Hear the next frames; as thrum_listener_feed(). Cannot fail. */
void thrum_round_feed(struct thrum_round *round, const float *samples, size_t n_frames);

/** As thrum_listener_lost(). */
void thrum_round_lost(struct thrum_round *round, uint64_t n_frames);

/** As thrum_listener_input_faults(). */
void thrum_round_input_faults(struct thrum_round *round, uint32_t faults);

/** What follows comes from another input, whose strengths do not compare: the readings so far are kept, with
 *  THRUM_FAULT_NOT_COMPARED, and count in no pick any more: their wires are untouched. A touch in progress is dropped. Call it
 *  after thrum_round_lost(). */
void thrum_round_other_input(struct thrum_round *round);

/** What thrum_listener_elsewhere() says of the sound of reading i; -infinity where there is no such reading. */
double thrum_round_elsewhere(struct thrum_round *round, int i, double share);

/**
 * The sender's first tone is at tone_hz, as thrum_listener_aim(). Touches in which it was heard stay as they are; the others are
 * measured anew when they are of the last minute, and kept with THRUM_FAULT_NOT_COMPARED, as by thrum_round_other_input(), when
 * they are older.
 *
 * @retval THRUM_OK, THRUM_ERR_ARG
 */
enum thrum_status thrum_round_aim(struct thrum_round *round, double tone_hz);

/** The sound has ended: a touch in progress is taken and the round is finished. */
void thrum_round_end(struct thrum_round *round);

/**
 * Do what the technician asks.
 *
 * @param[in] tag  For THRUM_GO_TO: the tag, UTF-8, 1 to THRUM_WIRE_TAG_SIZE - 1 bytes; else NULL.
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG        The tag is missing, empty or too long.
 * @retval THRUM_ERR_NOT_FOUND  Nothing to undo, drop, repeat or mend; there is no tag before the first.
 * @retval THRUM_ERR_FULL       No room for another wire or reading.
 */
enum thrum_status thrum_round_act(struct thrum_round *round, enum thrum_action action, const char *tag);

/**
 * Add a reading measured elsewhere, or mark a stretch by hand: measure it and keep it under the tag.
 *
 * @param[in] tag   As for THRUM_GO_TO.
 * @param[in] span  As for thrum_listener_measure().
 * @retval THRUM_OK, or what thrum_listener_measure() and THRUM_GO_TO say.
 */
enum thrum_status thrum_round_mark(struct thrum_round *round, const char *tag, struct thrum_span span);

/** Add a reading from another listener (a file per wire). The pick follows. reading->wire must be set. */
enum thrum_status thrum_round_add(struct thrum_round *round, const struct thrum_reading *reading);

/**
 * Say whether a wire can be it. It is a wire of the round from now on, touched or not.
 *
 * @retval THRUM_OK, THRUM_ERR_ARG for a tag as in thrum_round_act(), THRUM_ERR_FULL: no room for another wire.
 */
enum thrum_status thrum_round_exclude(struct thrum_round *round, const char *tag, bool excluded);

/** What a wire's name must not be read without. */
enum thrum_caveat {
    THRUM_CAVEAT_NONE,
    THRUM_CAVEAT_UNTRUSTED, /**< The input changes strengths by itself: no name can be trusted. */
    THRUM_CAVEAT_LEFT_OUT,  /**< An excluded wire carries more tone. */
    THRUM_CAVEAT_COUNT      /**< Touches up to it may be miscounted: it may be another tag. */
};

/** The caveat of one sender's pick; the gravest where there are more. Until the round is finished, what the input is heard doing
 *  now counts as what is in the readings. @param[in] sender 0 to n_senders - 1. */
enum thrum_caveat thrum_snapshot_caveat(const struct thrum_snapshot *snapshot, int sender);

/** "CHECK THE TAG", and why: "touches may be miscounted"; "" for none. Static storage, never NULL. */
const char *thrum_caveat_name(enum thrum_caveat caveat);
const char *thrum_caveat_reason(enum thrum_caveat caveat);

/** There are touches, and each found digital silence: not no tone, but no input. */
bool thrum_snapshot_silent(const struct thrum_snapshot *snapshot);

/**
 * Wires that have not been touched, the excluded ones left out: while there are some, too close is no news yet. A touch that
 * found digital silence is none.
 *
 * @param[in]  sender   0 to n_senders - 1.
 * @param[out] n_wires  Wires of the round that are not excluded. Not NULL.
 */
int thrum_snapshot_untouched(const struct thrum_snapshot *snapshot, int sender, int *n_wires);

/**
 * Another sender that is strongest on the same wire, excluded wires left out.
 *
 * @param[in]  sender  0 to n_senders - 1.
 * @param[out] wire    That wire; -1 where there is no such sender. Not NULL.
 * @return its number, or -1.
 */
int thrum_snapshot_rival(const struct thrum_snapshot *snapshot, int sender, int *wire);

/** Readings so far: n_readings of a snapshot, without the work of making one. */
int thrum_round_n_readings(const struct thrum_round *round);

/** Tag of the wire being touched, without the work of making a snapshot; NULL without a touch. Valid until the next call. */
const char *thrum_round_touched(const struct thrum_round *round);

/** What thrum_now.bar_dbfs[sender] of a snapshot would be, without the work of making one. */
double thrum_round_bar_dbfs(const struct thrum_round *round, int sender);

/** All that is known now. */
void thrum_round_snapshot(struct thrum_round *round, struct thrum_snapshot *snapshot);

/** Takes all of a snapshot's memory from the system now, where it was only promised, so that a long round does not grow. What
 *  it holds is that of no round: no wire, no reading, no sender. */
void thrum_snapshot_reserve(struct thrum_snapshot *snapshot);

/** *to = *from, but only what is filled. */
void thrum_snapshot_copy(struct thrum_snapshot *to, const struct thrum_snapshot *from);

#ifdef __cplusplus
}
#endif
#endif
