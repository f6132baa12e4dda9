/* weftwise/picture.h - a cloth measured from its picture: yarn counts, turn, widths, gaps and wander.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * The picture's frame: x to the right, y up [m]. A yarn's turn is counted from the axis it is nearest to, anticlockwise.
 */
#ifndef WEFTWISE_PICTURE_H
#define WEFTWISE_PICTURE_H

#include "weftwise/core.h"
#include "weftwise/fabric.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Grey samples. Zeroed is valid and empty. */
struct ww_picture {
    char file[512];
    size_t nx, ny;
    double pixel;  /* side of a pixel [m] */
    char from[64]; /* where that comes from: "given", "sCAL of the file", "pHYs of the file" */
    double *value; /* [ny][nx], row 0 at the bottom */
};
/* Read a PNG (8 or 16 bits, grey, palette, alpha or colour) or a JPEG (where the build has libjpeg). pixel: side of a pixel [m];
 * 0: the one that a PNG has in sCAL or pHYs. Colour becomes grey. At most 30000 pixels each way and 50 million in all, judged by
 * the header. WW_INVALID: over these limits; no scale; pixels that are not square; 72 or 96 dots per inch, which programs
 * write where nothing is known. WW_MALFORMED: neither format, broken, or one that ends early. WW_IO; WW_NO_MEMORY. */
WW_API enum ww_status ww_picture_load(struct ww_picture *picture, const char *path, double pixel,
                                      struct ww_error *error);
WW_API void ww_picture_clear(struct ww_picture *picture);

/* Zeroed is valid. */
struct ww_picture_options {
    bool warp_horizontal; /* the warp is the family nearer to horizontal; else nearer to vertical */
    bool light_behind;    /* gaps are brighter than yarns; else yarns are */
};

/* A figure and its standard uncertainty (one standard deviation); of lengths that of the scale aside. */
struct ww_measure {
    double value, error;
};

/* One family of parallel yarns. Positions are along `across`, the unit vector across the yarns (warp: to the right; fill: up),
 * and `along` (a quarter turn on), from the picture's middle. */
struct ww_picture_yarns {
    double spectrum[2];      /* of the family's line in the spectrum [1/m] */
    struct ww_measure pitch; /* in the middle of the picture [m] */
    struct ww_measure turn;  /* from the picture's axis [rad] */
    double perspective;      /* how far the pitch changes over the yarns, as a share of it; of the fitted trend */
    size_t yarns;            /* that were followed */
    double span;             /* of the longest along itself [m] */
    bool
        edges_seen; /* else the widths are unknown: no edges, or known to 15 % at best (twice the standard uncertainty) */
    struct ww_measure width; /* mean over yarns [m] */
    double width_scatter;    /* standard deviation from yarn to yarn [m] */
    struct ww_measure gap;   /* mean: pitch less width [m] */
    double gap_scatter;      /* standard deviation from gap to gap [m] */
    double blur;             /* of the edges, standard deviation [m]; 0: no edges */
    /* Standard deviation of a yarn's path across itself [m], what the trend over the picture (quadratic in place: turn, bow,
     * perspective) takes in and the noise of the following aside. */
    double wander;
    double noise; /* of one followed position [m] */
    /* Distance along the yarn over which the path's correlation falls to 1/e [m]; 0: not within a quarter of the span. */
    double correlation_length;
    double together; /* correlation of neighbours' paths */
    /* Where the yarns are: of each `steps` positions across [m]; NaN where it lies outside the picture or was lost. */
    double across[2], along[2];
    size_t rows, steps; /* yarns that have positions, and positions */
    double first, step; /* along the yarn, of position 0, and to the next [m] */
    double *path;       /* [rows][steps] */
    double *widths;     /* [rows]; NaN where it is not known */
};

/* Zeroed is valid and empty. */
struct ww_cloth_picture {
    struct ww_picture_yarns warp, fill;
    struct ww_measure between; /* angle from warp to fill [rad]: a quarter turn in square cloth */
    double lx, ly;             /* of the picture [m] */
    /* Level of the spectrum [dB, of the largest] from -reach to reach [1/m] along x and y. */
    struct ww_map spectrum;
    double reach;
};

/* Measure the cloth. At least four yarns of each family, and five pixels to a pitch. WW_UNPHYSICAL: the picture shows no
 * cloth, with the reason: no family of lines, one only, or two that do not cross near a right angle; or yarns that cannot
 * be followed over most of the picture. WW_INVALID: under four yarns, or a picture that is too small; WW_NO_MEMORY.
 * Accuracy, on renderings of known cloth, against the line through the yarns on the picture: pitch 0.2 %, turn 0.05 deg, widths 5 %
 * (tests/picture; DEVELOPERS.md says how often); where the picture tells less, the uncertainties say so. */
WW_API enum ww_status ww_picture_measure(struct ww_cloth_picture *cloth, const struct ww_picture *picture,
                                         const struct ww_picture_options *options, struct ww_error *error);
WW_API void ww_cloth_picture_clear(struct ww_cloth_picture *cloth);

/* WW_INVALID: no style may have this name. */
WW_API enum ww_status ww_picture_check_name(const char *name, struct ww_error *error);
/* Write the cloth as a section [style NAME], each figure with its source, "measured from FILE", and its uncertainty (twice the
 * standard one). What no picture shows (yarns, thickness, glass, shape) is that of `like`, a closed style, or where it is NULL
 * stands as comments to be filled in, as a width does whose edges were not seen. WW_INVALID: a name that is no plain word of up
 * to 31 letters, digits, . _ and -; WW_IO; WW_NO_MEMORY. */
WW_API enum ww_status ww_picture_write_style(FILE *stream, const struct ww_cloth_picture *cloth,
                                             const struct ww_picture *picture, const char *name,
                                             const struct ww_style *like, struct ww_error *error);
/* The yarns' paths in the cloth's own frame, y along the mean of the warp: the largest rectangle of crossings that were followed, places
 * that were lost bridged; what a camera held aslant makes of even yarns (i^2 and i s of the trend) taken off. WW_INVALID: under six
 * yarns of a system in it, or more than a file holds; WW_NO_MEMORY. Accuracy: tests/picture/test_paths.c. */
WW_API enum ww_status ww_picture_paths(struct ww_yarn_paths *paths, const struct ww_cloth_picture *cloth,
                                       const struct ww_picture *picture, struct ww_error *error);

/* A style's name from the picture's: its plain letters, 31 at most. Returns out. */
enum { WW_STYLE_NAME_SIZE = 32 };
WW_API const char *ww_picture_style_name(const struct ww_picture *picture, char out[WW_STYLE_NAME_SIZE]);

#ifdef __cplusplus
}
#endif
#endif
