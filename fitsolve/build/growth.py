"""Growth: wood comes off and is not put back, so what a mark is taken to be is held against what it was.

A rough mark is at most b from another: s (x_end - x_start) <= b. Once both are made they are taken
at plan (or at a size that was said) until they are read. Where that is beyond b, the one that was
made last, of two made together the one further from the reference end, stays where it was.

A mark that is trimmed moves into its wood. Where it lay beyond its plan already, the plan is not
where it is now: it stays where it was. The wood lies

    of an end of the part   inward            of a housing's tongue   between its two marks
    of a butt or a room     in its own part   of a housing's socket   outside its two marks

Where that does not tell, or tells both, nothing is said.

What was so corrected, and a size that is more than there was, is a warning with both numbers,
until a reading settles the distance.

Not here: what becomes of the history otherwise (history).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import Row
from fitsolve.build.readings import Reading, RoughBound
from fitsolve.build.reference import reference_ends
from fitsolve.light import dataclass
from fitsolve.written import write_decimal, write_length

LEAST_MM = 1e-6
"""Wood that grows by less than this is rounding."""


Before = tuple[int | None, float, float, int]
"""Where a mark was: from which other mark, its place less plan, how surely, by which row of the log."""


@dataclass(frozen=True)
class Grown:
    """What would have grown: by row `row` the distance start to end would be `would_mm`, and was
    `was_mm` (by log row `no`, 0 for a size that was said); `kept` where it is taken as it was.
    `cut_to_mm` is where `mark` was put."""

    row: Row
    mark: int
    start: int
    end: int
    was_mm: float
    would_mm: float
    no: int
    kept: bool
    cut_to_mm: float


class Growth:
    """Watches what marks are cut to. `cut_to` (by mark, less its plan position) is the history's own."""

    def __init__(self, assembly: Assembly, cut_to: Sequence[float]) -> None:
        self.assembly = assembly
        self.cut_to = cut_to
        self.grown: list[Grown] = []
        self._ways: dict[int, int] | None = None

    def place(self, mark: int, cut_to_mm: float | None = None) -> float:
        """Where a mark was cut to, mm along the axis."""
        off = self.cut_to[mark] if cut_to_mm is None else cut_to_mm
        return self.assembly.marks[mark].plan_mm + off

    def in_order(self, marks: Iterable[int]) -> list[int]:
        """Marks in the order they are laid out in: the nearest to the reference end first."""
        at, ends = self.assembly.marks, reference_ends(self.assembly)
        return sorted(marks, key=lambda m: abs(at[m].plan_mm - at[ends[at[m].part, at[m].axis]].plan_mm))

    def within(self, row: Row, mark: int, bound: RoughBound, *, sized: bool, told: bool) -> float:
        """Return where a mark is cut to, less its plan, so that a distance is no longer than it was rough.

        A size that was said stands; it is noted all the same. Of what the row tells something itself nothing is noted.
        """
        way = bound.sign if mark == bound.end else -bound.sign
        excess = bound.sign * (self.place(bound.end) - self.place(bound.start)) - bound.most_mm
        if excess <= LEAST_MM:
            return self.cut_to[mark]
        would = bound.most_mm + excess
        stays = self.cut_to[mark] - (0.0 if sized else way * excess)
        if excess > 2 * bound.u_mm and not told:
            said = (row, mark, bound.start, bound.end, bound.most_mm, would, bound.no, not sized, stays)
            self.grown.append(Grown(*said))
        return stays

    def trimmed(self, row: Row, mark: int, before: Sequence[Reading | RoughBound], size_mm: float | None) -> float:
        """Return where a trimmed mark is cut to, less its plan: where the row says, else at its plan, but
        not out of its wood from where it was. `before` are the rows that said where, the last one last.

        `size_mm` is where the row says it was cut to, less its plan.
        """
        wanted = 0.0 if size_mm is None else size_mm
        way = self.wood_way(mark)
        other, was, u_mm, no = self._before(mark, before)
        excess = way * (was - wanted)
        if excess <= LEAST_MM:
            return wanted
        stays = was if size_mm is None else wanted
        if excess > 2 * u_mm and other is not None:
            there = self.place(other)
            was_mm, would_mm = (abs(self.place(mark, off) - there) for off in (was, wanted))
            said = (row, mark, other, mark, was_mm, would_mm, no, size_mm is None, stays)
            self.grown.append(Grown(*said))
        return stays

    def _before(self, mark: int, rows: Sequence[Reading | RoughBound]) -> Before:
        """Where a mark was by the rows before: as last read, else as far in its wood as anything says."""
        found = [one for said in rows if (one := self._told(mark, said)) is not None]
        read = [one for one, rough in found if not rough]
        if read:
            return read[-1]
        least = [one for one, _ in found]
        if self.cut_to[mark] != 0.0:
            least.append((self._reference(mark), self.cut_to[mark], 0.0, 0))
        way = self.wood_way(mark)
        return max(least, key=lambda one: way * one[1], default=(None, 0.0, 0.0, 0))

    def _told(self, mark: int, said: Reading | RoughBound) -> tuple[Before, bool] | None:
        """Where a row says that a mark is, and whether that is only the most it can be."""
        if isinstance(said, RoughBound):
            start, end, value = said.start, said.end, said.sign * said.most_mm
        elif said.across or len(said.terms) != 2:
            return None
        else:
            (end, _), (start, _) = said.terms
            value = said.value_mm
        if mark not in (start, end):  # it was read at a station of it
            return None
        other = start if mark == end else end
        at = self.place(other) + (value if mark == end else -value)
        before = (other, at - self.assembly.marks[mark].plan_mm, said.u_mm, said.no)
        return before, isinstance(said, RoughBound)

    def _reference(self, mark: int) -> int | None:
        """The reference end of a mark; None for the end itself."""
        one = self.assembly.marks[mark]
        end = reference_ends(self.assembly)[one.part, one.axis]
        return None if end == mark else end

    def wood_way(self, mark: int) -> int:
        """The way the wood of a mark lies along its axis, +1 or -1; 0 where nothing tells."""
        if self._ways is None:
            self._ways = wood_ways(self.assembly)
        base = self.assembly.marks[mark].station_of
        return self._ways.get(mark if base is None else base, 0)

    # -- in words ------------------------------------------------------------------------------

    def say(self, settled: Iterable[frozenset[int]], report: Callable[..., None]) -> None:
        """Report what would have grown, where no reading (of one of the pairs settled) tells by now, and
        the mark is where it was put."""
        known = set(settled)
        for one in self.grown:
            if frozenset((one.start, one.end)) not in known and self.cut_to[one.mark] == one.cut_to_mm:
                what, hint = self._words(one)
                report(one.row, what, hint, level="warning")

    def _words(self, one: Grown) -> tuple[str, str]:
        unit = self.assembly.unit
        marks = self.assembly.marks
        part = marks[one.start].part
        cut = len(part) + 1
        name = f"{part} {marks[one.start].name[cut:]}..{marks[one.end].name[cut:]}"
        was, would = (write_length(mm, unit) for mm in (one.was_mm, one.would_mm))
        more = write_decimal(abs(one.would_mm - one.was_mm), unit, 3 if unit == "in" else 2)
        from_row = f" (#{one.no})" if one.no else ""
        size = "would be" if one.kept else "is"
        what = f"{name} was {was}{from_row} and {size} {would} now, {more} {unit} more: wood does not grow"
        if one.kept:
            mark = marks[one.mark].name
            hint = f"It is taken as {was} still. Read it, or say its size: fitsolve {one.row.event} {mark} SIZE"
            return what, hint.replace("fitsolve close", "fitsolve made")
        rows = f"#{one.no} or #{one.row.no}" if one.no else f"#{one.row.no} or an earlier size"
        return what, f"One of {rows} is wrong: strike it, or read the piece."


def wood_ways(assembly: Assembly) -> dict[int, int]:
    """Return for each mark (no station) whose wood plainly lies one way along the axis that way, +1 or -1."""
    said: dict[int, set[int]] = {}

    def say(*marks: tuple[int, int]) -> None:
        for mark, way in marks:
            base = assembly.marks[mark].station_of
            said.setdefault(mark if base is None else base, set()).add(way)

    for contact in assembly.contacts:
        if contact.kind == "housing":
            tongue_low, tongue_high, socket_low, socket_high = contact.marks
            say((tongue_low, 1), (tongue_high, -1), (socket_low, -1), (socket_high, 1))
        else:
            lower, upper = contact.marks
            say((lower, -1), (upper, 1))
    for low, high in assembly.outer_ends.values():
        if assembly.marks[high].plan_mm - assembly.marks[low].plan_mm > LEAST_MM:
            say((low, 1), (high, -1))
    return {mark: way for mark, ways in said.items() if len(ways) == 1 for way in ways}
