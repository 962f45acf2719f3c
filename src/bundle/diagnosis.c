#include "bundle/diagnosis.h"

#include <math.h>

/* dB per minute: a trend smaller than that changes no round. */
#define LEAST_SAG 0.2
/* So far above the third a wire stands out; in standard errors, and at least in dB. */
#define OUT_ERRORS 3.0
#define OUT_DB     6.0
/* Two wires nearer than this are alike; a return or a splice lies within this of the driven wire. Common practice, no source:
 * a neighbour among tied wires lies 11 dB and more below. */
#define ALIKE_DB  3.0
#define RETURN_DB 6.0
/* Others by which a pair can be told to stand out. */
enum { OTHERS = 2 };

/* The two strongest wires that may be it, against the strongest of the rest. */
struct top {
    const struct thrum_wire_rank *first, *second; /* NULL where they were not heard */
    double third_db;
    int others; /* touched */
};

static double most_of(const struct thrum_wire_rank *rank)
{
    return rank->heard ? rank->dbfs : rank->high_db;
}

static struct top top_of(const struct thrum_placement *p, const struct thrum_pick *pick)
{
    struct top top = {.third_db = THRUM_FLOOR_DBFS};
    for (int i = 0; i < pick->n_ranked; i++) {
        const struct thrum_wire_rank *rank = &pick->rank[i], *down = rank;
        if (rank->touches == 0 || p->apart[rank->wire])
            continue;
        if (rank->heard && (!top.first || rank->dbfs > top.first->dbfs)) {
            down = top.second;
            top.second = top.first;
            top.first = rank;
        } else if (rank->heard && (!top.second || rank->dbfs > top.second->dbfs)) {
            down = top.second;
            top.second = rank;
        }
        if (down) {
            top.third_db = fmax(top.third_db, most_of(down));
            top.others++;
        }
    }
    return top;
}

/* Standard error of the difference of the two. */
static double error_of(const struct top *top)
{
    return hypot(top->first->high_db - top->first->dbfs, top->second->high_db - top->second->dbfs) / 1.96;
}

static uint32_t diagnose_pair(const struct top *top, enum thrum_outcome outcome)
{
    if (!top->second || top->others < OTHERS)
        return 0;
    double sd = error_of(top), lead = top->first->dbfs - top->second->dbfs;
    if (top->second->dbfs - top->third_db < fmax(OUT_DB, OUT_ERRORS * sd))
        return 0;
    if (outcome == THRUM_TOO_CLOSE && lead < fmin(2.0 * sd, ALIKE_DB))
        return THRUM_NOTE_TWO_EQUAL;
    return lead < RETURN_DB ? THRUM_NOTE_RETURN : 0;
}

static bool any_apart(const struct thrum_placement *p)
{
    for (int k = 0; k < p->n_wires; k++)
        if (p->apart[k])
            return true;
    return false;
}

uint32_t thrum_diagnosis(const struct thrum_placement *p, int untouched, const struct thrum_pick *pick)
{
    uint32_t notes = 0;
    bool left_out = any_apart(p);
    if (pick->outcome == THRUM_NO_TONE)
        notes |= left_out ? 0u : THRUM_NOTE_CHECK_SENDER;
    else if (pick->outcome == THRUM_EVERYWHERE)
        notes |= THRUM_NOTE_LIFT_COMMON;
    else {
        struct top top = top_of(p, pick);
        notes |= diagnose_pair(&top, pick->outcome);
    }
    if (p->trend_revealed && p->trend_db_per_min < -LEAST_SAG)
        notes |= THRUM_NOTE_SAGGING;
    if (left_out && (untouched == 0 || pick->outcome == THRUM_PICKED))
        notes |= THRUM_NOTE_LEFT_OUT;
    return notes;
}
