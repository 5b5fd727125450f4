"""Names as they are said: the part once, numbers of rows in a row, lists with an `and`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from fitsolve.build.assembly import Assembly, Contact, Mark


def inside(mark: Mark) -> str:
    """A mark's name inside its part: `low.cheek-o` of `leg.fl.low.cheek-o`."""
    return mark.name[len(mark.part) + 1 :]


def housed(assembly: Assembly, contact: Contact) -> str:
    """What is housed in what: `leg.fl outer/inner in apron.front l.dado-o/l.dado-i`."""
    low, high, socket_low, socket_high = (assembly.marks[mark] for mark in contact.marks)
    tongue = f"{low.part} {inside(low)}/{inside(high)}"
    return f"{tongue} in {socket_low.part} {inside(socket_low)}/{inside(socket_high)}"


def span_of(assembly: Assembly, start: int, end: int) -> str:
    """Two marks, the part named once: `leg.fl outer..inner`, else `leg.fl.outer..leg.fr.outer`."""
    first, second = assembly.marks[start], assembly.marks[end]
    if first.part == second.part:
        return f"{first.part} {inside(first)}..{inside(second)}"
    return f"{first.name}..{second.name}"


class Asked(Protocol):
    """Something that is asked to be read: two marks, or the two points of a diagonal by their names."""

    @property
    def start(self) -> int:
        """The first mark."""

    @property
    def end(self) -> int:
        """The other."""

    @property
    def names(self) -> tuple[str, str]:
        """The points of a diagonal, else empty."""


def asked(assembly: Assembly, one: Asked) -> str:
    """What is to be read: a span, or `diagonal leg.fl.outer/face to leg.rr.outer/face`."""
    first, second = one.names
    return f"diagonal {first} to {second}" if first else span_of(assembly, one.start, one.end)


def span_named(assembly: Assembly, start: str, end: str) -> str:
    """The same for two names; of a comparison its two spans, `leg.l left..right against leg.r left..right`; a gang and
    points, which are no marks, as they stand."""
    index = assembly.index
    if start in index and end in index:
        return span_of(assembly, index[start], index[end])
    spans = [span.partition("..")[::2] for span in (start, end)]
    if all(first in index and second in index for first, second in spans):
        return " against ".join(span_of(assembly, index[first], index[second]) for first, second in spans)
    return f"{start} to {end}" if end and ".." not in start else f"{start} {end}".strip()


_BEFORE = {"x": "left of", "y": "in front of", "z": "below"}


def lies_text(assembly: Assembly, start: int, end: int, apart_mm: float) -> str:
    """Which way two marks lie, by what the second is from the first along the axis, mm: `chop.low below leg.foot`;
    empty where they lie in one place."""
    if not apart_mm:
        return ""
    first, second = (start, end) if apart_mm > 0 else (end, start)
    return f"{assembly.marks[first].name} {_BEFORE[assembly.marks[first].axis]} {assembly.marks[second].name}"


def words_of(names: Sequence[str]) -> str:
    """Names in a sentence: `a, b and c`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def rows_listed(rows: Sequence[int], most: int = 8) -> str:
    """Rows of the log: `#5, #6 and #9`; where they are many, how many more there are."""
    if len(rows) > most:
        return f"{', '.join(f'#{row}' for row in rows[:most])} and {len(rows) - most} more"
    return words_of([f"#{row}" for row in rows])


def counted(count: int, one: str, many: str = "") -> str:
    """A number of things: `1 joint`, `12 joints`."""
    return f"{count} {one if count == 1 else many or one + 's'}"
