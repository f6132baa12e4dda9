/* cli/help.h - the help, made from the tables of commands, options and keys.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_HELP_H
#define CLI_HELP_H

#include "command.h"

/* The help of one command, or of the program where it is NULL. */
/* The help of a topic that is no command: "study", the keys of a study. False: there is no such topic. */
bool help_topic(const char *topic);
void help_print(const struct command *of);

#endif
