"""Pieces: the network split into what hangs together, and each piece solved.

Rows that share no mark have nothing to do with each other, so each connected piece is solved
by itself: estimate (what was measured, then what was planned), allocate (what to cut), and
the outlook of the finished piece (how it will err). One axis of a build is usually one piece.

Estimate. Each reading gives a row x_j - x_i = r with standard uncertainty u; x minimises the
sum of ((x_j - x_i - r) / u)^2. What readings leave free, distances of made wood at plan (or at
what they were cut to) settle, with workmanship as their uncertainty; they move nothing that
readings settle. Cov(x) = M1 M1' + M2 M2' with the maps of the two stages.

Checks on readings. With H the map from readings to adjusted readings, both divided by u, the
redundancy of reading k is r_k = 1 - H_kk, its standardised residual w_k = v_k / sqrt(r_k).

Source: adjustment of observations, any text; w: W. Baarda, A testing procedure for use in
geodetic networks (1968, from memory). Check values: specs/references/networks.toml.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fitsolve.rows import Bounds, Cuts, Floats, Ints, Network, Rows
from fitsolve.solve.allocate import Allocation, Wanted, allocate
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.judge import Outlook, outlook
from fitsolve.solve.staged import Staged

LISTS = ("measured", "planned", "wishes", "late", "holds", "bounds", "judged")


@dataclass(frozen=True)
class Piece:
    """One piece that hangs together. `marks` (n,) are its marks in the whole; `chosen` gives,
    list by list, its rows in the whole; rows inside are numbered by its own marks. `read` is
    what readings and closed contacts alone leave free."""

    marks: Ints
    chosen: dict[str, Ints]
    network: Network
    read: Freedom
    estimate: Staged
    allocation: Allocation
    outlook: Outlook

    @property
    def x(self) -> Floats:
        """Positions (n,) as estimated and as chosen, deviations from the plan, mm."""
        return self.allocation.staged.x

    def fixed(self, terms: list[tuple[int, float]]) -> bool:
        """Whether anything fixes this sum: facts, holds or wishes."""
        return self.allocation.staged.freedom.settled(terms)

    def is_fact(self, terms: list[tuple[int, float]]) -> bool:
        """Whether what is measured and made already settles this sum."""
        return self.estimate.freedom.settled(terms)

    def u_advice(self, rows: Rows) -> Floats:
        """Standard uncertainty (m,) of each row from measurement alone, mm."""
        maps = np.hstack(self.allocation.staged.maps[:2])
        return np.sqrt(np.square(rows.of(maps)).sum(axis=1))

    def u_cut(self, rows: Rows) -> Floats:
        """Standard uncertainty (m,) that cutting adds to each row, mm."""
        return np.sqrt(np.square(rows.of(cut_errors(self.network.cuts))).sum(axis=1))


@dataclass(frozen=True)
class Residuals:
    """For each measured row: adjusted less observed (mm), redundancy, standardised residual."""

    residual_mm: Floats
    redundancy: Floats
    standardised: Floats


def residuals(piece: Piece) -> Residuals:
    """Return the residuals of a piece's measured rows, with what checks them."""
    rows, scale = piece.network.measured, piece.network.measured.scale
    v = rows.of(piece.estimate.x) - rows.value
    hat = rows.of(piece.estimate.maps[0]) / scale[:, None]
    redundancy = np.clip(1.0 - np.diagonal(hat), 0.0, 1.0)
    checked = redundancy > 1e-9
    w = np.zeros(len(rows))
    w[checked] = v[checked] / scale[checked] / np.sqrt(redundancy[checked])
    return Residuals(v, np.where(checked, redundancy, 0.0), w)


def solve_pieces(network: Network) -> Iterator[Piece]:
    """Solve every piece of the network, one after another."""
    for marks, chosen in split(network):
        yield solve_piece(marks, chosen, local(network, marks, chosen))


def solve_piece(marks: Ints, chosen: dict[str, Ints], network: Network) -> Piece:
    """Estimate, allocate and look ahead for one piece."""
    estimate = Staged.start(len(network)).add(network.measured)
    read = estimate.freedom.copy()
    estimate.add(network.planned)
    bounds = network.bounds
    wanted = Wanted(
        network.wishes,
        network.late,
        network.holds,
        bounds.rows,
        bounds.low,
        bounds.high,
        bounds.hard,
        bounds.relaxable,
    )
    allocation = allocate(estimate, wanted)
    layout = _layout(network)
    view = outlook(estimate, layout, cut_errors(network.cuts), network.wishes)
    return Piece(marks, chosen, network, read, estimate, allocation, view)


def _layout(network: Network) -> Rows:
    """One row for each uncut mark: where it lies from the mark it is laid out from."""
    reference = network.cuts.reference
    moved = np.flatnonzero(network.uncut & (reference != np.arange(len(network))))
    m = len(moved)
    marks = np.column_stack([moved, reference[moved]]).ravel()
    return Rows(np.arange(0, 2 * m + 1, 2), marks, np.tile([1.0, -1.0], m), np.zeros(m), np.ones(m))


def cut_errors(cuts: Cuts) -> Floats:
    """How each mark (n, 2 groups) misses per independent unit error of location and width."""
    groups = int(cuts.group.max(initial=-1)) + 1
    errors = np.zeros((len(cuts.group), 2 * groups))
    cut = np.flatnonzero(cuts.group >= 0)
    errors[cut, cuts.group[cut]] = cuts.u_location_mm
    errors[cut, groups + cuts.group[cut]] = cuts.side[cut] * cuts.u_width_mm / 2
    return errors


def _list(network: Network, name: str) -> Rows:
    return network.bounds.rows if name == "bounds" else getattr(network, name)


def split(network: Network) -> list[tuple[Ints, dict[str, Ints]]]:
    """The pieces: for each its marks, and list by list the numbers of its rows."""
    n = len(network)
    whole = Freedom(n)
    for name in LISTS:
        rows = _list(network, name)
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
        **rows,
    )


def _local_cuts(cuts: Cuts, marks: Ints, number: Ints) -> Cuts:
    _, group = np.unique(np.append(cuts.group[marks], -1), return_inverse=True)
    return replace(
        cuts,
        group=group[:-1] - 1,
        side=cuts.side[marks],
        reference=number[cuts.reference[marks]],
    )
