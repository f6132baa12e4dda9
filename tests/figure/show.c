/* tests/figure/show.c - draw every figure from made-up data into a folder, for eyes to judge.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdio.h>
#include <string.h>

#include "example.h"
#include "sweeps.h"

static struct example example;
static struct sweeps sweeps;

static int report(enum ww_status status, const struct ww_error *error)
{
    char text[1400];

    if (status == WW_OK)
        return 0;
    ww_error_format(error, text, sizeof text);
    fprintf(stderr, "%s\n", text);
    return 1;
}

static int draw_sweeps(const char *folder, const char *tag, double strength, double budget, size_t styles)
{
    const char *ending = ww_figure_format_name(example.options.format);
    struct ww_error error = {0};
    char path[600];
    int bad = 0;

    sweeps_init(&sweeps, strength, budget, styles);
    struct ww_figure_angles angles = sweeps_angles(&sweeps);
    struct ww_figure_lengths lengths = sweeps_lengths(&sweeps);
    struct ww_figure_compare compare = sweeps_compare(&sweeps);
    struct ww_figure_pitch pitch = sweeps_pitch(&sweeps);
    snprintf(path, sizeof path, "%s/%s-angles.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_angles(path, &example.options, &angles, &error), &error);
    snprintf(path, sizeof path, "%s/%s-lengths.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_lengths(path, &example.options, &lengths, &error), &error);
    snprintf(path, sizeof path, "%s/%s-compare.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_compare(path, &example.options, &compare, &error), &error);
    snprintf(path, sizeof path, "%s/%s-compare-angles.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_compare_angles(path, &example.options, &compare, &error), &error);
    snprintf(path, sizeof path, "%s/%s-compare-dk.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_compare_dk(path, &example.options, &compare, &error), &error);
    snprintf(path, sizeof path, "%s/%s-pitch.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_pitch(path, &example.options, &pitch, &error), &error);
    snprintf(path, sizeof path, "%s/%s-null.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_null(path, &example.options, &pitch, &error), &error);
    sweeps_clear(&sweeps);
    return bad;
}

static int draw_all(const char *folder, const char *tag, double budget)
{
    const char *ending = ww_figure_format_name(example.options.format);
    struct ww_figure_dk dk = example_dk(&example);
    struct ww_figure_skew skew = example_skew(&example);
    struct ww_figure_profile profile = example_profile(&example);
    struct ww_figure_distribution distribution = example_distribution(&example, budget);
    struct ww_figure_section section = example_section(&example);
    struct ww_figure_along along = example_along(&example);
    struct ww_figure_via via = example_via(&example);
    struct ww_error error = {0};
    char path[600];
    int bad = 0;

    snprintf(path, sizeof path, "%s/%s-dk.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_dk(path, &example.options, &dk, &error), &error);
    snprintf(path, sizeof path, "%s/%s-skew.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_skew(path, &example.options, &skew, &error), &error);
    snprintf(path, sizeof path, "%s/%s-profile.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_profile(path, &example.options, &profile, &error), &error);
    snprintf(path, sizeof path, "%s/%s-distribution.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_distribution(path, &example.options, &distribution, &error), &error);
    snprintf(path, sizeof path, "%s/%s-section.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_section(path, &example.options, &section, &error), &error);
    snprintf(path, sizeof path, "%s/%s-along.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_along(path, &example.options, &along, &error), &error);
    snprintf(path, sizeof path, "%s/%s-via.%s", folder, tag, ending);
    bad |= report(ww_figure_draw_via(path, &example.options, &via, &error), &error);
    return bad;
}

int main(int argc, char **argv)
{
    int bad = 0;

    if (argc != 2) {
        fprintf(stderr, "give the folder to draw into\n");
        return 2;
    }
    example_init(&example, 0, 1.9e-12);
    bad |= draw_all(argv[1], "plain", 1.5e-12);
    bad |= draw_sweeps(argv[1], "plain", 1, 1.5e-12, 6);
    example.options.format = WW_FIGURE_SVG;
    bad |= draw_all(argv[1], "plain", 1.5e-12);
    bad |= draw_sweeps(argv[1], "plain", 1, 1.5e-12, 6);
    example.options.format = WW_FIGURE_PDF;
    bad |= draw_all(argv[1], "plain", 1.5e-12);
    bad |= draw_sweeps(argv[1], "plain", 1, 1.5e-12, 6);
    example_clear(&example);

    example_init(&example, 0.61, 0.043e-12);
    example.options.title =
        "A link with a very long name that somebody typed in full, with the board, the layer, the "
        "revision, the date and the customer's own number of the drawing in it";
    example.options.conditions =
        "1080 in low-loss (Dk 3.2), two plies of 100 \xc2\xb5m; pair 100/220 \xc2\xb5m, 50 mm at 35\xc2\xb0 from the "
        "warp; turn 2\xc2\xb0; 112 Gb/s; and more conditions than one line holds, so that the second line is needed, "
        "and even that is not enough for all of them, so it ends in an ellipsis before the margin";
    bad |= draw_all(argv[1], "long", 0);
    bad |= draw_sweeps(argv[1], "long", 0.01, 0, SWEEP_STYLES);
    example.options.width = 800;
    bad |= draw_all(argv[1], "half", 2e-12);
    bad |= draw_sweeps(argv[1], "half", 3, 2e-12, SWEEP_STYLES);
    example_clear(&example);
    return bad;
}
