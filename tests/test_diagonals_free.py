"""Diagonals where readings leave a direction free: what is chosen there is chosen for the true length.

Held against the point of a circle, or a ball, that is nearest to a given one: a place by hand. All is invented.
"""

from __future__ import annotations

from contextlib import nullcontext

import numpy as np
import pytest
from pytest import approx

from fitsolve.findings.diagonals import diagonal_problems
from tests.builds import Bench, solve
from tests.test_sparse_and_dense_agree import all_sparse

PLAN = {"x": 300.0, "y": 400.0, "z": 1200.0}


def held_by_a_block(axes: str, sizes, diagonal: float) -> Bench:
    """Two posts of which only a diagonal was read, and between them a made block that butts on both, along every
    axis: what is free goes where the gaps of its four joints, all wanted 0, are least."""
    bench = Bench(workmanship=0.8)
    for axis, size in zip(axes, sizes, strict=True):
        plan = PLAN[axis]
        bench.part("a", 0.0, axis, axis=axis)
        bench.part("b", plan, axis, axis=axis)
        bench.part("block", 0.0, f"{axis}1 {plan} {axis}2", axis=axis)
        bench.make("a", "b", "block")
        bench.read(f"block.{axis}1", f"block.{axis}2", size, 0.2)
        bench.butt("one", f"a.{axis}", f"block.{axis}1")
        bench.butt("other", f"block.{axis}2", f"b.{axis}")
    bench.diagonal(tuple(f"a.{axis}" for axis in axes), tuple(f"b.{axis}" for axis in axes), diagonal, 0.2)
    return bench


@pytest.mark.parametrize("sparse", [False, True])
@pytest.mark.parametrize(
    ("axes", "sizes", "diagonal"),
    [("xy", (290.0, 410.0), 500.0), ("xy", (280.0, 420.0), 505.0), ("xyz", (290.0, 420.0, 1185.0), 1285.0)],
)
def test_what_is_free_is_chosen_on_the_true_length(axes, sizes, diagonal, sparse):
    """The gaps along an axis are alike, too short for it all, and their squares least where b lies nearest to the far corner of the
    block: by hand, at that corner's direction and the length that was read."""
    with all_sparse() if sparse else nullcontext():
        whole = solve(held_by_a_block(axes, sizes, diagonal).case())
    index = whole.assembly.index
    d = [whole.value_mm([(index[f"b.{axis}"], 1.0), (index[f"a.{axis}"], -1.0)]) for axis in axes]
    assert d == approx(np.array(sizes) * diagonal / np.linalg.norm(sizes), abs=1e-6)
    assert np.linalg.norm(d) == approx(diagonal, abs=1e-8)


def level_at_most(height: float | None) -> Bench:
    """Two posts, 1000 apart, by a diagonal over three axes; along y they were read, along z perhaps."""
    bench = Bench(workmanship=0.8)
    for name, x in {"a": 0.0, "b": 1000.0}.items():
        for axis, at in zip("xyz", (x, 0.0, 0.0), strict=True):
            bench.part(name, at, axis, axis=axis)
    bench.read("a.y", "b.y", 0.0, 0.2)
    if height is not None:
        bench.read("a.z", "b.z", height, 0.2)
    bench.diagonal(("a.x", "a.y", "a.z"), ("b.x", "b.y", "b.z"), 1003.0, 0.2)
    return bench


def test_a_length_that_rests_on_an_axis_as_drawn_says_so():
    """By hand: 10 mm aside a length of 1003 is 10^2 / (2 * 1003) = 0.0499 more."""
    (problem,) = diagonal_problems(solve(level_at_most(None).case()))
    assert (problem.level, problem.place.key) == ("notice", "#2")
    assert problem.what == (
        "nothing fixes how far a.z and b.z stand apart along z: the diagonal a.x to b.x is taken with that as drawn"
    )
    assert problem.hint == "10 mm off there is 0.05 mm of its length. Read it if it may be off."


def test_where_it_was_read_nothing_is_said():
    whole = solve(level_at_most(30.0).case())
    assert diagonal_problems(whole) == ()
    index = whole.assembly.index
    x = whole.value_mm([(index["b.x"], 1.0), (index["a.x"], -1.0)])
    assert x == approx(float(np.sqrt(1003.0**2 - 30.0**2)), abs=1e-6)
