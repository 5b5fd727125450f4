"""Unread: what a verdict rests on that was never read.

A made distance that nobody read is where the plan, or its lines, put it; where the readings around it do not
add up to that, each such distance takes its share of what is over. The verdict follows from it, with its
chance; but before wood is taken off for it, those distances are to be read. Told of an open joint of made wood
only: what is still to be cut is cut to what is read first (wanted), and what is closed has gone together.

Not here: words (report).
"""

from __future__ import annotations

from fitsolve.build.history import MarkState
from fitsolve.findings.causes import Share, shares
from fitsolve.findings.solved import Solved, Terms

MOST = 4
"""So many readings are named."""

RESTS = 0.5
"""A verdict rests on what was never read where that brings in so much of its variance."""

WORTH = 0.15
"""A share of the variance below this is not worth a reading, if something else is."""


def unread(solved: Solved, terms: Terms) -> tuple[tuple[int, int], ...]:
    """Return the pairs of marks to be read before a sum over made marks is acted upon, the weightiest first; none
    where it rests on readings."""
    if any(solved.state.marks[mark] != MarkState.MADE for mark, _ in terms):
        return ()
    pairs = [(pair, one.share) for one in shares(solved, terms) if (pair := _pair(solved, one)) is not None]
    if sum(share for _, share in pairs) < RESTS:
        return ()
    worth = [pair for pair, share in pairs[:MOST] if share >= WORTH]
    return tuple(dict.fromkeys(worth or [pairs[0][0]]))


def _pair(solved: Solved, one: Share) -> tuple[int, int] | None:
    """The two marks between which a reading would settle a share; None for what is none of made wood unread."""
    assembly = solved.assembly
    if one.kind == "distance":
        return assembly.distances[one.number].start, assembly.distances[one.number].end
    if one.kind == "layout":
        return solved.state.laid_from[one.number], one.number
    if one.kind == "run":
        there = [mark for mark in assembly.runs[one.number] if solved.state.marks[mark] == MarkState.MADE]
        return (there[0], there[-1]) if len(there) > 1 else None
    return None
