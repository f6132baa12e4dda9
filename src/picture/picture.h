/* picture/picture.h - the steps from a picture to its cloth. Lengths are in pixels, from the middle of the picture.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_PICTURE_PICTURE_H
#define WW_PICTURE_PICTURE_H

#include "weftwise/picture.h"

/* Solve the normal equations a x = b of least squares, a[n][n] symmetric and positive; b becomes x, and a is lost. False where a is
 * singular. */
bool ww_normal_solve(size_t n, double *a, double *b);

/* The picture over its lighting, less 1: value[ny][nx], row 0 at the bottom. */
struct ww_level {
    size_t nx, ny;
    double *value;
    const char *file;
};
/* WW_INVALID: a picture of one grey, or too small. */
enum ww_status ww_level_picture(struct ww_level *level, const struct ww_picture *picture, bool light_behind,
                                struct ww_error *error);
void ww_level_clear(struct ww_level *level);
/* Between pixels, linear; x, y from the middle. False outside the picture. */
bool ww_level_at(const struct ww_level *level, double x, double y, double *value);

/* Samples by their place in a cell, p and q as shares of it (any real numbers). Zeroed is empty. */
enum { WW_FOLD = 32 }; /* bins each way */
struct ww_fold {
    double sum[WW_FOLD * WW_FOLD], count[WW_FOLD * WW_FOLD];
    double mean;
};
void ww_fold_add(struct ww_fold *fold, double p, double q, double value);
/* Means in place of sums, smoothed; and their mean. False where samples are too few. */
bool ww_fold_smooth(struct ww_fold *fold);
/* Of a smoothed one: where it is darkest, and how light there. */
double ww_fold_darkest(const struct ww_fold *fold, double *p, double *q);
/* Of a smoothed one: how much of what is dark in it is dark so many bins on, too, 0 to 1. */
double ww_fold_alike(const struct ww_fold *fold, size_t dp, size_t dq);

/* A family's line in the spectrum [1/pixel]: across its yarns, with `kx` above |ky| first, and then `ky` above |kx|. */
struct ww_family_lines {
    double k[2][2];
    size_t nx, ny; /* of the part that was transformed */
    double *power; /* [ny][nx/2+1], as ww_transform_forward orders it */
};
/* The two fundamental lines. WW_UNPHYSICAL: no cloth; WW_INVALID: under four yarns; WW_NO_MEMORY. */
enum ww_status ww_families_find(struct ww_family_lines *lines, const struct ww_level *level, struct ww_error *error);

/* Yarns of a family, followed. Row r and step j: position path[r*steps + j] along `across`, at first + j step along `along`. */
struct ww_follow {
    double across[2], along[2]; /* unit vectors */
    double pitch, step;         /* nominal */
    size_t rows, steps, middle; /* middle: the row nearest to the picture's middle */
    double first;
    double *path; /* NaN: outside, or lost */
    size_t inside, lost;
    double window; /* over which a position is averaged along the yarn */
};
/* other: pitch of the other family, two of which make a step; one where the picture shows few. aside: how far off the phase of the line the yarns are.
 * WW_UNPHYSICAL: over a third of it is lost. */
enum ww_status ww_follow_yarns(struct ww_follow *follow, const struct ww_level *level, const double k[2],
                               double other, double aside, struct ww_error *error);
void ww_follow_clear(struct ww_follow *follow);

/* The trend over the picture, c[0] + c[1] i + c[2] s + c[3] i^2 + c[4] i s + c[5] s^2 with i = row - middle and s along, and
 * what is left of it. */
enum { WW_TREND = 6 };
struct ww_trend {
    double c[WW_TREND], error[WW_TREND];
    double left, noise, wander, together, correlation_length;
    double span;
    size_t yarns;
    double low, high; /* rows from the middle that were followed */
};
enum ww_status ww_trend_fit(struct ww_trend *trend, const struct ww_follow *follow, const char *file,
                            struct ww_error *error);
double ww_trend_at(const struct ww_trend *trend, double i, double s);
/* The yarn's index from the middle, as a real number, at a point. */
double ww_trend_index(const struct ww_trend *trend, const struct ww_follow *follow, double x, double y);
/* The same by the nearest position that was followed, where there is one. */
double ww_trend_yarn(const struct ww_trend *trend, const struct ww_follow *follow, double x, double y);

/* How far the yarns of family 0 and 1 are off what was followed, by where the holes of the cloth are. */
void ww_holes_find(double aside[2], const struct ww_level *level, const struct ww_follow follow[2],
                   const struct ww_trend trend[2]);

struct ww_width {
    bool seen;
    double width, error, scatter, gap, gap_scatter, blur;
    double centre;  /* of the yarn from its path */
    double *of_row; /* [rows] */
};
/* Widths of the yarns of family 0 and 1. */
enum ww_status ww_width_measure(struct ww_width width[2], const struct ww_level *level,
                                const struct ww_follow follow[2], const struct ww_trend trend[2],
                                struct ww_error *error);

/* WW_UNPHYSICAL: two families of lines that are no yarns, for they are not there all along themselves. Where the picture is too
 * faint to say so, it tells no widths. */
enum ww_status ww_weave_check(const struct ww_level *level, const struct ww_follow follow[2],
                              const struct ww_trend trend[2], struct ww_width width[2], struct ww_error *error);

/* The file's name as it may stand in a settings file, cut to fit. Returns out. */
char *ww_picture_plain_name(const struct ww_picture *picture, char *out, size_t size);

#endif
