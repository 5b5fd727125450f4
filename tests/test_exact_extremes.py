"""Nothing, one of everything, and numbers of very different size: the answers stay exact.

Lengths from 1 mm to 50 m, tools good to 0.001 mm beside 10 mm, gives of 0.01 mm beside 100 mm.
Where a programme that uneven cannot be certified, the answer says so; it is never wrong in silence.
"""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from fitsolve.build.assembly import Contact, Rule
from fitsolve.reconciliation import findings_of
from tests.builds import SLIP, Bench, Case, benches, findings, solve
from tests.test_exact_against_oracle import disagreements


def stretched(case: Case, by: float, random: Random) -> Case:
    """The build drawn larger or smaller; what it is off plan stays, tools and gives are drawn anew."""
    a, s = case.assembly, case.state
    plan = [mark.plan_mm for mark in a.marks]

    def more(*terms: tuple[int, float]) -> float:
        """What the plan adds to a row of these terms."""
        return (by - 1) * sum(coef * plan[mark] for mark, coef in terms)

    def give(old: float | None) -> float | None:
        return None if old is None else random.choice([0.01, 0.1, 1.0, 100.0])

    def moved(limit: float | None, distance: float) -> float | None:
        return None if limit is None else limit + distance

    def contact(one: Contact) -> Contact:
        room = more((one.marks[1], 1.0), (one.marks[0], -1.0)) if one.kind == "room" else 0.0
        return replace(one, least_mm=one.least_mm + room, aim_mm=one.aim_mm + room, most_mm=one.most_mm + room)

    def rule(one: Rule) -> Rule:
        add = 0.0 if one.length_mm is None else one.length_mm * (by - 1)
        return replace(
            one, length_mm=moved(one.length_mm, add), give_mm=give(one.give_mm),
            low_mm=moved(one.low_mm, add), high_mm=moved(one.high_mm, add),
        )  # fmt: skip

    distances = tuple(
        replace(
            d, plan_mm=d.plan_mm * by, give_mm=give(d.give_mm),
            low_mm=moved(d.low_mm, d.plan_mm * (by - 1)), high_mm=moved(d.high_mm, d.plan_mm * (by - 1)),
        )
        for d in a.distances
    )  # fmt: skip
    assembly = replace(
        a, marks=tuple(replace(m, plan_mm=m.plan_mm * by) for m in a.marks), distances=distances,
        contacts=tuple(contact(c) for c in a.contacts), keeps=tuple(rule(k) for k in a.keeps),
        checks=tuple(rule(k) for k in a.checks), workmanship_mm=random.choice([0.001, 0.8, 20.0]),
    )  # fmt: skip
    readings = tuple(
        replace(r, value_mm=r.value_mm + more(*r.terms), u_mm=random.choice([5e-4, 0.01, 0.05, 5.0])) for r in s.readings
    )
    rough = tuple(replace(r, most_mm=r.most_mm + more((r.end, r.sign), (r.start, -r.sign))) for r in s.rough)
    return Case(assembly, replace(s, readings=readings, rough=rough))


@given(benches(parts=5), st.sampled_from([1 / 40, 1.0, 1250.0]), st.integers(0, 10_000))
@settings(max_examples=80)
def test_numbers_of_very_different_size(case, by, seed):
    case = stretched(case, by, Random(seed))
    proven = all(piece.allocation.status == "optimal" for piece in solve(case).pieces)
    assert not proven or disagreements(case) == []


def test_nothing_at_all():
    found = findings_of(*_parts(Bench()))
    assert found.proven
    assert found.all_well
    assert (found.distances, found.joints, found.seats, found.doubts) == ((), (), (), ())


def _parts(bench: Bench):
    case = bench.case()
    return case.assembly, case.state


@pytest.mark.parametrize("made", [False, True])
def test_one_mark(made):
    bench = Bench()
    bench.part("a", 0.0, "x")
    if made:
        bench.make("a")
    found = findings_of(*_parts(bench))
    assert found.all_well
    assert found.between("a.x", "a.x").distance_mm == 0.0


def test_two_marks_that_nothing_ties():
    bench = Bench()
    bench.part("a", 0.0, "x")
    bench.part("b", 70.0, "y")
    found = findings_of(*_parts(bench))
    assert found.between("a.x", "b.y").distance_mm is None


@pytest.mark.parametrize("closed", [False, True])
def test_two_single_marks_and_a_butt(closed):
    bench = Bench()
    bench.part("a", 0.0, "x")
    bench.part("b", 5.0, "y")
    bench.butt("j", "a.x", "b.y")
    if closed:
        bench.close("j")
    found = findings_of(*_parts(bench))
    assert found.joints[0].contacts[0].clearance_mm == approx(0.0, abs=1e-9)
    assert found.joints[0].contacts[0].expanded_mm == approx(0.1 if closed else 0.0, abs=1e-9)


def test_a_distance_of_nothing():
    bench = Bench()
    bench.part("a", 0.0, "x 0 y 0 z")
    bench.make("a")
    bench.read("a.x", "a.y", 0.1, 0.1)
    assert [d.size_mm for d in findings(bench.case()).distances] == approx([0.1, 0.0])
    assert disagreements(bench.case()) == []


def test_one_of_everything():
    bench = Bench()
    bench.part("leg", 0.0, "left 90 right")
    bench.part("apron", -50.0, "end 50 dado-o 90 (89 to 92) dado-i 200 (hold) other")
    bench.part("rail", 90.0, "left 300 right 10 tip")
    bench.part("post", 390.0, "left 60 right")
    bench.part("top", -20.0, "left 500 right")
    bench.station("leg.left", "foot")
    bench.housing("dado", ("leg.left", "leg.right"), ("apron.dado-o", "apron.dado-i"), SLIP)
    bench.butt("rail leg", "leg.right", "rail.left")
    bench.butt("rail post", "rail.right", "post.left")
    bench.room("rail post", "rail.tip", "post.right", 45.0, 55.0)
    bench.rule(("top.left", "leg.left"), ("post.right", "top.right"), give=2.0)
    bench.rule(("leg.left", "post.right"), length=450.0, within=1.0)
    bench.make("leg")
    bench.cut("post.right", 0.3)
    bench.make("post")
    bench.rough("rail.left", "rail.right", 300.4)
    bench.read("leg.left", "leg.right", 90.2, 0.1)
    bench.compare(("leg.left", "leg.right"), ("post.left", "post.right"), 30.1, 0.1)
    bench.gang([("leg.left", "leg.right"), ("post.left", "post.right")], 150.4, 0.2)
    found = findings(bench.case())
    assert all(d.size_mm is not None for d in found.distances)
    assert disagreements(bench.case()) == []
    bench.close("dado")
    bench.close("rail leg")
    assert disagreements(bench.case()) == []


def test_everything_closed():
    """Two legs centred in their dados, all made, one spacing read 10 over what the plan says.

    By hand, with d what each distance is off plan: 10 = d(c..d) + (d(b..c) + d(d..e) - d(l) - d(r)) / 2.
    All are at plan with the same u, so each takes its coefficient's share: 10 / (1 + 4/4) = 5, and half of that.
    """
    bench = Bench()
    for name, at in (("l", 0.0), ("r", 800.0)):
        bench.part(name, at, "left 90 right")
    bench.part("apron", -100.0, "a 100 b 90 c 710 d 90 e 100 f")
    bench.housing("one", ("l.left", "l.right"), ("apron.b", "apron.c"), SLIP)
    bench.housing("two", ("r.left", "r.right"), ("apron.d", "apron.e"), SLIP)
    bench.close("one")
    bench.close("two")
    bench.make("apron")
    bench.read("l.right", "r.left", 720.0, 0.1)
    assert disagreements(bench.case()) == []
    found = {f"{d.start} {d.end}": d.size_mm for d in findings(bench.case()).distances}
    assert found["l.left l.right"] == approx(found["r.left r.right"])
    assert found["apron.c apron.d"] - 710.0 == approx(5.0)
    assert found["apron.b apron.c"] - 90.0 == approx(2.5)
    assert 90.0 - found["l.left l.right"] == approx(2.5)


def test_fifty_parts_that_share_nothing():
    bench = Bench()
    for k in range(50):
        bench.part(f"p{k}", 10.0 * k, "x 40 y")
        bench.make(f"p{k}")
        bench.read(f"p{k}.x", f"p{k}.y", 40.0 + k / 100, 0.1)
    found = findings(bench.case())
    assert [d.size_mm for d in found.distances] == approx([40.0 + k / 100 for k in range(50)])
    assert len(found.solved.pieces) == 50
