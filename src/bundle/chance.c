#include "bundle/chance.h"

#include <math.h>
#include <string.h>

#include "base/wide.h"
#include "bundle/normal.h"
#include "bundle/population.h"
#include "bundle/slice.h"

/* Prior chances of the explanations that are not "one of these wires is driven". */
#define EVERYWHERE_CHANCE 0.10
#define NONE_CHANCE       0.0005 /* that of one more wire, which is not here */
/* A wire outside an otherwise even bundle. */
#define UNDER_SHARE 0.05
/* A second wire just as strong as the driven one in a bundle else even, while the strongest was touched once: one lucky
 * placement of it and one unlucky of the other look like a lead. Repeats of the strongest end that. In a wide bundle
 * the loose wires stand for it. So large, as many are picked from one touch each as can be where two alike are to be picked in
 * no more than 1 of 100 rounds (docs/choosing.md). */
#define PAIR_CHANCE    0.2
#define PAIR_SPREAD_DB 1.7 /* a bundle is even up to here */
static const double EVEN_SPREAD_DB[2] = {0.0, 0.35};

enum {
    LANES = 4,
    COARSE_SPREADS = 14, /* placement spreads, first look */
    FINE_SPREADS = 10    /* those integrated over */
};
#define SPREAD_LEAST_DB 0.12
#define SPREAD_MOST_DB  6.0
/* Placement spreads that fit this much worse than the best (ln). */
#define NEGLIGIBLE 9.0
/* Populations that fit this much worse than the best (ln) are left out: a driven wire or two, which the look
 * counts among the others, may cost up to about half of it. */
#define HOPELESS 22.0

/* Unnormalised weight of every answer. */
struct weights {
    double touched[THRUM_MAX_WIRES]; /* by place in the slice */
    double untouched;                /* each */
    double everywhere;
    double none;
    double ln_scale;
};

/* Priors of the answers. */
struct prior {
    double single, everywhere, none;
    double pair;                 /* another wire is as strong, in an even bundle */
    int n_untouched;             /* that may be it */
    double may[THRUM_MAX_WIRES]; /* 1 or 0, by place in the slice */
};

/* One driven wire among others, of which a share is loose: what each wire is worth driven over what it is worth as one
 * of the others, their sum, and the product of all as others. Four of each at once, in a fixed order. */
THRUM_WIDE static double weigh_others(const double *restrict if_driven, const double *restrict loose,
                                      const double *restrict inside, int n, double share,
                                      double *restrict ratio, double *ratios)
{
    double other[THRUM_MAX_WIRES], product[LANES] = {1.0, 1.0, 1.0, 1.0}, sum[LANES] = {0.0};
    int whole = n - n % LANES;
    for (int j = 0; j < n; j++) {
        other[j] = share * loose[j] + (1.0 - share) * inside[j];
        ratio[j] = if_driven[j] / other[j];
    }
    for (int j = 0; j < whole; j += LANES)
        for (int k = 0; k < LANES; k++)
            product[k] *= other[j + k];
    for (int j = 0; j < whole; j += LANES)
        for (int k = 0; k < LANES; k++)
            sum[k] += ratio[j + k];
    for (int j = whole; j < n; j++) {
        product[j - whole] *= other[j];
        sum[j - whole] += ratio[j];
    }
    *ratios = (sum[0] + sum[2]) + (sum[1] + sum[3]);
    return (product[0] * product[2]) * (product[1] * product[3]);
}

/* The driven wire alone, or with a second one spliced to it, which may be any other: `others` are all there are. */
THRUM_WIDE static void add_touched(const double *restrict may, const double *restrict ratio, int n,
                                   double weight, double alone, double pair, double others,
                                   double *restrict touched)
{
    for (int j = 0; j < n; j++)
        touched[j] += weight * may[j] * ratio[j] * (alone + pair * (others - ratio[j]));
}

/* One wire driven, or two: adds to the weights for one level of the driven wire, one cluster and all shares of
 * wires outside it. */
static void add_driven(const struct thrum_slice *s, const struct prior *prior, const double *inside, int k,
                       double weight, struct weights *out)
{
    double ratio[THRUM_MAX_WIRES], sum;
    for (int u = 0; u < s->n_share; u++) {
        double product =
            weight * s->share[u].chance *
            weigh_others(s->if_driven[k], s->loose[k], inside, s->n, s->share[u].value, ratio, &sum);
        if (!(product > 0.0))
            continue;
        double single = product * prior->single;
        add_touched(prior->may, ratio, s->n, single, s->alone, s->pair, sum + prior->n_untouched,
                    out->touched);
        out->untouched += single * (s->alone + s->pair * (sum + prior->n_untouched - 1));
        out->none += product * prior->none;
    }
}

/* A cluster, seen from every wire. */
struct cluster {
    double middle_db, spread_db;
    double density[THRUM_MAX_WIRES]; /* likelihood of belonging to it */
    double mean_db[THRUM_MAX_WIRES]; /* where the wire then lies */
    double per_sd[THRUM_MAX_WIRES];  /* 1 / how well that is known; 0 for limits */
};

static void set_cluster(const struct thrum_slice *s, double middle_db, double spread_db, struct cluster *c)
{
    c->middle_db = middle_db;
    c->spread_db = spread_db;
    for (int j = 0; j < s->n; j++) {
        const struct thrum_level *level = &s->level[j];
        double own = spread_db * spread_db, total = level->variance + own;
        c->density[j] = s->scale[j] * thrum_level_in_cluster(level, middle_db, spread_db);
        c->mean_db[j] = (middle_db * level->variance + level->db * own) / total;
        c->per_sd[j] = level->heard && own > 0.0 ? sqrt(total / (level->variance * own)) : 0.0;
    }
}

/* Likelihoods of belonging to a cluster that is known to lie below the driven wire. */
static void cut_cluster(const struct thrum_slice *s, const struct cluster *c, double driven_db,
                        double *inside)
{
    static const double FAR = 4.5;
    double room = c->spread_db > 0.0 ? (driven_db - c->middle_db) / c->spread_db : FAR;
    double all = room >= FAR ? 1.0 : 1.0 / thrum_normal_table_below(&s->normal, room);
    for (int j = 0; j < s->n; j++) {
        double z = (driven_db - c->mean_db[j]) * c->per_sd[j];
        inside[j] = c->density[j];
        if (c->per_sd[j] > 0.0)
            inside[j] *= z > FAR ? all : all * thrum_normal_table_below(&s->normal, z);
    }
}

static void add_population(struct thrum_slice *s, const struct prior *prior, struct thrum_node spread,
                           double middle_db, struct weights *out)
{
    struct cluster cluster;
    double inside[THRUM_MAX_WIRES];
    set_cluster(s, middle_db, spread.value, &cluster);
    double weight = spread.chance * s->middle_width;
    for (int k = 0; k < s->n_driven; k++) {
        double lead = thrum_lead_density(s->driven_db[k] - middle_db) * s->driven_width[k];
        if (lead <= 0.0)
            continue;
        cut_cluster(s, &cluster, s->driven_db[k], inside);
        add_driven(s, prior, inside, k, weight * lead, out);
    }
}

/* Adds all populations that are not hopeless. */
static void add_populations(struct thrum_slice *s, const struct prior *prior, const struct thrum_look *look,
                            struct weights *out)
{
    for (int t = 0; t < THRUM_CLUSTER_SPREADS; t++) {
        s->n_share = 0;
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            if (look->ln_fit[t][u] > look->best - HOPELESS)
                s->share[s->n_share++] = thrum_loose_share[u];
        if (s->n_share == 0)
            continue;
        int others = s->n + prior->n_untouched - 1;
        double pair = others > 0 && thrum_cluster_spread_db[t].value <= PAIR_SPREAD_DB ? prior->pair : 0.0;
        s->pair = pair > 0.0 ? pair / others : 0.0;
        s->alone = 1.0 - pair;
        thrum_slice_middles(s, look->middle_db[t], look->width[t]);
        for (int q = 0; q < s->n_middle; q++)
            add_population(s, prior, thrum_cluster_spread_db[t], s->middle_db[q], out);
    }
}

static void add_everywhere(struct thrum_slice *s, const struct prior *prior, struct weights *out)
{
    for (int e = 0; e < 2; e++) {
        double middle_db, width;
        thrum_slice_find_middle(s, EVEN_SPREAD_DB[e], &middle_db, &width);
        thrum_slice_middles(s, middle_db, width);
        for (int q = 0; q < s->n_middle; q++) {
            double product = 0.5 * prior->everywhere * s->middle_width;
            for (int j = 0; j < s->n; j++) {
                double even = thrum_level_in_cluster(&s->level[j], s->middle_db[q], EVEN_SPREAD_DB[e]);
                double under = thrum_level_under(&s->level[j], s->middle_db[q]);
                product *= s->scale[j] * ((1.0 - UNDER_SHARE) * even + UNDER_SHARE * under);
            }
            out->everywhere += product;
        }
    }
}

static double total(const struct weights *w, int n, const struct prior *prior)
{
    double sum = w->everywhere + w->none + w->untouched * prior->n_untouched;
    for (int j = 0; j < n; j++)
        sum += w->touched[j];
    return sum;
}

static void weigh(const struct thrum_placement *p, const struct prior *prior, double spread_db,
                  struct thrum_slice *s, struct weights *out)
{
    memset(out, 0, sizeof *out);
    thrum_slice_levels(s, p, spread_db);
    struct thrum_look look;
    thrum_slice_look(s, &look);
    thrum_slice_scale(s, &look);
    thrum_slice_driven(s, prior->n_untouched > 0 || prior->none > 0.0);
    add_populations(s, prior, &look, out);
    add_everywhere(s, prior, out);
    out->ln_scale = s->ln_scale;
}

static bool rests_on_one_touch(const struct thrum_placement *p, const bool *excluded)
{
    struct thrum_levels levels;
    int strongest = -1;
    thrum_placement_levels(p, p->prior_db, &levels);
    for (int k = 0; k < p->n_wires; k++)
        if (!excluded[k] && p->heard[k] > 0 &&
            (strongest < 0 || levels.mean_db[k] > levels.mean_db[strongest]))
            strongest = k;
    return strongest >= 0 && p->touches[strongest] == 1;
}

static struct prior set_prior(const struct thrum_placement *p, const struct thrum_pick_config *config)
{
    struct prior prior = {0};
    int n = 0, place = 0;
    for (int k = 0; k < p->n_wires; k++) {
        n += !config->excluded[k];
        if (p->apart[k])
            continue;
        if (p->touches[k] > 0)
            prior.may[place++] = !config->excluded[k];
        else
            prior.n_untouched += !config->excluded[k];
    }
    double rest = 1.0;
    if (!config->driven_for_sure) {
        prior.everywhere = EVERYWHERE_CHANCE;
        prior.none = NONE_CHANCE;
        rest -= EVERYWHERE_CHANCE + NONE_CHANCE;
    }
    prior.single = n > 0 ? rest / n : 0.0;
    prior.pair = rests_on_one_touch(p, config->excluded) ? PAIR_CHANCE : 0.0;
    return prior;
}

/* Adds the weights of one spread to the sum, on the sum's scale. */
static void add_spread(const struct thrum_slice *s, const struct prior *prior, const struct weights *w,
                       double factor, double spread_db, struct thrum_chances *sum, double *untouched,
                       double *all)
{
    for (int j = 0; j < s->n; j++)
        sum->wire[s->wire[j]] += factor * w->touched[j];
    *untouched += factor * w->untouched;
    sum->everywhere += factor * w->everywhere;
    sum->none += factor * w->none;
    double here = factor * total(w, s->n, prior);
    sum->spread_db += here * spread_db;
    sum->precision += here / (spread_db * spread_db);
    *all += here;
}

/* The range of ln spread that matters, from a quick look at all of it. */
static void find_range(const struct thrum_placement *p, struct thrum_slice *s, double *low, double *high,
                       double *ln_most)
{
    double ln[COARSE_SPREADS], most = -(double)INFINITY;
    double step = log(SPREAD_MOST_DB / SPREAD_LEAST_DB) / (COARSE_SPREADS - 1);
    for (int i = 0; i < COARSE_SPREADS; i++) {
        struct thrum_look look;
        thrum_slice_levels(s, p, SPREAD_LEAST_DB * exp(i * step));
        thrum_slice_look(s, &look);
        ln[i] = s->ln_scale + look.best;
        most = fmax(most, ln[i]);
    }
    int first = COARSE_SPREADS - 1, last = 0;
    for (int i = 0; i < COARSE_SPREADS; i++) {
        if (ln[i] < most - NEGLIGIBLE)
            continue;
        first = i < first ? i : first;
        last = i;
    }
    *low = log(SPREAD_LEAST_DB) + step * (first > 0 ? first - 0.5 : 0.0);
    *high = log(SPREAD_LEAST_DB) + step * (last < COARSE_SPREADS - 1 ? last + 0.5 : last);
    *ln_most = most;
}

static void share_evenly(const struct thrum_placement *p, const struct thrum_pick_config *config,
                         struct thrum_chances *chances)
{
    int n = 0;
    memset(chances, 0, sizeof *chances);
    for (int k = 0; k < p->n_wires; k++)
        n += !config->excluded[k];
    for (int k = 0; k < p->n_wires; k++)
        chances->wire[k] = config->excluded[k] ? 0.0 : 1.0 / n;
    chances->spread_db = p->prior_db;
}

void thrum_chances_compute(const struct thrum_placement *p, const struct thrum_pick_config *config,
                           struct thrum_chances *chances)
{
    struct thrum_slice slice;
    struct prior prior = set_prior(p, config);
    double low, high, ln_most, untouched = 0.0, all = 0.0;
    memset(chances, 0, sizeof *chances);
    thrum_normal_table_fill(&slice.normal);
    find_range(p, &slice, &low, &high, &ln_most);
    for (int i = 0; i < FINE_SPREADS; i++) {
        struct weights w;
        double spread_db = exp(low + (high - low) * i / (FINE_SPREADS - 1));
        weigh(p, &prior, spread_db, &slice, &w);
        double factor = exp(w.ln_scale - ln_most) * (i == 0 || i == FINE_SPREADS - 1 ? 0.5 : 1.0);
        add_spread(&slice, &prior, &w, factor, spread_db, chances, &untouched, &all);
    }
    if (!(all > 0.0)) { /* readings that no explanation fits in floating point: nothing is known */
        share_evenly(p, config, chances);
        return;
    }
    for (int k = 0; k < p->n_wires; k++) {
        chances->wire[k] = p->touches[k] == 0 && !config->excluded[k] ? untouched : chances->wire[k];
        chances->wire[k] /= all;
    }
    chances->everywhere /= all;
    chances->none /= all;
    chances->spread_db /= all;
    chances->precision /= all;
}
