/* A snapshot holds what is known and writes only what is filled. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "wires.h"

#define POISON 0x5A

static struct thrum_snapshot *poisoned(void)
{
    struct thrum_snapshot *s = malloc(sizeof *s);
    assert_non_null(s);
    memset(s, POISON, sizeof *s);
    return s;
}

static bool is_poison(const void *from, size_t bytes)
{
    const unsigned char *byte = from;
    while (bytes > 0 && byte[bytes - 1] == POISON)
        bytes--;
    return bytes == 0;
}

static void a_copy_has_all_that_is_filled_and_touches_nothing_else(void **state)
{
    (void)state;
    int driven;
    struct wires_plan plan = wires_plan_usual(5);
    struct thrum_snapshot *from = wires_round(&plan, &driven), *to = poisoned();
    thrum_snapshot_copy(to, from);
    assert_int_equal(to->n_readings, plan.n_wires);
    assert_memory_equal(to, from, offsetof(struct thrum_snapshot, readings));
    assert_memory_equal(to->readings, from->readings, (size_t)from->n_readings * sizeof *from->readings);
    assert_memory_equal(to->sender, from->sender, (size_t)from->n_senders * sizeof *from->sender);
    assert_int_equal(to->n_senders, 1);
    assert_int_equal(to->finished, from->finished);
    const struct thrum_pick *pick = &to->pick[0];
    assert_int_equal(pick->n_ranked, plan.n_wires);
    assert_memory_equal(pick, &from->pick[0],
                        offsetof(struct thrum_pick, rank) + (size_t)pick->n_ranked * sizeof *pick->rank);
    assert_true(is_poison(&to->readings[to->n_readings], sizeof *to->readings));
    assert_true(is_poison(&to->readings[THRUM_MAX_READINGS - 1], sizeof *to->readings));
    assert_true(is_poison(&pick->rank[pick->n_ranked], sizeof *pick->rank));
    assert_true(is_poison(&to->pick[1], sizeof to->pick[1]));
    free(to);
    free(from);
}

/* Whoever reads a tag by the index of a wire not touched yet finds none. */
static void a_round_without_a_touch_fills_every_count_and_tag(void **state)
{
    (void)state;
    struct thrum_round_config *config = calloc(1, sizeof *config);
    struct thrum_snapshot *s = poisoned();
    struct thrum_round *round;
    config->listener.rate_hz = 48000;
    config->listener.channels = 1;
    config->listener.n_voices = 1;
    config->listener.voice[0] = thrum_voice_beep(1000, 0.25, 0.25);
    config->listener.bar = true;
    config->pick = thrum_pick_config_default();
    config->n_wires = 30;
    assert_int_equal(thrum_round_create(config, &round), THRUM_OK);
    thrum_round_snapshot(round, s);
    assert_int_equal(s->n_readings, 0);
    assert_int_equal(s->n_senders, 1);
    assert_false(s->finished);
    assert_string_equal(s->wire[29], "");
    assert_int_equal(s->pick[0].n_ranked, 30);
    assert_close(thrum_round_bar_dbfs(round, 0), s->now.bar_dbfs[0], 0.0);
    assert_null(thrum_round_touched(round));
    assert_int_equal(thrum_round_act(round, THRUM_TAKE, NULL), THRUM_OK);
    const float silence[480] = {0};
    thrum_round_feed(round, silence, 480);
    assert_string_equal(thrum_round_touched(round), "1");
    thrum_round_destroy(round);
    free(s);
    free(config);
}

static void a_reserved_one_is_that_of_no_round(void **state)
{
    (void)state;
    struct thrum_snapshot *s = poisoned();
    thrum_snapshot_reserve(s);
    assert_int_equal(s->n_wires, 0);
    assert_int_equal(s->n_readings, 0);
    assert_int_equal(s->n_senders, 0);
    assert_string_equal(s->current, "");
    assert_false(s->touching || s->finished);
    free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_copy_has_all_that_is_filled_and_touches_nothing_else),
        cmocka_unit_test(a_reserved_one_is_that_of_no_round),
        cmocka_unit_test(a_round_without_a_touch_fills_every_count_and_tag),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
