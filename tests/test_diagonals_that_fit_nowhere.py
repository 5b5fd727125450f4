"""Diagonals that fit nowhere: which are left out, and which readings are named beside them.

Whether lengths can close is told by the triangle inequality, by hand. All is invented.
"""

from __future__ import annotations

from math import hypot

import numpy as np
import pytest
from pytest import approx
from scipy.optimize import least_squares

from fitsolve.findings.diagonals import diagonal_problems
from tests.builds import Bench, solve
from tests.test_frame_square import COPIES, POSTS, SQUARE, A, B, corner, lengths, numbers, read_diagonals, read_sides
from tests.test_hand_cases import found


def points(**at: tuple[float, float]) -> Bench:
    bench = Bench(workmanship=0.8)
    for name, (x, y) in at.items():
        bench.part(name, float(x), "x", axis="x")
        bench.part(name, float(y), "y", axis="y")
    return bench


def diagonal(bench: Bench, a: str, b: str, length: float) -> None:
    bench.diagonal((f"{a}.x", f"{a}.y"), (f"{b}.x", f"{b}.y"), length, 0.2)


def told(whole) -> dict[str, tuple[str, str]]:
    return {one.place.key: (one.what, one.hint) for one in diagonal_problems(whole) if one.level == "warning"}


def test_the_plain_reading_beside_which_it_is_too_short_is_as_guilty():
    """500 between points that were read to stand 600 apart along y: either is wrong, and nothing else is."""
    bench = points(a=(0, 0), b=(400, 600), c=(400, 0))
    bench.read("a.y", "b.y", 600.0, 0.01)
    bench.read("c.x", "b.x", 0.0, 0.01)
    diagonal(bench, "a", "b", 500.0)
    diagonal(bench, "c", "b", 610.0)
    whole = solve(bench.case())
    assert told(whole) == {
        "#3": (
            "the diagonal a.x to b.x, 500, was left out of the numbers: its points stand 600.0 mm apart along y alone",
            "A length or a name is wrong. It, or #1 (a.y to b.y). Read again, and strike what was wrong.",
        )
    }
    index = whole.assembly.index
    assert whole.value_mm([(index["b.y"], 1.0), (index["c.y"], -1.0)]) == approx(610.0)  # the other one counts


def test_of_a_triangle_that_does_not_close_each_side_may_be_wrong_and_what_lies_beside_may_not():
    """300 + 400 < 1000. That two of its corners lie level (#1) does not make it any better or worse."""
    bench = points(a=(0, 0), b=(1000, 0), c=(500, 300))
    bench.read("a.y", "b.y", 0.0, 0.2)
    for a, b, length in (("a", "b", 1000.0), ("a", "c", 300.0), ("b", "c", 400.0)):
        diagonal(bench, a, b, length)
    found = told(solve(bench.case()))
    assert list(found) == ["#2", "#3", "#4"]
    assert "It, or #3 (a.x to c.x) or #4 (b.x to c.x)." in found["#2"][1]
    assert "#1" not in "".join(hint for _, hint in found.values())


def test_where_one_side_of_it_is_a_plain_reading_that_is_named_too():
    bench = points(a=(0, 0), b=(1000, 0), c=(500, 300))
    bench.read("a.y", "b.y", 0.0, 0.2)
    bench.read("a.x", "b.x", 1000.0, 0.2)
    for b, length in (("a", 300.0), ("b", 400.0)):
        diagonal(bench, b, "c", length)
    found = told(solve(bench.case()))
    assert list(found) == ["#3", "#4"]
    assert "It, or #2 (a.x to b.x) or #4 (b.x to c.x)." in found["#3"][1]


def test_two_that_a_plain_reading_alone_makes_too_short():
    """Both 500 long over 600 along y: without the reading both fit, without either of them the other does not."""
    bench = points(a=(0, 0), b=(400, 600), c=(-400, 600))
    bench.read("a.y", "b.y", 600.0, 0.01)
    bench.read("b.y", "c.y", 0.0, 0.01)
    diagonal(bench, "a", "b", 500.0)
    diagonal(bench, "a", "c", 500.0)
    found = told(solve(bench.case()))
    assert list(found) == ["#3", "#4"]
    assert "#1 (a.y to b.y) would have to be wrong, or more than one of them." in found["#3"][1]


POSTS_APART = [(0.0, 0.0), (920.0, 0.0), (0.0, 620.0), (920.0, 620.0)]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_six_distances_from_corner_to_corner_make_a_frame(seed):
    """All by tape from corner to corner, sides too, of posts that the plan ties along each side and not across it:
    rack and taper by Pythagoras."""
    rng = np.random.default_rng(seed)
    at = np.array(POSTS_APART) + rng.normal(0, 1.5, (4, 2))
    rows = [
        f"diagonal {corner(COPIES[i])} {corner(COPIES[j])} {np.hypot(*(at[j] - at[i])):.6f} fine"
        for i, j in ((0, 1), (2, 3), (0, 2), (1, 3), (0, 3), (1, 2))
    ]
    checks = numbers("square = 'corners post.*.outer/face at head, within 2'", *rows)
    front, rear, left, right, one, other = lengths(at)
    assert checks["square rack"].value_mm == approx(one - other, abs=1e-3)
    assert abs(checks["square taper"].value_mm) == approx(max(abs(front - rear), abs(left - right)), abs=0.05)


def test_sides_and_one_diagonal_from_corner_to_corner_are_not_turned_far_by_what_is_wished():
    """Sides shorter than planned: a hair aslant they could be given their plan along an axis by turning the frame
    half round, were they straight lines to first order. By the law of cosines they tell the other diagonal."""
    rng = np.random.default_rng(2)
    at = np.array(POSTS_APART) + rng.normal(0, 1.5, (8, 2))[4:]
    rows = [
        f"diagonal {corner(COPIES[i])} {corner(COPIES[j])} {np.hypot(*(at[j] - at[i])):.6f} fine"
        for i, j in ((0, 1), (2, 3), (0, 2), (1, 3), (0, 3))
    ]
    checks = numbers("square = 'corners post.*.outer/face at head, within 2'", *rows)
    *_, one, other = lengths(at)
    assert checks["square rack"].value_mm == approx(one - other, abs=1e-3)


def test_one_far_too_short_is_doubted_and_the_others_stay():
    """A side read straight and once more from corner to corner, 14 too short: an adjustment has an answer, which
    whole steps swing past (by scipy: least_squares)."""
    bench = points(a=(0, 0), b=(920, 30))
    bench.read("a.x", "b.x", 920.0, 0.2)
    bench.read("a.y", "b.y", 30.0, 2.0)
    diagonal(bench, "a", "b", 906.0)

    def off(p):
        return [(p[0] - 920.0) / 0.1, (p[1] - 30.0) / 1.0, (np.hypot(*p) - 906.0) / 0.1]

    expected = least_squares(off, [920.0, 30.0], xtol=1e-15, ftol=1e-15, gtol=1e-15).x
    whole = solve(bench.case())
    index = whole.assembly.index
    d = [whole.value_mm([(index[f"b.{axis}"], 1.0), (index[f"a.{axis}"], -1.0)]) for axis in "xy"]
    assert not len(whole.turned.left_out)
    assert d == approx(expected, abs=2e-4)  # its own steps are by finite differences


@pytest.mark.parametrize("more", [50.0, 100.0, 200.0])
def test_a_diagonal_far_too_long_in_a_frame_is_doubted_with_all_that_may_be_wrong(more):
    """A rectangle by its sides and one diagonal; the other is read too long. Four lengths that are right cannot close
    with it, and where nothing ties the posts otherwise any of the six may be the one."""
    rows = [*read_sides(A, A, B, B), *read_diagonals(hypot(A, B) + more, hypot(A, B))]
    result = found(POSTS + SQUARE, *rows)
    assert not len(result.solved.turned.left_out)
    named = {who.number for one in result.suspicions for who in (one.worst, *one.equals)}
    assert 5 in named  # the row of the diagonal
    assert result.checks[0].verdict == "beyond"
