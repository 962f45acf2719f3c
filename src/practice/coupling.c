#include "practice/coupling.h"

#include <math.h> /* only sqrt, fmax and floor, which are exact everywhere */
#include <stdlib.h>
#include <string.h>

#include "practice/copper.h"
#include "practice/exact.h"
#include "practice/network.h"
#include "practice/pack.h"
#include "practice/probe.h"

#define RUN_M 100.0

/* A valve's coil at the tone: 0.265 to 0.32 H are 1.7 to 2 kohm at 1 kHz, less by eddy loss, which makes them
   nearly resistive and flat (common practice, no source). */
#define COIL_MIN_OHM 1000.0
#define COIL_MAX_OHM 2000.0
#define GAUGE        18
#define SOIL_CELSIUS 15.0
/* A common with a bad earth: it leaks away only this much, and follows the driven wire. */
#define LEAK_MIN_OHM 40e3
#define LEAK_MAX_OHM 120e3
#define TIED_SHARE   0.4 /* of the other wires, when some are tied */
/* With several senders: what one is to the tone of another, and how much weaker further ones may be. */
#define SENDER_OHM 2000.0
#define WEAKER_DB  10.0

struct bundle {
    struct pack pack;
    struct network net;
    int n;
    int place[THRUM_PRACTICE_MAX_WIRES]; /* of wire i in the pack */
    int wire[THRUM_PRACTICE_MAX_WIRES];  /* at place p */
    double *c;                           /* [n * n] */
    double *scratch;                     /* [NETWORK_SCRATCH(n)] */
};

static void shuffle(struct bundle *b, struct dice *dice)
{
    for (int i = 0; i < b->n; i++)
        b->place[i] = i;
    for (int i = b->n - 1; i > 0; i--) {
        int j = dice_below(dice, i + 1), kept = b->place[i];
        b->place[i] = b->place[j];
        b->place[j] = kept;
    }
    for (int i = 0; i < b->n; i++)
        b->wire[b->place[i]] = i;
}

static void hold(struct network *net, int place, double volts)
{
    net->fixed[place] = true;
    net->volts[place] = volts;
}

/* Some of the others, drawn: at least one. */
static void tie_some(struct bundle *b, int driven, struct dice *dice)
{
    int left = (int)fmax(1.0, floor(TIED_SHARE * (b->n - 1) + 0.5));
    for (int i = 0; i < b->n; i++) {
        if (b->place[i] == driven)
            continue;
        int others = b->n - i - (b->wire[driven] > i ? 1 : 0); /* still to be asked, this one included */
        if (dice_below(dice, others) < left) {
            hold(&b->net, b->place[i], 0.0);
            left--;
        }
    }
}

/* Conductance to the common: a coil at the run's far end, out through the wire and back through the common. */
static double coil_s(struct dice *dice)
{
    double copper_ohm = 2.0 * RUN_M * copper_ohm_per_m(GAUGE, SOIL_CELSIUS);
    return 1.0 / (dice_between(dice, COIL_MIN_OHM, COIL_MAX_OHM) + copper_ohm);
}

static void end_wires(struct bundle *b, enum thrum_ending ending, int driven, struct dice *dice)
{
    hold(&b->net, driven, 1.0);
    switch (ending) {
    case THRUM_ENDING_FREE:
        break;
    case THRUM_ENDING_SOME:
        tie_some(b, driven, dice);
        break;
    case THRUM_ENDING_TIED:
        for (int p = 0; p < b->n; p++)
            if (p != driven)
                hold(&b->net, p, 0.0);
        break;
    case THRUM_ENDING_SHARED:
        b->net.common_floats = true;
        b->net.common_to_earth_s = 1.0 / dice_between(dice, LEAK_MIN_OHM, LEAK_MAX_OHM);
        /* fall through */
    case THRUM_ENDING_LOADED:
        for (int p = 0; p < b->n; p++)
            b->net.to_common_s[p] = coil_s(dice);
        break;
    }
}

/* What the probe hears on the wire at `touched`, given all voltages. */
static double heard(const struct pack *pack, const struct phasor *v, int touched)
{
    double re = 0.0, im = 0.0;
    for (int p = 0; p < pack->n; p++) {
        double weight = probe_weight(pack_distance(pack, p, touched));
        re += weight * v[p].re;
        im += weight * v[p].im;
    }
    return sqrt(re * re + im * im);
}

static void solve_tone(struct bundle *b, enum thrum_ending ending, int driven, int tone, double hz,
                       struct coupling *out)
{
    struct phasor v[THRUM_PRACTICE_MAX_WIRES];
    network_solve(&b->net, hz, b->scratch, v);
    for (int p = 0; p < b->n; p++)
        out->own[b->wire[p]][tone] = v[p];
    for (int p = 0; p < b->n; p++) {
        /* Where all others are tied, the one that is touched is lifted for it. */
        bool lifted = ending == THRUM_ENDING_TIED && p != driven;
        if (lifted) {
            b->net.fixed[p] = false;
            network_solve(&b->net, hz, b->scratch, v);
            b->net.fixed[p] = true;
        }
        out->amplitude[b->wire[p]][tone] = heard(&b->pack, v, p);
    }
}

void coupling_shares(const struct thrum_voice *voice, double *share)
{
    double on_s = thrum_voice_on_s(voice);
    for (int k = 0; k < voice->n_tones; k++)
        share[k] = 0.0;
    for (int i = 0; i < voice->n_steps; i++)
        if (voice->step[i].tone != THRUM_SILENCE)
            share[voice->step[i].tone] += voice->step[i].s / on_s;
}

/* Brings the driven wire to the wanted strength. */
static void scale(const struct thrum_practice_config *config, double dbfs, struct coupling *coupling)
{
    double share[THRUM_VOICE_TONES], power = 0.0;
    const double *driven = coupling->amplitude[coupling->driven];
    coupling_shares(coupling->voice, share);
    for (int k = 0; k < coupling->n_tones; k++)
        power += share[k] * driven[k] * driven[k];
    double factor = exact_amplitude(dbfs) / sqrt(power);
    for (int i = 0; i < config->n_wires; i++)
        for (int k = 0; k < coupling->n_tones; k++) {
            coupling->amplitude[i][k] *= factor;
            coupling->own[i][k].re *= factor;
            coupling->own[i][k].im *= factor;
        }
}

/* The wires of the further senders: any that has none yet. */
static void draw_driven(const struct thrum_practice_config *config, struct dice *more,
                        struct coupling *couplings)
{
    for (int s = 1; s <= config->n_more; s++) {
        bool taken = true;
        while (taken) {
            taken = false;
            couplings[s].driven = dice_below(more, config->n_wires);
            for (int i = 0; i < s; i++)
                taken |= couplings[i].driven == couplings[s].driven;
        }
    }
}

/* One sender sounds; the others are there, and hold their wires. */
static void solve_sender(struct bundle *b, const struct thrum_practice_config *config,
                         const struct coupling *couplings, struct coupling *out)
{
    int driven = b->place[out->driven];
    struct network kept = b->net;
    for (int s = 0; s <= config->n_more; s++) {
        int other = b->place[couplings[s].driven];
        b->net.fixed[other] = false;
        b->net.volts[other] = 0.0;
        if (config->n_more > 0)
            b->net.to_common_s[other] = 1.0 / SENDER_OHM;
    }
    hold(&b->net, driven, 1.0);
    for (int k = 0; k < out->n_tones; k++)
        solve_tone(b, config->ending, driven, k, out->voice->tones_hz[k], out);
    b->net = kept;
}

enum thrum_status coupling_draw(const struct thrum_practice_config *config, struct dice *dice,
                                struct dice *more, struct coupling *couplings)
{
    int n = config->n_wires;
    struct bundle b = {.n = n, .net = {.n = n, .length_m = RUN_M}};
    struct pack_coupling per_metre = pack_coupling_default();
    enum thrum_status status = THRUM_ERR_MEM;
    b.c = malloc((size_t)(n * n) * sizeof *b.c);
    b.scratch = malloc((size_t)NETWORK_SCRATCH(n) * sizeof *b.scratch);
    if (!b.c || !b.scratch)
        goto done;
    pack_lay(&b.pack, n);
    pack_capacitance(&b.pack, &per_metre, b.c);
    b.net.c = b.c;
    shuffle(&b, dice);
    couplings[0].driven = dice_below(dice, n);
    end_wires(&b, config->ending, b.place[couplings[0].driven], dice);
    draw_driven(config, more, couplings);
    for (int s = 0; s <= config->n_more; s++) {
        double weaker_db = s > 0 ? dice_between(more, 0.0, WEAKER_DB) : 0.0;
        couplings[s].voice = s > 0 ? &config->more[s - 1] : &config->voice;
        couplings[s].n_tones = couplings[s].voice->n_tones;
        solve_sender(&b, config, couplings, &couplings[s]);
        scale(config, config->tone_dbfs - weaker_db, &couplings[s]);
    }
    status = THRUM_OK;
done:
    free(b.c);
    free(b.scratch);
    return status;
}
