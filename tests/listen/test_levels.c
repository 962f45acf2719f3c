/* A row of beeps is split where its level steps, and nowhere else. */
#include "check.h"

#include "listen/levels.h"
#include "signals.h"

enum { EACH = 6 }; /* beeps of a touch of 3 s */

/* A hand of which nothing is known cuts the row. */
static int split(const struct thrum_level *row, int n, struct thrum_level_span *spans)
{
    struct thrum_levels *levels;
    assert_int_equal(thrum_levels_create(&levels), THRUM_OK);
    int count = thrum_levels_split(levels, row, n, NULL, spans);
    thrum_levels_destroy(levels);
    return count;
}

static int row(struct thrum_level *beeps, const double *db, int n, double scatter, struct rng *rng)
{
    for (int i = 0; i < n * EACH; i++)
        beeps[i] = (struct thrum_level){.from_s = 0.5 * i,
                                        .to_s = 0.5 * i + 0.25,
                                        .db = db[i / EACH] + scatter * rng_normal(rng),
                                        .sd_db = 0.2,
                                        .noise_db = -80};
    return n * EACH;
}

static void steps_of_3_db_are_found_to_the_beep(void **state)
{
    (void)state;
    const double db[] = {-45, -48, -45, -55, -52, -40, -43};
    struct rng rng = rng_seeded(1);
    int doubted = 0;
    for (int run = 0; run < 200; run++) {
        struct thrum_level beeps[THRUM_LEVELS_MAX];
        struct thrum_level_span spans[THRUM_LEVELS_MAX];
        int n = row(beeps, db, 7, 0.2, &rng);
        assert_int_equal(split(beeps, n, spans), 7);
        for (int i = 0; i < 7; i++) {
            assert_int_equal(spans[i].first, i * EACH);
            assert_int_equal(spans[i].end, (i + 1) * EACH);
            assert_between(spans[i].doubt, 0.0, 1.0);
            assert_false(spans[i].lift);
            doubted += spans[i].doubt > 0.5;
        }
    }
    assert_between(doubted, 0, 14); /* 1 in 100 of these 1400 touches */
}

/* A hand's wobble of 0.8 dB, beep by beep, is no step: at most 1 in 100 rows is split, 1000 rows looked at. */
static void a_level_that_stays_is_one_stretch(void **state)
{
    (void)state;
    const double db[] = {-45, -45, -45, -45};
    struct rng rng = rng_seeded(2);
    int cut = 0;
    for (int run = 0; run < 1000; run++) {
        struct thrum_level beeps[THRUM_LEVELS_MAX];
        struct thrum_level_span spans[THRUM_LEVELS_MAX];
        int n = row(beeps, db, 4, 0.8, &rng);
        cut += split(beeps, n, spans) > 1;
    }
    assert_between(cut, 0, 10);
}

static void a_short_drop_between_two_touches_is_a_lift(void **state)
{
    (void)state;
    const double db[] = {-45, -80, -47};
    struct thrum_level beeps[THRUM_LEVELS_MAX];
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    struct rng rng = rng_seeded(3);
    int n = row(beeps, db, 3, 0.1, &rng);
    for (int i = 2 * EACH; i < n; i++) /* two beeps in the air */
        beeps[i - 4] = beeps[i];
    n -= 4;
    for (int i = 0; i < n; i++) {
        beeps[i].from_s = 0.5 * i;
        beeps[i].to_s = beeps[i].from_s + 0.25;
    }
    assert_int_equal(split(beeps, n, spans), 3);
    assert_false(spans[0].lift);
    assert_true(spans[1].lift);
    assert_int_equal(spans[1].end - spans[1].first, 2);
    assert_false(spans[2].lift);
}

/* The beep in which the probe came down hides neither the lift before it nor the touch behind it. */
static void a_cut_beep_beside_a_lift_hides_nothing(void **state)
{
    (void)state;
    const double db[] = {-80, -80, -54, -45, -45, -45, -45, -45, -45, -45, -45};
    struct thrum_level beeps[11];
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    for (int i = 0; i < 11; i++)
        beeps[i] = (struct thrum_level){
            .from_s = 0.2 * i, .to_s = 0.2 * i + 0.1, .db = db[i], .sd_db = 0.2, .noise_db = -80};
    assert_int_equal(split(beeps, 11, spans), 2);
    assert_true(spans[0].lift);
    assert_false(spans[1].lift);
}

static void a_weak_wire_touched_as_long_is_no_lift(void **state)
{
    (void)state;
    const double db[] = {-45, -70, -45};
    struct thrum_level beeps[THRUM_LEVELS_MAX];
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    struct rng rng = rng_seeded(4);
    int n = row(beeps, db, 3, 0.1, &rng);
    assert_int_equal(split(beeps, n, spans), 3);
    assert_false(spans[1].lift);
}

static void nothing_one_beep_and_a_full_row_are_handled(void **state)
{
    (void)state;
    static struct thrum_level beeps[THRUM_LEVELS_MAX];
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    assert_int_equal(split(beeps, 0, spans), 0);
    beeps[0] = (struct thrum_level){.from_s = 0, .to_s = 0.25, .db = -45, .sd_db = 1};
    assert_int_equal(split(beeps, 1, spans), 1);
    assert_false(spans[0].lift);
    for (int i = 0; i < THRUM_LEVELS_MAX; i++) /* every beep another level: no touch lasts so short */
        beeps[i] = (struct thrum_level){
            .from_s = i, .to_s = i + 0.5, .db = i % 2 ? -20 : -90, .sd_db = 0.1, .noise_db = -95};
    int n = split(beeps, THRUM_LEVELS_MAX, spans);
    assert_between(n, 1, THRUM_LEVELS_MAX);
    assert_int_equal(spans[0].first, 0);
    assert_int_equal(spans[n - 1].end, THRUM_LEVELS_MAX);
    for (int i = 1; i < n; i++)
        assert_int_equal(spans[i].first, spans[i - 1].end);
}

/* A slow change of 1 dB a second is the hand's, a jump of the same size within a beep's pause is another wire. */
static void a_border_that_may_or_may_not_be_is_in_doubt(void **state)
{
    (void)state;
    struct thrum_level beeps[THRUM_LEVELS_MAX];
    struct thrum_level_span spans[THRUM_LEVELS_MAX];
    double most = 0.0, clear = 0.0;
    for (int step = 1; step <= 25; step++) {
        double doubt = 0.0;
        const double db[] = {-45, -45 - 0.2 * step};
        struct rng rng = rng_seeded(5);
        int n = row(beeps, db, 2, 0.2, &rng), count = split(beeps, n, spans);
        for (int i = 0; i < count; i++)
            doubt = fmax(doubt, spans[i].doubt);
        most = fmax(most, doubt);
        clear = doubt;
    }
    assert_between(most, 0.25, 1.0);  /* somewhere on the way it is even */
    assert_between(clear, 0.0, 0.05); /* 5 dB are beyond doubt */
}

/* Hands of Hollin Fern House: 3 s on a wire, 0.75 s in the air, five beeps a second; a quiet wire sounds like air. */
static int walk_row(struct thrum_level *beeps, const bool *sounds, int wires, double lead_s, struct rng *rng)
{
    int n = 0;
    double end_s = lead_s + 3.75 * wires;
    for (double t = 0.0; t < end_s; t += 0.25) {
        double into = t - lead_s;
        int wire = into < 0.0 ? -1 : (int)(into / 3.75);
        bool tone = wire >= 0 && into - 3.75 * wire < 3.0 && sounds[wire];
        beeps[n++] = (struct thrum_level){.from_s = t,
                                          .to_s = t + 0.1,
                                          .db = tone ? -50.0 - 3.0 * (wire % 3) + 0.2 * rng_normal(rng)
                                                     : -90.0 + rng_normal(rng),
                                          .sd_db = tone ? 0.2 : 3.0,
                                          .noise_db = -90.0};
    }
    return n;
}

static void quiet_as_long_as_a_touch_is_a_wire_without_tone(void **state)
{
    (void)state;
    const bool sounds[] = {true, true, false, true, true, true, false, false, true, true};
    struct rng rng = rng_seeded(6);
    for (int run = 0; run < 20; run++) {
        struct thrum_level beeps[THRUM_LEVELS_MAX];
        struct thrum_level_span spans[THRUM_LEVELS_MAX];
        int n = split(beeps, walk_row(beeps, sounds, 10, 0.5, &rng), spans), wire = 0;
        for (int i = 0; i < n; i++) {
            if (spans[i].lift)
                continue;
            assert_true(wire < 10);
            assert_int_equal(spans[i].toneless, !sounds[wire]);
            if (sounds[wire])
                assert_close(beeps[spans[i].first].from_s, 0.5 + 3.75 * wire, 0.3);
            wire++;
        }
        assert_int_equal(wire, 10);
    }
}

/* Quiet before the first wire that is heard may be wires without tone, or nobody there yet: no tag is beyond doubt. */
static void after_long_quiet_no_number_is_sure(void **state)
{
    (void)state;
    const bool sounds[] = {true, true, true, true, true, true};
    const double lead_s[] = {0.5, 4.0, 8.0, 16.0};
    struct rng rng = rng_seeded(7);
    for (int k = 0; k < 4; k++) {
        struct thrum_level beeps[THRUM_LEVELS_MAX];
        struct thrum_level_span spans[THRUM_LEVELS_MAX];
        int n = split(beeps, walk_row(beeps, sounds, 6, lead_s[k], &rng), spans);
        for (int i = 0; i < n; i++)
            if (!spans[i].lift && !spans[i].toneless)
                assert_between(spans[i].doubt, k ? 0.08 : 0.0, k ? 1.0 : 0.05);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_of_3_db_are_found_to_the_beep),
        cmocka_unit_test(a_level_that_stays_is_one_stretch),
        cmocka_unit_test(a_short_drop_between_two_touches_is_a_lift),
        cmocka_unit_test(a_cut_beep_beside_a_lift_hides_nothing),
        cmocka_unit_test(a_weak_wire_touched_as_long_is_no_lift),
        cmocka_unit_test(a_border_that_may_or_may_not_be_is_in_doubt),
        cmocka_unit_test(quiet_as_long_as_a_touch_is_a_wire_without_tone),
        cmocka_unit_test(after_long_quiet_no_number_is_sure),
        cmocka_unit_test(nothing_one_beep_and_a_full_row_are_handled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
