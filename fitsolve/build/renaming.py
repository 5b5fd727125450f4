"""Renames that lead nowhere: names of earlier rows that a `rename` calls what the plan does not have.

A plan that was renamed in and then changed back leaves such a row behind. It is told once, at the rename,
with what to do; the rows before it that are lost by it would each only say the same again.

Not here: how names are read through renames (lookup), the rows (readings).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from fitsolve.build.logtext import Row
from fitsolve.build.lookup import Lookup, beginnings, plainly_meant
from fitsolve.errors import Level

_BETWEEN_NAMES = re.compile(r"[\s+/]+|\.\.")


def gone(lookup: Lookup, renames: Sequence[Row]) -> dict[str, int]:
    """Return the names that a rename leads out of the plan, each with the last row that does."""
    return {row.start: row.no for at, row in enumerate(renames) if not lookup.covered(row.end, at + 1)}


def led_away(cell: str, no: int, away: Mapping[str, int]) -> int:
    """Return the rename behind row `no` that leads a name of its cell out of the plan, or 0."""
    names = (beginning for name in _BETWEEN_NAMES.split(cell) for beginning in beginnings(name))
    return next((away[name] for name in names if away.get(name, 0) > no), 0)


def leads_nowhere(lookup: Lookup, row: Row, lost: bool) -> tuple[str, Level]:
    """Return what to do about such a rename, and how bad it is: an error where rows are `lost` by it."""
    near = lookup.near(row.end)
    hint = f"Did you mean {' or '.join(near)}?" if near else "Rename to what stands in the plan."
    if not lost:
        return hint, "warning"
    if lookup.covered(row.start, len(lookup.renames)):
        return f"{row.start} stands in the plan: take the renaming back, fitsolve strike {row.no}", "error"
    return f"{hint} Then: fitsolve rename {row.end} {plainly_meant(row.end, near) or 'NEW'}", "error"
