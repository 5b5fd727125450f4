"""Of one part: whether anything that is about it warns, which is what the status of `sizes --part` says.

    its joints, pegs and seat, and the checks that name it     as of the whole
    why it should not be cut yet                               as `layout` says it (waits)
    a reading that names it, a closed joint of it              not to be believed, or as far from the others as it
    a conflict that names it
    all readings together, the readings of a tool              where it has a reading among them
    a row of the log                                           where it names it, or no part at all
    the plan                                                   for every part

What is wrong elsewhere is told on the page all the same.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitsolve.build.logtext import Log, Row
from fitsolve.errors import Place
from fitsolve.light import pattern
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.waits import demand_marks, wait_texts


def part_is_well(found: Reconciliation, log: Log, part: str) -> bool:
    """Whether nothing that is about a part warns."""
    own = found.of_part(part)
    warned = [problem.place for problem in found.problems if problem.level == "warning"]
    return (
        own.goes_together
        and not any(_doubted(found, part))
        and not any(_at_odds(found, part))
        and not any(part in _parts_named(found, _row_at(log, place)) for place in warned)
        and not wait_texts(found, part)
    )


def _parts_of_rows(found: Reconciliation) -> dict[int, set[str]]:
    """The parts that each row of the log names which says a distance."""
    marks = found.assembly.marks
    named = {one.no: {marks[mark].part for mark, _ in one.terms} for one in found.state.readings}
    return named | {one.no: {marks[mark].part for mark in (one.start, one.end)} for one in found.state.rough}


def _doubted(found: Reconciliation, part: str) -> Iterator[bool]:
    """Of everything that is not believed, whether it is about a part."""
    rows, agreement = _parts_of_rows(found), found.agreement
    for doubt in found.doubts:
        if doubt.suspect:
            yield part in rows.get(doubt.row, {part})
    for one in found.suspicions:
        for who in (one.worst, *one.equals, *one.because):
            if who.kind == "reading":
                yield part in rows.get(who.number, {part})
            elif who.kind == "contact":
                yield part in found.assembly.joints[found.assembly.contacts[who.number].joint].parts
    for bent in found.bent:
        yield part in rows.get(bent.row, {part})
    read_by = {one.tool for one in found.state.readings if part in rows[one.no]}
    yield not agreement.agrees and not found.suspicions and bool(read_by)
    yield any(tool.verdict == "further" and tool.tool in read_by for tool in agreement.tools)


def _at_odds(found: Reconciliation, part: str) -> Iterator[bool]:
    """Of every conflict and of what could not be proven, whether it is about a part."""
    marks = found.assembly.marks
    for one in found.contradictions:
        yield any(marks[mark].part == part for demand in one.demands for mark in demand_marks(found, demand))
    for piece in found.solved.pieces:
        if piece.allocation.status != "optimal":
            yield any(marks[mark].part == part for mark in piece.marks)


def _row_at(log: Log, place: Place) -> Row | None:
    """The row of the log that a problem is about, by its line or its number; None where it is about none."""
    if place.line is not None:
        return next((row for row in log.rows if place.file == log.file and row.line == place.line), None)
    return next((row for row in log.rows if place.key == f"#{row.no}"), None)


def _parts_named(found: Reconciliation, row: Row | None) -> set[str]:
    """The known parts that a row of the log names; all where it names none of them whole."""
    cells = "" if row is None else f"{row.start} {row.end}"
    words = {word.rsplit(".", cut)[0] for word in _APART.split(cells) for cut in range(word.count(".") + 1)}
    return words & set(found.assembly.parts) or set(found.assembly.parts)


_APART = pattern(r"[\s+/]+|\.\.")
