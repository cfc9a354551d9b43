"""The printed page: text read back with poppler, every plan whole on one page, classes apart in grey.

    check_print.py PAGE.html PAGE.pdf
"""

import itertools
import logging
import pathlib
import re
import subprocess
import sys

import html5lib
import numpy
import pdfplumber

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
PT_PER_MM = 72 / 25.4
# A plan's frame is drawn in this grey and in no other place; a sample of the key has a black frame of this size.
FRAME = 0x77 / 0xFF
SAMPLE_PT = (28.8, 18.0)
DPI = 100
# Two classes differ in grey when their mean, or how much it changes along a direction, is so many levels apart.
LEAST_LEVELS = 6


def poppler(*words):
    return subprocess.run(words, check=True, capture_output=True).stdout


def text_of(pdf):
    pages = poppler("pdftotext", "-layout", str(pdf), "-").decode().split("\f")
    return [page for page in pages if page.strip()]


def check_text(page, pages):
    # Long names are broken where there is no space.
    squeezed = lambda text: re.sub(r"\s+", "", text)
    text = squeezed("".join(pages))
    for words in ["Internal working paper", "product labels", "hand work", "Key", "Rigs"]:
        assert squeezed(words) in text, f"{words!r} is not on paper"
    items = page.findall(f".//{HTML}ol/{HTML}li")
    assert text.count("Closedby") == len(items), "a line for pencil with each item"
    for item in items:
        name = "".join(item.find(HTML + "b").itertext())
        assert squeezed(name) in text, name
    for number, lines in enumerate(pages, 1):
        count = sum(1 for line in lines.splitlines() if line.strip())
        assert count > 1, f"page {number} of {len(pages)} has one line on it"


def frames(sheet):
    """Boxes with a plan's frame."""
    for box in sheet.rects + sheet.curves:
        grey = box["stroking_color"]
        if box["stroke"] and isinstance(grey, tuple) and abs(grey[0] - FRAME) < 0.002 and box["height"] > 60:
            yield box


def check_plans(page, sheets):
    wanted = 0
    for section in page.iter(HTML + "section"):
        classes = (section.get("class") or "").split()
        if "site" in classes and "well" not in classes:
            drawn = (svg.get("class") or "" for svg in section.iter(SVG + "svg"))
            wanted += sum(1 for of in drawn if "plan" in of.split() and "dose" not in of.split())
    found = 0
    for sheet in sheets:
        for box in frames(sheet):
            found += 1
            assert box["width"] >= 90 * PT_PER_MM, f"a plan is {box['width'] / PT_PER_MM:.0f} mm wide"
            margin = 10 * PT_PER_MM
            inside = box["top"] >= margin and box["bottom"] <= sheet.height - margin
            assert inside, f"a plan goes over the edge of page {sheet.page_number}"
    assert found == wanted, f"{found} plans on paper, {wanted} on the page"
    return found


def samples(sheets):
    """The samples of the key, in its order."""
    for sheet in sheets:
        near = [
            box
            for box in sheet.rects
            if box["stroke"] and all(abs(a - b) < 1.6 for a, b in zip((box["width"], box["height"]), SAMPLE_PT))
        ]
        if near:
            return sheet, sorted(near, key=lambda box: (round(box["top"]), box["x0"]))
    raise AssertionError("there is no key on paper")


def grey(pdf, number):
    bytes_ = poppler("pdftoppm", "-gray", "-r", str(DPI), "-f", str(number), "-l", str(number), str(pdf))
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", bytes_)
    width, height = map(int, head.groups())
    return numpy.frombuffer(bytes_[head.end() :], numpy.uint8).reshape(height, width).astype(float)


def marks(tile):
    """What an eye has of a class in grey: how light it is, and how much that changes each way."""
    steps = [numpy.diff(tile, axis=0), numpy.diff(tile, axis=1), tile[1:, 1:] - tile[:-1, :-1], tile[1:, :-1] - tile[:-1, 1:]]
    return [tile.mean(), tile.std()] + [numpy.abs(step).mean() for step in steps]


def check_grey(page, sheets, pdf):
    names = ["".join(item.itertext()).strip() for item in page.find(f".//{HTML}ul[@class='key']")]
    sheet, boxes = samples(sheets)
    assert len(boxes) == len(names), f"{len(boxes)} samples on paper of {len(names)}"
    image = grey(pdf, sheet.page_number)
    scale = DPI / 72
    tiles = {}
    for name, box in zip(names, boxes):
        rows = slice(int(box["top"] * scale) + 3, int(box["bottom"] * scale) - 2)
        columns = slice(int(box["x0"] * scale) + 3, int(box["x1"] * scale) - 2)
        tiles[name] = marks(image[rows, columns])
    for (a, of_a), (b, of_b) in itertools.combinations(tiles.items(), 2):
        apart = max(abs(x - y) for x, y in zip(of_a, of_b))
        assert apart >= LEAST_LEVELS, f"{a!r} and {b!r} are {apart:.1f} grey levels apart"
    return len(tiles)


def main(page_path, pdf):
    logging.disable(logging.WARNING)
    page = html5lib.parse(pathlib.Path(page_path).read_bytes(), transport_encoding="utf-8")
    pages = text_of(pdf)
    check_text(page, pages)
    with pdfplumber.open(pdf) as opened:
        plans = check_plans(page, opened.pages)
        classes = check_grey(page, opened.pages, pdf)
    print(f"{pathlib.Path(pdf).name}: {len(pages)} pages, {plans} plans whole, {classes} classes apart in grey")


if __name__ == "__main__":
    main(*sys.argv[1:])
