/* sections.c - many cross-sections of one line at one angle.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The residual correction (model.md) takes a hundred sections per ply and angle. They differ in where the cloth lies, so all
 * else is done once: the lateral mean at this angle, its exact inverse, its background. Levels that hold neither cloth in
 * place nor copper are eliminated exactly, mode by mode (poisson.c): the air over a microstrip, the other ply of a
 * stripline. The iteration works on what the cloth changes (conjugate.c).
 *
 * Cloth is laid where there is field. Of the background's energy in the rows of the cloth FIELD_LEFT may lie beyond: the
 * cloth there changes the capacitance by that share of what it changes it by in all. Where FIELD_FAR of it lies, fewer columns are
 * sampled: their error, 6e-3 of the skew at most were they everywhere half as many, counts by that share.
 */
#include "line/sections.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "line/full.h"

#define FIELD_LEFT 1e-5
#define FIELD_FAR 1e-2

/* Mesh rows from the lowest of the cloth in place to the highest; none without cloth. */
static void rows_in_place(const struct ww_sections *s, size_t *first, size_t *end)
{
    *first = s->mesh.rows;
    *end = 0;
    for (size_t p = 0; p < s->line->stack->plies; p++) {
        size_t from, rows;
        if (s->only && s->only != p + 1)
            continue;
        ww_rows_of_ply(&s->mesh, p, &from, &rows);
        *first = from < *first ? from : *first;
        *end = from + rows > *end ? from + rows : *end;
    }
}

/* Potential at a node of a level, 0 on the planes. */
static double potential_at(const struct ww_layered *l, const double *potential, size_t level, size_t node)
{
    return level >= l->low && level < l->low + l->levels ? potential[(level - l->low) * l->nodes + node] : 0;
}

/* Energy of one potential in the rows of the cloth, by node: the edges up, and the edges across to the right at the lower and
 * the upper level, half of each; so that a board upside down has the same. */
static void add_energy(const struct ww_sections *s, const double *potential, size_t first, size_t end, double *energy)
{
    const struct ww_layered *l = &s->inverse.layered;
    for (size_t row = first; row < end; row++) {
        double dz = s->mesh.row[row].dz, h = s->mesh.step;
        for (size_t i = 0; i < l->nodes; i++) {
            double low = potential_at(l, potential, row, i), high = potential_at(l, potential, row + 1, i);
            size_t right = i + 1 < l->nodes ? i + 1 : i;
            double at_low = potential_at(l, potential, row, right) - low;
            double at_high = potential_at(l, potential, row + 1, right) - high;
            energy[i] += (high - low) * (high - low) * h / dz + 0.5 * (at_low * at_low + at_high * at_high) * dz / h;
        }
    }
}

/* Nodes, as many to either side, beyond which a share of the energy is left; not those of the copper. */
static size_t cut_of(const double *energy, size_t nodes, size_t most, double share)
{
    double whole = 0, left = 0;
    size_t cut = 0;
    for (size_t i = 0; i < nodes; i++)
        whole += energy[i];
    while (cut < most && left + energy[cut] + energy[nodes - 1 - cut] <= share * whole) {
        left += energy[cut] + energy[nodes - 1 - cut];
        cut++;
    }
    return cut;
}

static enum ww_status choose_columns(struct ww_sections *s, size_t first, size_t end, struct ww_error *error)
{
    size_t nodes = s->inverse.layered.nodes;
    double *energy = calloc(nodes, sizeof *energy);
    if (!energy)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu columns", nodes);
    add_energy(s, s->mesh.pair ? s->inverse.background.odd : s->inverse.background.even, first, end, energy);
    size_t cut = cut_of(energy, nodes, s->mesh.first - 1, FIELD_LEFT);
    size_t far = cut_of(energy, nodes, s->mesh.first - 1, FIELD_FAR);
    free(energy);
    s->laid = (struct ww_laid){cut, nodes - cut, far, nodes - far + 1};
    return WW_OK;
}

enum ww_status ww_sections_create(struct ww_sections *s, const struct ww_line *line, double angle, size_t only,
                                  struct ww_error *error)
{
    memset(s, 0, sizeof *s);
    if (!isfinite(angle))
        return ww_error_set(error, WW_INVALID, NULL, 0, "a section takes a finite angle");
    if (only > line->stack->plies)
        return ww_error_set(error, WW_INVALID, NULL, 0, "there is no ply %zu; the stackup has %zu", only,
                            line->stack->plies);
    *s = (struct ww_sections){.line = line, .angle = angle, .only = only};
    enum ww_status status = ww_mesh_copy(&line->mesh, &s->mesh, error);
    if (status)
        return status;
    ww_mesh_at_angle(line, angle, &s->mesh);
    size_t first, end;
    rows_in_place(s, &first, &end);
    size_t low = first < s->mesh.bottom ? first : s->mesh.bottom, high = end > s->mesh.top ? end : s->mesh.top;
    low = low > 1 ? low : 1;
    high = high < s->mesh.rows ? high : s->mesh.rows - 1;
    status = ww_inverse_create_band(&s->inverse, &s->mesh, low, high, error);
    if (!status)
        status = choose_columns(s, first, end, error);
    if (!status && only && line->fields.even)
        status = ww_first_order_create(&s->first_order, line, &s->mesh, angle, only - 1, error);
    if (status)
        ww_sections_destroy(s);
    return status;
}

void ww_sections_destroy(struct ww_sections *sections)
{
    ww_first_order_destroy(&sections->first_order);
    ww_inverse_destroy(&sections->inverse);
    ww_mesh_clear(&sections->mesh);
    memset(sections, 0, sizeof *sections);
}

enum ww_status ww_sections_create_nested(struct ww_sections s[], const struct ww_line *const line[], size_t grids,
                                         double angle, size_t only, struct ww_error *error)
{
    enum ww_status status = ww_sections_create(&s[0], line[0], angle, only, error);
    if (status || grids == 1)
        return status;
    status = ww_sections_create(&s[1], line[1], angle, only, error);
    if (status)
        ww_sections_destroy(&s[0]);
    else
        s[1].laid = ww_laid_refined(s[0].laid);
    return status;
}

/* Delays by the odd drive, and where apart is not NULL the modes by the even one as well. */
static enum ww_status solve(const struct ww_sections *s, const struct ww_difference *difference, double tolerance,
                            double delay[2], double *apart, struct ww_error *error)
{
    const struct ww_capacitances *grid = &s->line->grid;
    struct ww_conjugate_report report;
    bool pair = s->line->mesh.pair;
    double odd[2] = {0}, even[2] = {0}; /* charges [eps0 F/m] */
    double scale = grid->dk_correction / (pair ? grid->ca_odd : grid->ca_even);
    enum ww_status status = ww_conjugate_difference(&s->mesh, &s->inverse, difference, false, tolerance,
                                                    WW_FULL_ITERATIONS, odd, &report, error);
    if (!status && apart)
        status = ww_conjugate_difference(&s->mesh, &s->inverse, difference, true, tolerance, WW_FULL_ITERATIONS, even,
                                         &report, error);
    delay[0] = sqrt(scale * odd[0]) / WW_C0;
    delay[1] = pair ? sqrt(scale * -odd[1]) / WW_C0 : 0;
    if (apart)
        *apart =
            (sqrt(0.5 * (even[0] + even[1]) / grid->ca_even) - sqrt(0.5 * (odd[0] - odd[1]) / grid->ca_odd)) / WW_C0;
    return status;
}

enum ww_status ww_sections_legs(const struct ww_sections *s, const double (*place)[2], double tolerance,
                                double delay[2], struct ww_error *error)
{
    struct ww_difference difference;
    delay[0] = delay[1] = 0;
    enum ww_status status = ww_difference_build(&difference, s->line, &s->mesh, &s->inverse.layered, s->angle, place,
                                                s->only, s->laid, error);
    if (!status)
        status = solve(s, &difference, tolerance, delay, NULL, error);
    ww_difference_clear(&difference);
    return status;
}

/* The cloth at a place, on every grid. */
static enum ww_status lay(struct ww_difference difference[2], const struct ww_sections s[], size_t grids,
                          const double (*place)[2], struct ww_error *error)
{
    if (grids == 1)
        return ww_difference_build(difference, s->line, &s->mesh, &s->inverse.layered, s->angle, place, s->only,
                                   s->laid, error);
    const struct ww_mesh *const mesh[2] = {&s[0].mesh, &s[1].mesh};
    const struct ww_layered *const layered[2] = {&s[0].inverse.layered, &s[1].inverse.layered};
    return ww_difference_build_nested(difference, s->line, mesh, layered, s->angle, place, s->only, s->laid, error);
}

enum ww_status ww_sections_nested(const struct ww_sections s[], size_t grids, const double (*place)[2],
                                  double tolerance, bool modes, struct ww_told told[], struct ww_error *error)
{
    struct ww_difference difference[2] = {0};
    memset(told, 0, grids * sizeof *told);
    enum ww_status status = lay(difference, s, grids, place, error);
    for (size_t g = 0; g < grids && !status; g++) {
        if (s[g].first_order.rows > 0)
            ww_first_order_change(&s[g].first_order, &difference[g], told[g].change);
        status = solve(&s[g], &difference[g], tolerance, told[g].delay, modes ? &told[g].apart : NULL, error);
    }
    for (size_t g = 0; g < grids; g++)
        ww_difference_clear(&difference[g]);
    return status;
}
