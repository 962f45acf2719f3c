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

static void expect_same_now(const struct thrum_now *a, const struct thrum_now *b)
{
    EXPECT_SAME(a, b, frames);
    EXPECT_SAME(a, b, heard);
    EXPECT_SAME(a, b, bar_dbfs);
    EXPECT_SAME(a, b, steady_dbfs);
    EXPECT_SAME(a, b, best_dbfs);
    EXPECT_SAME(a, b, hum_dbfs);
    EXPECT_SAME(a, b, mains_hz);
    EXPECT_SAME(a, b, hum_removed_db);
    EXPECT_SAME(a, b, peak_dbfs);
    EXPECT_SAME(a, b, faults);
    EXPECT_SAME(a, b, bad_samples);
    EXPECT_SAME(a, b, channel);
    EXPECT_SAME(a, b, on_wire);
    EXPECT_SAME(a, b, on_wire_since);
}

static void expect_same_rank(const struct thrum_wire_rank *a, const struct thrum_wire_rank *b)
{
    EXPECT_SAME(a, b, wire);
    EXPECT_SAME(a, b, touches);
    EXPECT_SAME(a, b, heard);
    EXPECT_SAME(a, b, dbfs);
    EXPECT_SAME(a, b, low_db);
    EXPECT_SAME(a, b, high_db);
    EXPECT_SAME(a, b, chance);
}

static void expect_same_pick(const struct thrum_pick *a, const struct thrum_pick *b)
{
    EXPECT_SAME(a, b, outcome);
    EXPECT_SAME(a, b, wire);
    EXPECT_SAME(a, b, chance);
    EXPECT_SAME(a, b, lead_db);
    EXPECT_SAME(a, b, placement_db);
    EXPECT_SAME(a, b, spread.squares_db2);
    EXPECT_SAME(a, b, spread.repeats);
    EXPECT_SAME(a, b, trend_db_per_min);
    EXPECT_SAME(a, b, n_contenders);
    EXPECT_SAME(a, b, contenders);
    EXPECT_SAME(a, b, next_touch);
    EXPECT_SAME(a, b, next_last);
    EXPECT_SAME(a, b, notes);
    EXPECT_SAME(a, b, n_ranked);
    for (int i = 0; i < a->n_ranked; i++)
        expect_same_rank(&a->rank[i], &b->rank[i]);
}

void expect_same_snapshot(const struct thrum_snapshot *a, const struct thrum_snapshot *b)
{
    expect_same_now(&a->now, &b->now);
    expect_same_reading(&a->so_far, &b->so_far);
    assert_string_equal(a->current, b->current);
    EXPECT_SAME(a, b, rate_hz);
    EXPECT_SAME(a, b, halves);
    EXPECT_SAME(a, b, group);
    EXPECT_SAME(a, b, group_left_out);
    EXPECT_SAME(a, b, all_again);
    EXPECT_SAME(a, b, touching);
    EXPECT_SAME(a, b, touch);
    EXPECT_SAME(a, b, enough);
    EXPECT_SAME(a, b, hold);
    EXPECT_SAME(a, b, taken);
    EXPECT_SAME(a, b, hold_s);
    EXPECT_SAME(a, b, may_be_again);
    EXPECT_SAME(a, b, n_wires);
    EXPECT_SAME(a, b, wire);
    EXPECT_SAME(a, b, excluded);
    EXPECT_SAME(a, b, n_readings);
    EXPECT_SAME(a, b, n_complete);
    EXPECT_SAME(a, b, n_senders);
    EXPECT_SAME(a, b, finished);
    for (int i = 0; i < a->n_readings; i++)
        expect_same_reading(&a->readings[i], &b->readings[i]);
    for (int k = 0; k < a->n_senders; k++)
        expect_same_pick(&a->pick[k], &b->pick[k]);
}
