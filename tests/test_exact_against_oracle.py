"""Sizes, clearances, uncertainties and chances agree with an independent solve of the whole model.

The independent solve (tests/oracle.py) is dense, by other means (numpy SVD, clarabel 0.11, scipy
NNLS), and written from specs/mathematics.md. Agreement is asked to 1e-6 mm.
"""

from __future__ import annotations

from hypothesis import given, settings

from fitsolve.graph import distance_terms
from tests.builds import benches, findings
from tests.frames import case_of, frames
from tests.oracle import Oracle

TOLERANCE_MM = 1e-6


def close(a: float, b: float) -> bool:
    return abs(a - b) <= TOLERANCE_MM * max(1.0, abs(a) / 1000)


def disagreements(case) -> list[str]:
    """Every number of ours that the oracle does not have."""
    ours, oracle = findings(case, seats=False), Oracle(case)
    assembly = case.assembly
    found = []
    certain = oracle.clear
    for one in ours.distances:
        row = oracle.row(*distance_terms(assembly.distances[one.number]))
        if one.size_mm is None or not oracle.fixed(row):
            if (one.size_mm is None) == oracle.fixed(row):
                found.append(f"{one.start}..{one.end}: fixed or not")
            continue
        if not close(one.size_mm, oracle.value(row)):
            found.append(f"{one.start}..{one.end}: {one.size_mm} is {oracle.value(row)}")
        if (certain or one.state == "made") and not close(one.advice_expanded_mm, 2 * oracle.u_advice(row)):
            found.append(f"{one.start}..{one.end}: U {one.advice_expanded_mm} is {2 * oracle.u_advice(row)}")
        if (certain or one.state == "made") and not close(one.outcome_expanded_mm, 2 * oracle.u_outcome(row)):
            found.append(f"{one.start}..{one.end}: outcome {one.outcome_expanded_mm} is {2 * oracle.u_outcome(row)}")
    for joint in ours.joints:
        for contact in joint.contacts:
            gaps = oracle.gaps(assembly.contacts[contact.number])
            row = sum(gaps[1:], gaps[0])
            if contact.clearance_mm is None:
                continue
            if not close(contact.clearance_mm, oracle.value(row)):
                found.append(f"{joint.name} {contact.kind}: {contact.clearance_mm} is {oracle.value(row)}")
            if not close(contact.expanded_mm, 2 * oracle.u_outlook(row)):
                found.append(f"{joint.name} {contact.kind}: U {contact.expanded_mm} is {2 * oracle.u_outlook(row)}")
    return found


@given(benches())
@settings(max_examples=120)
def test_on_one_axis_with_limits_that_contradict_and_facts_that_cannot_hold(case):
    assert disagreements(case) == []


@given(benches(trouble=False))
@settings(max_examples=80)
def test_where_everything_can_hold(case):
    assert disagreements(case) == []


@given(benches(axes="xyz", parts=3))
@settings(max_examples=40)
def test_on_three_axes(case):
    assert disagreements(case) == []


@given(frames())
@settings(max_examples=25)
def test_on_benches_with_end_frames_read_from_their_text(texts):
    assert disagreements(case_of(texts)) == []


@given(benches(trouble=False))
@settings(max_examples=20)
def test_the_comparison_notices_a_hundredth_of_a_millimetre(case):
    """The check can fail: a plan moved by 0.01 mm is another answer for a distance that is still uncut."""
    ours = findings(case, seats=False)
    uncut = [one for one in ours.distances if one.size_mm is not None]
    for one in uncut:
        assert not close(one.size_mm + 0.01, one.size_mm)
