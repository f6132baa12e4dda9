/* conductor.c - how the current spreads on the copper.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Copper has no permeability of its own, so that at high frequency the current on it lies as the charge on the air-filled line
 * does: K = c0 sigma. With the surface resistance Rs a mode loses Rs/2 times the integral of |K|^2 over all copper, and a leg
 * carries I = c0 Q. So its resistance per length is
 *   R = Rs g,   g = [integral over the leg of sigma^2 dl + (of a pair 1/2) integral over the planes of sigma^2 dl]/Q^2.
 * That is H. A. Wheeler's incremental inductance rule (Proc. IRE 30, 412, 1942): the derivative of L by a recession of all copper.
 *
 * The charges come from the background's solution (copper.c), one for each node of the perimeter. Towards a corner of 90 deg
 * sigma goes as d^(-1/3), d the distance from it, and sigma^2 is integrable. A cell from a to b has the charge
 * A (3/2)(b^(2/3) - a^(2/3)) and the integral of sigma^2 A^2 3 (b^(1/3) - a^(1/3)): so that what is left to the grid is how
 * far off the charges of the first cells are. That is one share of them on any grid, and falls as step^(1/3): neighbouring grids
 * are extrapolated with that. What remains falls from grid to grid by 2 to 2^(4/3), which three of these limits show (Aitken):
 * five grids are within 0.05 % of the closed forms of wide strips. The corners are square: radii of 1 to 10 % of the thickness
 * take 5 to 8 % of the trace's part (tests/line/test_isolated.c). A foil's edge has sigma as d^(-1/2), and no finite loss.
 */
#include "line/conductor.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_GRIDS 5
#define LEAST_GRIDS 3
#define MOST_PERIMETER 1500 /* nodes of a leg's faces on the finest grid: a dense solve of some 0.2 s */

/* Integral of sigma^2 over that of sigma squared, from a to b away from a corner [1/m]. */
static double share_of_cell(double a, double b)
{
    double charge = 1.5 * (pow(b, 2.0 / 3) - pow(a, 2.0 / 3)), square = 3 * (cbrt(b) - cbrt(a));
    return square / (charge * charge);
}

/* The same of the cell around a corner, which reaches a along one face and b along the other. */
static double share_of_corner(double a, double b)
{
    double charge = 1.5 * (pow(a, 2.0 / 3) + pow(b, 2.0 / 3)), square = 3 * (cbrt(a) + cbrt(b));
    return square / (charge * charge);
}

/* Of a cell between `below` and `above` on a face of some length, by the nearer corner. */
static double share_on_face(double below, double above, double length)
{
    double middle = 0.5 * (below + above);
    return middle > 0.5 * length ? share_of_cell(length - above, length - below) : share_of_cell(below, above);
}

/* Heights of the levels from the bottom of the copper. */
static double height_of(const struct ww_mesh *mesh, size_t level)
{
    double z = 0;
    for (size_t k = mesh->bottom; k < level; k++)
        z += mesh->row[k].dz;
    return z;
}

static double share_of_node(const struct ww_mesh *mesh, struct ww_copper_node node)
{
    double h = mesh->step, width = h * (double)mesh->span, thickness = height_of(mesh, mesh->top);
    bool face = node.level == mesh->bottom || node.level == mesh->top;
    bool edge = node.column == mesh->first || node.column == mesh->first + mesh->span;
    double along = h * (double)(node.column - mesh->first), up = height_of(mesh, node.level);
    if (face && edge)
        return share_of_corner(0.5 * h, 0.5 * mesh->row[node.level == mesh->bottom ? node.level : node.level - 1].dz);
    if (face)
        return share_on_face(along - 0.5 * h, along + 0.5 * h, width);
    return share_on_face(up - 0.5 * mesh->row[node.level - 1].dz, up + 0.5 * mesh->row[node.level].dz, thickness);
}

/* Integral of sigma^2 over a plane next to a row, in units of eps0^2 V^2/m. */
static double square_on_plane(const struct ww_mesh *mesh, const double *potential, size_t row)
{
    size_t nodes = mesh->columns - 1;
    const double *level = potential + (row ? row - 1 : 0) * nodes;
    double sum = 0;
    for (size_t i = 0; i < nodes; i++)
        sum += level[i] * level[i];
    return sum * mesh->step / (mesh->row[row].dz * mesh->row[row].dz);
}

static enum ww_status spread_of(struct ww_spread *spread, const struct ww_mesh *mesh, const struct ww_copper *copper,
                                const double *potential, bool odd, bool covered, struct ww_error *error)
{
    double *charge = malloc(copper->count * sizeof *charge);
    double total = 0, square = 0;
    if (!charge)
        return ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for %zu charges", copper->count);
    for (size_t p = 0; p < copper->count; p++)
        charge[p] = 1;
    ww_copper_charge(copper, 0, odd, charge);
    for (size_t p = 0; p < copper->count; p++) {
        total += charge[p];
        square += charge[p] * charge[p] * share_of_node(mesh, copper->node[p]);
    }
    double planes =
        square_on_plane(mesh, potential, 0) + (covered ? square_on_plane(mesh, potential, mesh->rows - 1) : 0);
    *spread = (struct ww_spread){square / (total * total), (mesh->pair ? 0.5 : 1) * planes / (total * total)};
    free(charge);
    return WW_OK;
}

static enum ww_status solve_grid(struct ww_conductor *conductor, const struct ww_mesh *mesh, bool covered,
                                 struct ww_error *error)
{
    struct ww_layered layered = {0};
    struct ww_copper copper = {0};
    struct ww_background fields = {0};
    enum ww_status status = ww_layered_create(&layered, mesh, WW_CROSS_SECTION, true, error);
    if (!status)
        status = ww_copper_create(&copper, mesh, &layered, error);
    if (!status)
        status = ww_background_solve_on(&fields, &layered, &copper, true, error);
    if (!status)
        status = spread_of(&conductor->even, mesh, &copper, fields.even, false, covered, error);
    if (!status && mesh->pair)
        status = spread_of(&conductor->odd, mesh, &copper, fields.odd, true, covered, error);
    ww_background_clear(&fields);
    ww_layered_destroy(&layered);
    ww_copper_destroy(&copper);
    return status;
}

/* Of the leg's own part: f[grids] on grids of half the step each. */
static double limit_at_corners(const double *f, size_t grids)
{
    double limit[MOST_GRIDS] = {0}, ratio = pow(2, 4.0 / 3);
    size_t count = grids - 1;
    for (size_t g = 0; g < count; g++)
        limit[g] = f[g + 1] + (f[g + 1] - f[g]) / (cbrt(2) - 1);
    double change = limit[count - 1] - limit[count - 2];
    if (count > 2 && change != 0)
        ratio = fmin(fmax((limit[count - 2] - limit[count - 3]) / change, 2), ratio);
    return limit[count - 1] + change / (ratio - 1);
}

/* Planes are smooth: their error is the square of the step. */
static struct ww_spread limit_of(const struct ww_spread *of, size_t grids)
{
    double trace[MOST_GRIDS];
    for (size_t g = 0; g < grids; g++)
        trace[g] = of[g].trace;
    return (struct ww_spread){limit_at_corners(trace, grids),
                              of[grids - 1].planes + (of[grids - 1].planes - of[grids - 2].planes) / 3};
}

/* Nodes of a leg's faces once the mesh is halved. */
static size_t next_perimeter(const struct ww_mesh *mesh)
{
    return 4 * (mesh->span + mesh->top - mesh->bottom);
}

enum ww_status ww_conductor_solve(struct ww_conductor *conductor, const struct ww_line *line, struct ww_error *error)
{
    struct ww_mesh mesh[2] = {0};
    struct ww_spread even[MOST_GRIDS] = {0}, odd[MOST_GRIDS] = {0};
    size_t grids = 0;
    bool covered = line->stack->layer[0].kind == WW_LAYER_PLANE;
    memset(conductor, 0, sizeof *conductor);
    if (line->mesh.top == line->mesh.bottom)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "a trace without thickness has no finite loss at its edges; give [trace] thickness");
    enum ww_status status = ww_mesh_build(&mesh[0], line->stack, &line->trace, line->fineness, error);
    while (!status) {
        struct ww_conductor of = {0};
        status = solve_grid(&of, &mesh[0], covered, error);
        even[grids] = of.even;
        odd[grids++] = of.odd;
        if (status || grids == MOST_GRIDS || (grids >= LEAST_GRIDS && next_perimeter(&mesh[0]) > MOST_PERIMETER))
            break;
        status = ww_mesh_refine(&mesh[0], line->stack, &mesh[1], error);
        ww_mesh_clear(&mesh[0]);
        mesh[0] = mesh[1];
    }
    ww_mesh_clear(&mesh[0]);
    if (!status)
        *conductor = (struct ww_conductor){limit_of(even, grids),
                                           line->mesh.pair ? limit_of(odd, grids) : (struct ww_spread){0}};
    return status;
}

double _Complex ww_conductor_impedance(const struct ww_spread *spread, double dc, double _Complex surface)
{
    double _Complex skin = surface * spread->trace;
    return csqrt(dc * dc + skin * skin) + surface * spread->planes;
}
