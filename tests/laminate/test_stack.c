/* The stackup: what is accepted, what is refused and with which words, and what a ply is worth once built.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "support/check.h"
#include "weftwise/laminate.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static struct ww_datum given(double value)
{
    return (struct ww_datum){.value = value, .origin = WW_USER};
}

/* A style of no one's, with every figure given: 60 by 47 per inch of 11.2 tex. */
static struct ww_style style_make(void)
{
    struct ww_style style = {.name = "T1", .glass = {.name = "E", .dk = 6.3, .df = 0.004, .density = 2580.0}};
    style.warp_count = given(60.0 / 25.4e-3);
    style.fill_count = given(47.0 / 25.4e-3);
    style.shape = given(2.0);
    style.warp.tex = style.fill.tex = given(11.2e-6);
    style.warp.width = given(300e-6);
    style.warp.height = given(27e-6);
    style.fill.width = given(330e-6);
    style.fill.height = given(25e-6);
    struct ww_error error = {0};
    if (ww_style_close(&style, &error) != WW_OK)
        fail_msg("%s", error.text);
    return style;
}

static const struct ww_resin resin = {.name = "R", .dk = 3.2, .df = 0.02, .density = 1200.0};
static const struct ww_cell_options coarse = {.nx = 24, .ny = 24, .nz = 8, .supersample = 2};

enum { LAYERS = 5 };

/* plane, resin, trace, ply, plane; line numbers 11 to 15. */
static void stripline(struct ww_layer layer[LAYERS])
{
    memset(layer, 0, LAYERS * sizeof *layer);
    static const enum ww_layer_kind kind[LAYERS] = {WW_LAYER_PLANE, WW_LAYER_RESIN, WW_LAYER_TRACE, WW_LAYER_PLY,
                                                    WW_LAYER_PLANE};
    for (int i = 0; i < LAYERS; i++) {
        layer[i].kind = kind[i];
        layer[i].line = 11 + i;
        layer[i].resin = resin;
        layer[i].dk = resin.dk;
        layer[i].df = resin.df;
    }
    layer[1].thickness = 100e-6;
    layer[2].thickness = 15e-6;
    layer[3].thickness = 100e-6;
    layer[3].style = style_make();
}

static void assert_refused(struct ww_layer *layer, size_t count, enum ww_status status, int line, const char *words)
{
    struct ww_stack stack = {.layer = layer, .count = count};
    struct ww_error error = {0};
    assert_int_equal(ww_stack_build(&stack, &coarse, &error), status);
    assert_int_equal(error.status, status);
    if (!strstr(error.text, words))
        fail_msg("\"%s\" does not say \"%s\"", error.text, words);
    assert_int_equal(error.line, line);
    assert_string_equal(error.file, "");
    assert_null(strchr(error.text, '\n'));
    assert_null(stack.ply);
    assert_int_equal(stack.plies, 0);
    assert_int_equal(ww_stack_build(&stack, &coarse, NULL), status); /* an error is optional */
}

static void assert_accepted(struct ww_layer *layer, size_t count, size_t plies)
{
    struct ww_stack stack = {.layer = layer, .count = count};
    struct ww_error error = {0};
    if (ww_stack_build(&stack, &coarse, &error) != WW_OK)
        fail_msg("%s", error.text);
    assert_int_equal(stack.plies, plies);
    ww_stack_clear(&stack);
    assert_null(stack.ply);
    assert_ptr_equal(stack.layer, layer);
    ww_stack_clear(&stack);
}

static void test_stripline_and_microstrips_are_accepted(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    assert_accepted(layer, LAYERS, 1);
    layer[2].thickness = 0.0;
    assert_accepted(layer, LAYERS, 1);
    layer[0].kind = WW_LAYER_AIR;
    layer[1].kind = WW_LAYER_MASK; /* covered */
    assert_accepted(layer, LAYERS, 1);
    layer[1].kind = WW_LAYER_AIR; /* bare */
    layer[1].thickness = 0.0;
    assert_accepted(layer + 1, LAYERS - 1, 1);
    layer[3].kind = WW_LAYER_SOLID; /* no cloth at all */
    assert_accepted(layer + 1, LAYERS - 1, 0);
}

static void test_ply_carries_its_own_figures(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    layer[1] = layer[3];
    layer[1].turn = 0.1;
    layer[1].shift_x = 1e-4;
    layer[1].thickness = 60e-6;
    struct ww_stack stack = {.layer = layer, .count = LAYERS};
    assert_int_equal(ww_stack_build(&stack, &coarse, NULL), WW_OK);
    assert_int_equal(stack.plies, 2);
    const struct ww_ply *top = &stack.ply[0], *bottom = &stack.ply[1];
    assert_int_equal(top->layer, 1);
    assert_int_equal(bottom->layer, 3);
    assert_close(top->turn, 0.1, 0.0, 0.0);
    assert_close(top->shift_x, 1e-4, 0.0, 0.0);
    assert_close(top->thickness, 60e-6, 0.0, 0.0);
    assert_close(bottom->turn, 0.0, 0.0, 0.0);

    /* the same glass in less resin: more glass by volume, less resin by weight, a higher Dk */
    assert_close(top->glass_fraction, bottom->glass_fraction * 100.0 / 60.0, 1e-12, 0.0);
    assert_true(top->resin_content < bottom->resin_content);
    assert_true(top->dk_bulk > bottom->dk_bulk);

    assert_close(creal(bottom->eps_resin), 3.2, 0.0, 0.0);
    assert_close(-cimag(bottom->eps_resin) / creal(bottom->eps_resin), 0.02, 1e-12, 0.0);
    assert_close(creal(bottom->warp_t),
                 creal(ww_bundle_across(bottom->eps_glass, bottom->eps_resin, bottom->cell.warp_packing)), 0.0, 0.0);
    assert_close(creal(bottom->fill_a),
                 creal(ww_bundle_along(bottom->eps_glass, bottom->eps_resin, bottom->cell.fill_packing)), 0.0, 0.0);
    ww_stack_clear(&stack);
}

static void test_glass_fraction_follows_the_areal_weight(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    struct ww_stack stack = {.layer = layer, .count = LAYERS};
    assert_int_equal(ww_stack_build(&stack, NULL, NULL), WW_OK);
    double want = ww_style_weight(&layer[3].style) / layer[3].style.glass.density / layer[3].thickness;
    assert_close(stack.ply[0].glass_fraction, want, 0.01, 0.0); /* what a cell of 96 samples may lose at crossings */
    ww_stack_clear(&stack);
}

static void test_sheet_dk_sets_the_resin(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    layer[3].sheet_dk = 3.9;
    struct ww_stack stack = {.layer = layer, .count = LAYERS};
    assert_int_equal(ww_stack_build(&stack, &coarse, NULL), WW_OK);
    assert_close(stack.ply[0].dk_bulk, 3.9, 1e-12, 0.0);
    assert_true(fabs(creal(stack.ply[0].eps_resin) - 3.2) > 0.01);
    assert_close(-cimag(stack.ply[0].eps_resin) / creal(stack.ply[0].eps_resin), 0.02, 1e-12, 0.0);
    ww_stack_clear(&stack);

    layer[3].sheet_dk = 1.05;
    assert_refused(layer, LAYERS, WW_UNPHYSICAL, 14, "no resin gives this ply a bulk Dk of 1.05");
}

static void test_ply_thinner_than_its_fabric_is_refused_with_both_numbers(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    layer[3].thickness = 51e-6;
    assert_refused(layer, LAYERS, WW_UNPHYSICAL, 14, "51 um");
    assert_refused(layer, LAYERS, WW_UNPHYSICAL, 14, "52 um");
    layer[3].thickness = 27e-6 + 25e-6; /* exactly the fabric is enough */
    assert_accepted(layer, LAYERS, 1);
}

static void test_wrong_order_is_refused(void **state)
{
    (void)state;
    struct ww_layer layer[LAYERS];
    stripline(layer);
    layer[0].kind = WW_LAYER_SOLID;
    layer[0].thickness = 1e-4;
    assert_refused(layer, LAYERS, WW_INVALID, 11, "top layer is 'solid'");

    stripline(layer);
    layer[4].kind = WW_LAYER_AIR;
    assert_refused(layer, LAYERS, WW_INVALID, 15, "bottom layer is 'air'");

    stripline(layer);
    layer[1].kind = WW_LAYER_PLANE;
    layer[1].thickness = 0.0;
    assert_refused(layer, LAYERS, WW_INVALID, 12, "'plane' lies inside");

    stripline(layer);
    layer[3].kind = WW_LAYER_AIR;
    layer[3].thickness = 0.0;
    assert_refused(layer, LAYERS, WW_INVALID, 14, "'air' lies inside");

    stripline(layer);
    layer[1].kind = WW_LAYER_TRACE;
    assert_refused(layer, LAYERS, WW_INVALID, 13, "second trace layer (the first is on line 12)");

    stripline(layer);
    layer[2].kind = WW_LAYER_RESIN;
    assert_refused(layer, LAYERS, WW_INVALID, 11, "no trace layer");

    stripline(layer);
    assert_refused(layer + 2, 3, WW_INVALID, 13, "top layer is 'trace'");
    layer[1] = layer[0];
    assert_refused(layer + 1, 4, WW_INVALID, 13, "lies on a plane");

    stripline(layer);
    layer[3] = layer[4];
    assert_refused(layer, 4, WW_INVALID, 13, "lies on a plane");
    assert_refused(layer, 2, WW_INVALID, 11, "from 3 to");
    assert_refused(NULL, 0, WW_INVALID, 0, "from 3 to");
}

static void test_absurd_sizes_are_refused(void **state)
{
    (void)state;
    static const struct {
        double thickness;
        const char *words;
    } row[] = {{0.0, "give a thickness above 0"}, {-1e-6, "give a thickness above 0"},
               {10e-3, "check the unit"},         {100.0, "check the unit"},
               {NAN, "not a finite number"},      {INFINITY, "not a finite number"}};
    struct ww_layer layer[LAYERS];
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        stripline(layer);
        layer[1].thickness = row[i].thickness;
        assert_refused(layer, LAYERS, WW_INVALID, 12, row[i].words);
        stripline(layer);
        layer[3].thickness = row[i].thickness;
        assert_refused(layer, LAYERS, WW_INVALID, 14, row[i].words);
    }
    stripline(layer);
    layer[2].thickness = -1e-6;
    assert_refused(layer, LAYERS, WW_INVALID, 13, "layer 'trace' is -1 um thick");
    stripline(layer);
    layer[0].thickness = 1e-6;
    assert_refused(layer, LAYERS, WW_INVALID, 11, "takes no thickness");
}

static void test_absurd_materials_are_refused(void **state)
{
    (void)state;
    static const double bad[] = {0.0, 0.99, -3.0, 1e6, NAN, INFINITY};
    struct ww_layer layer[LAYERS];
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        stripline(layer);
        layer[1].dk = bad[i];
        assert_refused(layer, LAYERS, WW_INVALID, 12, "dk");
        stripline(layer);
        layer[2].dk = bad[i];
        assert_refused(layer, LAYERS, WW_INVALID, 13, "dk of the fill");
        stripline(layer);
        layer[3].resin.dk = bad[i];
        assert_refused(layer, LAYERS, WW_INVALID, 14, "resin dk");
        stripline(layer);
        layer[3].style.glass.dk = bad[i];
        assert_refused(layer, LAYERS, WW_INVALID, 14, "glass dk");
    }
    static const double bad_df[] = {-0.01, 1.5, NAN, INFINITY};
    for (size_t i = 0; i < sizeof bad_df / sizeof bad_df[0]; i++) {
        stripline(layer);
        layer[1].df = bad_df[i];
        assert_refused(layer, LAYERS, WW_INVALID, 12, "df");
        stripline(layer);
        layer[3].resin.df = bad_df[i];
        assert_refused(layer, LAYERS, WW_INVALID, 14, "df");
    }
    stripline(layer);
    layer[3].sheet_dk = NAN;
    assert_refused(layer, LAYERS, WW_INVALID, 14, "sheet dk");
    stripline(layer);
    layer[3].turn = NAN;
    assert_refused(layer, LAYERS, WW_INVALID, 14, "turn, shift and height");
    stripline(layer);
    layer[3].kind = (enum ww_layer_kind)99;
    assert_refused(layer, LAYERS, WW_INVALID, 14, "99");
}

/* The fabric is 52 um thick, so that its middle lies at 26 to 74 um of a ply of 100 um. */
static void cloth_stays_in_its_ply(void **state)
{
    struct ww_layer layer[LAYERS];
    struct ww_stack stack = {.layer = layer, .count = LAYERS};
    struct ww_error error = {0};
    static const double reachable[] = {0.0, 26e-6, 40e-6, 74e-6};
    (void)state;
    for (size_t i = 0; i < sizeof reachable / sizeof *reachable; i++) {
        stripline(layer);
        layer[3].cloth_height = reachable[i];
        assert_ok(ww_stack_build(&stack, &coarse, &error), error);
        assert_close(stack.ply[0].cloth_height, reachable[i] > 0.0 ? reachable[i] : 50e-6, 1e-15, 0);
        ww_stack_clear(&stack);
    }
    stripline(layer);
    layer[3].cloth_height = 25.9e-6;
    assert_refused(layer, LAYERS, WW_UNPHYSICAL, 14, "give a height of 26 um to 74 um, or of 0.260 to 0.740");
    layer[3].cloth_height = 74.1e-6;
    assert_refused(layer, LAYERS, WW_UNPHYSICAL, 14, "with its middle at a height of 74.1 um");
    layer[3].cloth_height = NAN;
    assert_refused(layer, LAYERS, WW_INVALID, 14, "height must be finite");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cloth_stays_in_its_ply),
        cmocka_unit_test(test_stripline_and_microstrips_are_accepted),
        cmocka_unit_test(test_ply_carries_its_own_figures),
        cmocka_unit_test(test_glass_fraction_follows_the_areal_weight),
        cmocka_unit_test(test_sheet_dk_sets_the_resin),
        cmocka_unit_test(test_ply_thinner_than_its_fabric_is_refused_with_both_numbers),
        cmocka_unit_test(test_wrong_order_is_refused),
        cmocka_unit_test(test_absurd_sizes_are_refused),
        cmocka_unit_test(test_absurd_materials_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
