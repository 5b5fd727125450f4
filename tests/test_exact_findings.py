"""Chances, verdicts, checks and doubts agree with an independent solve of the whole model.

The independent solve is tests/oracle.py; the normal distribution is scipy's (1.17). Verdicts are
left out where the chance lies within a hair of what they turn on.
"""

from __future__ import annotations

import math

from hypothesis import event, given, settings
from pytest import approx

from tests.builds import benches, findings
from tests.frames import case_of, frames
from tests.oracle import Oracle

PROVEN = 0.95  # ISO 14253-1:2017, default limit of conformance probability (from memory)
CRITICAL = 3.2905  # two-sided normal quantile at 0.001; from memory: W. Baarda 1968


def verdict(value: float, u: float, low: float, high: float, oracle: Oracle) -> tuple[float, str | None]:
    """The chance of lying within, and the side that is proven; None where it turns on rounding."""
    below, within = oracle.chance(value, u, -math.inf, low), oracle.chance(value, u, low, high)
    above = 1.0 - below - within
    if min(abs(p - PROVEN) for p in (below, within, above)) < 1e-5 or u < 1e-6:
        return within, None
    for p, side in ((below, "low"), (within, "in"), (above, "high")):
        if p >= PROVEN:
            return within, side
    return within, "unsure"


WORDS = {
    "fits": "in", "tight": "low", "proud": "low", "loose": "high", "open": "high", "can't tell": "unsure",
}  # fmt: skip


@given(benches() | frames().map(case_of))
@settings(max_examples=40)
def test_a_contact_is_judged_by_its_chance_to_lie_within_its_fit(case):
    ours, oracle = findings(case, seats=False), Oracle(case)
    for joint in ours.joints:
        for contact in joint.contacts:
            plan = case.assembly.contacts[contact.number]
            row = sum(oracle.gaps(plan))
            if contact.clearance_mm is None:
                assert contact.verdict == "can't tell"
                assert contact.chance is None
                continue
            u = oracle.u_outlook(row)
            if u < 1e-6:
                continue
            # What is closed went together: it is judged against its most only. A room stays open.
            low = -math.inf if joint.closed and plan.kind != "room" else plan.least_mm
            chance, side = verdict(oracle.value(row), u, low, plan.most_mm, oracle)
            assert contact.chance == approx(chance, abs=2e-5)
            if side is not None:
                event(side)
                assert WORDS[contact.verdict] == side


@given(benches() | frames().map(case_of))
@settings(max_examples=40)
def test_a_check_is_as_good_as_the_worst_of_its_pairs(case):
    ours, oracle = findings(case, seats=False), Oracle(case)
    for check in ours.checks:
        rule = case.assembly.checks[check.number]
        values = oracle.values(rule)
        if not all(oracle.fixed(row) for row, _ in values):
            assert check.value_mm is None
            assert check.verdict == "can't tell"
            continue
        sizes = [(oracle.value(row) - target, oracle.u_outlook(row)) for row, target in values]
        worst = max(abs(value) for value, _ in sizes)
        alike = [one for one in sizes if abs(one[0]) > worst - 1e-6]  # two pairs may be as bad
        value, u = min(alike, key=lambda one: abs(one[0] - check.value_mm) + abs(2 * one[1] - check.expanded_mm))
        assert check.value_mm == approx(value, abs=1e-6)
        assert check.expanded_mm == approx(2 * u, abs=1e-6)
        if u > 1e-6:
            chance, _ = verdict(value, u, -rule.within_mm, rule.within_mm, oracle)
            assert check.chance == approx(chance, abs=2e-5)
            assert (check.verdict == "within") == (chance >= PROVEN)
            event(check.verdict)


@given(benches(trouble=False) | frames().map(case_of))
@settings(max_examples=40)
def test_a_reading_is_doubted_for_what_the_others_say(case):
    ours, oracle = findings(case, seats=False), Oracle(case)
    for number, (doubt, reading) in enumerate(zip(ours.doubts, case.state.readings, strict=True)):
        way = -1.0 if reading.value_mm < 0 else 1.0
        residual, redundancy = oracle.residual[number], oracle.redundancy[number]
        assert doubt.row == reading.no
        assert doubt.residual_mm == approx(way * residual, abs=1e-6)
        assert doubt.redundancy == approx(redundancy, abs=1e-7)
        if redundancy < 1e-7:
            assert doubt.would_be_mm is None
            event("nothing checks it")
            continue
        w = way * residual / reading.u_mm / math.sqrt(redundancy)
        assert doubt.standardised == approx(w, abs=1e-4)
        assert doubt.would_be_mm == approx(way * (reading.value_mm + residual / redundancy), abs=1e-5)
        assert doubt.suspect == (abs(w) > CRITICAL)
        event("suspect" if doubt.suspect else "checked")
