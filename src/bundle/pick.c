#include "thrum/pick.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "bundle/chance.h"
#include "bundle/diagnosis.h"
#include "bundle/next.h"
#include "bundle/pick_own.h"
#include "bundle/placement.h"
#include "thrum/reading.h"

#define CONTENDERS_HOLD 0.99
#define EVERYWHERE_FROM 0.45
/* A touch without tone counts as heard this often at most, and is then only just heard: its error is large. */
#define FALSE_ALARM           1e-3
#define JUST_HEARD_SD_DB      1.4
#define FALSE_ALARMS_CREDIBLE 3e-4
#define MISSED                0.025 /* a tone above the upper limit of a touch that heard nothing */

const char *thrum_outcome_name(enum thrum_outcome outcome)
{
    switch (outcome) {
    case THRUM_PICKED:
        return "picked";
    case THRUM_TOO_CLOSE:
        return "too-close";
    case THRUM_NO_TONE:
        return "no-tone";
    case THRUM_EVERYWHERE:
        return "everywhere";
    }
    return "unknown outcome";
}

const char *thrum_pick_note_text(enum thrum_pick_note note)
{
    switch (note) {
    case THRUM_NOTE_CHECK_SENDER:
        return "No tone was heard: check the sender's battery, its clip and its earth, look for a cut wire, "
               "and make "
               "sure that the probe's input is the one listened to.";
    case THRUM_NOTE_LIFT_COMMON:
        return "The tone is alike on nearly all wires: lift the common, give the sender a better earth, tie "
               "the other "
               "wires together or lift them one at a time, then touch again.";
    case THRUM_NOTE_TWO_EQUAL:
        return "Two wires are alike and far above the rest: they may be spliced, or serve the same zone; "
               "lift one and "
               "touch the other again.";
    case THRUM_NOTE_SAGGING:
        return "The strength falls steadily over the round, and that was taken out: put a fresh battery into "
               "the "
               "sender and make sure that the input's gain stays put.";
    case THRUM_NOTE_TOUCH_AGAIN:
        return "One more touch of the wire named next will tell most.";
    case THRUM_NOTE_UNTRUSTED:
        return "The input changes strengths by itself (level control, gate or noise suppression): this "
               "result cannot "
               "be trusted until that is switched off and the round repeated.";
    case THRUM_NOTE_UNTOUCHED:
        return "Not every wire has been touched yet, and one of those left may be the one.";
    case THRUM_NOTE_ONE_WIRE:
        return "Another sender is strongest on the same wire: two senders may be clipped to one wire, two "
               "zones spliced, or one wire touched under two tags; look at the senders, then touch again.";
    case THRUM_NOTE_TAKEN:
        return "A stronger wire is left out here, as it is another sender's.";
    case THRUM_NOTE_RETURN:
        return "A second wire stands far above the rest as well: it may be the return of the first, or be "
               "spliced to it. Lift it away from the others and touch both again: a neighbour then loses the "
               "tone.";
    case THRUM_NOTE_LEFT_OUT:
        return "An excluded wire carries more tone than all others: the sender may be on it, or it is the "
               "common. Look at the sender's clip, lift the common, and touch again.";
    case THRUM_NOTE_ALONE:
        return "One wire alone tells nothing: touch the others as well, so that there is something to "
               "compare.";
    case THRUM_NOTE_STUCK:
        return "More touches will not part these: lift one of them away from the others, or tie all others "
               "together, and touch both again.";
    }
    return NULL;
}

struct thrum_pick_config thrum_pick_config_default(void)
{
    return (struct thrum_pick_config){.sure = 0.99, .placement_db = 1.2, .placement_weight = 3.0};
}

enum thrum_status thrum_pick_config_learn(struct thrum_pick_config *config, struct thrum_spread earlier)
{
    static const double LEAST_DB = 0.15, MOST_DB = 10.0;
    if (!isfinite(earlier.squares_db2) || !isfinite(earlier.repeats) || earlier.repeats < 0.0)
        return THRUM_ERR_ARG;
    if (earlier.repeats == 0.0)
        return THRUM_OK;
    double counted = fmin(earlier.repeats, THRUM_SPREAD_REPEATS);
    double square = fmax(earlier.squares_db2 / earlier.repeats, LEAST_DB * LEAST_DB);
    double weight = config->placement_weight + counted, own = config->placement_db * config->placement_db;
    config->placement_db = fmin(sqrt((config->placement_weight * own + counted * square) / weight), MOST_DB);
    config->placement_weight = weight;
    return THRUM_OK;
}

static bool config_is_good(const struct thrum_pick_config *c)
{
    return c->sure >= 0.5 && c->sure <= 0.9999 && c->placement_db > 0.0 && c->placement_db <= 20.0 &&
           c->placement_weight > 0.0 && c->placement_weight <= 1e6;
}

static bool touch_is_good(const struct thrum_touch *t, int n_wires)
{
    static const double LIMIT = 1000.0; /* dB: beyond any sound */
    if (t->wire < 0 || t->wire >= n_wires || !(fabs(t->at_s) <= 1e9))
        return false;
    if (t->heard)
        return fabs(t->dbfs) <= LIMIT && t->sd_db >= 0.0 && t->sd_db <= LIMIT;
    return fabs(t->high_db) <= LIMIT;
}

/* Before anything is heard: a wire touched in vain is a little possible still, the others share the rest. */
static void chances_of_silence(const struct thrum_placement *p, const struct thrum_pick_config *config,
                               struct thrum_chances *chances)
{
    double sum = 0.0;
    memset(chances, 0, sizeof *chances);
    for (int k = 0; k < p->n_wires; k++) {
        chances->wire[k] = config->excluded[k] ? 0.0 : pow(MISSED, p->touches[k]);
        sum += chances->wire[k];
    }
    for (int k = 0; k < p->n_wires && sum > 0.0; k++)
        chances->wire[k] /= sum;
    chances->spread_db = p->prior_db;
}

/* For a scaled inverse chi-square the mean precision is 1 / its square, and its weight the repeats that went in: so what the
 * touches added to the prior is the difference of the two. */
static struct thrum_spread spread_of(const struct thrum_placement *p, const struct thrum_chances *chances)
{
    double repeats = thrum_placement_repeats(p);
    if (!(repeats > 0.0) || !(chances->precision > 0.0))
        return (struct thrum_spread){0.0, 0.0};
    double after = (p->prior_weight + repeats) / chances->precision;
    return (struct thrum_spread){after - p->prior_weight * p->prior_db * p->prior_db, repeats};
}

/* How the touches look as a whole. */
struct tally {
    int heard;       /* touches, of wires that are not apart */
    int just_heard;  /* of those, hardly above the threshold */
    int most_on_one; /* heard touches of the wire with most of them */
    int candidates;  /* wires that may be it */
    int untouched;   /* of those, not touched */
    int last;        /* wire of the last touch */
    uint32_t faults;
};

static struct tally tally_up(const struct thrum_placement *p, const struct thrum_pick_config *config,
                             const struct thrum_touch *touches, int n_touches)
{
    struct tally t = {.last = -1};
    for (int i = 0; i < n_touches; i++) {
        bool heard = touches[i].heard && !p->apart[touches[i].wire];
        t.heard += heard;
        t.just_heard += heard && touches[i].sd_db >= JUST_HEARD_SD_DB;
        t.faults |= touches[i].faults;
        t.last = touches[i].wire;
    }
    for (int k = 0; k < p->n_wires; k++) {
        t.candidates += !config->excluded[k];
        t.untouched += !config->excluded[k] && p->touches[k] == 0;
        t.most_on_one = !p->apart[k] && p->heard[k] > t.most_on_one ? p->heard[k] : t.most_on_one;
    }
    return t;
}

/* Chance that at least `heard` of n touches without tone count as heard. */
static double false_alarms(int heard, int n)
{
    double term = pow(1.0 - FALSE_ALARM, n), below = 0.0;
    for (int i = 0; i < heard; i++) {
        below += term;
        term *= (n - i) / (i + 1.0) * FALSE_ALARM / (1.0 - FALSE_ALARM);
    }
    return 1.0 - below;
}

/* Nothing heard, or so few touches only just heard, no wire twice, that chance explains them. */
static bool is_silence(const struct tally *t, int n_touches)
{
    if (n_touches == 0 || t->untouched > 0)
        return false;
    if (t->heard == 0)
        return true;
    return t->just_heard == t->heard && t->most_on_one == 1 && n_touches >= 3 &&
           false_alarms(t->heard, n_touches) >= FALSE_ALARMS_CREDIBLE;
}

void thrum_pick_insert(struct thrum_wire_rank *ranks, int n, const struct thrum_wire_rank *rank)
{
    struct thrum_wire_rank kept = *rank;
    int i = n;
    for (; i > 0; i--) {
        const struct thrum_wire_rank *above = &ranks[i - 1];
        if (above->chance > kept.chance || (above->chance == kept.chance && above->dbfs >= kept.dbfs))
            break;
        ranks[i] = *above;
    }
    ranks[i] = kept;
}

static void fill_ranks(const struct thrum_placement *p, const struct thrum_chances *chances,
                       struct thrum_pick *pick)
{
    struct thrum_levels levels;
    thrum_placement_levels(p, chances->spread_db, &levels);
    pick->n_ranked = p->n_wires;
    for (int k = 0; k < p->n_wires; k++) {
        struct thrum_wire_rank rank = {.wire = k, .touches = p->touches[k], .heard = p->heard[k] > 0};
        double reach = 1.96 * sqrt(levels.variance[k]);
        rank.chance = chances->wire[k];
        rank.dbfs = rank.heard ? levels.mean_db[k] : THRUM_FLOOR_DBFS;
        rank.low_db = rank.heard ? rank.dbfs - reach : THRUM_FLOOR_DBFS;
        rank.high_db = rank.heard ? rank.dbfs + reach : fmin(p->limit_db[k], 0.0);
        thrum_pick_insert(pick->rank, k, &rank);
    }
}

void thrum_pick_contenders(struct thrum_pick *pick)
{
    double sum = 0.0, held = 0.0;
    for (int i = 0; i < pick->n_ranked; i++)
        sum += pick->rank[i].chance;
    for (int i = 0; i < pick->n_ranked && pick->rank[i].chance > 0.0; i++) {
        if (held >= CONTENDERS_HOLD * sum)
            break;
        held += pick->rank[i].chance;
        pick->contenders[pick->n_contenders++] = pick->rank[i].wire;
    }
}

double thrum_pick_lead(const struct thrum_pick_config *config, const struct thrum_pick *pick)
{
    double next = THRUM_FLOOR_DBFS;
    for (int i = 1; i < pick->n_ranked; i++)
        if (pick->rank[i].heard && !config->excluded[pick->rank[i].wire])
            next = fmax(next, pick->rank[i].dbfs);
    return next > THRUM_FLOOR_DBFS && pick->rank[0].heard ? pick->rank[0].dbfs - next : 0.0;
}

void thrum_pick_rank_again(const struct thrum_pick_config *config, const double *chance,
                           struct thrum_pick *pick)
{
    for (int i = 0; i < pick->n_ranked; i++) {
        struct thrum_wire_rank rank = pick->rank[i];
        rank.chance = chance[rank.wire];
        thrum_pick_insert(pick->rank, i, &rank);
    }
    pick->n_contenders = 0;
    thrum_pick_contenders(pick);
    pick->lead_db = thrum_pick_lead(config, pick);
}

/* At least three quarters of the wires are not far below the strongest that may be it: nearly all have the tone. */
static bool on_nearly_all(const struct thrum_placement *p, const struct thrum_pick *pick)
{
    static const double FAR_DB = 6.0;
    double low_db = THRUM_FLOOR_DBFS;
    int far = 0, n = 0;
    for (int i = 0; i < pick->n_ranked; i++)
        if (pick->rank[i].heard && !p->apart[pick->rank[i].wire])
            low_db = fmax(low_db, pick->rank[i].low_db);
    for (int i = 0; i < pick->n_ranked; i++) {
        bool counts = pick->rank[i].touches > 0 && !p->apart[pick->rank[i].wire];
        n += counts;
        far += counts && pick->rank[i].high_db < low_db - FAR_DB;
    }
    return 4 * far <= n;
}

static void decide(const struct thrum_placement *p, const struct thrum_pick_config *config,
                   const struct thrum_chances *chances, const struct tally *t, int n_touches,
                   struct thrum_pick *pick)
{
    pick->wire = t->candidates > 0 ? pick->rank[0].wire : -1;
    pick->chance = t->candidates > 0 ? pick->rank[0].chance : 0.0;
    pick->outcome = THRUM_TOO_CLOSE;
    if (is_silence(t, n_touches)) {
        double silent = t->heard == 0 ? 1.0 : false_alarms(t->heard, n_touches);
        pick->outcome = THRUM_NO_TONE;
        pick->wire = -1;
        pick->chance = silent / (silent + MISSED);
    } else if (t->heard > 0 && pick->chance >= config->sure) {
        pick->outcome = THRUM_PICKED;
    } else if (t->untouched == 0 && chances->everywhere >= EVERYWHERE_FROM && pick->n_ranked > 1 &&
               on_nearly_all(p, pick)) {
        pick->outcome = THRUM_EVERYWHERE;
        pick->wire = -1;
        pick->chance = chances->everywhere;
    }
}

static void fill_next(const struct thrum_placement *p, const struct thrum_pick_config *config,
                      const struct thrum_chances *chances, const struct tally *t, struct thrum_pick *pick)
{
    pick->next_touch = -1;
    if (pick->outcome == THRUM_TOO_CLOSE && p->n_wires > 1)
        pick->next_touch = thrum_next_touch(p, config, chances, t->last);
    else if (pick->outcome == THRUM_EVERYWHERE && pick->chance < config->sure)
        pick->next_touch = thrum_next_touch(p, config, chances, t->last);
    else if (pick->outcome == THRUM_NO_TONE && t->heard > 0)
        pick->next_touch = pick->rank[0].wire;
}

static void fill_notes(const struct thrum_placement *p, const struct tally *t, struct thrum_pick *pick)
{
    pick->notes = thrum_diagnosis(p, t->untouched, pick);
    if (pick->outcome == THRUM_TOO_CLOSE && p->n_wires == 1)
        pick->notes |= THRUM_NOTE_ALONE;
    else if (pick->outcome == THRUM_TOO_CLOSE && t->untouched == 0 && t->candidates > 1 &&
             pick->next_touch < 0)
        pick->notes |= THRUM_NOTE_STUCK;
    if (pick->next_touch >= 0)
        pick->notes |= THRUM_NOTE_TOUCH_AGAIN;
    if (t->faults & THRUM_FAULTS_UNTRUSTED)
        pick->notes |= THRUM_NOTE_UNTRUSTED;
    if (t->untouched > 0)
        pick->notes |= THRUM_NOTE_UNTOUCHED;
}

enum thrum_status thrum_pick_compute(const struct thrum_pick_config *config, int n_wires,
                                     const struct thrum_touch *touches, int n_touches,
                                     struct thrum_pick *pick)
{
    struct thrum_placement placement;
    struct thrum_chances chances;
    if (!config || !pick || !config_is_good(config) || n_wires < 1 || n_wires > THRUM_MAX_WIRES ||
        n_touches < 0 || n_touches > THRUM_MAX_READINGS || (n_touches > 0 && !touches))
        return THRUM_ERR_ARG;
    for (int i = 0; i < n_touches; i++)
        if (!touch_is_good(&touches[i], n_wires))
            return THRUM_ERR_ARG;

    thrum_placement_collect(&placement, config, n_wires, touches, n_touches);
    struct tally tally = tally_up(&placement, config, touches, n_touches);
    if (tally.heard > 0)
        thrum_chances_compute(&placement, config, &chances);
    else
        chances_of_silence(&placement, config, &chances);

    memset(pick, 0, sizeof *pick);
    pick->placement_db = chances.spread_db;
    pick->spread = spread_of(&placement, &chances);
    pick->trend_db_per_min = placement.trend_db_per_min;
    fill_ranks(&placement, &chances, pick);
    thrum_pick_contenders(pick);
    pick->lead_db = thrum_pick_lead(config, pick);
    decide(&placement, config, &chances, &tally, n_touches, pick);
    fill_next(&placement, config, &chances, &tally, pick);
    fill_notes(&placement, &tally, pick);
    return THRUM_OK;
}
