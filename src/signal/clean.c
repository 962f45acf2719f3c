#include "signal/clean.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "thrum/units.h"

enum {
    LANES = 8,    /* harmonics side by side */
    WIDTH = 72,   /* phasors of one mains: THRUM_MAINS_HARMONICS, a multiple of LANES */
    WINDOW = 64,  /* samples that phasors near a tone learn from at once; a whole part of... */
    STRETCH = 256 /* ...the samples between two settings of frequency and width */
};

#define HALF_WIDTH_HZ       1.1
#define HALF_WIDTH_NEAR_HZ  0.2  /* within NEAR_HZ of a tone */
#define HALF_WIDTH_CLOSE_HZ 0.06 /* within CLOSE_HZ of a tone: among the side lines of its beeps */
#define HALF_WIDTH_YOUNG    0.8  /* of a mains heard for a second; falls with its age to what is said above */
#define NEAR_HZ             12.0
#define CLOSE_HZ            5.0
#define QUIET_SHARE         1.4f    /* of its quiet lessons a phasor near a tone learns so much at once */
#define QUIET_UP            1.0233f /* what quiet grows by in a window that teaches more than it, */
#define QUIET_DOWN          0.912f  /* and shrinks by in one that does not: the two make it a fifth */
#define QUIETEST            1e-9f
#define APART_HZ            5.0        /* lines of two mains closer than this: above sqrt(8) half widths */
#define DAMPING             0.70710678 /* flattest second order: 3 dB at the half width */
#define GUARD_IN            0.98 /* of the guard: a harmonic this near to a tone is not taken up, so that a tone... */
#define GUARD_OUT           0.5  /* ...just at the guard has it out; and one this near is let go */
#define FADE_S              0.05 /* a harmonic that is to be left alone again lets go this fast */
#define EASE_S              0.3  /* a mains is taken up, or let go, in this time */
#define SAME_MAINS_HZ       0.5  /* a new answer this close is the same mains */
#define PATIENCE_S          10.0 /* so long a mains may stay unheard */
#define PULL                0.1  /* how far the common turn of the phasors moves the frequency in a stretch */
#define LEASH_HZ            0.1  /* how far from the tracker's answer the phasors may pull */
#define HOLD_S              10.0 /* the tracker's answer draws the frequency back in this time */

/* One mains: its phasors, side by side so that the compiler may take several at once. */
struct bank {
    float turn_re[WIDTH], turn_im[WIDTH];     /* where harmonic h stands now: exp(j h phase) */
    float step_re[WIDTH], step_im[WIDTH];     /* its turn in one sample */
    float hum_re[WIDTH], hum_im[WIDTH];       /* amplitude and phase against that */
    float move_re[WIDTH], move_im[WIDTH];     /* how hum moves in one sample */
    float quick[WIDTH], slow[WIDTH];          /* gains from what is left to hum and to move */
    float lesson_re[WIDTH], lesson_im[WIDTH]; /* what is left in this window, against turn */
    float learn[WIDTH];                       /* 1, or 0 near a tone: those learn once in a window */
    float quiet[WIDTH];                 /* of a near one: about the fifth part of its lessons is smaller */
    float keep[WIDTH];                  /* 1, or less while a harmonic lets go */
    bool trusted[WIDTH];                /* may tell the frequency */
    float was_re[WIDTH], was_im[WIDTH]; /* hum one stretch ago */
    double phase;                       /* cycles of the fundamental where the stretch began, 0 to 1 */
    double hz, target_hz, slope;        /* in use; by the tracker, carried on */
    uint64_t heard;                     /* when the tracker last heard it */
    double ease; /* widths grow from 0 and shrink to 0 by this, or the start would be heard */
    double age_s;
    int running, leaving;
};

struct thrum_clean {
    struct thrum_clean_config config;
    struct thrum_mains_tracker *tracker;
    struct bank bank[THRUM_MAINS_MAX];
    uint64_t at; /* samples done */
    int stretch; /* samples to go in this stretch */
    float share; /* 1 / (1 + half of what the phasors learn from one sample) */
};

struct thrum_clean_config thrum_clean_config_default(double rate_hz)
{
    return (struct thrum_clean_config){.rate_hz = rate_hz, .guard_hz = 3.0};
}

enum thrum_status thrum_clean_create(const struct thrum_clean_config *config, struct thrum_clean **clean)
{
    *clean = NULL;
    if (!(config->guard_hz >= 0.0 && config->guard_hz <= 20.0) || config->n_tones < 0 ||
        config->n_tones > THRUM_MAINS_AVOID)
        return THRUM_ERR_ARG;
    struct thrum_clean *c = calloc(1, sizeof *c);
    if (!c)
        return THRUM_ERR_MEM;
    c->config = *config;
    enum thrum_status status = thrum_mains_tracker_create(config->rate_hz, &c->tracker);
    if (status)
        goto fail;
    thrum_mains_tracker_avoid(c->tracker, config->tones_hz, config->n_tones);
    thrum_clean_reset(c);
    *clean = c;
    return THRUM_OK;
fail:
    thrum_clean_destroy(c);
    return status;
}

void thrum_clean_destroy(struct thrum_clean *clean)
{
    if (!clean)
        return;
    thrum_mains_tracker_destroy(clean->tracker);
    free(clean);
}

void thrum_clean_reset(struct thrum_clean *clean)
{
    thrum_mains_tracker_reset(clean->tracker);
    memset(clean->bank, 0, sizeof clean->bank);
    clean->at = 0;
    clean->stretch = 0;
}

void thrum_clean_mains(const struct thrum_clean *clean, struct thrum_mains_value out[THRUM_MAINS_MAX])
{
    thrum_mains_tracker_now(clean->tracker, out);
}

static double nearest_tone_hz(const struct thrum_clean_config *config, double hz)
{
    double nearest = 1e9;
    for (int i = 0; i < config->n_tones; i++)
        nearest = fmin(nearest, fabs(config->tones_hz[i] - hz));
    return nearest;
}

/* Half width of the notch on a harmonic at hz, off_hz from the nearest tone; 0 to leave it alone. One that is taken
   out already may wander nearer to a tone: to let it go and learn it anew would leave it in for ten seconds. */
static double half_width_hz(const struct thrum_clean *clean, double hz, double off_hz, double age_s,
                            bool taken)
{
    if (hz > 0.48 * clean->config.rate_hz || off_hz < (taken ? GUARD_OUT : GUARD_IN) * clean->config.guard_hz)
        return 0.0;
    if (off_hz >= NEAR_HZ)
        return HALF_WIDTH_HZ;
    double half = off_hz < CLOSE_HZ ? HALF_WIDTH_CLOSE_HZ : HALF_WIDTH_NEAR_HZ;
    return fmin(HALF_WIDTH_HZ, fmax(half, HALF_WIDTH_YOUNG / age_s));
}

/* Beeps reach into the notches beside a tone. There a phasor learns from a whole window at once, and hardly more than
   the quietest fifth of all windows teaches: pauses teach it in full, and beeps, of any phase, next to nothing. Not to
   learn at all while a tone is heard would let it stick at what it took for hum: then only such beeps are heard as do
   not cancel it. */
static void learn_near(struct bank *bank)
{
    for (int i = 0; i < WIDTH; i++) {
        if (bank->learn[i] == 0.0f) {
            float re = bank->lesson_re[i], im = bank->lesson_im[i], size = sqrtf(re * re + im * im);
            float quiet = bank->quiet[i] > QUIETEST ? bank->quiet[i] : size;
            float gain =
                size > QUIET_SHARE * quiet ? bank->quick[i] * QUIET_SHARE * quiet / size : bank->quick[i];
            bank->hum_re[i] += gain * re;
            bank->hum_im[i] += gain * im;
            bank->quiet[i] = size > quiet ? fminf(size, QUIET_UP * quiet) : fmaxf(size, QUIET_DOWN * quiet);
        }
        bank->lesson_re[i] = bank->lesson_im[i] = 0.0f;
    }
}

/* Whether a harmonic of the other mains is so close that two second-order phasors would drive each other up; with
   first order, half as wide, they cannot. */
static bool has_neighbour(const struct bank *other, double hz)
{
    if (!other->running)
        return false;
    double order = nearbyint(hz / other->hz);
    return order >= 1.0 && order <= WIDTH && fabs(order * other->hz - hz) < APART_HZ;
}

/* Sets width and order of the notch on harmonic i + 1 for the next stretch. Second order follows a hum that wobbles;
   near a tone first order does, as that lets go of what little it learned of a beep. */
static void set_notch(struct thrum_clean *clean, int number, int i)
{
    struct bank *bank = &clean->bank[number];
    double hz = (i + 1) * bank->hz, off_hz = nearest_tone_hz(&clean->config, hz);
    double half = half_width_hz(clean, hz, off_hz, bank->age_s, bank->quick[i] > 0.0f);
    double own = 2.0 * THRUM_PI * half * bank->ease / clean->config.rate_hz;
    bool plain = has_neighbour(&clean->bank[1 - number], hz), near = off_hz < NEAR_HZ, first = plain || near;
    /* 2: a real signal shows half of a phasor */
    bank->quick[i] = (float)(2.0 * own * (plain ? 0.5 : near ? 1.0 : 2.0 * DAMPING));
    bank->slow[i] = first ? 0.0f : (float)(2.0 * own * own);
    bank->learn[i] = near ? 0.0f : 1.0f;
    bank->quiet[i] = near ? bank->quiet[i] : 0.0f;
    bank->trusted[i] = half >= HALF_WIDTH_HZ && !near; /* a tone nearby turns a phasor too */
    bank->keep[i] = half > 0.0 && !bank->leaving ? 1.0f : (float)exp(-1.0 / (FADE_S * clean->config.rate_hz));
    if (first || !(half * bank->ease > 0.0))
        bank->move_re[i] = bank->move_im[i] = 0.0f;
}

/* Sets turns, steps and notches for the next stretch from phase and frequency. */
static void set_bank(struct thrum_clean *clean, int number)
{
    struct bank *bank = &clean->bank[number];
    double rate = clean->config.rate_hz, angle = 2.0 * THRUM_PI * bank->phase,
           step = 2.0 * THRUM_PI * bank->hz / rate;
    double a_re = cos(angle), a_im = sin(angle), s_re = cos(step), s_im = sin(step);
    double t_re = 1.0, t_im = 0.0, u_re = 1.0, u_im = 0.0;
    for (int i = 0; i < WIDTH; i++) {
        double next = t_re * a_re - t_im * a_im;
        t_im = t_re * a_im + t_im * a_re;
        t_re = next;
        next = u_re * s_re - u_im * s_im;
        u_im = u_re * s_im + u_im * s_re;
        u_re = next;
        bank->turn_re[i] = (float)t_re;
        bank->turn_im[i] = (float)t_im;
        bank->step_re[i] = (float)u_re;
        bank->step_im[i] = (float)u_im;
        set_notch(clean, number, i);
    }
}

/* Turns the mains on by an angle of its fundamental, and the phasors that have turned by it already back: those of the
   narrow notches, too slow to see it themselves, are carried along. */
static void turn_all(struct bank *bank, double angle)
{
    double s_re = cos(angle), s_im = -sin(angle), re = 1.0, im = 0.0;
    for (int i = 0; i < WIDTH; i++) {
        double next = re * s_re - im * s_im;
        im = re * s_im + im * s_re;
        re = next;
        if (!bank->trusted[i])
            continue;
        float f_re = (float)re, f_im = (float)im;
        float h_re = bank->hum_re[i] * f_re - bank->hum_im[i] * f_im;
        float m_re = bank->move_re[i] * f_re - bank->move_im[i] * f_im;
        bank->hum_im[i] = bank->hum_re[i] * f_im + bank->hum_im[i] * f_re;
        bank->hum_re[i] = h_re;
        bank->move_im[i] = bank->move_re[i] * f_im + bank->move_im[i] * f_re;
        bank->move_re[i] = m_re;
        bank->was_re[i] = bank->hum_re[i];
        bank->was_im[i] = bank->hum_im[i];
    }
    bank->phase += angle / (2.0 * THRUM_PI);
    bank->phase -= floor(bank->phase);
}

/* All phasors turning the same way, each by its number, means that the frequency is off: follow. */
static void follow(struct bank *bank, double seconds)
{
    double turned = 1e-30, weight = 1e-12;
    for (int i = 0; i < WIDTH; i++) {
        double h = i + 1, re = (double)bank->hum_re[i], im = (double)bank->hum_im[i];
        double d_re = re - (double)bank->was_re[i], d_im = im - (double)bank->was_im[i];
        if (bank->trusted[i]) {
            turned += h * (d_im * re - d_re * im);
            weight += h * h * (re * re + im * im);
        }
        bank->was_re[i] = bank->hum_re[i];
        bank->was_im[i] = bank->hum_im[i];
    }
    double angle = turned / weight; /* of the fundamental */
    double off_hz = angle / (2.0 * THRUM_PI * seconds);
    bank->hz += PULL * fmax(-0.1, fmin(0.1, off_hz)) + bank->slope * seconds;
    bank->target_hz += bank->slope * seconds;
    bank->hz += (bank->target_hz - bank->hz) * seconds / HOLD_S;
    bank->hz = fmax(bank->target_hz - LEASH_HZ, fmin(bank->target_hz + LEASH_HZ, bank->hz));
    turn_all(bank, angle);
}

static double bank_power(const struct bank *bank)
{
    double power = 0.0;
    for (int i = 0; i < WIDTH; i++)
        power += (double)bank->hum_re[i] * (double)bank->hum_re[i] +
                 (double)bank->hum_im[i] * (double)bank->hum_im[i];
    return power;
}

double thrum_clean_removed_dbfs(const struct thrum_clean *clean)
{
    double power = 0.0;
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        power += clean->bank[i].running ? bank_power(&clean->bank[i]) : 0.0;
    return thrum_db_from_power(power);
}

static void begin_stretch(struct thrum_clean *clean)
{
    double seconds = STRETCH / clean->config.rate_hz;
    for (int i = 0; i < THRUM_MAINS_MAX; i++) {
        struct bank *bank = &clean->bank[i];
        if (!bank->running)
            continue;
        if (clean->at - bank->heard > (uint64_t)(PATIENCE_S * clean->config.rate_hz))
            bank->leaving = 1;
        if (bank->leaving && bank->ease == 0.0 && bank_power(bank) < 1e-14) {
            memset(bank, 0, sizeof *bank);
            continue;
        }
        bank->phase += seconds * bank->hz;
        bank->phase -= floor(bank->phase);
        follow(bank, seconds);
        bank->age_s += seconds;
        bank->ease = fmax(0.0, fmin(1.0, bank->ease + (bank->leaving ? -1.0 : 1.0) * seconds / EASE_S));
        set_bank(clean, i);
    }
    /* The phasors learn from a sample only after it is through, which would raise everything between the notches by
       half of what all of them learn from one sample; so that half is taken at once. */
    double learn = 0.0;
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        for (int k = 0; k < WIDTH && clean->bank[i].running; k++)
            learn += (double)(clean->bank[i].quick[k] * clean->bank[i].learn[k]);
    clean->share = (float)(1.0 / (1.0 + 0.5 * learn));
    clean->stretch = STRETCH;
}

static struct bank *bank_for(struct thrum_clean *clean, double hz)
{
    for (int i = 0; i < THRUM_MAINS_MAX; i++) {
        struct bank *bank = &clean->bank[i];
        if (bank->running && !bank->leaving && fabs(bank->target_hz - hz) < SAME_MAINS_HZ)
            return bank;
    }
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        if (!clean->bank[i].running)
            return &clean->bank[i];
    return NULL;
}

/* A new answer of the tracker: steer the banks. One that no answer is about makes room when room is needed. */
static void steer(struct thrum_clean *clean)
{
    struct thrum_mains_value mains[THRUM_MAINS_MAX];
    thrum_mains_tracker_now(clean->tracker, mains);
    for (int i = 0; i < THRUM_MAINS_MAX && mains[i].found; i++) {
        struct bank *bank = bank_for(clean, mains[i].hz);
        if (!bank) {
            for (int k = 0; k < THRUM_MAINS_MAX; k++)
                if (clean->bank[k].heard < clean->at)
                    clean->bank[k].leaving = 1;
            continue;
        }
        if (!bank->running) {
            memset(bank, 0, sizeof *bank);
            bank->running = 1;
            bank->hz = mains[i].hz; /* its widths are 0 until the next stretch */
        }
        bank->target_hz = mains[i].hz;
        bank->slope = mains[i].slope_hz_per_s;
        bank->heard = clean->at;
    }
}

/* What the phasors of one mains say about this sample. */
static inline float hum_now(const struct bank *bank)
{
    float sum[LANES] = {0};
    for (int i = 0; i < WIDTH; i += LANES)
        for (int k = 0; k < LANES; k++)
            sum[k] += bank->hum_re[i + k] * bank->turn_re[i + k] - bank->hum_im[i + k] * bank->turn_im[i + k];
    return ((sum[0] + sum[4]) + (sum[1] + sum[5])) + ((sum[2] + sum[6]) + (sum[3] + sum[7]));
}

/* Moves the phasors by what was left of this sample, and turns them on to the next. */
static inline void learn_and_turn(struct bank *restrict bank, float left)
{
    for (int i = 0; i < WIDTH; i++) {
        float re = left * bank->turn_re[i], im = -left * bank->turn_im[i];
        float quick = bank->quick[i] * bank->learn[i];
        bank->hum_re[i] = bank->hum_re[i] * bank->keep[i] + quick * re + bank->move_re[i];
        bank->hum_im[i] = bank->hum_im[i] * bank->keep[i] + quick * im + bank->move_im[i];
        bank->lesson_re[i] += re;
        bank->lesson_im[i] += im;
        bank->move_re[i] += bank->slow[i] * re;
        bank->move_im[i] += bank->slow[i] * im;
        float next = bank->turn_re[i] * bank->step_re[i] - bank->turn_im[i] * bank->step_im[i];
        bank->turn_im[i] = bank->turn_re[i] * bank->step_im[i] + bank->turn_im[i] * bank->step_re[i];
        bank->turn_re[i] = next;
    }
}

THRUM_WIDE static void clean_piece(struct thrum_clean *clean, const float *x, float *y, size_t n)
{
    for (size_t t = 0; t < n; t++) {
        float left = x[t];
        for (int i = 0; i < THRUM_MAINS_MAX; i++)
            if (clean->bank[i].running)
                left -= hum_now(&clean->bank[i]);
        left *= clean->share;
        for (int i = 0; i < THRUM_MAINS_MAX; i++)
            if (clean->bank[i].running)
                learn_and_turn(&clean->bank[i], left);
        y[t] = left;
    }
    clean->at += n;
    clean->stretch -= (int)n;
}

static void end_window(struct thrum_clean *clean)
{
    for (int i = 0; i < THRUM_MAINS_MAX; i++)
        if (clean->bank[i].running)
            learn_near(&clean->bank[i]);
}

void thrum_clean_feed(struct thrum_clean *clean, const float *x, float *y, size_t n)
{
    while (n > 0) {
        if (clean->stretch % WINDOW == 0)
            end_window(clean);
        if (clean->stretch == 0)
            begin_stretch(clean);
        size_t until_new = thrum_mains_tracker_until_new(clean->tracker),
               piece = (size_t)((clean->stretch - 1) % WINDOW + 1);
        if (piece > until_new)
            piece = until_new;
        if (piece > n)
            piece = n;
        thrum_mains_tracker_feed(clean->tracker, x, piece); /* first: y may be x */
        clean_piece(clean, x, y, piece);
        if (piece == until_new)
            steer(clean);
        x += piece;
        y += piece;
        n -= piece;
    }
}
