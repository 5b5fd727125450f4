"""Tags: short names for what a list asks to be read, `w2` for the second of them, and the list's own number.

A list is as old as the log was when it was made. Its number says which rows that were and which
plan, `55-3f2a`: the last row, and a digest of the plan and of the rows up to there. So a list can
be made again from the log, tag by tag, whenever a reading comes back for it; nothing has to be
remembered. Readings that have come in since do not matter. A list is old, and its tags are
refused, when the plan has changed, when rows it stood on have changed or were struck, or when wood
or joints have changed since: trim, remake, open, apart, rename.

    w1, w2, ...   readings wanted
    c1, c2, ...   sizes to be cut, to be read when they are (running figures, part by part)
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import Log, Row, row_number
from fitsolve.light import dataclass, pattern, replace

if TYPE_CHECKING:
    from fitsolve.findings.wanted import WantedReading

_NUMBER = pattern(r"([0-9]{1,9})-([0-9a-f]{4})")
OF_LENGTHS = ("in", "mm", "cm", "m", "ft", "strong", "bare")
"""Words that stand behind a length and are no tool."""
_CHANGES = ("trim", "remake", "open", "apart", "rename")


@dataclass(frozen=True)
class Tagged:
    """Something to be read: mark `start` to mark `end` (numbers), under a tag; `part` empty between parts. A
    diagonal has the `names` of its two points."""

    tag: str
    part: str
    start: int
    end: int
    plan_mm: float | None
    event: str = "reading"
    names: tuple[str, str] = ("", "")

    def ends(self, assembly: Assembly) -> tuple[str, str]:
        """What stands in from and to of its row."""
        marks = assembly.marks
        return self.names if self.names[0] else (marks[self.start].name, marks[self.end].name)


def list_number(assembly: Assembly, log: Log) -> str:
    """Return the number of a list that is made now."""
    return f"{log.highest}-{_digest(assembly, _until(log, log.highest))}"


def log_of_list(assembly: Assembly, log: Log, number: str) -> Log | str:
    """Return the log as it was when that list was made; or in words why its tags no longer count."""
    read = _NUMBER.fullmatch(number.strip().lower())
    if read is None:
        return f'"{number[:40]}" is no number of a list: it is printed at its head, as 55-3f2a'
    last = int(read[1])
    rows = _until(log, last)
    if last > log.highest or _digest(assembly, rows) != read[2]:
        return f"list {read[0]} was made for another plan, or other rows than stand in the log now"
    for row in sorted(log.rows, key=lambda row: row.no):
        if row.no <= last:
            continue
        if row.event in _CHANGES:
            return f"list {read[0]} is old: #{row.no} {row.event} {row.start}".rstrip() + " came after it"
        if row.event == "strike" and row_number(row.start) <= last:
            return f"list {read[0]} is old: #{row.no} struck #{row.start} after it"
    return replace(log, rows=rows)


def tagged(letter: str, pairs: Sequence[tuple[str, int, int, float | None]]) -> tuple[Tagged, ...]:
    """Return a list with tags: part, marks and plan distance of each."""
    return tuple(Tagged(f"{letter}{k}", *pair) for k, pair in enumerate(pairs, 1))


def tagged_wanted(wanted: Sequence[WantedReading]) -> tuple[Tagged, ...]:
    """Return the readings wanted with tags."""
    return tuple(
        Tagged(f"w{k}", one.part, one.start, one.end, one.plan_mm, one.event, one.names)
        for k, one in enumerate(wanted, 1)
    )


def _until(log: Log, last: int) -> tuple[Row, ...]:
    return tuple(row for row in sorted(log.rows, key=lambda row: row.no) if row.no <= last)


def _digest(assembly: Assembly, rows: Sequence[Row]) -> str:
    """Four digits that differ, nearly always, where the plan or the rows do."""
    made = hashlib.sha256()
    for mark in assembly.marks:
        if "@" not in mark.name:  # stations may come from the log alone
            made.update(f"{mark.name} {mark.plan_mm:.4f}\n".encode())
    for joint in assembly.joints:
        made.update(f"{joint.name}\n".encode())
    for row in rows:
        cells = (row.no, row.event, row.start, row.end, row.reading, row.tool, row.note)
        made.update(("\t".join(map(str, cells)) + "\n").encode("utf-8", "replace"))
    return made.hexdigest()[:4]
