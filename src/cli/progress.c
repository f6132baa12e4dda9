/* progress.c - what the program is at, for a person who waits longer than a second.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The library does not report on its way, so a timer does: when the second is over it shows the step at hand, and every
 * later step shows itself. The line and its length are in place before the signal may look at them.
 */
#include "progress.h"

#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/time.h>
#include <unistd.h>

static char line[160];
static volatile sig_atomic_t length, shown, running;

/* Only what a signal handler may do. What cannot be written is no loss. */
static void show(void)
{
    shown = 1;
    if (write(STDERR_FILENO, line, (size_t)length) < 0)
        length = 0;
}

static void on_second(int number)
{
    (void)number;
    if (running)
        show();
}

void progress_start(bool wanted)
{
    struct sigaction action = {.sa_handler = on_second, .sa_flags = SA_RESTART};
    struct itimerval second = {.it_value = {.tv_sec = 1}};
    shown = 0;
    running = 0;
    if (!wanted || !isatty(STDERR_FILENO))
        return;
    sigemptyset(&action.sa_mask);
    running = sigaction(SIGALRM, &action, NULL) == 0 && setitimer(ITIMER_REAL, &second, NULL) == 0;
}

void progress_step(const char *what)
{
    if (!running)
        return;
    length = 0;
    snprintf(line, sizeof line, "\r\033[Kweftwise: %.100s ...", what);
    length = (sig_atomic_t)strlen(line);
    if (shown)
        show();
}

void progress_end(void)
{
    static const char wipe[] = "\r\033[K";
    const struct itimerval never = {.it_value = {.tv_sec = 0}};
    if (!running)
        return;
    running = 0;
    setitimer(ITIMER_REAL, &never, NULL);
    if (shown && write(STDERR_FILENO, wipe, sizeof wipe - 1) < 0)
        shown = 0;
}
