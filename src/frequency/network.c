/* network.c - S-parameters: mixed mode, and the file that others read.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 *
 * Touchstone 1.1 (EIA/IBIS Open Forum, Touchstone File Format Specification Rev 1.1, 2002): ASCII; comments from '!' on; one option
 * line; two ports as S11 S21 S12 S22 on one line, four ports a row to a line. Readers differ in what they take: the option
 * line has the fixed order of the specification's examples, and comments with the ports follow it.
 */
#include "weftwise/frequency.h"

#include <math.h>
#include <stdlib.h>

#define MOST_POINTS 1000000

void ww_network_clear(struct ww_network *network)
{
    free(network->frequency);
    free(network->s);
    *network = (struct ww_network){0};
}

struct ww_mixed ww_network_mixed(const struct ww_network *network, size_t index)
{
    const double _Complex *s = network->s + index * network->ports * network->ports;
    if (network->ports == 2)
        return (struct ww_mixed){.dd11 = s[0], .dd21 = s[2]};
    const double _Complex *near = s, *far = s + 8; /* rows of ports 1 and 2, and of 3 and 4; columns 1 and 2 */
    return (struct ww_mixed){.dd11 = 0.5 * (near[0] - near[1] - near[4] + near[5]),
                             .dd21 = 0.5 * (far[0] - far[1] - far[4] + far[5]),
                             .cd11 = 0.5 * (near[0] - near[1] + near[4] - near[5]),
                             .cd21 = 0.5 * (far[0] - far[1] + far[4] - far[5]),
                             .cc11 = 0.5 * (near[0] + near[1] + near[4] + near[5]),
                             .cc21 = 0.5 * (far[0] + far[1] + far[4] + far[5])};
}

static void write_comment(const char *text, FILE *stream)
{
    bool start = true;
    for (; text && *text; text++) {
        if (start)
            fputs("! ", stream);
        start = *text == '\n';
        unsigned char c = (unsigned char)*text;
        fputc(start || (c >= 0x20 && c < 0x7F) ? c : '?', stream);
    }
    if (!start)
        fputc('\n', stream);
}

static void write_value(double _Complex s, FILE *stream)
{
    fprintf(stream, " %.16E %.16E", creal(s), cimag(s));
}

static void write_point(const struct ww_network *network, size_t i, FILE *stream)
{
    const double _Complex *s = network->s + i * network->ports * network->ports;
    fprintf(stream, "%.16E", network->frequency[i]);
    for (size_t place = 0; place < network->ports * network->ports; place++) {
        if (network->ports > 2 && place > 0 && place % network->ports == 0)
            fputc('\n', stream);
        write_value(network->ports == 2 ? s[place % 2 * 2 + place / 2] : s[place], stream);
    }
    fputc('\n', stream);
}

enum ww_status ww_network_write_touchstone(const struct ww_network *network, const char *note, FILE *stream,
                                           struct ww_error *error)
{
    static const char *const single[] = {"near", "far"};
    static const char *const pair[] = {"leg1_near", "leg2_near", "leg1_far", "leg2_far"};
    if (network->ports != 2 && network->ports != 4)
        return ww_error_set(error, WW_INVALID, NULL, 0, "a network of %zu ports; a file takes 2 or 4",
                            network->ports);
    write_comment(note, stream);
    fprintf(stream, "# Hz S RI R %g\n", network->z0);
    for (size_t port = 0; port < network->ports; port++)
        fprintf(stream, "! Port[%zu] = %s\n", port + 1, network->ports == 2 ? single[port] : pair[port]);
    for (size_t i = 0; i < network->count; i++)
        write_point(network, i, stream);
    return ferror(stream) ? ww_error_set(error, WW_IO, NULL, 0, "the stream takes no more") : WW_OK;
}

enum ww_status ww_frequency_steps(double from, double to, size_t points, double delay, double *frequency,
                                  struct ww_error *error)
{
    if (points < 2 || points > MOST_POINTS)
        return ww_error_set(error, WW_INVALID, NULL, 0, "%zu frequencies; give 2 to %d points", points, MOST_POINTS);
    if (!(from >= WW_DEBYE_LEAST && to > from && to <= WW_DEBYE_MOST))
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "frequencies from %.6g Hz to %.6g Hz are outside the law of the materials; give an ascending "
            "band within 10 kHz to 1 THz",
            from, to);
    double step = (to - from) / (double)(points - 1);
    if (step * delay >= 0.5)
        return ww_error_set(
            error, WW_INVALID, NULL, 0,
            "a step of %.4g MHz turns the phase of this line by half a turn or more; give at least %.0f "
            "points, steps below %.4g MHz",
            step * 1e-6, floor((to - from) * delay * 2) + 2, 0.5e-6 / delay);
    for (size_t i = 0; i < points; i++)
        frequency[i] = from + step * (double)i;
    frequency[points - 1] = to;
    return WW_OK;
}
