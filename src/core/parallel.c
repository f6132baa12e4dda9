/* parallel.c - how many threads the loops use. Loops write by index and reduce in index order, so that the
 * digits do not depend on it.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/parallel.h"

#include <stdatomic.h>
#include <unistd.h>

enum {
    MOST_THREADS = 256,
    WORTH_A_THREAD = 500000 /* multiplications, some 0.2 ms */
};

static atomic_int wanted; /* 0: as many as the machine has */

void ww_threads_set(int count)
{
    atomic_store(&wanted, count < 0 ? 0 : count > MOST_THREADS ? MOST_THREADS : count);
}

int ww_threads(void)
{
#ifdef _OPENMP
    int count = atomic_load(&wanted);
    if (count > 0)
        return count;
    long machine = sysconf(_SC_NPROCESSORS_ONLN);
    return machine < 1 ? 1 : machine > MOST_THREADS ? MOST_THREADS : (int)machine;
#else
    return 1;
#endif
}

int ww_threads_for(size_t multiplications)
{
    return multiplications < WORTH_A_THREAD ? 1 : ww_threads();
}

void ww_failure_keep(struct ww_failure *failure, size_t index, enum ww_status status, const struct ww_error *error)
{
    if (!status)
        return;
#ifdef _OPENMP
#pragma omp critical(ww_failure_keep)
#endif
    if (!failure->status || index < failure->index) {
        failure->index = index;
        failure->status = status;
        if (failure->error)
            *failure->error = *error;
    }
}
