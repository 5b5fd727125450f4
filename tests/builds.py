"""Builds for the tests of the numbers: put together by hand, or generated. All are invented.

`Bench` makes an `Assembly` and a `State` straight from positions, without the plan's text, so
that the numbers are tested whatever the reader of plans does. Lengths are in millimetres; a
run is written as in a plan: `l.end 9 (give 1/4) l.dado 4 r.end`, decimal millimetres only.

`benches()` draws whole builds: parts over a common line on each axis, so that their joints are
plausible, with loops, holds, limits, made and rough marks, readings, closed joints, and often
with something that cannot hold.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import strategies as st

from fitsolve.build.assembly import Assembly, Contact, Distance, Joint, Mark, Rule, Slope, Span
from fitsolve.build.state import MarkState, Reading, RoughBound, State
from fitsolve.findings.checks import check_findings
from fitsolve.findings.contradictions import contradiction_findings
from fitsolve.findings.doubts import doubted
from fitsolve.findings.sizes import distance_findings
from fitsolve.findings.solved import Solved, solved
from fitsolve.findings.toolerrors import tool_errors
from fitsolve.findings.verdicts import joint_findings, seat_findings
from fitsolve.graph import make_graph
from fitsolve.solve.pieces import solve_network

Fit = tuple[float, float, float]
SLIP: Fit = (0.05, 0.2, 0.5)
SNUG: Fit = (-0.1, 0.0, 0.1)
EASY: Fit = (0.0, 0.4, 1.6)
TIGHT_UP: Fit = (0.0, 0.0, 0.2)

TOKEN = re.compile(r"\([^)]*\)|\S+")


@dataclass(frozen=True)
class Case:
    """A build: its plan worked out, and what its log leaves true."""

    assembly: Assembly
    state: State

    def __repr__(self) -> str:
        """What a failing test shows: the build in few lines."""
        a, s = self.assembly, self.state
        name = [mark.name for mark in a.marks]
        lines = [f"{m.name} at {m.plan_mm:g} {s.marks[k].name.lower()} {s.cut_to_mm[k]:g}" for k, m in enumerate(a.marks)]
        for d in a.distances:
            limits = "" if d.low_mm is None else f" {d.low_mm:g} to {d.high_mm:g}"
            lines.append(f"{name[d.start]}..{name[d.end]} {d.plan_mm:g} give {d.give_mm}{' hold' * d.hold}{limits}")
        for c in a.contacts:
            where = " ".join(name[mark] for mark in c.marks)
            closed = s.closed.get(c.joint, "open")
            lines.append(f"{c.kind} {where} fit {c.least_mm:g} {c.aim_mm:g} {c.most_mm:g} rests {c.rests} {closed}")
        for rule in (*a.keeps, *a.checks):
            spans = " = ".join(f"{name[p.start]}..{name[p.end]}" for p in rule.spans)
            more = (rule.length_mm, rule.give_mm, rule.low_mm, rule.high_mm, rule.within_mm)
            lines.append(f"rule {spans} length, give, low, high, within: {more}")
        for one in a.slopes:
            run = f"{name[one.run_start]}..{name[one.run_end]}"
            at = "" if one.placed is None else f" placing {name[one.placed]}"
            share = "" if one.whole is None else f" with {one.share}/{one.of} of {[name[mark] for mark in one.whole]}"
            lines.append(f"slope {name[one.start]}..{name[one.end]} {one.ratio!r} along {run}{at}{share}")
        for r in s.readings:
            terms = " ".join(f"{coef:+g} {name[mark]}" for mark, coef in r.terms)
            lines.append(f"{r.event} {terms} = {r.value_mm!r} u {r.u_mm!r}")
        lines += [f"rough {name[r.start]}..{name[r.end]} at most {r.most_mm!r}" for r in s.rough]
        lines.append(f"finest {a.finest_mm} workmanship {a.workmanship_mm} {a.workmanship_width_mm}")
        return "\n    ".join(["a build:", *lines])

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        printer.text(repr(self))


@dataclass
class Bench:
    """Collects parts, joints, rules and rows; `case()` hands the build over. U in `read` is k = 2."""

    finest: float = 0.5
    workmanship: float = 0.8
    width: float = 0.1
    give: float | None = 1.5
    marks: list[Mark] = field(default_factory=list)
    index: dict[str, int] = field(default_factory=dict)
    runs: list[tuple[int, ...]] = field(default_factory=list)
    distances: dict[tuple[int, int], Distance] = field(default_factory=dict)
    contacts: list[Contact] = field(default_factory=list)
    joints: list[str] = field(default_factory=list)
    keeps: list[Rule] = field(default_factory=list)
    checks: list[Rule] = field(default_factory=list)
    slopes: list[Slope] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    roughs: list[RoughBound] = field(default_factory=list)
    states: dict[int, MarkState] = field(default_factory=dict)
    cut_to: dict[int, float] = field(default_factory=dict)
    closed: dict[int, str] = field(default_factory=dict)

    # -- the plan ------------------------------------------------------------------------------

    def part(self, name: str, at: float, *runs: str, axis: str = "x", way: int = 1) -> None:
        """A part whose first run begins at `at`; `way` -1 for a copy that is reversed on this axis."""
        for run in runs:
            tokens, members, pending = TOKEN.findall(run), [], None
            for token in tokens:
                if token[0].isdigit():
                    pending = (float(token), [])
                elif token[0] == "(":
                    pending[1].extend(condition.strip() for condition in token[1:-1].split(","))
                else:
                    whole = f"{name}.{token}"
                    if whole not in self.index:
                        before = self.marks[members[-1]].plan_mm if members else at
                        self.index[whole] = len(self.marks)
                        place = before + way * pending[0] if members else at
                        self.marks.append(Mark(whole, name, axis, place))
                    members.append(self.index[whole])
                    if len(members) > 1:
                        self._distance(name, axis, members[-2], members[-1], way, *pending)
            self.runs.append(tuple(members))

    def _distance(self, part, axis, start, end, way, length, conditions) -> None:
        pair = (min(start, end), max(start, end))
        if pair in self.distances:
            return
        more: dict[str, Any] = {"give_mm": self.give}
        for condition in conditions:
            words = condition.split()
            if words[0] == "hold":
                more["hold"] = True
            elif words[0] == "give":
                more["give_mm"] = float(words[1])
            elif words[0] == "finest":
                more["finest_mm"] = float(words[1])
            else:
                more["low_mm"], more["high_mm"] = float(words[0]), float(words[2])
        self.distances[pair] = Distance(part, axis, start, end, way, length, **more)

    def station(self, base: str, name: str) -> None:
        """A station of a mark, lying where it lies."""
        of = self.index[base]
        self.index[f"{base}@{name}"] = len(self.marks)
        self.marks.append(replace(self.marks[of], name=f"{base}@{name}", station_of=of))

    def slope(self, start: str, end: str, run: tuple[str, str], ratio: float, placed: str | None = None) -> None:
        """x[end] - x[start] = ratio (x[run[1]] - x[run[0]]); `placed` is moved to where that leads."""
        a, b, c, d = (self.index[name] for name in (start, end, *run))
        rise = ratio * (self.marks[d].plan_mm - self.marks[c].plan_mm)
        number = None if placed is None else self.index[placed]
        if number is not None:
            at = self.marks[a].plan_mm + rise if number == b else self.marks[b].plan_mm - rise
            self.marks[number] = replace(self.marks[number], plan_mm=at)
        self.slopes.append(Slope(self.marks[a].part, a, b, c, d, ratio, f"{ratio:g}", number))

    def on_face(self, name: str, run: str) -> None:
        """The station `name`, with where it is along the run, on the face of the last slope between two stations."""
        face = self.slopes[-1]
        start, number, run_end = self.marks[face.start], self.index[name], self.index[run]
        along = self.marks[run_end].plan_mm - self.marks[face.run_start].plan_mm
        share = Fraction(along / (self.marks[face.run_end].plan_mm - self.marks[face.run_start].plan_mm)).limit_denominator(100)
        self.marks[number] = replace(self.marks[number], plan_mm=start.plan_mm + face.ratio * along)
        ends = (face.start, face.end, face.run_start, face.run_end)
        between = replace(face, end=number, run_end=run_end, placed=number, whole=ends, share=share.numerator, of=share.denominator)
        self.slopes.append(between)

    def _contact(self, joint: str, kind: str, names: tuple[str, ...], fit: Fit, rests=None) -> None:
        if joint not in self.joints:
            self.joints.append(joint)
        marks = tuple(self.index[name] for name in names)
        axis = self.marks[marks[0]].axis
        self.contacts.append(Contact(self.joints.index(joint), kind, axis, marks, "fit", *fit, rests=rests))

    def housing(self, joint: str, tongue: tuple[str, str], socket: tuple[str, str], fit: Fit = SLIP, rests=None):
        """A tongue (low, high) in a socket (low, high)."""
        self._contact(joint, "housing", (*tongue, *socket), fit, rests)

    def butt(self, joint: str, lower: str, upper: str, fit: Fit = TIGHT_UP) -> None:
        self._contact(joint, "butt", (lower, upper), fit)

    def room(self, joint: str, lower: str, upper: str, low: float, high: float) -> None:
        self._contact(joint, "room", (lower, upper), (low, (low + high) / 2, high))

    def span(self, start: str, end: str) -> Span:
        a, b = self.index[start], self.index[end]
        return Span(a, b, 1 if self.marks[b].plan_mm >= self.marks[a].plan_mm else -1)

    def rule(self, *spans: tuple[str, str], length=None, give=None, by=(None, None), within=None) -> None:
        """A keep, or a check where `within` is given."""
        made = tuple(self.span(*span) for span in spans)
        kind = "equal" if len(made) > 1 else "flush" if length == 0 else "length"
        rules = self.keeps if within is None else self.checks
        name = f"rule-{len(rules)}"
        rules.append(Rule(name, kind, made, length, give, *by, within))

    # -- the log -------------------------------------------------------------------------------

    def make(self, *names: str) -> None:
        """These marks are made, or all marks of a part."""
        for name in names:
            for whole, mark in self.index.items():
                if whole == name or self.marks[mark].part == name:
                    self.states[mark] = MarkState.MADE

    def cut(self, name: str, off_plan: float) -> None:
        """A mark is made, off plan by so much."""
        self.make(name)
        self.cut_to[self.index[name]] = off_plan

    def _said(self, event: str, terms: list[tuple[int, float]], value: float, U: float) -> None:
        for mark, _ in terms:
            self.states[mark] = MarkState.MADE
        parts = {self.marks[mark].part for mark, _ in terms}
        across = any(
            sum(coef for mark, coef in terms if self.marks[mark].part == part) for part in parts
        )
        names = [self.marks[mark].name for mark, _ in terms]
        number = len(self.readings) + len(self.roughs) + 1
        self.readings.append(
            Reading(number, event, names[1], names[0], "tool", tuple(terms), value, abs(value), U / 2, across)
        )

    def read(self, start: str, end: str, value: float, U: float) -> None:
        """A distance read, positive the way it lies in the plan."""
        span = self.span(start, end)
        self._said("reading", [(span.end, 1.0), (span.start, -1.0)], span.sign * value, U)

    def compare(self, first: tuple[str, str], second: tuple[str, str], more: float, U: float) -> None:
        """The first span is longer than the second by `more`."""
        self._said("compare", self._spans([(first, 1), (second, -1)]), more, U)

    def gang(self, spans: list[tuple[str, str]], value: float, U: float) -> None:
        self._said("gang", self._spans([(span, 1) for span in spans]), value, U)

    def diagonal(self, start: tuple[str, ...], end: tuple[str, ...], value: float, U: float) -> None:
        """A distance between two points, each a mark on every axis in the same order."""
        ends = [(self.index[a], self.index[b]) for a, b in zip(start, end, strict=True)]
        d = [self.marks[b].plan_mm - self.marks[a].plan_mm for a, b in ends]
        c = np.array(d) / np.linalg.norm(d)
        terms = [term for (a, b), part in zip(ends, c.tolist(), strict=True) for term in ((b, part), (a, -part))]
        self._said("diagonal", terms, value, U)

    def _spans(self, spans: list[tuple[tuple[str, str], int]]) -> list[tuple[int, float]]:
        terms = []
        for names, times in spans:
            span = self.span(*names)
            terms += [(span.end, float(times * span.sign)), (span.start, -float(times * span.sign))]
        return terms

    def rough(self, start: str, end: str, most: float) -> None:
        span = self.span(start, end)
        for mark in (span.start, span.end):
            self.states[mark] = max(self.states.get(mark, MarkState.UNCUT), MarkState.ROUGH)
        number = len(self.readings) + len(self.roughs) + 1
        self.roughs.append(RoughBound(number, span.start, span.end, span.sign, most, 0.1))

    def close(self, joint: str) -> None:
        number = self.joints.index(joint)
        self.closed[number] = "glued"
        for contact in self.contacts:
            if contact.joint == number:
                for mark in contact.every_mark:
                    self.states[mark] = MarkState.MADE

    # -- the build -----------------------------------------------------------------------------

    def case(self) -> Case:
        """The build as it stands."""
        parts = tuple(dict.fromkeys(mark.part for mark in self.marks))
        joints = []
        for number, name in enumerate(self.joints):
            own = tuple(k for k, contact in enumerate(self.contacts) if contact.joint == number)
            meeting = {self.marks[mark].part for k in own for mark in self.contacts[k].marks}
            joints.append(Joint(name, name, tuple(part for part in parts if part in meeting), own))
        n = len(self.marks)
        assembly = Assembly(
            "An invented build", "mm", self.finest, self.workmanship, self.width, parts, tuple(self.marks),
            dict(self.index), tuple(self.runs), tuple(self.distances.values()), tuple(self.contacts),
            tuple(joints), tuple(self.keeps), tuple(self.checks), tuple([0] * n),
            slopes=tuple(self.slopes),
        )  # fmt: skip
        return Case(assembly, self._state(n))

    def _state(self, n: int) -> State:
        states = {mark: self.states.get(mark, MarkState.UNCUT) for mark in range(n)}
        for mark in (*range(n), *range(n)):  # a mark and its stations are one edge: base up, then down
            base = self.marks[mark].station_of
            if base is not None:
                states[mark] = states[base] = max(states[mark], states[base])
        pairs = {frozenset((r.terms[0][0], r.terms[1][0])) for r in self.readings if len(r.terms) == 2 and r.across}
        read = set()
        for number, contact in enumerate(self.contacts):
            if contact.kind == "housing":
                a, b, c, d = contact.marks
                gaps = [frozenset((a, c)), frozenset((b, d))]
            else:
                gaps = [frozenset(contact.marks)]
            read.update({number} if pairs & set(gaps) else ())
        made = [states[mark] == MarkState.MADE for mark in range(n)]
        return State(
            marks=tuple(states[mark] for mark in range(n)),
            cut_to_mm=tuple(self.cut_to.get(mark, 0.0) for mark in range(n)),
            readings=tuple(self.readings),
            rough=tuple(r for r in self.roughs if not (made[r.start] and made[r.end])),
            closed=dict(self.closed),
            gap_read=frozenset(read),
        )


def solve(case: Case) -> Solved:
    """The build with all its pieces solved."""
    graph = make_graph(case.assembly, case.state)
    return solved(case.assembly, case.state, graph, solve_network(graph.network))


def findings(case: Case, seats: bool = True) -> SimpleNamespace:
    """Everything `reconcile` finds, from a build that has no folder."""
    whole = solve(case)
    seated = seat_findings(whole) if seats else ()
    doubtful = doubted(whole)
    return SimpleNamespace(
        solved=whole,
        distances=distance_findings(whole),
        joints=joint_findings(whole, seated),
        seats=seated,
        checks=check_findings(whole),
        doubts=doubtful.doubts,
        suspicions=doubtful.suspicions,
        agreement=doubtful.agreement,
        tools=tool_errors(whole),
        contradictions=contradiction_findings(whole),
    )


# -- generated builds ----------------------------------------------------------------------------

PITCH = 40.0


def _hundredths(least: int, most: int) -> st.SearchStrategy[float]:
    return st.integers(least, most).map(lambda k: k / 100)


@st.composite
def benches(draw: st.DrawFn, axes: str = "x", parts: int = 5, trouble: bool = True) -> Case:
    """A whole build. With `trouble` limits may contradict and facts may not hold."""
    give = draw(st.sampled_from([None, 0.5, 1.5]))
    bench = Bench(give=give, workmanship=draw(st.sampled_from([0.2, 0.8])))
    names = [f"p{k}" for k in range(draw(st.integers(2, parts)))]
    for axis in draw(st.sampled_from(["x", axes])):
        _draw_axis(draw, bench, names, axis, trouble)
    for joint in bench.joints:
        if draw(st.integers(0, 4)) == 0:
            bench.close(joint)
    return bench.case()


def _draw_axis(draw: st.DrawFn, bench: Bench, names: list[str], axis: str, trouble: bool) -> None:
    """Parts over one line: marks on a grid, so that parts that share places can meet there."""
    line = draw(st.integers(2, 5))
    at: dict[str, list[int]] = {}
    for name in names:
        places = sorted(draw(st.sets(st.integers(0, line), min_size=1, max_size=4)))
        at[name] = places
        bench.part(name, PITCH * places[0], *_draw_runs(draw, places, axis, trouble), axis=axis)
    for k, name in enumerate(names):
        for other in names[k + 1 :]:
            _draw_joint(draw, bench, name, other, at, axis)
    off = {mark: draw(_hundredths(-60, 60)) for mark, m in enumerate(bench.marks) if m.axis == axis}
    truth = {mark: bench.marks[mark].plan_mm + error for mark, error in off.items()}
    _draw_log(draw, bench, names, at, axis, truth)
    _draw_rules(draw, bench, at, axis, trouble)


def _draw_runs(draw: st.DrawFn, places: list[int], axis: str, trouble: bool) -> list[str]:
    """One run through all places, and perhaps an overall one."""

    def condition(length: float) -> str:
        kind = draw(st.sampled_from(["", "", "", "give", "hold", "limits"]))
        if kind == "give":
            return f" (give {draw(st.sampled_from([0.2, 1.0, 3.0]))})"
        if kind == "limits":
            low = length + draw(_hundredths(-60, 20 if trouble else 0))
            high = max(low, length + draw(_hundredths(0, 60)))
            return f" ({low} to {high})"
        return " (hold)" if kind == "hold" else ""

    run = f"{axis}{places[0]}"
    for a, b in zip(places, places[1:], strict=False):
        run += f" {PITCH * (b - a)}{condition(PITCH * (b - a))} {axis}{b}"
    runs = [run]
    if len(places) > 2 and draw(st.booleans()):
        length = PITCH * (places[-1] - places[0])
        runs.append(f"{axis}{places[0]} {length}{condition(length)} {axis}{places[-1]}")
    return runs


def _draw_joint(draw: st.DrawFn, bench: Bench, name: str, other: str, at: dict[str, list[int]], axis: str) -> None:
    shared = sorted(set(at[name]) & set(at[other]))
    kind = draw(st.sampled_from(["none", "housing", "housing", "butt", "room"]))
    joint, fit = f"{name} {other}", draw(st.sampled_from([SLIP, SNUG, EASY]))
    own, its = f"{name}.{axis}", f"{other}.{axis}"
    if kind == "housing" and len(shared) >= 2:
        k = draw(st.integers(0, len(shared) - 2))
        a, b = shared[k], shared[k + 1]
        rests = draw(st.sampled_from([None, None, "low", "high"]))
        bench.housing(joint, (f"{own}{a}", f"{own}{b}"), (f"{its}{a}", f"{its}{b}"), fit, rests)
        if len(shared) > 2 and k == 0 and draw(st.booleans()):
            bench.butt(joint, f"{own}{shared[2]}", f"{its}{shared[2]}", fit)
    elif kind == "butt" and shared:
        a = draw(st.sampled_from(shared))
        bench.butt(joint, f"{own}{a}", f"{its}{a}", draw(st.sampled_from([TIGHT_UP, SNUG, SLIP])))
    elif kind == "room":
        a, b = draw(st.sampled_from(at[name])), draw(st.sampled_from(at[other]))
        if a < b:
            room = PITCH * (b - a)
            bench.room(joint, f"{own}{a}", f"{its}{b}", room - 1.0, room + 2.0)


def _draw_log(
    draw: st.DrawFn, bench: Bench, names: list[str], at: dict[str, list[int]], axis: str, truth: dict[int, float]
) -> None:
    made: list[str] = []
    for name in names:
        marks = [f"{name}.{axis}{place}" for place in at[name]]
        stage = draw(st.sampled_from(["uncut", "made", "made", "some", "rough"]))
        if stage == "made":
            made += marks
        elif stage == "some":
            made += [mark for mark in marks if draw(st.booleans())]
        elif stage == "rough" and len(marks) > 1:
            spans = [(marks[0], marks[-1])]
            if draw(st.booleans()):  # every piece by itself: with ends that are made they may not add up
                spans = list(zip(marks, marks[1:], strict=False))
                made += [mark for mark in (marks[0], marks[-1]) if draw(st.booleans())]
            for start, end in spans:
                length = truth[bench.index[end]] - truth[bench.index[start]]
                bench.rough(start, end, length + draw(_hundredths(-20, 100)))
    for mark in made:
        bench.make(mark)
        if draw(st.integers(0, 3)) == 0:
            bench.cut(mark, draw(_hundredths(-50, 50)))
    if len(made) < 2:
        return
    for _ in range(draw(st.integers(0, 6))):
        a, b = draw(st.sampled_from(made)), draw(st.sampled_from(made))
        if a != b:
            value = truth[bench.index[b]] - truth[bench.index[a]] + draw(_hundredths(-10, 10))
            value *= bench.span(a, b).sign
            bench.read(a, b, value, draw(st.sampled_from([0.04, 0.1, 0.8])))
    if len(made) >= 4 and draw(st.booleans()):
        a, b, c, d = draw(st.permutations(made))[:4]
        first, second = bench.span(a, b), bench.span(c, d)
        lengths = [s.sign * (truth[s.end] - truth[s.start]) for s in (first, second)]
        if draw(st.booleans()):
            bench.compare((a, b), (c, d), lengths[0] - lengths[1], 0.1)
        else:
            bench.gang([(a, b), (c, d)], lengths[0] + lengths[1], 0.2)


def _draw_rules(draw: st.DrawFn, bench: Bench, at: dict[str, list[int]], axis: str, trouble: bool) -> None:
    spans = [
        (f"{name}.{axis}{a}", f"{name}.{axis}{b}", b - a)
        for name, places in at.items()
        for a, b in zip(places, places[1:], strict=False)
    ]
    for _ in range(draw(st.integers(0, 2))):
        if len(spans) < 2:
            return
        first = draw(st.sampled_from(spans))
        alike = [span for span in spans if span[2] == first[2] and span != first]
        give = draw(st.sampled_from([0.3, 1.0]))
        if alike:
            second = draw(st.sampled_from(alike))
            within = draw(st.sampled_from([None, 0.5]))
            bench.rule(first[:2], second[:2], give=None if within else give, within=within)
        else:
            length = PITCH * first[2]
            by = (length - 0.5, length + 0.5) if trouble and draw(st.booleans()) else (None, None)
            bench.rule(first[:2], length=length, give=give, by=by)
    across = [name for name in at if draw(st.booleans())]
    if len(across) >= 2 and draw(st.booleans()):
        a, b = f"{across[0]}.{axis}{at[across[0]][0]}", f"{across[1]}.{axis}{at[across[1]][-1]}"
        plan = abs(bench.marks[bench.index[a]].plan_mm - bench.marks[bench.index[b]].plan_mm)
        bench.rule((a, b), length=plan, **draw(st.sampled_from([{"give": 0.5}, {"within": 1.0}])))


def positions(case: Case) -> np.ndarray:
    """Plan positions (n,), mm."""
    return np.array([mark.plan_mm for mark in case.assembly.marks])
