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
 * gains over the plies alone, on the same small maps, is the answer.
 */
#include "scan/together.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "scan/piece.h"

#define ALIKE 1e-9 /* directions of travel over two cloths */
#define MATTERS 1e-2

enum {
    SIDE = WW_TOGETHER_SIDE,
    SAMPLES = SIDE * SIDE,
    ROW = SIDE / 2 + 1,
    ORDER = WW_TOGETHER_ORDER,
    ROUNDS = 8,
    STARTS = 4
};

struct ww_together {
    size_t plies;
    double *own, *product; /* [ply][SAMPLES]; [ply of the warp][ply of the fill][SAMPLES] */
    double *top;           /* [ply][SIDE] greatest of sign times a row of its own */
    struct sample {
        size_t x, y;
    } * at; /* [ply] */
    struct ww_series *series;
};

void ww_together_destroy(struct ww_together *together)
{
    if (!together)
        return;
    free(together->own);
    free(together->product);
    free(together->top);
    free(together->at);
    ww_series_destroy(together->series);
    free(together);
}

enum ww_status ww_together_create(struct ww_together **out, size_t plies, struct ww_error *error)
{
    *out = NULL;
    struct ww_together *t = calloc(1, sizeof *t);
    enum ww_status status = WW_OK;
    if (t) {
        t->plies = plies;
        t->own = calloc(plies * SAMPLES, sizeof *t->own);
        t->product = calloc(plies * plies * SAMPLES, sizeof *t->product);
        t->top = calloc(plies * SIDE, sizeof *t->top);
        t->at = calloc(plies, sizeof *t->at);
    }
    if (!t || !t->own || !t->product || !t->top || !t->at)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the maps of %zu plies", plies);
    else
        status = ww_series_create(&t->series, SIDE, SIDE, error);
    if (status)
        ww_together_destroy(t);
    else
        *out = t;
    return status;
}

double *ww_together_own(struct ww_together *together, size_t ply)
{
    return together->own + ply * SAMPLES;
}

static double *product_of(const struct ww_together *t, size_t p, size_t q)
{
    return t->product + (p * t->plies + q) * SAMPLES;
}

/* --- products -------------------------------------------------------------------------------------------------------- */

/* Half the phase that the product of two waves gains over the length. */
static double half_phase(const struct ww_yarns *one, const struct ww_yarns *other, int m, int l, double length)
{
    return WW_PI * length * (m * one->ux / one->lx + l * other->uy / other->ly);
}

static bool same_way(const struct ww_yarns *one, const struct ww_yarns *other)
{
    return hypot(one->ux - other->ux, one->uy - other->uy) < ALIKE;
}

static double _Complex fill_of(const struct ww_yarns *yarns, int leg, int l)
{
    return l < 0 ? conj(yarns->fill[leg][-l]) : yarns->fill[leg][l];
}

/* Product of two waves as the signal sees it, times <S>. */
static double _Complex product_at(const struct ww_meeting *meeting, const struct ww_yarns *one,
                                  const struct ww_yarns *other, int m, int l)
{
    double _Complex product = one->warp[0][m] * fill_of(other, 0, l);
    return meeting->skew ? product - one->warp[1][m] * fill_of(other, 1, l) : product;
}

static double size_of(double _Complex c)
{
    return hypot(creal(c), cimag(c));
}

/* The longest that a wave can last. */
static double lasting(double half, double length)
{
    return length / fmax(1, fabs(half));
}

/* Sum of what single waves of the yarns of one ply can leave over the length. */
static double left_by(const struct ww_meeting *meeting, const struct ww_yarns *yarns)
{
    double sum = 0;
    for (int n = 1; n <= ORDER; n++) {
        double _Complex warp = yarns->warp[0][n] - (meeting->skew ? yarns->warp[1][n] : 0);
        double _Complex fill = yarns->fill[0][n] - (meeting->skew ? yarns->fill[1][n] : 0);
        sum += size_of(warp) * lasting(half_phase(yarns, yarns, n, 0, meeting->length), meeting->length);
        sum += size_of(fill) * lasting(half_phase(yarns, yarns, 0, n, meeting->length), meeting->length);
    }
    return sum;
}

bool ww_together_matters(const struct ww_meeting *meeting)
{
    double products = 0, yarns = 0, length = meeting->length;
    if (meeting->plies < 2 || meeting->between == 0)
        return false;
    for (size_t p = 0; p < meeting->plies; p++) {
        const struct ww_yarns *one = &meeting->yarns[p];
        yarns += left_by(meeting, one);
        for (size_t q = 0; q < meeting->plies; q++) {
            const struct ww_yarns *other = &meeting->yarns[q];
            if (q == p || !same_way(one, other))
                continue;
            for (int m = 1; m <= ORDER; m++)
                for (int l = -ORDER; l <= ORDER; l++)
                    products += size_of(product_at(meeting, one, other, m, l)) *
                                lasting(half_phase(one, other, m, l, length), length) / one->mean[0];
        }
    }
    return fabs(meeting->between) * products > MATTERS * yarns;
}

static double along(double half, double length)
{
    return fabs(half) < 1e-8 ? length : length * sin(half) / half;
}

double ww_together_at(const struct ww_meeting *meeting, const double (*place)[2])
{
    double sum = 0;
    for (size_t p = 0; p < meeting->plies; p++)
        for (size_t q = 0; q < meeting->plies; q++) {
            const struct ww_yarns *one = &meeting->yarns[p], *other = &meeting->yarns[q];
            for (int m = 1; m <= ORDER && q != p && same_way(one, other); m++)
                for (int l = -ORDER; l <= ORDER; l++) {
                    double half = half_phase(one, other, m, l, meeting->length);
                    double phase = half + 2 * WW_PI * (m * place[p][0] / one->lx + l * place[q][1] / other->ly);
                    sum += 2 * meeting->between / one->mean[0] * along(half, meeting->length) *
                           creal(product_at(meeting, one, other, m, l) * (cos(phase) + I * sin(phase)));
                }
        }
    return sum;
}

static void map_product(struct ww_together *t, const struct ww_meeting *meeting, size_t p, size_t q)
{
    const struct ww_yarns *one = &meeting->yarns[p], *other = &meeting->yarns[q];
    double _Complex *coef = t->series->coef;
    memset(coef, 0, SIDE * ROW * sizeof *coef);
    for (int m = 1; m <= ORDER && same_way(one, other); m++)
        for (int l = -ORDER; l <= ORDER; l++) {
            double half = half_phase(one, other, m, l, meeting->length), phase = half + WW_PI * (m + l) / SIDE;
            coef[(size_t)((l + SIDE) % SIDE) * ROW + (size_t)m] =
                meeting->between / one->mean[0] * along(half, meeting->length) *
                product_at(meeting, one, other, m, l) * (cos(phase) + I * sin(phase));
        }
    ww_series_sum(t->series);
    memcpy(product_of(t, p, q), t->series->value, SAMPLES * sizeof *t->product);
}

/* --- climbing -------------------------------------------------------------------------------------------------------- */

static void find_tops(struct ww_together *t, double sign)
{
    for (size_t p = 0; p < t->plies; p++)
        for (size_t y = 0; y < SIDE; y++) {
            const double *row = ww_together_own(t, p) + y * SIDE;
            double most = sign * row[0];
            for (size_t x = 1; x < SIDE; x++)
                most = sign * row[x] > most ? sign * row[x] : most;
            t->top[p * SIDE + y] = most;
        }
}

/* Where sign times the map of ply p, plus a function of x and one of y, is greatest. Most rows cannot hold it: a row does not
 * rise above its own top and that of the function of x. */
static struct sample greatest(struct ww_together *t, size_t p, const double *of_x, const double *of_y, double sign)
{
    struct sample at = {0, 0};
    const double *map = ww_together_own(t, p);
    double most = -INFINITY, top_of_x = sign * of_x[0];
    for (size_t x = 1; x < SIDE; x++)
        top_of_x = fmax(top_of_x, sign * of_x[x]);
    for (size_t y = 0; y < SIDE; y++) {
        if (t->top[p * SIDE + y] + top_of_x + sign * of_y[y] < most)
            continue;
        for (size_t x = 0; x < SIDE; x++) {
            double value = sign * (map[y * SIDE + x] + of_x[x] + of_y[y]);
            if (value > most) {
                most = value;
                at = (struct sample){x, y};
            }
        }
    }
    return at;
}

/* What all other plies, where they are, add for ply p over its x and its y. */
static void add_others(const struct ww_together *t, size_t p, double of_x[SIDE], double of_y[SIDE])
{
    for (size_t q = 0; q < t->plies; q++)
        for (size_t i = 0; i < SIDE && q != p; i++) {
            of_x[i] += product_of(t, p, q)[t->at[q].y * SIDE + i];
            of_y[i] += product_of(t, q, p)[i * SIDE + t->at[q].x];
        }
}

static double own_at(struct ww_together *t, size_t p)
{
    return ww_together_own(t, p)[t->at[p].y * SIDE + t->at[p].x];
}

static double sum_at(struct ww_together *t)
{
    double sum = 0;
    for (size_t p = 0; p < t->plies; p++) {
        sum += own_at(t, p);
        for (size_t q = 0; q < t->plies; q++)
            if (q != p)
                sum += product_of(t, p, q)[t->at[q].y * SIDE + t->at[p].x];
    }
    return sum;
}

/* Climbs from where the plies are; what is reached. */
static double climb_from_here(struct ww_together *t, double sign)
{
    double reached = sum_at(t), before = -INFINITY;
    for (int round = 0; round < ROUNDS && sign * reached > before; round++) {
        before = sign * reached;
        for (size_t p = 0; p < t->plies; p++) {
            double of_x[SIDE] = {0}, of_y[SIDE] = {0};
            add_others(t, p, of_x, of_y);
            t->at[p] = greatest(t, p, of_x, of_y, sign);
        }
        reached = sum_at(t);
    }
    return reached;
}

/* What the climb gains over the extremes of the plies alone. Of several tops the highest: it starts from there and from
 * every other ply moved on along either diagonal, over which the products go up and down. */
static double climb(struct ww_together *t, double sign)
{
    const double nothing[SIDE] = {0};
    double alone = 0, best = -INFINITY;
    find_tops(t, sign);
    for (int start = 0; start < 2 * STARTS; start++) {
        size_t x = (size_t)(start % STARTS) * (SIDE / 2 / STARTS), y = start < STARTS ? x : (SIDE - x) % SIDE;
        alone = 0;
        for (size_t p = 0; p < t->plies; p++) {
            t->at[p] = greatest(t, p, nothing, nothing, sign);
            alone += own_at(t, p);
            if (p % 2)
                t->at[p] = (struct sample){(t->at[p].x + x) % SIDE, (t->at[p].y + y) % SIDE};
        }
        best = fmax(best, sign * climb_from_here(t, sign));
    }
    return sign * best - alone;
}

void ww_together_climb(struct ww_together *together, const struct ww_meeting *meeting, double more[2])
{
    for (size_t p = 0; p < together->plies; p++)
        for (size_t q = 0; q < together->plies; q++)
            if (q != p)
                map_product(together, meeting, p, q);
    more[0] = climb(together, 1);
    more[1] = climb(together, -1);
}

/* --- of a scan ------------------------------------------------------------------------------------------------------- */

void ww_yarns_put(struct ww_yarns *yarns, int leg, const struct ww_wave *wave, const double _Complex *coefficient,
                  size_t waves, double slowness)
{
    for (size_t w = 1; w < waves; w++)
        if (wave[w].l == 0 && wave[w].m <= ORDER)
            yarns->warp[leg][wave[w].m] = slowness * coefficient[w];
        else if (wave[w].m == 0 && wave[w].l > 0 && wave[w].l <= ORDER)
            yarns->fill[leg][wave[w].l] = slowness * coefficient[w];
}

void ww_yarns_take(struct ww_yarns *yarns, const struct ww_scan *scan, size_t p)
{
    const struct ww_ply_scan *ply = &scan->ply[p];
    *yarns = (struct ww_yarns){.lx = ply->lx, .ly = ply->ly, .ux = ply->ux, .uy = ply->uy};
    for (int leg = 0; leg < (scan->pair ? 2 : 1); leg++) {
        const double _Complex *c = ply->coefficient[leg][WW_MEAN];
        double mean = creal(c[0]);
        bool flight = scan->averaging == WW_FLIGHT;
        yarns->mean[leg] = flight ? mean : sqrt(mean) / WW_C0;
        ww_yarns_put(yarns, leg, ply->wave, c, ply->waves, flight ? 1 : 1 / (2 * WW_C0 * sqrt(mean)));
    }
}

static enum ww_status fill_own(struct ww_together *t, const struct ww_scan *scan, enum ww_signal signal,
                               double length, struct ww_error *error)
{
    enum ww_status status = WW_OK;
    struct ww_scan coarse = *scan;
    coarse.positions = SIDE;
    for (size_t p = 0; p < t->plies && !status; p++) {
        struct ww_piece piece;
        status = ww_piece_init(&piece, &coarse, p, signal, WW_MEAN, length, error);
        if (!status)
            status = ww_piece_map(&piece, ww_together_own(t, p), error);
        ww_piece_clear(&piece);
    }
    return status;
}

enum ww_status ww_together_reach(const struct ww_scan *scan, enum ww_signal signal, double length, double more[2],
                                 struct ww_error *error)
{
    more[0] = more[1] = 0;
    if (scan->plies < 2 || scan->between == 0 || scan->pieces > 0)
        return WW_OK;
    struct ww_together *together = NULL;
    struct ww_yarns *yarns = calloc(scan->plies, sizeof *yarns);
    enum ww_status status = WW_OK;
    if (!yarns)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", scan->plies);
    for (size_t p = 0; p < scan->plies; p++)
        ww_yarns_take(&yarns[p], scan, p);
    struct ww_meeting meeting = {
        .plies = scan->plies, .yarns = yarns, .skew = signal == WW_SKEW, .between = scan->between, .length = length};
    if (ww_together_matters(&meeting)) {
        status = ww_together_create(&together, scan->plies, error);
        if (!status)
            status = fill_own(together, scan, signal, length, error);
        if (!status)
            ww_together_climb(together, &meeting, more);
        ww_together_destroy(together);
    }
    free(yarns);
    return status;
}
