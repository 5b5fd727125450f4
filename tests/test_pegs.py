"""Pegs of drawbored joints: specs/hand_cases.md, 10. All lengths in mm; all builds are invented."""

from __future__ import annotations

import json
from math import hypot

import pytest

from fitsolve.report.cutting import part_sizes
from fitsolve.report.layout import part_layout
from fitsolve.report.machine import sizes_json
from fitsolve.report.pegwords import peg_texts
from tests.builds import Case
from tests.test_exact_against_oracle import disagreements
from tests.test_hand_cases import U_FINE, found, near

RAIL = """
[part.rail]
x = "l.end 40 l.shoulder 500 r.shoulder 40 r.end"
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 70 inner"
z = "foot 700 head"
holes = { pin = ["15 from inner", "140 from foot"] }
[joint.tenon]
each = \"\"\"
e
l
r
\"\"\"
meet = ["rail.{e}.shoulder against leg.{e}.inner, shoulder", "peg leg.{e}.pin 10, draw 1.5"]
"""
LEGS = pytest.mark.parametrize("e", ["l", "r"])


def peg_of(result, e):
    return next(one for one in result.pegs if one.hole == f"leg.{e}.pin.x")


@LEGS
def test_the_tenons_hole_is_laid_out_from_the_hole_that_was_read_toward_the_shoulder(e):
    result = found(RAIL, "made rail - - -", f"reading leg.{e}.inner leg.{e}.pin.x 15.6 fine")
    peg = peg_of(result, e)
    assert peg.layout == (near(15.6 - 1.5), near(2 * U_FINE))
    assert (peg.tenon_hole, peg.bored, peg.read) == (f"rail.{e}.pin", False, True)
    end = result.between(f"rail.{e}.end", f"rail.{e}.pin")
    assert end.distance_mm == near(40 - 14.1)  # between the shoulder and the end, on either side
    assert any(f"from rail.{e}.shoulder" in text and "nearer to the shoulder" in text for text in peg_texts(result, peg))


@LEGS
def test_the_sizes_of_one_part_tell_its_own_pegs_alone(e):
    result = found(RAIL, "made rail - - -")
    assert [peg["hole"] for peg in json.loads(sizes_json(result, f"leg.{e}"))["pegs"]] == [f"leg.{e}.pin.x"]
    assert len(json.loads(sizes_json(result, "rail"))["pegs"]) == 2


@LEGS
def test_a_hole_waits_for_the_reading_it_is_bored_by_and_nothing_else_of_its_part_does(e):
    def told(*rows):
        result = found(RAIL, "made leg.l - - -", "made leg.r - - -", *rows)
        layout = part_layout(result, "rail")
        words = {one.name: (one.word, one.no_line) for axis in layout.axes for one in axis.marks}
        return words, [one for axis in part_sizes(result, "rail")[0].axes for one in axis.rows], result

    words, rows, result = told()
    first = f"read leg.{e}.inner to leg.{e}.pin.x first: it is bored by that"
    assert words[f"{e}.pin"] == ("WAIT", first)
    assert (f"{e}.pin", first) in rows
    assert words["r.shoulder"][0] == "CUT"
    assert not any("±" in text for text in peg_texts(result, peg_of(result, e)))
    words, rows, _ = told(f"reading leg.{e}.inner leg.{e}.pin.x 15.6 fine")
    assert words[f"{e}.pin"] == ("BORE", "")


@LEGS
def test_what_to_read_first(e):
    result = found(RAIL, "made rail - - -")
    peg = peg_of(result, e)
    assert not peg.read
    assert peg.verdict == "can't tell"
    assert peg_texts(result, peg)[0].startswith(f"Read leg.{e}.inner to leg.{e}.pin.x first")


@LEGS
def test_the_gap_that_a_shoulder_stood_off_is_added_to_a_prick(e):
    result = found(
        RAIL,
        f"reading leg.{e}.inner leg.{e}.pin.x 15.6 fine",
        f"reading rail.{e}.shoulder leg.{e}.inner 0.4 fine",
    )
    peg = peg_of(result, e)
    assert peg.gap[0] == near(0.4)
    assert any("move it 2 - 0.10 (1.5 and 0.40 mm that it stood off)" in text for text in peg_texts(result, peg))


@LEGS
@pytest.mark.parametrize(
    ("t", "verdict"), [(14.1, "draws"), (15.7, "can't tell"), (16.2, "does not draw"), (12.0, "draws too much")]
)
def test_the_offset_of_two_holes_that_are_there(e, t, verdict):
    result = found(
        RAIL,
        f"reading leg.{e}.inner leg.{e}.pin.x 15.6 fine",
        f"reading rail.{e}.shoulder rail.{e}.pin {t} fine",
        f"close tenon_rail_leg.{e} - - -",
    )
    peg = peg_of(result, e)
    assert peg.offset == (near(15.6 - t), near(2 * hypot(hypot(U_FINE, U_FINE), 0.05)))
    assert (peg.verdict, peg.bored) == (verdict, True)


@LEGS
def test_a_shoulder_that_stands_off_moves_the_tenons_hole_out(e):
    result = found(
        RAIL,
        f"reading leg.{e}.inner leg.{e}.pin.x 15.6 fine",
        f"reading rail.{e}.shoulder rail.{e}.pin 14.1 fine",
        f"reading rail.{e}.shoulder leg.{e}.inner 2 fine",
    )
    peg = peg_of(result, e)
    assert peg.offset[0] == near(1.5 + 2)
    assert peg.verdict == "draws too much"
    assert any("3.50 mm toward the shoulder" in text for text in peg_texts(result, peg))


def test_it_is_in_the_json():
    result = found(RAIL, "reading leg.l.inner leg.l.pin.x 15.6 fine")
    first, second = json.loads(sizes_json(result))["pegs"]
    assert first["layout_mm"] == near(14.1)
    assert (first["direction"], first["read_first"]) == ("toward the shoulder", [])
    assert second["read_first"] == ["leg.r.inner", "leg.r.pin.x"]


@pytest.mark.parametrize(
    "rows",
    [
        [],
        ["reading leg.l.inner leg.l.pin.x 15.6 fine"],
        ["made rail - - -", "reading leg.l.inner leg.l.pin.x 15.6 fine", "made rail.l.pin - - -"],
        [
            "reading leg.l.inner leg.l.pin.x 15.6 fine",
            "reading rail.l.shoulder rail.r.shoulder 499.2 stick",
            "close tenon_rail_leg.l - - -",
        ],
    ],
)
def test_the_independent_solve_agrees(rows):
    result = found(RAIL, *rows)
    assert disagreements(Case(result.assembly, result.state)) == []


@LEGS
def test_the_line_of_a_hole_is_counted_from_the_line_of_its_shoulder(e):
    # By hand: a shoulder at 40.2 is laid out at 40. Read at 15.4, the hole lies 15.4 - 1.5 = 13.9 from it, at 26.3. Of
    # the lines 26 and 26.5 the second is nearer to that, but 13.5 from where the shoulder is cut; the first is 14.
    plan = RAIL.replace("l.end 40 l.shoulder 500 r.shoulder 40 r.end", "l.end 40.2 l.shoulder 499.6 r.shoulder 40.2 r.end")
    result = found(plan, f"reading leg.{e}.inner leg.{e}.pin.x 15.4 fine")
    index, lines = result.assembly.index, result.laid_out.lines
    hole, shoulder = (lines[index[f"rail.{e}.{name}"]].line_mm for name in ("pin", "shoulder"))
    assert abs(hole - shoulder) == near(14.0)
    assert any(f"bore rail.{e}.pin 14 from rail.{e}.shoulder, exact - 0.10" in text for text in peg_texts(result, peg_of(result, e)))
