#include "listen/contact.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "signal/kaiser.h"
#include "thrum/units.h"

enum {
    FRAMES = 3000, /* THRUM_CONTACT_LOOK_S of frames */
    STEP = 8,      /* one of so many samples is kept, through a filter: 1 kHz is plenty for the hum */
    TAPS = 80,     /* of that filter, rounded up with zeros */
    LANES = 8,
    CALM = 9,  /* frames of the running median: bumps shorter than half of it are not heard */
    BINS = 240 /* one per half dB, from -120 dB up */
};

#define CUTOFF_HZ   190.0 /* four poles: up to the third harmonic of the mains; a sender begins at 300 Hz */
#define FOLDED_DB   90.0  /* what would fold down onto the hum is so much weaker */
#define BLOCK_DC_HZ 15.0
#define CONTRAST_DB 6.0  /* contact over air for the hum to tell */
#define APART_DB    3.0  /* the border keeps so far from both */
#define DEEPEST_DB  12.0 /* the air need not be further below the louder wires */
#define NEAR_DB     1.0  /* levels as near as this count as met... */
#define FEW         10   /* ...and so many frames, 0.2 s, as hardly any */
#define LEAVE_DB    4.0  /* a wire is left where its own hum falls by so much... */
#define LEAST_DB    2.0  /* ...or to this near the air */
#define SHORTEST_S  0.4  /* shorter contacts are bumps */
#define BRIDGE_S    0.12 /* shorter drops are not lifts */
#define EDGE_S      0.06 /* taken off at either end: the hand is still moving */
#define PIECE_S     24.0
#define SETTLE_S    0.3 /* a contact is finished when it has been over for so long */

/* Two poles and two zeros, transposed. */
struct section {
    double b0, b1, a1, a2; /* b2 = b0 */
    double s1, s2;
};

/* Levels of the air, and between it and contact. */
struct border {
    double air_db, db;
};

struct thrum_contact {
    double rate_hz;
    struct section low[2]; /* low-pass */
    double dc, dc_a;
    float taps[TAPS], past[TAPS]; /* oldest first */
    int in_step;
    double energy;
    int in_frame, frame_size;
    bool sounding; /* a sample of this frame was not exactly zero */
    float newest_db[CALM];
    uint64_t levels; /* made so far */
    uint64_t frames; /* of those, with their median */
    bool ended;
    float level_db[FRAMES]; /* ring by frame number */
    uint32_t histogram[BINS];
    uint64_t done; /* frames before this are given out... */
    bool on;       /* ...and there the probe was on a wire */
};

/* Second-order low-pass by the bilinear transform; Butterworth of four poles: quality 0.5412 and 1.3066. */
static struct section low_pass(double cutoff, double quality)
{
    double k = tan(THRUM_PI * cutoff), norm = 1.0 / (1.0 + k / quality + k * k);
    return (struct section){.b0 = k * k * norm,
                            .b1 = 2.0 * k * k * norm,
                            .a1 = 2.0 * (k * k - 1.0) * norm,
                            .a2 = (1.0 - k / quality + k * k) * norm};
}

static double pass(struct section *s, double x)
{
    double y = s->b0 * x + s->s1;
    s->s1 = s->b1 * x - s->a1 * y + s->s2;
    s->s2 = s->b0 * x - s->a2 * y;
    return y;
}

static void make_taps(struct thrum_contact *c)
{
    double pass_hz = CUTOFF_HZ / c->rate_hz, stop_hz = 1.0 / STEP - pass_hz, design[TAPS];
    int half = thrum_kaiser_half(pass_hz, stop_hz, FOLDED_DB);
    half = 2 * half + 1 > TAPS ? (TAPS - 1) / 2 : half;
    thrum_kaiser_lowpass(pass_hz, stop_hz, FOLDED_DB, half, design);
    for (int i = 0; i <= 2 * half; i++)
        c->taps[i] = (float)design[i];
}

enum thrum_status thrum_contact_create(double rate_hz, struct thrum_contact **contact)
{
    struct thrum_contact *c = calloc(1, sizeof *c);
    *contact = NULL;
    if (!c)
        return THRUM_ERR_MEM;
    c->rate_hz = rate_hz;
    c->frame_size = (int)(THRUM_CONTACT_FRAME_S * rate_hz / STEP + 0.5) * STEP;
    make_taps(c);
    c->low[0] = low_pass(CUTOFF_HZ * STEP / rate_hz, 0.5412);
    c->low[1] = low_pass(CUTOFF_HZ * STEP / rate_hz, 1.3066);
    c->dc_a = 1.0 - exp(-2.0 * THRUM_PI * BLOCK_DC_HZ * STEP / rate_hz);
    *contact = c;
    return THRUM_OK;
}

void thrum_contact_destroy(struct thrum_contact *contact)
{
    free(contact);
}

static int bin_of(float db)
{
    int bin = (int)((db + 120.0f) * 2.0f);
    return bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin;
}

static float median(const float *x)
{
    float sorted[CALM];
    for (int i = 0; i < CALM; i++) {
        int at = i;
        for (; at > 0 && sorted[at - 1] > x[i]; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = x[i];
    }
    return sorted[CALM / 2];
}

/* A new level; with it the frame CALM / 2 before gets its median, which keeps edges but not a beep's clicks. */
static void add_level(struct thrum_contact *c, float db)
{
    memmove(c->newest_db, c->newest_db + 1, (CALM - 1) * sizeof *c->newest_db);
    c->newest_db[CALM - 1] = db;
    if (c->levels++ == 0)
        for (int i = 0; i < CALM; i++)
            c->newest_db[i] = db;
    if (c->levels <= CALM / 2)
        return;
    size_t at = (size_t)(c->frames % FRAMES);
    if (c->frames >= FRAMES)
        c->histogram[bin_of(c->level_db[at])]--;
    c->level_db[at] = median(c->newest_db);
    c->histogram[bin_of(c->level_db[at])]++;
    c->frames++;
}

static void add_frame(struct thrum_contact *c)
{
    /* digital silence is silent at once, whatever still rings in the filters */
    double power = c->sounding ? 2.0 * STEP * c->energy / c->frame_size : 0.0;
    add_level(c, (float)thrum_db_from_power(power));
    c->sounding = false;
    c->energy = 0.0;
    c->in_frame = 0;
}

/* At the end the last level goes on, so that the last frames get their medians too. */
static void end_levels(struct thrum_contact *c)
{
    if (!c->ended && c->levels > 0)
        for (int i = 0; i < CALM / 2; i++)
            add_level(c, c->newest_db[CALM - 1]);
    c->ended = true;
}

/* The filter's answer, in a fixed order of sums. */
THRUM_WIDE static float filtered(const struct thrum_contact *c)
{
    float sum[LANES] = {0};
    for (int i = 0; i < TAPS; i += LANES)
        for (int k = 0; k < LANES; k++)
            sum[k] += c->taps[i + k] * c->past[i + k];
    for (int width = LANES / 2; width > 0; width /= 2)
        for (int k = 0; k < width; k++)
            sum[k] += sum[k + width];
    return sum[0];
}

static void add_step(struct thrum_contact *c)
{
    double x = (double)filtered(c);
    memmove(c->past, c->past + STEP, (TAPS - STEP) * sizeof *c->past);
    c->in_step = 0;
    c->dc += c->dc_a * (x - c->dc);
    x = pass(&c->low[1], pass(&c->low[0], x - c->dc));
    c->energy += x * x;
    c->in_frame += STEP;
    if (c->in_frame == c->frame_size)
        add_frame(c);
}

void thrum_contact_feed(struct thrum_contact *contact, const float *x, size_t n)
{
    struct thrum_contact *c = contact;
    while (n > 0) {
        size_t room = (size_t)(STEP - c->in_step), take = n < room ? n : room;
        memcpy(c->past + TAPS - room, x, take * sizeof *x);
        for (size_t i = 0; i < take; i++)
            c->sounding |= fabsf(x[i]) > 0.0f;
        c->in_step += (int)take;
        if (c->in_step == STEP)
            add_step(c);
        x += take;
        n -= take;
    }
}

static double percentile(const struct thrum_contact *c, double share)
{
    uint64_t held =
        (c->frames < FRAMES ? c->frames : FRAMES) - c->histogram[0]; /* digital silence is not air */
    uint64_t wanted = (uint64_t)(share * (double)held), sum = 0;
    for (int i = 1; i < BINS; i++) {
        sum += c->histogram[i];
        if (sum > wanted)
            return 0.5 * i - 120.0;
    }
    return 0.0;
}

/* Frames within NEAR_DB of a level. */
static uint32_t frames_near(const struct thrum_contact *c, double db)
{
    int middle = bin_of((float)db), reach = (int)(2.0 * NEAR_DB);
    uint32_t sum = 0;
    for (int i = middle - reach; i <= middle + reach; i++)
        sum += i > 0 && i < BINS ? c->histogram[i] : 0;
    return sum;
}

/* The middle of the lowest levels from `from` to `to` that are hardly met: the air is alike in all lifts, wires differ. */
static double first_gap(const struct thrum_contact *c, double from, double to)
{
    uint32_t least = UINT32_MAX;
    double begins = to, ends = from;
    for (double db = from; db <= to; db += 0.5)
        least = frames_near(c, db) < least ? frames_near(c, db) : least;
    for (double db = from; db <= to; db += 0.5) {
        bool hardly = frames_near(c, db) <= least + FEW;
        if (!hardly && ends >= begins)
            break;
        begins = hardly ? fmin(begins, db) : begins;
        ends = hardly ? db : ends;
    }
    return 0.5 * (begins + ends);
}

/* Between air and contact, no deeper than a lift needs: a mute input before the walk is far below any air. NAN when the hum
 * does not tell. */
static struct border border_now(const struct thrum_contact *c)
{
    double air = percentile(c, 0.03), on = percentile(c, 0.85);
    double from = fmax(air + APART_DB, on - DEEPEST_DB);
    struct border border = {air, (double)NAN};
    if (on - air >= CONTRAST_DB)
        border.db = first_gap(c, from, fmax(on - APART_DB, from));
    return border;
}

static bool give(struct thrum_contact *c, uint64_t from, uint64_t to, bool told,
                 struct thrum_contact_span *span)
{
    uint64_t edge = told ? (uint64_t)(EDGE_S / THRUM_CONTACT_FRAME_S) : 0;
    c->done = to;
    *span = (struct thrum_contact_span){(from + edge) * (uint64_t)c->frame_size,
                                        (to - edge) * (uint64_t)c->frame_size, told};
    return true;
}

/* Is the probe in the air at this frame, having been on a wire of this level? A wire with little hum is left where its own hum
 * goes, not where that of others would. */
static bool is_air(const struct border *border, double level_db, double wire_db)
{
    return level_db <= fmin(border->db, fmax(wire_db - LEAVE_DB, border->air_db + LEAST_DB));
}

/* First frame from `from` on that belongs to the other state for at least BRIDGE_S; `frames` if none. */
static uint64_t state_ends(const struct thrum_contact *c, uint64_t from, bool on, const struct border *border)
{
    uint64_t bridge = (uint64_t)(BRIDGE_S / THRUM_CONTACT_FRAME_S), other = 0;
    double sum_db = 0.0;
    for (uint64_t i = from; i < c->frames; i++) {
        double db = (double)c->level_db[i % FRAMES];
        sum_db += db;
        bool changed = on ? is_air(border, db, sum_db / (double)(i - from + 1)) : db > border->db;
        other = changed ? other + 1 : 0;
        if (other == bridge)
            return i + 1 - bridge;
    }
    return c->frames - other;
}

static bool next_untold(struct thrum_contact *c, bool ended, struct thrum_contact_span *span)
{
    uint64_t piece = (uint64_t)(PIECE_S / THRUM_CONTACT_FRAME_S), there = c->frames - c->done;
    uint64_t shortest = (uint64_t)(SHORTEST_S / THRUM_CONTACT_FRAME_S);
    c->on = false;
    if (there >= piece || (ended && there >= shortest))
        return give(c, c->done, there >= piece ? c->done + piece : c->frames, false, span);
    return false;
}

bool thrum_contact_next(struct thrum_contact *contact, bool ended, struct thrum_contact_span *span)
{
    struct thrum_contact *c = contact;
    if (ended)
        end_levels(c);
    struct border border = border_now(c);
    uint64_t piece = (uint64_t)(PIECE_S / THRUM_CONTACT_FRAME_S),
             settle = (uint64_t)(SETTLE_S / THRUM_CONTACT_FRAME_S);
    uint64_t shortest = (uint64_t)(SHORTEST_S / THRUM_CONTACT_FRAME_S);
    if (isnan(border.db))
        return next_untold(c, ended, span);
    while (c->done < c->frames) {
        uint64_t from = c->done, end = state_ends(c, from, c->on, &border);
        if (c->on && end - from >= piece)
            return give(c, from, from + piece, true, span);
        if (!ended && c->frames - end < settle)
            return false;
        bool was_on = c->on;
        c->on = !was_on;
        c->done = end;
        if (was_on && end - from >= shortest)
            return give(c, from, end, true, span);
    }
    return false;
}

bool thrum_contact_now(const struct thrum_contact *contact, uint64_t *since)
{
    const struct thrum_contact *c = contact;
    struct border border = border_now(c);
    uint64_t from = c->done, bridge = (uint64_t)(BRIDGE_S / THRUM_CONTACT_FRAME_S);
    bool on = c->on;
    if (isnan(border.db))
        return false;
    for (uint64_t end; c->frames - (end = state_ends(c, from, on, &border)) >= bridge; from = end)
        on = !on;
    *since = from * (uint64_t)c->frame_size;
    return on;
}
