/* What is learned from a piece of sound. */
#ifndef THRUM_TEST_LEARNED_FROM_H
#define THRUM_TEST_LEARNED_FROM_H

#include <stddef.h>

#include "thrum/learn.h"

/* The learner is thrown away; fails the test where its status and what it says do not agree. Shape x[n * channels]. */
struct thrum_learned learned_from(const float *x, size_t n, double rate_hz, int channels);

/* Silence of that length, malloc'ed [*n]. */
float *learned_room(double rate_hz, double length_s, size_t *n);

#endif
