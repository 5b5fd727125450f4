"""Parts: the network split into what hangs together, by itself.

Two marks hang together where any row has both, or one is laid out from the other. Each part has its marks and,
list by list, the numbers of its rows; taken out of the whole its marks are numbered from 0.

Not here: what the rows come to (pieces).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fitsolve.rows import Bounds, Cuts, Ints, Network, Rows
from fitsolve.solve.freedom import Freedom

LISTS = ("measured", "planned", "wishes", "late", "holds", "bounds", "judged")

Parts = list[tuple[Ints, dict[str, Ints]]]


def _list(network: Network, name: str) -> Rows:
    return network.bounds.rows if name == "bounds" else getattr(network, name)


def split(network: Network, left_out: Ints | None = None) -> Parts:
    """The pieces: for each its marks, and list by list the numbers of its rows. Measured rows that are
    left out tie nothing and belong to none."""
    n = len(network)
    whole = Freedom(n)
    leaves_out = left_out is not None and len(left_out) > 0
    kept = np.setdiff1d(np.arange(len(network.measured)), left_out) if leaves_out and left_out is not None else None
    for name in LISTS:
        rows = _list(network, name)
        if name == "measured" and kept is not None:
            rows = rows.pick(kept)
        joins = np.diff(rows.start) > 1
        first = np.repeat(rows.mark[rows.start[:-1][joins]], np.diff(rows.start)[joins] - 1)
        rest = np.ones(len(rows.mark), dtype=bool)
        rest[rows.start[:-1][np.diff(rows.start) > 0]] = False
        whole.join(first.tolist(), rows.mark[rest].tolist())
    for mark in np.flatnonzero(network.cuts.reference != np.arange(n)).tolist():
        whole.join([mark], [int(network.cuts.reference[mark])])
    root = np.array([whole.root(mark) for mark in range(n)], dtype=np.intp)
    _, piece = np.unique(root, return_inverse=True)
    count = int(piece.max(initial=-1)) + 1
    marks = _by_piece(piece, count)
    chosen: list[dict[str, Ints]] = [{} for _ in range(count)]
    for name in LISTS:
        rows = _list(network, name)
        if len(rows.mark) == 0:
            groups = [np.zeros(0, dtype=np.intp)] * count
        else:
            first_mark = rows.mark[np.minimum(rows.start[:-1], len(rows.mark) - 1)]
            groups = _by_piece(piece[first_mark], count)
        for number, group in enumerate(groups):
            chosen[number][name] = group
    if kept is not None:
        for one in chosen:
            one["measured"] = np.intersect1d(one["measured"], kept, assume_unique=True)
    return list(zip(marks, chosen, strict=True))


def _by_piece(piece: Ints, count: int) -> list[Ints]:
    """The places of each piece's members, in order."""
    order = np.argsort(piece, kind="stable")
    return np.split(order, np.searchsorted(piece[order], np.arange(1, count))) if count else []


def local(network: Network, marks: Ints, chosen: dict[str, Ints]) -> Network:
    """The network of one piece, its marks numbered from 0."""
    number = np.zeros(len(network), dtype=np.intp)
    number[marks] = np.arange(len(marks))
    rows = {name: _list(network, name).pick(chosen[name]).renumber(number) for name in LISTS}
    picked = chosen["bounds"]
    whole = network.bounds
    turning = _turning(network, chosen["measured"])
    bounds = Bounds(
        rows.pop("bounds"),
        whole.low[picked],
        whole.high[picked],
        whole.hard[picked],
        whole.relaxable[picked],
    )
    return Network(
        plan_mm=network.plan_mm[marks],
        uncut=network.uncut[marks],
        bounds=bounds,
        cuts=_local_cuts(network.cuts, marks, number),
        shared=None,
        turning=turning,
        counted=None if network.counted is None else network.counted.pick(chosen["measured"]).renumber(number),
        asked=None if network.asked is None else network.asked[chosen["holds"]],
        **rows,
    )


def _turning(network: Network, measured: Ints) -> Ints | None:
    """Which of a piece's measured rows turn; None where none does."""
    if network.turning is None:
        return None
    own = np.flatnonzero(np.isin(measured, network.turning))
    return own if len(own) else None


def _local_cuts(cuts: Cuts, marks: Ints, number: Ints) -> Cuts:
    _, group = np.unique(np.append(cuts.group[marks], -1), return_inverse=True)
    return replace(
        cuts,
        group=group[:-1] - 1,
        side=cuts.side[marks],
        reference=number[cuts.reference[marks]],
    )
