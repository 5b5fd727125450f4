"""Lines that one placement alone binds together: chosen along it, as every combination tried and the solver choose.

Groups are generated: an apron over posts that are set up, each dado bounding its own walls and where the apron stands.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_rounding_exact import brute, group_of, placeable

from fitsolve.solve.fewlines import TooMany
from fitsolve.solve.oneplace import OnePlace
from fitsolve.solve.rounding import KEPT_MM, Rounded, _over_places, round_group


@st.composite
def stars(draw, blocks: tuple[int, int], walls: tuple[int, int]):
    """Blocks of lines (a wall, or both of a dado); rows of each over its lines and the one placement."""
    sizes = draw(st.lists(st.integers(*walls), min_size=blocks[0], max_size=blocks[1]))
    m = sum(sizes)
    figures = [draw(st.integers(0, 400)) / 40 for _ in range(m)]
    rooms = st.sampled_from([0.0, 0.05, 0.1, 0.3, 0.6])
    lines, placing, low, high = [], [], [], []
    first = 0
    for size in sizes:
        for k in range(size):
            row = [0.0] * m
            row[first + k] = draw(st.sampled_from([1.0, -1.0]))
            lines.append(row)
            placing.append([-row[first + k]])
        if size == 2:
            row = [0.0] * m
            row[first], row[first + 1] = -1.0, 1.0
            lines.append(row)
            placing.append([0.0])
        first += size
    for _ in lines:
        low.append(-draw(rooms))
        high.append(draw(rooms))
    return group_of([0.5] * m, figures, lines, placing, low, high)


def chosen(group) -> Rounded:
    return Rounded(*_over_places(group, OnePlace(group, KEPT_MM)))


@given(stars((2, 3), (1, 1)))
@settings(max_examples=30, deadline=None)
def test_as_few_given_up_and_then_as_near_as_every_combination_tried(group):
    found = chosen(group)
    count, best = brute(group, 2)
    assert int(found.given_up.sum()) <= count
    if not found.given_up.any() and np.abs(found.steps).max(initial=0) <= 2:
        assert found.off_mm(group) == pytest.approx(best, abs=1e-6)


@pytest.mark.parametrize("seed", range(40))
def test_bounds_on_one_side_only_leave_nothing_nearer(seed):
    """A shoulder bounds where a part stands from one side; the combinations tried have a bound far off instead."""
    rng = np.random.default_rng(seed)
    figures = (rng.integers(0, 400, 2) / 40).tolist()
    rooms, none, far = [0.0, 0.05, 0.1, 0.3], np.inf, 1e4
    for _ in range(4):
        own = [k for k in range(2) for _ in range(rng.integers(1, 3))]
        lines = [[float(rng.choice([-1, 1])) * (k == column) for column in range(2)] for k in own]
        placing = [[float(rng.choice([-1, 1]))] for _ in own]
        side = rng.integers(0, 3, len(own))
        low = np.where(side == 1, -none, -rng.choice(rooms, len(own)))
        high = np.where(side == 2, none, rng.choice(rooms, len(own)))
        found = chosen(group := group_of([0.5] * 2, figures, lines, placing, low.tolist(), high.tolist()))
        count, best = brute(
            group_of([0.5] * 2, figures, lines, placing, low.clip(-far).tolist(), high.clip(max=far).tolist()), 2
        )
        assert int(found.given_up.sum()) <= count
        if not found.given_up.any() and np.abs(found.steps).max(initial=0) <= 2:
            assert found.off_mm(group) == pytest.approx(best, abs=1e-6)


@given(stars((4, 7), (1, 2)))
@settings(max_examples=12, deadline=None)
def test_the_solver_gives_up_as_many_and_is_as_near(group):
    found = chosen(group)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("fitsolve.solve.rounding.FEW", 0)
        other = round_group(group)
    assert found.given_up.sum() <= other.given_up.sum()
    if found.given_up.tolist() == other.given_up.tolist():
        assert found.off_mm(group) == pytest.approx(other.off_mm(group), abs=1e-5)


@given(stars((4, 7), (1, 2)))
@settings(max_examples=20, deadline=None)
def test_some_placement_keeps_every_bound(group):
    found = chosen(group)
    moved = np.where(found.given_up, 0.0, group.step_mm * found.steps - group.over_mm)
    free = np.flatnonzero(found.given_up)
    lines, placing = group.lines.toarray(), group.placing.toarray()
    assert placeable(lines, placing, group.low - 1e-6, group.high + 1e-6, moved, free)


def test_two_placements_are_not_for_this_way():
    group = group_of([0.5], [0.2], [[1.0]], [[1.0, -1.0]], [-0.1], [0.1])
    with pytest.raises(TooMany):
        OnePlace(group, KEPT_MM)


def test_forty_walls_over_posts_that_are_set_up():
    # By hand: both walls of dado k are wanted 0.1 (k % 5) beyond a half millimetre, within 0.04 of where the apron
    # stands. One placement serves those of one k % 5, four dados of 20: the other sixteen lose both walls.
    blocks, m = 20, 40
    figures = [x for k in range(blocks) for x in (100.0 * k + 0.1 * (k % 5), 100.0 * k + 40 + 0.1 * (k % 5))]
    lines, placing, low, high = [], [], [], []
    for k in range(blocks):
        for wall in (2 * k, 2 * k + 1):
            row = [0.0] * m
            row[wall] = 1.0
            lines.append(row)
            placing.append([-1.0])
            low.append(-0.04)
            high.append(0.04)
    found = round_group(group_of([0.5] * m, figures, lines, placing, low, high))
    assert found.proven
    assert int(found.given_up.sum()) == 32
    assert sorted({k // 2 % 5 for k in np.flatnonzero(~found.given_up)}) in [[k] for k in range(5)]
