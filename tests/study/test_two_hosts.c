/* Two hosts in one process: a study each, from its text to the answer, at once and through the public headers only. The
 * digits are those of one after the other. Under the thread sanitizer (.ci/run) a race between them is an error.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"
#include "weftwise/patch.h"
#include "weftwise/study.h"
#include "weftwise/sweep.h"

#include <pthread.h>

enum { HOSTS = 2, ROUNDS = 2 };

/* Small: coarse maps and cross-sections, and few full sections. */
static const char *const study_text[HOSTS] = {
    "[study]\npositions = 32\nfineness = 0.25\nsections = 2\n"
    "[stackup]\nresin = own\nlayer = plane\nlayer = ply 1080 100 um\nlayer = trace\nlayer = ply 2116 120 um\nlayer = "
    "plane\n"
    "[trace]\nwidth = 100 um\nthickness = 15 um\npitch = 220 um\nlength = 20 mm\nangle = 0 deg\n"
    "[fabric]\nturn = 1 deg\n[resin own]\ndk = 3.2\ndf = 0.004\ndensity = 1.4 g/cm3\n",
    "[study]\npositions = 32\nfineness = 0.25\nsections = 2\n"
    "[stackup]\nresin = own\nlayer = air\nlayer = trace\nlayer = ply 106 60 um\nlayer = plane\n"
    "[trace]\nwidth = 110 um\nthickness = 18 um\nlength = 15 mm\nangle = 7 deg\n"
    "[fabric]\nturn = 2 deg\n[resin own]\ndk = 3.0\ndf = 0.003\ndensity = 1.3 g/cm3\n"};

enum { MOST_ANGLES = 200 };

struct answer {
    enum ww_status status;
    struct ww_error error;
    double worst, with_turn, p99, mean_delay, cloth;
    size_t angles;
    double at[MOST_ANGLES], design[MOST_ANGLES];
};

/* The worst of some boards of real cloth. */
static enum ww_status solve_cloth(struct answer *answer, const struct ww_line *line)
{
    static const struct ww_scatter wander = {.yarn = {{40e-6, 3e-3, 1, 0}, {40e-6, 3e-3, 1, 0}}, .seed = 3};
    const struct ww_real_request request = {
        .scatter = &wander, .length = 4e-3, .longest = 8e-3, .boards = 4, .traces = 3, .turn = 0.02};
    struct ww_real real = {0};
    enum ww_status status = ww_real_solve(&real, line, &request, &answer->error);
    if (!status)
        answer->cloth = real.at[real.own].turned.worst;
    ww_real_clear(&real);
    return status;
}

/* The skew of a built study, its sweep over angle, and what real cloth has. */
static enum ww_status solve(struct answer *answer, const struct ww_study *study)
{
    struct ww_solution solution = {0};
    struct ww_angles angles = {0};
    enum ww_status status = ww_study_solve(&solution, study, &answer->error);
    if (!status) {
        double degree = WW_PI / 180;
        struct ww_angles_request sweep = {.skew = ww_study_request(study), .to = 90 * degree, .step = 5 * degree};
        status = ww_angles_solve(&angles, solution.line, &sweep, &answer->error);
    }
    if (!status) {
        const struct ww_skew *skew = &solution.skew;
        answer->worst = skew->worst;
        answer->with_turn = skew->worst_with_turn;
        answer->p99 = skew->p99;
        answer->mean_delay = skew->mean_delay;
        answer->angles = angles.count;
        for (size_t i = 0; i < angles.count && i < MOST_ANGLES; i++) {
            answer->at[i] = angles.at[i].worst;
            answer->design[i] = angles.at[i].design;
        }
    }
    ww_angles_clear(&angles);
    if (!status)
        status = solve_cloth(answer, solution.line);
    ww_solution_clear(&solution);
    return status;
}

struct host {
    const char *text;
    struct answer answer;
};

static void *work(void *context)
{
    struct host *host = context;
    struct answer *answer = &host->answer;
    struct ww_study study = {0};
    memset(answer, 0, sizeof *answer);
    FILE *stream = fmemopen((void *)(uintptr_t)host->text, strlen(host->text), "r");
    if (!stream) {
        answer->status = WW_IO;
        return NULL;
    }
    answer->status = ww_study_read(&study, stream, "host", WW_SOURCE_ROOT "/weaves", NULL, 0, &answer->error);
    (void)fclose(stream);
    if (!answer->status)
        answer->status = ww_study_build(&study, &answer->error);
    if (!answer->status)
        answer->status = solve(answer, &study);
    ww_study_clear(&study);
    return NULL;
}

static void assert_same(const struct answer *got, const struct answer *want)
{
    assert_true(got->worst == want->worst);
    assert_true(got->with_turn == want->with_turn);
    assert_true(got->p99 == want->p99);
    assert_true(got->mean_delay == want->mean_delay);
    assert_true(got->cloth == want->cloth);
    assert_int_equal(got->angles, want->angles);
    for (size_t i = 0; i < want->angles; i++) {
        assert_true(got->at[i] == want->at[i]);
        assert_true(got->design[i] == want->design[i]);
    }
}

static void run_at_once(struct host *host)
{
    pthread_t thread[HOSTS];
    for (int n = 0; n < HOSTS; n++)
        assert_int_equal(pthread_create(&thread[n], NULL, work, &host[n]), 0);
    for (int n = 0; n < HOSTS; n++)
        assert_int_equal(pthread_join(thread[n], NULL), 0);
}

/* The first round is at once, so that what is made once in a process (plans of transforms) is made in a race. */
static void two_hosts_get_the_digits_of_one(void **state)
{
    (void)state;
    static struct host at_once[ROUNDS][HOSTS], alone[HOSTS];
    for (int round = 0; round < ROUNDS; round++) {
        for (int n = 0; n < HOSTS; n++)
            at_once[round][n].text = study_text[n];
        run_at_once(at_once[round]);
    }
    for (int n = 0; n < HOSTS; n++) {
        alone[n].text = study_text[n];
        (void)work(&alone[n]);
        assert_ok(alone[n].answer.status, alone[n].answer.error);
        assert_true(alone[n].answer.worst > 0 && alone[n].answer.cloth > 0);
        assert_in_range(alone[n].answer.angles, 10, MOST_ANGLES);
        for (int round = 0; round < ROUNDS; round++) {
            assert_ok(at_once[round][n].answer.status, at_once[round][n].answer.error);
            assert_same(&at_once[round][n].answer, &alone[n].answer);
        }
    }
    assert_true(alone[0].answer.worst != alone[1].answer.worst);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_hosts_get_the_digits_of_one)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
