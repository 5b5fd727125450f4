"""SVG and HTML: pages as text that a browser shows and prints; nothing is fetched from anywhere.

The same page always gives the same bytes. Numbers are in millimetres, to a thousandth.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from xml.etree import ElementTree as ET

from fitsolve.drawing.metrics import width_mm
from fitsolve.drawing.shapes import Circle, Page, Path, Pen, Shape, Text

SVG = "http://www.w3.org/2000/svg"
FONTS = "Helvetica, Arial, 'Liberation Sans', 'Nimbus Sans', sans-serif"


def svg_text(page: Page) -> str:
    """Return a page as a whole SVG file."""
    root = _element(page)
    root.set("xmlns", SVG)
    root.set("width", f"{_number(page.width_mm)}mm")
    root.set("height", f"{_number(page.height_mm)}mm")
    ET.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def html_text(pages: Sequence[Page], title: str) -> str:
    """Return pages as one HTML file, each printed on a sheet of its own size; no links lead out of it."""
    first = pages[0]
    size = f"{_number(first.width_mm)}mm {_number(first.height_mm)}mm"
    style = (
        f"@page {{ size: {size}; margin: 0 }}\n"
        "body { margin: 0; background: #ddd }\n"
        "svg { display: block; width: 100%; max-width: 1100px; height: auto; margin: 0 auto 1em; background: #fff }\n"
        f"@media print {{ body {{ background: none }} svg {{ width: {_number(first.width_mm)}mm; max-width: none; "
        f"height: {_number(first.height_mm)}mm; margin: 0; break-after: page }} "
        "svg:last-child { break-after: auto } }"
    )
    html = ET.Element("html", lang="en")
    head = ET.SubElement(html, "head")
    ET.SubElement(head, "meta", charset="utf-8")
    ET.SubElement(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    ET.SubElement(head, "title").text = _clean(title)
    ET.SubElement(head, "style").text = style
    body = ET.SubElement(html, "body")
    for page in pages:
        body.append(_element(page))
    text = ET.tostring(html, encoding="unicode", method="html")
    return "<!DOCTYPE html>\n" + text.replace("><", ">\n<") + "\n"


def _element(page: Page) -> ET.Element:
    box = f"0 0 {_number(page.width_mm)} {_number(page.height_mm)}"
    root = ET.Element("svg", {"viewBox": box, "font-family": FONTS, "xml:space": "preserve"})
    if page.title:
        ET.SubElement(root, "title").text = _clean(page.title)
    ET.SubElement(
        root, "rect", {"width": _number(page.width_mm), "height": _number(page.height_mm), "fill": "#ffffff"}
    )
    for shape in page.shapes:
        _add(root, shape)
    return root


def _add(root: ET.Element, shape: Shape) -> None:
    if isinstance(shape, Text):
        _add_text(root, shape)
    elif isinstance(shape, Circle):
        place = {"cx": _number(shape.x), "cy": _number(shape.y), "r": _number(shape.radius)}
        ET.SubElement(root, "circle", place | _painted(shape))
    else:
        assert isinstance(shape, Path)
        points = " ".join(f"{_number(x)},{_number(y)}" for x, y in shape.points)
        ET.SubElement(root, "polygon" if shape.closed else "polyline", {"points": points} | _painted(shape))


def _painted(shape: Path | Circle) -> dict[str, str]:
    painted = {"fill": shape.fill or "none"}
    return painted | _drawn(shape.pen) if shape.pen else painted


def _drawn(pen: Pen) -> dict[str, str]:
    drawn = {"stroke": pen.colour, "stroke-width": _number(pen.width_mm)}
    if pen.dashes_mm:
        drawn["stroke-dasharray"] = " ".join(_number(dash) for dash in pen.dashes_mm)
    return drawn


def _add_text(root: ET.Element, text: Text) -> None:
    if not text.words:
        return
    kept = {"x": _number(text.x), "y": _number(text.y), "font-size": _number(text.size_mm), "fill": text.colour}
    kept["textLength"] = _number(width_mm(text.words, text.size_mm, text.bold))
    kept["lengthAdjust"] = "spacingAndGlyphs"
    if text.anchor != "start":
        kept["text-anchor"] = text.anchor
    if text.bold:
        kept["font-weight"] = "bold"
    if text.upright:
        kept["transform"] = f"rotate(-90 {_number(text.x)} {_number(text.y)})"
    ET.SubElement(root, "text", kept).text = _clean(text.words)


def _clean(words: str) -> str:
    """The words without characters that XML cannot hold, or that nobody sees; blanks of any width stay."""
    return "".join(c if c.isprintable() or unicodedata.category(c) == "Zs" else "\ufffd" for c in words)


def _number(mm: float) -> str:
    text = f"{mm:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
