"""Slanted lines and wood to leave on stand on the sheet and in the drawing of a part. Worked by hand; builds are invented."""

from __future__ import annotations

import pytest
from cli_folder import folder_of
from test_drawings import words_on
from test_paper_has_room import clear, found_in, pages_of_sheet

from fitsolve.drawing.assembled import assembled_page
from fitsolve.drawing.assembledwords import assembled_drawing
from fitsolve.drawing.cutlines import cut_lines
from fitsolve.drawing.partdraw import part_page
from fitsolve.drawing.partwords import part_drawing
from fitsolve.drawing.shapes import Page
from fitsolve.drawing.shapes import Path as Lines
from fitsolve.drawing.slants import slants_of, with_slanted_ends
from fitsolve.findings.edges import edges
from fitsolve.reconciliation import Reconciliation

HEAD = 'unit = "mm"\nfinest = 0.5\nworkmanship = 0.5\ngive = 1\n'
LEG = HEAD + """
[part.leg]
copies = { l = "as drawn", r = "left for right" }
x = "outer 90 inner"
z = "foot 100 notch@inner 60 top 540 head"
slopes = "notch@inner..notch@outer 1:6 down"
"""
RAIL = HEAD + """
[part.rail]
x = "end 90 shoulder 500 middle"
z = "lower 60 upper"
slopes = "lower@shoulder..lower@end 1:6 down"
"""
STAND = HEAD + """
fits = { shoulder = [0, 0, 0.2] }
[part.post]
copies = ["l", "r"]
x = "outer 45 inner"
[part.rail]
x = "l.shoulder 500 (499 to 502) r.shoulder"
[joint.tenon]
meet = ["rail.l.shoulder against post.l.inner, shoulder", "rail.r.shoulder against post.r.outer, shoulder"]
"""
STAND_READ = (
    "reading,post.l.outer,post.l.inner,45.1,caliper,\nreading,post.l.inner,post.r.outer,500.4,rod,\n"
    "reading,post.r.outer,post.r.inner,45,caliper,\n"
)


LAPPED = LEG.replace("foot 100 notch@inner 60", "foot 100 notch 60").replace(
    "give = 1\n", "give = 1\nfits = { slip = [0, 0.2, 0.5] }\n"
) + """
[part.rail]
x = "end 90 shoulder 500 middle"
z = "lower 60 upper"
slopes = "lower@shoulder..lower@end 1:6 down"
[joint.lap]
meet = ["rail.shoulder against leg.l.inner, slip", "rail.lower@shoulder/upper in leg.l.notch@inner/top, slip"]
"""


def oblique(page: Page) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Plain lines that run neither along the page nor up it; hatching, signs and leaders are drawn finer or not plain."""
    return [
        (s.points[0], s.points[1])
        for s in page.shapes
        if isinstance(s, Lines) and len(s.points) == 2 and s.pen and s.pen.width_mm == 0.25
        and abs(s.points[0][0] - s.points[1][0]) > 1e-6 and abs(s.points[0][1] - s.points[1][1]) > 1e-6
    ]  # fmt: skip


def slants(found: Reconciliation, part: str):
    return {edge.axis: slants_of(found, edge) for edge in edges(found.solved, [part])}


@pytest.mark.parametrize(("copy", "height"), [("l", (1.0, 0.0)), ("r", (0.0, 1.0))])
def test_a_slanted_line_is_seen_along_the_length_of_its_part(tmp_path, copy, height):
    # By hand: 90 at 1:6 is 15, so from 100 on the inner side to 85 on the outer; handed, the inner lies on the left.
    seen = slants(found_in(folder_of(tmp_path / "b", LEG)), f"leg.{copy}")
    assert seen["x"] == ()
    (one,) = seen["z"]
    assert one.at_mm == pytest.approx((100, 85))
    assert one.height == pytest.approx(height)
    assert one.across == "x"


def test_the_side_of_a_tail_is_seen_along_the_rail(tmp_path):
    # By hand: it falls 15 from the shoulder at 90 to the end at 0; over 75 in all the shoulder's end is 1/5 up.
    seen = slants(found_in(folder_of(tmp_path / "b", RAIL)), "rail")
    (one,) = seen["x"]
    assert seen["z"] == ()
    assert one.at_mm == pytest.approx((90, 0))
    assert one.height == pytest.approx((0.2, 0.0))


def test_the_drawing_has_the_line_to_scale_and_says_it(tmp_path):
    page = part_page(part_drawing(found_in(folder_of(tmp_path / "b", LEG)), "leg.l", "0-0000"))
    ((start, end),) = oblique(page)
    frame = [s.points for s in page.shapes if isinstance(s, Lines) and s.pen and s.pen.width_mm == 0.5 and len(s.points) == 2]
    long = max(abs(a[0] - b[0]) for a, b in frame)  # 700 from foot to head
    assert abs(end[0] - start[0]) == pytest.approx(15 * long / 700)
    assert "slope 1:6: notch@inner at 100, notch@outer at 85 (inner..outer 90)" in words_on(page)
    assert any("slanted: inner above, outer below" in words for words in words_on(page))
    clear(page, 0.0)


def test_waste_is_hatched_up_to_the_slanted_wall(tmp_path):
    # The notch lies between the slanted wall, 100 above and 85 below, and the top at 160: no hatching left of it.
    page = part_page(part_drawing(found_in(folder_of(tmp_path / "b", LAPPED)), "leg.l", "0-0000"))
    ((start, end),) = oblique(page)
    (high, low) = sorted((start, end), key=lambda at: at[1])
    wall = lambda y: high[0] + (low[0] - high[0]) * (y - high[1]) / (low[1] - high[1])  # noqa: E731
    hatched = [
        s.points for s in page.shapes
        if isinstance(s, Lines) and len(s.points) == 2 and s.pen and s.pen.width_mm == 0.1
        and all(high[1] - 1e-6 <= y <= low[1] + 1e-6 and x < wall(y) + 25 for x, y in s.points)
        and abs(s.points[0][0] + s.points[0][1] - s.points[1][0] - s.points[1][1]) < 1e-6
    ]  # fmt: skip
    assert len(hatched) > 5
    assert all(x >= wall(y) - 1e-6 for points in hatched for x, y in points)
    assert min(x - wall(y) for points in hatched for x, y in points) < 0.1, "up to the wall"


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_sheet_has_it_too(tmp_path, paper):
    pages = pages_of_sheet(found_in(folder_of(tmp_path / "b", LEG)), paper)
    for page in pages:
        clear(page)
    assert sum(len(oblique(page)) for page in pages) == 2
    said = " ".join(words for page in pages for words in words_on(page))
    assert "slope 1:6: notch@inner at 100, notch@outer at 85 (inner..outer 90)" in said


def test_wood_to_leave_on_stands_on_the_sheet_and_in_the_drawing(tmp_path):
    # 501 for 500.4: the closed form stands in test_leaving_on; here that paper says what the layout says.
    found = found_in(folder_of(tmp_path / "b", STAND, STAND_READ))
    drawn = part_page(part_drawing(found, "rail", "0-0000"))
    clear(drawn, 0.0)
    for pages in (pages_of_sheet(found, "a4"), [drawn]):
        said = " ".join(words for page in pages for words in words_on(page))
        assert "leave on: r.shoulder 501 for" in said
        assert "(5 % allowed;" in said
        assert "expect to trim" in said


def test_a_part_that_waits_shows_neither(tmp_path):
    rows = STAND_READ + "reading,post.l.inner,post.r.outer,526,rod,\n"
    found = found_in(folder_of(tmp_path / "b", STAND, rows))
    assert found.suspicions, "two readings of one distance, an inch apart"
    said = " ".join(words for page in pages_of_sheet(found, "a4") for words in words_on(page))
    assert "leave on" not in said
    assert part_drawing(found, "rail", "0-0000").notes == ()


def test_a_wall_that_is_met_at_its_stations_has_its_waste_side(tmp_path):
    # A tail of 1:6 goes in between notch and top: between them is air, so the wood of the slanted wall is below it.
    found = found_in(folder_of(tmp_path / "b", LAPPED))
    (edge,) = (one for one in edges(found.solved, ["leg.l"]) if one.axis == "z")
    wood = {found.assembly.marks[one.mark].name: one.wood for one in edge.marks}
    assert wood["leg.l.notch"] == -1
    assert wood["leg.l.top"] == 1


@pytest.mark.parametrize(("copy", "start"), [("l", "foot@outer"), ("r", "foot@outer")])
def test_a_strip_has_a_line_for_each_face_that_a_slanted_line_comes_out_on(tmp_path, copy, start):
    # By hand: 90 across at 1:6 is 15, so the foot falls 15 below its start, and the notch lies at 100 and 85.
    plan = LEG.replace("foot 100 notch@inner 60", "foot 100 notch 60").replace(
        'slopes = "', 'slopes = ["foot@outer..foot@inner 1:6 down", "'
    ).replace(' 1:6 down"\n', ' 1:6 down"]\n')
    found = found_in(folder_of(tmp_path / "b", plan))
    (edge,) = (one for one in edges(found.solved, [f"leg.{copy}"]) if one.axis == "z")
    (lines,) = cut_lines(found, [edge], exact=True)
    told = {line.name: (line.word, line.figure) for line in with_slanted_ends(found, edge, lines)}
    assert told == {
        "foot@inner": ("CUT", "15 the other way"), start: ("START", "0"), "notch@outer": ("CUT", "85"),
        "notch@inner": ("CUT", "100"), "top": ("CUT", "160"), "head": ("CUT", "700"),
    }  # fmt: skip


def test_the_whole_has_its_slanted_lines(tmp_path):
    # By hand: the foot of a notch 1:6 over 90 falls 15 from the inner side (right of the left leg) to the outer.
    found = found_in(folder_of(tmp_path / "b", LEG))
    drawing = assembled_drawing(found, "0-0000")
    seen = {view.title: [(one.part, one.start, one.end) for one in view.slants] for view in drawing.views}
    assert set(seen) == {"front"}
    for part, (x, y), (u, v) in seen["front"]:
        assert (u - x, v - y) == pytest.approx((-90 if part == "leg.l" else 90, -15))
    assert len(seen["front"]) == 2
    clear(assembled_page(drawing), 0.0)


def test_a_slanted_line_is_told_from_the_line_that_it_is_cut_to(tmp_path):
    # Of halves 100 is the nearest to 100.2; 90 at 1:6 below that is 85.
    found = found_in(folder_of(tmp_path / "b", LEG.replace("foot 100 notch", "foot 100.2 notch")))
    assert "slope 1:6: notch@inner at 100, notch@outer at 85 (inner..outer 90)" in part_drawing(found, "leg.l", "0-0000").notes


ACROSS = """\
unit = "mm"
finest = 1
workmanship = 0.3
[part.rail]
x = "l.end 900 r.end"
y = "front 40 back"
z = "under 60 bevel@front 20 top"
slopes = "bevel@front..bevel@back 1:8 up"
"""


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_slanted_line_across_the_length_has_a_strip_of_its_own(tmp_path, paper):
    # A top that falls from back to front lies in the section, over y and z: neither is what the rail is longest along.
    found = found_in(folder_of(tmp_path / "b", ACROSS))
    pages = pages_of_sheet(found, paper)
    for page in pages:
        clear(page)
    assert sum(len(oblique(page)) for page in pages) == 1


def test_a_slanted_line_is_drawn_though_nothing_is_cut_along_its_longer_axis(tmp_path):
    # The same rail with its heights made: its back is still to be cut, and the bevel is seen along y then.
    rows = "made,rail.under,,,,\nmade,rail.top,,,,\n"
    plan = ACROSS.replace("under 60 bevel@front 20 top", "under 80 top").replace("front 40 back", "front 40 bevel@under")
    plan = plan.replace("bevel@front..bevel@back 1:8 up", "bevel@under..bevel@top 1:8 back")
    found = found_in(folder_of(tmp_path / "b", plan, rows))
    assert sum(len(oblique(page)) for page in pages_of_sheet(found, "a4")) == 1
