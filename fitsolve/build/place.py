"""Place: parts put together by their joints, along each axis by itself.

Each part lies at an offset o along an axis; its mark m then lies at o + at(m). A contact between
the parts a and b fixes o_b - o_a:

    butt      its two marks coincide
    housing   the middles of its two pairs coincide, or the wall it rests on touches
    room      its gap is the middle of its limits; only where nothing else ties the two parts

The parts are put down one after another (breadth first), exactly. A contact that closes a loop
is compared with the way round. Where one does not close exactly, the offsets of its group
minimise the sum of (miss / band)^2 over butts and housings, and it is asked whether the contacts
on the way round can take the miss up: a housing may sit off its middle by most / 2, a butt may
stand open from least to most, and half of `finest` is granted to a loop. If not, the plan itself
does not close there, which is a warning: the maker's own readings may still be made sense of.

From the positions follow the sides: a pair is ordered within its own part; the gap of a butt or
a room counts from the part whose middle lies lower, unless the sentence says which lies above.

Not here: names and sentences (joints, rules), what runs add up to (sums).

Source: offsets over a spanning tree and misclosures of its loops, as in any text on the
adjustment of levelling nets.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from fitsolve.build.assembly import AXES, Assembly, Contact, Distance, Frame, Joint, Mark, Rule, Span
from fitsolve.build.head import Head, read_head
from fitsolve.build.joints import Joinery, Touch, join
from fitsolve.build.loops import Tie, close_loops
from fitsolve.build.plan import Plan, of_rules
from fitsolve.build.planfaults import PlanFaults
from fitsolve.build.plausible import plan_doubts
from fitsolve.build.rules import RuleDraft, read_rules
from fitsolve.build.stock import Stock, take_stock
from fitsolve.build.sums import Rules
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.light import dataclass, replace

if TYPE_CHECKING:
    from fitsolve.build.slopes import SlopeDraft
    from fitsolve.build.tools import Tool

_ABOVE = {
    "x": ("further to the right", " Above stands for further to the right here, below for to the left."),
    "y": ("further to the back", " Above stands for further to the back here, below for to the front."),
    "z": ("higher", ""),
}
"""What above means along each axis, and how that is said; along z it says itself."""

_NAMED_MOST = 12
_SAME_MM = 1e-9
"""Two places no further apart than this are one: what is left of exact numbers after rounding."""


@dataclass(frozen=True)
class Worked:
    """A plan worked out: `assembly` is None where something is wrong with it that is no keep and no check; one of
    those that is wrong is left out of it. `problems` are all there are, errors and others."""

    assembly: Assembly | None
    tools: dict[str, Tool]
    problems: list[Problem]


def assemble(plan: Plan) -> Assembly:
    """Return the plan worked out, parts in place. Raises BuildError with all its errors."""
    kept = plan.worked()
    if kept is not None:
        return kept
    worked = work_out(plan)
    errors = [problem for problem in worked.problems if problem.level == "error"]
    if errors or worked.assembly is None:
        raise BuildError(errors)
    return worked.assembly


def _slopes(plan: Plan, stock: Stock, rules: Rules, problems: list[Problem]) -> list[SlopeDraft]:
    """The slopes of all parts; most plans have none."""
    if not any(table.slopes for table in plan.part.values()):
        return []
    from fitsolve.build.slopes import read_slopes

    return read_slopes(plan, stock, rules, problems)


def _slanted(
    stock: Stock, slopes: list[SlopeDraft], joinery: Joinery, contacts: tuple[Contact, ...]
) -> tuple[tuple[Contact, ...], list[Distance]]:
    """The contacts, those on slopes leaning, and the distances that no run has: slopes and pegs make them."""
    derived: list[Distance] = []
    if slopes:
        from fitsolve.build.facing import derived_distances, leaning

        slopes = [*slopes, *stock.on_faces]
        contacts = leaning(stock, slopes, contacts)
        derived += derived_distances(stock, slopes, contacts)
    if joinery.pegs:
        from fitsolve.build.pegs import bored

        derived += bored(stock, joinery.pegs)
    return contacts, derived


def work_out(plan: Plan) -> Worked:
    """Return the plan worked out, as far as it can be, and all problems."""
    problems: list[Problem] = []
    head = read_head(plan, problems)
    stock = take_stock(plan, Rules(head.unit, head.finest, head.give), problems)
    slopes = _slopes(plan, stock, Rules(head.unit, head.finest, head.give), problems)
    joinery = join(plan, stock, head.fits, problems)
    sound = not stock.damaged and not any(problem.level == "error" for problem in problems)
    keeps = read_rules(plan, stock, "keep", problems)
    checks = [*read_rules(plan, stock, "check", problems), *joinery.lines]
    if not sound:  # parts would lie where they don't, and every complaint about that would be a false one
        return Worked(None, head.tools, problems)
    placing = _Placing(stock, joinery, head, problems)
    placing.put_down()
    contacts, derived = _slanted(stock, slopes, joinery, placing.contacts())
    frames = placing.frames(checks)
    alone = _alone(stock, joinery, keeps, plan.source.file)
    problems += stock.notices + alone[1]
    if any(problem.level == "error" and not of_rules(problem) for problem in problems):
        return Worked(None, head.tools, problems)
    standing = [k for k, draft in enumerate(checks) if draft.frame is None or k in frames]
    assembly = Assembly(
        title=plan.title,
        unit=plan.unit,
        finest_mm=float(head.finest),
        strong_mm=float(head.strong),
        overcut=head.overcut,
        workmanship_mm=float(head.workmanship),
        workmanship_width_mm=float(head.workmanship_width),
        parts=tuple(stock.parts),
        marks=placing.marks(),
        index=stock.index,
        runs=tuple(stock.runs),
        distances=(*stock.distances, *derived),
        contacts=contacts,
        joints=tuple(
            Joint(joint.name, joint.block, joint.parts, tuple(joint.contacts), joint.place) for joint in joinery.joints
        ),
        keeps=tuple(placing.rule(draft) for draft in keeps),
        checks=tuple(placing.rule(checks[k], frames.get(k)) for k in standing),
        placed=tuple(placing.group[node] for node in placing.node_of),
        alone=alone[0],
        notices=tuple(problems),
        slopes=tuple(draft.worked_out() for draft in (*slopes, *stock.on_faces)),
        pegs=tuple(draft.worked_out() for draft in joinery.pegs),
    )
    doubts = plan_doubts(assembly, lambda key: plan.source.key_place((key,)))
    if doubts:
        problems += doubts
        assembly = replace(assembly, notices=tuple(problems))
    return Worked(assembly, head.tools, problems)


def _alone(stock: Stock, joinery: Joinery, keeps: list[RuleDraft], file: str) -> tuple[tuple[str, ...], list[Problem]]:
    """The parts that no joint or keep reaches, and a notice that says so."""
    reached = {part for joint in joinery.joints for part in joint.parts}
    for draft in keeps:
        reached |= {stock.parts[stock.part[mark]] for span in draft.spans for mark in span}
    alone = tuple(part for part in stock.parts if part not in reached)
    if not alone or not stock.parts:
        return alone, []
    names = ", ".join(alone[:_NAMED_MOST])
    if len(alone) > _NAMED_MOST:
        names += f" and {len(alone) - _NAMED_MOST} more"
    what = f"no joint or keep reaches {names}: {'it stands' if len(alone) == 1 else 'they stand'} alone"
    return alone, [Problem(Place(file), what, level="notice")]


class _Placing:
    """Offsets of parts along axes. A node is a part along one axis: 3 * part + axis."""

    def __init__(self, stock: Stock, joinery: Joinery, head: Head, problems: list[Problem]) -> None:
        self.stock, self.joinery, self.head, self.problems = stock, joinery, head, problems
        self.node_of = [3 * part + axis for part, axis in zip(stock.part, stock.axis, strict=True)]
        count = 3 * len(stock.parts)
        self.low: list[Fraction | None] = [None] * count
        self.high: list[Fraction | None] = [None] * count
        self.first: list[int] = [-1] * count
        self.near = [float(at) for at in stock.at]  # comparing floats is quick
        lowest, highest = [0.0] * count, [0.0] * count
        for mark, node in enumerate(self.node_of):
            at = self.near[mark]
            if self.first[node] < 0:
                self.first[node] = mark
                self.low[node] = self.high[node] = stock.at[mark]
                lowest[node] = highest[node] = at
            elif at < lowest[node]:
                lowest[node], self.low[node] = at, stock.at[mark]
            elif at > highest[node]:
                highest[node], self.high[node] = at, stock.at[mark]
        self.middles: dict[int, Fraction] = {}
        self.offset = [Fraction(0)] * count
        self.group = [-1] * count
        self.at: list[Fraction] = []
        self.open_groups: set[int] = set()
        self.faults = PlanFaults(stock, head.unit, head.finest)

    # -- offsets -----------------------------------------------------------------------------

    def put_down(self) -> None:
        """Settle all offsets and groups, then the place of every mark."""
        ties = [self.tie(touch) for touch in self.joinery.touches if touch.kind != "room"]
        rooms = self.loose_rooms(ties)
        ties += rooms
        moved = close_loops(ties, len(self.offset), self.offset, self.group, self.head.finest)
        for touch, nodes, miss, allowed in moved.open_loops:
            self.open_groups.add(self.group[nodes[0]])
            self.faults.not_closed(touch, [self.stock.parts[node // 3] for node in nodes], miss, allowed)
        self.problems += self.faults.told()
        if moved.more:
            what = f"{moved.more} more loops through joints do not close in the plan"
            self.problems.append(Problem(Place(self.open_file()), what, level="warning"))
        self.anchor()
        offset = self.offset
        self.at = [
            at + offset[node] if offset[node] else at for at, node in zip(self.stock.at, self.node_of, strict=True)
        ]

    def open_file(self) -> str:
        return self.joinery.touches[0].spot.source.file

    def tie(self, touch: Touch) -> Tie:
        """What a butt or a housing says of two offsets: o_b - o_a = length, and how far it may be off."""
        at, fit = self.stock.at, touch.fit
        a, b = self.node_of[touch.one[0]], self.node_of[touch.other[0]]
        least, most = fit.limits
        if touch.kind == "butt":
            length = at[touch.one[0]] - at[touch.other[0]]
            slack = (min(least, Fraction(0)), max(most, Fraction(0)))
            upper = self.upper_by_middles(touch, length)
            if upper == touch.one[0]:
                slack = (-slack[1], -slack[0])
            elif upper is None:
                slack = (-slack[1], slack[1])
        else:
            one, other = sorted(touch.one, key=at.__getitem__), sorted(touch.other, key=at.__getitem__)
            if touch.rests is None:
                length = (at[one[0]] + at[one[1]] - at[other[0]] - at[other[1]]) / 2
                slack = (-max(most, Fraction(0)) / 2, max(most, Fraction(0)) / 2)
            else:
                wall = int(touch.rests in (one[1], other[1]))
                length = at[one[wall]] - at[other[wall]]
                slack = (Fraction(0), Fraction(0))
        return Tie(a, b, length, slack, fit.band_mm, touch)

    def upper_by_middles(self, touch: Touch, length: Fraction) -> int | None:
        """The mark of a butt whose part lies higher when the marks coincide; None where that doesn't tell."""
        if touch.upper is not None:
            return touch.upper
        a, b = self.node_of[touch.one[0]], self.node_of[touch.other[0]]
        off = self.middle(b) + length - self.middle(a)
        return None if off == 0 else touch.other[0] if off > 0 else touch.one[0]

    def middle(self, node: int) -> Fraction:
        middle = self.middles.get(node)
        if middle is None:
            low, high = self.low[node], self.high[node]
            assert low is not None
            assert high is not None
            middle = self.middles[node] = (low + high) / 2
        return middle

    def loose_rooms(self, ties: list[Tie]) -> list[Tie]:
        """The rooms between parts that nothing else ties; each of them must say which side is above."""
        root = list(range(len(self.offset)))

        def find(node: int) -> int:
            while root[node] != node:
                root[node] = root[root[node]]
                node = root[node]
            return node

        for tie in ties:
            root[find(tie.b)] = find(tie.a)
        found = []
        for touch in self.joinery.touches:
            a, b = self.node_of[touch.one[0]], self.node_of[touch.other[0]]
            if touch.kind != "room" or find(a) == find(b):
                continue
            if touch.upper is None:
                self.ask_above(touch, "nothing else ties their parts, so the plan does not tell")
                continue
            root[find(b)] = find(a)
            gap = Fraction(touch.fit.aim_mm)
            length = self.stock.at[touch.one[0]] - self.stock.at[touch.other[0]]
            length += gap if touch.upper == touch.other[0] else -gap
            half = Fraction(touch.fit.band_mm)
            found.append(Tie(a, b, length, (-half, half), touch.fit.band_mm, touch))
        return found

    def ask_above(self, touch: Touch, why: str) -> None:
        one, other = self.stock.name[touch.one[0]], self.stock.name[touch.other[0]]
        further, meaning = _ABOVE[AXES[touch.axis]]
        what = f"which of {one} and {other} lies {further}? {why}"
        hint = f'Add ", {other} above" or ", {other} below" to the sentence.{meaning}'
        self.problems.append(touch.spot.problem(what, hint, 0, len(touch.spot.text)))

    def anchor(self) -> None:
        """Put the first mark of the first part of each group at 0."""
        shift: dict[int, Fraction] = {}
        for node, first in enumerate(self.first):
            if first < 0:
                continue
            group = self.group[node]
            if group not in shift:
                shift[group] = self.offset[node] + self.stock.at[first]
            self.offset[node] -= shift[group]

    # -- sides -------------------------------------------------------------------------------

    def contacts(self) -> tuple[Contact, ...]:
        """All contacts with their sides; what the plan itself has wrong between two parts is said."""
        found = tuple(contact for touch in self.joinery.touches if (contact := self.contact(touch)) is not None)
        self.problems += self.faults.told()
        return found

    def contact(self, touch: Touch) -> Contact | None:
        rests: Literal["low", "high"] | None = None
        at = self.stock.at
        if touch.kind == "housing":
            one, other = sorted(touch.one, key=at.__getitem__), sorted(touch.other, key=at.__getitem__)
            marks = (*one, *other)
            if touch.rests is not None:
                rests = "high" if touch.rests in (one[1], other[1]) else "low"
            self.faults.fits(touch, marks)
        else:
            upper = touch.upper if touch.upper is not None else self.upper_placed(touch)
            if upper is None:
                return None
            marks = (touch.one[0], touch.other[0])
            if upper == touch.one[0]:
                marks = (touch.other[0], touch.one[0])
            if touch.kind == "room":
                self.room_in_plan(touch, marks)
        fit = touch.fit
        return Contact(
            touch.joint,
            touch.kind,
            AXES[touch.axis],
            marks,
            fit.name,
            fit.least_mm,
            fit.aim_mm,
            fit.most_mm,
            rests,
            touch.spot.place(),
        )

    def upper_placed(self, touch: Touch) -> int | None:
        """The mark of the part whose middle lies higher in the assembled plan; asked for where none does."""
        a, b = self.node_of[touch.one[0]], self.node_of[touch.other[0]]
        if self.group[a] != self.group[b]:
            return None  # a room that did not say; reported
        off = self.middle(b) + self.offset[b] - self.middle(a) - self.offset[a]
        if abs(off) > _SAME_MM:
            return touch.other[0] if off > 0 else touch.one[0]
        self.ask_above(touch, "the middles of their parts coincide")
        return None

    def room_in_plan(self, touch: Touch, marks: tuple[int, ...]) -> None:
        """Say where the plan itself leaves another room than it asks for. Where a loop of the group doesn't close,
        its parts lie where nobody drew them, and a room there would be a complaint about the same misprint."""
        group = self.group[self.node_of[marks[0]]]
        if group == self.group[self.node_of[marks[1]]] and group not in self.open_groups:
            self.faults.room(touch, marks, self.at[marks[1]] - self.at[marks[0]])

    # -- what comes out ------------------------------------------------------------------------

    def marks(self) -> tuple[Mark, ...]:
        stock = self.stock
        middles: dict[int, float] = {}
        marks = []
        for number, node in enumerate(self.node_of):
            middle = middles.get(node)
            if middle is None:
                middle = middles[node] = float(self.middle(node))
            outward = self.near[number] - middle
            marks.append(
                Mark(
                    stock.name[number],
                    stock.parts[stock.part[number]],
                    AXES[stock.axis[number]],
                    float(self.at[number]),
                    stock.station_of[number],
                    0 if abs(outward) < _SAME_MM else 1 if outward > 0 else -1,
                )
            )
        return tuple(marks)

    def frames(self, checks: list[RuleDraft]) -> dict[int, Frame]:
        """For the checks of the whole frame, by their numbers, their marks and where they stand."""
        own = [k for k, draft in enumerate(checks) if draft.frame is not None]
        if not own:
            return {}
        from fitsolve.build.stands import Ground, stood_up

        ground = Ground(self.stock, self.at, self.group_of, self.middle_at, self.head.finest)
        found = {k: stood_up(ground, checks[k], self.problems) for k in own}
        return {k: frame for k, frame in found.items() if frame is not None}

    def group_of(self, mark: int) -> int:
        return self.group[self.node_of[mark]]

    def middle_at(self, part: int, axis: int) -> tuple[Fraction, int] | None:
        """The middle of a part along an axis and the group it is placed in; None where it has no marks along it."""
        node = 3 * part + axis
        return None if self.first[node] < 0 else (self.offset[node] + self.middle(node), self.group[node])

    def rule(self, draft: RuleDraft, frame: Frame | None = None) -> Rule:
        spans = []
        for start, end in draft.spans:
            tied = self.group[self.node_of[start]] == self.group[self.node_of[end]]
            spans.append(Span(start, end, -1 if tied and self.at[end] < self.at[start] else 1))
        text = draft.text
        give = text.give
        if give is None and text.limits is None and text.within is None:
            give = self.head.give
        return Rule(
            draft.name,
            draft.kind,
            tuple(spans),
            _mm(draft.length),
            _mm(give),
            None if text.limits is None else float(text.limits[0]),
            None if text.limits is None else float(text.limits[1]),
            _mm(text.within),
            draft.spot.place(),
            frame=frame,
        )


def _mm(length: Fraction | None) -> float | None:
    return None if length is None else float(length)
