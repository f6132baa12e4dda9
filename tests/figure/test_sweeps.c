/* The figures of sweeps: they tell the truth, and stay whole and on the page whatever the data.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "chunks.h"

#include <stdio.h>
#include <unistd.h>

#include "figure/decades.h"
#include "picture.h"
#include "sweeps.h"

#define DEGREE (WW_PI / 180)

static char path[64];
static struct sweeps sweeps;
static struct ww_figure_options options;
static struct ww_error error;

static int prepare(void **state)
{
    (void)state;
    options = (struct ww_figure_options){.title = "Mezzanine link, layer 3", .conditions = "made-up data"};
    sweeps_init(&sweeps, 1, 1.5e-12, 6);
    return 0;
}

static int tidy(void **state)
{
    (void)state;
    sweeps_clear(&sweeps);
    unlink(path);
    return 0;
}

/* --- every figure, once */

static void draw_angles(void)
{
    struct ww_figure_angles content = sweeps_angles(&sweeps);
    assert_ok(ww_figure_draw_angles(path, &options, &content, &error), error);
    check_margins(path);
}

static void draw_lengths(void)
{
    struct ww_figure_lengths content = sweeps_lengths(&sweeps);
    assert_ok(ww_figure_draw_lengths(path, &options, &content, &error), error);
    check_margins(path);
}

static void draw_comparisons(void)
{
    struct ww_figure_compare content = sweeps_compare(&sweeps);
    assert_ok(ww_figure_draw_compare(path, &options, &content, &error), error);
    check_margins(path);
    assert_ok(ww_figure_draw_compare_angles(path, &options, &content, &error), error);
    check_margins(path);
    assert_ok(ww_figure_draw_compare_dk(path, &options, &content, &error), error);
    check_margins(path);
}

static void draw_pitches(void)
{
    struct ww_figure_pitch content = sweeps_pitch(&sweeps);
    assert_ok(ww_figure_draw_pitch(path, &options, &content, &error), error);
    check_margins(path);
    assert_ok(ww_figure_draw_null(path, &options, &content, &error), error);
    check_margins(path);
}

static void draw_everything(void)
{
    draw_angles();
    draw_lengths();
    draw_comparisons();
    draw_pitches();
}

/* --- data at the edge of sense */

static void all_zero_is_drawn(void **state)
{
    (void)state;
    sweeps_clear(&sweeps);
    sweeps_init(&sweeps, 0, 0, 5);
    draw_everything();
    sweeps_clear(&sweeps);
    sweeps_init(&sweeps, 0, 1.5e-12, 5);
    draw_everything();
}

static void a_budget_far_off_is_told(void **state)
{
    (void)state;
    static const double budget[] = {1e-18, 1e-9, 1};

    for (size_t i = 0; i < sizeof budget / sizeof budget[0]; i++) {
        sweeps_clear(&sweeps);
        sweeps_init(&sweeps, 1, budget[i], 4);
        draw_everything();
    }
}

static void a_single_trace_has_its_own_words(void **state)
{
    (void)state;
    sweeps.pair = sweeps.angles.pair = false;
    for (size_t i = 0; i < sweeps.comparison.count; i++)
        sweeps.comparison.of[i].skew.pair = false;
    sweeps.pitch.pitches = 1; /* the first row of worst is read as the widths' */
    sweeps.pitch.pitch[0] = 0;
    draw_everything();
}

static void one_angle_and_one_style_are_enough(void **state)
{
    (void)state;
    sweeps.angles.count = 1;
    sweeps.angles.windows = 0;
    draw_angles();
    sweeps.comparison.of[0].angles.count = 1;
    size_t count = sweeps.comparison.count;
    sweeps.comparison.count = 1;
    draw_comparisons();
    sweeps.comparison.count = count;
}

static void one_pitch_or_one_width_makes_a_curve(void **state)
{
    (void)state;
    sweeps.pitch.widths = 1;
    draw_pitches();
    sweeps.pitch.worst[0] = sweeps.pitch.worst[60] = -1; /* a gap in it */
    draw_pitches();
}

static void many_styles_with_long_names_have_room(void **state)
{
    (void)state;
    char name[400];

    name[0] = 'W'; /* then characters of two bytes, so that a cut may fall within one */
    for (size_t i = 1; i + 1 < sizeof name; i++)
        name[i] = (char)(i % 2 == 1 ? 0xc3 : 0xa4);
    name[sizeof name - 2] = name[sizeof name - 1] = '\0';
    sweeps_clear(&sweeps);
    sweeps_init(&sweeps, 1, 1.5e-12, SWEEP_STYLES);
    options.width = 700;
    for (size_t i = 0; i < sweeps.comparison.count; i++)
        sweeps.comparison.of[i].name = name;
    draw_comparisons();
    for (size_t i = 5; i < sweeps.comparison.count; i++) {
        sweeps.comparison.of[i].status = WW_UNPHYSICAL;
        memset(sweeps.comparison.of[i].error.text, 'W', sizeof sweeps.comparison.of[i].error.text - 1);
    }
    draw_comparisons();
}

/* Hundreds of revivals, two plies turned against each other, windows as narrow as the step: labels that have no room are
 * left out, and none leaves the page. */
static void crowded_angles_stay_on_the_page(void **state)
{
    (void)state;
    enum { MANY = 300 };
    struct ww_revival revival[MANY];
    struct ww_window window[MANY];
    struct ww_angles crowded = sweeps.angles;
    struct ww_figure_angles content = {"crowded", &crowded, NULL};

    for (int i = 0; i < MANY; i++) {
        double angle = 90 * DEGREE * i / (MANY - 1);
        revival[i] = (struct ww_revival){i % 17 - 8, i % 13, (size_t)i % 2, angle, 1e-12 * (i % 29)};
        window[i] = (struct ww_window){angle, angle + 0.1 * DEGREE};
    }
    crowded.revival = revival;
    crowded.window = window;
    crowded.revivals = crowded.windows = MANY;
    assert_ok(ww_figure_draw_angles(path, &options, &content, &error), error);
    check_margins(path);
}

/* --- refusals */

#define REFUSED(call) assert_int_equal((call), WW_INVALID)

static void senseless_angles_are_refused(void **state)
{
    (void)state;
    struct ww_angles none = {0};
    struct ww_figure_angles content = sweeps_angles(&sweeps);

    content.angles = NULL;
    REFUSED(ww_figure_draw_angles(path, &options, &content, &error));
    content.angles = &none;
    REFUSED(ww_figure_draw_angles(path, &options, &content, &error));
    content.angles = &sweeps.angles;
    sweeps.angles.at[7].median = NAN;
    REFUSED(ww_figure_draw_angles(path, &options, &content, &error));
    sweeps.angles.at[7].median = -1e-12;
    REFUSED(ww_figure_draw_angles(path, &options, &content, &error));
    sweeps.angles.at[7].median = 0;
    sweeps.angles.at[7].angle = sweeps.angles.at[6].angle;
    REFUSED(ww_figure_draw_angles(path, &options, &content, &error));
    assert_contains(error.text, "ascending");
    assert_int_not_equal(access(path, F_OK), 0);
}

static void senseless_lengths_are_refused(void **state)
{
    (void)state;
    struct ww_figure_lengths content = sweeps_lengths(&sweeps);

    content.budget = NAN;
    REFUSED(ww_figure_draw_lengths(path, &options, &content, &error));
    content = sweeps_lengths(&sweeps);
    content.own_length = -1;
    REFUSED(ww_figure_draw_lengths(path, &options, &content, &error));
    content = sweeps_lengths(&sweeps);
    sweeps.lengths.lengths = 1;
    REFUSED(ww_figure_draw_lengths(path, &options, &content, &error));
    content.lengths = NULL;
    REFUSED(ww_figure_draw_lengths(path, &options, &content, &error));
    assert_int_not_equal(access(path, F_OK), 0);
}

/* Causes of all scopes, more than a page is wide; of a pair and of a single trace, with a budget on the axis and beyond it. */
static struct ww_budget made_up_budget(bool pair, double budget)
{
    struct ww_budget b = {.pair = pair, .frequency = 77e9, .between = WW_BOARDS, .budget = budget, .judged = 2e-12};
    for (int i = 0; i < WW_CAUSES; i++) {
        b.cause[i] =
            (struct ww_cause){.kind = (enum ww_cause_kind)i, .name = "a cause with a name", .given = i % 4 != 3};
        b.cause[i].tolerance.scope = (enum ww_scope)(i % 3);
        b.cause[i].differ[WW_OBSERVED_DELAY] = (1 + i * 5 % 11) * 0.2e-12;
        b.cause[i].share = 1.0 / WW_CAUSES;
        b.cause[i].halved = 1.9e-12;
    }
    for (int i = 0; i < 3; i++)
        b.level[i] = (struct ww_budget_level){
            .worst = (6 + i) * 1e-12, .root_squares = (3 + i) * 1e-12, .p99 = (2 + i) * 1e-12};
    b.skew_p99 = pair ? 2e-12 : 0;
    b.skew_worst = pair ? 3e-12 : 0;
    return b;
}

static void a_budget_is_drawn_and_a_senseless_one_refused(void **state)
{
    (void)state;
    static const double budget[] = {0, 2e-12, 1e-9};
    for (int i = 0; i < 6; i++) {
        struct ww_budget b = made_up_budget(i % 2, budget[i / 2]);
        struct ww_figure_budget content = {"each cause alone", &b};
        assert_ok(ww_figure_draw_budget(path, &options, &content, &error), error);
        check_margins(path);
    }
    struct ww_budget warm = made_up_budget(false, 0);
    warm.cause[WW_CAUSE_TEMPERATURE].given = true;
    warm.cause[WW_CAUSE_TEMPERATURE].tolerance = (struct ww_tolerance){.given = true, .from = -40, .to = 125};
    for (int i = 0; i < 3; i++)
        warm.cause[WW_CAUSE_TEMPERATURE].at[i][WW_OBSERVED_DELAY] = (i * i - 1) * 1e-12;
    warm.beside_temperature = 0.5e-12;
    struct ww_figure_budget over = {NULL, &warm};
    for (int i = 0; i < 2; i++, warm.frequency = 0) {
        assert_ok(ww_figure_draw_budget_temperature(path, &options, &over, &error), error);
        check_margins(path);
    }
    unlink(path);
    warm.cause[WW_CAUSE_TEMPERATURE].given = false;
    REFUSED(ww_figure_draw_budget_temperature(path, &options, &over, &error));
    struct ww_budget b = made_up_budget(false, 1e-12), none = {0};
    struct ww_figure_budget content = {NULL, &none};
    assert_ok(ww_figure_draw_budget(path, &options, &content, &error), error); /* nothing is given */
    unlink(path);
    content.budget = &b;
    b.level[1].p99 = NAN;
    REFUSED(ww_figure_draw_budget(path, &options, &content, &error));
    b = made_up_budget(false, -1);
    REFUSED(ww_figure_draw_budget(path, &options, &content, &error));
    content.budget = NULL;
    REFUSED(ww_figure_draw_budget(path, &options, &content, &error));
}

static void senseless_comparisons_are_refused(void **state)
{
    (void)state;
    struct ww_comparison none = {0};
    struct ww_figure_compare content = sweeps_compare(&sweeps);
    struct ww_compared *of = sweeps.comparison.of;

    content.comparison = &none;
    REFUSED(ww_figure_draw_compare(path, &options, &content, &error));
    content = sweeps_compare(&sweeps);
    of[0].skew.p99 = INFINITY;
    REFUSED(ww_figure_draw_compare(path, &options, &content, &error));
    of[0].skew.p99 = 0;
    double *value = of[1].dk.value;
    of[1].dk.value = NULL;
    REFUSED(ww_figure_draw_compare_dk(path, &options, &content, &error));
    of[1].dk.value = value;
    size_t count = of[1].angles.count;
    of[1].angles.count = 0;
    REFUSED(ww_figure_draw_compare_angles(path, &options, &content, &error));
    of[1].angles.count = count;
    for (size_t i = 0; i < sweeps.comparison.count; i++)
        of[i].status = WW_UNPHYSICAL;
    REFUSED(ww_figure_draw_compare(path, &options, &content, &error));
    assert_contains(error.text, "none of the styles");
    REFUSED(ww_figure_draw_compare_angles(path, &options, &content, &error));
    REFUSED(ww_figure_draw_compare_dk(path, &options, &content, &error));
    assert_int_not_equal(access(path, F_OK), 0);
}

static void senseless_pitches_are_refused(void **state)
{
    (void)state;
    struct ww_figure_pitch content = sweeps_pitch(&sweeps);

    content.warp_pitch = -1;
    REFUSED(ww_figure_draw_pitch(path, &options, &content, &error));
    content = sweeps_pitch(&sweeps);
    sweeps.pitch.stretch[0] = -2;
    REFUSED(ww_figure_draw_null(path, &options, &content, &error));
    sweeps.pitch.count = 1;
    REFUSED(ww_figure_draw_null(path, &options, &content, &error));
    for (size_t i = 0; i < sweeps.pitch.pitches * sweeps.pitch.widths; i++)
        sweeps.pitch.worst[i] = -1;
    REFUSED(ww_figure_draw_pitch(path, &options, &content, &error));
    assert_contains(error.text, "can be built");
    sweeps.pitch.worst[0] = 1e-12;
    sweeps.pitch.pitches = sweeps.pitch.widths = 1;
    REFUSED(ww_figure_draw_pitch(path, &options, &content, &error));
    assert_int_not_equal(access(path, F_OK), 0);
}

/* A comb with a null at 1 mm, and lanes that do best there. */
static struct ww_spacing made_up_spacing(double *room)
{
    for (int i = 0; i < 21; i++) {
        room[i] = (0.5 + 0.05 * i) * 1e-3;
        room[21 + i] = 1e-12 * fabs(sin(WW_PI * room[i] / 1e-3));
        room[42 + i] = room[21 + i] + 0.1e-12;
        room[63 + i] = i == 10 ? 0.9 : 0.7;
    }
    return (struct ww_spacing){.count = 21,
                               .spacing = room,
                               .worst = room + 21,
                               .with_turn = room + 42,
                               .apart = 1e-12,
                               .apart_with_turn = 1.1e-12,
                               .nulls = 1,
                               .null = {{1e-3, 0, 0.1e-12, 2}},
                               .lanes = 8,
                               .pitches = 21,
                               .pitch = room,
                               .yield = room + 63,
                               .expected = room + 42,
                               .best_pitch = 1e-3,
                               .best_yield = 0.9};
}

static void spacings_and_lanes_are_drawn(void **state)
{
    (void)state;
    double room[84];
    struct ww_spacing spacing = made_up_spacing(room);
    struct ww_figure_spacing content = {.spacing = &spacing, .budget = 0.4e-12, .own = 0.8e-3, .own_worst = 0.7e-12};
    assert_ok(ww_figure_draw_spacing(path, &options, &content, &error), error);
    assert_int_equal(unlink(path), 0);
    content.own_yield = 0.7;
    assert_ok(ww_figure_draw_lanes(path, &options, &content, &error), error);
    assert_int_equal(unlink(path), 0);
    content.own = 0;
    content.budget = 0;
    spacing.nulls = 0;
    spacing.best_pitch = 0;
    assert_ok(ww_figure_draw_spacing(path, &options, &content, &error), error);
    assert_int_equal(unlink(path), 0);
    assert_ok(ww_figure_draw_lanes(path, &options, &content, &error), error);
    assert_int_equal(unlink(path), 0);
}

static void senseless_spacings_are_refused(void **state)
{
    (void)state;
    double room[84];
    struct ww_spacing spacing = made_up_spacing(room);
    struct ww_figure_spacing content = {.spacing = &spacing, .own_yield = 1.5};
    REFUSED(ww_figure_draw_lanes(path, &options, &content, &error));
    content.own_yield = 0;
    content.budget = -1;
    REFUSED(ww_figure_draw_spacing(path, &options, &content, &error));
    content.budget = 0;
    room[5] = room[4];
    REFUSED(ww_figure_draw_spacing(path, &options, &content, &error));
    REFUSED(ww_figure_draw_lanes(path, &options, &content, &error));
    spacing.count = spacing.pitches = 1;
    REFUSED(ww_figure_draw_spacing(path, &options, &content, &error));
    REFUSED(ww_figure_draw_lanes(path, &options, &content, &error));
    assert_int_not_equal(access(path, F_OK), 0);
}

/* --- the drawings tell the truth */

static const unsigned char *pixel(const struct picture *picture, size_t x, size_t y)
{
    return picture->pixels + 3 * (y * picture->header.width + x);
}

/* Columns of the band's own blue in the panel's upper part: as much of the axis as the window takes of the range. */
static void a_window_is_shaded_from_end_to_end(void **state)
{
    (void)state;
    struct ww_window window = {30 * DEGREE, 60 * DEGREE};
    struct ww_at_angle at[2] = {{0, 1e-12, 1e-12, 1e-12, 1e-12, 0, 0, 0, 0},
                                {90 * DEGREE, 1e-12, 1e-12, 1e-12, 1e-12, 0, 0, 0, 0}};
    struct ww_angles angles = {.pair = true, .budget = 2e-12, .count = 2, .at = at, .windows = 1, .window = &window};
    struct ww_figure_angles content = {NULL, &angles, NULL};
    struct picture picture;
    size_t blue = 0, first = 0, last = 0, wide = 0;

    assert_ok(ww_figure_draw_angles(path, &options, &content, &error), error);
    picture_load(&picture, path);
    size_t y = 700; /* under the curves */
    for (size_t x = 60; x < 1300; x++) {
        const unsigned char *p = pixel(&picture, x, y);
        bool frame = p[0] < 90;
        first = frame && first == 0 ? x : first;
        last = frame ? x : last;
        blue += p[2] > p[0] + 10 && !frame;
    }
    wide = last - first;
    assert_true(wide > 900);
    assert_close((double)blue, (double)wide / 3, 0.03, 0);
    free(picture.pixels);
}

/* Dark pixels above the panel of a map over pitch, in the upper of the two rows that name yarns. */
static size_t upper_row(const struct ww_figure_pitch *content)
{
    struct picture picture;
    size_t dark = 0;
    assert_ok(ww_figure_draw_pitch(path, &options, content, &error), error);
    picture_load(&picture, path);
    for (size_t y = 125; y < 155; y++)
        for (size_t x = 170; x < 1100; x++)
            dark += pixel(&picture, x, y)[0] < 100;
    free(picture.pixels);
    return dark;
}

/* Of a square cloth the leaders of the fill ran through the names of the warp. */
static void leaders_run_through_names_where_the_pitches_agree(void **state)
{
    (void)state;
    struct ww_figure_pitch content = sweeps_pitch(&sweeps);
    assert_true(upper_row(&content) > 100); /* the fill's names, above the warp's */
    content.fill_pitch = content.warp_pitch;
    assert_int_equal(upper_row(&content), 0); /* one row, and no leader from above */
}

/* angles.png told nothing of the angle that the study has. */
static void the_studys_own_angle_is_not_marked(void **state)
{
    (void)state;
    struct ww_at_angle at[2] = {{0, 1e-12, 1e-12, 1e-12, 1e-12, 0, 0, 0, 0},
                                {90 * DEGREE, 1e-12, 1e-12, 1e-12, 1e-12, 0, 0, 0, 0}};
    struct ww_angles angles = {.pair = true, .count = 2, .at = at};
    const double own[3] = {45 * DEGREE, 20 * DEGREE, 100 * DEGREE};
    size_t changed[3] = {0}, centre[3] = {0};
    struct picture plain, marked;

    struct ww_figure_angles content = {NULL, &angles, NULL};
    assert_ok(ww_figure_draw_angles(path, &options, &content, &error), error);
    picture_load(&plain, path);
    for (int i = 0; i < 3; i++) {
        content.own_angle = &own[i];
        assert_ok(ww_figure_draw_angles(path, &options, &content, &error), error);
        picture_load(&marked, path);
        for (size_t y = 0; y < 1140; y++)
            for (size_t x = 60; x < 1235; x++) /* left of the key */
                if (memcmp(pixel(&plain, x, y), pixel(&marked, x, y), 3) != 0) {
                    changed[i]++;
                    centre[i] += x;
                }
        free(marked.pixels);
    }
    free(plain.pixels);
    assert_true(changed[0] > 200 && changed[1] > 200);
    assert_int_equal(changed[2], 0); /* out of the range */
    /* 25 of 90 deg apart on a panel of about 1000 pixels */
    double apart = (double)centre[0] / (double)changed[0] - (double)centre[1] / (double)changed[1];
    assert_true(apart > 250 && apart < 330);
}

/* Conversion: of no pair, without a frequency or not of this world it is refused; of all strengths it is drawn, its windows
 * shaded from end to end. */
static void conversion_is_drawn_and_its_window_shaded(void **state)
{
    (void)state;
    struct ww_window window = {30 * DEGREE, 60 * DEGREE};
    struct ww_phase_match match[2] = {{2, 0, 0, 0.5 * DEGREE, 0.5, 0.5}, {0, -2, 0, 89 * DEGREE, 0.2, 0.3}};
    struct ww_at_angle at[2] = {{.conversion = 0.1, .conversion_design = 0.1},
                                {.angle = 90 * DEGREE, .conversion = 0.1, .conversion_design = 0.1}};
    struct ww_angles angles = {
        .pair = true, .turn = DEGREE, .count = 2, .at = at, .conversion = {28e9, 0.05, 1, &window, 2, match}};
    struct ww_figure_angles content = {"made-up data", &angles, NULL};
    struct picture picture;
    size_t blue = 0, first = 0, last = 0;
    assert_ok(ww_figure_draw_conversion(path, &options, &content, &error), error);
    picture_load(&picture, path);
    for (size_t x = 60; x < 1300; x++) {
        const unsigned char *p = pixel(&picture, x, 600);
        bool frame = p[0] < 90;
        first = frame && first == 0 ? x : first;
        last = frame ? x : last;
        blue += p[2] > p[0] + 10 && !frame;
    }
    assert_true(last - first > 900);
    assert_close((double)blue, (double)(last - first) / 3, 0.03, 0);
    free(picture.pixels);
    at[0].conversion = at[1].conversion = at[0].conversion_design = at[1].conversion_design = 0;
    assert_ok(ww_figure_draw_conversion(path, &options, &content, &error), error);
    check_margins(path);
    at[0].conversion_p99 = NAN;
    assert_int_equal(ww_figure_draw_conversion(path, &options, &content, &error), WW_INVALID);
    at[0].conversion_p99 = 0;
    angles.conversion.frequency = 0;
    assert_int_equal(ww_figure_draw_conversion(path, &options, &content, &error), WW_INVALID);
}

/* The longest run of columns that are not paper in a row: the panel with its frame. */
static void find_panel(const struct picture *picture, size_t y, size_t *left, size_t *right)
{
    size_t start = 0;

    *left = *right = 0;
    for (size_t x = 1; x < picture->header.width; x++) {
        if (is_paper(picture, x, y))
            continue;
        start = is_paper(picture, x - 1, y) ? x : start;
        if (x - start > *right - *left) {
            *left = start;
            *right = x;
        }
    }
}

/* A high reflection at large angles and high frequencies alone: there the map is light, elsewhere dark; the safe window above
 * it covers a third of it. */
static void the_notch_is_light_where_the_cloth_reflects(void **state)
{
    enum { ANGLES = 91, POINTS = 61 };
    static double angle[ANGLES], frequency[POINTS], reflection[ANGLES * POINTS];
    (void)state;
    for (size_t i = 0; i < ANGLES; i++)
        angle[i] = (double)i * DEGREE;
    for (size_t k = 0; k < POINTS; k++)
        frequency[k] = 1e9 * (double)(k + 1);
    for (size_t i = 0; i < ANGLES * POINTS; i++)
        reflection[i] = i % ANGLES > ANGLES / 2 && i / ANGLES > POINTS / 2 ? 0.1 : 1e-4;
    const struct ww_notch_map map = {ANGLES, POINTS, angle, frequency, reflection};
    struct ww_window window = {30 * DEGREE, 60 * DEGREE};
    struct ww_angles angles = {.pair = true, .budget = 3e-12, .windows = 1, .window = &window};
    double own = 10 * DEGREE;
    struct ww_figure_notch content = {"made-up data", true, &map, &angles, NULL, 28e9, 2};
    struct picture picture;
    size_t dark = 0, left, right;
    assert_ok(ww_figure_draw_notch(path, &options, &content, &error), error);
    check_margins(path);
    picture_load(&picture, path);
    for (int row = 0; row < 2; row++)
        for (int column = 0; column < 2; column++) {
            const unsigned char *p = pixel(&picture, column ? 900 : 350, row ? 400 : 800);
            unsigned sum = (unsigned)p[0] + p[1] + p[2];
            assert_true(row && column ? sum > 600 : sum < 200);
        }
    find_panel(&picture, 800, &left, &right);
    size_t top = 400; /* upwards to the panel's upper frame; the strip's middle is 26 above it */
    for (size_t inked = right; inked >= right - left; top--) {
        inked = 0;
        for (size_t x = left; x < right; x++)
            inked += !is_paper(&picture, x, top);
    }
    for (size_t x = left; x < right; x++)
        dark += pixel(&picture, x, top - 24)[0] < 90;
    assert_close((double)dark, (double)(right - left) / 3, 0.03, 0);
    free(picture.pixels);
    content.own = &own;
    content.angles = NULL;
    content.at = 0;
    assert_ok(ww_figure_draw_notch(path, &options, &content, &error), error);
    check_margins(path);
    content.at = NAN;
    REFUSED(ww_figure_draw_notch(path, &options, &content, &error));
    content.at = 0;
    angle[1] = angle[0];
    REFUSED(ww_figure_draw_notch(path, &options, &content, &error));
    content.map = NULL;
    REFUSED(ww_figure_draw_notch(path, &options, &content, &error));
}

/* Long and at large angles the most, else the least: the upper right quarter is light, the rest dark. */
static void lengths_grow_upwards_and_angles_to_the_right(void **state)
{
    (void)state;
    struct ww_figure_lengths content = sweeps_lengths(&sweeps);
    struct ww_lengths *l = &sweeps.lengths;
    struct picture picture;
    unsigned sum[2][2] = {{0, 0}, {0, 0}};

    content.budget = content.own_length = 0;
    for (size_t i = 0; i < l->angles * l->lengths; i++)
        l->reached[i] = i % l->angles > l->angles / 2 && i / l->angles > l->lengths / 2 ? 10e-12 : 1e-12;
    assert_ok(ww_figure_draw_lengths(path, &options, &content, &error), error);
    picture_load(&picture, path);
    for (int row = 0; row < 2; row++)
        for (int column = 0; column < 2; column++) {
            const unsigned char *p = pixel(&picture, column ? 900 : 300, row ? 300 : 800);
            sum[row][column] = (unsigned)p[0] + p[1] + p[2];
        }
    assert_true(sum[1][1] > 600);
    assert_true(sum[0][0] < 200 && sum[0][1] < 200 && sum[1][0] < 200);
    free(picture.pixels);
}

/* Values fall by four decades over the range, and pass the budget at a quarter of it: there the contour is. */
static void the_budget_contour_lies_where_the_values_pass_it(void **state)
{
    (void)state;
    struct ww_figure_lengths content = sweeps_lengths(&sweeps);
    struct ww_lengths *l = &sweeps.lengths;
    struct picture plain, lined;
    size_t left, right, columns = 0, sum = 0, y = 545; /* between ticks */

    content.own_length = content.budget = 0;
    for (size_t i = 0; i < l->angles * l->lengths; i++)
        l->reached[i] = 1e-12 * pow(10, 1 - 4.0 * (double)(i % l->angles) / 180);
    assert_ok(ww_figure_draw_lengths(path, &options, &content, &error), error);
    picture_load(&plain, path);
    content.budget = 1e-12;
    assert_ok(ww_figure_draw_lengths(path, &options, &content, &error), error);
    picture_load(&lined, path);
    find_panel(&plain, y, &left, &right);
    for (size_t x = 0; x < plain.header.width; x++)
        if (memcmp(pixel(&plain, x, y), pixel(&lined, x, y), 3) != 0) {
            sum += x;
            columns++;
        }
    assert_true(right - left > 800);
    assert_true(columns >= 3 && columns < 14);
    assert_close((double)sum / (double)columns - (double)left, (double)(right - left) / 4, 0, 2.5);
    free(plain.pixels);
    free(lined.pixels);
}

/* Ink of the bars' ground: a style twice as bad has a bar twice as long. */
static void bars_are_as_long_as_their_worst(void **state)
{
    (void)state;
    struct ww_compared of[2] = {{.name = "1080"}, {.name = "2116"}};
    struct ww_comparison comparison = {2, of, NULL};
    struct ww_figure_compare content = {NULL, &comparison, 0};
    struct ww_rgb ground = ww_ink_colour(WW_INK_GRID);
    struct picture picture;
    size_t ink[2] = {0, 0};

    for (int i = 0; i < 2; i++) {
        of[i].skew.pair = true;
        of[i].skew.worst = (i + 1) * 1e-12;
    }
    assert_ok(ww_figure_draw_compare(path, &options, &content, &error), error);
    picture_load(&picture, path);
    size_t height = picture.header.height, top = height, bottom = 0;
    for (size_t y = 150; y < height; y++) { /* rows of the page that hold a long run of the ground */
        size_t run = 0;
        for (size_t x = 0; x < 1600; x++)
            run += fabs(pixel(&picture, x, y)[0] - 255 * ground.r) < 2;
        if (run > 200 && run < 1400) {
            top = top == height ? y : top;
            bottom = y;
        }
    }
    for (size_t y = top; y <= bottom; y++)
        for (size_t x = 0; x < 1600; x++)
            ink[y > (top + bottom) / 2] += fabs(pixel(&picture, x, y)[0] - 255 * ground.r) < 2;
    assert_true(ink[0] > 5000);
    assert_close((double)ink[1], 2 * (double)ink[0], 0.05, 0);
    free(picture.pixels);
}

static size_t hatch_ink(double missing)
{
    struct ww_figure_pitch content = sweeps_pitch(&sweeps);
    struct ww_pitch *p = &sweeps.pitch;
    struct picture picture;
    size_t paper = 0;

    for (size_t i = 0; i < p->pitches * p->widths; i++)
        p->worst[i] = (double)(i / p->pitches) >= (1 - missing) * (double)p->widths ? -1 : 1e-12;
    p->nulls = 0;
    content.own_width = content.budget = 0;
    assert_ok(ww_figure_draw_pitch(path, &options, &content, &error), error);
    picture_load(&picture, path);
    for (size_t y = 230; y < 900; y++)
        for (size_t x = 170; x < 900; x++)
            paper += is_paper(&picture, x, y);
    free(picture.pixels);
    return paper;
}

static void what_cannot_be_built_is_hatched(void **state)
{
    (void)state;
    size_t none = hatch_ink(0), half = hatch_ink(0.5), most = hatch_ink(0.9);

    assert_true(none < 400); /* ticks of the yarn pitches have paper beside them */
    assert_true(half > 100000);
    assert_true(most > half + 50000);
}

/* --- scales and labels */

static void decades_hold_what_they_are_chosen_for(void **state)
{
    (void)state;
    static const double least[] = {1e-15, 0, 0.9e-12, 3e-15, 5e-12}, most[] = {1e-12, 7e-12, 1e-12, 3e-15, 5e-9};

    for (size_t i = 0; i < sizeof least / sizeof least[0]; i++)
        for (int end = WW_ENDS_AT_TICK; end <= WW_ENDS_AT_MOST; end++) {
            struct ww_decades d = ww_decades_choose(least[i], most[i], 1e-12, 600, (enum ww_decades_end)end);
            double top = most[i] / 1e-12;
            assert_true(d.low > 0 && d.low < d.high && d.count >= 2);
            assert_true(ww_decades_holds(&d, top));
            assert_true(d.low >= top / 2000 * (1 - 1e-9));
            assert_true(d.cut == !(least[i] / 1e-12 >= d.low * (1 - 1e-9)));
            assert_close(ww_decades_share(&d, d.low), 0, 0, 1e-12);
            assert_close(ww_decades_share(&d, d.high), 1, 1e-12, 0);
            assert_close(ww_decades_share(&d, d.low / 10), 0, 0, 1e-12);
            assert_true(isnan(ww_decades_log(&d, NAN)));
            for (int t = 0; t < d.count; t++) {
                double mantissa = d.value[t] / pow(10, floor(log10(d.value[t]) + 1e-9));
                assert_true(check_is_close(mantissa, 1, 1e-9, 0) || check_is_close(mantissa, 2, 1e-9, 0) ||
                            check_is_close(mantissa, 5, 1e-9, 0));
                assert_true(ww_decades_holds(&d, d.value[t]));
            }
        }
}

static void labels_move_apart_and_no_further(void **state)
{
    (void)state;
    double same[] = {50, 50, 50}, fine[] = {10, 40, 80}, edge[] = {-5, 0, 99, 100}, crowd[30];

    ww_labels_apart(same, 3, 10, 0, 100);
    assert_close(same[0], 40, 0, 1e-9);
    assert_close(same[1], 50, 0, 1e-9);
    assert_close(same[2], 60, 0, 1e-9);
    ww_labels_apart(fine, 3, 10, 0, 100);
    assert_close(fine[0], 10, 0, 1e-9);
    assert_close(fine[1], 40, 0, 1e-9);
    assert_close(fine[2], 80, 0, 1e-9);
    ww_labels_apart(edge, 4, 10, 0, 100);
    for (int i = 0; i < 4; i++)
        assert_true(edge[i] >= -1e-9 && edge[i] <= 100 + 1e-9 && (i == 0 || edge[i] - edge[i - 1] >= 10 - 1e-9));
    for (int i = 0; i < 30; i++)
        crowd[i] = 30 + 0.1 * i * i;
    ww_labels_apart(crowd, 30, 10, 0, 300);
    for (int i = 0; i < 30; i++)
        assert_true(crowd[i] >= -1e-9 && crowd[i] <= 300 + 1e-9 && (i == 0 || crowd[i] - crowd[i - 1] >= 10 - 1e-9));
}

#define WITH_SWEEPS(f) cmocka_unit_test_setup_teardown(f, prepare, tidy)

int main(void)
{
    const struct CMUnitTest tests[] = {
        WITH_SWEEPS(all_zero_is_drawn),
        WITH_SWEEPS(a_budget_far_off_is_told),
        WITH_SWEEPS(a_single_trace_has_its_own_words),
        WITH_SWEEPS(one_angle_and_one_style_are_enough),
        WITH_SWEEPS(one_pitch_or_one_width_makes_a_curve),
        WITH_SWEEPS(many_styles_with_long_names_have_room),
        WITH_SWEEPS(crowded_angles_stay_on_the_page),
        WITH_SWEEPS(senseless_angles_are_refused),
        WITH_SWEEPS(senseless_lengths_are_refused),
        WITH_SWEEPS(senseless_comparisons_are_refused),
        WITH_SWEEPS(senseless_pitches_are_refused),
        WITH_SWEEPS(spacings_and_lanes_are_drawn),
        WITH_SWEEPS(senseless_spacings_are_refused),
        WITH_SWEEPS(a_window_is_shaded_from_end_to_end),
        WITH_SWEEPS(the_studys_own_angle_is_not_marked),
        WITH_SWEEPS(leaders_run_through_names_where_the_pitches_agree),
        WITH_SWEEPS(conversion_is_drawn_and_its_window_shaded),
        cmocka_unit_test(the_notch_is_light_where_the_cloth_reflects),
        WITH_SWEEPS(lengths_grow_upwards_and_angles_to_the_right),
        WITH_SWEEPS(the_budget_contour_lies_where_the_values_pass_it),
        WITH_SWEEPS(bars_are_as_long_as_their_worst),
        WITH_SWEEPS(what_cannot_be_built_is_hatched),
        cmocka_unit_test(decades_hold_what_they_are_chosen_for),
        cmocka_unit_test(labels_move_apart_and_no_further),
        WITH_SWEEPS(a_budget_is_drawn_and_a_senseless_one_refused),
    };
    snprintf(path, sizeof path, "/tmp/weftwise-sweeps-%ld.png", (long)getpid());
    return cmocka_run_group_tests(tests, NULL, NULL);
}
