/* test_styles_full.c - every shipped cloth, solved in full within thirty iterations.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The condition number is that of local over mean permittivity, so that what decides is the contrast of glass to resin,
 * and how flat and dense the yarns are. Each style is taken with its own glass in epoxy and in the lowest resin of
 * weaves/materials.ini, the kinds of line taken in turn.
 */
#include "check.h"
#include "structure.h"

static const double tolerance = 1e-8;
static int most_seen;

static void check(const struct structure *s, bool volume, double angle, const char *name)
{
    double place[2][2] = {{70 * UM, 45 * UM}, {240 * UM, 160 * UM}};
    struct ww_full_options wish = {.tolerance = tolerance, .along = 16};
    struct ww_error error = {0};
    struct ww_full full;
    if (volume)
        assert_ok(ww_volume_solve(s->line, angle, (const double(*)[2])place, &wish, &full, &error), error);
    else
        assert_ok(ww_section_solve(s->line, angle, (const double(*)[2])place, &wish, &full, &error), error);
    if (full.iterations >= 30)
        print_error("%s: %d iterations\n", name, full.iterations);
    assert_true(full.iterations < 30);
    assert_true(full.residual <= tolerance);
    /* no cloth is worth less than its resin or more than its glass */
    assert_true(full.dk[0] > 1 && full.dk[0] < 6.4);
    most_seen = full.iterations > most_seen ? full.iterations : most_seen;
}

static void check_style(const char *name, size_t index, double resin_dk)
{
    static const double angle[] = {0, 0.3, WW_PI / 4, WW_PI / 2};
    struct structure_options options = structure_pair();
    options.kind = index % 10 == 9 ? COVERED : index % 10 == 4 ? MICROSTRIP : index % 2 ? SANDWICH : STRIPLINE;
    options.style = name;
    options.ply = 0;
    options.resin_dk = resin_dk;
    options.fineness = 0.3;
    struct structure s;
    struct ww_error error = {0};
    assert_ok(structure_open(&s, &options, &error), error);
    for (size_t i = 0; i < sizeof angle / sizeof *angle; i++)
        check(&s, false, angle[i], name);
    if (options.kind == STRIPLINE)
        check(&s, true, 0, name);
    structure_close(&s);
}

static void test_iterations_stay_under_thirty(void **state)
{
    (void)state;
    struct ww_weaves weaves = {0};
    struct ww_names names = {0};
    struct ww_error error = {0};
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count >= 30);
    for (size_t i = 0; i < names.count; i++) {
        check_style(names.name[i], i, 3.4);
        check_style(names.name[i], i, 2.08);
    }
    print_message("%zu styles: at most %d iterations to %g\n", names.count, most_seen, tolerance);
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_iterations_stay_under_thirty)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
