/* conversion_dump.c - the full cross-sections along a pair's path, and our mode conversion, for tests/outside/conversion.py.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     outside-conversion-dump PAIR ANGLE LENGTH STEP WEAVES
 *
 * PAIR is microstrip, tight or loose; the angle in degrees, length in mm, step in um. The path starts where the skew is
 * worst. JSON to the standard output: capacitance matrices [F/m] at the middle of each step, and without dielectric; our
 * amplitude at this start and over all positions. Sections in the narrow window of the correction's, so that one takes some 10 ms.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "chance/conversion.h"
#include "correct/correction.h"
#include "line/line.h"
#include "weftwise/study.h"

#define UM 1e-6
#define MM 1e-3
#define GHZ 1e9

/* A bare microstrip, legs tight; a stripline, tight (Ze 57, Zo 45.5 ohm); a stripline, loose. */
static const struct {
    const char *name, *layers, *trace;
} pair[] = {
    {"microstrip", "layer = air\nlayer = trace\nlayer = ply 2116 110 um\nlayer = plane\n",
     "width = 140 um\nthickness = 35 um\npitch = 235 um\n"},
    {"tight", "layer = plane\nlayer = ply 1080 100 um\nlayer = trace\nlayer = ply 1080 100 um\nlayer = plane\n",
     "width = 95 um\nthickness = 15 um\npitch = 190 um\n"},
    {"loose", "layer = plane\nlayer = ply 1080 100 um\nlayer = trace\nlayer = ply 1080 100 um\nlayer = plane\n",
     "width = 100 um\nthickness = 15 um\npitch = 400 um\n"},
};

static void stop_on(enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
    fprintf(stderr, "%s\n", error->text);
    exit(1);
}

static void read_study(struct ww_study *study, const char *name, double angle, double length, const char *weaves)
{
    struct ww_error error = {0};
    char text[1000];
    size_t i = 0, count = sizeof pair / sizeof *pair;
    while (i < count && strcmp(pair[i].name, name))
        i++;
    if (i == count) {
        fprintf(stderr, "no pair %s\n", name);
        exit(2);
    }
    snprintf(
        text, sizeof text,
        "[stackup]\nresin = test\n%s[trace]\n%slength = %.17g mm\nangle = %.17g deg\n[signal]\nfrequency = 28 GHz\n"
        "[resin test]\ndk = 3.2\ndf = 0.01\ndensity = 1.3 g/cm3\n",
        pair[i].layers, pair[i].trace, length / MM, angle);
    FILE *stream = fmemopen(text, strlen(text), "r");
    stop_on(ww_study_read(study, stream, name, weaves, NULL, 0, &error), &error);
    fclose(stream);
    stop_on(ww_study_build(study, &error), &error);
}

/* Sections along the path, and the line's vacuum. The sections are at the limit of two nested grids: what they differ from the
 * background by is taken there, and added to the line's own background. */
static void print_sections(const struct ww_study *study, const struct ww_line *line, const struct ww_extreme *start,
                           double step)
{
    struct ww_error error = {0};
    struct ww_full_options options = {.tolerance = 1e-4};
    struct ww_line *grid[2] = {NULL, NULL};
    const double weight[2] = {-1 / (line->ratio - 1), line->ratio / (line->ratio - 1)};
    const struct ww_line_summary *summary = ww_line_summary(line);
    size_t count = (size_t)(study->length / step + 0.5), plies = study->stack.plies;
    double(*place)[2] = calloc(plies, sizeof *place);
    stop_on(ww_line_create_single(&grid[0], &study->stack, &study->trace,
                                  &(struct ww_line_options){.fineness = 0.5 * study->fineness}, &error),
            &error);
    stop_on(ww_line_create_refined(&grid[1], grid[0], &error), &error);
    printf("\"ca\": [%.17g, %.17g], \"c\": [", summary->ca[0][0] + summary->ca[0][1],
           summary->ca[0][0] - summary->ca[0][1]);
    for (size_t i = 0; i < count; i++) {
        double c[3] = {summary->c[0][0], summary->c[0][1], summary->c[1][1]};
        double s = ((double)i + 0.5) * study->length / (double)count;
        for (size_t p = 0; p < plies; p++) {
            double theta = study->angle - study->stack.ply[p].turn;
            place[p][0] = start[p].x + s * sin(theta);
            place[p][1] = start[p].y + s * cos(theta);
        }
        for (int g = 0; g < 2; g++) {
            const struct ww_line_summary *background = ww_line_summary(grid[g]);
            struct ww_full full;
            stop_on(ww_section_solve(grid[g], study->angle, (const double(*)[2])place, &options, &full, &error),
                    &error);
            c[0] += weight[g] * (full.c[0][0] - background->c[0][0]);
            c[1] += weight[g] * (full.c[0][1] - background->c[0][1]);
            c[2] += weight[g] * (full.c[1][1] - background->c[1][1]);
        }
        printf("%s[%.17g, %.17g, %.17g]", i ? ", " : "", c[0], c[1], c[2]);
    }
    printf("], ");
    free(place);
    ww_line_destroy(grid[0]);
    ww_line_destroy(grid[1]);
}

/* Our amplitude at the start, and over all positions. */
static void print_answer(const struct ww_study *study, const struct ww_line *line,
                         const struct ww_skew_request *request, const struct ww_skew *skew,
                         const struct ww_extreme *at)
{
    struct ww_error error = {0};
    struct ww_scan *scan = NULL;
    struct ww_converter *converter = NULL;
    struct ww_converted all;
    double here = 0, start[2][2] = {{at[0].x, at[0].y}};
    struct ww_modes modes = ww_modes_of(line, request, study->angle);
    stop_on(ww_corrected_scan_create(&scan, line, request->correction, study->angle, NULL, &error), &error);
    stop_on(ww_converter_create(&converter, study->stack.plies, 1, &error), &error);
    for (size_t p = 0; p < study->stack.plies; p++) {
        ww_beat_segments(ww_converter_segments(converter) + p, scan, p, WW_MEAN, study->length);
        start[p][0] = at[p].x;
        start[p][1] = at[p].y;
    }
    stop_on(ww_converter_solve(converter, &modes, true, &all, &error), &error);
    stop_on(ww_converter_at(converter, &modes, (const double(*)[2])start, 64, &here, &error), &error);
    const struct ww_line_summary *s = ww_line_summary(line);
    printf("\"z\": [%.17g, %.17g], \"beat\": %.17g, \"skew_ps\": %.17g, \"here\": %.17g, \"worst\": %.17g, "
           "\"median\": %.17g}\n",
           s->z_even, s->z_odd, modes.beat, skew->worst * 1e12, here, all.worst, all.median);
    ww_converter_destroy(converter);
    ww_scan_destroy(scan);
}

int main(int argc, char **argv)
{
    struct ww_study study;
    struct ww_line *line = NULL;
    struct ww_skew skew;
    struct ww_error error = {0};
    if (argc != 6) {
        fprintf(stderr, "usage: %s PAIR ANGLE LENGTH STEP WEAVES\n", argv[0]);
        return 2;
    }
    read_study(&study, argv[1], strtod(argv[2], NULL), strtod(argv[3], NULL) * MM, argv[5]);
    struct ww_skew_request request = ww_study_request(&study);
    stop_on(ww_line_create(&line, &study.stack, &study.trace, &(struct ww_line_options){.fineness = study.fineness},
                           &error),
            &error);
    stop_on(ww_skew_solve(&skew, line, &request, &error), &error);
    request.correction = skew.correction;
    printf("{\"frequency\": %.17g, \"length\": %.17g, ", study.frequency, study.length);
    print_sections(&study, line, ww_skew_worst_at(&skew), strtod(argv[4], NULL) * UM);
    print_answer(&study, line, &request, &skew, ww_skew_worst_at(&skew));
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_study_clear(&study);
    return 0;
}
