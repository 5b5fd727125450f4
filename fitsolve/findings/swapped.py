"""Swapped: two readings written down one for the other, where what checks them does not show it.

Neighbours of a run that are swapped add up to the same, so an overall reading agrees with them as it would have
anyway. The plan tells: each is far off its own plan, and near that of the other. With y what was read and e what
the two would change by, all divided by u, R the map from readings to residuals z = -R y,

    sum of z^2 becomes   |z - R e|^2:

no larger by more than 3.2905^2, the others do not speak against it, and both are not to be believed. What the others
do speak against is found by itself (doubts).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np

from fitsolve.findings.slips import CRITICAL, far_off_plan
from fitsolve.findings.values import Doubt
from fitsolve.light import dataclass
from fitsolve.rows import Floats

CANDIDATES_MOST = 40
"""Of more readings that are far off plan no pairs are looked for: then the plan is another one."""


@dataclass(frozen=True)
class Checked:
    """A reading that others check: its doubt, its place among the rows, its standard uncertainty, and which way its
    row counts it."""

    doubt: Doubt
    place: int
    u_mm: float
    way: float


def swapped(
    checked: Sequence[Checked], z: Floats, adjusted: Callable[[Floats], Floats], workmanship_mm: float
) -> set[int]:
    """Return the rows of the log that look swapped with another. `z` (m,) are residuals by u, `adjusted` what errors
    (m, 1) of the rows make of the adjusted rows."""
    far = [one for one in checked if _far(one, workmanship_mm)]
    found: set[int] = set()
    for one, other in itertools.combinations(far, 2) if len(far) <= CANDIDATES_MOST else ():
        if not (_would_be(one, other, workmanship_mm) and _would_be(other, one, workmanship_mm)):
            continue
        change = np.zeros((len(z), 1))
        apart = other.doubt.reading_mm - one.doubt.reading_mm
        change[one.place] = one.way * apart / one.u_mm
        change[other.place] = -other.way * apart / other.u_mm
        after = z - (change - adjusted(change))[:, 0]
        if float(after @ after) - float(z @ z) <= CRITICAL**2:
            found |= {one.doubt.row, other.doubt.row}
    return found


def _far(one: Checked, workmanship_mm: float) -> bool:
    off, suspect = one.doubt.off_plan_mm, one.doubt.suspect
    return not suspect and off is not None and far_off_plan(off, one.u_mm, workmanship_mm)


def _would_be(one: Checked, other: Checked, workmanship_mm: float) -> bool:
    """Whether what was read of one is near the plan of the other, and they are not the same marks."""
    planned = other.doubt.reading_mm - (other.doubt.off_plan_mm or 0.0)
    near = max(2 * workmanship_mm, CRITICAL * math.hypot(one.u_mm, workmanship_mm / 2))
    same = {one.doubt.start, one.doubt.end} == {other.doubt.start, other.doubt.end}
    return not same and abs(one.doubt.reading_mm - planned) <= near
