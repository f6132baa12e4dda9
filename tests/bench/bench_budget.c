/* bench_budget.c - how long the budget takes with all causes that a study can have.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 *     bench-budget WEAVES STUDY...
 *
 * CPU time of all threads, and of the wall: the study's own answer, the budget, and each corner solved in full. A benchmark, not
 * a test: nothing is asserted. The aim is 20 s for study and budget, the check aside.
 */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "weftwise/budget.h"

enum { CORNERS = 8 };

/* Ten causes of a pair with the weave, nine of a single trace: the others stand in place of these. */
static const char *const causes[] = {"stackup.copper=hvlp",
                                     "tolerance.resin.dk=0.05 normal boards",
                                     "tolerance.glass.dk=0.1 normal boards",
                                     "tolerance.thickness=8 % uniform boards",
                                     "tolerance.trace.width=8 um uniform board",
                                     "tolerance.trace.thickness=3 um normal boards",
                                     "tolerance.foil.rz=0.3 um normal boards",
                                     "tolerance.temperature=-40 degC to 105 degC uniform life",
                                     "tolerance.resin.tcdk=100 ppm/degC",
                                     "tolerance.expansion=15 ppm/degC",
                                     "tolerance.moisture=0.08 % uniform life",
                                     "tolerance.trace.gap=5 um uniform boards"};
enum { SETTINGS = sizeof causes / sizeof *causes };

struct span {
    double wall, cpu;
};

static double read_clock(clockid_t clock)
{
    struct timespec time;
    clock_gettime(clock, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static struct span now(void)
{
    return (struct span){read_clock(CLOCK_MONOTONIC), read_clock(CLOCK_PROCESS_CPUTIME_ID)};
}

static struct span since(struct span start)
{
    struct span end = now();
    return (struct span){end.wall - start.wall, end.cpu - start.cpu};
}

static void check(enum ww_status status, const struct ww_error *error)
{
    if (status == WW_OK)
        return;
    fprintf(stderr, "%s:%d: %s\n", error->file, error->line, error->text);
    exit(2);
}

static void load(struct ww_study *study, const char *path, const char *weaves)
{
    struct ww_error error = {0};
    check(ww_study_load(study, path, weaves, NULL, 0, &error), &error);
    bool pair = study->trace.pitch > 0.0, laminate = study->tolerance.laminate_dk.given;
    ww_study_clear(study);
    const char *set[SETTINGS];
    size_t count = 0;
    for (size_t i = 0; i < SETTINGS; i++)
        if ((pair || i + 1 < SETTINGS) && !(laminate && (i == 1 || i == 2))) /* its Dk has those in it */
            set[count++] = causes[i];
    check(ww_study_load(study, path, weaves, set, count, &error), &error);
    check(ww_study_build(study, &error), &error);
}

static void time_study(const char *path, const char *weaves)
{
    struct ww_error error = {0};
    struct ww_study study = {0};
    struct ww_solution solution = {0};
    struct ww_budget budget = {0};
    load(&study, path, weaves);
    struct span start = now();
    struct ww_study alone = study;
    alone.arms = 0; /* as the command does: the budget lays the arms itself */
    check(ww_study_solve(&solution, &alone, &error), &error);
    struct span answer = since(start);
    struct ww_budget_request request = {.study = &study, .solution = &solution};
    start = now();
    check(ww_budget_solve(&budget, &request, &error), &error);
    struct span all = since(start);
    ww_budget_clear(&budget);
    request.corners = CORNERS;
    start = now();
    check(ww_budget_solve(&budget, &request, &error), &error);
    struct span checked = since(start);
    int given = 0;
    for (int i = 0; i < WW_CAUSES; i++)
        given += budget.cause[i].given;
    printf("%-30s %2d causes: study %5.2f s CPU %5.2f s wall, budget %5.2f %5.2f, both %5.2f %5.2f; a corner %.2f\n",
           study.title, given, answer.cpu, answer.wall, all.cpu, all.wall, answer.cpu + all.cpu,
           answer.wall + all.wall, (checked.cpu - all.cpu) / CORNERS);
    fflush(stdout);
    ww_budget_clear(&budget);
    ww_solution_clear(&solution);
    ww_study_clear(&study);
}

int main(int argc, char **argv)
{
    for (int i = 2; i < argc; i++)
        time_study(argv[i], argv[1]);
    return argc > 2 ? 0 : 2;
}
