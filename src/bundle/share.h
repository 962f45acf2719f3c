/** @file share.h
 *  The picks of several senders made to agree: one wire to one voice. Pure; no allocation.
 */
#ifndef THRUM_BUNDLE_SHARE_H
#define THRUM_BUNDLE_SHARE_H

#include "bundle/assign.h"
#include "thrum/pick.h"

/**
 * Change picks that were computed one by one, all over the same wires: chances, ranking, contenders, outcome, lead,
 * next touch and notes follow from all of them together. Senders of which nothing was heard take no part; with fewer
 * than two others nothing changes.
 *
 * @param[in]     assign  Room for these voices and wires.
 * @param[in,out] picks   Shape [n_picks], from thrum_pick_compute().
 */
void thrum_share_picks(struct thrum_assign *assign, const struct thrum_pick_config *config,
                       struct thrum_pick *picks, int n_picks);

#endif
