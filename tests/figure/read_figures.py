"""Figures as other programs read them: SVG as XML, PDF by pdfinfo, PNG texts by a walk of the chunks.

SPDX-License-Identifier: GPL-3.0-or-later

Usage: read_figures.py SHOW, where SHOW draws every figure into a folder.
"""
import os
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
import zlib

SVG = "{http://www.w3.org/2000/svg}"
STUDY = "[study]\ntitle = Mezzanine link, layer 3\n\n[trace]\nwidth = 100 um ; <&> \u00b5\n"
CARRIED = f"{STUDY}# unchanged while the CRC-32 of the lines above is {zlib.crc32(STUDY.encode()):08x}\n"
FIGURES = ["dk", "skew", "profile", "distribution", "section", "along", "angles", "lengths", "compare",
           "compare-angles", "compare-dk", "pitch", "null"]


def check(condition, message):
    if not condition:
        sys.exit("failed: " + message)


def check_svg(path):
    root = ElementTree.parse(path).getroot()
    check(root.tag == SVG + "svg", path + " is no SVG")
    check(root.find(SVG + "title").text == "Mezzanine link, layer 3", path + ": title")
    check(root.find(SVG + "metadata").text == CARRIED, path + ": the study does not come back")
    check(root.get("width") == "768pt", path + ": width is " + str(root.get("width")))
    names = [element.get("id") for element in root.iter() if element.get("id")]
    check(len(names) == len(set(names)), path + ": an id is given twice")
    for element in root.iter():
        for value in element.attrib.values():
            for name in re.findall(r"url\(#([\w-]+)\)|^#([\w-]+)$", value):
                check("".join(name) in names, path + ": nothing has the id " + "".join(name))


def check_pdf(path):
    if shutil.which("pdfinfo") is None:
        print("pdfinfo is not installed: the PDFs are not read")
        return
    answer = subprocess.run(["pdfinfo", path], check=True, capture_output=True, text=True).stdout
    facts = {line.split(":", 1)[0]: line.split(":", 1)[1].strip() for line in answer.splitlines() if ":" in line}
    check(facts["Pages"] == "1", path + ": pages " + facts["Pages"])
    check(facts["Title"] == "Mezzanine link, layer 3", path + ": title " + facts["Title"])
    check(facts["Page size"].startswith("768 x"), path + ": size " + facts["Page size"])
    check("CreationDate" not in facts, path + ": has a date")


def check_png(path):
    with open(path, "rb") as stream:
        data = stream.read()
    check(data[:8] == b"\x89PNG\r\n\x1a\n", path + " is no PNG")
    at, texts, pixels, header = 8, {}, b"", None
    while at < len(data):
        size, name = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        check(zlib.crc32(name + body) == struct.unpack(">I", data[at + 8 + size : at + 12 + size])[0], path + ": CRC")
        if name == b"IHDR":
            header = struct.unpack(">IIBBBBB", body)
        elif name == b"IDAT":
            pixels += body
        elif name == b"iTXt":
            keyword, rest = body.split(b"\0", 1)
            texts[keyword.decode("latin-1")] = rest[4:].decode("utf-8")
        at += size + 12
    width, height = header[0], header[1]
    check(len(zlib.decompress(pixels)) == height * (1 + 3 * width), path + ": image data of another size")
    check(texts["Source"] == STUDY, path + ": the study does not come back")
    check(texts["Software"].startswith("weftwise "), path + ": software")


with tempfile.TemporaryDirectory() as folder:
    subprocess.run([sys.argv[1], folder], check=True)
    for figure in FIGURES:
        check_svg(os.path.join(folder, "plain-" + figure + ".svg"))
        check_pdf(os.path.join(folder, "plain-" + figure + ".pdf"))
        check_png(os.path.join(folder, "plain-" + figure + ".png"))
        check_png(os.path.join(folder, "half-" + figure + ".png"))
    print("read", len(FIGURES) * 4, "files")
