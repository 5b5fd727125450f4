"""Read to: how finely a tool is read, as its readings show, and what its scatter may be under that.

    step   the largest length that all its readings are whole multiples of: 1/32 for 3 1/2, 41 3/32 and 48 1/8

What was read may lie half a step beside what was written (step / sqrt 12 as a standard deviation, JCGM 100:2008,
F.2.2.1; half a step at the most). So n equal repeats read to the step do not scatter by nothing: with errors d_i
of writing, whose whitened sizes are at most step / 2 u_i, the residuals are z + R d and

    |z + R d| <= |z| + |R d|,  |R d|^2 about sum R_ii (step / 2 u_i)^2

A tool is said to scatter less than stated only where that, too, is less. Of one that was only ever read to whole
inches, or always the same, the step is as large as that, and nothing is said.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction
from math import gcd, lcm

from fitsolve.build.hand import length_written
from fitsolve.lengths import LengthError, Unit


def read_to_mm(texts: Iterable[str], unit: Unit) -> float:
    """The step that readings are written to, in mm: of those in inches and those in mm the finer one; 0 where no
    reading tells."""
    sizes: dict[str, list[Fraction]] = defaultdict(list)
    for text in texts:
        try:
            size = length_written(text, unit)
        except LengthError:
            continue
        if size:
            sizes["mm" if "m" in text else ""].append(size)
    return float(min(map(_common, sizes.values()), default=0))


def _common(sizes: list[Fraction]) -> Fraction:
    """The largest length that all are whole multiples of."""
    under = lcm(*(size.denominator for size in sizes))
    return Fraction(gcd(*(int(size * under) for size in sizes)), under)


def as_may_have_been(square_sum: float, weight: float, step_mm: float) -> float:
    """The most that the square sum may have been before readings were written; `weight` is sum R_ii / u_i^2."""
    return float((square_sum**0.5 + step_mm / 2 * weight**0.5) ** 2)
