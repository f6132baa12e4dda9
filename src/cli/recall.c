/* recall.c - weftwise recall FIGURE: which study made this figure?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "run.h"

#include <weftwise/figure.h>
#include <weftwise/result.h>

#include <stdlib.h>

enum outcome recall_run(const struct options *options)
{
    struct ww_error error = {0};
    char *study = NULL;
    enum ww_status status = ww_figure_recall(options->operand[1], &study, &error);
    if (!status && options->json)
        status = ww_result_recall_json(stdout, options->operand[1], study, &error);
    else if (!status)
        fputs(study, stdout);
    free(study);
    return status ? fail(&error) : finish_output();
}
