/* progress.c - what the program is at, for a person who waits longer than a second.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Much of the work does not report on its way, so a timer does: each second it shows the step at hand, with the seconds it has
 * taken where nothing else was shown meanwhile. Every later step shows itself. What does report tells the share done; the time
 * left is the time taken so far, scaled. The line and its length are in place before the signal may look at them.
 */
#include "progress.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static char line[256];
static char step[128];
static double begun, told;                 /* [s]: of the step, and when its share was last put into the line */
static double step_begun, line_shown;      /* [s] */
static double part_from, part_to, reached; /* of the whole, where it has parts; part_to 0: it has none */
static volatile sig_atomic_t length, shown, running;

static double now(void)
{
    struct timespec at = {0};
    clock_gettime(CLOCK_MONOTONIC, &at);
    return (double)at.tv_sec + 1e-9 * (double)at.tv_nsec;
}

/* Only what a signal handler may do. What cannot be written is no loss. */
static void show(void)
{
    shown = 1;
    line_shown = now();
    if (write(STDERR_FILENO, line, (size_t)length) < 0)
        length = 0;
}

/* The line again, and ", 12 s so far" behind it: digits without the library, for a handler may not ask it. */
static void show_seconds(void)
{
    static const char end[] = " s so far", start[] = ", ";
    char seconds[32];
    size_t at = sizeof seconds - (sizeof end - 1);
    unsigned long left = (unsigned long)fmin(fmax(0.0, now() - step_begun), 1e9);
    memcpy(&seconds[at], end, sizeof end - 1);
    do {
        seconds[--at] = (char)('0' + left % 10);
        left /= 10;
    } while (left > 0);
    at -= sizeof start - 1;
    memcpy(&seconds[at], start, sizeof start - 1);
    show();
    if (write(STDERR_FILENO, &seconds[at], sizeof seconds - at) < 0)
        length = 0;
}

static void on_second(int number)
{
    const double lately = 0.9; /* [s] */
    int code = errno;
    (void)number;
    if (running && !shown)
        show();
    else if (running && length > 0 && now() - line_shown > lately)
        show_seconds();
    errno = code;
}

/* Put the step and what is known of its end into the line. */
static void compose(const char *rest)
{
    length = 0;
    snprintf(line, sizeof line, "\r\033[Kweftwise: %s%s", step, rest);
    length = (sig_atomic_t)strlen(line);
    if (shown)
        show();
}

void progress_start(bool wanted)
{
    struct sigaction action = {.sa_handler = on_second, .sa_flags = SA_RESTART};
    struct itimerval second = {.it_value = {.tv_sec = 1}, .it_interval = {.tv_sec = 1}};
    shown = 0;
    running = 0;
    part_from = part_to = reached = 0.0;
    if (!wanted || !isatty(STDERR_FILENO))
        return;
    sigemptyset(&action.sa_mask);
    running = sigaction(SIGALRM, &action, NULL) == 0 && setitimer(ITIMER_REAL, &second, NULL) == 0;
}

/* "12 s", "3 min", "2 h": nobody plans by the second of an hour. */
static void say_duration(double seconds, char *out, size_t size)
{
    if (seconds < 100.0)
        snprintf(out, size, "%.0f s", ceil(seconds));
    else if (seconds < 6000.0)
        snprintf(out, size, "%.0f min", ceil(seconds / 60.0));
    else
        snprintf(out, size, "%.0f h", ceil(fmin(seconds / 3600.0, 9999.0)));
}

/* What is known of the end at this share. */
static void compose_share(double share)
{
    const double enough = 0.005; /* a share to judge by */
    char left[32], rest[64];
    if (share < enough) {
        compose(" ...");
        return;
    }
    say_duration((now() - begun) * (1.0 - share) / share, left, sizeof left);
    snprintf(rest, sizeof rest, ", %.0f %% done, %s left", floor(100.0 * share), left);
    compose(rest);
}

void progress_step(const char *what)
{
    if (!running)
        return;
    told = step_begun = now();
    if (part_to <= 0.0)
        begun = told;
    snprintf(step, sizeof step, "%s", what);
    if (part_to > 0.0)
        compose_share(reached);
    else
        compose(" ...");
}

void progress_part(double from, double to)
{
    if (running && part_to <= 0.0)
        begun = now();
    part_from = from;
    part_to = to;
    reached = from;
}

void progress_share(double share)
{
    const double between = 0.2; /* [s] from one change of the line to the next */
    double at = running ? now() : 0.0;
    if (!running || at - told < between || !(share >= 0.0 && share <= 1.0))
        return;
    told = at;
    if (part_to > 0.0)
        share = reached = fmax(reached, part_from + share * (part_to - part_from)); /* a part has several steps */
    compose_share(share);
}

static void report(void *context, double share)
{
    (void)context;
    progress_share(share);
}

struct ww_progress progress_of(void)
{
    return (struct ww_progress){.report = report};
}

/* Only what a signal handler may do, here too. */
void progress_abandon(void)
{
    static const char wipe[] = "\r\033[K";
    if (running && shown && write(STDERR_FILENO, wipe, sizeof wipe - 1) < 0)
        shown = 0;
    running = 0;
}

void progress_end(void)
{
    const struct itimerval never = {.it_value = {.tv_sec = 0}};
    if (running)
        setitimer(ITIMER_REAL, &never, NULL);
    progress_abandon();
}
