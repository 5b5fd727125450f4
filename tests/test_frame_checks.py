"""Wind, level, rock and plumb of a frame: hand cases (specs/hand_cases.md, 13). All in mm; builds are invented."""

from __future__ import annotations

from itertools import combinations
from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.standing import off_plane, stances, under
from tests.plans import problems, warnings, worked
from tests.test_hand_cases import HEAD, U_FINE, found, near

FRAME = """
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 90 inner"
y = "face 90 back"
z = "foot 700 head"
[part.plate]
x = "l 90 l-in 820 r-in 90 r"
y = "f 90 f-in 420 b-in 90 b"
z = "under 30 over"
[joint.stand]
each = '''
leg  x     y
fl   l-in  f-in
fr   r-in  f-in
rl   l-in  b-in
rr   r-in  b-in
'''
meet = ["leg.{leg}.inner against plate.{x}, shoulder, leg.{leg} above",
        "leg.{leg}.back against plate.{y}, shoulder, leg.{leg} above",
        "leg.{leg}.END against plate.FACE, shoulder"]
[check]
"""
ON_PLATE = FRAME.replace("END", "foot").replace("FACE", "over")
UPSIDE_DOWN = FRAME.replace("END", "head").replace("FACE", "under")
COPIES = ("fl", "fr", "rl", "rr")
CLOSED = ["made plate - - -"] + [f"close stand_leg.{leg}_plate - - -" for leg in COPIES]
U_SHUT = 0.05  # k = 1, of a closed shoulder


def checked(plan, sentence, **longer):
    """The one check of a frame whose legs are longer than 700 by so much, all on the plate."""
    rows = [f"reading leg.{leg}.foot leg.{leg}.head {700 + longer.get(leg, 0.0):.6f} fine" for leg in COPIES]
    (check,) = found(plan + sentence, *rows, *CLOSED).checks
    return check


def test_wind_of_four_heights():
    # (0.3 - 1.9) - (0.1 - 0.2) = -1.5; each head is off by a reading and a closed shoulder
    check = checked(ON_PLATE, "wind = 'leg.*.head, within 1'", fl=0.3, fr=1.9, rl=0.1, rr=0.2)
    assert (check.name, check.kind, check.verdict) == ("wind", "wind", "beyond")
    assert abs(check.value_mm) == near(1.5)
    assert check.expanded_mm == near(2 * 2 * hypot(U_FINE, U_SHUT))


def test_level_is_highest_less_lowest_over_the_plane_of_the_feet():
    # Feet stand at 0 +- their shoulders; the plane of four takes their wind q'f / 2 off each height, with a
    # sign: u^2 of a difference along a side is 2 u_r^2 + (q'f)^2, q = (1, -1, -1, 1) / 2, so u_s^2 once more.
    check = checked(ON_PLATE, "level = 'leg.*.head over leg.*.foot, within 1'", fl=0.3, fr=1.9, rl=0.1, rr=0.2)
    assert (check.kind, check.verdict) == ("level", "beyond")
    assert check.value_mm == near(1.8)  # fr over rl, which lie across: the same side of the wind
    assert check.expanded_mm == near(2 * sqrt(2) * U_FINE)
    side = checked(ON_PLATE, "level = 'leg.*.head over leg.*.foot, within 3'", fl=0.0, fr=1.9, rl=0.4, rr=0.4)
    assert abs(side.value_mm) == near(1.9)
    assert side.expanded_mm == near(2 * sqrt(2 * U_FINE**2 + U_SHUT**2))


def test_level_is_over_the_lowest_marks_where_none_are_named():
    # The plate lies under it all, and is level: what it holds up differs by two readings and two shoulders.
    check = checked(ON_PLATE, "level = 'leg.*.head, within 1'", fl=0.3, fr=1.9)
    assert abs(check.value_mm) == near(1.9)
    assert check.expanded_mm == near(2 * sqrt(2) * hypot(U_FINE, U_SHUT))
    hung = checked(UPSIDE_DOWN, "level = 'plate.over@l + plate.over@r, within 1'", fl=0.3)  # the legs' feet
    assert hung.value_mm == near(0.15)  # along x the feet fall 0.3 / 2


def test_rock_is_what_a_foot_stands_off_when_the_others_stand():
    # Upside down on the plate: fl is 1.5 short, so fl or rr stands 1.5 off.
    check = checked(UPSIDE_DOWN, "rock = 'leg.*.foot, within 1'", fl=-1.5)
    assert (check.kind, check.value_mm, check.verdict) == ("rock", near(1.5), "beyond")
    assert check.expanded_mm == near(2 * 2 * hypot(U_FINE, U_SHUT))
    level = checked(UPSIDE_DOWN, "rock = 'leg.*.foot, within 1'", fl=-1.2, fr=-1.2)  # a slope is no rock
    assert (level.value_mm, level.verdict) == (near(0.0), "within")


def test_plumb_is_the_lean_that_was_read():
    plan = ON_PLATE + "plumb = 'leg.*.outer/face at foot and at head, within 2'"
    rows = ["reading leg.fl.outer leg.fl.outer@foot 0 fine", "reading leg.fl.outer@foot leg.fl.outer@head 0 fine"]
    result = found(plan, *rows, *CLOSED)
    names = [check.name for check in result.checks]
    assert names == [f"plumb leg.{leg} {axis}" for leg in COPIES for axis in "xy"]
    first = result.checks[0]
    assert (first.kind, first.value_mm, first.expanded_mm) == ("plumb", near(0.0), near(2 * U_FINE))


# -- the geometry by itself ------------------------------------------------------------------------

SQUARE = [(0.0, 0.0), (820.0, 0.0), (0.0, 420.0), (820.0, 420.0)]
places = st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=4, max_size=7, unique=True)


def plane_through(points, heights):
    """The plane by solving its three equations (numpy.linalg)."""
    return np.linalg.solve(np.column_stack([np.ones(3), np.array(points, float)]), np.array(heights, float))


def test_of_a_rectangle_all_four_stand_off_alike():
    assert [row for _, row in off_plane(SQUARE)] == [
        (1, -1, -1, 1), (-1, 1, 1, -1), (-1, 1, 1, -1), (1, -1, -1, 1),
    ]  # fmt: skip


def test_of_a_trapezoid_the_narrow_side_stands_off_less():
    # Sides 10 and 4 across, centred: a plane through three at the wide side and one narrow corner makes
    # 10 of what it makes over 4: 2.5 times.
    rows = dict(off_plane([(0.0, 0.0), (10.0, 0.0), (3.0, 6.0), (7.0, 6.0)]))
    assert rows[0] == (1.0, -1.0, -2.5, 2.5)
    assert rows[2] == (-0.4, 0.4, 1.0, -1.0)


@settings(max_examples=30)
@given(places, st.data())
def test_a_mark_stands_off_the_best_plane_of_the_others(at, data):
    heights = np.array([data.draw(st.integers(-9, 9)) for _ in at], float)
    for k, row in off_plane(at):
        rest = [j for j in range(len(at)) if j != k]
        design = np.column_stack([np.ones(len(rest)), np.array([at[j] for j in rest], float)])
        best, *_ = np.linalg.lstsq(design, heights[rest], rcond=None)
        if np.linalg.matrix_rank(design) == 3:
            assert np.dot(row, heights) == pytest.approx(heights[k] - best @ [1, *at[k]], abs=1e-6 * (1 + np.abs(row).max()))


@settings(max_examples=30)
@given(places, st.data())
def test_no_foot_is_under_the_floor_a_frame_stands_on(at, data):
    heights = [float(data.draw(st.integers(-9, 9))) for _ in at]
    for face, foot, row in stances(at, heights):
        plane = plane_through([at[k] for k in face], [heights[k] for k in face])
        for k, place in enumerate(at):
            assert heights[k] >= plane @ [1, *place] - 1e-6
        assert np.dot(row, heights) == pytest.approx(heights[foot] - plane @ [1, *at[foot]], abs=1e-6)


def test_every_three_feet_in_a_triangle_of_four_are_found():
    # The fifth foot, in the middle, is 1 too long: the frame stands on it and on any two next to each other.
    at = [(0.0, 0.0), (4.0, 0.0), (0.0, 4.0), (4.0, 4.0), (2.0, 2.0)]
    found_faces = {frozenset(face) for face, _, _ in stances(at, [0.0, 0.0, 0.0, 0.0, -1.0])}
    assert found_faces == {frozenset(pair) | {4} for pair in combinations(range(4), 2) if sum(pair) != 3}


def test_heights_over_feet_in_line_are_level_across_the_line():
    assert under([(5.0, 9.0), (10.0, -3.0)], [(0.0, 0.0), (10.0, 0.0)]) == [(0.5, 0.5), (0.0, 1.0)]
    assert under([(5.0, 9.0)], [(1.0, 1.0)]) == [(1.0,)]


# -- laws ------------------------------------------------------------------------------------------

lengths = st.tuples(*[st.integers(-30, 30).map(lambda tenths: tenths / 10)] * 4)
ALL = "wind = 'leg.*.head, within 1'\nlevel = 'leg.*.head over leg.*.foot, within 1'\n"


def values(plan, longer, names=COPIES):
    rows = [f"reading leg.{leg}.foot leg.{leg}.head {700 + more:.6f} fine" for leg, more in zip(names, longer, strict=True)]
    closed = ["made plate - - -"] + [f"close stand_leg.{leg}_plate - - -" for leg in names]
    return [(abs(c.value_mm), c.expanded_mm, c.verdict) for c in found(plan, *rows, *closed).checks]


@settings(max_examples=8)
@given(lengths, st.integers(-40, 40))
def test_a_twist_is_found_and_moving_or_renaming_all_changes_nothing(longer, along):
    a, b, c, d = longer
    here = values(ON_PLATE + ALL, longer)
    assert here[0][0] == near(abs((a - b) - (c - d)))
    assert here[1][0] == near(max(longer) - min(longer))
    moved = ON_PLATE.replace('y = "f 90 f-in', f'y = "f {90 + along} f-in') + ALL  # the plate reaches elsewhere
    assert values(moved, longer) == [(near(v), near(u), w) for v, u, w in here]
    named = (ON_PLATE + ALL).replace(" fl ", " a ").replace("\nfl  ", "\na  ")
    assert values(named, longer, ("a", "fr", "rl", "rr")) == [(near(v), near(u), w) for v, u, w in here]
    handed = ON_PLATE.replace('fl = "as drawn", fr = "left for right"', 'fl = "left for right", fr = "as drawn"') + ALL
    swapped = handed.replace("fl   l-in", "fl   r-in", 1).replace("fr   r-in", "fr   l-in", 1)
    assert values(swapped, longer, ("fr", "fl", "rl", "rr")) == [(near(v), near(u), w) for v, u, w in here]


def test_u_is_what_simulated_builds_scatter_by():
    """10,000 frames: heights as read, feet as the shoulders leave them; the value of each by its own numbers."""
    rng = np.random.default_rng(7)
    heads, feet = rng.normal(0.0, U_FINE, (10_000, 4)), rng.normal(0.0, U_SHUT, (10_000, 4))
    q = np.array([1.0, -1.0, -1.0, 1.0])
    wind = checked(ON_PLATE, "wind = 'leg.*.head, within 1'")
    level = checked(ON_PLATE, "level = 'leg.*.head over leg.*.foot, within 1'", fl=5.0)
    over = heads + feet - (feet - np.outer(feet @ q, q) / 4)  # over the best plane of the feet
    assert np.std((heads + feet) @ q) == pytest.approx(wind.expanded_mm / 2, rel=0.03)
    assert np.std(over[:, 0] - over[:, 1]) == pytest.approx(level.expanded_mm / 2, rel=0.03)


# -- what can't be asked ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "sentence", "what"),
    [
        ("heads", "leg.*.head, within 1", "what is checked of these marks?"),
        ("rock", "leg.*.head + leg.fl.face, within 1", "leg.fl.head lies along z, leg.fl.face along y: these marks lie along one axis"),
        ("rock", "leg.fl.foot + leg.fr.foot + leg.rl.foot, within 1", "this names 3 marks, and on three feet nothing rocks: name four or more"),
        ("wind", "leg.*.head, within 0", "a within of 0 can't be weighed"),
        ("wind", "leg.*.head", "within L was expected here"),
        ("level", "leg.*.foot, within 1", "the frame stands on leg.fl.foot, leg.fr.foot, leg.rl.foot, leg.rr.foot: what is level is measured from that"),
        ("level", "leg.*.outer, within 1", "leg.fl.outer lies along x: level is about heights, along z"),
        ("plumb", "leg.*.head at outer and at inner, within 1", "leg.fl.head lies along z: an edge is out of plumb to the side"),
        ("plumb", "leg.*.outer at foot, within 1", "an edge is plumb between two stations: at A and at B"),
        ("square", "leg.*.outer, within 1", '"corners" was expected here'),
        ("wind", "leg.*.head + leg.fl.head, within 1", "leg.fl.head stands twice here"),
    ],
)  # fmt: skip
def test_a_sentence_that_makes_no_sense_is_shown_with_a_caret(key, sentence, what):
    (problem,) = problems(HEAD + UPSIDE_DOWN + f"{key} = '{sentence}'")
    assert (problem.level, problem.what) == ("error", what)
    assert problem.place.text == sentence
    assert problem.hint


def test_all_that_is_wrong_is_said_at_once():
    wrong = "wind = 'leg.*.heat, within 1'\nrock = 'leg.*.foot within'\nlevel = 'led.*.head, within 1'"
    assert len([p for p in problems(HEAD + ON_PLATE + wrong) if p.level == "error"]) == 3


def test_without_joints_handed_copies_stand_at_four_corners():
    legs = ON_PLATE.split("[part.plate]")[0] + "[check]\nwind = 'leg.*.head, within 1'"
    assert warnings(HEAD + legs) == []
    plain = legs.replace('{ fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }', '["a", "b", "c", "d"]')
    assert warnings(HEAD + plain)[0].startswith("nothing ties leg.a, leg.b, leg.c, leg.d along x")


def test_a_frame_that_is_in_wind_in_the_plan_is_a_warning():
    plan = ON_PLATE.replace('"foot 700 head"', '["foot 700 head", "foot 4 toe"]') + "wind = 'leg.fl.toe + leg.fr.foot + leg.rl.foot + leg.rr.foot, within 1'"
    assert "by the plan itself it is off by 4 mm, beyond its 1" in warnings(HEAD + plan)


def test_wind_read_by_sticks_is_the_wind_of_the_check():
    """The gap at the stick's end, 1.2 over 600, is 1.0 over the 500 between the marks."""
    row = fitsolve.Row(
        time="2025-11-25T14:10:00+00:00", event="wind", start="leg.fl.head + leg.fr.head", end="leg.rl.head + leg.rr.head",
        reading="1.2", tool="fine", note="proud leg.fl.head, stick 600, width 500",
    )  # fmt: skip
    closing = [
        fitsolve.Row(time=row.time, event="close", start=f"stand leg.{leg} plate", note="dry") for leg in COPIES
    ]
    made = [fitsolve.Row(time=row.time, event="made", start=name) for name in ("plate", *(f"leg.{leg}" for leg in COPIES))]
    plan = read_plan(HEAD + ON_PLATE + "wind = 'leg.*.head, within 1.5'")
    (check,) = fitsolve.reconcile(fitsolve.Build(plan=plan, log=[*made, *closing, row])).checks
    assert check.value_mm == near(1.0)
    assert check.expanded_mm == near(2 * U_FINE * 500 / 600)


BOARD = """
[part.top]
x = "left 900 right"
y = "front 500 back"
z = "under 40 over"
[check]
wind = "top.over@left.front + top.over@right.front + top.over@left.back + top.over@right.back, within 1"
"""


def test_the_corners_of_a_board_are_stations_of_two_words():
    corners = ("left.front", "right.front", "left.back", "right.back")
    assert warnings(HEAD + BOARD) == []
    gaps = zip(corners, (40.2, 41.0, 40.4, 39.9), strict=True)
    (check,) = found(BOARD, *[f"reading top.under top.over@{corner} {mm} fine" for corner, mm in gaps]).checks
    assert abs(check.value_mm) == near(abs((40.2 - 41.0) - (40.4 - 39.9)))
    assert check.expanded_mm == near(2 * 2 * U_FINE)


def test_a_base_narrower_behind_counts_where_its_feet_stand():
    """Front legs 910 apart, rear legs 455: a front head stands off the others' plane by twice what a rear one does."""
    plan = ON_PLATE.replace('x = "l 90 l-in 820 r-in 90 r"', 'x = ["l 90 l-in 820 r-in 90 r", "l 317.5 l-re 365 r-re 317.5 r"]')
    plan = plan.replace("rl   l-in", "rl   l-re").replace("rr   r-in", "rr   r-re")
    # legs are 90 thick, their middles 45 outside those marks: 910 and 455 apart
    check = checked(plan, "wind = 'leg.*.head, within 1'", rl=1.0)
    assert abs(check.value_mm) == near(2.0)
    u = hypot(U_FINE, U_SHUT)
    assert check.expanded_mm == near(2 * sqrt(2 * u**2 + 2 * (2 * u) ** 2))


def test_of_each_part_only_its_lowest_mark_is_stood_on():
    legs = UPSIDE_DOWN.replace('z = "foot 700 head"', 'z = ["foot 700 head", "foot 0.4 chamfer"]')
    assembly = worked(HEAD + legs + "level = 'plate.over@l + plate.over@r, within 1'")
    (check,) = assembly.checks
    assert [assembly.marks[mark].name for mark in check.frame.base] == [f"leg.{leg}.foot" for leg in COPIES]
