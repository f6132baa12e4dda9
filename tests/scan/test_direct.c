/* The scan against the slow way: sums over the cross-section at points along the trace, and quadrature.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "direct.h"

#include "scan/path.h"

/* A coarse cell keeps the slow way bearable. The scan combines capacitances on a grid that holds products of two harmonics;
 * what it cannot hold of higher ones is the difference seen here, 5e-8 at most. On the cell's own grid it would be 1.2e-6. */
static struct board_options coarse(double pitch)
{
    struct board_options options = board_plain();
    options.pitch = pitch;
    options.cell = (struct ww_cell_options){.nx = 36, .ny = 36, .nz = 3};
    options.fineness = 0.5;
    options.shift_x = 31 * UM;
    options.shift_y = -77 * UM;
    options.turn = 3 * DEGREES;
    return options;
}

static void agree(double pitch)
{
    static const struct {
        double degrees, length, x, y;
    } table[] = {
        {0, 1234 * UM, 100 * UM, 50 * UM}, {90, 777 * UM, 10 * UM, 250 * UM},    {10, 1900 * UM, 0, 0},
        {45, 911 * UM, 300 * UM, 0},       {-33, 1111 * UM, 700 * UM, -90 * UM}, {3, 30 * UM, 400 * UM, 0},
    };
    struct board_options options = coarse(pitch);
    struct board board;
    board_open(&board, &options);
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        double angle = table[i].degrees * DEGREES, length = table[i].length, want[2];
        struct direct *direct = direct_open(&board, angle);
        struct ww_scan *scan;
        struct ww_error error = {0};
        direct_delay(direct, table[i].x, table[i].y, length, want);
        assert_ok(ww_scan_create(&scan, board.line, angle, NULL, &error), error);
        for (int leg = 0; leg < (pitch > 0 ? 2 : 1); leg++)
            assert_close(length * ww_scan_average_at(scan, 0, leg ? WW_LEG2 : WW_LEG1, WW_MEAN, length, table[i].x,
                                                     table[i].y),
                         want[leg], 2e-7, 0);
        ww_scan_destroy(scan);
        direct_close(direct);
    }
    board_close(&board);
}

static void single_trace(void **state)
{
    (void)state;
    agree(0);
}

static void pair(void **state)
{
    (void)state;
    agree(220 * UM);
}

/* C+ less C- is positive semidefinite wherever the pair lies: both diagonal terms and the determinant. */
static void bounds_are_in_order_everywhere(void **state)
{
    (void)state;
    struct board_options options = coarse(220 * UM);
    struct board board;
    board_open(&board, &options);
    for (int turn = 0; turn < 4; turn++) {
        struct direct *direct = direct_open(&board, 17 * turn * DEGREES);
        for (int i = 0; i < 64; i++) {
            double c[2][3], x = 846 * UM * (i % 8) / 8.0, y = 1080 * UM * (i / 8) / 8.0;
            direct_matrices(direct, x, y, c);
            double d11 = c[0][0] - c[1][0], d12 = c[0][1] - c[1][1], d22 = c[0][2] - c[1][2];
            assert_true(d11 > 0 && d22 > 0);
            assert_true(d11 * d22 >= d12 * d12);
        }
        direct_close(direct);
    }
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(single_trace),
        cmocka_unit_test(pair),
        cmocka_unit_test(bounds_are_in_order_everywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
