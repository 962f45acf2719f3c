/* How everything breathes with the beeps, over all stretches of a check. */
#ifndef THRUM_CHECK_BREATH_H
#define THRUM_CHECK_BREATH_H

#include "commands/check_facts.h"

/* Fills told, breath_db, breath_sd_db, breath and would_show of the facts, and adds gain-riding to their faults where all
 * stretches together show it. Readings of one place or of the touches of a walk, [n]. */
void check_breath(const struct thrum_reading *readings, int n, struct check_facts *facts);

#endif
