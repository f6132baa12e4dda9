/* arms.c - several traces on one cloth: saved and shown with skew.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "arms.h"

#include "message.h"

#include <weftwise/report.h>

#include <math.h>

enum { SUBJECT_SIZE = 80, SENTENCE_SIZE = 1024 };

enum ww_status arms_save(struct job *job, const struct ww_arms *arms, struct ww_error *error)
{
    char subject[SUBJECT_SIZE];
    double budget = job->study.budget;
    struct ww_figure_distribution content = {.subject = subject,
                                             .what = arms->pair ? "Largest skew of the arms" : "Spread of the arms",
                                             .axis = arms->pair ? "largest |skew| of the arms"
                                                                : "spread of the arms' delays",
                                             .distribution = &arms->distribution,
                                             .median = arms->median,
                                             .p95 = arms->p95,
                                             .p99 = arms->p99,
                                             .worst = arms->worst_with_turn,
                                             .budget = budget,
                                             .over_budget = budget > 0.0 ? fmax(1.0 - arms->yield, 0.0) : 0.0};
    if (!ww_arms_are_judged(arms) || !(arms->distribution.step > 0.0))
        return WW_OK;
    snprintf(subject, sizeof subject, "%zu arms on one cloth, wherever it lies within its tolerances", arms->count);
    return job_kept(job, ww_figure_draw_distribution(job_figure_path(job, "arms"), &job->figure, &content, error),
                    error);
}

static double widest(const double *value, size_t count)
{
    double most = value[0], least = value[0];
    for (size_t i = 0; i < count; i++) {
        most = fmax(most, value[i]);
        least = fmin(least, value[i]);
    }
    return most - least;
}

static void show_members(const struct ww_arms *arms)
{
    const double ps = 1e-12;
    printf("  %-14s %10s %12s   correlation with each, in this order\n", arms->lanes ? "lane" : "arm", "mean delay",
           "deviation");
    for (size_t i = 0; i < arms->count; i++) {
        printf("  %-14.31s %7.2f ps %9.3f ps  ", arms->name[i], arms->mean_delay[i] / ps, arms->deviation[i] / ps);
        for (size_t j = 0; j < arms->count; j++)
            printf(" %5.2f", arms->correlation[i * arms->count + j]);
        puts("");
    }
}

void arms_show(const struct job *job, const struct ww_arms *arms)
{
    char sentence[SENTENCE_SIZE];
    if (!ww_words_arms(&job->study, arms, sentence, sizeof sentence)[0])
        return;
    puts("");
    paragraph(printf("on one cloth"), 16, sentence);
    printf("  %-14s %7.3f ps %s where the cloth lies square, %.3f ps within its tolerances\n", "worst",
           arms->worst * 1e12, arms->pair ? "is the largest skew" : "apart", arms->worst_with_turn * 1e12);
    printf("  %-14s %7.3f ps root mean square of %s\n", "rms", arms->rms * 1e12,
           arms->pair ? "the skews" : "the delays about their common mean");
    show_members(arms);
    double means = widest(arms->mean_delay, arms->count);
    if (!arms->lanes)
        printf("  %-14s %7.2f ps between the mean delays: the layout's to match, taken out of the other numbers\n",
               "means", means * 1e12);
}
