/* Delay against a full cross-section solved at every point along the trace by an independent program
 * (tests/scan/reference/README).
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "weftwise/chance.h"
#include "scan/path.h"

#include <stdio.h>
#include <stdlib.h>

#define PERIOD (2 * 25.4e-3 / 47)
#define ROWS 64

struct row {
    double x, delay[2]; /* [m], [s/m] */
};

static size_t read_case(const char *name, struct row *row)
{
    char path[512], line[256];
    snprintf(path, sizeof path, "%s/tests/scan/reference/%s.csv", WW_SOURCE_ROOT, name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    size_t count = 0;
    while (fgets(line, sizeof line, file)) {
        if (line[0] == '#')
            continue;
        assert_true(count < ROWS);
        char *next = line;
        double value[5] = {0};
        for (size_t i = 0; i < 5; i++) {
            value[i] = strtod(next, &next);
            next += *next == ',';
        }
        row[count++] = (struct row){value[0] * UM, {value[3] * 1e-9, value[4] * 1e-9}};
    }
    fclose(file);
    assert_true(count > 10);
    return count;
}

/* Mean slowness of a leg over one period along the warp. */
static double slowness(const struct ww_scan *scan, enum ww_signal leg, double x)
{
    return ww_scan_average_at(scan, 0, leg, WW_MEAN, PERIOD, x, 0);
}

static void single_trace_agrees(void **state)
{
    (void)state;
    struct row row[ROWS];
    size_t count = read_case("straight_single", row);
    struct board_options options = board_plain();
    struct board board;
    struct ww_scan *scan;
    struct ww_error error = {0};
    board_open(&board, &options);
    assert_ok(ww_scan_create(&scan, board.line, 0, NULL, &error), error);
    for (size_t i = 0; i < count; i++)
        assert_close(slowness(scan, WW_LEG1, row[i].x), row[i].delay[0], 1.5e-3, 0);
    ww_scan_destroy(scan);
    board_close(&board);
}

static void pair_agrees_leg_by_leg_and_in_skew(void **state)
{
    (void)state;
    struct row row[ROWS];
    size_t count = read_case("straight_pair", row);
    struct board_options options = board_pair();
    struct board board;
    struct ww_scan *scan;
    struct ww_error error = {0};
    board_open(&board, &options);
    assert_ok(ww_scan_create(&scan, board.line, 0, NULL, &error), error);
    double worst = 0, wanted = 0;
    for (size_t i = 0; i < count; i++) {
        double leg1 = slowness(scan, WW_LEG1, row[i].x), leg2 = slowness(scan, WW_LEG2, row[i].x);
        assert_close(leg1, row[i].delay[0], 1.5e-3, 0);
        assert_close(leg2, row[i].delay[1], 1.5e-3, 0);
        /* leg by leg the sign is right too: the skew stands where it should, to 3 % of the worst */
        assert_close(leg1 - leg2, row[i].delay[0] - row[i].delay[1], 0, 0.03 * 0.0914e-9);
        worst = fmax(worst, fabs(leg1 - leg2));
        wanted = fmax(wanted, fabs(row[i].delay[0] - row[i].delay[1]));
    }
    assert_close(worst, wanted, 0.015, 0);

    /* and what ww_skew_solve reports is that worst, times the length */
    struct ww_skew_request request = {.length = 40 * PERIOD};
    struct ww_skew skew;
    assert_ok(ww_skew_solve(&skew, board.line, &request, &error), error);
    assert_close(skew.worst / request.length, wanted, 0.015, 0);
    ww_skew_clear(&skew);
    ww_scan_destroy(scan);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(single_trace_agrees),
        cmocka_unit_test(pair_agrees_leg_by_leg_and_in_skew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
