#include "bundle/assign.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { SETS = 1 << THRUM_MAX_SENDERS };

struct thrum_assign {
    int max_wires, max_voices;
    double *chance; /* [max_voices][max_wires] */
    double *
        behind; /* [max_wires + 1][1 << max_voices]: sum over the ways to place that set on wires from here on */
    double ways[SETS]; /* ... on the wires before here, or on none */
};

enum thrum_status thrum_assign_create(int max_wires, int max_voices, struct thrum_assign **assign)
{
    *assign = NULL;
    if (max_wires < 1 || max_wires > THRUM_MAX_WIRES || max_voices < 1 || max_voices > THRUM_MAX_SENDERS)
        return THRUM_ERR_ARG;
    struct thrum_assign *a = calloc(1, sizeof *a);
    if (!a)
        return THRUM_ERR_MEM;
    a->max_wires = max_wires;
    a->max_voices = max_voices;
    a->chance = calloc((size_t)max_voices * (size_t)max_wires, sizeof *a->chance);
    a->behind = calloc(((size_t)max_wires + 1) << max_voices, sizeof *a->behind);
    if (!a->chance || !a->behind) {
        thrum_assign_destroy(a);
        return THRUM_ERR_MEM;
    }
    *assign = a;
    return THRUM_OK;
}

void thrum_assign_destroy(struct thrum_assign *assign)
{
    if (!assign)
        return;
    free(assign->chance);
    free(assign->behind);
    free(assign);
}

double *thrum_assign_chances(struct thrum_assign *assign, int voice)
{
    return assign->chance + (size_t)voice * (size_t)assign->max_wires;
}

static double chance_of(const struct thrum_assign *a, int voice, int wire)
{
    return a->chance[(size_t)voice * (size_t)a->max_wires + (size_t)wire];
}

static double none_of(const struct thrum_assign *a, int voice, int n_wires)
{
    double sum = 0.0;
    for (int w = 0; w < n_wires; w++)
        sum += chance_of(a, voice, w);
    return fmax(1.0 - sum, 0.0);
}

/* to[set]: one more wire, which may carry one voice of the set or none of it. `to` may be `from`. */
static void add_wire(const struct thrum_assign *a, int n_voices, int wire, const double *from, double *to)
{
    for (int set = (1 << n_voices) - 1; set >= 0; set--) {
        double sum = from[set];
        for (int v = 0; v < n_voices; v++)
            if (set & 1 << v)
                sum += from[set & ~(1 << v)] * chance_of(a, v, wire);
        to[set] = sum;
    }
}

static void go_backward(struct thrum_assign *a, int n_voices, int n_wires)
{
    size_t sets = (size_t)1 << n_voices;
    double *last = a->behind + (size_t)n_wires * sets;
    memset(last, 0, sets * sizeof *last);
    last[0] = 1.0;
    for (int w = n_wires - 1; w >= 0; w--)
        add_wire(a, n_voices, w, a->behind + (size_t)(w + 1) * sets, a->behind + (size_t)w * sets);
}

static void begin_forward(struct thrum_assign *a, int n_voices, int n_wires)
{
    a->ways[0] = 1.0;
    for (int v = 0; v < n_voices; v++) {
        double none = none_of(a, v, n_wires);
        for (int set = 0; set < 1 << v; set++)
            a->ways[set | 1 << v] = a->ways[set] * none;
    }
}

/* Sum over all ways to place everybody but one voice on other wires than this one, or on none. */
static double ways_of_the_others(const struct thrum_assign *a, int n_voices, int voice, int wire)
{
    const double *behind = a->behind + ((size_t)(wire + 1) << n_voices);
    int others = ((1 << n_voices) - 1) & ~(1 << voice);
    double sum = 0.0;
    for (int set = others;; set = (set - 1) & others) {
        sum += a->ways[set] * behind[others & ~set];
        if (set == 0)
            return sum;
    }
}

/* Sum over all assignments without a wire that two share. */
static double ways_apart(const struct thrum_assign *a, int n_voices)
{
    int all = (1 << n_voices) - 1;
    double sum = 0.0;
    for (int set = 0; set <= all; set++)
        sum += a->ways[set] * a->behind[all & ~set];
    return sum;
}

static void note_together(const struct thrum_assign *a, int n_voices, int n_wires, double weight,
                          struct thrum_assigned *assigned)
{
    for (int i = 0; i < n_voices; i++)
        for (int j = 0; j < i; j++) {
            double sum = 0.0, most = -1.0;
            for (int w = 0; w < n_wires; w++) {
                double both = chance_of(a, i, w) * chance_of(a, j, w);
                sum += both;
                if (both > most) {
                    most = both;
                    assigned->on_wire[i][j] = assigned->on_wire[j][i] = w;
                }
            }
            assigned->together[i][j] = assigned->together[j][i] = fmin(weight * sum, 1.0);
        }
}

void thrum_assign_solve(struct thrum_assign *assign, int n_voices, int n_wires,
                        struct thrum_assigned *assigned)
{
    struct thrum_assign *a = assign;
    /* How much rarer an assignment is in which voices share a wire than one in which none do. */
    double odds = THRUM_ASSIGN_ONE_WIRE / (1.0 - THRUM_ASSIGN_ONE_WIRE) * (n_wires - 1),
           changed[THRUM_MAX_SENDERS];
    memset(assigned, 0, sizeof *assigned);
    go_backward(a, n_voices, n_wires);
    begin_forward(a, n_voices, n_wires);
    assigned->apart = fmin(ways_apart(a, n_voices), 1.0);
    odds = fmin(odds, 1.0);
    double all = assigned->apart + odds * (1.0 - assigned->apart);
    if (!(all > 0.0))
        return;
    note_together(a, n_voices, n_wires, odds / all, assigned);
    for (int w = 0; w < n_wires; w++) {
        for (int v = 0; v < n_voices; v++) {
            double apart = chance_of(a, v, w) * ways_of_the_others(a, n_voices, v, w);
            changed[v] = (apart + odds * fmax(chance_of(a, v, w) - apart, 0.0)) / all;
        }
        add_wire(a, n_voices, w, a->ways, a->ways);
        for (int v = 0; v < n_voices; v++)
            thrum_assign_chances(a, v)[w] = fmin(changed[v], 1.0);
    }
}
