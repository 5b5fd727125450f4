"""A part goes on with the chance that comes out when it is put on, 10,000 times, by hand.

The simulation takes what the independent solve (tests/oracle.py) says of how marks err, lays the
marks out for each draw, cuts included, and then looks for a place of the part: along each axis,
for everything it meets that moves as one, the least place that clears all walls on one side must
not lie beyond the greatest that clears those on the other. Draws are not those of the program.
"""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
import pytest
from hypothesis import event, given, settings
from pytest import approx
from scipy.stats import norm

from fitsolve.build.folder import load_build
from fitsolve.reconciliation import reconcile
from tests.builds import SLIP, Bench, Case, benches, findings
from tests.frames import case_of, frames
from tests.oracle import Oracle

DRAWS = 10_000
SEED = 77


def laid_out(oracle: Oracle) -> np.ndarray:
    """Where every mark lies in each draw (n, draws), before anything is moved together."""
    before, _, _ = oracle.outlook
    errors = before @ np.random.default_rng(SEED).standard_normal((before.shape[1], DRAWS))
    return (oracle.plan + oracle.x)[:, None] + errors


def place_by_hand(case: Case, oracle: Oracle, there: np.ndarray, part: str) -> float:
    """The share of draws in which a place is found for the part on every axis."""
    free = oracle.outlook[2]
    moving = [tuple(np.round(free[mark], 6) + 0.0) for mark in range(oracle.n)]
    least_place: dict[tuple, np.ndarray] = defaultdict(lambda: np.full(DRAWS, -np.inf))
    most_place: dict[tuple, np.ndarray] = defaultdict(lambda: np.full(DRAWS, np.inf))
    good = np.ones(DRAWS, dtype=bool)
    for low, high, least in walls(case, part):
        own, other = (high, low) if case.assembly.marks[high].part == part else (low, high)
        slack = there[high] - there[low] - least
        meeting = (moving[own], moving[other], case.assembly.marks[own].axis)
        if moving[own] == moving[other]:
            good &= slack >= -1e-9
        elif own == high:
            least_place[meeting] = np.maximum(least_place[meeting], -slack)
        else:
            most_place[meeting] = np.minimum(most_place[meeting], slack)
    for meeting, place in least_place.items():
        good &= place <= most_place[meeting] + 1e-9
    return float(good.mean())


def walls(case: Case, part: str) -> list[tuple[int, int, float]]:
    """The gaps the part must keep, as (lower mark, higher mark, least): its open housings and rooms."""
    found = []
    for contact in case.assembly.contacts:
        parts = {case.assembly.marks[mark].part for mark in contact.marks}
        if contact.joint in case.state.closed or contact.kind == "butt" or part not in parts:
            continue
        if contact.kind == "room":
            found.append((*contact.marks, 0.0))
        else:
            tongue_low, tongue_high, socket_low, socket_high = contact.marks
            least = min(0.0, contact.least_mm) / 2
            found += [(socket_low, tongue_low, least), (tongue_high, socket_high, least)]
    return found


def as_two_simulations(chance: float) -> float:
    """Five standard errors of the difference between two simulations."""
    return 5 * math.sqrt(2 * max(chance * (1 - chance), 2e-4) / DRAWS)


@given(benches() | benches(axes="xyz", parts=3) | frames().map(case_of))
@settings(max_examples=40)
def test_the_chance_is_that_of_putting_it_on(case):
    seats, oracle = findings(case).seats, Oracle(case)
    there = laid_out(oracle)
    for seat in seats:
        chance = place_by_hand(case, oracle, there, seat.part)
        event("surely" if chance > 0.999 else "never" if chance < 0.001 else "perhaps")
        assert seat.chance == approx(chance, abs=as_two_simulations(chance))
        if abs(seat.chance - 0.95) > 0.01 and abs(seat.chance - 0.05) > 0.01:
            assert seat.verdict == ("goes on" if chance > 0.95 else "jams" if chance < 0.05 else "can't tell")


def test_every_part_with_an_open_housing_has_a_seat_and_no_other():
    bench = Bench()
    bench.part("leg", 0.0, "left 90 right")
    bench.part("apron", -50.0, "end 50 dado-o 90 dado-i")
    bench.part("rail", 90.0, "left 600 right")
    bench.part("peg", 0.0, "low 10 high")
    bench.housing("dado", ("leg.left", "leg.right"), ("apron.dado-o", "apron.dado-i"), SLIP)
    bench.butt("rail", "leg.right", "rail.left")
    assert {seat.part for seat in findings(bench.case()).seats} == {"leg", "apron"}
    bench.close("dado")
    assert findings(bench.case()).seats == ()


def test_spacing_jams_where_every_width_is_right():
    """Two made legs read by caliper, spacing known to 0.4; an apron cut before, dados 90.4 wide.

    By hand: with play 0.4 at each leg the apron goes on while the spacing is within 0.4 of its own;
    that is off by 0.3 (U 0.4, u 0.2): p = Phi((0.4 - 0.3) / 0.2) - Phi((-0.4 - 0.3) / 0.2) = 0.6912,
    the widths being exact. Every clearance by itself fits for sure.
    """
    bench = Bench(workmanship=1e-6, width=1e-6)
    bench.part("l", 0.0, "left 90 right")
    bench.part("r", 800.0, "left 90 right")
    bench.part("apron", -0.2, "a 90.4 b 709.6 c 90.4 d")
    bench.housing("dado l", ("l.left", "l.right"), ("apron.a", "apron.b"), SLIP)
    bench.housing("dado r", ("r.left", "r.right"), ("apron.c", "apron.d"), SLIP)
    bench.make("l", "r", "apron")
    bench.read("l.right", "r.left", 710.3, 0.4)
    found = findings(bench.case())
    chance = norm.cdf(0.5) - norm.cdf(-3.5)
    (apron,) = [seat for seat in found.seats if seat.part == "apron"]
    assert apron.chance == approx(chance, abs=0.025)
    assert all(contact.verdict == "fits" for joint in found.joints for contact in joint.contacts)
    assert {joint.verdict for joint in found.joints} == {"can't tell"}


SHARED = """
unit = "mm"
workmanship = 0.2
workmanship_width = 0.01
fits = { slip = [0, 0.3, 4] }
[tool.worn]
good_to = 0.01
zero = %s
[tool.fine]
good_to = 0.01
[part.block]
x = "left 100 right"
y = "front 80 back"
[part.tray]
x = "left 100 right"
y = "front 80 back"
[joint.well]
meet = ["block.left/right in tray.left/right, slip", "block.front/back in tray.front/back, slip"]
"""


def tray(tmp_path, zero, *rows):
    (tmp_path / "plan.toml").write_text(SHARED % zero)
    log = [f"{no},2026-03-02T08:00:00+01:00,reading,{row}," for no, row in enumerate(rows, 1)]
    (tmp_path / "log.csv").write_text("\n".join(["no,time,event,from,to,reading,tool,note", *log, ""]))
    return reconcile(load_build(tmp_path)).seats


@pytest.mark.parametrize(("zero", "verdict"), [(2, "can't tell"), (0, "jams")])
def test_axes_that_share_the_error_of_a_tool_are_not_taken_for_independent(tmp_path, zero, verdict):
    """Both ways 0.8 mm too wide by a tape whose hook is 0 +- 2 (k = 2) off: it goes on where the hook is off by
    0.8 or more, P(Z > 0.8) = 0.2119 (normal table), both ways at once; as if independent 0.0449."""
    seats = tray(tmp_path, zero, "block.left,block.right,100.8,worn", "block.front,block.back,80.8,worn",
                 "tray.left,tray.right,100,fine", "tray.front,tray.back,80,fine")  # fmt: skip
    for seat in seats:
        assert seat.verdict == verdict
        if zero:
            assert seat.chance == approx(norm.sf(0.8), abs=0.003)


def test_what_helps_one_axis_may_be_what_jams_the_other(tmp_path):
    """The block 0.8 too wide one way, the tray 0.8 too narrow the other, both by that tape: the one goes on where its
    hook is off by 0.8 or more, the other where by -0.8 or less. Never both: as if independent 0.0449 again."""
    for seat in tray(tmp_path, 2, "block.left,block.right,100.8,worn", "block.front,block.back,80,fine",
                     "tray.left,tray.right,100,fine", "tray.front,tray.back,79.2,worn"):  # fmt: skip
        assert (seat.chance, seat.verdict) == (approx(0.0, abs=1e-3), "jams")


ONE_SIDED = """
unit = "mm"
[part.a]
x = "le 400 re"
z = "lo 30 m1 60 m2 30 hi"
[part.c]
x = "le 400 re"
z = "lo 30 m1 60 m2 30 hi"
[joint.j]
meet = ["a.m1/m2 in c.m1/m2, easy", "a.re short of c.le by 1 to 30, c above"]
"""


def test_a_part_that_nothing_bounds_where_it_is_still_to_be_cut_has_no_play_as_planned(tmp_path):
    (tmp_path / "plan.toml").write_text(ONE_SIDED)
    (tmp_path / "log.csv").write_text(
        "no,time,event,from,to,reading,tool,note\n"
        "1,2025-03-10T09:01:00,reading,a.m1,a.m2,60.0,caliper,\n"
        "2,2025-03-10T09:02:00,reading,c.m1,c.m2,60.5,caliper,\n"
    )
    found = reconcile(load_build(tmp_path))
    assert [(seat.verdict, seat.as_planned_mm) for seat in found.seats] == [("goes on", None)] * 2
