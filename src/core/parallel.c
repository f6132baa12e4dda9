/* parallel.c - how many threads the loops use. Loops write by index and reduce in index order, so that the
 * digits do not depend on it. Left open, it is what the system grants: the processors that this process may use
 * (affinity), OMP_NUM_THREADS, and the share of them that its control group has.
 *
 * The threads' library ends the program where a thread cannot be made (a limit on processes), with status 1, which means over
 * budget here. So as many as are wanted are made and joined once beforehand.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "core/parallel.h"

#ifdef _OPENMP
#include <omp.h>
#include <pthread.h>
#endif
#include <math.h>
#include <stdatomic.h>
#include <stdio.h>

enum {
    MOST_THREADS = 256,
    WORTH_A_THREAD = 500000 /* multiplications, some 0.2 ms */
};

static atomic_int wanted; /* 0: as many as the system grants */
#ifdef _OPENMP
static atomic_int granted;                    /* 0: not asked yet */
static atomic_int tried, most = MOST_THREADS; /* so many were tried; so many there can be */
#endif

void ww_threads_set(int count)
{
    atomic_store(&wanted, count < 0 ? 0 : count > MOST_THREADS ? MOST_THREADS : count);
}

#ifdef _OPENMP
/* Processors of the control group, as time over period; INFINITY where there is no limit. */
static double share_of_group(void)
{
    double time = 0, period = 0;
    FILE *stream = fopen("/sys/fs/cgroup/cpu.max", "re");
    if (!stream)
        return INFINITY;
    int read = fscanf(stream, "%lf %lf", &time, &period);
    fclose(stream);
    return read == 2 && period > 0 ? time / period : INFINITY;
}

static int ask_system(void)
{
    int count = atomic_load(&granted);
    if (count == 0) {
        double share = fmax(1, ceil(share_of_group()));
        count = (int)fmin(fmin(share, fmax(1, omp_get_max_threads())), MOST_THREADS);
        atomic_store(&granted, count);
    }
    return count;
}

static void *wait_at(void *gate)
{
    pthread_mutex_lock(gate);
    pthread_mutex_unlock(gate);
    return NULL;
}

/* How many of so many threads can be there at once, the one that asks among them. */
static int try_threads(int count)
{
    pthread_mutex_t gate = PTHREAD_MUTEX_INITIALIZER;
    pthread_t thread[MOST_THREADS];
    int got = 0;
    pthread_mutex_lock(&gate);
    while (got < count - 1 && pthread_create(&thread[got], NULL, wait_at, &gate) == 0)
        got++;
    pthread_mutex_unlock(&gate);
    for (int i = 0; i < got; i++)
        pthread_join(thread[i], NULL);
    pthread_mutex_destroy(&gate);
    return got + 1;
}
#endif

int ww_threads(void)
{
#ifdef _OPENMP
    int count = atomic_load(&wanted);
    if (count == 0)
        count = ask_system();
    if (count > atomic_load(&tried)) {
        int possible = try_threads(count);
        atomic_store(&tried, count);
        if (possible < count)
            atomic_store(&most, possible);
    }
    int limit = atomic_load(&most);
    return count < limit ? count : limit;
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
