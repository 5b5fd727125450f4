"""Wind by sticks: four marks, two under each stick, and what the sticks stand open (see hand)."""

from __future__ import annotations

import math

from fitsolve.build.hand import sticks
from fitsolve.build.logtext import Row
from fitsolve.build.readings import FLUSH_MM, OTHER_SIDE, PROUD, Reading, RowReader


def read_wind(reader: RowReader, row: Row, epoch: int) -> Reading | None:
    """What two sticks, each across two marks, stand open at the end of the far one, as an equation."""
    near, far = _across(reader, row, row.start, epoch), _across(reader, row, row.end, epoch)
    length, tool = reader.length(row), reader.tool(row)
    said = sticks(row.note, reader.assembly.unit)
    missing = [what for what in ("stick", "width") if what not in said]
    if missing:
        what = f"the note does not say the {' and the '.join(missing)}"
        reader.report(row, what, "As in: proud leg.fl.head, stick 24, width 18 1/2", row.note)
    if near is None or far is None or length is None or tool is None or missing:
        return None
    if len({*near, *far}) < 4:
        reader.report(row, "one mark lies under both sticks", "Name four marks.", row.end)
        return None
    if not reader.one_axis(row, near[0], far[0], row.end):
        return None
    times = said["stick"] / said["width"]
    terms = tuple((mark, way * times) for mark, way in zip((*near, *far), (1.0, -1.0, -1.0, 1.0), strict=True))
    sign = 1.0 if length == 0 else _sign(reader, row, dict(terms), epoch)
    return None if sign is None else reader.said(row, tool, terms, sign * length, length)


def _across(reader: RowReader, row: Row, cell: str, epoch: int) -> tuple[int, int] | None:
    """The two marks under a stick: along one axis, and level in the plan unless that does not tie them."""
    names = [name.strip() for name in cell.split("+")]
    if len(names) != 2:
        reader.report(row, "a stick lies across two marks", "Name them with a + between.", cell)
        return None
    first, second = (reader.mark(row, name, epoch) for name in names)
    if first is None or second is None or not reader.one_axis(row, first, second, cell):
        return None
    plan = reader.plan_distance(first, second)
    if first == second or abs(plan or 0.0) >= FLUSH_MM:
        what = f"{names[0]} and {names[1]} do not lie level in the plan"
        reader.report(row, what, "A stick lies across two marks of one height.", cell)
        return None
    return first, second


def _sign(reader: RowReader, row: Row, coefs: dict[int, float], epoch: int) -> float | None:
    """s of the row: that of the mark said to stand proud of the plane of the other three."""
    proud, marks = PROUD.match(row.note), reader.assembly.marks
    name = reader.lookup.current(proud.group(1).rstrip(",;:."), epoch) if proud else ""
    which = [mark for mark in coefs if name in (marks[mark].name, marks[mark].part)]
    if len(which) != 1 or not marks[which[0]].outward:
        what = "which of the four corners stands proud of the others?"
        reader.report(row, what, OTHER_SIDE.format(name=marks[next(iter(coefs))].name), row.note)
        return None
    return math.copysign(1.0, coefs[which[0]] * marks[which[0]].outward)
