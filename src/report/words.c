/* words.c - numbers, tolerances and conditions in words.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "report/words.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

enum { NUMBER_SIZE = 48, CLOTHS_SIZE = 80 };

void ww_words_add(char *text, size_t size, const char *format, ...)
{
    size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + used, size - used, format, arguments);
    va_end(arguments);
}

/* --- numbers ------------------------------------------------------------------------------------------------------------ */

const char *ww_words_time(struct ww_words *words, double value)
{
    double ps = value * 1e12;
    snprintf(words->of, sizeof words->of, "%.*f ps", fabs(ps) < 0.995 ? 3 : fabs(ps) < 9.95 ? 2 : 1, ps);
    return words->of;
}

const char *ww_words_number(struct ww_words *words, double value, enum ww_dimension dimension, int digits)
{
    char typed[sizeof words->of];
    ww_number_format(typed, sizeof typed, value, dimension, digits);
    return ww_words_typeset(typed, words->of, sizeof words->of);
}

const char *ww_words_level(struct ww_words *words, double amplitude)
{
    const double least = 1e-9;
    double tenths = round(10.0 * ww_decibels(fmax(amplitude, least)));
    snprintf(words->of, sizeof words->of, "%s%s%.1f dB", amplitude > least ? "" : "below ",
             tenths < 0.0 ? "\xe2\x88\x92" : "", fabs(0.1 * tenths));
    return words->of;
}

const char *ww_words_share(struct ww_words *words, double share)
{
    double percent = 100.0 * share;
    if (percent > 0.0 && percent < 0.1)
        snprintf(words->of, sizeof words->of, "under 0.1 %%");
    else if (percent > 99.9 && percent < 100.0)
        snprintf(words->of, sizeof words->of, "over 99.9 %%");
    else
        snprintf(words->of, sizeof words->of, "%.*f %%", percent >= 100.0 ? 0 : 1, percent);
    return words->of;
}

static const double tenth = WW_PI / 1800.0, rounding = 1e-6; /* [rad]; of a tenth */

double ww_angle_up(double angle)
{
    return ceil(angle / tenth - rounding) * tenth + 0.0; /* 0 without a sign */
}

double ww_angle_down(double angle)
{
    return floor(angle / tenth + rounding) * tenth;
}

const char *ww_words_angle_up(struct ww_words *words, double angle)
{
    return ww_words_number(words, ww_angle_up(angle), WW_ANGLE, 4);
}

const char *ww_words_angle_down(struct ww_words *words, double angle)
{
    return ww_words_number(words, ww_angle_down(angle), WW_ANGLE, 4);
}

/* --- tolerances ----------------------------------------------------------------------------------------------------------- */

const char *ww_words_varies(const struct ww_study *study)
{
    bool turn = study->turn > 0.0, count = study->warp_tolerance > 0.0 || study->fill_tolerance > 0.0;
    return turn && count ? "turn and yarn counts" : turn ? "turn" : count ? "yarn counts" : "";
}

const char *ww_words_tolerances(const struct ww_study *study, char *out, size_t size)
{
    struct ww_words turn;
    bool by_turn = study->turn > 0.0;
    char counts[NUMBER_SIZE];
    ww_words_number(&turn, study->turn, WW_ANGLE, 3);
    out[0] = '\0';
    if (by_turn)
        ww_words_add(out, size, "the cloth up to %s off square%s", turn.of,
                     study->turn_is_assumed ? " (assumed: the study gives no turn)" : "");
    if (ww_study_counts(study, counts, sizeof counts)[0])
        ww_words_add(out, size, "%s yarn counts up to %s off", by_turn ? " and its" : "the cloth's", counts);
    return out;
}

static char *say_places(double apart, const char *anywhere, char *out, size_t size)
{
    char number[NUMBER_SIZE];
    if (apart > 0.0)
        snprintf(out, size, "%s apart on one cloth", ww_number_format(number, sizeof number, apart, WW_LENGTH, 6));
    else
        snprintf(out, size, "%s", anywhere);
    return out;
}

char *ww_words_feeds(const struct ww_study *study, char *out, size_t size)
{
    return say_places(study->spacing, "places independent", out, size);
}

char *ww_words_lanes(const struct ww_study *study, char *out, size_t size)
{
    return say_places(study->lane_pitch, "places independent", out, size);
}

/* --- conditions ----------------------------------------------------------------------------------------------------------- */

char *ww_words_conditions(const struct ww_study *study, bool one_board, char *out, size_t size)
{
    const char *anywhere = one_board ? "anywhere on one board" : "places independent";
    char width[NUMBER_SIZE], pitch[NUMBER_SIZE], length[NUMBER_SIZE], angle[NUMBER_SIZE], thickness[NUMBER_SIZE];
    char where[2 * NUMBER_SIZE];
    out[0] = '\0';
    for (size_t i = 0, layers; i<study->stack.count; i += layers> 0 ? layers : 1) {
        const struct ww_layer *layer = &study->stack.layer[i];
        char cloths[CLOTHS_SIZE];
        layers = ww_opening_layers(layer, study->stack.count - i);
        if (layers > 0)
            ww_words_add(
                out, size, "%s%s %s", out[0] ? " + " : "", ww_opening_text(layer, layers, cloths, sizeof cloths),
                ww_number_format(thickness, sizeof thickness, ww_opening_thickness(layer, layers), WW_LENGTH, 6));
    }
    ww_number_format(width, sizeof width, study->trace.width, WW_LENGTH, 6);
    ww_number_format(pitch, sizeof pitch, study->trace.pitch, WW_LENGTH, 6);
    ww_number_format(length, sizeof length, study->length, WW_LENGTH, 6);
    ww_number_format(angle, sizeof angle, study->angle, WW_ANGLE, 6);
    bool turned = study->angle != 0.0;
    const char *joint = study->stack.plies > 0 ? "; " : "no cloth; ";
    if (study->trace.pitch > 0.0)
        ww_words_add(out, size, "%spair %s wide, %s pitch", joint, width, pitch);
    else
        ww_words_add(out, size, "%strace %s wide", joint, width);
    if (study->segments > 0)
        ww_words_add(out, size, "; route of %zu segments, %s%s%s", study->segments, length,
                     turned ? ", turned by " : "", turned ? angle : "");
    else
        ww_words_add(out, size, "; %s at %s from the warp", length, angle);
    if (study->arms > 0)
        ww_words_add(out, size, "; %zu arms on one cloth", study->arms + 1);
    else if (!(study->trace.pitch > 0.0) || study->spacing > 0.0)
        ww_words_add(out, size, "; two %s, %s", study->trace.pitch > 0.0 ? "pairs" : "traces",
                     say_places(study->spacing, anywhere, where, sizeof where));
    if (study->lanes > 1)
        ww_words_add(out, size, "; %zu lanes, %s", study->lanes,
                     say_places(study->lane_pitch, anywhere, where, sizeof where));
    return out;
}

enum { DOUBTS_TOLD = 3 };

static double reach(const struct ww_doubts *doubts, const struct ww_doubt *doubt)
{
    return fmax(fabs(doubt->at_low - doubts->value), fabs(doubt->at_high - doubts->value));
}

/* The largest but `skip` of them. */
static const struct ww_doubt *largest(const struct ww_doubts *doubts, size_t skip)
{
    const struct ww_doubt *found = NULL;
    for (size_t i = 0; i < doubts->count; i++) {
        size_t above = 0;
        for (size_t k = 0; k < doubts->count; k++) {
            double a = reach(doubts, &doubts->of[k]), b = reach(doubts, &doubts->of[i]);
            above += a > b || (!(a < b) && k < i);
        }
        if (above == skip)
            found = &doubts->of[i];
    }
    return found;
}

char *ww_words_doubts(const struct ww_doubts *doubts, char *out, size_t size)
{
    out[0] = '\0';
    if (doubts->count == 0)
        return out;
    ww_words_add(out, size, "%#.3g to %#.3g ps, mostly by ", doubts->low * 1e12, doubts->high * 1e12);
    for (size_t i = 0; i < DOUBTS_TOLD && i < doubts->count; i++) {
        const struct ww_doubt *doubt = largest(doubts, i);
        bool glass = doubt->kind == WW_DOUBT_GLASS_DK, height = doubt->kind == WW_DOUBT_HEIGHT;
        double a = (doubt->at_low - doubts->value) * 1e12, b = (doubt->at_high - doubts->value) * 1e12;
        ww_words_add(out, size, "%s%s of %s", i ? ", " : "", ww_doubt_kind_name(doubt->kind),
                     glass ? doubt->glass : doubt->style);
        if (height)
            ww_words_add(out, size, " in ply %zu", doubt->ply + 1);
        else
            ww_words_add(out, size, " +-%.3g %%", 100.0 * doubt->share);
        ww_words_add(out, size, " (%+.2g to %+.2g ps)", fmin(a, b), fmax(a, b));
    }
    return out;
}

/* Copper edges lie on the grid's nodes: where width and pitch share no step, the nearest pitch that does is solved. */
char *ww_words_pitch_solved(const struct ww_study *study, const struct ww_line_summary *line, char *out, size_t size)
{
    const double silent = 1e-9; /* [m] */
    char number[NUMBER_SIZE], away[NUMBER_SIZE];
    double given = study->trace.pitch, off = fabs(line->pitch - given);
    out[0] = '\0';
    if (given > 0.0 && off > silent)
        snprintf(out, size, "pitch solved on the grid: %s, %s from the one given",
                 ww_number_format(number, sizeof number, line->pitch, WW_LENGTH, 6),
                 ww_number_format(away, sizeof away, off, WW_LENGTH, 2));
    return out;
}

char *ww_words_ply(const struct ww_study *study, size_t ply, char *out, size_t size)
{
    const struct ww_stack *stack = &study->stack;
    snprintf(out, size, "ply %zu, %s", ply + 1, stack->layer[stack->ply[ply].layer].style.name);
    return out;
}

/* --- signs of print -------------------------------------------------------------------------------------------------------- */

static bool word_ends(char next)
{
    return next == '\0' || strchr(" ;,:.)", next) != NULL;
}

char *ww_words_typeset(const char *typed, char *out, size_t size)
{
    static const struct {
        const char *typed, *set;
    } sign[] = {{" um", " \xc2\xb5m"}, {" deg", "\xc2\xb0"}};
    size_t used = 0;
    for (const char *at = typed; *at && used + 4 < size;) {
        const char *put = NULL;
        for (size_t i = 0; i < sizeof sign / sizeof *sign && !put; i++) {
            size_t length = strlen(sign[i].typed);
            if (strncmp(at, sign[i].typed, length) == 0 && word_ends(at[length])) {
                put = sign[i].set;
                at += length;
            }
        }
        if (!put)
            out[used++] = *at++;
        for (; put && *put; put++)
            out[used++] = *put;
    }
    out[used] = '\0';
    return out;
}
