/* test_together.c - the worst of several plies with what they do to each other.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <complex.h>
#include <math.h>

#include "scan/together.h"

enum { SIDE = WW_TOGETHER_SIDE };

/* Two plies of one square cloth along its diagonal; what a ply has alone is far from flat, so that the two climbs differ. */
static void set_out(struct ww_yarns yarns[2], double side)
{
    for (int p = 0; p < 2; p++) {
        yarns[p] = (struct ww_yarns){.lx = side, .ly = side, .ux = sqrt(0.5), .uy = sqrt(0.5), .mean = {6e-9, 6e-9}};
        yarns[p].warp[0][2] = 2e-10 + p * 3e-11 * I;
        yarns[p].fill[0][2] = 1.5e-10 - 2e-11 * I;
        yarns[p].warp[0][4] = 2e-11;
        yarns[p].warp[1][2] = conj(yarns[p].warp[0][2]) * 0.7;
        yarns[p].fill[1][2] = conj(yarns[p].fill[0][2]) * 0.6;
    }
}

/* The own map of a ply, some waves along the diagonal and one that is not. */
static void fill_own(double *own, int p)
{
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            double a = 2 * WW_PI * (x + 0.5) / SIDE, b = 2 * WW_PI * (y + 0.5) / SIDE;
            own[y * SIDE + x] = 8e-14 * sin(2 * (a - b) + 0.3 * p) + 4e-14 * cos(a - b) + 2e-14 * cos(2 * a + b);
        }
}

/* The product of p's warp and q's fill at sample (x, y) of a map: its part of what ww_together_at adds up. */
static double product(const struct ww_meeting *meeting, int p, int x, int y)
{
    struct ww_yarns yarns[2] = {meeting->yarns[0], meeting->yarns[1]};
    struct ww_meeting half = *meeting;
    half.yarns = yarns;
    for (int leg = 0; leg < 2; leg++)
        for (int n = 0; n <= WW_TOGETHER_ORDER; n++)
            yarns[1 - p].warp[leg][n] = 0;
    double step = yarns[0].lx / SIDE, place[2][2];
    place[p][0] = (x + 0.5) * step;
    place[p][1] = 0;
    place[1 - p][0] = 0;
    place[1 - p][1] = (y + 0.5) * step;
    return ww_together_at(&half, (const double(*)[2])place);
}

static void climbs_as_high_as_there_is(void **state)
{
    (void)state;
    struct ww_yarns yarns[2];
    set_out(yarns, 800e-6);
    static double by_warp[2][SIDE][SIDE];
    struct ww_meeting meeting = {2, yarns, true, -1.5, 3e-3};
    struct ww_together *together = NULL;
    struct ww_error error = {0};
    assert_true(ww_together_matters(&meeting));
    assert_int_equal(ww_together_create(&together, 2, &error), WW_OK);
    for (int p = 0; p < 2; p++) {
        fill_own(ww_together_own(together, (size_t)p), p);
        for (int y = 0; y < SIDE; y++)
            for (int x = 0; x < SIDE; x++)
                by_warp[p][y][x] = product(&meeting, p, x, y);
    }
    double more[2], alone[2][2] = {{-INFINITY, -INFINITY}, {-INFINITY, -INFINITY}}, most[2] = {-INFINITY, -INFINITY};
    ww_together_climb(together, &meeting, more);
    const double *one = ww_together_own(together, 0), *two = ww_together_own(together, 1);
    for (int i = 0; i < SIDE * SIDE; i++)
        for (int low = 0; low < 2; low++) {
            alone[0][low] = fmax(alone[0][low], low ? -one[i] : one[i]);
            alone[1][low] = fmax(alone[1][low], low ? -two[i] : two[i]);
        }
    for (int i = 0; i < SIDE * SIDE; i++)
        for (int j = 0; j < SIDE * SIDE; j++) {
            double value = one[i] + two[j] + by_warp[0][j / SIDE][i % SIDE] + by_warp[1][i / SIDE][j % SIDE];
            most[0] = fmax(most[0], value);
            most[1] = fmax(most[1], -value);
        }
    assert_close(alone[0][0] + alone[1][0] + more[0], most[0], 0.01, 0);
    assert_close(alone[0][1] + alone[1][1] - more[1], most[1], 0.01, 0);
    assert_true(more[0] > 0.05 * most[0]); /* it matters here */
    ww_together_destroy(together);
}

/* Away from the diagonal nothing keeps step over a long way; one ply, or plies turned against each other, have no part. */
static void leaves_alone_what_does_not_meet(void **state)
{
    (void)state;
    struct ww_yarns yarns[2];
    set_out(yarns, 800e-6);
    struct ww_meeting meeting = {2, yarns, true, -1.5, 0.1};
    double place[2][2] = {{1e-4, 2e-4}, {3e-4, 1e-4}};
    assert_true(ww_together_matters(&meeting));
    meeting.plies = 1;
    assert_false(ww_together_matters(&meeting));
    meeting.plies = 2;
    for (int p = 0; p < 2; p++) {
        yarns[p].ux = 0;
        yarns[p].uy = 1;
    }
    assert_false(ww_together_matters(&meeting));
    set_out(yarns, 800e-6);
    yarns[1].uy = -yarns[1].uy;
    assert_false(ww_together_matters(&meeting));
    assert_close(ww_together_at(&meeting, (const double(*)[2])place), 0, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(climbs_as_high_as_there_is),
        cmocka_unit_test(leaves_alone_what_does_not_meet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
