#include "thrum/practice.h"

#include <math.h> /* only sqrt, floor, fmin and fmax in the making of samples, which are exact everywhere */
#include <stdlib.h>

#include "practice/config.h"
#include "practice/coupling.h"
#include "practice/dice.h"
#include "practice/exact.h"
#include "practice/hum.h"
#include "practice/pack.h"
#include "practice/probe.h"
#include "practice/sender.h"
#include "practice/slow.h"
#include "practice/spoil.h"

#define MOVE_S  0.030 /* the probe's way from one place to the next */
#define TICK_S  0.001 /* contact tick: decay time */
#define TICK_SD 6.0   /* and its height in standard deviations of the noise */
#define HOP_S   0.010 /* slow curves: time between values, about */
#define HAND_S  0.7   /* correlation time of the hand */

#define HUM_SPREAD_DB  1.0   /* hum on a wire: at most that far from the driven wire's */
#define AIR_HUM_DB     -14.0 /* hum in the air, at most */
#define LEAD_OVER_DB   20.0  /* tone on the lead over the tone on the wire */
#define LEAD_MOST_DBFS -14.0 /* and its limit, so that tone and hum together do not clip */
#define NO_HUM_DB      -100.0
#define NOISE_BAND_HZ  24000.0

/* What the probe lets through in one place. */
struct hold {
    double tone[THRUM_MAX_SENDERS][THRUM_VOICE_TONES]; /* amplitude */
    double hum;                                        /* amplitude of a sine as strong as all the hum */
};

struct thrum_practice {
    struct thrum_practice_config config;
    int n_senders;
    struct coupling coupling[THRUM_MAX_SENDERS];
    struct dice noise, hand_dice, placing, grouping;
    struct pack pack; /* a group around the tip, which has the middle place */
    struct sender sender[THRUM_MAX_SENDERS];
    struct hum hum;
    struct slow hand;
    double hum_offset_db[THRUM_PRACTICE_MAX_WIRES];
    double noise_sd;

    struct hold from, to; /* the probe moves between these */
    uint64_t move_frames, moved;
    double tick, tick_keep;

    int hop, block; /* of the hand's curve */
    uint64_t made;  /* frames made, in whole blocks */
    double hand_now, hand_next;

    int used;                                       /* of the block in hand */
    double wave[THRUM_MAX_SENDERS][PRACTICE_BLOCK]; /* tone, amplitude as the hand and the battery have it */
    signed char tone[THRUM_MAX_SENDERS][PRACTICE_BLOCK];
    double hum_wave[PRACTICE_BLOCK];
    double noise_wave[PRACTICE_BLOCK];

    struct spoil spoil;
};

/* Battery's gain at a frame. */
static double sag_gain(const struct thrum_practice *p, uint64_t frame)
{
    double minutes = (double)frame / p->config.rate_hz / 60.0;
    return exact_amplitude(fmax(-p->config.sag_db_per_min * minutes, -600.0));
}

static bool has_hum(const struct thrum_practice *p)
{
    return p->config.hum_over_tone_db >= NO_HUM_DB;
}

static double hum_amplitude(const struct thrum_practice *p, double offset_db)
{
    return has_hum(p) ? exact_amplitude(p->config.tone_dbfs + p->config.hum_over_tone_db + offset_db) : 0.0;
}

static void next_hand(struct thrum_practice *p)
{
    p->hand_now = p->hand_next;
    p->hand_next = exact_amplitude(p->config.hand_wobble_db * slow_next(&p->hand, &p->hand_dice));
}

static void draw_all(struct thrum_practice *p)
{
    const struct thrum_practice_config *config = &p->config;
    struct dice sender = dice_stream(config->seed, 2), wires = dice_stream(config->seed, 6);
    p->noise = dice_stream(config->seed, 3);
    p->hand_dice = dice_stream(config->seed, 4);
    p->placing = dice_stream(config->seed, 5);
    p->grouping = dice_stream(config->seed, 20);
    pack_lay(&p->pack, THRUM_PRACTICE_MAX_WIRES);
    p->hop = (int)fmax(1.0, floor(HOP_S * config->rate_hz / PRACTICE_BLOCK + 0.5));
    p->noise_sd = exact_amplitude(config->noise_dbfs) * sqrt(0.5 * config->rate_hz / (2.0 * NOISE_BAND_HZ));
    p->move_frames = (uint64_t)(MOVE_S * config->rate_hz + 0.5);
    p->moved = p->move_frames;
    p->tick_keep = exact_exp(-1.0 / (TICK_S * config->rate_hz));
    spoil_start(&p->spoil, config);
    sender_start(&p->sender[0], config, &config->voice, &sender);
    for (int s = 1; s < p->n_senders; s++) {
        struct dice own = dice_stream(config->seed, 8 + (uint64_t)s);
        sender_start(&p->sender[s], config, &config->more[s - 1], &own);
    }
    hum_start(&p->hum, config, p->hop, dice_stream(config->seed, 7));
    slow_start(&p->hand, &p->hand_dice, p->hop * PRACTICE_BLOCK / config->rate_hz, HAND_S);
    next_hand(p);
    next_hand(p);
    for (int i = 0; i < config->n_wires; i++)
        p->hum_offset_db[i] = dice_between(&wires, -HUM_SPREAD_DB, HUM_SPREAD_DB);
    p->hum_offset_db[p->coupling[0].driven] = 0.0;
    p->to.hum = hum_amplitude(p, AIR_HUM_DB);
    p->from = p->to;
    p->used = PRACTICE_BLOCK;
}

enum thrum_status thrum_practice_create(const struct thrum_practice_config *config,
                                        struct thrum_practice **practice)
{
    enum thrum_status status = THRUM_ERR_MEM;
    struct thrum_practice *p = NULL;
    *practice = NULL;
    if (!practice_config_is_sound(config))
        return THRUM_ERR_ARG;
    p = calloc(1, sizeof *p);
    if (!p)
        goto fail;
    p->config = *config;
    p->n_senders = 1 + config->n_more;
    struct dice layout = dice_stream(config->seed, 1), more = dice_stream(config->seed, 8);
    status = coupling_draw(&p->config, &layout, &more, p->coupling);
    if (status != THRUM_OK)
        goto fail;
    draw_all(p);
    *practice = p;
    return THRUM_OK;
fail:
    thrum_practice_destroy(p);
    return status;
}

void thrum_practice_destroy(struct thrum_practice *practice)
{
    free(practice);
}

/* The tone on the sender's own lead: strong, whatever couples in the bundle. */
static void hold_lead(const struct thrum_practice *p, int sender, struct hold *hold)
{
    double dbfs = fmax(fmin(p->config.tone_dbfs + LEAD_OVER_DB, LEAD_MOST_DBFS), p->config.tone_dbfs);
    if (p->config.no_sender) {
        hold->hum = hum_amplitude(p, 0.0);
        return;
    }
    for (int k = 0; k < p->coupling[sender].n_tones; k++)
        hold->tone[sender][k] = exact_amplitude(dbfs);
    hold->hum = has_hum(p) ? exact_amplitude(dbfs + fmin(p->config.hum_over_tone_db, 0.0)) : 0.0;
}

static void hold_wire(const struct thrum_practice *p, int wire, double placement, struct hold *hold)
{
    double gain = p->config.no_sender ? 0.0 : exact_amplitude(p->config.placement_db * placement);
    for (int s = 0; s < p->n_senders; s++)
        for (int k = 0; k < p->coupling[s].n_tones; k++)
            hold->tone[s][k] = p->coupling[s].amplitude[wire][k] * gain;
    hold->hum = hum_amplitude(p, p->hum_offset_db[wire]);
}

/* Where in the group each of its wires lies: places 1 to n around the tip. */
static void draw_places(struct thrum_practice *p, int *place, int n)
{
    for (int i = 0; i < n; i++)
        place[i] = 1 + i;
    for (int i = n - 1; i > 0; i--) {
        int j = dice_below(&p->grouping, i + 1), kept = place[i];
        place[i] = place[j];
        place[j] = kept;
    }
}

/* The fields of all wires of the group add up. */
static double group_amplitude(const struct thrum_practice *p, const struct coupling *coupling, int tone,
                              int first, const int *place, int n)
{
    double re = 0.0, im = 0.0;
    for (int i = 0; i < n; i++) {
        double weight = probe_group_weight(pack_distance(&p->pack, 0, place[i] % THRUM_PRACTICE_MAX_WIRES));
        re += weight * coupling->own[first + i][tone].re;
        im += weight * coupling->own[first + i][tone].im;
    }
    return sqrt(re * re + im * im);
}

static void hold_group(struct thrum_practice *p, int first, int last, double placement, struct hold *hold)
{
    int place[THRUM_PRACTICE_MAX_WIRES], n = last - first + 1;
    double gain = p->config.no_sender ? 0.0 : exact_amplitude(p->config.placement_db * placement);
    draw_places(p, place, n);
    for (int s = 0; s < p->n_senders; s++)
        for (int k = 0; k < p->coupling[s].n_tones; k++)
            hold->tone[s][k] = group_amplitude(p, &p->coupling[s], k, first, place, n) * gain;
    hold->hum = hum_amplitude(p, 0.0);
}

/* How far the move has got: 0 to 1, slow at both ends. */
static double progress(const struct thrum_practice *p)
{
    double x = p->moved < p->move_frames ? (double)p->moved / (double)p->move_frames : 1.0;
    return x * x * (3.0 - 2.0 * x);
}

static struct hold hold_now(const struct thrum_practice *p)
{
    struct hold now = p->to;
    double done = progress(p);
    for (int s = 0; s < p->n_senders; s++)
        for (int k = 0; k < THRUM_VOICE_TONES; k++)
            now.tone[s][k] = p->from.tone[s][k] + (p->to.tone[s][k] - p->from.tone[s][k]) * done;
    now.hum = p->from.hum + (p->to.hum - p->from.hum) * done;
    return now;
}

/* What the hand does, wherever the probe goes: always the same draws, so that where it went before does not matter to what
 * comes. */
struct draws {
    double placement, air_db, tick;
};

static struct draws draw_move(struct thrum_practice *p)
{
    struct draws d;
    d.placement = dice_normal(&p->placing);
    d.air_db = AIR_HUM_DB - dice_between(&p->placing, 0.0, 4.0);
    d.tick = dice_between(&p->placing, -1.0, 1.0);
    return d;
}

static void move_to(struct thrum_practice *p, const struct hold *hold, double tick)
{
    p->from = hold_now(p);
    p->to = *hold;
    p->moved = 0;
    p->tick = tick * TICK_SD * p->noise_sd;
}

void thrum_practice_place_group(struct thrum_practice *practice, int first, int last)
{
    struct hold hold = {0};
    struct draws draws = draw_move(practice);
    if (first >= 0 && first <= last && last < practice->config.n_wires)
        hold_group(practice, first, last, draws.placement, &hold);
    else
        hold.hum = hum_amplitude(practice, draws.air_db);
    move_to(practice, &hold, draws.tick);
}

void thrum_practice_place(struct thrum_practice *practice, int wire)
{
    struct hold hold = {0};
    struct draws draws = draw_move(practice);
    if (wire <= THRUM_PROBE_AT_LEAD && THRUM_PROBE_AT_LEAD - wire < practice->n_senders)
        hold_lead(practice, THRUM_PROBE_AT_LEAD - wire, &hold);
    else if (wire >= 0 && wire < practice->config.n_wires)
        hold_wire(practice, wire, draws.placement, &hold);
    else
        hold.hum = hum_amplitude(practice, draws.air_db);
    move_to(practice, &hold, draws.tick);
}

static void make_block(struct thrum_practice *p)
{
    double step = (p->hand_next - p->hand_now) / (p->hop * PRACTICE_BLOCK);
    double sag = sag_gain(p, p->made);
    for (int s = 0; s < p->n_senders; s++)
        sender_make(&p->sender[s], p->wave[s], p->tone[s]);
    if (has_hum(p))
        hum_make(&p->hum, p->hum_wave);
    for (int i = 0; i < PRACTICE_BLOCK; i++) {
        double gain = sag * (p->hand_now + step * (p->block * PRACTICE_BLOCK + i));
        for (int s = 0; s < p->n_senders; s++)
            p->wave[s][i] *= gain;
        p->noise_wave[i] = p->noise_sd * dice_quick_normal(&p->noise);
    }
    p->made += PRACTICE_BLOCK;
    p->used = 0;
    if (++p->block == p->hop) {
        p->block = 0;
        next_hand(p);
    }
}

static float limited(double x)
{
    return (float)fmin(fmax(x, -1.0), 1.0);
}

/* Tones, hum and noise of one frame together. */
static double mixed(struct thrum_practice *p, double tones, double hum, int i)
{
    double h = hum * p->hum_wave[i], n = p->noise_wave[i];
    spoil_parts(&p->spoil, &tones, &h, &n);
    return tones + h + n;
}

static double resting_sample(struct thrum_practice *p, int i)
{
    double sound = 0.0;
    for (int s = 0; s < p->n_senders; s++)
        sound += p->to.tone[s][p->tone[s][i]] * p->wave[s][i];
    return mixed(p, sound, p->to.hum, i);
}

/* One sample while the probe moves or the tick rings. */
static double moving_sample(struct thrum_practice *p, int i)
{
    double done = progress(p), tick = p->tick, sound = 0.0;
    for (int s = 0; s < p->n_senders; s++) {
        int k = p->tone[s][i];
        sound += (p->from.tone[s][k] + (p->to.tone[s][k] - p->from.tone[s][k]) * done) * p->wave[s][i];
    }
    double hum = p->from.hum + (p->to.hum - p->from.hum) * done;
    p->moved++;
    p->tick *= p->tick_keep;
    return mixed(p, sound, hum, i) + tick;
}

void thrum_practice_read(struct thrum_practice *practice, float *samples, size_t n_frames)
{
    struct thrum_practice *p = practice;
    for (size_t n = 0; n < n_frames;) {
        if (p->used == PRACTICE_BLOCK)
            make_block(p);
        int end = (int)fmin((double)PRACTICE_BLOCK, (double)p->used + (double)(n_frames - n));
        for (; p->used < end; p->used++) {
            int i = p->used;
            samples[n++] = limited(spoil_frame(&p->spoil, p->moved < p->move_frames ? moving_sample(p, i)
                                                                                    : resting_sample(p, i)));
        }
    }
}

static bool has_sender(const struct thrum_practice *p, int sender)
{
    return !p->config.no_sender && sender >= 0 && sender < p->n_senders;
}

int thrum_practice_driven_by(const struct thrum_practice *practice, int sender)
{
    return has_sender(practice, sender) ? practice->coupling[sender].driven : -1;
}

int thrum_practice_driven(const struct thrum_practice *practice)
{
    return thrum_practice_driven_by(practice, 0);
}

/* RMS over the time the voice sounds, as a level. */
static double strength_dbfs(const struct coupling *coupling, const double *amplitude, double gain)
{
    double share[THRUM_VOICE_TONES], power = 0.0;
    coupling_shares(coupling->voice, share);
    for (int k = 0; k < coupling->n_tones; k++)
        power += share[k] * amplitude[k] * amplitude[k];
    return thrum_db_from_power(power * gain * gain);
}

double thrum_practice_strength_of(const struct thrum_practice *practice, int sender, int wire)
{
    if (!has_sender(practice, sender) || wire < 0 || wire >= practice->config.n_wires)
        return THRUM_FLOOR_DBFS;
    return strength_dbfs(&practice->coupling[sender], practice->coupling[sender].amplitude[wire], 1.0);
}

double thrum_practice_strength(const struct thrum_practice *practice, int wire)
{
    return thrum_practice_strength_of(practice, 0, wire);
}

double thrum_practice_placed_strength_of(const struct thrum_practice *practice, int sender)
{
    uint64_t frame = practice->made - (uint64_t)(PRACTICE_BLOCK - practice->used);
    if (!has_sender(practice, sender))
        return THRUM_FLOOR_DBFS;
    return strength_dbfs(&practice->coupling[sender], practice->to.tone[sender], sag_gain(practice, frame));
}

double thrum_practice_placed_strength(const struct thrum_practice *practice)
{
    return thrum_practice_placed_strength_of(practice, 0);
}

int thrum_practice_walk_stops(const struct thrum_practice *practice)
{
    return 2 * practice->config.n_wires + 1;
}

struct thrum_practice_stop thrum_practice_walk_stop(const struct thrum_practice *practice, int i)
{
    const struct thrum_practice_config *config = &practice->config;
    bool air = i % 2 == 0;
    double s = air ? config->lift_s : config->touch_s;
    return (struct thrum_practice_stop){.wire = air ? THRUM_PROBE_IN_AIR : i / 2,
                                        .frames = (uint64_t)floor(s * config->rate_hz + 0.5)};
}
