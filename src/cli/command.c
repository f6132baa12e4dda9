/* command.c - the table of commands.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include "command.h"

#include "run.h"

#include <assert.h>

const struct command command[] = {
    {"styles", STYLES, "[NAME]", "which fabrics are there, what is each made of, where does each figure come from?",
     "", 0, 1, false, styles_run},
    {"new", NEW, "FILE", "a commented study to start from", "FILE, which must not exist.", 1, 1, true, new_run},
    {"map", MAP, "STUDY", "how uneven is the dielectric?",
     "dk-plyN.png, the Dk map of each ply with the trace to scale, and the map itself as dk-plyN.npy and "
     "dk-plyN-data.png. With [via] diameter via-plyN.png, the glass that a laser beam meets over where it drills, "
     "and "
     "the map itself as via-plyN.npy and via-plyN-data.png.",
     1, 1, true, map_run},
    {"skew", SKEW, "STUDY", "how bad can this pair be, where, and how likely?",
     "skew.json, the result; skew-plyN.png, skew over the position of the cloth, and the map itself as skew-plyN.npy "
     "and skew-plyN-data.png; profile.png, Dk and running skew along the worst trace; distribution.png; and "
     "dk-plyN.png as map does. A single trace has its difference from an equal one in place of skew, and "
     "spacing.png, the "
     "worst of it over the spacing of the two; lanes with a budget have lanes.png, the yield over their pitch. Arms "
     "of a feed ([route NAME]) are solved together, on one cloth, and judged by --gate: arms.png, how far they lie "
     "apart.",
     1, 1, true, skew_run},
    {"verify", VERIFY, "STUDY", "can these numbers be trusted?",
     "verify.json, the result; section.png, the field of the worst cross-section over the cloth; along.png, kernel, "
     "sections and volume along one period of the cloth (along-plyN.png of each ply in turn where they share none).",
     1, 1, true, verify_run},
    {"angles", ANGLES, "STUDY", "which routing angles are safe?",
     "angles.json, the result; angles.png, worst, p99, median and the figure to design by over angle, and "
     "angles.csv, the same as a table; conversion.png, mode conversion of a pair over angle; lengths.png, the worst "
     "over angle and length, with lengths.npy, lengths-angle.csv and lengths-length.csv, its data and axes.",
     1, 1, true, angles_run},
    {"compare", COMPARE, "STUDY STYLE...", "which glass?",
     "compare.json, the result; compare.png, the styles by their worst, with the distribution, and compare.csv, the "
     "same as a table; compare-angles.png, the figure to design by over angle, and compare-angles.csv; "
     "compare-dk.png, the Dk maps side by side. STYLE is a style, or all; 2116/NE is one with its filaments of "
     "another glass, 2x1035 has two cloths in each ply. Where no number is given there are as many, up to three, as "
     "keep "
     "the resin content nearest. Plies keep their thickness, and resin refills them. The study's own stackup is the "
     "first "
     "row. Styles told as resin-rich or resin-starved are not what a fabricator presses. --gate exits with 1 where "
     "none "
     "of the others meets the budget.",
     2, 4096, true, compare_run},
    {"pitch", PITCH, "STUDY", "which pair pitch and trace width null the skew?",
     "pitch.json, the result; pitch.png, the worst over pitch and width, with pitch.npy (rows are widths, -1 where "
     "legs touch) and pitch.csv, its data and axes; null.png, how fast a null is lost with angle and with "
     "the cloth's count, and null.csv. Of a single trace, over its width. --gate exits with 1 where even the deepest "
     "null is over the budget.",
     1, 1, true, pitch_run},
    {"frequency", FREQUENCY, "STUDY", "what does the line lose, and where does the cloth reflect?",
     "line.s2p or of a pair line.s4p, Touchstone 1.1, ports of 50 ohm; with --count line-001.s4p and on; "
     "frequency.json, "
     "the result; frequency.csv, the curves; frequency.png, loss, conversion and reflection over frequency with the "
     "band "
     "over placements; phase.png, phase against the mean line; notch.png, what the cloth reflects over routing angle "
     "and frequency, rms over its places, with notch.npy (rows are frequencies; amplitudes), notch-angle.csv and "
     "notch-frequency.csv, its data and axes.",
     1, 1, true, frequency_run},
    {"budget", BUDGET, "STUDY", "what makes two circuits differ, and what is worth paying for?",
     "budget.json, the result, and budget.csv, its table; budget.png, every cause that [tolerance] gives as a bar, "
     "and the whole beneath, worst "
     "and "
     "likely, between two circuits of one board, of two boards, and over life; budget-distribution.png; and "
     "budget-temperature.png, phase over temperature. --gate exits "
     "with 1 "
     "where 99 of 100 of the difference that tolerance.between names, or of a pair's skew, are over the budget.",
     1, 1, true, budget_run},
    {"cloth", CLOTH, "STUDY", "what will a long trace see of cloth whose yarns wander?",
     "cloth.json, the result; cloth.png, skew over length, the bound of perfect cloth and what real boards have, and "
     "cloth.csv, the same as a table; cloth-place.png, skew over where the trace starts on one board, and "
     "cloth-plyN.png, "
     "the Dk under it where it is worst; cloth-lanes.png, how alike traces side by side are; with lanes or --nets "
     "cloth-panel.png, the worst of all nets of a panel. The study's [fabric] says how the yarns wander, or has a "
     "picture's "
     "paths, over which the trace is straight. Along a [route] lengths are those of its first part. The arms of a "
     "feed ([route NAME]) are told together, as skew does; all else is of the first. --gate exits with 1 where 99 of "
     "100, of a feed of its arms together, turn included, are over the budget.",
     1, 1, true, cloth_run},
    {"report", REPORT, "STUDY", "all of it for a design review, on one page",
     "report.html, a page that needs nothing beside it, and report.json; and the files of the other commands, of "
     "which it is made. All in a folder 'report' of the output folder, where they replace no other command's.",
     1, 1, true, report_run},
    {"measure", MEASURE, "PICTURE", "which cloth is on this picture?",
     "style.ini, the cloth as a style's section to copy into a study, each figure with its source and uncertainty; "
     "paths.ini, where its yarns lie, for 'cloth' to lay a ply of this very cloth: copy it beside a study of that "
     "style, and name it in [fabric] as paths; measure.json, the result; yarns.png, the picture with the yarns drawn "
     "over it as they were followed; "
     "spectrum.png, its "
     "spectrum with the lines of warp and fill marked. PICTURE is a PNG or a JPEG of plain cloth from above, four "
     "yarns or more each way, five pixels or more to a yarn, yarns lighter than gaps. The family nearer to upright "
     "is taken as "
     "the warp: no picture tells which it is. Its turn is told anticlockwise.",
     1, 1, false, measure_run},
    {"recall", RECALL, "FIGURE", "which study made this figure?",
     "the study on standard output, and no file: saved as one, it makes the same figure again.", 1, 1, false,
     recall_run},
    {"help", HELP, "[TOPIC]", "a command explained, or with 'study' the keys of a study", "", 0, 1, false, NULL},
};
const size_t commands = sizeof command / sizeof *command;
static_assert(sizeof command / sizeof *command <= COMMANDS_MOST, "COMMANDS_MOST is too small");
