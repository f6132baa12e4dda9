/* cloth.c - styles to test with, and styles from text.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "cloth.h"

#include "check.h"

#include <stdio.h>

const struct recipe open_cloth = {60, 47, 11.2, 11.2, 220, 28, 310, 25, 2, 0};
const struct recipe spread_cloth = {60, 58, 22.05, 22.05, 360, 0, 415, 0, 3, 75};

static struct ww_datum datum(double value, double unit)
{
    return (struct ww_datum){.value = value * unit, .origin = value != 0.0 ? WW_USER : WW_ABSENT};
}

struct ww_style cloth_given(const struct recipe *recipe)
{
    struct ww_style style = {
        .name = "T1",
        .warp_count = datum(recipe->warp_count, 1.0 / 0.0254),
        .fill_count = datum(recipe->fill_count, 1.0 / 0.0254),
        .shape = datum(recipe->shape, 1.0),
        .thickness = datum(recipe->thickness, UM),
        .glass = {.name = "E", .dk = 6.3, .df = 0.004, .density = 2580.0},
    };
    style.warp = (struct ww_yarn){.tex = datum(recipe->warp_tex, 1e-6),
                                  .width = datum(recipe->warp_width, UM),
                                  .height = datum(recipe->warp_height, UM)};
    style.fill = (struct ww_yarn){.tex = datum(recipe->fill_tex, 1e-6),
                                  .width = datum(recipe->fill_width, UM),
                                  .height = datum(recipe->fill_height, UM)};
    return style;
}

struct ww_style cloth_closed(const struct recipe *recipe)
{
    struct ww_style style = cloth_given(recipe);
    struct ww_error error = {0};
    assert_ok(ww_style_close(&style, &error), error);
    return style;
}

struct ww_settings cloth_settings(const char *text)
{
    struct ww_settings settings = {0};
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_int_equal(fwrite(text, 1, strlen(text), stream), strlen(text));
    rewind(stream);
    assert_ok(ww_settings_read(&settings, stream, "cloth.ini", &error), error);
    fclose(stream);
    return settings;
}
