"""What `fitsolve new` writes: a worked plan to change, or three lines to begin from nothing.

The worked plans lie beside this module, in plans/, as the maker will have them.
"""

from __future__ import annotations

from pathlib import Path

WORKED = {
    "bench-base": "a potting bench: end frames tenoned, aprons with dados over the legs",
    "table-base": "a kitchen table: aprons and rails tenoned into four legs, a top",
    "divided-case": "an open case, in mm: boards housed in sides, dividers housed in boards",
}
"""The worked plans there are, and what each is of; the first is written unless another is asked for."""


def worked_plan(name: str) -> str:
    """Return the text of a worked plan; `name` is one of `WORKED`."""
    return (Path(__file__).parent / "plans" / f"{name}.toml").read_text(encoding="utf-8")


EMPTY = """\
# A part has marks along its axes:   [part.leg]   x = "outer 3 1/2 inner"   (y front to back, z up)
# A joint says what meets:           [joint.dado]   meet = ["leg.outer/inner in apron.dado-o/dado-i, slip"]
# The unit of all lengths is "in" or "mm"; fitsolve plan shows how the plan is understood.
unit = "in"
"""
