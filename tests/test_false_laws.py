"""Laws that sound true and are not: a search must find the build that breaks each of them.

If it finds none, the builds of the tests are too tame to tell anything.
"""

from __future__ import annotations

import pytest
from hypothesis import find, settings
from hypothesis import strategies as st
from hypothesis.errors import NoSuchExample

from fitsolve.rows import RowList
from fitsolve.solve.freedom import Freedom
from tests.builds import SLIP, Bench, Case, findings

SEARCH = settings(max_examples=400, derandomize=True, database=None)


def counterexample(builds: st.SearchStrategy, breaks) -> object:
    try:
        return find(builds, breaks, settings=SEARCH)
    except NoSuchExample:
        pytest.fail("no counterexample found: these builds are too tame")


# -- each joint alone --------------------------------------------------------------------------


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
        find(networks(), breaks, settings=SEARCH)


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
        find(runs_to_be_cut(), breaks, settings=settings(SEARCH, max_examples=100))
