/* Yarn codes, and what they weigh.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "fabric/yarn.h"

/* tex to four digits by 496055 / (yards per pound), the rule that composites handbooks give. */
static void codes_have_the_linear_density_of_their_yield(void **state)
{
    (void)state;
    static const struct {
        const char *code;
        double tex;
    } table[] = {{"BC3000", 1.654}, {"D1800", 2.756}, {"BC1500", 3.307}, {"C1200", 4.134}, {"D900", 5.512},
                 {"D450", 11.02},   {"DE300", 16.54}, {"E225", 22.05},   {"DE150", 33.07}, {"G150", 33.07},
                 {"E110", 45.10},   {"G75", 66.14},   {"G50", 99.21},    {"G37", 134.1}};
    for (size_t n = 0; n < sizeof table / sizeof *table; n++) {
        struct ww_yarn yarn = {0};
        struct ww_error error = {0};
        assert_ok(ww_yarn_read(&yarn, table[n].code, &error), error);
        assert_close(yarn.tex.value, table[n].tex * 1e-6, 5e-4, 0.0);
        assert_int_equal(yarn.tex.origin, WW_DERIVED);
        assert_string_equal(yarn.code, table[n].code);
    }
    struct ww_yarn yarn = {0};
    assert_int_equal(ww_yarn_read(&yarn, "D450", NULL), WW_OK);
    assert_close(yarn.tex.value, 496055.0 / 45000.0 * 1e-6, 1e-6, 0.0); /* the constant is rounded */
}

static void a_code_may_be_written_as_the_trade_writes_it(void **state)
{
    (void)state;
    static const char *const spelling[] = {"D450",     "ECD450", "ECD 450",    "ECD 450 1/0",
                                           "D450 1/0", "d450",   "EC D450 1/0"};
    for (size_t n = 0; n < sizeof spelling / sizeof *spelling; n++) {
        struct ww_yarn yarn = {0};
        struct ww_error error = {0};
        assert_ok(ww_yarn_read(&yarn, spelling[n], &error), error);
        assert_string_equal(yarn.code, "D450");
    }
}

static void a_linear_density_is_taken_as_it_is(void **state)
{
    (void)state;
    struct ww_yarn yarn = {.code = "D450"};
    struct ww_error error = {0};
    assert_ok(ww_yarn_read(&yarn, "11.2 tex", &error), error);
    assert_close(yarn.tex.value, 11.2e-6, 1e-15, 0.0);
    assert_int_equal(yarn.tex.origin, WW_USER);
    assert_string_equal(yarn.code, "");
}

static void refused(const char *text, const char *part)
{
    struct ww_yarn yarn = {0};
    struct ww_error error = {0};
    if (ww_yarn_read(&yarn, text, &error) != WW_MALFORMED)
        fail_msg("not refused: %s", text);
    assert_contains(error.text, part);
}

static void other_yarns_are_refused_with_the_nearest(void **state)
{
    (void)state;
    refused("D451", "did you mean D450");
    refused("ECE 220", "tex");
    refused("D450 1/2", "give its linear density"); /* plied: heavier than its code says */
    refused("D4501/0", "give its linear density");
    refused("", "not a number");
    refused("11.2", "tex");
    refused("11.2 g", "tex");
    refused("nan tex", "not a yarn code");
    refused("a very long name of a yarn that nobody has ever spun D450", "not a yarn code");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(codes_have_the_linear_density_of_their_yield),
        cmocka_unit_test(a_code_may_be_written_as_the_trade_writes_it),
        cmocka_unit_test(a_linear_density_is_taken_as_it_is),
        cmocka_unit_test(other_yarns_are_refused_with_the_nearest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
