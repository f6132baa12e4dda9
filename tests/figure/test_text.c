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

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_character_without_glyph_was_a_box)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
