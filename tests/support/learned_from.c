#include "learned_from.h"

#include <stdlib.h>

#include "check.h"

struct thrum_learned learned_from(const float *x, size_t n, double rate_hz, int channels)
{
    struct thrum_learner *learner = NULL;
    struct thrum_learned learned;
    assert_int_equal(thrum_learner_create(rate_hz, channels, &learner), THRUM_OK);
    thrum_learner_feed(learner, x, n);
    enum thrum_status status = thrum_learner_result(learner, &learned);
    assert_int_equal(status, learned.what == THRUM_VOICE_FOUND ? THRUM_OK : THRUM_ERR_NOT_FOUND);
    thrum_learner_destroy(learner);
    return learned;
}

float *learned_room(double rate_hz, double length_s, size_t *n)
{
    *n = (size_t)(rate_hz * length_s);
    float *x = calloc(*n, sizeof *x);
    assert_non_null(x);
    return x;
}
