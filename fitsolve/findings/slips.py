"""Slips: what a reading that is far off looks like.

Slips of the hand are not noise. Each kind has a shape: a reading r that should have been about v
is off by just so much, or says v in other digits. What a reading looks like is offered, never
applied; several kinds may fit, the likeliest stands first.

    held      a tape held at its 1 (1 in) or 10 (10 or 100 mm) instead of its end: r - v = that
    whole     a whole inch misread on a caliper, which nobody holds at its 1
    unit      one unit taken for the other: r = 25.4 v, or v / 25.4
    ten       ten times too much or too little: the point misplaced, a nought left out, cm for mm
    digits    two digits next to each other swapped, of those that were written: 42 for 24; of a
              fraction those above the line, 13/32 for 31/32: what is below it is printed on the rule
    fraction  sixteenths for thirty-seconds or the like: the fraction of r twice or half that of v
    jaws      the wrong jaws of a caliper: the inside jaws are 10 mm wide together where they are
              read with the other scale
    hook      the hook of a tape pushed in or pulled out: 1 to 1.6 mm
    kerf      a saw kerf forgotten or taken twice: 1/8 in, 3.2 mm

All of these are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from fitsolve.lengths import LengthError, Unit, read_length
from fitsolve.light import dataclass, pattern

INCH_MM = 25.4
KERF_MM = 3.175
JAWS_MM = 10.0
HOOK_MM = (0.9, 1.7)
LITTLE_MM = 0.5
"""What is off by no more looks like nothing; and what is off by little must be met as closely as this."""
TEN = 10.0

SLIP_MM = 6.0
"""Off plan by more than this (and far beyond workmanship), a reading that nothing else checks counts
as a slip: wood comes out a little off plan, not a quarter of an inch. Common practice, no source."""

ASKED_MM, ASKED_TIMES = 3.0, 5.0
"""A reading is asked back from an eighth of an inch off plan on, and five times workmanship. Common practice, no
source."""

CRITICAL = 3.2905
"""Two-sided critical value of a standardised residual at alpha = 0.001 (standard normal quantile)."""

SlipKind = Literal["unit", "held", "whole", "ten", "digits", "fraction", "jaws", "hook", "kerf"]

_DIGITS = pattern(r"[0-9]+")
_SLASHES = "/\u2044\u2215"
_POINTED = pattern(r"[0-9]*\.?[0-9]+ ?(?:in|mm|cm|m|ft)?")
"""A length whose point can be misplaced: one decimal or whole number, no fraction."""


@dataclass(frozen=True)
class Slip:
    """What a reading looks like: `would_be_mm` is what was there if it was that; `by_mm` how far off. Of swapped
    digits also how it would have been written, and the whole number written with the one that was meant, where
    that is where they are."""

    kind: SlipKind
    would_be_mm: float
    by_mm: float
    text: str = ""
    whole: tuple[str, str] | None = None


def far_off_plan(off_mm: float, u_mm: float, workmanship_mm: float, play_mm: float = 0.0) -> bool:
    """Whether a reading that is off plan by so much is more than wood and cuts come out off.

    `u_mm` is the reading's standard uncertainty, `workmanship_mm` the plan's (k = 2);
    `play_mm` is how far open joints let the parts lie off their plan.
    """
    return abs(off_mm) > max(SLIP_MM, CRITICAL * math.hypot(u_mm, workmanship_mm / 2)) + play_mm


def worth_asking(off_mm: float, u_mm: float, workmanship_mm: float, play_mm: float = 0.0) -> bool:
    """Whether a reading is so far off plan that the maker is asked before it is kept.

    Sooner than it counts as a slip: a question costs a moment, a slip unasked a part.
    """
    usual = max(ASKED_MM, ASKED_TIMES * workmanship_mm, CRITICAL * math.hypot(u_mm, workmanship_mm / 2))
    return abs(off_mm) > usual + play_mm


def slips(
    reading_mm: float, should_mm: float, unit: Unit, near_mm: float, tool: str = "other", text: str = ""
) -> tuple[Slip, ...]:
    """Return what a reading looks like that should have been `should_mm`, give or take `near_mm`.

    `tool` is the kind of tool (`build.tools.ToolKind`); `text` the reading as it was written, without
    which no digits are known that could be misplaced. Nothing for a reading that is near enough.
    """
    off = abs(reading_mm - should_mm)
    if off <= min(near_mm, LITTLE_MM):
        return ()
    found = []
    for slip in _candidates(reading_mm, unit, tool, text):
        would_be = slip.would_be_mm
        near = near_mm
        if slip.kind == "unit" and would_be > reading_mm:
            near *= INCH_MM
        elif slip.kind == "ten":  # what it stands for has digits of its own: 2001 is near 2000
            near = min(near_mm * (TEN if would_be > reading_mm else 1.0), would_be / 20)
        elif slip.kind in ("digits", "fraction"):  # it must be what the miss is, not bring it a little nearer
            near = min(near_mm, off / 4, math.inf if slip.kind == "digits" else LITTLE_MM)
        elif slip.kind in ("hook", "kerf", "jaws"):
            near = min(near_mm, LITTLE_MM)  # or everything would look like it
        near = min(near, would_be / 4)  # near nothing, everything is near enough to be anything
        if would_be > 0 and abs(would_be - should_mm) <= near:
            found.append(slip)
    return tuple(found)


def _candidates(reading_mm: float, unit: Unit, tool: str, text: str) -> Iterator[Slip]:
    """Each kind of slip with what would have been there."""
    for kind, would_be in _large(reading_mm, unit, tool, text):
        yield Slip(kind, would_be, reading_mm - would_be)
    for written, would_be, whole in _swaps(text, unit):
        yield Slip("digits", would_be, reading_mm - would_be, written, whole)
    for kind, would_be in _small(reading_mm, unit, tool):
        yield Slip(kind, would_be, reading_mm - would_be)


def _large(reading_mm: float, unit: Unit, tool: str, text: str) -> Iterator[tuple[SlipKind, float]]:
    kind: SlipKind = "whole" if tool == "caliper" else "held"
    for amount in (INCH_MM,) if unit == "in" else () if kind == "whole" else (10.0, 100.0):
        yield kind, reading_mm - amount
        yield kind, reading_mm + amount
    yield "unit", reading_mm * INCH_MM
    yield "unit", reading_mm / INCH_MM
    if _POINTED.fullmatch(text.strip()):
        yield "ten", reading_mm * TEN
        yield "ten", reading_mm / TEN


def _small(reading_mm: float, unit: Unit, tool: str) -> Iterator[tuple[SlipKind, float]]:
    if unit == "in":
        whole = math.floor(reading_mm / INCH_MM + 1e-9) * INCH_MM
        for part in ((reading_mm - whole) / 2, (reading_mm - whole) * 2):
            if abs(part) > 0.1 and part < INCH_MM:
                yield "fraction", whole + part
    if tool == "caliper":
        yield "jaws", reading_mm - JAWS_MM
        yield "jaws", reading_mm + JAWS_MM
    if tool == "tape":
        for way in (1, -1):
            yield "hook", reading_mm + way * sum(HOOK_MM) / 2
    for way in (1, -1):
        yield "kerf", reading_mm + way * KERF_MM


def _swaps(text: str, unit: Unit) -> Iterator[tuple[str, float, tuple[str, str] | None]]:
    """The length written with two of its digits, next to each other, swapped: as written, in mm, and the whole
    number before and after, where it is one of those. A number that nobody writes so is none: 01, 31/16."""
    for group in _DIGITS.finditer(text):
        before, behind = text[: group.start()].rstrip(), text[group.end() :].lstrip()
        if before[-1:] and before[-1] in _SLASHES:
            continue
        decimals = before[-1:] == "."
        under = _DIGITS.match(behind[1:].lstrip()) if behind[:1] and behind[0] in _SLASHES else None
        for swapped in _swapped(group[0]):
            if (swapped[0] == "0" and not decimals) or (under and int(swapped) >= int(under[0])):
                continue
            written = text[: group.start()] + swapped + text[group.end() :]
            try:
                would_be = float(read_length(written.strip(), unit))
            except LengthError:
                continue
            yield written.strip(), would_be, None if decimals or under else (group[0], swapped)


def _swapped(digits: str) -> Iterator[str]:
    for k in range(len(digits) - 1):
        if digits[k] != digits[k + 1]:
            yield digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :]
