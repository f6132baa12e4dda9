/* bench_angles.c - how long the sweeps over angle and length take, against the transforms they need and against the
 * straightforward way.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     bench-angles STUDY WEAVES [PYTHON SCRIPT]
 *     bench-angles STUDY WEAVES map ANGLE FILE
 *
 * The lowest ply alone stays cloth, the others become solids of their mean. With a script it hands that the map of what
 * the legs differ by at some angles, lets it find the worst by walking along the trace from all positions, and prints the
 * ratio of the times. The second form writes one such map and prints lx, ly, the angle in the cloth, the length and the
 * worst. A benchmark, not a test: nothing is asserted.
 */
#include <fftw3.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "chance/placements.h"
#include "sweep/angles.h"
#include "weftwise/result.h"
#include "weftwise/study.h"
#include "weftwise/sweep.h"

#define DEG (WW_PI / 180)

enum { POSITIONS = 256, ROUNDS = 9 };

static double read_clock(clockid_t clock)
{
    struct timespec time;
    clock_gettime(clock, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static double now(void)
{
    return read_clock(CLOCK_MONOTONIC);
}

/* For what one thread does: other work on the machine does not count. */
static double worked(void)
{
    return read_clock(CLOCK_PROCESS_CPUTIME_ID);
}

static void check(enum ww_status status, const struct ww_error *error)
{
    if (status == WW_OK)
        return;
    fprintf(stderr, "%s:%d: %s\n", error->file, error->line, error->text);
    exit(2);
}

static void report(const char *what, double value, double limit, const char *unit)
{
    printf("%-72s %8.3f %s (limit %g %s)%s\n", what, value, unit, limit, unit, value <= limit ? "" : "  OVER");
}

/* The study with one ply of cloth, and its line. */
struct subject {
    struct ww_study study;
    struct ww_line *line;
    struct ww_skew_request request;
};

static void open_subject(struct subject *subject, const char *path, const char *weaves)
{
    struct ww_error error = {0};
    memset(subject, 0, sizeof *subject);
    check(ww_study_load(&subject->study, path, weaves, NULL, 0, &error), &error);
    check(ww_study_build(&subject->study, &error), &error);
    struct ww_stack *stack = &subject->study.stack;
    for (size_t p = 0; p + 1 < stack->plies; p++) {
        struct ww_layer *layer = &stack->layer[stack->ply[p].layer];
        layer->kind = WW_LAYER_SOLID;
        layer->dk = stack->ply[p].dk_bulk;
    }
    check(ww_study_build(&subject->study, &error), &error);
    struct ww_line_options options = ww_study_line_options(&subject->study);
    subject->request = ww_study_request(&subject->study);
    subject->request.scan.positions = POSITIONS;
    subject->request.sections = 0;
    check(ww_line_create(&subject->line, stack, &subject->study.trace, &options, &error), &error);
}

static void close_subject(struct subject *subject)
{
    ww_line_destroy(subject->line);
    ww_study_clear(&subject->study);
}

/* --- against the bare transforms ---------------------------------------------------------------------------------- */

/* So many transforms of one kind, one after the other, planned beforehand as the library plans. */
static double time_transforms(size_t nx, size_t ny, bool forward, size_t count)
{
    double *value = fftw_alloc_real(nx * ny), best = HUGE_VAL;
    fftw_complex *coef = fftw_alloc_complex(ny * (nx / 2 + 1));
    fftw_plan plan = forward ? fftw_plan_dft_r2c_2d((int)ny, (int)nx, value, coef, FFTW_ESTIMATE)
                             : fftw_plan_dft_c2r_2d((int)ny, (int)nx, coef, value, FFTW_ESTIMATE);
    memset(value, 0, nx * ny * sizeof *value);
    memset(coef, 0, ny * (nx / 2 + 1) * sizeof *coef);
    for (int round = 0; round < ROUNDS; round++) {
        double start = worked();
        for (size_t i = 0; i < count; i++)
            fftw_execute(plan);
        best = fmin(best, worked() - start);
    }
    fftw_destroy_plan(plan);
    fftw_free(value);
    fftw_free(coef);
    return best;
}

/* What scans need: each six capacitances from their harmonics onto the grid of the cell, and two slownesses back. */
static double time_bare_scans(const struct subject *subject, size_t count)
{
    const struct ww_cell *cell = &subject->study.stack.ply[0].cell;
    return time_transforms(cell->nx, cell->ny, false, 6 * count) +
           time_transforms(cell->nx, cell->ny, true, 2 * count);
}

/* What one angle needs: a scan, and the map of all positions. */
static double time_bare(const struct subject *subject)
{
    return time_bare_scans(subject, 1) + time_transforms(POSITIONS, POSITIONS, false, 1);
}

static struct ww_angles_request angles_request(const struct subject *subject)
{
    return (struct ww_angles_request){.skew = subject->request, .to = 90 * DEG, .step = 0.5 * DEG};
}

/* What the sweep over angle needs: its first pass scans the table and takes a small map at every angle of the envelope
 * (those maps are left out that are added where a window of the turn ends between two of them); the second is one angle
 * for each that is shown. */
static double time_bare_sweep(const struct subject *subject, size_t shown)
{
    struct ww_angles_request request = angles_request(subject);
    struct ww_angle_tables tables = {0};
    struct ww_envelope envelope = {0};
    struct ww_progress_run progress = {0};
    struct ww_error error = {0};
    double turn = request.skew.turn;
    check(ww_angle_tables_create(&tables, subject->line, &request.skew, request.from - turn, request.to + turn,
                                 request.skew.length, &progress, &error),
          &error);
    check(
        ww_envelope_solve(&envelope, &tables, request.from, request.to, turn, request.skew.length, &progress, &error),
        &error);
    double bare = time_bare_scans(subject, ww_angle_tables_nominal(&tables)->count + shown) +
                  time_transforms(64, 64, false, envelope.count) +
                  time_transforms(POSITIONS, POSITIONS, false, shown);
    ww_envelope_clear(&envelope);
    ww_angle_tables_destroy(&tables);
    return bare;
}

static double time_turned(const struct subject *subject, bool likely)
{
    double best = HUGE_VAL;
    for (int round = 0; round < ROUNDS; round++) {
        struct ww_placements turned;
        struct ww_error error = {0};
        double start = worked();
        check(ww_placements_solve(&turned, subject->line, &subject->request, (3 + 9 * round) * DEG, likely, &error),
              &error);
        best = fmin(best, worked() - start);
        ww_placements_clear(&turned);
    }
    return best;
}

/* --- the sweeps ------------------------------------------------------------------------------------------------------ */

static double time_angles(const struct subject *subject, size_t *count, double (*time)(void))
{
    struct ww_angles angles;
    struct ww_error error = {0};
    struct ww_angles_request request = angles_request(subject);
    double start = time();
    check(ww_angles_solve(&angles, subject->line, &request, &error), &error);
    double taken = time() - start;
    *count = angles.count;
    ww_angles_clear(&angles);
    return taken;
}

static double time_lengths(const struct subject *subject)
{
    struct ww_lengths lengths;
    struct ww_error error = {0};
    double longest = 3 * subject->request.length;
    struct ww_lengths_request request = {
        .angles = angles_request(subject), .from = longest / 100, .to = longest, .count = 100};
    double start = now();
    check(ww_lengths_solve(&lengths, subject->line, &request, &error), &error);
    double taken = now() - start;
    ww_lengths_clear(&lengths);
    return taken;
}

/* --- the straightforward way ------------------------------------------------------------------------------------------ */

/* What the legs differ by at each position [s/m]: skew of a length next to nothing. */
static void write_map(const struct subject *subject, double angle, const char *path)
{
    const double next_to_nothing = 1e-9;
    struct ww_scan *scan = NULL;
    struct ww_map map = {0};
    struct ww_error error = {0};
    enum ww_signal signal = subject->study.trace.pitch > 0 ? WW_SKEW : WW_LEG1;
    check(ww_scan_create(&scan, subject->line, angle, &subject->request.scan, &error), &error);
    check(ww_scan_map(scan, 0, signal, WW_MEAN, next_to_nothing, &map, &error), &error);
    for (size_t i = 0; i < map.nx * map.ny; i++)
        map.value[i] /= next_to_nothing;
    check(ww_result_npy(path, &map, &error), &error);
    ww_map_clear(&map);
    ww_scan_destroy(scan);
}

/* The script at one angle: prints its seconds and the worst [ps]; false where it cannot be run. */
static bool run_script(const struct subject *subject, const char *python, const char *script, double angle,
                       size_t positions, double *seconds, double *worst)
{
    const char *map = "bench-angles-map.npy";
    const struct ww_cell *cell = &subject->study.stack.ply[0].cell;
    char command[4096];
    write_map(subject, angle, map);
    snprintf(command, sizeof command, "'%s' '%s' %s %.17g %.17g %.17g %.17g %zu", python, script, map, cell->lx,
             cell->ly, angle - subject->study.stack.ply[0].turn, subject->request.length, positions);
    FILE *pipe = popen(command, "r");
    bool good = pipe && fscanf(pipe, "%lf %lf", seconds, worst) == 2;
    if (pipe)
        good = pclose(pipe) == 0 && good;
    remove(map);
    return good;
}

static void compare(const struct subject *subject, const char *python, const char *script, double per_angle)
{
    const double tried[] = {10, 38};
    for (size_t i = 0; i < sizeof tried / sizeof *tried; i++) {
        double seconds = 0, worst = 0;
        struct ww_placements turned;
        struct ww_error error = {0};
        if (!run_script(subject, python, script, tried[i] * DEG, POSITIONS, &seconds, &worst)) {
            printf("the script could not be run: no ratio\n");
            return;
        }
        check(ww_placements_solve(&turned, subject->line, &subject->request, tried[i] * DEG, true, &error), &error);
        printf("spline sampling at %2.0f deg: %7.2f s, %6.0f times as long; worst %.4f ps, here %.4f ps\n", tried[i],
               seconds, seconds / per_angle, worst, turned.worst * 1e12);
        ww_placements_clear(&turned);
    }
}

/* All that a script needs to find the worst at one angle, and what the library finds. */
static void tell_angle(const struct subject *subject, double angle, const char *path)
{
    const struct ww_cell *cell = &subject->study.stack.ply[0].cell;
    struct ww_placements turned;
    struct ww_error error = {0};
    check(ww_placements_solve(&turned, subject->line, &subject->request, angle, true, &error), &error);
    write_map(subject, angle, path);
    printf("%.17g %.17g %.17g %.17g %.17g\n", cell->lx, cell->ly, angle - subject->study.stack.ply[0].turn,
           subject->request.length, turned.worst);
    ww_placements_clear(&turned);
}

int main(int count, char **argument)
{
    struct subject subject;
    if (count != 3 && count != 5 && count != 6) {
        fprintf(stderr, "usage: bench-angles STUDY WEAVES [PYTHON SCRIPT | map ANGLE FILE]\n");
        return 2;
    }
    open_subject(&subject, argument[1], argument[2]);
    if (count == 6) {
        tell_angle(&subject, strtod(argument[4], NULL) * DEG, argument[5]);
        close_subject(&subject);
        return 0;
    }
    size_t shown = 0;
    double sweep = time_angles(&subject, &shown, now);
    report("angles, 0 to 90 deg by 0.5 deg, 256 x 256 positions, one ply", sweep, 1, "s");
    printf("  %zu angles shown, %.2f ms each\n", shown, 1e3 * sweep / (double)shown);
    report("angle by length, 181 x 100", time_lengths(&subject), 3, "s");
    ww_threads_set(1);
    double bare = time_bare(&subject), turned = time_turned(&subject, true), extremes = time_turned(&subject, false);
    printf("one thread, one angle: %.3f ms with chances, %.3f ms extremes only; its nine bare transforms %.3f ms\n",
           1e3 * turned, 1e3 * extremes, 1e3 * bare);
    report("one angle against the bare transforms it needs", turned / bare, 3, "times");
    double frequency = subject.request.frequency, rate = subject.request.rate, converting = HUGE_VAL;
    sweep = HUGE_VAL;
    for (int round = 0; round < ROUNDS && (frequency > 0 || rate > 0); round++)
        converting = fmin(converting, time_angles(&subject, &shown, worked));
    subject.request.frequency = subject.request.rate = 0;
    for (int round = 0; round < ROUNDS; round++)
        sweep = fmin(sweep, time_angles(&subject, &shown, worked));
    bare = time_bare_sweep(&subject, shown);
    if (converting < HUGE_VAL)
        report("the sweep with mode conversion against the sweep without", converting / sweep, 1.4, "times");
    subject.request.frequency = frequency;
    subject.request.rate = rate;
    printf("one thread, the sweep: %.1f ms; its bare transforms %.1f ms\n", 1e3 * sweep, 1e3 * bare);
    report("the sweep over angle against the bare transforms it needs", sweep / bare, 3, "times");
    ww_threads_set(0);
    if (count == 5)
        compare(&subject, argument[3], argument[4], turned);
    close_subject(&subject);
    return 0;
}
