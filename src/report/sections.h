/* report/sections.h - the sections of the page, and what several of them need.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_REPORT_SECTIONS_H
#define WW_REPORT_SECTIONS_H

#include "report/words.h"

enum { WW_CELL_SIZE = 80, WW_CAPTION_SIZE = 1024 }; /* of the text of a cell, and of a caption */
enum { WW_PLIES_SHOWN = 3 };                        /* the figures of how many plies a section shows */

#define WW_COUNT(array) (sizeof(array) / sizeof *(array))

/* Has the report anything to say in a section? */
bool ww_report_has_cloth(const struct ww_report *report);
bool ww_report_has_angles(const struct ww_report *report);
bool ww_report_has_comparison(const struct ww_report *report);
bool ww_report_has_pitch(const struct ww_report *report);
bool ww_report_has_spacing(const struct ww_report *report);
bool ww_report_has_budget(const struct ww_report *report);
bool ww_report_has_frequency(const struct ww_report *report);
bool ww_report_has_verify(const struct ww_report *report);

typedef enum ww_status ww_report_section(const struct ww_report *report, struct ww_page *page,
                                         struct ww_error *error);
ww_report_section ww_report_write_skew;       /* How bad can it be, and where? */
ww_report_section ww_report_write_chance;     /* How likely is it? */
ww_report_section ww_report_write_arms;       /* part of it: several traces on one cloth; nothing without */
ww_report_section ww_report_write_angles;     /* Which routing angle is safe? */
ww_report_section ww_report_write_comparison; /* Which glass? */
ww_report_section ww_report_write_pitch;      /* Which pitch of the pair? */
ww_report_section ww_report_write_spacing;    /* How far apart? */
ww_report_section ww_report_write_budget;     /* What makes two circuits differ? */
ww_report_section ww_report_write_frequency;  /* What does it lose, and where does the cloth reflect? */
ww_report_section ww_report_write_cloth;      /* How uneven is the dielectric? */
ww_report_section ww_report_write_trust;      /* Can these numbers be trusted? */
ww_report_section ww_report_write_sources;    /* Conditions and sources */

/* Does the pair convert more than its budget, turn of the cloth included? */
bool ww_report_converts_too_much(const struct ww_report *report);

/* Put a figure on the page by its name without ending, where figures are shown. format: the caption. */
enum ww_status ww_report_figure(const struct ww_report *report, struct ww_page *page, const char *name,
                                const char *alt, struct ww_error *error, const char *format, ...) WW_PRINTF(6, 7);

const struct ww_style *ww_report_style(const struct ww_report *report, size_t ply);
/* How many plies contribute more to the worst than this one (or as much, and lie above it)? */
size_t ww_report_rank(const struct ww_skew *skew, size_t ply);

/* How many styles were compared, those that cannot be used aside. */
size_t ww_report_tried(const struct ww_report *report);
/* The null in pitch that the page speaks of; NULL: there is none. */
const struct ww_null *ww_report_null(const struct ww_report *report);
/* What is left there where the cloth is stretched or shrunk by up to this share [s]. */
double ww_report_null_off(const struct ww_pitch *pitch, double share);

#endif
