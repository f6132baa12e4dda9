/* study/keys.h - the table of keys with the place of each value in struct ww_study.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef STUDY_KEYS_H
#define STUDY_KEYS_H

#include "weftwise/study.h"

enum { STUDY_KEYS = 70, NUMBER_TEXT = 48 };

struct ww_study_row {
    struct ww_study_key key;
    size_t
        offset; /* of a double (NUMBER, SPREAD), size_t (WHOLE), bool (SWITCH), char[160] (TEXT), struct ww_tolerance (TOLERANCE,
                   RANGE), enum ww_scope (SCOPE) or the material (NAME), whose name is its first field; not used by the others */
};
/* Section of the table that describes the arms of a feed, and what their own sections begin with. */
#define ARM_SECTION "route NAME"
#define ARM_PREFIX "route "

extern const struct ww_study_row ww_study_row[STUDY_KEYS];

/* May the key be given several times? */
bool ww_study_key_repeats(const struct ww_study_key *key);

/* "uniform", "normal". */
const char *ww_law_name(enum ww_law law);

/* Is the key one of the scatter of real cloth? */
bool ww_study_row_is_scatter(const struct ww_study_row *row);

/* The shortest text that ww_number_parse turns into value again, to 2 units in the last place. Returns out. */
char *ww_number_text(char *out, size_t size, double value, enum ww_dimension dimension);

#endif
