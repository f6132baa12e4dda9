#!/usr/bin/python3
"""Lines over frequency against scikit-rf: its lines of distributed R, L, G, C, cascaded, and its reader of Touchstone.

SPDX-License-Identifier: GPL-3.0-or-later

    network.py DUMP PROGRAM STUDY

- A uniform lossy trace: twenty lines of the same R, L, G, C: 1e-9 in S.
- A lossless trace over cloth: 4000 lines with the capacitance that the scan tells along the path: 1e-4 in S, for sections
  are second order in their length.
- The files of a pair between planes and of a bare one, read back: passive (largest singular value at most 1 + 1e-9), reciprocal
  to 1e-12, ports named, port 3 through from port 1; and causal: the impulse response before light in vacuum could arrive stays
  below -60 dB, and of the stripline, which has no dispersion but that of its materials, all before its own rise. That of
  microstrip (Kirschning and Jansen) is a real factor that rises with frequency, not causal by itself: measured -64 dB.
- The same files with --lossless are unitary to 1e-10: S^H S is 1 at every frequency. So is that of a single trace.
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
LENGTH = 20e-3
BARE = """[stackup]
resin = low-loss
layer = air
layer = trace
layer = ply 1078 100 um
layer = ply 1078 100 um
layer = plane
[trace]
width = 220 um
thickness = 18 um
pitch = 420 um
length = 20 mm
angle = 5 deg
[signal]
frequency = 28 GHz
[resin low-loss]
dk = 2.9
df = 0.002
frequency = 10 GHz
density = 1.4 g/cm3
source = invented for this test
"""


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


def precursor(s, end):
    """Largest of the impulse response before a time (of its peak, where that is given as None), dB under the peak. The window is
    that of Blackman and Harris, whose own lobes lie 92 dB down from 2.5 of its steps on."""
    band = np.concatenate([[s[0].real], s])
    u = np.linspace(0, np.pi, len(band))
    band = band * (0.35875 + 0.48829 * np.cos(u) + 0.14128 * np.cos(2 * u) + 0.01168 * np.cos(3 * u))
    count = 16 * len(band)
    impulse = np.abs(np.fft.irfft(band, count))
    step = 1 / (count * 100e6)
    end = np.argmax(impulse) * step - 2.5 / 100e9 if end is None else end
    return 20 * np.log10(impulse[:int(end / step)].max() / impulse.max())


def check_file(name, net, steady):
    """A pair's file. steady: its delay falls with frequency, if it changes: what comes first is the front."""
    check(f"{name}, largest singular value less 1", np.linalg.svd(net.s, compute_uv=False).max() - 1, 1e-9)
    check(f"{name}, S less its transpose", np.abs(net.s - net.s.transpose(0, 2, 1)).max(), 1e-12)
    names = getattr(net, "port_names", None) or []
    check(f"{name}, ports without their names", sum(a != b for a, b in zip(
        names, ["leg1_near", "leg2_near", "leg1_far", "leg2_far"])) + 4 - len(names), 0)
    check(f"{name}, |S31| below that of S41 at the low end", abs(net.s[0, 3, 0]) - abs(net.s[0, 2, 0]), 0)
    s = net.s
    for what, of in (("S31", s[:, 2, 0]), ("Sdd21", (s[:, 2, 0] - s[:, 2, 1] - s[:, 3, 0] + s[:, 3, 1]) / 2)):
        check(f"{name}, {what} before light in vacuum, dB under its peak", precursor(of, LENGTH / 299792458), -60)
        if steady:
            check(f"{name}, {what} before its rise, dB under its peak", precursor(of, None), -60)


def check_lossless(name, study, folder, file):
    subprocess.run([sys.argv[2], "frequency", study, "-o", folder, "--quiet", "--lossless", "--band", "100 MHz..100 GHz",
                    "--points", "400", "--set", f"trace.length={LENGTH * 1e3} mm", "--to", "1 deg"], check=True)
    net = skrf.Network(str(folder / file))
    square = net.s.conj().transpose(0, 2, 1) @ net.s
    check(f"{name}, lossless, S^H S less 1", np.abs(square - np.eye(net.nports)).max(), 1e-10)
    check(f"{name}, lossless, S less its transpose", np.abs(net.s - net.s.transpose(0, 2, 1)).max(), 1e-12)
    check(f"{name}, lossless, frequencies that are not 400", abs(len(net.f) - 400), 0)


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
        bare = Path(folder) / "bare.ini"
        bare.write_text(BARE, encoding="ascii")
        for name, study in (("stripline", sys.argv[3]), ("bare microstrip", bare)):
            subprocess.run([sys.argv[2], "frequency", study, "-o", folder, "--quiet", "--band", "100 MHz..100 GHz", "--points",
                            "1000", "--set", f"trace.length={LENGTH * 1e3} mm", "--to", "1 deg"], check=True)
            check_file(name, skrf.Network(str(Path(folder) / "line.s4p")), name == "stripline")
            check_lossless(name, study, Path(folder), "line.s4p")
        bare.write_text(BARE.replace("pitch = 420 um\n", ""), encoding="ascii")
        check_lossless("single trace", bare, Path(folder), "line.s2p")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
