/* bench.c - how long the main job takes and how much memory, against what it may take.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     bench STUDY WEAVES PROGRAM ROUTE NARROW
 *
 * ROUTE and NARROW are studies of which `skew` is timed: a route of many directions, and a narrow trace on a thick dielectric.
 *
 * A benchmark, not a test: `meson test -C build --benchmark -v`. The limits are for two cores of about 2020, printed
 * beside the figures and not asserted. Drawing is not part of the times.
 */
#include <fcntl.h>
#include <math.h>
#include <spawn.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "weftwise/line.h"
#include "weftwise/chance.h"
#include "weftwise/study.h"

extern char **environ;

enum { ROUNDS = 5 };

static double now(void)
{
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static void check(enum ww_status status, const struct ww_error *error)
{
    if (status == WW_OK)
        return;
    fprintf(stderr, "%s:%d: %s\n", error->file, error->line, error->text);
    exit(2);
}

/* Print one figure beside what it is meant to stay under; machines differ, so nothing is asserted. */
static void report(const char *what, double value, double limit, const char *unit)
{
    printf("%-64s %8.2f %s (limit %g %s)%s\n", what, value, unit, limit, unit, value <= limit ? "" : "  OVER");
}

/* One further angle: the spectrum of the slowness and its map of skew. */
static double time_angle(const struct ww_line *line, const struct ww_skew_request *request, double angle)
{
    struct ww_error error = {0};
    struct ww_scan *scan = NULL;
    struct ww_map map = {0};
    enum ww_signal signal = ww_line_trace(line)->pitch > 0 ? WW_SKEW : WW_LEG1;
    double start = now();
    check(ww_scan_create(&scan, line, angle, &request->scan, &error), &error);
    check(ww_scan_map(scan, 0, signal, WW_MEAN, request->length, &map, &error), &error);
    double taken = now() - start;
    ww_map_clear(&map);
    ww_scan_destroy(scan);
    return taken;
}

struct times {
    double map, turned, angle;
};

/* From reading the study to the numbers. */
static struct times run_study(const char *path, const char *weaves)
{
    struct ww_error error = {0};
    struct ww_study study = {0};
    struct ww_line *line = NULL;
    struct ww_skew skew = {0};
    struct times times = {0};
    double start = now();
    check(ww_study_load(&study, path, weaves, NULL, 0, &error), &error);
    check(ww_study_build(&study, &error), &error);
    struct ww_line_options options = ww_study_line_options(&study);
    struct ww_skew_request request = ww_study_request(&study);
    double turn = request.turn;
    request.angle = 0;
    request.turn = 0;
    check(ww_line_create(&line, &study.stack, &study.trace, &options, &error), &error);
    check(ww_skew_solve(&skew, line, &request, &error), &error);
    times.map = now() - start;
    ww_skew_clear(&skew);

    start = now();
    request.turn = turn;
    check(ww_skew_solve(&skew, line, &request, &error), &error);
    times.turned = now() - start;

    times.angle = HUGE_VAL;
    for (int round = 0; round < ROUNDS; round++)
        times.angle = fmin(times.angle, time_angle(line, &request, 0.1 * (round + 1)));
    ww_skew_clear(&skew);
    ww_line_destroy(line);
    ww_study_clear(&study);
    return times;
}

/* The shortest of some rounds of the program. argument[0] is the program, NULL behind the last. */
static double time_program(char *const *argument, int rounds)
{
    const char *program = argument[0];
    double best = HUGE_VAL;
    posix_spawn_file_actions_t silence;
    posix_spawn_file_actions_init(&silence);
    posix_spawn_file_actions_addopen(&silence, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    for (int round = 0; round < rounds; round++) {
        pid_t child = 0;
        int status = 0;
        double start = now();
        if (posix_spawn(&child, program, &silence, NULL, argument, environ) != 0 ||
            waitpid(child, &status, 0) != child || status != 0) {
            fprintf(stderr, "%s could not be run\n", program);
            exit(2);
        }
        best = fmin(best, now() - start);
    }
    posix_spawn_file_actions_destroy(&silence);
    return best;
}

/* Whole commands, files and figures included. */
static void time_commands(char *program, char *study, char *route, char *narrow)
{
    char folder[] = "/tmp/weftwise-bench-XXXXXX", compare[] = "compare", page[] = "report", skew[] = "skew",
         angles[] = "angles", all[] = "all", out[] = "-o";
    char *comparing[] = {program, compare, study, all, out, folder, NULL};
    char *reporting[] = {program, page, study, out, folder, NULL};
    char *sweeping[] = {program, angles, study, out, folder, NULL};
    char *routing[] = {program, skew, route, out, folder, NULL};
    char *narrowing[] = {program, skew, narrow, out, folder, NULL};
    if (!mkdtemp(folder)) {
        perror(folder);
        exit(2);
    }
    report("angles", time_program(sweeping, 1), 2, "s");
    report("skew of a route of eight segments", time_program(routing, 1), 10, "s");
    report("skew of a trace 8 um wide, 260 um above its plane", time_program(narrowing, 1), 10, "s");
    report("compare all", time_program(comparing, 1), 20, "s");
    report("report", time_program(reporting, 1), 15, "s");
    printf("(their files are left in %s)\n", folder);
}

int main(int count, char **argument)
{
    if (count != 6) {
        fprintf(stderr, "usage: bench STUDY WEAVES PROGRAM ROUTE NARROW\n");
        return 2;
    }
    char version[] = "--version";
    struct times times = run_study(argument[1], argument[2]);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    report("from the study to the skew map at 0 deg, all numbers", times.map, 0.5, "s");
    report("the same with the turn of the cloth searched", times.turned, 2.0, "s");
    report("one further angle", 1e3 * times.angle, 5, "ms");
    report("start-up (--version)", 1e3 * time_program((char *[]){argument[3], version, NULL}, ROUNDS), 20, "ms");
    report("peak memory", (double)usage.ru_maxrss / 1024, 200, "MB");
    time_commands(argument[3], argument[1], argument[4], argument[5]);
    return 0;
}
