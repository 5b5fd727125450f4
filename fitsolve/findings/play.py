"""Play: how far parts may lie off their plan to each other while their joints are open.

An open joint leaves its parts some room: a housing half its most either way, a butt or a room from
its plan gap to its least or its most, whichever is further. Along one axis the room from part to
part adds up; from one part to another it is that of the tightest way through the joints between.

A reading across parts is held against the plan with this much more allowed (findings/doubts).
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Collection, Sequence

from fitsolve.build.assembly import Assembly, Axis, Contact


def contact_play_mm(assembly: Assembly, contact: Contact) -> float:
    """How far an open contact lets its two parts lie off their plan, mm."""
    if contact.kind == "housing":
        return contact.most_mm / 2
    lower, upper = contact.marks
    gap = assembly.marks[upper].plan_mm - assembly.marks[lower].plan_mm
    return max(contact.most_mm - gap, gap - contact.least_mm, 0.0)


def play_mm(assembly: Assembly, marks: Sequence[int], closed: Collection[int] = ()) -> float:
    """Return how far the parts of some marks may lie off their plan to each other, mm; of a diagonal that along all
    its axes together.

    `closed` are the joints that leave no play. 0 within a part, and where no joint leads along the axis.
    """
    by_axis: dict[Axis, list[int]] = defaultdict(list)
    for mark in marks:
        by_axis[assembly.marks[mark].axis].append(mark)
    return sum(_along(assembly, axis, own, closed) for axis, own in by_axis.items())


def _along(assembly: Assembly, axis: Axis, marks: Sequence[int], closed: Collection[int]) -> float:
    """The same of marks of one axis."""
    parts = list(dict.fromkeys(assembly.marks[mark].part for mark in marks))
    if len(parts) < 2:
        return 0.0
    beside: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for contact in assembly.contacts:
        if contact.axis != axis:
            continue
        one, other = dict.fromkeys(assembly.marks[mark].part for mark in contact.marks)
        is_closed = contact.joint in closed and contact.kind != "room"
        room = 0.0 if is_closed else max(contact_play_mm(assembly, contact), 0.0)
        beside[one].append((other, room))
        beside[other].append((one, room))
    least = _tightest(beside, parts[0])
    return sum(least.get(part, 0.0) for part in parts[1:])


def _tightest(beside: dict[str, list[tuple[str, float]]], start: str) -> dict[str, float]:
    """The play from one part to every other that joints lead to, by the tightest way (Dijkstra)."""
    least: dict[str, float] = {}
    waiting = [(0.0, start)]
    while waiting:
        so_far, part = heapq.heappop(waiting)
        if part in least:
            continue
        least[part] = so_far
        for other, room in beside.get(part, ()):
            if other not in least:
                heapq.heappush(waiting, (so_far + room, other))
    return least
