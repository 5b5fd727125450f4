"""Slips: what a reading that is far off looks like.

Slips of the hand are not noise. Each kind has a shape: a reading r that should have been about v
is off by just so much, or says v in other digits. What a reading looks like is offered, never
applied; several kinds may fit, the likeliest stands first.

    held      a tape held at its 1 (1 in) or 10 (10 or 100 mm) instead of its end: r - v = that
    unit      one unit taken for the other: r = 25.4 v, or v / 25.4
    digits    two digits next to each other swapped: 42 for 24
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

from fitsolve.light import dataclass

INCH_MM = 25.4
KERF_MM = 3.175
JAWS_MM = 10.0
HOOK_MM = (0.9, 1.7)

SLIP_MM = 6.0
"""Off plan by more than this (and far beyond workmanship), a reading that nothing else checks counts
as a slip: wood comes out a little off plan, not a quarter of an inch. Common practice, no source."""

ASKED_MM, ASKED_TIMES = 3.0, 5.0
"""A reading is asked back from an eighth of an inch off plan on, and five times workmanship. Common practice, no
source."""

CRITICAL = 3.2905
"""Two-sided critical value of a standardised residual at alpha = 0.001 (standard normal quantile)."""

SlipKind = Literal["unit", "held", "digits", "fraction", "jaws", "hook", "kerf"]


@dataclass(frozen=True)
class Slip:
    """What a reading looks like: `would_be_mm` is what was there if it was that; `by_mm` how far off."""

    kind: SlipKind
    would_be_mm: float
    by_mm: float


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
    reading_mm: float, should_mm: float, unit: Literal["in", "mm"], near_mm: float, tool: str = "other"
) -> tuple[Slip, ...]:
    """Return what a reading looks like that should have been `should_mm`, give or take `near_mm`.

    `tool` is the kind of tool (`build.tools.ToolKind`). Nothing for a reading that is near enough.
    """
    if abs(reading_mm - should_mm) <= near_mm:
        return ()
    found = []
    for kind, would_be in _candidates(reading_mm, unit, tool):
        near = near_mm * (INCH_MM if kind == "unit" and would_be > reading_mm else 1.0)
        small = kind in ("hook", "kerf", "jaws", "fraction")
        if small:  # what is off by little must be met closely, or everything would look like it
            near = min(near_mm, 0.5)
        near = min(near, would_be / 4)  # near nothing, everything is near enough to be anything
        if would_be > 0 and abs(would_be - should_mm) <= near:
            found.append(Slip(kind, would_be, reading_mm - would_be))
    return tuple(found)


def _candidates(reading_mm: float, unit: str, tool: str) -> Iterator[tuple[SlipKind, float]]:
    """Each kind of slip with what would have been there."""
    held = (INCH_MM,) if unit == "in" else (10.0, 100.0)
    for amount in held:
        yield "held", reading_mm - amount
        yield "held", reading_mm + amount
    yield "unit", reading_mm * INCH_MM
    yield "unit", reading_mm / INCH_MM
    unit_mm = INCH_MM if unit == "in" else 1.0
    for swapped in _swaps(reading_mm / unit_mm):
        yield "digits", swapped * unit_mm
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


def _swaps(number: float) -> Iterator[float]:
    """The number with two of its digits, next to each other, swapped: whole part first, then decimals."""
    whole = math.floor(number + 1e-9)
    for text in _swapped(str(whole)):
        yield int(text) + (number - whole)
    before, _, after = f"{number:.4f}".rstrip("0").partition(".")
    for text in _swapped(after):
        yield float(f"{before}.{text}")


def _swapped(digits: str) -> Iterator[str]:
    for k in range(len(digits) - 1):
        if digits[k] != digits[k + 1]:
            yield digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :]
