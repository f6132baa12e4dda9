/* main.c - weftwise: which command, and what its exit status says.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "command.h"
#include "help.h"
#include "progress.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#ifdef __GLIBC__
#include <malloc.h>
#endif

enum { LIST_SIZE = 256 };

/* --- which command ------------------------------------------------------------------------------------------------- */

/* "styles, new and map" */
static const char *list_commands(char *out, size_t size)
{
    size_t used = 0;
    for (size_t i = 0; i < commands && used < size; i++) {
        const char *joint = i == 0 ? "" : i + 1 < commands ? ", " : " and ";
        used += (size_t)snprintf(out + used, size - used, "%s%s", joint, command[i].name);
    }
    return out;
}

static enum outcome find_command(const char *word, const struct command **found)
{
    const char *names[COMMANDS_MOST];
    char list[LIST_SIZE];
    for (size_t i = 0; i < commands; i++) {
        names[i] = command[i].name;
        *found = &command[i];
        if (strcmp(word, names[i]) == 0)
            return DONE;
    }
    *found = NULL;
    const char *nearest = ww_nearest_word(word, names, commands);
    if (nearest)
        return usage("'%.60s' is not a command; did you mean '%s'?", word, nearest);
    return usage("'%.60s' is not a command; there are %s", word, list_commands(list, sizeof list));
}

/* help, help study, help skew */
static enum outcome explain(const char *topic)
{
    const struct command *of = NULL;
    if (topic && help_topic(topic))
        return finish_output();
    enum outcome outcome = topic ? find_command(topic, &of) : DONE;
    if (outcome)
        return outcome;
    help_print(of);
    return finish_output();
}

static enum outcome run(const struct options *options)
{
    const struct command *of = NULL;
    char list[LIST_SIZE];
    if (options->version) {
        printf("weftwise %s\n", ww_version());
        return finish_output();
    }
    if (options->operands > 0) {
        enum outcome outcome = find_command(options->operand[0], &of);
        if (outcome)
            return outcome;
    }
    if (options->help) {
        help_print(of);
        return finish_output();
    }
    if (!of)
        return usage("which command? one of %s; --help explains them", list_commands(list, sizeof list));
    enum outcome outcome = options_check(options, of->bit, of->name);
    if (outcome)
        return outcome;
    size_t operands = options->operands - 1;
    if (operands < of->least)
        return usage("'%s' lacks its %s; the usage is: weftwise %s %s", of->name, of->operands, of->name,
                     of->operands);
    if (operands > of->most)
        return usage("'%s' is one operand too many for '%s'; the usage is: weftwise %s %s",
                     options->operand[of->most + 1], of->name, of->name, of->operands);
    ww_threads_set(options->threads);
    return of->run ? of->run(options) : explain(operands > 0 ? options->operand[1] : NULL);
}

/* --- being stopped ----------------------------------------------------------------------------------------------------- */

/* Only what a signal handler may do. Files that were finished stay; what is half done goes. */
static void on_stop(int number)
{
    static const char message[] = "weftwise: stopped; the files that were finished stay, no other is left\n";
    ww_output_abandon();
    progress_abandon();
    ssize_t told = write(STDERR_FILENO, message, sizeof message - 1);
    (void)told; /* where nobody listens, the status has to do */
    _exit(128 + number);
}

/* Unless whoever started the program wants the signal ignored, as nohup does. */
static void stop_on(int number)
{
    struct sigaction action = {.sa_handler = on_stop}, before;
    sigfillset(&action.sa_mask);
    if (sigaction(number, NULL, &before) == 0 && before.sa_handler != SIG_IGN)
        sigaction(number, &action, NULL);
}

/* --- given up by a library --------------------------------------------------------------------------------------------- */

static volatile sig_atomic_t returned; /* from main, with a status of ours */

/* Again only what a signal handler may do. */
static void end_failed(const char *message, size_t size)
{
    ww_output_abandon();
    progress_abandon();
    ssize_t told = write(STDERR_FILENO, message, size);
    (void)told;
    _exit(FAILED);
}

/* Without memory or threads libgomp ends the program with status 1, FFTW aborts: neither may pass for an answer. */
static void given_up(void)
{
    static const char message[] =
        "weftwise: a library gave up, as for want of memory or threads; close other programs, or give "
        "--threads 1\n";
    if (!returned)
        end_failed(message, sizeof message - 1);
}

static void on_abort(int number)
{
    (void)number;
    given_up();
}

/* Fontconfig does not look whether it was given memory. A fault of this program's own looks the same, and is told as one. */
static void on_fault(int number)
{
    static const char message[] =
        "weftwise: ended by a fault in memory; where memory is short, close other programs; else please report the "
        "study\n";
    (void)number;
    end_failed(message, sizeof message - 1);
}

/* On a stack of its own, for that of the program may be what is used up. A sanitizer's handler stays. */
static void contain_faults(void)
{
    static char room[65536];
    static const int faults[] = {SIGSEGV, SIGBUS};
    const stack_t stack = {.ss_sp = room, .ss_size = sizeof room};
    struct sigaction action = {.sa_handler = on_fault, .sa_flags = SA_ONSTACK}, before;
    sigfillset(&action.sa_mask);
    if (sigaltstack(&stack, NULL) != 0)
        return;
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++)
        if (sigaction(faults[i], NULL, &before) == 0 && before.sa_handler == SIG_DFL)
            sigaction(faults[i], &action, NULL);
}

/* Tables of some megabytes come and go all through a run. What is freed is kept for the next one: handed back to the system, it
 * would be cleared and mapped anew page by page. */
static void keep_freed_memory(void)
{
#ifdef __GLIBC__
    enum { MEGABYTE = 1 << 20 };
    mallopt(M_MMAP_THRESHOLD, 32 * MEGABYTE); /* the most it takes */
    mallopt(M_TRIM_THRESHOLD, 1024 * MEGABYTE);
    mallopt(M_TOP_PAD, 16 * MEGABYTE); /* more would be missed where memory is limited */
#endif
}

int main(int argc, char **argv)
{
    struct options options = {0};
    struct sigaction abort_action = {.sa_handler = on_abort};
    keep_freed_memory();
    if (atexit(given_up) == 0)
        sigaction(SIGABRT, &abort_action, NULL);
    contain_faults();
    signal(SIGXFSZ, SIG_IGN); /* a file over the limit is an error of writing, told and cleaned up like any other */
    stop_on(SIGINT);
    stop_on(SIGTERM);
    stop_on(SIGHUP);
    enum outcome outcome = options_parse(&options, argc, argv);
    if (!outcome)
        outcome = run(&options);
    options_clear(&options);
    returned = 1;
    return (int)outcome;
}
