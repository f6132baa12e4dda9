/* figure/ticks.h - round ticks, and the unit an axis is labelled in.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_FIGURE_TICKS_H
#define WW_FIGURE_TICKS_H

#include <stddef.h>

/* Ticks at first + i step, i = 0 .. count-1: multiples of step = 1, 2 or 5 times a power of ten. */
struct ww_ticks {
    double first, step;
    int count;
    int places; /* behind the point that a label needs; -1: labels in general form */
};

/* The finest round step that puts at most `most` (>= 2) ticks on [low, high]; high > low, both finite. */
struct ww_ticks ww_ticks_choose(double low, double high, int most);
double ww_tick_value(const struct ww_ticks *ticks, int i);
/* "-0.5" with a true minus sign; a tick of zero is "0". Returns out. */
char *ww_tick_label(const struct ww_ticks *ticks, int i, char *out, size_t size);

/* A unit to show values in: shown = si / worth. */
struct ww_unit {
    double worth;
    const char *name;
};
/* mm or um, by the largest length to be shown [m]. */
struct ww_unit ww_unit_length(double largest);
/* ns, ps or fs, by the largest absolute time to be shown [s]. */
struct ww_unit ww_unit_time(double largest);

/* value with three significant digits or so, for running text ("1.90", "-0.02", "304"), true minus sign; a plus
 * in front of positive ones when asked. Returns out. */
char *ww_value_label(char *out, size_t size, double value, int plus);
/* A time in the unit that suits it, at most four digits: "1.9 ps". Returns out. */
char *ww_time_label(char *out, size_t size, double seconds);

/* The same of a time that was computed, three digits or so: "1.90 ps", "under 0.001 fs". Returns
 * out. */
char *ww_time_round_label(char *out, size_t size, double seconds);

/* A length in the unit that suits it: "423 um", with the sign of micro. Returns out. */
char *ww_length_label(char *out, size_t size, double metres);

/* value with the digits it has, at most `digits` ("50", "2.54", "0.1"): for a size that somebody chose. Returns out. */
char *ww_size_label(char *out, size_t size, double value, int digits);

#endif
