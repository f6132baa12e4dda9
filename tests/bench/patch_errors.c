/* How far a walk's local value on a patch of real cloth is from full cross-sections there: over seeds, kinds of line and scatter.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *   patch-errors [SEEDS [PLACES [ALONG [LINE]]]]    of each seed the largest error at so many places, in percent of the largest value among
 *                                           them, and the rms; a pair's skew, a single trace's delay less its mean. ALONG: each
 *                                            place is so many sections over half a yarn pitch along the trace, and a walk of one step that
 *                                            long, all plies in place.
 *                                            LINE: that one alone, counted from 1
 *
 * Averaged so, a line that is off by more than LARGEST, or by an rms above RMS, ends with 1. At one place a
 * section that leaves the yarn it runs along loses it at once, on perfect cloth, too, and no walk sees that: such values are told only.
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
    {"pair between two plies of 1080, wander", "1080", SANDWICH, true, 0, 30, 0},
    {"pair between two plies of 1280 at 45 deg, wander", "1280", SANDWICH, true, 45, 30, 0},
    {"single trace between two plies of 1280 at 45 deg, wander", "1280", SANDWICH, false, 45, 30, 0},
};

enum { MOST_PLIES = 2 };
#define LARGEST 3.0 /* [%] of the largest value among the places */
#define RMS 0.8

static void check(enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
    fprintf(stderr, "%s\n", error->text);
    exit(1);
}

/* What is compared: a line over patches that differ with the seed. */
struct compared {
    struct structure structure;
    struct ww_sections sections;
    struct ww_walk *walk;
    double angle, step; /* step: half the shortest yarn pitch */
    bool pair;
    size_t along; /* sections within it; 1: at one place alone */
};

/* By sections and by the walk from one place on: of a pair its skew, of a single trace its delay [s/m]. */
static void measure_at(struct compared *c, const struct ww_patch *const *patch, double x, double y, double *want,
                       double *got)
{
    struct ww_error error = {0};
    double start[MOST_PLIES][2], here[MOST_PLIES][2], leg[2] = {0}, own[2];
    size_t plies = c->structure.stack.plies;
    *want = *got = 0;
    for (size_t p = 0; p < plies; p++) { /* each lies elsewhere on its own */
        start[p][0] = x + 1.37e-3 * (double)p;
        start[p][1] = y + 2.11e-3 * (double)p;
    }
    for (size_t a = 0; a < c->along; a++) {
        double by = c->along > 1 ? ((double)a + 0.5) / (double)c->along * c->step : 0;
        for (size_t p = 0; p < plies; p++) {
            here[p][0] = start[p][0] + by * sin(c->angle);
            here[p][1] = start[p][1] + by * cos(c->angle);
        }
        check(ww_sections_legs(&c->sections, (const double(*)[2])here, 1e-3, leg, &error), &error);
        *want += (c->pair ? leg[0] - leg[1] : leg[0]) / (double)c->along;
    }
    if (c->along > 1) {
        ww_walk_along(c->walk, patch, (const double(*)[2])start, 0, NULL, 1, got);
        *got /= c->step;
        return;
    }
    for (size_t p = 0; p < plies; p++) {
        ww_walk_slowness(c->walk, p, patch[p], start[p][0], start[p][1], own);
        *got += c->pair ? own[0] - own[1] : own[0];
    }
}

static void measure(struct compared *c, const struct ww_scatter *scatter, size_t places, double *largest, double *rms)
{
    struct structure *of = &c->structure;
    struct ww_error error = {0};
    struct ww_patch *patch[MOST_PLIES] = {0};
    struct random random = random_of(9);
    double *want = calloc(places, sizeof *want), *got = calloc(places, sizeof *got), mean[2] = {0}, most = 0,
           worst = 0;
    for (size_t p = 0; p < of->stack.plies; p++) {
        struct ww_layer *ply = &of->layer[of->stack.ply[p].layer];
        check(ww_patch_create(&patch[p], &ply->style, scatter, 30e-3, 30e-3, p, &error), &error);
        ply->patch = patch[p];
    }
    for (size_t n = 0; n < places; n++) {
        double x = random_between(&random, 0, 30e-3), y = random_between(&random, 0, 30e-3);
        measure_at(c, (const struct ww_patch *const *)patch, x, y, &want[n], &got[n]);
        mean[0] += c->pair ? 0 : want[n] / (double)places;
        mean[1] += c->pair ? 0 : got[n] / (double)places;
    }
    *rms = 0;
    for (size_t n = 0; n < places; n++) {
        double off = got[n] - mean[1] - (want[n] - mean[0]);
        worst = fmax(worst, fabs(want[n] - mean[0]));
        most = fmax(most, fabs(off));
        *rms += off * off / (double)places;
    }
    *largest = 100 * most / worst;
    *rms = 100 * sqrt(*rms) / worst;
    for (size_t p = 0; p < of->stack.plies; p++) {
        of->layer[of->stack.ply[p].layer].patch = NULL;
        ww_patch_destroy(patch[p]);
    }
    free(want);
    free(got);
}

int main(int argc, char **argv)
{
    size_t seeds = argc > 1 ? strtoul(argv[1], NULL, 10) : 20, places = argc > 2 ? strtoul(argv[2], NULL, 10) : 40,
           along = argc > 3 ? strtoul(argv[3], NULL, 10) : 1, line = argc > 4 ? strtoul(argv[4], NULL, 10) : 0;
    bool within = true;
    for (size_t i = 0; i < sizeof asked / sizeof *asked; i++) {
        if (line > 0 && i != line - 1)
            continue;
        struct structure_options options = asked[i].pair ? structure_pair() : structure_single();
        struct compared c = {.angle = asked[i].angle * DEGREES, .pair = asked[i].pair, .along = along};
        struct ww_error error = {0};
        struct ww_correction *correction;
        double top = 0, mean = 0, of_rms = 0;
        size_t over = 0, done = 0;
        options.kind = asked[i].kind;
        options.style = asked[i].style;
        options.fineness = 1;
        options.cell = (struct ww_cell_options){0};
        check(structure_open(&c.structure, &options, &error), &error);
        const struct ww_correction_request request = {.side = 16, .angle = &c.angle, .angles = 1};
        const struct ww_yarn_scatter yarn = {asked[i].wander * UM, 20e-3, 0.9, asked[i].width_variation};
        const struct ww_cell *cell = &c.structure.stack.ply[0].cell;
        c.step = 0.25 * fmin(cell->lx, cell->ly);
        check(ww_correction_create(&correction, c.structure.line, NULL, &request, &error), &error);
        check(ww_sections_create(&c.sections, c.structure.line, c.angle, 0, &error), &error);
        check(ww_walk_create(&c.walk, c.structure.line, correction, c.angle, along > 1 ? c.step : 0, NULL, &error),
              &error);
        printf("%s:", asked[i].name);
        for (size_t s = 1; s <= seeds; s++, done++) {
            const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .seed = s};
            double largest, rms;
            measure(&c, &scatter, places, &largest, &rms);
            printf(" %.1f", largest);
            fflush(stdout);
            top = fmax(top, largest);
            mean += largest;
            of_rms = fmax(of_rms, rms);
            over += largest > LARGEST;
        }
        printf("; %.2f %% at most, %.2f on average, over %g on %zu of %zu; rms %.2f at most\n", top,
               mean / (double)done, LARGEST, over, done, of_rms);
        within = within && (along == 1 || (top <= LARGEST && of_rms <= RMS));
        ww_walk_destroy(c.walk);
        ww_sections_destroy(&c.sections);
        ww_correction_release(correction);
        structure_close(&c.structure);
    }
    return !within;
}
