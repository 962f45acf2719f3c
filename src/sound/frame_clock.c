#include "sound/frame_clock.h"

#define SETTLE_S        0.5
#define WINDOW_S        1.0
#define WINDOW_LOOKS    20
#define FEW_FLAGS       3     /* in a window; a driver that flags more often flags everything */
#define AT_ONCE_FROM_S  1.0   /* before that it is not known yet whether frames come at another rate */
#define AT_ONCE_MIN_S   0.03  /* flagged: a rise by this much is a loss on the spot */
#define FLAGGED_MIN_S   0.005 /* flagged now and then: a rise that stays */
#define UNFLAGGED_MIN_S 0.05  /* not flagged: a rise that stays */
#define JITTERS         1.5

void frame_clock_start(struct frame_clock *c, double rate_hz, uint64_t now_ns)
{
    *c = (struct frame_clock){.rate_hz = rate_hz, .start_ns = now_ns, .window_ns = now_ns};
}

static void new_window(struct frame_clock *c, uint64_t now_ns, double behind)
{
    c->window_ns = now_ns;
    c->low = behind;
    c->high = behind;
    c->looks = 0;
    c->flags = 0;
}

static void settle(struct frame_clock *c, uint64_t now_ns, double behind, double elapsed_s)
{
    if (c->looks == 0)
        c->base = c->low = c->high = behind;
    c->looks++;
    c->base = behind < c->base ? behind : c->base;
    if (elapsed_s >= SETTLE_S) {
        c->settled = true;
        new_window(c, now_ns, behind);
    }
}

/* After a loss that was told on the spot the window shows by how much that was wrong: the next one mends it, so that errors do not
 * add up. */
static double untold(struct frame_clock *c)
{
    double rise = c->low - (c->pending ? c->reference : c->base - c->owed);
    c->pending = false;
    return rise;
}

/* The lowest of a whole window has risen: a loss, or the card's clock being a little off. */
static double close_window(struct frame_clock *c)
{
    double least_s = c->flags > 0 && c->flags <= FEW_FLAGS ? FLAGGED_MIN_S : UNFLAGGED_MIN_S;
    if (c->looks < WINDOW_LOOKS)
        return 0.0;
    c->jitter = c->high - c->low;
    bool mended = c->pending;
    double rise = c->low - c->base, lost = untold(c);
    if (lost > least_s * c->rate_hz && (mended || rise > least_s * c->rate_hz)) {
        c->base = c->low - lost;
        c->owed = 0.0;
        return lost;
    }
    c->owed = mended ? lost : c->owed;
    c->base = c->low;
    return 0.0;
}

static double at_once(const struct frame_clock *c)
{
    double least = AT_ONCE_MIN_S * c->rate_hz;
    return least > JITTERS * c->jitter ? least : JITTERS * c->jitter;
}

/* What was told wrongly before is put right with it. */
static double tell_at_once(struct frame_clock *c, double lost)
{
    double owed = c->pending ? 0.0 : c->owed;
    if (!c->pending) {
        c->reference = c->base - owed;
        c->pending = true;
        c->owed = 0.0;
    }
    return lost + owed > 0.0 ? lost + owed : 0.0;
}

uint64_t frame_clock_missing(const struct frame_clock *c, uint64_t last_ns, uint64_t seen)
{
    double rise = (double)(last_ns - c->start_ns) * 1e-9 * c->rate_hz - (double)seen - c->base;
    return c->settled && rise > at_once(c) ? (uint64_t)(rise + 0.5) : 0;
}

uint64_t frame_clock_look(struct frame_clock *c, uint64_t now_ns, uint64_t seen, bool overflow)
{
    double elapsed_s = (double)(now_ns - c->start_ns) * 1e-9;
    double behind = elapsed_s * c->rate_hz - (double)seen;
    if (!c->settled) {
        settle(c, now_ns, behind, elapsed_s);
        return 0;
    }
    c->base = behind < c->base ? behind : c->base;
    c->low = behind < c->low ? behind : c->low;
    c->high = behind > c->high ? behind : c->high;
    c->looks++;
    if (overflow && c->flags++ == 0) { /* the first one begins a window, so that a rise shows in its lowest */
        new_window(c, now_ns, behind);
        c->flags = 1;
    }
    double lost = 0.0;
    if (overflow && elapsed_s > AT_ONCE_FROM_S && behind - c->base > at_once(c)) {
        lost = behind - c->base - 0.5 * c->jitter; /* behind is somewhere in its jitter */
        lost = tell_at_once(c, lost);
        new_window(c, now_ns, behind - lost);
    } else if ((double)(now_ns - c->window_ns) * 1e-9 >= WINDOW_S) {
        lost = close_window(c);
        new_window(c, now_ns, behind - lost);
    }
    return (uint64_t)(lost + 0.5);
}
