"""A strip printed at 100 % is true to size: the PDF is rendered, by a renderer that is not ours, and the
lines are found in the picture and measured."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from cli_folder import FRAMES, folder_of, run
from drawn import page_sizes_mm, upright_lines

from fitsolve.drawing.papers import STRIPS
from fitsolve.drawing.strip import BAND_MM, HEAD_MM, TICK_MM, StripPlan, pieces_of

# An invented rail of 2 m with a mark about every 83 mm. The places are the plan's own, so the
# check stands on the plan's text and on nothing that fitsolve computes.
PLACES = [0, 37, 121.5, 240, 322.25, 405, 499.5, 611, 700, 777.7, 860, 951, 1033, 1100, 1204.4, 1290, 1377, 1462,
          1555, 1633, 1719, 1800, 1888, 1950, 2000]  # fmt: skip


def rail(places: list[float], unit: str = "mm") -> str:
    run = "a0"
    for k, (before, at) in enumerate(zip(places, places[1:]), 1):
        run += f" {at - before:.6g} a{k}"
    return f'title = "Rail"\nunit = "{unit}"\nfinest = "0.5"\nworkmanship = "0.5"\n[part.rail]\nx = "{run}"\n'


def printed(tmp_path: Path, plan: str, *options: str) -> bytes:
    at = folder_of(tmp_path / "build", plan)
    out = tmp_path / "strip.pdf"
    result = run("strip", "rail", "--output", str(out), "--replace", *options, at=at)
    assert result.exit_code in (0, 1), result.output
    return out.read_bytes()


def measured(pdf: bytes, paper: str, count: int) -> list[float]:
    """Lay the pieces on each other by their match lines, and return where the lines stand from the first."""
    sheet = STRIPS[paper]
    places: list[float] = []
    shift = last = 0.0
    for piece in range(count):
        page, band = divmod(piece, sheet.bands)
        width = page_sizes_mm(pdf)[page][0]
        bottom = sheet.margin_mm + HEAD_MM + (band + 1) * BAND_MM - 5.0
        ticks = upright_lines(pdf, page, (0, bottom - TICK_MM + 0.5, width, bottom - TICK_MM + 5))
        # The first stretch of a match line, above its diamond.
        lane = bottom - TICK_MM - 6.0
        matches = upright_lines(pdf, page, (0, lane + 0.1, width, lane + 0.6))
        matches = [x for x in matches if all(abs(x - tick) > 0.02 for tick in ticks)]
        expected = (piece > 0) + (piece < count - 1)
        assert len(matches) == expected, f"piece {piece}: match lines {matches}"
        if piece > 0:
            shift = last - matches[0]
        found = [x + shift for x in ticks]
        places += [x for x in found if not places or x > places[-1] + 0.5]
        if expected and piece < count - 1:
            last = matches[-1] + shift
    return [x - places[0] for x in places]


def spacing(paper: str, scale: float = 1.0) -> int:
    plan = StripPlan("rail", "x", "a0", (), "", "", False, scale)
    room = STRIPS[paper].room_mm / plan.scale
    return math.ceil((2016.0 - 20.0) / (room - 20.0))


@pytest.mark.parametrize("paper", ["letter", "a4", "roll"])
def test_lines_stand_within_a_tenth_of_a_millimetre_over_two_metres(tmp_path, paper):
    pdf = printed(tmp_path, rail(PLACES), "--paper", paper)
    count = 1 if paper == "roll" else spacing(paper)
    found = measured(pdf, paper, count)
    assert len(found) == len(PLACES)
    assert max(abs(a - b) for a, b in zip(found, PLACES)) < 0.1


def test_a_printer_that_is_off_is_made_up_for(tmp_path):
    # By hand: a scale of 200 mm that reads 199 was printed 199/200 of its size, so lengths are
    # multiplied by 200/199, and 2000 mm come out 2000 * 200/199 on a true printer.
    pdf = printed(tmp_path, rail(PLACES), "--paper", "a4", "--scale-reads", "199")
    found = measured(pdf, "a4", spacing("a4", 200 / 199))
    assert max(abs(a - b * 200 / 199) for a, b in zip(found, PLACES)) < 0.1


@pytest.mark.parametrize(("unit", "paper", "long"), [("mm", "a4", 200.0), ("in", "letter", 254.0)])
def test_the_printed_scale_is_as_long_as_it_says(tmp_path, unit, paper, long):
    # 10 in are 254 mm (the international inch, exactly 25.4 mm: NIST SP 811, appendix B).
    plan = rail([0, 5, 11], unit)
    pdf = printed(tmp_path, plan, "--paper", paper)
    sheet = STRIPS[paper]
    y = sheet.height_mm - sheet.margin_mm - 15.0 + 7.0
    ends = upright_lines(pdf, 0, (0, y - 3.8, sheet.width_mm, y - 2.8))
    assert ends[-1] - ends[0] == pytest.approx(long, abs=0.05)


def test_pages_have_the_size_of_their_paper(tmp_path):
    # Letter is 8 1/2 by 11 in (ANSI/ASME Y14.1), A4 is 210 by 297 mm (ISO 216).
    for paper, size in (("letter", (279.4, 215.9)), ("a4", (297.0, 210.0))):
        pdf = printed(tmp_path, rail(PLACES), "--paper", paper)
        assert all(page == pytest.approx(size, abs=0.01) for page in page_sizes_mm(pdf))
        assert b"/PrintScaling /None" in pdf
    [roll] = page_sizes_mm(printed(tmp_path, rail(PLACES), "--paper", "roll"))
    assert roll[0] > 2000


def test_pieces_cover_the_strip_and_overlap():
    plan = StripPlan("rail", "x", "a0", (_line(0.0), _line(2000.0)), "", "", False)
    pieces = pieces_of(plan, STRIPS["letter"])
    assert pieces[0].begin_mm < 0 < 2000 < pieces[-1].end_mm
    for before, after in zip(pieces, pieces[1:]):
        assert before.end_mm - after.begin_mm == pytest.approx(20.0)
        [shared] = set(before.matches) & set(after.matches)
        assert after.begin_mm < shared[0] < before.end_mm


def _line(at: float):
    from fitsolve.drawing.cutlines import CutLine

    return CutLine(0, "m", "CUT", "", "", False, "", 0, 0, "", (), "", at, at, None)


def test_the_same_build_gives_the_same_bytes(tmp_path):
    assert printed(tmp_path, rail(PLACES)) == printed(tmp_path, rail(PLACES))


def test_what_is_made_stands_where_it_came_out(tmp_path):
    # The invented bench of cli_folder: leg l reads 3.531 wide, so its right face stands 89.687 mm from its left.
    at = folder_of(tmp_path / "build", rows=FRAMES)
    out = tmp_path / "leg.pdf"
    result = run("strip", "leg.l", "--output", str(out), at=at)
    assert result.exit_code == 0, result.output
    bottom = STRIPS["letter"].margin_mm + HEAD_MM + BAND_MM - 5.0
    start, end = upright_lines(out.read_bytes(), 0, (0, bottom - TICK_MM + 0.2, 279, bottom - TICK_MM + 5.9))
    assert end - start == pytest.approx(3.531 * 25.4, abs=0.05)


def test_a_part_that_waits_cannot_be_knifed_through(tmp_path):
    # The inside reading is 1 in short, so the apron waits; its lines end short of the edge, and that is said.
    at = folder_of(tmp_path / "build", rows=FRAMES.replace("41 3/32", "40 3/32"))
    out = tmp_path / "apron.pdf"
    result = run("strip", "apron", "--output", str(out), at=at)
    assert result.exit_code == 1
    assert "wait for #" in result.output
    bottom = STRIPS["letter"].margin_mm + HEAD_MM + BAND_MM - 5.0
    [start] = upright_lines(out.read_bytes(), 0, (0, bottom - 4, 279, bottom - 0.5))
    assert start < 30, "only the end that all is measured from reaches the edge"


class TestErrors:
    """What cannot be is said in words, with status 2, and nothing is written."""

    def refused(self, tmp_path: Path, *args: str) -> str:
        result = run("strip", *args, at=folder_of(tmp_path / "build", rows=FRAMES))
        assert result.exit_code == 2
        assert "Traceback" not in result.output
        return result.output

    def test_a_part_that_is_not_there(self, tmp_path):
        said = self.refused(tmp_path, "rail", "--output", str(tmp_path / "a.pdf"))
        assert 'the plan has no part "rail"' in said
        assert not (tmp_path / "a.pdf").exists()

    def test_a_file_that_is_there(self, tmp_path):
        (tmp_path / "a.pdf").write_text("mine")
        said = self.refused(tmp_path, "apron", "--output", str(tmp_path / "a.pdf"))
        assert "is there already, and was left as it is" in said
        assert "--replace writes over it." in said
        assert (tmp_path / "a.pdf").read_text() == "mine"

    def test_a_folder_that_is_not_there(self, tmp_path):
        assert "there is no folder" in self.refused(tmp_path, "apron", "--output", str(tmp_path / "no" / "a.pdf"))

    def test_a_name_that_cannot_be_written(self, tmp_path):
        said = self.refused(tmp_path, "apron", "--output", str(tmp_path / ("a" * 300 + ".pdf")))
        assert "could not be written" in said

    def test_a_kind_of_file_that_is_not_made(self, tmp_path):
        said = self.refused(tmp_path, "apron", "--output", str(tmp_path / "a.dwg"))
        assert "must end in .pdf" in said

    def test_an_axis_without_marks(self, tmp_path):
        said = self.refused(tmp_path, "apron", "--along", "z", "--output", str(tmp_path / "a.pdf"))
        assert "apron has no marks along z" in said

    @pytest.mark.parametrize("length", ["9", "11", "nought", "0"])
    def test_a_scale_that_cannot_be(self, tmp_path, length):
        self.refused(tmp_path, "apron", "--scale-reads", length, "--output", str(tmp_path / "a.pdf"))
