/* close.c - the figures of a style that nobody publishes, computed from those that are.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Counts, yarns and thickness of a cloth are published; the width a and height b of its yarns rarely are. The glass is
 * a hard constraint: with G = linear density / density of the glass, F the area factor of the superellipse and V the
 * share of the bundle that is glass,
 *   F a b V = G                for each yarn,
 *   b_warp + b_fill = t        where they cross, t the thickness of the cloth.
 * What is given is kept. What is missing is closed in this order:
 *   heights  one given:        the other is what t leaves (without t: from its own width at the kind's V)
 *            both widths given: one common V, so that the heights add up to t (without t: the kind's V)
 *            one width given:  that yarn's height at the kind's V, the other is what t leaves
 *            nothing given:    t is divided by b_warp / b_fill = R sqrt(G_warp / G_fill), which makes the fill R^2
 *                              times as flat as the warp, and R times as wide where the yarns are equal
 *   widths   from G at the kind's V, but no wider than the pitch, where neighbours touch. A width held at the pitch
 *            counts as given, and the heights are closed again.
 *
 * R and V by kind. The warp is under tension in the loom and stays round, the fill lies flat: R > 1. What is known of six
 * cloths, widths in um, V of both yarns by ellipses in the cloth's thickness:
 *   spread  1078  266 / 449  R 1.69  V 0.60  published input of a simulation, DesignCon 2025 proceedings (heights too)
 *           1067  225 / 315    1.40    0.59  a fabricator's public forum
 *   plain   2116  350 / 370    1.06    0.64  from memory, low
 *           7628  450 / 530    1.18    0.78  from memory, low
 *   open    1080  215 / 315    1.47    0.80  from memory, low (middles of 200 to 230 and 300 to 330)
 *           106   122 / 259    2.12    0.99  the forum; above what any bundle reaches, for a gauge presses loose yarns flat
 * 1067 is sold plain and spread and the forum does not say which; its V says spread, as does that of 1078. R and V are the
 * geometric means of a kind's two cloths; V of the open ones is 1080's, the upper end of the usual 0.6 to 0.8 (from memory),
 * for 106 has none that is possible. With them the widths of plain and spread cloth and of 1080 close to within 12 %
 * and 106, in its gauge's 33 um, to 32 %; one rule for all (V = 0.70, R = 1.3) missed by 26, 21 and 71 %. Closing each by the
 * other cloth of its kind alone misses by 15 % (root mean square, 106 aside): that is the uncertainty of a closed width
 * (uncertainty.c). It is a guess at a figure the weaver knows: hence "closed". tests/fabric/test_close.c holds all of this.
 */
#include "weftwise/fabric.h"
#include "fabric/style.h"

#include <math.h>
#include <string.h>

/* V and R where nothing better is known, above. */
static const struct rule {
    double packing, ratio;
} rule[] = {[WW_PLAIN] = {0.71, 1.12}, [WW_SPREAD] = {0.60, 1.54}, [WW_OPEN] = {0.80, 1.76}};

static double packing_of(const struct ww_style *style)
{
    return rule[style->kind].packing;
}

/* Heights are published in whole micrometres; by that much their sum may miss the thickness. */
static const double HEIGHTS_AGREE = 0.05;

double ww_superellipse_area_factor(double p)
{
    double quarter = tgamma(1.0 + 1.0 / p);
    return quarter * quarter / tgamma(1.0 + 2.0 / p);
}

double ww_style_weight(const struct ww_style *style)
{
    return style->warp_count.value * style->warp.tex.value + style->fill_count.value * style->fill.tex.value;
}

const char *ww_origin_name(enum ww_origin origin)
{
    switch (origin) {
    case WW_ABSENT:
        return "absent";
    case WW_FOUND:
        return "found";
    case WW_MEMORY:
        return "memory";
    case WW_CLOSED:
        return "closed";
    case WW_DERIVED:
        return "derived";
    case WW_USER:
        return "given";
    }
    return "unknown";
}

/* --- what no cloth can be ------------------------------------------------------------------------------- */

/* "300 um" and the like, for messages. */
struct words {
    char text[48];
};

static struct words say(double si, enum ww_dimension dimension)
{
    struct words words = {""};
    ww_number_format(words.text, sizeof words.text, si, dimension, 3);
    return words;
}

static bool known(const struct ww_datum *datum)
{
    return datum->origin != WW_ABSENT;
}

static bool positive(double value)
{
    return isfinite(value) && value > 0.0;
}

static enum ww_status refuse_absent(const struct ww_style *style, const char *figure, struct ww_error *error)
{
    return ww_error_set(error, WW_UNPHYSICAL, style->file, 0, "style %s: %s has to be a positive number", style->name,
                        figure);
}

/* The value, or the next one below, of three digits, as it is said: typed back it is not above. */
static double as_said_below(double value)
{
    const double rounding = 1e-12;
    double digit = pow(10.0, floor(log10(value)) - 2.0);
    return digit * floor(value / digit * (1.0 + rounding));
}

static enum ww_status check_yarn(const struct ww_style *style, const struct ww_yarn *yarn, double pitch,
                                 const char *system, struct ww_error *error)
{
    double width = yarn->width.value, height = yarn->height.value;
    if (!positive(width) || !positive(height) || !positive(yarn->packing))
        return ww_error_set(
            error, WW_UNPHYSICAL, style->file, 0,
            "style %s: the %s yarn needs a width, a height and glass in it; give its figures, or close "
            "the style",
            style->name, system);
    for (int i = 0; i < 2; i++) {
        const struct ww_datum *datum = i ? &yarn->height : &yarn->width;
        bool closed = datum->origin == WW_CLOSED; /* else it is held to them where it is read */
        if (closed && !(datum->value >= WW_YARN_LEAST && datum->value <= WW_YARN_MOST))
            return ww_error_set(error, WW_UNPHYSICAL, style->file, datum->line,
                                "style %s: the %s yarn's %s comes to %s, outside %s to %s; give its figures",
                                style->name, system, i ? "height" : "width", say(datum->value, WW_LENGTH).text,
                                say(WW_YARN_LEAST, WW_LENGTH).text, say(WW_YARN_MOST, WW_LENGTH).text);
    }
    if (width > pitch)
        return ww_error_set(error, WW_UNPHYSICAL, style->file, yarn->width.line,
                            "%s width %s is wider than the %s pitch %s; give a width up to %s", system,
                            say(width, WW_LENGTH).text, system, say(pitch, WW_LENGTH).text,
                            say(as_said_below(pitch), WW_LENGTH).text);
    if (yarn->packing > WW_PACKING_MOST)
        return ww_error_set(
            error, WW_UNPHYSICAL, style->file, yarn->width.line ? yarn->width.line : yarn->height.line,
            "the glass of the %s yarn does not fit: %s by %s would be packed %.3f, and round filaments "
            "pack at most %.3f; give a larger width, height or thickness",
            system, say(width, WW_LENGTH).text, say(height, WW_LENGTH).text, yarn->packing, WW_PACKING_MOST);
    return WW_OK;
}

enum ww_status ww_style_check(const struct ww_style *style, struct ww_error *error)
{
    enum ww_status status;
    double p = style->shape.value;
    if (!positive(style->warp_count.value))
        return refuse_absent(style, "the warp count", error);
    if (!positive(style->fill_count.value))
        return refuse_absent(style, "the fill count", error);
    if (!(p >= WW_SHAPE_LEAST && p <= WW_SHAPE_MOST))
        return ww_error_set(error, WW_UNPHYSICAL, style->file, style->shape.line,
                            "style %s: shape %g is outside %g to %g; give 2 for an ellipse, 3 for a flat yarn",
                            style->name, p, WW_SHAPE_LEAST, WW_SHAPE_MOST);
    status = check_yarn(style, &style->warp, 1.0 / style->warp_count.value, "warp", error);
    if (!status)
        status = check_yarn(style, &style->fill, 1.0 / style->fill_count.value, "fill", error);
    return status;
}

/* --- closing --------------------------------------------------------------------------------------------- */

static void close_datum(struct ww_datum *datum, double value, const char *how)
{
    *datum = (struct ww_datum){
        .value = value, .origin = WW_CLOSED, .stated = datum->stated, .uncertainty = datum->uncertainty};
    snprintf(datum->source, sizeof datum->source, "closed: %s", how); /* the first word is read back as the origin */
}

static const char at_packing[] = "at packing";

/* Width times height of a yarn's section at a packing. */
static double box(const struct ww_yarn *yarn, double factor, double packing)
{
    return yarn->glass_area / (factor * packing);
}

static void close_height_from_width(struct ww_yarn *yarn, double factor, double packing, const char *how)
{
    char source[80];
    snprintf(source, sizeof source, "from the width %s %.2f", how, packing);
    close_datum(&yarn->height, box(yarn, factor, packing) / yarn->width.value, source);
}

static enum ww_status close_rest(struct ww_style *style, struct ww_yarn *rest, const struct ww_yarn *other,
                                 const char *system, struct ww_error *error)
{
    double left = style->thickness.value - other->height.value;
    if (!(left > 0.0))
        return ww_error_set(error, WW_UNPHYSICAL, style->file, style->thickness.line,
                            "style %s: beside a yarn %s high no room is left for the %s in a thickness of %s; give a "
                            "wider yarn or a thicker fabric",
                            style->name, say(other->height.value, WW_LENGTH).text, system,
                            say(style->thickness.value, WW_LENGTH).text);
    close_datum(&rest->height, left, "what the thickness leaves");
    return WW_OK;
}

static enum ww_status need_thickness(const struct ww_style *style, struct ww_error *error)
{
    return ww_error_set(error, WW_UNPHYSICAL, style->file, 0,
                        "style %s: its widths and heights cannot be closed without the thickness of the fabric; give "
                        "`thickness`, or both widths",
                        style->name);
}

/* Heights when none is given and both widths are. */
static void close_heights_from_widths(struct ww_style *style, double factor)
{
    double packing = packing_of(style);
    const char *how = at_packing;
    if (known(&style->thickness)) {
        how = "and the thickness, both at packing";
        packing =
            (style->warp.glass_area / style->warp.width.value + style->fill.glass_area / style->fill.width.value) /
            (factor * style->thickness.value);
    }
    close_height_from_width(&style->warp, factor, packing, how);
    close_height_from_width(&style->fill, factor, packing, how);
}

/* Heights when neither a height nor a width is given. */
static void divide_thickness(struct ww_style *style)
{
    double ratio = rule[style->kind].ratio * sqrt(style->warp.glass_area / style->fill.glass_area);
    double fill = style->thickness.value / (1.0 + ratio);
    close_datum(&style->warp.height, style->thickness.value - fill,
                "its share of the thickness, fill flatter than "
                "warp");
    close_datum(&style->fill.height, fill, "its share of the thickness, fill flatter than warp");
}

static enum ww_status close_heights(struct ww_style *style, double factor, struct ww_error *error)
{
    struct ww_yarn *warp = &style->warp, *fill = &style->fill;
    bool thick = known(&style->thickness);
    if (known(&warp->height) && known(&fill->height))
        return WW_OK;
    if (!known(&warp->height) && !known(&fill->height)) {
        if (known(&warp->width) && known(&fill->width)) {
            close_heights_from_widths(style, factor);
            return WW_OK;
        }
        if (!thick)
            return need_thickness(style, error);
        if (known(&warp->width)) {
            close_height_from_width(warp, factor, packing_of(style), at_packing);
        } else if (known(&fill->width)) {
            close_height_from_width(fill, factor, packing_of(style), at_packing);
        } else {
            divide_thickness(style);
            return WW_OK;
        }
    }
    struct ww_yarn *rest = known(&warp->height) ? fill : warp;
    if (thick)
        return close_rest(style, rest, rest == fill ? warp : fill, rest == fill ? "fill" : "warp", error);
    if (!known(&rest->width))
        return need_thickness(style, error);
    close_height_from_width(rest, factor, packing_of(style), at_packing);
    return WW_OK;
}

/* True if the width had to be held at the pitch. */
static bool close_width(struct ww_yarn *yarn, double pitch, double factor, double packing)
{
    char source[80];
    double width = box(yarn, factor, packing) / yarn->height.value;
    if (known(&yarn->width))
        return false;
    snprintf(source, sizeof source, "from the height at packing %.2f", packing);
    close_datum(&yarn->width, fmin(width, pitch), width < pitch ? source : "the pitch: neighbours touch");
    return width > pitch;
}

/* One pass over what is absent. *held tells whether a width was held at its pitch; then `next` is the style as given
 * with those widths added, to be closed again. */
static enum ww_status close_once(struct ww_style *style, struct ww_style *next, double factor, bool *held,
                                 struct ww_error *error)
{
    bool warp_held, fill_held;
    enum ww_status status = close_heights(style, factor, error);
    *held = false;
    if (status)
        return status;
    warp_held = close_width(&style->warp, 1.0 / style->warp_count.value, factor, packing_of(style));
    fill_held = close_width(&style->fill, 1.0 / style->fill_count.value, factor, packing_of(style));
    if (warp_held)
        next->warp.width = style->warp.width;
    if (fill_held)
        next->fill.width = style->fill.width;
    *held = warp_held || fill_held;
    return WW_OK;
}

static enum ww_status settle_thickness(struct ww_style *style, bool heights_given, struct ww_error *error)
{
    double sum = style->warp.height.value + style->fill.height.value;
    double given = style->thickness.value;
    if (!known(&style->thickness)) {
        close_datum(&style->thickness, sum, "the sum of the heights");
        return WW_OK;
    }
    if (heights_given && fabs(sum - given) > HEIGHTS_AGREE * given)
        return ww_error_set(
            error, WW_UNPHYSICAL, style->file, style->thickness.line,
            "style %s: heights %s and %s add up to %s, but the thickness is %s; give one of the three "
            "less, or make them agree to %g %%",
            style->name, say(style->warp.height.value, WW_LENGTH).text, say(style->fill.height.value, WW_LENGTH).text,
            say(sum, WW_LENGTH).text, say(given, WW_LENGTH).text, 100.0 * HEIGHTS_AGREE);
    style->thickness.value = sum;
    return WW_OK;
}

static enum ww_status check_given(const struct ww_style *style, struct ww_error *error)
{
    const struct {
        const struct ww_datum *datum;
        const char *name;
        bool needed;
    } figure[] = {
        {&style->warp_count, "the warp count", true},
        {&style->fill_count, "the fill count", true},
        {&style->warp.tex, "the linear density of the warp", true},
        {&style->fill.tex, "the linear density of the fill", true},
        {&style->shape, "the shape", true},
        {&style->warp.width, "the warp width", false},
        {&style->warp.height, "the warp height", false},
        {&style->fill.width, "the fill width", false},
        {&style->fill.height, "the fill height", false},
        {&style->thickness, "the thickness", false},
    };
    for (size_t n = 0; n < sizeof figure / sizeof *figure; n++)
        if ((figure[n].needed || known(figure[n].datum)) && !positive(figure[n].datum->value))
            return refuse_absent(style, figure[n].name, error);
    if (style->kind > WW_OPEN)
        return ww_error_set(error, WW_UNPHYSICAL, style->file, 0, "style %s: a weave is plain, spread or open",
                            style->name);
    if (!positive(style->glass.density))
        return refuse_absent(style, "the density of the glass", error);
    return WW_OK;
}

/* Neighbours that touch do when the width is read back from its digits, too. */
static void let_touch(struct ww_yarn *yarn, double count)
{
    const double rounding = 1e-12;
    double pitch = 1.0 / count;
    if (yarn->width.value > pitch && yarn->width.value <= pitch * (1.0 + rounding))
        yarn->width.value = pitch;
}

enum ww_status ww_style_close(struct ww_style *style, struct ww_error *error)
{
    struct ww_style given = *style, closed;
    bool held;
    enum ww_status status = check_given(style, error);
    if (status)
        return status;

    double factor = ww_superellipse_area_factor(style->shape.value);
    given.warp.glass_area = style->warp.tex.value / style->glass.density;
    given.fill.glass_area = style->fill.tex.value / style->glass.density;
    let_touch(&given.warp, style->warp_count.value);
    let_touch(&given.fill, style->fill_count.value);
    do { /* at most three times: each time round one more width is known */
        closed = given;
        if ((status = close_once(&closed, &given, factor, &held, error)))
            return status;
    } while (held && !(known(&style->warp.height) && known(&style->fill.height)));

    if ((status = settle_thickness(&closed, known(&style->warp.height) && known(&style->fill.height), error)))
        return status;
    closed.warp.packing = closed.warp.glass_area / (factor * closed.warp.width.value * closed.warp.height.value);
    closed.fill.packing = closed.fill.glass_area / (factor * closed.fill.width.value * closed.fill.height.value);
    if ((status = ww_style_check(&closed, error)))
        return status;
    *style = closed;
    return WW_OK;
}
