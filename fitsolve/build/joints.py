"""Joints: tables times sentences, with every name found.

Each row of a joint's table fills the {columns} of each sentence; each sentence gives one
contact between marks of two parts along one axis. The contacts of one block that tie the same
two parts are one joint: they go together at once. It is named by its block and its parts, in
the order of the first sentence that ties them.

Which side lies lower is not known yet (place); what it says on that is kept with the contact.

When it fails: a sentence that makes no sense gives a problem and no contact; the others stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from typing import TYPE_CHECKING

from fitsolve.build.assembly import AXES, ContactKind
from fitsolve.build.fits import Fit, find_fit, like_built_in, unknown_fit
from fitsolve.build.language import Misread, Name, gathered
from fitsolve.build.locate import Path, Spot
from fitsolve.build.rules import RuleDraft
from fitsolve.build.sentences import Meeting, Row, Table, Template, read_meeting, read_table
from fitsolve.build.stock import Stock, nameless
from fitsolve.build.sums import misread_problems
from fitsolve.errors import Place, Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, replace

if TYPE_CHECKING:
    from fitsolve.build.pegs import PegDraft
    from fitsolve.build.plan import JointTable, Plan


@dataclass(slots=True)
class Touch:
    """A contact on its way: marks by number, `one` and `other` the sides as written.

    For a housing `one` is the tongue and `other` the socket, two marks each. `rests` and
    `upper` are marks of it that were named; `fit` holds its limits in mm.
    """

    joint: int
    kind: ContactKind
    axis: int
    one: tuple[int, ...]
    other: tuple[int, ...]
    fit: Fit
    rests: int | None
    upper: int | None
    spot: Spot


@dataclass(slots=True)
class JointDraft:
    """A joint on its way: its contacts by number."""

    name: str
    block: str
    parts: tuple[str, str]
    place: Place
    contacts: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Joinery:
    """All contacts and joints of a plan, before placing."""

    touches: list[Touch] = field(default_factory=list)
    joints: list[JointDraft] = field(default_factory=list)
    pegs: list[PegDraft] = field(default_factory=list)
    lines: list[RuleDraft] = field(default_factory=list)
    known: dict[object, int] = field(default_factory=dict)


def join(plan: Plan, stock: Stock, fits: Mapping[str, Fit], problems: list[Problem]) -> Joinery:
    """Return the contacts and joints of a plan; what is wrong is added to `problems`."""
    joinery = Joinery()
    for block, table in plan.joint.items():
        if not block.strip():
            problems.append(Problem(plan.source.key_place(("joint", block)), *nameless("joint")))
        _Block(plan, stock, fits, problems, joinery).read(block, table)
    _misspelt_fits(plan, fits, joinery, problems)
    return joinery


def _misspelt_fits(plan: Plan, fits: Mapping[str, Fit], joinery: Joinery, problems: list[Problem]) -> None:
    """Warn of a fit that no sentence names, like one built in that some do: that one they have, as it is built in."""
    named = {touch.fit.name for touch in joinery.touches}
    for name in (one for one in fits if one not in named):
        meant = like_built_in(name)
        if meant in named and meant not in fits:
            what = f"no sentence names the fit {name}; those that say {meant} have the built-in one"
            hint = f"Was it to change {meant}? Then it is called so."
            problems.append(Problem(plan.source.key_place(("fits", name)), what, hint, level="warning"))


class _Block:
    """One block of joints being read."""

    def __init__(
        self, plan: Plan, stock: Stock, fits: Mapping[str, Fit], problems: list[Problem], joinery: Joinery
    ) -> None:
        self.plan, self.stock, self.fits = plan, stock, fits
        self.problems, self.joinery = problems, joinery
        self.unit: Unit = plan.unit
        self.numbers: dict[frozenset[int], int] = {}
        self.said: set[tuple[object, ...]] = set()
        self.of_row: dict[int, list[int]] = {}
        self.pegs: list[tuple[Meeting, Spot, Row | None]] = []

    def read(self, block: str, table: JointTable) -> None:
        rows, columns = self.rows(block, table)
        templates: list[tuple[int, Template, Spot]] = []
        path: Path = ("joint", block, "meet")
        used: set[str] = set()
        for k, text in enumerate(table.meet):
            template = Template(text)
            used |= {name.text for name in template.columns}
            spot = self.plan.source.spot((*path, k), text)
            wrong = template.misread(columns) if rows or table.each is None else []
            self.problems += misread_problems(spot, wrong)
            if not wrong:
                templates.append((k, template, spot))
        if not table.meet:
            what, hint = "this joint has no sentence", 'As in: meet = ["A against B, tight-up"]'
            self.problems.append(self.plan.source.spot(path, "").problem(what, hint))
        for name in columns:
            if name not in used and table.meet:
                what = f'no sentence uses the column "{name}"'
                spot = self.plan.source.spot(("joint", block, "each"), table.each or "")
                self.problems.append(spot.problem(what, "Is it left over?", level="notice"))
        for row in rows or ([None] if table.each is None else []):
            for _, template, spot in templates:
                self.sentence(block, template, spot, row)
        for meeting, spot, row in self.pegs:
            self.peg(meeting, spot, row)

    def rows(self, block: str, table: JointTable) -> tuple[list[Row | None], list[str]]:
        """The rows of the table, and its columns."""
        if table.each is None:
            return [], []
        spot = self.plan.source.spot(("joint", block, "each"), table.each)
        wrong: list[Misread] = []
        read: Table = read_table(table.each, wrong)
        self.problems += misread_problems(spot, wrong)
        return self.each_once(read.rows, spot), [column.text for column in read.columns]

    def each_once(self, rows: Sequence[Row], spot: Spot) -> list[Row | None]:
        """The rows, one that stands twice once: the joint that was meant is missing, most likely."""
        once: dict[tuple[str, ...], Row] = {}
        for row in rows:
            first = once.setdefault(tuple(row.words.values()), row)
            if first is not row:
                line = "" if spot.line is None else f" (line {spot.line + first.line})"
                begin = sum(len(line) + 1 for line in spot.text.split("\n")[: row.line])
                column = spot.text.index(row.text, begin)
                what, hint = f"this row stands in the table already{line}: it counts once", "Is another joint meant?"
                self.problems.append(spot.problem(what, hint, column, len(row.text), "warning"))
        return list(once.values())

    def sentence(self, block: str, template: Template, spot: Spot, row: Row | None) -> None:
        """One sentence for one row."""
        if row is not None:
            text = template.filled(row.words)
            line = self.row_line(block, row)
            also = f"row: {row.text}" if line is None else f"row of line {line}: {row.text}"
            spot = replace(spot, text=text, also=(also,))
        try:
            meeting = read_meeting(spot.text, self.unit)
            if meeting.kind == "line":
                self.in_line(block, spot, row)
                return
            if meeting.kind == "peg":
                self.pegs.append((meeting, spot, row))
            else:
                self.touch(block, meeting, spot, row)
        except Misread as misread:
            for one in misread.all():
                self.say(spot, one)

    def peg(self, meeting: Meeting, spot: Spot, row: Row | None) -> None:
        """A peg, once all the butts of its row are known."""
        touches = (self.joinery.touches[k] for k in self.of_row.get(id(row), ()))
        butts = [(one.joint, one.one[0], one.other[0]) for one in touches if one.kind == "butt"]
        assert meeting.peg is not None, "a peg has its sizes"
        try:
            from fitsolve.build.pegs import peg_draft

            self.joinery.pegs.append(peg_draft(self.stock, meeting.one[0], meeting.peg, butts, spot, self.unit))
        except Misread as misread:
            self.say(spot, misread)

    def in_line(self, block: str, spot: Spot, row: Row | None) -> None:
        """Holes that shall stand opposite each other when the joint is together: a check. Raises Misread."""
        from fitsolve.build.inline import line_drafts, read_in_line

        said = read_in_line(spot.text, self.unit)
        assert said is not None, "it was recognised"
        name = " ".join((block, *row.words.values())) if row is not None else block
        taken = {draft.name for draft in self.joinery.lines}
        drafts = line_drafts(self.stock, name, said, spot)
        for draft in drafts:
            draft.name = f"{draft.name} ({said[0].text})" if draft.name in taken else draft.name
        self.joinery.lines += drafts

    def row_line(self, block: str, row: Row) -> int | None:
        line = self.plan.source.line(("joint", block, "each"))
        return None if line is None else line + row.line

    def say(self, spot: Spot, misread: Misread) -> None:
        """Say what is wrong with a sentence: once, where it is the same for every row."""
        key = (spot.path, misread.alike)
        if misread.silent or key in self.said:
            return
        self.said.add(key)
        self.problems.append(spot.problem(misread.what, misread.hint, misread.column, misread.width))

    # -- one contact -------------------------------------------------------------------------

    def touch(self, block: str, meeting: Meeting, spot: Spot, row: Row | None) -> None:
        """Find the marks of a sentence and add its contact."""
        stock = self.stock
        one, other, fit = self.sides_and_fit(meeting)
        self.two_parts_one_axis(meeting, one, other)
        rests = self.resting(meeting, one, other)
        upper = self.upper(meeting, one, other)
        own = (meeting.kind, frozenset((frozenset(one), frozenset(other))))
        if own in self.joinery.known:
            self.again(self.joinery.known[own], one, (fit, rests, upper), spot, row)
            return
        self.joinery.known[own] = len(self.joinery.touches)
        key = frozenset((stock.part[one[0]], stock.part[other[0]]))
        number = self.numbers.get(key)
        if number is None:
            number = self.numbers[key] = len(self.joinery.joints)
            parts = (stock.parts[stock.part[one[0]]], stock.parts[stock.part[other[0]]])
            name = f"{block} {parts[0]} {parts[1]}"
            self.joinery.joints.append(JointDraft(name, block, parts, self.joint_place(block, spot, row)))
        self.joinery.joints[number].contacts.append(len(self.joinery.touches))
        self.of_row.setdefault(id(row), []).append(len(self.joinery.touches))
        assert meeting.kind != "peg"
        assert meeting.kind != "line"
        self.joinery.touches.append(
            Touch(number, meeting.kind, stock.axis[one[0]], one, other, fit, rests, upper, spot)
        )

    def again(
        self, known: int, one: tuple[int, ...], said: tuple[Fit, int | None, int | None], spot: Spot, row: Row | None
    ) -> None:
        """A contact that stands in the plan already counts once; what it is like is said in one way only."""
        self.of_row.setdefault(id(row), []).append(known)
        first = self.joinery.touches[known]
        fit, rests, upper = said
        like = (fit.least_mm, fit.aim_mm, fit.most_mm, rests, upper)
        same = like == (first.fit.least_mm, first.fit.aim_mm, first.fit.most_mm, first.rests, first.upper)
        same = same and (first.kind != "housing" or set(one) == set(first.one))
        if (same and first.spot.path == spot.path) or (spot.path, "again") in self.said:
            return  # rows of a table that differ in what this sentence does not name
        self.said.add((spot.path, "again"))
        where = first.spot.also[0] if first.spot.also else first.spot.where()
        if same:
            what, hint = f"these marks meet already ({where}): it counts once", "Are other marks meant?"
            self.problems.append(spot.problem(what, hint, 0, len(spot.text), "warning"))
        else:
            what = f"these marks meet already, and otherwise ({where}: {first.spot.text})"
            self.problems.append(spot.problem(what, "Take one of the two out.", 0, len(spot.text)))

    def sides_and_fit(self, meeting: Meeting) -> tuple[tuple[int, ...], tuple[int, ...], Fit]:
        """What a sentence names. Raises Misread with all of it that is not there."""
        wrong: list[Misread] = []
        sides: list[tuple[int, ...]] = []
        fit: Fit | None = None
        for names in (meeting.one, meeting.other):
            try:
                sides.append(self.side(names))
            except Misread as misread:
                wrong.append(misread)
        try:
            fit = self.fit(meeting)
        except Misread as misread:
            wrong.append(misread)
        if wrong:
            raise gathered(wrong)
        assert fit is not None, "it was found, or its lack is in `wrong`"
        return sides[0], sides[1], fit

    def joint_place(self, block: str, spot: Spot, row: Row | None) -> Place:
        line = None if row is None else self.row_line(block, row)
        return replace(spot.place(), key=f"joint.{block}", line=spot.line if line is None else line)

    def side(self, names: tuple[Name, ...]) -> tuple[int, ...]:
        """The marks of one side: of a pair, the second stands beside the first."""
        stock = self.stock
        first = stock.mark(names[0])
        if len(names) == 1:
            return (first,)
        second = stock.beside(first, names[1])
        if first == second:
            raise Misread("a pair has two different marks", names[1].column, names[1].width)
        if stock.part[first] != stock.part[second]:
            what = f"the two marks of a pair belong to one part; {stock.name[second]} belongs to another"
            hint = "Does it go between two parts? That is two sentences: A short of B by L to L, or A against B, FIT."
            raise Misread(what, names[1].column, names[1].width, hint)
        if stock.axis[first] != stock.axis[second]:
            raise self.two_axes(names[1], first, second)
        if stock.at[first] == stock.at[second]:
            both = f"{stock.name[first]} and {stock.name[second]}"
            what = f"{both} lie in one place: there is nothing between them"
            raise Misread(what, names[1].column, names[1].width)
        return (first, second)

    def two_axes(self, name: Name, first: int, second: int) -> Misread:
        stock = self.stock
        what = (
            f"{stock.name[first]} lies along {AXES[stock.axis[first]]}, "
            f"{stock.name[second]} along {AXES[stock.axis[second]]}: marks meet along one axis"
        )
        return Misread(what, name.column, name.width, "Name marks of the same axis.")

    def two_parts_one_axis(self, meeting: Meeting, one: tuple[int, ...], other: tuple[int, ...]) -> None:
        stock = self.stock
        name = meeting.other[0]
        if stock.axis[one[0]] != stock.axis[other[0]]:
            raise self.two_axes(name, one[0], other[0])
        if stock.part[one[0]] == stock.part[other[0]]:
            what = f"both sides belong to {stock.parts[stock.part[one[0]]]}: a joint ties two parts"
            raise Misread(what, name.column, name.width, "Say which copy of the part, or which other part, meets it.")

    def fit(self, meeting: Meeting) -> Fit:
        if meeting.limits is not None:
            low, high = meeting.limits
            return Fit("room", float(low), float((low + high) / 2), float(high))
        name = meeting.fit
        assert name is not None, "a housing or butt has a fit"
        fit = find_fit(name.text, self.fits)
        if fit is None:
            what, hint = unknown_fit(name.text, self.fits)
            raise Misread(what, name.column, name.width, hint, silent=name.text in self.plan.damaged_fits)
        return fit

    def resting(self, meeting: Meeting, one: tuple[int, ...], other: tuple[int, ...]) -> int | None:
        """The mark of the sentence that `rests` names."""
        name = meeting.rests
        if name is None:
            return None
        written = (*meeting.one, *meeting.other)
        marks = (*one, *other)
        for mark, own in zip(marks, written, strict=True):
            if name.text in (own.text, self.stock.name[mark], self.stock.within(mark)):
                return mark
        hint = f"One of: {', '.join(own.text for own in written)}."
        raise Misread("a piece rests on a mark of this sentence", name.column, name.width, hint)

    def upper(self, meeting: Meeting, one: tuple[int, ...], other: tuple[int, ...]) -> int | None:
        """The mark of the side that was said to lie above, or None where nothing was said."""
        if meeting.side is None:
            return None
        name, above = meeting.side
        stock = self.stock
        fitting = [
            own.text == name.text or name.text in (stock.name[mark], stock.parts[stock.part[mark]])
            for mark, own in ((one[0], meeting.one[0]), (other[0], meeting.other[0]))
        ]
        if fitting == [False, False] or fitting == [True, True]:
            hint = f"Name one of the two: {stock.name[one[0]]} or {stock.name[other[0]]}, or its part."
            raise Misread(f"{name.text} is not one side of this sentence", name.column, name.width, hint)
        return one[0] if fitting[0] == above else other[0]
