/* fan.c - the waves of the cloth over a range of angles.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Turned by a little, a trace weighs each wave of the cloth nearly as before: what a leg sees, S^(k; theta), is smooth
 * over degrees. What is not smooth is how long the wave keeps step with the trace, sinc(k.u L/2): its lobes are as
 * narrow as pitch/length. So the cloth is scanned at angles a degree or so apart, S^ is interpolated between them by
 * cubics, and the rest is computed at the very angle and length: the value from all positions by
 *   value(r0) = sum over pieces and waves of exp(i k.r0) [S1^ F1 - S2^ F2],
 *   F = exp(i k.P) integral of exp(i k.u s) over the leg's part of the piece, which starts at P,
 * on a map of 64 by 64, the top by its highest sample from the parabola through its neighbours.
 *
 * Kept are the waves that this map resolves and that could add a thousandth to the skew of the yarns at rest over the
 * longest route. A leg's lengths differ at the bends of a route: it runs past the end of the centre line's piece by its
 * offset times tan(bend/2). The quasi-static limit is taken to first order, delay = L d eps/(2 c0 sqrt(eps)).
 *
 * Accuracy: within 0.5 % of ww_turned_solve, of the largest value in its neighbourhood (tests/sweep/test_angles.c).
 */
#include "sweep/fan.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/transform.h"
#include "scan/extremes.h"

#define POSITIONS WW_LOOK_POSITIONS
#define MOST_ORDER (POSITIONS / 2 - 1)
#define STEP (WW_PI / 180)
#define STEP_BY_PITCH                                                                                                \
    0.03 /* of a scan against (longest side of a cell)/(pair pitch): phases between legs turn by so little */
#define NEGLIGIBLE 1e-3 /* of the largest wave over half a yarn pitch */
#define STENCIL 4
#define FAR 0.75            /* samples: half the diagonal between four, and some */
#define STILL 1e-9          /* advance of a wave that stands still, against its length */
#define STILL_POSITIONS 512 /* along the wave that stands still: its top by so many is short of it by 1e-4 */

enum { SIDE = 2 * MOST_ORDER + 1, DENSE = (MOST_ORDER + 1) * SIDE };

static size_t dense_place(int m, int l)
{
    return (size_t)(m * SIDE + l + MOST_ORDER);
}

/* --- scanning ------------------------------------------------------------------------------------------------------ */

/* Everything at all angles before the waves that matter are chosen: [ply][angle][leg][DENSE]. */
struct harvest {
    const struct ww_line *line;
    const struct ww_skew_request *request;
    double _Complex *wave;
};

static double _Complex *harvested(const struct harvest *harvest, const struct ww_fan *fan, size_t ply, size_t angle,
                                  size_t leg)
{
    return harvest->wave + ((ply * fan->count + angle) * 2 + leg) * DENSE;
}

static enum ww_status scan_angle(const struct harvest *harvest, struct ww_fan *fan, size_t index,
                                 struct ww_error *error)
{
    struct ww_scan *scan = NULL;
    double angle = fan->first + (double)index * fan->step;
    struct ww_scan_options options = harvest->request->scan;
    options.route = NULL;
    options.pieces = 0;
    enum ww_status status = ww_scan_create_with(&scan, harvest->line, angle, false, &options, error);
    if (status)
        return status;
    for (size_t p = 0; p < fan->plies; p++)
        for (size_t leg = 0; leg < (fan->pair ? 2 : 1); leg++) {
            const struct ww_ply_scan *ply = &scan->ply[p];
            const double _Complex *c = ply->coefficient[leg][WW_MEAN];
            double _Complex *dense = harvested(harvest, fan, p, index, leg);
            double slowness = scan->averaging == WW_FLIGHT ? 1 : 1 / (2 * WW_C0 * sqrt(creal(c[0]))); /* per eps */
            for (size_t w = 0; w < ply->waves; w++)
                if (ply->wave[w].m <= MOST_ORDER && abs(ply->wave[w].l) <= MOST_ORDER)
                    dense[dense_place(ply->wave[w].m, ply->wave[w].l)] = slowness * c[w];
            if (index == 0 && p == 0 && leg == 0)
                fan->mean = scan->averaging == WW_FLIGHT ? creal(c[0]) : sqrt(creal(c[0])) / WW_C0;
            if (index == 0) {
                fan->ply[p].lx = ply->lx;
                fan->ply[p].ly = ply->ly;
            }
        }
    ww_scan_destroy(scan);
    return WW_OK;
}

static enum ww_status scan_angles(const struct harvest *harvest, struct ww_fan *fan, struct ww_progress_run *progress,
                                  struct ww_error *error)
{
    struct ww_failure failure = {.error = error};
    int count = (int)fan->count;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(dynamic)
#endif
    for (int i = 0; i < count; i++) {
        struct ww_error mine = {0};
        ww_failure_keep(&failure, (size_t)i, scan_angle(harvest, fan, (size_t)i, &mine), &mine);
        ww_progress_step(progress);
    }
    return failure.status;
}

static double size_of(double _Complex c)
{
    return hypot(creal(c), cimag(c));
}

static double square_of(double _Complex c)
{
    return creal(c) * creal(c) + cimag(c) * cimag(c);
}

/* largest[DENSE]: squares of each wave, by either leg, over all angles; returns the most that the signal has of any. */
static double measure(const struct harvest *harvest, const struct ww_fan *fan, size_t ply, double *largest)
{
    double most = 0;
    for (size_t a = 0; a < fan->count; a++) {
        const double _Complex *leg1 = harvested(harvest, fan, ply, a, 0), *leg2 = leg1 + DENSE;
        for (size_t i = 0; i < DENSE; i++) {
            double one = square_of(leg1[i]), two = square_of(leg2[i]), signal = square_of(leg1[i] - leg2[i]);
            largest[i] = one > largest[i] ? one : largest[i];
            largest[i] = two > largest[i] ? two : largest[i];
            most = i != dense_place(0, 0) && signal > most ? signal : most;
        }
    }
    return sqrt(most);
}

static enum ww_status keep_waves(struct ww_fan *fan, const struct harvest *harvest, size_t p, double longest,
                                 struct ww_error *error)
{
    struct ww_fan_ply *ply = &fan->ply[p];
    double *largest = calloc(DENSE, sizeof *largest);
    enum ww_status status = WW_OK;
    if (!largest)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the waves");
    double pitch = 0.5 * fmin(ply->lx, ply->ly);
    double limit = measure(harvest, fan, p, largest) * fmin(NEGLIGIBLE, NEGLIGIBLE * pitch / (WW_PI * longest));
    limit *= limit;
    largest[dense_place(0, 0)] = INFINITY;
    for (size_t i = 0; i < DENSE; i++)
        ply->waves += largest[i] > limit;
    ply->wave = calloc(ply->waves, sizeof *ply->wave);
    for (size_t leg = 0; leg < 2; leg++)
        ply->seen[leg] = calloc(fan->count * ply->waves, sizeof *ply->seen[leg]);
    if (!ply->wave || !ply->seen[0] || !ply->seen[1]) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu waves at %zu angles", ply->waves,
                              fan->count);
        goto done;
    }
    size_t w = 1; /* wave 0 is the mean */
    for (int m = 0; m <= MOST_ORDER; m++)
        for (int l = -MOST_ORDER; l <= MOST_ORDER; l++)
            if ((m || l) && largest[dense_place(m, l)] > limit)
                ply->wave[w++] = (struct ww_wave){m, l};
    ply->rows = ww_waves_rows(ply->wave, ply->waves, POSITIONS);
    for (size_t a = 0; a < fan->count; a++)
        for (size_t leg = 0; leg < 2; leg++)
            for (w = 0; w < ply->waves; w++)
                ply->seen[leg][a * ply->waves + w] =
                    harvested(harvest, fan, p, a, leg)[dense_place(ply->wave[w].m, ply->wave[w].l)];
done:
    free(largest);
    return status;
}

/* The scans that serve a range of angles of the trace, whatever way its pieces run. */
static void choose_angles(struct ww_fan *fan, const struct ww_line *line, double from, double to)
{
    double least = INFINITY, most = -INFINITY, side = 0;
    for (size_t i = 0; i < fan->pieces; i++) {
        least = fmin(least, fan->route[i].angle);
        most = fmax(most, fan->route[i].angle);
    }
    for (size_t p = 0; p < fan->plies; p++)
        side = fmax(side, fmax(line->harmonics[p].lx, line->harmonics[p].ly));
    fan->step = STEP;
    if (fan->pair && fan->plies)
        fan->step = fmin(STEP, STEP_BY_PITCH * side / fan->pitch);
    fan->from = from;
    fan->to = to;
    fan->first = from + least - fan->step;
    fan->count = (size_t)ceil((to + most - from - least) / fan->step) + STENCIL;
}

enum ww_status ww_fan_create(struct ww_fan **out, const struct ww_line *line, const struct ww_skew_request *request,
                             double from, double to, double longest, struct ww_progress_run *progress,
                             struct ww_error *error)
{
    *out = NULL;
    struct ww_fan *fan = calloc(1, sizeof *fan);
    struct harvest harvest = {line, request, NULL};
    enum ww_status status = WW_OK;
    size_t plies = line->stack->plies;
    if (fan)
        fan->ply = calloc(plies + 1, sizeof *fan->ply);
    if (!fan || !fan->ply) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu plies", plies);
        goto done;
    }
    fan->plies = plies;
    fan->between = request->scan.scales.between;
    fan->pair = line->mesh.pair;
    fan->pitch = fan->pair ? line->summary.pitch : 0;
    fan->straight.length = fan->length = request->length;
    fan->route = request->pieces ? request->route : &fan->straight;
    fan->pieces = request->pieces ? request->pieces : 1;
    for (size_t p = 0; p < plies; p++)
        fan->ply[p].turn = line->stack->ply[p].turn;
    choose_angles(fan, line, from, to);
    ww_progress_part(progress, 0.25, fan->count);
    harvest.wave = calloc((plies ? plies : 1) * fan->count * 2 * DENSE, sizeof *harvest.wave);
    status = harvest.wave ? scan_angles(&harvest, fan, progress, error)
                          : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu angles", fan->count);
    for (size_t p = 0; p < plies && !status; p++)
        status = keep_waves(fan, &harvest, p, longest, error);
done:
    free(harvest.wave);
    if (status)
        ww_fan_destroy(fan);
    else
        *out = fan;
    return status;
}

size_t ww_fan_parts(const struct ww_fan *fan)
{
    return fan->plies + (fan->plies > 1 && fan->between != 0 && fan->route == &fan->straight);
}

void ww_fan_destroy(struct ww_fan *fan)
{
    if (!fan)
        return;
    for (size_t p = 0; fan->ply && p < fan->plies; p++) {
        free(fan->ply[p].wave);
        free(fan->ply[p].seen[0]);
        free(fan->ply[p].seen[1]);
    }
    free(fan->ply);
    free(fan);
}

/* --- looking ------------------------------------------------------------------------------------------------------- */

/* One piece of the route at the angle looked at, over one ply. */
struct leg_of_way {
    double ux, uy;             /* in the frame of the ply's cloth */
    double x, y;               /* where it starts, the route at its own length [m] */
    double length;             /* [m] */
    double before[2], past[2]; /* each leg starts so much before the piece, and runs past it [m] */
    double _Complex *seen[2];  /* [waves] */
};

struct ww_look {
    const struct ww_fan *fan;
    double angle;
    struct leg_of_way *way;     /* [ply][piece] */
    double _Complex **waves_of; /* [ply][piece]: what seen points into */
    struct ww_series *series;
    struct ww_together *together; /* of several plies */
    struct ww_yarns *yarns;       /* [ply] */
};

void ww_look_destroy(struct ww_look *look)
{
    if (!look)
        return;
    for (size_t i = 0; look->waves_of && i < look->fan->plies * look->fan->pieces; i++)
        free(look->waves_of[i]);
    free(look->waves_of);
    free(look->way);
    ww_series_destroy(look->series);
    ww_together_destroy(look->together);
    free(look->yarns);
    free(look);
}

enum ww_status ww_look_create(struct ww_look **out, const struct ww_fan *fan, struct ww_error *error)
{
    *out = NULL;
    struct ww_look *look = calloc(1, sizeof *look);
    size_t ways = fan->plies * fan->pieces;
    enum ww_status status = WW_OK;
    if (look) {
        look->fan = fan;
        look->way = calloc(ways + 1, sizeof *look->way);
        look->waves_of = calloc(ways + 1, sizeof *look->waves_of);
        look->yarns = calloc(fan->plies + 1, sizeof *look->yarns);
    }
    if (!look || !look->way || !look->waves_of || !look->yarns)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a route of %zu pieces", fan->pieces);
    else
        status = ww_series_create(&look->series, POSITIONS, POSITIONS, error);
    if (!status && ww_fan_parts(fan) > fan->plies)
        status = ww_together_create(&look->together, fan->plies, error);
    for (size_t i = 0; i < ways && !status; i++) {
        size_t waves = fan->ply[i / fan->pieces].waves;
        double _Complex *seen = calloc(2 * waves, sizeof *seen);
        if (!seen)
            status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu waves", waves);
        look->waves_of[i] = seen;
        look->way[i].seen[0] = seen;
        look->way[i].seen[1] = seen ? seen + waves : NULL;
    }
    if (status)
        ww_look_destroy(look);
    else
        *out = look;
    return status;
}

/* Waves between the scanned angles, by the cubic through the four about them. */
static void interpolate(const struct ww_fan *fan, const struct ww_fan_ply *ply, double angle,
                        double _Complex *seen[2])
{
    double at = (angle - fan->first) / fan->step;
    double base = fmax(0, fmin(floor(at) - 1, (double)(fan->count - STENCIL)));
    double t = at - base - 1; /* 0..1 within */
    const double weight[STENCIL] = {-t * (t - 1) * (t - 2) / 6, (t + 1) * (t - 1) * (t - 2) / 2,
                                    -(t + 1) * t * (t - 2) / 2, (t + 1) * t * (t - 1) / 6};
    for (size_t leg = 0; leg < (fan->pair ? 2 : 1); leg++) {
        const double _Complex *row = ply->seen[leg] + (size_t)base * ply->waves;
        for (size_t w = 0; w < ply->waves; w++)
            seen[leg][w] = weight[0] * row[w] + weight[1] * row[w + ply->waves] +
                           weight[2] * row[w + 2 * ply->waves] + weight[3] * row[w + 3 * ply->waves];
    }
}

/* By how much the leg at `offset` to the left outruns the centre line at a bend. */
static double outrun(double offset, double before, double after)
{
    return offset * tan(0.5 * remainder(after - before, 2 * WW_PI));
}

void ww_look_at(struct ww_look *look, double angle)
{
    const struct ww_fan *fan = look->fan;
    look->angle = angle;
    for (size_t p = 0; p < fan->plies; p++) {
        double x = 0, y = 0;
        for (size_t i = 0; i < fan->pieces; i++) {
            struct leg_of_way *way = &look->way[p * fan->pieces + i];
            const struct ww_route_piece *piece = &fan->route[i];
            double theta = angle + piece->angle - fan->ply[p].turn;
            way->ux = sin(theta);
            way->uy = cos(theta);
            way->x = x;
            way->y = y;
            way->length = piece->length;
            x += way->ux * piece->length;
            y += way->uy * piece->length;
            for (size_t leg = 0; leg < 2; leg++) {
                double offset = leg ? -0.5 * fan->pitch : 0.5 * fan->pitch;
                way->before[leg] = i > 0 ? outrun(offset, piece[-1].angle, piece->angle) : 0;
                way->past[leg] = i + 1 < fan->pieces ? outrun(offset, piece->angle, piece[1].angle) : 0;
            }
            interpolate(fan, &fan->ply[p], angle + piece->angle, way->seen);
        }
    }
}

static double _Complex *coefficient_of(struct ww_look *look, struct ww_wave wave)
{
    size_t row = POSITIONS / 2 + 1;
    return &look->series->coef[(size_t)(wave.l < 0 ? wave.l + POSITIONS : wave.l) * row + (size_t)wave.m];
}

/* A straight trace: one integral a wave, length exp(i half) sin(half)/half with half = k.u length/2. */
static void lay_straight(struct ww_look *look, size_t p, double stretch)
{
    const struct ww_fan *fan = look->fan;
    const struct ww_fan_ply *ply = &fan->ply[p];
    const struct leg_of_way *way = &look->way[p];
    double length = stretch * way->length, x = WW_PI * length * way->ux / ply->lx,
           y = WW_PI * length * way->uy / ply->ly;
    struct ww_stepper halves = ww_stepper_of(x, y);
    for (size_t w = 1; w < ply->waves; w++) {
        double half = ply->wave[w].m * x + ply->wave[w].l * y;
        double _Complex turn = ww_stepper_to(&halves, ply->wave[w]);
        double _Complex seen = way->seen[0][w] - (fan->pair ? way->seen[1][w] : 0);
        double sinc = fabs(half) < 0.1 ? ww_sinc(half) : cimag(turn) / half;
        *coefficient_of(look, ply->wave[w]) = seen * turn * (length * sinc);
    }
    if (fan->pair)
        look->series->coef[0] = creal(way->seen[0][0] - way->seen[1][0]) * length;
}

/* exp(i k.r) at one point for every wave: powers of the first wave each way. */
struct powers {
    double _Complex x[MOST_ORDER + 1], y[2 * MOST_ORDER + 1];
};

static void raise(struct powers *powers, const struct ww_fan_ply *ply, double x, double y)
{
    double px = 2 * WW_PI * x / ply->lx, py = 2 * WW_PI * y / ply->ly;
    double _Complex one_x = cos(px) + I * sin(px), one_y = cos(py) + I * sin(py);
    powers->x[0] = powers->y[MOST_ORDER] = 1;
    for (int m = 1; m <= MOST_ORDER; m++) {
        powers->x[m] = powers->x[m - 1] * one_x;
        powers->y[MOST_ORDER + m] = powers->y[MOST_ORDER + m - 1] * one_y;
        powers->y[MOST_ORDER - m] = conj(powers->y[MOST_ORDER + m]);
    }
}

static double _Complex power_of(const struct powers *powers, struct ww_wave wave)
{
    return powers->x[wave.m] * powers->y[MOST_ORDER + wave.l];
}

/* Adds what one leg sees along one piece of a route, from the values of each wave at its ends. */
static void add_leg(struct ww_look *look, size_t p, const struct leg_of_way *way, int leg, double stretch)
{
    const double short_way = 1e-3; /* of the phase from end to end: there the first terms of the series do */
    const struct ww_fan_ply *ply = &look->fan->ply[p];
    double from = -way->before[leg], to = stretch * way->length + way->past[leg], sign = leg ? -1 : 1;
    struct powers begin, end;
    raise(&begin, ply, stretch * way->x + from * way->ux, stretch * way->y + from * way->uy);
    raise(&end, ply, stretch * way->x + to * way->ux, stretch * way->y + to * way->uy);
    for (size_t w = 1; w < ply->waves; w++) {
        double kx = 2 * WW_PI * ply->wave[w].m / ply->lx, ky = 2 * WW_PI * ply->wave[w].l / ply->ly;
        double advance = kx * way->ux + ky * way->uy, phase = advance * (to - from);
        double _Complex at_begin = power_of(&begin, ply->wave[w]);
        double _Complex whole = fabs(phase) < short_way
                                    ? at_begin * (to - from) * (1 - phase * phase / 6 + 0.5 * I * phase)
                                    : (power_of(&end, ply->wave[w]) - at_begin) / (I * advance);
        *coefficient_of(look, ply->wave[w]) += sign * way->seen[leg][w] * whole;
    }
}

/* The mean of a route's skew would be told as what its legs differ by in length: it is left out. */
static void lay_waves(struct ww_look *look, size_t p, double stretch)
{
    const struct ww_fan *fan = look->fan;
    memset(look->series->coef, 0, POSITIONS * (POSITIONS / 2 + 1) * sizeof *look->series->coef);
    if (fan->pieces == 1)
        lay_straight(look, p, stretch);
    else
        for (size_t i = 0; i < fan->pieces; i++)
            for (int leg = 0; leg < (fan->pair ? 2 : 1); leg++)
                add_leg(look, p, &look->way[p * fan->pieces + i], leg, stretch);
}

/* How much the top by a sample rises over it: of the paraboloid through its neighbours, all eight. On a ridge, where it
 * has no top, along its slope. A top lies no further than FAR from the nearest sample. */
static double rise(const double *v, size_t ix, size_t iy, double sign)
{
    size_t n = POSITIONS, left = (ix + n - 1) % n, right = (ix + 1) % n;
    const double *here = v + iy * n, *below = v + (iy + n - 1) % n * n, *above = v + (iy + 1) % n * n;
    double gx = 0.5 * sign * (here[right] - here[left]), gy = 0.5 * sign * (above[ix] - below[ix]);
    double xx = sign * (2 * here[ix] - here[left] - here[right]), yy = sign * (2 * here[ix] - below[ix] - above[ix]);
    double xy = -0.25 * sign * (above[right] - above[left] - below[right] + below[left]);
    double determinant = xx * yy - xy * xy, slope = hypot(gx, gy);
    double x = gx * yy - gy * xy, y = gy * xx - gx * xy; /* times the determinant */
    if (xx > 0 && yy > 0 && hypot(x, y) < FAR * determinant)
        return 0.5 * (gx * x + gy * y) / determinant;
    double bend = slope > 0 ? (gx * gx * xx + 2 * gx * gy * xy + gy * gy * yy) / (slope * slope) : 0;
    double way = bend > 0 ? fmin(slope / bend, FAR) : 0;
    return slope * way - 0.5 * bend * way * way;
}

/* The highest top of sign times the samples of the first rows, where `most` and `least` are their greatest and least. */
static double highest_top(const double *v, size_t rows, double sign, double most, double least)
{
    double from = most - 0.1 * (most - least), top = most;
    size_t n = POSITIONS;
    for (size_t iy = 0; iy < rows; iy++)
        for (size_t ix = 0; ix < n; ix++) {
            double here = sign * v[iy * n + ix];
            if (here < from || here < sign * v[iy * n + (ix + 1) % n] || here < sign * v[iy * n + (ix + n - 1) % n] ||
                here < sign * v[(iy + 1) % n * n + ix] || here < sign * v[(iy + n - 1) % n * n + ix])
                continue;
            top = fmax(top, here + rise(v, ix, iy, sign));
        }
    return top;
}

/* What the legs see of the yarns of one ply at the angle looked at. */
static void gather(struct ww_yarns *yarns, const struct ww_look *look, size_t p)
{
    const struct ww_fan *fan = look->fan;
    const struct ww_fan_ply *ply = &fan->ply[p];
    const struct leg_of_way *way = &look->way[p];
    *yarns = (struct ww_yarns){.lx = ply->lx, .ly = ply->ly, .ux = way->ux, .uy = way->uy};
    for (int leg = 0; leg < (fan->pair ? 2 : 1); leg++) {
        yarns->mean[leg] = fan->mean;
        ww_yarns_put(yarns, leg, ply->wave, way->seen[leg], ply->waves, 1);
    }
}

static struct ww_reach reach_between(struct ww_look *look, double stretch)
{
    const struct ww_fan *fan = look->fan;
    double more[2] = {0};
    if (!look->together)
        return (struct ww_reach){0, 0};
    for (size_t p = 0; p < fan->plies; p++)
        gather(&look->yarns[p], look, p);
    struct ww_meeting meeting = {.plies = fan->plies,
                                 .yarns = look->yarns,
                                 .skew = fan->pair,
                                 .between = fan->between,
                                 .length = stretch * fan->straight.length};
    if (ww_together_matters(&meeting)) {
        for (size_t p = 0; p < fan->plies; p++) {
            lay_waves(look, p, stretch);
            ww_series_sum(look->series);
            memcpy(ww_together_own(look->together, p), look->series->value,
                   POSITIONS * POSITIONS * sizeof *look->series->value);
        }
        ww_together_climb(look->together, &meeting, more);
    }
    return (struct ww_reach){more[0], more[1]};
}

struct ww_reach ww_look_reach(struct ww_look *look, size_t part, double stretch)
{
    if (part == look->fan->plies)
        return reach_between(look, stretch);
    lay_waves(look, part, stretch);
    ww_series_sum(look->series);
    double range[2], *v = look->series->value;
    size_t rows = look->fan->ply[part].rows;
    ww_map_measure(&(struct ww_map){.nx = POSITIONS, .ny = POSITIONS, .value = v}, rows, range);
    return (struct ww_reach){highest_top(v, rows, 1, range[1], range[0]),
                             -highest_top(v, rows, -1, -range[0], -range[1])};
}

double ww_look_worst(struct ww_look *look, double stretch)
{
    double high = 0, low = 0;
    for (size_t p = 0; p < ww_fan_parts(look->fan); p++) {
        struct ww_reach reach = ww_look_reach(look, p, stretch);
        high += reach.high;
        low += reach.low;
    }
    return look->fan->pair ? fmax(high, 0 - low) : high - low;
}

/* Sum over the pieces along which (m, l) stands still of the signal's wave n (m, l), by their shares of the route. */
static double _Complex still_wave(const struct ww_look *look, size_t p, int m, int l, int n)
{
    const struct ww_fan *fan = look->fan;
    const struct ww_fan_ply *ply = &fan->ply[p];
    double kx = 2 * WW_PI * m / ply->lx, ky = 2 * WW_PI * l / ply->ly, whole = 0;
    double _Complex sum = 0;
    size_t w = 1;
    while (w < ply->waves && (ply->wave[w].m != n * m || ply->wave[w].l != n * l))
        w++;
    for (size_t i = 0; i < fan->pieces; i++) {
        const struct leg_of_way *way = &look->way[p * fan->pieces + i];
        double phase = n * (kx * way->x + ky * way->y);
        whole += way->length;
        if (w < ply->waves && fabs(kx * way->ux + ky * way->uy) < STILL * hypot(kx, ky))
            sum += way->length * (cos(phase) + I * sin(phase)) *
                   (fan->pair ? way->seen[0][w] - way->seen[1][w] : way->seen[0][w]);
    }
    return sum / whole;
}

double ww_look_still(const struct ww_look *look, size_t p, int m, int l, double worth, int *harmonic)
{
    double _Complex c[MOST_ORDER + 1];
    int most = MOST_ORDER / (m > abs(l) ? m : abs(l));
    double high = -INFINITY, low = INFINITY, largest = 0, sum = 0;
    *harmonic = 1;
    for (int n = 1; n <= most; n++) {
        c[n] = still_wave(look, p, m, l, n);
        sum += size_of(c[n]);
        if (size_of(c[n]) > largest) {
            largest = size_of(c[n]);
            *harmonic = n;
        }
    }
    if (!((look->fan->pair ? 2 : 4) * sum > worth))
        return 0;
    for (int i = 0; i < STILL_POSITIONS; i++) {
        double value = 0;
        for (int n = 1; n <= most; n++) {
            double phase = 2 * WW_PI * n * i / STILL_POSITIONS;
            value += 2 * (creal(c[n]) * cos(phase) - cimag(c[n]) * sin(phase));
        }
        high = fmax(high, value);
        low = fmin(low, value);
    }
    return look->fan->pair ? fmax(high, 0 - low) : high - low;
}
