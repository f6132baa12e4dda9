/* bench_frequency.c - how long one line takes over 1,001 frequencies.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     bench-frequency STUDY WEAVES
 *
 * 50 mm of the study's pair, 10 MHz to 67 GHz, the materials, copper and scans solved before: CPU and wall time of one placement,
 * along the yarns and turned, on one thread and on two. Prints, and asserts nothing: times depend on the machine and on what
 * else it does. The aim is 2 s of wall time on two cores of about 2020.
 */
#include "weftwise/frequency.h"
#include "weftwise/study.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define LENGTH 50e-3
enum { POINTS = 1001, PLIES = 8 };

static void check(enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
    fprintf(stderr, "bench-frequency: %s\n", error->text);
    exit(1);
}

static double seconds_of(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void time_placement(const struct ww_study *study, const struct ww_line *line, double angle, int threads)
{
    static const double start[PLIES][2] = {{110e-6, 70e-6}, {40e-6, 130e-6}};
    static double frequency[POINTS];
    struct ww_wideband_request request = {.line = line, .skew = ww_study_request(study), .copper = study->copper};
    struct ww_wideband *w = NULL;
    struct ww_network network;
    struct ww_error error = {0};
    request.skew.length = LENGTH;
    request.skew.angle = angle;
    for (int i = 0; i < POINTS; i++)
        frequency[i] = 10e6 + (67e9 - 10e6) * i / (POINTS - 1);
    ww_threads_set(threads);
    double wall = seconds_of(CLOCK_MONOTONIC), cpu = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    check(ww_wideband_create(&w, &request, &error), &error);
    double created = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - cpu;
    wall = seconds_of(CLOCK_MONOTONIC);
    cpu = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    check(ww_wideband_solve(w, start, frequency, POINTS, &network, &error), &error);
    printf(
        "%5.1f deg, %d threads: %6.3f s of CPU, %6.3f s of wall time; materials and copper before, %.2f s of CPU\n",
        angle * 180 / WW_PI, threads, seconds_of(CLOCK_PROCESS_CPUTIME_ID) - cpu, seconds_of(CLOCK_MONOTONIC) - wall,
        created);
    ww_network_clear(&network);
    ww_wideband_destroy(w);
}

int main(int argc, char **argv)
{
    struct ww_study study;
    struct ww_line *line = NULL;
    struct ww_error error = {0};
    if (argc != 3) {
        fprintf(stderr, "usage: bench-frequency STUDY WEAVES\n");
        return 2;
    }
    check(ww_study_load(&study, argv[1], argv[2], NULL, 0, &error), &error);
    check(ww_study_build(&study, &error), &error);
    if (study.stack.plies > PLIES)
        return 2;
    const struct ww_line_options options = {.fineness = study.fineness};
    check(ww_line_create(&line, &study.stack, &study.trace, &options, &error), &error);
    for (int turned = 0; turned < 2; turned++)
        for (int threads = 1; threads < 3; threads++)
            time_placement(&study, line, turned * 10 * WW_PI / 180, threads);
    ww_line_destroy(line);
    ww_study_clear(&study);
    return 0;
}
