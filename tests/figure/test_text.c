/* Text of figures.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "figure/canvas.h"

/* Issue 13: boxes where the font lacks a character. No font has the last place of plane 16, which is private. */
static void a_character_without_glyph_was_a_box(void **state)
{
    (void)state;
    const struct ww_type type = {WW_TEXT_SMALL, true, WW_INK_TEXT};
    struct ww_canvas canvas = {.surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 10, 10), .density = 1};
    char text[] = "a\xf4\x8f\xbf\xbd"
                  "b",
         plain[] = "Link, 100 \xc2\xb5m";
    canvas.cairo = cairo_create(canvas.surface);
    assert_true(ww_text_replace_missing(&canvas, type, text));
    assert_string_equal(text, "a?b");
    assert_false(ww_text_replace_missing(&canvas, type, plain));
    assert_string_equal(plain, "Link, 100 \xc2\xb5m");
    assert_int_equal(cairo_status(canvas.cairo), CAIRO_STATUS_SUCCESS);
    cairo_destroy(canvas.cairo);
    cairo_surface_destroy(canvas.surface);
}

/* Issue 13: degrees of phase beside the time, where the study has a frequency. A turn is 360 deg: 1 ps at 28 GHz is 10.08 deg. */
static void an_axis_of_delay_tells_degrees(void **state)
{
    (void)state;
    const struct ww_unit ps = ww_unit_time(5e-12), fs = ww_unit_time(5e-15);
    struct ww_figure_options options = {.frequency = 28e9};
    char title[WW_TITLE_BYTES];

    assert_string_equal(ww_delay_title(&options, title, sizeof title, "skew", ps),
                        "skew [ps], 1 ps = 10.1\xc2\xb0 at 28 GHz");
    assert_string_equal(ww_delay_title(&options, title, sizeof title, "skew", fs),
                        "skew [fs], 100 fs = 1.01\xc2\xb0 at 28 GHz");
    assert_string_equal(ww_phase_label(&options, title, sizeof title, -0.5e-12), "\xe2\x88\x92"
                                                                                 "5.04\xc2\xb0");
    options.frequency = 1e6; /* a degree takes 2778 ps */
    assert_string_equal(ww_delay_title(&options, title, sizeof title, "skew", ps), "skew [ps]");
    options.frequency = 0;
    assert_string_equal(ww_delay_title(&options, title, sizeof title, "skew", ps), "skew [ps]");
    assert_string_equal(ww_phase_label(&options, title, sizeof title, 1e-12), "");
    assert_string_equal(ww_delay_title(NULL, title, sizeof title, "skew", ps), "skew [ps]");
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_character_without_glyph_was_a_box),
                                       cmocka_unit_test(an_axis_of_delay_tells_degrees)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
