/* Three short practice rounds that teach, and the explanation after any practice round. */
#ifndef THRUM_PRACTICE_LESSON_H
#define THRUM_PRACTICE_LESSON_H

#include <stdbool.h>
#include <stdio.h>

#include "thrum/practice.h"
#include "thrum/round.h"

/* "easy", "neighbours", "harmonic": sets the bundle; false for any other name. */
bool lesson_config(const char *name, struct thrum_practice_config *config);

/* The rounds there are, and how to begin one. */
void lesson_offer(FILE *stream);

/* What really was, what the round made of it, and why. from: as given to the round, "practice:easy". */
void lesson_explain(const struct thrum_practice *practice, const char *from, int n_wires,
                    const struct thrum_snapshot *snapshot, FILE *stream);

#endif
