"""A slope as it is written in a plan.

    slope = name "@" name ".." name "@" name angle [ "(" "give" length ")" ] [ way ]
    angle = number ":" number  |  number ( "°" | "deg" )         1:8 rises 1 in a run of 8
    way   = "right" | "left" | "back" | "front" | "up" | "down"  from the first mark to the second

Not here: which marks it means, where they lie (slopes).
"""

from __future__ import annotations

import math
from fractions import Fraction

from fitsolve.build.language import Cursor, Misread, Name, read_conditions
from fitsolve.build.locate import Spot
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern

WAYS = {"right": (0, 1), "left": (0, -1), "back": (1, 1), "front": (1, -1), "up": (2, 1), "down": (2, -1)}
"""The words for a way along an axis: the axis, and its sign."""

TOWARD = (("left", "right"), ("front", "back"), ("down", "up"))
_NUMBER = pattern(r"\d{1,6}(?:\.\d{1,6})?")
_DEGREES = pattern(r"°|degrees?\b|deg\b")
_DENOMINATOR_MOST = 10**6
_NONE = "A face that does not slant needs no slope: leave it out."
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
    give: Fraction | None = None


def read_slope(text: str, unit: Unit) -> SlopeText:
    """Return a slope as written. Raises Misread."""
    cursor = Cursor(text, unit)
    start = _station(cursor, "a mark and its station")
    if not cursor.literal(".."):
        raise cursor.here('".." was expected here: a slope lies between two marks', _FORM)
    end = _station(cursor, "the second mark and its station")
    rise, angle = _angle(cursor)
    give = _give(cursor)
    cursor.peek()
    at = cursor.at
    way = next((WAYS[word] for word in WAYS if cursor.word(word)), None)
    if cursor.peek():
        hint = f"Behind the slope may stand which way it goes: {', '.join(WAYS)}."
        raise cursor.here("the end of the slope was expected here", hint)
    return SlopeText(start, end, rise, angle, way, at, give)


def _give(cursor: Cursor) -> Fraction | None:
    """How far the rise may be off what the angle makes, where that is said."""
    if cursor.peek() != "(":
        return None
    at = cursor.at
    wrong: list[Misread] = []
    conditions = read_conditions(cursor, wrong)
    if wrong:
        raise wrong[0]
    if conditions.finest is not None or conditions.limits is not None:
        hint = "As in 1:8 (give 1/32): without it the slope is cut exactly so."
        raise Misread("a slope has a give, and no other condition", at, cursor.at - at, hint)
    return conditions.give


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
            raise Misread("a slope of 0 is none", at, cursor.at - at, f"{_NONE} Else as in 1:8, rise and run.")
        return first / second, f"{_plain(first)}:{_plain(second)}"
    cursor.peek()
    match = _DEGREES.match(cursor.text, cursor.at)
    if match is None:
        raise cursor.here('":" and the run, or "°", was expected here', "As in 1:8, or 7°.")
    cursor.at = match.end()
    if not 0 < first < 90:
        hint = f"Degrees count from the run.{'' if first else f' {_NONE}'}"
        raise Misread("a slope lies between 0° and 90°", at, cursor.at - at, hint)
    tangent = Fraction(math.tan(math.radians(float(first))))
    return tangent.limit_denominator(_DENOMINATOR_MOST), f"{_plain(first)}°"


def _plain(number: Fraction) -> str:
    return f"{float(number):g}"


def unsaid_way(slope: SlopeText, rise: int, run: int, spot: Spot) -> Problem:
    """Return the notice that nothing says which way a slope goes that rises along one axis over another."""
    left, right = TOWARD[run]
    what = f"nothing says which way this slope goes: taken as going {TOWARD[rise][1]} from {left} to {right}"
    hint = f"Say it behind the slope, from the first mark to the second: {' or '.join(TOWARD[rise][::-1])}."
    return spot.problem(what, hint, slope.start.column, len(spot.text), "notice")
