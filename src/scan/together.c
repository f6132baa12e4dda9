/* together.c - what plies do to each other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * To first order plies add, and each is worst where it is worst alone. To second order the warp of one ply bends the
 * field that the fill of another sees (interplay, weftwise/scan.h). Over the way from r_p and r_q that is
 *   X_pq = H_pq(x_p, y_q) + H_qp(x_q, y_p),
 *   H_pq(x, y) = between/<S> sum over m, l of W_p(m) F_q(l) exp(i (kx x + ky y)) integral of exp(i (kx, ky).u s) ds,
 * for a warp does not tell where along it it starts. H is a map of the kind of a ply's own. It matters near the diagonals,
 * where kx and ky cancel and little else is left. The greatest sum is climbed to ply by ply, from where each is at its
 * own: with all others at rest, the sum over the positions of one is its map plus a function of x and one of y. What that
 * gains over the plies alone, on the same small map, is the answer.
 */
#include "scan/together.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "scan/piece.h"

#define ALIKE 1e-9 /* directions of travel over two cloths */

enum { SIDE = 64, SAMPLES = SIDE * SIDE, ROW = SIDE / 2 + 1, ORDER = 12, ROUNDS = 8 };

/* What one leg sees of the yarns of one ply, as slowness: orders 0..ORDER of either family. */
struct yarns {
    double _Complex warp[ORDER + 1], fill[ORDER + 1];
};

static struct yarns gather(const struct ww_scan *scan, size_t p, int leg)
{
    const struct ww_ply_scan *ply = &scan->ply[p];
    const double _Complex *c = ply->coefficient[leg][WW_MEAN];
    double slowness = scan->averaging == WW_FLIGHT ? 1 : 1 / (2 * WW_C0 * sqrt(creal(c[0]))); /* per eps */
    struct yarns yarns = {0};
    for (size_t w = 1; w < ply->waves; w++) {
        struct ww_wave wave = ply->wave[w];
        if (wave.l == 0 && wave.m <= ORDER)
            yarns.warp[wave.m] = slowness * c[w];
        else if (wave.m == 0 && wave.l > 0 && wave.l <= ORDER)
            yarns.fill[wave.l] = slowness * c[w];
    }
    return yarns;
}

/* The maps: own[p] of every ply, product[p * plies + q] of the warp of p with the fill of q. */
struct maps {
    size_t plies;
    double *own, *product;
};

static double *own_of(const struct maps *maps, size_t p)
{
    return maps->own + p * SAMPLES;
}

static double *product_of(const struct maps *maps, size_t p, size_t q)
{
    return maps->product + (p * maps->plies + q) * SAMPLES;
}

/* Adds one leg's waves, seen from the middles of the samples, to a half spectrum. */
static void add_leg(double _Complex *spectrum, const struct ww_ply_scan *with_warp,
                    const struct ww_ply_scan *with_fill, const struct yarns *one, const struct yarns *other,
                    double length, double strength)
{
    for (int m = 1; m <= ORDER; m++)
        for (int l = -ORDER; l <= ORDER; l++) {
            double _Complex fill = l < 0 ? conj(other->fill[-l]) : other->fill[l];
            double half = WW_PI * length * (m * with_warp->ux / with_warp->lx + l * with_fill->uy / with_fill->ly);
            double phase = half + WW_PI * (m + l) / SIDE;
            double along = fabs(half) < 1e-8 ? length : length * sin(half) / half;
            spectrum[(size_t)((l + SIDE) % SIDE) * ROW + (size_t)m] +=
                strength * one->warp[m] * fill * along * (cos(phase) + I * sin(phase));
        }
}

static enum ww_status map_product(struct maps *maps, const struct ww_scan *scan, size_t p, size_t q,
                                  enum ww_signal signal, double length, struct ww_error *error)
{
    double _Complex spectrum[SIDE * ROW] = {0};
    const struct ww_ply_scan *one = &scan->ply[p], *other = &scan->ply[q];
    if (hypot(one->ux - other->ux, one->uy - other->uy) > ALIKE)
        return WW_OK;
    for (int leg = 0; leg < 2; leg++) {
        if (signal != WW_SKEW && leg != (int)signal)
            continue;
        struct yarns warp = gather(scan, p, leg), fill = gather(scan, q, leg);
        double mean = ww_scan_mean_delay(scan, leg ? WW_LEG2 : WW_LEG1, 1);
        add_leg(spectrum, one, other, &warp, &fill, length,
                (signal == WW_SKEW && leg ? -1 : 1) * scan->between / mean);
    }
    return ww_transform_inverse(spectrum, SIDE, SIDE, product_of(maps, p, q), error);
}

static enum ww_status maps_fill(struct maps *maps, const struct ww_scan *scan, enum ww_signal signal, double length,
                                struct ww_error *error)
{
    enum ww_status status = WW_OK;
    struct ww_scan coarse = *scan;
    coarse.positions = SIDE;
    for (size_t p = 0; p < maps->plies && !status; p++) {
        struct ww_piece piece;
        status = ww_piece_init(&piece, &coarse, p, signal, WW_MEAN, length, error);
        if (!status)
            status = ww_piece_map(&piece, own_of(maps, p), error);
        ww_piece_clear(&piece);
        for (size_t q = 0; q < maps->plies && !status; q++)
            if (q != p)
                status = map_product(maps, scan, p, q, signal, length, error);
    }
    return status;
}

struct sample {
    size_t x, y;
};

/* Where sign times the map, plus a function of x and one of y, is greatest. */
static struct sample greatest(const double *map, const double *of_x, const double *of_y, double sign)
{
    struct sample at = {0, 0};
    double most = -INFINITY;
    for (size_t y = 0; y < SIDE; y++)
        for (size_t x = 0; x < SIDE; x++) {
            double value = sign * (map[y * SIDE + x] + of_x[x] + of_y[y]);
            if (value > most) {
                most = value;
                at = (struct sample){x, y};
            }
        }
    return at;
}

/* What all other plies, where they are, add for ply p over its x and its y. */
static void add_others(const struct maps *maps, const struct sample *at, size_t p, double of_x[SIDE],
                       double of_y[SIDE])
{
    for (size_t q = 0; q < maps->plies; q++)
        for (size_t i = 0; i < SIDE && q != p; i++) {
            of_x[i] += product_of(maps, p, q)[at[q].y * SIDE + i];
            of_y[i] += product_of(maps, q, p)[i * SIDE + at[q].x];
        }
}

static double sum_at(const struct maps *maps, const struct sample *at)
{
    double sum = 0;
    for (size_t p = 0; p < maps->plies; p++) {
        sum += own_of(maps, p)[at[p].y * SIDE + at[p].x];
        for (size_t q = 0; q < maps->plies; q++)
            if (q != p)
                sum += product_of(maps, p, q)[at[q].y * SIDE + at[p].x];
    }
    return sum;
}

/* What the climb gains over the extremes of the plies alone. */
static double climb(const struct maps *maps, struct sample *at, double sign)
{
    const double nothing[SIDE] = {0};
    double alone = 0, reached = 0, before = -INFINITY;
    for (size_t p = 0; p < maps->plies; p++) {
        at[p] = greatest(own_of(maps, p), nothing, nothing, sign);
        alone += own_of(maps, p)[at[p].y * SIDE + at[p].x];
    }
    reached = sum_at(maps, at);
    for (int round = 0; round < ROUNDS && sign * reached > before; round++) {
        before = sign * reached;
        for (size_t p = 0; p < maps->plies; p++) {
            double of_x[SIDE] = {0}, of_y[SIDE] = {0};
            add_others(maps, at, p, of_x, of_y);
            at[p] = greatest(own_of(maps, p), of_x, of_y, sign);
        }
        reached = sum_at(maps, at);
    }
    return reached - alone;
}

enum ww_status ww_together_reach(const struct ww_scan *scan, enum ww_signal signal, double length, double more[2],
                                 struct ww_error *error)
{
    more[0] = more[1] = 0;
    size_t plies = scan->plies;
    if (plies < 2 || scan->between == 0 || scan->pieces > 0)
        return WW_OK;
    struct maps maps = {.plies = plies,
                        .own = calloc(plies * SAMPLES, sizeof *maps.own),
                        .product = calloc(plies * plies * SAMPLES, sizeof *maps.product)};
    struct sample *at = calloc(plies, sizeof *at);
    enum ww_status status = maps.own && maps.product && at
                                ? maps_fill(&maps, scan, signal, length, error)
                                : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
    for (int low = 0; low < 2 && !status; low++)
        more[low] = climb(&maps, at, low ? -1 : 1);
    free(maps.own);
    free(maps.product);
    free(at);
    return status;
}
