/* study/tolerance.h - a tolerance as text: how far, by which law, and between which circuits.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef STUDY_TOLERANCE_H
#define STUDY_TOLERANCE_H

#include "study/keys.h"

/* "0.05 normal boards" of a WW_STUDY_TOLERANCE, "-40 degC to 125 degC life" of a WW_STUDY_RANGE; law and scope may be left
 * out, or stand in either order: uniform, and the scope that the key's kind of cause has. Ends are within the limits of the key.
 * WW_MALFORMED: an unknown or repeated word, a unit missing; WW_INVALID: outside the limits, a range without extent. */
enum ww_status ww_tolerance_read(struct ww_tolerance *tolerance, const struct ww_study_key *key, const char *text,
                                 struct ww_error *error);
/* Reads back as the same. Returns out. */
enum { TOLERANCE_TEXT = 2 * NUMBER_TEXT + 32 };
char *ww_tolerance_text(char *out, size_t size, const struct ww_tolerance *tolerance, const struct ww_study_key *key);
/* "board", "boards", "life". WW_MALFORMED: none of them. */
enum ww_status ww_scope_read(enum ww_scope *scope, const char *text, struct ww_error *error);

#endif
