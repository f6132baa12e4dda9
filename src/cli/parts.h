/* cli/parts.h - the parts of the commands on a study, each solved and saved: a command of its own runs one, the report
 * all of them.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_PARTS_H
#define CLI_PARTS_H

#include "job.h"

#include <weftwise/line.h>
#include <weftwise/chance.h>
#include <weftwise/sweep.h>
#include <weftwise/verify.h>

/* skew: the answer and what it was made of. */
struct skew_part {
    struct ww_line *line;
    struct ww_skew skew;
    struct ww_line_summary summary; /* as it is shown */
    double (*start)[2];             /* of each ply: where the plies add to the worst */
};
/* turn: how far the cloth may lie off square [rad]. */
enum ww_status skew_solve(struct job *job, double turn, struct skew_part *part, struct ww_error *error);
/* The files of the command, into the job's folder. */
enum ww_status skew_save(struct job *job, const struct skew_part *part, struct ww_error *error);
void skew_clear(struct skew_part *part);

/* verify: of the kernel's answer. in_short: of the worst alone, and without a volume. */
enum ww_status verify_solve(const struct job *job, const struct skew_part *kernel, bool in_short,
                            struct ww_verify *verify, struct ww_error *error);
enum ww_status verify_save(struct job *job, const struct skew_part *kernel, const struct ww_verify *verify,
                           struct ww_error *error);
/* What the numbers are worth, in one sentence. */
void verify_error_bar(const struct job *job, const struct ww_verify *verify, char *out, size_t size);

/* angles: over the range of the command line, and over length. */
struct angles_part {
    struct ww_line_summary summary; /* as it is shown */
    struct ww_angles angles;
    struct ww_lengths lengths;
    char sentence[512]; /* the answer in words */
};
/* known: has the line and its calibration already; NULL: they are made. */
enum ww_status angles_solve(struct job *job, const struct skew_part *known, struct angles_part *part,
                            struct ww_error *error);
enum ww_status angles_save(struct job *job, const struct angles_part *part, struct ww_error *error);
void angles_clear(struct angles_part *part);
/* How far to turn away from the yarns, in one sentence. */
void angles_sentence(const struct ww_angles *angles, char *out, size_t size);

/* compare: of these styles; the ply that changes and what becomes of its resin are the command line's. in_short: fewer
 * angles. */
enum ww_status compare_solve(const struct job *job, const struct ww_candidate *candidate, size_t candidates,
                             bool in_short, struct ww_comparison *comparison, struct ww_error *error);
enum ww_status compare_save(struct job *job, const struct ww_comparison *comparison, struct ww_error *error);

/* pitch: over the ranges of the command line, or about the study's own. in_short: fewer choices. */
enum ww_status pitch_solve(const struct job *job, bool in_short, struct ww_pitch *pitch, struct ww_error *error);
enum ww_status pitch_save(struct job *job, const struct ww_pitch *pitch, struct ww_error *error);

#endif
