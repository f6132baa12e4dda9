/* core/parallel.h - threads for a loop by its size.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef WW_CORE_PARALLEL_H
#define WW_CORE_PARALLEL_H

#include "weftwise/core.h"

/* ww_threads(), or 1 where a loop of so many multiplications ends before a second thread has woken up; while the machine
 * is busy with other work, threads that wait for each other cost far more than they bring. */
int ww_threads_for(size_t multiplications);

/* The first failure of a loop by index, whichever thread meets it first, so that one message comes of any number of
 * threads. Begin with {.error = error}; error may be NULL. */
struct ww_failure {
    enum ww_status status;
    size_t index;
    struct ww_error *error;
};
/* Takes down the outcome of turn `index`; from any thread. */
void ww_failure_keep(struct ww_failure *failure, size_t index, enum ww_status status, const struct ww_error *error);

#endif
