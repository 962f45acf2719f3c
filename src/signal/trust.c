#include "signal/trust.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/wide.h"
#include "signal/extreme.h"
#include "signal/repeats.h"
#include "signal/sums.h"
#include "signal/zerorun.h"
#include "thrum/units.h"

enum {
    STEP = 8,   /* a block is a multiple of so many samples */
    BLOCKS = 12 /* 20 ms blocks in a piece */
};

#define BLOCK_S      0.02
#define HOLE_S       0.03 /* the pauses of a sender are longer */
#define DC_LIMIT     0.01
#define ZERO_SHARE   0.05
#define ONE_SIDED_DB 30.0
#define HEARD_DBFS   (-90.0) /* below this a channel says nothing about the other */
#define OPPOSITE     (-0.98) /* correlation */
#define OPPOSITE_DB  3.0

struct side {
    struct thrum_extreme high, low;
    double sum, squares;
    uint32_t bad;
    uint16_t zero;  /* bit per block: exactly zero */
    uint16_t holes; /* cut into the sound */
};

struct piece {
    uint64_t first;
    uint32_t frames;
    uint16_t blocks;
    uint16_t repeats;
    double across; /* sum of channel 0 times channel 1 */
    struct side side[THRUM_TRUST_CHANNELS];
};

struct thrum_trust {
    int channels, looked; /* in the input; looked at */
    int block, held;      /* frames of a block; frames in it */
    int pieces;           /* in the ring */
    int now;              /* the piece being filled */
    int longest_hole;     /* frames */
    uint64_t frames;      /* fed */
    struct piece *ring;   /* [pieces] */
    float *x;             /* [looked][block] */
    uint32_t *mixed;      /* [block] one number per frame */
    uint32_t bad[THRUM_TRUST_CHANNELS];
    struct thrum_zerorun zeros[THRUM_TRUST_CHANNELS];
    struct thrum_repeats *repeats;
};

enum thrum_status thrum_trust_create(double rate_hz, int channels, struct thrum_trust **trust)
{
    *trust = NULL;
    if (!(rate_hz >= THRUM_RATE_MIN_HZ && rate_hz <= THRUM_RATE_MAX_HZ) || channels < 1 || channels > 64)
        return THRUM_ERR_ARG;
    struct thrum_trust *t = calloc(1, sizeof *t);
    if (!t)
        return THRUM_ERR_MEM;
    t->channels = channels;
    t->looked = channels < THRUM_TRUST_CHANNELS ? channels : THRUM_TRUST_CHANNELS;
    t->block = (int)lrint(rate_hz * BLOCK_S / STEP) * STEP;
    t->longest_hole = (int)(rate_hz * HOLE_S);
    t->pieces = (int)(THRUM_TRUST_KEEP_S * rate_hz / (t->block * BLOCKS)) + 2;
    t->ring = calloc((size_t)t->pieces, sizeof *t->ring);
    t->x = calloc((size_t)t->looked * (size_t)t->block, sizeof *t->x);
    t->mixed = calloc((size_t)t->block, sizeof *t->mixed);
    if (thrum_repeats_create(&t->repeats) || !t->ring || !t->x || !t->mixed)
        goto fail;
    thrum_trust_reset(t);
    *trust = t;
    return THRUM_OK;
fail:
    thrum_trust_destroy(t);
    return THRUM_ERR_MEM;
}

void thrum_trust_destroy(struct thrum_trust *trust)
{
    if (!trust)
        return;
    thrum_repeats_destroy(trust->repeats);
    free(trust->ring);
    free(trust->x);
    free(trust->mixed);
    free(trust);
}

static void begin_piece(struct thrum_trust *trust, uint64_t first)
{
    struct piece *piece = &trust->ring[trust->now];
    memset(piece, 0, sizeof *piece);
    piece->first = first;
    for (int c = 0; c < trust->looked; c++)
        piece->side[c].high.value = piece->side[c].low.value = -INFINITY;
}

void thrum_trust_reset(struct thrum_trust *trust)
{
    trust->held = 0;
    trust->now = 0;
    trust->frames = 0;
    memset(trust->ring, 0, (size_t)trust->pieces * sizeof *trust->ring);
    memset(trust->bad, 0, sizeof trust->bad);
    memset(trust->zeros, 0, sizeof trust->zeros);
    thrum_repeats_reset(trust->repeats);
    begin_piece(trust, 0);
}

uint64_t thrum_trust_frames(const struct thrum_trust *trust)
{
    return trust->frames;
}

static double sum_across(const float *a, const float *b, int n)
{
    float sum[STEP] = {0};
    double all = 0.0;
    for (int i = 0; i < n; i += STEP)
        for (int k = 0; k < STEP; k++)
            sum[k] += a[i + k] * b[i + k];
    for (int k = 0; k < STEP; k++)
        all += (double)sum[k];
    return all;
}

static void end_block(struct thrum_trust *trust)
{
    struct piece *piece = &trust->ring[trust->now];
    int n = trust->block;
    for (int c = 0; c < trust->looked; c++) {
        const float *x = trust->x + (size_t)c * (size_t)n;
        struct side *side = &piece->side[c];
        struct thrum_sums s = thrum_sums_of(x, n);
        side->sum += s.sum;
        side->squares += s.squares;
        side->bad += trust->bad[c];
        trust->bad[c] = 0;
        if (s.high == 0.0f && s.low == 0.0f)
            side->zero |= (uint16_t)(1u << piece->blocks);
        side->holes =
            (uint16_t)(side->holes + thrum_zerorun_feed(&trust->zeros[c], x, n, trust->longest_hole));
        thrum_extreme_add(&side->high, x, n, s.high, 1.0f);
        thrum_extreme_add(&side->low, x, n, s.low, -1.0f);
    }
    if (trust->looked > 1)
        piece->across += sum_across(trust->x, trust->x + n, n);
    piece->repeats = (uint16_t)(piece->repeats + thrum_repeats_feed(trust->repeats, trust->mixed, n));
    piece->frames += (uint32_t)n;
    piece->blocks++;
    trust->held = 0;
    if (piece->blocks == BLOCKS) {
        trust->now = (trust->now + 1) % trust->pieces;
        begin_piece(trust, piece->first + piece->frames);
    }
}

/* Takes one channel out of the input, counts and zeroes what is no number, and folds all channels into one number per
   frame. Returns how many were no number. */
static inline uint32_t take_channel(const float *samples, size_t stride, bool first, int n, float *x,
                                    uint32_t *mixed)
{
    uint32_t bad = 0;
    for (int i = 0; i < n; i++) {
        uint32_t bits;
        memcpy(&bits, &samples[(size_t)i * stride], sizeof bits);
        uint32_t is_bad = (bits & 0x7f800000u) == 0x7f800000u; /* NaN or infinity, by its bits */
        bad += is_bad;
        bits &= is_bad - 1u;
        memcpy(&x[i], &bits, sizeof bits);
        mixed[i] = first ? bits : (mixed[i] << 5 | mixed[i] >> 27) ^ bits;
    }
    return bad;
}

/* Takes n frames of the input apart into the block; no more than fit. */
THRUM_WIDE static void hold(struct thrum_trust *trust, const float *samples, int n)
{
    uint32_t *mixed = trust->mixed + trust->held;
    for (int c = 0; c < trust->looked; c++) {
        float *x = trust->x + (size_t)c * (size_t)trust->block + trust->held;
        if (trust->channels == 1) /* the everyday case, which the compiler can do several at once */
            trust->bad[c] += take_channel(samples, 1, true, n, x, mixed);
        else
            trust->bad[c] += take_channel(samples + c, (size_t)trust->channels, c == 0, n, x, mixed);
    }
    trust->held += n;
    trust->frames += (uint64_t)n;
}

void thrum_trust_feed(struct thrum_trust *trust, const float *samples, size_t n_frames)
{
    while (n_frames > 0) {
        int take = trust->block - trust->held;
        if ((size_t)take > n_frames)
            take = (int)n_frames;
        hold(trust, samples, take);
        samples += (size_t)take * (size_t)trust->channels;
        n_frames -= (size_t)take;
        if (trust->held == trust->block)
            end_block(trust);
    }
}

/* ---- reports ---- */

static bool in_span(const struct piece *piece, uint64_t first, uint64_t end, bool half)
{
    uint64_t from = piece->first > first ? piece->first : first, to = piece->first + piece->frames;
    to = to < end ? to : end;
    if (piece->frames == 0 || to <= from)
        return false;
    return !half || 2 * (to - from) >= piece->frames;
}

/* Zero blocks between sounds, in how many places, of how many blocks. */
struct gaps {
    uint32_t blocks, zero, places;
    uint32_t pending; /* zero blocks since the last sound */
    bool sound;       /* there was one */
};

static void join_gaps(struct gaps *gaps, const struct piece *piece, uint16_t zero)
{
    for (int b = 0; b < piece->blocks; b++) {
        if ((unsigned)zero >> b & 1u) {
            gaps->pending += gaps->sound;
            continue;
        }
        gaps->zero += gaps->pending;
        gaps->blocks += gaps->pending + 1;
        gaps->places += gaps->pending > 0;
        gaps->pending = 0;
        gaps->sound = true;
    }
}

struct whole {
    struct side side[THRUM_TRUST_CHANNELS];
    struct gaps gaps[THRUM_TRUST_CHANNELS];
    double across;
    uint64_t frames;
    int repeats;
};

static void join(const struct thrum_trust *trust, uint64_t first, uint64_t end, bool half,
                 struct whole *whole)
{
    memset(whole, 0, sizeof *whole);
    for (int c = 0; c < trust->looked; c++)
        whole->side[c].high.value = whole->side[c].low.value = -INFINITY;
    for (int i = 1; i <= trust->pieces; i++) { /* oldest first */
        const struct piece *piece = &trust->ring[(trust->now + i) % trust->pieces];
        if (!in_span(piece, first, end, half))
            continue;
        for (int c = 0; c < trust->looked; c++) {
            struct side *all = &whole->side[c];
            const struct side *one = &piece->side[c];
            thrum_extreme_join(&all->high, &one->high);
            thrum_extreme_join(&all->low, &one->low);
            join_gaps(&whole->gaps[c], piece, one->zero);
            all->sum += one->sum;
            all->squares += one->squares;
            all->bad += one->bad;
            all->holes = (uint16_t)(all->holes + one->holes);
        }
        whole->across += piece->across;
        whole->frames += piece->frames;
        whole->repeats += piece->repeats;
    }
}

static double ac_power(const struct side *side, uint64_t frames)
{
    double n = (double)frames, mean = side->sum / n;
    return fmax(side->squares / n - mean * mean, 0.0);
}

static bool is_constant(const struct side *side)
{
    return side->high.value == -side->low.value; /* low is kept with its sign turned */
}

static void report_side(const struct whole *whole, int c, struct thrum_trust_report *report)
{
    const struct side *side = &whole->side[c];
    const struct gaps *gaps = &whole->gaps[c];
    double dc = side->sum / (double)whole->frames;
    double share = gaps->blocks ? (double)gaps->zero / gaps->blocks : 0.0;
    report->bad_samples += side->bad;
    report->holes = side->holes > report->holes ? side->holes : report->holes;
    if (fabs(dc) > fabs(report->dc))
        report->dc = dc;
    report->ac_dbfs = fmax(report->ac_dbfs, thrum_db_from_power(2.0 * ac_power(side, whole->frames)));
    report->peak_dbfs = fmax(
        report->peak_dbfs, thrum_db_from_amplitude(fmax((double)side->high.value, (double)side->low.value)));
    report->zero_share = fmax(report->zero_share, share);
    if (side->bad)
        report->faults |= THRUM_FAULT_NOT_FINITE;
    if (is_constant(side))
        return;
    if (thrum_extremes_clipped(&side->high, &side->low, whole->frames))
        report->faults |= THRUM_FAULT_CLIPPED;
    if (fabs(dc) > DC_LIMIT)
        report->faults |= THRUM_FAULT_DC;
    if (share > ZERO_SHARE && gaps->places >= 2)
        report->faults |= THRUM_FAULT_GATED;
}

/* What only several channels together show. */
static uint32_t pair_faults(const struct thrum_trust *trust, const struct whole *whole)
{
    uint32_t faults = 0;
    double loudest = THRUM_FLOOR_DBFS, softest = 1e9;
    for (int c = 0; c < trust->looked; c++) {
        double level = thrum_db_from_power(2.0 * ac_power(&whole->side[c], whole->frames));
        loudest = fmax(loudest, level);
        softest = fmin(softest, level);
    }
    if (trust->looked < 2 || loudest < HEARD_DBFS)
        return 0;
    if (loudest - softest > ONE_SIDED_DB)
        faults |= THRUM_FAULT_ONE_SIDED;
    double n = (double)whole->frames, a = ac_power(&whole->side[0], whole->frames),
           b = ac_power(&whole->side[1], whole->frames);
    double across = whole->across / n - whole->side[0].sum / n * (whole->side[1].sum / n);
    if (fabs(thrum_db_from_power(a) - thrum_db_from_power(b)) < OPPOSITE_DB &&
        across < OPPOSITE * sqrt(a * b))
        faults |= THRUM_FAULT_CANCELLING;
    return faults;
}

void thrum_trust_report(const struct thrum_trust *trust, uint64_t first, uint64_t end, int channel,
                        struct thrum_trust_report *report)
{
    struct whole whole;
    *report = (struct thrum_trust_report){.ac_dbfs = THRUM_FLOOR_DBFS, .peak_dbfs = THRUM_FLOOR_DBFS};
    join(trust, first, end, true, &whole);
    if (whole.frames == 0)
        join(trust, first, end, false, &whole);
    if (whole.frames == 0)
        return;
    report->frames = whole.frames;
    report->repeats = whole.repeats;
    bool silent = true;
    for (int c = 0; c < trust->looked; c++) {
        silent = silent && is_constant(&whole.side[c]);
        if (channel < 0 || channel == c)
            report_side(&whole, c, report);
    }
    if (silent)
        report->faults |= THRUM_FAULT_SILENT;
    if (whole.repeats > 0 || report->holes > 0)
        report->faults |= THRUM_FAULT_LOST;
    report->faults |= pair_faults(trust, &whole);
}
