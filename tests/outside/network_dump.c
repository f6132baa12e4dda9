/* A line over frequency as network.py wants it: constants and S-parameters of a uniform trace, and of one over cloth the
 * capacitance along its path, as JSON.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "frequency/wideband.h"

#include <stdio.h>
#include <stdlib.h>

#define LENGTH 20e-3
enum { POINTS = 40, SECTIONS = 4000 };

static void numbers(const char *name, const double *value, size_t count, bool last)
{
    printf("\"%s\": [", name);
    for (size_t i = 0; i < count; i++)
        printf("%s%.17g", i ? ", " : "", value[i]);
    printf("]%s", last ? "" : ", ");
}

static void scattering(const struct ww_network *network)
{
    double re[4 * POINTS], im[4 * POINTS];
    for (size_t i = 0; i < 4 * POINTS; i++) {
        re[i] = creal(network->s[i]);
        im[i] = cimag(network->s[i]);
    }
    numbers("re", re, 4 * POINTS, false);
    numbers("im", im, 4 * POINTS, false);
}

static void dump(bool cloth, const double *f)
{
    static const double start[1][2] = {{110 * UM, 70 * UM}};
    static double dk[SECTIONS], c[SECTIONS], running[SECTIONS];
    struct board board;
    struct board_options plain = board_plain();
    struct ww_error error = {0};
    struct ww_wideband *w = NULL;
    struct ww_network network;
    plain.below = cloth;
    board_open(&board, &plain);
    for (size_t i = 0; i < board.stack.count; i++) {
        board.stack.layer[i].df = 0.01;
        board.stack.layer[i].frequency = 10e9;
    }
    struct ww_wideband_request request = {.line = board.line,
                                          .skew = {.length = LENGTH, .angle = 10 * DEGREES},
                                          .copper = {.model = WW_FOIL_HURAY, .rz = 2 * UM, .conductivity = 5.8e7},
                                          .lossless = cloth};
    assert_ok(ww_wideband_create(&w, &request, &error), error);
    assert_ok(ww_wideband_solve(w, start, f, POINTS, &network, &error), error);
    double constants[4][POINTS];
    for (size_t i = 0; i < POINTS; i++) {
        struct ww_constants k;
        ww_wideband_constants(w, f[i], &k);
        constants[0][i] = k.r[0][0];
        constants[1][i] = k.l[0][0];
        constants[2][i] = k.g[0][0];
        constants[3][i] = k.c[0][0];
    }
    double half = 0.5 * LENGTH / SECTIONS;
    if (cloth)
        assert_ok(ww_scan_profile(w->odd, start, LENGTH, half, LENGTH - half, SECTIONS, dk, NULL, running, &error),
                  error);
    for (size_t i = 0; i < SECTIONS && cloth; i++)
        c[i] = dk[i] * w->air[0];
    printf("\"%s\": {\"length\": %.17g, ", cloth ? "cloth" : "uniform", LENGTH);
    scattering(&network);
    numbers("r", constants[0], POINTS, false);
    numbers("l", constants[1], POINTS, false);
    numbers("g", constants[2], POINTS, false);
    numbers("along", c, cloth ? SECTIONS : 0, false);
    numbers("c", constants[3], POINTS, true);
    printf("}");
    ww_network_clear(&network);
    ww_wideband_destroy(w);
    board_close(&board);
}

int main(void)
{
    double f[POINTS];
    for (size_t i = 0; i < POINTS; i++)
        f[i] = 1e9 * (double)(i + 1);
    printf("{");
    numbers("frequency", f, POINTS, false);
    dump(false, f);
    printf(", ");
    dump(true, f);
    printf("}\n");
    return 0;
}
