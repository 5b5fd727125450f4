"""Told: what one screen has said already, so that the same reason is not given twice.

What is to be read is named wherever it is wanted; why it is to be read, once. Wood that is cut and not read is known to
how cuts land and no better, though what it was to be cut to was known better: that is said with it.
"""

from __future__ import annotations

from fitsolve.reconciliation import Reconciliation
from fitsolve.report.measures import Measures
from fitsolve.report.remedies import Way

LONG = 50
"""So many letters of a sentence are worth a look at where it stands already."""


class Told:
    """What was said so far."""

    def __init__(self, found: Reconciliation) -> None:
        self.found = found
        self.said: set[str] = set()
        self.where: dict[str, str] = {}

    def once(self, text: str) -> list[str]:
        """The text, where it was not said yet."""
        new = [] if text in self.said else [text]
        self.said.add(text)
        return new

    def of(self, name: str, text: str) -> str:
        """What is said of a thing by its name; of a long sentence that stands word for word with another only where."""
        first, *sentences = text.split(". ")
        kept = [first]
        for one in sentences:
            where = self.where.setdefault(one, name) if len(one) >= LONG else name
            if where == name:
                kept.append(one)
            elif f"As for {where}" not in kept:
                kept.append(f"As for {where}")
        return ". ".join(kept)

    def way(self, way: Way) -> str:
        """What to do, with the reason where none of that kind was given yet."""
        if not way.kind:
            return way.text
        if not self.once(way.kind):
            return way.do
        return f"{way.text}: {landing_text(self.found)}" if way.kind == "unread" else way.text


def landing_text(found: Reconciliation) -> str:
    """Why what is cut and not read is less sure than what it was to be cut to."""
    return f"till then how cuts land, {Measures.of(found.assembly).u(found.assembly.workmanship_mm)}, is in its ±"
