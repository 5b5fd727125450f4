"""Written: lengths as the trade writes them, from whole numbers, exactly.

Rounded to a step (a Fraction of a millimetre: the finest line laid out), half away from zero. A Fraction is
rounded exactly; a float is a length that was computed, and counts as 1e-9 mm more than it is, so that
what is half a step but for the rounding of the machine goes one way on every machine. The remainder is there
for whoever wants it: a rounded length is not passed off as the length.

Not here: how lengths are read (lengths), which unit or step a build has (plan).
"""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache

from fitsolve.lengths import MM_PER_INCH, Unit
from fitsolve.light import dataclass

_MM = {"in": MM_PER_INCH, "mm": Fraction(1)}


def round_to_step(mm: Fraction | float, step_mm: Fraction) -> Fraction:
    """Return the multiple of `step_mm` nearest to `mm`; half a step goes away from zero. See the module for floats."""
    return Fraction(_steps(mm, step_mm) * step_mm.numerator, step_mm.denominator)


def _steps(mm: Fraction | float, step_mm: Fraction) -> int:
    """How many whole steps are nearest to a length; in whole numbers throughout, which is ten times as fast."""
    over, under = _ratio(mm)
    return _nearest(over * step_mm.denominator, under * step_mm.numerator)


def _ratio(mm: Fraction | float) -> tuple[int, int]:
    """A length as a ratio of whole numbers. One computed gets 1e-9 mm more, so that what is half a step but for
    the rounding of the machine goes the way of a half, on every machine."""
    over, under = mm.as_integer_ratio()
    if not isinstance(mm, float) or over == 0:
        return over, under
    return over * 10**9 + (under if over > 0 else -under), under * 10**9


def write_length(
    mm: Fraction | float,
    unit: Unit,
    step_mm: Fraction | None = None,
    *,
    marked: bool = False,
    feet: bool = False,
) -> str:
    """Return a length as it is laid out: `3 17/32`, `89.5`; `marked` adds the unit, `feet` makes it 2' 6".

    Rounded to `step_mm`. Without a step it is written as exactly as four decimals of an inch
    or three of a millimetre can, and as a fraction where one of 64ths is meant. A step of tenths
    or thousandths of an inch is written in decimals. A step that belongs to the other unit
    (0.5 mm in a build in inches) is written in that other unit, and marked. A negative length
    gets a minus, and can't be read back.

    >>> write_length(Fraction("89.7"), "in", Fraction(127, 160))
    '3 17/32'
    """
    if step_mm is None:
        exact = Fraction(mm)
        amount = abs(exact) / _MM[unit]
        text = _feet_and_inches(amount) if unit == "in" and feet else _written(amount, unit)
        below = exact < 0
    else:
        own, line = unit, _line(step_mm, unit)
        unit = line.unit
        marked = marked or unit != own
        steps = _steps(mm, step_mm)
        if unit == "in" and feet:
            text = _feet_and_inches(abs(steps) * step_mm / MM_PER_INCH, step_mm / MM_PER_INCH)
        else:
            text = line.text(abs(steps))
        below = steps < 0
    if below and text.strip('0."'):
        text = f"-{text}"
    return f"{text} {unit}" if marked and not (feet and unit == "in") else text


@dataclass(frozen=True, slots=True)
class _Line:
    """How multiples of a step are written, in which unit: so many halves, quarters, ... of an inch, or so many of the
    last of some decimals, all of them shown or none at the end; `step_mm` is kept where neither can be."""

    unit: Unit
    count: int
    parts: int
    places: int | None
    fixed: bool
    step_mm: Fraction

    def text(self, steps: int) -> str:
        """So many steps, not below 0."""
        if self.parts:
            return _mixed(steps * self.count, self.parts)
        if self.places is None:
            return _written(steps * self.step_mm / _MM[self.unit], self.unit)
        text = _with_point(steps * self.count, self.places)
        return text if self.fixed or not self.places else text.rstrip("0").rstrip(".")


@lru_cache(maxsize=64)
def _line(step_mm: Fraction, unit: Unit) -> _Line:
    unit = _unit_of_step(step_mm, unit)
    step = step_mm / _MM[unit]
    if unit == "in" and _halved(step):
        return _Line(unit, step.numerator, step.denominator, None, False, step_mm)
    places = _places(step, 6)
    if places is None and step.denominator <= _PARTS_MOST:
        return _Line(unit, step.numerator, step.denominator, None, False, step_mm)
    count = 0 if places is None else int(step * 10**places)
    return _Line(unit, count, 0, places, unit == "in", step_mm)


_PARTS_MOST = 1024
_HALFWAY_MM = Fraction(1, 10**6)
_LEAST_IN = MM_PER_INCH / 2000
_LEAST_MM = Fraction(1, 100)


def write_with_remainder(mm: Fraction | float, unit: Unit, step_mm: Fraction) -> str:
    """Return a length to the nearest step and, where it matters, the rest: `8 15/16 + 0.004`.

    The rest is left away when it is no more than half a thousandth of an inch, or 0.01 mm.
    """
    text = write_length(mm, unit, step_mm)
    rest = Fraction(mm) - round_to_step(mm, step_mm)
    own = _line(step_mm, unit).unit
    places, least = (3, _LEAST_IN) if own == "in" else (2, _LEAST_MM)
    size = -rest if rest.numerator < 0 else rest
    if size <= least:
        return text
    if abs(2 * size - step_mm) <= _HALFWAY_MM:  # as far from both lines: there is one between them
        return write_length(mm, unit, step_mm / 2)
    return f"{text} {'+' if rest.numerator > 0 else '-'} {write_decimal(size, own, places)}"


def write_limit(mm: Fraction | float, unit: Unit, *, marked: bool = False) -> str:
    """Return a limit as it was written, in whichever unit; one that came from the other unit, and has more decimals
    in this one than anybody measures, to a hundredth of a millimetre or a ten-thousandth of an inch.

    >>> [write_limit(Fraction(mm), "mm") for mm in ("1.5875", "0.125")]
    ['1.59', '0.125']
    """
    text = write_length(mm, unit)
    most, places = (4, 4) if unit == "in" else (3, 2)
    if len(text.partition(".")[2]) > most:
        text = write_decimal(mm, unit, places).rstrip("0").rstrip(".")
    return f"{text} {unit}" if marked else text


def write_decimal(mm: Fraction | float, unit: Unit, places: int) -> str:
    """Return a length in decimals of the unit, as in `0.006`; a negative one gets a minus."""
    number = _tenths(mm, unit, places)
    return ("-" if number < 0 else "") + _with_point(abs(number), places)


def _with_point(number: int, places: int) -> str:
    """A whole number of the last of some decimals, not below 0."""
    digits = str(number).rjust(places + 1, "0")
    point = len(digits) - places
    return digits[:point] + ("." + digits[point:] if places else "")


def write_up(mm: Fraction | float, unit: Unit, places: int) -> str:
    """Return a length that is not negative in decimals of the unit, rounded up; less than a thousandth of the last
    one is not."""
    over, under = mm.as_integer_ratio()
    unit_over, unit_under = _MM[unit].as_integer_ratio()
    last = under * unit_over
    return _with_point(max(-((last - 1000 * over * unit_under * 10**places) // (1000 * last)), 0), places)


def write_difference(mm: Fraction | float, unit: Unit, step_mm: Fraction) -> str:
    """Return what a size is off its plan, to the nearest step: `1/16 more`, `1/32 less`, `as planned`."""
    off = round_to_step(mm, step_mm)
    if off == 0:
        return "as planned"
    return f"{write_length(abs(off), unit, step_mm)} {'more' if off > 0 else 'less'}"


def _nearest(over: int, under: int) -> int:
    """Return the whole number nearest to over / under, `under` positive; a half goes away from zero."""
    whole = (2 * abs(over) + under) // (2 * under)
    return whole if over >= 0 else -whole


def _tenths(mm: Fraction | float, unit: Unit, places: int) -> int:
    """A length in whole steps of the unit's so many'th decimal."""
    over, under = _ratio(mm)
    unit_over, unit_under = _MM[unit].as_integer_ratio()
    return _nearest(over * unit_under * 10**places, under * unit_over)


@lru_cache(maxsize=64)
def _unit_of_step(step_mm: Fraction, unit: Unit) -> Unit:
    """Return the unit in which multiples of the step are short: 1/32 in is no size in mm."""
    step_in = step_mm / MM_PER_INCH
    if unit == "in" and (_halved(step_in) or _places(step_in, 6) is not None):
        return "in"
    if unit == "mm" and step_mm.denominator > 1 and _halved(step_in):
        return "in"
    in_thirds = _places(step_mm, 6) is None  # or sevenths or twelfths, of an inch more likely
    return "in" if in_thirds and step_in.denominator < step_mm.denominator else "mm"


def _halved(number: Fraction) -> bool:
    """Whether a number of inches is laid out in halves, quarters, and so on to 1024ths."""
    return number.denominator <= _PARTS_MOST and number.denominator & (number.denominator - 1) == 0


def _places(number: Fraction, most: int) -> int | None:
    """Return how many decimals write the number exactly, or None where `most` are too few."""
    return next((n for n in range(most + 1) if number * 10**n % 1 == 0), None)


def _written(amount: Fraction, unit: Unit) -> str:
    """Return an amount of the unit that is not negative, as a fraction or a decimal."""
    if unit == "in":
        in_64ths = Fraction(_nearest(64 * amount.numerator, amount.denominator), 64)
        if abs(in_64ths - amount) * MM_PER_INCH <= _SAME_MM:
            amount = in_64ths
        if _halved(amount):
            return _mixed(amount.numerator, amount.denominator)
    mm = amount * _MM[unit]
    for places in range(7):
        if abs(_tenths(mm, unit, places) * _MM[unit] / 10**places - mm) <= _SAME_MM:
            return write_decimal(mm, unit, places)
    return write_decimal(mm, unit, 4 if unit == "in" else 3).rstrip("0").rstrip(".")


def _mixed(over: int, under: int) -> str:
    whole, rest = divmod(over, under)
    if rest == 0:
        return str(whole)
    common = math.gcd(rest, under)
    part = f"{rest // common}/{under // common}"
    return f"{whole} {part}" if whole else part


def _feet_and_inches(inches: Fraction, step: Fraction = Fraction(1)) -> str:
    """Feet and inches; in parts of an inch as the step is, where decimals cannot write that."""
    feet, rest = divmod(inches, 12)
    parts = _places(step, 6) is None and step.denominator <= _PARTS_MOST
    amount = _mixed(rest.numerator, rest.denominator) if parts else _written(rest, "in")
    text = f'{amount}"' if rest or not feet else ""
    return f"{feet}' {text}".strip() if feet else text


_SAME_MM = Fraction(1, 10**9)
"""Below this two lengths are one: a float64 of a length that was exact is well within it."""
