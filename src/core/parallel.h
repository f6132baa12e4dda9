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

#endif
