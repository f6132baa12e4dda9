/* cli/frequency.h - the part of frequency: solved and saved, for its own command and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_FREQUENCY_H
#define CLI_FREQUENCY_H

#include "skew.h"

#include <weftwise/frequency.h>
#include <weftwise/result.h>

/* Zeroed is valid and empty. */
struct frequency_part {
    struct ww_line_summary summary; /* as it is shown */
    const struct ww_line *line;
    struct ww_wideband *wideband;
    struct ww_spectrum spectrum;
    struct ww_notch_map map; /* empty without cloth */
    struct ww_angles angles; /* for its windows; empty where the study has no budget */
    double (*start)[2];      /* [plies] of the placement shown */
    char placement[96];
    size_t first, files; /* of S-parameters, among the job's files */
};

/* What cannot be solved for lack of something in the study is refused before any long work: WW_INVALID, and the message says
 * what is missing. */
enum ww_status frequency_check(const struct job *job, struct ww_error *error);
/* solution: of the job's study, good until the part is cleared. angles: of the same study, for its windows; NULL: they are
 * solved here, where there is a budget. */
enum ww_status frequency_solve(struct job *job, const struct ww_solution *solution, const struct ww_angles *angles,
                               struct frequency_part *part, struct ww_error *error);
enum ww_status frequency_save(struct job *job, struct frequency_part *part, const struct ww_angles *angles,
                              struct ww_error *error);
void frequency_clear(struct frequency_part *part);

#endif
