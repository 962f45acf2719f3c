#include "same.h"

#include "check.h"

#define EXPECT_SAME(a, b, field) assert_memory_equal(&(a)->field, &(b)->field, sizeof(a)->field)

static void expect_same_strength(const struct thrum_strength *a, const struct thrum_strength *b)
{
    EXPECT_SAME(a, b, heard);
    EXPECT_SAME(a, b, dbfs);
    EXPECT_SAME(a, b, low_db);
    EXPECT_SAME(a, b, high_db);
    EXPECT_SAME(a, b, sd_db);
    EXPECT_SAME(a, b, tone_hz);
    EXPECT_SAME(a, b, phase_s);
    EXPECT_SAME(a, b, score);
    EXPECT_SAME(a, b, beeps);
    EXPECT_SAME(a, b, beeps_heard);
}

void expect_same_reading(const struct thrum_reading *a, const struct thrum_reading *b)
{
    assert_string_equal(a->wire, b->wire);
    EXPECT_SAME(a, b, touch);
    EXPECT_SAME(a, b, first_frame);
    EXPECT_SAME(a, b, frames);
    EXPECT_SAME(a, b, rate_hz);
    EXPECT_SAME(a, b, channel);
    EXPECT_SAME(a, b, hum_dbfs);
    EXPECT_SAME(a, b, mains_hz);
    EXPECT_SAME(a, b, noise_dbfs);
    EXPECT_SAME(a, b, breath_db);
    EXPECT_SAME(a, b, breath_sd_db);
    EXPECT_SAME(a, b, faults);
    assert_int_equal(a->n_senders, b->n_senders);
    for (int k = 0; k < a->n_senders; k++)
        expect_same_strength(&a->strength[k], &b->strength[k]);
}
