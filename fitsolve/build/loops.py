"""Loops: offsets over a tree of ties, and the loops that the other ties close.

A tie says  o_b - o_a = length,  and may be off by anything within its slack (low, high). Ties
are followed breadth first from the first node of each group; those left over close loops. A
loop's misclosure is what is left over on the way round; the loop can take it up when it lies
within the slacks of its ties, added up the way it is gone round, and half of `finest` more.

Each loop of the tree's own is judged by itself, which is enough to find a misprint; whether all
of them can be had at once is a question for the sizes as made.

Cost: linear in ties, and for each loop that does not close its own length.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from fractions import Fraction

from fitsolve.build.joints import Touch
from fitsolve.light import dataclass

OPEN_LOOPS_MOST = 20


@dataclass(frozen=True, slots=True)
class Tie:
    """o_b - o_a = length (mm), off by no less than slack[0] and no more than slack[1]."""

    a: int
    b: int
    length: Fraction
    slack: tuple[Fraction, Fraction]
    band_mm: float
    touch: Touch


@dataclass(slots=True)
class Closing:
    """What closing the loops found: for each loop that stays open its contact, the nodes on the
    way round, what is left over, and what the loop can take up. `more` counts those not listed."""

    open_loops: list[tuple[Touch, list[int], Fraction, Fraction]] = field(default_factory=list)
    more: int = 0


def close_loops(ties: Sequence[Tie], count: int, offset: list[Fraction], group: list[int], finest: Fraction) -> Closing:
    """Settle `offset` (mm) and `group`, both (count,), from the ties; return the loops left open."""
    up, depth = _tree(ties, count, offset, group)
    closing = Closing()
    off: list[tuple[Tie, Fraction]] = []
    for number, tie in enumerate(ties):
        miss = tie.length - (offset[tie.b] - offset[tie.a])
        if miss != 0:
            assert up[tie.a] != number != up[tie.b], "a tie of the tree is met exactly"
            off.append((tie, miss))
    if not off:
        return closing
    for tie, miss in off:
        if len(closing.open_loops) >= OPEN_LOOPS_MOST:
            closing.more += 1
            continue
        nodes, low, high = _way(tie, ties, up, depth)
        half = finest / 2
        if not low - half <= -miss <= high + half:
            allowed = high + half if miss < 0 else half - low
            closing.open_loops.append((tie.touch, nodes, miss, max(allowed, Fraction(0))))
    _adjust(ties, offset, group, {group[tie.a] for tie, _ in off})
    return closing


def _tree(ties: Sequence[Tie], count: int, offset: list[Fraction], group: list[int]) -> tuple[list[int], list[int]]:
    """Put down the nodes breadth first; return for each the tie it hangs on (-1), and its depth."""
    beside: list[list[int]] = [[] for _ in range(count)]
    for number, tie in enumerate(ties):
        beside[tie.a].append(number)
        beside[tie.b].append(number)
    up, depth = [-1] * count, [0] * count
    groups = 0
    for first in range(count):
        if group[first] >= 0:
            continue
        group[first] = groups
        queue = [first]
        for node in queue:
            for number in beside[node]:
                tie = ties[number]
                other = tie.b if tie.a == node else tie.a
                if group[other] < 0:
                    group[other] = groups
                    offset[other] = offset[node] + (tie.length if tie.a == node else -tie.length)
                    up[other], depth[other] = number, depth[node] + 1
                    queue.append(other)
        groups += 1
    return up, depth


def _way(tie: Tie, ties: Sequence[Tie], up: list[int], depth: list[int]) -> tuple[list[int], Fraction, Fraction]:
    """The way round a loop: its nodes, and how far the ties on it can be off, the tie's own way round.

    Going from a to b along the tie and back along the tree, the deviations must add up to minus
    the misclosure.
    """
    low, high = tie.slack
    back, ahead = [tie.b], [tie.a]
    while back[-1] != ahead[-1]:
        climb = back if depth[back[-1]] >= depth[ahead[-1]] else ahead
        node = climb[-1]
        rung = ties[up[node]]
        upward = rung.b if rung.a == node else rung.a
        climb.append(upward)
        # On `back` the way goes from node upward, on `ahead` from upward to node.
        forward = (rung.a == node) == (climb is back)
        low += rung.slack[0] if forward else -rung.slack[1]
        high += rung.slack[1] if forward else -rung.slack[0]
    return ahead + back[-2::-1], low, high


def _adjust(ties: Sequence[Tie], offset: list[Fraction], group: list[int], groups: set[int]) -> None:
    """Least squares over the groups that hold a loop which does not close exactly."""
    numbers: dict[int, int] = {}
    edges = []
    for tie in ties:
        if group[tie.a] in groups:
            a, b = (numbers.setdefault(node, len(numbers)) for node in (tie.a, tie.b))
            edges.append((a, b, tie.length, tie.band_mm))
    from fitsolve.build.spread import spread

    nodes = list(numbers)
    for node, place in zip(nodes, spread([offset[node] for node in nodes], edges), strict=True):
        offset[node] = place
