"""Rule values: the numbers of a keep or a check, each as a row over marks and what it shall be.

    spans   a span and its length, or each pair of spans, the earlier less the later, and 0
    wind    for each mark, how far it stands off the plane of the others; positive is up its axis
    level   for each two marks, how much higher the first is, over the plane of what the frame stands on
    rock    for each way the frame stands on three feet, how far each other foot stands off
    rack    by how much one diagonal is longer than the other
    taper   for each two opposite sides, by how much the first is longer
    twist   for each side of a frame, by how much one of its edges leans more than the other

The worst of its numbers is that of the check. Rows of rock and rack follow from where the marks lie
(`at`, one place for each mark of the build): a row holds near there.

Not here: what the rows come to (findings), the geometry (standing).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Protocol

from fitsolve.build.assembly import Frame, Rule, Span
from fitsolve.light import dataclass

PAIRS_MOST = 12
"""Of more marks than this, each is compared with the highest and the lowest only."""

Terms = list[tuple[int, float]]


class Positions(Protocol):
    """Where each mark lies, mm: a list or an array."""

    def __getitem__(self, mark: int, /) -> float:
        """The place of a mark."""



@dataclass(frozen=True, slots=True)
class FrameValue:
    """One number as a row. `about` are marks: the one off the plane; the two compared; of a rock the foot
    that is off, then the three stood on; of two diagonals or sides their four corners' marks."""

    terms: Terms
    about: tuple[int, ...]


def span_terms(span: Span) -> Terms:
    """A span as a row: sign * (x_end - x_start)."""
    return [(span.end, float(span.sign)), (span.start, -float(span.sign))]


def rule_values(rule: Rule, at: Positions) -> list[tuple[Terms, float]]:
    """Return the values of a keep or a check as rows and what they shall be; `at` is where all marks lie."""
    if rule.frame is not None:
        return [(one.terms, 0.0) for one in frame_values(rule, at)]
    if len(rule.spans) == 1:
        return [(span_terms(rule.spans[0]), rule.length_mm or 0.0)]
    return [
        (_summed([*span_terms(first), *((mark, -coef) for mark, coef in span_terms(second))]), 0.0)
        for first, second in combinations(rule.spans, 2)
    ]


def held_values(rule: Rule, at: Positions) -> list[tuple[Terms, float]]:
    """Return those of them that say all: where they are 0, so are the others."""
    values = rule_values(rule, at)
    if rule.frame is None:
        return values[: max(1, len(rule.spans) - 1)]
    if rule.kind == "level":
        return values[: len(rule.frame.marks) - 1]
    if rule.kind == "wind":
        return values[: len(rule.frame.marks) - 3]
    return values[:1] if rule.kind in ("rack", "rock") else values


def frame_values(rule: Rule, at: Positions) -> list[FrameValue]:
    """Return the numbers of a check of the frame; `at` is where each mark lies, or is planned, in mm."""
    frame = rule.frame
    assert frame is not None, "asked for only of a check of the frame"
    from fitsolve.build.standing import off_plane, rack, stances

    if rule.kind == "wind":
        return [FrameValue(_row(frame.marks, row), (frame.marks[k],)) for k, row in off_plane(frame.places)]
    if rule.kind == "level":
        return _level(frame, at)
    if rule.kind == "rock":
        heights = [float(at[mark]) for mark in frame.marks]
        return [
            FrameValue(_row(frame.marks, row), tuple(frame.marks[k] for k in (foot, *face)))
            for face, foot, row in stances(frame.places, heights)
        ]
    first, second = frame.marks[:4], frame.marks[4:8]
    if rule.kind == "twist":
        return _leaning(frame.marks[:8], frame.marks[8:])
    if rule.kind == "taper":
        return [_sides(first), _sides((second[0], second[2], second[1], second[3]))]
    corners = [(float(at[a]), float(at[b])) for a, b in zip(first, second, strict=True)]
    _, weights = rack(corners)
    terms = [*_row(first, [u for u, _ in weights]), *_row(second, [v for _, v in weights])]
    return [FrameValue(terms, first)]


def _leaning(at: Sequence[int], then: Sequence[int]) -> list[FrameValue]:
    """For each side, how much more its second edge leans out of it than its first, from one station to the next."""
    edges = [(4, 5), (6, 7), (0, 2), (1, 3)]  # front and rear lean along the second axis, the others along the first
    return [_sides((at[a], then[a], at[b], then[b])) for b, a in edges]


def _sides(marks: Sequence[int]) -> FrameValue:
    """The side from the first mark to the second, less that from the third to the fourth."""
    return FrameValue(_row(marks, (-1.0, 1.0, 1.0, -1.0)), tuple(marks))


def _level(frame: Frame, at: Positions) -> list[FrameValue]:
    from fitsolve.build.standing import under

    weights = under(frame.places, frame.base_places)
    rows = [
        _row((mark, *frame.base), (1.0, *(-part for part in own)))
        for mark, own in zip(frame.marks, weights, strict=True)
    ]
    count = len(rows)
    pairs = list(combinations(range(count), 2))
    if count > PAIRS_MOST:
        heights = [sum(coef * at[mark] for mark, coef in row) for row in rows]
        ends = {heights.index(max(heights)), heights.index(min(heights))}
        pairs = [pair for pair in pairs if ends & set(pair)]
    return [
        FrameValue(_summed([*rows[i], *((mark, -coef) for mark, coef in rows[j])]), (frame.marks[i], frame.marks[j]))
        for i, j in pairs
    ]


def _row(marks: Sequence[int], weights: Sequence[float]) -> Terms:
    return _summed(zip(marks, weights, strict=True))


def _summed(terms: Iterable[tuple[int, float]]) -> Terms:
    """Terms with each mark once, and those that come to nothing left out."""
    total: dict[int, float] = {}
    for mark, coef in terms:
        total[mark] = total.get(mark, 0.0) + coef
    return [(mark, coef) for mark, coef in total.items() if abs(coef) > 1e-12]
