/* cloth_dump.c - a pair over one ply of real cloth, for tests/outside/cloth.py.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     outside-cloth-dump
 *
 * JSON to the standard output: the skew's harmonics over perfect cloth; paths of two warp yarns of drawn patches; walks over patches
 * whose yarns wander together, with the yarn's path at fine steps; what ww_real_solve makes of such cloth.
 */
#include "../line/board.h"
#include "scan/slowness.h"
#include "weftwise/patch.h"

#include <stdio.h>

enum { DRAWS = 400, WALKS = 6, STEPS = 150, FINE = 6000 };
static const double step = 0.2e-3, wander = 120e-6, wander_length = 6e-3;

static void print_harmonics(const struct ww_scan *scan)
{
    const struct ww_ply_scan *ply = &scan->ply[0];
    printf("\"lx\": %.17g, \"ly\": %.17g, \"harmonics\": [", ply->lx, ply->ly);
    for (size_t w = 1; w < ply->harmonics; w++) {
        double _Complex c = ply->coefficient[0][WW_MEAN][w] - ply->coefficient[1][WW_MEAN][w];
        printf("%s[%d, %d, %.17g, %.17g]", w > 1 ? ", " : "", ply->order[w].m, ply->order[w].l, creal(c), cimag(c));
    }
    printf("],\n");
}

static struct ww_patch *drawn(const struct ww_style *style, const struct ww_scatter *scatter, double width,
                              double length, uint64_t draw)
{
    struct ww_patch *patch;
    struct ww_error error = {0};
    assert_ok(ww_patch_create(&patch, style, scatter, width, length, draw, &error), error);
    return patch;
}

/* Of yarns 2 and 4, off their perfect axes, at 0, 2, 4, .. 10 mm; wander_length 6 mm, 0.8 together. */
static void print_paths(const struct ww_style *style)
{
    const struct ww_scatter scatter = {.yarn = {{30e-6, wander_length, 0.8, 0}, {0}}, .seed = 21};
    double pitch = 1 / style->warp_count.value;
    printf("\"paths\": [");
    for (uint64_t draw = 0; draw < DRAWS; draw++) {
        struct ww_patch *patch = drawn(style, &scatter, 20e-3, 60e-3, draw);
        printf("%s[", draw ? ",\n" : "");
        for (long i = 0; i < 12; i++) {
            long yarn = i < 6 ? 2 : 4;
            printf("%s%.9g", i ? ", " : "",
                   ww_patch_axis(patch, WW_WARP, yarn, 2e-3 * (double)(i % 6)) - ((double)yarn + 0.5) * pitch);
        }
        printf("]");
        ww_patch_destroy(patch);
    }
    printf("],\n");
}

static void print_walks(const struct ww_walk *walk, const struct ww_style *style)
{
    const struct ww_scatter scatter = {.yarn = {{wander, wander_length, 1, 0}, {0}}, .seed = 22};
    double pitch = 1 / style->warp_count.value, running[STEPS];
    printf("\"step\": %.17g, \"steps\": %d, \"walks\": [", step, STEPS);
    for (int n = 0; n < WALKS; n++) {
        struct ww_patch *patch = drawn(style, &scatter, 5e-3, 50e-3, (uint64_t)n);
        double start[1][2] = {{0.11e-3 * n, 1.7e-3 * n}};
        ww_walk_along(walk, (const struct ww_patch *const *)&patch, (const double(*)[2])start, 0, NULL, STEPS,
                      running);
        printf("%s{\"start\": [%.17g, %.17g], \"running\": [", n ? ",\n" : "", start[0][0], start[0][1]);
        for (int i = 0; i < STEPS; i++)
            printf("%s%.12g", i ? ", " : "", running[i]);
        printf("], \"path\": [");
        for (int i = 0; i < FINE; i++)
            printf("%s%.12g", i ? ", " : "",
                   ww_patch_axis(patch, WW_WARP, 3, start[0][1] + (i + 0.5) * step * STEPS / FINE) - 3.5 * pitch);
        printf("]}");
        ww_patch_destroy(patch);
    }
    printf("],\n");
}

static void print_answer(const struct ww_line *line)
{
    const struct ww_scatter scatter = {.yarn = {{wander, wander_length, 1, 0}, {0}}, .seed = 23};
    const struct ww_real_request request = {
        .scatter = &scatter, .length = 30e-3, .longest = 30e-3, .boards = 100, .traces = 8};
    struct ww_real real;
    struct ww_error error = {0};
    assert_ok(ww_real_solve(&real, line, &request, &error), error);
    printf("\"wander\": %.17g, \"wander_length\": %.17g, \"lengths\": [", wander, wander_length);
    for (size_t i = 0; i < real.count; i++) {
        const struct ww_real_spread *s = &real.at[i].square;
        printf("%s[%.9g, %.9g, %.9g, %.9g, %.9g, %.9g, %.9g]", i ? ", " : "", real.at[i].length, s->median.value,
               s->median.low, s->median.high, s->p99.value, s->p99.low, s->p99.high);
    }
    printf("]}\n");
    ww_real_clear(&real);
}

int main(void)
{
    struct board_options options = board_pair();
    struct board board;
    struct ww_scan *scan;
    struct ww_walk *walk;
    struct ww_error error = {0};
    options.cell = (struct ww_cell_options){.nx = 48, .ny = 48, .nz = 8};
    options.fineness = 0.5;
    board_open(&board, &options);
    const struct ww_style *style = ww_stack_cloth(&board.stack, 0).style;
    assert_ok(ww_scan_create(&scan, board.line, 0, NULL, &error), error);
    assert_ok(ww_walk_create(&walk, board.line, NULL, 0, step, NULL, &error), error);
    printf("{");
    print_harmonics(scan);
    print_paths(style);
    print_walks(walk, style);
    print_answer(board.line);
    ww_walk_destroy(walk);
    ww_scan_destroy(scan);
    board_close(&board);
    return 0;
}
