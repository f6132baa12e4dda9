/* cli/files.h - which files each command owns in an output folder.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_FILES_H
#define CLI_FILES_H

#include <weftwise/core.h>

/* Is this the name of a file that the command of that name writes? */
bool files_owned(const char *by, const char *name);
/* Remove from the folder what earlier runs of the command left, and nothing else. A folder that is not there has none. What was
 * closed to others stays closed: the program's umask takes from the new files what any of the old ones did not grant. */
void files_remove(const char *by, const char *folder);
/* Can files be written into the folder, which need not be there? WW_IO with the reason. Leaves no trace. */
enum ww_status files_check(const char *folder, struct ww_error *error);

#endif
