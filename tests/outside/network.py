#!/usr/bin/python3
"""Lines over frequency against scikit-rf: its lines of distributed R, L, G, C, cascaded, and its reader of Touchstone.

SPDX-License-Identifier: GPL-3.0-or-later

    network.py DUMP PROGRAM STUDY

- A uniform lossy trace: twenty lines of the same R, L, G, C: 1e-9 in S.
- A lossless trace over cloth: 4000 lines with the capacitance that the scan tells along the path: 1e-4 in S, for sections
  are second order in their length.
- The file of a pair, read back: passive (largest singular value at most 1 + 1e-9), reciprocal to 1e-12, ports named, port 3
  through from port 1; and causal: the impulse response before the line's delay stays below -60 dB.
"""
import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

for name in ("bool", "complex", "float", "int", "object"):  # gone from NumPy 1.24, which scikit-rf 0.15.4 does not know
    if name not in np.__dict__:
        setattr(np, name, {"bool": bool, "complex": complex, "float": float, "int": int, "object": object}[name])
import skrf  # noqa: E402
from skrf.media import DistributedCircuit  # noqa: E402

wrong = 0


def check(what, value, allowed):
    global wrong
    bad = not value <= allowed
    wrong += bad
    print(f"{what}: {value:.3g}, allowed {allowed:g}{'  WRONG' if bad else ''}", flush=True)


def scattering(of):
    return (np.array(of["re"]) + 1j * np.array(of["im"])).reshape(-1, 2, 2)



def abcd_of(frequency, r, l, g, c, length):
    """ABCD of a section, by scikit-rf's own gamma and Z0."""
    media = DistributedCircuit(frequency=frequency, C=c, L=l, R=r, G=g)
    gamma, z = media.gamma, media.Z0
    return np.array([[np.cosh(gamma * length), z * np.sinh(gamma * length)],
                     [np.sinh(gamma * length) / z, np.cosh(gamma * length)]]).transpose(2, 0, 1)


def ports_of_50(chain):
    return skrf.network.a2s(chain, 50 * np.ones((len(chain), 2)))


def main():
    dump = json.loads(subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout)
    f = np.array(dump["frequency"])
    frequency = skrf.Frequency.from_f(f, unit="hz")

    of = dump["uniform"]
    r, l, g, c = (np.array(of[k]) for k in "rlgc")
    section = abcd_of(frequency, r, l, g, c, of["length"] / 20)
    s = ports_of_50(np.linalg.matrix_power(section, 20))
    check("uniform trace, S less the cascade", np.abs(s - scattering(of)).max(), 1e-9)

    of = dump["cloth"]
    along, l = np.array(of["along"]), of["l"][0]
    chain = np.broadcast_to(np.eye(2), (len(f), 2, 2)).astype(complex)
    for one in along:
        chain = chain @ abcd_of(frequency, 0, l, 0, one, of["length"] / len(along))
    s = ports_of_50(chain)
    check("trace over cloth, S less the cascade", np.abs(s - scattering(of)).max(), 1e-4)
    mean = ports_of_50(abcd_of(frequency, 0, l, 0, along.mean(), of["length"]))
    check("1e-3 over what the cloth changes there", 1e-3 / np.abs(s - mean).max(), 1)

    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([sys.argv[2], "frequency", sys.argv[3], "-o", folder, "--quiet", "--band", "25 MHz..100 GHz",
                        "--points", "4000", "--set", "trace.length=20 mm"], check=True)
        net = skrf.Network(str(Path(folder) / "line.s4p"))
    check("pair, largest singular value less 1", np.linalg.svd(net.s, compute_uv=False).max() - 1, 1e-9)
    check("pair, S less its transpose", np.abs(net.s - net.s.transpose(0, 2, 1)).max(), 1e-12)
    names = getattr(net, "port_names", None) or []
    check("pair, ports without their names", sum(a != b for a, b in zip(
        names, ["leg1_near", "leg2_near", "leg1_far", "leg2_far"])) + 4 - len(names), 0)
    check("pair, |S31| below that of S41 at the low end", abs(net.s[0, 3, 0]) - abs(net.s[0, 2, 0]), 0)
    # impulse response of a smooth window over the band; frequencies are 25 MHz apart from 25 MHz on, so that 0 is one before
    s31 = np.concatenate([[net.s[0, 2, 0].real], net.s[:, 2, 0]])
    window = np.cos(np.linspace(0, np.pi / 2, len(s31))) ** 2
    impulse = np.abs(np.fft.irfft(s31 * window))
    step = 1 / (2 * (len(impulse) // 2) * 25e6)
    delay = np.argmax(impulse) * step
    rise = 6 / 100e9  # of the window
    early = impulse[:max(1, int((delay - rise) / step) - 20)]
    check("pair, precursor before the delay, dB under the peak", 20 * np.log10(early.max() / impulse.max()), -60)
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
