/* tabulate.c - slowness of a leg on real cloth, as tables of what each yarn and all else add.
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
#include "patch/walk.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/transform.h"
#include "line/line.h"

enum {
    SUPERSAMPLE = 4,              /* columns averaged per sample along x and along y */
    YARN_CHANGES = 3 * WW_SYSTEMS /* narrower, as told, wider */
};
#define FADES_OVER 0.1875 /* of WW_AROUND pitches: from 1 1/4 pitches off its axis on a yarn's part fades */
#define WIDER 0.03        /* by which yarns are made wider for dF/dw */
#define MOST_BYTES 4e9    /* of the tables of all directions */

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
    return is_within(system == WW_WARP ? m : l, WW_WIDE_SAMPLES) &&
           is_within(system == WW_WARP ? l : m, WW_ALONG_SAMPLES);
}

/* Samples of a yarn's table along x and along y. */
static size_t yarn_nx(enum ww_system system)
{
    return system == WW_WARP ? WW_WIDE_SAMPLES : WW_ALONG_SAMPLES;
}

static size_t yarn_ny(enum ww_system system)
{
    return system == WW_WARP ? WW_ALONG_SAMPLES : WW_WIDE_SAMPLES;
}

/* 1 near a yarn's axis, 0 at the end of its room, and two smooth derivatives. at: of the wide samples. */
static double fading(size_t at)
{
    double from_axis =
        fabs((double)at / WW_WIDE_SAMPLES - (2 * at > WW_WIDE_SAMPLES ? 1 : 0)); /* in widths of the room */
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
        if (wide % (WW_AROUND / 2) != 0 || (order - other) % 2 != 0 || !is_within(order, WW_CELL_SAMPLES) ||
            !is_within(other, WW_CELL_SAMPLES))
            continue;
        double turn = -0.5 * WW_PI * order; /* axes lie half a pitch from the cell's edge */
        cell[system == WW_WARP ? place_of(order, l, WW_CELL_SAMPLES, WW_CELL_SAMPLES)
                               : place_of(m, order, WW_CELL_SAMPLES, WW_CELL_SAMPLES)] -=
            WW_AROUND * (cos(turn) + I * sin(turn)) * yarn[i];
    }
}

/* One direction of the trace over one ply: where its tables go, and of what. */
struct direction {
    const struct ww_line *line;
    const struct ww_scan *scan;
    size_t ply;
    const double *stretch;
    struct ww_walk_ply *w;
    bool own_means; /* each leg's mean is taken off, and not that of both */
};

/* What yarns of one system change of the capacitances, a side wider by 0 or +-WIDER. */
struct yarn_change {
    enum ww_system system;
    int side;
    struct ww_harmonics h;
    double _Complex *change; /* [harmonic][WW_CHANGES] */
};

static struct ww_table *table_of(struct ww_walk_tables *tables, const struct yarn_change *yarn, int leg)
{
    return yarn->side > 0   ? &tables->wider[yarn->system][leg]
           : yarn->side < 0 ? &tables->contact[yarn->system][leg]
                            : &tables->yarn[yarn->system][leg];
}

/* Tables of one yarn system of a ply; off the cell's spectra goes what it adds where it is perfect. */
static enum ww_status tabulate_yarns(struct ww_walk_tables *tables, const struct direction *d,
                                     const struct yarn_change *yarn, const struct to_leg *to, struct spectra *spectra,
                                     struct ww_error *error)
{
    size_t nx = yarn_nx(yarn->system), ny = yarn_ny(yarn->system);
    enum ww_status status = WW_OK;
    for (int leg = 0; leg < (d->scan->pair ? 2 : 1) && !status; leg++) {
        double per_change = slowness_per_change(d->line, d->scan, leg);
        memset(spectra->yarn, 0, ny * (nx / 2 + 1) * sizeof *spectra->yarn);
        for (size_t i = 0; i < yarn->h.count; i++) {
            const struct ww_harmonic *k = &yarn->h.harmonic[i];
            if (!yarn_has(yarn->system, k->m, k->l))
                continue;
            double _Complex value = per_change * leg_change(yarn->change + i * WW_CHANGES, d->scan->pair, leg) *
                                    to_own_place(to, leg, k->kx / (1 + d->stretch[0]), k->ky / (1 + d->stretch[1]));
            spectra->yarn[place_of(k->m, k->l, nx, ny)] = value;
        }
        status = fade(spectra, yarn->system, error);
        if (status)
            break;
        if (yarn->side == 0)
            take_off_perfect(spectra->cell[leg], yarn->system, spectra->yarn);
        else
            halve(spectra->yarn, nx, ny);
        status = yarn->side != 0
                     ? ww_table_build(table_of(tables, yarn, leg), spectra->yarn, nx / 2, ny / 2, true, error)
                     : ww_table_build(table_of(tables, yarn, leg), spectra->yarn, nx, ny, false, error);
    }
    return status;
}

/* The perfect cloth's slowness, less the mean. */
static void put_cell(struct spectra *spectra, const struct direction *d, const struct cloth_of_ply *cloth,
                     const struct to_leg *to)
{
    const struct ww_ply_scan *s = &d->scan->ply[d->ply];
    int legs = d->scan->pair ? 2 : 1;
    double mean = 0;
    for (int leg = 0; leg < legs; leg++)
        mean += creal(s->coefficient[leg][WW_MEAN][0]) / legs;
    memset(spectra->cell[0], 0, 2 * WW_CELL_SAMPLES * (WW_CELL_SAMPLES / 2 + 1) * sizeof *spectra->cell[0]);
    for (int leg = 0; leg < legs; leg++)
        for (size_t i = 0; i < s->harmonics; i++) {
            if (!is_within(s->order[i].m, WW_CELL_SAMPLES) || !is_within(s->order[i].l, WW_CELL_SAMPLES))
                continue;
            double kx = 2 * WW_PI * s->order[i].m / s->lx, ky = 2 * WW_PI * s->order[i].l / s->ly;
            double back = kx * cloth->shift_x + ky * cloth->shift_y;
            double _Complex value = s->coefficient[leg][WW_MEAN][i];
            if (i == 0)
                value = d->own_means ? 0 : value - mean;
            spectra->cell[leg][place_of(s->order[i].m, s->order[i].l, WW_CELL_SAMPLES, WW_CELL_SAMPLES)] =
                value * (cos(back) + I * sin(back)) * to_own_place(to, leg, kx, ky);
        }
}

/* What a ply alone changes of each leg's slowness, as a function of the local phase. */
static enum ww_status tabulate_whole(const struct direction *d, const struct cloth_of_ply *cloth,
                                     struct spectra *spectra, struct ww_error *error)
{
    const struct to_leg to = {sin(d->w->theta), cos(d->w->theta), 0.5 * d->scan->pitch, 0};
    const struct ww_ply_scan *s = &d->scan->ply[d->ply];
    int legs = d->scan->pair ? 2 : 1;
    enum ww_status status = WW_OK;
    put_cell(spectra, d, cloth, &to);
    d->w->mean = d->w->largest = 0;
    for (int leg = 0; leg < legs && !status; leg++) {
        double _Complex *coef = spectra->cell[leg];
        coef[0] = 0;
        d->w->mean += creal(s->coefficient[leg][WW_MEAN][0]) / legs;
        for (size_t n = WW_CELL_SAMPLES; n > WW_WHOLE_SAMPLES; n /= 2)
            halve(coef, n, n);
        status = ww_table_build(&d->w->whole[leg], coef, WW_WHOLE_SAMPLES, WW_WHOLE_SAMPLES, true, error);
        if (!status)
            d->w->largest = fmax(d->w->largest, ww_table_largest(&d->w->whole[leg]));
    }
    return status;
}

/* The tables of steps `step` long, or of places. */
static enum ww_status fill_tables(struct ww_walk_tables *tables, const struct direction *d,
                                  const struct cloth_of_ply *cloth, const struct yarn_change *yarn, double step,
                                  struct spectra *spectra, struct ww_error *error)
{
    const struct to_leg to = {sin(d->w->theta), cos(d->w->theta), 0.5 * d->scan->pitch, 0.5 * step};
    int legs = d->scan->pair ? 2 : 1;
    enum ww_status status = WW_OK;
    put_cell(spectra, d, cloth, &to);
    for (int i = 0; i < YARN_CHANGES && !status; i++)
        status = tabulate_yarns(tables, d, &yarn[i], &to, spectra, error);
    for (int s = 0; s < WW_SYSTEMS && !status; s++)
        for (int leg = 0; leg < legs; leg++)
            ww_table_halves(&tables->wider[s][leg], &tables->contact[s][leg]);
    for (int leg = 0; leg < legs && !status; leg++)
        status =
            ww_table_build(&tables->cell[leg], spectra->cell[leg], WW_CELL_SAMPLES, WW_CELL_SAMPLES, false, error);
    return status;
}

/* Harmonics of all sorts of yarns of a ply; they serve every direction. */
static enum ww_status find_yarns(struct yarn_change yarn[YARN_CHANGES], const struct ww_line *line, size_t ply,
                                 struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (int i = 0; i < YARN_CHANGES && !status; i++) {
        yarn[i].system = (enum ww_system)(i / 3);
        yarn[i].side = i % 3 - 1;
        status = yarn_harmonics(&yarn[i].h, line->stack, ply, yarn[i].system, yarn[i].side * WIDER, error);
        if (!status && !(yarn[i].change = calloc(yarn[i].h.count * WW_CHANGES, sizeof *yarn[i].change)))
            status =
                ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu harmonics of a yarn", yarn[i].h.count);
    }
    return status;
}

static void yarns_clear(struct yarn_change yarn[YARN_CHANGES])
{
    for (int i = 0; i < YARN_CHANGES; i++) {
        free(yarn[i].change);
        ww_harmonics_clear(&yarn[i].h);
    }
}

static enum ww_status tabulate_direction(const struct direction *d, const struct ww_walk *walk,
                                         struct yarn_change yarn[YARN_CHANGES], struct spectra *spectra,
                                         struct ww_error *error)
{
    struct ww_walk_ply *w = d->w;
    w->theta = d->scan->angle - d->line->stack->ply[d->ply].turn;
    w->share[WW_WARP] = cos(w->theta) * cos(w->theta);
    w->share[WW_FILL] = 1 - w->share[WW_WARP];
    for (int i = 0; i < YARN_CHANGES; i++)
        ww_line_change_of(d->line, d->ply, &yarn[i].h, w->theta, d->stretch, yarn[i].change);
    enum ww_status status = fill_tables(&w->step, d, &walk->cloth[d->ply], yarn, walk->step, spectra, error);
    if (!status && w->point)
        status = fill_tables(w->point, d, &walk->cloth[d->ply], yarn, 0, spectra, error);
    if (!status && walk->plies > 1)
        status = tabulate_whole(d, &walk->cloth[d->ply], spectra, error);
    return status;
}

static void take_cloth(struct cloth_of_ply *cloth, const struct ww_stack *stack, size_t ply, const double stretch[2])
{
    const struct ww_ply *p = &stack->ply[ply];
    const struct ww_style *style = &stack->layer[p->layer].style;
    cloth->px = 0.5 * p->cell.lx * (1 + stretch[0]);
    cloth->py = 0.5 * p->cell.ly * (1 + stretch[1]);
    cloth->shift_x = p->shift_x * (1 + stretch[0]);
    cloth->shift_y = p->shift_y * (1 + stretch[1]);
    cloth->taller[WW_WARP] = style->fill.height.value / style->warp.height.value;
    cloth->taller[WW_FILL] = 1 / cloth->taller[WW_WARP];
}

double ww_walk_bytes(int legs, size_t directions, bool points)
{
    double fine = (WW_CELL_SAMPLES + WW_PADDED) * WW_CELL_SAMPLES,
           yarn = (WW_WIDE_SAMPLES + WW_PADDED) * WW_ALONG_SAMPLES,
           whole = (WW_WHOLE_SAMPLES + WW_PADDED) * WW_WHOLE_SAMPLES;
    return (double)sizeof(double) * legs * ((points ? 2 : 1) * (fine + WW_SYSTEMS * 1.5 * yarn) + whole) *
           (double)directions;
}

static enum ww_status check_memory(const struct ww_walk *walk, size_t walks, bool points, struct ww_error *error)
{
    double bytes = ww_walk_bytes(walk->legs, walk->directions * walk->plies * walks, points);
    if (bytes <= MOST_BYTES)
        return WW_OK;
    return ww_error_set(
        error, WW_NO_MEMORY, NULL, 0,
        "a route in %zu directions over %zu plies, at %zu pairs of yarn counts, would need %.2g GB of tables "
        "(limit %.2g GB); give one of fewer directions",
        walk->directions, walk->plies, walks, 1e-9 * bytes, 1e-9 * MOST_BYTES);
}

/* One walk's tables over one ply. */
static enum ww_status tabulate_ply(const struct ww_walk_source *source, const struct ww_line *line, size_t ply,
                                   struct yarn_change yarn[YARN_CHANGES], struct spectra *spectra,
                                   struct ww_error *error)
{
    struct ww_walk *walk = source->walk;
    bool route = walk->segment[0].length > 0; /* a straight trace is whole steps long */
    enum ww_status status = WW_OK;
    take_cloth(&walk->cloth[ply], line->stack, ply, source->stretch);
    for (size_t i = 0; i < walk->directions && !status; i++) {
        const struct direction d = {line, source->of[i], ply, source->stretch, &walk->ply[i * walk->plies + ply],
                                    route};
        if (route && !(d.w->point = calloc(1, sizeof *d.w->point)))
            status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the tables of a walk");
        if (!status)
            status = tabulate_direction(&d, walk, yarn, spectra, error);
    }
    return status;
}

enum ww_status ww_walk_tabulate(const struct ww_walk_source *source, size_t count, const struct ww_line *line,
                                struct ww_error *error)
{
    size_t half = WW_CELL_SAMPLES * (WW_CELL_SAMPLES / 2 + 1), all = WW_WIDE_SAMPLES * WW_ALONG_SAMPLES;
    const struct ww_walk *first = source[0].walk;
    enum ww_status status = check_memory(first, count, first->segment[0].length > 0, error);
    if (status)
        return status;
    double _Complex *cell = calloc(2 * half, sizeof *cell), *one = calloc(all, sizeof *one); /* half would do */
    struct spectra spectra = {{cell, cell + half}, one, calloc(all, sizeof(double))};
    if (!cell || !one || !spectra.value)
        status = ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for the tables of a walk");
    for (size_t p = 0; p < first->plies && !status; p++) {
        struct yarn_change yarn[YARN_CHANGES] = {0};
        status = find_yarns(yarn, line, p, error);
        for (size_t i = 0; i < count && !status; i++)
            status = tabulate_ply(&source[i], line, p, yarn, &spectra, error);
        yarns_clear(yarn);
    }
    free(cell);
    free(one);
    free(spectra.value);
    return status;
}

void ww_walk_tables_clear(struct ww_walk_tables *tables)
{
    for (int leg = 0; leg < 2; leg++) {
        ww_table_clear(&tables->cell[leg]);
        for (int s = 0; s < WW_SYSTEMS; s++) {
            ww_table_clear(&tables->yarn[s][leg]);
            ww_table_clear(&tables->wider[s][leg]);
            ww_table_clear(&tables->contact[s][leg]);
        }
    }
}
