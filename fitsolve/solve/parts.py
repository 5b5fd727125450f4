"""Parts: the network split into what hangs together, by itself.

Two marks hang together where any row has both, or one is laid out from the other. Each part has its marks and,
list by list, the numbers of its rows; taken out of the whole its marks are numbered from 0. All parts are
taken out together: a list is put in their order once, and each has its stretch of it.

Not here: what the rows come to (pieces).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fitsolve.light import replace
from fitsolve.rows import Bounds, Cuts, Ints, Network, RowList, Rows
from fitsolve.solve.freedom import Freedom

LISTS = ("measured", "planned", "wishes", "late", "holds", "bounds")

NOTHING = RowList().rows()

Parts = list[tuple[Ints, dict[str, Ints]]]


def _list(network: Network, name: str) -> Rows:
    return network.bounds.rows if name == "bounds" else getattr(network, name)


def split(network: Network, left_out: Ints | None = None) -> Parts:
    """The pieces: for each its marks, and list by list the numbers of its rows. Measured rows that are
    left out tie nothing and belong to none."""
    lists = {name: _list(network, name) for name in LISTS}
    kept: Ints | None = None
    if left_out is not None and len(left_out):
        kept = np.setdiff1d(np.arange(len(network.measured)), left_out)
        lists["measured"] = network.measured.pick(kept)
    piece = _pieces(network, [*lists.values(), network.judged])
    count = int(piece.max(initial=-1)) + 1
    chosen: list[dict[str, Ints]] = [{} for _ in range(count)]
    for name, rows in lists.items():
        groups = [np.zeros(0, dtype=np.intp)] * count
        if len(rows.mark):
            first_mark = rows.mark[np.minimum(rows.start[:-1], len(rows.mark) - 1)]
            groups = _by_piece(piece[first_mark], count)
        for number, group in enumerate(groups):
            chosen[number][name] = group if kept is None or name != "measured" else kept[group]
    return list(zip(_by_piece(piece, count), chosen, strict=True))


def _pieces(network: Network, lists: Sequence[Rows]) -> Ints:
    """For each mark the piece it belongs to (n,)."""
    n, reference = len(network), network.cuts.reference
    first = [rows.mark[rows.start[rows.owner()]] for rows in lists]
    one, other = np.concatenate([*first, np.arange(n)]), np.concatenate([*(rows.mark for rows in lists), reference])
    key = (one * n + other)[one != other]
    once = np.sort(np.unique(key, return_index=True)[1])  # in the order of the rows: what is said again ties nothing
    whole = Freedom(n)
    whole.join((key[once] // n).tolist(), (key[once] % n).tolist())
    return np.asarray(np.unique(whole.roots(), return_inverse=True)[1], dtype=np.intp)


def _by_piece(piece: Ints, count: int) -> list[Ints]:
    """The places of each piece's members, in order."""
    order = np.argsort(piece, kind="stable")
    ends = np.bincount(piece, minlength=count).cumsum().tolist()
    return [order[start:end] for start, end in zip([0, *ends], ends, strict=False)]


def taken_out(network: Network, parts: Parts) -> Iterator[Network]:
    """Yield the network of each part, its marks numbered from 0."""
    number = np.zeros(len(network), dtype=np.intp)
    for marks, _ in parts:
        number[marks] = np.arange(len(marks))
    lists = {name: _shared_out(network, name, parts, number) for name in LISTS}
    counted = None if network.counted is None else _shared_out(network, "counted", parts, number)
    for k, (marks, chosen) in enumerate(parts):
        rows, picked, whole = {name: own[k] for name, own in lists.items()}, chosen["bounds"], network.bounds
        bounds = Bounds(
            rows.pop("bounds"),
            whole.low[picked],
            whole.high[picked],
            whole.hard[picked],
            whole.relaxable[picked],
        )
        yield Network(
            plan_mm=network.plan_mm[marks],
            uncut=network.uncut[marks],
            bounds=bounds,
            cuts=_local_cuts(network.cuts, marks, number),
            shared=None,
            turning=_turning(network, chosen["measured"]),
            counted=None if counted is None else counted[k],
            asked=None if network.asked is None else network.asked[chosen["holds"]],
            as_drawn=network.as_drawn,
            judged=NOTHING,  # it has tied what is judged together, and asks nothing more
            **rows,
        )


def _shared_out(network: Network, name: str, parts: Parts, number: Ints) -> list[Rows]:
    """The rows of a list that each part has, by the numbers of its marks."""
    chosen = [own["measured" if name == "counted" else name] for _, own in parts]
    if len(_list(network, name)) == 0:
        return [_list(network, name)] * len(parts)
    rows = _list(network, name).pick(np.concatenate([*chosen, np.zeros(0, dtype=np.intp)])).renumber(number)
    ends = np.cumsum([len(own) for own in chosen]).tolist()
    return [rows.stretch(start, end) for start, end in zip([0, *ends], ends, strict=False)]


def _turning(network: Network, measured: Ints) -> Ints | None:
    """Which of a piece's measured rows turn; None where none does."""
    if network.turning is None:
        return None
    own = np.flatnonzero(np.isin(measured, network.turning))
    return own if len(own) else None


def _local_cuts(cuts: Cuts, marks: Ints, number: Ints) -> Cuts:
    """How the marks of a part may miss, the lines they are cut on numbered from 0."""
    group = cuts.group[marks]
    cut = group >= 0
    if cut.any():
        group[cut] = np.unique(group[cut], return_inverse=True)[1]
    return replace(cuts, group=group, side=cuts.side[marks], reference=number[cuts.reference[marks]])
