/* One wire to one voice: against plain enumeration, known permanents, and picks made to agree. */
#include "check.h"

#include <stdlib.h>
#include <string.h>

#include "bundle/assign.h"
#include "bundle/share.h"
#include "no_memory.h"
#include "signals.h"

enum { VOICES = 4, WIRES = 6 };

static double own[VOICES][WIRES];

/* Every assignment of voices to wires or to none, one by one; the sums that the module claims. */
struct sums {
    double apart, all, chance[VOICES][WIRES], together[VOICES][VOICES];
};

static void add_assignment(const int *on, int n_voices, int n_wires, double odds, struct sums *sums)
{
    double weight = 1.0;
    bool apart = true;
    for (int v = 0; v < n_voices; v++) {
        double none = 1.0;
        for (int w = 0; w < n_wires; w++)
            none -= own[v][w];
        weight *= on[v] < n_wires ? own[v][on[v]] : none;
        for (int u = 0; u < v; u++)
            apart &= on[u] != on[v] || on[v] == n_wires;
    }
    sums->apart += apart ? weight : 0.0;
    weight *= apart ? 1.0 : odds;
    sums->all += weight;
    for (int v = 0; v < n_voices; v++) {
        if (on[v] < n_wires)
            sums->chance[v][on[v]] += weight;
        for (int u = 0; u < v && on[v] < n_wires; u++)
            if (on[u] == on[v])
                sums->together[v][u] += weight;
    }
}

static void count_all(int n_voices, int n_wires, struct sums *sums)
{
    int on[VOICES] = {0}, at = 0;
    double odds = THRUM_ASSIGN_ONE_WIRE / (1.0 - THRUM_ASSIGN_ONE_WIRE) * (n_wires - 1);
    memset(sums, 0, sizeof *sums);
    do {
        add_assignment(on, n_voices, n_wires, odds, sums);
        for (at = 0; at < n_voices && on[at] == n_wires; at++)
            on[at] = 0;
        if (at < n_voices)
            on[at]++;
    } while (at < n_voices);
}

static void draw(struct rng *rng, int n_voices, int n_wires, double sharp)
{
    for (int v = 0; v < n_voices; v++) {
        double sum = rng_uniform(rng) < 0.5 ? 0.0 : rng_uniform(rng);
        for (int w = 0; w < n_wires; w++)
            sum += own[v][w] = exp(sharp * rng_normal(rng));
        for (int w = 0; w < n_wires; w++)
            own[v][w] /= sum;
    }
}

static void it_is_the_sum_over_all_assignments(void **state)
{
    (void)state;
    struct rng rng = rng_seeded(7);
    struct thrum_assign *assign;
    struct thrum_assigned got;
    struct sums want;
    assert_int_equal(thrum_assign_create(WIRES, VOICES, &assign), THRUM_OK);
    for (int i = 0; i < 200; i++) {
        int n_voices = 1 + i % VOICES, n_wires = 1 + i / VOICES % WIRES;
        draw(&rng, n_voices, n_wires, i % 3 * 2.0);
        count_all(n_voices, n_wires, &want);
        for (int v = 0; v < n_voices; v++)
            memcpy(thrum_assign_chances(assign, v), own[v], sizeof own[v]);
        thrum_assign_solve(assign, n_voices, n_wires, &got);
        assert_close(got.apart, want.apart, 1e-12);
        for (int v = 0; v < n_voices && want.all > 1e-9; v++) {
            for (int w = 0; w < n_wires; w++)
                assert_close(thrum_assign_chances(assign, v)[w], want.chance[v][w] / want.all, 1e-9);
            for (int u = 0; u < v; u++)
                assert_close(got.together[v][u], want.together[v][u] / want.all, 1e-9);
        }
    }
    thrum_assign_destroy(assign);
}

/* per(all ones, n x n) = n!; per(ones with zeros on the diagonal) = the derangements of n, 14833 for 8 (OEIS A000166,
 * from memory). */
static void permanents_of_known_matrices(void **state)
{
    (void)state;
    struct thrum_assign *assign;
    struct thrum_assigned got;
    assert_int_equal(thrum_assign_create(8, 8, &assign), THRUM_OK);
    for (int v = 0; v < 8; v++)
        for (int w = 0; w < 8; w++)
            thrum_assign_chances(assign, v)[w] = 1.0 / 8.0;
    thrum_assign_solve(assign, 8, 8, &got);
    assert_close(got.apart * pow(8.0, 8.0), 40320.0, 1e-6);
    for (int v = 0; v < 8; v++)
        for (int w = 0; w < 8; w++) {
            assert_close(thrum_assign_chances(assign, v)[w], 1.0 / 8.0, 1e-12);
            thrum_assign_chances(assign, v)[w] = v == w ? 0.0 : 1.0 / 7.0;
        }
    thrum_assign_solve(assign, 8, 8, &got);
    assert_close(got.apart * pow(7.0, 8.0), 14833.0, 1e-6);
    thrum_assign_destroy(assign);
}

/* As many wires as there may be, all voices: the chances still add up. */
static void the_largest_case_adds_up(void **state)
{
    (void)state;
    struct thrum_assign *assign;
    struct thrum_assigned got;
    assert_int_equal(thrum_assign_create(THRUM_MAX_WIRES, THRUM_MAX_SENDERS, &assign), THRUM_OK);
    for (int v = 0; v < THRUM_MAX_SENDERS; v++)
        for (int w = 0; w < THRUM_MAX_WIRES; w++)
            thrum_assign_chances(assign, v)[w] = w == 3 * v ? 0.9 : 0.1 / (THRUM_MAX_WIRES - 1);
    thrum_assign_solve(assign, THRUM_MAX_SENDERS, THRUM_MAX_WIRES, &got);
    for (int v = 0; v < THRUM_MAX_SENDERS; v++) {
        double sum = 0.0;
        for (int w = 0; w < THRUM_MAX_WIRES; w++)
            sum += thrum_assign_chances(assign, v)[w];
        assert_close(sum, 1.0, 1e-9);
    }
    thrum_assign_destroy(assign);
}

static void no_memory_is_no_crash(void **state)
{
    (void)state;
    struct thrum_assign *assign;
    assert_int_equal(thrum_assign_create(0, 2, &assign), THRUM_ERR_ARG);
    assert_int_equal(thrum_assign_create(2, 9, &assign), THRUM_ERR_ARG);
    for (int n = 0; n < 3; n++) {
        no_memory_after(n);
        assert_int_equal(thrum_assign_create(4, 2, &assign), THRUM_ERR_MEM);
        no_memory_after(-1);
        assert_null(assign);
    }
    thrum_assign_destroy(NULL);
}

/* --- Picks --------------------------------------------------------------------------------------------------- */

static struct thrum_pick picks[2];

/* Chances as thrum_pick_compute() would leave them, over four wires. */
static void set_pick(struct thrum_pick *pick, const double *chance, const double *dbfs)
{
    memset(pick, 0, sizeof *pick);
    pick->outcome = THRUM_TOO_CLOSE;
    pick->n_ranked = 4;
    for (int w = 0; w < 4; w++) {
        int i = w;
        for (; i > 0 && pick->rank[i - 1].chance < chance[w]; i--)
            pick->rank[i] = pick->rank[i - 1];
        pick->rank[i] = (struct thrum_wire_rank){
            .wire = w, .touches = 1, .heard = true, .dbfs = dbfs[w], .chance = chance[w]};
    }
    pick->wire = pick->rank[0].wire;
    pick->chance = pick->rank[0].chance;
    pick->next_touch = -1;
    if (pick->chance >= 0.99)
        pick->outcome = THRUM_PICKED;
}

static void share(void)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct thrum_assign *assign;
    assert_int_equal(thrum_assign_create(4, 2, &assign), THRUM_OK);
    thrum_share_picks(assign, &config, picks, 2);
    thrum_assign_destroy(assign);
}

static void a_wire_that_is_taken_leaves_the_other(void **state)
{
    (void)state;
    const double sure[] = {0.99995, 0.00001, 0.00002, 0.00002}, torn[] = {0.6, 0.3999, 0.00005, 0.00005};
    const double db_a[] = {-40.0, -50.0, -52.0, -52.0}, db_b[] = {-41.0, -41.2, -60.0, -60.0};
    set_pick(&picks[0], sure, db_a);
    set_pick(&picks[1], torn, db_b);
    share();
    assert_int_equal(picks[0].outcome, THRUM_PICKED);
    assert_int_equal(picks[0].wire, 0);
    assert_int_equal(picks[1].outcome, THRUM_PICKED);
    assert_int_equal(picks[1].wire, 1);
    assert_close(picks[1].lead_db, -0.2, 1e-9);
    assert_true(picks[1].notes & THRUM_NOTE_TAKEN);
    assert_false(picks[1].notes & THRUM_NOTE_ONE_WIRE);
    assert_int_equal(picks[1].n_contenders, 1);
    assert_int_equal(picks[1].contenders[0], 1);
    /* By Bayes: 0.4 once, against 0.6 times (1 in 1000 over the wires that are left) and what else a may be. */
    assert_between(picks[1].chance, 0.99, 0.9999);
}

static void two_senders_on_one_wire_are_said_to_be(void **state)
{
    (void)state;
    const double a[] = {0.0, 0.0, 0.9999999, 0.0000001}, b[] = {0.0000001, 0.0, 0.9999999, 0.0};
    const double db[] = {-60.0, -60.0, -40.0, -60.0};
    set_pick(&picks[0], a, db);
    set_pick(&picks[1], b, db);
    share();
    for (int i = 0; i < 2; i++) {
        assert_int_equal(picks[i].outcome, THRUM_TOO_CLOSE);
        assert_true(picks[i].notes & THRUM_NOTE_ONE_WIRE);
        assert_int_equal(picks[i].contenders[0], 2);
        assert_true(picks[i].next_touch >= 0);
    }
    assert_non_null(thrum_pick_note_text(THRUM_NOTE_ONE_WIRE));
    assert_non_null(thrum_pick_note_text(THRUM_NOTE_TAKEN));
}

/* Among few wires the odds that two are on one do not outweigh what each sender's touches leave open: nothing is certain, and it
 * is still the other sender that takes the name away. */
static void what_takes_the_name_away_is_said(void **state)
{
    (void)state;
    const double strong[] = {0.002, 0.003, 0.99, 0.005}, weak[] = {0.02, 0.9, 0.06, 0.02};
    const double db[] = {-50.0, -50.0, -40.0, -50.0}, db_weak[] = {-46.0, -40.0, -44.0, -46.0};
    set_pick(&picks[0], strong, db);
    set_pick(&picks[1], strong, db);
    share();
    for (int i = 0; i < 2; i++) {
        assert_int_equal(picks[i].outcome, THRUM_TOO_CLOSE);
        assert_true(picks[i].notes & THRUM_NOTE_ONE_WIRE);
        assert_true(picks[i].next_touch >= 0);
    }
    /* With the other one on a wire of its own it is named, and there is nothing to say. */
    set_pick(&picks[0], strong, db);
    set_pick(&picks[1], weak, db_weak);
    share();
    assert_int_equal(picks[0].outcome, THRUM_PICKED);
    for (int i = 0; i < 2; i++)
        assert_false(picks[i].notes & THRUM_NOTE_ONE_WIRE);
}

static void a_sender_not_heard_changes_nothing(void **state)
{
    (void)state;
    const double a[] = {0.97, 0.01, 0.01, 0.01}, quiet[] = {0.25, 0.25, 0.25, 0.25};
    const double db[] = {-40.0, -43.0, -43.0, -43.0};
    struct thrum_pick before[2];
    set_pick(&picks[0], a, db);
    set_pick(&picks[1], quiet, db);
    for (int i = 0; i < 4; i++)
        picks[1].rank[i].heard = false;
    memcpy(before, picks, sizeof before);
    share();
    assert_memory_equal(before, picks, sizeof before);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_the_sum_over_all_assignments),
        cmocka_unit_test(permanents_of_known_matrices),
        cmocka_unit_test(the_largest_case_adds_up),
        cmocka_unit_test(no_memory_is_no_crash),
        cmocka_unit_test(a_wire_that_is_taken_leaves_the_other),
        cmocka_unit_test(two_senders_on_one_wire_are_said_to_be),
        cmocka_unit_test(what_takes_the_name_away_is_said),
        cmocka_unit_test(a_sender_not_heard_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
