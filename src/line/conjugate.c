/* conjugate.c - the full solution by conjugate gradients.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * On the free nodes, those off the copper, A u = -A phi0: phi0 is the background's potential (its copper is at the
 * right voltages already), u what the cloth changes, zero on copper. The preconditioner is the exact inverse of the
 * layered problem with the copper held at 0 V,
 *   M = G - G E (E'G E)^-1 E'G,
 * G the layered inverse (poisson.c), E the nodes of the copper's perimeter, E'G E factored in copper.c, harmonic by
 * harmonic along the period. All of it is one transform forth and one back: the potentials that G r puts on copper are
 * read in modes on the few levels that hold copper, answered by charges, and what these add is solved in modes too.
 * The condition number is that of local over mean permittivity, about 1.6 for glass in resin, whatever the grid:
 * ten iterations or so to 1e-8. Method: M. R. Hestenes, E. Stiefel, J. Res. NBS 49, 409 (1952).
 */
#include "line/conjugate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/parallel.h"
#include "core/transform.h"
#include "core/wide.h"

#define ROUNDING 1e-11 /* of the field: what a uniform dielectric leaves to solve */

struct solver {
    const struct ww_mesh *mesh;
    const struct ww_local *local;
    const struct ww_inverse *inverse;
    size_t size, plane, sheet; /* unknowns in all, per level, and on the levels of the copper */
    size_t low;                /* mesh level of the first of them */
    double *field; /* [all levels of the inverse] where the unknowns are fewer levels than these, else NULL */
    double *u, *residual, *direction, *image, *preconditioned;
    double *on_copper; /* [sheet] */
    double *legs;      /* [2][copper.count] */
};

WW_WIDE static double dot_of_block(const double *a, const double *b, size_t from, size_t end)
{
    double s = 0;
    double lane[4] = {0, 0, 0, 0}; /* that the processor adds abreast */
    size_t i = from;
    for (; i + 4 <= end; i += 4)
        for (size_t k = 0; k < 4; k++)
            lane[k] += a[i + k] * b[i + k];
    for (; i < end; i++)
        s += a[i] * b[i];
    return s + ((lane[0] + lane[1]) + (lane[2] + lane[3]));
}

/* Sums in fixed blocks, so that the digits do not depend on the number of threads. */
static double dot(const double *a, const double *b, size_t size)
{
    enum { BLOCK = 4096, MOST = 4096 };
    size_t block = BLOCK;
    while ((size + block - 1) / block > MOST)
        block *= 2;
    size_t blocks = (size + block - 1) / block;
    double part[MOST], sum = 0;
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(size)) schedule(static)
#endif
    for (size_t n = 0; n < blocks; n++) {
        size_t end = (n + 1) * block < size ? (n + 1) * block : size;
        part[n] = dot_of_block(a, b, n * block, end);
    }
    for (size_t n = 0; n < blocks; n++)
        sum += part[n];
    return sum;
}

/* a := x + scale*b, where x may be a. */
static void combine(double *a, const double *x, double scale, const double *b, size_t size)
{
#ifdef _OPENMP
#pragma omp parallel for num_threads(ww_threads_for(size)) schedule(static)
#endif
    for (size_t i = 0; i < size; i++)
        a[i] = x[i] + scale * b[i];
}

static void zero_on_copper(const struct solver *s, double *a)
{
    const struct ww_mesh *mesh = s->mesh;
    size_t first = mesh->bottom > s->low ? mesh->bottom : s->low, end = s->low + s->size / s->plane;
    for (size_t level = first; level <= mesh->top && level < end; level++)
        for (size_t j = 0; j < s->inverse->layered.along; j++) {
            double *row = a + (level - s->low) * s->plane + j * s->inverse->layered.nodes;
            for (size_t i = 0; i <= mesh->span; i++) {
                row[mesh->first + i - 1] = 0;
                if (mesh->pair)
                    row[mesh->columns - mesh->first - i - 1] = 0;
            }
        }
}

/* on_copper, potentials in row j of harmonics along and on nodes across: replaced by minus the charges that answer. */
static void answer_row(const struct solver *s, size_t j)
{
    const struct ww_copper *copper = &s->inverse->copper;
    size_t nodes = s->inverse->layered.nodes, along = s->inverse->layered.along,
           harmonic = j < copper->harmonics ? j : along - j;
    double *even = s->legs, *odd = s->legs + copper->count;
    for (size_t p = 0; p < copper->count; p++) {
        const double *row = s->on_copper + ((copper->node[p].level - s->mesh->bottom) * along + j) * nodes;
        double first = row[copper->node[p].column - 1];
        double second = copper->pair ? row[copper->columns - copper->node[p].column - 1] : 0;
        even[p] = copper->pair ? 0.5 * (first + second) : first;
        odd[p] = 0.5 * (first - second);
    }
    ww_copper_charge(copper, harmonic, false, even);
    if (copper->pair)
        ww_copper_charge(copper, harmonic, true, odd);
    for (size_t level = s->mesh->bottom; level <= s->mesh->top; level++)
        memset(s->on_copper + ((level - s->mesh->bottom) * along + j) * nodes, 0, nodes * sizeof(double));
    for (size_t p = 0; p < copper->count; p++) {
        double *row = s->on_copper + ((copper->node[p].level - s->mesh->bottom) * along + j) * nodes;
        row[copper->node[p].column - 1] = -(copper->pair ? even[p] + odd[p] : even[p]);
        if (copper->pair)
            row[copper->columns - copper->node[p].column - 1] = -(even[p] - odd[p]);
    }
}

/* z := M r. scratch holds all levels of the inverse. */
static void precondition(const struct solver *s, const double *r, double *z, double *scratch)
{
    const struct ww_layered *layered = &s->inverse->layered;
    size_t copper = s->mesh->bottom - layered->low, low = s->low - layered->low;
    size_t bottom = copper * s->plane, offset = low * s->plane;
    size_t levels = s->size / s->plane, all = layered->levels * s->plane;
    double scale = 1 / (2.0 * (double)(layered->nodes + 1)), *field = s->field ? s->field : z;
    if (s->field)
        memset(field, 0, all * sizeof *field);
    memcpy(field + offset, r, s->size * sizeof *field);
    ww_layered_to_modes(layered, field + offset, levels);
    ww_layered_solve_modes(layered, field, low, copper < low ? copper : low);

    memcpy(s->on_copper, field + bottom, s->sheet * sizeof *field);
    ww_sine_apply(s->inverse->sine, s->on_copper, s->sheet / layered->nodes);
    for (size_t i = 0; i < s->sheet; i++)
        s->on_copper[i] *= scale;
    for (size_t j = 0; j < layered->along; j++)
        answer_row(s, j);
    ww_sine_apply(s->inverse->sine, s->on_copper, s->sheet / layered->nodes);

    memset(scratch, 0, all * sizeof *scratch);
    memcpy(scratch + bottom, s->on_copper, s->sheet * sizeof *scratch);
    ww_layered_solve_modes(layered, scratch, copper, low);
    combine(z, field + offset, 1, scratch + offset, s->size);
    ww_layered_from_modes(layered, z, levels);
    zero_on_copper(s, z);
}

/* The background's potential, the same at every sample along: `common` volts on both legs, and `across` between them. */
static void start_from_background(const struct solver *s, const struct ww_background *b, double common, double across,
                                  double *potential)
{
    size_t nodes = s->inverse->layered.nodes;
    for (size_t k = 0; k < s->inverse->layered.levels; k++)
        for (size_t j = 0; j < s->inverse->layered.along; j++) {
            double *row = potential + k * s->plane + j * nodes;
            for (size_t i = 0; i < nodes; i++) {
                double odd = b->odd ? b->odd[k * nodes + i] : 0;
                row[i] = common * b->even[k * nodes + i] + 0.5 * across * odd;
            }
        }
}

/* Charge on the copper: image = A potential there. Mean over the samples along. */
static void collect(const struct solver *s, const double *image, double charge[2])
{
    const struct ww_mesh *mesh = s->mesh;
    charge[0] = charge[1] = 0;
    for (size_t level = mesh->bottom; level <= mesh->top; level++)
        for (size_t j = 0; j < s->inverse->layered.along; j++) {
            const double *row = image + (level - 1) * s->plane + j * s->inverse->layered.nodes;
            for (size_t i = 0; i <= mesh->span; i++) {
                charge[0] += row[mesh->first + i - 1] / (double)s->inverse->layered.along;
                if (mesh->pair)
                    charge[1] += row[mesh->columns - mesh->first - i - 1] / (double)s->inverse->layered.along;
            }
        }
}

static enum ww_status did_not_converge(const struct ww_conjugate_report *report, double tolerance,
                                       struct ww_error *error)
{
    return ww_error_set(error, WW_NOT_CONVERGED, NULL, 0,
                        "the field did not converge: residual %.2g after %d iterations, tolerance %.2g",
                        report->residual, report->iterations, tolerance);
}

/* Iterates to the solution for the potential in s->u, which is on entry the background's. */
static enum ww_status iterate(struct solver *s, double tolerance, int most, struct ww_conjugate_report *report,
                              struct ww_error *error)
{
    ww_local_apply(s->local, s->u, s->image);
    double rounding = ROUNDING * ROUNDING * dot(s->u, s->image, s->size);
    for (size_t i = 0; i < s->size; i++)
        s->residual[i] = -s->image[i];
    zero_on_copper(s, s->residual);
    precondition(s, s->residual, s->preconditioned, s->image);
    memcpy(s->direction, s->preconditioned, s->size * sizeof(double));
    double norm = dot(s->residual, s->preconditioned, s->size), start = norm;
    *report = (struct ww_conjugate_report){0, 0};
    if (norm <= rounding)
        return WW_OK;
    while (report->iterations < most) {
        ww_local_apply(s->local, s->direction, s->image);
        zero_on_copper(s, s->image);
        double step = norm / dot(s->direction, s->image, s->size);
        combine(s->u, s->u, step, s->direction, s->size);
        combine(s->residual, s->residual, -step, s->image, s->size);
        precondition(s, s->residual, s->preconditioned, s->image);
        double next = dot(s->residual, s->preconditioned, s->size);
        report->iterations++;
        report->residual = sqrt(next / start);
        if (!(report->residual > tolerance))
            break;
        combine(s->direction, s->preconditioned, next / norm, s->direction, s->size);
        norm = next;
    }
    return report->residual <= tolerance ? WW_OK : did_not_converge(report, tolerance, error);
}

/* What goes with the layered problem: the copper and, of a cross-section, the background. */
static enum ww_status finish_inverse(struct ww_inverse *inverse, const struct ww_mesh *mesh, struct ww_error *error)
{
    const struct ww_layered *layered = &inverse->layered;
    enum ww_status status = ww_copper_create(&inverse->copper, mesh, layered, error);
    if (!status)
        status = ww_sine_create(&inverse->sine, layered->nodes, error);
    if (!status && layered->along == 1)
        status = ww_background_solve_on(&inverse->background, layered, &inverse->copper, true, error);
    return status;
}

enum ww_status ww_inverse_create(struct ww_inverse *inverse, const struct ww_line *line, struct ww_period period,
                                 struct ww_error *error)
{
    memset(inverse, 0, sizeof *inverse);
    const struct ww_mesh *mesh = &line->mesh;
    enum ww_status status = ww_layered_create(&inverse->layered, mesh, period, false, error);
    if (!status)
        status = finish_inverse(inverse, mesh, error);
    if (!status && period.samples > 1)
        status = ww_background_solve(&inverse->background, mesh, false, true, error);
    if (status)
        ww_inverse_destroy(inverse);
    return status;
}

enum ww_status ww_inverse_create_band(struct ww_inverse *inverse, const struct ww_mesh *mesh, size_t low, size_t high,
                                      struct ww_error *error)
{
    memset(inverse, 0, sizeof *inverse);
    enum ww_status status = ww_layered_create_band(&inverse->layered, mesh, low, high, error);
    if (!status)
        status = finish_inverse(inverse, mesh, error);
    if (status)
        ww_inverse_destroy(inverse);
    return status;
}

void ww_inverse_destroy(struct ww_inverse *inverse)
{
    ww_background_clear(&inverse->background);
    ww_layered_destroy(&inverse->layered);
    ww_copper_destroy(&inverse->copper);
    ww_sine_destroy(inverse->sine);
    memset(inverse, 0, sizeof *inverse);
}

static enum ww_status prepare(struct solver *s, const struct ww_mesh *mesh, const struct ww_inverse *inverse,
                              const struct ww_local *local, struct ww_error *error)
{
    *s = (struct solver){.mesh = mesh, .local = local, .inverse = inverse};
    s->plane = inverse->layered.nodes * inverse->layered.along;
    s->size = s->plane * inverse->layered.levels;
    s->low = inverse->layered.low;
    s->sheet = (s->mesh->top - s->mesh->bottom + 1) * s->plane;
    double **array[] = {&s->u, &s->residual, &s->direction, &s->image, &s->preconditioned};
    bool have = true;
    for (size_t i = 0; i < sizeof array / sizeof *array; i++)
        have = (*array[i] = malloc(s->size * sizeof(double))) && have;
    s->on_copper = malloc(s->sheet * sizeof(double));
    s->legs = malloc(2 * inverse->copper.count * sizeof(double));
    if (!have || !s->on_copper || !s->legs)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a field of %zu unknowns", s->size);
    return WW_OK;
}

static void release(struct solver *s)
{
    free(s->u);
    free(s->residual);
    free(s->direction);
    free(s->image);
    free(s->preconditioned);
    free(s->on_copper);
    free(s->legs);
}

enum ww_status ww_conjugate_solve(const struct ww_line *line, const struct ww_local *local, struct ww_period period,
                                  int drives, double tolerance, int most, double charge[2][2],
                                  struct ww_conjugate_report *report, struct ww_error *error)
{
    struct solver s = {0};
    struct ww_inverse inverse = {0};
    memset(charge, 0, 2 * sizeof *charge);
    memset(report, 0, sizeof *report);
    enum ww_status status = ww_inverse_create(&inverse, line, period, error);
    if (!status)
        status = prepare(&s, &line->mesh, &inverse, local, error);
    for (int drive = 0; drive < drives && !status; drive++) {
        struct ww_conjugate_report one;
        bool pair = line->mesh.pair;
        start_from_background(&s, &inverse.background, pair ? 0.5 : 1, drive ? -1 : 1, s.u);
        status = iterate(&s, tolerance, most, &one, error);
        report->iterations = one.iterations > report->iterations ? one.iterations : report->iterations;
        report->residual = fmax(one.residual, report->residual);
        if (status)
            break;
        ww_local_apply(local, s.u, s.image);
        collect(&s, s.image, charge[drive]);
    }
    if (status)
        memset(charge, 0, 2 * sizeof *charge);
    release(&s);
    ww_inverse_destroy(&inverse);
    return status;
}

/* Charges from the change D that the cloth makes: A = A0 + D, A0 the layered operator. Off the copper A0 phi0 = 0 and
 * A0 M r = r, so that the iteration needs its vectors only on the levels of cloth and copper:
 *   r0 = -D phi0,   A M r = r + D M r,
 * and A times a direction follows by the recurrence of the directions. Charge of a leg, w the background's potential of the
 * even or odd drive:  w.A u = w.A0 phi0 + (D w).u. Off the copper A u is the residual, so that
 * this is much nearer to the charge than the sum of A u over the copper.
 *
 * The residual's norm takes M r, a quarter of the whole time if it is but to see that the last step was enough. Each step takes
 * it down by about the same factor, so it is not looked at where it will be within the tolerance by the factor of the step
 * before. */
enum ww_status ww_conjugate_difference(const struct ww_mesh *mesh, const struct ww_inverse *inverse,
                                       const struct ww_difference *difference, bool even_drive, double tolerance,
                                       int most, double charge[2], struct ww_conjugate_report *report,
                                       struct ww_error *error)
{
    const struct ww_background *b = &inverse->background;
    size_t nodes = inverse->layered.nodes, size = difference->levels * nodes, all = inverse->layered.levels * nodes;
    size_t offset = (difference->low - inverse->layered.low) * nodes;
    struct solver s = {.mesh = mesh, .inverse = inverse, .plane = nodes, .size = size, .low = difference->low};
    s.sheet = (mesh->top - mesh->bottom + 1) * nodes;
    charge[0] = charge[1] = 0;
    memset(report, 0, sizeof *report);
    double *memory = malloc((7 * size + 2 * all + s.sheet + 2 * inverse->copper.count) * sizeof *memory);
    if (!memory)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a field of %zu unknowns", all);
    double *by_even = memory, *by_odd = by_even + size, *changed = by_odd + size, *scratch = memory + 7 * size;
    s.residual = changed + size;
    s.direction = s.residual + size;
    s.image = s.direction + size;
    s.preconditioned = s.image + size;
    s.field = scratch + all;
    s.on_copper = s.field + all;
    s.legs = s.on_copper + s.sheet;

    const double *odd_weight = (mesh->pair ? b->odd : b->even) + offset, *even_weight = b->even + offset;
    const double *drive = even_drive ? even_weight : odd_weight;
    ww_difference_apply(difference, odd_weight, by_odd);
    ww_difference_apply(difference, even_weight, by_even);
    double even = !mesh->pair ? b->c_even : even_drive ? 2 * b->c_even : 0;
    double odd = !mesh->pair ? b->c_even : even_drive ? 0 : 2 * b->c_odd;
    double rounding = ROUNDING * ROUNDING * fmax(even, odd);
    even += dot(by_even, drive, size);
    odd += dot(by_odd, drive, size);
    for (size_t i = 0; i < size; i++)
        s.residual[i] = -(even_drive ? by_even : by_odd)[i];
    zero_on_copper(&s, s.residual);
    precondition(&s, s.residual, s.preconditioned, scratch);
    double norm = dot(s.residual, s.preconditioned, size), start = norm, carry = 0;
    memset(s.direction, 0, size * sizeof *s.direction);
    memset(s.image, 0, size * sizeof *s.image);
    while (start > rounding && report->iterations < most) {
        ww_difference_apply(difference, s.preconditioned, changed);
        zero_on_copper(&s, changed);
        for (size_t i = 0; i < size; i++) {
            s.image[i] = s.residual[i] + changed[i] + carry * s.image[i];
            s.direction[i] = s.preconditioned[i] + carry * s.direction[i];
        }
        double step = norm / dot(s.direction, s.image, size);
        even += step * dot(by_even, s.direction, size);
        odd += step * dot(by_odd, s.direction, size);
        report->iterations++;
        report->residual = sqrt(carry * norm / start);
        if (report->iterations > 1 && report->residual <= tolerance)
            break;
        combine(s.residual, s.residual, -step, s.image, size);
        precondition(&s, s.residual, s.preconditioned, scratch);
        double next = dot(s.residual, s.preconditioned, size);
        report->residual = sqrt(next / start);
        if (!(report->residual > tolerance))
            break;
        carry = next / norm;
        norm = next;
    }
    free(memory);
    if (!(report->residual <= tolerance))
        return did_not_converge(report, tolerance, error);
    charge[0] = 0.5 * (even + odd);
    charge[1] = 0.5 * (even - odd);
    return WW_OK;
}

enum ww_status ww_conjugate_potential(const struct ww_line *line, const struct ww_local *local,
                                      struct ww_period period, double tolerance, int most, double **potential,
                                      struct ww_conjugate_report *report, struct ww_error *error)
{
    struct solver s = {0};
    struct ww_inverse inverse = {0};
    *potential = NULL;
    memset(report, 0, sizeof *report);
    enum ww_status status = ww_inverse_create(&inverse, line, period, error);
    if (!status)
        status = prepare(&s, &line->mesh, &inverse, local, error);
    if (!status) {
        start_from_background(&s, &inverse.background, line->mesh.pair ? 0 : 1, 1, s.u);
        status = iterate(&s, tolerance, most, report, error);
    }
    if (!status) {
        *potential = s.u;
        s.u = NULL;
    }
    release(&s);
    ww_inverse_destroy(&inverse);
    return status;
}
