/** @file pick_own.h
 *  What the parts that make a pick share; nobody else includes it. pick.c decides for one sender, share.c for several.
 */
#ifndef THRUM_BUNDLE_PICK_OWN_H
#define THRUM_BUNDLE_PICK_OWN_H

#include "thrum/pick.h"

/** Put one wire into a ranking of n, by chance, then by strength. */
void thrum_pick_insert(struct thrum_wire_rank *ranks, int n, const struct thrum_wire_rank *rank);

/** The smallest set of wires that holds the answer with 99 %, from the ranking. */
void thrum_pick_contenders(struct thrum_pick *pick);

/** From the first wire of the ranking to the strongest other that may be it, dB; 0 where there is nothing to compare. */
double thrum_pick_lead(const struct thrum_pick_config *config, const struct thrum_pick *pick);

/** The ranking, the contenders and the lead by other chances, made elsewhere. @param[in] chance by wire. */
void thrum_pick_rank_again(const struct thrum_pick_config *config, const double *chance,
                           struct thrum_pick *pick);

#endif
