"""Diagonals: a reading between two points, as an equation (see points)."""

from __future__ import annotations

from fitsolve.build.logtext import Row
from fitsolve.build.points import NoPoint, direction, point_name, read_point
from fitsolve.build.readings import Reading, RowReader
from fitsolve.light import replace

_AWAY = "Name two points some way apart."


def read_diagonal(reader: RowReader, row: Row, epoch: int) -> Reading | None:
    """A distance between two points on two axes or three."""
    first, second = _point(reader, row, row.start, epoch), _point(reader, row, row.end, epoch)
    length, tool = reader.length(row), reader.tool(row)
    if first is None or second is None or length is None or tool is None:
        return None
    if first.keys() != second.keys():
        what = f"{row.start} lies along {' and '.join(first)}, {row.end} along {' and '.join(second)}"
        reader.report(row, what, "A diagonal lies between two points on the same axes.", row.end)
        return None
    ends = [(first[axis], second[axis]) for axis in first if first[axis] != second[axis]]
    if not ends:
        reader.report(row, "from and to are one and the same point", _AWAY, row.end)
        return None
    if length == 0:
        reader.report(row, "a diagonal has a length", f"Strike the row (fitsolve strike {row.no}).", row.reading)
        return None
    try:
        terms = direction(reader.assembly, ends, length)
    except NoPoint as wrong:
        reader.report(row, wrong.what, wrong.hint, row.end)
        return None
    said = reader.said(row, tool, terms, length, length)
    start, end = (point_name(reader.assembly, tuple(point.values())) for point in (first, second))
    return replace(said, start=start, end=end)


def _point(reader: RowReader, row: Row, cell: str, epoch: int) -> dict[str, int] | None:
    """The marks of a point by axis, or None where the cell names none."""
    try:
        return read_point(reader.lookup, cell, epoch)
    except NoPoint as wrong:
        if wrong.unknown:
            reader.unknown_mark(row, wrong.name, cell)
        else:
            reader.report(row, wrong.what, wrong.hint, cell, part=wrong.name)
        return None
