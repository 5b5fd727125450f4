"""Laws that hold for every build, whatever the numbers: how it is written down changes nothing."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pytest import approx

from fitsolve.solve.staged import Staged
from tests.builds import Bench, Case, benches, findings, solve
from tests.frames import case_of, frames
from tests.oracle import Oracle
from tests.turned import answers, differing, mirrored, moved

any_build = benches() | frames().map(case_of)
few = settings(max_examples=25)


def firm(case: Case) -> bool:
    """Whether a slight change of the readings leaves the same limits pressing (else U is not defined)."""
    return Oracle(case).clear


@given(any_build, st.integers(0, 1000))
@few
def test_where_parts_are_drawn_changes_no_answer(case, seed):
    random = Random(seed)
    by = {part: random.uniform(-500, 500) for part in case.assembly.parts}
    assume(firm(case))
    assert differing(answers(case), answers(moved(case, by))) == []


@given(any_build)
@few
def test_left_for_right_changes_no_length(case):
    assume(firm(case))
    assert differing(answers(case), answers(mirrored(case))) == []


@given(any_build, st.sampled_from([1e-3, 0.2, 5.0]), st.integers(0, 1000))
@few
def test_the_plan_moves_nothing_that_readings_settle(case, workmanship, seed):
    """However far the plan is off and however sure the work: parts cut 100 mm off what was planned."""
    random = Random(seed)
    wild = tuple(random.uniform(-100, 100) for _ in case.state.cut_to_mm)
    case = Case(replace(case.assembly, workmanship_mm=workmanship), replace(case.state, cut_to_mm=wild))
    for piece in solve(case).pieces:
        alone = Staged.start(len(piece.network)).add(piece.network.measured)
        for a in range(len(piece.network)):
            for b in range(a):
                if alone.freedom.settled([(a, 1.0), (b, -1.0)]):
                    by_readings = alone.x[a] - alone.x[b]
                    assert piece.estimate.x[a] - piece.estimate.x[b] == approx(by_readings, abs=1e-6)


@given(benches(trouble=False))
@few
def test_no_reading_is_less_than_nothing_checked(case):
    """Redundancies lie in 0..1; over all measured rows they add up to rows less rank."""
    oracle = Oracle(case)
    for doubt in findings(case, seats=False).doubts:
        assert 0.0 <= doubt.redundancy <= 1.0
    rank = int(np.linalg.matrix_rank(oracle.measured.rows)) if len(oracle.measured.rows) else 0
    assert oracle.redundancy.sum() == approx(len(oracle.measured.rows) - rank, abs=1e-7)


def test_a_coarse_reading_may_leave_a_size_less_certain_than_the_plan_alone():
    """By hand: the plan alone says 90 ± 0.2 (workmanship); a tape good to 0.8 outranks it."""
    bench = Bench(workmanship=0.2)
    bench.part("leg", 0.0, "left 90 right")
    bench.make("leg")
    assert findings(bench.case()).distances[0].advice_expanded_mm == approx(0.2)
    bench.read("leg.left", "leg.right", 90.3, 0.8)
    assert findings(bench.case()).distances[0].advice_expanded_mm == approx(0.8)
    assert findings(bench.case()).distances[0].size_mm == approx(90.3)
