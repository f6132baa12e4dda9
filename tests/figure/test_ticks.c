/* Ticks are round, few and inside; labels say what they stand for; flags never meet.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>

#include "figure/canvas.h"

/* A fixed sequence of numbers in [0, 1): the same ranges in every run. */
static double next(unsigned *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)(*seed >> 8) / 16777216.0;
}

static double mantissa(double step)
{
    double m = step / pow(10, floor(log10(step) + 1e-9));
    return round(m * 1e6) / 1e6;
}

/* The label as a number: true minus back to ASCII. */
static double read_label(const char *label)
{
    bool negative = strncmp(label, "\xe2\x88\x92", 3) == 0;
    double value = strtod(label + (negative ? 3 : 0), NULL);
    return negative ? -value : value;
}

static void check_ticks(double low, double high, int most)
{
    struct ww_ticks ticks = ww_ticks_choose(low, high, most);
    double m = mantissa(ticks.step), span = high - low;
    char label[64], before[64] = "";

    assert_true(m == 1 || m == 2 || m == 5);
    assert_in_range(ticks.count, 0, most);
    assert_true(ww_tick_value(&ticks, 0) - ticks.step < low + 1e-5 * span);
    assert_true(ww_tick_value(&ticks, ticks.count) > high - 1e-5 * span);
    for (int i = 0; i < ticks.count; i++) {
        double value = ww_tick_value(&ticks, i);
        assert_true(value >= low - 1e-5 * ticks.step && value <= high + 1e-5 * ticks.step);
        assert_close(value / ticks.step, round(value / ticks.step), 1e-12, 1e-6);
        ww_tick_label(&ticks, i, label, sizeof label);
        if (fabs(value) < 1e6 * ticks.step)
            assert_close(read_label(label), value, 1e-5, 1e-6 * ticks.step);
        if (fabs(value) < 1e5 * ticks.step)
            assert_string_not_equal(label, before);
        strcpy(before, label);
    }
}

static void ticks_are_round_few_and_inside(void **state)
{
    (void)state;
    unsigned seed = 7;

    for (int i = 0; i < 20000; i++) {
        double span = pow(10, 24 * next(&seed) - 12), low = (next(&seed) * 4 - 3) * span;
        check_ticks(low, low + span, 2 + (int)(next(&seed) * 12));
    }
}

/* A coarser choice than needed would leave an axis bare: the next finer round step must not fit. */
static void ticks_are_as_fine_as_allowed(void **state)
{
    (void)state;
    unsigned seed = 11;

    for (int i = 0; i < 20000; i++) {
        double span = pow(10, 6 * next(&seed) - 3), low = (next(&seed) * 4 - 3) * span;
        int most = 2 + (int)(next(&seed) * 12);
        struct ww_ticks ticks = ww_ticks_choose(low, low + span, most);
        double finer = ticks.step / (mantissa(ticks.step) == 5 ? 2.5 : 2);
        assert_true(floor((low + span) / finer + 1e-6) - ceil(low / finer - 1e-6) + 1 > most);
    }
}

static void known_axes_have_known_ticks(void **state)
{
    (void)state;
    char label[64];
    struct ww_ticks ticks = ww_ticks_choose(-1.9, 1.9, 9);

    assert_int_equal(ticks.count, 7);
    assert_close(ticks.step, 0.5, 1e-12, 0);
    assert_string_equal(ww_tick_label(&ticks, 0, label, sizeof label), "\xe2\x88\x92"
                                                                       "1.5");
    assert_string_equal(ww_tick_label(&ticks, 3, label, sizeof label), "0");
    ticks = ww_ticks_choose(0, 50, 11);
    assert_int_equal(ticks.count, 11);
    assert_string_equal(ww_tick_label(&ticks, 10, label, sizeof label), "50");
    ticks = ww_ticks_choose(0, 0.3, 4);
    assert_int_equal(ticks.count, 4);
    assert_string_equal(ww_tick_label(&ticks, 3, label, sizeof label), "0.3");
    ticks = ww_ticks_choose(3.2, 4.1, 10);
    assert_string_equal(ww_tick_label(&ticks, 0, label, sizeof label), "3.2");
}

static void units_follow_size(void **state)
{
    (void)state;
    assert_string_equal(ww_unit_time(1.9e-12).name, "ps");
    assert_string_equal(ww_unit_time(0.0999e-12).name, "fs");
    assert_string_equal(ww_unit_time(0.1e-12).name, "ps");
    assert_string_equal(ww_unit_time(2e-9).name, "ns");
    assert_string_equal(ww_unit_time(0).name, "fs");
    assert_string_equal(ww_unit_length(0.5e-3).name, "\xc2\xb5m");
    assert_string_equal(ww_unit_length(1e-3).name, "mm");
    assert_close(ww_unit_length(1e-3).worth, 1e-3, 1e-12, 0);
    assert_close(ww_unit_time(1e-12).worth, 1e-12, 1e-12, 0);
}

static void values_read_well(void **state)
{
    (void)state;
    char label[64];

    assert_string_equal(ww_value_label(label, sizeof label, 1.9, 1), "+1.90");
    assert_string_equal(ww_value_label(label, sizeof label, 1.9, 0), "1.90");
    assert_string_equal(ww_value_label(label, sizeof label, -1.9, 1), "\xe2\x88\x92"
                                                                      "1.90");
    assert_string_equal(ww_value_label(label, sizeof label, 0, 1), "0");
    assert_string_equal(ww_value_label(label, sizeof label, -1e-9, 1), "0");
    assert_string_equal(ww_value_label(label, sizeof label, 9.996, 0), "10.0");
    assert_string_equal(ww_value_label(label, sizeof label, 99.96, 0), "100");
    assert_string_equal(ww_value_label(label, sizeof label, 304.4, 0), "304");
    assert_string_equal(ww_value_label(label, sizeof label, 0.0304, 0), "0.030");
    assert_string_equal(ww_value_label(label, sizeof label, 3e9, 0), "3e+09");
    assert_string_equal(ww_size_label(label, sizeof label, 50, 4), "50");
    assert_string_equal(ww_size_label(label, sizeof label, 2.54, 4), "2.54");
    assert_string_equal(ww_time_label(label, sizeof label, 2e-12), "2 ps");
    assert_string_equal(ww_time_label(label, sizeof label, 45e-15), "45 fs");
}

static void the_segment_shown_is_round_and_readable(void **state)
{
    (void)state;
    assert_close(ww_figure_near_length(50e-3, 0.85e-3), 5e-3, 1e-9, 0);
    assert_close(ww_figure_near_length(3e-3, 0.85e-3), 3e-3, 1e-9, 0);
    assert_close(ww_figure_near_length(50e-3, 0), 50e-3, 1e-9, 0);
    unsigned seed = 3;
    for (int i = 0; i < 5000; i++) {
        double length = pow(10, 4 * next(&seed) - 3), period = pow(10, 2 * next(&seed) - 4);
        double near = ww_figure_near_length(length, period);
        assert_true(near > 0 && near <= length);
        if (near < length) {
            double m = mantissa(near);
            assert_true(m == 1 || m == 2 || m == 5);
            assert_true(near >= 2 * period && near <= 6 * period * (1 + 1e-9));
        }
    }
}

static void flags_never_meet(void **state)
{
    (void)state;
    unsigned seed = 5;

    for (int trial = 0; trial < 5000; trial++) {
        enum { COUNT = 6 };
        double x[COUNT], w[COUNT], at = 0;
        int row[COUNT];
        for (int i = 0; i < COUNT; i++) {
            at += trial % 3 == 0 ? 0 : 300 * next(&seed);
            x[i] = at;
            w[i] = 50 + 200 * next(&seed);
        }
        ww_flags_place(x, w, COUNT, row);
        for (int i = 0; i < COUNT; i++) {
            assert_in_range(row[i], 0, COUNT - 1);
            for (int j = i + 1; j < COUNT; j++)
                assert_false(x[j] < x[i] + w[i] && row[j] >= row[i]); /* text i on text or line j */
        }
    }
}

static void flags_with_room_stay_low(void **state)
{
    (void)state;
    double x[] = {0, 100, 200}, w[] = {90, 90, 90};
    int row[3];

    ww_flags_place(x, w, 3, row);
    for (int i = 0; i < 3; i++)
        assert_int_equal(row[i], 0);
}

static bool meet(struct ww_box a, struct ww_box b)
{
    return a.x < b.x + b.w && b.x < a.x + a.w && a.y < b.y + b.h && b.y < a.y + a.h;
}

/* Two marks anywhere on the panel, near each other in half of the trials: each value beside its own mark, on nothing. */
static void labels_cover_no_mark_and_no_label(void **state)
{
    (void)state;
    static const double radius = 24, w = 150, h = 39;
    const struct ww_box page = {130, 100, 620, 670};
    unsigned seed = 11;

    for (int trial = 0; trial < 20000; trial++) {
        double x[2], y[2];
        x[0] = page.x + page.w * next(&seed);
        y[0] = page.y + page.h * next(&seed);
        x[1] = trial % 2 ? page.x + page.w * next(&seed) : fmin(x[0] + 60 * next(&seed), page.x + page.w);
        y[1] = trial % 2 ? page.y + page.h * next(&seed) : fmax(y[0] - 60 * next(&seed), page.y);
        struct ww_box mark[2], label[2];
        for (int i = 0; i < 2; i++)
            mark[i] = (struct ww_box){x[i] - radius, y[i] - radius, 2 * radius, 2 * radius};
        for (int i = 0; i < 2; i++) {
            struct ww_box taken[] = {mark[1 - i], label[0]};
            label[i] = ww_label_place(&page, x[i], y[i], radius, w, h, taken, 1 + i);
            assert_false(meet(label[i], mark[0]) || meet(label[i], mark[1]));
            assert_true(label[i].x >= page.x && label[i].x + w <= page.x + page.w);
            assert_true(label[i].y >= page.y && label[i].y + h <= page.y + page.h);
        }
        assert_false(meet(label[0], label[1]));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ticks_are_round_few_and_inside),
        cmocka_unit_test(ticks_are_as_fine_as_allowed),
        cmocka_unit_test(known_axes_have_known_ticks),
        cmocka_unit_test(units_follow_size),
        cmocka_unit_test(values_read_well),
        cmocka_unit_test(the_segment_shown_is_round_and_readable),
        cmocka_unit_test(flags_never_meet),
        cmocka_unit_test(flags_with_room_stay_low),
        cmocka_unit_test(labels_cover_no_mark_and_no_label),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
