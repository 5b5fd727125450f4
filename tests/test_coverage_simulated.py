"""What is said to be good to ± U is so in 95 cases of 100, and a chance is how often it happens.

Ten thousand benches are made up: their true sizes, the readings of them with normal errors, cuts
that miss. Each is estimated and its aprons are worked out by pseudo-inverses alone (numpy), and
held against the truth; the U and the chances are the program's. With k = 2 a normal error lies
within U in 95.45 of 100 (tables of the normal distribution); 10,000 draws tell that to 0.2.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from pytest import approx

from fitsolve.build.logtext import parse_log
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.state import settle
from fitsolve.graph import gap_terms
from fitsolve.reconciliation import Reconciliation, findings_of
from fitsolve.rows import Rows

DRAWS = 10_000
PLAN = """
format = 1
title = "Two aprons over four legs, invented"
unit = "mm"
finest = "0.5"
workmanship = "0.3"
workmanship_width = "0.12"
give = "1.5"
fits = { slip = ["0.1", "0.45", "1"] }

[part.leg]
copies = ["a", "b", "c", "d"]
x = "left 90 right"

[part.apron]
copies = ["front", "rear"]
x = ["l.end 1000 (hold) r.end",
     "l.end 50 (give 3) l.low 90 l.high 720 r.low 90 r.high 50 (give 3) r.end"]

[joint.dado]
each = \"\"\"
apron  e  leg
front  l  a
front  r  b
rear   l  c
rear   r  d
\"\"\"
meet = "leg.{leg}.left/right in apron.{apron}.{e}.low/high, slip"
"""

# Legs a and b are read by caliper, c and d are only known to be made; a rod between them and a
# tape over all close a loop on each pair. Of c and d the loop settles their sum.
LOG = """\
no,time,event,from,to,reading,tool,note
1,2025-03-10T09:00:00+01:00,reading,leg.a.left,leg.a.right,90.4,caliper,
2,2025-03-10T09:01:00+01:00,reading,leg.b.left,leg.b.right,89.7,caliper,
3,2025-03-10T09:02:00+01:00,made,leg.c,,,,
4,2025-03-10T09:03:00+01:00,made,leg.d,,,,
5,2025-03-10T09:04:00+01:00,reading,leg.a.right,leg.b.left,720.9,rod,
6,2025-03-10T09:05:00+01:00,reading,leg.a.left,leg.b.right,901.2,tape,
7,2025-03-10T09:06:00+01:00,reading,leg.c.right,leg.d.left,719.2,rod,
8,2025-03-10T09:07:00+01:00,reading,leg.c.left,leg.d.right,899.5,tape,
"""
CLEARANCES = range(4)
GAPS = {"apron.front": (0, 1), "apron.rear": (2, 3)}
ASKED = [
    ("leg.a.left", "leg.a.right"), ("leg.b.left", "leg.b.right"), ("leg.c.left", "leg.c.right"),
    ("leg.d.left", "leg.d.right"), ("leg.a.right", "leg.b.left"), ("leg.a.left", "leg.b.right"),
    ("leg.c.right", "leg.d.left"), ("leg.c.left", "leg.d.right"), ("leg.a.left", "leg.b.left"),
]  # fmt: skip


@cache
def found() -> Reconciliation:
    plan = read_plan(PLAN)
    return findings_of(*settle(assemble(plan), parse_log(LOG.encode()), plan.tools()))


def matrix(rows: Rows) -> np.ndarray:
    """Rows written out, divided by their scale, from their terms alone."""
    written = np.zeros((len(rows), len(found().assembly.marks)))
    for k, terms in enumerate(rows.terms()):
        for mark, coef in terms:
            written[k, mark] += coef / rows.scale[k]
    return written


def free_of(*matrices: np.ndarray) -> np.ndarray:
    """A basis of what rows leave free, by singular values."""
    whole = np.vstack(matrices)
    _, size, across = np.linalg.svd(whole)
    return across[int((size > 1e-9 * size[0]).sum()) :].T


@dataclass(frozen=True)
class World:
    """Draws in columns, deviations from plan in mm: the truth, its estimate, what is then cut."""

    truth: np.ndarray
    readings: np.ndarray
    estimate: np.ndarray
    advice: np.ndarray


def estimated(readings: np.ndarray) -> np.ndarray:
    """Positions (n, k) from readings (m, k) in their units u, and from the plan where they say nothing."""
    network = found().solved.graph.network
    first, second = matrix(network.measured), matrix(network.planned)
    y = np.linalg.pinv(first) @ readings
    free = free_of(first)
    at_plan = (network.planned.value / network.planned.scale)[:, None]
    return y + free @ (np.linalg.pinv(second @ free) @ (at_plan - second @ y))


def advised(estimate: np.ndarray) -> np.ndarray:
    """What to cut (n, k): the wishes served best in what estimate and holds leave free. No limit presses."""
    network = found().solved.graph.network
    free = free_of(matrix(network.measured), matrix(network.planned), matrix(network.holds))
    wishes = matrix(network.wishes)
    wanted = (network.wishes.value / network.wishes.scale)[:, None]
    return estimate + free @ (np.linalg.pinv(wishes @ free) @ (wanted - wishes @ estimate))


@cache
def world() -> World:
    network = found().solved.graph.network
    random = np.random.default_rng(1783)
    index = found().assembly.index
    truth = np.zeros((len(network), DRAWS))
    for leg in "abcd":
        at = random.uniform(-3, 3, DRAWS)
        read = leg in "ab"
        width = random.uniform(-1, 1, DRAWS) if read else random.normal(0, 0.3 / 2, DRAWS)
        truth[index[f"leg.{leg}.left"]] = at
        truth[index[f"leg.{leg}.right"]] = at + width
    first = matrix(network.measured)
    readings = first @ truth + random.standard_normal((len(first), DRAWS))
    estimate = estimated(readings)
    return World(truth, readings, estimate, advised(estimate))


def cuts(random: np.random.Generator, draws: int) -> np.ndarray:
    """How the marks of the aprons miss (n, draws): ends and dados by workmanship, widths by their own."""
    index, missed = found().assembly.index, np.zeros((len(found().assembly.marks), draws))
    for apron in GAPS:
        for e in "lr":
            missed[index[f"{apron}.{e}.end"]] = random.normal(0, 0.3 / 2, draws)
            place, width = random.normal(0, 0.3 / 2, draws), random.normal(0, 0.12 / 2, draws)
            missed[index[f"{apron}.{e}.low"]] = place - width / 2
            missed[index[f"{apron}.{e}.high"]] = place + width / 2
    return missed


def row(terms: list[tuple[int, float]]) -> np.ndarray:
    weights = np.zeros(len(found().assembly.marks))
    for mark, coef in terms:
        weights[mark] += coef
    return weights


def within(errors: np.ndarray, expanded: float) -> float:
    return float((np.abs(errors) <= expanded).mean())


def test_the_program_estimates_and_advises_as_the_pseudo_inverses_do():
    network, solved = found().solved.graph.network, found().solved
    readings = (network.measured.value / network.measured.scale)[:, None]
    by_hand = advised(estimated(readings))[:, 0]
    for distance in found().distances:
        a, b = solved.assembly.index[distance.start], solved.assembly.index[distance.end]
        assert distance.size_mm == approx(distance.plan_mm + by_hand[b] - by_hand[a], abs=1e-9)


def test_the_program_does_so_for_any_of_the_made_up_benches():
    solved = found().solved
    measured = solved.graph.network.measured
    for k in range(0, DRAWS, DRAWS // 10):
        off_plan = world().readings[:, k] * measured.scale - measured.value
        read = tuple(
            replace(one, value_mm=one.value_mm + off)
            for one, off in zip(solved.state.readings, off_plan.tolist(), strict=True)
        )
        again = findings_of(solved.assembly, replace(solved.state, readings=read))
        for distance in again.distances:
            a, b = solved.assembly.index[distance.start], solved.assembly.index[distance.end]
            there = world().advice[[b, a], k]
            assert distance.size_mm == approx(distance.plan_mm + there[0] - there[1], abs=1e-9)


@pytest.mark.parametrize(("start", "end"), ASKED)
def test_an_estimate_lies_within_its_U_of_the_truth(start: str, end: str):
    assembly = found().assembly
    asked = row([(assembly.index[end], 1.0), (assembly.index[start], -1.0)])
    errors = asked @ (world().estimate - world().truth)
    assert within(errors, found().between(start, end).expanded_mm) == approx(0.95, abs=0.01)


@pytest.mark.parametrize("number", CLEARANCES)
def test_the_clearance_of_an_apron_cut_to_the_advice_lies_within_its_U(number: int):
    contact = found().assembly.contacts[number]
    clearance = sum(row(terms) for terms in gap_terms(contact))
    missed = cuts(np.random.default_rng(1791), DRAWS)
    legs = row([(mark, 1.0) for mark in contact.marks[:2]]) != 0
    there = np.where(legs[:, None], world().truth, world().advice + missed)
    errors = clearance @ there - clearance @ np.where(legs[:, None], world().estimate, world().advice)
    said = [c for joint in found().joints for c in joint.contacts if c.number == number]
    assert within(errors, said[0].expanded_mm) == approx(0.95, abs=0.01)


@pytest.mark.parametrize("apron", GAPS)
def test_the_outcome_of_a_cut_lies_within_its_U(apron: str):
    # What it should have been is what would be advised if every size were known.
    right = advised(world().truth)
    there = world().advice + cuts(np.random.default_rng(1801), DRAWS)
    for distance in found().distances:
        if distance.part == apron:
            a, b = found().assembly.index[distance.start], found().assembly.index[distance.end]
            errors = (there - right)[b] - (there - right)[a]
            assert within(errors, distance.outcome_expanded_mm) == approx(0.95, abs=0.01)


@pytest.mark.parametrize("apron", GAPS)
def test_the_chance_of_a_seat_is_how_often_some_place_keeps_all_gaps(apron: str):
    draws, random = 100_000, np.random.default_rng(1811)
    solved = found().solved
    network = solved.graph.network
    # The bench in hand: its truth is its estimate less an error; both errors by pseudo-inverses.
    first, second = matrix(network.measured), matrix(network.planned)
    y = np.linalg.pinv(first) @ random.standard_normal((len(first), draws))
    free = free_of(first)
    error = y + free @ (np.linalg.pinv(second @ free) @ (random.standard_normal((len(second), draws)) - second @ y))
    own = np.array([mark.part.startswith("apron") for mark in solved.assembly.marks])
    there = solved.positions_mm[:, None] + np.where(own[:, None], cuts(random, draws), error)
    gaps = [terms for number in GAPS[apron] for terms in gap_terms(solved.assembly.contacts[number])]
    room = np.array([row(terms) for terms in gaps]) @ there
    along = np.array([sum(coef for mark, coef in terms if own[mark]) for terms in gaps])
    goes_on = np.zeros(draws, dtype=bool)
    for touching in range(len(gaps)):  # slide it until it just touches there, and look at every gap
        slid = -room[touching] / along[touching]
        goes_on |= np.all(room + along[:, None] * slid >= -1e-9, axis=0)
    chance = next(seat.chance for seat in found().seats if seat.part == apron)
    often = goes_on.mean()
    assert 0.05 < often < 0.98, "a bench that tells nothing"
    assert chance == approx(often, abs=3 * np.sqrt(often * (1 - often) * (1 / draws + 1 / DRAWS)))
