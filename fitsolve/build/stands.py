"""Stands: where the marks of a frame stand along the axes they do not lie along.

`leg.fl.head` is a height. Where it stands is told by its part: in the middle of the part along x and
along y, or, named at a station (`apron.front.top@l.dado`), in the middle of the marks of that name; where
none has it, of those that a word of it names (`top.over@left.front`, at a corner of a board). The
plan has to tie the parts along both axes. Where it does not tie them along one, but all are copies of
one part, those that are handed along it stand on its other side (how far apart is then all one: no number
here depends on it), and stations of copies that are not handed lie as high up as drawn. Else it is an
error that says so.

What a frame stands on, where a check does not say, are the lowest marks of what the plan ties to its
marks along z, to within the finest line.

Not here: names and sentences (framing), what it comes to (standing).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction

from fitsolve.build.assembly import AXES, Frame
from fitsolve.build.rules import RuleDraft
from fitsolve.build.standing import spread
from fitsolve.build.stock import Stock, named_by
from fitsolve.errors import Problem
from fitsolve.light import dataclass

_NAMED_MOST = 4


@dataclass(frozen=True, slots=True)
class Ground:
    """The parts put down. `at` and `group` (a mark's place and placed group) run over marks; `middle_at`
    is the middle of a part along an axis and its group, None where it has no marks along it."""

    stock: Stock
    at: Sequence[Fraction]
    group: Callable[[int], int]
    middle_at: Callable[[int, int], tuple[Fraction, int] | None]
    finest: Fraction


def stood_up(ground: Ground, draft: RuleDraft, problems: list[Problem]) -> Frame | None:
    """Return the marks of a check and where they stand; None, with `problems`, where nothing tells."""
    frame = draft.frame
    assert frame is not None, "asked for only of a check of the frame"
    if frame.corners:
        return _cornered(ground, draft, problems)
    marks, base = list(frame.marks), frame.base
    before = len(problems)
    if draft.kind == "level":
        base = feet(ground, marks) if base is None else base
        if set(marks) & set(base):
            names = _names(ground.stock, [mark for mark in marks if mark in base])
            what = f"the frame stands on {names}: what is level is measured from that"
            hint = "Name other marks, say what they stand over (over leg.*.foot), or write rock."
            problems.append(draft.spot.problem(what, hint, *frame.columns))
            return None
    base = base or []
    places = _places(ground, draft, [*marks, *base], problems)
    if len(problems) > before:
        return None
    own, under = places[: len(marks)], places[len(marks) :]
    if draft.kind in ("wind", "rock") and spread(own) < 2:
        what = f"{_names(ground.stock, marks)} stand in one line: out of it nothing is in wind, and nothing rocks"
        hint = "Name marks at three corners or more; or compare them with flush with."
        problems.append(draft.spot.problem(what, hint, *frame.columns))
        return None
    return Frame(tuple(marks), own, tuple(base), under)


def _cornered(ground: Ground, draft: RuleDraft, problems: list[Problem]) -> Frame | None:
    """The marks of the corners of a square in their order: front left, front right, rear left, rear right."""
    frame, stock = draft.frame, ground.stock
    assert frame is not None, "asked for only of a check of the frame"
    before = len(problems)
    axes = [stock.axis[mark] for mark in frame.corners[0][0]]
    along = [
        _sides(ground, draft, [corner[k] for corner in frame.corners[0]], axes[k], problems) for k in range(2)
    ]
    if len(problems) > before:
        return None
    at = list(zip(*along, strict=True))
    rows = sorted(range(4), key=lambda k: (at[k][1], at[k][0]))
    order = [*sorted(rows[:2], key=lambda k: at[k][0]), *sorted(rows[2:], key=lambda k: at[k][0])]
    if at[order[0]][0] == at[order[1]][0] or at[order[2]][0] == at[order[3]][0] or spread(at) < 2:
        what = "these corners do not lie two by two across from each other in the plan"
        problems.append(draft.spot.problem(what, "Name the four corners of one frame.", *frame.columns))
        return None
    if draft.kind == "wind":
        return Frame(tuple(frame.marks[k] for k in order), tuple(at[k] for k in order))
    marks = [corners[k][axis] for corners in frame.corners for axis in range(2) for k in order]
    return Frame(tuple(marks), tuple(at[k] for k in order), read=True)


def _sides(ground: Ground, draft: RuleDraft, marks: list[int], axis: int, problems: list[Problem]) -> list[float]:
    """Where marks lie along their own axis; on two sides where the plan ties them not, but hands them."""
    stock = ground.stock
    if len({ground.group(mark) for mark in marks}) == 1:
        return [float(ground.at[mark]) for mark in marks]
    sides = [AXES[axis] in stock.turned[stock.part[mark]] for mark in marks]
    if len({stock.block_of[stock.part[mark]] for mark in marks}) == 1 and len(set(sides)) == 2:
        return [float(side) for side in sides]
    parts = list(dict.fromkeys(stock.parts[stock.part[mark]] for mark in marks))
    problems.append(_untied(draft, parts, axis))
    return [0.0] * len(marks)


def _untied(draft: RuleDraft, parts: list[str], axis: int) -> Problem:
    what = f"nothing ties {_listed(parts)} along {AXES[axis]}, so the plan does not say how they stand"
    hint = f"Tie them along {AXES[axis]} by joints, or draw them as handed copies."
    column, width = draft.frame.columns if draft.frame else (0, 1)
    return draft.spot.problem(what, hint, column, width)


def feet(ground: Ground, marks: list[int]) -> list[int]:
    """Return the lowest marks, one a part, of what the plan ties to these along z."""
    stock = ground.stock
    groups = {ground.group(mark) for mark in marks}
    lowest: dict[int, dict[int, int]] = {}
    for mark in range(len(stock.name)):
        group = ground.group(mark)
        if stock.axis[mark] == 2 and stock.station_of[mark] is None and group in groups:
            of_part = lowest.setdefault(group, {})
            own = of_part.setdefault(stock.part[mark], mark)
            if ground.at[mark] < ground.at[own]:
                of_part[stock.part[mark]] = mark
    found: list[int] = []
    for of_part in lowest.values():
        floor = min(ground.at[mark] for mark in of_part.values())
        found += [mark for mark in of_part.values() if ground.at[mark] <= floor + ground.finest]
    return found


def _places(
    ground: Ground, draft: RuleDraft, marks: list[int], problems: list[Problem]
) -> tuple[tuple[float, float], ...]:
    """Where marks stand along the two axes they do not lie along."""
    axes = [axis for axis in range(3) if axis != ground.stock.axis[marks[0]]]
    along = [_along(ground, draft, marks, axis, problems) for axis in axes]
    return tuple(zip(*along, strict=True))


def _along(ground: Ground, draft: RuleDraft, marks: list[int], axis: int, problems: list[Problem]) -> list[float]:
    """Where marks stand along one axis, in mm."""
    stock = ground.stock
    found = [_one(ground, mark, axis) for mark in marks]
    groups = {None if one is None else one[1] for one in found}
    if len(groups) == 1 and None not in groups:
        return [float(one[0]) for one in found if one is not None]
    sides = [AXES[axis] in stock.turned[stock.part[mark]] for mark in marks]
    blocks = {stock.block_of[stock.part[mark]] for mark in marks}
    if len(blocks) == 1 and len(set(sides)) == 2:
        return [float(side) for side in sides]
    if len(blocks) == 1 and None not in groups:
        own = [_over_middle(ground, mark, axis) for mark in marks]
        if len(set(own)) > 1:
            return own
    parts = list(dict.fromkeys(stock.parts[stock.part[mark]] for mark in marks))
    lacking = [part for part, one in zip((stock.part[mark] for mark in marks), found, strict=True) if one is None]
    if not lacking:
        problems.append(_untied(draft, parts, axis))
    else:
        what = f"{stock.parts[lacking[0]]} has no marks along {AXES[axis]}: where does it stand?"
        hint = f"Give it a run along {AXES[axis]}, and joints that tie it to the others."
        column, width = draft.frame.columns if draft.frame else (0, 1)
        problems.append(draft.spot.problem(what, hint, column, width))
    return [0.0] * len(marks)


def _one(ground: Ground, mark: int, axis: int) -> tuple[Fraction, int] | None:
    """Where a mark stands along another axis, and the group it stands in: at its station, else the middle."""
    stock = ground.stock
    part, station = stock.part[mark], stock.name[mark].partition("@")[2]
    named: list[int] = []
    for word in (station, *station.split(".")) if station else ():
        own = (one for one in stock.members[part] if stock.axis[one] == axis and "@" not in stock.name[one])
        named = named or [one for one in own if named_by((stock.within(one),), word)]
    if not named:
        return ground.middle_at(part, axis)
    return sum((ground.at[one] for one in named), Fraction(0)) / len(named), ground.group(named[0])


def _over_middle(ground: Ground, mark: int, axis: int) -> float:
    """How far along an axis a mark stands from the middle of its own part."""
    one, middle = _one(ground, mark, axis), ground.middle_at(ground.stock.part[mark], axis)
    assert one is not None, "asked for only where the part has marks along the axis"
    assert middle is not None, "the part has marks along the axis"
    return float(one[0] - middle[0])


def _names(stock: Stock, marks: Sequence[int]) -> str:
    return _listed([stock.name[mark] for mark in marks])


def _listed(names: Sequence[str]) -> str:
    more = len(names) - _NAMED_MOST
    return ", ".join(names[:_NAMED_MOST]) + (f" and {more} more" if more > 0 else "")
