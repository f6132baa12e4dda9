/* The grid of a cross-section: edges on nodes, layers in order, and what is refused.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "board.h"

#include <stdlib.h>

static struct ww_layer layers[5] = {{.kind = WW_LAYER_PLANE},
                                    {.kind = WW_LAYER_SOLID, .thickness = 100 * UM, .dk = 3.2},
                                    {.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2},
                                    {.kind = WW_LAYER_SOLID, .thickness = 80 * UM, .dk = 4.1},
                                    {.kind = WW_LAYER_PLANE}};
static const struct ww_stack stack = {.layer = layers, .count = 5};

static struct ww_mesh build(double width, double thickness, double pitch, double fineness)
{
    struct ww_mesh mesh;
    struct ww_trace trace = {width, thickness, pitch};
    struct ww_error error = {0};
    assert_ok(ww_mesh_build(&mesh, &stack, &trace, fineness, &error), error);
    return mesh;
}

static double height(const struct ww_mesh *mesh, size_t level)
{
    double z = 0;
    for (size_t r = 0; r < level; r++)
        z += mesh->row[r].dz;
    return z;
}

static double position(const struct ww_mesh *mesh, size_t column)
{
    return ((double)column - 0.5 * (double)mesh->columns) * mesh->step;
}

static void copper_edges_lie_on_nodes(void **state)
{
    (void)state;
    static const double sizes[][3] = {/* width, thickness, pitch in um */
                                      {100, 15, 220},  {100, 15, 0},     {88.9, 17.5, 177.8}, {101.6, 0, 254},
                                      {75, 12, 175.5}, {130, 35, 131.3}, {250, 18, 0},        {3.3, 1, 9.9}};
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++)
        for (double fineness = 0.5; fineness <= 2; fineness *= 2) {
            double width = sizes[i][0] * UM, thickness = sizes[i][1] * UM, pitch = sizes[i][2] * UM;
            struct ww_mesh mesh = build(width, thickness, pitch, fineness);
            double left = position(&mesh, mesh.first), right = position(&mesh, mesh.first + mesh.span);
            double middle = 0.5 * (left + right);
            assert_close(right - left, width, 1e-12, 0);
            assert_close(middle, 0.5 * pitch, 1e-12, 1e-12 * width);
            assert_close(height(&mesh, mesh.bottom), 80 * UM, 1e-12, 0);
            assert_close(height(&mesh, mesh.top), 80 * UM + thickness, 1e-12, 0);
            assert_close(height(&mesh, mesh.rows), 180 * UM + thickness, 1e-12, 0);
            assert_int_equal(mesh.columns % 2, 0);
            /* the window reaches three times the planes' distance beside the copper */
            assert_true(position(&mesh, mesh.columns) - right >= 3 * (180 * UM + thickness) * (1 - 1e-9));
            ww_mesh_clear(&mesh);
        }
}

/* The copper is the trace's, whatever the layer says of it: this once ran over the end of the rows. */
static void copper_thicker_than_its_layer(void **state)
{
    (void)state;
    struct ww_mesh mesh = build(130 * UM, 60 * UM, 131.3 * UM, 2);
    assert_close(height(&mesh, mesh.top) - height(&mesh, mesh.bottom), 60 * UM, 1e-12, 0);
    assert_close(height(&mesh, mesh.rows), 240 * UM, 1e-12, 0);
    ww_mesh_clear(&mesh);
}

static void layers_are_in_place(void **state)
{
    (void)state;
    struct ww_mesh mesh = build(100 * UM, 15 * UM, 0, 1);
    for (size_t r = 0; r < mesh.rows; r++) {
        assert_close(creal(mesh.row[r].eps_z), r < mesh.bottom ? 4.1 : 3.2, 1e-15, 0);
        assert_true(mesh.row[r].ply == WW_NO_PLY);
    }
    struct ww_mesh fine;
    struct ww_error error = {0};
    assert_ok(ww_mesh_refine(&mesh, &fine, &error), error);
    assert_close(height(&fine, fine.bottom), height(&mesh, mesh.bottom), 1e-14, 0);
    assert_close(height(&fine, fine.rows), height(&mesh, mesh.rows), 1e-14, 0);
    assert_close(position(&fine, fine.first), position(&mesh, mesh.first), 1e-14, 0);
    assert_close(position(&fine, fine.columns), position(&mesh, mesh.columns), 1e-14, 0);
    assert_close((double)fine.span * fine.step, 100 * UM, 1e-13, 0);
    ww_mesh_clear(&mesh);
    ww_mesh_clear(&fine);
}

/* Two lengths without a common step: the nearest pitch that has one is solved, and said. */
static void rounded_pitch_is_reported(void **state)
{
    (void)state;
    double width = 100 * UM, pitch = 100 * WW_PI * UM; /* 311/99 is near */
    struct ww_trace trace = {width, 15 * UM, pitch};
    struct ww_line *line;
    struct ww_error error = {0};
    assert_ok(ww_line_create(&line, &stack, &trace, NULL, &error), error);
    const struct ww_line_summary *s = ww_line_summary(line);
    assert_true(fabs(s->pitch - pitch) > 1e-9 * pitch);
    assert_true(fabs(s->pitch - pitch) <= 5e-4 * width);
    assert_close(s->pitch / s->step, round(s->pitch / s->step), 1e-12, 0);
    assert_close(width / s->step, round(width / s->step), 1e-12, 0);
    assert_close(ww_line_trace(line)->pitch, pitch, 0, 0);
    ww_line_destroy(line);

    trace.pitch = 220 * UM; /* one that fits is left alone */
    assert_ok(ww_line_create(&line, &stack, &trace, NULL, &error), error);
    assert_close(ww_line_summary(line)->pitch, 220 * UM, 1e-12, 0);
    ww_line_destroy(line);
}

/* 85 um and 388 um share no step but 1 um, 170 of them over the width with the middle on a node at 0.5 um: sections less
 * kernel, whose grid errors cancel, took that grid too, and a route of them did not end. */
static void a_pair_without_a_coarse_step_keeps_a_coarse_grid(void **state)
{
    (void)state;
    struct ww_trace trace = {85 * UM, 17 * UM, 388 * UM};
    struct ww_error error = {0};
    const struct ww_mesh_options loose = {2, 6, 0, 0.02, 5, 0.95};
    struct ww_mesh mesh;
    assert_ok(ww_mesh_build(&mesh, &stack, &trace, 1, &error), error);
    assert_true(mesh.span <= 110);
    ww_mesh_clear(&mesh);
    assert_ok(ww_mesh_build_in(&mesh, &stack, &trace, 1, loose, &error), error);
    assert_true(mesh.span >= 16 && mesh.span <= 24);
    double right = position(&mesh, mesh.first + mesh.span), left = position(&mesh, mesh.first);
    assert_close(right - left, trace.width, 1e-12, 0);
    assert_close(0.5 * (left + right), 0.5 * trace.pitch, 0, 0.5 * loose.miss * trace.width);
    ww_mesh_clear(&mesh);
}

/* 7628 pressed to 7 um over its cloth: rows beside the copper are at most 2 um, then half their distance from it. */
static void rows_of_cloth_are_lower_beside_the_copper(void **state)
{
    (void)state;
    struct ww_weaves weaves;
    struct ww_error error = {0};
    struct ww_layer layer[] = {{.kind = WW_LAYER_AIR},
                               {.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2},
                               {.kind = WW_LAYER_PLY, .dk = 3.2, .resin = {.name = "resin", .dk = 3.2}},
                               {.kind = WW_LAYER_PLANE}};
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_style(&weaves, "7628", &layer[2].style, &error), error);
    ww_weaves_close(&weaves);
    layer[2].thickness = layer[2].style.warp.height.value + layer[2].style.fill.height.value + 7 * UM;
    struct ww_stack cloth = {.layer = layer, .count = 4};
    struct ww_trace trace = {340 * UM, 15 * UM, 0};
    struct ww_mesh mesh;
    assert_ok(ww_stack_build(&cloth, NULL, &error), error);
    assert_ok(ww_mesh_build(&mesh, &cloth, &trace, 1, &error), error);
    size_t rows = 0;
    for (size_t r = 0; r < mesh.rows; r++)
        if (mesh.row[r].ply == 0) {
            double slice = cloth.ply[0].cell.thickness / (double)cloth.ply[0].cell.nz;
            double bottom = 3.5 * UM + slice * (double)mesh.row[r].slice, away = layer[2].thickness - bottom - slice;
            assert_true(mesh.row[r].dz <= (1 + 1e-9) * fmax(2 * UM, 0.5 * away));
            rows++;
        }
    assert_true(rows > cloth.ply[0].cell.nz && rows < cloth.ply[0].cell.nz + 8);
    ww_mesh_clear(&mesh);
    ww_stack_clear(&cloth);
}

/* A trace 8 um wide 260 um over its plane was refused: the finest grid had 260 million nodes. */
static void rows_grow_away_from_a_narrow_trace(void **state)
{
    (void)state;
    struct ww_layer one[] = {{.kind = WW_LAYER_PLANE},
                             {.kind = WW_LAYER_SOLID, .thickness = 300 * UM, .dk = 3.2},
                             {.kind = WW_LAYER_TRACE, .thickness = 8 * UM, .dk = 3.2},
                             {.kind = WW_LAYER_SOLID, .thickness = 260 * UM, .dk = 3.2},
                             {.kind = WW_LAYER_PLANE}};
    struct ww_layer other[] = {one[4], one[3], one[2], one[1], one[0]};
    struct ww_trace trace = {8 * UM, 8 * UM, 0};
    struct ww_error error = {0};
    struct ww_mesh up, down;
    assert_ok(ww_mesh_build(&up, &(struct ww_stack){.layer = one, .count = 5}, &trace, 1, &error), error);
    assert_ok(ww_mesh_build(&down, &(struct ww_stack){.layer = other, .count = 5}, &trace, 1, &error), error);
    assert_true(up.rows * up.columns < 400000);
    assert_close(height(&up, up.bottom), 260 * UM, 1e-12, 0);
    assert_close(height(&up, up.rows), 568 * UM, 1e-12, 0);
    assert_int_equal(up.rows, down.rows);
    for (size_t r = 0; r < up.rows; r++)
        assert_close(up.row[r].dz, down.row[up.rows - 1 - r].dz, 1e-9, 0);
    for (size_t r = 1; r < up.bottom; r++)
        assert_true(up.row[r].dz <= up.row[r - 1].dz * (1 + 1e-9));
    assert_true(up.row[up.bottom - 1].dz <= trace.width / 5);
    ww_mesh_clear(&up);
    ww_mesh_clear(&down);
}

static void sizes_out_of_range_are_refused(void **state)
{
    (void)state;
    static const struct {
        struct ww_trace trace;
        enum ww_status status;
        const char *says;
    } bad[] = {
        {{0, 0, 0}, WW_INVALID, "width"},
        {{-100 * UM, 15 * UM, 0}, WW_INVALID, "width"},
        {{NAN, 15 * UM, 0}, WW_INVALID, "width"},
        {{INFINITY, 15 * UM, 0}, WW_INVALID, "width"},
        {{1, 15 * UM, 0}, WW_INVALID, "width"},
        {{100 * UM, -1 * UM, 0}, WW_INVALID, "thickness"},
        {{100 * UM, NAN, 0}, WW_INVALID, "thickness"},
        {{100 * UM, 0.1, 0}, WW_INVALID, "thickness"},
        {{100 * UM, 15 * UM, NAN}, WW_INVALID, "pitch"},
        {{100 * UM, 15 * UM, -220 * UM}, WW_INVALID, "pitch"},
        {{100 * UM, 15 * UM, 1}, WW_INVALID, "pitch"},
        {{100 * UM, 15 * UM, 100 * UM}, WW_UNPHYSICAL, "overlap"},
        {{100 * UM, 15 * UM, 60 * UM}, WW_UNPHYSICAL, "overlap"},
        {{1e-12, 0, 0}, WW_INVALID, "grid"},
        {{0.1 * UM, 0, 0},
         WW_INVALID,
         "limit 64000000"}, /* a grid that fits, but none twice and four times as fine */
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_line *line = (struct ww_line *)1;
        struct ww_error error = {0};
        assert_int_equal(ww_line_create(&line, &stack, &bad[i].trace, NULL, &error), bad[i].status);
        assert_null(line);
        assert_contains(error.text, bad[i].says);
    }
    struct ww_line *line;
    struct ww_trace trace = {100 * UM, 15 * UM, 0};
    struct ww_error error = {0};
    struct ww_line_options too_fine = {.fineness = 1e6};
    assert_int_equal(ww_line_create(&line, &stack, &trace, &too_fine, &error), WW_INVALID);
    assert_contains(error.text, "fine");
    assert_null(line);
    ww_line_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(copper_edges_lie_on_nodes),
        cmocka_unit_test(copper_thicker_than_its_layer),
        cmocka_unit_test(layers_are_in_place),
        cmocka_unit_test(rounded_pitch_is_reported),
        cmocka_unit_test(a_pair_without_a_coarse_step_keeps_a_coarse_grid),
        cmocka_unit_test(rows_grow_away_from_a_narrow_trace),
        cmocka_unit_test(rows_of_cloth_are_lower_beside_the_copper),
        cmocka_unit_test(sizes_out_of_range_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
