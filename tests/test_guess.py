"""Guessing which bounds press finds what the search finds, or says nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fitsolve import Build, reconcile
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import parse_log
from fitsolve.rows import RowList
from fitsolve.solve import allocate as allocation
from fitsolve.solve.guess import guessed
from fitsolve.solve.staged import Staged
from fitsolve.solve.wanted import Wanted

EXAMPLES = Path(__file__).parents[1] / "examples"
LOGS = sorted(EXAMPLES.glob("*/log*.csv"))


@pytest.mark.parametrize("log", LOGS, ids=[f"{log.parent.name}-{log.stem}" for log in LOGS])
def test_what_is_guessed_is_what_the_search_finds(log, monkeypatch):
    build = Build(plan=read_plan((log.parent / "plan.toml").read_text()), log=parse_log(log.read_bytes()))
    guessed_ones = reconcile(build).solved.pieces
    monkeypatch.setattr(allocation, "_found_shortly", lambda *_: None)
    for one, other in zip(guessed_ones, reconcile(build).solved.pieces, strict=True):
        assert one.x == pytest.approx(other.x, abs=1e-9)
        assert pressing(one) == pressing(other)


def pressing(piece):
    """The bounds that press, stage by stage."""
    return [bounds.tolist() for _, _, bounds in piece.allocation.pressed if len(bounds)]


def rows(*lines):
    """Rows of (terms, value, scale)."""
    collected = RowList()
    for terms, value, scale in lines:
        collected.add(terms, value, scale)
    return collected.rows()


def asked(wishes, bounds, low, high):
    """What is asked of marks 0 (settled), 1 and 2, with no holds."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    hard = np.ones(len(low), dtype=bool)
    return Wanted(wishes, rows(), rows(), bounds, low, high, hard, hard)


def start():
    """Mark 0 is held at 0."""
    return Staged.start(3).add(rows(([(0, 1.0)], 0.0, 1.0)))


class TestByHand:
    """x1 wants to be 2, x2 - x1 wants to be 1, both with a scale of 1; x1 + x2 is bounded."""

    WISHES = rows(([(1, 1.0), (0, -1.0)], 2.0, 1.0), ([(2, 1.0), (1, -1.0)], 1.0, 1.0))
    SUM = rows(([(1, 1.0), (2, 1.0), (0, -2.0)], 0.0, 1.0))

    def at(self, low, high):
        wanted = asked(self.WISHES, self.SUM, [low], [high])
        return guessed(start(), wanted, wanted.holds, self.WISHES, 1e-9)

    def test_a_bound_that_is_kept_does_not_press(self):
        staged, active = self.at(-10.0, 6.0)  # x = 2, 3: the sum is 5
        assert staged.x == pytest.approx([0.0, 2.0, 3.0], abs=1e-12)
        assert active.tolist() == [0]

    def test_one_that_is_missed_presses(self):
        # x1 + x2 = 4: minimise (x1 - 2)^2 + (4 - 2 x1 - 1)^2, so x1 = 8/5 and x2 = 12/5.
        staged, active = self.at(-10.0, 4.0)
        assert staged.x == pytest.approx([0.0, 1.6, 2.4], abs=1e-12)
        assert active.tolist() == [1]
        staged, active = self.at(6.0, 10.0)  # likewise x1 + x2 = 6: x1 = 12/5
        assert staged.x == pytest.approx([0.0, 2.4, 3.6], abs=1e-12)
        assert active.tolist() == [-1]

    def test_bounds_that_say_the_same_twice_are_left_to_the_search(self):
        wanted = asked(self.WISHES, rows(*2 * [([(1, 1.0), (2, 1.0), (0, -2.0)], 0.0, 1.0)]), [-10.0] * 2, [4.0] * 2)
        assert guessed(start(), wanted, wanted.holds, self.WISHES, 1e-9) is None

    def test_bounds_that_cannot_all_be_kept_are_left_to_the_search(self):
        wanted = asked(self.WISHES, rows(*2 * [([(1, 1.0), (2, 1.0), (0, -2.0)], 0.0, 1.0)]), [-10.0, 8.0], [4.0, 10.0])
        assert guessed(start(), wanted, wanted.holds, self.WISHES, 1e-9) is None

    def test_holds_that_clash_are_left_to_the_search(self):
        wanted = asked(self.WISHES, self.SUM, [-10.0], [10.0])
        holds = rows(([(1, 1.0), (0, -1.0)], 1.0, 1.0), ([(1, 1.0), (0, -1.0)], 2.0, 1.0))
        assert guessed(start(), wanted, holds, self.WISHES, 1e-9) is None
