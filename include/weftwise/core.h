/* weftwise/core.h - errors, numbers with units, settings files, arrays, whole-or-nothing output.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Everything is SI inside (m, s, Hz, rad, kg). Text with units becomes SI once, here. The library never
 * prints, exits or sets a locale. Every function that can fail returns an ww_status and fills an optional
 * ww_error (NULL is allowed); on failure its outputs are left zeroed.
 */
#ifndef WEFTWISE_CORE_H
#define WEFTWISE_CORE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#ifdef __cplusplus
extern "C" {
#endif

#if defined(__GNUC__)
#define WW_PRINTF(fmt, first) __attribute__((format(printf, fmt, first)))
#define WW_API __attribute__((visibility("default")))
#else
#define WW_PRINTF(fmt, first)
#define WW_API
#endif

#define WW_PI 3.14159265358979323846
#define WW_C0 299792458.0        /* speed of light [m/s], exact */
#define WW_EPS0 8.8541878128e-12 /* electric constant [F/m], CODATA 2018 */
#define WW_ETA0 376.730313669    /* impedance of free space [ohm], 1/(eps0 c0); not 120 pi */

/* --- version ------------------------------------------------------------------------------------------ */

/* Version of these headers. Structs of requests, options and results are part of the binary interface: their size and
 * layout are compiled into the host. While the major version is 0, a minor version may add fields at the end of a struct
 * and change or remove what is public; a patch version changes no layout. Whatever changes the layout of a public struct
 * also changes the number in the shared library's name (libweftwise.so.N), so a host is built again rather than run
 * against the new one. Zero a struct before filling it, by = {0} or named fields: a field that is added later means "as
 * before" at zero. A host that loads the library itself asks ww_version_matches at run time. */
#define WW_VERSION_MAJOR 0
#define WW_VERSION_MINOR 1
#define WW_VERSION_PATCH 0
#define WW_VERSION "0.1.0"

/* Version of the library that runs, as WW_VERSION is that of the headers. */
WW_API const char *ww_version(void);
/* True if a host built with headers of that version may use the library that runs: the same major version and
 * a minor version no newer than the library's; while the major version is 0, the same minor version. Call it as
 * ww_version_matches(WW_VERSION_MAJOR, WW_VERSION_MINOR). */
WW_API bool ww_version_matches(int major, int minor);

/* --- errors ------------------------------------------------------------------------------------------- */

enum ww_status {
    WW_OK = 0,
    WW_INVALID,      /* an argument outside its allowed range, an unknown name */
    WW_MALFORMED,    /* text that does not follow the format: unit missing, unknown key, NUL byte */
    WW_UNPHYSICAL,   /* well-formed, but nothing of the kind can exist: a yarn wider than its pitch */
    WW_IO,           /* could not open, read, write, rename */
    WW_NO_MEMORY,    /* allocation failed or a size overflowed */
    WW_NOT_CONVERGED /* a solver stopped above its tolerance */
};

struct ww_error {
    enum ww_status status;
    int line;       /* 1-based line in file, 0 where there is none */
    char file[512]; /* path the message is about, "" where there is none */
    char text[768]; /* one line: the value, the limit, what to do; no trailing newline */
};

/* Fill error (may be NULL) and return status. file may be NULL, line 0. Text is cut to fit, never overrun;
 * control characters in it (from hostile input) become '?'. */
WW_API enum ww_status ww_error_set(struct ww_error *error, enum ww_status status, const char *file, int line,
                                   const char *format, ...) WW_PRINTF(5, 6);
#ifdef __clang_analyzer__ /* which cannot see that the status comes back as it was */
#define ww_error_set(error, status, ...) ((void)(ww_error_set)((error), (status), __VA_ARGS__), (status))
#endif

/* "file:line: text" into out (always terminated). */
WW_API void ww_error_format(const struct ww_error *error, char *out, size_t size);

/* Copies what fits of any bytes for a terminal: what is no UTF-8 and every character that cannot be seen (control characters,
 * marks of direction, separators of lines) becomes '?', and none is cut in the middle. Returns out. */
WW_API char *ww_text_printable(char *out, size_t size, const char *text);

/* --- progress ------------------------------------------------------------------------------------------- */

/* Whoever waits for long work may hand it this: called with the share done, 0..1, now and then, from one thread at a
 * time (not always the same) and with shares that grow. No lock is held meanwhile, so it may call this library. Zeroed:
 * nobody waits. */
struct ww_progress {
    void (*report)(void *context, double share);
    void *context;
};

/* --- numbers with units ------------------------------------------------------------------------------- */

enum ww_dimension {
    WW_PURE,           /* no unit allowed */
    WW_FRACTION,       /* pure 0.57 or 57 % */
    WW_LENGTH,         /* m mm um nm mil (mils) in -> m */
    WW_ANGLE,          /* deg (degree, degrees, the sign) rad -> rad */
    WW_TIME,           /* s ns ps fs -> s */
    WW_FREQUENCY,      /* Hz kHz MHz GHz THz -> Hz */
    WW_RATE,           /* b/s kb/s Mb/s Gb/s (Gbps, Gbit/s) -> 1/s */
    WW_COUNT,          /* /in /cm /mm /m, yarns per length -> 1/m */
    WW_LINEAR_DENSITY, /* tex dtex den g/km -> kg/m */
    WW_DENSITY,        /* g/cm3 kg/m3 -> kg/m3 */
    WW_AREAL_WEIGHT,   /* g/m2 kg/m2 oz/yd2 -> kg/m2 */
    WW_MEMORY_SIZE,    /* B kB MB GB, each 1000 of the one before -> B */
    WW_LEVEL,          /* dB -> dB, of an amplitude: 20 log10 of it */
    WW_CONDUCTIVITY,   /* S/m MS/m -> S/m */
    WW_TEMPERATURE,    /* degC -> degC */
    WW_PER_DEGREE,     /* ppm/degC -> 1/K */
    WW_COPPER,         /* lengths, and oz of copper to the square foot, 35 um each -> m */
    WW_UNIT_INTERVAL,  /* UI -> share of a symbol's time */
    WW_DIMENSIONS
};

/* Parse the whole of text ("100 um", "100um", "-2.5 deg") as one finite decimal number and its unit.
 * Refused with WW_MALFORMED: no unit or a wrong one (the message lists the right ones), a decimal comma, nan, inf, hex,
 * anything left over, an exponent out of double's range. Does not depend on the locale. */
WW_API enum ww_status ww_number_parse(const char *text, enum ww_dimension dimension, double *si,
                                      struct ww_error *error);

/* As above for the longest prefix of text that is a number with its unit; *end is set behind it. */
WW_API enum ww_status ww_number_parse_prefix(const char *text, enum ww_dimension dimension, double *si,
                                             const char **end, struct ww_error *error);

/* "52 um": si in a unit people would choose for this dimension, at most `digits` significant digits, in a
 * form that ww_number_parse reads back. Returns out. */
WW_API char *ww_number_format(char *out, size_t size, double si, enum ww_dimension dimension, int digits);

/* --- settings: the INI files of studies and weaves ------------------------------------------------------ */

struct ww_setting {
    char *section; /* "trace", "style T1"; "" before the first section */
    char *key;
    char *value;
    int line; /* 1-based; 0 for one that came from --set */
};

/* A section, whether keys follow its header or not. */
struct ww_heading {
    char *section;
    int line; /* 1-based; 0 for one that came with --set */
};

/* All settings of one file, in order. Zeroed is valid and empty. */
struct ww_settings {
    char *file; /* name to show in messages */
    char *text; /* the file as read (NUL-terminated), NULL when empty */
    struct ww_setting *item;
    size_t count;
    struct ww_heading *heading; /* each section once */
    size_t headings;
};

/* Read INI text from an open stream. Refused (WW_MALFORMED, file and line): lines over 4096 bytes (fewer where
 * inih was built with a shorter, fixed buffer; never cut), NUL bytes, text that is not UTF-8, control characters
 * but tab, an indented line (continuations are not part of the format), a line that is neither section, key nor
 * comment, a section given twice or with a name over 49 bytes, over 4096 sections, 16384 settings or 4 MB. Keys are
 * not judged here. Comments: a line that starts with ';' or '#', or ' ;' behind a value. WW_IO: read error.
 * WW_NO_MEMORY. */
WW_API enum ww_status ww_settings_read(struct ww_settings *settings, FILE *stream, const char *name,
                                       struct ww_error *error);
/* The same from a path; WW_IO where it is a folder or cannot be opened. */
WW_API enum ww_status ww_settings_load(struct ww_settings *settings, const char *path, struct ww_error *error);
/* Apply one "section.key=value": replaces the value of an existing key (the only one of that name in its
 * section), or adds it; of a key that is there several times "section.key.2=value" replaces the second. Names and keys may have
 * dots: the dot between them is the last behind a section that there is, else the first (tolerance.resin.dk). The line of the
 * item becomes 0. Messages name "--set" as their file. WW_MALFORMED: text that is no such assignment; WW_INVALID: a key that its
 * section has several of, without a number or with one beyond them; WW_NO_MEMORY. */
WW_API enum ww_status ww_settings_set(struct ww_settings *settings, const char *assignment, struct ww_error *error);
WW_API void ww_settings_clear(struct ww_settings *settings);

/* First item of that section and key; NULL if none. */
WW_API const struct ww_setting *ww_settings_find(const struct ww_settings *settings, const char *section,
                                                 const char *key);
/* True if the section's header was in the file, bare or not, or an assignment put a key into it. */
WW_API bool ww_settings_has_section(const struct ww_settings *settings, const char *section);

/* The candidate nearest to word by edit distance, two neighbours exchanged being one slip (for "did you mean"), NULL if none is close. */
WW_API const char *ww_nearest_word(const char *word, const char *const *candidate, size_t count);

/* --- maps ----------------------------------------------------------------------------------------------- */

/* A scalar on a rectangle. Row-major value[iy*nx + ix], sample at the centre of its cell,
 * x = (ix + 1/2) lx/nx to the right, y = (iy + 1/2) ly/ny up. Zeroed is valid and empty. */
struct ww_map {
    size_t nx, ny;
    double lx, ly; /* extent [m] */
    double *value;
};
/* All zeros; nx, ny >= 1, lx, ly > 0 [m], else WW_INVALID. WW_NO_MEMORY. */
WW_API enum ww_status ww_map_init(struct ww_map *map, size_t nx, size_t ny, double lx, double ly,
                                  struct ww_error *error);
WW_API void ww_map_clear(struct ww_map *map);

/* --- output: a file is there whole or not at all --------------------------------------------------------- */

/* Open writes to a temporary name beside the target; commit flushes, checks, closes and renames; discard
 * removes. After either, the struct is zeroed. Discard of a zeroed struct does nothing. A link to a file is replaced by the
 * file; a file that is there keeps its mode; a target that is no regular file (a pipe, a device) is written straight. WW_IO:
 * cannot be opened, written or renamed, or is a pipe that nobody reads; WW_INVALID: an empty path, a commit of nothing; WW_NO_MEMORY. */
struct ww_output {
    FILE *stream;
    char *path, *temporary;
};
WW_API enum ww_status ww_output_open(struct ww_output *output, const char *path, struct ww_error *error);
WW_API enum ww_status ww_output_commit(struct ww_output *output, struct ww_error *error);
WW_API void ww_output_discard(struct ww_output *output);
/* Remove the temporaries of all outputs that are open: for a signal handler that ends the program at once. Safe there
 * (async-signal-safe), and nowhere else of use. Of more than 64 outputs open at once the later ones are not covered. */
WW_API void ww_output_abandon(void);
/* Make a folder and its parents if they are not there. WW_IO, WW_INVALID (an empty path), WW_NO_MEMORY. */
WW_API enum ww_status ww_folder_make(const char *path, struct ww_error *error);
/* Remove what programs that were killed left there half written; what another program is writing stays. */
WW_API void ww_folder_tidy(const char *path);

/* --- threads ---------------------------------------------------------------------------------------------- */

/* Number of threads used by the library's loops: 1..256; 0 means as many as the system grants (affinity,
 * OMP_NUM_THREADS, the control group's share). Fewer where the system makes no more. Results do not
 * depend on it. */
WW_API void ww_threads_set(int count);
WW_API int ww_threads(void);

#ifdef __cplusplus
}
#endif
#endif
