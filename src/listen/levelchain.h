/** @file levelchain.h
 *  All ways of cutting a row of levels into touches, wires without tone, and lifts, weighed against each other.
 *
 *  A hidden semi-Markov chain of three kinds of stretch. A touch: one unknown level and the hand's wobble. A wire without
 *  tone: as long as a touch, as soft as the air. A lift: as soft, and short. The best chain comes from a forward pass, the
 *  chance of every border and of how many wires were touched before it from sums over all chains, forward and backward.
 *  Sources: P. Fearnhead, Statistics and Computing 16, 2006, exact inference for multiple changepoints; S.-Z. Yu, Hidden
 *  semi-Markov models, 2010 (both from memory). Pure; no allocation after creation.
 */
#ifndef THRUM_LEVELCHAIN_H
#define THRUM_LEVELCHAIN_H

#include <stdbool.h>

#include "listen/levels.h"
#include "thrum/status.h"

#define THRUM_LEVELCHAIN_COUNTS 16 /**< Wires of a row are told apart by their number modulo this. */
#define THRUM_LEVELCHAIN_SHARES 4

/** What is known of hand, wires and air. */
struct thrum_habits {
    double touch_s, touch_spread; /**< Median, and spread as a natural logarithm. */
    double lift_s, lift_spread;
    double lifted;              /**< Share of wires that are left by a lift. */
    double toneless;            /**< Share of wires without tone. */
    double wobble_db, wires_db; /**< Standard deviation of the wobble; the usual wire. */
    double air_db;              /**< Far below all wires when nothing is as soft as air. */
};

/** The row to be cut. */
struct thrum_levelchain_job {
    const struct thrum_level *row;
    int n;
    bool carried;    /**< A touch ended before the row, ... */
    double before_s; /**< ...at this time. */
    double floor_db; /**< What is softer counts as this: noise is not the same all along. */
};

struct thrum_levelchain;

enum thrum_status thrum_levelchain_create(struct thrum_levelchain **chain);
void thrum_levelchain_destroy(struct thrum_levelchain *chain);

/** Weigh all chains. @param[in] job  At least one level, at most THRUM_LEVELS_MAX. */
void thrum_levelchain_run(struct thrum_levelchain *chain, const struct thrum_levelchain_job *job,
                          const struct thrum_habits *habits);

/** The best chain. @param[out] spans  Shape [THRUM_LEVELS_MAX]; their doubt is 0. @return how many. */
int thrum_levelchain_best(const struct thrum_levelchain *chain, struct thrum_level_span *spans);

/**
 * Sums over all chains of the last run, for the two below; the share of wires without tone is not known, so over that too.
 * @param[in] toneless   What it may be, shape [n].
 * @param[in] ln_before  ln of how likely each of these was before, shape [n], n at most THRUM_LEVELCHAIN_SHARES.
 */
void thrum_levelchain_sum(struct thrum_levelchain *chain, const double *toneless, const double *ln_before,
                          int n);

/** The chance that a wire's touch begins with level b, ... */
double thrum_levelchain_begins(const struct thrum_levelchain *chain, int b);

/** ...and that it does as wire number `nth` of the row, counted from 0. */
double thrum_levelchain_begins_as(const struct thrum_levelchain *chain, int b, int nth);

/** Time of border b, between two levels; the row's ends are borders too. */
double thrum_levelchain_border_s(const struct thrum_levelchain *chain, int b);

#endif
