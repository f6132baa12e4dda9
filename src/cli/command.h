/* cli/command.h - the table of commands.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_COMMAND_H
#define CLI_COMMAND_H

#include "options.h"

struct command {
    const char *name;
    unsigned bit;
    const char *operands;                               /* "STUDY", for the usage line */
    const char *answers;                                /* the question it answers */
    const char *writes;                                 /* a sentence on what is written, "" if nothing */
    size_t least, most;                                 /* operands behind the command's name */
    bool has_study;                                     /* then the help tells where the study's keys are explained */
    enum outcome (*run)(const struct options *options); /* NULL: help */
};

enum { COMMANDS_MOST = 16 };
extern const struct command command[]; /* [commands] */
extern const size_t commands;

#endif
