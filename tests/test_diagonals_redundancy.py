"""Redundancies and standardised residuals of diagonals are those of the rows as they lie at the solution.

Held against numpy, from the rows of the text: readings along an axis, diagonals in the direction of their points
where these came to lie, R = I - J J+. In a frame that nothing holds straight J has one singular value that would
vanish if its sides were equal as in the plan: how the whole lies turned, which no reading says.
"""

from __future__ import annotations

from contextlib import nullcontext

import numpy as np
import pytest
from hypothesis import given, settings
from pytest import approx

from fitsolve.findings.doubts import doubted
from tests.builds import Bench, solve
from tests.test_diagonals import nets
from tests.test_sparse_and_dense_agree import all_sparse

HARDLY = 0.02
"""Of the largest singular value: sides some mm in a metre unequal make it a few thousandths."""


def by_numpy(whole, hardly: float = 1e-10):
    """Redundancies, and residuals by u over their roots, of the readings at the solution."""
    at = whole.positions_mm
    rows, misfit = [], []
    for reading in whole.state.readings:
        row = np.zeros(len(at))
        if reading.event == "diagonal":
            ends = [(reading.terms[k][0], reading.terms[k + 1][0]) for k in range(0, len(reading.terms), 2)]
            d = np.array([at[b] - at[a] for b, a in ends])
            length = float(np.linalg.norm(d))
            for (b, a), c in zip(ends, d / length, strict=True):
                row[b], row[a] = row[b] + c, row[a] - c
        else:
            for mark, coef in reading.terms:
                row[mark] += coef
            length = float(row @ at)
        rows.append(row / reading.u_mm)
        misfit.append((length - reading.value_mm) / reading.u_mm)
    J, v = np.array(rows), np.array(misfit)
    R = np.eye(len(J)) - J @ np.linalg.pinv(J, rcond=hardly)
    return np.diag(R), v, R


def planted(seed: int, corners, off: float = 1.5) -> Bench:
    """Four posts near these corners; four sides along the axes and two diagonals as they would be read."""
    rng = np.random.default_rng(seed)
    bench = Bench(workmanship=0.8)
    names = ("fl", "fr", "rl", "rr")
    true = np.array(corners, float) + rng.normal(0, off, (4, 2))
    for name, at in zip(names, corners, strict=True):
        for axis in range(2):
            bench.part(name, float(at[axis]), "xy"[axis], axis="xy"[axis])
    for a, b, axis in ((0, 1, 0), (2, 3, 0), (0, 2, 1), (1, 3, 1)):
        value = float(true[b, axis] - true[a, axis] + rng.normal(0, 0.05))
        bench.read(f"{names[a]}.{'xy'[axis]}", f"{names[b]}.{'xy'[axis]}", value, 0.1)
    for a, b in ((0, 3), (1, 2)):
        length = float(np.hypot(*(true[b] - true[a]))) + rng.normal(0, 0.05)
        bench.diagonal(*[tuple(f"{names[k]}.{axis}" for axis in "xy") for k in (a, b)], length, 0.2)
    return bench


RECTANGLE = [(0, 0), (1000, 0), (0, 600), (1000, 600)]


@pytest.mark.parametrize("sparse", [False, True])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_of_a_frame_that_nothing_holds_straight(seed, sparse):
    with all_sparse() if sparse else nullcontext():
        whole = solve(planted(seed, RECTANGLE).case())
    redundancy, v, R = by_numpy(whole, HARDLY)
    doubts = doubted(whole).doubts
    assert redundancy.sum() == approx(1.0, abs=1e-9)  # six readings, five things they can say
    assert [one.redundancy for one in doubts] == approx(redundancy, abs=1e-6)
    assert R @ v == approx(v, abs=1e-6)  # nothing more can be adjusted
    assert [one.standardised for one in doubts] == approx(v / np.sqrt(redundancy), abs=1e-5)


def test_how_it_is_counted_does_not_hang_on_which_mark_stands_first():
    """The same frame with its posts named in another order, so that others stand for what is free."""
    one = {(d.start, d.end): d.redundancy for d in doubted(solve(planted(5, RECTANGLE).case())).doubts}
    bench = planted(5, RECTANGLE)
    order = [3, 6, 1, 5, 7, 0, 4, 2]
    place = {old: new for new, old in enumerate(order)}
    case = bench.case()
    assert len(place) == len(case.assembly.marks)
    other = {(d.start, d.end): d.redundancy for d in doubted(solve(renumbered(bench, place).case())).doubts}
    assert other == {key: approx(value, abs=1e-6) for key, value in one.items()}


def test_what_hangs_on_a_corner_by_a_reading_of_its_own_changes_nothing():
    """Nothing checks how far a post leans, and so it is as it was read; the corners are none the wiser."""
    bench = planted(6, RECTANGLE)
    alone = doubted(solve(bench.case())).doubts
    bench.station("rr.x", "foot")
    bench.read("rr.x", "rr.x@foot", 7.0, 0.1)
    whole = solve(bench.case())
    *corners, lean = doubted(whole).doubts
    assert (lean.redundancy, lean.standardised) == (0.0, None)
    index = whole.assembly.index
    assert whole.value_mm([(index["rr.x@foot"], 1.0), (index["rr.x"], -1.0)]) == approx(7.0, abs=1e-9)
    assert [one.redundancy for one in corners] == approx([one.redundancy for one in alone], abs=1e-9)


def renumbered(bench: Bench, place: dict[int, int]) -> Bench:
    """The bench with its marks in another order."""
    from dataclasses import replace

    back = sorted(place, key=lambda mark: place[mark])
    bench.marks = [bench.marks[mark] for mark in back]
    bench.index = {name: place[mark] for name, mark in bench.index.items()}
    bench.runs = [tuple(place[mark] for mark in run) for run in bench.runs]
    bench.states = {place[mark]: state for mark, state in bench.states.items()}
    bench.readings = [
        replace(one, terms=tuple((place[mark], coef) for mark, coef in one.terms)) for one in bench.readings
    ]
    return bench


@settings(max_examples=12)
@given(nets())
def test_of_nets_that_readings_hold_throughout(net):
    """However little checks a diagonal: no redundancy is taken for none."""
    case, _, _ = net
    whole = solve(case)
    redundancy, v, _ = by_numpy(whole)
    doubts = doubted(whole).doubts
    assert [one.redundancy for one in doubts] == approx(redundancy, abs=1e-6)
    for one, r, miss in zip(doubts, redundancy, v, strict=True):
        if r > 1e-4:
            assert abs(one.standardised) == approx(abs(miss) / np.sqrt(r), abs=1e-4)
