/* keys.c - the keys of a study: one table that parses, checks, writes and explains.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Adding a key is adding a row (and a field to struct ww_study). The limits are there to catch a slip of the unit;
 * what is physical is judged where the physics is.
 */
#include "study/keys.h"

#include <float.h>
#include <math.h>

#define UM 1e-6
#define MM 1e-3
#define DEG (WW_PI / 180.0)
#define AT(field) offsetof(struct ww_study, field)

const struct ww_study_row ww_study_row[STUDY_KEYS] = {
    {{"study", "title", WW_STUDY_TEXT, WW_PURE, 0.0, 0.0, false, "", "Mezzanine link, layer 3",
      "what figures and tables are titled"},
     AT(title)},
    {{"study", "fineness", WW_STUDY_NUMBER, WW_PURE, 0.25, 4.0, false, "1", "1",
      "grid refinement of cloth and cross-section; 1 is the default, compare with 2 to see convergence"},
     AT(fineness)},
    {{"study", "positions", WW_STUDY_WHOLE, WW_PURE, 16.0, 2048.0, false, "256", "256",
      "start positions along each side of the cell: samples of the maps and of the distribution"},
     AT(positions)},
    {{"study", "sections", WW_STUDY_WHOLE, WW_PURE, 0.0, 26.0, false, "16", "16",
      "start positions along each side of the cell at which full cross-sections are solved; their difference from "
      "the kernel corrects the fast answer; 0: the kernel alone"},
     AT(sections)},

    {{"stackup", "resin", WW_STUDY_NAME, WW_PURE, 0.0, 0.0, false, "", "low-loss",
      "the resin where a layer names none: a [resin NAME] section here, or one of weaves/materials.ini"},
     AT(resin)},
    {{"stackup", "copper", WW_STUDY_NAME, WW_PURE, 0.0, 0.0, false, "", "hvlp",
      "the foil of trace and planes: a [foil NAME] section here, or one of weaves/materials.ini; smooth copper where "
      "left "
      "out"},
     AT(copper)},
    {{"stackup", "layer", WW_STUDY_LAYER, WW_LENGTH, 0.0, 10.0 * MM, true, "", "ply 1080 100 um",
      "one line for each layer, top to bottom as a fabricator draws them; plane on top: stripline, air: microstrip"},
     0},

    {{"trace", "width", WW_STUDY_NUMBER, WW_LENGTH, 1.0 * UM, 10.0 * MM, true, "", "100 um",
      "of the copper, of each leg of a pair"},
     AT(trace.width)},
    {{"trace", "thickness", WW_STUDY_NUMBER, WW_COPPER, 0.0, 200.0 * UM, true, "", "15 um",
      "of the copper; also in oz, 35 um each before etching and plating"},
     AT(trace.thickness)},
    {{"trace", "pitch", WW_STUDY_NUMBER, WW_LENGTH, 2.0 * UM, 20.0 * MM, false, "", "220 um",
      "of a pair, centre to centre; leave it out for a single trace"},
     AT(trace.pitch)},
    {{"trace", "length", WW_STUDY_NUMBER, WW_LENGTH, 10.0 * UM, 10.0, true, "", "50 mm",
      "of a straight trace; left out where there is a [route]"},
     AT(length)},
    {{"trace", "angle", WW_STUDY_NUMBER, WW_ANGLE, -WW_PI, WW_PI, false, "0 deg", "0 deg",
      "from the warp towards the fill; turns a route as a whole"},
     AT(angle)},

    {{"route", "segment", WW_STUDY_SEGMENT, WW_LENGTH, 1.0 * UM, 10.0, false, "", "20 mm 0 deg",
      "one line for each straight segment, in order: its length, and its angle from the warp; left out for a "
      "straight "
      "trace"},
     0},

    {{"route", "compensated", WW_STUDY_SWITCH, WW_PURE, 0.0, 0.0, false, "no", "yes",
      "yes: the layout gives back what the legs of a pair differ by in length at the bends; no: it is skew and "
      "counts in worst, "
      "chances, budget and lanes, not in mode conversion"},
     AT(compensated)},

    {{ARM_SECTION, "from", WW_STUDY_PLACE, WW_LENGTH, -1.0, 1.0, false, "", "3 mm, 1.2 mm",
      "one more arm of a feed on the same cloth, by name: where it starts, off the start of the trace or route "
      "above, "
      "to the right (across the warp) and up (along it) where trace.angle is 0; trace.angle turns all of it"},
     0},
    {{ARM_SECTION, "segment", WW_STUDY_SEGMENT, WW_LENGTH, 1.0 * UM, 10.0, false, "", "20 mm 0 deg",
      "of this arm, as those of the route. How far the arms' delays lie apart is told, and --gate judges by it"},
     0},

    {{"fabric", "turn", WW_STUDY_SPREAD, WW_ANGLE, 0.0, 45.0 * DEG, false, "1 deg", "2 deg",
      "how far the cloth may lie off square, either way; all angles alike, or with 'normal' behind it three standard "
      "deviations, cut there. Cloth lies within 1 to 2 deg of the panel's edge (common practice, no source)"},
     AT(turn)},
    {{"fabric", "count_tolerance", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "0 %", "1 %",
      "by how much of themselves the cloth's yarn counts may be off, either way, warp and fill each on its own"},
     AT(count_tolerance)},
    {{"fabric", "count_tolerance.warp", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "", "1 %",
      "that of the warp count, where it differs"},
     AT(warp_tolerance)},
    {{"fabric", "count_tolerance.fill", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "", "1 %",
      "that of the fill count, where it differs"},
     AT(fill_tolerance)},
    {{"fabric", "height_uncertainty", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 1.0, false, "50 %", "50 %",
      "by how much of the resin between the cloth and the nearer face of its ply the cloth may lie off its height, "
      "for the range of the answer"},
     AT(height_uncertainty)},
    {{"fabric", "wander", WW_STUDY_NUMBER, WW_LENGTH, 0.0, 1.0 * MM, false, "", "40 um",
      "real cloth, for 'weftwise cloth': standard deviation of a yarn's path across itself. No scatter of glass "
      "cloth is "
      "published as far as is known here; of carbon twill: paths normal, neighbours highly correlated, correlation "
      "gone after 20 "
      "to 100 mm along the yarn, weft worse than warp (Skordos and Sutcliffe 2008). Each of these keys may have "
      ".warp or .fill "
      "behind it"},
     AT(yarn_scatter.wander)},
    {{"fabric", "wander.warp", WW_STUDY_NUMBER, WW_LENGTH, 0.0, 1.0 * MM, false, "", "60 um",
      "that of the warp, where it differs"},
     AT(scatter.yarn[WW_WARP].wander)},
    {{"fabric", "wander.fill", WW_STUDY_NUMBER, WW_LENGTH, 0.0, 1.0 * MM, false, "", "60 um",
      "that of the fill, where it differs"},
     AT(scatter.yarn[WW_FILL].wander)},
    {{"fabric", "wander_length", WW_STUDY_NUMBER, WW_LENGTH, 1.0 * MM, 1.0, false, "30 mm", "30 mm",
      "along the yarn, at which the correlation of its path, exp(-(s/length)^2), is 1/e; also that of its width"},
     AT(yarn_scatter.wander_length)},
    {{"fabric", "wander_length.warp", WW_STUDY_NUMBER, WW_LENGTH, 1.0 * MM, 1.0, false, "", "20 mm",
      "that of the warp, where it differs"},
     AT(scatter.yarn[WW_WARP].wander_length)},
    {{"fabric", "wander_length.fill", WW_STUDY_NUMBER, WW_LENGTH, 1.0 * MM, 1.0, false, "", "20 mm",
      "that of the fill, where it differs"},
     AT(scatter.yarn[WW_FILL].wander_length)},
    {{"fabric", "together", WW_STUDY_NUMBER, WW_PURE, 0.0, 1.0, false, "0.9", "0.9",
      "correlation of the paths of neighbours, of the n-th neighbour its n-th power"},
     AT(yarn_scatter.together)},
    {{"fabric", "together.warp", WW_STUDY_NUMBER, WW_PURE, 0.0, 1.0, false, "", "0.8",
      "that of the warp, where it differs"},
     AT(scatter.yarn[WW_WARP].together)},
    {{"fabric", "together.fill", WW_STUDY_NUMBER, WW_PURE, 0.0, 1.0, false, "", "0.8",
      "that of the fill, where it differs"},
     AT(scatter.yarn[WW_FILL].together)},
    {{"fabric", "width_variation", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "", "3 %",
      "standard deviation of a yarn's width, each yarn on its own; a wider yarn is as much flatter (carbon twill: 2 "
      "to 3 %)"},
     AT(yarn_scatter.width_variation)},
    {{"fabric", "width_variation.warp", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "", "3 %",
      "that of the warp, where it differs"},
     AT(scatter.yarn[WW_WARP].width_variation)},
    {{"fabric", "width_variation.fill", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.1, false, "", "3 %",
      "that of the fill, where it differs"},
     AT(scatter.yarn[WW_FILL].width_variation)},
    {{"fabric", "bunching", WW_STUDY_NUMBER, WW_PURE, 0.0, 0.5, false, "", "0.05",
      "warp ends drawn together, in pairs: two are nearer by this share of the pitch, and the next pair as much "
      "farther"},
     AT(scatter.bunching)},
    {{"fabric", "bunching_ends", WW_STUDY_WHOLE, WW_PURE, 2.0, 3.0, false, "2", "3",
      "ends that are drawn together: pairs, or triples, of which the next one is twice as much farther"},
     AT(scatter.bunching_ends)},
    {{"fabric", "bow", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.2, false, "", "1 %",
      "depth of the arc in which the fill crosses the panel, a share of the panel's width"},
     AT(scatter.bow)},
    {{"fabric", "hook", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 0.2, false, "", "0.5 %",
      "by which share of the panel's width the fill turns up over the last quarter of it"},
     AT(scatter.hook)},
    {{"fabric", "panel", WW_STUDY_NUMBER, WW_LENGTH, 10.0 * MM, 3.0, false, "500 mm", "500 mm",
      "width of the panel across the warp, for bow and hook"},
     AT(scatter.panel)},
    {{"fabric", "paths", WW_STUDY_FILE, WW_PURE, 0.0, 0.0, false, "", "paths.ini",
      "the very cloth of a picture, for 'weftwise cloth', in place of wander and the like: the file that 'weftwise "
      "measure' "
      "writes, in the study's folder or below it. Every ply then is of the style that was measured"},
     AT(paths)},
    {{"fabric", "seed", WW_STUDY_WHOLE, WW_PURE, 0.0, 1e9, false, "1", "1",
      "of the random numbers that draw real cloth, or places on measured cloth: the same seed draws the same"},
     AT(scatter.seed)},

    {{"signal", "rate", WW_STUDY_NUMBER, WW_RATE, 1e6, 1e12, false, "", "112 Gb/s",
      "bits per second of the lane: skew is then also a share of its unit interval"},
     AT(rate)},
    {{"signal", "levels", WW_STUDY_WHOLE, WW_PURE, 2.0, 16.0, false, "2", "4",
      "of the signal, a power of two: with 4, a symbol carries two bits and the unit interval is twice as long. "
      "Usual: 2 "
      "up to 56 Gb/s, 4 for 112 Gb/s"},
     AT(levels)},
    {{"signal", "lanes", WW_STUDY_WHOLE, WW_PURE, 1.0, 100000.0, false, "1", "16",
      "pairs that must all meet the budget, or single traces that must all lie within it of each other: the yield is "
      "given, and the worst of them on average"},
     AT(lanes)},
    {{"signal", "lane_pitch", WW_STUDY_NUMBER, WW_LENGTH, 2.0 * UM, 1.0, false, "", "0.8 mm",
      "of lanes side by side on the same cloth, centre to centre; left out, their places are independent"},
     AT(lane_pitch)},
    {{"signal", "spacing", WW_STUDY_NUMBER, WW_LENGTH, 2.0 * UM, 1.0, false, "", "1.9 mm",
      "of two equal traces or pairs side by side on the same cloth, centre to centre: how far their delays differ; "
      "left "
      "out, two traces lie anywhere, places independent"},
     AT(spacing)},
    {{"signal", "frequency", WW_STUDY_NUMBER, WW_FREQUENCY, 1e6, 1e13, false, "", "28 GHz",
      "skew and spread are then also degrees of phase"},
     AT(frequency)},
    {{"signal", "dispersion", WW_STUDY_SWITCH, WW_PURE, 0.0, 0.0, false, "yes", "yes",
      "of bare microstrip: delay and skew at the frequency, or else at half the symbol rate; no: static"},
     AT(dispersion)},
    {{"signal", "budget", WW_STUDY_NUMBER, WW_TIME, 1e-15, 1e-9, false, "", "2 ps",
      "what skew may be: the chance to exceed it is given, and --gate judges by it; also as '20 deg' of phase at the "
      "frequency, or as '0.1 UI' of the unit interval"},
     AT(budget)},
    {{"signal", "conversion", WW_STUDY_NUMBER, WW_LEVEL, -100.0, -0.1, false, "", "-20 dB",
      "what a pair may convert of its odd to its even mode, |Scd21| at half the symbol rate or else at frequency; "
      "--gate "
      "judges by it, too"},
     AT(conversion)},
    {{"signal", "elements", WW_STUDY_WHOLE, WW_PURE, 1.0, 100000.0, false, "1", "4",
      "equal feeds of an array: the phase error of its elements is given, and what it costs in gain and pointing"},
     AT(elements)},

    {{"tolerance", "resin.dk", WW_STUDY_TOLERANCE, WW_PURE, 0.0, 10.0, false, "", "0.05 normal boards",
      "Dk of the resin, either way. Each tolerance may have a law (uniform, or normal: three standard deviations) "
      "and a "
      "scope: board (differs within one), boards (from board to board), life; else uniform, and what is usual"},
     AT(tolerance.resin_dk)},
    {{"tolerance", "glass.dk", WW_STUDY_TOLERANCE, WW_PURE, 0.0, 10.0, false, "", "0.1 normal boards",
      "Dk of the glass"},
     AT(tolerance.glass_dk)},
    {{"tolerance", "laminate.dk", WW_STUDY_TOLERANCE, WW_PURE, 0.0, 10.0, false, "", "0.05 normal boards",
      "Dk of the laminate, as its sheet states it, in place of resin and glass; 0.05 is good (common practice, no "
      "source)"},
     AT(tolerance.laminate_dk)},
    {{"tolerance", "thickness", WW_STUDY_TOLERANCE, WW_FRACTION, 0.0, 0.9, false, "", "8 % uniform boards",
      "pressed thickness of plies, resin and solid layers, all alike; resin refills the plies, so their Dk follows. "
      "No "
      "classes of the trade are shipped, for want of a source: give the fabricator's figure"},
     AT(tolerance.thickness)},
    {{"tolerance", "resin_content", WW_STUDY_TOLERANCE, WW_FRACTION, 0.0, 0.9, false, "", "2 % normal boards",
      "resin of the plies by weight, in parts of the ply, in place of thickness: the same variable"},
     AT(tolerance.resin_content)},
    {{"tolerance", "trace.width", WW_STUDY_TOLERANCE, WW_LENGTH, 0.0, 1.0 * MM, false, "", "10 um uniform board",
      "etched width; the pitch of a pair stays, so its gap moves by as much the other way"},
     AT(tolerance.width)},
    {{"tolerance", "trace.gap", WW_STUDY_TOLERANCE, WW_LENGTH, 0.0, 1.0 * MM, false, "", "5 um uniform board",
      "gap of a pair beyond what its width makes of it: its pitch"},
     AT(tolerance.gap)},
    {{"tolerance", "trace.thickness", WW_STUDY_TOLERANCE, WW_LENGTH, 0.0, 0.1 * MM, false, "", "3 um uniform boards",
      "copper thickness"},
     AT(tolerance.copper)},
    {{"tolerance", "foil.rz", WW_STUDY_TOLERANCE, WW_LENGTH, 0.0, 0.1 * MM, false, "", "0.5 um normal boards",
      "roughness of the foil, peak to valley; it needs a rough [stackup] copper and a frequency"},
     AT(tolerance.foil)},
    {{"tolerance", "temperature", WW_STUDY_RANGE, WW_TEMPERATURE, -273.15, 1000.0, false, "",
      "-40 degC to 125 degC life", "range of the board; it needs a tcdk or the expansion"},
     AT(tolerance.temperature)},
    {{"tolerance", "temperature.reference", WW_STUDY_NUMBER, WW_TEMPERATURE, -273.15, 1000.0, false, "23 degC",
      "23 degC", "at which the study's figures hold"},
     AT(tolerance.reference)},
    {{"tolerance", "resin.tcdk", WW_STUDY_NUMBER, WW_PER_DEGREE, -0.01, 0.01, false, "", "-60 ppm/degC",
      "change of the resin's Dk with temperature; up to 50 ppm/degC either way is good (common practice, no source)"},
     AT(tolerance.resin_tcdk)},
    {{"tolerance", "glass.tcdk", WW_STUDY_NUMBER, WW_PER_DEGREE, -0.01, 0.01, false, "", "80 ppm/degC",
      "change of the glass's Dk with temperature"},
     AT(tolerance.glass_tcdk)},
    {{"tolerance", "expansion", WW_STUDY_NUMBER, WW_PER_DEGREE, -0.001, 0.001, false, "", "16 ppm/degC",
      "in the plane of the board: the trace grows with it"},
     AT(tolerance.expansion)},
    {{"tolerance", "moisture", WW_STUDY_TOLERANCE, WW_FRACTION, 0.0, 0.2, false, "", "0.1 % uniform life",
      "water the laminate takes up at saturation, of its dry weight; from dry to moisture.state"},
     AT(tolerance.moisture)},
    {{"tolerance", "moisture.state", WW_STUDY_NUMBER, WW_FRACTION, 0.0, 1.0, false, "100 %", "100 %",
      "how wet the board gets: dry, saturated, or a share of saturation"},
     AT(tolerance.moisture_state)},
    {{"tolerance", "moisture.dk", WW_STUDY_NUMBER, WW_PURE, 0.0, 10.0, false, "", "0.02",
      "measured change of the laminate's Dk at saturation, in place of the mixing rule"},
     AT(tolerance.moisture_dk)},
    {{"tolerance", "moisture.df", WW_STUDY_NUMBER, WW_PURE, 0.0, 1.0, false, "", "0.001",
      "measured change of its Df, likewise"},
     AT(tolerance.moisture_df)},
    {{"tolerance", "between", WW_STUDY_SCOPE, WW_PURE, 0.0, 0.0, false, "life", "boards",
      "between which circuits the budget is judged: two of one board, of two boards, or two over life"},
     AT(tolerance.between)},

    {{"via", "diameter", WW_STUDY_NUMBER, WW_LENGTH, 5.0 * UM, 1.0 * MM, false, "", "100 um",
      "of a laser beam that drills through the plies: map tells how much glass it meets"},
     AT(via_diameter)},
};

bool ww_study_has_tolerances(const struct ww_study *study)
{
    for (size_t i = 0; i < STUDY_KEYS; i++) {
        const struct ww_study_row *row = &ww_study_row[i];
        if ((row->key.kind == WW_STUDY_TOLERANCE || row->key.kind == WW_STUDY_RANGE) &&
            ((const struct ww_tolerance *)((const char *)study + row->offset))->given)
            return true;
    }
    return false;
}

static const struct ww_study_form form[] = {
    {"plane", "copper, at the top or the bottom"},
    {"air", "open air, at the top only: a microstrip"},
    {"trace", "where the trace or pair lies; what stands beside it is the mask, the resin or the air above it, "
              "under a solid layer the resin beneath"},
    {"ply STYLE THICKNESS [turn=ANGLE] [shift=DX,DY] [height=SHARE|LENGTH] [resin=NAME] [dk=DK]",
     "cloth in resin, pressed thickness; STYLE may be of another glass, 1080/NE, or several cloths on each other, "
     "2x1035 or "
     "1035+1078, each of which lies as it comes; turn and shift lay the cloth otherwise, height puts its middle at a "
     "share "
     "of the "
     "thickness (0.5 where left out) or a length above the ply's lower face; dk is the data sheet's, and the "
     "resin's is then solved from it"},
    {"resin THICKNESS [dk=DK] [df=DF] [frequency=F]", "resin without cloth; dk and df, and the frequency at which "
                                                      "they hold, are the stackup's resin's where left out"},
    {"solid THICKNESS dk=DK df=DF [frequency=F]", "anything else without a weave"},
    {"mask THICKNESS dk=DK df=DF [frequency=F]", "solder mask"},
};

bool ww_study_row_is_scatter(const struct ww_study_row *row)
{
    return row->offset >= AT(scatter) && row->offset < AT(yarn_scatter) + sizeof(struct ww_yarn_scatter);
}

const struct ww_study_key *ww_study_key(size_t index)
{
    return index < STUDY_KEYS ? &ww_study_row[index].key : NULL;
}

const struct ww_study_form *ww_study_form(size_t index)
{
    return index < sizeof form / sizeof *form ? &form[index] : NULL;
}

bool ww_study_key_repeats(const struct ww_study_key *key)
{
    return key->kind == WW_STUDY_LAYER || key->kind == WW_STUDY_SEGMENT;
}

const char *ww_law_name(enum ww_law law)
{
    return law == WW_NORMAL ? "normal" : "uniform";
}

/* The shortest text of at most that many digits that reads back within `close` of value; false if none does. */
static bool text_within(char *out, size_t size, double value, enum ww_dimension dimension, int digits, double close)
{
    for (int count = 3; count <= digits; count++) {
        double back = 0.0;
        ww_number_format(out, size, value, dimension, count);
        if (ww_number_parse(out, dimension, &back, NULL) == WW_OK && fabs(back - value) <= close)
            return true;
    }
    return false;
}

/* Rounding may leave a figure that somebody typed a last place off: its short text is the better one. What was computed
 * keeps every digit (17 tell any two doubles apart). */
char *ww_number_text(char *out, size_t size, double value, enum ww_dimension dimension)
{
    const double rounding = 2.0 * DBL_EPSILON * fabs(value);
    if (!text_within(out, size, value, dimension, 12, rounding) && !text_within(out, size, value, dimension, 17, 0.0))
        text_within(out, size, value, dimension, 17, rounding);
    return out;
}
