/* test_order.c - how fast the full solutions converge with the grid.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Where everything is smooth, the operator is of second order. Yarn edges that cut the grid anywhere leave that so, for
 * conductances are averaged harmonically across the edges and arithmetically along. Copper does not: at a square corner
 * the field grows as r^(-1/3), and the energy within a step h of it is as h^(4/3) (J. Meixner, IEEE Trans. AP-20, 442,
 * 1972, from memory). The corners are the same with the cloth as without, and the ratio of the two capacitances, which
 * is all that delay and skew take from here, is good to 1e-4 on the coarsest grid.
 */
#include "check.h"
#include "structure.h"

#include <stdlib.h>

#include "line/conjugate.h"

static double dot(const double *a, const double *b, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++)
        sum += a[i] * b[i];
    return sum;
}

/* u := A^-1 b with the operator and the layered inverse, no copper: conjugate gradients as in every textbook. */
static void solve_for_source(const struct ww_local *local, const struct ww_layered *layered, const double *b,
                             double *u)
{
    size_t n = local->nodes * local->along * local->levels;
    double *r = calloc(4 * n, sizeof *r), *z = r + n, *p = z + n, *image = p + n;
    assert_non_null(r);
    memset(u, 0, n * sizeof *u);
    memcpy(r, b, n * sizeof *r);
    memcpy(z, r, n * sizeof *z);
    ww_layered_solve(layered, z);
    memcpy(p, z, n * sizeof *p);
    double norm = dot(r, z, n), start = norm;
    int turns = 0;
    for (; norm > 1e-24 * start && turns < 60; turns++) {
        ww_local_apply(local, p, image);
        double step = norm / dot(p, image, n);
        for (size_t i = 0; i < n; i++) {
            u[i] += step * p[i];
            r[i] -= step * image[i];
        }
        memcpy(z, r, n * sizeof *z);
        ww_layered_solve(layered, z);
        double next = dot(r, z, n);
        for (size_t i = 0; i < n; i++)
            p[i] = z[i] + next / norm * p[i];
        norm = next;
    }
    assert_true(turns < 60);
    free(r);
}

/* --- a solution made up ------------------------------------------------------------------------------------------ */

/* In a box of 2 by 1 by 1.5 (across x, up z, along s), with zero walls and periodic along:
 *   phi = X(x) Z(z) S(s), X = sin(pi x/2) e^(x/3), Z = sin(pi z)(1 + z/2), S = 1 + 0.4 cos(w s), w = 2 pi/1.5
 * and permittivities that wave in all directions. Value, first and second derivative of each factor: */
struct jet {
    double v, d, dd;
};

static struct jet factor_x(double x)
{
    double k = WW_PI / 2, g = 1.0 / 3, e = exp(g * x);
    return (struct jet){sin(k * x) * e, (k * cos(k * x) + g * sin(k * x)) * e,
                        ((g * g - k * k) * sin(k * x) + 2 * g * k * cos(k * x)) * e};
}

static struct jet factor_z(double z)
{
    double k = WW_PI, g = 0.5;
    return (struct jet){sin(k * z) * (1 + g * z), k * cos(k * z) * (1 + g * z) + g * sin(k * z),
                        -k * k * sin(k * z) * (1 + g * z) + 2 * g * k * cos(k * z)};
}

#define LENGTH 1.5

static struct jet factor_s(double s, bool flat)
{
    double w = 2 * WW_PI / LENGTH;
    if (flat)
        return (struct jet){1, 0, 0};
    return (struct jet){1 + 0.4 * cos(w * s), -0.4 * w * sin(w * s), -0.4 * w * w * cos(w * s)};
}

/* eps along x, z and s, with their derivatives in the same direction. */
static double eps_x(double x, double z, double s, double *slope)
{
    double w = 2 * WW_PI / LENGTH;
    *slope = 0.8 * 2.1 * cos(2.1 * x + 1.3 * z + 0.4) * (1 + 0.2 * cos(w * s));
    return 3 + 0.8 * sin(2.1 * x + 1.3 * z + 0.4) * (1 + 0.2 * cos(w * s));
}

static double eps_z(double x, double z, double s, double *slope)
{
    double w = 2 * WW_PI / LENGTH;
    *slope = 0.7 * 2 * sin(1.7 * x - 2 * z) * (1 - 0.3 * sin(w * s));
    return 3.5 + 0.7 * cos(1.7 * x - 2 * z) * (1 - 0.3 * sin(w * s));
}

static double eps_s(double x, double z, double s, double *slope)
{
    double w = 2 * WW_PI / LENGTH;
    *slope = 0.6 * w * cos(w * s) * cos(x + z);
    return 4 + 0.6 * sin(w * s) * cos(x + z);
}

/* Largest error at a node. Rows are two heights, one twice the other, as rows of mask and laminate are. */
static double error_of_made_up(size_t columns, size_t along)
{
    struct ww_mesh mesh = {.step = 2.0 / (double)columns, .columns = columns, .rows = columns / 2};
    mesh.row = calloc(mesh.rows, sizeof *mesh.row);
    for (size_t k = 0; k < mesh.rows; k++)
        mesh.row[k] =
            (struct ww_row){(k < mesh.rows / 2 ? 4.0 : 2.0) / (3.0 * (double)mesh.rows), 3.5, 3, WW_NO_PLY, 0, false};
    struct ww_period period = {along, along > 1 ? LENGTH / (double)along : 1};
    struct ww_layered layered;
    struct ww_error error = {0};
    assert_ok(ww_layered_create(&layered, &mesh, period, false, &error), error);
    size_t nodes = columns - 1, levels = mesh.rows - 1, plane = nodes * along, size = plane * levels;
    struct ww_local local = {nodes, along, levels, NULL, NULL, NULL};
    local.up = calloc(mesh.rows * plane, sizeof(double));
    local.across = calloc(levels * along * (nodes + 1), sizeof(double));
    local.length = along > 1 ? calloc(size, sizeof(double)) : NULL;
    double *source = calloc(3 * size, sizeof *source), *exact = source + size, *found = exact + size;
    double h = mesh.step, z = 0, slope;
    for (size_t k = 0; k < mesh.rows; k++) {
        double dz = mesh.row[k].dz, top = z + dz, thick = 0.5 * (dz + (k + 1 < mesh.rows ? mesh.row[k + 1].dz : 0));
        for (size_t j = 0; j < along; j++) {
            double s = (double)j * period.step;
            for (size_t i = 0; i < nodes; i++)
                local.up[k * plane + j * nodes + i] = eps_z((double)(i + 1) * h, z + 0.5 * dz, s, &slope) * h / dz;
            if (k == levels)
                continue;
            for (size_t i = 0; i <= nodes; i++)
                local.across[(k * along + j) * (nodes + 1) + i] =
                    eps_x(((double)i + 0.5) * h, top, s, &slope) * thick / h;
            for (size_t i = 0; i < nodes; i++) {
                double x = (double)(i + 1) * h, ax, az, as, ex = eps_x(x, top, s, &ax), ez = eps_z(x, top, s, &az),
                       es = eps_s(x, top, s, &as);
                struct jet X = factor_x(x), Z = factor_z(top), S = factor_s(s, along == 1);
                size_t at = k * plane + j * nodes + i;
                exact[at] = X.v * Z.v * S.v;
                source[at] = -h * thick *
                             ((ax * X.d + ex * X.dd) * Z.v * S.v + (az * Z.d + ez * Z.dd) * X.v * S.v +
                              (as * S.d + es * S.dd) * X.v * Z.v);
                if (along > 1)
                    local.length[at] =
                        eps_s(x, top, s + 0.5 * period.step, &slope) * h * thick / (period.step * period.step);
            }
        }
        z = top;
    }
    solve_for_source(&local, &layered, source, found);
    double largest = 0;
    for (size_t i = 0; i < size; i++)
        largest = fmax(largest, fabs(found[i] - exact[i]));
    ww_local_clear(&local);
    ww_layered_destroy(&layered);
    free(source);
    free(mesh.row);
    return largest;
}

static void test_section_operator_is_of_second_order(void **state)
{
    (void)state;
    double before = 0;
    for (size_t columns = 32; columns <= 256; columns *= 2) {
        double now = error_of_made_up(columns, 1);
        if (before > 0) {
            print_message("%3zu columns: largest error %.2e, order %.3f\n", columns, now, log2(before / now));
            assert_close(log2(before / now), 2, 0, 0.1);
        }
        before = now;
    }
    assert_true(before < 1e-3);
}

static void test_volume_operator_is_of_second_order(void **state)
{
    (void)state;
    double before = 0;
    for (size_t columns = 16; columns <= 64; columns *= 2) {
        double now = error_of_made_up(columns, columns);
        if (before > 0) {
            print_message("%3zu columns: largest error %.2e, order %.3f\n", columns, now, log2(before / now));
            assert_close(log2(before / now), 2, 0, 0.1);
        }
        before = now;
    }
    assert_true(before < 5e-3);
}

/* --- real cloth -------------------------------------------------------------------------------------------------- */

static void refine(struct ww_line *line)
{
    struct ww_mesh fine;
    struct ww_error error = {0};
    assert_ok(ww_mesh_refine(&line->mesh, line->stack, &fine, &error), error);
    ww_mesh_clear(&line->mesh);
    line->mesh = fine;
}

/* A line of the test's own, with the cloth of `structure` and a copy of its mesh. */
static struct ww_line copy_of(const struct ww_line *line)
{
    struct ww_line copy = *line;
    copy.mesh.row = malloc(line->mesh.rows * sizeof *copy.mesh.row);
    memcpy(copy.mesh.row, line->mesh.row, line->mesh.rows * sizeof *copy.mesh.row);
    return copy;
}

/* Energy of the field of a smooth cloud of charge in the cloth: exp(-(x/150 um)^2) sin(pi z/height), and more of it here
 * than there along a period. */
static double energy_of_cloud(const struct ww_line *line, double angle, struct ww_period period)
{
    const struct ww_mesh *mesh = &line->mesh;
    struct ww_layered layered;
    struct ww_local local;
    struct ww_error error = {0};
    double place[1][2] = {{70 * UM, 45 * UM}}, height = 0, z = 0;
    assert_ok(ww_layered_create(&layered, mesh, period, false, &error), error);
    assert_ok(ww_local_build(&local, line, angle, place, 0, period, &error), error);
    size_t plane = local.nodes * local.along, size = plane * local.levels;
    double *source = calloc(2 * size, sizeof *source), *u = source + size;
    for (size_t k = 0; k < mesh->rows; k++)
        height += mesh->row[k].dz;
    for (size_t k = 0; k < local.levels; k++) {
        z += mesh->row[k].dz;
        double thick = 0.5 * (mesh->row[k].dz + mesh->row[k + 1].dz);
        for (size_t j = 0; j < local.along; j++)
            for (size_t i = 0; i < local.nodes; i++) {
                double x = ((double)(i + 1) - 0.5 * (double)mesh->columns) * mesh->step / (150 * UM);
                double along = local.along > 1 ? 1 + 0.8 * cos(2 * WW_PI * (double)j / (double)local.along) : 1;
                source[k * plane + j * local.nodes + i] =
                    exp(-x * x) * sin(WW_PI * z / height) * along * mesh->step * thick / (100 * UM * 100 * UM);
            }
    }
    solve_for_source(&local, &layered, source, u);
    double energy = dot(source, u, size) / (double)local.along;
    free(source);
    ww_local_clear(&local);
    ww_layered_destroy(&layered);
    return energy;
}

/* Slope of the change between successive grids, from the first to the last. */
static double mean_order(const double *value, int count)
{
    double first = fabs(value[1] - value[0]), last = fabs(value[count - 1] - value[count - 2]);
    return log2(first / last) / (count - 2);
}

static void check_cloth_in_section(const char *style, double angle)
{
    struct structure_options options = structure_single();
    options.style = style;
    options.ply = 0;
    options.fineness = 0.25;
    options.cell.nz = 8;
    struct structure s;
    struct ww_error error = {0};
    double energy[5];
    assert_ok(structure_open(&s, &options, &error), error);
    struct ww_line line = copy_of(s.line);
    for (int n = 0; n < 5; n++) {
        energy[n] = energy_of_cloud(&line, angle, WW_CROSS_SECTION);
        refine(&line);
    }
    double order = mean_order(energy, 5);
    print_message("%-12s at %4.1f deg: energy %.7f .. %.7f, order %.2f\n", style, angle / DEGREES, energy[0],
                  energy[4], order);
    /* second order or, where edges that cut the grid now here, now there have it so, more */
    assert_true(order > 1.75);
    ww_mesh_clear(&line.mesh);
    structure_close(&s);
}

static void test_yarn_edges_keep_the_section_at_second_order(void **state)
{
    (void)state;
    check_cloth_in_section("1080", 0);
    check_cloth_in_section("1080", 0.3);
    check_cloth_in_section("1080-spread", 0.3);
    check_cloth_in_section("2116", 0.3);
    check_cloth_in_section("7628", 1.1);
}

static void test_yarn_edges_keep_the_volume_at_second_order(void **state)
{
    (void)state;
    struct structure_options options = structure_single();
    options.cell.nz = 8;
    struct structure s;
    struct ww_error error = {0};
    double energy[4];
    assert_ok(structure_open(&s, &options, &error), error);
    /* a grid too coarse for the kernel of a line, to have room for three halvings */
    struct ww_line line = *s.line;
    assert_ok(ww_mesh_build(&line.mesh, &s.stack, &line.trace, 0.1, &error), error);
    for (int n = 0; n < 4; n++) {
        size_t along = (size_t)8 << n;
        energy[n] = energy_of_cloud(&line, 0, (struct ww_period){along, s.stack.ply[0].cell.ly / (double)along});
        refine(&line);
    }
    double order = mean_order(energy, 4);
    print_message("period up to %zu by %zu: energy %.7f %.7f %.7f %.7f, order %.2f\n", line.mesh.columns / 2,
                  line.mesh.rows / 2, energy[0], energy[1], energy[2], energy[3], order);
    assert_true(order > 1.75);
    ww_mesh_clear(&line.mesh);
    structure_close(&s);
}

/* With copper. C of the cloth over that of its lateral mean on the same grid is what dk takes from the section. */
static void test_copper_corners_limit_c_and_not_the_ratio(void **state)
{
    (void)state;
    enum { GRIDS = 4 };
    struct structure_options options = structure_pair();
    options.cell.nz = 8;
    struct structure s;
    struct ww_error error = {0};
    double c[GRIDS], ratio[GRIDS], differ[GRIDS], place[1][2] = {{70 * UM, 45 * UM}};
    assert_ok(structure_open(&s, &options, &error), error);
    struct ww_line line = copy_of(s.line);
    for (int n = 0; n < GRIDS; n++) {
        struct ww_local local;
        struct ww_background mean;
        struct ww_conjugate_report report;
        double charge[2][2];
        assert_ok(ww_local_build(&local, &line, 0.3, place, 0, WW_CROSS_SECTION, &error), error);
        assert_ok(ww_background_solve(&mean, &line.mesh, false, false, &error), error);
        assert_ok(ww_conjugate_solve(&line, &local, WW_CROSS_SECTION, 2, 1e-10, 60, charge, &report, &error), error);
        c[n] = charge[0][0] - charge[0][1];
        ratio[n] = c[n] / mean.c_odd;
        differ[n] = (charge[0][0] - charge[1][1]) / mean.c_odd;
        print_message("%4zu by %3zu: leg 1 %.7f, over the background's %.7f, legs differ by %.7f\n",
                      line.mesh.columns, line.mesh.rows, c[n], ratio[n], differ[n]);
        ww_background_clear(&mean);
        ww_local_clear(&local);
        refine(&line);
    }
    double order = mean_order(c, GRIDS);
    print_message("order of C %.3f\n", order);
    assert_close(order, 4.0 / 3, 0, 0.1);
    assert_close(ratio[0], ratio[GRIDS - 1], 1e-4, 0);
    /* the difference of the legs lives by the fields near the corners: first order or a little better, 1 % at half the
     * usual fineness */
    assert_close(differ[0], differ[GRIDS - 1], 0.015, 0);
    assert_true(fabs(differ[3] - differ[2]) < 0.7 * fabs(differ[1] - differ[0]));
    ww_mesh_clear(&line.mesh);
    structure_close(&s);
}

/* What people set: the fineness. Permittivity and the difference of the legs' delays, each with the cell's slices made
 * finer too. */
static void test_fineness_converges(void **state)
{
    (void)state;
    enum { GRIDS = 4 };
    double dk[GRIDS], skew[GRIDS];
    for (int n = 0; n < GRIDS; n++) {
        struct structure_options options = structure_pair();
        options.fineness = 0.5 * (1 << n);
        options.cell.nz = (size_t)(8 << n);
        struct structure s;
        struct ww_error error = {0};
        struct ww_full full;
        double place[1][2] = {{70 * UM, 45 * UM}};
        assert_ok(structure_open(&s, &options, &error), error);
        assert_ok(ww_section_solve(s.line, 0.3, place, NULL, &full, &error), error);
        dk[n] = full.dk[0];
        skew[n] = full.delay[0] - full.delay[1];
        print_message("fineness %.1f: dk %.6f, difference of delay %.5f ps/mm\n", options.fineness, dk[n],
                      skew[n] * 1e9);
        structure_close(&s);
    }
    print_message("order of the difference of delay %.2f\n", mean_order(skew, GRIDS));
    assert_close(dk[0], dk[GRIDS - 1], 1e-4, 0);
    assert_close(dk[1], dk[GRIDS - 1], 5e-5, 0);
    assert_close(skew[0], skew[GRIDS - 1], 0.015, 0);
    assert_close(skew[1], skew[GRIDS - 1], 0.007, 0);
    assert_true(mean_order(skew, GRIDS) > 0.7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_section_operator_is_of_second_order),
        cmocka_unit_test(test_volume_operator_is_of_second_order),
        cmocka_unit_test(test_yarn_edges_keep_the_section_at_second_order),
        cmocka_unit_test(test_yarn_edges_keep_the_volume_at_second_order),
        cmocka_unit_test(test_copper_corners_limit_c_and_not_the_ratio),
        cmocka_unit_test(test_fineness_converges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
