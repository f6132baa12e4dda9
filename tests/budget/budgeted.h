/* budgeted.h - a study from its text to its budget, and the boards of these tests.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_TESTS_BUDGET_BUDGETED_H
#define WW_TESTS_BUDGET_BUDGETED_H

#include "check.h"
#include "weftwise/budget.h"

#include <stdlib.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static inline void read_study(struct ww_study *study, const char *text)
{
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    assert_non_null(stream);
    fputs(text, stream);
    rewind(stream);
    assert_ok(ww_study_read(study, stream, "test.ini", WEAVES, NULL, 0, &error), error);
    fclose(stream);
    assert_ok(ww_study_build(study, &error), error);
}

struct budgeted {
    struct ww_study study;
    struct ww_solution solution;
    struct ww_budget budget;
};

static inline enum ww_status try_budget(struct budgeted *b, const char *text, size_t corners, struct ww_error *error)
{
    memset(b, 0, sizeof *b);
    read_study(&b->study, text);
    assert_ok(ww_study_solve(&b->solution, &b->study, error), *error);
    struct ww_budget_request request = {.study = &b->study, .solution = &b->solution, .corners = corners};
    return ww_budget_solve(&b->budget, &request, error);
}

static inline void open_budget(struct budgeted *b, const char *text, size_t corners)
{
    struct ww_error error = {0};
    assert_ok(try_budget(b, text, corners, &error), error);
}

static inline void close_budget(struct budgeted *b)
{
    ww_budget_clear(&b->budget);
    ww_solution_clear(&b->solution);
    ww_study_clear(&b->study);
}

/* Two plies, a single trace or a pair, and ten causes; a grid that is half as fine as by default. */
#define CLOTH "[study]\npositions = 32\nfineness = 0.5\nsections = 0\n" STACK
#define FINE "[study]\npositions = 32\nsections = 0\n" STACK
#define STACK                                                                                                        \
    "[stackup]\nresin = low\ncopper = hvlp\nlayer = plane\nlayer = ply 2116 110 um\nlayer = trace\nlayer = ply "     \
    "1080 90 um\nlayer "                                                                                             \
    "= plane\n[fabric]\nturn = 1 deg\ncount_tolerance = 1 %\n[resin low]\ndk = 3.1\ndf = 0.003\ndensity = 1.4 "      \
    "g/cm3\n"
#define SINGLE                                                                                                       \
    "[trace]\nwidth = 100 um\nthickness = 15 um\nlength = 20 mm\n[signal]\nfrequency = 28 GHz\nbudget = 1 ps\n"
#define PAIR                                                                                                         \
    "[trace]\nwidth = 100 um\nthickness = 15 um\npitch = 250 um\nlength = 20 mm\n[signal]\nfrequency = 28 "          \
    "GHz\nbudget = 1 ps\n"
#define TEN                                                                                                          \
    "[tolerance]\nresin.dk = 0.05 normal boards\nglass.dk = 0.1 uniform boards\nthickness = 8 % uniform "            \
    "boards\ntrace.width = 10 um uniform board\ntrace.thickness = 3 um normal boards\ntemperature = -40 degC to "    \
    "125 degC\nresin.tcdk = 120 ppm/degC\nexpansion = 16 ppm/degC\nmoisture = 0.1 %\n"

#endif
