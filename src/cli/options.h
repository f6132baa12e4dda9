/* cli/options.h - the command line, taken apart by one table of options.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_OPTIONS_H
#define CLI_OPTIONS_H

#include "message.h"

#include <weftwise/figure.h>

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
    int dpi, width, threads;                /* 0: the default */
    int ply;                                /* from 1; 0: all */
    double memory;                          /* [B]; 0: the default */
    double from, to;                        /* of the angles [rad]; all of a quarter turn by default */
    double step;                            /* [rad]; 0: the default of the command */
    double to_length;                       /* [m]; 0: the default */
    struct range pitch, trace_width;        /* [m]; zeroed: the default */
    struct range band;                      /* [Hz]; zeroed: the default */
    int points, count, boards, nets;        /* 0: the default, none, the default, the study's lanes */
    const char *placement;                  /* NULL: the default */
    double scale;                           /* side of a pixel [m]; 0: the picture's own */
    const char *warp, *light, *like, *name; /* of a picture; NULL: the default */
    bool json, quiet, gate, no_volume, same_dk, halve, check, lossless, help, version;
};

/* One bit for each command: which options it has a use for. */
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
    RECALL = 512,
    BUDGET = 1024,
    FREQUENCY = 2048,
    CLOTH = 4096,
    MEASURE = 8192,
    HELP = 1 << 16
};

/* Fill options from argv. A message is printed for what cannot be understood. options_clear in any case. */
enum outcome options_parse(struct options *options, int argc, char **argv);
void options_clear(struct options *options);
/* Refuse an option that the command of this bit and name has no use for and that is not one that all take. */
enum outcome options_check(const struct options *options, unsigned bit, const char *name);
/* The lines of the options that the command of this bit has a use for; 0: of all options. */
void options_help(unsigned bit);

#endif
