/* The cloths and materials that are shipped: each of them is one that can be woven, and says where it is from.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "cloth.h"

#include <stdio.h>

/* One thing to be true of every style. */
static void for_each_style(void (*holds)(const struct ww_weaves *, const struct ww_style *))
{
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_names names;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count >= 36);
    for (size_t n = 0; n < names.count; n++) {
        struct ww_style style;
        assert_ok(ww_weaves_style(&weaves, names.name[n], &style, &error), error);
        assert_string_equal(style.name, names.name[n]);
        holds(&weaves, &style);
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
}

static void is_sound(const struct ww_weaves *weaves, const struct ww_style *style)
{
    (void)weaves;
    double pitch_x = 1.0 / style->warp_count.value, pitch_y = 1.0 / style->fill_count.value;
    assert_true(style->warp.width.value <= pitch_x && style->fill.width.value <= pitch_y);
    assert_true(style->warp.packing > 0.35 && style->warp.packing < 0.85);
    assert_true(style->fill.packing > 0.35 && style->fill.packing < 0.85);
    assert_true(style->warp.height.value < style->warp.width.value);
    assert_true(style->fill.height.value < style->fill.width.value);
    if (strcmp(style->name, "1078") ==
        0) { /* the one spread cloth of published widths: its warp is not spread as far */
        assert_close(style->warp.width.value / pitch_x, 0.57, 0.0, 0.005);
        assert_close(style->fill.width.value / pitch_y, 0.95, 0.0, 0.005);
        assert_close(style->warp.packing, 0.605, 0.0, 0.002);
        assert_close(style->fill.packing, 0.604, 0.0, 0.002);
    } else if (style->kind == WW_SPREAD) {
        assert_true(style->shape.value > 2.0);
        assert_true(style->warp.width.value > 0.8 * pitch_x && style->fill.width.value > 0.9 * pitch_y);
    } else {
        assert_close(style->shape.value, 2.0, 0.0, 0.0);
    }
}

static void every_style_is_sound(void **state)
{
    (void)state;
    for_each_style(is_sound);
}

/* Counts times yarns miss the published weights by 4.0 % at most (7628: 195.3 of 203.4 g/m2), crimp and binder aside,
 * and mostly from below, as crimp has it. 1280 has no published weight. */
static void weighs_what_is_published(const struct ww_weaves *weaves, const struct ww_style *style)
{
    (void)weaves;
    if (style->weight.origin == WW_ABSENT)
        assert_string_equal(style->name, "1280");
    else
        assert_close(ww_style_weight(style), style->weight.value, 0.041, 0.0);
}

static void every_style_weighs_what_is_published_within_5_percent(void **state)
{
    (void)state;
    for_each_style(weighs_what_is_published);
}

static void weaves_into_its_glass(const struct ww_weaves *weaves, const struct ww_style *style)
{
    (void)weaves;
    struct ww_error error = {0};
    struct ww_cell_options options = {48, 48, 12, 4, 0};
    struct ww_cell cell;
    double warp, fill, glass;
    assert_ok(ww_cell_build(&cell, style, &options, &error), error);
    ww_cell_volume(&cell, &warp, &fill, &glass);
    assert_close(glass * style->glass.density, ww_style_weight(style), 1e-12, 0.0);
    /* the bundles themselves: under 5 % smaller than their sections, spread ones under 11 % */
    double factor = ww_superellipse_area_factor(style->shape.value);
    double want = factor * (style->warp.width.value * style->warp.height.value * style->warp_count.value +
                            style->fill.width.value * style->fill.height.value * style->fill_count.value);
    assert_true(warp + fill > (style->kind == WW_SPREAD ? 0.89 : 0.95) * want && warp + fill < 1.003 * want);
    assert_true(cell.warp_packing < 0.85 && cell.fill_packing < 0.85); /* open cloth closes at 0.80 */
    ww_cell_clear(&cell);
}

static void every_style_weaves_into_a_cell_that_holds_its_glass(void **state)
{
    (void)state;
    for_each_style(weaves_into_its_glass);
}

static void has_sources(const struct ww_weaves *weaves, const struct ww_style *style)
{
    (void)weaves;
    enum { FIGURES = 11 };
    const struct ww_datum *figure[FIGURES] = {&style->warp_count, &style->fill_count,  &style->warp.tex,
                                              &style->fill.tex,   &style->warp.width,  &style->warp.height,
                                              &style->fill.width, &style->fill.height, &style->shape,
                                              &style->thickness,  &style->weight};
    for (size_t n = 0; n < FIGURES; n++) {
        assert_int_not_equal(figure[n]->origin, WW_USER);
        assert_int_equal(figure[n]->origin != WW_ABSENT, figure[n]->source[0] != '\0');
    }
    assert_true(style->glass.source[0] != '\0');
    if (strstr(style->name, "-spread"))
        assert_contains(style->note, "assumed");
}

static void every_figure_says_where_it_is_from(void **state)
{
    (void)state;
    for_each_style(has_sources);
}

static void spread_cloth_is_its_plain_one_flattened(void **state)
{
    (void)state;
    static const char *const name[] = {"1067", "1080", "2113", "2116"};
    struct ww_error error = {0};
    struct ww_weaves weaves;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    for (size_t n = 0; n < sizeof name / sizeof *name; n++) {
        char other[32];
        struct ww_style plain, spread;
        snprintf(other, sizeof other, "%s-spread", name[n]);
        assert_ok(ww_weaves_style(&weaves, name[n], &plain, &error), error);
        assert_ok(ww_weaves_style(&weaves, other, &spread, &error), error);
        assert_int_equal(spread.kind, WW_SPREAD);
        assert_int_not_equal(plain.kind, WW_SPREAD);
        assert_close(ww_style_weight(&spread), ww_style_weight(&plain), 1e-14, 0.0);
        assert_true(spread.warp.width.value > plain.warp.width.value);
        assert_true(spread.fill.width.value > plain.fill.width.value);
        assert_true(spread.thickness.value < plain.thickness.value);
    }
    ww_weaves_close(&weaves);
}

static void every_material_reads(void **state)
{
    (void)state;
    static const char *const glass_name[] = {"E", "T", "NE", "L", "D", "S", "quartz"};
    static const char *const resin_name[] = {"epoxy", "ppe", "ptfe", "hydrocarbon", "cyanate-ester", "polyimide"};
    struct ww_error error = {0};
    struct ww_weaves weaves;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    for (size_t n = 0; n < sizeof glass_name / sizeof *glass_name; n++) {
        struct ww_glass glass;
        assert_ok(ww_weaves_glass(&weaves, glass_name[n], &glass, &error), error);
        assert_string_equal(glass.name, glass_name[n]);
        assert_true(glass.dk > 3.5 && glass.dk < 7.0 && glass.df > 0.0 && glass.df < 0.01);
        assert_true(glass.density > 2000.0 && glass.density < 2700.0 && glass.source[0]);
    }
    for (size_t n = 0; n < sizeof resin_name / sizeof *resin_name; n++) {
        struct ww_resin resin;
        assert_ok(ww_weaves_resin(&weaves, resin_name[n], &resin, &error), error);
        assert_true(resin.dk > 2.0 && resin.dk < 3.7 && resin.df > 0.0 && resin.df < 0.04);
        assert_true(resin.density > 900.0 && resin.density < 2300.0 && resin.source[0]);
    }
    ww_weaves_close(&weaves);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_style_is_sound),
        cmocka_unit_test(every_style_weighs_what_is_published_within_5_percent),
        cmocka_unit_test(every_style_weaves_into_a_cell_that_holds_its_glass),
        cmocka_unit_test(every_figure_says_where_it_is_from),
        cmocka_unit_test(spread_cloth_is_its_plain_one_flattened),
        cmocka_unit_test(every_material_reads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
