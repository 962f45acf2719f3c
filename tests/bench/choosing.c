#include "choosing.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "choosing_bound.h"
#include "halving.h"
#include "rounds.h"
#include "rows.h"

/* Counts of one figure. */
struct count {
    long n, hit;
};

/* The figure's short name ends at the first space; a limit in brackets is none. */
static double share_of(struct count c)
{
    return c.n > 0 ? (double)c.hit / (double)c.n : 0.0;
}

static struct bench_sample sample_of(struct count c)
{
    return (struct bench_sample){c.n, bench_share_error(share_of(c), c.n)};
}

static void bench_touches(struct rng *rng, int rounds)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count right = {0}, stopped = {0};
    double sum = 0.0, squares = 0.0;
    for (int i = 0; i < rounds; i++) {
        struct world world = world_equal(rng, 30, 3.0, 1.0);
        struct ending end = play_on(rng, &world, &config, ROUND_TOUCHES);
        sum += end.touches;
        squares += (double)end.touches * end.touches;
        stopped.n++;
        stopped.hit += end.outcome == THRUM_PICKED;
        right.n += end.outcome == THRUM_PICKED;
        right.hit += end.outcome == THRUM_PICKED && is_right(&world, &end);
    }
    double mean = sum / rounds;
    bench_at_most("S1", "touches to the end, 30 wires, lead 3 dB, spread 1 dB", mean, 36.0,
                  (struct bench_sample){rounds, sqrt((squares / rounds - mean * mean) / rounds)});
    bench_at_least("S1", "picks that are right", share_of(right), 0.99, sample_of(right));
    bench_note("S1", "rounds that end in a pick", share_of(stopped), sample_of(stopped));
}

/* Groups of wires held together count as one touch each; the same rounds touched one by one beside it. */
static void bench_halves(struct rng *rng, int rounds, double lead_db)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct group_hand hand = {0.02};
    struct count right = {0};
    double sum = 0.0, squares = 0.0, alone = 0.0;
    char what[80];
    for (int i = 0; i < rounds; i++) {
        struct world world = world_equal(rng, 30, lead_db, 1.0);
        struct ending end = play_halves(rng, &world, &hand, &config, ROUND_TOUCHES);
        sum += end.touches;
        squares += (double)end.touches * end.touches;
        right.n += end.outcome == THRUM_PICKED;
        right.hit += end.outcome == THRUM_PICKED && is_right(&world, &end);
        alone += play_on(rng, &world, &config, ROUND_TOUCHES).touches;
    }
    double mean = sum / rounds;
    struct bench_sample sample = {rounds, sqrt((squares / rounds - mean * mean) / rounds)};
    snprintf(what, sizeof what, "touches with halves, 30 wires, lead %.0f dB", lead_db);
    bench_note("S1", what, mean, sample);
    bench_note("S1", "... the same rounds wire by wire", alone / rounds, (struct bench_sample){rounds, 0.0});
    bench_at_least("S1", "... picks with halves that are right", share_of(right), 0.99, sample_of(right));
}

enum { BINS = 6 };
static const double BIN_FROM[BINS + 1] = {0.0, 0.5, 0.9, 0.99, 0.995, 0.999, 1.0 + 1e-9};

static void bench_honesty(struct rng *rng, int rounds)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count bin[BINS] = {0};
    double announced[BINS] = {0};
    for (int i = 0; i < rounds; i++) {
        struct world world = world_of_kind(rng, (enum world_kind)(i % WORLD_KINDS));
        bool once = rng_uniform(rng) < 0.5;
        struct ending end = once ? play_once(rng, &world, &config)
                                 : play_on(rng, &world, &config, (int)(2.5 * world.n_wires));
        if (end.outcome != THRUM_PICKED && end.outcome != THRUM_TOO_CLOSE)
            continue;
        int b = 0;
        while (b < BINS - 1 && end.chance >= BIN_FROM[b + 1])
            b++;
        bin[b].n++;
        bin[b].hit += is_right(&world, &end);
        announced[b] += end.chance;
    }
    for (int b = 0; b < BINS; b++) {
        if (bin[b].n == 0)
            continue;
        char what[80];
        double mean = announced[b] / (double)bin[b].n;
        snprintf(what, sizeof what, "right when announced with %.3f to %.3f", BIN_FROM[b],
                 fmin(BIN_FROM[b + 1], 1.0));
        struct bench_sample sample = {bin[b].n, bench_share_error(mean, bin[b].n)};
        bench_at_least("S2", what, share_of(bin[b]), mean, sample);
    }
}

/* The limit holds from a lead of 6 dB on, all leads alike; at single leads the share is a note beside what can be had. */
static void bench_at_once(struct rng *rng, int rounds, double lead_db, double most_lead_db, double spread_db)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count picked = {0}, wrong = {0};
    char text[80];
    for (int i = 0; i < rounds; i++) {
        struct world world = world_equal(rng, 30, rng_between(rng, lead_db, most_lead_db), spread_db);
        struct ending end = play_once(rng, &world, &config);
        picked.n = wrong.n = i + 1;
        picked.hit += end.outcome == THRUM_PICKED;
        wrong.hit += end.outcome == THRUM_PICKED && !is_right(&world, &end);
    }
    snprintf(text, sizeof text, "picked at once, lead %.0f to %.0f dB, spread %.2g dB", lead_db, most_lead_db,
             spread_db);
    bench_at_least("S3", text, share_of(picked), 0.98, sample_of(picked));
    bench_at_most("S3", "... and wrong", share_of(wrong), 0.001, sample_of(wrong));
}

static void bench_at_once_bound(struct rng *rng, int rounds)
{
    for (double lead = 6.0; lead <= 8.0; lead += 1.0) {
        char text[80];
        double most = bench_most_at_once(rng, rounds, lead);
        snprintf(text, sizeof text, "... S4 kept, the most there can be: lead %.0f, spread 1 dB", lead);
        bench_note("S3", text, most, (struct bench_sample){rounds, bench_share_error(most, rounds)});
    }
}

/* ln of how well the readings fit wire i being lead_db above the others, all of those alike; flat in their level. */
static double ln_fit(int n, const double *db, int i, double lead_db, double spread_db)
{
    double mean = 0.0, squares = 0.0;
    for (int j = 0; j < n; j++)
        mean += (db[j] - (j == i ? lead_db : 0.0)) / n;
    for (int j = 0; j < n; j++) {
        double off = db[j] - (j == i ? lead_db : 0.0) - mean;
        squares += off * off;
    }
    return -(n - 1) * log(spread_db) - squares / (2.0 * spread_db * spread_db);
}

/* The best chance that can be given to a wire by one who knows that all others are exactly alike and that the tone is on one
 * of the wires, but neither the lead nor the spread: flat in ln spread, the lead anything from 0.25 to 16 dB. */
static double ideal_chance(int n, const double *db)
{
    double most = -(double)INFINITY, best = 0.0, all = 0.0, ln[ROUND_WIRES][41][64];
    for (int i = 0; i < n; i++)
        for (int s = 0; s < 41; s++)
            for (int l = 0; l < 64; l++) {
                ln[i][s][l] = ln_fit(n, db, i, 0.25 * (l + 1), exp(-1.2 + 0.06 * s));
                most = fmax(most, ln[i][s][l]);
            }
    for (int i = 0; i < n; i++) {
        double one = 0.0;
        for (int s = 0; s < 41; s++)
            for (int l = 0; l < 64; l++)
                one += exp(ln[i][s][l] - most);
        best = fmax(best, one);
        all += one;
    }
    return best / all;
}

/* How many of S3's rounds can be picked at once at all. */
static void bench_ideal(struct rng *rng, int rounds)
{
    struct count picked = {0};
    for (int r = 0; r < rounds; r++) {
        struct world world = world_equal(rng, 30, 6.0, 1.0);
        double db[ROUND_WIRES];
        for (int i = 0; i < world.n_wires; i++)
            db[i] = world_touch(rng, &world, i, i).dbfs;
        picked.n++;
        picked.hit += ideal_chance(world.n_wires, db) >= thrum_pick_config_default().sure;
    }
    bench_note("S3", "... lead 6 dB: the most that can be, the rest known alike", share_of(picked),
               sample_of(picked));
}

static void bench_alike(struct rng *rng, int rounds, int n_wires, double below_db)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count picked = {0};
    char what[80];
    for (int i = 0; i < rounds; i++) {
        struct world world = world_equal(rng, n_wires, below_db, 1.0);
        world.db[(world.driven + 1) % n_wires] = world.db[world.driven] - rng_between(rng, 0.0, 0.2);
        struct ending end = play_once(rng, &world, &config);
        picked.n++;
        picked.hit += end.outcome == THRUM_PICKED;
    }
    if (n_wires > 2)
        snprintf(what, sizeof what, "picked, two within 0.2 dB, the rest %.0f dB down", below_db);
    else
        snprintf(what, sizeof what, "picked, two wires within 0.2 dB and no others");
    bench_at_most("S4", what, share_of(picked), 0.01, sample_of(picked));
}

/* Every touch has its one chance in a thousand to count as heard. */
static void bench_silence(struct rng *rng, int rounds)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count silent = {0};
    for (int i = 0; i < rounds; i++) {
        struct thrum_touch touches[30];
        struct thrum_pick pick;
        for (int k = 0; k < 30; k++) {
            double limit = -75.0 + 2.0 * rng_normal(rng);
            touches[k] = (struct thrum_touch){.wire = k, .high_db = limit, .at_s = 5.0 * k};
            touches[k].heard = rng_uniform(rng) < 1e-3;
            touches[k].dbfs = limit;
            touches[k].sd_db = rng_between(rng, 1.6, 3.0);
        }
        thrum_pick_compute(&config, 30, touches, 30, &pick);
        silent.n++;
        silent.hit += pick.outcome == THRUM_NO_TONE;
    }
    bench_at_least("S5", "no tone: hum on 30 wires, 1 touch in 1000 falsely heard", share_of(silent), 1.0,
                   (struct bench_sample){silent.n, 0.0});
}

static void bench_everywhere(struct rng *rng, int rounds, double placement_db, double lead_db)
{
    struct thrum_pick_config config = thrum_pick_config_default();
    struct count named = {0};
    char what[80];
    for (int i = 0; i < rounds; i++) {
        struct world world = world_equal(rng, 12, lead_db, placement_db);
        struct ending end = play_once(rng, &world, &config);
        named.n++;
        named.hit += end.outcome == THRUM_EVERYWHERE;
    }
    snprintf(what, sizeof what, "called everywhere: 12 wires, lead %.0f dB, spread %.1f dB", lead_db,
             placement_db);
    bench_note("S", what, share_of(named), sample_of(named));
}

/* Every part has rounds of its own, so that each can be worked out alone. */
static struct rng rng_of(uint64_t seed, uint64_t part)
{
    return rng_seeded(seed + 76 * part);
}

void bench_to_the_end(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 0);
    bench_touches(&rng, full ? 2000 : 120);
}

void bench_with_halves(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 1);
    bench_halves(&rng, full ? 150 : 10, 3.0);
    bench_halves(&rng, full ? 150 : 10, 30.0);
}

void bench_honest(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 2);
    bench_honesty(&rng, full ? 10000 : 500);
}

void bench_picked_at_once(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 3);
    int rounds = full ? 3000 : 200;
    bench_at_once(&rng, full ? 5000 : 500, 6.0, 16.0, 1.0);
    bench_at_once(&rng, rounds, 6.0, 6.0, 1.0);
    bench_at_once(&rng, rounds, 7.0, 7.0, 1.0);
    bench_at_once(&rng, rounds, 8.0, 8.0, 1.0);
    bench_at_once(&rng, rounds, 6.0, 6.0, 0.5);
    bench_at_once(&rng, rounds, 10.0, 10.0, 2.0);
}

void bench_most_that_can_be(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 4);
    bench_ideal(&rng, full ? 1000 : 100);
    bench_at_once_bound(&rng, full ? 20000 : 4000);
}

void bench_two_alike(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 5);
    int rounds = full ? 3000 : 300;
    bench_alike(&rng, rounds, 30, 10.0);
    bench_alike(&rng, rounds, 30, 5.0);
    bench_alike(&rng, rounds, 30, 3.0);
    bench_alike(&rng, rounds, 2, 0.0);
}

void bench_no_tone(bool full, uint64_t seed)
{
    struct rng rng = rng_of(seed, 6);
    int rounds = full ? 3000 : 200;
    bench_silence(&rng, full ? 10000 : 1000);
    bench_everywhere(&rng, rounds, 1.0, 0.0);
    bench_everywhere(&rng, rounds, 0.3, 0.0);
    bench_everywhere(&rng, rounds, 1.0, 3.0);
}
