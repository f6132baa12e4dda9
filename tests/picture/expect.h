/* expect.h - what is measured of a rendering against what was rendered.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef TESTS_PICTURE_EXPECT_H
#define TESTS_PICTURE_EXPECT_H

#include "check.h"
#include "render.h"

static const double degree = WW_PI / 180.0;

/* Allowed: pitch 0.2 %, turn 0.05 deg, widths 5 % (issue 16). */
static inline void expect_cloth(const struct ww_cloth_picture *cloth, const struct rendering *r)
{
    const struct ww_picture_yarns *of[2] = {&cloth->warp, &cloth->fill};
    for (int f = 0; f < 2; f++) {
        assert_close(of[f]->pitch.value, r->pitch[f], 2e-3, 0.0);
        assert_close(of[f]->turn.value, r->turn[f], 0.0, 0.05 * degree);
        assert_true(of[f]->edges_seen);
        assert_close(of[f]->width.value, r->width[f], 0.05, 0.0);
        assert_close(of[f]->gap.value, r->pitch[f] - r->width[f], 0.0, 0.05 * r->width[f]);
    }
    assert_close(cloth->between.value, WW_PI / 2.0 + r->turn[0] - r->turn[1], 0.0, 0.07 * degree);
}

/* Render, measure and compare; the caller clears the cloth. */
static inline struct ww_cloth_picture expect_measured(const struct rendering *r)
{
    struct ww_picture picture = render(r);
    struct ww_picture_options how = {0};
    struct ww_cloth_picture cloth;
    struct ww_error error = {0};
    assert_ok(ww_picture_measure(&cloth, &picture, &how, &error), error);
    expect_cloth(&cloth, r);
    ww_picture_clear(&picture);
    return cloth;
}

#endif
