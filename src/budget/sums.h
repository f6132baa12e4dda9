/* sums.h - causes added up: extremes, roots of squares, convolution, and circuits drawn at random.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_BUDGET_SUMS_H
#define WW_BUDGET_SUMS_H

#include "budget/weave.h"

/* A parabola through what one circuit is at -1, 0, 1, over the part from..to of that range, drawn by a law. */
struct ww_part {
    double at[3], from, to;
    enum ww_law law;
};
double ww_part_value(const struct ww_part *part, double u);
/* The most by which two values of it differ. */
double ww_part_range(const struct ww_part *part);
/* Distribution of one value, in bins of `step`; with `two` of the difference of two. */
enum ww_status ww_part_distribute(struct ww_distribution *d, const struct ww_part *part, double step, bool two,
                                  struct ww_error *error);
/* The part of an observable that a cause moves, halved or whole. */
struct ww_part ww_cause_part(const struct ww_cause *cause, enum ww_observable observable, bool halved);

/* What is added up. */
struct ww_terms {
    struct ww_budget *budget;
    const struct ww_weave *weave;
    const struct ww_distribution *skew; /* of a pair over place, turn and count; NULL: a single trace */
};
/* Fills a level; `halved` is the cause taken at half its size, WW_CAUSES: none. */
enum ww_status ww_level_solve(struct ww_budget_level *level, const struct ww_terms *terms, enum ww_scope scope,
                              enum ww_cause_kind halved, struct ww_error *error);
/* Fills what two circuits of the level differ by in each observable but the skew. */
enum ww_status ww_level_observe(struct ww_budget_level *level, const struct ww_terms *terms, enum ww_scope scope,
                                struct ww_error *error);
/* What the weave's delay does to an observable; of loss, what its own distribution does. What the delay of a line of one capacitance
 * does, its Dk and its impedance do: Dk as its square, impedance as its inverse. 0 of the skew. */
double ww_weave_scale(const struct ww_budget *budget, enum ww_observable observable);
/* The distribution that the scale belongs to. */
const struct ww_weave_effect *ww_weave_effect_on(const struct ww_weave *weave, enum ww_observable observable);
/* 99 of 100 of a pair's skew. */
enum ww_status ww_skew_moved(double *p99, double *over, const struct ww_terms *terms, enum ww_cause_kind halved,
                             struct ww_error *error);
/* Fills what is drawn of all levels and of the skew. */
enum ww_status ww_budget_draw(const struct ww_terms *terms, size_t draws, struct ww_error *error);

#endif
