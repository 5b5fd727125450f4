"""Causes: which readings a number rests on.

An answer v (a sum over marks) is linear in the rows that went into it, as long as the same
limits press. With i_k = dv per unit error of row k, s_k its standard uncertainty and r_k its
value less the plan,

    variance of v        sum of i_k^2            so i_k^2 over the sum is its share
    deviation of v       sum of i_k r_k / s_k    plus what fits and limits add; i_k r_k / s_k is
                                                 what row k contributes

Not here: what a thing that is doubted moves (moved), words (report).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable

import numpy as np

from fitsolve.findings.solved import Solved, Terms, rows_of
from fitsolve.findings.values import ALIKE
from fitsolve.graph import Source, gap_terms, merged
from fitsolve.light import dataclass
from fitsolve.rows import Floats
from fitsolve.solve.covariance import DenseErrors
from fitsolve.solve.pieces import Piece
from fitsolve.solve.shared import SharedErrors
from fitsolve.solve.staged import Staged

NOTHING = 1e-12
"""A share no larger is rounding."""

SURE_RATIO = 1.6448536269514722 / 2
"""Room so many U (k = 2) below nothing is none with a chance of 0.95."""

TELLING_MARKS_MAX = 5000
"""In a piece of more marks than this, causes are not looked for one by one."""


@dataclass(frozen=True, slots=True)
class Share:
    """How much of a variance one thing brings in. `kind` is "reading" (`number` is its row in the
    log), "contact", "distance", "slope", "peg" or "run" (numbers in the assembly), "station" or "layout" (a mark),
    "tool" (what the readings of a tool share, as far as it comes from elsewhere), or "cut"."""

    kind: str
    number: int
    share: float


def _weights(solved: Solved, piece: Piece, terms: Terms) -> Floats:
    inside = solved.inside(terms)
    weights = np.bincount([mark for mark, _ in inside], [coef for _, coef in inside], len(piece.network))
    return np.asarray(weights, dtype=np.float64)


def shares(solved: Solved, terms: Terms, of_one_part: bool = False) -> list[Share]:
    """Return what the variance of a sum in the finished piece is made of, the largest share first.

    A distance within one part (`of_one_part`) is what was advised and how the cuts land, wherever the
    part then goes. For very large pieces nothing: it would cost a solution for each sum.
    """
    piece = solved.piece(terms)
    if piece is None or len(piece.network) > TELLING_MARKS_MAX:
        return []
    errors = piece.advice if of_one_part else piece.outlook.errors
    influence = errors.influence(_weights(solved, piece, terms))
    cuts = float(piece.u_cut(rows_of([solved.inside(terms)]))[0]) ** 2 if of_one_part else 0.0
    total = float(influence @ influence) + cuts
    if total <= 0.0:
        return []
    part = influence**2 / total
    sources = _sources(solved, piece)
    elsewhere = float(part[-1]) if isinstance(errors, SharedErrors) else 0.0
    if elsewhere:
        part = part[:-1]
    found = [Share(*named(solved, s), float(p)) for s, p in zip(sources, part, strict=False) if p > NOTHING]
    cut = float(part[len(sources) :].sum()) + cuts / total
    if cut > NOTHING:
        found.append(Share("cut", 0, cut))
    if elsewhere > NOTHING:
        found.append(Share("tool", 0, elsewhere))
    return sorted(found, key=lambda one: -round(one.share, ALIKE))


def _sources(solved: Solved, piece: Piece) -> list[Source]:
    """Where the rows of the two noisy stages come from, in the order of the errors."""
    graph = solved.graph
    measured = [graph.measured[k] for k in piece.chosen["measured"].tolist()]
    return measured + [graph.planned[k] for k in piece.chosen["planned"].tolist()]


def named(solved: Solved, source: Source) -> tuple[str, int]:
    """What a row comes from, as the maker knows it: a reading by its row of the log."""
    if source.kind == "reading":
        return "reading", solved.state.readings[source.number].no
    return source.kind, source.number


def contributions(solved: Solved, terms: Terms) -> list[tuple[int, float]]:
    """Return what each reading (by its row) adds to a chosen sum's deviation from plan, in mm, the
    largest first. For large pieces nothing: it would cost a solution for each sum."""
    piece = solved.piece(terms)
    if piece is None or not isinstance(piece.estimate, Staged):
        return []
    rows = piece.network.measured
    influence = piece.advice.influence(_weights(solved, piece, terms))[: len(rows)]
    adds = influence * rows.value / rows.scale
    found = []
    for row, amount in zip(piece.chosen["measured"].tolist(), adds.tolist(), strict=True):
        source = solved.graph.measured[row]
        if source.kind == "reading":
            found.append((solved.state.readings[source.number].no, amount))
    return sorted(found, key=lambda one: -round(abs(one[1]), ALIKE))


@dataclass(frozen=True, slots=True)
class Squeeze:
    """The two gaps of a part that leave its placement the least room: what it must get over at once.

    `first` and `second` are contacts; `room_mm` is what the two gaps leave, negative where the
    part jams by so much; `terms` is their sum as a row. `alone` where the part cannot move any more against what it
    meets: then it is one gap, which has to be there by itself.
    """

    first: int
    second: int
    room_mm: float
    expanded_mm: float
    terms: tuple[tuple[int, float], ...]
    alone: bool = False


def squeeze(solved: Solved, part: str) -> Squeeze | None:
    """Return the tightest pair of gaps of a part on its open joints: of those that are too tight for sure the one
    that lacks the most, else the tightest in units of their uncertainty. Worked out once for each part: what is
    told of a joint asks for it again and again, and it takes all pairs of its gaps."""
    if part not in solved.squeezes:
        solved.squeezes[part] = _squeeze(solved, part)
    return solved.squeezes[part]


def _squeeze(solved: Solved, part: str) -> Squeeze | None:
    found: list[Squeeze] = []
    for (_, mine, theirs), (own, other) in _facing_gaps(solved, part).items():
        alone = mine == theirs
        pairs = [(a, a, a[1]) for a in (*own, *other)] if alone else []
        pairs = pairs or [(a, b, merged(a[1], b[1])) for a in own for b in other]
        pairs = [pair for pair in pairs if pair[2]]
        if not pairs:
            continue
        piece = solved.piece(pairs[0][2])
        if piece is None or len(piece.network) > TELLING_MARKS_MAX:
            continue
        expanded = _expanded(solved, piece, [terms for _, _, terms in pairs])
        for (a, b, terms), spread in zip(pairs, expanded, strict=True):
            room = solved.value_mm(terms) - a[2] - (0.0 if alone else b[2])
            found.append(Squeeze(a[0], b[0], room, spread, tuple(terms), alone))
    return min(found, key=_tightness, default=None)


def _tightness(one: Squeeze) -> tuple[bool, float]:
    """What is least for the tightest of several squeezes."""
    ratio = one.room_mm / max(one.expanded_mm, 1e-6)
    sure = ratio < -SURE_RATIO
    return not sure, round(one.room_mm if sure else ratio, ALIKE)


def _expanded(solved: Solved, piece: Piece, sums: list[Terms]) -> list[float]:
    """U (k = 2) of a few sums in the finished piece. In a large piece from the influence of each row: what
    gives the variance of all sums at once would be worked out for each few of them anew."""
    errors = piece.outlook.errors
    if isinstance(errors, DenseErrors):
        spread = np.sqrt(errors.variance(rows_of([solved.inside(terms) for terms in sums])))
        return [2 * float(u) for u in spread]
    return [2 * float(np.linalg.norm(errors.influence(_weights(solved, piece, terms)))) for terms in sums]


Gap = tuple[int, Terms, float]
"""A gap: its contact, its row, and the least it must keep."""


def _facing_gaps(solved: Solved, part: str) -> dict[tuple[int, Hashable, Hashable], tuple[list[Gap], list[Gap]]]:
    """The gaps of a part's open housings and rooms that one placement must serve together: those
    whose upper mark is its own, and those whose lower mark is."""
    marks = solved.assembly.marks
    groups: dict[tuple[int, Hashable, Hashable], tuple[list[Gap], list[Gap]]] = defaultdict(lambda: ([], []))
    for number in solved.assembly.contacts_of[part]:
        contact = solved.assembly.contacts[number]
        if contact.joint in solved.state.closed or contact.kind == "butt":
            continue
        least = 0.0 if contact.kind == "room" else min(0.0, contact.least_mm) / 2
        for terms in gap_terms(contact):
            home = int(solved.piece_of[terms[0][0]])
            view = solved.pieces[home].outlook
            (upper, _), (lower, _) = terms[:2]
            upper_is_own = marks[upper].part == part
            own, other = (upper, lower) if upper_is_own else (lower, upper)
            key = (home, view.key(int(solved.number[own])), view.key(int(solved.number[other])))
            groups[key][0 if upper_is_own else 1].append((number, terms, least))
    return groups
