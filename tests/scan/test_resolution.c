/* Twice the resolution, of the cell in every direction, of the cross-section and of the correction, moves no skew of any shipped
 * style by more than 0.5 %: a stripline pair, a microstrip pair, and a wide single microstrip over cloth that is pressed until it
 * nearly touches the copper. Along the warp and the fill the whole answer, at 10 deg the kernel alone.
 *
 *   resolution             every style on every board
 *   resolution sample=N    N seeded cases, along the warp
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "random.h"
#include "weftwise/chance.h"

#include <stdio.h>
#include <stdlib.h>

#define MOST_MOVE 5e-3
#define SMALL 0.1        /* of the skew along the warp: what is less is held against that, */
#define OF_THE_WARP 2e-3 /* within this of it */
#define SIDE 16          /* of the correction's lattice, as a study has it */

static const double angles[] = {0, 90, 10}; /* along the warp, the fill */
#define ANGLES (sizeof angles / sizeof *angles)
enum { WORST, MEDIAN, P95, SPREAD, FIGURES };
enum kind { STRIPLINE_PAIR, MICROSTRIP_PAIR, MICROSTRIP_SINGLE, KINDS };
static const char *const kinds[KINDS] = {"stripline pair", "microstrip pair", "wide microstrip"};

/* The margin of the ply over its cloth, and the trace's width over the ply's thickness; 0: 100 um. */
static const struct {
    bool open;
    double margin, width, pitch; /* pitch in widths */
} shape[KINDS] = {{false, 30 * UM, 0, 2.2}, {true, 30 * UM, 0.9, 1.5}, {true, 7 * UM, 1.9, 0}};

static size_t sample; /* cases; 0: all */
static size_t failures;

static void solve(const struct ww_style *style, enum kind kind, double fineness, double figure[ANGLES][FIGURES])
{
    struct ww_layer layer[5] = {{.kind = WW_LAYER_PLANE},
                                {.kind = WW_LAYER_SOLID, .thickness = 100 * UM, .dk = 3.2},
                                {.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2},
                                {.kind = WW_LAYER_PLY, .style = *style, .dk = 3.2},
                                {.kind = WW_LAYER_PLANE}};
    double ply = style->warp.height.value + style->fill.height.value + shape[kind].margin;
    double width = shape[kind].width > 0 ? round(shape[kind].width * ply / UM) * UM : 100 * UM;
    layer[3].thickness = ply;
    layer[3].resin = (struct ww_resin){.name = "resin", .dk = 3.2};
    if (shape[kind].open)
        layer[1] = (struct ww_layer){.kind = WW_LAYER_AIR};
    struct ww_stack stack = {.layer = layer + shape[kind].open, .count = 5 - shape[kind].open};
    struct ww_cell_options cell = {.fineness = fineness, .supersample = fineness > 1 ? 8 : 0};
    struct ww_trace trace = {width, 15 * UM, shape[kind].pitch * width};
    struct ww_line_options options = {.fineness = fineness};
    struct ww_line *line;
    struct ww_error error = {0};
    assert_ok(ww_stack_build(&stack, &cell, &error), error);
    assert_ok(ww_line_create(&line, &stack, &trace, &options, &error), error);
    for (size_t i = 0; i < (sample ? 1 : ANGLES); i++) {
        struct ww_skew_request request = {
            .length = 50e-3, .angle = angles[i] * DEGREES, .sections = i < 2 ? SIDE : 0};
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

/* Prints the largest move along the warp. */
static void check_case(const struct ww_style *style, enum kind kind)
{
    double coarse[ANGLES][FIGURES], fine[ANGLES][FIGURES], most = 0;
    solve(style, kind, 1, coarse);
    solve(style, kind, 2, fine);
    for (size_t i = 0; i < (sample ? 1 : ANGLES); i++)
        for (int f = 0; f < FIGURES; f++) {
            double floor_of = fine[i][WORST] < SMALL * fine[0][WORST] ? OF_THE_WARP * fine[0][f] : 0;
            if (!check_is_close(coarse[i][f], fine[i][f], MOST_MOVE, floor_of)) {
                print_error("style %s, %s, %g deg, figure %d: %g ps, doubled %g ps, worst along the warp %g ps\n",
                            style->name, kinds[kind], angles[i], f, 1e12 * coarse[i][f], 1e12 * fine[i][f],
                            1e12 * fine[0][WORST]);
                failures++;
            }
            most = i == 0 ? fmax(most, fabs(coarse[i][f] / fine[i][f] - 1)) : most;
        }
    print_message("%-12s %-16s %.2f %%\n", style->name, kinds[kind], 100 * most);
}

static void doubling_moves_no_skew(void **state)
{
    (void)state;
    struct ww_weaves weaves;
    struct ww_names names;
    struct ww_error error = {0};
    struct random random = random_of(20261127);
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count >= 30);
    for (size_t n = 0; n < (sample ? sample : names.count * KINDS); n++) {
        struct ww_style style;
        size_t place = sample ? random_below(&random, (unsigned)names.count) : n / KINDS;
        assert_ok(ww_weaves_style(&weaves, names.name[place], &style, &error), error);
        check_case(&style, (enum kind)(n % KINDS));
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
    assert_int_equal(failures, 0);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(doubling_moves_no_skew),
    };
    if (argc > 1)
        sscanf(argv[1], "sample=%zu", &sample);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
