"""Laying out: which distances of made wood came of one laying out, and whose size each of them is.

Figures run from one end so that errors do not add up: a mark with a size stands at it, from the mark it
was laid out from, and what is between two such marks is nobody's intent. The farther wall of a housing, or face
of what goes in one, counts from the nearer: one setting cuts both, and their width is truer than where each
of them lands. Stations are cut with their mark and have no size of their own, but for an end that a slope places.

Not here: what a size weighs (graph), what was cut to what (history).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from fitsolve.build.assembly import Assembly
from fitsolve.light import cached_property, dataclass


class LaidFrom:
    """What was laid out from what, kept up as marks are cut and moved."""

    def __init__(self) -> None:
        self.out_of: dict[int, int] = {}
        self.by_row: dict[int, int] = {}
        self._upon: dict[int, set[int]] = defaultdict(set)

    def lay_out(self, marks: Iterable[int], reference: int, no: int) -> None:
        """Marks were cut at a size from a reference, by a row of the log."""
        for mark in marks:
            self.out_of[mark], self.by_row[mark] = reference, no
            self._upon[reference].add(mark)

    def moved(self, reference: int) -> None:
        """A mark was trimmed. What was laid out from where it was stays where it is, and has no size from it now."""
        for mark in self._upon.pop(reference, ()):
            if self.out_of.get(mark) == reference:
                del self.out_of[mark]


@dataclass(frozen=True)
class Laying:
    """What was laid out from what, by mark: `laid_from` of the history."""

    assembly: Assembly
    laid_from: Mapping[int, int]

    def sizes(self) -> Iterator[tuple[int, int]]:
        """Yield every mark with a size of its own, and what it was laid out from."""
        for mark, reference in self.laid_from.items():
            if self.assembly.marks[mark].station_of is None or mark in self.assembly.sloped_ends:
                yield mark, reference

    def whose(self, start: int, end: int) -> tuple[int, ...] | None:
        """The mark whose size the distance between two is; none where both are as drawn; None where it came of no
        one laying out."""
        laid_from = self.laid_from
        for mark, other in ((start, end), (end, start)):
            if laid_from.get(mark) == other or self.nearer.get(mark) == other:
                return (mark,)
        return () if laid_from.get(start) is None and laid_from.get(end) is None else None

    @cached_property
    def nearer(self) -> Mapping[int, int]:
        """For the farther wall of a housing, or face of what goes in, the nearer one, where both were laid out
        from one mark."""
        found, marks = {}, self.assembly.marks
        for contact in self.assembly.contacts:
            if contact.kind != "housing":
                continue
            for pair in (contact.marks[:2], contact.marks[2:]):
                reference = self.laid_from.get(pair[0])
                if reference is not None and reference == self.laid_from.get(pair[1]):
                    at = marks[reference].plan_mm
                    near, far = sorted(pair, key=lambda mark: abs(marks[mark].plan_mm - at))
                    found[far] = near
        return found
