"""Readings as makers say them: strong and bare, how good this one is, and wind by sticks.

    3 17/32 strong        a little more than the line: by `strong` of the plan, give or take half of it
    3 17/32 bare 0.3 mm   a little less, by a size of one's own choosing
    good to 1/64          in the note: how good this reading is, ± (k = 2), in place of its tool's

Wind by sticks. A stick of length S lies across two marks that are W apart, another across two more;
sighted over each other they stand h open at one end of the far stick. The two marks of a stick
differ in height by W / S of what its ends do, so with heights x

    (S / W) ((x_a - x_b) - (x_c - x_d)) = s h,

a and b under one stick, c and d, on the same sides, under the other; s from the mark that stands
proud of the plane of the other three.

All of this is common practice, no source.
"""

from __future__ import annotations

import re
from fractions import Fraction

from fitsolve.lengths import LengthError, Unit, read_length
from fitsolve.light import dataclass, pattern

_HAND = pattern(r"(?P<length>.*\S)\s+(?P<word>strong|bare)(?:\s+(?P<size>.+))?\s*", re.IGNORECASE | re.DOTALL)
_GOOD_TO = pattern(r"\bgood to\s+(?P<length>[0-9.][^;,]*)", re.IGNORECASE)
_STICKS = pattern(r"\b(?P<what>stick|width)\s+(?P<length>[0-9.][^;,]*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ByHand:
    """A length as said, mm, and the standard uncertainty (k = 1) that strong or bare adds to it."""

    length_mm: float
    u_mm: float = 0.0


def read_by_hand(text: str, unit: Unit, strong_mm: float) -> ByHand:
    """Return a length as said, with strong or bare behind it if it was. Raises LengthError."""
    said = text.casefold()
    match = _HAND.fullmatch(text) if "strong" in said or "bare" in said else None
    if match is None:
        return ByHand(float(read_length(text, unit)))
    length = float(read_length(match["length"], unit))
    size = strong_mm if match["size"] is None else float(read_length(match["size"], unit))
    way = 1.0 if match["word"].lower() == "strong" else -1.0
    if length + way * size < 0:
        raise LengthError(text, match.start("word"), 4, "less than nothing is left", text)
    return ByHand(length + way * size, size / 4)


def length_written(text: str, unit: Unit) -> Fraction:
    """The line that a reading was read at, exactly, mm, without strong or bare. Raises LengthError."""
    match = _HAND.fullmatch(text)
    return read_length(text if match is None else match["length"], unit)


def said_good_to(note: str, unit: Unit) -> float | None:
    """Return the U (k = 2), mm, that a note says a reading is good to; None where it says none, 0 where it
    says one that can't be read or is nothing."""
    match = _GOOD_TO.search(note) if "good to" in note.lower() else None
    if match is None:
        return None
    try:
        return float(read_length(match["length"].strip(), unit))
    except LengthError:
        return 0.0


def sticks(note: str, unit: Unit) -> dict[str, float]:
    """Return the lengths, mm, that a note gives to `stick` and `width`; what can't be read is left out."""
    found = {}
    for match in _STICKS.finditer(note):
        try:
            found[match["what"].lower()] = float(read_length(match["length"].strip(), unit))
        except LengthError:
            continue
    return {what: length for what, length in found.items() if length > 0}
