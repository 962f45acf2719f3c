#include "sound/rate_watch.h"

#include <math.h>
#include <stddef.h>

#define SLOT_S 0.18
#define ALIKE  0.5  /* of the mean, that a slot may differ from it: a poll that is late */
#define NEAR   0.02 /* of a usual rate: what the ends of the slots leave open, and a card's own clock */
#define FAR    0.04 /* from the rate believed: no clock is that bad */
#define USUALS (sizeof usual_hz / sizeof *usual_hz)

static const double usual_hz[] = {8000.0,  11025.0, 12000.0, 16000.0, 22050.0, 24000.0,  32000.0,
                                  44100.0, 48000.0, 64000.0, 88200.0, 96000.0, 176400.0, 192000.0};

static void begin(struct rate_watch *w, uint64_t now_ns)
{
    w->slot = 0;
    w->slot_ns = now_ns;
    w->looks = 0;
}

void rate_watch_start(struct rate_watch *w, double rate_hz, uint64_t now_ns)
{
    *w = (struct rate_watch){.rate_hz = rate_hz, .start_ns = now_ns};
    begin(w, now_ns);
}

static double gain_between(const struct rate_watch *w, int from, int to)
{
    return (w->ahead[to] - w->ahead[from]) / (w->at_s[to] - w->at_s[from]);
}

/* Frames gained in a second; 0 when the slots do not agree. */
static double steady_gain(const struct rate_watch *w)
{
    double mean = gain_between(w, 0, RATE_WATCH_SLOTS - 1);
    for (int i = 1; i < RATE_WATCH_SLOTS; i++)
        if (fabs(gain_between(w, i - 1, i) - mean) > ALIKE * fabs(mean))
            return 0.0;
    return mean;
}

static double usual(double rate_hz)
{
    for (size_t i = 0; i < USUALS; i++)
        if (fabs(rate_hz / usual_hz[i] - 1.0) < NEAR)
            return usual_hz[i];
    return 0.0;
}

/* A slot is over. */
static double judge(struct rate_watch *w)
{
    if (w->slot + 1 < RATE_WATCH_SLOTS) {
        w->slot++;
        return 0.0;
    }
    double found_hz = usual(w->rate_hz + steady_gain(w));
    for (int i = 1; i < RATE_WATCH_SLOTS; i++) {
        w->ahead[i - 1] = w->ahead[i];
        w->at_s[i - 1] = w->at_s[i];
    }
    return fabs(found_hz / w->rate_hz - 1.0) > FAR ? found_hz : 0.0;
}

static void note(struct rate_watch *w, double at_s, double ahead)
{
    if (w->looks++ == 0 || ahead > w->ahead[w->slot]) {
        w->ahead[w->slot] = ahead;
        w->at_s[w->slot] = at_s;
    }
}

double rate_watch_look(struct rate_watch *w, uint64_t now_ns, uint64_t came, bool overflow)
{
    double in_slot_s = (double)(now_ns - w->slot_ns) * 1e-9, found_hz = 0.0;
    bool alone = overflow && !w->flagged;
    if (alone || in_slot_s >= 2.0 * SLOT_S) {
        begin(w, now_ns);
    } else if (in_slot_s >= SLOT_S) {
        found_hz = judge(w);
        w->slot_ns += (uint64_t)(SLOT_S * 1e9);
        w->looks = 0;
    }
    if (found_hz > 0.0)
        rate_watch_start(w, found_hz, now_ns);
    w->flagged = overflow;
    double at_s = (double)(now_ns - w->start_ns) * 1e-9;
    note(w, at_s, (double)came - at_s * w->rate_hz);
    return found_hz;
}
