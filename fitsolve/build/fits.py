"""Fits: what clearance a contact should have, when it is closed.

A fit is three lengths, least <= aim <= most. Below least the joint is tight (a shoulder
proud), above most it is loose (a shoulder open); aim is what a cut is laid out for. For a
housing the clearance is the width of the socket less the width of the piece in it, both
sides together; for a butt it is the gap. A negative least is a squeeze.

`band` = (most - least) / 2 is what a miss is weighed by, so least and most may not be one:
a size to be hit exactly can't be cut, and can't be proven by any reading.

The built-in fits are those of the bench, and a plan may change them or add its own.

Not here: fits between shafts and holes; wood is not cut to those.

Sources stand beside each fit, and in specs/references/fits.toml.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction

from fitsolve.lengths import Unit
from fitsolve.light import cached_property, dataclass
from fitsolve.written import write_length

_INCH_MM = 25.4


@dataclass(frozen=True, slots=True)
class Fit:
    """A clearance wanted, in mm: least, aim, most; the module says more."""

    name: str
    least_mm: float
    aim_mm: float
    most_mm: float
    source: str = "the plan of this build"

    @cached_property
    def limits(self) -> tuple[Fraction, Fraction]:
        """Least and most as exact numbers, mm."""
        return Fraction(self.least_mm), Fraction(self.most_mm)

    @property
    def band_mm(self) -> float:
        """Half of the room between least and most, in mm."""
        return (self.most_mm - self.least_mm) / 2


def _built_in(name: str, least_in: float, aim_in: float, most_in: float, source: str) -> Fit:
    return Fit(name, least_in * _INCH_MM, aim_in * _INCH_MM, most_in * _INCH_MM, source)


_PRACTICE = "common practice, no source"

BUILT_IN: Mapping[str, Fit] = {
    fit.name: fit
    for fit in (
        _built_in("slip", 0.002, 0.008, 0.020, f"goes on by hand over its whole length ({_PRACTICE})"),
        _built_in("glue", 0.0, 0.004, 0.010, f"pushed home by hand, with room for the glue ({_PRACTICE})"),
        _built_in(
            "easy", 0.0, 1 / 64, 1 / 16, f"where nothing is held, as across a tenon's edges ({_PRACTICE})"
        ),
        _built_in(
            "tight-up", 0.0, 0.0, 0.008, f"a joint line of 0.1 mm hides, of 0.2 mm shows ({_PRACTICE})"
        ),
    )
}
"""The fits every build knows, in mm."""


def find_fit(name: str, own: Mapping[str, Fit] | None = None) -> Fit | None:
    """Return the fit of that whole name, the build's own before the built-in one, or None."""
    return (own or {}).get(name) or BUILT_IN.get(name)


def like_built_in(name: str) -> str:
    """Return the built-in fit that a name is much like, though not the same; empty where there is none."""
    import difflib

    return next(iter(difflib.get_close_matches(name.lower(), BUILT_IN, n=1, cutoff=0.6)), "")


def unknown_fit(name: str, own: Mapping[str, Fit] | None = None) -> tuple[str, str]:
    """Return what is wrong with a name that no fit has, and what may have been meant."""
    import difflib

    known = sorted({*BUILT_IN, *(own or {})})
    near = difflib.get_close_matches(name.lower(), known, n=2, cutoff=0.6)
    hint = f"Did you mean {' or '.join(near)}?" if near else f"There are: {', '.join(known)}."
    return f'no fit is called "{name}"', f"{hint} A fit of your own goes into the plan, under fits."


def fit_fault(fit: Fit, unit: Unit) -> tuple[str, str] | None:
    """Return what is wrong with a fit's numbers and what to do, or None where nothing is."""
    if not all(math.isfinite(value) for value in (fit.least_mm, fit.aim_mm, fit.most_mm)):
        return f"the fit {fit.name} is not made of three lengths", "Give it least, aim and most."
    if fit.least_mm <= fit.aim_mm <= fit.most_mm and fit.least_mm < fit.most_mm:
        return None
    least, aim, most = (write_length(value, unit) for value in (fit.least_mm, fit.aim_mm, fit.most_mm))
    if fit.least_mm == fit.aim_mm == fit.most_mm:
        return (
            f"the fit {fit.name} has no room: least, aim and most are all {most} {unit}",
            "No cut lands on one size exactly: give it a most above its least.",
        )
    return (
        f"the fit {fit.name} is out of order: least {least}, aim {aim}, most {most} {unit}",
        "Give the three from small to large: least, aim, most.",
    )
