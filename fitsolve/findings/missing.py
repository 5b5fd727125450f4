"""Missing: the readings without which a check comes to no number, by name.

    spans, plumb      each span that nothing fixes
    taper, twist      each side, each edge's lean, that no reading settles
    rack              each of the two diagonals that was not read; where both were, the sides
    wind, level, rock four heights by sticks, else each mark that nothing ties to the first

Only of wood that is made: of what is still to be cut nothing can be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from fitsolve.build.assembly import Assembly, Rule
from fitsolve.build.history import MarkState, State
from fitsolve.build.points import point_name
from fitsolve.findings.solved import Solved, Terms
from fitsolve.findings.values import MissingReading
from fitsolve.light import dataclass

Pair = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Known:
    """What is known: `settled(terms, by_reading)` says whether something fixes a sum; where `by_reading`,
    whether readings do."""

    assembly: Assembly
    state: State
    settled: Callable[[Terms, bool], bool]


def missing_readings(solved: Solved, check: Rule) -> tuple[MissingReading, ...]:
    """Return what would have to be read for a check to come to a number; nothing where it is not all made."""

    def settled(terms: Terms, by_reading: bool) -> bool:
        piece = solved.piece(terms)
        if piece is None:
            return False
        freedom = piece.read if by_reading else piece.allocation.staged.freedom
        return freedom.settled(solved.inside(terms))

    return missing_of(Known(solved.assembly, solved.state, settled), check)


def missing_of(known: Known, check: Rule) -> tuple[MissingReading, ...]:
    """Return the same by what is known."""
    if any(known.state.marks[mark] != MarkState.MADE for mark in check.every_mark):
        return ()
    return tuple(dict.fromkeys(_missing(known, check)))


def _missing(known: Known, check: Rule) -> Iterator[MissingReading]:
    marks = () if check.frame is None else check.frame.marks
    by_reading = check.frame is not None and check.frame.read
    if check.kind == "rack":
        yield from _diagonals(known, marks)
        return
    if check.kind in ("wind", "level", "rock"):
        if len(marks) == 4 and check.kind == "wind":
            a, b, c, d = (known.assembly.marks[mark].name for mark in marks)
            yield MissingReading("wind", f"{a} + {b}", f"{c} + {d}")
            return
        yield from _loose(known, [(marks[0], mark) for mark in check.every_mark[1:]], "reading", by_reading)
        return
    if check.frame is None:
        event = "lean" if check.kind == "plumb" else "reading"
        yield from _loose(known, [(span.start, span.end) for span in check.spans], event, by_reading)
    elif check.kind == "taper":
        yield from _loose(known, sides(marks), "reading", by_reading)
    else:
        yield from _loose(known, list(zip(marks[:8], marks[8:], strict=True)), "lean", by_reading)


def sides(marks: tuple[int, ...]) -> list[Pair]:
    """Return the four sides of a frame by its corners' marks: front and rear, left and right."""
    fl, fr, rl, rr = marks[:4]
    left_front, right_front, left_rear, right_rear = marks[4:8]
    return [(fl, fr), (rl, rr), (left_front, left_rear), (right_front, right_rear)]


def _diagonals(known: Known, marks: tuple[int, ...]) -> Iterator[MissingReading]:
    unread = diagonals_unread(known.state, marks)
    for points in unread:
        first, second = (point_name(known.assembly, point) for point in points)
        yield MissingReading("diagonal", first, second)
    if not unread:
        yield from _loose(known, sides(marks), "reading", True)


def diagonals_unread(state: State, marks: tuple[int, ...]) -> list[tuple[Pair, Pair]]:
    """Return the diagonals of a square that were not read, each by its two corners."""
    read = {frozenset(mark for mark, _ in one.terms) for one in state.readings if one.event == "diagonal"}
    both = [((marks[a], marks[a + 4]), (marks[b], marks[b + 4])) for a, b in ((0, 3), (1, 2))]
    return [(first, second) for first, second in both if frozenset((*first, *second)) not in read]


def _loose(known: Known, pairs: list[Pair], event: str, by_reading: bool) -> Iterator[MissingReading]:
    """The pairs of marks whose distance nothing fixes; or no reading, where only readings count."""
    names = known.assembly.marks
    for start, end in pairs:
        if not known.settled([(end, 1.0), (start, -1.0)], by_reading):
            yield MissingReading(event, names[start].name, names[end].name)
