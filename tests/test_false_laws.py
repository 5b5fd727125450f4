"""Things one might believe that are not so: a counterexample must turn up among the generated builds.

Were one of these not found, the builds would be too tame to test anything with.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, find, settings
from hypothesis import strategies as st
from hypothesis.errors import NoSuchExample

from fitsolve.rows import RowList
from fitsolve.solve.freedom import Freedom
from tests.builds import SLIP, Bench, Case, benches, findings, solve
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


# -- small worlds made for one law ----------------------------------------------------------------


@st.composite
def aprons_over_legs(draw: st.DrawFn) -> Case:
    """An apron, made or to be cut, over two or three legs whose spacing is read coarsely."""
    legs = draw(st.integers(2, 3))
    bench = Bench(workmanship=draw(st.sampled_from([0.1, 0.5, 1.0])), width=0.05)
    run = "end 50 l0 90 h0"
    for k in range(1, legs):
        run += f" 300 l{k} 90 h{k}"
    bench.part("apron", -50.0, run)
    for k in range(legs):
        bench.part(f"leg{k}", 390.0 * k, "left 90 right")
        bench.housing(f"apron leg{k}", (f"leg{k}.left", f"leg{k}.right"), (f"apron.l{k}", f"apron.h{k}"), SLIP)
        bench.read(f"leg{k}.left", f"leg{k}.right", 90.0, 0.05)
    for k in range(1, legs):
        bench.read(f"leg{k - 1}.right", f"leg{k}.left", 300.0, draw(st.sampled_from([0.1, 0.5, 2.0])))
    return bench.case()


def every_joint_fits_but_the_part_does_not_go_on(case: Case) -> bool:
    found = findings(case)
    contacts = [contact for joint in found.joints for contact in joint.contacts]
    apron = next(seat for seat in found.seats if seat.part == "apron")
    return all(contact.chance >= 0.95 for contact in contacts) and apron.chance < 0.5


def test_judging_each_joint_alone_does_not_tell_whether_the_part_goes_on():
    assert counterexample(aprons_over_legs(), every_joint_fits_but_the_part_does_not_go_on)


def test_so_no_joint_of_such_a_part_is_called_a_fit():
    found = findings(counterexample(aprons_over_legs(), every_joint_fits_but_the_part_does_not_go_on))
    assert "fits" not in [joint.verdict for joint in found.joints]


# -- connectivity ------------------------------------------------------------------------------

Network = tuple[int, list[dict[int, float]]]


@st.composite
def networks(draw: st.DrawFn) -> Network:
    """Rows of one bench: distances, and comparisons of two distances."""
    marks = draw(st.integers(3, 6))
    rows = []
    for _ in range(draw(st.integers(1, 5))):
        ends = draw(st.lists(st.integers(0, marks - 1), min_size=4, max_size=4))
        if draw(st.booleans()):
            ends = ends[:2]
        row: dict[int, float] = {}
        for mark, coef in zip(ends, (1.0, -1.0, -1.0, 1.0), strict=False):
            row[mark] = row.get(mark, 0.0) + coef
        rows.append({mark: coef for mark, coef in row.items() if coef})
    return marks, [row for row in rows if row]


def connected(network: Network, a: int, b: int, longest: int = 99) -> bool:
    """Whether two marks hang together through rows of at most so many marks."""
    reached, rows = {a}, [set(row) for row in network[1] if len(row) <= longest]
    while True:
        more = set().union(*[row for row in rows if row & reached]) | reached
        if more == reached:
            return b in reached
        reached = more


def settled(network: Network, a: int, b: int) -> bool:
    rows = RowList()
    for row in network[1]:
        rows.add(list(row.items()), 0.0, 1.0)
    freedom = Freedom(network[0])
    freedom.tie(rows.rows())
    return freedom.settled([(a, 1.0), (b, -1.0)])


def test_what_hangs_together_is_not_always_settled():
    network = counterexample(networks(), lambda n: n[1] and connected(n, 0, 1) and not settled(n, 0, 1))
    assert max(len(row) for row in network[1]) > 2, "of distances alone it would be true"


def test_what_no_distances_tie_can_be_settled_by_comparisons():
    network = counterexample(networks(), lambda n: settled(n, 0, 1) and not connected(n, 0, 1, longest=2))
    assert max(len(row) for row in network[1]) > 2


def test_of_distances_alone_connectivity_does_tell():
    def breaks(network: Network) -> bool:
        distances = (network[0], [row for row in network[1] if len(row) == 2])
        return connected(distances, 0, 1) != settled(distances, 0, 1)

    with pytest.raises(NoSuchExample):
        find(networks(), breaks, settings=settings(seek, max_examples=400))


# -- rounding ----------------------------------------------------------------------------------


@st.composite
def runs_to_be_cut(draw: st.DrawFn) -> Case:
    """A part to be cut over two made ones that came out a little off plan."""
    bench = Bench(finest=0.5, give=1.5)
    bench.part("apron", -50.0, "l.end 50 l.lo 90 l.hi 300 r.lo 90 r.hi 50 r.end")
    for part, at in (("a", 0.0), ("b", 390.0)):
        bench.part(part, at, "left 90 right")
        lo, hi = ("apron.l.lo", "apron.l.hi") if part == "a" else ("apron.r.lo", "apron.r.hi")
        bench.housing(f"apron {part}", (f"{part}.left", f"{part}.right"), (lo, hi), SLIP)
        bench.read(f"{part}.left", f"{part}.right", 90 + draw(st.integers(-100, 100)) / 100, 0.1)
    bench.read("a.right", "b.left", 300 + draw(st.integers(-100, 100)) / 100, 0.2)
    return bench.case()


def chain_and_whole(case: Case) -> tuple[list[float], float]:
    """The sizes of the apron's run, and of the whole of it."""
    found = findings(case, seats=False)
    sizes = [d.size_mm for d in found.distances if d.part == "apron"]
    x, index = found.solved.positions_mm, case.assembly.index
    return sizes, float(x[index["apron.r.end"]] - x[index["apron.l.end"]])


def rounded(mm: float) -> float:
    return round(mm / 0.5) * 0.5


def test_rounding_each_number_by_itself_opens_loops():
    def breaks(case: Case) -> bool:
        sizes, whole = chain_and_whole(case)
        return sum(rounded(size) for size in sizes) != rounded(whole)

    assert counterexample(runs_to_be_cut(), breaks)


def test_before_rounding_the_same_loops_are_closed():
    def breaks(case: Case) -> bool:
        sizes, whole = chain_and_whole(case)
        return abs(sum(sizes) - whole) > 1e-9

    with pytest.raises(NoSuchExample):
        find(runs_to_be_cut(), breaks, settings=settings(seek, max_examples=100))
