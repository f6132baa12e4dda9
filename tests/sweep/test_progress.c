/* Progress: shares that grow, from one thread at a time, and no lock around the host's report.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "../line/board.h"
#include "core/progress.h"
#include "weftwise/sweep.h"

#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <time.h>

enum { STEPS = 20000, THREADS = 4 };

/* --- steps from several threads ------------------------------------------------------------------------------ */

struct listener {
    atomic_int inside; /* reports running */
    int most_inside, calls;
    double last;
    bool grew;
};

static void listen(void *context, double share)
{
    struct listener *listener = context;
    int inside = atomic_fetch_add(&listener->inside, 1) + 1;
    if (inside > listener->most_inside)
        listener->most_inside = inside;
    listener->grew = listener->grew && share > listener->last;
    listener->last = share;
    listener->calls++;
    atomic_fetch_sub(&listener->inside, 1);
}

static void *step_often(void *progress)
{
    for (int n = 0; n < STEPS; n++)
        ww_progress_step(progress);
    return NULL;
}

static void shares_grow_from_one_thread_at_a_time_and_end_at_one(void **state)
{
    (void)state;
    struct listener listener = {.grew = true};
    struct ww_progress_run progress = {.host = {listen, &listener}};
    for (int part = 0; part < 2; part++) {
        ww_progress_part(&progress, part == 0 ? 0.3 : 1, THREADS * STEPS);
        pthread_t thread[THREADS];
        for (int n = 0; n < THREADS; n++)
            assert_int_equal(pthread_create(&thread[n], NULL, step_often, &progress), 0);
        for (int n = 0; n < THREADS; n++)
            assert_int_equal(pthread_join(thread[n], NULL), 0);
        if (part == 0)
            assert_close(listener.last, 0.3, 0, 0.005);
    }
    assert_true(listener.grew);
    assert_int_equal(listener.most_inside, 1);
    assert_true(listener.last == 1);
    assert_in_range(listener.calls, 20, 201);
}

static void nobody_waits(void **state)
{
    (void)state;
    struct ww_progress_run progress = {0};
    ww_progress_part(&progress, 1, 3);
    for (int n = 0; n < 3; n++)
        ww_progress_step(&progress);
    assert_true(atomic_load(&progress.told) == 0);
}

/* --- whole sweeps ------------------------------------------------------------------------------------------------ */

struct sweep {
    const struct ww_line *line;
    struct ww_progress progress;
    double worst; /* at the first angle; 0 on failure */
};

static void *run_sweep(void *context)
{
    struct sweep *sweep = context;
    struct ww_angles_request request = {
        .skew = {.length = 10e-3}, .to = 90 * DEGREES, .step = 5 * DEGREES, .progress = sweep->progress};
    struct ww_angles angles;
    if (ww_angles_solve(&angles, sweep->line, &request, NULL) == WW_OK)
        sweep->worst = angles.at[0].worst;
    ww_angles_clear(&angles);
    return NULL;
}

static void open_small(struct board *board)
{
    struct board_options options = board_pair();
    options.cell = (struct ww_cell_options){.nx = 32, .ny = 32, .nz = 8};
    options.fineness = 0.25;
    board_open(board, &options);
}

struct reentrant {
    struct listener listener;
    struct sweep inner;
};

static void listen_and_sweep(void *context, double share)
{
    struct reentrant *host = context;
    listen(&host->listener, share);
    if (host->inner.worst == 0)
        run_sweep(&host->inner);
}

static void a_report_may_start_a_sweep(void **state)
{
    (void)state;
    struct board board;
    open_small(&board);
    struct reentrant host = {.listener = {.grew = true}};
    struct listener inner = {.grew = true};
    host.inner = (struct sweep){.line = board.line, .progress = {listen, &inner}};
    struct sweep outer = {.line = board.line, .progress = {listen_and_sweep, &host}};
    run_sweep(&outer);
    assert_true(outer.worst > 0);
    assert_true(host.inner.worst == outer.worst);
    assert_true(host.listener.grew && host.listener.last == 1);
    assert_true(inner.grew && inner.last == 1);
    board_close(&board);
}

/* Each of two sweeps reports, and waits in its first report until the other has reported, too. */
struct meeting {
    pthread_mutex_t lock;
    pthread_cond_t arrived;
    int count;
    bool late;
};

struct guest {
    struct meeting *meeting;
    bool came;
};

static void wait_for_the_other(void *context, double share)
{
    struct guest *guest = context;
    struct meeting *meeting = guest->meeting;
    (void)share;
    if (guest->came)
        return;
    guest->came = true;
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    until.tv_sec += 20;
    pthread_mutex_lock(&meeting->lock);
    meeting->count++;
    pthread_cond_broadcast(&meeting->arrived);
    while (meeting->count < 2 && !meeting->late)
        meeting->late = pthread_cond_timedwait(&meeting->arrived, &meeting->lock, &until) == ETIMEDOUT;
    pthread_mutex_unlock(&meeting->lock);
}

static void two_sweeps_report_at_once(void **state)
{
    (void)state;
    struct board board;
    open_small(&board);
    struct meeting meeting = {.lock = PTHREAD_MUTEX_INITIALIZER, .arrived = PTHREAD_COND_INITIALIZER};
    struct guest guest[2] = {{.meeting = &meeting}, {.meeting = &meeting}};
    struct sweep sweep[2];
    pthread_t thread[2];
    for (int n = 0; n < 2; n++) {
        sweep[n] = (struct sweep){.line = board.line, .progress = {wait_for_the_other, &guest[n]}};
        assert_int_equal(pthread_create(&thread[n], NULL, run_sweep, &sweep[n]), 0);
    }
    for (int n = 0; n < 2; n++)
        assert_int_equal(pthread_join(thread[n], NULL), 0);
    assert_int_equal(meeting.count, 2);
    assert_false(meeting.late);
    assert_true(sweep[0].worst > 0);
    assert_true(sweep[0].worst == sweep[1].worst);
    board_close(&board);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shares_grow_from_one_thread_at_a_time_and_end_at_one),
        cmocka_unit_test(nobody_waits),
        cmocka_unit_test(a_report_may_start_a_sweep),
        cmocka_unit_test(two_sweeps_report_at_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
