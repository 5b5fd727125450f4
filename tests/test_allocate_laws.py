"""Laws of what to cut, and what is said where wood or limits do not add up."""

from __future__ import annotations

from hypothesis import assume, given, settings
from pytest import approx

from tests.builds import Bench, benches, findings, solve
from tests.frames import case_of, frames
from tests.oracle import Oracle

few = settings(max_examples=25)


@given(benches() | frames().map(case_of))
@few
def test_made_wood_is_not_moved_by_what_is_still_to_be_cut(case):
    """Wishes, holds and limits pull on nothing that is there."""
    whole, oracle = solve(case), Oracle(case)
    for d in case.assembly.distances:
        row = oracle.span(d)
        there = float(row @ (oracle.plan + oracle.there))
        if abs(row @ oracle.free_there).max(initial=0.0) < 1e-9:
            assert whole.value_mm([(d.end, d.sign), (d.start, -d.sign)]) == approx(there, abs=1e-6)


@given(benches(trouble=False))
@few
def test_holds_and_limits_are_kept_where_they_can_be(case):
    found = findings(case, seats=False)
    assume(not any(p.allocation.missed_mm.any() or p.allocation.hold_missed_mm.any() for p in found.solved.pieces))
    for finding in found.distances:
        d = case.assembly.distances[finding.number]
        terms = [(d.start, 1.0), (d.end, -1.0)]
        if finding.size_mm is None or found.solved.piece(terms).estimate.freedom.settled(found.solved.inside(terms)):
            continue
        if d.hold:
            assert finding.size_mm == approx(d.plan_mm, abs=1e-6)
        if d.low_mm is not None:
            assert d.low_mm - 1e-6 <= finding.size_mm <= d.high_mm + 1e-6


def rough_on_both_sides(overall: float) -> Bench:
    """A wall between two ends: 60 and 40 were read when it was rough, the whole after both ends were made."""
    bench = Bench()
    bench.part("a", 0.0, "x 60 wall 40 y")
    bench.rough("a.x", "a.wall", 60.0)
    bench.rough("a.wall", "a.y", 40.0)
    bench.read("a.x", "a.y", overall, 0.1)
    return bench


def test_readings_of_rough_wood_that_do_not_add_up_share_what_they_are_off():
    """Each was read with the same tool, so each is off by half of what is missing: 0.1 / 2."""
    found = findings(rough_on_both_sides(100.1).case())
    assert [d.size_mm for d in found.distances] == approx([60.05, 40.05], abs=1e-9)
    assert found.contradictions == ()  # 0.1 off is within what three readings good to 0.1 may be


def test_readings_of_rough_wood_that_do_not_add_up_by_far_contradict_each_other():
    found = findings(rough_on_both_sides(101.0).case())
    assert [d.size_mm for d in found.distances] == approx([60.5, 40.5], abs=1e-9)
    (one,) = found.contradictions
    assert sorted(demand.kind for demand in one.demands) == ["rough", "rough"]
    assert [demand.missed_mm for demand in one.demands] == approx([0.5, 0.5], abs=1e-9)
    assert one.rows == (3,)  # beside the rows of the rough wood itself


def jammed(off: float, U: float, prefix: str, aim: float) -> Bench:
    """A made tongue in a made socket too narrow for it: a matter of facts."""
    bench = Bench(workmanship=0.02)
    add_jammed(bench, off, U, prefix, aim)
    return bench


def add_jammed(bench: Bench, off: float, U: float, prefix: str, aim: float) -> None:
    bench.part(f"{prefix}tongue", 0.0, "p 60 q")
    bench.part(f"{prefix}socket", 0.0, "s 60 t")
    bench.housing(
        f"{prefix}joint", (f"{prefix}tongue.p", f"{prefix}tongue.q"), (f"{prefix}socket.s", f"{prefix}socket.t"),
        (0.0, aim, 2 * aim),
    )  # fmt: skip
    bench.read(f"{prefix}tongue.p", f"{prefix}tongue.q", 60.0 + off, U)
    bench.read(f"{prefix}socket.s", f"{prefix}socket.t", 60.0, U)


def test_facts_contradict_each_other_only_beyond_their_u():
    assert findings(jammed(0.1, 0.2, "a", 0.1).case()).contradictions == ()
    (one,) = findings(jammed(0.5, 0.2, "a", 0.1).case()).contradictions
    assert one.facts


def test_facts_that_have_nothing_to_do_with_each_other_are_weighed_apart():
    """A snug joint that may well be within its U must not hide another that is far beyond it, though
    both hang together by a rail still to be cut."""
    bench = jammed(0.19, 0.2, "a", 0.01)
    add_jammed(bench, 2.0, 0.2, "b", 1.0)
    bench.part("rail", 60.0, "left 500 right")
    bench.butt("one", "atongue.q", "rail.left")
    bench.butt("two", "rail.right", "bsocket.s")
    (one,) = findings(bench.case()).contradictions
    assert {demand.number for demand in one.demands} == {1}  # the second contact
