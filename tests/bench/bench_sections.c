/* bench_sections.c - time of one cross-section of the residual correction, by style and kind of line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * One grid at fineness 1 in the narrow window, odd drive, residual 1e-2, at 30 deg, one thread: the board of kernel_errors.c.
 * Told apart: the line, what the sections at one angle share, laying the cloth on the grid, the whole section.
 *
 *   bench_sections WEAVES [STYLE...]
 */
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "line/full.h"
#include "line/sections.h"

#define UM 1e-6
#define DEGREES (WW_PI / 180)
#define FINENESS 1
#define RESIDUAL 1e-2
#define SECTIONS 40

struct board {
    struct ww_layer layer[5];
    struct ww_stack stack;
    struct ww_line *line;
};

static double seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static enum ww_status board_open(struct board *board, const struct ww_style *style, bool microstrip, double *create,
                                 struct ww_error *error)
{
    memset(board, 0, sizeof *board);
    struct ww_resin resin = {.name = "resin", .dk = 3.2};
    double fabric = style->warp.height.value + style->fill.height.value;
    double ply = fmax(1.25 * fabric, fabric + 10 * UM);
    struct ww_layer cloth = {.kind = WW_LAYER_PLY, .thickness = ply, .dk = 3.2, .style = *style, .resin = resin};
    size_t n = 0;
    board->layer[n++].kind = microstrip ? WW_LAYER_AIR : WW_LAYER_PLANE;
    if (!microstrip)
        board->layer[n++] = cloth;
    board->layer[n++] = (struct ww_layer){.kind = WW_LAYER_TRACE, .thickness = 15 * UM, .dk = 3.2, .resin = resin};
    board->layer[n++] = cloth;
    board->layer[n++].kind = WW_LAYER_PLANE;
    board->stack.layer = board->layer;
    board->stack.count = n;
    enum ww_status status = ww_stack_build(&board->stack, NULL, error);
    double width = round((microstrip ? 1.8 : 0.9) * ply / UM) * UM, start = seconds();
    struct ww_trace trace = {width, 15 * UM, 2.2 * width};
    if (!status)
        status = ww_line_create_single(&board->line, &board->stack, &trace,
                                       &(struct ww_line_options){.fineness = FINENESS}, error);
    *create = seconds() - start;
    return status;
}

static void board_close(struct board *board)
{
    ww_line_destroy(board->line);
    ww_stack_clear(&board->stack);
}

struct times {
    double create, cloth, whole; /* of the sections' shared part; of one section laying the cloth, and in all [s] */
    int iterations;
};

static enum ww_status measure(const struct board *board, struct times *times, struct ww_error *error)
{
    double place[2][2] = {{0}}, delay[2], start = seconds();
    const struct ww_cell *cell = &board->stack.ply[0].cell;
    struct ww_sections sections;
    enum ww_status status = ww_sections_create(&sections, board->line, 30 * DEGREES, 1, error);
    *times = (struct times){.create = seconds() - start};
    for (int i = 0; i < SECTIONS && !status; i++) {
        struct ww_difference difference;
        struct ww_conjugate_report report = {0};
        double charge[2];
        place[0][0] = cell->lx * fmod(0.37 * i, 1);
        place[0][1] = cell->ly * fmod(0.71 * i, 1);
        start = seconds();
        status = ww_difference_build(&difference, board->line, &sections.mesh, &sections.inverse.layered,
                                     30 * DEGREES, (const double(*)[2])place, 1, sections.laid, error);
        times->cloth += (seconds() - start) / SECTIONS;
        if (!status)
            status = ww_conjugate_difference(&sections.mesh, &sections.inverse, &difference, false, RESIDUAL,
                                             WW_FULL_ITERATIONS, charge, &report, error);
        times->iterations += report.iterations;
        ww_difference_clear(&difference);
        start = seconds();
        if (!status)
            status = ww_sections_legs(&sections, (const double(*)[2])place, RESIDUAL, delay, error);
        times->whole += (seconds() - start) / SECTIONS;
    }
    ww_sections_destroy(&sections);
    return status;
}

int main(int argc, char **argv)
{
    static const char *const usual[] = {"1080", "2116", "7628", "1017", "2113"};
    struct ww_error error = {0};
    struct ww_weaves weaves = {0};
    ww_threads_set(1);
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (argc < 2 || ww_weaves_open(&weaves, argv[1], NULL, &error)) {
        fprintf(stderr, "bench_sections: %s\n", argc < 2 ? "give the weaves folder" : error.text);
        return 2;
    }
    int count = argc > 2 ? argc - 2 : (int)(sizeof usual / sizeof *usual), failed = 0;
    for (int i = 0; i < 2 * count; i++) {
        const char *name = argc > 2 ? argv[2 + i / 2] : usual[i / 2];
        bool microstrip = i % 2;
        struct ww_style style;
        struct board board = {0};
        struct times times = {0};
        double create = 0;
        enum ww_status status = ww_weaves_style(&weaves, name, &style, &error);
        if (!status)
            status = board_open(&board, &style, microstrip, &create, &error);
        if (!status)
            status = measure(&board, &times, &error);
        if (status) {
            printf("%-8s %s\n", name, error.text);
            failed = 1;
        } else {
            const struct ww_line_summary *s = ww_line_summary(board.line);
            printf("%-8s %-10s grid %4zu x %3zu  line %5.1f ms  shared %5.1f ms  section %5.2f ms, of it cloth %5.2f "
                   "ms, "
                   "%.1f iterations\n",
                   name, microstrip ? "microstrip" : "stripline", s->columns, s->rows, 1e3 * create,
                   1e3 * times.create, 1e3 * times.whole, 1e3 * times.cloth, (double)times.iterations / SECTIONS);
        }
        board_close(&board);
    }
    ww_weaves_close(&weaves);
    return failed;
}
