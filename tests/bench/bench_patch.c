/* What real cloth costs: the slowness of both legs over a patch of 60 by 60 mm, of 256^2 to 4096^2 samples, and over one of 150 by
 * 5 mm; a walk.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *   bench-patch WEAVES STUDY [MOST]    of the study's line, its first ply with a wander of 20 um and widths that vary by 2 %; up to
 *                                      MOST^2 samples
 */
#include "weftwise/patch.h"
#include "weftwise/study.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <time.h>

static double seconds(clockid_t clock)
{
    struct timespec now;
    clock_gettime(clock, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static void check(enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
    fprintf(stderr, "%s\n", error->text);
    exit(1);
}

static void report(const char *what, size_t nx, size_t ny, double wall, double cpu)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    cpu = seconds(CLOCK_PROCESS_CPUTIME_ID) - cpu;
    printf("%s, %5zu by %4zu samples: %6.2f s of CPU, %6.2f s, %.0f ns a sample; %.0f MB at most so far\n", what, nx,
           ny, cpu, seconds(CLOCK_MONOTONIC) - wall, 1e9 * cpu / (double)(nx * ny), 1e-3 * (double)usage.ru_maxrss);
}

static void time_map(const struct ww_walk *walk, const struct ww_patch *patch, double lx, double ly, size_t nx,
                     size_t ny)
{
    double wall = seconds(CLOCK_MONOTONIC), cpu = seconds(CLOCK_PROCESS_CPUTIME_ID);
    struct ww_map leg[2];
    struct ww_error error = {0};
    const double corner[2] = {0, 0};
    check(ww_walk_map(walk, 0, patch, corner, lx, ly, nx, ny, leg, &error), &error);
    report("slowness of both legs", nx, ny, wall, cpu);
    ww_map_clear(&leg[0]);
    ww_map_clear(&leg[1]);
}

int main(int argc, char **argv)
{
    struct ww_study study;
    struct ww_line *line;
    struct ww_walk *map, *walk;
    struct ww_patch *patch, *strip;
    struct ww_error error = {0};
    if (argc < 3)
        return 2;
    size_t most = argc > 3 ? strtoul(argv[3], NULL, 10) : 4096; /* samples along the patch */
    check(ww_study_load(&study, argv[2], argv[1], NULL, 0, &error), &error);
    check(ww_study_build(&study, &error), &error);
    const struct ww_line_options options = ww_study_line_options(&study);
    check(ww_line_create(&line, &study.stack, &study.trace, &options, &error), &error);
    const struct ww_yarn_scatter yarn = {20e-6, 30e-3, 0.95, 0.02};
    const struct ww_scatter scatter = {.yarn = {yarn, yarn}, .seed = 1};
    double cpu = seconds(CLOCK_PROCESS_CPUTIME_ID);
    check(ww_patch_create(&patch, ww_stack_cloth(&study.stack, 0).style, &scatter, 60e-3, 60e-3, 0, &error), &error);
    check(ww_patch_create(&strip, ww_stack_cloth(&study.stack, 0).style, &scatter, 5e-3, 150e-3, 0, &error), &error);
    printf("patches of 60 by 60 and 5 by 150 mm: %.3f s of CPU\n", seconds(CLOCK_PROCESS_CPUTIME_ID) - cpu);
    cpu = seconds(CLOCK_PROCESS_CPUTIME_ID);
    check(ww_walk_create(&map, line, NULL, 0, 0, NULL, &error), &error);
    printf("tables of %zu plies: %.2f s of CPU\n", study.stack.plies, seconds(CLOCK_PROCESS_CPUTIME_ID) - cpu);
    for (size_t n = 256; n <= most; n *= 2)
        time_map(map, patch, 60e-3, 60e-3, n, n);
    time_map(map, strip, 5e-3, 150e-3, most / 10, most * 5 / 2);
    check(ww_walk_create(&walk, line, NULL, 0, 0.2e-3, NULL, &error), &error);
    enum { STEPS = 250 };
    double running[STEPS], start[8][2] = {{0}};
    const struct ww_patch *patches[8] = {patch, patch, patch, patch, patch, patch, patch, patch};
    cpu = seconds(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < 100; i++) {
        start[0][0] = 0.6e-3 * i;
        ww_walk_along(walk, patches, (const double(*)[2])start, 0, NULL, STEPS, running);
    }
    cpu = seconds(CLOCK_PROCESS_CPUTIME_ID) - cpu;
    printf("a walk of 50 mm in steps of 0.2 mm: %.2f ms of CPU\n", 10 * cpu);
    ww_walk_destroy(walk);
    ww_walk_destroy(map);
    ww_patch_destroy(patch);
    ww_patch_destroy(strip);
    ww_line_destroy(line);
    ww_study_clear(&study);
    return 0;
}
