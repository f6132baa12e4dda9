/* blend.c - a scan from scans of lines that differ in width and pitch.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A leg's slowness depends on the cloth at the leg's own place, half a pitch to the left or right of the pair's centre:
 *   S^(k) = a(k) exp(+-i k.n pitch/2),   n to the left of the direction of travel.
 * In the phase of the leg, a changes slowly with width and pitch, and a weighed sum of a is the a of a line in between. The
 * extremes over position are not smooth (they have kinks where harmonics cancel): they are taken afterwards.
 */
#include "scan/blend.h"

#include <math.h>
#include <stdlib.h>

/* Sums of a for both legs, dense over the orders, of one ply in one direction. */
struct sums {
    int m_most, l_most;
    size_t count;
    double _Complex *leg[2]; /* [m][l + l_most] */
};

static size_t place_of(const struct sums *sums, struct ww_order order)
{
    return (size_t)(order.m * (2 * sums->l_most + 1) + order.l + sums->l_most);
}

static enum ww_status sums_init(struct sums *sums, const struct ww_scan *const *of, size_t count, size_t ply,
                                struct ww_error *error)
{
    *sums = (struct sums){0};
    for (size_t i = 0; i < count; i++) {
        const struct ww_ply_scan *from = &of[i]->ply[ply];
        for (size_t h = 0; h < from->harmonics; h++) {
            sums->m_most = from->order[h].m > sums->m_most ? from->order[h].m : sums->m_most;
            sums->l_most = abs(from->order[h].l) > sums->l_most ? abs(from->order[h].l) : sums->l_most;
        }
    }
    sums->count = (size_t)(sums->m_most + 1) * (size_t)(2 * sums->l_most + 1);
    sums->leg[0] = calloc(2 * sums->count, sizeof *sums->leg[0]);
    if (!sums->leg[0])
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", sums->count);
    sums->leg[1] = sums->leg[0] + sums->count;
    return WW_OK;
}

/* exp(i k.n offset) of one harmonic after another. */
static struct ww_stepper beside(const struct ww_ply_scan *ply, double offset)
{
    return ww_stepper_of(-2 * WW_PI * ply->uy / ply->lx * offset, 2 * WW_PI * ply->ux / ply->ly * offset);
}

static void add_ply(struct sums *sums, const struct ww_scan *of, size_t index, double weight)
{
    const struct ww_ply_scan *ply = &of->ply[index];
    for (int leg = 0; leg < (of->pair ? 2 : 1); leg++) {
        struct ww_stepper back = beside(ply, of->pair ? (leg ? 0.5 : -0.5) * of->pitch : 0);
        for (size_t h = 0; h < ply->harmonics; h++)
            sums->leg[leg][place_of(sums, ply->order[h])] +=
                weight * ply->coefficient[leg][WW_MEAN][h] * ww_stepper_to(&back, ply->order[h]);
    }
}

static double square_at(const struct sums *sums, size_t place)
{
    double square = 0;
    for (int leg = 0; leg < 2; leg++) {
        double real = creal(sums->leg[leg][place]), imaginary = cimag(sums->leg[leg][place]);
        double of_leg = real * real + imaginary * imaginary;
        square = of_leg > square ? of_leg : square;
    }
    return square;
}

/* The order of each place that counts, the mean first. */
static enum ww_status list_orders(struct ww_ply_scan *ply, const struct sums *sums, double negligible,
                                  struct ww_error *error)
{
    double largest = 0;
    size_t mean = place_of(sums, (struct ww_order){0, 0});
    ply->order = malloc(sums->count * sizeof *ply->order);
    if (!ply->order)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", sums->count);
    for (size_t place = 0; place < sums->count; place++) {
        double square = place == mean ? 0 : square_at(sums, place);
        largest = square > largest ? square : largest;
    }
    ply->order[0] = (struct ww_order){0, 0};
    ply->harmonics = 1;
    for (int m = 0; m <= sums->m_most; m++)
        for (int l = -sums->l_most; l <= sums->l_most; l++) {
            struct ww_order order = {m, l};
            size_t place = place_of(sums, order);
            if (place != mean && square_at(sums, place) > negligible * negligible * largest)
                ply->order[ply->harmonics++] = order;
        }
    return WW_OK;
}

static enum ww_status blend_ply(struct ww_scan *scan, const struct ww_scan *const *of, const double *weight,
                                size_t count, size_t index, double negligible, struct ww_error *error)
{
    struct ww_ply_scan *ply = &scan->ply[index];
    const struct ww_ply_scan *first = &of[0]->ply[index];
    struct sums sums;
    *ply = (struct ww_ply_scan){.lx = first->lx, .ly = first->ly, .ux = first->ux, .uy = first->uy};
    enum ww_status status = sums_init(&sums, of, count, index, error);
    for (size_t i = 0; i < count && !status; i++)
        add_ply(&sums, of[i], index, weight[i]);
    if (!status)
        status = list_orders(ply, &sums, negligible, error);
    double _Complex *all = status ? NULL : calloc(2 * WW_ESTIMATES * ply->harmonics, sizeof *all);
    if (!status && !all)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics", ply->harmonics);
    for (size_t leg = 0; leg < 2 && !status; leg++) {
        struct ww_stepper out = beside(ply, scan->pair ? (leg ? -0.5 : 0.5) * scan->pitch : 0);
        for (size_t e = 0; e < WW_ESTIMATES; e++)
            ply->coefficient[leg][e] = all + (leg * WW_ESTIMATES + e) * ply->harmonics;
        for (size_t h = 0; h < ply->harmonics; h++)
            ply->coefficient[leg][WW_MEAN][h] =
                sums.leg[leg][place_of(&sums, ply->order[h])] * ww_stepper_to(&out, ply->order[h]);
    }
    free(sums.leg[0]);
    return status;
}

/* Without its segments and the scans of its other directions. */
static enum ww_status blend_straight(struct ww_scan **out, const struct ww_scan *const *of, const double *weight,
                                     size_t count, double pitch, double negligible, struct ww_error *error)
{
    struct ww_scan *scan = malloc(sizeof *scan);
    *out = NULL;
    if (!scan)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a scan");
    *scan = *of[0];
    scan->pitch = pitch;
    scan->segment = NULL;
    scan->other = NULL;
    scan->segments = scan->others = 0;
    scan->change = scan->mean = 0;
    for (int leg = 0; leg < 2; leg++)
        for (enum ww_estimate e = WW_MEAN; e < WW_ESTIMATES; e++)
            scan->level[leg][e] = 0;
    for (size_t i = 0; i < count; i++) {
        scan->change += weight[i] * of[i]->change;
        scan->mean += weight[i] * of[i]->mean;
        for (int leg = 0; leg < 2; leg++)
            scan->level[leg][WW_MEAN] += weight[i] * of[i]->level[leg][WW_MEAN];
    }
    scan->ply = calloc(scan->plies ? scan->plies : 1, sizeof *scan->ply);
    enum ww_status status = scan->ply ? WW_OK : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a scan");
    for (size_t p = 0; p < scan->plies && !status; p++)
        status = blend_ply(scan, of, weight, count, p, negligible, error);
    if (status)
        ww_scan_destroy(scan);
    else
        *out = scan;
    return status;
}

/* The scan that stands in `scan` where `like` stands in the route of `of`. */
static const struct ww_scan *same_place(const struct ww_scan *scan, const struct ww_scan *of,
                                        const struct ww_scan *like)
{
    for (size_t i = 0; i < of->others; i++)
        if (of->other[i] == like)
            return scan->other[i];
    return scan;
}

static enum ww_status blend_others(struct ww_scan *scan, const struct ww_scan *const *of, const double *weight,
                                   size_t count, double negligible, struct ww_error *error)
{
    const struct ww_scan **others = calloc(count, sizeof(struct ww_scan *));
    scan->segment = calloc(of[0]->segments, sizeof *scan->segment);
    scan->other = calloc(of[0]->segments, sizeof(struct ww_scan *));
    enum ww_status status = WW_OK;
    if (!others || !scan->segment || !scan->other)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a route of %zu segments", of[0]->segments);
    for (size_t k = 0; k < of[0]->others && !status; k++) {
        for (size_t i = 0; i < count; i++)
            others[i] = of[i]->other[k];
        status = blend_straight(&scan->other[k], others, weight, count, scan->pitch, negligible, error);
        scan->others += !status;
    }
    for (size_t i = 0; i < of[0]->segments && !status; i++) {
        scan->segment[i] = of[0]->segment[i];
        scan->segment[i].scan = same_place(scan, of[0], of[0]->segment[i].scan);
        scan->segments = i + 1;
    }
    free(others);
    return status;
}

enum ww_status ww_scan_blend(struct ww_scan **out, const struct ww_scan *const *of, const double *weight,
                             size_t count, double pitch, double negligible, struct ww_error *error)
{
    enum ww_status status = blend_straight(out, of, weight, count, pitch, negligible, error);
    if (!status && of[0]->segments > 0)
        status = blend_others(*out, of, weight, count, negligible, error);
    if (status) {
        ww_scan_destroy(*out);
        *out = NULL;
    }
    return status;
}
