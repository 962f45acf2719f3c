#include "senders.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "rows.h"
#include "signals.h"
#include "thrum/round.h"
#include "thrum/units.h"

enum { RATE = 8000, WIRES = 12, VOICES = 8 };
enum { TOUCH = 3 * RATE, LIFT = 4 * RATE / 5, WALK = LIFT + WIRES * (TOUCH + LIFT) };

static const double KNOWN_DB = 0.1;

/* How the senders sound. */
struct kind {
    const char *name;
    double apart_hz;
    bool same_cadence;
    double hum_over_tone_db; /* below -100: none */
};

struct walk {
    struct thrum_voice voice[VOICES];
    int driven[VOICES];
    float *beneath;      /* [WALK] hum and noise */
    float *part[VOICES]; /* [WALK] */
    float *all;          /* [WALK] */
};

struct tally {
    long walks, all_right, picks, right, wrong, twice, touches, missed;
    double squares, most;
    long compared;
    double in_errors;  /* squares of the differences over the standard error of the reading alone */
    double most_known; /* the largest of those readings whose standard error is at most KNOWN_DB */
    long known;
};

static void draw_driven(struct rng *rng, int *driven)
{
    int wires[WIRES];
    for (int i = 0; i < WIRES; i++)
        wires[i] = i;
    for (int i = 0; i < VOICES; i++) {
        int j = i + (int)(rng_uniform(rng) * (WIRES - i)), kept = wires[i];
        driven[i] = wires[i] = wires[j];
        wires[j] = kept;
    }
}

/* Hum on the wires, far less of it in the air. */
static void make_beneath(struct rng *rng, const struct kind *kind, float *x)
{
    if (kind->hum_over_tone_db > -100.0) {
        struct hum hum = {.hz = 50.0 + rng_between(rng, -0.1, 0.1),
                          .wander_hz = 0.02,
                          .harmonics = 60,
                          .dbfs = -42.0 + kind->hum_over_tone_db,
                          .wobble_db = 1.0};
        add_hum(rng, x, WALK, RATE, &hum);
        for (int i = 0; i < WALK; i++)
            x[i] *= i % (TOUCH + LIFT) < LIFT ? 0.1f : 1.0f;
    }
    add_noise(rng, x, WALK, thrum_amplitude_from_db(-62.0) * sqrt(RATE / 48000.0));
}

/* One sender along the whole walk: 10 to 30 dB weaker on the wires it does not drive; its cadence runs on. */
static void make_part(struct rng *rng, const struct thrum_voice *voice, int driven, float *x)
{
    double own_db = -42.0 - rng_between(rng, 0.0, 10.0), start_s = rng_uniform(rng);
    double cycle_s = thrum_voice_cycle_s(voice);
    for (int w = 0; w < WIRES; w++) {
        size_t at = LIFT + (size_t)w * (TOUCH + LIFT);
        double down_db = w == driven ? 0.0 : rng_between(rng, 10.0, 30.0);
        struct sender sender = {.voice = *voice,
                                .dbfs = own_db - down_db + rng_normal(rng),
                                .start_s = fmod(start_s + (double)at / RATE, cycle_s),
                                .wobble_db = 0.7};
        add_sender(rng, x + at, TOUCH, RATE, &sender);
    }
}

static void make_walk(struct rng *rng, const struct kind *kind, struct walk *walk)
{
    memset(walk->beneath, 0, WALK * sizeof *walk->beneath);
    make_beneath(rng, kind, walk->beneath);
    memcpy(walk->all, walk->beneath, WALK * sizeof *walk->all);
    draw_driven(rng, walk->driven);
    for (int v = 0; v < VOICES; v++) {
        double s = kind->same_cadence ? 0.25 : 0.16 + 0.02 * v;
        walk->voice[v] = thrum_voice_beep(913.0 + kind->apart_hz * v, s, s);
        walk->voice[v].name[0] = (char)('a' + v);
        memset(walk->part[v], 0, WALK * sizeof *walk->part[v]);
        make_part(rng, &walk->voice[v], walk->driven[v], walk->part[v]);
        for (int i = 0; i < WALK; i++)
            walk->all[i] += walk->part[v][i];
    }
}

/* The same stretches with one sender alone. */
static void compare_alone(const struct walk *walk, int v, const struct thrum_snapshot *snapshot,
                          struct tally *tally)
{
    struct thrum_listener_config config = {.rate_hz = RATE, .channels = 1, .n_voices = 1};
    struct thrum_listener *listener;
    config.voice[0] = walk->voice[v];
    if (thrum_listener_create(&config, &listener) != THRUM_OK)
        return;
    static float block[TOUCH];
    int next = 0;
    for (size_t at = 0; at < WALK; at += TOUCH) {
        size_t n = WALK - at < TOUCH ? WALK - at : TOUCH;
        for (size_t i = 0; i < n; i++)
            block[i] = walk->beneath[at + i] + walk->part[v][at + i];
        thrum_listener_feed(listener, block, n);
        if (at + n == WALK)
            thrum_listener_finish(listener);
        for (; next < snapshot->n_readings; next++) {
            const struct thrum_reading *r = &snapshot->readings[next];
            struct thrum_reading alone;
            struct thrum_span span = {r->first_frame, r->first_frame + r->frames};
            if (span.end + RATE / 4 > at + n && at + n < WALK)
                break; /* not all of it has come through the filters */
            if (thrum_listener_measure(listener, span, &alone) != THRUM_OK || !alone.strength[0].heard)
                continue;
            tally->touches++;
            tally->missed += !r->strength[v].heard;
            if (!r->strength[v].heard)
                continue;
            double off = r->strength[v].dbfs - alone.strength[0].dbfs;
            tally->squares += off * off;
            tally->most = fmax(tally->most, fabs(off));
            tally->compared++;
            double sd_db = fmax(alone.strength[0].sd_db, 0.01);
            tally->in_errors += off * off / (sd_db * sd_db);
            if (sd_db > KNOWN_DB)
                continue;
            tally->most_known = fmax(tally->most_known, fabs(off));
            tally->known++;
        }
    }
    thrum_listener_destroy(listener);
}

static void judge(const struct walk *walk, const struct thrum_snapshot *snapshot, struct tally *tally)
{
    bool all = true;
    for (int v = 0; v < VOICES; v++) {
        const struct thrum_pick *pick = &snapshot->pick[v];
        bool picked = pick->outcome == THRUM_PICKED;
        char tag[THRUM_WIRE_TAG_SIZE];
        snprintf(tag, sizeof tag, "%d", walk->driven[v] + 1);
        bool right = picked && strcmp(snapshot->wire[pick->wire], tag) == 0;
        if (!picked)
            bench_remark("a voice not picked: %s, chance %.4f, %.1f dB ahead",
                         thrum_outcome_name(pick->outcome), pick->chance, pick->lead_db);
        tally->picks += picked;
        tally->right += right;
        tally->wrong += picked && !right;
        all &= right;
        for (int u = 0; u < v; u++)
            tally->twice +=
                picked && snapshot->pick[u].outcome == THRUM_PICKED && snapshot->pick[u].wire == pick->wire;
    }
    tally->walks++;
    tally->all_right += all;
}

static void run_walk(const struct walk *walk, struct thrum_round_config *config,
                     struct thrum_snapshot *snapshot, struct tally *tally)
{
    struct thrum_round *round;
    memcpy(config->listener.voice, walk->voice, sizeof walk->voice);
    if (thrum_round_create(config, &round) != THRUM_OK)
        return;
    thrum_round_feed(round, walk->all, WALK);
    thrum_round_end(round);
    thrum_round_snapshot(round, snapshot);
    thrum_round_destroy(round);
    judge(walk, snapshot, tally);
    for (int v = 0; v < VOICES; v++)
        compare_alone(walk, v, snapshot, tally);
}

static bool make_room(struct walk *walk)
{
    bool good = (walk->beneath = malloc(WALK * sizeof *walk->beneath)) != NULL;
    good &= (walk->all = malloc(WALK * sizeof *walk->all)) != NULL;
    for (int v = 0; v < VOICES; v++)
        good &= (walk->part[v] = malloc(WALK * sizeof *walk->part[v])) != NULL;
    return good;
}

static void print_rows(const struct kind *kind, const struct tally *t)
{
    char what[90];
    double share = (double)t->all_right / (double)t->walks,
           right = (double)t->right / (double)(t->walks * VOICES);
    snprintf(what, sizeof what, "voices picked right, %s", kind->name);
    bench_at_least("S6", what, right, 1.0,
                   (struct bench_sample){t->walks * VOICES, bench_share_error(right, t->walks * VOICES)});
    bench_note("S6", "... walks with all eight right", share,
               (struct bench_sample){t->walks, bench_share_error(share, t->walks)});
    bench_at_most("S6", "... picks that are wrong", (double)t->wrong, 0.0,
                  (struct bench_sample){t->picks, 0.0});
    bench_at_most("S6", "... wires given to two voices", (double)t->twice, 0.0,
                  (struct bench_sample){t->walks, 0.0});
    bench_at_most("S6", "... heard alone, not together", (double)t->missed, 0.0,
                  (struct bench_sample){t->touches, 0.0});
    bench_at_most("S6", "... strength against alone, RMS dB",
                  sqrt(t->squares / (double)(t->compared > 0 ? t->compared : 1)), 0.2,
                  (struct bench_sample){t->compared, 0.0});
    bench_at_most("S6", "... the largest, dB", t->most, 0.2, (struct bench_sample){t->compared, 0.0});
    bench_at_most("S6", "... the largest where known to 0.1 dB", t->most_known, 0.2,
                  (struct bench_sample){t->known, 0.0});
    bench_note("S6", "... RMS, in standard errors of the strength",
               sqrt(t->in_errors / (double)(t->compared > 0 ? t->compared : 1)),
               (struct bench_sample){t->compared, 0.0});
}

void bench_senders(bool full, uint64_t seed)
{
    static const struct kind kinds[] = {
        {"8 voices 25 Hz apart, one cadence", 25.0, true, 20.0},
        {"8 voices 120 Hz apart, own cadences", 120.0, false, 20.0},
    };
    struct rng rng = rng_seeded(seed);
    struct walk walk = {0};
    struct thrum_round_config *config = calloc(1, sizeof *config);
    struct thrum_snapshot *snapshot = malloc(sizeof *snapshot);
    if (make_room(&walk) && config && snapshot) {
        config->listener = (struct thrum_listener_config){.rate_hz = RATE, .channels = 1, .n_voices = VOICES};
        config->pick = thrum_pick_config_default();
        config->hands_free = true;
        for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
            struct tally tally = {0};
            for (int i = 0; i < (full ? 40 : 5); i++) {
                make_walk(&rng, &kinds[k], &walk);
                run_walk(&walk, config, snapshot, &tally);
            }
            print_rows(&kinds[k], &tally);
        }
    }
    free(config);
    free(snapshot);
    free(walk.beneath);
    free(walk.all);
    for (int v = 0; v < VOICES; v++)
        free(walk.part[v]);
}
