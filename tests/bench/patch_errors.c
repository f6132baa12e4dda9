/* How far a walk's local value on a patch of real cloth is from full cross-sections there: over seeds, kinds of line and scatter.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *   patch-errors [SEEDS [PLACES [ALONG]]]    of each seed the largest error at so many places, in percent of the largest value among
 *                                           them, and the rms; a pair's skew, a single trace's delay less its mean. ALONG: each
 *                                            place is so many sections over half a yarn pitch along the trace, as long as a step
 */
#include "../line/structure.h"
#include "correct/correction.h"
#include "line/sections.h"
#include "random.h"
#include "weftwise/patch.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const struct {
    const char *name, *style;
    enum structure_kind kind;
    bool pair;
    double angle, wander, width_variation; /* [deg], [um] */
} asked[] = {
    {"stripline pair, wander", "1080", STRIPLINE, true, 0, 30, 0},
    {"stripline pair at 30 deg, wander and widths", "1080", STRIPLINE, true, 30, 30, 0.03},
    {"stripline pair, widths", "1080", STRIPLINE, true, 0, 0, 0.03},
    {"stripline pair at 90 deg, widths", "1080", STRIPLINE, true, 90, 0, 0.03},
    {"microstrip pair, wander", "1080", MICROSTRIP, true, 0, 30, 0},
    {"microstrip pair at 30 deg, wander and widths", "1080", MICROSTRIP, true, 30, 30, 0.03},
    {"microstrip pair, widths", "1080", MICROSTRIP, true, 0, 0, 0.03},
    {"single stripline, wander", "1080", STRIPLINE, false, 0, 30, 0},
    {"single microstrip, wander", "1080", MICROSTRIP, false, 0, 30, 0},
    {"stripline pair over 2116, wander", "2116", STRIPLINE, true, 0, 30, 0},
};

static void check(enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
    fprintf(stderr, "%s\n", error->text);
    exit(1);
}

/* Of one patch: legs by sections and by the walk at each place. */
static void measure(struct structure *structure, const struct ww_walk *walk, const struct ww_sections *sections,
                    const struct ww_scatter *scatter, size_t places, size_t along, bool pair, double *largest,
                    double *rms)
{
    struct ww_layer *ply = &structure->layer[structure->stack.ply[0].layer];
    struct ww_error error = {0};
    struct ww_patch *patch;
    struct random random = random_of(9);
    double *want = calloc(places, sizeof *want), *got = calloc(places, sizeof *got), mean[2] = {0}, most = 0,
           worst = 0;
    check(ww_patch_create(&patch, &ply->style, scatter, 30e-3, 30e-3, 0, &error), &error);
    double step = 0.25 * fmin(structure->stack.ply[0].cell.lx, structure->stack.ply[0].cell.ly);
    ply->patch = patch;
    for (size_t n = 0; n < places; n++) {
        double place[1][2] = {{random_between(&random, 0, 30e-3), random_between(&random, 0, 30e-3)}}, leg[2], own[2];
        for (size_t a = 0; a < along; a++) {
            double by = ((double)a + 0.5) / (double)along * step;
            const double here[1][2] = {
                {place[0][0] + by * sin(sections->angle), place[0][1] + by * cos(sections->angle)}};
            check(ww_sections_legs(sections, here, 1e-3, leg, &error), &error);
            ww_walk_slowness(walk, 0, patch, here[0][0], here[0][1], own);
            want[n] += (pair ? leg[0] - leg[1] : leg[0]) / (double)along;
            got[n] += (pair ? own[0] - own[1] : own[0]) / (double)along;
        }
        mean[0] += pair ? 0 : want[n] / (double)places;
        mean[1] += pair ? 0 : got[n] / (double)places;
    }
    ply->patch = NULL;
    *rms = 0;
    for (size_t n = 0; n < places; n++) {
        double off = got[n] - mean[1] - (want[n] - mean[0]);
        worst = fmax(worst, fabs(want[n] - mean[0]));
        most = fmax(most, fabs(off));
        *rms += off * off / (double)places;
    }
    *largest = 100 * most / worst;
    *rms = 100 * sqrt(*rms) / worst;
    ww_patch_destroy(patch);
    free(want);
    free(got);
}

int main(int argc, char **argv)
{
    size_t seeds = argc > 1 ? strtoul(argv[1], NULL, 10) : 20, places = argc > 2 ? strtoul(argv[2], NULL, 10) : 40,
           along = argc > 3 ? strtoul(argv[3], NULL, 10) : 1;
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        struct structure_options options = asked[i].pair ? structure_pair() : structure_single();
        struct structure structure;
        struct ww_error error = {0};
        struct ww_correction *correction;
        struct ww_sections sections;
        struct ww_walk *walk;
        double angle = asked[i].angle * DEGREES, top = 0, mean = 0, of_rms = 0;
        size_t over = 0, done = 0;
        options.kind = asked[i].kind;
        options.style = asked[i].style;
        options.fineness = 1;
        options.cell = (struct ww_cell_options){0};
        check(structure_open(&structure, &options, &error), &error);
        const struct ww_correction_request request = {.side = 16, .angle = &angle, .angles = 1};
        const struct ww_yarn_scatter yarn = {asked[i].wander * UM, 20e-3, 0.9, asked[i].width_variation};
        check(ww_correction_create(&correction, structure.line, NULL, &request, &error), &error);
        check(ww_sections_create(&sections, structure.line, angle, 1, &error), &error);
        check(ww_walk_create(&walk, structure.line, correction, angle, 0, NULL, &error), &error);
        printf("%s:", asked[i].name);
        for (size_t s = 1; s <= seeds; s++, done++) {
            const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .seed = s};
            double largest, rms;
            measure(&structure, walk, &sections, &scatter, places, along, asked[i].pair, &largest, &rms);
            printf(" %.1f", largest);
            fflush(stdout);
            top = fmax(top, largest);
            mean += largest;
            of_rms = fmax(of_rms, rms);
            over += largest > 3;
        }
        printf("; %.2f %% at most, %.2f on average, over 3 on %zu of %zu; rms %.2f at most\n", top,
               mean / (double)done, over, done, of_rms);
        ww_walk_destroy(walk);
        ww_sections_destroy(&sections);
        ww_correction_release(correction);
        structure_close(&structure);
    }
    return 0;
}
