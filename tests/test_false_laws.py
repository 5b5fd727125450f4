"""Things one might believe that are not so: a counterexample must turn up among the generated builds.

Were one of these not found, the builds would be too tame to test anything with.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, find, settings
from hypothesis.errors import NoSuchExample

from fitsolve.solve.freedom import Freedom
from tests.builds import Case, benches, findings, solve
from tests.frames import case_of, frames

seek = settings(max_examples=2000, phases=[Phase.generate], derandomize=True)


def counterexample(strategy, breaks) -> object:
    """A build for which the law does not hold."""
    return find(strategy, breaks, settings=seek)


def judged_alone(case: Case) -> bool:
    """All contacts of a part fit, each judged by itself, and yet it is not known to go on."""
    found = findings(case)
    for seat in found.seats:
        own = [c for joint in found.joints if joint.name in seat.joints for c in joint.contacts]
        if seat.verdict != "goes on" and all(c.verdict == "fits" for c in own if c.kind != "butt"):
            return len(own) > 1
    return False


def test_each_joint_by_itself_does_not_tell_whether_the_part_goes_on():
    assert counterexample(benches(trouble=False), judged_alone)


def connected_but_not_settled(case: Case) -> bool:
    """Rows lead from one made mark to another, and yet nothing fixes how far apart they are."""
    whole = solve(case)
    for piece in whole.pieces:
        linked = Freedom(len(piece.network))
        for terms in [*piece.network.measured.terms(), *piece.network.planned.terms()]:
            for mark, _ in terms[1:]:
                linked.join([terms[0][0]], [mark])
        made = np.flatnonzero(~piece.network.uncut)
        for a in made:
            for b in made[made > a]:
                if linked.root(a) == linked.root(b) and not piece.is_fact([(a, 1.0), (b, -1.0)]):
                    return True
    return False


def test_being_connected_does_not_tell_what_is_settled():
    """A comparison ties four marks and settles none of them; a centred housing likewise."""
    assert counterexample(benches(), connected_but_not_settled)


def more_doubt_by_reading(case: Case) -> bool:
    """Left out, a reading would leave some made distance better known."""
    if not case.state.readings:
        return False
    fewer = Case(case.assembly, replace(case.state, readings=case.state.readings[:-1], gap_read=frozenset()))
    with_it, without = findings(case, seats=False), findings(fewer, seats=False)
    return any(
        one.state == "made" and one.advice_expanded_mm > other.advice_expanded_mm + 1e-3
        for one, other in zip(with_it.distances, without.distances, strict=True)
        if one.size_mm is not None and other.size_mm is not None
    )


def test_one_more_reading_does_not_always_leave_less_doubt():
    assert counterexample(benches(trouble=False), more_doubt_by_reading)


def no_superposition(case: Case) -> bool:
    """Two readings moved together move a size by more than what each moves it alone."""
    if len(case.state.readings) < 2:
        return False

    def sizes(*moved: int) -> list[float]:
        readings = list(case.state.readings)
        for k in moved:
            readings[k] = replace(readings[k], value_mm=readings[k].value_mm + 1.0)
        found = findings(Case(case.assembly, replace(case.state, readings=tuple(readings))), seats=False)
        return [0.0 if d.size_mm is None else d.size_mm for d in found.distances]

    base, one, other, both = (np.array(sizes(*moved)) for moved in ((), (0,), (1,), (0, 1)))
    return bool(np.abs(both - one - other + base).max(initial=0.0) > 0.01)


def test_sizes_are_not_always_in_proportion_to_the_readings():
    """Limits see to that: what is linear is only so while the same ones press."""
    assert counterexample(benches(), no_superposition)


def smaller_give_takes_more(case: Case) -> bool:
    """Of two uncut distances of a part, the one with half the give or less ends further off plan."""
    assembly = case.assembly
    found = findings(case, seats=False)
    off = [None if d.size_mm is None else d.size_mm - d.plan_mm for d in found.distances]
    for k, one in enumerate(assembly.distances):
        for j, other in enumerate(assembly.distances):
            same = one.part == other.part and one.axis == other.axis
            if not same or one.hold or other.hold or not (one.give_mm and other.give_mm):
                continue
            uncut = found.distances[k].state == found.distances[j].state == "uncut"
            if uncut and one.give_mm > 2 * other.give_mm and off[k] is not None and off[j] is not None:
                if abs(off[k]) + 0.05 < abs(off[j]):
                    return True
    return False


def test_the_distance_with_the_larger_give_does_not_always_take_more():
    """It does in one chain; not where what it joins pulls elsewhere."""
    assert counterexample(benches(parts=6), smaller_give_takes_more)


def better_than_its_seat(case: Case) -> bool:
    found = findings(case)
    verdict = {seat.part: seat.verdict for seat in found.seats}
    return any(
        joint.verdict == "fits" and any(verdict.get(part, "goes on") != "goes on" for part in joint.parts)
        for joint in found.joints
        if not joint.closed
    )


def test_but_no_joint_is_ever_said_to_be_better_than_the_seat_of_its_parts():
    """The other way round: here no counterexample may turn up."""
    with pytest.raises(NoSuchExample):
        find(benches() | frames().map(case_of), better_than_its_seat, settings=settings(seek, max_examples=60))


def nothing_checks_them(case: Case) -> bool:
    """There are readings, and not one of them is checked by the others."""
    found = findings(case, seats=False)
    return bool(found.doubts) and all(doubt.redundancy == 0.0 for doubt in found.doubts)


def test_readings_that_all_agree_need_not_check_each_other():
    """Nothing contradicts them, for nothing could."""
    assert counterexample(benches(trouble=False), nothing_checks_them)


def weighed(case: Case, weight: float) -> bool:
    """The plan taken together with the readings at a small weight moves what they settle by 0.001 mm."""
    for piece in solve(case).pieces:
        measured, planned = piece.network.measured, piece.network.planned
        n = len(piece.network)
        rows = np.vstack([measured.dense(n) / measured.scale[:, None], weight * planned.dense(n)])
        values = np.concatenate([measured.value / measured.scale, weight * planned.value])
        if len(rows) == 0:
            continue
        x = np.linalg.lstsq(rows, values, rcond=None)[0]
        for a in range(n):
            for b in range(a):
                terms = [(a, 1.0), (b, -1.0)]
                if piece.read.settled(terms):
                    by_readings = piece.estimate.x[a] - piece.estimate.x[b]
                    if abs(x[a] - x[b] - by_readings) > 1e-6:
                        return True
    return False


@pytest.mark.parametrize("weight", [1e-1, 1e-2])
def test_a_small_weight_is_not_a_second_stage(weight):
    assert counterexample(benches(trouble=False), lambda case: weighed(case, weight))
