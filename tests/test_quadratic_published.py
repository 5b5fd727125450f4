"""The best sizes: programmes whose optima are published come out as published."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from programmes import programme

from fitsolve.solve.quadratic import solve

# Statements and optima: specs/references/quadratic.toml, with their sources.
PUBLISHED = tomllib.loads((Path(__file__).parent.parent / "specs/references/quadratic.toml").read_text())


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_optima_are_reached(name):
    case = PUBLISHED[name]
    Q, linear = np.array(case["Q"]), np.array(case["linear"])
    factor = np.linalg.cholesky(Q).T  # Q = F'F, so |F x - g|^2 / 2 with F'g = -linear is the objective less a constant
    target = np.linalg.solve(factor.T, -linear)
    n = len(linear)
    optimum = solve(
        programme(
            factor,
            target,
            bounds=np.vstack([np.array(case["rows"]), np.eye(n)]),
            low=case["low"] + case["least"],
            high=case["high"] + case["most"],
        )
    )
    assert optimum.status == "optimal"
    x = optimum.z
    assert case["constant"] + linear @ x + x @ Q @ x / 2 == pytest.approx(case["optimum"], rel=1e-12, abs=1e-12)


def test_the_multiplier_is_what_a_millimetre_of_the_limit_would_save():
    # By hand: minimise (x - 3)^2 / 2 with x <= 1. x = 1, and the cost 2 falls by (3 - 1) for each
    # millimetre the limit moves: the multiplier of a high limit is -2. With x >= 5, x = 5 and +2.
    top = solve(programme([[1.0]], [3.0], bounds=[[1.0]], low=[-np.inf], high=[1.0]))
    assert (top.z[0], top.multipliers[0], top.active[0]) == (1.0, -2.0, 1)
    bottom = solve(programme([[1.0]], [3.0], bounds=[[1.0]], low=[5.0], high=[np.inf]))
    assert (bottom.z[0], bottom.multipliers[0], bottom.active[0]) == (5.0, 2.0, -1)


def test_an_error_is_shared_by_the_square_of_the_gives():
    # By hand: two distances must together be 3 mm more than plan, with gives 1 and 2 mm. The sum of
    # (d / give)^2 is least when d stands as give^2: 1 to 4, that is 0.6 and 2.4 mm.
    shared = solve(programme([[1.0, 0.0], [0.0, 0.5]], [0.0, 0.0], equal=[[1.0, 1.0]], equal_to=[3.0]))
    assert shared.z == pytest.approx([0.6, 2.4], abs=1e-12)
    # With the second no more than 2 mm the first must take the rest.
    bounded = solve(
        programme(
            [[1.0, 0.0], [0.0, 0.5]],
            [0.0, 0.0],
            equal=[[1.0, 1.0]],
            equal_to=[3.0],
            bounds=[[0.0, 1.0]],
            low=[-np.inf],
            high=[2.0],
        )
    )
    assert bounded.z == pytest.approx([1.0, 2.0], abs=1e-12)


def test_nothing_at_all_is_solved_too():
    nothing = solve(programme(np.zeros((0, 0)), []))
    assert nothing.status == "optimal"
    assert nothing.z.shape == (0,)
    free = solve(programme(np.zeros((0, 3)), []))
    assert free.status == "optimal"
    assert free.z.tolist() == [0.0, 0.0, 0.0]


def test_what_nothing_pulls_stays_near_the_plan():
    # By hand: x2 - x1 = 2 alone; the nearest to the plan is x1 = -1, x2 = 1.
    apart = solve(programme(np.zeros((0, 2)), [], equal=[[-1.0, 1.0]], equal_to=[2.0]))
    assert apart.z == pytest.approx([-1.0, 1.0], abs=1e-12)
