"""Make the figures of the docs from the examples: python docs/make_figures.py

A test makes them again and compares: a figure that is not what the code draws now is stale.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from fitsolve.build.folder import load_build
from fitsolve.drawing.assembled import assembled_page
from fitsolve.drawing.assembledwords import assembled_drawing
from fitsolve.drawing.cutlines import cut_lines, main_axis
from fitsolve.drawing.loops import loops_page
from fitsolve.drawing.loopwords import loops_drawing
from fitsolve.drawing.papers import STRIPS
from fitsolve.drawing.partdraw import part_page
from fitsolve.drawing.partwords import part_drawing
from fitsolve.drawing.shapes import Page
from fitsolve.drawing.sheet import sheet_pages
from fitsolve.drawing.sheetwords import shop_sheet
from fitsolve.drawing.strip import StripPlan, strip_pages
from fitsolve.drawing.svg import svg_text
from fitsolve.findings.edges import edges
from fitsolve.findings.running import cut_pairs
from fitsolve.findings.tags import list_number, tagged
from fitsolve.reconciliation import reconcile

ROOT = Path(__file__).parent
TABLE = ROOT.parent / "examples" / "wedging-table"
MADE = "made 2025-11-24 17:00"
"""Sheets say when they were made; a figure that did would be stale at once."""


def figures() -> Iterator[tuple[str, str]]:
    """Each figure by its file's name, as SVG."""
    for name, page in _pages():
        yield f"{name}.svg", svg_text(page)


def _pages() -> Iterator[tuple[str, Page]]:
    build = load_build(TABLE)
    found = reconcile(build)
    number = list_number(found.assembly, build.log)
    yield "apron", part_page(part_drawing(found, "apron.front", number))
    yield "leg", part_page(part_drawing(found, "leg.fl", number))
    yield "assembled", assembled_page(assembled_drawing(found, number))
    yield "loops", loops_page(loops_drawing(found, number))
    tags = tagged("c", cut_pairs(found.assembly, found.state))
    for k, page in enumerate(sheet_pages(shop_sheet(found, tags, number, MADE), "letter"), 1):
        yield f"sheet-{k}", page
    edge = main_axis(edges(found.solved, ["apron.front"]))
    [lines] = cut_lines(found, [edge])
    plan = StripPlan("apron.front", "x", "l.end", lines, number, found.assembly.title, True)
    yield "strip", strip_pages(plan, STRIPS["letter"])[0]


if __name__ == "__main__":
    folder = ROOT / "figures"
    folder.mkdir(exist_ok=True)
    for name, text in figures():
        (folder / name).write_text(text, encoding="utf-8", newline="\n")
        print(folder / name)
