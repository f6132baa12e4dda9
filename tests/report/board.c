/* board.c - the small board of these tests.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "board.h"

static const char study[] = "[study]\ntitle = A small board\npositions = 32\nfineness = 0.5\nsections = 0\n"
                            "[stackup]\nresin = plain\nlayer = plane\nlayer = ply 1080 100 um\nlayer = trace\n"
                            "layer = solid 100 um dk=3.4 df=0.004\nlayer = plane\n"
                            "[resin plain]\ndk = 3.2\ndf = 0.004\ndensity = 1.4 g/cm3\nsource = invented for a test\n"
                            "[trace]\nwidth = 100 um\nthickness = 15 um\nlength = 50 mm\nangle = 0 deg\n";

void board_solve(struct board *board, const char *trace, const char *signal)
{
    char text[4096];
    struct ww_error error = {0};
    memset(board, 0, sizeof *board);
    int length = snprintf(text, sizeof text, "%s%s%s", study, trace, signal);
    FILE *stream = fmemopen(text, (size_t)length, "r");
    assert_non_null(stream);
    if (ww_study_read(&board->study, stream, "small.ini", WW_SOURCE_ROOT "/weaves", NULL, 0, &error) ||
        ww_study_build(&board->study, &error))
        fail_msg("%s", error.text);
    fclose(stream);
    struct ww_line_options options = ww_study_line_options(&board->study);
    struct ww_skew_request request = ww_study_request(&board->study);
    if (ww_line_create(&board->line, &board->study.stack, &board->study.trace, &options, &error) ||
        ww_skew_solve(&board->skew, board->line, &request, &error))
        fail_msg("%s", error.text);
    board->report =
        (struct ww_report){.study = &board->study, .line = ww_line_summary(board->line), .skew = &board->skew};
}

void board_clear(struct board *board)
{
    ww_skew_clear(&board->skew);
    ww_line_destroy(board->line);
    ww_study_clear(&board->study);
}
