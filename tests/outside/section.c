/* section.c - cross-sections of plain layers for the outside checks.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "support/check.h"
#include "outside/section.h"

#include <string.h>

enum { LAYERS_MOST = 8 };

struct ww_line_summary section_solve(const struct ww_layer *layer, size_t count, double width, double pitch)
{
    struct ww_layer scaled[LAYERS_MOST];
    assert_true(count <= LAYERS_MOST);
    memcpy(scaled, layer, count * sizeof *layer);
    struct ww_trace trace = {.width = width * UNIT, .pitch = pitch * UNIT};
    for (size_t i = 0; i < count; i++) {
        scaled[i].thickness *= UNIT;
        if (scaled[i].kind == WW_LAYER_TRACE)
            trace.thickness = scaled[i].thickness;
    }
    struct ww_stack stack = {.layer = scaled, .count = count};
    struct ww_line *line = NULL;
    struct ww_error error = {0};
    if (ww_stack_build(&stack, NULL, &error) || ww_line_create(&line, &stack, &trace, NULL, &error))
        fail_msg("%s", error.text);
    struct ww_line_summary summary = *ww_line_summary(line);
    /* where width and pitch have no common step, the pitch may move by this share of the width, and says so */
    assert_close(summary.pitch, trace.pitch, 0.0, 5e-4 * trace.width);
    ww_line_destroy(line);
    ww_stack_clear(&stack);
    return summary;
}

void section_compare(const char *what, double got, double want, double tolerance)
{
    print_message("%-52s %12.6f  reference %12.6f  %+8.4f %%\n", what, got, want, 100.0 * (got / want - 1.0));
    assert_close(got, want, tolerance, 0.0);
}
