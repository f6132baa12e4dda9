/* matches.c - the angles at which the cloth's period along the trace meets the beat of a pair's modes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Along a direction u of the cloth, the harmonic k = 2 pi (m/lx, l/ly) advances by
 *   k.u = A sin(theta + psi),   A = 2 pi hypot(m/lx, l/ly),   psi = atan2(l/ly, m/lx),
 * and converts modes all along the trace where k.u = +-b, b = beta_even - beta_odd. With b = 0 these are the revivals. The
 * harmonic alone converts sin(kappa L). b changes a little with the angle: it is taken at the angle found, twice over.
 */
#include <math.h>
#include <stdlib.h>

#include "sweep/angles.h"

#define MOST_ORDER 12
#define MATTERS 0.1 /* of the largest conversion of the sweep */
#define SAME 1e-9   /* rad: one angle */

static int by_angle(const void *one, const void *other)
{
    const struct ww_phase_match *a = one, *b = other;
    if (a->angle != b->angle)
        return a->angle < b->angle ? -1 : 1;
    return a->ply < b->ply ? -1 : a->ply > b->ply;
}

/* Keeps the match; of several of one ply at one angle the strongest. */
static enum ww_status keep(struct ww_angles_conversion *conversion, struct ww_phase_match match,
                           struct ww_error *error)
{
    for (size_t i = 0; i < conversion->matches; i++) {
        struct ww_phase_match *known = &conversion->match[i];
        if (known->ply == match.ply && fabs(known->angle - match.angle) < SAME) {
            if (match.alone > known->alone)
                *known = match;
            return WW_OK;
        }
    }
    struct ww_phase_match *more = realloc(conversion->match, (conversion->matches + 1) * sizeof *more);
    if (!more)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu phase-matched angles",
                            conversion->matches + 1);
    conversion->match = more;
    more[conversion->matches++] = match;
    return WW_OK;
}

/* The angle of the trace near `near` where k.u = sign b on one branch of the arcsine; NAN: none. */
static double solve_angle(const struct ww_angle_table *table, const struct ww_phase_match *match, size_t segment,
                          double sign, bool other_branch, double near)
{
    const struct ww_angle_table_ply *ply = &table->ply[match->ply];
    double a = 2 * WW_PI * hypot(match->m / ply->lx, match->l / ply->ly);
    double psi = atan2(match->l / ply->ly, match->m / ply->lx), angle = near;
    for (int i = 0; i < 3; i++) {
        double sine = sign * ww_angle_table_modes(table, angle).beat / a;
        if (!(fabs(sine) <= 1))
            return NAN;
        double theta = (other_branch ? WW_PI - asin(sine) : asin(sine)) - psi;
        double at = theta + ply->turn - table->route[segment].angle;
        angle = at + WW_PI * round((angle - at) / WW_PI);
    }
    return angle;
}

/* One harmonic of one ply along one segment: all angles in the range. */
static enum ww_status try_harmonic(struct ww_angles *angles, const struct ww_search *search,
                                   struct ww_phase_match match, size_t segment, double largest,
                                   struct ww_error *error)
{
    const struct ww_angle_table *table = search->table;
    enum ww_status status = WW_OK;
    for (int branch = 0; branch < 4 && !status; branch++)
        for (double near = search->from; near < search->to + WW_PI && !status; near += WW_PI) {
            double angle = solve_angle(table, &match, segment, branch & 1 ? -1 : 1, branch & 2, near);
            if (!(angle >= search->from && angle <= search->to))
                continue;
            double share = table->route[segment].length / table->length;
            ww_evaluator_turn(search->evaluator, angle);
            double kappa = ww_angle_table_modes(table, angle).coupling *
                           ww_evaluator_difference(search->evaluator, match.ply, segment, match.m, match.l);
            match.angle = angle;
            match.alone = sin(fmin(kappa * share * search->length, 0.5 * WW_PI));
            if (match.alone > MATTERS * largest)
                status = keep(&angles->conversion, match, error);
        }
    return status;
}

enum ww_status ww_matches_find(struct ww_angles *angles, const struct ww_search *search, double largest,
                               struct ww_error *error)
{
    const struct ww_angle_table *table = search->table;
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < table->plies && table->modes; p++)
        for (size_t w = 1; w < table->ply[p].harmonics; w++)
            for (size_t s = 0; s < table->segments && !status; s++) {
                struct ww_order order = table->ply[p].order[w];
                struct ww_phase_match match = {.m = order.m, .l = order.l, .ply = p};
                if (order.m + abs(order.l) <= MOST_ORDER)
                    status = try_harmonic(angles, search, match, s, largest, error);
            }
    if (angles->conversion.matches)
        qsort(angles->conversion.match, angles->conversion.matches, sizeof *angles->conversion.match, by_angle);
    return status;
}

const struct ww_phase_match *ww_angles_match(const struct ww_angles *angles, double angle)
{
    const double near = 0.25 * WW_PI / 180, beside = 0.1 * WW_PI / 180;
    const struct ww_angles_conversion *conversion = &angles->conversion;
    const struct ww_phase_match *best = NULL;
    for (size_t i = 0; i < conversion->matches; i++) {
        const struct ww_phase_match *match = &conversion->match[i];
        bool alone = fabs(match->angle - angle) <= near;
        for (size_t k = 0; k < angles->revivals; k++)
            alone = alone && fabs(angles->revival[k].angle - match->angle) > beside;
        if (alone && (!best || fabs(match->angle - angle) < fabs(best->angle - angle)))
            best = match;
    }
    return best;
}
