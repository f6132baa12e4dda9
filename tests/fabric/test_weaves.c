/* Reading styles and materials: what is understood, what is refused and with which line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "cloth.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

static const char glass_e[] = "[glass E]\ndk = 6.3\ndf = 0.004\ndensity = 2.58 g/cm3\n";

/* A style of which each test changes a line. */
static const char style_head[] = "[style T1]\n"
                                 "warp_count = 60 /in\n"
                                 "fill_count = 47 /in\n"
                                 "warp_yarn = 11.2 tex\n"
                                 "fill_yarn = D450 1/0\n"
                                 "glass = E\n"; /* line 6 */

static enum ww_status read_style(const char *lines, struct ww_style *style, struct ww_error *error)
{
    char text[8192];
    struct ww_weaves weaves;
    snprintf(text, sizeof text, "%s%s%s", style_head, lines, glass_e);
    struct ww_settings settings = cloth_settings(text);
    assert_ok(ww_weaves_open(&weaves, NULL, &settings, error), *error);
    enum ww_status status = ww_weaves_style(&weaves, "T1", style, error);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
    return status;
}

static void refused(const char *lines, enum ww_status status, int line, const char *part)
{
    static const struct ww_style none;
    struct ww_style style = {.name = "left"};
    struct ww_error error = {0};
    enum ww_status got = read_style(lines, &style, &error);
    if (got != status)
        fail_msg("status %d, not %d, for \"%.80s\": %s", got, status, lines, error.text);
    assert_contains(error.text, part);
    assert_string_equal(error.file, "cloth.ini");
    assert_int_equal(error.line, line);
    assert_memory_equal(&style, &none, sizeof none); /* left zeroed */
}

static void a_style_is_read_closed_and_knows_its_sources(void **state)
{
    (void)state;
    struct ww_style style;
    struct ww_error error = {0};
    assert_ok(read_style("kind = spread\n"
                         "warp_width = 300 um\n"
                         "warp_width.source = a section under the microscope\n"
                         "thickness = 2 mil\n"
                         "thickness.source = from memory, low confidence\n"
                         "weight = 47.2 g/m2\n"
                         "fill_yarn.source = a data sheet\n"
                         "shape = 2.5\n"
                         "note = a test\n",
                         &style, &error),
              error);
    assert_string_equal(style.name, "T1");
    assert_string_equal(style.file, "cloth.ini");
    assert_string_equal(style.note, "a test");
    assert_int_equal(style.kind, WW_SPREAD);
    assert_close(style.warp_count.value, 60 / 0.0254, 1e-14, 0.0);
    assert_int_equal(style.warp_count.origin, WW_USER);
    assert_int_equal(style.warp_count.line, 2);
    assert_int_equal(style.warp.width.origin, WW_FOUND);
    assert_string_equal(style.warp.width.source, "a section under the microscope");
    assert_int_equal(style.thickness.origin, WW_MEMORY);
    assert_close(style.thickness.value, 50.8e-6, 1e-12, 0.0);
    assert_int_equal(style.warp.tex.origin, WW_USER);
    assert_int_equal(style.fill.tex.origin, WW_DERIVED);
    assert_string_equal(style.fill.tex.source, "a data sheet");
    assert_string_equal(style.fill.code, "D450");
    assert_int_equal(style.fill.width.origin, WW_CLOSED);
    assert_close(style.shape.value, 2.5, 1e-15, 0.0);
    assert_close(style.glass.density, 2580.0, 1e-14, 0.0);
    assert_close(style.glass.dk, 6.3, 1e-14, 0.0);
    assert_close(style.warp.glass_area, 11.2e-6 / 2580.0, 1e-14, 0.0);
}

static void the_source_of_the_section_speaks_for_what_names_none(void **state)
{
    (void)state;
    struct ww_style style;
    struct ww_error error = {0};
    assert_ok(read_style("source = from memory\nthickness = 53 um\nweight = 47 g/m2\nweight.source = a data sheet\n",
                         &style, &error),
              error);
    assert_int_equal(style.thickness.origin, WW_MEMORY);
    assert_int_equal(style.warp_count.origin, WW_MEMORY);
    assert_int_equal(style.weight.origin, WW_FOUND);
    assert_string_equal(style.source, "from memory");
}

static void each_kind_of_cloth_has_a_name(void **state)
{
    (void)state;
    for (enum ww_weave_kind kind = WW_PLAIN; kind <= WW_OPEN; kind++) {
        struct ww_style style;
        struct ww_error error = {0};
        char lines[80];
        snprintf(lines, sizeof lines, "thickness = 53 um\nkind = %s\n", ww_weave_kind_name(kind));
        assert_ok(read_style(lines, &style, &error), error);
        assert_int_equal(style.kind, kind);
    }
    for (enum ww_origin origin = WW_ABSENT; origin <= WW_USER; origin++)
        for (enum ww_origin other = WW_ABSENT; other < origin; other++)
            assert_string_not_equal(ww_origin_name(origin), ww_origin_name(other));
}

/* A closed figure that is written down with its source is still a closed one when read. */
static void a_closed_figure_stays_closed_through_a_file(void **state)
{
    (void)state;
    struct ww_style first, second;
    struct ww_error error = {0};
    char lines[2000];
    assert_ok(read_style("thickness = 53 um\n", &first, &error), error);
    snprintf(lines, sizeof lines,
             "thickness = 53 um\nwarp_width = %.17g m\nwarp_width.source = %s\nfill_height = %.17g m\n"
             "fill_height.source = %s\n",
             first.warp.width.value, first.warp.width.source, first.fill.height.value, first.fill.height.source);
    assert_ok(read_style(lines, &second, &error), error);
    assert_int_equal(second.warp.width.origin, WW_CLOSED);
    assert_close(second.warp.height.value, first.warp.height.value, 1e-12, 0.0);
    assert_close(second.fill.width.value, first.fill.width.value, 1e-12, 0.0);
}

/* Closed 15 %, memory 10 %, found and given 3 %, or what the file says, of a figure that is left out too. */
static void figures_know_how_well_they_are_known(void **state)
{
    (void)state;
    struct ww_style style;
    struct ww_error error = {0};
    assert_ok(read_style("warp_width = 300 um\n"
                         "warp_width.source = a section under the microscope\n"
                         "fill_width.uncertainty = 8 %\n"
                         "thickness = 53 um\n"
                         "thickness.source = from memory\n",
                         &style, &error),
              error);
    assert_close(ww_style_uncertainty(&style, WW_WARP_WIDTH), 0.03, 1e-15, 0.0);
    assert_close(ww_style_uncertainty(&style, WW_FILL_WIDTH), 0.08, 1e-15, 0.0);
    assert_int_equal(style.fill.width.origin, WW_CLOSED);
    assert_close(ww_style_uncertainty(&style, WW_CLOTH_THICKNESS), 0.10, 1e-15, 0.0);
    assert_close(ww_datum_uncertainty(&style.fill.height), 0.15, 1e-15, 0.0);
    assert_close(style.glass.dk_uncertainty, 0.06, 1e-15, 0.0);
    /* a thickness that is the sum of given heights is known as they are */
    assert_ok(read_style("warp_width = 300 um\nwarp_height = 27 um\nfill_width = 330 um\nfill_height = 25 um\n"
                         "fill_height.uncertainty = 5 %\n",
                         &style, &error),
              error);
    assert_close(ww_style_uncertainty(&style, WW_CLOTH_THICKNESS), 0.05, 1e-15, 0.0);
    refused("thickness = 53 um\nwarp_width.uncertainty = 8\n", WW_INVALID, 8, "0 % to 50 %");
    refused("thickness = 53 um\nwarp_width.uncertainty = -1 %\n", WW_INVALID, 8, "0 % to 50 %");
    refused("thickness = 53 um\nwarp_width.uncertainty = 8 um\n", WW_MALFORMED, 8, "warp_width.uncertainty");
    refused("thickness = 53 um\nshape.uncertainty = 8 %\n", WW_MALFORMED, 8, "has no key");
    refused("thickness = 53 um\nwarp_width.uncertianty = 8 %\n", WW_MALFORMED, 8, "\"warp_width.uncertainty\"");
}

static void a_shape_that_is_not_given_is_an_ellipse(void **state)
{
    (void)state;
    struct ww_style style;
    struct ww_error error = {0};
    assert_ok(read_style("thickness = 53 um\n", &style, &error), error);
    assert_close(style.shape.value, 2.0, 0.0, 0.0);
    assert_int_equal(style.shape.origin, WW_CLOSED);
}

static void slips_are_refused_with_line_and_remedy(void **state)
{
    (void)state;
    refused("thickness = 53 um\nweave = twill\n", WW_INVALID, 8, "only plain weave is modelled");
    refused("thickness = 53 um\nkind = 8-harness satin\n", WW_INVALID, 8, "only plain weave is modelled");
    refused("thickness = 53 um\nwarp_widht = 300 um\n", WW_MALFORMED, 8, "did you mean \"warp_width\"");
    refused("thickness = 53 um\nthickness.sorce = x\n", WW_MALFORMED, 8, "did you mean \"thickness.source\"");
    refused("colour = green\n", WW_MALFORMED, 7, "its keys are kind, warp_count");
    refused("glass.source = x\n", WW_MALFORMED, 7, "no key");
    refused("thickness = 53 um\nthickness = 54 um\n", WW_MALFORMED, 8, "given twice, first in line 7");
    refused("warp_width.source = a book\n", WW_MALFORMED, 7, "give warp_width, or remove the line");
    refused("thickness = 53\n", WW_MALFORMED, 7, "lacks its unit");
    refused("thickness = 53 ps\n", WW_MALFORMED, 7, "um");
    refused("thickness = nan\n", WW_MALFORMED, 7, "thickness: ");
    refused("thickness = 0x35 um\n", WW_MALFORMED, 7, "thickness: ");
    refused("thickness = inf um\n", WW_MALFORMED, 7, "thickness: ");
    refused("thickness = -53 um\n", WW_INVALID, 7, "-53 um is out of range; give 1 um to 10 mm");
    refused("thickness = 0 um\n", WW_INVALID, 7, "out of range");
    refused("thickness = 53 m\n", WW_INVALID, 7, "out of range");
    refused("shape = 0.5\n", WW_INVALID, 7, "give 1 to 20");
    refused("kind = loose\n", WW_MALFORMED, 7, "plain, spread or open");
    refused("thickness = 53 um\nwarp_width = 610 um\n", WW_UNPHYSICAL, 8,
            "warp width 610 um is wider than the warp pitch 423 um; give a width up to 423 um");
    refused("thickness = 10 um\n", WW_UNPHYSICAL, 0, "does not fit");
    refused("", WW_UNPHYSICAL, 0, "without the thickness");
}

static void long_text_is_refused_not_cut(void **state)
{
    (void)state;
    char lines[1200], long_text[700];
    memset(long_text, 'x', sizeof long_text - 1);
    long_text[sizeof long_text - 1] = '\0';
    snprintf(lines, sizeof lines, "note = %s\n", long_text);
    refused(lines, WW_MALFORMED, 7, "give at most 511");
    snprintf(lines, sizeof lines, "thickness = 53 um\nthickness.source = %.400s\n", long_text);
    refused(lines, WW_MALFORMED, 8, "give at most 239");
    snprintf(lines, sizeof lines, "source = %.400s\n", long_text);
    refused(lines, WW_MALFORMED, 7, "give at most 239");
}

/* --- sections of a study ------------------------------------------------------------------------------------------ */

static enum ww_status read_local(const char *text, const char *name, struct ww_error *error)
{
    struct ww_settings settings = cloth_settings(text);
    struct ww_weaves weaves;
    struct ww_style style;
    assert_ok(ww_weaves_open(&weaves, NULL, &settings, error), *error);
    enum ww_status status = ww_weaves_style(&weaves, name, &style, error);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
    return status;
}

static void what_is_missing_is_named(void **state)
{
    (void)state;
    struct ww_error error = {0};
    assert_int_equal(read_local("[style T1]\nwarp_count = 60 /in\n", "T1", &error), WW_INVALID);
    assert_contains(error.text, "lacks fill_count");
    assert_contains(error.text, "fill_count = 47 /in");
    assert_int_equal(error.line, 1);
    assert_int_equal(read_local("; bare\n[style T1]\n", "T1", &error), WW_INVALID); /* a header and nothing else */
    assert_contains(error.text, "lacks warp_count");
    assert_int_equal(error.line, 2);
    /* The glass is to blame only where it is wrong itself. */
    char text[1024];
    snprintf(text, sizeof text, "%sthickness = 53 um\n[glass EE]\ndk = 6\n", style_head);
    assert_int_equal(read_local(text, "T1", &error), WW_INVALID);
    assert_contains(error.text, "there is no glass \"E\"; there is EE");
    assert_int_equal(error.line, 6);
    snprintf(text, sizeof text, "%sthickness = 53 um\n[glass E]\ndk = 6\n", style_head);
    assert_int_equal(read_local(text, "T1", &error), WW_INVALID);
    assert_contains(error.text, "lacks df");
    assert_int_equal(error.line, 8);
    snprintf(text, sizeof text, "%sthickness = 53 um\n[glass E]\ndk = 0.5\ndf = 0.1\ndensity = 2 g/cm3\n",
             style_head);
    assert_int_equal(read_local(text, "T1", &error), WW_INVALID);
    assert_contains(error.text, "dk 0.5 is out of range; give 1 to 100");
}

static void names_that_do_not_exist_bring_up_the_close_ones(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_style style;
    struct ww_glass glass;
    struct ww_resin resin;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_int_equal(ww_weaves_style(&weaves, "1081", &style, &error), WW_INVALID);
    assert_contains(error.text, "there is no style \"1081\"");
    assert_contains(error.text, "1080");
    assert_int_equal(ww_weaves_style(&weaves, "2116-spred", &style, &error), WW_INVALID);
    assert_contains(error.text, "2116-spread");
    assert_int_equal(ww_weaves_style(&weaves, "XYZZY", &style, &error), WW_INVALID);
    assert_contains(error.text, "a list of"); /* none is near, and there are too many for a line */
    assert_contains(error.text, "from 101 to 7642");
    assert_int_equal(ww_weaves_glass(&weaves, "quarz", &glass, &error), WW_INVALID);
    assert_contains(error.text, "quartz");
    assert_int_equal(ww_weaves_resin(&weaves, "epoxi", &resin, &error), WW_INVALID);
    assert_contains(error.text, "there is no resin \"epoxi\"; there is epoxy");
    assert_int_equal(ww_weaves_resin(&weaves, "zzzzzz", &resin, &error), WW_INVALID);
    assert_contains(error.text, "ptfe"); /* none is near: all of them */
    assert_contains(error.text, "polyimide");
    ww_weaves_close(&weaves);
    ww_weaves_close(&weaves);
}

static void a_name_is_never_a_path(void **state)
{
    (void)state;
    static const char *const hostile[] = {
        "../styles/1080",
        "/etc/passwd",
        "..",
        ".",
        "",
        "1080/",
        "a\nb",
        "1080.ini/..",
        "a name much longer than any name of a style that was ever woven by anybody"};
    struct ww_error error = {0};
    struct ww_weaves weaves;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    for (size_t n = 0; n < sizeof hostile / sizeof *hostile; n++) {
        struct ww_style style;
        struct ww_glass glass;
        assert_int_equal(ww_weaves_style(&weaves, hostile[n], &style, &error), WW_INVALID);
        assert_contains(error.text, "there is no style");
        assert_int_equal(ww_weaves_glass(&weaves, hostile[n], &glass, &error), WW_INVALID);
        assert_null(strchr(error.text, '\n'));
    }
    ww_weaves_close(&weaves);
}

static void sections_of_a_study_come_first(void **state)
{
    (void)state;
    struct ww_settings settings = cloth_settings("[resin epoxy]\ndk = 3.1\ndf = 0.01\n"
                                                 "[glass E]\ndk = 6.0\ndf = 0.001\ndensity = 2.6 g/cm3\n"
                                                 "[style 2116]\nwarp_count = 60 /in\nfill_count = 58 /in\n"
                                                 "warp_yarn = E225\nfill_yarn = E225\nthickness = 100 um\nglass = E\n"
                                                 "[style Z9]\nwarp_count = 60 /in\n");
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_style style;
    struct ww_resin resin;
    struct ww_names names;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", &settings, &error), error);
    assert_ok(ww_weaves_style(&weaves, "2116", &style, &error), error);
    assert_close(style.thickness.value, 100e-6, 1e-12, 0.0);
    assert_ok(ww_weaves_style(&weaves, "1080", &style, &error), error); /* of the folder, with the study's glass */
    assert_close(style.glass.dk, 6.0, 1e-14, 0.0);
    assert_ok(ww_weaves_resin(&weaves, "epoxy", &resin, &error), error);
    assert_close(resin.dk, 3.1, 1e-14, 0.0);
    assert_close(resin.density, 0.0, 0.0, 0.0);
    assert_ok(ww_weaves_resin(&weaves, "ppe", &resin, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count > 30);
    assert_string_equal(names.name[0], "101");
    assert_string_equal(names.name[names.count - 1], "Z9");
    for (size_t n = 1; n < names.count; n++) /* 2116 is there once */
        assert_string_not_equal(names.name[n - 1], names.name[n]);
    ww_names_clear(&names);
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
}

/* --- shipped styles, changed ---------------------------------------------------------------------------------------- */

static struct ww_style changed(const char *section, const char *name)
{
    struct ww_settings settings = cloth_settings(section);
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_style style;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", &settings, &error), error);
    assert_ok(ww_weaves_style(&weaves, name, &style, &error), error);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
    return style;
}

static void a_section_changes_single_figures_of_a_shipped_style(void **state)
{
    (void)state;
    struct ww_style shipped = changed("", "1078");
    struct ww_style style = changed("[style 1078]\nwarp_width.source = a section\nwarp_width = 250 um\n", "1078");
    assert_close(style.warp.width.value, 250e-6, 1e-14, 0);
    assert_string_equal(style.warp.width.source, "a section");
    assert_int_equal(style.warp.width.origin, WW_FOUND);
    assert_int_equal(style.warp.width.line, 3);
    assert_false(style.warp.width.stated);
    assert_close(style.fill.width.value, shipped.fill.width.value, 0, 0);
    assert_string_equal(style.fill.width.source, shipped.fill.width.source);
    assert_int_equal(style.fill.width.origin, shipped.fill.width.origin);
    assert_close(style.warp.tex.value, shipped.warp.tex.value, 0, 0);
    assert_string_equal(style.warp.code, shipped.warp.code);
    assert_int_equal(style.kind, shipped.kind);
    assert_string_equal(style.file, "cloth.ini");
    assert_int_equal(style.fill.width.line, 0); /* of another file */
}

/* The glass of the yarns keeps its room, so that a denser one weighs more: "1080/NE" and a changed section are one style. */
static void another_glass_keeps_the_filaments(void **state)
{
    (void)state;
    struct ww_style e = changed("", "1080"), ne = changed("", "1080/NE");
    struct ww_style own = changed("[style 1080]\nglass = NE\n", "1080");
    assert_string_equal(ne.name, "1080/NE");
    assert_string_equal(ne.glass.name, "NE");
    assert_string_equal(own.glass.name, "NE");
    assert_close(ne.warp.glass_area, e.warp.glass_area, 1e-12, 0);
    assert_close(own.warp.glass_area, e.warp.glass_area, 1e-12, 0);
    assert_close(ne.warp.width.value, e.warp.width.value, 1e-12, 0);
    assert_close(ww_style_weight(&ne), ww_style_weight(&e) * 2.30 / 2.58, 1e-12, 0);
    assert_string_equal(ne.warp.code, ""); /* codes are of E glass */
    struct ww_style given = changed("[style 1080]\nglass = NE\nwarp_yarn = 10 tex\n", "1080");
    assert_close(given.warp.tex.value, 10e-6, 1e-12, 0);
    assert_close(given.fill.glass_area, e.fill.glass_area, 1e-12, 0);
    struct ww_style whole = changed("[style 1080/NE]\nwarp_count = 50 /in\nfill_count = 47 /in\nwarp_yarn = 9 tex\n"
                                    "fill_yarn = 9 tex\nthickness = 53 um\nglass = L\n",
                                    "1080/NE");
    assert_string_equal(whole.glass.name, "L"); /* a name of its own comes first */
}

/* Once such a style was taken, and the study that was saved with it could not be read back. */
static void a_glass_whose_yarns_weigh_what_none_may_is_refused(void **state)
{
    (void)state;
    struct ww_settings settings =
        cloth_settings("[style 1080]\nwarp_yarn = 0.2 tex\n[glass foam]\ndk = 5\ndf = 0\ndensity = 0.1 g/cm3\n");
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_style style;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", &settings, &error), error);
    assert_int_equal(ww_weaves_style(&weaves, "1080/foam", &style, &error), WW_INVALID);
    assert_non_null(strstr(error.text, "a warp yarn has 0.00775194 tex, outside 0.01 to 10000 tex"));
    assert_close(style.warp.tex.value, 0, 0, 0);
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
}

/* What is closed is held to the bounds of what is given: such a study, too, could not be read back. */
static void a_yarn_that_closes_too_flat_is_refused(void **state)
{
    (void)state;
    struct ww_settings settings =
        cloth_settings("[style X]\nwarp_count = 46 /in\nfill_count = 47 /in\nwarp_yarn = 0.75 tex\n"
                       "fill_yarn = D450 1/0\nthickness = 15 um\nglass = E\n");
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_style style;
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", &settings, &error), error);
    assert_int_equal(ww_weaves_style(&weaves, "X", &style, &error), WW_UNPHYSICAL);
    assert_contains(error.text, "style X: the warp yarn's height comes to 936 nm, outside 1 um to 10 mm");
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
}

static void a_pitch_stands_for_a_count(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_style style = changed("[style 1080]\nwarp_pitch = 400 um\nwarp_pitch.source = a photo\n", "1080");
    assert_close(style.warp_count.value, 1 / 400e-6, 1e-12, 0);
    assert_string_equal(style.warp_count.source, "a photo");
    assert_close(style.fill_count.value, 47 / 25.4e-3, 1e-12, 0);
    struct ww_style own = changed("[style P]\nwarp_pitch = 423 um\nfill_pitch = 540 um\nwarp_yarn = 11 tex\n"
                                  "fill_yarn = 11 tex\nthickness = 52 um\nglass = E\n",
                                  "P");
    assert_close(own.fill_count.value, 1 / 540e-6, 1e-12, 0);
    assert_int_equal(read_style("thickness = 52 um\nwarp_pitch = 423 um\n", &style, &error), WW_MALFORMED);
    assert_contains(error.text, "warp_count and warp_pitch are both given");
}

/* From memory: common prepregs 45 to 75 %, thin cloth to 80, heavy cloth from 38. */
static void resin_content_has_limits(void **state)
{
    (void)state;
    struct ww_style thin = changed("", "1035"), common = changed("", "2116"), heavy = changed("", "7628");
    assert_close(ww_style_resin_most(&thin).value, 0.80, 1e-12, 0);
    assert_close(ww_style_resin_least(&common).value, 0.45, 1e-12, 0);
    assert_close(ww_style_resin_most(&common).value, 0.75, 1e-12, 0);
    assert_close(ww_style_resin_least(&heavy).value, 0.38, 1e-12, 0);
    assert_int_equal(ww_style_resin_most(&thin).origin, WW_MEMORY);
    struct ww_style own = changed("[style 1080]\nresin_most = 71 %\nresin_most.source = a sheet\n", "1080");
    assert_close(ww_style_resin_most(&own).value, 0.71, 1e-12, 0);
    assert_string_equal(ww_style_resin_most(&own).source, "a sheet");
    struct ww_style style;
    struct ww_error error = {0};
    assert_int_equal(read_style("thickness = 52 um\nresin_least = 60 %\nresin_most = 50 %\n", &style, &error),
                     WW_INVALID);
    assert_contains(error.text, "exchange them");
}

static void cloths_lie_on_each_other(void **state)
{
    (void)state;
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_cloths *cloths = calloc(1, sizeof *cloths);
    assert_non_null(cloths);
    assert_ok(ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error), error);
    assert_ok(ww_weaves_cloths(&weaves, "1035+2x1078/NE", cloths, &error), error);
    assert_int_equal(cloths->count, 3);
    assert_string_equal(cloths->style[0].name, "1035");
    assert_string_equal(cloths->style[1].name, "1078/NE");
    assert_string_equal(cloths->style[2].name, "1078/NE");
    static const char *const wrong[] = {"0x1080", "9x1080", "5x1080+4x1080", "2x",
                                        "x1080",  "1080+",  "+1080",         "2x2x1080"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        if (ww_weaves_cloths(&weaves, wrong[i], cloths, &error) != WW_INVALID)
            fail_msg("\"%s\" is taken", wrong[i]);
    ww_weaves_close(&weaves);
    free(cloths);
}

/* --- folders ------------------------------------------------------------------------------------------------------- */

static void write_file(const char *folder, const char *name, const char *text)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *stream = fopen(path, "wb");
    assert_non_null(stream);
    assert_true(fputs(text, stream) >= 0);
    assert_int_equal(fclose(stream), 0);
}

static void remove_in(const char *folder, const char *name)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_int_equal(remove(path), 0);
}

static void a_folder_that_is_none_is_refused(void **state)
{
    (void)state;
    char folder[] = "/tmp/weaves-test-XXXXXX", path[64], text[2048];
    struct ww_error error = {0};
    struct ww_weaves weaves;
    struct ww_names names;
    struct ww_style style;
    assert_non_null(mkdtemp(folder));
    assert_int_equal(ww_weaves_open(&weaves, "/nowhere/weaves", NULL, &error), WW_IO);
    assert_contains(error.file, "/nowhere/weaves/materials.ini");
    assert_null(weaves.folder);
    assert_int_equal(ww_weaves_open(&weaves, folder, NULL, &error), WW_IO);

    write_file(folder, "materials.ini", "[glass E\n");
    assert_int_equal(ww_weaves_open(&weaves, folder, NULL, &error), WW_MALFORMED);
    assert_int_equal(error.line, 1);

    write_file(folder, "materials.ini", glass_e);
    assert_ok(ww_weaves_open(&weaves, folder, NULL, &error), error);
    assert_int_equal(ww_weaves_styles(&weaves, &names, &error), WW_IO); /* no styles/ in it */
    assert_null(names.name);

    snprintf(path, sizeof path, "%s/styles", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_int_equal(names.count, 0);
    ww_names_clear(&names);
    assert_int_equal(ww_weaves_style(&weaves, "T1", &style, &error), WW_INVALID);
    assert_contains(error.text, "none is defined");

    snprintf(text, sizeof text, "%sthickness = 53 um\n", style_head);
    write_file(path, "T1.ini", text);
    write_file(path, "T2.ini", text);
    write_file(path, "notes.txt", "no style\n");
    assert_ok(ww_weaves_style(&weaves, "T1", &style, &error), error);
    assert_contains(style.file, "/styles/T1.ini");
    assert_int_equal(ww_weaves_style(&weaves, "T2", &style, &error), WW_MALFORMED); /* file and section disagree */
    assert_contains(error.text, "[style T2]");
    assert_int_equal(error.line, 2);
    snprintf(text, sizeof text, "%sthickness = 53 um\n[glass F]\ndk = 6\n", style_head);
    write_file(path, "T1.ini", text);
    assert_int_equal(ww_weaves_style(&weaves, "T1", &style, &error), WW_MALFORMED); /* nothing else in the file */
    assert_int_equal(error.line, 9);
    write_file(path, "T2.ini", "# nothing\n");
    assert_int_equal(ww_weaves_style(&weaves, "T2", &style, &error), WW_MALFORMED);
    assert_contains(error.file, "/styles/T2.ini");
    assert_contains(error.text, "[style T2]");

    /* what has no style's name, or is no file, is none: a pipe would wait for ever */
    static const char *const stray[] = {"T1 (copy).ini", "[.ini", ".ini", "T\xff.ini", "T4\n.ini"};
    char pipe[96];
    for (size_t i = 0; i < sizeof stray / sizeof *stray; i++)
        write_file(path, stray[i], text);
    snprintf(pipe, sizeof pipe, "%s/T3.ini", path);
    assert_int_equal(mkfifo(pipe, 0600), 0);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_int_equal(names.count, 2);
    ww_names_clear(&names);
    for (size_t i = 0; i < sizeof stray / sizeof *stray; i++)
        remove_in(path, stray[i]);
    remove_in(path, "T3.ini");

    ww_weaves_close(&weaves);
    remove_in(path, "T1.ini");
    remove_in(path, "T2.ini");
    remove_in(path, "notes.txt");
    remove_in(folder, "styles");
    remove_in(folder, "materials.ini");
    assert_int_equal(rmdir(folder), 0);
}

/* --- the table of keys ----------------------------------------------------------------------------------------------- */

/* What the help shows is what the parser takes. */
static void the_examples_of_the_help_make_sections_that_read(void **state)
{
    (void)state;
    static const char *const kind[] = {"glass", "resin", "style"};
    char text[4096] = "";
    for (size_t n = 0; n < 3; n++) {
        const struct ww_key_help *key;
        snprintf(text + strlen(text), sizeof text - strlen(text), "[%s E]\n", kind[n]);
        for (size_t index = 0; (key = ww_weaves_key(kind[n], index)) != NULL; index++) {
            assert_true(key->help[0] != '\0');
            if (strstr(key->help, "in place of")) /* and not beside it */
                continue;
            snprintf(text + strlen(text), sizeof text - strlen(text), "%s = %s ; %s\n", key->key, key->example,
                     key->help);
        }
    }
    struct ww_settings settings = cloth_settings(text);
    struct ww_weaves weaves;
    struct ww_style style;
    struct ww_resin resin;
    struct ww_error error = {0};
    assert_ok(ww_weaves_open(&weaves, NULL, &settings, &error), error);
    assert_ok(ww_weaves_style(&weaves, "E", &style, &error), error);
    assert_ok(ww_weaves_resin(&weaves, "E", &resin, &error), error);
    assert_close(ww_style_weight(&style), style.weight.value, 0.01, 0.0);
    assert_null(ww_weaves_key("style", 1000));
    assert_null(ww_weaves_key("planet", 0));
    ww_weaves_close(&weaves);
    ww_settings_clear(&settings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_style_is_read_closed_and_knows_its_sources),
        cmocka_unit_test(the_source_of_the_section_speaks_for_what_names_none),
        cmocka_unit_test(a_closed_figure_stays_closed_through_a_file),
        cmocka_unit_test(each_kind_of_cloth_has_a_name),
        cmocka_unit_test(figures_know_how_well_they_are_known),
        cmocka_unit_test(a_shape_that_is_not_given_is_an_ellipse),
        cmocka_unit_test(slips_are_refused_with_line_and_remedy),
        cmocka_unit_test(long_text_is_refused_not_cut),
        cmocka_unit_test(what_is_missing_is_named),
        cmocka_unit_test(names_that_do_not_exist_bring_up_the_close_ones),
        cmocka_unit_test(a_name_is_never_a_path),
        cmocka_unit_test(sections_of_a_study_come_first),
        cmocka_unit_test(a_section_changes_single_figures_of_a_shipped_style),
        cmocka_unit_test(another_glass_keeps_the_filaments),
        cmocka_unit_test(a_glass_whose_yarns_weigh_what_none_may_is_refused),
        cmocka_unit_test(a_yarn_that_closes_too_flat_is_refused),
        cmocka_unit_test(a_pitch_stands_for_a_count),
        cmocka_unit_test(resin_content_has_limits),
        cmocka_unit_test(cloths_lie_on_each_other),
        cmocka_unit_test(a_folder_that_is_none_is_refused),
        cmocka_unit_test(the_examples_of_the_help_make_sections_that_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
