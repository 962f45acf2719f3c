#include "bundle/chance.h"

#include <math.h>
#include <string.h>

#include "bundle/normal.h"
#include "bundle/population.h"

/* Prior chances of the explanations that are not "one of these wires is driven". */
static const double EVERYWHERE_CHANCE = 0.025;
static const double NONE_CHANCE = 0.00002;
/* Of the wires outside the cluster, those that carry the sender like the driven one: spliced to it. */
static const double SPLICED_SHARE = 0.06;
/* A wire outside an otherwise even bundle. */
static const double UNDER_SHARE = 0.05;
/* Density per dB of a wire that lies outside the cluster when nothing here is driven. */
static const double ASTRAY_DENSITY = 1.0 / 60.0;
static const double EVEN_SPREAD_DB[2] = {0.0, 0.35};

/* What is not heard: the limit is the 97.5 % point, and the threshold itself is this soft. */
static const double LIMIT_SD_DB = 1.0;
static const double LIMIT_POINT = 1.96;

enum {
    DRIVEN_NODES = 40,  /* levels of the driven wire */
    MIDDLE_NODES = 12,  /* middles of the cluster */
    COARSE_SPREADS = 8, /* placement spreads, first pass */
    FINE_SPREADS = 9    /* second pass */
};
static const double SPREAD_LEAST_DB = 0.12;
static const double SPREAD_MOST_DB = 6.0;
/* Populations that fit this much worse than the best (ln) are left out: a driven wire or two, which the look
 * counts among the others, may cost up to about half of it. */
static const double HOPELESS = 22.0;
static const double COARSE = 1.6; /* steps of the first pass over those of the second */
static const double REACH = 4.5;  /* standard errors that are looked at on either side */

/* All of one placement spread. */
struct slice {
    int n;                     /* wires touched */
    int wire[THRUM_MAX_WIRES]; /* their numbers */
    struct thrum_level level[THRUM_MAX_WIRES];
    double scale[THRUM_MAX_WIRES]; /* common factor on the likelihoods of a wire, keeps products in range */
    double ln_scale;               /* ln of all factors taken out */
    int n_driven;
    double driven_db[DRIVEN_NODES];
    double driven_width[DRIVEN_NODES];
    double if_driven[DRIVEN_NODES][THRUM_MAX_WIRES];
    double loose[DRIVEN_NODES][THRUM_MAX_WIRES];
    int n_middle;
    double middle_db[MIDDLE_NODES];
    double middle_width;
    int n_share; /* shares of loose wires that matter here */
    struct thrum_node share[THRUM_LOOSE_SHARES];
    double fineness; /* steps are this many times the fine ones */
};

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
    int n_untouched;             /* that may be it */
    double may[THRUM_MAX_WIRES]; /* 1 or 0, by place in the slice */
};

static void set_levels(struct slice *s, const struct thrum_placement *p, double spread_db)
{
    struct thrum_levels levels;
    thrum_placement_levels(p, spread_db, &levels);
    s->n = 0;
    for (int k = 0; k < p->n_wires; k++) {
        if (p->touches[k] == 0)
            continue;
        struct thrum_level *level = &s->level[s->n];
        level->heard = p->heard[k] > 0;
        level->db = level->heard ? levels.mean_db[k] : p->limit_db[k] - LIMIT_POINT * LIMIT_SD_DB;
        level->variance =
            level->heard ? levels.variance[k] : spread_db * spread_db + LIMIT_SD_DB * LIMIT_SD_DB;
        s->wire[s->n++] = k;
    }
    s->ln_scale = levels.ln_fit + thrum_placement_ln_prior(p, spread_db);
}

/* Levels the driven wire may have: around the strongest, and far above if wires are left untouched. */
static void set_driven(struct slice *s, bool untouched)
{
    double low = -INFINITY, high = -INFINITY, least = INFINITY;
    for (int j = 0; j < s->n; j++) {
        double reach = REACH * sqrt(s->level[j].variance);
        high = fmax(high, s->level[j].heard ? s->level[j].db + reach : s->level[j].db);
        if (s->level[j].heard)
            low = fmax(low, s->level[j].db - reach);
    }
    for (int j = 0; j < s->n; j++) {
        double sd = sqrt(s->level[j].variance);
        if (s->level[j].heard && s->level[j].db + REACH * sd > low)
            least = fmin(least, sd);
    }
    int most = untouched ? DRIVEN_NODES - 12 : DRIVEN_NODES;
    double step = fmax(s->fineness * least, (high - low) / (most - 1));
    s->n_driven = 0;
    for (double a = low; a < high + step && s->n_driven < most; a += step)
        s->driven_db[s->n_driven++] = a;
    while (untouched && s->n_driven < DRIVEN_NODES) {
        step *= 1.25;
        s->driven_db[s->n_driven] = s->driven_db[s->n_driven - 1] + step;
        s->n_driven++;
    }
    for (int k = 0; k < s->n_driven; k++) {
        double left = k > 0 ? s->driven_db[k] - s->driven_db[k - 1] : 0.0;
        double right = k + 1 < s->n_driven ? s->driven_db[k + 1] - s->driven_db[k] : 0.0;
        s->driven_width[k] = 0.5 * (left + right);
    }
}

static void set_driven_likelihoods(struct slice *s)
{
    for (int j = 0; j < s->n; j++) {
        double most = 0.0;
        for (int k = 0; k < s->n_driven; k++) {
            s->if_driven[k][j] = thrum_level_if_driven(&s->level[j], s->driven_db[k]);
            s->loose[k][j] = (1.0 - SPLICED_SHARE) * thrum_level_loose(&s->level[j], s->driven_db[k]) +
                             SPLICED_SHARE * s->if_driven[k][j];
            most = fmax(most, s->loose[k][j]);
        }
        s->scale[j] = 1.0 / most;
        s->ln_scale += log(most);
        for (int k = 0; k < s->n_driven; k++) {
            s->loose[k][j] *= s->scale[j];
            s->if_driven[k][j] *= s->scale[j];
        }
    }
}

/* Middle of the levels (limits count as their value). */
static double median_level(const struct slice *s, bool *heard)
{
    double sorted[THRUM_MAX_WIRES];
    int n_heard = 0;
    for (int j = 0; j < s->n; j++) {
        double db = s->level[j].db;
        int i = j;
        for (; i > 0 && sorted[i - 1] > db; i--)
            sorted[i] = sorted[i - 1];
        sorted[i] = db;
        n_heard += s->level[j].heard;
    }
    *heard = 2 * n_heard > s->n;
    return 0.5 * (sorted[(s->n - 1) / 2] + sorted[s->n / 2]);
}

/* Where the middle of a cluster of the given spread may be: around its best value, which a few rounds of weighing
 * every wire by its chance of belonging to the cluster find. */
static void set_middle(struct slice *s, double spread_db)
{
    static const double OUTSIDE = 0.01; /* density of wires outside, per dB, for this purpose */
    bool heard;
    double middle = median_level(s, &heard), width = 0.0;
    if (!heard) { /* the cluster lies somewhere below the limits */
        s->n_middle = MIDDLE_NODES;
        s->middle_width = 5.0;
        for (int q = 0; q < s->n_middle; q++)
            s->middle_db[q] = middle + 5.0 - s->middle_width * q;
        return;
    }
    for (int pass = 0; pass < 6; pass++) {
        double sum = 0.0, weight = 1e-9;
        for (int j = 0; j < s->n; j++) {
            if (!s->level[j].heard)
                continue;
            double inside = thrum_level_in_cluster(&s->level[j], middle, spread_db);
            double w = inside / (inside + OUTSIDE) / (s->level[j].variance + spread_db * spread_db);
            sum += w * s->level[j].db;
            weight += w;
        }
        middle = (sum + 1e-9 * middle) / weight;
        width = 1.0 / sqrt(weight);
    }
    int half = s->fineness > 1.0 ? 2 : 3;
    s->n_middle = 2 * half + 1;
    s->middle_width = fmin(width, 20.0) * 1.25 * s->fineness;
    for (int q = 0; q < s->n_middle; q++)
        s->middle_db[q] = middle + (q - half) * s->middle_width;
}

/* One wire driven, or two: adds to the weights for one level of the driven wire, one cluster and all shares of
 * wires outside it. */
static void add_driven(const struct slice *s, const struct prior *prior, const double *inside, int k,
                       double weight, struct weights *out)
{
    for (int u = 0; u < s->n_share; u++) {
        double share = s->share[u].value, product = weight * s->share[u].chance;
        double ratio[THRUM_MAX_WIRES];
        for (int j = 0; j < s->n; j++) {
            double other = share * s->loose[k][j] + (1.0 - share) * inside[j];
            product *= other;
            ratio[j] = prior->may[j] * s->if_driven[k][j] / other;
        }
        if (!(product > 0.0))
            continue;
        for (int j = 0; j < s->n; j++)
            out->touched[j] += product * ratio[j] * prior->single;
        out->untouched += product * prior->single;
    }
}

/* A cluster, seen from every wire. */
struct cluster {
    double middle_db, spread_db;
    double density[THRUM_MAX_WIRES]; /* likelihood of belonging to it */
    double mean_db[THRUM_MAX_WIRES]; /* where the wire then lies */
    double per_sd[THRUM_MAX_WIRES];  /* 1 / how well that is known; 0 for limits */
};

static void set_cluster(const struct slice *s, double middle_db, double spread_db, struct cluster *c)
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
static void cut_cluster(const struct slice *s, const struct cluster *c, double driven_db, double *inside)
{
    static const double FAR = 4.5;
    double room = c->spread_db > 0.0 ? (driven_db - c->middle_db) / c->spread_db : FAR;
    double all = room >= FAR ? 1.0 : 1.0 / thrum_normal_below(room);
    for (int j = 0; j < s->n; j++) {
        double z = (driven_db - c->mean_db[j]) * c->per_sd[j];
        inside[j] = c->density[j];
        if (c->per_sd[j] > 0.0)
            inside[j] *= z > FAR ? all : all * thrum_normal_below(z);
    }
}

static void add_population(struct slice *s, const struct prior *prior, struct thrum_node spread,
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
    for (int u = 0; u < s->n_share; u++) {
        double share = s->share[u].value;
        double product = prior->none * weight * s->share[u].chance;
        for (int j = 0; j < s->n; j++)
            product *= share * s->scale[j] * ASTRAY_DENSITY + (1.0 - share) * cluster.density[j];
        out->none += product;
    }
}

/* How well a cluster of each spread, and each share of loose wires, fits all wires at its best middle: ln. */
static double look_over(struct slice *s, double ln_fit[THRUM_CLUSTER_SPREADS][THRUM_LOOSE_SHARES])
{
    double best = -INFINITY;
    for (int t = 0; t < THRUM_CLUSTER_SPREADS; t++) {
        set_middle(s, thrum_cluster_spread_db[t].value);
        double middle_db = s->middle_db[s->n_middle / 2];
        memset(ln_fit[t], 0, sizeof ln_fit[t]);
        for (int j = 0; j < s->n; j++) {
            double in = s->scale[j] *
                        thrum_level_in_cluster(&s->level[j], middle_db, thrum_cluster_spread_db[t].value);
            for (int u = 0; u < THRUM_LOOSE_SHARES; u++) {
                double share = thrum_loose_share[u].value;
                ln_fit[t][u] += log(share * s->scale[j] * ASTRAY_DENSITY + (1.0 - share) * in);
            }
        }
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            best = fmax(best, ln_fit[t][u]);
    }
    return best;
}

/* Adds all populations that are not hopeless. */
static void add_populations(struct slice *s, const struct prior *prior, struct weights *out)
{
    double ln_fit[THRUM_CLUSTER_SPREADS][THRUM_LOOSE_SHARES];
    double best = look_over(s, ln_fit);
    for (int t = 0; t < THRUM_CLUSTER_SPREADS; t++) {
        s->n_share = 0;
        for (int u = 0; u < THRUM_LOOSE_SHARES; u++)
            if (ln_fit[t][u] > best - HOPELESS)
                s->share[s->n_share++] = thrum_loose_share[u];
        if (s->n_share == 0)
            continue;
        set_middle(s, thrum_cluster_spread_db[t].value);
        for (int q = 0; q < s->n_middle; q++)
            add_population(s, prior, thrum_cluster_spread_db[t], s->middle_db[q], out);
    }
}

static void add_everywhere(struct slice *s, const struct prior *prior, struct weights *out)
{
    for (int e = 0; e < 2; e++) {
        set_middle(s, EVEN_SPREAD_DB[e]);
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
                  struct slice *s, struct weights *out)
{
    memset(out, 0, sizeof *out);
    set_levels(s, p, spread_db);
    set_driven(s, prior->n_untouched > 0);
    set_driven_likelihoods(s);
    add_populations(s, prior, out);
    add_everywhere(s, prior, out);
    out->ln_scale = s->ln_scale;
}

static struct prior set_prior(const struct thrum_placement *p, const struct thrum_pick_config *config)
{
    struct prior prior = {0};
    int n = 0, place = 0;
    for (int k = 0; k < p->n_wires; k++) {
        n += !config->excluded[k];
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
    return prior;
}

/* Adds the weights of one spread to the sum, on the sum's scale. */
static void add_spread(const struct slice *s, const struct prior *prior, const struct weights *w,
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
    *all += here;
}

/* The range of ln spread that matters, from a coarse look at all of it. */
static void find_range(const struct thrum_placement *p, const struct prior *prior, struct slice *s,
                       double *low, double *high, double *ln_most)
{
    double ln[COARSE_SPREADS], most = -INFINITY;
    double step = log(SPREAD_MOST_DB / SPREAD_LEAST_DB) / (COARSE_SPREADS - 1);
    for (int i = 0; i < COARSE_SPREADS; i++) {
        struct weights w;
        weigh(p, prior, SPREAD_LEAST_DB * exp(i * step), s, &w);
        ln[i] = w.ln_scale + log(fmax(total(&w, s->n, prior), 1e-300));
        most = fmax(most, ln[i]);
    }
    int first = COARSE_SPREADS - 1, last = 0;
    for (int i = 0; i < COARSE_SPREADS; i++) {
        if (ln[i] < most - 8.0)
            continue;
        first = i < first ? i : first;
        last = i;
    }
    *low = log(SPREAD_LEAST_DB) + step * (first > 0 ? first - 0.7 : 0.0);
    *high = log(SPREAD_LEAST_DB) + step * (last < COARSE_SPREADS - 1 ? last + 0.7 : last);
    *ln_most = most;
}

void thrum_chances_compute(const struct thrum_placement *p, const struct thrum_pick_config *config,
                           struct thrum_chances *chances)
{
    struct slice slice;
    struct prior prior = set_prior(p, config);
    double low, high, ln_most, untouched = 0.0, all = 0.0;
    memset(chances, 0, sizeof *chances);
    slice.fineness = COARSE;
    find_range(p, &prior, &slice, &low, &high, &ln_most);
    slice.fineness = 1.0;
    for (int i = 0; i < FINE_SPREADS; i++) {
        struct weights w;
        double spread_db = exp(low + (high - low) * i / (FINE_SPREADS - 1));
        weigh(p, &prior, spread_db, &slice, &w);
        double factor = exp(w.ln_scale - ln_most) * (i == 0 || i == FINE_SPREADS - 1 ? 0.5 : 1.0);
        add_spread(&slice, &prior, &w, factor, spread_db, chances, &untouched, &all);
    }
    for (int k = 0; k < p->n_wires; k++) {
        chances->wire[k] = p->touches[k] == 0 && !config->excluded[k] ? untouched : chances->wire[k];
        chances->wire[k] /= all;
    }
    chances->everywhere /= all;
    chances->none /= all;
    chances->spread_db /= all;
}
