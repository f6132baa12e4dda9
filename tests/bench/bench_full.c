/* bench_full.c - what a full solution costs: sections of every cloth, and volumes from 1e5 to 1e7 unknowns.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     bench-full
 *
 * Prints, and asserts nothing: times depend on the machine and on what else it does. Each volume is solved in a process
 * of its own, so that the peak of memory is its own too; what the program and the line take before is not counted.
 */
#include "line/structure.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

static double median_seconds(const struct structure *s, struct ww_full *full)
{
    enum { TIMES = 5 };
    double place[1][2] = {{70 * UM, 45 * UM}}, seconds[TIMES];
    for (int n = 0; n < TIMES; n++) {
        if (ww_section_solve(s->line, 0.3, (const double(*)[2])place, NULL, full, NULL))
            return -1;
        seconds[n] = full->seconds;
        for (int m = n; m > 0 && seconds[m] < seconds[m - 1]; m--) {
            double swap = seconds[m];
            seconds[m] = seconds[m - 1];
            seconds[m - 1] = swap;
        }
    }
    return seconds[TIMES / 2];
}

static void time_section(const char *style, enum structure_kind kind, bool pair)
{
    struct structure_options options = pair ? structure_pair() : structure_single();
    options.kind = kind;
    options.style = style;
    options.ply = 0;
    options.fineness = 1;
    struct structure s;
    struct ww_error error = {0};
    struct ww_full full;
    if (structure_open(&s, &options, &error)) {
        printf("  %s\n", error.text);
        return;
    }
    double seconds = median_seconds(&s, &full);
    printf("  %7zu %5.0f ms %2d", full.unknowns, seconds * 1e3, full.iterations);
    structure_close(&s);
}

static void time_all_styles(void)
{
    struct ww_weaves weaves = {0};
    struct ww_names names = {0};
    struct ww_error error = {0};
    if (ww_weaves_open(&weaves, WW_SOURCE_ROOT "/weaves", NULL, &error) || ww_weaves_styles(&weaves, &names, &error))
        printf("%s\n", error.text);
    printf("One section to 1e-8: unknowns, time (median of 5), iterations\n%-12s  %-19s  %-19s  %-19s  %-19s\n",
           "style", "stripline", "stripline pair", "microstrip", "microstrip pair");
    for (size_t i = 0; i < names.count; i++) {
        printf("%-12s", names.name[i]);
        for (int n = 0; n < 4; n++)
            time_section(names.name[i], n < 2 ? STRIPLINE : MICROSTRIP, n % 2);
        printf("\n");
        fflush(stdout);
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
}

struct volume {
    struct ww_full full;
    double bytes; /* peak less what was there before */
};

static double peak_bytes(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return 1024 * (double)usage.ru_maxrss; /* kilobytes on Linux */
}

static bool solve_volume(double fineness, size_t along, bool pair, struct volume *volume)
{
    struct structure_options options = pair ? structure_pair() : structure_single();
    options.fineness = fineness;
    struct structure s;
    struct ww_full_options wish = {.along = along, .memory = 4e9};
    double place[1][2] = {{70 * UM, 45 * UM}};
    if (structure_open(&s, &options, NULL))
        return false;
    double before = peak_bytes();
    bool good = !ww_volume_solve(s.line, 0, (const double(*)[2])place, &wish, &volume->full, NULL);
    volume->bytes = peak_bytes() - before;
    structure_close(&s);
    return good;
}

/* The same in a child. */
static bool solve_apart(double fineness, size_t along, bool pair, struct volume *volume)
{
    int ends[2], code = 1;
    if (pipe(ends))
        return false;
    fflush(stdout);
    pid_t child = fork();
    if (child == 0) {
        bool good = solve_volume(fineness, along, pair, volume);
        bool sent = write(ends[1], volume, sizeof *volume) == (ssize_t)sizeof *volume;
        _exit(good && sent ? 0 : 1);
    }
    close(ends[1]);
    bool received = child > 0 && read(ends[0], volume, sizeof *volume) == (ssize_t)sizeof *volume;
    close(ends[0]);
    if (child > 0)
        waitpid(child, &code, 0);
    return received && code == 0;
}

static void print_volume(const struct volume *v, const char *what)
{
    printf("%-8s %9zu unknowns  %7.3f s  %2d iterations, residual %.1e  %5.1f bytes per unknown\n", what,
           v->full.unknowns, v->full.seconds, v->full.iterations, v->full.residual,
           v->bytes / (double)v->full.unknowns);
}

/* Slope of the straight line through (log n, log t), least squares. */
static double slope(const double *n, const double *t, size_t count)
{
    double sx = 0, sy = 0, sxx = 0, sxy = 0, c = (double)count;
    for (size_t i = 0; i < count; i++) {
        double x = log(n[i]), y = log(t[i]);
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    return (c * sxy - sx * sy) / (c * sxx - sx * sx);
}

static void time_volumes(void)
{
    static const struct {
        double fineness;
        size_t along;
    } size[] = {{0.3, 12}, {0.5, 16}, {0.5, 32}, {0.5, 72}, {1, 24}, {1, 64}, {1, 128}, {1, 256}};
    enum { SIZES = sizeof size / sizeof *size };
    double n[SIZES], t[SIZES], n_log_n[SIZES];
    struct volume volume;
    printf("\nOne period of a trace to 1e-8\n");
    for (size_t i = 0; i < SIZES; i++) {
        n[i] = t[i] = INFINITY;
        for (int again = 0; again < 3; again++) {
            if (!solve_apart(size[i].fineness, size[i].along, false, &volume)) {
                printf("not solved\n");
                return;
            }
            n[i] = (double)volume.full.unknowns;
            t[i] = fmin(t[i], volume.full.seconds);
        }
        n_log_n[i] = n[i] * log(n[i]);
        volume.full.seconds = t[i];
        print_volume(&volume, "single");
    }
    if (solve_apart(1, 20, true, &volume))
        print_volume(&volume, "pair");
    printf("time grows as unknowns^%.3f, as (n log n)^%.3f (best of 3 each)\n", slope(n, t, SIZES),
           slope(n_log_n, t, SIZES));
}

int main(void)
{
    printf("%d threads\n", ww_threads());
    time_volumes();
    printf("\n");
    time_all_styles();
    return 0;
}
