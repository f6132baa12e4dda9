/* picture/measure.c - from a picture to the figures of its cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Families by the spectrum (families.c), yarns followed one by one (follow.c), pitch, turn and wander from where they are (trend.c),
 * once more about their middle, which the holes tell (fold.c), widths from profiles along them (width.c, edges.c).
 */
#include "picture/picture.h"

#include <math.h>
#include <stdlib.h>

enum { SPECTRUM_SIDE = 401 };
static const double SPECTRUM_REACH = 3.4;                    /* of the higher of the two fundamentals */
static const double ASTRAY_MOST = 0.25, UNKNOWN_MOST = 0.02; /* of a pitch */
static const double CENTRED = 0.05;                          /* of a pitch: near enough to a yarn's middle */
static const double FAINTEST = 1e-12;                        /* of the largest power */

/* Everything in pixels. */
struct measuring {
    struct ww_level level;
    struct ww_family_lines lines;
    struct ww_follow follow[2]; /* across x first */
    struct ww_trend trend[2];
    struct ww_width width[2];
};

/* Yarns that are where no trend has them are not those of a cloth. */
static enum ww_status check_even(const struct ww_trend *trend, const struct ww_picture *picture,
                                 struct ww_error *error)
{
    if (trend->left <= ASTRAY_MOST * trend->c[1]) {
        if (trend->error[1] <= UNKNOWN_MOST * trend->c[1])
            return WW_OK;
        return ww_error_set(
            error, WW_INVALID, picture->file, 0,
            "tells the pitch within %.1f %% only, by %zu yarns that wander; give a picture of more yarns",
            200.0 * trend->error[1] / trend->c[1], trend->yarns);
    }
    return ww_error_set(
        error, WW_UNPHYSICAL, picture->file, 0,
        "shows no even cloth: yarns %.1f pixels apart lie %.1f pixels off an even pitch; crop it to cloth "
        "in focus, seen from above",
        trend->c[1], trend->left);
}

static enum ww_status follow(struct measuring *m, const double aside[2], const struct ww_picture *picture,
                             struct ww_error *error)
{
    enum ww_status status = WW_OK;
    for (int i = 0; i < 2 && !status; i++) {
        const double *other = m->lines.k[1 - i];
        ww_follow_clear(&m->follow[i]);
        status = ww_follow_yarns(&m->follow[i], &m->level, m->lines.k[i], 1.0 / hypot(other[0], other[1]), aside[i],
                                 error);
        if (!status)
            status = ww_trend_fit(&m->trend[i], &m->follow[i], picture->file, error);
    }
    return status;
}

/* The phase of a line is not the middle of its yarns: light from aside, and light yarns under dark ones, shift it by up to half a
 * pitch. The holes tell where that is; then yarns are followed about their middle. */
static enum ww_status centre(struct measuring *m, const struct ww_picture *picture, struct ww_error *error)
{
    double aside[2];
    ww_holes_find(aside, &m->level, m->follow, m->trend);
    bool far = false;
    for (int i = 0; i < 2; i++)
        far = far || fabs(aside[i]) > CENTRED * m->trend[i].c[1];
    return far ? follow(m, aside, picture, error) : WW_OK;
}

static enum ww_status solve(struct measuring *m, const struct ww_picture *picture, bool light_behind,
                            struct ww_error *error)
{
    enum ww_status status = ww_level_picture(&m->level, picture, light_behind, error);
    if (!status)
        status = ww_families_find(&m->lines, &m->level, error);
    const double aside[2] = {0.0, 0.0};
    if (!status)
        status = follow(m, aside, picture, error);
    if (!status)
        status = centre(m, picture, error);
    for (int i = 0; i < 2 && !status; i++)
        status = check_even(&m->trend[i], picture, error);
    if (!status)
        status = ww_width_measure(m->width, &m->level, m->follow, m->trend, error);
    return status ? status : ww_weave_check(&m->level, m->follow, m->trend, m->width, error);
}

/* Power near a frequency in the half spectrum, the largest of the samples that a sample of the figure covers. */
static double power_near(const struct ww_family_lines *lines, double kx, double ky, double half)
{
    double most = 0.0, nx = (double)lines->nx, ny = (double)lines->ny;
    if (kx < 0.0) {
        kx = -kx;
        ky = -ky;
    }
    for (long m = lround((kx - half) * nx); m <= lround((kx + half) * nx); m++)
        for (long l = lround((ky - half) * ny); l <= lround((ky + half) * ny); l++) {
            long column = labs(m), row = m < 0 ? -l : l, all = (long)lines->ny;
            if (column > (long)lines->nx / 2)
                continue;
            most =
                fmax(most, lines->power[(size_t)(((row % all) + all) % all) * (lines->nx / 2 + 1) + (size_t)column]);
        }
    return most;
}

static enum ww_status take_spectrum(struct ww_cloth_picture *cloth, const struct measuring *m, double pixel,
                                    struct ww_error *error)
{
    const struct ww_family_lines *lines = &m->lines;
    double reach = 0.0, most = 0.0;
    for (int i = 0; i < 2; i++)
        reach = fmax(reach, SPECTRUM_REACH * hypot(lines->k[i][0], lines->k[i][1]));
    reach = fmin(reach, 0.5);
    enum ww_status status =
        ww_map_init(&cloth->spectrum, SPECTRUM_SIDE, SPECTRUM_SIDE, 2.0 * reach / pixel, 2.0 * reach / pixel, error);
    if (status)
        return status;
    cloth->reach = reach / pixel;
    double *value = cloth->spectrum.value, sample = 2.0 * reach / SPECTRUM_SIDE;
    for (size_t y = 0; y < SPECTRUM_SIDE; y++)
        for (size_t x = 0; x < SPECTRUM_SIDE; x++) {
            double power = power_near(lines, ((double)x + 0.5) * sample - reach, ((double)y + 0.5) * sample - reach,
                                      0.5 * sample);
            value[y * SPECTRUM_SIDE + x] = power;
            most = fmax(most, power);
        }
    for (size_t i = 0; i < (size_t)SPECTRUM_SIDE * SPECTRUM_SIDE; i++)
        value[i] = 10.0 * log10(fmax(value[i] / most, FAINTEST));
    return WW_OK;
}

/* In the middle of the picture: the turn that the trend adds to the direction across, and what a distance along `across` is worth
 * across the yarns. */
static void take_lines(struct ww_picture_yarns *yarns, const struct measuring *m, int i, double pixel)
{
    const struct ww_trend *trend = &m->trend[i];
    const struct ww_follow *follow = &m->follow[i];
    double middle = ww_trend_index(trend, follow, 0.0, 0.0), pitch = trend->c[1] + 2.0 * trend->c[3] * middle;
    double slope = atan(trend->c[2] + trend->c[4] * middle), aslant = cos(slope);
    double angle = atan2(follow->across[1], follow->across[0]) - slope - (i == 1 ? WW_PI / 2.0 : 0.0);
    yarns->spectrum[0] = m->lines.k[i][0] / pixel;
    yarns->spectrum[1] = m->lines.k[i][1] / pixel;
    yarns->pitch = (struct ww_measure){pitch * aslant * pixel, trend->error[1] * aslant * pixel};
    yarns->turn = (struct ww_measure){angle, trend->error[2] * aslant * aslant};
    yarns->perspective = 2.0 * trend->c[3] * (trend->high - trend->low) / trend->c[1];
    yarns->yarns = trend->yarns;
    yarns->span = trend->span * pixel;
    yarns->wander = trend->wander * aslant * pixel;
    yarns->noise = trend->noise * aslant * pixel;
    yarns->correlation_length = trend->correlation_length * pixel;
    yarns->together = trend->together;
}

static void take_widths(struct ww_picture_yarns *yarns, struct measuring *m, int i, double pixel)
{
    struct ww_width *width = &m->width[i];
    double worth = cos(atan(m->trend[i].c[2])) * pixel;
    yarns->edges_seen = width->seen;
    yarns->blur = width->blur * worth;
    if (width->seen) {
        yarns->width = (struct ww_measure){width->width * worth, width->error * worth};
        yarns->gap = (struct ww_measure){width->gap * worth, hypot(width->error * worth, yarns->pitch.error)};
        yarns->width_scatter = width->scatter * worth;
        yarns->gap_scatter = width->gap_scatter * worth;
    }
    for (size_t r = 0; r < m->follow[i].rows; r++)
        width->of_row[r] = width->seen ? width->of_row[r] * worth : NAN;
    yarns->widths = width->of_row;
    width->of_row = NULL;
}

static void take_paths(struct ww_picture_yarns *yarns, struct measuring *m, int i, double pixel)
{
    struct ww_follow *follow = &m->follow[i];
    for (int k = 0; k < 2; k++) {
        yarns->across[k] = follow->across[k];
        yarns->along[k] = follow->along[k];
    }
    yarns->rows = follow->rows;
    yarns->steps = follow->steps;
    yarns->first = follow->first * pixel;
    yarns->step = follow->step * pixel;
    for (size_t n = 0; n < follow->rows * follow->steps; n++)
        follow->path[n] = (follow->path[n] + m->width[i].centre) * pixel;
    yarns->path = follow->path;
    follow->path = NULL;
}

static void take(struct ww_cloth_picture *cloth, struct measuring *m, const struct ww_picture *picture,
                 bool warp_horizontal)
{
    struct ww_picture_yarns *of[2] = {warp_horizontal ? &cloth->fill : &cloth->warp,
                                      warp_horizontal ? &cloth->warp : &cloth->fill};
    for (int i = 0; i < 2; i++) {
        take_lines(of[i], m, i, picture->pixel);
        take_widths(of[i], m, i, picture->pixel);
        take_paths(of[i], m, i, picture->pixel);
    }
    cloth->between = (struct ww_measure){WW_PI / 2.0 + of[0]->turn.value - of[1]->turn.value,
                                         hypot(of[0]->turn.error, of[1]->turn.error)};
    cloth->lx = (double)picture->nx * picture->pixel;
    cloth->ly = (double)picture->ny * picture->pixel;
}

enum ww_status ww_picture_measure(struct ww_cloth_picture *cloth, const struct ww_picture *picture,
                                  const struct ww_picture_options *options, struct ww_error *error)
{
    struct measuring m = {0};
    *cloth = (struct ww_cloth_picture){0};
    enum ww_status status = solve(&m, picture, options->light_behind, error);
    if (!status)
        status = take_spectrum(cloth, &m, picture->pixel, error);
    if (!status)
        take(cloth, &m, picture, options->warp_horizontal);
    ww_level_clear(&m.level);
    free(m.lines.power);
    for (int i = 0; i < 2; i++) {
        ww_follow_clear(&m.follow[i]);
        free(m.width[i].of_row);
    }
    return status;
}

void ww_cloth_picture_clear(struct ww_cloth_picture *cloth)
{
    struct ww_picture_yarns *of[2] = {&cloth->warp, &cloth->fill};
    for (int i = 0; i < 2; i++) {
        free(of[i]->path);
        free(of[i]->widths);
    }
    ww_map_clear(&cloth->spectrum);
    *cloth = (struct ww_cloth_picture){0};
}
