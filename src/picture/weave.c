/* picture/weave.c - do the two families lie over each other as yarns do?
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Two families of lines make no cloth: dots in a lattice, bricks and chessboards have them. In a cloth every yarn is there all along
 * itself: at all crossings, even and odd, and between them, it is lighter than the holes between two yarns of either family.
 * Dots and bricks lack every other crossing; of a chessboard the corners, where it would have yarns, are half as light as its squares.
 */
#include "picture/picture.h"

#include <math.h>

enum { EVEN, ODD, ALONG_FIRST, ALONG_SECOND, HOLE, PLACES };
static const double NEAR = 0.12;                 /* of a pitch, about the middle of a yarn or of a gap */
static const double OF_GAP = 0.35, LEAST = 0.02; /* of a narrow gap, about its middle; of a pitch */
static const double CROSSED =
    0.1; /* of the way from holes to the lightest place: both crossings; warp and fill may differ */
static const double ALONG =
    0.6; /* of what crossings are lighter: between them; chessboards have a half, renderings 0.95 and more */
static const double UNRESOLVED = 2.0; /* blurs to a gap: holes are lost in it */
static const double CLEAR = 0.3;      /* of the picture's light: where holes are darker by less, noise may do it */

/* Which of the places this one is; PLACES: none of them. Middles of gaps reach `near` either side. */
static int place_of(const double index[2], const double near[2])
{
    double off[2] = {fabs(index[0] - round(index[0])), fabs(index[1] - round(index[1]))};
    bool on[2] = {off[0] < NEAR, off[1] < NEAR}, beside[2] = {off[0] > 0.5 - near[0], off[1] > 0.5 - near[1]};
    if (on[0] && on[1])
        return fmod(fabs(round(index[0]) + round(index[1])), 2.0) < 0.5 ? EVEN : ODD;
    if (on[0] && beside[1])
        return ALONG_FIRST;
    if (beside[0] && on[1])
        return ALONG_SECOND;
    return beside[0] && beside[1] ? HOLE : PLACES;
}

static void mean_places(double mean[PLACES], const struct ww_level *level, const struct ww_follow follow[2],
                        const struct ww_trend trend[2], const struct ww_width width[2])
{
    double count[PLACES] = {0.0}, near[2];
    for (int k = 0; k < PLACES; k++)
        mean[k] = 0.0;
    for (int f = 0; f < 2; f++)
        near[f] = width[f].width > 0.0 ? fmin(NEAR, fmax(LEAST, OF_GAP * width[f].gap / trend[f].c[1])) : LEAST;
    for (size_t iy = 0; iy < level->ny; iy++)
        for (size_t ix = 0; ix < level->nx; ix++) {
            double x = (double)ix + 0.5 - 0.5 * (double)level->nx, y = (double)iy + 0.5 - 0.5 * (double)level->ny;
            double index[2];
            for (int f = 0; f < 2; f++)
                index[f] = ww_trend_yarn(&trend[f], &follow[f], x, y) - width[f].centre / trend[f].c[1];
            int place = place_of(index, near);
            if (place == PLACES)
                continue;
            mean[place] += level->value[iy * level->nx + ix];
            count[place] += 1.0;
        }
    for (int k = 0; k < PLACES; k++)
        mean[k] /= fmax(count[k], 1.0);
}

enum ww_status ww_weave_check(const struct ww_level *level, const struct ww_follow follow[2],
                              const struct ww_trend trend[2], struct ww_width width[2], struct ww_error *error)
{
    double mean[PLACES];
    for (int f = 0; f < 2; f++)
        if (width[f].width > 0.0 && width[f].gap < UNRESOLVED * width[f].blur)
            return WW_OK;
    mean_places(mean, level, follow, trend, width);
    double crossing = fmin(mean[EVEN], mean[ODD]) - mean[HOLE];
    double along = fmin(mean[ALONG_FIRST], mean[ALONG_SECOND]) - mean[HOLE];
    double most = fmax(fmax(mean[EVEN], mean[ODD]), fmax(mean[ALONG_FIRST], mean[ALONG_SECOND])) - mean[HOLE];
    bool crossed = crossing > CROSSED * most;
    if (crossed && along > ALONG * crossing)
        return WW_OK;
    if (most > CLEAR)
        return ww_error_set(error, WW_UNPHYSICAL, level->file, 0,
                            "shows no cloth: two families of lines, but %s; yarns are seen all along themselves",
                            crossed ? "between their crossings they are gone" : "every other crossing is dark");
    width[0].seen = width[1].seen = false;
    return WW_OK;
}
