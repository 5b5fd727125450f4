"""Plan faults: what the plan itself has wrong between parts, before anything is cut. Each is a warning.

    a loop of contacts that does not close
    a piece wider than what it goes in, or loose in it
    a room outside its limits

A joint stands in the plan as one sentence and a table of rows: one misprint is wrong in the same way
in many rows. It is told once, with the rows it is wrong in.

Not here: where parts lie (place), keeps and checks (plausible).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fitsolve.build.assembly import AXES
from fitsolve.build.joints import Touch
from fitsolve.build.stock import Stock
from fitsolve.errors import Problem
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, replace
from fitsolve.written import write_limit

_NAMED_MOST = 12
_ROWS_MOST = 3
_SLIGHT_MM = Fraction(1, 10**6)


@dataclass(slots=True)
class _Fault:
    """A fault as it is told in its first row, and the rows of its table where it is the same."""

    problem: Problem
    rows: list[str]

    def told(self) -> Problem:
        """The warning, with the rows."""
        more = len(self.rows) - _ROWS_MOST
        if more <= 1:
            return replace(self.problem, detail=tuple(self.rows))
        return replace(self.problem, detail=(*self.rows[:_ROWS_MOST], f"and {more} more rows, wrong in the same way"))


class PlanFaults:
    """The faults found so far, each once."""

    def __init__(self, stock: Stock, unit: Unit, finest: Fraction) -> None:
        self.stock, self.unit, self.finest = stock, unit, finest
        self.found: dict[tuple[object, ...], _Fault] = {}

    def told(self) -> list[Problem]:
        """Return those found since the last time as warnings, in their order."""
        found, self.found = self.found, {}
        return [fault.told() for fault in found.values()]

    def not_closed(self, touch: Touch, parts: Sequence[str], miss: Fraction, allowed: Fraction) -> None:
        """The way round through these parts does not come back to where it began."""
        names = ", ".join(parts[:_NAMED_MOST])
        if len(parts) > _NAMED_MOST:
            names += f" and {len(parts) - _NAMED_MOST} more"
        what = (
            f"the plan itself does not close here: along {AXES[touch.axis]}, on the way round through "
            f"{names}, {self._length(abs(miss))} is left over, and the contacts on the way can take up "
            f"{self._length(allowed)}"
        )
        hint = "One of the sizes on the way is a misprint, or a joint names the wrong marks."
        self._found(touch, what, hint, abs(miss), allowed)

    def fits(self, touch: Touch, marks: Sequence[int]) -> None:
        """Say where a piece is wider than what it goes in, or so narrow that it is loose there."""
        at = self.stock.at
        tongue, socket = at[marks[1]] - at[marks[0]], at[marks[3]] - at[marks[2]]
        least, most = touch.fit.limits
        play, slight = socket - tongue, self.finest / 2
        tight = play <= -slight and play < least
        if not tight and play < max(most, Fraction(0)) + slight:
            return
        one, other = (self.stock.parts[self.stock.part[mark]] for mark in (marks[0], marks[2]))
        what = (
            f"in the plan itself {one} is {self._length(tongue)} wide here, "
            f"and what it goes in, on {other}, {self._length(socket)}"
        )
        if not tight:
            what += f": {self._length(play)} of play, {self._length(most)} at most is asked"
        self._found(touch, what, "Correct one of the two, or name the marks it really goes between.", tongue, socket)

    def room(self, touch: Touch, marks: Sequence[int], gap: Fraction) -> None:
        """Say where the plan leaves another room than it asks for."""
        least, most = touch.fit.limits
        if least - _SLIGHT_MM <= gap <= most + _SLIGHT_MM:
            return
        names = f"{self.stock.name[marks[0]]} and {self.stock.name[marks[1]]}"
        stands = f"is {self._length(gap)}" if gap >= 0 else f"is short by {self._length(-gap)}: they overlap"
        asked = f"{self._length(least)} to {self._length(most)} is asked"
        what = f"in the plan itself the room between {names} {stands}; {asked}"
        self._found(touch, what, "Correct a size, the limits, or say which lies above.", gap)

    def _found(self, touch: Touch, what: str, hint: str, *amounts: Fraction) -> None:
        """Keep a fault; where the same sentence has it by as much already, only its row."""
        spot = touch.spot
        key = (spot.path, hint, *(round(float(amount), 6) for amount in amounts))
        if key in self.found:
            self.found[key].rows += spot.also
        else:
            problem = spot.problem(what, hint, 0, len(spot.text), "warning")
            self.found[key] = _Fault(problem, list(spot.also))

    def _length(self, mm: Fraction) -> str:
        return write_limit(mm, self.unit, marked=True)
