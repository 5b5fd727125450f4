"""Lines that two placements bind together through parts with their own: as every combination tried, and the solver, choose.

Groups are generated: rails over two frames that stand free of each other, each dado bounding its own walls and where
its rail stands on its frame. Placements: one for each rail, then how far the frames are apart.
"""

from __future__ import annotations

import numpy as np
import pytest
from test_rounding_exact import brute, group_of, placeable

from fitsolve.solve.fewlines import TooMany
from fitsolve.solve.manyplaces import ManyPlaces, _undominated
from fitsolve.solve.oneplace import Choices
from fitsolve.solve.rounding import KEPT_MM, Rounded, _over_places, round_group


def frames(seed: int, rails: int, walls: int):
    """Rails over two frames, each with so many walls on each frame; one that stands on both at once among them."""
    rng = np.random.default_rng(seed)
    m = 2 * rails * walls
    figures = (rng.integers(0, 400, m) / 40).tolist()
    rooms = [0.02, 0.05, 0.1, 0.15, 0.3]
    lines, placing, low, high = [], [], [], []
    for k in range(m):
        rail, frame = k // (2 * walls), k // walls % 2
        row, place = np.zeros(m), np.zeros(rails + 1)
        row[k], place[rail] = 1.0, -1.0
        place[rails] = float(frame)
        sign = rng.choice([-1.0, 1.0])  # written the one way or the other
        lines.append((sign * row).tolist())
        placing.append((sign * place).tolist())
        if walls == 2 and k % 2:
            width = np.zeros(m)
            width[k - 1], width[k] = -1.0, 1.0
            lines.append(width.tolist())
            placing.append([0.0] * (rails + 1))
    for _ in lines:
        low.append(-float(rng.choice(rooms)))
        high.append(float(rng.choice(rooms)))
    return group_of([0.5] * m, figures, lines, placing, low, high)


def chosen(group) -> Rounded:
    return Rounded(*_over_places(group, ManyPlaces(group, KEPT_MM)))


@pytest.mark.parametrize("seed", range(12))
def test_as_few_given_up_and_then_as_near_as_every_combination_tried(seed):
    group = frames(seed, 2, 1)
    found = chosen(group)
    count, best = brute(group, 1)
    assert int(found.given_up.sum()) <= count
    if not found.given_up.any() and found.steps.min() >= -1 and found.steps.max() <= 2:
        assert found.off_mm(group) == pytest.approx(best, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_the_solver_gives_up_as_many_and_is_no_nearer(seed):
    group = frames(seed, 3, 2)
    found = chosen(group)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fitsolve.solve.rounding.FEW", 0)
        other = round_group(group)
    assert found.given_up.sum() <= other.given_up.sum()
    if found.given_up.tolist() == other.given_up.tolist():
        assert found.off_mm(group) == pytest.approx(other.off_mm(group), abs=1e-5)


@pytest.mark.parametrize("seed", range(10))
def test_some_placement_keeps_every_bound(seed):
    group = frames(100 + seed, 4, 2)
    found = chosen(group)
    moved = np.where(found.given_up, 0.0, group.step_mm * found.steps - group.over_mm)
    lines, placing = group.lines.toarray(), group.placing.toarray()
    free = np.flatnonzero(found.given_up)
    assert placeable(lines, placing, group.low - 1e-6, group.high + 1e-6, moved, free)


def test_eight_rails_over_two_frames_are_chosen_exactly():
    found = round_group(frames(7, 8, 2))
    assert found.proven


@pytest.mark.parametrize(
    ("placing", "why"),
    [
        ([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0], [1.0, 0.0, -1.0]], "placements that others share"),
        ([[1.0, 1.0, 0.0]], "placements of one row"),
        ([[1.0, -2.0, 0.0]], "placements of one row"),
    ],
)
def test_what_is_bound_otherwise_is_not_for_this_way(placing, why):
    q = len(placing)
    group = group_of([0.5] * q, [0.2] * q, np.eye(q).tolist(), placing, [-0.1] * q, [0.1] * q)
    with pytest.raises(TooMany, match=why):
        ManyPlaces(group, KEPT_MM)


def test_a_choice_that_a_cheaper_one_allows_for_is_left_out():
    # By hand: of the intervals 0..2, 1..2, 0..3 and 0..3 the second lies in the first, the last in the third.
    low, high = np.array([0.0, 1.0, 0.0, 0.0]), np.array([2.0, 2.0, 3.0, 3.0])
    every = Choices(np.arange(4)[:, None], np.zeros((4, 1), dtype=bool), np.arange(4.0), np.zeros(4), low, high)
    assert _undominated(every).steps[:, 0].tolist() == [0, 2]
