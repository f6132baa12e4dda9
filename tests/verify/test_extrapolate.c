/* Richardson's extrapolation over grids of unlike steps.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <math.h>

#include "verify/extrapolate.h"

#define LIMIT 5.0
#define ERROR 0.3

static struct ww_verify_limit of_order(double order, const double step[3])
{
    double value[3];
    for (int i = 0; i < 3; i++)
        value[i] = LIMIT - ERROR * pow(step[i], order);
    return ww_verify_extrapolate(step, value, 3);
}

static void finds_the_limit_and_the_order_of_an_error_that_has_one(void **state)
{
    static const double steps[][3] = {{4, 2, 1}, {1.3, 1, 0.45}, {1.05, 1, 0.5}};
    static const double orders[] = {1, 4. / 3, 1.7, 2};
    (void)state;
    for (int s = 0; s < 3; s++)
        for (int o = 0; o < 4; o++) {
            struct ww_verify_limit limit = of_order(orders[o], steps[s]);
            assert_true(limit.observed);
            assert_close(limit.order, orders[o], 1e-8, 0);
            assert_close(limit.value, LIMIT, 1e-8, 0);
            assert_close(limit.uncertainty, ERROR * pow(steps[s][2], orders[o]), 1e-7, 0);
        }
}

/* A faster fall than of a smooth field is luck, a slower one than at an edge not yet an order. */
static void believes_no_order_that_the_grid_cannot_have(void **state)
{
    static const double halved[3] = {4, 2, 1};
    (void)state;
    struct ww_verify_limit fast = of_order(3, halved), slow = of_order(0.5, halved);
    assert_false(fast.observed);
    assert_close(fast.order, 1, 0, 0);
    assert_close(fast.uncertainty, 14 * ERROR, 1e-9, 0); /* a quarter of 64 - 8; the last change is 8 - 1 */
    assert_false(slow.observed);
    assert_close(slow.value + slow.uncertainty, LIMIT - ERROR + 2 * (sqrt(2) - 1) * ERROR, 1e-8, 0);
}

static void takes_first_order_where_none_is_seen(void **state)
{
    static const double halved[3] = {4, 2, 1}, alike[3] = {2, 2, 1}, there_and_back[3] = {4.9, 5, 4.99},
                        up[3] = {4, 5, 5.1};
    (void)state;
    struct ww_verify_limit limit = ww_verify_extrapolate(halved, there_and_back, 3);
    assert_false(limit.observed);
    assert_close(limit.order, 1, 0, 0);
    assert_close(limit.value, 4.98, 1e-12, 0);
    assert_close(limit.uncertainty, 0.025, 1e-9, 0); /* a quarter of the change before, which is more than the last */
    limit = ww_verify_extrapolate(alike, up, 3);
    assert_false(limit.observed);
    assert_close(limit.value, 5.2, 1e-12, 0);
    assert_close(limit.uncertainty, 0.25, 1e-9, 0);
    limit = ww_verify_extrapolate(halved + 1, up + 1, 2);
    assert_false(limit.observed);
    assert_close(limit.value, 5.2, 1e-12, 0);
    assert_close(limit.uncertainty, 0.1, 1e-9, 0);
}

/* A value that the grid does not touch. */
static void a_constant_is_its_own_limit(void **state)
{
    static const double halved[3] = {4, 2, 1}, constant[3] = {7, 7, 7};
    (void)state;
    struct ww_verify_limit limit = ww_verify_extrapolate(halved, constant, 3);
    assert_close(limit.value, 7, 0, 0);
    assert_close(limit.uncertainty, 0, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_the_limit_and_the_order_of_an_error_that_has_one),
        cmocka_unit_test(believes_no_order_that_the_grid_cannot_have),
        cmocka_unit_test(takes_first_order_where_none_is_seen),
        cmocka_unit_test(a_constant_is_its_own_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
