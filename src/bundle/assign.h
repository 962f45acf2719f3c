/** @file assign.h
 *  One wire to one voice: the chances of several senders, solved together.
 *
 *  Each voice has its own chances over the wires. Together they are the chance of every assignment of voices to
 *  wires; of these, assignments that give one wire to two voices are held to be rare. Summed exactly, over all
 *  assignments (permanents of a matrix of voices and wires), by going over the wires once forward and once backward
 *  with the set of voices placed so far. Pure; no allocation after creation.
 */
#ifndef THRUM_BUNDLE_ASSIGN_H
#define THRUM_BUNDLE_ASSIGN_H

#include "thrum/status.h"
#include "thrum/units.h"

/** Prior chance that two given senders are on one wire: zones spliced together, a clip on the wrong wire. */
#define THRUM_ASSIGN_ONE_WIRE 1e-3

struct thrum_assign;

/** @retval THRUM_OK, THRUM_ERR_ARG (max_wires 1 to THRUM_MAX_WIRES, max_voices 1 to THRUM_MAX_SENDERS), THRUM_ERR_MEM. */
enum thrum_status thrum_assign_create(int max_wires, int max_voices, struct thrum_assign **assign);
void thrum_assign_destroy(struct thrum_assign *assign);

/**
 * One voice's chances, to be filled before thrum_assign_solve(), and changed by it. What they lack to 1 is the chance
 * that the voice is on none of the wires; several voices may be there.
 * @return shape [max_wires], each 0 to 1.
 */
double *thrum_assign_chances(struct thrum_assign *assign, int voice);

/** What came of it. */
struct thrum_assigned {
    double apart;                                          /**< Before the prior: that no two share a wire. */
    double together[THRUM_MAX_SENDERS][THRUM_MAX_SENDERS]; /**< That these two are on one wire; symmetric. */
    int on_wire[THRUM_MAX_SENDERS][THRUM_MAX_SENDERS];     /**< Which wire that most likely is. */
};

/** Solve for the first n_voices and n_wires; the chances are replaced by those of all voices together. */
void thrum_assign_solve(struct thrum_assign *assign, int n_voices, int n_wires,
                        struct thrum_assigned *assigned);

#endif
