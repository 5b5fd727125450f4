"""An angle typed where a length belongs: a lean is read as how far it leans, and what the angle comes to is told.

A bevel that is set on the wood and read in degrees is good to about 0.2° (common practice, no source), which over
a height of 480 mm is 1.7 mm; the same lean off a square is read to 0.3 mm. So no reading is made of an angle.
"""

from __future__ import annotations

import math

from fitsolve.build.assembly import Assembly
from fitsolve.build.stations import kin
from fitsolve.cli.common import refuse
from fitsolve.errors import BuildError
from fitsolve.light import pattern
from fitsolve.report.measures import Measures

BEVEL_DEGREES = 0.2
_DEGREES = pattern(r"(\d{1,2}(?:\.\d{1,4})?)\s*(?:°|deg|degrees)")
_RATIO = pattern(r"(\d{1,3}(?:\.\d{1,4})?)\s*:\s*(\d{1,4}(?:\.\d{1,4})?)")


def no_angle(assembly: Assembly, start: str, end: str, text: str) -> BuildError | None:
    """Return what is wrong with a reading that is an angle, and what to read instead; None for any other."""
    degrees, ratio = _DEGREES.fullmatch(text), _RATIO.fullmatch(text)
    if degrees is None and (ratio is None or float(ratio.group(2)) == 0):
        return None
    what = "a lean is read as a length: how far one mark stands out beyond the other"
    run = _run_mm(assembly, start, end)
    if run is None or run <= 0:
        return refuse(what, "As off a square or a plumb line, at two heights: outer@foot to outer@head.", text)
    slope = math.tan(math.radians(float(degrees.group(1)))) if degrees else 0.0
    if ratio is not None:
        slope = float(ratio.group(1)) / float(ratio.group(2))
    measures = Measures.of(assembly)
    off = run * (1 + slope**2) * math.radians(BEVEL_DEGREES)
    hint = (
        f"{text} over {measures.full(run)} is {measures.full(run * slope)}, and {BEVEL_DEGREES}° of a bevel is "
        f"{measures.bare(off)} there: read it off a square. To carry it over, set the bevel on the wood and tell what "
        "was marked by it: fitsolve made PART MARK --from PART --held MARK."
    )
    return refuse(what, hint, text)


def _run_mm(assembly: Assembly, start: str, end: str) -> float | None:
    """How far apart the heights of two stations are in the plan."""
    marks, places = assembly.marks, []
    for name in (start, end):
        edge, station = kin(assembly, name), name.partition("@")[2]
        run = None if edge is None else assembly.index.get(f"{marks[edge].part}.{station}")
        if run is None:
            return None
        places.append(marks[run].plan_mm)
    return abs(places[1] - places[0])
