/* Conjugate gradients: where there is nothing to iterate, where they stop, and that both kinds agree.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "line/conjugate.h"

#include <stdlib.h>

static const struct ww_period period = {4, 60 * UM};
static const double place[1][2] = {{31 * UM, 77 * UM}};
#define ANGLE (23 * DEGREES)

static void open(struct board *board, double glass_dk, bool pair)
{
    struct board_options options = pair ? board_pair() : board_plain();
    options.glass_dk = glass_dk;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.4;
    board_open(board, &options);
}

static struct ww_local local_of(const struct board *board, struct ww_period of)
{
    struct ww_local local;
    struct ww_error error = {0};
    assert_ok(ww_local_build(&local, board->line, ANGLE, place, 0, of, &error), error);
    return local;
}

/* Without cloth the start is the answer: no iteration, and the charges of the background. */
static void uniform_dielectric_is_the_layered_problem(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++)
        for (int along = 0; along < 2; along++) {
            struct board board;
            struct ww_period of = along ? period : WW_CROSS_SECTION;
            struct ww_conjugate_report report;
            struct ww_background background;
            struct ww_error error = {0};
            double charge[2][2];
            open(&board, 3.2, pair);
            struct ww_local local = local_of(&board, of);
            assert_ok(ww_background_solve(&background, &board.line->mesh, false, false, &error), error);
            assert_ok(ww_conjugate_solve(board.line, &local, of, pair ? 2 : 1, 1e-8, 60, charge, &report, &error),
                      error);
            assert_int_equal(report.iterations, 0);
            double even = background.c_even, odd = background.c_odd;
            double self = pair ? 0.5 * (even + odd) : even, mutual = pair ? 0.5 * (even - odd) : 0;
            assert_close(charge[0][0], self, 1e-9, 0);
            assert_close(charge[0][1], mutual, 0, 1e-9 * self);
            if (pair) {
                assert_close(charge[1][1], self, 1e-9, 0);
                assert_close(charge[1][0], mutual, 0, 1e-9 * self);
            }
            ww_background_clear(&background);
            ww_local_clear(&local);
            board_close(&board);
        }
}

/* Only as far as it is asked to: the residual is at most the tolerance, and more iterations for less. */
static void residual_stops_at_the_tolerance(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3, true);
    struct ww_local local = local_of(&board, WW_CROSS_SECTION);
    int last = 0;
    double reference[2][2], charge[2][2];
    struct ww_conjugate_report report;
    struct ww_error error = {0};
    assert_ok(ww_conjugate_solve(board.line, &local, WW_CROSS_SECTION, 2, 1e-12, 60, reference, &report, &error),
              error);
    assert_close(reference[0][1], reference[1][0], 1e-9, 0); /* reciprocal */
    assert_true(reference[0][0] > 0 && reference[0][1] < 0);
    for (double tolerance = 1e-1; tolerance > 1e-10; tolerance *= 1e-2) {
        assert_ok(ww_conjugate_solve(board.line, &local, WW_CROSS_SECTION, 2, tolerance, 60, charge, &report, &error),
                  error);
        assert_true(report.residual > 0 && report.residual <= tolerance);
        assert_true(report.iterations > last && report.iterations < 20);
        assert_close(charge[0][0], reference[0][0], tolerance, 1e-10);
        last = report.iterations;
    }
    ww_local_clear(&local);
    board_close(&board);
}

/* Too few iterations: said so, with what was reached, and no charge. */
static void too_few_iterations_are_not_converged(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3, true);
    struct ww_local local = local_of(&board, period);
    double charge[2][2] = {{1, 1}, {1, 1}}, *potential = &charge[0][0];
    struct ww_conjugate_report report;
    struct ww_error error = {0};
    assert_int_equal(ww_conjugate_solve(board.line, &local, period, 2, 1e-8, 2, charge, &report, &error),
                     WW_NOT_CONVERGED);
    assert_int_equal(report.iterations, 2);
    assert_true(report.residual > 1e-8 && report.residual < 1);
    for (int i = 0; i < 4; i++)
        assert_close(charge[i / 2][i % 2], 0, 0, 0);
    assert_contains(error.text, "after 2 iterations");
    assert_int_equal(ww_conjugate_potential(board.line, &local, period, 1e-8, 2, &potential, &report, &error),
                     WW_NOT_CONVERGED);
    assert_null(potential);
    ww_local_clear(&local);
    board_close(&board);
}

/* The potential is 1/2 V and -1/2 V on the legs, and off the copper no node is charged. */
static void potential_leaves_no_charge_off_the_copper(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3, true);
    const struct ww_mesh *mesh = &board.line->mesh;
    struct ww_local local = local_of(&board, WW_CROSS_SECTION);
    struct ww_conjugate_report report;
    struct ww_error error = {0};
    double *v;
    assert_ok(ww_conjugate_potential(board.line, &local, WW_CROSS_SECTION, 1e-10, 60, &v, &report, &error), error);
    double *q = calloc(local.nodes * local.levels, sizeof *q);
    assert_non_null(q);
    ww_local_apply(&local, v, q);
    for (size_t k = 1; k <= local.levels; k++)
        for (size_t i = 1; i <= local.nodes; i++) {
            size_t at = (k - 1) * local.nodes + i - 1, mirror = mesh->columns - i;
            bool between = k >= mesh->bottom && k <= mesh->top;
            if (between && i >= mesh->first && i <= mesh->first + mesh->span)
                assert_close(v[at], 0.5, 0, 1e-9);
            else if (between && mirror >= mesh->first && mirror <= mesh->first + mesh->span)
                assert_close(v[at], -0.5, 0, 1e-9);
            else
                assert_close(q[at], 0, 0, 1e-8);
        }
    free(q);
    free(v);
    ww_local_clear(&local);
    board_close(&board);
}

/* From what the cloth changes alone, on the levels of all: the charges of the whole problem, driven oddly. */
static void difference_gives_the_same_charges(void **state)
{
    (void)state;
    for (int pair = 0; pair < 2; pair++) {
        struct board board;
        open(&board, 6.3, pair);
        struct ww_local local = local_of(&board, WW_CROSS_SECTION);
        struct ww_mesh mesh = board.line->mesh;
        struct ww_inverse inverse;
        struct ww_difference difference;
        struct ww_conjugate_report report;
        struct ww_error error = {0};
        double charge[2][2], by_difference[2];
        mesh.row = malloc(mesh.rows * sizeof *mesh.row);
        assert_non_null(mesh.row);
        memcpy(mesh.row, board.line->mesh.row, mesh.rows * sizeof *mesh.row);
        ww_mesh_at_angle(board.line, ANGLE, &mesh);
        assert_ok(ww_conjugate_solve(board.line, &local, WW_CROSS_SECTION, pair ? 2 : 1, 1e-11, 60, charge, &report,
                                     &error),
                  error);
        assert_ok(ww_inverse_create_band(&inverse, &mesh, 1, mesh.rows - 1, &error), error);
        assert_ok(ww_difference_build(&difference, board.line, &mesh, &inverse.layered, ANGLE, place, 0,
                                      (struct ww_laid){0, inverse.layered.nodes, 0, inverse.layered.nodes + 1},
                                      &error),
                  error);
        assert_ok(
            ww_conjugate_difference(&mesh, &inverse, &difference, false, 1e-9, 60, by_difference, &report, &error),
            error);
        assert_close(by_difference[0], pair ? charge[0][0] - charge[1][0] : charge[0][0], 1e-8, 0);
        if (pair)
            assert_close(by_difference[1], charge[0][1] - charge[1][1], 1e-8, 0);
        assert_int_equal(
            ww_conjugate_difference(&mesh, &inverse, &difference, false, 1e-9, 1, by_difference, &report, &error),
            WW_NOT_CONVERGED);
        assert_close(by_difference[0], 0, 0, 0);
        ww_difference_clear(&difference);
        ww_inverse_destroy(&inverse);
        free(mesh.row);
        ww_local_clear(&local);
        board_close(&board);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_dielectric_is_the_layered_problem),
        cmocka_unit_test(residual_stops_at_the_tolerance),
        cmocka_unit_test(too_few_iterations_are_not_converged),
        cmocka_unit_test(potential_leaves_no_charge_off_the_copper),
        cmocka_unit_test(difference_gives_the_same_charges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
