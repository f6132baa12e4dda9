/* cli/verify.h - the part of verify: solved and saved, for its own command and for the report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef CLI_VERIFY_H
#define CLI_VERIFY_H

#include "skew.h"

#include <weftwise/verify.h>

/* verify: of the kernel's answer. in_short: of the worst alone, and without a volume. */
enum ww_status verify_solve(const struct job *job, const struct ww_solution *kernel, bool in_short,
                            struct ww_verify *verify, struct ww_error *error);
enum ww_status verify_save(struct job *job, const struct ww_solution *kernel, const struct ww_verify *verify,
                           struct ww_error *error);

#endif
