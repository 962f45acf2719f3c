/** @file pick.h
 *  Readings in, the wire out: which wire carries the sender's tone, with an honest chance.
 *
 *  Pure: no I/O, no clock, no locks, no allocation. The model is written up in docs/choosing.md.
 */
#ifndef THRUM_PICK_H
#define THRUM_PICK_H

#include "thrum/status.h"
#include "thrum/units.h"
#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/** The four ways a round can end for one sender. */
enum thrum_outcome {
    THRUM_PICKED,    /**< One wire, with at least the wanted chance. */
    THRUM_TOO_CLOSE, /**< Contenders are left: touch again. */
    THRUM_NO_TONE,   /**< Nothing was heard on any wire. */
    THRUM_EVERYWHERE /**< The tone is on nearly all wires alike. */
};

/** "picked", "too-close", "no-tone", "everywhere". */
const char *thrum_outcome_name(enum thrum_outcome outcome);

/** One touch of one wire, as the comparison sees it, in the order the touches were made. */
struct thrum_touch {
    int wire;        /**< Index, 0 to n_wires - 1. */
    bool heard;      /**< False: only the upper limit counts. */
    double dbfs;     /**< Strength, dBFS; ignored when not heard. */
    double sd_db;    /**< Standard error of dbfs within the touch, >= 0; ignored when not heard. */
    double high_db;  /**< Upper limit (97.5 %) of the strength when not heard. */
    double at_s;     /**< When, seconds since the round began. */
    uint32_t faults; /**< OR of enum thrum_fault. */
};

/** What repeated touches of a round, or of several, say of the placement spread. Two of them are joined by adding each field; {0} is
 *  nothing. */
struct thrum_spread {
    /** Sum of squares, dB^2: as many spreads squared as there are repeats, give or take chance. One round
     *  alone may come out below 0. */
    double squares_db2;
    double repeats; /**< Touches beyond the first of their wire, >= 0. */
};

/** However many repeats earlier rounds had, they count as so many: hands and bundles differ from round to round. */
#define THRUM_SPREAD_REPEATS 12.0

/** What the pick needs to know beforehand. */
struct thrum_pick_config {
    double sure;             /**< Chance from which a wire is picked, 0.5 to 0.9999; 0.99 by default. */
    double placement_db;     /**< Starting value of the placement spread (standard deviation), dB; 1.2. */
    double placement_weight; /**< How many repeats that starting value is worth, > 0; 3. */
    bool driven_for_sure;    /**< The sender is known to drive one of these wires (no "none of them"). */
    bool excluded
        [THRUM_MAX_WIRES]; /**< Wires that cannot be it (already charted, taped off). They count among the
                                         others, unless they are stronger than all that may be it. */
};

/** The everyday settings. */
struct thrum_pick_config thrum_pick_config_default(void);

/**
 * Start from what earlier rounds found of the placement spread, beside what the settings have already. Repeats of the round
 * itself overcome it where it was another hand.
 *
 * @param[in,out] config   Not NULL. Its placement_db and placement_weight follow; unchanged without repeats.
 * @param[in]     earlier  As thrum_pick.spread, added up.
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  A number is NaN or infinite, or repeats are negative; config is unchanged.
 */
enum thrum_status thrum_pick_config_learn(struct thrum_pick_config *config, struct thrum_spread earlier);

/** One wire in the ranking. */
struct thrum_wire_rank {
    int wire;      /**< Index. */
    int touches;   /**< Touches made, heard or not. */
    bool heard;    /**< In at least one of them. */
    double dbfs;   /**< Best estimate of the wire's strength from all its touches; floor when not heard. */
    double low_db; /**< 95 % interval, placement spread included. */
    double high_db;
    double chance; /**< That this is the wire the sender drives, 0 to 1. */
};

/** Things worth saying beside the outcome; OR-ed in thrum_pick.notes. */
enum thrum_pick_note {
    THRUM_NOTE_CHECK_SENDER = 1 << 0, /**< No tone: battery, clip, earth, cut wire, wrong input. */
    THRUM_NOTE_LIFT_COMMON = 1 << 1,  /**< Everywhere: lift the common, earth the sender, tie the others. */
    THRUM_NOTE_TWO_EQUAL =
        1 << 2,                  /**< Two wires alike and far above the rest: spliced, or one zone on two. */
    THRUM_NOTE_SAGGING = 1 << 3, /**< Strength falls steadily over the round: battery, or gain moving. */
    THRUM_NOTE_TOUCH_AGAIN = 1 << 4, /**< Touch next_touch next. */
    THRUM_NOTE_UNTRUSTED = 1 << 5,   /**< Readings with gain-riding, gated or suppressed input were used. */
    THRUM_NOTE_UNTOUCHED = 1 << 6,   /**< Not every wire has been touched. */
    THRUM_NOTE_ONE_WIRE = 1 << 7,    /**< Another sender of the round is strongest on the same wire. */
    THRUM_NOTE_TAKEN = 1 << 8,       /**< A stronger wire is another sender's, so this one is picked. */
    THRUM_NOTE_RETURN = 1 << 9, /**< A second wire far above the rest: the return of the first, or spliced. */
    THRUM_NOTE_LEFT_OUT = 1 << 10, /**< An excluded wire carries more tone than all that may be it. */
    THRUM_NOTE_ALONE = 1 << 11,    /**< There is one wire only: nothing to compare it with. */
    THRUM_NOTE_STUCK = 1 << 12     /**< Too close, and no touch would settle it: change something. */
};
#define THRUM_PICK_NOTES 13

/** One plain sentence for a note, static storage; NULL for a number that is not one note. */
const char *thrum_pick_note_text(enum thrum_pick_note note);

/** The verdict: a value. */
struct thrum_pick {
    enum thrum_outcome outcome;
    int wire;      /**< The strongest candidate's index; -1 for no-tone and everywhere. */
    double chance; /**< That `wire` is right, 0 to 1; for no-tone and everywhere the chance of that. */
    /** From `wire` to the next best wire that may be it; 0 with a single one heard. Negative with several
     *  senders, where the strongest is another's. */
    double lead_db;
    double placement_db; /**< Placement spread as learned from the repeats. */
    struct thrum_spread
        spread; /**< What this round's own touches say of it, for rounds to come; 0 repeats: nothing. */
    double trend_db_per_min; /**< Slow trend removed; 0 if the repeats reveal none. */
    int n_contenders;
    int contenders[THRUM_MAX_WIRES]; /**< Smallest set that holds the answer with 99 %, best first. */
    int next_touch;                  /**< Wire to touch next, -1 if none is worth it. */
    int next_last; /**< Where halves are searched: the last wire of the group to hold together from next_touch on; up to
                        next_touch: that wire alone. */
    uint32_t notes;                               /**< OR of enum thrum_pick_note. */
    int n_ranked;                                 /**< = n_wires. */
    struct thrum_wire_rank rank[THRUM_MAX_WIRES]; /**< Strongest chance first, then strength. */
};

/**
 * Compare all touches of one sender.
 *
 * @param[in]  config     Not NULL.
 * @param[in]  n_wires    Wires of the round, touched or not, 1 to THRUM_MAX_WIRES.
 * @param[in]  touches    In the order made. Shape [n_touches]; NULL allowed when 0.
 * @param[in]  n_touches  0 to THRUM_MAX_READINGS. 0 gives too-close with every wire a contender.
 * @param[out] pick       Filled on THRUM_OK. Not NULL.
 * @retval THRUM_OK
 * @retval THRUM_ERR_ARG  A count, an index or a number (NaN, infinite) is outside its range.
 */
enum thrum_status thrum_pick_compute(const struct thrum_pick_config *config, int n_wires,
                                     const struct thrum_touch *touches, int n_touches,
                                     struct thrum_pick *pick);

#ifdef __cplusplus
}
#endif
#endif
