"""A layout never says better of a joint than is known of its parts going on; paper says why there is nothing to cut."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli_folder import folder_of, run
from paper_builds import EXAMPLES, head
from test_drawings import words_on
from test_paper_has_room import clear, found_in, pages_of_sheet

from fitsolve.cli.bench import open_bench
from fitsolve.cli.paper import wanted_now
from fitsolve.drawing.assembled import assembled_page
from fitsolve.drawing.assembledwords import assembled_drawing
from fitsolve.drawing.sheet import sheet_pages
from fitsolve.drawing.sheetwords import shop_sheet
from fitsolve.report.layout import part_layout
from fitsolve.report.layout_screen import verdict_text


@pytest.mark.parametrize("example", ["trestle", "wedging-table"])
def test_a_contact_that_fits_is_no_better_than_the_seats_of_its_parts(example):
    found = found_in(EXAMPLES / example)
    seats = {seat.part: seat for seat in found.seats}
    capped = 0
    for part in found.assembly.parts:
        for axis in part_layout(found, part).axes:
            for met in (met for one in axis.marks for met in one.meets if not met.closed):
                unsure = [
                    seat for seat in (seats.get(part), seats.get(met.part))
                    if seat is not None and met.joint in seat.joints and seat.verdict != "goes on"
                ]  # fmt: skip
                said = verdict_text(met)
                assert ("by itself" in said) == (met.verdict == "fits" and bool(unsure))
                assert met.verdict != "fits" or said.endswith("jams") == any(s.verdict == "jams" for s in unsure)
                capped += "by itself" in said
    assert capped, "or this build shows nothing"


def test_other_programs_are_told_the_seats():
    whole = json.loads(run("layout", "post.l", "--json", at=EXAMPLES / "trestle").output)
    met = [met for axis in whole["axes"] for mark in axis["marks"] for met in mark["meets"]]
    assert {"part": "stretcher", "verdict": "jams"} in [seat for one in met for seat in one["seats"]]


def said_on_sheet(folder: Path) -> str:
    pages = pages_of_sheet(found_in(folder), "a4")
    for page in pages:
        clear(page)
    return " ".join(words for page in pages for words in words_on(page))


def test_a_sheet_with_nothing_to_cut_says_why_and_speaks_of_no_boxes(tmp_path):
    empty = said_on_sheet(folder_of(tmp_path / "a", head()))
    assert "Nothing: the plan has no part yet." in empty
    assert "Sizes as cut" not in empty
    plan = head() + '[part.rail]\nx = "l.end 900 r.end"\n'
    made = said_on_sheet(folder_of(tmp_path / "b", plan, "reading,rail.l.end,rail.r.end,900,tape,\n"))
    assert "Nothing: everything is made." in made
    assert "Sizes as cut" not in made
    assert "Sizes as cut" in said_on_sheet(folder_of(tmp_path / "c", plan))


def test_the_whole_of_nothing_says_so(tmp_path):
    page = assembled_page(assembled_drawing(found_in(folder_of(tmp_path / "b", head())), "0-0000"))
    clear(page, 0.0)
    assert "Nothing to draw: no part has marks on two axes." in words_on(page)


WAITING = """
fits = {{ slip = [0, 0.2, 0.4] }}
[part.post]
z = "foot 100 {low} 60 {high} 40 head"
[part.rail]
z = "low 60 high"
[joint.tenon]
meet = "rail.low/high in post.{low}/{high}, slip"
"""
LONG = "of-the-mortise-that-takes-the-longest-of-all-names-in-this-plan"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [("mo", "mi", "read post mo..mi first"), (f"lower-edge-{LONG}", f"upper-edge-{LONG}", "read w2 first")],
)
def test_a_line_that_waits_names_the_reading_or_where_that_is_long_its_tag(tmp_path, low, high, said):
    # The post is made, its mortise never read: of foot..low, low..high, high..head the second is waited for.
    at = folder_of(tmp_path / "b", head() + WAITING.format(low=low, high=high), "made,post,,,,\n")
    found = found_in(at)
    bench = open_bench(at)
    pages = sheet_pages(shop_sheet(found, wanted_now(bench, ""), "1-0000", "made"), "a4")
    for page in pages:
        clear(page)
    words = [words for page in pages for words in words_on(page)]
    row = words[words.index("LEAVE") :]
    assert said in row[:6]
    assert "no room to miss" not in " ".join(words), "of sizes that are not given nothing more is told"
    tag = next(words[k - 1] for k, one in enumerate(words) if one.startswith(f"post {low}..{high}"[:20]))
    assert tag == "w2"
