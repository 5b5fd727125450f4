"""Measures: lengths as they are said, in the unit of the build.

    a size            to the finest line laid out; what that leaves out behind it: 8 15/16 + 0.004
    a clearance       in decimals: 0.006 in, 0.15 mm
    an uncertainty    in decimals, rounded up, never down: ± 0.004 in
    a check           fractions of 64ths or tenths of a millimetre: 1/32 of 1/16

All uncertainties are expanded (k = 2).
"""

from __future__ import annotations

import math
from fractions import Fraction

from fitsolve.build.assembly import Assembly, exact_step
from fitsolve.lengths import MM_PER_INCH, Unit
from fitsolve.light import dataclass
from fitsolve.written import (
    round_to_step,
    write_decimal,
    write_difference,
    write_length,
    write_limit,
    write_up,
    write_with_remainder,
)

ROUNDED_UP_MOST = Fraction(115, 100)
"""An uncertainty is not rounded up to a coarse step that makes more of it than this."""

_PLACES: dict[Unit, int] = {"in": 3, "mm": 2}
_COARSE: dict[Unit, Fraction] = {"in": MM_PER_INCH / 64, "mm": Fraction(1, 10)}


@dataclass(frozen=True)
class Measures:
    """How lengths of one build are said."""

    unit: Unit
    step_mm: Fraction

    @classmethod
    def of(cls, assembly: Assembly) -> Measures:
        """The measures of a build."""
        return cls(assembly.unit, exact_step(assembly.finest_mm))

    def stepped(self, step_mm: float) -> Measures:
        """The same with another finest line, mm: that of a mark with its own."""
        return Measures(self.unit, exact_step(step_mm))

    def size(self, mm: float | Fraction) -> str:
        """A size to the finest line laid out: `8 15/16`."""
        return write_length(mm, self.unit, self.step_mm)

    def full(self, mm: float | Fraction) -> str:
        """A size with what the finest line leaves out: `8 15/16 + 0.004`."""
        return write_with_remainder(mm, self.unit, self.step_mm)

    def rest(self, mm: float, laid_out_mm: Fraction) -> str:
        """What a laid out size leaves out of the size wanted, ` + 0.004`; empty where it is nothing."""
        rest = Fraction(mm) - laid_out_mm
        text = write_decimal(abs(rest), self.unit, self.places)
        if not text.strip("0."):
            return ""
        return f" {'+' if rest > 0 else '-'} {text}"

    def laid_out(self, mm: float) -> Fraction:
        """The nearest line that is laid out, in mm."""
        return round_to_step(mm, self.step_mm)

    def exact(self, mm: float) -> str:
        """A length as it was meant, of the plan or of a reading: `3 17/32`, `3.531`."""
        return write_length(mm, self.unit)

    def limit(self, mm: float) -> str:
        """A limit of a fit, which may come from the other unit: `0.2`, and not the 0.2032 of 0.008 in."""
        return write_limit(mm, self.unit)

    @property
    def marks_unit(self) -> bool:
        """Whether a size to the finest line needs the build's unit behind it: not one that has its own."""
        return not self.size(float(self.step_mm)).endswith((" in", " mm"))

    @property
    def unit_mm(self) -> float:
        """The unit, in mm."""
        return 25.4 if self.unit == "in" else 1.0

    @property
    def places(self) -> int:
        """The decimals that a clearance has."""
        return _PLACES[self.unit]

    def clearance(self, mm: float) -> str:
        """A clearance: `0.006 in`."""
        return f"{write_decimal(mm, self.unit, self.places)} {self.unit}"

    def bare(self, mm: float) -> str:
        """A clearance without its unit: `0.006`."""
        return write_decimal(mm, self.unit, self.places)

    def u(self, mm: float) -> str:
        """An uncertainty without its unit, rounded up: `± 0.004`."""
        return f"± {write_up(mm, self.unit, self.places)}"

    def coarse(self, mm: float) -> str:
        """A value of the frame: `1/32`, `0.8`; in decimals where it is less than such a step."""
        step = min(_COARSE[self.unit], self.step_mm)
        if abs(mm) < step / 2:
            return self.bare(mm) if self.bare(abs(mm)).strip("0.") else "0"
        return write_length(mm, self.unit, step)

    def coarse_u(self, mm: float) -> str:
        """The uncertainty of a value of the frame, rounded up: `± 3/64`; in decimals where that would add much to
        it, so that what is shown beside a verdict is what was judged by."""
        step = min(_COARSE[self.unit], self.step_mm)
        up = math.ceil(Fraction(mm) / step - Fraction(1, 1000)) * step
        return self.u(mm) if up > Fraction(mm) * ROUNDED_UP_MOST else f"± {write_length(up, self.unit, step)}"

    def off_plan(self, mm: float) -> str:
        """What a laid out size is off its plan: `1/16 less`, `as planned`."""
        return write_difference(mm, self.unit, self.step_mm)


def off_plan(mm: float, unit: Unit) -> str:
    """Return what a reading is off its plan, exactly: `15/32 less`, `0.004 more`, `as planned`."""
    amount = abs(Fraction(mm))
    if unit == "in" and abs(round_to_step(amount, _COARSE["in"]) - amount) < Fraction(1, 10**6):
        text = write_length(round_to_step(amount, _COARSE["in"]), unit)
    else:
        text = write_decimal(amount, unit, _PLACES[unit])
        text = text.rstrip("0").rstrip(".") if unit == "mm" else text
    if not text.strip("0."):
        return "as planned"
    return f"{text} {'more' if mm > 0 else 'less'}"
