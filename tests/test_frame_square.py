"""Square: rack, taper, wind and twist of a frame. Hand cases: specs/hand_cases.md, 14. All in mm; builds are invented."""

from __future__ import annotations

from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

import fitsolve
from fitsolve.build.plan import read_plan
from tests.plans import problems
from tests.test_hand_cases import HEAD, U_FINE, found, near

POSTS = """
[part.post]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 60 inner"
y = "face 60 back"
z = "foot 700 head"
[part.side]
copies = { f = "as drawn", r = "front for rear" }
x = "l.end 800 r.end"
[part.end]
copies = { l = "as drawn", r = "left for right" }
y = "f.end 500 r.end"
[joint.long]
meet = ["side.f.l.end against post.fl.inner, shoulder", "side.f.r.end against post.fr.inner, shoulder",
        "side.r.l.end against post.rl.inner, shoulder", "side.r.r.end against post.rr.inner, shoulder"]
[joint.short]
meet = ["end.l.f.end against post.fl.back, shoulder", "end.l.r.end against post.rl.back, shoulder",
        "end.r.f.end against post.fr.back, shoulder", "end.r.r.end against post.rr.back, shoulder"]
[check]
"""
A, B = 920.0, 620.0  # outer to outer, face to face in the plan
COPIES = ("fl", "fr", "rl", "rr")
SQUARE = "square = 'corners post.*.outer/face at head, within 2'\n"
SIDES = (("outer", "fl", "fr"), ("outer", "rl", "rr"), ("face", "fl", "rl"), ("face", "fr", "rr"))


def corner(copy, at="head"):
    return f"post.{copy}.outer/face@{at}"


def read_sides(front, rear, left, right, at="head"):
    lengths = zip(SIDES, (front, rear, left, right), strict=True)
    return [f"reading post.{a}.{m}@{at} post.{b}.{m}@{at} {mm:.9f} fine" for (m, a, b), mm in lengths]


def read_diagonals(one=None, other=None, at="head"):
    pairs = (("fl", "rr", one), ("fr", "rl", other))
    return [f"diagonal {corner(a, at)} {corner(b, at)} {mm:.9f} fine" for a, b, mm in pairs if mm is not None]


def numbers(plan, *rows):
    return {check.name: check for check in found(POSTS + plan, *rows).checks}


def lengths(corners):
    """Sides and diagonals of a frame by the places of its corners, by Pythagoras."""
    fl, fr, rl, rr = np.array(corners, float)
    return [float(np.hypot(*(b - a))) for a, b in ((fl, fr), (rl, rr), (fl, rl), (fr, rr), (fl, rr), (fr, rl))]


def test_rack_of_a_sheared_rectangle():
    # a x b sheared by s: d1^2 - d2^2 = 4 a s, so d1 - d2 = 4 a s / (d1 + d2)
    s = 2.5
    one, other = hypot(A + s, B), hypot(A - s, B)
    check = numbers(SQUARE, *read_sides(A, A, B, B), *read_diagonals(one, other))["square rack"]
    assert (check.kind, check.verdict) == ("rack", "beyond")
    assert check.value_mm == near(4 * A * s / (one + other))
    # Sides and two diagonals say it twice, but the sides say it of both diagonals' sum alone: 2 u^2 is left.
    assert check.expanded_mm == pytest.approx(2 * sqrt(2) * U_FINE, rel=1e-3)


def test_equal_diagonals_alone_prove_nothing():
    # An even trapezoid: its diagonals are equal, and it is 6 wider in front.
    plan = numbers(SQUARE, *read_sides(A + 3, A - 3, B, B), *read_diagonals(hypot(A, B), hypot(A, B)))
    assert (plan["square rack"].value_mm, plan["square rack"].verdict) == (near(0.0), "within")
    assert (plan["square taper"].value_mm, plan["square taper"].verdict) == (near(6.0), "beyond")
    assert plan["square taper"].expanded_mm == near(2 * sqrt(2) * U_FINE)
    assert (plan["square wind"].value_mm, plan["square wind"].verdict) == (None, "can't tell")


def test_what_was_not_read_is_missing_by_name():
    only_sides = numbers(SQUARE, *read_sides(A, A, B, B))
    assert [(m.event, m.start, m.end) for m in only_sides["square rack"].missing] == [
        ("diagonal", corner("fl"), corner("rr")), ("diagonal", corner("fr"), corner("rl")),
    ]  # fmt: skip
    made = [f"made post.{copy}.{mark} - - -" for copy in COPIES for mark in ("outer", "face")]
    one = numbers(SQUARE, *made, *read_sides(A, A, B, B)[:3], *read_diagonals(hypot(A, B)))
    assert [(m.start, m.end) for m in one["square rack"].missing] == [(corner("fr"), corner("rl"))]
    assert [(m.start, m.end) for m in one["square taper"].missing] == [("post.fr.face@head", "post.rr.face@head")]
    wind = one["square wind"].missing
    assert [(m.event, m.start, m.end) for m in wind] == []  # no post's height is made: nothing to read yet


def test_wind_of_the_corners_is_that_of_the_station_s_own_marks():
    rows = [f"reading post.{copy}.foot post.{copy}.head 700 fine" for copy in COPIES]
    assert [m.event for m in numbers(SQUARE, *rows)["square wind"].missing] == ["wind"]
    note_free = [f"reading post.fl.head post.{copy}.head {gap} fine" for copy, gap in (("fr", 0), ("rl", 0), ("rr", 0))]
    check = numbers(SQUARE, *rows, *note_free)["square wind"]
    assert (check.kind, check.value_mm, check.verdict) == ("wind", near(0.0), "within")


def test_twist_is_how_much_more_one_edge_of_a_side_leans_than_the_other():
    plan = "square = 'corners post.*.outer/face at foot and at head, within 2'"
    rows = [f"reading post.{copy}.{mark}@foot post.{copy}.{mark}@head 0 fine" for copy in COPIES for mark in ("outer", "face")]
    checks = numbers(plan, *rows)
    assert list(checks) == [f"square {kind}" for kind in (
        "rack foot", "taper foot", "wind foot", "rack head", "taper head", "wind head", "twist",
    )]  # fmt: skip
    assert (checks["square twist"].value_mm, checks["square twist"].expanded_mm) == (near(0.0), near(2 * sqrt(2) * U_FINE))
    assert [(m.event, m.start, m.end) for m in numbers(plan, "made post.rr - - -", *rows[:-1])["square twist"].missing] == [
        ("lean", "post.rr.face@foot", "post.rr.face@head")
    ]


small = st.integers(-30, 30).map(lambda tenths: tenths / 10)


@settings(max_examples=12)
@given(st.lists(st.tuples(small, small), min_size=4, max_size=4))
def test_rack_is_the_true_difference_of_the_diagonals(off):
    """Against the exact geometry of four places: with both diagonals as they are, and with one, the other
    following from the triangle of sides (law of cosines)."""
    plan = [(0.0, 0.0), (A, 0.0), (0.0, B), (A, B)]
    front, rear, left, right, one, other = lengths([(u + du, v + dv) for (u, v), (du, dv) in zip(plan, off, strict=True)])
    both = numbers(SQUARE, *read_sides(front, rear, left, right), *read_diagonals(one, other))["square rack"]
    assert both.value_mm == pytest.approx(one - other, abs=0.02)
    alone = numbers(SQUARE, *read_sides(front, rear, left, right), *read_diagonals(one))["square rack"]
    assert alone.value_mm == pytest.approx(one - _other_diagonal(front, rear, left, right, one), abs=0.1)


def _other_diagonal(front, rear, left, right, one):
    """fr to rl, fl at the origin and rr at (one, 0): fr on one side of the diagonal, rl on the other."""
    def apex(a, b, side):  # a from the origin, b from (one, 0)
        along = (one**2 + a**2 - b**2) / (2 * one)
        return np.array([along, side * sqrt(a**2 - along**2)])

    return float(np.hypot(*(apex(front, right, -1) - apex(left, rear, 1))))


def test_u_of_rack_and_taper_by_simulated_frames():
    """600 readings of one frame, each solved as six unknown coordinates by scipy.optimize.least_squares."""
    rng = np.random.default_rng(11)
    true = np.array([(0.0, 0.0), (A + 1, 0.4), (2.0, B - 1), (A - 1, B + 0.5)])
    rows = [*read_sides(*lengths(true)[:4]), *read_diagonals(*lengths(true)[4:])]
    checks = numbers(SQUARE, *rows)
    scatter = []
    for noise in rng.normal(0.0, U_FINE, (600, 6)):
        read = np.array(lengths(true)) + noise
        free = least_squares(lambda p: np.array(lengths([(0, 0), (p[0], 0), p[1:3], p[3:5]])) - read, [A, 0, B, A, B]).x
        front, rear, _, _, one, other = lengths([(0, 0), (free[0], 0), free[1:3], free[3:5]])
        scatter.append((one - other, front - rear))
    rack, taper = np.std(scatter, axis=0)
    assert rack == pytest.approx(checks["square rack"].expanded_mm / 2, rel=0.1)
    assert taper == pytest.approx(checks["square taper"].expanded_mm / 2, rel=0.1)


@pytest.mark.parametrize(
    ("sentence", "what"),
    [
        ("corners post.*.outer/face at head", "within L was expected here"),
        ("corners post.*.outer at head, within 1", "post.*.outer is one mark: a corner has two, along two axes"),
        ("corners post.fl.outer/face + post.fr.outer/face at head, within 1", "a square has four corners, and this names 2"),
        ("corners post.*.outer/inner at head, within 1", "post.fl.outer@head and post.fl.inner@head lie along one axis"),
        ("corners post.fl.outer/face + post.fl.inner/face + post.fl.outer/back + post.fl.inner/back, within 1",
         "two of these corners share a mark, so nothing could differ between them"),
        ("corners post.*.outer/face at head and at head, within 1", "one station stands twice here"),
        ("corners post.*.outer/face at head and foot, within 1", '"at" was expected here: at foot and at head'),
    ],
)  # fmt: skip
def test_a_sentence_that_makes_no_sense(sentence, what):
    (problem,) = [p for p in problems(HEAD + POSTS + f"square = '{sentence}'") if p.level == "error"]
    assert problem.what == what
    assert sentence.startswith(problem.place.text.removesuffix("..."))
    assert problem.hint


def test_corners_without_a_height_tell_no_wind_and_say_so():
    (notice,) = problems(HEAD + POSTS + "square = 'corners post.*.outer/face, within 1'")
    assert notice.level == "notice"
    assert "no wind" in notice.what


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_planted_frames_are_found_whole(seed):
    """Eight corners off by 1.5 mm (k = 1) each way; sides, diagonals and leans as they would be read, without
    error; every number against the coordinates."""
    rng = np.random.default_rng(seed)
    base = np.array([(0, 0), (A, 0), (0, B), (A, B)], float)
    foot, head = base + rng.normal(0, 1.5, (4, 2)), base + rng.normal(0, 1.5, (4, 2))
    rows = [_row(f"{text} -") for at, c in (("foot", foot), ("head", head)) for text in _read(c, at)]
    outward = {"fl": (-1, -1), "fr": (1, -1), "rl": (-1, 1), "rr": (1, 1)}
    for k, copy in enumerate(COPIES):
        for axis, mark in enumerate(("outer", "face")):
            lean, name = float((head - foot)[k, axis]), f"post.{copy}.{mark}"
            proud = "head" if lean * outward[copy][axis] >= 0 else "foot"
            rows.append(_row(f"lean {name}@foot {name}@head {abs(lean):.9f} fine proud {name}@{proud}"))
    plan = read_plan(HEAD + POSTS + "square = 'corners post.*.outer/face at foot and at head, within 2'")
    found_values = {c.name: c.value_mm for c in fitsolve.reconcile(fitsolve.Build(plan=plan, log=rows)).checks}
    for at, c in (("foot", foot), ("head", head)):
        front, rear, left, right = _along(c)
        assert found_values[f"square rack {at}"] == pytest.approx(np.hypot(*(c[3] - c[0])) - np.hypot(*(c[2] - c[1])), abs=0.01)
        assert abs(found_values[f"square taper {at}"]) == pytest.approx(max(abs(front - rear), abs(left - right)), abs=0.01)
    lean = head - foot
    twists = (lean[1, 1] - lean[0, 1], lean[3, 1] - lean[2, 1], lean[2, 0] - lean[0, 0], lean[3, 0] - lean[1, 0])
    assert abs(found_values["square twist"]) == pytest.approx(max(map(abs, twists)), abs=0.01)


def _along(c):
    """Sides as a rod along each reads them."""
    return c[1, 0] - c[0, 0], c[3, 0] - c[2, 0], c[2, 1] - c[0, 1], c[3, 1] - c[1, 1]


def _read(c, at):
    return [*read_sides(*_along(c), at=at), *read_diagonals(np.hypot(*(c[3] - c[0])), np.hypot(*(c[2] - c[1])), at=at)]


def _row(text):
    event, start, end, reading, tool, *note = text.split()
    return fitsolve.Row(
        time="2025-11-25T14:10:00+00:00", event=event, start=start, end=end, reading=reading, tool=tool,
        note=" ".join(note).strip("-"),
    )  # fmt: skip


HOUSED = """
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = ["outer 80 inner", "outer 20 c 40 d 20 inner"]
y = ["face 80 back", "face 20 a 40 b 20 back"]
[part.rail]
copies = ["front", "rear"]
x = "l 1000 r"
y = "show 39.8 back"
[part.side]
copies = ["left", "right"]
x = "show 39.8 back"
y = "f 600 r"
[joint.long]
each = '''
rail   e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
'''
meet = ["rail.{rail}.{e} against leg.{leg}.inner, shoulder", "rail.{rail}.show/back in leg.{leg}.a/b, wide"]
[joint.short]
each = '''
side   e  leg
left   f  fl
left   r  rl
right  f  fr
right  r  rr
'''
meet = ["side.{side}.{e} against leg.{leg}.back, shoulder", "side.{side}.show/back in leg.{leg}.c/d, wide"]
[check]
square = "corners leg.*.outer/face, within 2"
"""
LEGS = ("fl", "fr", "rl", "rr")
LEGS_READ = [f"reading leg.{leg}.{a} leg.{leg}.{b} 80 fine" for leg in LEGS for a, b in (("outer", "inner"), ("face", "back"))]
CHEEKS_READ = [
    f"reading leg.{leg}.{a} leg.{leg}.{b} {mm} fine"
    for leg in LEGS
    for a, b, mm in (("outer", "c", 20), ("c", "d", 40), ("face", "a", 20), ("a", "b", 40))
]
RAILS_READ = [f"reading rail.{one}.l rail.{one}.r 1000 fine" for one in ("front", "rear")]
SIDES_READ = [f"reading side.{one}.f side.{one}.r 600 fine" for one in ("left", "right")]
ALL_CLOSED = [
    *[f"close long_rail.{rail}_leg.{leg} - - -" for rail, leg in zip(("front", "front", "rear", "rear"), LEGS, strict=True)],
    *[f"close short_side.{side}_leg.{leg} - - -" for side, leg in zip(("left", "right", "left", "right"), LEGS, strict=True)],
]
LEANS = [
    f"diagonal leg.{a}.outer/face leg.{b}.outer/face {hypot(1160, 760) + off:.4f} coarse"
    for a, b, off in (("fl", "rr", 4), ("fr", "rl", -4))
]


def test_housings_closed_on_both_sides_fix_the_shape_and_the_diagonals_are_doubted():
    """The play of the housings is 0.6: diagonals that differ by 8 say more than it allows."""
    rows = [*LEGS_READ, *CHEEKS_READ, *RAILS_READ, *SIDES_READ, *ALL_CLOSED, *LEANS]
    result = found(HOUSED, *rows)
    assert {(one.worst.kind, one.worst.number) for one in result.suspicions} == {
        ("reading", len(rows) - 1), ("reading", len(rows))
    }  # fmt: skip
    assert all(not one.equals for one in result.suspicions)
    assert 0 < result.checks[0].value_mm < 4


@pytest.mark.parametrize("read", [[], CHEEKS_READ])
def test_diagonals_are_believed_of_an_open_frame_and_where_nobody_read_the_cheeks(read):
    shut = [] if read else ALL_CLOSED
    standing = [
        f"reading leg.{a}.{mark} leg.{b}.{mark} {mm} coarse"
        for a, b, mark, mm in (("fl", "fr", "outer", 1160), ("rl", "rr", "outer", 1160),
                               ("fl", "rl", "face", 760), ("fr", "rr", "face", 760))
    ]  # fmt: skip
    result = found(HOUSED, *LEGS_READ, *read, *RAILS_READ, *SIDES_READ, *shut, *([] if shut else standing), *LEANS)
    assert result.suspicions == ()
    assert result.checks[0].value_mm == pytest.approx(8, abs=0.02)
