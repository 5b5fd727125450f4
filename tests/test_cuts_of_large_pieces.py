"""How cuts miss is worked out row by row, in little memory however many rows and lines there are."""

from __future__ import annotations

import tracemalloc
from types import SimpleNamespace

import numpy as np
import pytest

from fitsolve.rows import Cuts, differences
from fitsolve.solve.pieces import Piece


@pytest.mark.parametrize("lines", [3, 3_000])
def test_of_lines_in_a_row(lines):
    # Mark 0 is made; every other mark is a line of its own, but the last two are the walls of one housing. By hand,
    # location 0.4 and width 0.3: to a line from the made mark 0.4, between two lines 0.4 * sqrt 2, between the walls
    # 0.3, for each errs by half of it either way.
    group = np.array([-1, *range(lines), lines - 1])
    side = np.zeros(lines + 2)
    side[-2:] = -1.0, 1.0
    piece = SimpleNamespace(network=SimpleNamespace(cuts=Cuts(group, side, np.arange(lines + 2), 0.4, 0.3)))
    marks = np.array([[k + 1, k] for k in range(lines + 1)])
    rows = differences(marks, np.ones(len(marks)))
    tracemalloc.start()
    found = Piece.u_cut(piece, rows)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    expected = [0.4, *[0.4 * np.sqrt(2.0)] * (lines - 2), np.hypot(0.4 * np.sqrt(2.0), 0.15), 0.3]
    assert found == pytest.approx(expected, abs=1e-12)
    assert most < 10e6, "a table of all rows and lines would take 72 MB"
