/* The conductances of the grid with the cloth in place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"
#include "line/local.h"

#include <stdlib.h>

static const struct ww_period period = {4, 60 * UM};

/* A pair over one ply; glass of the resin's own dk is no cloth at all. */
static void open(struct board *board, double glass_dk)
{
    struct board_options options = board_pair();
    options.glass_dk = glass_dk;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.4;
    board_open(board, &options);
}

static struct ww_local local_of(const struct board *board, double angle, double x, double y, struct ww_period of)
{
    struct ww_local local;
    struct ww_error error = {0};
    const double place[1][2] = {{x, y}};
    assert_ok(ww_local_build(&local, board->line, angle, place, 0, of, &error), error);
    return local;
}

/* Every conductance is the layered problem's. */
static void check_layered(const struct board *board)
{
    const double place[2][2] = {{31 * UM, 77 * UM}, {190 * UM, 5 * UM}};
    for (int along = 0; along < 2; along++) {
        struct ww_period of = along ? period : WW_CROSS_SECTION;
        struct ww_local local;
        struct ww_layered layered;
        struct ww_error error = {0};
        assert_ok(ww_local_build(&local, board->line, 17 * DEGREES, place, 0, of, &error), error);
        assert_ok(ww_layered_create(&layered, &board->line->mesh, of, false, &error), error);
        assert_int_equal(local.nodes, layered.nodes);
        assert_int_equal(local.levels, layered.levels);
        assert_true((local.length != NULL) == (along == 1));
        size_t plane = local.along * local.nodes;
        for (size_t i = 0; i < (local.levels + 1) * plane; i++)
            assert_close(local.up[i], layered.up[i / plane], 1e-12, 0);
        for (size_t i = 0; i < local.levels * local.along * (local.nodes + 1); i++)
            assert_close(local.across[i], layered.across[i / (local.along * (local.nodes + 1))], 1e-12, 0);
        for (size_t i = 0; along && i < local.levels * plane; i++)
            assert_close(local.length[i], layered.length[i / plane], 1e-12, 0);
        ww_layered_destroy(&layered);
        ww_local_clear(&local);
    }
}

static void uniform_cloth_gives_the_layered_conductances(void **state)
{
    (void)state;
    struct board board;
    open(&board, 3.2);
    check_layered(&board);
    board_close(&board);
}

/* Plies as thin as their cloth: its first and last rows lie on the planes, where there are no nodes. */
static void cloth_that_touches_the_planes_stays_within_the_grid(void **state)
{
    (void)state;
    struct board board;
    struct board_options options = board_pair();
    options.glass_dk = options.resin_dk;
    options.above = true;
    options.height = 52 * UM;
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.4;
    board_open(&board, &options);
    const struct ww_mesh *mesh = &board.line->mesh;
    assert_true(mesh->row[0].ply != WW_NO_PLY && mesh->row[mesh->rows - 1].ply != WW_NO_PLY);
    check_layered(&board);
    board_close(&board);
}

/* At the mirror image of a place about a warp yarn's axis, half a pitch off the cell's side, the section across the warp is the
 * mirror image. */
static void mirrored_start_gives_mirrored_conductances(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3);
    double axis = 0.5 * 25.4e-3 / 60, y = 90 * UM;
    for (int i = 0; i < 3; i++) {
        double by = i * 43 * UM, varies = 0;
        struct ww_local right = local_of(&board, 0, axis + by, y, WW_CROSS_SECTION);
        struct ww_local left = local_of(&board, 0, axis - by, y, WW_CROSS_SECTION);
        size_t nodes = right.nodes;
        for (size_t row = 0; row <= right.levels; row++)
            for (size_t c = 0; c < nodes; c++) {
                assert_close(right.up[row * nodes + c], left.up[row * nodes + nodes - 1 - c], 1e-9, 0);
                varies = fmax(varies, fabs(right.up[row * nodes + c] / right.up[row * nodes] - 1));
            }
        for (size_t level = 0; level < right.levels; level++)
            for (size_t c = 0; c <= nodes; c++)
                assert_close(right.across[level * (nodes + 1) + c], left.across[level * (nodes + 1) + nodes - c],
                             1e-9, 0);
        assert_true(varies > 0.05); /* there is cloth */
        ww_local_clear(&right);
        ww_local_clear(&left);
    }
    board_close(&board);
}

/* A ply that is not in place has its lateral mean: at 45 degrees the layered problem's, whose mean is over all angles, as is that of any
 * two angles at right angles. */
static void ply_out_of_place_is_its_mean(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3);
    const double place[1][2] = {{31 * UM, 77 * UM}};
    struct ww_local at[3];
    struct ww_layered layered;
    struct ww_error error = {0};
    static const double angle[3] = {45 * DEGREES, 10 * DEGREES, 100 * DEGREES};
    assert_ok(ww_layered_create(&layered, &board.line->mesh, WW_CROSS_SECTION, false, &error), error);
    for (int i = 0; i < 3; i++)
        assert_ok(ww_local_build(&at[i], board.line, angle[i], place, 2, WW_CROSS_SECTION, &error), error);
    size_t nodes = layered.nodes;
    double differs = 0;
    for (size_t i = 0; i < (layered.levels + 1) * nodes; i++)
        assert_close(at[0].up[i], layered.up[i / nodes], 1e-12, 0);
    for (size_t i = 0; i < layered.levels * (nodes + 1); i++) {
        double mean = layered.across[i / (nodes + 1)];
        assert_close(at[0].across[i], mean, 1e-12, 0);
        assert_close(0.5 * (at[1].across[i] + at[2].across[i]), mean, 1e-12, 0);
        differs = fmax(differs, fabs(at[1].across[i] / mean - 1));
    }
    assert_true(differs > 1e-4);
    for (int i = 0; i < 3; i++)
        ww_local_clear(&at[i]);
    ww_layered_destroy(&layered);
    board_close(&board);
}

/* Symmetric: a.A b = b.A a, and a constant is charged by the planes and sides alone. */
static void operator_is_symmetric(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3);
    struct ww_local local = local_of(&board, 23 * DEGREES, 31 * UM, 77 * UM, period);
    size_t plane = local.nodes * local.along, size = plane * local.levels;
    double *a = calloc(4 * size, sizeof *a), *b = a + size, *of_a = b + size, *of_b = of_a + size;
    assert_non_null(a);
    unsigned seed = 7;
    for (size_t i = 0; i < 2 * size; i++) {
        seed = seed * 1664525u + 1013904223u;
        a[i] = (double)seed / 4294967296.0 - 0.5;
    }
    ww_local_apply(&local, a, of_a);
    ww_local_apply(&local, b, of_b);
    double ab = 0, ba = 0, aa = 0;
    for (size_t i = 0; i < size; i++) {
        ab += a[i] * of_b[i];
        ba += b[i] * of_a[i];
        aa += a[i] * of_a[i];
    }
    assert_true(aa > 0);
    assert_close(ab, ba, 0, 1e-12 * aa);
    for (size_t i = 0; i < size; i++)
        a[i] = 1;
    ww_local_apply(&local, a, of_a);
    for (size_t level = 1; level + 1 < local.levels; level++)
        for (size_t j = 0; j < local.along; j++)
            for (size_t i = 1; i + 1 < local.nodes; i++)
                assert_close(of_a[level * plane + j * local.nodes + i], 0, 0, 1e-10);
    free(a);
    ww_local_clear(&local);
    board_close(&board);
}

/* What the cloth changes is the operator with it less the layered one. */
static void difference_is_local_less_layered(void **state)
{
    (void)state;
    struct board board;
    open(&board, 6.3);
    double angle = 23 * DEGREES;
    const double place[1][2] = {{31 * UM, 77 * UM}};
    struct ww_local local = local_of(&board, angle, place[0][0], place[0][1], WW_CROSS_SECTION);
    struct ww_mesh mesh = board.line->mesh;
    struct ww_layered layered;
    struct ww_difference difference;
    struct ww_error error = {0};
    mesh.row = malloc(mesh.rows * sizeof *mesh.row);
    assert_non_null(mesh.row);
    memcpy(mesh.row, board.line->mesh.row, mesh.rows * sizeof *mesh.row);
    ww_mesh_at_angle(board.line, angle, &mesh);
    assert_ok(ww_layered_create(&layered, &mesh, WW_CROSS_SECTION, false, &error), error);
    assert_ok(ww_difference_build(&difference, board.line, &mesh, &layered, angle, place, 0,
                                  (struct ww_laid){0, layered.nodes, 0, layered.nodes + 1}, &error),
              error);
    size_t size = layered.nodes * layered.levels;
    double *v = calloc(3 * size, sizeof *v), *whole = v + size, *change = whole + size, most = 0;
    assert_non_null(v);
    for (size_t i = 0; i < size; i++)
        v[i] = sin(0.37 * (double)i) + cos(0.011 * (double)(i * i % 1009));
    ww_local_apply(&local, v, whole);
    size_t below = (difference.low - layered.low) * layered.nodes;
    ww_difference_apply(&difference, v + below, change + below);
    for (size_t i = 0; i < size; i++)
        whole[i] -= change[i];
    ww_layered_solve(&layered, whole);
    for (size_t i = 0; i < size; i++) {
        assert_close(whole[i], v[i], 0, 1e-10);
        most = fmax(most, fabs(change[i]));
    }
    assert_true(most > 0.01);
    free(v);
    free(mesh.row);
    ww_difference_clear(&difference);
    ww_layered_destroy(&layered);
    ww_local_clear(&local);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uniform_cloth_gives_the_layered_conductances),
        cmocka_unit_test(cloth_that_touches_the_planes_stays_within_the_grid),
        cmocka_unit_test(mirrored_start_gives_mirrored_conductances),
        cmocka_unit_test(ply_out_of_place_is_its_mean),
        cmocka_unit_test(operator_is_symmetric),
        cmocka_unit_test(difference_is_local_less_layered),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
