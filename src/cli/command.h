/* cli/command.h - the commands of the program, and what all of them share: options, exit status, messages.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_COMMAND_H
#define CLI_COMMAND_H

#include <weftwise/core.h>
#include <weftwise/figure.h>

/* What the program's exit status says. */
enum outcome {
    DONE = 0,
    OVER_BUDGET = 1, /* done, and over budget with --gate */
    BAD_INPUT = 2,   /* usage or input that cannot be used */
    FAILED = 3       /* could not read, write, allocate or converge */
};

struct range {
    double from, to; /* from < to */
};

/* The command line, taken apart. Strings are those of argv. */
struct options {
    const char *folder; /* -o */
    const char *weaves;
    const char **assignment; /* --set, in order */
    size_t assignments;
    const char **operand; /* what is no option: the command first */
    size_t operands;
    unsigned long given; /* a bit for each row of the table of options */
    enum ww_figure_format format;
    int dpi, width, threads;         /* 0: the default */
    int ply;                         /* from 1; 0: all */
    double memory;                   /* [B]; 0: the default */
    double from, to;                 /* of the angles [rad]; all of a quarter turn by default */
    double step;                     /* [rad]; 0: the default of the command */
    double to_length;                /* [m]; 0: the default */
    struct range pitch, trace_width; /* [m]; zeroed: the default */
    bool json, quiet, gate, no_volume, same_dk, help, version;
};

/* One bit for each command: which options it has a use for (options.c). */
enum {
    STYLES = 1,
    NEW = 2,
    MAP = 4,
    SKEW = 8,
    VERIFY = 16,
    ANGLES = 32,
    COMPARE = 64,
    PITCH = 128,
    REPORT = 256,
    RECALL = 512
};

struct command {
    const char *name;
    unsigned bit;
    const char *operands; /* "STUDY", for the usage line */
    const char *answers;  /* the question it answers */
    const char *writes;   /* a sentence on what is written, "" if nothing */
    size_t least, most;   /* operands behind the command's name */
    bool has_study;       /* then the help explains the study's keys */
    enum outcome (*run)(const struct options *options);
};

enum { COMMANDS_MOST = 16 };
extern const struct command command[]; /* [commands] */
extern const size_t commands;

/* Fill options from argv. A message is printed for what cannot be understood. options_clear in any case. */
enum outcome options_parse(struct options *options, int argc, char **argv);
void options_clear(struct options *options);
/* Refuse an option that the command has no use for and that is not one that all take. */
enum outcome options_check(const struct options *options, const struct command *of);

/* One line on standard error, "weftwise: ...", and the exit status that goes with it. */
enum outcome fail(const struct ww_error *error);
enum outcome usage(const char *format, ...) WW_PRINTF(1, 2);
/* Flush standard output; DONE, or a message and FAILED where it could not be written. */
enum outcome finish_output(void);

/* The help of one command, or of the program where it is NULL. */
void help_print(const struct command *of);
/* The lines of the options that a command has a use for. */
void options_help(const struct command *of);
/* text from column `indent` on, wrapped; the cursor is at column `at`. */
void paragraph(int at, int indent, const char *text);

enum outcome styles_run(const struct options *options);
enum outcome new_run(const struct options *options);
enum outcome map_run(const struct options *options);
enum outcome skew_run(const struct options *options);
enum outcome verify_run(const struct options *options);
enum outcome angles_run(const struct options *options);
enum outcome compare_run(const struct options *options);
enum outcome pitch_run(const struct options *options);
enum outcome report_run(const struct options *options);
enum outcome recall_run(const struct options *options);

#endif
