/* walk.c - delay along a trace through real cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * On perfect cloth the slowness of a leg is a periodic function S(x, y) of where the leg runs (scan/slowness.c). Real cloth is
 * described by its yarns: axes X_i of the warp and Y_j of the fill where the leg is, and their phases f, g, which go by one from
 * axis to axis. Two things are told apart:
 *   S = R(f, g) + sum over i of F_warp(x - X_i, g) + sum over j of F_fill(y - Y_j, f).
 * F is what one yarn adds to first order, the kernel's mean of both bounds made linear in the yarn's volume fraction,
 *   dS = (dC+ - dP)/(4 S) scale,  dC+ = d(C+11 - C+12), dP likewise of the lower form P:
 * the kernel on the true yarns, each where it is. R is all else: the resin, orders beyond the first, the residual correction. It is
 * the perfect cloth's S less the sum of its yarns' F, and is carried by the local phase. Where no yarn is off its place, the sum is
 * S again, exactly. A yarn that is wider by w adds w dF/dw, F then with what it leaves to the yarns it crosses. The derivative
 * jumps where two yarns begin to press on each other: they leave resin between them while their heights are less than the cloth's,
 * one gives way where they are more. So there are two tables, w A + |w + w' b'/b| D with w' and b' of the crossing yarn: A is the mean
 * of the derivatives to both sides, D half their difference. A cross-section sees the yarns across the trace where they cross the one
 * it runs on: at angle theta cos^2 of the sum over warp yarns counts, with the fill's w' there, and sin^2 of that over fill yarns.
 *
 * F is found on a cell of one yarn with room beside it, WW_AROUND pitches wide, in the Fourier domain as the kernel is; an odd yarn
 * is an even one half a cell on along itself. Yarns beyond that room are not summed, and towards its end F fades to zero, so that
 * no yarn comes or goes with a jump; what is faded belongs to R.
 *
 * Both legs' functions are taken in the leg's own place, r + n pitch/2 for leg 1 (left of travel), not in the pair's. A harmonic
 * k of them is multiplied by sin(x)/x, x = k.u step/2: a walk adds up values at the middles of its steps, and within a step the
 * integral is exact but for what the displacement changes there. Tables (table.c) give them at any place.
 */
#include "weftwise/patch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "correct/correction.h"
#include "fabric/patch.h"
#include "line/line.h"
#include "patch/table.h"

enum {
    CELL_SAMPLES = 256,  /* of the table over one cell, along x and y */
    WIDE_SAMPLES = 512,  /* of a yarn's table across it */
    ALONG_SAMPLES = 256, /* and along it; half as many either way of its change with width */
    SUPERSAMPLE = 4      /* columns averaged per sample along x and along y */
};
_Static_assert(CELL_SAMPLES == ALONG_SAMPLES, "knots along a yarn serve the cell's table as well");
#define FADES_OVER 0.1875 /* of WW_AROUND pitches: from 1 1/4 pitches off its axis on a yarn's part fades */
#define WIDER 0.03        /* by which yarns are made wider for dF/dw */

struct ply_walk {
    double px, py, shift_x, shift_y;
    double theta;              /* of the trace from its warp [rad] */
    double taller[WW_SYSTEMS]; /* height of the other system's yarns over that of this one's */
    double share[WW_SYSTEMS];  /* of the contact, summed over this system's yarns */
    struct ww_table rest[2];
    struct ww_table yarn[WW_SYSTEMS][2], wider[WW_SYSTEMS][2], contact[WW_SYSTEMS][2];
};

struct ww_walk {
    size_t plies;
    int legs;
    double pitch, step, change; /* change: of deviations by dispersion */
    struct ply_walk *ply;
};

/* --- one yarn -------------------------------------------------------------------------------------------------- */

/* A cell of one even yarn, its axis at 0, as `wider` as told: share times its fractions are added; with `both`, those of the
 * yarns it crosses too. */
static void add_yarn(struct ww_cell *cell, const struct ww_style *style, enum ww_system system, double wider,
                     double share, bool both)
{
    double px = 1 / style->warp_count.value, py = 1 / style->fill_count.value;
    double pitch = system == WW_WARP ? px : py, each = share / (SUPERSAMPLE * SUPERSAMPLE);
    size_t plane = cell->nx * cell->ny;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads()) schedule(static)
#endif
    for (size_t iy = 0; iy < cell->ny; iy++) {
        double warp[256], fill[256]; /* at most MOST_SLICES of line.c */
        for (size_t at = 0; at < cell->nx * SUPERSAMPLE * SUPERSAMPLE; at++) {
            size_t ix = at / (SUPERSAMPLE * SUPERSAMPLE), sy = at / SUPERSAMPLE % SUPERSAMPLE, sx = at % SUPERSAMPLE;
            double x = ((double)ix + ((double)sx + 0.5) / SUPERSAMPLE) * cell->lx / (double)cell->nx;
            double y = ((double)iy + ((double)sy + 0.5) / SUPERSAMPLE) * cell->ly / (double)cell->ny;
            double across = system == WW_WARP ? remainder(x, cell->lx) : remainder(y, cell->ly);
            if (fabs(across) >= 0.5 * pitch)
                continue;
            double other = system == WW_WARP ? y / py : x / px, j = floor(other);
            struct ww_lie own = {across, wider, 1, cos(WW_PI * across / pitch)};
            struct ww_lie crossing = {(other - j - 0.5) * (system == WW_WARP ? py : px), 0, fmod(j, 2) != 0 ? -1 : 1,
                                      sin(WW_PI * other)};
            ww_lies_column(style, system == WW_WARP ? &own : &crossing, system == WW_WARP ? &crossing : &own,
                           cell->nz, NULL, warp, fill);
            for (size_t iz = 0; iz < cell->nz; iz++) {
                cell->warp[iz * plane + iy * cell->nx + ix] += system == WW_WARP || both ? each * warp[iz] : 0;
                cell->fill[iz * plane + iy * cell->nx + ix] += system == WW_FILL || both ? each * fill[iz] : 0;
            }
        }
    }
}

/* The harmonics of one yarn, or where wider is not 0 of its change per share that it is wider. */
static enum ww_status yarn_harmonics(struct ww_harmonics *h, const struct ww_stack *stack, size_t ply,
                                     enum ww_system system, double wider, struct ww_error *error)
{
    const struct ww_style *style = &stack->layer[stack->ply[ply].layer].style;
    double px = 1 / style->warp_count.value, py = 1 / style->fill_count.value;
    const struct ww_cell *as = &stack->ply[ply].cell;
    struct ww_ply one = {.cell = {.nz = as->nz, .thickness = as->thickness}};
    struct ww_cell *cell = &one.cell;
    cell->nx =
        (system == WW_WARP ? WW_AROUND / 2 : 1) * as->nx; /* samples as large, so that |k| is as large at most */
    cell->ny = (system == WW_WARP ? 1 : WW_AROUND / 2) * as->ny;
    cell->lx = (system == WW_WARP ? WW_AROUND : 2) * px;
    cell->ly = (system == WW_WARP ? 2 : WW_AROUND) * py;
    size_t all = cell->nx * cell->ny * cell->nz;
    cell->warp = calloc(all, sizeof *cell->warp);
    cell->fill = calloc(all, sizeof *cell->fill);
    enum ww_status status = WW_OK;
    if (!cell->warp || !cell->fill)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a yarn of %zu samples", all);
    if (!status && wider != 0) {
        add_yarn(cell, style, system, wider, 1 / wider, true);
        add_yarn(cell, style, system, 0, -1 / wider, true);
    } else if (!status) {
        add_yarn(cell, style, system, 0, 1, false);
    }
    if (!status)
        status = ww_harmonics_build(h, &one, error);
    ww_cell_clear(cell);
    return status;
}

/* What harmonics of slowness are multiplied by: from the pair's place to the leg's, and averaged over a step. */
struct to_leg {
    double ux, uy, half_pitch, half_step;
};

static double _Complex to_own_place(const struct to_leg *to, int leg, double kx, double ky)
{
    double along = (kx * to->ux + ky * to->uy) * to->half_step;
    double aside = (ky * to->ux - kx * to->uy) * (leg ? to->half_pitch : -to->half_pitch); /* n = (-uy, ux) */
    return (cos(aside) + I * sin(aside)) * (fabs(along) > 1e-9 ? sin(along) / along : 1);
}

/* Slowness of a leg per change of its capacitance, at the mean. */
static double slowness_per_change(const struct ww_line *line, const struct ww_scan *scan, int leg)
{
    double scale = line->limit.dk_correction / (scan->pair ? line->limit.ca_odd : line->limit.ca_even);
    return scale / (WW_C0 * WW_C0) / (2 * scan->level[leg][WW_MEAN] / scan->mean) * scan->change;
}

static double _Complex leg_change(const double _Complex *change, bool pair, int leg)
{
    double _Complex upper = change[leg ? WW_UPPER_22 : WW_UPPER_11], lower = change[leg ? WW_LOWER_22 : WW_LOWER_11];
    if (pair) {
        upper -= change[WW_UPPER_12];
        lower -= change[WW_LOWER_12];
    }
    return 0.5 * (upper - lower);
}

/* --- tables ---------------------------------------------------------------------------------------------------- */

/* Half spectra of what is tabulated: [leg], over the cell, and over one yarn's; value: samples of the latter. */
struct spectra {
    double _Complex *cell[2], *yarn;
    double *value;
};

static size_t place_of(int m, int l, size_t nx, size_t ny)
{
    return (size_t)(l < 0 ? l + (int)ny : l) * (nx / 2 + 1) + (size_t)m;
}

/* Tables hold orders up to half their samples; cells of more than twice the usual samples have finer ones, which are left out. */
static bool is_within(int order, int samples)
{
    return 2 * abs(order) < samples;
}

static bool yarn_has(enum ww_system system, int m, int l)
{
    return is_within(system == WW_WARP ? m : l, WIDE_SAMPLES) && is_within(system == WW_WARP ? l : m, ALONG_SAMPLES);
}

/* Samples of a yarn's table along x and along y. */
static size_t yarn_nx(enum ww_system system)
{
    return system == WW_WARP ? WIDE_SAMPLES : ALONG_SAMPLES;
}

static size_t yarn_ny(enum ww_system system)
{
    return system == WW_WARP ? ALONG_SAMPLES : WIDE_SAMPLES;
}

/* 1 near a yarn's axis, 0 at the end of its room, and two smooth derivatives. at: of the wide samples. */
static double fading(size_t at)
{
    double from_axis = fabs((double)at / WIDE_SAMPLES - (2 * at > WIDE_SAMPLES ? 1 : 0)); /* in widths of the room */
    double t = (0.5 - from_axis) / FADES_OVER;
    return t >= 1 ? 1 : t * t * t * (10 - 15 * t + 6 * t * t);
}

static enum ww_status fade(struct spectra *spectra, enum ww_system system, struct ww_error *error)
{
    size_t nx = yarn_nx(system), ny = yarn_ny(system);
    enum ww_status status = ww_transform_inverse(spectra->yarn, nx, ny, spectra->value, error);
    for (size_t i = 0; i < nx * ny && !status; i++)
        spectra->value[i] *= fading(system == WW_WARP ? i % nx : i / nx);
    return status ? status : ww_transform_forward(spectra->value, nx, ny, spectra->yarn, error);
}

/* The half spectrum of half as many samples, in its place. */
static void halve(double _Complex *coef, size_t nx, size_t ny)
{
    size_t from = nx / 2 + 1, to = nx / 4 + 1;
    for (size_t l = 0; l < ny / 2; l++)
        for (size_t m = 0; m < to; m++) {
            bool highest = m == nx / 4 || l == ny / 4;
            coef[l * to + m] = highest ? 0 : coef[(l < ny / 4 ? l : l + ny / 2) * from + m];
        }
}

/* What all yarns of a perfect cloth add, off the cell's harmonics: odd yarns lie half a cell on. */
static void take_off_perfect(double _Complex *cell, enum ww_system system, const double _Complex *yarn)
{
    size_t nx = yarn_nx(system), ny = yarn_ny(system);
    for (size_t i = 0; i < ny * (nx / 2 + 1); i++) {
        int m = (int)(i % (nx / 2 + 1)), l = (int)(i / (nx / 2 + 1));
        l -= 2 * l > (int)ny ? (int)ny : 0;
        int wide = system == WW_WARP ? m : l, other = system == WW_WARP ? l : m, order = wide / (WW_AROUND / 2);
        if (wide % (WW_AROUND / 2) != 0 || (order - other) % 2 != 0 || !is_within(order, CELL_SAMPLES) ||
            !is_within(other, CELL_SAMPLES))
            continue;
        double turn = -0.5 * WW_PI * order; /* axes lie half a pitch from the cell's edge */
        cell[system == WW_WARP ? place_of(order, l, CELL_SAMPLES, CELL_SAMPLES)
                               : place_of(m, order, CELL_SAMPLES, CELL_SAMPLES)] -=
            WW_AROUND * (cos(turn) + I * sin(turn)) * yarn[i];
    }
}

/* Tables of one yarn system of a ply; off the cell's spectra goes what it adds where it is perfect. */
static enum ww_status tabulate_yarns(struct ply_walk *w, const struct ww_line *line, const struct ww_scan *scan,
                                     size_t ply, enum ww_system system, double wider, const struct to_leg *to,
                                     struct spectra *spectra, struct ww_error *error)
{
    const double stretch[2] = {0, 0};
    size_t nx = yarn_nx(system), ny = yarn_ny(system);
    struct ww_harmonics h = {0};
    double _Complex *change = NULL;
    enum ww_status status = yarn_harmonics(&h, line->stack, ply, system, wider, error);
    if (!status && !(change = calloc(h.count * WW_CHANGES, sizeof *change)))
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics of a yarn", h.count);
    if (!status)
        ww_line_change_of(line, ply, &h, w->theta, stretch, change);
    for (int leg = 0; leg < (scan->pair ? 2 : 1) && !status; leg++) {
        double per_change = slowness_per_change(line, scan, leg);
        memset(spectra->yarn, 0, ny * (nx / 2 + 1) * sizeof *spectra->yarn);
        for (size_t i = 0; i < h.count; i++) {
            const struct ww_harmonic *k = &h.harmonic[i];
            if (!yarn_has(system, k->m, k->l))
                continue;
            double _Complex value = per_change * leg_change(change + i * WW_CHANGES, scan->pair, leg) *
                                    to_own_place(to, leg, k->kx, k->ky);
            spectra->yarn[place_of(k->m, k->l, nx, ny)] = value;
        }
        status = fade(spectra, system, error);
        if (status)
            break;
        if (wider == 0)
            take_off_perfect(spectra->cell[leg], system, spectra->yarn);
        struct ww_table *table = wider > 0   ? &w->wider[system][leg]
                                 : wider < 0 ? &w->contact[system][leg]
                                             : &w->yarn[system][leg];
        if (wider != 0)
            halve(spectra->yarn, nx, ny);
        status = wider != 0 ? ww_table_build(table, spectra->yarn, nx / 2, ny / 2, true, error)
                            : ww_table_build(table, spectra->yarn, nx, ny, false, error);
    }
    free(change);
    ww_harmonics_clear(&h);
    return status;
}

/* The perfect cloth's slowness, less the mean of both legs. */
static void put_cell(struct spectra *spectra, const struct ply_walk *w, const struct ww_scan *scan, size_t ply,
                     const struct to_leg *to)
{
    const struct ww_ply_scan *s = &scan->ply[ply];
    int legs = scan->pair ? 2 : 1;
    double mean = 0;
    for (int leg = 0; leg < legs; leg++)
        mean += creal(s->coefficient[leg][WW_MEAN][0]) / legs;
    for (int leg = 0; leg < legs; leg++)
        for (size_t i = 0; i < s->harmonics; i++) {
            if (!is_within(s->order[i].m, CELL_SAMPLES) || !is_within(s->order[i].l, CELL_SAMPLES))
                continue;
            double kx = 2 * WW_PI * s->order[i].m / s->lx, ky = 2 * WW_PI * s->order[i].l / s->ly;
            double back = kx * w->shift_x + ky * w->shift_y;
            double _Complex value = s->coefficient[leg][WW_MEAN][i] - (i == 0 ? mean : 0);
            spectra->cell[leg][place_of(s->order[i].m, s->order[i].l, CELL_SAMPLES, CELL_SAMPLES)] =
                value * (cos(back) + I * sin(back)) * to_own_place(to, leg, kx, ky);
        }
}

static enum ww_status tabulate_ply(struct ww_walk *walk, const struct ww_line *line, const struct ww_scan *scan,
                                   size_t ply, struct ww_error *error)
{
    struct ply_walk *w = &walk->ply[ply];
    const struct ww_ply *p = &line->stack->ply[ply];
    size_t half = CELL_SAMPLES * (CELL_SAMPLES / 2 + 1), all = WIDE_SAMPLES * ALONG_SAMPLES;
    double _Complex *cell = calloc(2 * half, sizeof *cell), *yarn = calloc(all, sizeof *yarn); /* half would do */
    struct spectra spectra = {{cell, cell + half}, yarn, calloc(all, sizeof(double))};
    enum ww_status status = WW_OK;
    if (!cell || !yarn || !spectra.value) {
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the tables of a walk");
        goto done;
    }
    w->px = 0.5 * p->cell.lx;
    w->py = 0.5 * p->cell.ly;
    w->shift_x = p->shift_x;
    w->shift_y = p->shift_y;
    w->theta = scan->angle - p->turn;
    const struct ww_style *style = &line->stack->layer[p->layer].style;
    w->taller[WW_WARP] = style->fill.height.value / style->warp.height.value;
    w->taller[WW_FILL] = 1 / w->taller[WW_WARP];
    w->share[WW_WARP] = cos(w->theta) * cos(w->theta);
    w->share[WW_FILL] = 1 - w->share[WW_WARP];
    struct to_leg to = {sin(w->theta), cos(w->theta), 0.5 * walk->pitch, 0.5 * walk->step};
    put_cell(&spectra, w, scan, ply, &to);
    for (int s = 0; s < WW_SYSTEMS; s++)
        for (int side = -1; side <= 1 && !status; side++)
            status = tabulate_yarns(w, line, scan, ply, (enum ww_system)s, side * WIDER, &to, &spectra, error);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        for (int leg = 0; leg < walk->legs; leg++)
            ww_table_halves(&w->wider[s][leg], &w->contact[s][leg]);
    for (int leg = 0; leg < walk->legs && !status; leg++)
        status = ww_table_build(&w->rest[leg], spectra.cell[leg], CELL_SAMPLES, CELL_SAMPLES, false, error);
done:
    free(cell);
    free(yarn);
    free(spectra.value);
    return status;
}

enum ww_status ww_walk_create(struct ww_walk **out, const struct ww_line *line,
                              const struct ww_correction *correction, double angle, double step,
                              struct ww_error *error)
{
    *out = NULL;
    if (!(step >= 0 && isfinite(step)))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a walk in steps of %g m", step);
    const struct ww_scan_options options = {0};
    struct ww_scan *scan = NULL;
    struct ww_walk *walk = calloc(1, sizeof *walk);
    enum ww_status status = WW_OK;
    if (walk)
        walk->ply = calloc(line->stack->plies ? line->stack->plies : 1, sizeof *walk->ply);
    if (!walk || !walk->ply)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a walk");
    if (!status)
        status = ww_corrected_scan_create_with(&scan, line, correction, angle, false, &options, error);
    if (status)
        goto done;
    walk->plies = line->stack->plies;
    walk->legs = scan->pair ? 2 : 1;
    walk->pitch = scan->pitch;
    walk->step = step;
    walk->change = scan->change;
    for (size_t p = 0; p < walk->plies && !status; p++)
        status = tabulate_ply(walk, line, scan, p, error);
done:
    ww_scan_destroy(scan);
    if (status)
        ww_walk_destroy(walk);
    else
        *out = walk;
    return status;
}

void ww_walk_destroy(struct ww_walk *walk)
{
    if (!walk)
        return;
    for (size_t p = 0; walk->ply && p < walk->plies; p++)
        for (int leg = 0; leg < 2; leg++) {
            ww_table_clear(&walk->ply[p].rest[leg]);
            for (int s = 0; s < WW_SYSTEMS; s++) {
                ww_table_clear(&walk->ply[p].yarn[s][leg]);
                ww_table_clear(&walk->ply[p].wider[s][leg]);
                ww_table_clear(&walk->ply[p].contact[s][leg]);
            }
        }
    free(walk->ply);
    free(walk);
}

/* --- slowness on the patch --------------------------------------------------------------------------------------------------- */

/* Share by which the yarns are wider at a place: that of the yarn on whose axis it is, and between two from one to the other. */
static double wider_at(const struct ww_around *around)
{
    enum { LOW = WW_AROUND / 2 - 1 };
    double t = around->phase - (double)(around->first + LOW) - 0.5;
    return around->wider[LOW] + t * t * t * (10 - 15 * t + 6 * t * t) * (around->wider[LOW + 1] - around->wider[LOW]);
}

/* Of all yarns of one system around a leg; across: the leg's place; other: knots of the other system's phase, crossing: the share by
 * which its yarns are wider there. */
static double sum_yarns(const struct ply_walk *w, enum ww_system system, int leg, const struct ww_around *around,
                        double across, const struct ww_knots *other, double crossing)
{
    double scale = WIDE_SAMPLES / (WW_AROUND * (system == WW_WARP ? w->px : w->py)), sum = 0;
    struct ww_knots along[2] = {*other, *other}; /* even, odd: half of its period on */
    along[1].first = (other->first + ALONG_SAMPLES / 2) % ALONG_SAMPLES;
    along[1].first_coarse = (other->first_coarse + ALONG_SAMPLES / 4) % (ALONG_SAMPLES / 2);
    for (int n = 0; n < WW_AROUND; n++) {
        const struct ww_knots wide = ww_knots_at((across - around->axis[n]) * scale, WIDE_SAMPLES);
        const struct ww_knots *own = &along[(around->first + n) % 2 != 0];
        const struct ww_knots *x = system == WW_WARP ? &wide : own, *y = system == WW_WARP ? own : &wide;
        double wider = around->wider[n], contact = w->share[system] * fabs(wider + w->taller[system] * crossing);
        sum += ww_table_at(&w->yarn[system][leg], x, y);
        if (wider != 0)
            sum += wider * ww_table_coarse(&w->wider[system][leg], x, y);
        if (contact > 0)
            sum += contact * ww_table_coarse(&w->contact[system][leg], x, y);
    }
    return sum;
}

/* Slowness of a leg at `count` places of its own on the cloth, a step (dx, dy) from each other. */
static void slowness_along(const struct ply_walk *w, const struct ww_patch *patch, int leg, const double from[2],
                           const double step[2], size_t count, double *slowness)
{
    struct ww_follower warp, fill;
    ww_follower_init(&warp, patch, WW_WARP);
    ww_follower_init(&fill, patch, WW_FILL);
    for (size_t i = 0; i < count; i++) {
        double x = from[0] + (double)i * step[0], y = from[1] + (double)i * step[1];
        ww_follower_move(&warp, x, y);
        ww_follower_move(&fill, y, x);
        struct ww_knots at_x = ww_knots_at(0.5 * CELL_SAMPLES * warp.around.phase, CELL_SAMPLES);
        struct ww_knots at_y = ww_knots_at(0.5 * CELL_SAMPLES * fill.around.phase, CELL_SAMPLES);
        slowness[i] = ww_table_at(&w->rest[leg], &at_x, &at_y) +
                      sum_yarns(w, WW_WARP, leg, &warp.around, x, &at_y, wider_at(&fill.around)) +
                      sum_yarns(w, WW_FILL, leg, &fill.around, y, &at_x, wider_at(&warp.around));
    }
}

/* The same, of places of the pair's centre. turn: as in ww_walk_along. */
static void slowness_beside(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, int leg,
                            double turn, const double from[2], const double step[2], size_t count, double *slowness)
{
    const struct ply_walk *w = &walk->ply[ply];
    double aside = leg ? -0.5 * walk->pitch : 0.5 * walk->pitch; /* n = (-uy, ux) */
    const double own[2] = {from[0] - w->shift_x - aside * cos(w->theta + turn),
                           from[1] - w->shift_y + aside * sin(w->theta + turn)};
    slowness_along(w, patch, leg, own, step, count, slowness);
}

void ww_walk_along(const struct ww_walk *walk, const struct ww_patch *const *patch, const double (*start)[2],
                   double turn, size_t steps, double *running)
{
    enum { BLOCK = 64 };
    double slowness[BLOCK];
    for (size_t i = 0; i < steps; i++)
        running[i] = 0;
    for (size_t p = 0; p < walk->plies; p++) {
        double theta = walk->ply[p].theta + turn;
        const double step[2] = {walk->step * sin(theta), walk->step * cos(theta)};
        for (int leg = 0; leg < walk->legs; leg++)
            for (size_t i = 0; i < steps; i += BLOCK) {
                size_t count = steps - i < BLOCK ? steps - i : BLOCK;
                const double from[2] = {start[p][0] + ((double)i + 0.5) * step[0],
                                        start[p][1] + ((double)i + 0.5) * step[1]};
                slowness_beside(walk, p, patch[p], leg, turn, from, step, count, slowness);
                for (size_t n = 0; n < count; n++)
                    running[i + n] += (leg ? -walk->step : walk->step) * slowness[n];
            }
    }
    for (size_t i = 1; i < steps; i++)
        running[i] += running[i - 1];
}

void ww_walk_slowness(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, double x, double y,
                      double slowness[2])
{
    const double place[2] = {x, y}, step[2] = {0, 0};
    slowness[1] = 0;
    for (int leg = 0; leg < walk->legs; leg++)
        slowness_beside(walk, ply, patch, leg, 0, place, step, 1, &slowness[leg]);
}

enum ww_status ww_walk_map(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, const double from[2],
                           double lx, double ly, size_t nx, size_t ny, struct ww_map leg[2], struct ww_error *error)
{
    enum ww_status status = ww_map_init(&leg[0], nx, ny, lx, ly, error);
    leg[1] = (struct ww_map){0};
    if (!status && walk->legs == 2)
        status = ww_map_init(&leg[1], nx, ny, lx, ly, error);
    if (status) {
        ww_map_clear(&leg[0]);
        return status;
    }
    const double step[2] = {lx / (double)nx, 0};
#ifdef _OPENMP
#pragma omp parallel for schedule(static) num_threads(ww_threads())
#endif
    for (size_t iy = 0; iy < ny; iy++) {
        const double first[2] = {from[0] + 0.5 * step[0], from[1] + ((double)iy + 0.5) / (double)ny * ly};
        for (int l = 0; l < walk->legs; l++)
            slowness_beside(walk, ply, patch, l, 0, first, step, nx, leg[l].value + iy * nx);
    }
    return WW_OK;
}

/* From the difference of the legs to its integral over a length: harmonic k is multiplied by the integral of exp(i k.u s). */
static void integrate(double _Complex *coef, const struct ww_map *map, const double u[2], double length)
{
    size_t row = map->nx / 2 + 1;
    for (size_t l = 0; l < map->ny; l++)
        for (size_t m = 0; m < row; m++) {
            double order = l > map->ny / 2 ? (double)l - (double)map->ny : (double)l;
            double x = WW_PI * length * ((double)m / map->lx * u[0] + order / map->ly * u[1]);
            double size = length * (fabs(x) > 1e-9 ? sin(x) / x : 1);
            bool highest = 2 * m == map->nx || 2 * l == map->ny; /* their sign is not known */
            coef[l * row + m] *= highest ? 0 : size * (cos(x) + I * sin(x));
        }
}

enum ww_status ww_walk_value_map(const struct ww_walk *walk, size_t ply, const struct ww_patch *patch, double length,
                                 size_t nx, size_t ny, struct ww_map *value, struct ww_error *error)
{
    const double corner[2] = {0, 0}, u[2] = {sin(walk->ply[ply].theta), cos(walk->ply[ply].theta)};
    struct ww_map leg[2] = {0};
    double _Complex *coef = NULL;
    double lx, ly;
    enum ww_status status = WW_OK;
    *value = (struct ww_map){0};
    ww_patch_size(patch, &lx, &ly);
    if (!(length > 0 && isfinite(length)) || !ww_patch_repeats(patch))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "a map of traces %g m long; give a length, and a patch without bow, hook and measured paths, "
            "which do not repeat",
            length);
    status = ww_walk_map(walk, ply, patch, corner, lx, ly, nx, ny, leg, error);
    if (status)
        return status;
    for (size_t i = 0; i < nx * ny && walk->legs == 2; i++)
        leg[0].value[i] -= leg[1].value[i];
    ww_map_clear(&leg[1]);
    coef = malloc(ny * (nx / 2 + 1) * sizeof *coef);
    if (!coef)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a map of %zu by %zu samples", nx, ny);
    if (!status)
        status = ww_transform_forward(leg[0].value, nx, ny, coef, error);
    if (!status) {
        integrate(coef, &leg[0], u, length);
        status = ww_transform_inverse(coef, nx, ny, leg[0].value, error);
    }
    free(coef);
    if (status)
        ww_map_clear(&leg[0]);
    else
        *value = leg[0];
    return status;
}
