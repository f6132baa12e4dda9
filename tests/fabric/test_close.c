/* Closing a style: what is conserved, what is kept, what is refused.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "cloth.h"

#include <stdio.h>

static double glass_in(const struct ww_style *style, const struct ww_yarn *yarn)
{
    return ww_superellipse_area_factor(style->shape.value) * yarn->width.value * yarn->height.value * yarn->packing;
}

/* Glass area to rounding, heights that add up to rounding. */
static void assert_conserved(const struct ww_style *style)
{
    double density = style->glass.density;
    assert_close(glass_in(style, &style->warp), style->warp.tex.value / density, 1e-14, 0.0);
    assert_close(glass_in(style, &style->fill), style->fill.tex.value / density, 1e-14, 0.0);
    assert_close(style->warp.height.value + style->fill.height.value, style->thickness.value, 1e-15, 0.0);
}

static void refused(const struct recipe *recipe, const char *reason)
{
    struct ww_style style = cloth_given(recipe), before = style;
    struct ww_error error = {0};
    if (ww_style_close(&style, &error) != WW_UNPHYSICAL)
        fail_msg("not refused for: %s", reason);
    assert_int_equal(error.status, WW_UNPHYSICAL);
    assert_contains(error.text, reason);
    assert_memory_equal(&style, &before, sizeof style); /* as it was */
}

/* --- the superellipse ------------------------------------------------------------------------------------ */

static void a_superellipse_has_the_area_of_its_integral(void **state)
{
    (void)state;
    assert_close(ww_superellipse_area_factor(1.0), 0.5, 1e-14, 0.0);
    assert_close(ww_superellipse_area_factor(2.0), WW_PI / 4.0, 1e-14, 0.0);
    assert_close(ww_superellipse_area_factor(1e6), 1.0, 1e-9, 0.0);
    for (double p = 1.5; p < 9.0; p += 0.5) {
        int steps = 20000;
        double sum = 0.0; /* with x = sin t, the steep edge is taken in small steps */
        for (int n = 0; n < steps; n++) {
            double t = (n + 0.5) / steps * WW_PI / 2.0;
            sum += pow(1.0 - pow(sin(t), p), 1.0 / p) * cos(t);
        }
        assert_close(ww_superellipse_area_factor(p), sum / steps * WW_PI / 2.0, 1e-6, 0.0);
    }
}

static void weight_is_counts_times_yarns(void **state)
{
    (void)state;
    struct ww_style style = cloth_given(&open_cloth);
    assert_close(ww_style_weight(&style), (60.0 + 47.0) / 0.0254 * 11.2e-6, 1e-14, 0.0);
}

/* --- every subset of the figures ------------------------------------------------------------------------- */

/* Widths and heights of one plain cloth at packing 0.71, all consistent: any subset has to lead to a cloth, unless neither
 * the thickness nor a figure of each yarn is there. */
static void every_subset_closes_or_says_why_not(void **state)
{
    (void)state;
    int closed = 0, short_of = 0;
    for (unsigned subset = 0; subset < 32; subset++) {
        bool has[5];
        for (unsigned n = 0; n < 5; n++)
            has[n] = (subset >> n) & 1u;
        struct recipe recipe = {60, 47, 11.2, 11.2, 0, 0, 0, 0, 2, 0};
        double box = 11.2e-6 / 2580.0 / (WW_PI / 4.0 * 0.71) / (UM * UM); /* um2 */
        recipe.warp_width = has[0] ? box / 30.0 : 0.0;
        recipe.warp_height = has[1] ? 30.0 : 0.0;
        recipe.fill_width = has[2] ? box / 23.0 : 0.0;
        recipe.fill_height = has[3] ? 23.0 : 0.0;
        recipe.thickness = has[4] ? 53.0 : 0.0;
        if (!has[4] && !((has[0] || has[1]) && (has[2] || has[3]))) {
            refused(&recipe, "thickness");
            short_of++;
            continue;
        }
        struct ww_style style = cloth_closed(&recipe), given = cloth_given(&recipe);
        const struct ww_datum *before[5] = {&given.warp.width, &given.warp.height, &given.fill.width,
                                            &given.fill.height, &given.thickness};
        const struct ww_datum *after[5] = {&style.warp.width, &style.warp.height, &style.fill.width,
                                           &style.fill.height, &style.thickness};
        assert_conserved(&style);
        assert_close(style.warp.packing, 0.71, 1e-12, 0.0);
        assert_close(style.fill.packing, 0.71, 1e-12, 0.0);
        for (unsigned n = 0; n < 5; n++) {
            assert_int_equal(after[n]->origin, has[n] ? WW_USER : WW_CLOSED);
            if (has[n])
                assert_close(after[n]->value, before[n]->value, 1e-15, 0.0);
            else
                assert_int_equal(strncmp(after[n]->source, "closed", 6), 0);
        }
        if (subset & 15u) { /* anything but the thickness alone leads back to the very cloth */
            assert_close(style.warp.height.value, 30 * UM, 1e-12, 0.0);
            assert_close(style.fill.width.value, box / 23.0 * UM, 1e-12, 0.0);
        }
        closed++;
    }
    assert_int_equal(closed, 25);
    assert_int_equal(short_of, 7);
}

static void closing_twice_changes_nothing(void **state)
{
    (void)state;
    struct recipe recipe = {60, 56, 22.05, 11.02, 0, 0, 0, 0, 2.5, 79};
    struct ww_style once = cloth_closed(&recipe), twice = once;
    struct ww_error error = {0};
    assert_ok(ww_style_close(&twice, &error), error);
    assert_memory_equal(&once, &twice, sizeof once);
}

/* --- the rule where nothing is given ----------------------------------------------------------------------- */

static struct ww_style closed_as(const struct recipe *recipe, enum ww_weave_kind kind)
{
    struct ww_style style = cloth_given(recipe);
    struct ww_error error = {0};
    style.kind = kind;
    assert_ok(ww_style_close(&style, &error), error);
    return style;
}

/* Equal yarns: the fill is as many times as wide as the warp, and as flat, as its kind has it. */
static void each_kind_has_its_packing_and_ratio(void **state)
{
    (void)state;
    static const struct {
        enum ww_weave_kind kind;
        double ratio, packing;
    } rule[] = {{WW_PLAIN, 1.12, 0.71}, {WW_SPREAD, 1.54, 0.60}, {WW_OPEN, 1.76, 0.80}};
    struct recipe recipe = {60, 47, 11.2, 11.2, 0, 0, 0, 0, 2, 53};
    for (size_t n = 0; n < sizeof rule / sizeof *rule; n++) {
        struct ww_style style = closed_as(&recipe, rule[n].kind);
        assert_close(style.fill.width.value / style.warp.width.value, rule[n].ratio, 1e-12, 0.0);
        assert_close(style.warp.height.value / style.fill.height.value, rule[n].ratio, 1e-12, 0.0);
        assert_close(style.warp.packing, rule[n].packing, 1e-12, 0.0);
        assert_close(style.fill.packing, rule[n].packing, 1e-12, 0.0);
        assert_conserved(&style);
    }
}

/* A light fill beside a heavy warp is flatter by 1.12^2, but need not be wider. */
static void unequal_yarns_close_by_flatness(void **state)
{
    (void)state;
    struct recipe recipe = {60, 56, 22.05, 11.02, 0, 0, 0, 0, 2, 79};
    struct ww_style style = cloth_closed(&recipe);
    double warp = style.warp.width.value / style.warp.height.value;
    double fill = style.fill.width.value / style.fill.height.value;
    assert_close(fill / warp, 1.12 * 1.12, 1e-12, 0.0);
    assert_conserved(&style);
}

/* All widths there are, two cloths of each kind. Published: 1078, the input of a simulation (DesignCon 2025 proceedings);
 * 1067 and 106, a fabricator's public forum. From memory, low: 1080 200-230 / 300-330 um, 2116 about 350 / 370, 7628 about
 * 450 / 530 (middles taken). Counts, yarns and thicknesses after style tables of the IPC-4412 kind, from memory, but 1078's
 * heights are published with its widths. `off` is how far the rule of their kind closes from them, warp and fill: what is
 * stated in close.c. 106's widths exclude the 33 um of its gauge. The bound is what the widths are worth. */
static const struct known {
    struct recipe recipe;
    enum ww_weave_kind kind;
    double warp, fill; /* [um] */
    double warp_off, fill_off;
} known[] = {
    {{54, 54, 11.02, 11.02, 0, 0, 0, 0, 2, 53.85}, WW_SPREAD, 266, 449, 0.04, -0.05},
    {{70, 70, 5.51, 5.51, 0, 0, 0, 0, 2, 35}, WW_SPREAD, 225, 315, -0.05, 0.04},
    {{60, 58, 22.05, 22.05, 0, 0, 0, 0, 2, 94}, WW_PLAIN, 350, 370, -0.12, -0.07},
    {{44, 31, 66.14, 66.14, 0, 0, 0, 0, 2, 173}, WW_PLAIN, 450, 530, 0.12, 0.06},
    {{60, 47, 11.02, 11.02, 0, 0, 0, 0, 2, 53}, WW_OPEN, 215, 315, -0.06, 0.12},
    {{56, 56, 5.51, 5.51, 0, 0, 0, 0, 2, 33}, WW_OPEN, 122, 259, 0.32, 0.10},
};
#define KNOWN (sizeof known / sizeof *known)

static void closed_widths_are_those_known_as_near_as_is_stated(void **state)
{
    (void)state;
    for (size_t n = 0; n < KNOWN; n++) {
        struct ww_style style = closed_as(&known[n].recipe, known[n].kind);
        double warp = style.warp.width.value / (known[n].warp * UM) - 1.0;
        double fill = style.fill.width.value / (known[n].fill * UM) - 1.0;
        print_message("  cloth %zu: warp %+.3f, fill %+.3f\n", n + 1, warp, fill);
        assert_close(warp, known[n].warp_off, 0.0, 0.006);
        assert_close(fill, known[n].fill_off, 0.0, 0.006);
    }
}

/* Ratio and packing of the known widths, by ellipses in the thickness: the evidence for the rule. Of each kind the geometric
 * mean of its two cloths; the packing of open cloth that of 1080, for 106 would be packed closer than any bundle can be. */
static void the_rule_is_the_mean_of_what_is_known(void **state)
{
    (void)state;
    static const double ratio_want[] = {1.69, 1.40, 1.06, 1.18, 1.47, 2.12};
    static const double packing_want[] = {0.60, 0.59, 0.64, 0.78, 0.80, 0.99};
    double ratio[KNOWN], packing[KNOWN];
    for (size_t n = 0; n < KNOWN; n++) {
        double glass = known[n].recipe.warp_tex * 1e-6 / 2580.0 / (UM * UM);
        ratio[n] = known[n].fill / known[n].warp;
        packing[n] = glass * (1 / known[n].warp + 1 / known[n].fill) / (WW_PI / 4.0 * known[n].recipe.thickness);
        assert_close(ratio[n], ratio_want[n], 0.0, 0.006);
        assert_close(packing[n], packing_want[n], 0.0, 0.006);
    }
    assert_close(sqrt(ratio[0] * ratio[1]), 1.54, 0.0, 0.006);
    assert_close(sqrt(ratio[2] * ratio[3]), 1.12, 0.0, 0.006);
    assert_close(sqrt(ratio[4] * ratio[5]), 1.76, 0.0, 0.006);
    assert_close(sqrt(packing[0] * packing[1]), 0.60, 0.0, 0.006);
    assert_close(sqrt(packing[2] * packing[3]), 0.71, 0.0, 0.006);
    assert_close(packing[4], 0.80, 0.0, 0.006);
    assert_true(packing[5] > 0.907);
}

/* --- given widths -------------------------------------------------------------------------------------------- */

/* 1067 as a PCB fabricator's public forum measures it: 225 and 315 um, 1.4 mil. */
static void two_widths_share_the_packing_that_fills_the_thickness(void **state)
{
    (void)state;
    struct recipe recipe = {70, 70, 5.51, 5.51, 225, 0, 315, 0, 2, 35};
    struct ww_style style = cloth_closed(&recipe);
    double glass = 5.51e-6 / 2580.0;
    assert_conserved(&style);
    assert_close(style.warp.packing, style.fill.packing, 1e-12, 0.0);
    assert_close(style.warp.packing, (glass / 225e-6 + glass / 315e-6) / (WW_PI / 4.0 * 35e-6), 1e-12, 0.0);
    assert_close(style.warp.packing, 0.592, 0.001, 0.0);
}

static void a_width_is_held_at_the_pitch(void **state)
{
    (void)state;
    /* Thin for its glass: the fill would be 445 um wide on a pitch of 438. */
    struct recipe one = {60, 58, 22.05, 22.05, 0, 0, 0, 0, 2, 73};
    struct ww_style style = cloth_closed(&one);
    assert_close(style.fill.width.value, 0.0254 / 58, 1e-15, 0.0);
    assert_true(style.warp.width.value < 0.0254 / 60);
    assert_close(style.warp.packing, 0.71, 1e-12, 0.0);
    assert_conserved(&style);
    /* Thinner still: both are held, and the packing gives. */
    struct recipe both = {60, 58, 22.05, 22.05, 0, 0, 0, 0, 2, 66};
    style = cloth_closed(&both);
    assert_close(style.warp.width.value, 0.0254 / 60, 1e-15, 0.0);
    assert_close(style.fill.width.value, 0.0254 / 58, 1e-15, 0.0);
    assert_true(style.warp.packing > 0.71);
    assert_conserved(&style);
    /* And thinner than any packing allows. */
    struct recipe none = {60, 58, 22.05, 22.05, 0, 0, 0, 0, 2, 40};
    refused(&none, "does not fit");
}

static void given_heights_may_miss_the_thickness_by_their_rounding_only(void **state)
{
    (void)state;
    struct recipe near = {60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 53};
    struct ww_style style = cloth_closed(&near);
    assert_close(style.thickness.value, 52e-6, 1e-12, 0.0);
    struct recipe far = {60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 57};
    refused(&far, "add up to 52 um");
}

/* --- moving a figure ---------------------------------------------------------------------------------------- */

static void a_moved_figure_keeps_the_glass(void **state)
{
    (void)state;
    static const struct recipe recipe[] = {
        {60, 47, 11.2, 11.2, 0, 0, 0, 0, 2, 53},      /* all closed */
        {70, 70, 5.51, 5.51, 225, 0, 315, 0, 2, 35},  /* heights closed */
        {60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 0}, /* heights given */
    };
    for (size_t n = 0; n < sizeof recipe / sizeof *recipe; n++)
        for (int figure = 0; figure < WW_STYLE_FIGURES; figure++) {
            struct ww_style style = cloth_closed(&recipe[n]), still, moved;
            struct ww_error error = {0};
            assert_ok(ww_style_move(&still, &style, (enum ww_style_figure)figure, 0.0, &error), error);
            assert_close(still.warp.height.value, style.warp.height.value, 1e-12, 0.0);
            assert_close(still.fill.width.value, style.fill.width.value, 1e-12, 0.0);
            assert_ok(ww_style_move(&moved, &style, (enum ww_style_figure)figure, -0.1, &error), error);
            assert_conserved(&moved);
            assert_close(moved.warp.width.value / style.warp.width.value, figure == WW_WARP_WIDTH ? 0.9 : 1.0, 1e-12,
                         0.0);
            assert_close(moved.fill.width.value / style.fill.width.value, figure == WW_FILL_WIDTH ? 0.9 : 1.0, 1e-12,
                         0.0);
            assert_close(moved.thickness.value / style.thickness.value, figure == WW_CLOTH_THICKNESS ? 0.9 : 1.0,
                         1e-12, 0.0);
            if (n == 2 && figure != WW_CLOTH_THICKNESS)
                assert_close(moved.warp.height.value, 27 * UM, 1e-12, 0.0);
            if (n < 2)
                assert_close(moved.warp.packing, moved.fill.packing, 1e-12, 0.0);
        }
    struct ww_style style = cloth_closed(&recipe[0]), moved;
    assert_int_equal(ww_style_move(&moved, &style, WW_WARP_WIDTH, 0.9, NULL), WW_UNPHYSICAL); /* beyond the pitch */
    assert_memory_equal(&moved, &style, sizeof moved);
}

/* Written and read back, a width that was closed to the pitch may be its last digit wider. */
static void yarns_touch_within_rounding(void **state)
{
    (void)state;
    struct recipe recipe = {60, 81, 11.2, 11.2, 0, 0, 313, 0, 2, 52};
    struct ww_style style = cloth_given(&recipe);
    struct ww_error error = {0};
    double pitch = 1.0 / style.fill_count.value;
    style.fill.width.value = nextafter(pitch, 1.0);
    assert_ok(ww_style_close(&style, &error), error);
    assert_close(style.fill.width.value, pitch, 0.0, 0.0);
    style.fill.width.value = 1.0001 * pitch;
    assert_int_equal(ww_style_close(&style, &error), WW_UNPHYSICAL);
}

/* --- what cannot be -------------------------------------------------------------------------------------------- */

static void impossible_cloth_is_refused_with_the_reason(void **state)
{
    (void)state;
    /* The same forum's 106: its widths and its 1.3 mil exclude each other. */
    struct recipe no_room = {56, 56, 5.51, 5.51, 122, 0, 259, 0, 2, 33};
    refused(&no_room, "would be packed 0.99");
    struct recipe wide = {60, 47, 11.2, 11.2, 610, 0, 330, 0, 2, 53};
    refused(&wide, "warp width 610 um is wider than the warp pitch 423 um; give a width up to 423 um");
    struct recipe wide_fill = {60, 47, 11.2, 11.2, 300, 0, 541, 0, 2, 53};
    refused(&wide_fill, "fill width 541 um is wider than the fill pitch 540 um; give a width up to 540 um");
    struct recipe rounded_up = {60, 81, 11.2, 11.2, 300, 0, 314, 0, 2, 52}; /* a pitch of 313.58 um */
    refused(&rounded_up, "the fill pitch 314 um; give a width up to 313 um");
    struct recipe small = {60, 47, 11.2, 11.2, 100, 20, 330, 25, 2, 0};
    refused(&small, "does not fit");
    struct recipe high = {60, 47, 11.2, 11.2, 0, 60, 0, 0, 2, 53};
    refused(&high, "no room is left for the fill");
    struct recipe narrow = {60, 47, 11.2, 11.2, 100, 0, 0, 0, 2, 53};
    refused(&narrow, "no room is left for the fill");
    struct recipe flat = {60, 47, 11.2, 11.2, 0, 0, 0, 0, 21, 53};
    refused(&flat, "shape 21 is outside 1 to 20");
}

static void packing_just_within_the_closest_is_taken(void **state)
{
    (void)state;
    double area = 11.2e-6 / 2580.0, most = WW_PI / (2.0 * sqrt(3.0));
    double height = area / (WW_PI / 4.0 * 200e-6 * most) / UM;
    struct recipe fits = {60, 47, 11.2, 11.2, 200, height * 1.001, 330, 25, 2, 0};
    struct ww_style style = cloth_closed(&fits);
    assert_close(style.warp.packing, most / 1.001, 1e-12, 0.0);
    struct recipe over = {60, 47, 11.2, 11.2, 200, height * 0.999, 330, 25, 2, 0};
    refused(&over, "does not fit");
}

static void numbers_that_are_no_sizes_are_refused(void **state)
{
    (void)state;
    static const double bad[] = {-1.0, NAN, INFINITY};
    for (size_t n = 0; n < sizeof bad / sizeof *bad; n++) {
        for (size_t field = 0; field < sizeof(struct recipe) / sizeof(double); field++) {
            struct recipe recipe = {60, 47, 11.2, 11.2, 300, 27, 330, 25, 2, 52};
            ((double *)&recipe)[field] = bad[n];
            refused(&recipe, "positive number");
        }
    }
    struct recipe missing = {60, 47, 11.2, 0, 300, 27, 330, 25, 2, 52};
    refused(&missing, "linear density of the fill");
    struct ww_style style = cloth_given(&open_cloth);
    style.glass.density = 0.0;
    assert_int_equal(ww_style_close(&style, NULL), WW_UNPHYSICAL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_superellipse_has_the_area_of_its_integral),
        cmocka_unit_test(weight_is_counts_times_yarns),
        cmocka_unit_test(every_subset_closes_or_says_why_not),
        cmocka_unit_test(closing_twice_changes_nothing),
        cmocka_unit_test(each_kind_has_its_packing_and_ratio),
        cmocka_unit_test(unequal_yarns_close_by_flatness),
        cmocka_unit_test(closed_widths_are_those_known_as_near_as_is_stated),
        cmocka_unit_test(the_rule_is_the_mean_of_what_is_known),
        cmocka_unit_test(two_widths_share_the_packing_that_fills_the_thickness),
        cmocka_unit_test(a_width_is_held_at_the_pitch),
        cmocka_unit_test(given_heights_may_miss_the_thickness_by_their_rounding_only),
        cmocka_unit_test(a_moved_figure_keeps_the_glass),
        cmocka_unit_test(yarns_touch_within_rounding),
        cmocka_unit_test(impossible_cloth_is_refused_with_the_reason),
        cmocka_unit_test(packing_just_within_the_closest_is_taken),
        cmocka_unit_test(numbers_that_are_no_sizes_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
