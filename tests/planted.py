"""Gross errors planted in made-up builds, and what becomes of them.

A build is made as drawn give or take what cuts miss by, read with tools that err as they are said
to, and one reading, chosen by lot, gets a gross error on top. Everything then goes through the whole
way from rows to doubts. Invented.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np

import fitsolve
from fitsolve.build.history import State
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.readings import Reading
from fitsolve.build.state import settle
from fitsolve.findings.doubts import Doubted, doubted
from fitsolve.findings.solved import solved
from fitsolve.graph import make_graph
from fitsolve.solve.doubts import DELTA0
from fitsolve.solve.pieces import solve_network

HEAD = """
format = 1
unit = "mm"
finest = 0.5
workmanship = 1
workmanship_width = 0.1
[tool.caliper]
good_to = 0.1
[tool.rod]
good_to = 0.2
[tool.tape]
good_to = 0.8
per_length = 0.0004
"""

FRAME = (
    HEAD
    + """
[part.leg]
copies = ["fl", "fr", "rl", "rr"]
x = "outer 90 inner"
z = "foot 750 head"
[part.apron]
copies = ["front", "rear"]
x = ["l.end 1500 r.end", "l.end 200 l.dado-o 90 l.dado-i 920 r.dado-i 90 r.dado-o 200 r.end"]
[joint.dado]
each = \"\"\"
apron e leg
front l fl
front r fr
rear  l rl
rear  r rr
\"\"\"
meet = "leg.{leg}.outer/inner in apron.{apron}.{e}.dado-o/dado-i, slip"
"""
)
"""Two pairs of legs. Each pair: widths by caliper, inside by rod, outside and across by tape: five
readings of three distances. Then one over both ends of the pair, by rod."""

STICK = HEAD + '[part.stick]\nx = "a 300 b 400 c 250 d 500 e 350 f"\n'
"""Six points on a line, all fifteen spacings by rod."""

SHARED = STICK.replace("[tool.rod]", "[tool.rod]\nzero = 1.0")
"""The same by a rod whose zero is not known."""

WEAK = HEAD + '[part.stick]\nx = "a 300 b 400 c 250 d"\n'
"""Three spacings by caliper and one over all by tape: one loop, in which anything could be wrong."""

RECTANGLE = HEAD + """
[part.plate]
x = ["fl 1500 fr", "rl 1500 fr", "fl 1500 rr"]
y = ["front-l 700 rear-l", "front-r 700 rear-l", "front-l 700 rear-r"]
"""
"""Four corners: each side by rod and by tape, both diagonals by rod: ten readings, over two axes."""

CLOSED = (
    FRAME.replace('["fl", "fr", "rl", "rr"]', '["fl", "fr"]')
    .replace('["front", "rear"]', '["front"]')
    .replace("rear  l rl\nrear  r rr\n", "")
)
"""One apron closed on two legs: widths and dados by caliper, spacings by rod, over all by tape."""


def _pair(a: str, b: str) -> list[tuple[str, str, str]]:
    return [
        (f"leg.{a}.outer", f"leg.{a}.inner", "caliper"),
        (f"leg.{b}.outer", f"leg.{b}.inner", "caliper"),
        (f"leg.{a}.inner", f"leg.{b}.inner", "rod"),
        (f"leg.{a}.outer", f"leg.{b}.outer", "tape"),
        (f"leg.{a}.outer", f"leg.{b}.inner", "rod"),
        (f"leg.{a}.inner", f"leg.{b}.outer", "tape"),
    ]


def _spacings(names: str, tool: str) -> list[tuple[str, str, str]]:
    return [
        (f"stick.{names[i]}", f"stick.{names[j]}", tool) for i in range(len(names)) for j in range(i + 1, len(names))
    ]


_SIDES = [("fl", "fr"), ("rl", "rr"), ("front-l", "rear-l"), ("front-r", "rear-r")]

READINGS: dict[str, tuple[str, list[tuple[str, str, str]]]] = {
    "two pairs of legs": (FRAME, [*_pair("fl", "fr"), *_pair("rl", "rr")]),
    "six points, all spacings": (STICK, _spacings("abcdef", "rod")),
    "the same, rod's zero unknown": (SHARED, _spacings("abcdef", "rod")),
    "one loop of four": (WEAK, [
        ("stick.a", "stick.b", "caliper"),
        ("stick.b", "stick.c", "caliper"),
        ("stick.c", "stick.d", "caliper"),
        ("stick.a", "stick.d", "tape"),
    ]),
    "four corners, sides and diagonals": (RECTANGLE, [
        *[(f"plate.{a}", f"plate.{b}", tool) for a, b in _SIDES for tool in ("rod", "tape")],
        ("plate.fl/front-l", "plate.rr/rear-r", "rod"),
        ("plate.fr/front-r", "plate.rl/rear-l", "rod"),
    ]),
    "an apron closed on two legs": (CLOSED, [
        ("leg.fl.outer", "leg.fl.inner", "caliper"),
        ("leg.fr.outer", "leg.fr.inner", "caliper"),
        ("apron.front.l.dado-o", "apron.front.l.dado-i", "caliper"),
        ("apron.front.r.dado-o", "apron.front.r.dado-i", "caliper"),
        ("apron.front.l.dado-i", "apron.front.r.dado-i", "rod"),
        ("apron.front.l.dado-o", "apron.front.r.dado-o", "rod"),
        ("leg.fl.inner", "leg.fr.inner", "rod"),
        ("leg.fl.outer", "leg.fr.outer", "tape"),
    ]),
}  # fmt: skip


CLOSES = {"an apron closed on two legs"}
"""Builds whose joints are all closed."""

WHEN = "2025-11-25T14:10:00+00:00"


class Bench:
    """One build read again and again, each time with other errors."""

    def __init__(self, name: str, seed: int) -> None:
        plan_text, readings = READINGS[name]
        plan = read_plan(plan_text)
        self.rng = np.random.default_rng(seed)
        rows = [
            fitsolve.Row(
                no=k, time=WHEN, event="diagonal" if "/" in a else "reading", start=a, end=b, reading="100", tool=tool
            )
            for k, (a, b, tool) in enumerate(readings, 1)
        ]
        if name in CLOSES:
            joints = [joint.name for joint in assemble(plan).joints]
            rows += [
                fitsolve.Row(no=len(rows) + k, time=WHEN, event="close", start=joint, note="dry")
                for k, joint in enumerate(joints, 1)
            ]
        build = fitsolve.Build(plan=plan, log=rows)
        self.assembly, self.state = settle(assemble(plan), build.log, plan.tools())
        self.tools = plan.tools()
        self.at = np.array([mark.plan_mm for mark in self.assembly.marks])

    def read(self, wrong: int | None = None, error_mm: float = 0.0) -> State:
        """All readings once more; reading `wrong` is off by `error_mm`."""
        truth = self._made()
        zero = {name: tool.zero_u_mm * self.rng.standard_normal() for name, tool in self.tools.items()}
        said = []
        for k, reading in enumerate(self.state.readings):
            length = _length(reading, truth)
            tool = self.tools[reading.tool]
            shown = length + zero[reading.tool] + tool.u_mm(length) * self.rng.standard_normal()
            shown += error_mm if k == wrong else 0.0
            way = np.sign(sum(coef * self.at[mark] for mark, coef in reading.terms))
            said.append(replace(reading, value_mm=float(way * shown), shown_mm=float(shown), u_mm=tool.u_mm(length)))
        return replace(self.state, readings=tuple(said))

    def _made(self) -> np.ndarray:
        """Where the marks of one more build are; a piece in a closed housing lies off its middle by the play."""
        truth = self.at + self.rng.normal(0.0, 0.5, len(self.at))
        for contact in self.assembly.contacts:
            if contact.joint in self.state.closed:
                low, high, socket_low, socket_high = contact.marks
                off = self.rng.normal(0.0, max(contact.most_mm, 0.1) / math.sqrt(3))  # specs/mathematics.md, 2
                own = self.assembly.marks[low].part
                moves = [k for k, mark in enumerate(self.assembly.marks) if (mark.part, mark.axis) == (own, contact.axis)]
                truth[moves] += (off - (truth[low] + truth[high] - truth[socket_low] - truth[socket_high])) / 2
        return truth

    def doubted(self, state: State) -> Doubted:
        """What the whole way from rows to doubts makes of it."""
        graph = make_graph(self.assembly, state)
        return doubted(solved(self.assembly, state, graph, solve_network(graph.network)))


def _length(reading: Reading, truth: np.ndarray) -> float:
    """How far the marks of a reading are apart; of a diagonal over both its axes."""
    marks = [mark for mark, _ in reading.terms]
    return math.hypot(*(float(truth[b] - truth[a]) for b, a in zip(marks[::2], marks[1::2], strict=True)))


def planted(name: str, trials: int, seed: int, sigmas_above: float = 4.0, seen: bool = True) -> Counter[str]:
    """Plant an error of the smallest that is found, and so many sigma more, in a checked reading by lot.

    Sigma is how well the others tell an error of this reading, u / sqrt r (`seen`), or its own u.
    """
    bench = Bench(name, seed)
    smallest = [doubt.smallest_error_mm for doubt in bench.doubted(bench.read()).doubts]
    u = [reading.u_mm for reading in bench.read().readings]
    if seen:
        u = [(error or 0.0) / DELTA0 for error in smallest]
    checked = [k for k, error in enumerate(smallest) if error is not None]
    counts: Counter[str] = Counter()
    for _ in range(trials):
        k = int(bench.rng.choice(checked))
        error = (smallest[k] or 0.0) + sigmas_above * u[k]
        found = bench.doubted(bench.read(k, error * float(bench.rng.choice([-1.0, 1.0]))))
        counts[outcome(found, k + 1)] += 1
    return counts


def outcome(found: Doubted, row: int) -> str:
    """What was said: `right`, `among equals`, `wrong`, or honestly `can't tell`."""
    if not found.suspicions:
        return "can't tell"
    for one in found.suspicions:
        if (one.worst.kind, one.worst.number) == ("reading", row):
            return "right" if not one.equals else "among equals"
        if any((who.kind, who.number) == ("reading", row) for who in one.equals):
            return "among equals"
    return "wrong"


def alarms(name: str, trials: int, seed: int) -> tuple[int, int, int]:
    """With nothing planted: readings called suspect, readings that are checked, and builds said not to agree."""
    bench = Bench(name, seed)
    suspect = checked = disagree = 0
    for _ in range(trials):
        found = bench.doubted(bench.read())
        suspect += sum(doubt.suspect for doubt in found.doubts)
        checked += sum(doubt.standardised is not None for doubt in found.doubts)
        disagree += not found.agreement.agrees
    return suspect, checked, disagree
