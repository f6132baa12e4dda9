/* A study: what is read, that it comes back as it was written, and every kind of slip that is refused at its place.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "check.h"

#include "weftwise/study.h"

#include <complex.h>
#include <stdio.h>
#include <stdlib.h>

#define WEAVES WW_SOURCE_ROOT "/weaves"

static const double two_ulp = 2 * 2.3e-16;

/* A study with everything in it. Lines are counted in the tests below: change nothing above what they name. */
static const char everything[] =
    "[study]\n"                                                                     /* 1 */
    "title = Test link\n"                                                           /* 2 */
    "[stackup]\n"                                                                   /* 3 */
    "resin = plain\n"                                                               /* 4 */
    "layer = plane\n"                                                               /* 5 */
    "layer = ply T1 100 um height=0.4\n"                                            /* 6 */
    "layer = trace\n"                                                               /* 7 */
    "layer = resin 20 um\n"                                                         /* 8 */
    "layer = ply 1080 90.5um turn=-2.5 deg shift=100 um,-50um resin=other dk=3.7\n" /* 9 */
    "layer = solid 0.1 mm dk=3.0 df=0.001\n"                                        /* 10 */
    "layer = plane\n"                                                               /* 11 */
    "[trace]\n"                                                                     /* 12 */
    "width = 4 mil\n"                                                               /* 13 */
    "thickness = 15 um\n"                                                           /* 14 */
    "pitch = 220 um\n"                                                              /* 15 */
    "length = 50 mm ; of the route\n"                                               /* 16 */
    "angle = 7.3 deg\n"                                                             /* 17 */
    "[fabric]\n"                                                                    /* 18 */
    "turn = 2 deg\n"                                                                /* 19 */
    "[signal]\n"                                                                    /* 20 */
    "rate = 112 Gb/s\n"                                                             /* 21 */
    "frequency = 28 GHz\n"                                                          /* 22 */
    "budget = 2 ps\n"                                                               /* 23 */
    "[resin plain]\n"                                                               /* 24 */
    "dk = 3.2\n"                                                                    /* 25 */
    "df = 0.004\n"                                                                  /* 26 */
    "[resin other]\n"                                                               /* 27 */
    "dk = 3.0\n"                                                                    /* 28 */
    "df = 0.003\n"                                                                  /* 29 */
    "density = 1.4 g/cm3\n"                                                         /* 30 */
    "[style T1]\n"                                                                  /* 31 */
    "warp_count = 60 /in\n"                                                         /* 32 */
    "fill_count = 47 /in\n"                                                         /* 33 */
    "warp_yarn = 11.2 tex\n"                                                        /* 34 */
    "fill_yarn = D450\n"                                                            /* 35 */
    "thickness = 52 um\n"                                                           /* 36 */
    "glass = mine\n"                                                                /* 37 */
    "[glass mine]\n"                                                                /* 38 */
    "dk = 6.3\n"                                                                    /* 39 */
    "df = 0.004\n"                                                                  /* 40 */
    "density = 2.58 g/cm3\n"                                                        /* 41 */
    "frequency = 10 GHz\n";                                                         /* 42 */

static enum ww_status read_set(struct ww_study *study, const char *text, const char *const *set, size_t count,
                               struct ww_error *error)
{
    FILE *stream = tmpfile();
    assert_non_null(stream);
    assert_int_equal(fwrite(text, 1, strlen(text), stream), strlen(text));
    rewind(stream);
    enum ww_status status = ww_study_read(study, stream, "some/test.ini", WEAVES, set, count, error);
    fclose(stream);
    return status;
}

static enum ww_status read_text(struct ww_study *study, const char *text, struct ww_error *error)
{
    return read_set(study, text, NULL, 0, error);
}

/* `everything` with its line of that number replaced; the caller frees. */
static char *with_line(int number, const char *line)
{
    size_t size = sizeof everything + strlen(line) + 2;
    char *out = calloc(size, 1);
    const char *at = everything;
    assert_non_null(out);
    for (int i = 1; *at; i++) {
        size_t length = strcspn(at, "\n") + 1;
        if (i == number)
            strcat(strcat(out, line), "\n");
        else
            strncat(out, at, length);
        at += length;
    }
    return out;
}

/* --- reading -------------------------------------------------------------------------------------------------- */

static void reads_everything(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_text(&study, everything, &error), error);
    assert_string_equal(study.title, "Test link");
    assert_string_equal(study.file, "some/test.ini");
    assert_close(study.trace.width, 101.6e-6, two_ulp, 0);
    assert_close(study.trace.pitch, 220e-6, two_ulp, 0);
    assert_close(study.length, 50e-3, two_ulp, 0);
    assert_close(study.angle, 7.3 * WW_PI / 180, two_ulp, 0);
    assert_close(study.turn, 2 * WW_PI / 180, two_ulp, 0);
    assert_close(study.rate, 112e9, two_ulp, 0);
    assert_close(study.frequency, 28e9, two_ulp, 0);
    assert_close(study.budget, 2e-12, two_ulp, 0);
    assert_close(study.fineness, 1, 0, 0);
    assert_int_equal(study.positions, 256);
    assert_int_equal(study.levels, 2);
    assert_int_equal(study.lanes, 1);
    assert_int_equal(study.turn_law, WW_UNIFORM);
    assert_int_equal(study.segments, 0);
    assert_null(study.route);
    assert_close(study.count_tolerance, 0, 0, 0);
    assert_int_equal(study.trace_line, 13);
    assert_int_equal(study.stack.count, 7);
    const struct ww_layer *layer = study.stack.layer;
    assert_int_equal(layer[1].kind, WW_LAYER_PLY);
    assert_string_equal(layer[1].style.name, "T1");
    assert_string_equal(layer[1].resin.name, "plain");
    assert_int_equal(layer[1].line, 6);
    assert_close(layer[2].thickness, 15e-6, two_ulp, 0); /* the copper's */
    assert_close(layer[2].dk, 3.2, 0, 0);                /* the resin of the ply above */
    assert_close(layer[3].dk, 3.2, 0, 0);
    assert_close(layer[3].df, 0.004, 0, 0);
    assert_close(layer[4].thickness, 90.5e-6, two_ulp, 0);
    assert_close(layer[4].turn, -2.5 * WW_PI / 180, two_ulp, 0);
    assert_close(layer[1].cloth_height, 0.4 * 100e-6, two_ulp, 0);
    assert_close(layer[4].shift_x, 100e-6, two_ulp, 0);
    assert_close(layer[4].shift_y, -50e-6, two_ulp, 0);
    assert_close(layer[4].sheet_dk, 3.7, 0, 0);
    assert_string_equal(layer[4].resin.name, "other");
    assert_close(layer[5].thickness, 100e-6, two_ulp, 0);
    assert_close(layer[5].dk, 3.0, 0, 0);
    ww_study_clear(&study);
    ww_study_clear(&study); /* twice is fine */
}

static void what_is_left_out_has_its_preset(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(
        read_text(&study,
                  "[stackup]\nresin = epoxy\nlayer = air\nlayer = trace\nlayer = ply 1078 100 um\nlayer = plane\n"
                  "[trace]\nwidth = 200 um\nthickness = 0 um\nlength = 10 mm\n",
                  &error),
        error);
    assert_string_equal(study.title, "test"); /* of some/test.ini */
    assert_close(study.trace.pitch, 0, 0, 0);
    assert_close(study.angle, 0, 0, 0);
    assert_close(study.budget, 0, 0, 0);
    assert_close(study.conversion, 0, 0, 0);
    assert_close(study.stack.layer[1].dk, 1, 0, 0); /* air beside the trace */
    ww_study_clear(&study);
}

/* What stands beside the copper: mask over it; under a solid layer the resin beneath. */
static void fill_is_what_flows(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_text(&study,
                        "[stackup]\nresin = epoxy\nlayer = air\nlayer = mask 20 um dk=3.8 df=0.02\nlayer = trace\n"
                        "layer = solid 100 um dk=3 df=0.001\nlayer = plane\n"
                        "[trace]\nwidth = 200 um\nthickness = 10 um\nlength = 10 mm\n",
                        &error),
              error);
    assert_close(study.stack.layer[2].dk, 3.8, 0, 0);
    assert_close(study.stack.layer[2].df, 0.02, 0, 0);
    ww_study_clear(&study);
    assert_ok(read_text(&study,
                        "[stackup]\nresin = epoxy\nlayer = plane\nlayer = solid 100 um dk=3 df=0.001\nlayer = trace\n"
                        "layer = ply 1080 100 um\nlayer = plane\n"
                        "[trace]\nwidth = 200 um\nthickness = 10 um\nlength = 10 mm\n",
                        &error),
              error);
    assert_close(study.stack.layer[2].dk, study.resin.dk, 0, 0);
    ww_study_clear(&study);
    assert_ok(read_text(&study,
                        "[stackup]\nlayer = plane\nlayer = solid 100 um dk=3 df=0.001\nlayer = trace\n"
                        "layer = solid 100 um dk=4 df=0.002\nlayer = plane\n"
                        "[trace]\nwidth = 200 um\nthickness = 10 um\nlength = 10 mm\n",
                        &error),
              error);
    assert_close(study.stack.layer[2].dk, 3, 0, 0);
    ww_study_clear(&study);
}

static void assignments_replace_and_add(void **state)
{
    static const char *const set[] = {"trace.angle=10 deg", "study.fineness=0.5", "style T1.warp_count=58 /in"};
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_set(&study, everything, set, 3, &error), error);
    assert_close(study.angle, 10 * WW_PI / 180, two_ulp, 0);
    assert_close(study.fineness, 0.5, 0, 0);
    assert_close(study.stack.layer[1].style.warp_count.value, 58 / 25.4e-3, 1e-15, 0);
    ww_study_clear(&study);
}

static void refused_assignments_say_so(void **state)
{
    static const char *const set[] = {"trace.width=50 mm", "trace.width=5", "trace.wdth=5 um", "nonsense"};
    (void)state;
    for (size_t i = 0; i < sizeof set / sizeof *set; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        assert_int_not_equal(read_set(&study, everything, &set[i], 1, &error), WW_OK);
        assert_string_equal(error.file, "--set");
        assert_int_equal(error.line, 0);
        assert_null(study.stack.layer);
    }
}

/* --- round trip ------------------------------------------------------------------------------------------------- */

static void same_datum(const struct ww_datum *got, const struct ww_datum *want)
{
    assert_close(got->value, want->value, two_ulp, 0);
    assert_int_equal(got->origin, want->origin);
    assert_string_equal(got->source, want->source);
}

static void same_yarn(const struct ww_yarn *got, const struct ww_yarn *want)
{
    assert_string_equal(got->code, want->code);
    same_datum(&got->tex, &want->tex);
    same_datum(&got->width, &want->width);
    same_datum(&got->height, &want->height);
    assert_close(got->glass_area, want->glass_area, 1e-14, 0);
    assert_close(got->packing, want->packing, 1e-14, 0);
}

static void same_resin(const struct ww_resin *got, const struct ww_resin *want)
{
    assert_string_equal(got->name, want->name);
    assert_close(got->dk, want->dk, two_ulp, 0);
    assert_close(got->df, want->df, two_ulp, 0);
    assert_close(got->density, want->density, two_ulp, 0);
    assert_string_equal(got->source, want->source);
    assert_close(got->frequency, want->frequency, two_ulp, 0);
}

static void same_foil(const struct ww_foil *got, const struct ww_foil *want)
{
    assert_string_equal(got->name, want->name);
    assert_int_equal(got->model, want->model);
    assert_close(got->rz, want->rz, two_ulp, 0);
    assert_close(got->conductivity, want->conductivity, two_ulp, 0);
    assert_close(got->sphere_radius, want->sphere_radius, two_ulp, 0);
    assert_close(got->surface_ratio, want->surface_ratio, two_ulp, 0);
    assert_string_equal(got->source, want->source);
}

static void same_style(const struct ww_style *got, const struct ww_style *want)
{
    assert_string_equal(got->name, want->name);
    assert_int_equal(got->kind, want->kind);
    same_datum(&got->warp_count, &want->warp_count);
    same_datum(&got->fill_count, &want->fill_count);
    same_yarn(&got->warp, &want->warp);
    same_yarn(&got->fill, &want->fill);
    same_datum(&got->shape, &want->shape);
    same_datum(&got->thickness, &want->thickness);
    same_datum(&got->weight, &want->weight);
    assert_string_equal(got->note, want->note);
    assert_string_equal(got->glass.name, want->glass.name);
    assert_close(got->glass.dk, want->glass.dk, two_ulp, 0);
    assert_close(got->glass.df, want->glass.df, two_ulp, 0);
    assert_close(got->glass.density, want->glass.density, two_ulp, 0);
    assert_string_equal(got->glass.source, want->glass.source);
}

static void same_layer(const struct ww_layer *got, const struct ww_layer *want)
{
    assert_int_equal(got->kind, want->kind);
    assert_close(got->thickness, want->thickness, two_ulp, 0);
    assert_close(got->dk, want->dk, two_ulp, 0);
    assert_close(got->df, want->df, two_ulp, 0);
    assert_close(got->turn, want->turn, two_ulp, 0);
    assert_close(got->shift_x, want->shift_x, two_ulp, 0);
    assert_close(got->shift_y, want->shift_y, two_ulp, 0);
    assert_close(got->sheet_dk, want->sheet_dk, two_ulp, 0);
    same_resin(&got->resin, &want->resin);
    same_style(&got->style, &want->style);
    assert_close(got->frequency, want->frequency, two_ulp, 0);
}

static void same_study(const struct ww_study *got, const struct ww_study *want)
{
    assert_string_equal(got->title, want->title);
    assert_close(got->trace.width, want->trace.width, two_ulp, 0);
    assert_close(got->trace.thickness, want->trace.thickness, two_ulp, 0);
    assert_close(got->trace.pitch, want->trace.pitch, two_ulp, 0);
    assert_close(got->length, want->length, two_ulp, 0);
    assert_close(got->angle, want->angle, two_ulp, 0);
    assert_close(got->turn, want->turn, two_ulp, 0);
    assert_close(got->rate, want->rate, two_ulp, 0);
    assert_close(got->frequency, want->frequency, two_ulp, 0);
    assert_close(got->budget, want->budget, two_ulp, 0);
    assert_close(got->conversion, want->conversion, two_ulp, 0);
    assert_close(got->fineness, want->fineness, two_ulp, 0);
    assert_int_equal(got->positions, want->positions);
    assert_int_equal(got->sections, want->sections);
    assert_int_equal(got->levels, want->levels);
    assert_int_equal(got->lanes, want->lanes);
    assert_int_equal(got->turn_law, want->turn_law);
    assert_close(got->count_tolerance, want->count_tolerance, two_ulp, 0);
    assert_close(got->warp_tolerance, want->warp_tolerance, two_ulp, 0);
    assert_close(got->fill_tolerance, want->fill_tolerance, two_ulp, 0);
    assert_close(got->height_uncertainty, want->height_uncertainty, two_ulp, 0);
    assert_int_equal(got->segments, want->segments);
    for (size_t i = 0; i < want->segments; i++) {
        assert_close(got->route[i].length, want->route[i].length, two_ulp, 0);
        assert_close(got->route[i].angle, want->route[i].angle, two_ulp, 0);
    }
    assert_int_equal(got->arms, want->arms);
    for (size_t i = 0; i < want->arms; i++) {
        assert_string_equal(got->arm[i].name, want->arm[i].name);
        assert_close(got->arm[i].from[0], want->arm[i].from[0], two_ulp, 0);
        assert_close(got->arm[i].from[1], want->arm[i].from[1], two_ulp, 0);
        assert_int_equal(got->arm[i].segments, want->arm[i].segments);
        for (size_t k = 0; k < want->arm[i].segments; k++)
            assert_close(got->arm[i].route[k].length, want->arm[i].route[k].length, two_ulp, 0);
    }
    same_resin(&got->resin, &want->resin);
    same_foil(&got->copper, &want->copper);
    assert_int_equal(got->stack.count, want->stack.count);
    for (size_t i = 0; i < want->stack.count; i++)
        same_layer(&got->stack.layer[i], &want->stack.layer[i]);
}

static void there_and_back(struct ww_study *study)
{
    struct ww_study back;
    struct ww_error error = {0};
    char *text = ww_study_text(study);
    assert_non_null(text);
    assert_ok(read_text(&back, text, &error), error);
    same_study(&back, study);
    char *again = ww_study_text(&back);
    assert_string_equal(again, text); /* and writing it settles at once */
    free(again);
    free(text);
    ww_study_clear(&back);
    ww_study_clear(study);
}

static void comes_back_as_written(void **state)
{
    static const char *const set[] = {"trace.width=123.456789012345 um", "signal.budget=0.1234567890123456789 ps",
                                      "signal.conversion=-20.123456789 dB"};
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_text(&study, everything, &error), error);
    there_and_back(&study);
    assert_ok(read_set(&study, everything, set, 3, &error), error);
    there_and_back(&study);
}

/* --- the route, the cloth's tolerances, the signal's levels ------------------------------------------------------ */

/* What follows the trace's angle in a study that is otherwise good. */
static enum ww_status read_routed(struct ww_study *study, const char *rest, struct ww_error *error)
{
    static char text[1 << 20];
    snprintf(text, sizeof text,
             "[stackup]\nresin = epoxy\nlayer = plane\nlayer = ply 1080 100 um\nlayer = trace\n"
             "layer = ply 1080 100 um\nlayer = plane\n[trace]\nwidth = 100 um\nthickness = 15 um\npitch = 220 um\n%s",
             rest);
    return read_text(study, text, error);
}

static void a_route_is_read_and_comes_back(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(
        read_routed(&study,
                    "angle = 3 deg\n[route]\nsegment = 20 mm 0 deg\nsegment = 7.5mm -12.5deg\nsegment = 0.4 in 30 "
                    "deg\n[fabric]\nturn = 2 deg normal\ncount_tolerance = 1.5 %\n[signal]\nrate = 112 "
                    "Gb/s\nlevels = 4\nlanes = 16\n",
                    &error),
        error);
    assert_int_equal(study.segments, 3);
    assert_close(study.route[0].length, 20e-3, two_ulp, 0);
    assert_close(study.route[1].angle, -12.5 * WW_PI / 180, two_ulp, 0);
    assert_close(study.route[2].length, 10.16e-3, two_ulp, 0);
    assert_close(study.length, 37.66e-3, 4 * two_ulp, 0);
    assert_close(study.turn, 2 * WW_PI / 180, two_ulp, 0);
    assert_int_equal(study.turn_law, WW_NORMAL);
    assert_close(study.count_tolerance, 0.015, two_ulp, 0);
    struct ww_skew_request request = ww_study_request(&study);
    assert_ptr_equal(request.route, study.route);
    assert_int_equal(request.segments, 3);
    assert_int_equal(request.lanes, 16);
    assert_int_equal(request.turn_law, WW_NORMAL);
    assert_close(request.angle, 3 * WW_PI / 180, two_ulp, 0);
    assert_close(request.length, study.length, 0, 0);
    assert_close(request.warp_tolerance, 0.015, two_ulp, 0);
    assert_close(request.fill_tolerance, 0.015, two_ulp, 0);
    assert_close(request.rate, 56e9, two_ulp, 0); /* symbols */
    char *text = ww_study_text(&study);
    assert_non_null(text);
    assert_null(strstr(text, "length = "));
    assert_contains(text, "[route]\nsegment = 20 mm 0 deg\nsegment = 7.5 mm -12.5 deg\n");
    assert_contains(text, "turn = 2 deg normal\n");
    free(text);
    there_and_back(&study);
}

static void scatter_of_real_cloth_is_read_for_both_yarn_systems_or_each(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_routed(&study,
                          "length = 5 mm\n[fabric]\nwander = 20 um\nwander.fill = 30 um\ntogether.warp = "
                          "0.95\nwidth_variation = 2 %\nbunching = 0.05\nbunching_ends = 3\nseed = 12\n",
                          &error),
              error);
    const struct ww_yarn_scatter *warp = &study.scatter.yarn[WW_WARP], *fill = &study.scatter.yarn[WW_FILL];
    assert_close(warp->wander, 20e-6, two_ulp, 0);
    assert_close(fill->wander, 30e-6, two_ulp, 0);
    assert_close(warp->wander_length, 30e-3, two_ulp, 0); /* preset */
    assert_close(warp->together, 0.95, two_ulp, 0);
    assert_close(fill->together, 0.9, two_ulp, 0);
    assert_close(fill->width_variation, 0.02, two_ulp, 0);
    assert_close(study.scatter.bunching, 0.05, two_ulp, 0);
    assert_int_equal(study.scatter.bunching_ends, 3);
    assert_int_equal(study.scatter.seed, 12);
    char *text = ww_study_text(&study);
    assert_non_null(text);
    assert_contains(text, "wander = 20 um\nwander.fill = 30 um\nwander_length = 30 mm\ntogether = 0.9\n");
    assert_contains(text, "together.warp = 0.95\nwidth_variation = 2 %\nbunching = 0.05\nbunching_ends = 3\n");
    free(text);
    there_and_back(&study);
    assert_ok(read_routed(&study, "length = 5 mm\n", &error), error);
    assert_true(ww_scatter_is_none(&study.scatter)); /* off by default, and then no word of it */
    text = ww_study_text(&study);
    assert_null(strstr(text, "wander"));
    assert_null(strstr(text, "seed"));
    free(text);
    ww_study_clear(&study);
}

static void measured_cloth_is_a_file_in_the_study_s_folder(void **state)
{
    static const char *const outside[] = {"/paths.ini", "../paths.ini", "..", "a/..", "a/../../paths.ini", "a//.."};
    struct ww_study study;
    struct ww_error error = {0};
    char text[256], path[600];
    (void)state;
    assert_ok(read_routed(&study, "length = 5 mm\n[fabric]\npaths = photos/..a/paths.ini\nseed = 3\n", &error),
              error);
    assert_string_equal(study.paths, "photos/..a/paths.ini");
    assert_true(ww_study_is_of_real_cloth(&study) && ww_scatter_is_none(&study.scatter));
    strcpy(study.file, "boards/link.ini");
    assert_ok(ww_study_paths_file(&study, path, sizeof path, &error), error);
    assert_string_equal(path, "boards/photos/..a/paths.ini");
    strcpy(study.file, "link.ini");
    assert_ok(ww_study_paths_file(&study, path, sizeof path, &error), error);
    assert_string_equal(path, "photos/..a/paths.ini");
    assert_int_equal(ww_study_paths_file(&study, path, 20, &error), WW_INVALID);
    char *written = ww_study_text(&study);
    assert_non_null(written);
    assert_contains(written, "paths = photos/..a/paths.ini\nseed = 3\n");
    assert_null(strstr(written, "wander"));
    free(written);
    there_and_back(&study);
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        snprintf(text, sizeof text, "length = 5 mm\n[fabric]\npaths = %s\n", outside[i]);
        assert_int_equal(read_routed(&study, text, &error), WW_INVALID);
        assert_contains(error.text, "study's folder");
    }
    assert_int_equal(read_routed(&study, "length = 5 mm\n[fabric]\npaths = p.ini\nwander.fill = 20 um\n", &error),
                     WW_INVALID);
    assert_contains(error.text, "fabric.paths: the cloth of a picture is as it is; leave wander");
    assert_ok(read_routed(&study, "length = 5 mm\n", &error), error);
    assert_false(ww_study_is_of_real_cloth(&study));
    assert_int_equal(ww_study_paths_file(&study, path, sizeof path, &error), WW_INVALID);
    ww_study_clear(&study);
}

static void warp_and_fill_counts_have_tolerances_of_their_own(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    char counts[64];
    (void)state;
    assert_ok(
        read_routed(&study, "length = 5 mm\n[fabric]\ncount_tolerance = 1 %\ncount_tolerance.fill = 0 %\n", &error),
        error);
    struct ww_skew_request request = ww_study_request(&study);
    assert_close(request.warp_tolerance, 0.01, two_ulp, 0);
    assert_close(request.fill_tolerance, 0, 0, 0);
    assert_string_equal(ww_study_counts(&study, counts, sizeof counts), "1 % (warp) and 0 % (fill)");
    char *text = ww_study_text(&study);
    assert_non_null(text);
    assert_contains(text, "count_tolerance.fill = 0 %\n");
    assert_null(strstr(text, "count_tolerance.warp"));
    free(text);
    there_and_back(&study);
}

/* h tan(b/2) with h = 110 um: 45.56 um at 45 deg. */
static void routes_that_can_be_laid(void **state)
{
    static const char *const good[] = {
        "[route]\nsegment = 20 mm 0 deg\n",
        "[route]\nsegment = 20 mm 0 deg\nsegment = 20 mm 135 deg\n",                        /* as sharp as allowed */
        "[route]\nsegment = 1 mm 0 deg\nsegment = 50 um 45 deg\nsegment = 1 mm 0 deg\n",    /* a jog: mitres cancel */
        "[route]\nsegment = 1 mm 0 deg\nsegment = 91.2 um 45 deg\nsegment = 1 mm 90 deg\n", /* a chamfer: they add */
        "[route]\nsegment = 9 mm 0 deg\nsegment = 330 um 90 deg\nsegment = 9 mm 180 deg\n", /* beside itself */
        "[route]\nsegment = 9 mm 170 deg\nsegment = 9 mm -170 deg\nsegment = 9 mm 170 deg\n", /* 20 deg about 180 */
        "[route]\nsegment = 5 mm 10 deg\nsegment = 5 mm -10 deg\nsegment = 5 mm 10 deg\nsegment = 5 mm -10 deg\n",
        "length = 10 mm\n[fabric]\nturn = 2 deg uniform\n",
        "length = 10 mm\n[fabric]\nturn = 2deg\tnormal\ncount_tolerance = 0.1\n",
        "length = 10 mm\n[signal]\nlevels = 16\nlanes = 100000\n",
    };
    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        if (read_routed(&study, good[i], &error))
            fail_msg("%s: %s", good[i], error.text);
        there_and_back(&study);
    }
}

#define ARM(name, from) "[route " name "]\nfrom = " from "\nsegment = 5 mm 0 deg\n"

static void arms_are_read_and_come_back(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    assert_ok(read_routed(&study,
                          "[route b]\nsegment = 7 mm 30 deg\nfrom = -3 mm,0.05 in\nsegment = 1 mm 0 deg\n"
                          "[route]\nsegment = 5 mm 10 deg\n" ARM("a.2", "0 mm, 0 mm"),
                          &error),
              error);
    assert_int_equal(study.segments, 1);
    assert_int_equal(study.arms, 2);
    assert_string_equal(study.arm[0].name, "b");
    assert_string_equal(study.arm[1].name, "a.2");
    assert_close(study.arm[0].from[0], -3e-3, two_ulp, 0);
    assert_close(study.arm[0].from[1], 1.27e-3, two_ulp, 0);
    assert_int_equal(study.arm[0].segments, 2);
    assert_close(study.arm[0].route[0].angle, WW_PI / 6, two_ulp, 0);
    assert_int_equal(study.arm[1].segments, 1);
    struct ww_skew_request request = ww_study_request(&study);
    assert_ptr_equal(request.arm, study.arm);
    assert_int_equal(request.arms, 2);
    char *text = ww_study_text(&study);
    assert_non_null(text);
    assert_contains(text, "[route b]\nfrom = -3 mm, 1.27 mm\nsegment = 7 mm 30 deg\nsegment = 1 mm 0 deg\n");
    assert_null(strstr(text, "NAME"));
    free(text);
    there_and_back(&study);
    char whole[sizeof everything + 128];
    struct ww_study moved;
    const char *const set[] = {"route a.from=1 mm, 2 mm", "signal.lanes=1"};
    snprintf(whole, sizeof whole, "%s%s", everything, "\n" ARM("a", "0 mm, 0 mm"));
    assert_ok(read_set(&moved, whole, set, 2, &error), error);
    assert_close(moved.arm[0].from[1], 2e-3, two_ulp, 0);
    ww_study_clear(&moved);
}

static void more_arms_than_there_may_be_are_refused(void **state)
{
    char text[2048] = "length = 5 mm\n";
    struct ww_study study;
    struct ww_error error = {0};
    (void)state;
    for (int i = 1; i <= WW_ARMS_MOST; i++)
        sprintf(text + strlen(text), ARM("arm%d", "1 mm, 1 mm"), i);
    assert_int_equal(read_routed(&study, text, &error), WW_INVALID);
    assert_contains(error.text, "more than 16 arms");
}

static void routes_and_tolerances_that_are_refused(void **state)
{
    static const struct {
        const char *text;
        enum ww_status status;
        int line;
        const char *part;
    } bad[] = {
        {"", WW_INVALID, 0, "'length' is missing in [trace]"},
        {"[route]\n", WW_INVALID, 12, "has no segment; add 'segment = 20 mm 0 deg'"},
        {"length = 5 mm\n[route]\nsegment = 5 mm 0 deg\n", WW_INVALID, 12, "beside a [route]"},
        {"[fabric]\nweave = twill\n", WW_INVALID, 13, "only plain weave is modelled"},
        {"[route]\nsegmnet = 5 mm 0 deg\n", WW_MALFORMED, 13, "did you mean 'segment'"},
        {"[rout]\nsegment = 5 mm 0 deg\n", WW_MALFORMED, 12, "did you mean [route]"},
        {"[route]\nsegment = 5 mm\n", WW_MALFORMED, 13, "lacks its angle"},
        {"[route]\nsegment = 5 mm 0\n", WW_MALFORMED, 13, "unit"},
        {"[route]\nsegment = 5 0 deg\n", WW_MALFORMED, 13, "unit"},
        {"[route]\nsegment =\n", WW_MALFORMED, 13, "as in '20 mm 45 deg'"},
        {"[route]\nsegment = nan mm 0 deg\n", WW_MALFORMED, 13, "not a number"},
        {"[route]\nsegment = 5 mm nan deg\n", WW_MALFORMED, 13, "not a number"},
        {"[route]\nsegment = 5 mm 1 deg 2 deg\n", WW_MALFORMED, 13, "left over"},
        {"[route]\nsegment = 0 mm 1 deg\n", WW_INVALID, 13, "1 um to 10 m"},
        {"[route]\nsegment = -5 mm 1 deg\n", WW_INVALID, 13, "1 um to 10 m"},
        {"[route]\nsegment = 11 m 1 deg\n", WW_INVALID, 13, "1 um to 10 m"},
        {"[route]\nsegment = 5 mm 181 deg\n", WW_INVALID, 13, "-180 deg to 180 deg"},
        {"[route]\nsegment = 6 m 1 deg\nsegment = 6 m 2 deg\n", WW_INVALID, 0,
         "12 m long together; give at most 10 m"},
        {"[route]\nsegment = 5 mm 0 deg\nsegment = 5 mm 180 deg\n", WW_UNPHYSICAL, 14,
         "segment 2 folds back on segment 1"},
        {"[route]\nsegment = 5 mm -90 deg\nsegment = 5 mm 90 deg\n", WW_UNPHYSICAL, 14, "folds back"},
        {"[route]\nsegment = 5 mm 0 deg\nsegment = 5 mm 136 deg\n", WW_UNPHYSICAL, 14, "bends by 136 deg"},
        {"[route]\nsegment = 5 mm 0 deg\nsegment = 91 um 45 deg\nsegment = 5 mm 90 deg\n", WW_UNPHYSICAL, 14,
         "91 um long, and the mitres at its bends take 91.1"},
        {"[route]\nsegment = 9 mm 0 deg\nsegment = 310 um 90 deg\nsegment = 9 mm 180 deg\n", WW_UNPHYSICAL, 15,
         "segment 3 folds back on segment 1, 310 um from it"},
        {"[route]\nsegment = 9 mm 0 deg\nsegment = 5 mm 90 deg\nsegment = 5 mm 180 deg\nsegment = 9 mm -90 deg\n",
         WW_UNPHYSICAL, 16, "segment 4 runs into segment 1"},
        {"[route]\nsegment = 5 mm 0 deg\nfrom = 1 mm, 1 mm\n", WW_MALFORMED, 14, "'from' is not known in [route]"},
        {"length = 5 mm\n[route arm2]\nform = 1 mm, 1 mm\n", WW_MALFORMED, 14, "did you mean 'from'?"},
        {"length = 5 mm\n[route arm2]\nfrom = 1 mm, 1 mm\n", WW_INVALID, 13, "section [route arm2] has no segment"},
        {"length = 5 mm\n[route arm2]\nsegment = 5 mm 0 deg\n", WW_INVALID, 13, "add 'from = 3 mm, 1.2 mm'"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1 mm") ARM("a", "2 mm, 1 mm"), WW_MALFORMED, 16, "[route a]"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1 mm") ARM(" a", "2 mm, 1 mm"), WW_INVALID, 16, "two arms are named 'a'"},
        {"length = 5 mm\n" ARM("route", "1 mm, 1 mm"), WW_INVALID, 13,
         "a name of up to 31 bytes, other than 'route'"},
        {"length = 5 mm\n" ARM("a-name-that-is-a-little-too-long-for-it", "1 mm, 1 mm"), WW_INVALID, 13,
         "a name of up to 31 bytes"},
        {"length = 5 mm\n" ARM("a", "1, 1 mm"), WW_MALFORMED, 14, "as in '3 mm, 1.2 mm'"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1"), WW_MALFORMED, 14, "as in '3 mm, 1.2 mm'"},
        {"length = 5 mm\n" ARM("a", "1 mm 1 mm"), WW_MALFORMED, 14, "has no comma between two lengths"},
        {"length = 5 mm\n" ARM("a", "1 mm"), WW_MALFORMED, 14, "has no comma between two lengths"},
        {"length = 5 mm\n" ARM("a", ""), WW_MALFORMED, 14, "as in '3 mm, 1.2 mm'"},
        {"length = 5 mm\n" ARM("a", "1 mm, nan mm"), WW_MALFORMED, 14, "not a number"},
        {"length = 5 mm\n" ARM("a", "1.1 m, 1 mm"), WW_INVALID, 14, "beyond 1 m"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1 mm") "from = 1 mm, 1 mm\n", WW_MALFORMED, 16,
         "route a.from is given twice (first on line 14)"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1 mm") "segment = 5 mm 170 deg\n", WW_UNPHYSICAL, 16,
         "route a.segment: segment 2 bends by 170 deg"},
        {"length = 5 mm\n" ARM("a", "1 mm, 1 mm") "[signal]\nlanes = 4\n", WW_INVALID, 17,
         "leave lanes out, or the arms"},
        {"length = 5 mm\n[fabric]\nturn = 2 deg gaussian\n", WW_MALFORMED, 14, "give uniform or normal"},
        {"length = 5 mm\n[fabric]\nturn = normal\n", WW_MALFORMED, 14, "not a number"},
        {"length = 5 mm\n[fabric]\nturn = 50 deg normal\n", WW_INVALID, 14, "0 to 45 deg"},
        {"length = 5 mm\n[fabric]\ncount_tolerance = 11 %\n", WW_INVALID, 14, "0 to 10 %"},
        {"length = 5 mm\n[fabric]\ncount_tolerance = -1 %\n", WW_INVALID, 14, "0 to 10 %"},
        {"length = 5 mm\n[fabric]\nheight_uncertainty = 101 %\n", WW_INVALID, 14, "0 to 100 %"},
        {"length = 5 mm\n[signal]\nlevels = 3\n", WW_INVALID, 14, "give 2, 4, 8 or 16"},
        {"length = 5 mm\n[signal]\nlevels = 32\n", WW_INVALID, 14, "2 to 16"},
        {"length = 5 mm\n[signal]\nlanes = 0\n", WW_INVALID, 14, "1 to 100000"},
        {"length = 5 mm\n[signal]\nlanes = 1.5\n", WW_INVALID, 14, "whole number"},
    };
    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        enum ww_status status = read_routed(&study, bad[i].text, &error);
        if (status != bad[i].status || error.line != bad[i].line)
            fail_msg("\"%s\" gives status %d, line %d: %s", bad[i].text, (int)status, error.line, error.text);
        assert_contains(error.text, bad[i].part);
        assert_null(study.route);
        assert_int_equal(study.segments, 0);
    }
}

static void too_many_segments_are_refused(void **state)
{
    enum { MANY = 1001, EACH = 32 };
    static char text[MANY * EACH + 64];
    struct ww_study study;
    struct ww_error error = {0};
    size_t used = (size_t)sprintf(text, "[route]\n");
    (void)state;
    for (int i = 0; i < MANY; i++)
        used += (size_t)sprintf(text + used, "segment = 1 mm %d deg\n", i % 2);
    assert_int_equal(read_routed(&study, text, &error), WW_INVALID);
    assert_contains(error.text, "more than 1000 segments");
    assert_int_equal(error.line, 12 + MANY);
    text[used - strlen("segment = 1 mm 0 deg\n")] = '\0';
    assert_ok(read_routed(&study, text, &error), error);
    assert_int_equal(study.segments, MANY - 1);
    ww_study_clear(&study);
}

/* Every style of weaves/, in a study of its own. */
static void every_style_comes_back(void **state)
{
    struct ww_weaves weaves = {0};
    struct ww_names names = {0};
    struct ww_error error = {0};
    (void)state;
    assert_ok(ww_weaves_open(&weaves, WEAVES, NULL, &error), error);
    assert_ok(ww_weaves_styles(&weaves, &names, &error), error);
    assert_true(names.count >= 30);
    for (size_t i = 0; i < names.count; i++) {
        struct ww_study study;
        char text[1024];
        snprintf(text, sizeof text,
                 "[stackup]\nresin = ppe\nlayer = air\nlayer = trace\nlayer = ply %s 400 um\nlayer = plane\n"
                 "[trace]\nwidth = 200 um\nthickness = 10 um\nlength = 10 mm\n",
                 names.name[i]);
        assert_ok(read_text(&study, text, &error), error);
        there_and_back(&study);
    }
    ww_names_clear(&names);
    ww_weaves_close(&weaves);
}

static void the_one_to_start_from_loads_and_builds(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    FILE *stream = tmpfile();
    (void)state;
    assert_non_null(stream);
    assert_ok(ww_study_write_start(stream, &error), error);
    rewind(stream);
    assert_ok(ww_study_read(&study, stream, "start.ini", WEAVES, NULL, 0, &error), error);
    fclose(stream);
    assert_ok(ww_study_build(&study, &error), error);
    assert_int_equal(study.stack.plies, 2);
    there_and_back(&study);
}

static void the_demo_studies_load_and_build(void **state)
{
    static const char *const path[] = {WEAVES "/studies/mezzanine-link.ini", WEAVES "/studies/antenna-feed.ini",
                                       WEAVES "/studies/feed-network.ini", WEAVES "/studies/display-bridge.ini"};
    (void)state;
    for (size_t i = 0; i < sizeof path / sizeof *path; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        assert_ok(ww_study_load(&study, path[i], WEAVES, NULL, 0, &error), error);
        assert_ok(ww_study_build(&study, &error), error);
        there_and_back(&study);
    }
}

/* --- what is refused ------------------------------------------------------------------------------------------------ */

static const struct refusal {
    int line; /* replaced, and where the message points unless `at` says otherwise */
    const char *text;
    enum ww_status status;
    const char *part; /* of the message */
    int at;           /* 0: the line itself; -1: no line */
} refusals[] = {
    {2, "titel = x", WW_MALFORMED, "did you mean 'title'", 0},
    {12, "[trase]", WW_MALFORMED, "did you mean [trace]", 0},
    {18, "[fabirc]\n; a bare header", WW_MALFORMED, "did you mean [fabric]", 0},
    {18, "[glas E]", WW_MALFORMED, "is not known; there are", 0},
    {41, "density = 2.58 g/cm3\n[resin spare]", WW_INVALID, "lacks dk", 42},
    {4, "resin = plain\ncopper = roled", WW_INVALID, "rolled", 5},
    {42, "[foil mine]\nmodel = ruff\nrz = 1 um", WW_MALFORMED, "hammerstad", 43},
    {42, "[foil mine]\nmodel = huray\nrz = 0 um", WW_INVALID, "model = smooth", 42},
    {10, "layer = solid 0.1 mm dk=3.0 df=0.001 frequency=10", WW_MALFORMED, "unit", 0},
    {41, "density = 2.58 g/cm3\n[signals]", WW_MALFORMED, "did you mean [signal]", 42},
    {13, "width = 100", WW_MALFORMED, "unit", 0},
    {13, "width = 100 GHz", WW_MALFORMED, "unit", 0},
    {13, "width = nan um", WW_MALFORMED, "not a number", 0},
    {13, "width = inf um", WW_MALFORMED, "not a number", 0},
    {13, "width = 0x64 um", WW_MALFORMED, "unit", 0},
    {13, "width = 1e400 um", WW_MALFORMED, "range", 0},
    {13, "width = -100 um", WW_INVALID, "1 um to 10 mm", 0},
    {13, "width = 0 um", WW_INVALID, "1 um to 10 mm", 0},
    {13, "width = 11 mm", WW_INVALID, "1 um to 10 mm", 0},
    {13, "width =", WW_MALFORMED, "not a number", 0},
    {13, "width = 230 um", WW_UNPHYSICAL, "overlap", 15},
    {13, "; no width", WW_INVALID, "'width' is missing in [trace]", -1},
    {14, "width = 90 um", WW_MALFORMED, "twice (first on line 13)", 0},
    {15, "pitch = 50 um", WW_UNPHYSICAL, "overlap", 0},
    {16, "length = 50 km", WW_MALFORMED, "unit", 0},
    {16, "length = 50 m", WW_INVALID, "10 um to 10 m", 0},
    {17, "angle = 7.3", WW_MALFORMED, "unit", 0},
    {17, "angle = 400 deg", WW_INVALID, "-180 deg to 180 deg", 0},
    {19, "turn = -1 deg", WW_INVALID, "0 to 45 deg", 0},
    {21, "rate = 112 GHz", WW_MALFORMED, "unit", 0},
    {23, "budget = 2 s", WW_INVALID, "check the unit", 0},
    {23, "conversion = -20", WW_MALFORMED, "unit", 0},
    {23, "conversion = 3 dB", WW_INVALID, "-100 dB to -0.1 dB", 0},
    {23, "lane_pitch = 0.8 mm", WW_INVALID, "there is one lane; give 'lanes = 16'", 0},
    {23, "lanes = 16\nlane_pitch = 0.41 mm", WW_UNPHYSICAL, "two pairs lie less than a trace's width", 24},
    {23, "lanes = 2000\nlane_pitch = 0.8 mm", WW_INVALID, "2000 lanes on one cloth are more than 1024", 24},
    {23, "lanes = 16\nlane_pitch = 0.8", WW_MALFORMED, "unit", 24},
    {23, "spacing = 0.3 mm", WW_UNPHYSICAL, "give 423.2 um or more", 0},
    {23, "spacing = 1.9 m", WW_INVALID, "2 um to 1 m", 0},
    {2, "positions = 100.5", WW_INVALID, "whole number", 0},
    {2, "positions = 1e9", WW_INVALID, "16 to 2048", 0},
    {2, "fineness = 100", WW_INVALID, "0.25 to 4", 0},
    {4, "resin = plan", WW_INVALID, "plain", 0},
    {4, "; no resin", WW_INVALID, "has no resin", 6},
    {6, "layer = ply 1081 100 um", WW_INVALID, "1080", 0},
    {6, "layer = ply 1080", WW_MALFORMED, "lacks its thickness; write it behind the style, as in 'ply 1080 100 um'",
     0},
    {10, "layer = solid", WW_MALFORMED, "lacks its thickness; write it behind the kind, as in 'solid 100 um'", 0},
    {6, "layer = ply 1080 100 um foobar=2", WW_MALFORMED, "is not known; ply takes turn, shift, height, resin, dk",
     0},
    {8, "layer = resin 20 um foobar=2", WW_MALFORMED, "is not known; resin takes dk, df", 0},
    {6, "layer = ply", WW_MALFORMED, "lacks its style", 0},
    {6, "layer = ply 1080 100", WW_MALFORMED, "unit", 0},
    {6, "layer = ply 1080 100 um turn=2", WW_MALFORMED, "unit", 0},
    {6, "layer = ply 1080 100 um trun=2 deg", WW_MALFORMED, "did you mean 'turn'", 0},
    {6, "layer = ply 1080 100 um turn=2 deg turn=3 deg", WW_MALFORMED, "twice", 0},
    {6, "layer = ply 1080 100 um df=0.01", WW_MALFORMED, "takes no 'df'", 0},
    {6, "layer = ply 1080 100 um shift=100 um", WW_MALFORMED, "two lengths", 0},
    {6, "layer = ply 1080 100 um height=40 un", WW_MALFORMED, "in height=0.4 or height=40 um", 0},
    {6, "layer = ply 1080 100 um height=", WW_MALFORMED, "height takes a share", 0},
    {6, "layer = ply 1080 100 um height=1.5", WW_MALFORMED, "between 0 and 1", 0},
    {6, "layer = ply 1080 100 um height=0 um", WW_INVALID, "height of 0 m is outside", 0},
    {6, "layer = ply 1080 100 um height=601e-9", WW_INVALID, "height of 0.0601 nm is outside", 0},
    {6, "layer = ply 1080 100 um height=120 um", WW_INVALID, "to 100 um", 0},
    {8, "layer = resin 20 um height=0.5", WW_MALFORMED, "takes no 'height'", 0},
    {6, "layer = ply 1080 100 um spare", WW_MALFORMED, "not understood", 0},
    {6, "layer = ply 1080 100 um dk=0.5", WW_INVALID, "1 to 100", 0},
    {6, "layer = ply 1080 50 m", WW_INVALID, "10 mm", 0},
    {6, "layer = plyy 1080 100 um", WW_MALFORMED, "did you mean 'ply'", 0},
    {6, "layer =", WW_MALFORMED, "a layer is", 0},
    {10, "layer = solid 100 um", WW_INVALID, "lacks dk=", 0},
    {10, "layer = solid 100 um dk=3", WW_INVALID, "lacks df=", 0},
    {10, "layer = solid 100 um dk=nan df=0", WW_MALFORMED, "not a number", 0},
    {10, "layer = solid -100 um dk=3 df=0", WW_INVALID, "thickness", 0},
    {25, "kd = 3.2", WW_MALFORMED, "dk", 0},
    {25, "dk = 0.2", WW_INVALID, "range", 0},
    {32, "warp_count = 60", WW_MALFORMED, "unit", 0},
    {32, "warp_cuont = 60 /in", WW_MALFORMED, "warp_count", 0},
};

static void slips_are_refused_at_their_place(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
        const struct refusal *r = &refusals[i];
        struct ww_study study;
        struct ww_error error = {0};
        char *text = with_line(r->line, r->text);
        enum ww_status status = read_text(&study, text, &error);
        if (status != r->status || error.line != (r->at < 0 ? 0 : r->at ? r->at : r->line))
            fail_msg("\"%s\" gives status %d, line %d: %s", r->text, (int)status, error.line, error.text);
        assert_string_equal(error.file, "some/test.ini");
        assert_contains(error.text, r->part);
        assert_null(study.stack.layer); /* left zeroed */
        assert_int_equal(study.stack.count, 0);
        free(text);
    }
}

/* A share, a length, either with another option behind it, are one height. */
static void a_height_is_a_share_or_a_length(void **state)
{
    static const char *const same[] = {"layer = ply T1 100 um height=0.4", "layer = ply T1 100 um height = 40 um",
                                       "layer = ply T1 100 um height=0.4 turn=1 deg",
                                       "layer = ply T1 100 um height=0.04mm dk=3.7"};
    (void)state;
    for (size_t i = 0; i < sizeof same / sizeof *same; i++) {
        struct ww_study study;
        struct ww_error error = {0};
        char *text = with_line(6, same[i]);
        assert_ok(read_text(&study, text, &error), error);
        assert_close(study.stack.layer[1].cloth_height, 40e-6, two_ulp, 0);
        char *written = ww_study_text(&study);
        assert_non_null(written);
        assert_contains(written, " height=40 um");
        free(written);
        ww_study_clear(&study);
        free(text);
    }
}

/* What only shows when the cloth is made still has its line. */
static void what_cannot_be_built_has_its_line(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    char *text = with_line(6, "layer = ply 7628 100 um");
    (void)state;
    assert_ok(read_text(&study, text, &error), error);
    assert_int_equal(ww_study_build(&study, &error), WW_UNPHYSICAL);
    assert_string_equal(error.file, "some/test.ini");
    assert_int_equal(error.line, 6);
    ww_study_clear(&study);
    free(text);

    text = with_line(7, "layer = trace\nlayer = trace");
    assert_ok(read_text(&study, text, &error), error);
    assert_int_equal(ww_study_build(&study, &error), WW_INVALID);
    assert_int_equal(error.line, 8);
    ww_study_clear(&study);
    free(text);
}

static void an_unused_material_is_judged_too(void **state)
{
    struct ww_study study;
    struct ww_error error = {0};
    char *text = with_line(41, "density = 2.58 g/cm3\n[resin spare]\ndk = 3");
    (void)state;
    assert_int_equal(read_text(&study, text, &error), WW_INVALID);
    assert_contains(error.text, "df");
    free(text);
}

static void too_many_layers_are_refused(void **state)
{
    enum { MANY = 300, EACH = 40 };
    struct ww_study study;
    struct ww_error error = {0};
    static char text[MANY * EACH + 256];
    (void)state;
    strcpy(text, "[trace]\nwidth = 100 um\nthickness = 0 um\nlength = 1 mm\n[stackup]\n");
    for (int i = 0; i < MANY; i++)
        strcat(text, "layer = solid 1 um dk=3 df=0\n");
    assert_int_equal(read_text(&study, text, &error), WW_INVALID);
    assert_contains(error.text, "256 layers");
}

/* --- the table and the folder --------------------------------------------------------------------------------------- */

static void every_example_is_good(void **state)
{
    const struct ww_study_key *key = NULL;
    (void)state;
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++) {
        double value = 0;
        assert_true(key->help[0] != '\0' && key->example[0] != '\0');
        if (key->kind != WW_STUDY_NUMBER && key->kind != WW_STUDY_WHOLE && key->kind != WW_STUDY_SPREAD)
            continue;
        assert_int_equal(ww_number_parse(key->example, key->dimension, &value, NULL), WW_OK);
        assert_true(value >= key->min && value <= key->max);
        if (key->preset[0])
            assert_int_equal(ww_number_parse(key->preset, key->dimension, &value, NULL), WW_OK);
    }
    assert_null(ww_study_key(1000));
    assert_null(ww_study_form(1000));
}

/* 200 um is not 200e-6 m to the last place: a limit written out in any unit is inside all the same. */
static void the_limits_themselves_are_good(void **state)
{
    static const enum { LOW, HIGH } ends[] = {LOW, HIGH};
    static const char *const pitch[] = {"trace.pitch=20 mm", "signal.lanes=16", "tolerance.moisture=1 %",
                                        "tolerance.moisture.dk=0.1"};
    const struct ww_study_key *key = NULL;
    (void)state;
    for (size_t i = 0; (key = ww_study_key(i)) != NULL; i++)
        for (size_t e = 0; e < 2; e++) {
            char limit[48], assignment[128];
            struct ww_study study;
            struct ww_error error = {0};
            if (key->kind != WW_STUDY_NUMBER && key->kind != WW_STUDY_WHOLE && key->kind != WW_STUDY_SPREAD)
                continue;
            bool distance = strcmp(key->key, "pitch") == 0 || strcmp(key->key, "lane_pitch") == 0 ||
                            strcmp(key->key, "spacing") == 0;
            if (distance && ends[e] == LOW)
                continue; /* below the width, and refused for that */
            ww_number_format(limit, sizeof limit, ends[e] == LOW ? key->min : key->max, key->dimension, 6);
            snprintf(assignment, sizeof assignment, "%s.%s=%s", key->section, key->key, limit);
            const char *const set[] = {pitch[0], pitch[1], pitch[2], pitch[3], assignment};
            enum ww_status status = read_set(&study, everything, set, 5, &error);
            if (status)
                fail_msg("%s: %s", assignment, error.text);
            ww_study_clear(&study);
        }
}

static void the_weaves_are_found(void **state)
{
    char folder[4096];
    struct ww_error error = {0};
    (void)state;
    assert_ok(ww_study_find_weaves(WEAVES, folder, sizeof folder, &error), error);
    assert_string_equal(folder, WEAVES);
    assert_int_equal(ww_study_find_weaves("/nonexistent", folder, sizeof folder, &error), WW_IO);
    assert_contains(error.text, "/nonexistent");
    assert_string_equal(folder, "");
    setenv("WEFTWISE_WEAVES", "/also/nonexistent", 1);
    assert_int_equal(ww_study_find_weaves(NULL, folder, sizeof folder, &error), WW_IO);
    assert_contains(error.text, "WEFTWISE_WEAVES");
    setenv("WEFTWISE_WEAVES", WEAVES, 1);
    assert_ok(ww_study_find_weaves(NULL, folder, sizeof folder, &error), error);
    unsetenv("WEFTWISE_WEAVES");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_everything),
        cmocka_unit_test(what_is_left_out_has_its_preset),
        cmocka_unit_test(fill_is_what_flows),
        cmocka_unit_test(assignments_replace_and_add),
        cmocka_unit_test(refused_assignments_say_so),
        cmocka_unit_test(comes_back_as_written),
        cmocka_unit_test(a_route_is_read_and_comes_back),
        cmocka_unit_test(scatter_of_real_cloth_is_read_for_both_yarn_systems_or_each),
        cmocka_unit_test(measured_cloth_is_a_file_in_the_study_s_folder),
        cmocka_unit_test(warp_and_fill_counts_have_tolerances_of_their_own),
        cmocka_unit_test(routes_that_can_be_laid),
        cmocka_unit_test(arms_are_read_and_come_back),
        cmocka_unit_test(more_arms_than_there_may_be_are_refused),
        cmocka_unit_test(routes_and_tolerances_that_are_refused),
        cmocka_unit_test(too_many_segments_are_refused),
        cmocka_unit_test(every_style_comes_back),
        cmocka_unit_test(the_one_to_start_from_loads_and_builds),
        cmocka_unit_test(the_demo_studies_load_and_build),
        cmocka_unit_test(slips_are_refused_at_their_place),
        cmocka_unit_test(a_height_is_a_share_or_a_length),
        cmocka_unit_test(what_cannot_be_built_has_its_line),
        cmocka_unit_test(an_unused_material_is_judged_too),
        cmocka_unit_test(too_many_layers_are_refused),
        cmocka_unit_test(every_example_is_good),
        cmocka_unit_test(the_limits_themselves_are_good),
        cmocka_unit_test(the_weaves_are_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
