/* Twice the resolution, of the cell in every direction and of the cross-section, moves no skew of any shipped style by
 * more than 0.5 %: worst, median, 95th percentile, spread, of one stripline pair along warp and fill.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/chance.h"
#include "scan/path.h"

#define MOST_MOVE 5e-3
#define AT_A_NULL                                                                                                    \
    2e-4 /* at 10 deg what is left may be next to nothing, and is held against the skew along the warp */

static const double angles[] = {0, 90, 10}; /* the first is along the warp */
#define ANGLES (sizeof angles / sizeof *angles)
enum { WORST, MEDIAN, P95, SPREAD, FIGURES };

/* A pair 100 um over cloth that is pressed to 30 um more than its own thickness. */
static void solve(const struct ww_style *style, double fineness, double figure[ANGLES][FIGURES])
{
    struct ww_layer layer[5] = {{.kind = WW_LAYER_PLANE},
                                {.kind = WW_LAYER_SOLID, .thickness = 100 * UM, .dk = 3.2},
                                {.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2},
                                {.kind = WW_LAYER_PLY, .style = *style, .dk = 3.2},
                                {.kind = WW_LAYER_PLANE}};
    layer[3].thickness = style->thickness.value + 30 * UM;
    layer[3].resin = (struct ww_resin){.name = "resin", .dk = 3.2};
    struct ww_stack stack = {.layer = layer, .count = 5};
    struct ww_cell_options cell = {.fineness = fineness, .supersample = fineness > 1 ? 8 : 4};
    struct ww_trace trace = {100 * UM, 15 * UM, 220 * UM};
    struct ww_line_options options = {.fineness = fineness};
    struct ww_line *line;
    struct ww_error error = {0};
    assert_ok(ww_stack_build(&stack, &cell, &error), error);
    assert_ok(ww_line_create(&line, &stack, &trace, &options, &error), error);
    for (size_t i = 0; i < ANGLES; i++) {
        struct ww_skew_request request = {.length = 50e-3, .angle = angles[i] * DEGREES};
        struct ww_skew skew;
        assert_ok(ww_skew_solve(&skew, line, &request, &error), error);
        figure[i][WORST] = skew.worst;
        figure[i][MEDIAN] = skew.median;
        figure[i][P95] = skew.p95;
        figure[i][SPREAD] = skew.spread;
        ww_skew_clear(&skew);
    }
    ww_line_destroy(line);
    ww_stack_clear(&stack);
}

static void doubling_moves_no_skew(void **state)
{
    (void)state;
    struct ww_weaves weaves;
    struct ww_names names;
    struct ww_error error = {0};
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count >= 30);
    for (size_t n = 0; n < names.count; n++) {
        struct ww_style style;
        double coarse[ANGLES][FIGURES], fine[ANGLES][FIGURES];
        assert_ok(ww_weaves_style(&weaves, names.name[n], &style, &error), error);
        solve(&style, 1, coarse);
        solve(&style, 2, fine);
        for (size_t i = 0; i < ANGLES; i++)
            for (int f = 0; f < FIGURES; f++) {
                double floor_of = angles[i] > 0 && angles[i] < 90 ? AT_A_NULL * fine[0][f] : 0;
                if (!check_is_close(coarse[i][f], fine[i][f], MOST_MOVE, floor_of))
                    print_error("style %s, %g deg, figure %d: ", style.name, angles[i], f);
                assert_close(coarse[i][f], fine[i][f], MOST_MOVE, floor_of);
            }
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(doubling_moves_no_skew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
