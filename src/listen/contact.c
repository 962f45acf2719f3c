#include "listen/contact.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "thrum/units.h"

enum {
    FRAMES = 3000, /* THRUM_CONTACT_LOOK_S of frames */
    STEP = 8,      /* samples averaged before anything else: 1 kHz is plenty for the hum */
    BINS = 240     /* one per half dB, from -120 dB up */
};

#define CUTOFF_HZ   230.0 /* two poles: a sender's 300 Hz is heard a little, its 1000 Hz hardly */
#define BLOCK_DC_HZ 15.0
#define CONTRAST_DB 6.0  /* contact over air for the hum to tell */
#define SHORTEST_S  0.4  /* shorter contacts are bumps */
#define BRIDGE_S    0.12 /* shorter drops are not lifts */
#define EDGE_S      0.06 /* taken off at either end: the hand is still moving */
#define PIECE_S     24.0
#define SETTLE_S    0.3 /* a contact is finished when it has been over for so long */

struct thrum_contact {
    double rate_hz;
    double low1, low2, low_a; /* two equal low-pass poles */
    double dc, dc_a;
    double sum; /* of the samples of one step */
    int in_sum;
    double energy;
    int in_frame, frame_size;
    uint64_t frames;        /* made so far */
    float level_db[FRAMES]; /* ring by frame number */
    uint32_t histogram[BINS];
    uint64_t done; /* frames before this are given out */
};

enum thrum_status thrum_contact_create(double rate_hz, struct thrum_contact **contact)
{
    struct thrum_contact *c = calloc(1, sizeof *c);
    *contact = NULL;
    if (!c)
        return THRUM_ERR_MEM;
    c->rate_hz = rate_hz;
    c->frame_size = (int)(THRUM_CONTACT_FRAME_S * rate_hz / STEP + 0.5) * STEP;
    c->low_a = 1.0 - exp(-2.0 * THRUM_PI * CUTOFF_HZ * STEP / rate_hz);
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

static void add_frame(struct thrum_contact *c)
{
    size_t at = (size_t)(c->frames % FRAMES);
    if (c->frames >= FRAMES)
        c->histogram[bin_of(c->level_db[at])]--;
    c->level_db[at] = (float)thrum_db_from_power(2.0 * STEP * c->energy / c->frame_size);
    c->histogram[bin_of(c->level_db[at])]++;
    c->frames++;
    c->energy = 0.0;
    c->in_frame = 0;
}

/* One step of STEP samples; the mean over it is a low-pass in itself. */
static void add_step(struct thrum_contact *c)
{
    double x = c->sum / STEP;
    c->dc += c->dc_a * (x - c->dc);
    c->low1 += c->low_a * (x - c->dc - c->low1);
    c->low2 += c->low_a * (c->low1 - c->low2);
    c->energy += c->low2 * c->low2;
    c->sum = 0.0;
    c->in_sum = 0;
    c->in_frame += STEP;
    if (c->in_frame == c->frame_size)
        add_frame(c);
}

void thrum_contact_feed(struct thrum_contact *contact, const float *x, size_t n)
{
    struct thrum_contact *c = contact;
    for (size_t i = 0; i < n; i++) {
        c->sum += (double)x[i];
        if (++c->in_sum == STEP)
            add_step(c);
    }
}

static double percentile(const struct thrum_contact *c, double share)
{
    uint64_t held = c->frames < FRAMES ? c->frames : FRAMES;
    uint64_t wanted = (uint64_t)(share * (double)held), sum = 0;
    for (int i = 0; i < BINS; i++) {
        sum += c->histogram[i];
        if (sum > wanted)
            return 0.5 * i - 120.0;
    }
    return 0.0;
}

/* Level between air and contact; NAN when the hum does not tell. */
static double threshold(const struct thrum_contact *c)
{
    double air = percentile(c, 0.03), on = percentile(c, 0.85);
    return on - air >= CONTRAST_DB ? air + fmax(3.0, 0.5 * (on - air)) : (double)NAN;
}

static bool high(const struct thrum_contact *c, uint64_t frame, double over_db)
{
    return (double)c->level_db[frame % FRAMES] > over_db;
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

/* First frame from `from` on that belongs to the other state for at least BRIDGE_S; `frames` if none. */
static uint64_t state_ends(const struct thrum_contact *c, uint64_t from, bool state, double over_db)
{
    uint64_t bridge = (uint64_t)(BRIDGE_S / THRUM_CONTACT_FRAME_S), other = 0;
    for (uint64_t i = from; i < c->frames; i++) {
        other = high(c, i, over_db) == state ? 0 : other + 1;
        if (other == bridge)
            return i + 1 - bridge;
    }
    return c->frames - other;
}

bool thrum_contact_next(struct thrum_contact *contact, bool ended, struct thrum_contact_span *span)
{
    struct thrum_contact *c = contact;
    double over_db = threshold(c);
    uint64_t piece = (uint64_t)(PIECE_S / THRUM_CONTACT_FRAME_S),
             settle = (uint64_t)(SETTLE_S / THRUM_CONTACT_FRAME_S);
    uint64_t shortest = (uint64_t)(SHORTEST_S / THRUM_CONTACT_FRAME_S);
    if (isnan(over_db)) {
        if (c->frames - c->done >= piece || (ended && c->frames - c->done >= shortest))
            return give(c, c->done, c->frames - c->done >= piece ? c->done + piece : c->frames, false, span);
        return false;
    }
    while (c->done < c->frames) {
        bool on = high(c, c->done, over_db);
        uint64_t end = state_ends(c, c->done, on, over_db);
        bool finished = ended ? true : c->frames - end >= settle;
        if (on && end - c->done >= piece)
            return give(c, c->done, c->done + piece, true, span);
        if (!finished)
            return false;
        if (on && end - c->done >= shortest)
            return give(c, c->done, end, true, span);
        c->done = end > c->done ? end : c->done + 1;
    }
    return false;
}

bool thrum_contact_now(const struct thrum_contact *contact, uint64_t *since)
{
    const struct thrum_contact *c = contact;
    double over_db = threshold(c);
    uint64_t i = c->frames;
    if (c->frames == 0 || isnan(over_db) || !high(c, c->frames - 1, over_db))
        return false;
    while (i > c->done && high(c, i - 1, over_db))
        i--;
    *since = i * (uint64_t)c->frame_size;
    return true;
}
