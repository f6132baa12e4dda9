/* weftwise/study.h - the study: one file that says what board, what trace, what signal.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * INI text with a unit on every length (see `weftwise skew --help` for its keys; they come from ww_study_key). Read
 * once, checked key by key against one table, SI inside. A refusal names the file and line, the value, the limit and
 * the remedy; a setting that came from an assignment ("--set") has the file "--set" and no line.
 */
#ifndef WEFTWISE_STUDY_H
#define WEFTWISE_STUDY_H

#include "weftwise/core.h"
#include "weftwise/fabric.h"
#include "weftwise/laminate.h"
#include "weftwise/line.h"
#include "weftwise/chance.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Between which circuits something differs. Two circuits of one board share all that differs between boards, and two circuits at
 * one time all that changes over life. */
enum ww_scope {
    WW_BOARD,  /* from circuit to circuit of one board */
    WW_BOARDS, /* from board to board */
    WW_LIFE    /* over the life of a board */
};
WW_API const char *ww_scope_name(enum ww_scope scope); /* "board", "boards", "life" */

/* What a figure may be off by, or the range of a condition. */
struct ww_tolerance {
    bool given;
    double from, to; /* ends; of a tolerance -to .. to */
    enum ww_law law; /* within the ends; WW_NORMAL: they are three standard deviations off their middle */
    enum ww_scope scope;
    int line; /* of the study, for messages */
};

/* The section [tolerance]. Zeroed: nothing is given. */
struct ww_tolerances {
    struct ww_tolerance resin_dk, glass_dk, laminate_dk; /* in Dk */
    struct ww_tolerance thickness;                       /* of plies, resin and solid layers, a share */
    struct ww_tolerance resin_content;                   /* by weight, in parts of the ply */
    struct ww_tolerance width, gap, copper;              /* [m] */
    struct ww_tolerance foil;                            /* rz of the copper [m] */
    struct ww_tolerance temperature;                     /* [degC] */
    struct ww_tolerance moisture;             /* water taken up at saturation, of the laminate's dry weight */
    double reference;                         /* temperature at which the study's figures hold [degC] */
    double resin_tcdk, glass_tcdk, expansion; /* [1/K]; 0 if not given */
    double moisture_state;                    /* share of saturation that is reached */
    double moisture_dk, moisture_df; /* measured change of the laminate's Dk, Df at saturation; 0 if not given */
    enum ww_scope between;           /* between which circuits the budget is judged */
};

/* Zeroed is valid and empty. */
struct ww_study {
    char file[512];        /* as it was named when read */
    char title[160];       /* the file's name without its ending where the study gives none */
    struct ww_stack stack; /* layers by ww_study_load; plies by ww_study_build */
    struct ww_resin resin; /* of the stackup, where a layer names none; name "" if not given */
    struct ww_foil copper; /* of trace and planes; name "": smooth copper of which nothing was said */
    struct ww_trace trace;
    int trace_line;                 /* where the trace's width stands, for messages; 0: from an assignment */
    double length;                  /* of the route [m]; the sum of its segments where there are any */
    double angle;                   /* from the warp; turns a route as a whole [rad] */
    struct ww_route_segment *route; /* [segments]; NULL: straight */
    size_t segments;
    double turn;          /* how far the cloth may lie off square [rad] */
    bool turn_is_assumed; /* it was left out: 1 deg (common practice, no source) */
    enum ww_law turn_law;
    double count_tolerance; /* of both yarn counts, a share; 0 if not given */
    double rate;            /* bits per second [1/s]; 0 if not given */
    size_t levels;          /* of the signal: 2, or 4 where a symbol carries two bits */
    size_t lanes;
    double frequency;  /* [Hz]; 0 if not given */
    bool compensated;  /* what the legs of a pair differ by in length at a route's bends is no skew */
    bool dispersion;   /* delay and skew at ww_study_frequency, where there is one; else static */
    double budget;     /* [s]; 0 if not given */
    double conversion; /* what a pair's mode conversion may be [dB], < 0; 0 if not given */
    double fineness;   /* factor on the resolution of cell and cross-section; 1 by default */
    size_t positions;  /* start positions along each side of a map */
    size_t sections;   /* start positions along each side of the correction's lattice; 0 for no correction */
    double lane_pitch; /* of lanes side by side on the same cloth [m]; 0: places independent */
    double spacing;    /* of two equal traces or pairs side by side on the same cloth [m]; 0: places independent */
    double warp_tolerance, fill_tolerance; /* of each count; count_tolerance where not given */
    double height_uncertainty; /* of the cloth in its ply, a share of the resin between it and the nearer face */
    size_t elements;           /* equal feeds of an array; 1: none */
    struct ww_tolerances tolerance;
    double via_diameter; /* of the beam that drills [m]; 0 if not given */
    struct ww_arm *arm;  /* [arms]; more arms of a feed, beside the trace or route above */
    size_t arms;
    struct ww_scatter
        scatter; /* of real cloth, for ww_patch_create and what `cloth` tells; perfect where not given */
    struct ww_yarn_scatter yarn_scatter; /* as given for both yarn systems */
    char
        paths[160]; /* file of a cloth's measured paths, from the study's folder; "": none. See ww_study_paths_file */
};

/* Read, check and resolve a study: settings of the file, then the assignments ("section.key=value", in order), then
 * styles, glasses, resins and foils from the study's own sections or else from weaves_folder. Fills all but the plies.
 * The same from an open stream, where name is what messages call it.
 * WW_MALFORMED: text that is no study: unknown or repeated key, unit missing, NUL byte. WW_INVALID: a key missing, a
 * value out of its range, a name that does not exist. WW_UNPHYSICAL: a pair whose legs overlap, lanes or feeds nearer
 * than a trace's width, a route that folds back
 * on itself, a style that cannot be woven. WW_IO, WW_NO_MEMORY. */
WW_API enum ww_status ww_study_load(struct ww_study *study, const char *path, const char *weaves_folder,
                                    const char *const *assignment, size_t assignments, struct ww_error *error);
WW_API enum ww_status ww_study_read(struct ww_study *study, FILE *stream, const char *name, const char *weaves_folder,
                                    const char *const *assignment, size_t assignments, struct ww_error *error);
/* Take every number as ww_study_text writes it, so that what is solved is what the text says, to the last digit: a figure
 * made again from the text it carries is the same figure. Before ww_study_build. Lines for messages stay. WW_NO_MEMORY,
 * statuses of ww_study_read. */
WW_API enum ww_status ww_study_settle(struct ww_study *study, const char *weaves_folder, struct ww_error *error);
/* Build the cells and permittivities of study->stack at the study's fineness. Statuses of ww_stack_build. */
WW_API enum ww_status ww_study_build(struct ww_study *study, struct ww_error *error);
WW_API void ww_study_clear(struct ww_study *study);

/* Nearest that two traces or pairs of the study may stand, centre to centre: with a trace's width between them [m]. Nearer,
 * their fields would meet (common practice, no source). */
WW_API double ww_study_room(const struct ww_study *study);
/* Is there scatter of the yarns, or are their paths measured? Else the cloth is perfect. */
WW_API bool ww_study_is_of_real_cloth(const struct ww_study *study);
/* Path of the measured paths: study->paths in the folder of study->file. WW_INVALID: none given, or it does not fit. */
WW_API enum ww_status ww_study_paths_file(const struct ww_study *study, char *out, size_t size,
                                          struct ww_error *error);
/* "1 %", or "1 % (warp) and 2 % (fill)": how far yarn counts may be off; "" where not at all. Returns out. */
WW_API char *ww_study_counts(const struct ww_study *study, char *out, size_t size);

/* Does its section [tolerance] give anything? */
WW_API bool ww_study_has_tolerances(const struct ww_study *study);

/* What the solver is asked: the line's and the scan's options, and the whole request. */
WW_API struct ww_line_options ww_study_line_options(const struct ww_study *study);
/* Of the signal: that given, or the Nyquist frequency of its rate, half the symbols per second [Hz]; 0 without either. */
WW_API double ww_study_frequency(const struct ww_study *study);
WW_API struct ww_skew_request ww_study_request(const struct ww_study *study);
/* For the range of an answer of the study, its worst or spread [s]. */
WW_API struct ww_doubts_request ww_study_doubts(const struct ww_study *study, double value);

/* --- one call from study to answer --------------------------------------------------------------------------------- */

/* What every command, table, figure and file of a study reads. Zeroed is valid and empty. */
struct ww_solution {
    struct ww_line *line; /* refers to the study's stack, which must outlive it */
    struct ww_line_summary
        summary; /* of the line; delay and dk_eff (of a pair dk_odd too) are those of the mean delay */
    struct ww_skew skew;
    double (*start)[2];      /* [plies] where the trace starts in the worst case, in the frame of each ply [m] */
    struct ww_doubts doubts; /* what the worst (spread) hangs on, and its range */
    struct ww_arms arms;     /* of the study's arms, or its lanes on one cloth; count 0 without */
};
/* Solve a built study: the line, its correction, all positions, tolerances, arms. Statuses of ww_line_create, ww_skew_solve,
 * ww_arms_solve. */
WW_API enum ww_status ww_study_solve(struct ww_solution *solution, const struct ww_study *study,
                                     struct ww_error *error);
WW_API void ww_solution_clear(struct ww_solution *solution);

/* Write the whole effective study as text: every section, assignments applied, the styles, glasses, resins and foil it uses
 * with their closed figures. ww_study_read gives the same study back, numbers to 2 units in the last place.
 * WW_IO: the stream refused. */
WW_API enum ww_status ww_study_write(const struct ww_study *study, FILE *stream, struct ww_error *error);
/* The same as a string, which the caller frees; NULL when there is no memory. */
WW_API char *ww_study_text(const struct ww_study *study);
/* Write a commented study to start from, made from the table of keys; it loads and runs as it is. WW_IO. */
WW_API enum ww_status ww_study_write_start(FILE *stream, struct ww_error *error);

/* --- the table of keys: what parses, checks, writes and explains a study ----------------------------------------- */

enum ww_study_kind {
    WW_STUDY_TEXT,      /* free text */
    WW_STUDY_FILE,      /* a file in the study's folder, or below it */
    WW_STUDY_NAME,      /* of a resin or a foil */
    WW_STUDY_NUMBER,    /* with the unit of its dimension */
    WW_STUDY_WHOLE,     /* a whole number */
    WW_STUDY_SWITCH,    /* yes or no */
    WW_STUDY_SPREAD,    /* a number, and the law that what lies within it follows: "2 deg normal" */
    WW_STUDY_TOLERANCE, /* a number, either way, a law and a scope: "0.05 normal boards" */
    WW_STUDY_RANGE,     /* two ends, a law and a scope: "-40 degC to 125 degC life" */
    WW_STUDY_SCOPE,     /* board, boards or life */
    WW_STUDY_LAYER,     /* one layer of the stackup; may be repeated */
    WW_STUDY_SEGMENT,   /* one segment of the route, its length and angle; may be repeated */
    WW_STUDY_PLACE      /* two lengths, to the right and up: "3 mm, 1.2 mm" */
};

struct ww_study_key {
    const char *section, *key; /* the section "route NAME": any that starts with "route ", an arm's name behind it */
    enum ww_study_kind kind;
    enum ww_dimension dimension;
    double min, max; /* SI, both allowed */
    bool required;
    const char *preset; /* what is taken when the key is left out; "" if nothing is. The length of the trace is
                           required where there is no route, and refused beside one */
    const char *example;
    const char *help;
};
/* Index from 0, keys of a section together; NULL behind the last. */
WW_API const struct ww_study_key *ww_study_key(size_t index);

/* One way to write a layer: "ply STYLE THICKNESS [turn=ANGLE] ...", and what it is. NULL behind the last. */
struct ww_study_form {
    const char *form, *help;
};
WW_API const struct ww_study_form *ww_study_form(size_t index);

/* --- the weaves folder -------------------------------------------------------------------------------------------- */

/* Which folder holds styles and materials: `given` if not NULL, else WEFTWISE_WEAVES, else "weaves" beside the program
 * or in a folder above it (a program in its build folder), else where it was installed. WW_IO where the one that was
 * asked for, or all of them, are no weaves folder. */
WW_API enum ww_status ww_study_find_weaves(const char *given, char *folder, size_t size, struct ww_error *error);

#ifdef __cplusplus
}
#endif
#endif
