/* layer.c - one layer of the stackup: "ply 2x1035 100 um turn=2 deg shift=100 um,50 um resin=low-loss".
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * A layer is a kind, what the kind needs in its order, then options as key=value in any order. A table says which kind
 * takes which. Numbers keep their units, with or without a space between. A ply of several cloths becomes as many plies.
 */
#include "study/layer.h"

#include "study/keys.h"

#include <stdlib.h>
#include <string.h>

enum { NAME_SIZE = 32, CLOTHS_SIZE = 200 };

enum option { TURN, SHIFT, HEIGHT, RESIN, DK, DF, FREQUENCY, OPTIONS };
static const char *const option_name[OPTIONS] = {"turn", "shift", "height", "resin", "dk", "df", "frequency"};

#define HAS(option) (1u << (option))

static const struct kind {
    const char *name;
    enum ww_layer_kind kind;
    bool style, thickness;
    unsigned allowed, required; /* options */
} kinds[] = {
    {"plane", WW_LAYER_PLANE, false, false, 0, 0},
    {"air", WW_LAYER_AIR, false, false, 0, 0},
    {"trace", WW_LAYER_TRACE, false, false, 0, 0},
    {"ply", WW_LAYER_PLY, true, true, HAS(TURN) | HAS(SHIFT) | HAS(HEIGHT) | HAS(RESIN) | HAS(DK), 0},
    {"resin", WW_LAYER_RESIN, false, true, HAS(DK) | HAS(DF) | HAS(FREQUENCY), 0},
    {"solid", WW_LAYER_SOLID, false, true, HAS(DK) | HAS(DF) | HAS(FREQUENCY), HAS(DK) | HAS(DF)},
    {"mask", WW_LAYER_MASK, false, true, HAS(DK) | HAS(DF) | HAS(FREQUENCY), HAS(DK) | HAS(DF)},
};
enum { KINDS = sizeof kinds / sizeof *kinds };

/* What is left to read. */
struct reader {
    const char *text; /* the whole line, for messages */
    const char *at;
};

/* --- words and numbers ------------------------------------------------------------------------------------------- */

static bool blank(char c)
{
    return c == ' ' || c == '\t';
}

static void skip_blanks(struct reader *reader)
{
    while (blank(*reader->at))
        reader->at++;
}

/* The next word up to a blank, or to '=' where that ends it. False if there is none, or if it is too long to be a
 * name. */
static bool read_word_of(struct reader *reader, bool stop_at_equals, char *word, size_t size)
{
    skip_blanks(reader);
    size_t length = 0;
    while (reader->at[length] && !blank(reader->at[length]) && !(stop_at_equals && reader->at[length] == '='))
        length++;
    if (length == 0 || length >= size)
        return false;
    memcpy(word, reader->at, length);
    word[length] = '\0';
    reader->at += length;
    return true;
}

static bool read_word(struct reader *reader, bool stop_at_equals, char word[NAME_SIZE])
{
    return read_word_of(reader, stop_at_equals, word, NAME_SIZE);
}

static enum ww_status read_number(struct reader *reader, const char *what, enum ww_dimension dimension, double *value,
                                  struct ww_error *error)
{
    struct ww_error inner = {0};
    const char *end = reader->at;
    enum ww_status status = ww_number_parse_prefix(reader->at, dimension, value, &end, &inner);
    if (status)
        return ww_error_set(error, status, NULL, 0, "layer '%.60s': %s: %s", reader->text, what, inner.text);
    reader->at = end;
    return WW_OK;
}

static enum ww_status check_range(const struct reader *reader, const char *what, double value, double min, double max,
                                  enum ww_dimension dimension, struct ww_error *error)
{
    char low[NUMBER_TEXT], high[NUMBER_TEXT], got[NUMBER_TEXT];
    if (value >= min && value <= max)
        return WW_OK;
    return ww_error_set(error, WW_INVALID, NULL, 0, "layer '%.60s': %s of %s is outside %s to %s; give one inside",
                        reader->text, what, ww_number_format(got, sizeof got, value, dimension, 6),
                        ww_number_format(low, sizeof low, min, dimension, 6),
                        ww_number_format(high, sizeof high, max, dimension, 6));
}

static enum ww_status read_checked(struct reader *reader, const char *what, enum ww_dimension dimension, double min,
                                   double max, double *value, struct ww_error *error)
{
    enum ww_status status = read_number(reader, what, dimension, value, error);
    return status ? status : check_range(reader, what, *value, min, max, dimension, error);
}

/* --- the parts of a layer ------------------------------------------------------------------------------------------ */

static const struct kind *find_kind(const char *name)
{
    for (size_t i = 0; i < KINDS; i++)
        if (strcmp(kinds[i].name, name) == 0)
            return &kinds[i];
    return NULL;
}

const char ww_line_not_modelled[] = "this kind of line is not modelled; there are stripline, microstrip and covered "
                                    "microstrip, as a single trace or as "
                                    "two legs side by side on one layer, over or between solid planes";

bool ww_is_line_not_modelled(const char *word)
{
    static const char *const names[] = {"coplanar",   "cpw",    "gcpw", "cpwg",      "broadside",
                                        "slotline",   "coax",   "siw",  "waveguide", "suspended",
                                        "ground_gap", "ground", "via"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(word, names[i]) == 0)
            return true;
    return false;
}

static enum ww_status read_kind(struct reader *reader, const struct kind **kind, struct ww_error *error)
{
    const char *names[KINDS];
    char word[NAME_SIZE] = "";
    for (size_t i = 0; i < KINDS; i++)
        names[i] = kinds[i].name;
    *kind = read_word(reader, false, word) ? find_kind(word) : NULL;
    if (*kind)
        return WW_OK;
    if (ww_is_line_not_modelled(word))
        return ww_error_set(error, WW_INVALID, NULL, 0, "layer '%.60s': %s", reader->text, ww_line_not_modelled);
    const char *nearest = ww_nearest_word(word, names, KINDS);
    return ww_error_set(error, WW_MALFORMED, NULL, 0,
                        "layer '%.60s': a layer is plane, air, trace, ply, resin, solid or mask%s%s%s", reader->text,
                        nearest ? "; did you mean '" : "", nearest ? nearest : "", nearest ? "'?" : "");
}

static enum ww_status read_cloths(struct reader *reader, const struct ww_weaves *weaves, struct ww_cloths *cloths,
                                  struct ww_error *error)
{
    char word[CLOTHS_SIZE] = "";
    if (!read_word_of(reader, false, word, sizeof word))
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "layer '%.60s' lacks its style; write 'ply STYLE THICKNESS', as in 'ply 1080 100 um'",
                            reader->text);
    return ww_weaves_cloths(weaves, word, cloths, error);
}

/* "takes turn, shift, resin, dk", for messages. */
static const char *list_options(const struct kind *kind, char *out, size_t size)
{
    size_t used = (size_t)snprintf(out, size, "takes %s", kind->allowed ? "" : "none");
    for (int i = 0; i < OPTIONS && used < size; i++)
        if (kind->allowed & HAS(i))
            used +=
                (size_t)snprintf(out + used, size - used, "%s%s", out[used - 1] == ' ' ? "" : ", ", option_name[i]);
    return out;
}

static enum ww_status read_thickness(struct reader *reader, const struct kind *kind, double *thickness,
                                     struct ww_error *error)
{
    const double thinnest = 1e-9, thickest = 10e-3; /* [m] */
    skip_blanks(reader);
    if (!*reader->at)
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "layer '%.60s' lacks its thickness; write it behind the %s, as in '%.60s 100 um'",
                            reader->text, kind->style ? "style" : "kind", reader->text);
    return read_checked(reader, "thickness", WW_LENGTH, thinnest, thickest, thickness, error);
}

static enum option find_option(const char *word)
{
    enum option option = TURN;
    while (option < OPTIONS && strcmp(option_name[option], word) != 0)
        option++;
    return option;
}

/* "key=" with or without blanks around the sign. */
static enum ww_status read_option_name(struct reader *reader, const struct kind *kind, unsigned *seen,
                                       enum option *option, struct ww_error *error)
{
    char word[NAME_SIZE] = "";
    bool got = read_word(reader, true, word);
    skip_blanks(reader);
    if (!got || *reader->at != '=')
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "layer '%.60s': '%.30s' is not understood there; behind the thickness come options such "
                            "as turn=2 deg",
                            reader->text, got ? word : reader->at);
    reader->at++;
    *option = find_option(word);
    if (*option == OPTIONS) {
        const char *nearest = ww_nearest_word(word, option_name, OPTIONS);
        char options[64];
        if (nearest)
            return ww_error_set(error, WW_MALFORMED, NULL, 0,
                                "layer '%.60s': option '%s' is not known; did you mean '%s'?", reader->text, word,
                                nearest);
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "layer '%.60s': option '%s' is not known; %s %s",
                            reader->text, word, kind->name, list_options(kind, options, sizeof options));
    }
    if (!(kind->allowed & HAS(*option)))
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "layer '%.60s': %s takes no '%s'; leave it out",
                            reader->text, kind->name, word);
    if (*seen & HAS(*option))
        return ww_error_set(error, WW_MALFORMED, NULL, 0, "layer '%.60s': '%s' is given twice; keep one",
                            reader->text, word);
    *seen |= HAS(*option);
    return WW_OK;
}

static enum ww_status read_shift(struct reader *reader, struct ww_layer *layer, struct ww_error *error)
{
    const double farthest = 0.1; /* [m]; a shift by whole cells changes nothing, so this much is a slip */
    enum ww_status status = read_checked(reader, "shift", WW_LENGTH, -farthest, farthest, &layer->shift_x, error);
    if (status)
        return status;
    skip_blanks(reader);
    if (*reader->at != ',')
        return ww_error_set(error, WW_MALFORMED, NULL, 0,
                            "layer '%.60s': shift takes two lengths with a comma, as in shift=100 um,50 um",
                            reader->text);
    reader->at++;
    return read_checked(reader, "shift", WW_LENGTH, -farthest, farthest, &layer->shift_y, error);
}

/* A length, or without a unit a share of the ply's thickness. Whether the cloth stays in the ply, laminate checks. */
static enum ww_status read_height(struct reader *reader, struct ww_layer *layer, struct ww_error *error)
{
    const char *start = reader->at;
    double share = 0.0;
    bool is_length = !read_number(reader, "height", WW_LENGTH, &layer->cloth_height, NULL);
    if (!is_length) {
        reader->at = start;
        if (!read_number(reader, "height", WW_PURE, &share, NULL))
            layer->cloth_height = share * layer->thickness;
    }
    if (is_length || (share > 0.0 && share < 1.0))
        return check_range(reader, "height", layer->cloth_height, 1e-9, layer->thickness, WW_LENGTH, error);
    return ww_error_set(
        error, WW_MALFORMED, NULL, 0,
        "layer '%.60s': height takes a share of the ply's thickness, between 0 and 1, or a length with its "
        "unit above the ply's lower face, as in height=0.4 or height=40 um",
        reader->text);
}

static enum ww_status read_option(struct reader *reader, const struct kind *kind, unsigned *seen,
                                  const struct ww_weaves *weaves, struct ww_layer *layer, struct ww_error *error)
{
    char word[NAME_SIZE] = "";
    enum option option = OPTIONS;
    enum ww_status status = read_option_name(reader, kind, seen, &option, error);
    if (status)
        return status;
    switch (option) {
    case TURN:
        return read_checked(reader, "turn", WW_ANGLE, -WW_PI, WW_PI, &layer->turn, error);
    case SHIFT:
        return read_shift(reader, layer, error);
    case HEIGHT:
        return read_height(reader, layer, error);
    case RESIN:
        if (!read_word(reader, false, word))
            return ww_error_set(error, WW_MALFORMED, NULL, 0, "layer '%.60s': resin= lacks its name", reader->text);
        return ww_weaves_resin(weaves, word, &layer->resin, error);
    case DK:
        return read_checked(reader, "dk", WW_PURE, 1.0, 100.0,
                            kind->kind == WW_LAYER_PLY ? &layer->sheet_dk : &layer->dk, error);
    case DF:
        return read_checked(reader, "df", WW_PURE, 0.0, 1.0, &layer->df, error);
    case FREQUENCY:
        return read_checked(reader, "frequency", WW_FREQUENCY, 1e3, 1e12, &layer->frequency, error);
    case OPTIONS:
        break;
    }
    return WW_OK;
}

/* The stackup's resin where the layer needs one and gives none of its own. */
static enum ww_status take_resin(const struct reader *reader, unsigned seen, const struct ww_resin *fallback,
                                 struct ww_layer *layer, struct ww_error *error)
{
    bool ply = layer->kind == WW_LAYER_PLY && !(seen & HAS(RESIN));
    bool resin = layer->kind == WW_LAYER_RESIN && (~seen & (HAS(DK) | HAS(DF)));
    if (!ply && !resin)
        return WW_OK;
    if (!fallback)
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "layer '%.60s' has no resin; add 'resin = NAME' to [stackup]%s", reader->text,
                            ply ? " or 'resin=NAME' to the layer" : " or dk= and df= to the layer");
    if (ply)
        layer->resin = *fallback;
    if (resin && !(seen & HAS(DK)))
        layer->dk = fallback->dk;
    if (resin && !(seen & HAS(DF)))
        layer->df = fallback->df;
    if (resin && !(seen & HAS(FREQUENCY)))
        layer->frequency = fallback->frequency;
    return WW_OK;
}

/* Several cloths in one ply have no height in common, and the data sheet is that of one glass. */
static enum ww_status check_cloths(const struct reader *reader, unsigned seen, const struct ww_cloths *cloths,
                                   struct ww_error *error)
{
    if (cloths->count > 1 && (seen & HAS(HEIGHT)))
        return ww_error_set(error, WW_INVALID, NULL, 0,
                            "layer '%.60s': height= is of one cloth; give each cloth a ply of its own", reader->text);
    for (size_t i = 1; i < cloths->count && (seen & HAS(DK)); i++)
        if (strcmp(cloths->style[i].glass.name, cloths->style[0].glass.name) != 0)
            return ww_error_set(error, WW_INVALID, NULL, 0,
                                "layer '%.60s': dk= of a ply with two glasses; give each glass a ply of its own",
                                reader->text);
    return WW_OK;
}

static enum ww_status read_layer(struct reader *reader, const struct kind *kind, struct ww_layer *layer,
                                 struct ww_cloths *cloths, const struct ww_weaves *weaves,
                                 const struct ww_resin *fallback, struct ww_error *error)
{
    unsigned seen = 0;
    enum ww_status status = kind->style ? read_cloths(reader, weaves, cloths, error) : WW_OK;
    if (!status && kind->thickness)
        status = read_thickness(reader, kind, &layer->thickness, error);
    for (skip_blanks(reader); !status && *reader->at; skip_blanks(reader))
        status = read_option(reader, kind, &seen, weaves, layer, error);
    if (!status && (kind->required & ~seen))
        status = ww_error_set(error, WW_INVALID, NULL, 0, "layer '%.60s' lacks %s; write '%s THICKNESS dk=DK df=DF'",
                              reader->text, seen & HAS(DK) ? "df=" : "dk=", kind->name);
    if (!status)
        status = take_resin(reader, seen, fallback, layer, error);
    return status ? status : check_cloths(reader, seen, cloths, error);
}

enum ww_status ww_layer_read(struct ww_layer *layer, size_t *count, const char *text, const struct ww_weaves *weaves,
                             const struct ww_resin *fallback, struct ww_error *error)
{
    struct reader reader = {text, text};
    const struct kind *kind = NULL;
    struct ww_cloths *cloths = calloc(1, sizeof *cloths);
    struct ww_layer whole = {0};
    *count = 0;
    enum ww_status status =
        cloths ? read_kind(&reader, &kind, error) : ww_error_set(error, WW_NO_MEMORY, NULL, 0, "no memory for a ply");
    if (status)
        goto done;
    whole.kind = kind->kind;
    status = read_layer(&reader, kind, &whole, cloths, weaves, fallback, error);
    if (status)
        goto done;
    *count = cloths->count ? cloths->count : 1;
    layer[0] = whole;
    if (cloths->count)
        status = ww_opening_fill(layer, &whole, cloths->style, cloths->count, error);
done:
    free(cloths);
    if (status)
        *count = 0;
    return status;
}

/* --- what stands beside the trace ------------------------------------------------------------------------------------ */

/* May it flow around the copper, and what is it worth? */
static bool flows(const struct ww_layer *layer, struct ww_layer *trace)
{
    switch (layer->kind) {
    case WW_LAYER_AIR:
        trace->dk = 1.0;
        trace->df = trace->frequency = 0.0;
        return true;
    case WW_LAYER_PLY:
        trace->dk = layer->resin.dk;
        trace->df = layer->resin.df;
        trace->frequency = layer->resin.frequency;
        return true;
    case WW_LAYER_SOLID:
    case WW_LAYER_MASK:
    case WW_LAYER_RESIN:
        trace->dk = layer->dk;
        trace->df = layer->df;
        trace->frequency = layer->frequency;
        return layer->kind != WW_LAYER_SOLID;
    case WW_LAYER_PLANE:
    case WW_LAYER_TRACE:
        break;
    }
    return false;
}

void ww_layers_fill(struct ww_layer *layer, size_t count)
{
    for (size_t i = 1; i + 1 < count; i++) {
        struct ww_layer *trace = &layer[i];
        if (trace->kind == WW_LAYER_TRACE && !flows(trace - 1, trace) && !flows(trace + 1, trace))
            flows(trace - 1, trace); /* solid on both sides: as above */
    }
}

/* --- writing ----------------------------------------------------------------------------------------------------------- */

static void write_number(FILE *stream, const char *before, double value, enum ww_dimension dimension)
{
    char text[NUMBER_TEXT];
    fprintf(stream, "%s%s", before, ww_number_text(text, sizeof text, value, dimension));
}

void ww_layer_write(const struct ww_layer *layer, const struct ww_resin *fallback, FILE *stream)
{
    const struct kind *kind = kinds;
    while (kind->kind != layer->kind)
        kind++;
    fputs(kind->name, stream);
    if (kind->style)
        fprintf(stream, " %s", layer->style.name);
    if (kind->thickness)
        write_number(stream, " ", layer->thickness, WW_LENGTH);
    if (layer->kind == WW_LAYER_PLY) {
        if (layer->turn != 0.0)
            write_number(stream, " turn=", layer->turn, WW_ANGLE);
        if (layer->shift_x != 0.0 || layer->shift_y != 0.0) {
            write_number(stream, " shift=", layer->shift_x, WW_LENGTH);
            write_number(stream, ",", layer->shift_y, WW_LENGTH);
        }
        if (layer->cloth_height > 0.0)
            write_number(stream, " height=", layer->cloth_height, WW_LENGTH);
        if (!fallback || strcmp(layer->resin.name, fallback->name) != 0)
            fprintf(stream, " resin=%s", layer->resin.name);
        if (layer->sheet_dk > 0.0)
            write_number(stream, " dk=", layer->sheet_dk, WW_PURE);
    } else if (kind->thickness) {
        write_number(stream, " dk=", layer->dk, WW_PURE);
        write_number(stream, " df=", layer->df, WW_PURE);
        if (layer->frequency > 0.0)
            write_number(stream, " frequency=", layer->frequency, WW_FREQUENCY);
    }
}
