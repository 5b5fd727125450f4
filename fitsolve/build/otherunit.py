"""Numbers of the other unit: a plan in inches whose tools, fits or cuts are given as if in millimetres, or the other
way round. They can be meant, so each is a warning, and only the plan's own command gives it.

A number is odd where the plan changes what is built in, and makes it 12 to 60 times as large (in inches) or as small
(in millimetres): about 25.4 times. Nobody works so coarsely that one would be meant; some work so finely, so of small
ones there have to be two.

Beside them tools that are nearly called like one built in, which they then do not change.

Not here: what a plan hardly means besides (plausible).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fitsolve.build import fits, tools
from fitsolve.build.head import Head
from fitsolve.build.locate import Path
from fitsolve.errors import Problem
from fitsolve.written import write_length

if TYPE_CHECKING:
    from fitsolve.build.plan import Plan

_TIMES = (12.0, 60.0)
_USUAL_MM = {"workmanship": 0.5, "workmanship_width": 0.1}
"""As in a plan in millimetres that does not say."""


def other_unit_doubts(plan: Plan) -> list[Problem]:
    """Return what looks like numbers of the other unit, as warnings."""
    inches = plan.unit == "in"
    other = "mm" if inches else "in"
    found = []
    for path, name, mm, usual_mm in _numbers(plan.head()):
        times = mm / usual_mm if inches else usual_mm / mm if mm > 0 else 0.0
        if _TIMES[0] <= times <= _TIMES[1]:
            said, usual = (f"{write_length(one, plan.unit)} {plan.unit}" for one in (mm, usual_mm))
            what = f"{name} {said}, {times:.0f} times as {'much' if inches else 'little'} as the usual {usual}"
            hint = f"Was it meant in {other}? A unit may stand behind any length, as in 1/64 in or 0.4 mm."
            found.append(Problem(plan.source.key_place(path), what, hint, level="warning"))
    return found if inches or len(found) > 1 else []


def misspelt_tools(plan: Plan) -> list[Problem]:
    """Return tools of the plan that are nearly spelt like one built in, as notices: they can be tools of their own."""
    found = []
    for name in plan.head().tools:
        meant = tools.like_built_in(name)
        if meant:
            what = f"{name} is a tool of its own, beside the built-in {meant}"
            place = plan.source.key_place(("tool", name))
            found.append(Problem(place, what, f"Was it to change {meant}? Then it is called so.", level="notice"))
    return found


def _numbers(head: Head) -> Iterator[tuple[Path, str, float, float]]:
    """The key of each number, its name, what it is and what it is usually, in mm."""
    for key, usual_mm in _USUAL_MM.items():
        yield (key,), f"{key.replace('_', ' of a ')} ±", float(getattr(head, key)), usual_mm
    for name, tool in head.tools.items():
        usual = tools.BUILT_IN.get(name)
        if usual is not None:
            yield ("tool", name, "good_to"), f"the {name} is good to ±", tool.good_to_mm, usual.good_to_mm
    for name, fit in head.fits.items():
        if name in fits.BUILT_IN:
            yield ("fits", name), f"the fit {name} leaves up to", fit.most_mm, fits.BUILT_IN[name].most_mm
