/* revivals.c - the directions in which skew revives.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Along a direction u of the cloth's lattice the harmonics with k.u = 0 are constant: their skew grows with length, while all
 * others saturate. Warp and fill are such directions, and the diagonals of the cell; every (m, l) has one. A direction is
 * listed as a revival
 *  - if these harmonics add more than MATTERS of the worst anywhere in the sweep, and
 *  - if they exceed the ply's whole value one and a half to two and a half lobes away to both sides: else the harmonics that
 *    saturate hide it.
 */
#include <math.h>
#include <stdlib.h>

#include "sweep/angles.h"

#define MATTERS 0.005
#define MOST_ORDER 31
#define SAME 1e-9     /* rad: one direction */
#define ROUNDING 1e-9 /* of a slowness: less is none */

static int common_factor(int a, int b)
{
    return b ? common_factor(b, a % b) : a;
}

static int by_angle(const void *one, const void *other)
{
    const struct ww_revival *a = one, *b = other;
    if (fabs(a->angle - b->angle) > SAME)
        return a->angle < b->angle ? -1 : 1;
    return a->ply < b->ply ? -1 : a->ply > b->ply;
}

static bool is_known(const struct ww_angles *angles, size_t ply, double angle)
{
    for (size_t i = 0; i < angles->revivals; i++)
        if (angles->revival[i].ply == ply && fabs(angles->revival[i].angle - angle) < SAME)
            return true;
    return false;
}

static enum ww_status add(struct ww_angles *angles, struct ww_revival revival, struct ww_error *error)
{
    struct ww_revival *more = realloc(angles->revival, (angles->revivals + 1) * sizeof *more);
    if (!more)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu directions", angles->revivals + 1);
    angles->revival = more;
    more[angles->revivals++] = revival;
    return WW_OK;
}

static double of_ply(const struct ww_search *search, size_t ply)
{
    struct ww_reach reach = ww_evaluator_reach(search->evaluator, ply, search->length / search->table->length);
    return search->table->pair ? fmax(reach.high, -reach.low) : reach.high - reach.low;
}

/* The largest value of the ply beside the direction, within the sweep; `lobe` is the width of a lobe of its harmonic. */
static double beside(const struct ww_search *search, const struct ww_revival *revival, double lobe)
{
    double most = 0;
    for (int half_lobes = 3; half_lobes <= 5; half_lobes++)
        for (int side = -1; side <= 1; side += 2) {
            double angle = revival->angle + 0.5 * side * half_lobes * lobe;
            if (angle < search->table->from || angle > search->table->to)
                continue;
            ww_evaluator_turn(search->evaluator, angle);
            most = fmax(most, of_ply(search, revival->ply));
        }
    return most;
}

/* Keeps the direction, if it matters. */
static enum ww_status judge(struct ww_angles *angles, const struct ww_search *search, struct ww_revival revival,
                            struct ww_error *error)
{
    const struct ww_angle_table_ply *ply = &search->table->ply[revival.ply];
    int harmonic = 1;
    double worth = fmax(MATTERS * search->worst / search->length, ROUNDING / WW_C0);
    ww_evaluator_turn(search->evaluator, revival.angle);
    revival.growth = ww_evaluator_growth(search->evaluator, revival.ply, revival.m, revival.l, worth, &harmonic);
    if (!(revival.growth > worth))
        return WW_OK;
    double lobe = 1 / (search->length * harmonic * hypot(revival.m / ply->lx, revival.l / ply->ly));
    return revival.growth * search->length > beside(search, &revival, lobe) ? add(angles, revival, error) : WW_OK;
}

/* One direction of one ply: all angles in the range that turn a segment of the route into it. */
static enum ww_status try_direction(struct ww_angles *angles, const struct ww_search *search,
                                    struct ww_revival revival, struct ww_error *error)
{
    const struct ww_angle_table *table = search->table;
    const struct ww_angle_table_ply *ply = &table->ply[revival.ply];
    double in_cloth = atan2(-revival.l / ply->ly, revival.m / ply->lx);
    enum ww_status status = WW_OK;
    for (size_t i = 0; i < table->segments && !status; i++) {
        double angle = in_cloth + ply->turn - table->route[i].angle;
        angle += WW_PI * ceil((search->from - SAME - angle) / WW_PI);
        for (; angle <= search->to + SAME && !status; angle += WW_PI) {
            revival.angle = fmin(fmax(angle, search->from), search->to);
            if (!is_known(angles, revival.ply, revival.angle))
                status = judge(angles, search, revival, error);
        }
    }
    return status;
}

enum ww_status ww_revivals_find(struct ww_angles *angles, const struct ww_search *search, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (size_t p = 0; p < search->table->plies; p++)
        for (int m = 0; m <= MOST_ORDER; m++)
            for (int l = m ? -MOST_ORDER : 1; l <= MOST_ORDER && !status; l++)
                if (common_factor(m, abs(l)) == 1)
                    status = try_direction(angles, search, (struct ww_revival){.m = m, .l = l, .ply = p}, error);
    if (angles->revivals)
        qsort(angles->revival, angles->revivals, sizeof *angles->revival, by_angle);
    return status;
}
