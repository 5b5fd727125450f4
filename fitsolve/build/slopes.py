"""Slopes: two marks of a part that lie on a slanted line, such as the side of a half dovetail.

    slope = name "@" name ".." name "@" name angle [ way ]
    angle = number ":" number  |  number ( "°" | "deg" )         1:8 rises 1 in a run of 8
    way   = "right" | "left" | "back" | "front" | "up" | "down"  from the first mark to the second

A slope `A@P..B@Q r:R` ties four marks over two axes: along its own axis A@P and B@Q, along the
other the marks P and Q that their stations are named after,

    at(B@Q) - at(A@P) = s (at(Q) - at(P)),       s = + or - r / R.

Where the runs give both ends a place, they say which way it slants, and have to agree with it to
half of `finest`. An end without a run is put where the slope leads from the other end; then the
sentence says which way, as the part is drawn. A handed copy that turns one of the two axes around
has the other sign.

Not here: what a slope means for wood (graph).
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.assembly import AXES, Contact, Distance, Lean, Slope
from fitsolve.build.language import Cursor, Misread, Name
from fitsolve.build.locate import Spot
from fitsolve.build.stock import Stock
from fitsolve.build.sums import Rules
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern
from fitsolve.written import write_length

if TYPE_CHECKING:
    from fitsolve.build.plan import Plan

WAYS = {"right": (0, 1), "left": (0, -1), "back": (1, 1), "front": (1, -1), "up": (2, 1), "down": (2, -1)}
"""The words for a way along an axis: the axis, and its sign."""

_TOWARD = (("left", "right"), ("front", "back"), ("down", "up"))
_NUMBER = pattern(r"\d{1,6}(?:\.\d{1,6})?")
_DEGREES = pattern(r"°|degrees?\b|deg\b")
_DENOMINATOR_MOST = 10**6
_FORM = "As in lower@shoulder..lower@end 1:8, or 7°, and where no run tells: 1:8 down."


@dataclass(frozen=True, slots=True)
class SlopeText:
    """A slope as written: `rise` over run is never negative; `way` is the axis and the sign it says."""

    start: Name
    end: Name
    rise: Fraction
    angle: str
    way: tuple[int, int] | None
    way_at: int = 0


@dataclass(slots=True)
class SlopeDraft:
    """A slope of one copy: at(end) - at(start) = ratio (at(run_end) - at(run_start)). `placed` is
    the end that lies where the slope leads, None where both have runs of their own."""

    part: str
    start: int
    end: int
    run_start: int
    run_end: int
    ratio: Fraction
    angle: str
    placed: int | None
    spot: Spot

    def worked_out(self) -> Slope:
        """Return the slope as the assembly has it."""
        run = (self.run_start, self.run_end)
        place = self.spot.place()
        return Slope(self.part, self.start, self.end, *run, float(self.ratio), self.angle, self.placed, place)


def read_slope(text: str, unit: Unit) -> SlopeText:
    """Return a slope as written. Raises Misread."""
    cursor = Cursor(text, unit)
    start = _station(cursor, "a mark and its station")
    if not cursor.literal(".."):
        raise cursor.here('".." was expected here: a slope lies between two marks', _FORM)
    end = _station(cursor, "the second mark and its station")
    rise, angle = _angle(cursor)
    cursor.peek()
    at = cursor.at
    way = next((WAYS[word] for word in WAYS if cursor.word(word)), None)
    if cursor.peek():
        hint = f"Behind the slope may stand which way it goes: {', '.join(WAYS)}."
        raise cursor.here("the end of the slope was expected here", hint)
    return SlopeText(start, end, rise, angle, way, at)


def _station(cursor: Cursor, expected: str) -> Name:
    name = cursor.name(expected)
    if "@" not in name.text:
        hint = "The marks behind the @ give the run: lower@shoulder..lower@end 1:8."
        raise Misread(f"{name.text} has no @: where along the part does it lie?", name.column, name.width, hint)
    return name


def _number(cursor: Cursor) -> Fraction:
    cursor.peek()
    match = _NUMBER.match(cursor.text, cursor.at)
    if match is None:
        raise cursor.here("a slope was expected here, as in 1:8 or 7°", _FORM)
    cursor.at = match.end()
    return Fraction(match.group())


def _angle(cursor: Cursor) -> tuple[Fraction, str]:
    """Rise over run, and the slope as it is said."""
    cursor.peek()
    at = cursor.at
    first = _number(cursor)
    if cursor.literal(":"):
        second = _number(cursor)
        if not (first and second):
            raise Misread("a slope of 0 is none", at, cursor.at - at, "Write the rise and its run, as in 1:8.")
        return first / second, f"{_plain(first)}:{_plain(second)}"
    cursor.peek()
    match = _DEGREES.match(cursor.text, cursor.at)
    if match is None:
        raise cursor.here('":" and the run, or "°", was expected here', "As in 1:8, or 7°.")
    cursor.at = match.end()
    if not 0 < first < 90:
        raise Misread("a slope lies between 0° and 90°", at, cursor.at - at, "Degrees count from the run.")
    tangent = Fraction(math.tan(math.radians(float(first))))
    return tangent.limit_denominator(_DENOMINATOR_MOST), f"{_plain(first)}°"


def _plain(number: Fraction) -> str:
    return f"{float(number):g}"


def read_slopes(plan: Plan, stock: Stock, rules: Rules, problems: list[Problem]) -> list[SlopeDraft]:
    """Return the slopes of all copies, their ends put in place; what is wrong is added to `problems`."""
    drafts: list[SlopeDraft] = []
    for block, table in plan.part.items():
        leaning = _Leaning(stock, rules)
        for k, text in enumerate(table.slopes):
            spot = plan.source.spot(("part", block, "slopes", k), text)
            try:
                slope = read_slope(text, rules.unit)
                parts = [stock.number[name] for name in stock.copies_of(block)]
                found = [leaning.draft(slope, part, spot) for part in parts]
            except Misread as misread:
                if not (misread.silent or block in stock.damaged):
                    problems.append(spot.problem(misread.what, misread.hint, misread.column, misread.width))
                continue
            drafts += found
            problems += leaning.unsaid(slope, found, spot)
    return drafts


class _Leaning:
    """The slopes of one part, one after another: which of its marks have a place already."""

    def __init__(self, stock: Stock, rules: Rules) -> None:
        self.stock, self.rules = stock, rules
        self.placed: set[int] = set()

    def draft(self, slope: SlopeText, part: int, spot: Spot) -> SlopeDraft:
        """One slope of one copy, the end without a place put where the slope leads."""
        stock = self.stock
        start, end = self.ends(part, slope)
        run_start, run_end = self.along(part, slope.start), self.along(part, slope.end)
        self.two_axes(slope, (start, end), (run_start, run_end))
        run = stock.at[run_end] - stock.at[run_start]
        if run == 0:
            what = f"{stock.within(run_start)} and {stock.within(run_end)} lie in one place: there is no run"
            raise Misread(what, slope.start.column, slope.end.column + slope.end.width - slope.start.column)
        has_place = [stock.station_of[mark] is None or mark in self.placed for mark in (start, end)]
        placed = None if all(has_place) else start if has_place[1] else end
        ratio = self.ratio(slope, part, (start, end), run, placed is not None)
        if placed is not None:
            other = start if placed == end else end
            stock.at[placed] = stock.at[other] + ratio * (run if placed == end else -run)
            self.placed.add(placed)
        return SlopeDraft(stock.parts[part], start, end, run_start, run_end, ratio, slope.angle, placed, spot)

    # -- names -------------------------------------------------------------------------------

    def ends(self, part: int, slope: SlopeText) -> tuple[int, int]:
        """The marks of both ends. One of them may stand nowhere else: it is a station of the other."""
        names = (self.names(part, slope.start), self.names(part, slope.end, slope.start))
        start, end = (self.known(candidates) for candidates in names)
        if start is None and end is not None:
            start = self.hung(end, names[0])
        elif end is None and start is not None:
            end = self.hung(start, names[1])
        if start is None:
            raise self.stock.unknown(slope.start, names[0][0])
        if end is None:
            raise self.stock.unknown(slope.end, names[1][0])
        return start, end

    def names(self, part: int, name: Name, first: Name | None = None) -> list[str]:
        """The whole names that one may mean in its part; a second one may stand beside the first."""
        whole = f"{self.stock.parts[part]}."
        found = [whole + name.text]
        if first is not None and "." in first.text.partition("@")[0]:
            found.append(f"{whole}{first.text.partition('@')[0].rpartition('.')[0]}.{name.text}")
        return found

    def known(self, names: list[str]) -> int | None:
        return next((mark for name in names if (mark := self.stock.known(name)) is not None), None)

    def hung(self, there: int, names: list[str]) -> int | None:
        """A station of the same name as `there`, which stands on a run at its own station alone, as a
        new mark that the slope puts in place; None where it has another name."""
        stock = self.stock
        base = stock.name[there].partition("@")[0]
        whole = next((name for name in names if name.partition("@")[0] == base), None)
        if whole is None:
            return None
        root = stock.station_of[there]
        root = there if root is None else root
        return stock.add(whole, stock.part[there], stock.axis[there], stock.at[there], root)

    def along(self, part: int, name: Name) -> int:
        """The mark that a station is named after: of the part, or beside its own mark."""
        whole = f"{self.stock.parts[part]}."
        base, _, station = name.text.partition("@")
        beside = base.rpartition(".")[0]
        for candidate in dict.fromkeys((whole + station, f"{whole}{beside}.{station}" if beside else "")):
            mark = self.stock.known(candidate) if candidate else None
            if mark is not None:
                return mark
        column = name.column + len(base) + 1
        raise self.stock.unknown(Name(station, column), whole + station)

    def two_axes(self, slope: SlopeText, ends: tuple[int, int], run: tuple[int, int]) -> None:
        """Both ends lie along one axis, both marks of the run along one other."""
        stock = self.stock
        width = slope.end.column + slope.end.width - slope.start.column
        if ends[0] == ends[1]:
            raise Misread("a slope has two different ends", slope.start.column, width)
        for pair in (ends, run):
            first, second = (stock.axis[mark] for mark in pair)
            if first != second:
                what = (
                    f"{stock.within(pair[0])} lies along {AXES[first]}, {stock.within(pair[1])} along "
                    f"{AXES[second]}: both ends of a slope, and both marks of its run, lie along one axis"
                )
                raise Misread(what, slope.start.column, width)
        if stock.axis[ends[0]] == stock.axis[run[0]]:
            what = f"{stock.within(run[0])} lies along {AXES[stock.axis[run[0]]]} too: a slope needs two axes"
            hint = "Behind the @ stands a mark along the other axis, where the slope begins or ends."
            raise Misread(what, slope.start.column, width, hint)

    # -- which way ---------------------------------------------------------------------------

    def ratio(
        self, slope: SlopeText, part: int, ends: tuple[int, int], run: Fraction, leads: bool
    ) -> Fraction:
        """Rise over run with its sign, on this copy; `leads` where the slope places one of the ends."""
        stock = self.stock
        axis = stock.axis[ends[0]]
        turned = stock.turned[part]
        rises = self.said(slope, axis)
        if rises is not None and AXES[axis] in turned:
            rises = -rises
        way = 1 if run > 0 else -1
        if not leads:
            return self.as_drawn(slope, ends, run, rises)
        if rises is not None:
            return slope.rise * rises * way
        other = self.run_axis(slope, part)
        flips = (AXES[axis] in turned) != (AXES[other] in turned)
        return -slope.rise if flips else slope.rise

    def run_axis(self, slope: SlopeText, part: int) -> int:
        return self.stock.axis[self.along(part, slope.start)]

    def said(self, slope: SlopeText, axis: int) -> int | None:
        """The sign of the way from the first end to the second that the sentence says, as drawn."""
        if slope.way is None:
            return None
        if slope.way[0] != axis:
            what = f"this slope lies along {AXES[axis]}: it goes {' or '.join(_TOWARD[axis][::-1])}"
            raise Misread(what, slope.way_at, 1, "The way from the first mark to the second, as drawn.")
        return slope.way[1]

    def as_drawn(
        self, slope: SlopeText, ends: tuple[int, int], run: Fraction, rises: int | None
    ) -> Fraction:
        """The slope between two ends that have their places, held against what is written."""
        stock = self.stock
        there = stock.at[ends[1]] - stock.at[ends[0]]
        wanted = slope.rise * abs(run)
        width = slope.end.column + slope.end.width - slope.start.column
        names = f"{stock.within(ends[0])} and {stock.within(ends[1])}"
        if abs(abs(there) - wanted) * 2 >= self.rules.finest:
            what = (
                f"the runs have {names} {self.length(abs(there))} apart; {slope.angle} over "
                f"{self.length(abs(run))} makes {self.length(wanted)}"
            )
            raise Misread(what, slope.start.column, width, "One of them is a misprint: correct it.")
        if rises is not None and rises * there < 0:
            what = f"by their runs {names} go the other way"
            raise Misread(what, slope.way_at, 1, "Take the word out, or correct the runs.")
        return slope.rise if (there > 0) == (run > 0) else -slope.rise

    def length(self, mm: Fraction) -> str:
        return write_length(mm, self.rules.unit, marked=True)

    def unsaid(self, slope: SlopeText, found: list[SlopeDraft], spot: Spot) -> list[Problem]:
        """A notice where neither a run nor a word says which way a slope goes."""
        if slope.way is not None or not found or found[0].placed is None:
            return []
        rise, run = self.stock.axis[found[0].start], self.stock.axis[found[0].run_start]
        left, right = _TOWARD[run]
        what = f"nothing says which way this slope goes: taken as going {_TOWARD[rise][1]} from {left} to {right}"
        hint = f"Say it behind the slope, from the first mark to the second: {' or '.join(_TOWARD[rise][::-1])}."
        return [spot.problem(what, hint, slope.start.column, len(spot.text), "notice")]


def leaning(stock: Stock, slopes: list[SlopeDraft], contacts: tuple[Contact, ...]) -> tuple[Contact, ...]:
    """Return the contacts, those on slopes with how far their marks are from facing each other: a tail
    longer than its lap is deep is wider at its end, and yet fits, for it is narrower where the lap ends."""
    if not slopes:
        return contacts
    lines = _Lines(stock, slopes)
    butts: dict[tuple[int, str], Contact] = {}
    for contact in contacts:
        if contact.kind == "butt":
            butts.setdefault((contact.joint, contact.axis), contact)
    return tuple(
        replace(contact, leans=leans) if any(leans := lines.leans(contact, butts)) else contact
        for contact in contacts
    )


class _Lines:
    """Which slope each mark is on, and the mark along the run where it is."""

    def __init__(self, stock: Stock, slopes: list[SlopeDraft]) -> None:
        self.stock = stock
        self.slope: dict[int, SlopeDraft] = {}
        for draft in slopes:
            self.slope.setdefault(draft.start, draft)
            self.slope.setdefault(draft.end, draft)

    def run(self, mark: int) -> int | None:
        """The mark along the other axis that a station is named after."""
        draft = self.slope.get(mark)
        if draft is not None:
            return draft.run_start if mark == draft.start else draft.run_end
        base, _, station = self.stock.name[mark].partition("@")
        part = self.stock.parts[self.stock.part[mark]]
        return self.stock.index.get(f"{base.rpartition('.')[0]}.{station}", self.stock.index.get(f"{part}.{station}"))

    def leans(
        self, contact: Contact, butts: dict[tuple[int, str], Contact]
    ) -> tuple[Lean | None, ...]:
        """One for each gap."""
        if contact.kind == "housing":
            tongue_low, tongue_high, socket_low, socket_high = contact.marks
            gaps = [(tongue_low, socket_low), (socket_high, tongue_high)]
        else:
            gaps = [(contact.marks[1], contact.marks[0])]
        return tuple(self.lean(contact.joint, *gap, butts) for gap in gaps)

    def lean(
        self, joint: int, upper: int, lower: int, butts: dict[tuple[int, str], Contact]
    ) -> Lean | None:
        draft = self.slope.get(upper, self.slope.get(lower))
        if draft is None:
            return None
        run, part = (self.run(upper), self.run(lower)), self.stock.part
        axis = AXES[self.stock.axis[draft.run_start]]
        butt = butts.get((joint, axis))
        if butt is None or run[0] is None or run[1] is None:
            return None
        if any(AXES[self.stock.axis[mark]] != axis for mark in run if mark is not None):
            return None
        home = butt.marks if part[butt.marks[0]] == part[upper] else butt.marks[::-1]
        if run == home or part[home[0]] != part[upper] or part[home[1]] != part[lower]:
            return None
        return Lean(run[0], home[0], run[1], home[1], float(draft.ratio))


def derived_distances(
    stock: Stock, slopes: list[SlopeDraft], contacts: tuple[Contact, ...]
) -> list[Distance]:
    """Return the distances that no run has and a slope makes, so that they are reported too: a width
    at an end of it, where a joint meets, or else its rise, where an end has no run."""
    if not slopes:
        return []
    ends = {mark: draft for draft in slopes for mark in (draft.start, draft.end)}
    pairs: dict[tuple[int, int], SlopeDraft] = {}
    for contact in contacts:
        if contact.kind == "housing":
            for low, high in (contact.marks[:2], contact.marks[2:]):
                draft = ends.get(low, ends.get(high))
                if draft is not None:
                    pairs.setdefault((low, high), draft)
    shown = {mark for pair in pairs for mark in pair}
    for draft in slopes:
        if draft.placed is not None and draft.placed not in shown:
            pairs.setdefault((draft.start, draft.end), draft)
    known = {frozenset((distance.start, distance.end)) for distance in stock.distances}
    return [
        _derived(stock, pair, draft) for pair, draft in pairs.items() if frozenset(pair) not in known
    ]


def _derived(stock: Stock, pair: tuple[int, int], draft: SlopeDraft) -> Distance:
    start, end = pair
    length = stock.at[end] - stock.at[start]
    return Distance(
        stock.parts[stock.part[start]],
        AXES[stock.axis[start]],
        start,
        end,
        -1 if length < 0 else 1,
        float(abs(length)),
        None,
        place=draft.spot.place(),
        derived=True,
    )
