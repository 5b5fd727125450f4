"""Large pieces are solved on sparse matrices, small ones on dense ones: another way to the same
numbers. Small builds are solved both ways here, and everything found must agree.

The two ways share the active-set and proximal solvers and what `freedom` counts; they share
neither the least squares nor the uncertainties. The chances of seats are simulated from a root
of a covariance that is not unique, so they agree as two simulations do.
"""

from __future__ import annotations

import math
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

import fitsolve.solve.pieces as pieces
from fitsolve.build.assembly import Assembly
from fitsolve.build.folder import load_build
from fitsolve.build.logtext import parse_log
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import read_log
from fitsolve.build.state import State, settle
from fitsolve.findings.values import JointFinding, SeatFinding
from fitsolve.reconciliation import Reconciliation, findings_of
from fitsolve.rows import stacked
from tests.benchmarks.bays import log_text, plan_text
from tests.builds import Bench, Case, benches

EXAMPLES = Path(__file__).parents[1] / "examples"
LOGS = ["wedging-table/log.csv", "wedging-table/log-by-tape.csv", "drawer-case/log.csv", "press-stand/log.csv"]
TOLERANCE = 1e-7


@contextmanager
def all_sparse():
    """Every piece solved on sparse matrices."""
    usual = pieces.DENSE_MARKS
    pieces.DENSE_MARKS = 0
    try:
        yield
    finally:
        pieces.DENSE_MARKS = usual


def both_ways(assembly: Assembly, state: State) -> tuple[Reconciliation, Reconciliation]:
    dense = findings_of(assembly, state)
    with all_sparse():
        return dense, findings_of(assembly, state)


def assert_same(one: object, other: object, where: str = "") -> None:
    """Plain findings agree field by field, numbers to 1e-7."""
    if is_dataclass(one):
        for field in fields(one):
            tolerated = field.name == "chance" and where.startswith("seats")
            assert_field(one, other, field.name, f"{where}.{field.name}", tolerated)
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for k, (a, b) in enumerate(zip(one, other, strict=True)):
            assert_same(a, b, f"{where}[{k}]")
    elif isinstance(one, float):
        assert other == approx(one, abs=TOLERANCE), where
    else:
        assert one == other, where


def assert_field(one: object, other: object, name: str, where: str, simulated: bool) -> None:
    a, b = getattr(one, name), getattr(other, name)
    if where.startswith("contradictions") and name in ("demands", "rows"):
        return  # an irreducible set need not be the only one: a clearance says what its two gaps say
    if name == "verdict" and on_the_edge(one):
        return
    if simulated:
        assert b == approx(a, abs=simulation_error(a)), where
    else:
        assert_same(a, b, where)


def simulation_error(chance: float) -> float:
    """Five standard errors of the difference of two simulations of 10,000 draws."""
    return 5 * math.sqrt(2 * max(chance * (1 - chance), 1e-4) / 10_000)


def on_the_edge(finding: object) -> bool:
    """Whether a simulated chance may decide: it lies near 5 or 95 percent, or the finding is a joint,
    which is never better than the seats of its parts."""
    if isinstance(finding, JointFinding):
        return True
    chance = getattr(finding, "chance", None)
    simulated = isinstance(finding, SeatFinding) and chance is not None
    return simulated and min(abs(chance - 0.95), abs(chance - 0.05)) < simulation_error(chance)


FOUND = ("distances", "joints", "seats", "checks", "doubts", "assumed", "proven")


def assert_agree(assembly: Assembly, state: State) -> None:
    dense, sparse = both_ways(assembly, state)
    for name in FOUND:
        assert_same(getattr(dense, name), getattr(sparse, name), name)
    assert sparse.agreement.chi_square == approx(dense.agreement.chi_square, abs=TOLERANCE)
    for one, other in zip(dense.agreement.tools, sparse.agreement.tools, strict=True):
        assert (other.tool, other.readings, other.verdict) == (one.tool, one.readings, one.verdict)
        # Products with the map, or with its root: with diagonals that hardly settle a thing both are first order.
        assert (other.factor, other.freedom) == (approx(one.factor, rel=1e-5), approx(one.freedom, rel=1e-5))
    # Which of several irreducible sets is named is not unique (a fit, or the two gaps that sum to
    # it); what gives way, and by how much, is.
    assert bool(dense.contradictions) == bool(sparse.contradictions)
    for one, other in zip(dense.solved.pieces, sparse.solved.pieces, strict=True):
        assert other.allocation.missed_mm == approx(one.allocation.missed_mm, abs=TOLERANCE)
        assert other.allocation.hold_missed_mm == approx(one.allocation.hold_missed_mm, abs=TOLERANCE)
        assert other.estimate.x == approx(one.estimate.x, abs=TOLERANCE)
        assert other.x == approx(one.x, abs=TOLERANCE)


def whole(case: Case) -> tuple[Assembly, State]:
    return case.assembly, case.state


def example(which: str) -> tuple[Assembly, State]:
    path = EXAMPLES / which
    build = load_build(path.parent)
    return settle(assemble(build.plan), read_log(path), build.plan.tools())


def bays(count: int, seed: int) -> tuple[Assembly, State]:
    plan = read_plan(plan_text(count))
    return settle(assemble(plan), parse_log(log_text(count, seed).encode()), plan.tools())


@pytest.mark.parametrize("which", LOGS)
def test_on_the_examples(which):
    assert_agree(*example(which))


def test_a_value_that_stands_on_its_limit_without_doubt_keeps_it_both_ways():
    # By hand: the shoulder lies on its line exactly, with no error of its own: the gap is 0 for
    # certain, and the fit allows 0 to 0.2, so the chance is 1, not a half.
    bench = Bench(workmanship=0.2, give=None)
    bench.part("p0", 0.0, "x0 40 x1 40 (hold) x2")
    bench.part("p1", 40.0, "x1")
    bench.part("p2", 0.0, "x0 40 x1 40 x2", "x0 80 x2")
    bench.butt("p0 p2", "p0.x2", "p2.x2")
    bench.room("p1 p2", "p1.x1", "p2.x2", 39.0, 42.0)
    bench.rule(("p0.x1", "p0.x2"), ("p2.x1", "p2.x2"), give=1.0)
    bench.rule(("p0.x0", "p0.x1"), ("p0.x1", "p0.x2"), within=0.5)
    bench.make("p0")
    bench.cut("p0.x2", 0.34)
    bench.rough("p2.x0", "p2.x2", 80.0)
    for found in both_ways(*whole(bench.case())):
        (shoulder,) = found.joints[0].contacts
        assert (shoulder.clearance_mm, shoulder.chance, shoulder.verdict) == (approx(0.0, abs=1e-9), 1.0, "fits")


@pytest.mark.parametrize("count", range(2, 13, 2))
def test_on_runs_of_bays(count):
    assert_agree(*bays(count, seed=count))


@settings(max_examples=30)
@given(benches(trouble=False))
def test_on_generated_builds_in_which_all_can_be_had(case: Case):
    assert_agree(case.assembly, case.state)


@settings(max_examples=30)
@given(benches())
def test_on_generated_builds_with_contradictions(case: Case):
    assert_agree(case.assembly, case.state)


@settings(max_examples=8)
@given(st.integers(2, 12), st.integers(0, 10_000))
def test_every_covariance_agrees_not_only_those_asked_for(count: int, seed: int):
    dense, sparse = both_ways(*bays(count, seed))
    random = np.random.default_rng(seed)
    for one, other in zip(dense.solved.pieces, sparse.solved.pieces, strict=True):
        rows = stacked([one.network.measured, one.network.planned, one.network.wishes])
        asked = rows.dense(len(one.network))  # sums of what is settled: nothing else has an uncertainty
        for _ in range(4):
            weights = random.normal(size=len(asked)) @ asked
            for of in (lambda piece: piece.advice, lambda piece: piece.outlook.errors):
                a, b = of(one).influence(weights), of(other).influence(weights)
                assert float(b @ b) == approx(float(a @ a), rel=1e-7, abs=1e-9)
