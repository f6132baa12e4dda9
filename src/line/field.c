/* field.c - the field of a cross-section as a picture of it wants it: on an even raster.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Between its nodes the potential is bilinear. The field is the difference along the edges of the grid, blended from edge
 * to edge, but neither into copper nor across the face of a layer, where it jumps. The cloth is asked for again, column by
 * column.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "line/full.h"

#define FABRIC_SLICES 64 /* over the thickness of a fabric */
#define MOST_SAMPLES 10000
#define MAPS 5 /* of struct ww_section_field */

struct raster {
    const struct ww_line *line;
    const double *potential; /* on the interior nodes */
    double *z;               /* [rows + 1] of every level */
    double angle;
    const double (*place)[2];
    struct ww_section_field *field;
    double *warp, *fill; /* [FABRIC_SLICES] */
};

static double node_potential(const struct raster *r, size_t column, size_t level)
{
    const struct ww_mesh *mesh = &r->line->mesh;
    bool inside = column > 0 && column < mesh->columns && level > 0 && level < mesh->rows;
    return inside ? r->potential[(level - 1) * (mesh->columns - 1) + column - 1] : 0;
}

/* Row of the mesh that holds height z, searched upwards from *row. */
static void climb(const struct raster *r, double z, size_t *row)
{
    while (*row + 1 < r->line->mesh.rows && r->z[*row + 1] <= z)
        ++*row;
}

static bool is_copper(const struct ww_mesh *mesh, size_t column, size_t level)
{
    size_t mirrored = mesh->columns - column;
    return level >= mesh->bottom && level <= mesh->top &&
           ((column >= mesh->first && column <= mesh->first + mesh->span) ||
            (mesh->pair && mirrored >= mesh->first && mirrored <= mesh->first + mesh->span));
}

/* Field across on one level: that of the edge between two nodes, blended with the next edge unless this is copper. */
static double field_across(const struct raster *r, size_t column, size_t level, double u)
{
    const struct ww_mesh *mesh = &r->line->mesh;
    double own = node_potential(r, column + 1, level) - node_potential(r, column, level), share = fabs(u - 0.5);
    size_t next = u < 0.5 ? column - 1 : column + 1;
    if (next >= mesh->columns || (is_copper(mesh, next, level) && is_copper(mesh, next + 1, level)))
        share = 0;
    double other = share > 0 ? node_potential(r, next + 1, level) - node_potential(r, next, level) : 0;
    return ((1 - share) * own + share * other) / mesh->step;
}

static bool is_alike(const struct ww_row *a, const struct ww_row *b)
{
    return a->ply == b->ply && (a->ply != WW_NO_PLY || creal(a->eps_z) == creal(b->eps_z));
}

static double rise(const struct raster *r, size_t column, size_t row)
{
    return (node_potential(r, column, row + 1) - node_potential(r, column, row)) / r->line->mesh.row[row].dz;
}

/* Field up in one column of nodes: that of the row, blended with the next row unless this is of another material. */
static double field_up(const struct raster *r, size_t column, size_t row, double w)
{
    const struct ww_mesh *mesh = &r->line->mesh;
    size_t next = w < 0.5 ? row - 1 : row + 1;
    double share = fabs(w - 0.5);
    if (next >= mesh->rows || !is_alike(&mesh->row[row], &mesh->row[next]) ||
        (is_copper(mesh, column, next) && is_copper(mesh, column, next + 1)))
        share = 0;
    return (1 - share) * rise(r, column, row) + (share > 0 ? share * rise(r, column, next) : 0);
}

static void put_field(const struct raster *r, double n, double z, size_t row, size_t to)
{
    const struct ww_mesh *mesh = &r->line->mesh;
    double across = fmin(fmax(n / mesh->step + 0.5 * (double)mesh->columns, 0), (double)mesh->columns);
    size_t column = across < (double)mesh->columns ? (size_t)across : mesh->columns - 1;
    double u = across - (double)column, w = fmin((z - r->z[row]) / mesh->row[row].dz, 1);
    double a = node_potential(r, column, row), b = node_potential(r, column + 1, row);
    double c = node_potential(r, column, row + 1), d = node_potential(r, column + 1, row + 1);
    bool inside = is_copper(mesh, column, row) && is_copper(mesh, column + 1, row + 1) &&
                  is_copper(mesh, column + 1, row) && is_copper(mesh, column, row + 1);
    double along_n = (1 - w) * field_across(r, column, row, u) + w * field_across(r, column, row + 1, u);
    double along_z = (1 - u) * field_up(r, column, row, w) + u * field_up(r, column + 1, row, w);
    r->field->potential.value[to] = (1 - w) * ((1 - u) * a + u * b) + w * ((1 - u) * c + u * d);
    r->field->strength.value[to] = inside ? 0 : hypot(along_n, along_z);
}

/* First row of the fabric that row belongs to, and the one behind its last. */
static void band_of(const struct ww_mesh *mesh, size_t row, size_t *first, size_t *behind)
{
    *first = *behind = row;
    while (*first > 0 && mesh->row[*first - 1].ply == mesh->row[row].ply)
        --*first;
    while (*behind < mesh->rows && mesh->row[*behind].ply == mesh->row[row].ply)
        ++*behind;
}

static void sample_fabric(const struct raster *r, size_t ply, double n)
{
    const struct ww_ply *p = &r->line->stack->ply[ply];
    double theta = r->angle - p->turn;
    const struct ww_cloth cloth = ww_stack_cloth(r->line->stack, ply);
    ww_cloth_column(&cloth, r->place[ply][0] - p->shift_x - n * cos(theta),
                    r->place[ply][1] - p->shift_y + n * sin(theta), FABRIC_SLICES, NULL, r->warp, r->fill);
}

/* One column of the raster, from the bottom up. */
static void put_column(const struct raster *r, size_t ix)
{
    struct ww_section_field *field = r->field;
    const struct ww_mesh *mesh = &r->line->mesh;
    double n = field->left + ((double)ix + 0.5) * field->dk.lx / (double)field->dk.nx;
    size_t row = 0, first = 0, behind = 0, sampled = WW_NO_PLY;
    for (size_t iy = 0; iy < field->dk.ny; iy++) {
        double z = field->bottom + ((double)iy + 0.5) * field->dk.ly / (double)field->dk.ny;
        size_t to = iy * field->dk.nx + ix;
        climb(r, z, &row);
        put_field(r, n, z, row, to);
        size_t ply = mesh->row[row].ply;
        field->dk.value[to] = creal(mesh->row[row].eps_z);
        if (ply == WW_NO_PLY)
            continue;
        if (ply != sampled) {
            sample_fabric(r, ply, n);
            band_of(mesh, row, &first, &behind);
            sampled = ply;
        }
        double share = (z - r->z[first]) / (r->z[behind] - r->z[first]);
        size_t slice = (size_t)fmin(fmax(share * FABRIC_SLICES, 0), FABRIC_SLICES - 1);
        double w = r->warp[slice], f = r->fill[slice];
        const struct ww_ply *p = &r->line->stack->ply[ply];
        field->warp.value[to] = w;
        field->fill.value[to] = f;
        field->dk.value[to] = 1 / ((1 - w - f) / creal(p->eps_resin) + w / creal(p->warp_t) + f / creal(p->fill_t));
    }
}

static enum ww_status allocate(struct ww_section_field *field, const double window[4], size_t nx, size_t ny,
                               struct ww_error *error)
{
    struct ww_map *maps[MAPS] = {&field->potential, &field->strength, &field->warp, &field->fill, &field->dk};
    double w = window[1] - window[0], h = window[3] - window[2];
    enum ww_status status = WW_OK;
    if (!(w > 0) || !(h > 0) || !(window[2] >= 0) || !isfinite(w) || !isfinite(h) || nx < 2 || ny < 2 ||
        nx > MOST_SAMPLES || ny > MOST_SAMPLES)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "no such window of a cross-section: %g to %g m across, %g to %g m up, %zu by %zu samples",
                            window[0], window[1], window[2], window[3], nx, ny);
    field->left = window[0];
    field->bottom = window[2];
    for (size_t i = 0; i < MAPS && !status; i++)
        status = ww_map_init(maps[i], nx, ny, w, h, error);
    return status;
}

static enum ww_status solve_potential(const struct ww_line *line, double angle, const double (*place)[2],
                                      const struct ww_full_options *options, double **potential,
                                      struct ww_error *error)
{
    struct ww_local local = {0};
    struct ww_conjugate_report report;
    double tolerance = options && options->tolerance > 0 ? options->tolerance : WW_FULL_TOLERANCE;
    int most = options && options->iterations > 0 ? options->iterations : WW_FULL_ITERATIONS;
    enum ww_status status =
        ww_local_build(&local, line, angle, place, options ? options->ply : 0, WW_CROSS_SECTION, error);
    if (!status)
        status = ww_conjugate_potential(line, &local, WW_CROSS_SECTION, tolerance, most, potential, &report, error);
    ww_local_clear(&local);
    return status;
}

enum ww_status ww_section_field(const struct ww_line *line, double angle, const double (*place)[2],
                                const struct ww_full_options *options, const double window[4], size_t nx, size_t ny,
                                struct ww_section_field *field, struct ww_error *error)
{
    const struct ww_mesh *mesh = &line->mesh;
    double *potential = NULL, *z = calloc(mesh->rows + 1, sizeof *z), cloth[2][FABRIC_SLICES];
    memset(field, 0, sizeof *field);
    enum ww_status status = z ? allocate(field, window, nx, ny, error)
                              : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu rows", mesh->rows);
    if (!status)
        status = solve_potential(line, angle, place, options, &potential, error);
    if (!status) {
        struct raster raster = {line, potential, z, angle, place, field, cloth[0], cloth[1]};
        for (size_t row = 0; row < mesh->rows; row++)
            z[row + 1] = z[row] + mesh->row[row].dz;
        for (size_t ix = 0; ix < nx; ix++)
            put_column(&raster, ix);
    }
    free(z);
    free(potential);
    if (status)
        ww_section_field_clear(field);
    return status;
}

void ww_section_field_clear(struct ww_section_field *field)
{
    ww_map_clear(&field->potential);
    ww_map_clear(&field->strength);
    ww_map_clear(&field->warp);
    ww_map_clear(&field->fill);
    ww_map_clear(&field->dk);
    memset(field, 0, sizeof *field);
}

void ww_section_window(const struct ww_line *line, double window[4])
{
    const struct ww_mesh *mesh = &line->mesh;
    double half = 0.5 * (double)mesh->columns * mesh->step, top = 0;
    for (size_t row = 0; row < mesh->rows; row++)
        top += mesh->row[row].dz;
    memcpy(window, (const double[4]){-half, half, 0, top}, 4 * sizeof *window);
}
