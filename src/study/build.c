/* build.c - from a study to what the solvers are asked.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "weftwise/study.h"

enum ww_status ww_study_build(struct ww_study *study, struct ww_error *error)
{
    struct ww_cell_options options = {.fineness = study->fineness};
    ww_stack_clear(&study->stack);
    enum ww_status status = ww_stack_build(&study->stack, &options, error);
    if (status && error && !error->file[0])
        return ww_error_set(error, status, study->file, error->line, "%s", error->text);
    return status;
}

struct ww_line_options ww_study_line_options(const struct ww_study *study)
{
    return (struct ww_line_options){.fineness = study->fineness};
}

struct ww_skew_request ww_study_request(const struct ww_study *study)
{
    return (struct ww_skew_request){.length = study->length,
                                    .angle = study->angle,
                                    .turn = study->turn,
                                    .budget = study->budget,
                                    .frequency = study->frequency,
                                    .rate = study->rate,
                                    .sections = study->sections,
                                    .scan = {.positions = study->positions, .averaging = WW_FLIGHT}};
}
