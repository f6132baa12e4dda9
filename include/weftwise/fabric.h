/* weftwise/fabric.h - glass styles, and the unit cell of their cloth.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Fabric frame: warp yarns run along +y, fill yarns along +x, z is up. Warp pitch px = 1/warp_count across x,
 * fill pitch py = 1/fill_count across y; the plain-weave cell is 2 px by 2 py.
 */
#ifndef WEFTWISE_FABRIC_H
#define WEFTWISE_FABRIC_H

#include <stdint.h>

#include "weftwise/core.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Where a figure comes from. */
enum ww_origin {
    WW_ABSENT = 0, /* not known */
    WW_FOUND,      /* read in the source that .source names */
    WW_MEMORY,     /* trade knowledge recalled, no source: .source starts "from memory" */
    WW_CLOSED,     /* computed by ww_style_close from thickness, packing and spread */
    WW_DERIVED,    /* arithmetic from a yarn code; .source is the code's */
    WW_USER        /* given in a study without a source */
};
WW_API const char *ww_origin_name(enum ww_origin origin); /* "found", "memory", "closed", ... */

struct ww_datum {
    double value; /* SI */
    enum ww_origin origin;
    int line;           /* of the file it was read in, 0 where there is none */
    char source[240];   /* free text, "" if none */
    bool stated;        /* does the file say how well it is known? */
    double uncertainty; /* then by which share it may be off, either way; see ww_datum_uncertainty */
};

struct ww_glass {
    char name[32];
    double dk, df;  /* at the frequency its source says; dk 1 .. 100, df 0 .. 1 */
    double density; /* [kg/m3] */
    char source[240];
    double frequency;      /* at which dk and df hold [Hz]; 0: not stated */
    double dk_uncertainty; /* share by which dk may be off, either way; read as 6 % where a file says nothing */
};

struct ww_resin {
    char name[32];
    double dk, df;
    double density; /* [kg/m3]; 0 if not given (then resin content cannot be reported) */
    char source[240];
    double frequency; /* at which dk and df hold [Hz]; 0: not stated */
};

/* How rough copper is taken into account; src/line/foil.c has the formulas. */
enum ww_foil_model { WW_FOIL_SMOOTH, WW_FOIL_HAMMERSTAD, WW_FOIL_GROISS, WW_FOIL_HURAY };
WW_API const char *ww_foil_model_name(enum ww_foil_model model); /* "smooth", "hammerstad", ... as in a file */

/* Copper foil. name "" is smooth copper of which nothing was said. */
struct ww_foil {
    char name[32];
    enum ww_foil_model model;
    double rz;            /* roughness, peak to valley [m]; 0 of smooth copper */
    double conductivity;  /* [S/m] */
    double sphere_radius; /* Huray: [m]; 0: from rz */
    double
        surface_ratio; /* Huray: surface of the spheres over that of the foil; 0: that of 14 spheres on 36 squared radii */
    char source[240];
};
#define WW_COPPER_CONDUCTIVITY 5.8e7 /* conductivity of annealed copper [S/m], 100 % IACS */

struct ww_yarn {
    char code[24];          /* "D450" or "" when tex was given directly */
    struct ww_datum tex;    /* linear density [kg/m] (1 tex = 1e-6 kg/m) */
    struct ww_datum width;  /* a [m] */
    struct ww_datum height; /* b [m] */
    double glass_area;      /* tex / density [m2] */
    double packing;         /* V = glass_area / (shape area factor a b), in (0, pi/(2 sqrt 3)] */
};

enum ww_weave_kind { WW_PLAIN, WW_SPREAD, WW_OPEN };
WW_API const char *ww_weave_kind_name(enum ww_weave_kind kind); /* "plain", "spread", "open", as in a file */

struct ww_style {
    char name[32];
    char file[512]; /* where it was read */
    enum ww_weave_kind kind;
    struct ww_datum warp_count, fill_count; /* [1/m] */
    struct ww_yarn warp, fill;
    struct ww_datum shape;                   /* superellipse exponent p >= 1; 2 = ellipse */
    struct ww_datum thickness;               /* of the fabric [m]; after closing, warp.height + fill.height */
    struct ww_datum weight;                  /* published glass areal weight [kg/m2]; absent if not known */
    struct ww_datum resin_least, resin_most; /* as the file gives them; see ww_style_resin_least */
    struct ww_glass glass;
    char source[240]; /* of the figures that name none of their own; "" if none */
    char note[512];   /* disagreements, assumptions */
};

/* Glass areal weight from counts and yarns, crimp aside [kg/m2]. */
WW_API double ww_style_weight(const struct ww_style *style);

/* Area of the superellipse |2v/a|^p + |2w/b|^p <= 1 divided by a b: pi/4 at p = 2, 1 as p -> inf. */
WW_API double ww_superellipse_area_factor(double p);

/* Fill in the widths and heights that are absent, so that glass area is conserved (factor a b V = tex/density for each
 * yarn, to rounding) and the heights fill the thickness. What is given is kept. Packing is 0.71 in plain, 0.60 in spread,
 * 0.80 in open cloth, except that two given widths share the one packing that fills the thickness; with nothing given the
 * fill is 1.12, 1.54, 1.76 times as wide as an equal warp; a width held at the pitch, where neighbours touch, counts as given. src/fabric/close.c says why.
 * Reads counts, tex, shape, glass density and whatever of widths, heights and thickness is there (origin not
 * WW_ABSENT); marks what it computed WW_CLOSED (.source starts "closed"); sets glass_area and packing; thickness
 * becomes the sum of the heights. Idempotent. WW_UNPHYSICAL, with the reason, and the style as it was: a figure that is
 * not a positive number, packing above 0.907, a yarn wider than its pitch, thickness missing when needed, given heights
 * that miss the given thickness by over 5 %. */
WW_API enum ww_status ww_style_close(struct ww_style *style, struct ww_error *error);

/* --- how well it is known ----------------------------------------------------------------------------------- */

/* Share by which a width, height or thickness may be off, either way: as stated in KEY.uncertainty, else by its origin (closed
 * 15 %, memory 10 %, found or given 3 %; src/fabric/uncertainty.c says why). */
WW_API double ww_datum_uncertainty(const struct ww_datum *datum);

/* Figures of a style that the answer hangs on. */
enum ww_style_figure { WW_WARP_WIDTH, WW_FILL_WIDTH, WW_CLOTH_THICKNESS, WW_STYLE_FIGURES };
WW_API const char *ww_style_figure_name(enum ww_style_figure figure); /* "warp width" */
WW_API double ww_style_uncertainty(const struct ww_style *style, enum ww_style_figure figure);
/* A closed style with one figure off by a share of itself, the glass conserved and what was closed closed again; the style as
 * it is on failure. Statuses of ww_style_close. */
WW_API enum ww_status ww_style_move(struct ww_style *moved, const struct ww_style *style, enum ww_style_figure figure,
                                    double share, struct ww_error *error);

/* --- how much resin it is made with ------------------------------------------------------------------------- */

/* Least and most resin content, by weight, of prepregs of the style: as its file gives it, else from memory, 45 to 75 %, thin
 * cloth to 80, heavy cloth from 38; src/fabric/resin.c says which. */
WW_API struct ww_datum ww_style_resin_least(const struct ww_style *style);
WW_API struct ww_datum ww_style_resin_most(const struct ww_style *style);

/* --- the weaves folder ------------------------------------------------------------------------------------ */

/* The library of styles and materials people read and edit: FOLDER/styles/<name>.ini, FOLDER/materials.ini.
 * `local` may hold sections of a study ([style X], [glass X], [resin X]); they are looked up first. A local style that has the
 * name of one in the folder and lacks a needed key changes figures of that one, which keeps the others with their sources. */
struct ww_weaves {
    char *folder;
    struct ww_settings materials;
    const struct ww_settings *local; /* not owned; may be NULL */
};
/* Remember both and read the materials. local is kept, not copied. folder may be NULL: then only local is looked in.
 * WW_IO, WW_MALFORMED, WW_NO_MEMORY. */
WW_API enum ww_status ww_weaves_open(struct ww_weaves *weaves, const char *folder, const struct ww_settings *local,
                                     struct ww_error *error);
WW_API void ww_weaves_close(struct ww_weaves *weaves);

/* Names of all styles in the folder and in `local`, numbers first and by size (101, 1080, 1080-spread, 2116, T1); the
 * caller frees with ww_names_clear. WW_IO: the folder has no styles/; WW_NO_MEMORY. */
struct ww_names {
    char **name;
    size_t count;
};
WW_API enum ww_status ww_weaves_styles(const struct ww_weaves *weaves, struct ww_names *names,
                                       struct ww_error *error);
WW_API void ww_names_clear(struct ww_names *names);

/* Cloths on each other in one ply. */
enum { WW_CLOTHS_MOST = 8 };
struct ww_cloths {
    size_t count;
    struct ww_style style[WW_CLOTHS_MOST]; /* top to bottom */
};
/* "1080", "2x1035", "1035+2x1078/NE": cloths on each other, the text of a ply. Statuses of ww_weaves_style; WW_INVALID: more
 * than WW_CLOTHS_MOST. The struct is large: keep it off the stack of a thread. */
WW_API enum ww_status ww_weaves_cloths(const struct ww_weaves *weaves, const char *text, struct ww_cloths *cloths,
                                       struct ww_error *error);

/* A style by name, read, checked and closed; "1080/NE" is the style 1080 with the same filaments of glass NE, unless the study
 * has a style of that whole name. WW_INVALID names the close ones if there is none of that name (name may be
 * any text: no path gets through), or the figure that is missing or out of range; WW_MALFORMED: an unknown or repeated
 * key, a value that does not follow its format, with file and line; WW_UNPHYSICAL: as ww_style_close; WW_IO;
 * WW_NO_MEMORY. Glasses, resins and foils likewise. */
WW_API enum ww_status ww_weaves_style(const struct ww_weaves *weaves, const char *name, struct ww_style *style,
                                      struct ww_error *error);
WW_API enum ww_status ww_weaves_glass(const struct ww_weaves *weaves, const char *name, struct ww_glass *glass,
                                      struct ww_error *error);
WW_API enum ww_status ww_weaves_resin(const struct ww_weaves *weaves, const char *name, struct ww_resin *resin,
                                      struct ww_error *error);
WW_API enum ww_status ww_weaves_foil(const struct ww_weaves *weaves, const char *name, struct ww_foil *foil,
                                     struct ww_error *error);

/* Keys of [style], [glass], [resin], [foil] sections with one line of help each: the table the parser itself uses.
 * section is "style", "glass", "resin" or "foil"; index from 0; NULL behind the last. */
struct ww_key_help {
    const char *key;
    const char *example; /* "60 /in" */
    const char *help;
};
WW_API const struct ww_key_help *ww_weaves_key(const char *section, size_t index);
/* What such a key takes, both ends allowed [SI of the dimension]; of a yarn the linear density. False: it is text, or there is none. */
struct ww_key_range {
    double least, most;
    enum ww_dimension dimension;
};
WW_API bool ww_weaves_key_range(const char *section, size_t index, struct ww_key_range *range);

/* --- the unit cell ------------------------------------------------------------------------------------------ */

struct ww_cell_options {
    size_t nx, ny, nz; /* samples across 2 px, 2 py and slices of the fabric's thickness; 0 = 96, 96, and slices of at
                         * most 8 um, at least 24 */
    size_t supersample; /* columns averaged per sample along x and along y; 0 = 6 */
    double fineness;    /* factor on those defaults; 0 = 1 */
};

/* Volume fraction of yarn bundle (not of glass) by slices: warp[(iz*ny + iy)*nx + ix], iz = 0 at the bottom.
 * Samples are volume averages over lx/nx by ly/ny by thickness/nz. Geometry alone, no permittivity.
 * warp + fill <= 1 everywhere. Zeroed is valid and empty. */
struct ww_cell {
    size_t nx, ny, nz;
    double lx, ly;                     /* 2 px, 2 py [m] */
    double thickness;                  /* of the fabric [m] */
    double warp_packing, fill_packing; /* of the bundle as it lies in the cell: where two yarns press on each other
                                        * the glass stays and the room shrinks, so a little above the style's */
    double *warp, *fill;
};
/* options may be NULL. The glass in the cell is the glass the yarns carry (crimp aside), to rounding.
 * WW_UNPHYSICAL: a style that is not closed, or whose yarns are squeezed beyond the closest packing where they
 * cross; WW_INVALID: over 4096 samples, 1024 slices or 64 columns; WW_NO_MEMORY. */
WW_API enum ww_status ww_cell_build(struct ww_cell *cell, const struct ww_style *style,
                                    const struct ww_cell_options *options, struct ww_error *error);
/* The packing of the bundles as they lie in the cell, of a closed style: what ww_cell holds at its default samples, and what
 * permittivity and `weftwise styles` take. Statuses of ww_cell_build. */
WW_API enum ww_status ww_style_packing(const struct ww_style *style, double *warp, double *fill,
                                       struct ww_error *error);
/* One vertical column of the cloth at (x, y) [m], anywhere in the plane, of a closed style: bundle fractions of nz slices,
 * warp[nz] and fill[nz], from the bottom. edge[nz + 1]: heights of the slices' edges above the lower face of the cloth [m],
 * ascending; NULL: even slices of the cloth's thickness. The geometry the cell is averaged from. */
WW_API void ww_style_column(const struct ww_style *style, double x, double y, size_t nz, const double *edge,
                            double *warp, double *fill);
/* WW_NO_MEMORY. */
WW_API enum ww_status ww_cell_copy(const struct ww_cell *from, struct ww_cell *to, struct ww_error *error);
WW_API void ww_cell_clear(struct ww_cell *cell);
/* Mean volume of bundle per area [m] of warp and fill, and of glass (packing weighed in). */
WW_API void ww_cell_volume(const struct ww_cell *cell, double *warp, double *fill, double *glass);

/* --- real cloth --------------------------------------------------------------------------------------------- */

enum ww_system { WW_WARP, WW_FILL, WW_SYSTEMS };

/* How far one yarn system lies off its perfect place. The path of yarn i across itself, at s along it, is a Gaussian process
 * with the covariance
 *   wander^2 together^|i - j| exp(-((s - t)/wander_length)^2),
 * its width one with width_variation^2 exp(-((s - t)/wander_length)^2), each yarn on its own; both wrapped around the patch. */
struct ww_yarn_scatter {
    double wander;          /* standard deviation of a yarn's path [m] */
    double wander_length;   /* along the yarn, at which the correlation is 1/e [m] > 0 */
    double together;        /* correlation of neighbours, 0 .. 1 */
    double width_variation; /* standard deviation of the width, a share of it */
};

/* Zeroed: perfect cloth. No scatter of glass cloth is published, as far as is known here; src/fabric/patch.c says what is of
 * other fibres. */
struct ww_scatter {
    struct ww_yarn_scatter yarn[WW_SYSTEMS];
    double bunching;      /* warp ends drawn together: within a group they are nearer by this share of the pitch */
    size_t bunching_ends; /* of a group: 2, or 0 for 2, or 3 */
    double bow,
        hook;     /* depth of the fill's arc over the whole panel, or over its last quarter, a share of its width */
    double panel; /* width of the panel across the warp [m]; read with bow or hook */
    size_t seed;
};
WW_API bool ww_scatter_is_none(const struct ww_scatter *scatter);

/* A patch of real cloth, drawn at random: yarns that wander, periodic in both directions. Read only once created. */
struct ww_patch;
/* At least `width` across the warp and `length` along it [m], in whole cells of the style (three where ends are drawn together in
 * threes), which is kept by value. draw: patches of one seed and different draws are independent. Drawn exactly, by circulant
 * embedding; the same on every machine but for the last digits. WW_UNPHYSICAL: yarns that change places, or that overlap by more than
 * 5 % of the pitch on average; the message says how often, and the largest wander that fits. WW_INVALID: scatter out of range.
 * WW_NO_MEMORY: also for a patch that would need more than 2 GB, before it is drawn. */
WW_API enum ww_status ww_patch_create(struct ww_patch **patch, const struct ww_style *style,
                                      const struct ww_scatter *scatter, double width, double length, uint64_t draw,
                                      struct ww_error *error);
WW_API void ww_patch_destroy(struct ww_patch *patch);
/* Axis across itself of yarn i of a system, at s along it [m], any i and s: near (i + 1/2) pitches. */
WW_API double ww_patch_axis(const struct ww_patch *patch, enum ww_system system, long i, double s);
/* Its width there, as a share more than the style's. */
WW_API double ww_patch_wider(const struct ww_patch *patch, enum ww_system system, long i, double s);
/* How its yarns fit beside each other. */
struct ww_patch_fit {
    double overlap;        /* share of their length on which neighbours overlap */
    double deep;           /* how far on average, a share of the pitch */
    double largest_wander; /* at which none would on this patch [m]; 0: neighbours touch without any */
};
WW_API struct ww_patch_fit ww_patch_fit(const struct ww_patch *patch, enum ww_system system);

/* Where the yarns of one cloth lie, as its picture shows them: the same numbers of yarns and of even places for both systems. Zeroed
 * is valid and empty. */
struct ww_yarn_paths {
    char file[512];    /* read from; "" where it was not */
    char picture[128]; /* that it was measured from */
    struct ww_system_paths {
        size_t count; /* of yarns, 6 or more; warp from the left, fill from below */
        double pitch; /* of the even places [m]: (i + 1/2) pitch across yarn i */
        double *
            off; /* [count][count of the other system] of the axis from there, where the other's even places are [m] */
        double *width; /* [count], mean along the yarn [m]; 0: not known */
    } of[WW_SYSTEMS];
};
/* All zeros. counts[WW_SYSTEMS]: 6 or more of each, and no more than a file holds, some 125 thousand crossings. WW_INVALID,
 * WW_NO_MEMORY. */
WW_API enum ww_status ww_yarn_paths_init(struct ww_yarn_paths *paths, const size_t counts[WW_SYSTEMS],
                                         struct ww_error *error);
/* Read the file that ww_yarn_paths_write writes: settings, section [paths] with the format, the picture and both pitches, then a
 * section for each yarn; src/fabric/paths.c shows one. Refused with file and line, WW_MALFORMED: what is no such file, or less than
 * all of one; WW_INVALID: a number out of range; WW_UNPHYSICAL: under six yarns, a path that turns by over 0.3 from the system's
 * direction, yarns that change places. WW_IO, WW_NO_MEMORY. */
WW_API enum ww_status ww_yarn_paths_load(struct ww_yarn_paths *paths, const char *path, struct ww_error *error);
WW_API enum ww_status ww_yarn_paths_read(struct ww_yarn_paths *paths, FILE *stream, const char *name,
                                         struct ww_error *error);
/* To 0.01 um. WW_IO. */
WW_API enum ww_status ww_yarn_paths_write(FILE *stream, const struct ww_yarn_paths *paths, struct ww_error *error);
WW_API void ww_yarn_paths_clear(struct ww_yarn_paths *paths);
/* Mean distance of the axes of neighbours [m]. */
WW_API double ww_yarn_paths_pitch(const struct ww_yarn_paths *paths, enum ww_system system);

/* The patch of that very cloth: not periodic; beyond its yarns it goes on evenly, and their ends straight. Yarns are as much wider than
 * the style's as they are than the mean of those whose width is known. WW_INVALID: paths whose pitch is over 2 % off the style's;
 * WW_UNPHYSICAL: yarns of the style's width that overlap by more than 5 % of the pitch on average, or whose width is over 30 % off
 * the mean; WW_NO_MEMORY. */
WW_API enum ww_status ww_patch_lay(struct ww_patch **patch, const struct ww_style *style,
                                   const struct ww_yarn_paths *paths, struct ww_error *error);

/* Cloth as the sections and the volume ask for it: a style woven perfectly, or with a patch as that is. */
struct ww_cloth {
    const struct ww_style *style;
    const struct ww_patch *patch; /* of that style; NULL: perfect */
};
/* As ww_style_column. */
WW_API void ww_cloth_column(const struct ww_cloth *cloth, double x, double y, size_t nz, const double *edge,
                            double *warp, double *fill);
/* Sides of what repeats: the cell, or the patch [m]. */
WW_API void ww_cloth_period(const struct ww_cloth *cloth, double *lx, double *ly);
/* What maps the cloth on itself, in whatever place: plain weave as such has all, a patch none. */
enum ww_cloth_symmetry {
    WW_HALF_CELL = 1, /* a shift by half a cell along both axes */
    WW_HALF_TURN = 2,
    WW_MIRROR = 4 /* the mirror image, half a cell on along x */
};
WW_API unsigned ww_cloth_symmetries(const struct ww_cloth *cloth);

#ifdef __cplusplus
}
#endif
#endif
