"""Facing: what slopes mean for contacts and for the distances that are reported.

A tail longer than its lap is deep is wider at its end, and yet fits, for it is narrower where the lap
ends: gaps on slopes are taken where their marks face each other.

Not here: how slopes are read (slopes).
"""

from __future__ import annotations

from itertools import pairwise

from fitsolve.build.assembly import AXES, Contact, Distance, Lean
from fitsolve.build.slopes import SlopeDraft
from fitsolve.build.stock import Stock
from fitsolve.light import replace


def leaning(stock: Stock, slopes: list[SlopeDraft], contacts: tuple[Contact, ...]) -> tuple[Contact, ...]:
    """Return the contacts, those on slopes with how far their marks are from facing each other: a tail
    longer than its lap is deep is wider at its end, and yet fits, for it is narrower where the lap ends."""
    if not slopes:
        return contacts
    lines = _Lines(stock, slopes)
    butts: dict[tuple[int, str], Contact] = {}
    for contact in contacts:
        if contact.kind == "butt":
            butts.setdefault((contact.joint, contact.axis), contact)
    return tuple(
        replace(contact, leans=leans) if any(leans := lines.leans(contact, butts)) else contact
        for contact in contacts
    )


class _Lines:
    """Which slope each mark is on, and the mark along the run where it is."""

    def __init__(self, stock: Stock, slopes: list[SlopeDraft]) -> None:
        self.stock = stock
        self.slope: dict[int, SlopeDraft] = {}
        for draft in slopes:
            self.slope.setdefault(draft.start, draft)
            self.slope.setdefault(draft.end, draft)

    def run(self, mark: int) -> int | None:
        """The mark along the other axis that a station is named after."""
        draft = self.slope.get(mark)
        if draft is not None:
            return draft.run_start if mark == draft.start else draft.run_end
        base, _, station = self.stock.name[mark].partition("@")
        part = self.stock.parts[self.stock.part[mark]]
        return self.stock.index.get(f"{base.rpartition('.')[0]}.{station}", self.stock.index.get(f"{part}.{station}"))

    def leans(
        self, contact: Contact, butts: dict[tuple[int, str], Contact]
    ) -> tuple[Lean | None, ...]:
        """One for each gap."""
        return tuple(self.lean(contact.joint, upper, lower, butts) for lower, upper in contact.gap_marks)

    def lean(
        self, joint: int, upper: int, lower: int, butts: dict[tuple[int, str], Contact]
    ) -> Lean | None:
        draft = self.slope.get(upper, self.slope.get(lower))
        if draft is None:
            return None
        run, part = (self.run(upper), self.run(lower)), self.stock.part
        axis = AXES[self.stock.axis[draft.run_start]]
        butt = butts.get((joint, axis))
        if butt is None or run[0] is None or run[1] is None:
            return None
        if any(AXES[self.stock.axis[mark]] != axis for mark in run if mark is not None):
            return None
        home = butt.marks if part[butt.marks[0]] == part[upper] else butt.marks[::-1]
        if run == home or part[home[0]] != part[upper] or part[home[1]] != part[lower]:
            return None
        return Lean(run[0], home[0], run[1], home[1], float(draft.ratio))


def derived_distances(
    stock: Stock, slopes: list[SlopeDraft], contacts: tuple[Contact, ...]
) -> list[Distance]:
    """Return the distances that no run has and a slope makes, so that they are reported too: a width
    at an end of it, where a joint meets, or else its rise, where an end has no run; and the rise of a slanted
    shoulder, and of the face it meets."""
    if not slopes:
        return []
    ends = {mark: draft for draft in slopes for mark in (draft.start, draft.end)}
    pairs: dict[tuple[int, int], SlopeDraft] = {}
    for contact in contacts:
        if contact.kind == "housing":
            for low, high in (contact.marks[:2], contact.marks[2:]):
                draft = ends.get(low, ends.get(high))
                if draft is not None:
                    pairs.setdefault((low, high), draft)
    shown = {mark for pair in pairs for mark in pair}
    for draft in slopes:
        if draft.whole is None and (draft.give is not None or draft.placed not in (None, *shown)):
            pairs.setdefault((draft.start, draft.end), draft)
    pairs = {**pairs, **_shoulders(stock, ends, contacts)}
    known = {frozenset((distance.start, distance.end)) for distance in stock.distances}
    return [
        _derived(stock, pair, draft) for pair, draft in pairs.items() if frozenset(pair) not in known
    ]


def _shoulders(
    stock: Stock, ends: dict[int, SlopeDraft], contacts: tuple[Contact, ...]
) -> dict[tuple[int, int], SlopeDraft]:
    """How far a slanted face rises from one station to the next where one joint butts against both."""
    met: dict[tuple[int, str], list[int]] = {}
    for contact in contacts:
        for mark in contact.marks if contact.kind == "butt" else ():
            if mark in ends:
                met.setdefault((contact.joint, stock.name[mark].partition("@")[0]), []).append(mark)
    return {pair: ends[pair[1]] for marks in met.values() for pair in pairwise(dict.fromkeys(marks))}


def _derived(stock: Stock, pair: tuple[int, int], draft: SlopeDraft) -> Distance:
    start, end = pair
    length = stock.at[end] - stock.at[start]
    return Distance(
        stock.parts[stock.part[start]],
        AXES[stock.axis[start]],
        start,
        end,
        -1 if length < 0 else 1,
        float(abs(length)),
        None,
        place=draft.spot.place(),
        derived=True,
    )
