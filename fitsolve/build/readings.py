"""What one row of the log says: marks, sign, length and tool, as an equation.

A reading r of the distance between two marks is written without a sign, as a tape gives it.
With x the positions in the assembled piece it says

    x_to - x_from = s r,     s = +1 or -1.

Where the two marks are placed by the plan, s is the sign of their plan distance; where the plan
does not tie them, `from` counts as before `to`. Where they lie flush in the plan (a distance of
0, and close to it where the maker says more) the plan cannot tell, and

    a gap of a joint is never negative:                 s is that of the gap,
    the note may begin `proud X`, X one of the two:     x_X - x_other = outward(X) r,

else the row is refused: it does not say on which side. A comparison says that the first span is
longer than the second by r, a gang that the spans together make r, wind what two sticks stand open
(`hand`, where strong and bare are read too); each span counts positive as
it lies in the plan.

Nothing here depends on the order of the rows: what becomes of a row later is `state`'s.

When a row cannot be used, all that is wrong with it is reported, and it says nothing.
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Callable, Mapping

from fitsolve.build.assembly import Assembly, Span
from fitsolve.build.hand import ByHand, read_by_hand, said_good_to
from fitsolve.build.logtext import Row
from fitsolve.build.lookup import Lookup, plainly_meant
from fitsolve.build.renaming import led_away
from fitsolve.build.tools import Tool, find_tool, tool_fault, unknown_tool
from fitsolve.errors import Level, Place, Problem
from fitsolve.lengths import LengthError
from fitsolve.light import dataclass, pattern

FLUSH_MM = 1e-9
"""Marks closer than this in the plan are flush: the plan cannot tell which is further along."""

PROUD = pattern(r"proud\s+(\S+)", re.IGNORECASE)
_DATE = pattern(
    r"\d{1,4}[-./](?: ?[^\W\d_]{3,}\.?(?:[-./ ]\d{2,4})?|\d{1,2}[-./]\d{1,4})|[^\W\d_]{3,}\.?[- ]\d{2,4}"
)
OTHER_SIDE = "Begin the note with `proud` and the one that stands further out, as: proud {name}"


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of the log that counts. `value_mm` is signed so that

        sum(coef * x[mark]) = value_mm      (x: positions in the assembled piece)

    whatever its event: reading, lean (2 marks), compare (4 marks), gang (2 marks a piece), diagonal
    (2 marks an axis, with the direction that the plan gives it; it turns as the points move).
    `shown_mm` is the length that the maker wrote as `text`, without a sign; `u_mm` its standard
    uncertainty (k = 1), of what differs from reading to reading; `zero_u_mm` and `scale_u` are those
    of the errors that all readings with its tool share. `across` is true where it says something
    about how parts lie to each other; a comparison of spans that each lie in one part does not.
    """

    no: int
    event: str
    start: str
    end: str
    tool: str
    terms: tuple[tuple[int, float], ...]
    value_mm: float
    shown_mm: float
    u_mm: float
    across: bool
    zero_u_mm: float = 0.0
    scale_u: float = 0.0
    text: str = ""


@dataclass(frozen=True, slots=True)
class RoughBound:
    """What can still come down: sign * (x[end] - x[start]) may be made at most `most_mm`."""

    no: int
    start: int
    end: int
    sign: int
    most_mm: float
    u_mm: float
    tool: str = ""
    zero_u_mm: float = 0.0
    scale_u: float = 0.0


class RowReader:
    """Reads rows one at a time; what is wrong with them gathers in `problems`."""

    def __init__(self, assembly: Assembly, lookup: Lookup, tools: Mapping[str, Tool], file: str) -> None:
        self.assembly = assembly
        self.lookup = lookup
        self.tools = tools
        self.file = file
        self.problems: list[Problem] = []
        self._lengths: dict[str, ByHand] = {}
        self._tools: dict[str, Tool] = {}
        self._renamed: dict[str, tuple[int, int]] = {}
        self._gaps: dict[tuple[int, int], list[tuple[int, int]]] | None = None
        self.gone: dict[str, int] = {}
        self.lost: dict[int, int] = {}

    # -- complaints ------------------------------------------------------------------------

    def report(
        self, row: Row, what: str, hint: str, cell: str = "", level: Level = "error", part: str = ""
    ) -> None:
        """Add a problem of a row, with a caret under the cell, or under the part of it; none where it is `lost`."""
        if self.gone and level == "error" and (rename := led_away(cell, row.no, self.gone)):
            self.lost[row.no] = rename
            return
        shown = "".join(c if c.isprintable() else "?" for c in cell[:200])
        column = max(0, shown.find(part)) if part else 0
        width = len(part) if part and part in shown else len(shown)
        self.problems.append(
            Problem(self.place(row, shown, column if shown else None, width), what, hint, level=level)
        )

    def place(self, row: Row, text: str = "", column: int | None = None, width: int = 1) -> Place:
        """Where a row stands: its line, or its number where it came from no file."""
        key = "" if row.line else f"#{row.no}"
        return Place(self.file, row.line or None, key, text, column, width)

    def unknown_mark(self, row: Row, name: str, cell: str, near: tuple[str, ...] = (), whole: str = "") -> None:
        """Say that no mark has that name, and what may have been meant; `whole` is the name with its part."""
        if not name:
            self.report(row, "a mark is missing", "Name it whole, as part and mark.", cell)
            return
        near = near or self.lookup.near(name)
        meant = f"Did you mean {' or '.join(near)}? " if near else ""
        new = plainly_meant(whole or name, near) or "NEW"
        old, star = whole or name, self.lookup.star_word(name) if "*" in name else ""
        part, now = ("", "") if star else self.lookup.part_renamed(old)
        if now:
            first, last = self._renamed.get(part, (row.no, 0))
            self._renamed[part] = first, row.no
            if last and last != row.no:
                self.report(row, f"the plan has no mark {_quote(name)}", f"As for #{first}.")
            if last:
                return  # told of, here or above
            old, new = part, now
        if star:
            old, new = old.replace("*", star), new.replace("*", star)
        hint = f"{meant}Renamed in the plan? Then: fitsolve rename {_plain(old)} {new}"
        if "*" in cell:
            hint += ", and so for each copy"
        self.report(row, f"the plan has no mark {_quote(name)}", hint, cell, part=name)

    # -- cells ------------------------------------------------------------------------------

    def mark(self, row: Row, name: str, epoch: int) -> int | None:
        """Return the mark that a whole cell names."""
        found = self.lookup.mark(name, epoch)
        if found is None:
            self.unknown_mark(row, name, name)
        return found

    def length(self, row: Row) -> float | None:
        """Return the length in the cell `reading`, in mm, never negative."""
        text = row.reading
        if text not in self._lengths:
            try:
                self._lengths[text] = read_by_hand(text, self.assembly.unit, self.assembly.strong_mm)
            except LengthError as error:
                self.problems.append(self._no_length(row, error))
                return None
        return self._lengths[text].length_mm

    def u_mm(self, row: Row, tool: Tool, length_mm: float) -> float:
        """The standard uncertainty of the length of a row: its tool's, or what its note says it is good
        to, and what strong or bare adds."""
        good_to = said_good_to(row.note, self.assembly.unit)
        if good_to == 0.0:
            what = f"the note does not say a length that this reading is good to: it counts as {tool.name} does"
            hint = "As in: good to 1/64. A comma or a semicolon ends it."
            self.report(row, what, hint, row.note, level="warning", part="good to")
        u = tool.u_mm(length_mm) if not good_to else good_to / 2
        return math.hypot(u, self._lengths[row.reading].u_mm)

    def _no_length(self, row: Row, error: LengthError) -> Problem:
        if not row.reading:
            return Problem(self.place(row), "the reading is missing", _again(row))
        problem = error.problem(self.place(row))
        hint = f"{problem.hint.rstrip('.')}. {_again(row)}"
        if _DATE.fullmatch(row.reading):
            hint = f"A spreadsheet seems to have made a date of it: put the length back as text. {_again(row)}"
        return Problem(problem.place, problem.what, hint)

    def tool(self, row: Row) -> Tool | None:
        """Return the tool of a row."""
        name = row.tool
        if name in self._tools:
            return self._tools[name]
        if not name:
            self.report(row, "which tool was it read with?", f"Every reading has one. {_again(row)}")
            return None
        tool = find_tool(name, self.tools)
        wrong = unknown_tool(_plain(name), self.tools) if tool is None else tool_fault(tool)
        if wrong is not None or tool is None:
            what, hint = wrong or ("", "")
            if name.isdigit():
                comma = f'Was the reading "{_plain(row.reading)},{name}"? A comma parts two cells: write '
                hint = f"{comma}{_plain(row.reading)}.{name}. {_again(row)}"
            self.report(row, what, hint, cell=name)
            return None
        self._tools[name] = tool
        return tool

    # -- sides -------------------------------------------------------------------------------

    def pair(self, row: Row, epoch: int) -> tuple[int, int] | None:
        """Return the two marks of a row, on one axis."""
        start, end = self.on_one_axis(row.start, row.end, epoch)
        if start is None or end is None:
            for found, name in ((start, row.start), (end, row.end)):
                if found is None:
                    self.unknown_mark(row, name, name)
            return None
        if start == end:
            self.report(row, "from and to are one and the same mark", "Name two marks.", row.end)
            return None
        return (start, end) if self.one_axis(row, start, end, row.end) else None

    def on_one_axis(self, first: str, second: str, epoch: int) -> tuple[int | None, int | None]:
        """The marks of two names; a hole, which lies on two axes, is meant along that of the other mark."""
        start, end = self.lookup.mark(first, epoch), self.lookup.mark(second, epoch)
        marks = self.assembly.marks
        if start is None and end is not None:
            start = self.lookup.along(first, marks[end].axis, epoch)
        elif end is None and start is not None:
            end = self.lookup.along(second, marks[start].axis, epoch)
        return start, end

    def one_axis(self, row: Row, start: int, end: int, cell: str) -> bool:
        """Whether two marks lie along one axis; a distance between axes is no distance of marks."""
        first, second = self.assembly.marks[start], self.assembly.marks[end]
        if first.axis == second.axis:
            return True
        what = f"{first.name} lies along {first.axis}, {second.name} along {second.axis}"
        inside = [mark.name[len(mark.part) + 1 :] for mark in (first, second)]
        corner = f"{first.part} {'+'.join(inside)}" if first.part == second.part else f"{first.part} {inside[0]}+..."
        hint = f"Name two marks of one axis. Corner to corner? Then each point is a mark of each axis, as {corner}: "
        self.report(row, what, f"{hint}fitsolve diagonal POINT POINT {row.reading}".rstrip(), cell)
        return False

    def plan_distance(self, start: int, end: int) -> float | None:
        """x_end - x_start in the plan, or None where the plan does not tie the two."""
        assembly = self.assembly
        if assembly.placed[start] != assembly.placed[end]:
            return None
        return assembly.marks[end].plan_mm - assembly.marks[start].plan_mm

    def sign(self, row: Row, start: int, end: int, reading_mm: float, epoch: int) -> int | None:
        """Return s of x_end - x_start = s * reading, or report that the row does not tell."""
        plan = self.plan_distance(start, end)
        if plan is None:
            return 1
        by_plan = 1 if plan > 0 else -1
        if abs(plan) >= max(self.assembly.finest_mm, FLUSH_MM):
            return by_plan
        gap = self._gap_sign(start, end, abs(plan) < FLUSH_MM)
        if gap:
            return gap
        proud = PROUD.match(row.note)
        if proud is None and abs(plan) >= FLUSH_MM:
            return by_plan
        if reading_mm == 0:
            return 1
        if proud is None:
            what = f"{row.start} and {row.end} lie flush in the plan: which stands proud?"
            self.report(row, what, OTHER_SIDE.format(name=row.start), row.note)
            return None
        return self._proud_sign(row, start, end, proud.group(1).rstrip(",;:."), epoch)

    def _proud_sign(self, row: Row, start: int, end: int, name: str, epoch: int) -> int | None:
        """The sign where the note says which of the two stands further out."""
        marks = self.assembly.marks
        named = self.lookup.current(name, epoch)
        which = [mark for mark in (start, end) if named in (marks[mark].name, marks[mark].part)]
        if len(which) != 1:
            what = f"{_quote(name)} does not say which of the two stands proud"
            self.report(row, what, OTHER_SIDE.format(name=marks[start].name), row.note, part=name)
            return None
        outward = marks[which[0]].outward
        if not outward:
            what = f"{marks[which[0]].name} faces neither way along {marks[which[0]].axis}: which way is out?"
            self.report(row, what, "Read both from another mark instead.", row.note, part=name)
            return None
        return outward if which[0] == end else -outward

    # -- gaps -------------------------------------------------------------------------------

    @property
    def gaps(self) -> dict[tuple[int, int], list[tuple[int, int]]]:
        """By (lower mark number, higher): contacts with a gap between the two, and s of
        gap = s * (x_higher number - x_lower number)."""
        if self._gaps is None:
            gaps: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
            for number, contact in enumerate(self.assembly.contacts):
                for low, high in contact.gap_marks:
                    gaps[min(low, high), max(low, high)].append((number, 1 if low < high else -1))
            self._gaps = gaps
        return self._gaps

    def gap_contacts(self, start: int, end: int) -> list[int]:
        """Return the contacts that have a gap between the two marks."""
        found = self.gaps.get((min(start, end), max(start, end)), ())
        return [number for number, _ in found]

    def _gap_sign(self, start: int, end: int, flush: bool) -> int:
        """The sign of a gap between the two, which is never negative; 0 where there is none.

        A room has a plan distance, and follows that unless it is 0.
        """
        for number, sign in self.gaps.get((min(start, end), max(start, end)), ()):
            if flush or self.assembly.contacts[number].kind != "room":
                return sign if start < end else -sign
        return 0

    # -- events ------------------------------------------------------------------------------

    def reading(self, row: Row, epoch: int) -> Reading | None:
        """A distance between two marks: the events `reading` and `lean`."""
        pair, length, tool = self.pair(row, epoch), self.length(row), self.tool(row)
        if pair is None or length is None or tool is None:
            return None
        sign = self.sign(row, *pair, length, epoch)
        if sign is None:
            return None
        start, end = pair
        return self.said(row, tool, ((end, 1.0), (start, -1.0)), sign * length, length)

    def rough(self, row: Row, epoch: int) -> RoughBound | None:
        """A distance that can still come down."""
        pair, length, tool = self.pair(row, epoch), self.length(row), self.tool(row)
        if pair is None or length is None or tool is None:
            return None
        sign = self.sign(row, *pair, length, epoch)
        if sign is None:
            return None
        u = self.u_mm(row, tool, length)
        return RoughBound(row.no, *pair, sign, length, u, tool.name, tool.zero_u_mm, tool.scale_u)

    def compare(self, row: Row, epoch: int) -> Reading | None:
        """By how much the first span is longer than the second."""
        first, second = self.span(row, row.start, row.start, epoch), self.span(row, row.end, row.end, epoch)
        length, tool = self.length(row), self.tool(row)
        if first is None or second is None or length is None or tool is None:
            return None
        if {first.start, first.end} == {second.start, second.end}:
            self.report(row, "the two spans are one and the same", "Name two spans.", row.end)
            return None
        return self.said(row, tool, _terms(first, 1) + _terms(second, -1), length, length)

    def gang(self, row: Row, epoch: int) -> Reading | None:
        """The sum of several spans, as of equal pieces stacked."""
        spans: list[Span] | None = []
        for text in row.start.split("+"):
            found = self.spans(row, text.strip(), epoch)
            spans = None if spans is None or found is None else spans + found
        length, tool = self.length(row), self.tool(row)
        if spans is None or length is None or tool is None:
            return None
        if len({frozenset((span.start, span.end)) for span in spans}) < len(spans):
            self.report(row, "one span stands in the stack twice", "Name each span once.", row.start)
            return None
        terms = tuple(term for span in spans for term in _terms(span, 1))
        return self.said(row, tool, terms, length, length)

    def said(
        self, row: Row, tool: Tool, terms: tuple[tuple[int, float], ...], value: float, shown: float
    ) -> Reading:
        """The equation that a row comes to."""
        marks = self.assembly.marks
        if len(terms) == 2:
            across = marks[terms[0][0]].part != marks[terms[1][0]].part
        else:
            across = self.moves_with(terms, lambda part: part)
        start, end = row.start, row.end
        if row.event in ("reading", "lean", "rough"):
            start, end = marks[terms[1][0]].name, marks[terms[0][0]].name
        zero_u = 0.0 if row.event in ("compare", "wind") else tool.zero_u_mm  # in a difference it cancels
        return Reading(
            row.no,
            row.event,
            start,
            end,
            tool.name,
            terms,
            value,
            shown,
            self.u_mm(row, tool, shown),
            across,
            zero_u,
            0.0 if row.event == "wind" else tool.scale_u,
            row.reading,
        )

    def moves_with(self, terms: tuple[tuple[int, float], ...], body: Callable[[str], str]) -> bool:
        """Whether the sum changes when bodies shift against each other; `body` of a part names its body."""
        sums: dict[tuple[str, str], float] = defaultdict(float)
        for number, coef in terms:
            mark = self.assembly.marks[number]
            sums[body(mark.part), mark.axis] += coef
        return any(sums.values())

    # -- spans -------------------------------------------------------------------------------

    def spans(self, row: Row, text: str, epoch: int) -> list[Span] | None:
        """The spans that a piece of a gang means: one, or one for each copy with a wildcard."""
        if "*" not in text:
            span = self.span(row, text, row.start, epoch)
            return None if span is None else [span]
        first, dots, second = (piece.strip() for piece in text.partition(".."))
        found = self.lookup.matching(first) if dots else []
        if not found and dots and second:
            self.unknown_mark(row, first, row.start)
            return None
        if not found:
            self.report(row, f"{_quote(text)} means no span of the plan", _SPAN_HINT, row.start, part=text)
            return None
        spans = []
        for start, stars in found:
            name = second
            for star in stars:
                name = name.replace("*", star, 1)
            span = self._span(
                row,
                start,
                self.lookup.beside(start, self.assembly.marks[start].name, name, epoch),
                name,
                row.start,
            )
            if span is None:
                return None
            spans.append(span)
        return spans

    def span(self, row: Row, text: str, cell: str, epoch: int) -> Span | None:
        """The span `a..b`, positive as it lies in the plan."""
        first, dots, second = (piece.strip() for piece in text.partition(".."))
        if not (first and dots and second):
            self.report(row, f"{_quote(text)} is no span", _SPAN_HINT, cell, part=text)
            return None
        start = self.lookup.mark(first, epoch)
        if start is None:
            self.unknown_mark(row, first, cell)
            return None
        return self._span(row, start, self.lookup.beside(start, first, second, epoch), second, cell)

    def _span(self, row: Row, start: int, end: int | None, second: str, cell: str) -> Span | None:
        if end is None:
            begins = self.assembly.marks[start].name.rpartition(".")[0]
            part = self.assembly.marks[start].part
            whole = second if second.startswith(f"{part}.") else f"{part}.{second}"
            self.unknown_mark(row, second, cell, near=self.lookup.near(f"{begins}.{second}"), whole=whole)
            return None
        if not self.one_axis(row, start, end, cell):
            return None
        plan = self.plan_distance(start, end)
        if start == end or (plan is not None and abs(plan) < FLUSH_MM):
            names = f"{self.assembly.marks[start].name} and {self.assembly.marks[end].name}"
            self.report(row, f"{names} lie flush in the plan: that is no span", _SPAN_HINT, cell)
            return None
        return Span(start, end, 1 if plan is None or plan > 0 else -1)


_SPAN_HINT = "A span is two marks some way apart, as part.mark..mark"


def _again(row: Row) -> str:
    """What to do about a row that says nothing, which depends on whether it is written already."""
    return f"Strike the row (fitsolve strike {row.no}), then enter it again." if row.line else "Enter it again."


def _terms(span: Span, times: int) -> tuple[tuple[int, float], ...]:
    """A span as terms: times * sign * (x_end - x_start)."""
    return ((span.end, float(times * span.sign)), (span.start, -float(times * span.sign)))


def _plain(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in (name if len(name) <= 80 else name[:77] + "..."))


def _quote(name: str) -> str:
    return f'"{_plain(name)}"'
