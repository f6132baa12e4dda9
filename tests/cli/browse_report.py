"""The report as a browser shows and prints it: no error, nothing wider than the screen, every figure decoded, no sheet
blank. Needs Chromium and poppler's tools; where they are not installed it is skipped.

usage: browse_report.py PROGRAM SOURCE_ROOT

SPDX-License-Identifier: GPL-3.0-or-later
"""

import html
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile

import report_study

PROGRAM, ROOT = pathlib.Path(sys.argv[1]).resolve(), pathlib.Path(sys.argv[2]).resolve()
SKIPPED = 77
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")

# The page has no script; this one frames it at a width and measures what is inside.
MEASURE = """<!DOCTYPE html><title>measuring</title><body style="margin:0">
<iframe src="report.html" style="border:0;width:%dpx;height:900px"></iframe><pre id="found"></pre>
<script>
window.onload = () => {
  const page = document.querySelector("iframe").contentDocument, root = page.documentElement, wide = [];
  for (const e of page.body.querySelectorAll("*")) {
    if (e.closest(".scroll") && !e.matches(".scroll")) continue;
    if (e.getBoundingClientRect().right > root.clientWidth + 0.5) wide.push(e.tagName + " " + e.className);
  }
  /* What is wider than its box, and whether the reader is told so. */
  const cut = [...page.querySelectorAll(".scroll")].filter(e => e.scrollWidth > e.clientWidth + 1)
    .map(e => [e.getAttribute("aria-labelledby"), (h => !!h && h.className === "hint" && h.offsetHeight > 0)(e.previousElementSibling)]);
  const images = [...page.images].map(i => [i.complete && i.naturalWidth > 0, i.clientWidth]);
  document.getElementById("found").textContent = JSON.stringify(
    {scroll: root.scrollWidth, client: root.clientWidth, wide, cut, images, height: root.scrollHeight});
};
</script>"""


def browse(folder, *arguments):
    command = [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
               "--allow-file-access-from-files", "--enable-logging=stderr", f"--user-data-dir={folder}/profile",
               *arguments]
    done = subprocess.run(command, capture_output=True, timeout=120, check=True)
    errors = [line for line in done.stderr.decode(errors="replace").splitlines() if "CONSOLE" in line]
    assert not errors, errors
    return done.stdout.decode()


def check_screen(folder, width):
    harness = folder / f"measure-{width}.html"
    harness.write_text(MEASURE % width)
    dump = browse(folder, "--window-size=1400,1000", "--dump-dom", harness.as_uri())
    found = json.loads(html.unescape(re.search(r'<pre id="found">(.*?)</pre>', dump, re.S).group(1)))
    assert found["client"] == width or found["client"] == width - 15, found  # a scroll bar may take its share
    assert found["scroll"] <= found["client"], (width, found)
    assert found["wide"] == [], (width, found["wide"])
    assert not found["cut"] if width > 1000 else found["cut"], (width, found["cut"])
    assert all(told for _, told in found["cut"]), (width, found["cut"])
    assert len(found["images"]) >= 7, found
    assert all(good and shown > 0.8 * min(found["client"], 900) for good, shown in found["images"]), found
    print(f"{folder.name} at {width} px: {len(found['images'])} figures decoded, {found['height']} px long, "
          f"nothing wider than {found['client']} px")


def ink(sheet):
    """Share of a sheet, its foot aside, that is not white."""
    magic, size, depth, pixels = sheet.split(b"\n", 3)
    width, height = map(int, size.split())
    assert (magic, depth) == (b"P5", b"255") and len(pixels) == width * height
    body = pixels[:width * int(0.93 * height)]
    return sum(p < 200 for p in body) / len(body)


def check_print(folder, paper, size):
    source = (folder / "report.html").read_text(encoding="utf-8")
    printed = folder / f"{paper}.html"
    printed.write_text(source.replace("</style>", f"@page{{size:{paper}}}</style>", 1), encoding="utf-8")
    browse(folder, "--no-pdf-header-footer", f"--print-to-pdf={folder}/{paper}.pdf", printed.as_uri())
    info = subprocess.run(["pdfinfo", folder / f"{paper}.pdf"], capture_output=True, check=True).stdout.decode()
    pages = int(re.search(r"Pages: +(\d+)", info).group(1))
    width, height = map(float, re.search(r"Page size: +([\d.]+) x ([\d.]+)", info).groups())
    assert abs(width - size[0]) < 1 and abs(height - size[1]) < 1, info
    figures = source.count("<img ")
    assert figures / 3 <= pages <= figures + 12, (pages, figures)
    subprocess.run(["pdftoppm", "-r", "30", "-gray", folder / f"{paper}.pdf", folder / paper], check=True)
    sheets = sorted(folder.glob(f"{paper}-*.pgm"))
    assert len(sheets) == pages
    least = min(ink(sheet.read_bytes()) for sheet in sheets)
    assert least > 0.004, (paper, least)
    print(f"{folder.name} on {paper}: {pages} pages, the emptiest {100 * least:.1f} % ink")


def main():
    if not BROWSER or not shutil.which("pdftoppm"):
        print("skipped: chromium or poppler-utils is not installed (sh .ci/setup tests installs them)")
        return SKIPPED
    with tempfile.TemporaryDirectory(prefix="weftwise-browse-", ignore_cleanup_errors=True) as temporary:
        for name, text in (("pair", report_study.PAIR), ("single", report_study.SINGLE)):
            folder, _ = report_study.write_report(PROGRAM, temporary, text, name, "--quiet")
            for width in (1280, 390):
                check_screen(folder, width)
            check_print(folder, "A4", (595.3, 841.9))
            check_print(folder, "letter", (612, 792))
    return 0


if __name__ == "__main__":
    sys.exit(main())
