"""Missing: the readings without which a check comes to no number, by name.

    spans, plumb      each span that nothing fixes
    taper, twist      each side, each edge's lean, that no reading settles
    rack              each of the two diagonals that was not read; where both were, the sides
    wind, level, rock four heights by sticks, else each mark that nothing ties to the first

Only of wood that is made: of what is still to be cut nothing can be read.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitsolve.build.assembly import Rule
from fitsolve.build.history import MarkState
from fitsolve.build.points import point_name
from fitsolve.findings.solved import Solved
from fitsolve.findings.values import MissingReading

Pair = tuple[int, int]


def missing_readings(solved: Solved, check: Rule) -> tuple[MissingReading, ...]:
    """Return what would have to be read for a check to come to a number; nothing where it is not all made."""
    if any(solved.state.marks[mark] != MarkState.MADE for mark in check.every_mark):
        return ()
    return tuple(dict.fromkeys(_missing(solved, check)))


def _missing(solved: Solved, check: Rule) -> Iterator[MissingReading]:
    marks = () if check.frame is None else check.frame.marks
    by_reading = check.frame is not None and check.frame.read
    if check.kind == "rack":
        yield from _diagonals(solved, marks)
        return
    if check.kind in ("wind", "level", "rock"):
        if len(marks) == 4 and check.kind == "wind":
            a, b, c, d = (solved.assembly.marks[mark].name for mark in marks)
            yield MissingReading("wind", f"{a} + {b}", f"{c} + {d}")
            return
        yield from _loose(solved, [(marks[0], mark) for mark in check.every_mark[1:]], "reading", by_reading)
        return
    if check.frame is None:
        event = "lean" if check.kind == "plumb" else "reading"
        yield from _loose(solved, [(span.start, span.end) for span in check.spans], event, by_reading)
    elif check.kind == "taper":
        yield from _loose(solved, sides(marks), "reading", by_reading)
    else:
        yield from _loose(solved, list(zip(marks[:8], marks[8:], strict=True)), "lean", by_reading)


def sides(marks: tuple[int, ...]) -> list[Pair]:
    """Return the four sides of a frame by its corners' marks: front and rear, left and right."""
    fl, fr, rl, rr = marks[:4]
    left_front, right_front, left_rear, right_rear = marks[4:8]
    return [(fl, fr), (rl, rr), (left_front, left_rear), (right_front, right_rear)]


def _diagonals(solved: Solved, marks: tuple[int, ...]) -> Iterator[MissingReading]:
    read = {frozenset(mark for mark, _ in one.terms) for one in solved.state.readings if one.event == "diagonal"}
    unread = False
    for start, end in ((0, 3), (1, 2)):
        first, second = (marks[start], marks[start + 4]), (marks[end], marks[end + 4])
        if frozenset((*first, *second)) not in read:
            unread = True
            names = (point_name(solved.assembly, point) for point in (first, second))
            yield MissingReading("diagonal", *names)
    if not unread:
        yield from _loose(solved, sides(marks), "reading", True)


def _loose(solved: Solved, pairs: list[Pair], event: str, by_reading: bool) -> Iterator[MissingReading]:
    """The pairs of marks whose distance nothing fixes; or no reading, where only readings count."""
    names = solved.assembly.marks
    for start, end in pairs:
        terms = [(end, 1.0), (start, -1.0)]
        piece = solved.piece(terms)
        if piece is not None:
            freedom = piece.read if by_reading else piece.allocation.staged.freedom
            if freedom.settled(solved.inside(terms)):
                continue
        yield MissingReading(event, names[start].name, names[end].name)
