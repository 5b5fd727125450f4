"""Nothing that is put on paper runs into anything else, or off the page.

The room a text takes is that of the printed font's published widths, by a library that is not ours.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_folder import folder_of
from paper_builds import EXAMPLES, HARD

from fitsolve.build.folder import load_build
from fitsolve.drawing.cutlines import cut_lines
from fitsolve.drawing.metrics import box_of, fitted_end, outside, overlaps, width_mm
from fitsolve.drawing.papers import STRIPS
from fitsolve.drawing.shapes import Page, Text
from fitsolve.drawing.shapes import Path as Path_
from fitsolve.drawing.sheet import sheet_pages
from fitsolve.drawing.sheetwords import shop_sheet
from fitsolve.drawing.strip import StripPlan, strip_pages
from fitsolve.findings.edges import edges
from fitsolve.findings.running import cut_pairs
from fitsolve.findings.tags import tagged
from fitsolve.reconciliation import Reconciliation, reconcile

SAFE_MM = 6.3
"""Few printers print closer to the edge than 1/4 in: common practice, no source."""


def _backed(before) -> bool:
    """Whether what was drawn before a text is a white box without an edge, which covers what is behind."""
    return isinstance(before, Path_) and before.pen is None and before.fill == "#ffffff"


def found_in(folder: Path) -> Reconciliation:
    return reconcile(load_build(folder))


def clear(page: Page, margin: float = SAFE_MM) -> None:
    assert [(a.words, b.words) for a, b in overlaps(page)] == []
    assert outside(page, margin) == []
    assert [text.words for text in torn(page)] == []


def torn(page: Page) -> list[Text]:
    """Texts that an edge of a box runs through."""
    boxes = [box_of(s) for s in page.shapes if isinstance(s, Path_) and s.closed and len(s.points) == 4 and s.pen]
    found = []
    for before, text in zip((None, *page.shapes), page.shapes):
        if not isinstance(text, Text) or not text.words or _backed(before):
            continue
        left, top, right, bottom = box_of(text)
        top, bottom = top + 0.1 * text.size_mm, bottom - 0.1 * text.size_mm
        for box in boxes:
            apart = right <= box[0] or left >= box[2] or bottom <= box[1] or top >= box[3]
            within = box[0] <= left and right <= box[2] and box[1] <= top and bottom <= box[3]
            if not apart and not within:
                found.append(text)
    return found


def pages_of_sheet(found: Reconciliation, paper: str) -> list[Page]:
    tags = tagged("c", cut_pairs(found.assembly, found.state))
    return sheet_pages(shop_sheet(found, tags, "0-0000", "made 2025-11-25 14:10"), paper)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", list(HARD))
def test_a_sheet(tmp_path, name, paper):
    for page in pages_of_sheet(found_in(folder_of(tmp_path / "b", HARD[name])), paper):
        clear(page)


@pytest.mark.parametrize("paper", ["letter", "a4", "roll"])
@pytest.mark.parametrize("name", [name for name in HARD if name != "nothing"])
def test_a_strip(tmp_path, name, paper):
    found = found_in(folder_of(tmp_path / "b", HARD[name]))
    every = edges(found.solved)
    for edge, lines in zip(every, cut_lines(found, every)):
        plan = StripPlan(edge.part, edge.axis, "start", lines, "0-0000", found.assembly.title, False)
        for page in strip_pages(plan, STRIPS[paper]):
            clear(page)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("example", ["wedging-table", "drawer-case"])
def test_the_examples(example, paper):
    pages = pages_of_sheet(found_in(EXAMPLES / example), paper)
    for page in pages:
        clear(page)
    if example == "wedging-table":
        assert len(pages) == 2
    said = [shape.words for page in pages for shape in page.shapes if isinstance(shape, Text)]
    assert [words for words in said if words.endswith("...")] == []
    assert [words for words in said if words.endswith(", continued")] == [], "a part is torn apart, though there is room"


def test_type_is_as_large_as_goes_on_as_few_pages():
    # The head's letters are 5.0 as they come. The chest takes two pages at any size: so they are larger than that on
    # Letter, where the columns have room to spare; a sheet of one page likewise.
    for example, least in (("press-stand", 5.1), ("drawer-case", 5.1), ("wedging-table", 4.7)):
        first = pages_of_sheet(found_in(EXAMPLES / example), "letter")[0]
        assert max(shape.size_mm for shape in first.shapes if isinstance(shape, Text)) >= least


def test_the_widths_are_those_published_for_the_font():
    # Adobe, Helvetica AFM (Core14): A 667, i 222, space 278, m 833 thousandths; bold A 722 (from memory).
    assert width_mm("A", 1.0) == pytest.approx(0.667)
    assert width_mm("i m", 10.0) == pytest.approx(10 * (0.222 + 0.278 + 0.833))
    assert width_mm("A", 1.0, True) == pytest.approx(0.722)


def test_a_text_with_other_letters_has_the_widths_of_the_font_it_is_set_in():
    # Open Sans, advance widths in its own units of 2048 to the body (hmtx table, read by a program of its own): by
    # pdfium, which measures the text as it is printed.
    import pypdfium2

    from fitsolve.drawing.pdf import pdf_bytes

    for words in ("Верстак столяра", "Stół źdźbło", "Πάγκος 3 1/2"):
        page = Page(200, 40, (Text(20, 20, words + ".", 10.0),))
        document = pypdfium2.PdfDocument(pdf_bytes([page], "x"))
        text = document[0].get_textpage()
        last = text.get_charbox(len(words), loose=True)[0] * 25.4 / 72
        text.close()
        document.close()
        assert last - 20 == pytest.approx(width_mm(words, 10.0), abs=0.1)  # a PDF holds widths in thousandths of the body


def test_an_overlap_is_seen():
    page = Page(100, 50, (Text(10, 15, "first", 5), Text(12, 16, "second", 5), Text(5, 30, "far", 5)))
    assert [(a.words, b.words) for a, b in overlaps(page)] == [("first", "second")]
    assert [s.words for s in outside(page, 6)] == ["far"]
    box = Path_(((20, 0), (40, 0), (40, 14), (20, 14)), closed=True)
    assert [text.words for text in torn(Page(100, 50, (*page.shapes, box)))] == ["second"]


def test_of_a_part_met_whose_name_has_no_room_the_end_is_kept():
    # Copies differ there. By hand, of all letters 0.556 wide (Helvetica AFM, from memory): 5 and three dots of 0.278.
    assert fitted_end("bbbbb", 5 * 0.556, 1.0) == "bbbbb"
    assert fitted_end("bbbbbbb.b", 5 * 0.556 + 0.834, 1.0) == "...bbb.b"
    assert fitted_end("bbbbbbb", 0.5, 1.0) == ""
