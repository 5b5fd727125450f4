"""Pieces: the network split into what hangs together, and each piece solved.

Rows that share no mark have nothing to do with each other, so each connected piece is solved
by itself: estimate (what was measured, then what was planned), allocate (what to cut), and
the outlook of the finished piece (how it will err). One axis of a build is usually one piece.

Estimate. Each reading gives a row x_j - x_i = r with standard uncertainty u; x minimises the
sum of ((x_j - x_i - r) / u)^2. What readings leave free, distances of made wood at plan (or at
what they were cut to) settle, with workmanship as their uncertainty; they move nothing that
readings settle. Cov(x) = M1 M1' + M2 M2' with the maps of the two stages.

Errors that readings share (a tool's zero or scale) are found first, from all pieces together, and
taken off; see `shared`.

Checks on readings. With H the map from readings to adjusted readings, both divided by u, the
redundancy of reading k is r_k = 1 - H_kk, its standardised residual w_k = v_k / sqrt(r_k).

Source: adjustment of observations, any text; w: W. Baarda, A testing procedure for use in
geodetic networks (1968, from memory). Check values: specs/references/networks.toml.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Bounds, Cuts, Flags, Floats, Ints, Network, Rows
from fitsolve.solve.allocate import Allocation, allocate
from fitsolve.solve.covariance import DenseErrors, Errors, SparseErrors
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.judge import Outlook
from fitsolve.solve.shared import PieceShared, SharedErrors, corrected, find_shared, with_shared
from fitsolve.solve.staged import Staged
from fitsolve.solve.wanted import AnyStaged, Wanted

LISTS = ("measured", "planned", "wishes", "late", "holds", "bounds", "judged")

NOISY = 2
"""The stages whose rows have errors: what was measured, and what was planned and made."""

DENSE_MARKS = 400
"""Up to so many marks a piece is solved densely."""

CHECKED = 1e-9
"""A redundancy below this is rounding: nothing checks the reading."""


@dataclass(frozen=True)
class Piece:
    """One piece that hangs together. `marks` (n,) are its marks in the whole; `chosen` gives,
    list by list, its rows in the whole; rows inside are numbered by its own marks. `read` is
    what readings and closed contacts alone leave free."""

    marks: Ints
    chosen: dict[str, Ints]
    network: Network
    read: Freedom
    estimate: AnyStaged
    allocation: Allocation
    outlook: Outlook
    shared: PieceShared | None = None

    @property
    def x(self) -> Floats:
        """Positions (n,) as estimated and as chosen, deviations from the plan, mm."""
        return self.allocation.staged.x

    @cached_property
    def advice(self) -> Errors:
        """How positions err with the readings, what to cut following them."""
        return with_shared(self.allocation.staged.errors(NOISY), self.shared)

    @cached_property
    def facts(self) -> Errors:
        """How what is there errs, before anything is chosen."""
        return with_shared(self.estimate.errors(NOISY), self.shared)

    def fixed(self, terms: list[tuple[int, float]]) -> bool:
        """Whether anything fixes this sum: facts, holds or wishes."""
        return self.allocation.staged.freedom.settled(terms)

    def fixed_rows(self, rows: Rows) -> Flags:
        """Whether anything fixes each row (m,)."""
        return self.allocation.staged.settled(rows)

    def u_cut(self, rows: Rows) -> Floats:
        """Standard uncertainty (m,) that cutting adds to each row, mm."""
        cuts = self.network.cuts
        groups = int(cuts.group.max(initial=-1)) + 1
        cut = cuts.group[rows.mark] >= 0
        key = rows.owner()[cut] * groups + cuts.group[rows.mark[cut]]
        places, inverse = np.unique(key, return_inverse=True)
        location = np.bincount(inverse, rows.coef[cut], len(places)) * cuts.u_location_mm
        sides = rows.coef[cut] * cuts.side[rows.mark[cut]]
        width = np.bincount(inverse, sides, len(places)) * cuts.u_width_mm / 2
        owner = places // max(groups, 1)
        return np.sqrt(np.bincount(owner, location**2 + width**2, len(rows)))


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
    alone = piece.advice.base if isinstance(piece.advice, SharedErrors) else piece.advice
    redundancy = 1.0 - alone.variance(rows) / scale**2
    if piece.shared is not None:
        redundancy = redundancy - np.square(piece.shared.spread).sum(axis=1)
    redundancy = np.clip(redundancy, 0.0, 1.0)
    checked = redundancy > CHECKED
    w = np.zeros(len(rows))
    w[checked] = v[checked] / scale[checked] / np.sqrt(redundancy[checked])
    return Residuals(v, np.where(checked, redundancy, 0.0), w)


def solve_pieces(network: Network) -> Iterator[Piece]:
    """Solve every piece of the network, one after another."""
    parts = split(network)
    shares: Sequence[PieceShared | None] = [None] * len(parts)
    if network.shared is not None:
        shares = find_shared(network, [_measured(network, *part) for part in parts], _start)
        network = corrected(network, shares[0].told.value) if shares[0] is not None else network
    for (marks, chosen), shared in zip(parts, shares, strict=True):
        yield solve_piece(marks, chosen, local(network, marks, chosen), shared)


def _measured(network: Network, marks: Ints, chosen: dict[str, Ints]) -> tuple[Ints, Rows]:
    """The measured rows of a piece: their numbers in the whole, and the rows by the piece's own marks."""
    number = np.zeros(len(network), dtype=np.intp)
    number[marks] = np.arange(len(marks))
    return chosen["measured"], network.measured.pick(chosen["measured"]).renumber(number)


def solve_piece(marks: Ints, chosen: dict[str, Ints], network: Network, shared: PieceShared | None = None) -> Piece:
    """Estimate, allocate and look ahead for one piece."""
    estimate = _start(len(network)).add(network.measured)
    read = estimate.freedom.copy()
    estimate.add(network.planned)
    allocation = allocate(estimate, wanted_of(network))
    outlook = _outlook(estimate, network)
    outlook = replace(outlook, errors=with_shared(outlook.errors, shared))
    return Piece(marks, chosen, network, read, estimate, allocation, outlook, shared)


def wanted_of(network: Network) -> Wanted:
    """What is asked of a piece."""
    bounds = network.bounds
    return Wanted(
        network.wishes,
        network.late,
        network.holds,
        bounds.rows,
        bounds.low,
        bounds.high,
        bounds.hard,
        bounds.relaxable,
    )


def _start(size: int) -> AnyStaged:
    """The beginning of the stages of so many marks, dense or sparse."""
    if size <= DENSE_MARKS:
        return Staged.start(size)
    from fitsolve.solve.sparse import SparseStaged

    return SparseStaged.start(size)


def _outlook(estimate: AnyStaged, network: Network) -> Outlook:
    """How the finished piece errs: uncut marks follow the mark they are laid out from and miss
    by their cut; made marks that only a hold ties to uncut ones follow the hold; placements that are
    still free then follow the wishes."""
    staged = estimate.copy().add(_layout(network))
    if isinstance(staged, Staged):
        maps = np.hstack([*staged.maps[:NOISY], _cut_errors(network.cuts)])
        maps = _following(staged, network.holds, maps)
        freedom = staged.freedom.copy()
        return Outlook(freedom, DenseErrors(_following(staged, network.wishes, maps)))
    from fitsolve.solve.sparse import cut_noise, system

    noise = cut_noise(staged, network.cuts)
    freedom = staged.add(network.holds).freedom.copy()
    staged.add(network.wishes)
    return Outlook(freedom, SparseErrors(system(staged, [None] * NOISY + [noise])))


def _following(staged: Staged, rows: Rows, maps: Floats) -> Floats:
    """The errors `maps` (n, e) when what is still free follows these rows, one more stage."""
    staged.add(rows)
    return np.asarray(maps - staged.maps[-1] @ (rows.of(maps) / rows.scale[:, None]))


def _layout(network: Network) -> Rows:
    """One row for each uncut mark: where it lies from the mark it is laid out from."""
    reference = network.cuts.reference
    moved = np.flatnonzero(network.uncut & (reference != np.arange(len(network))))
    m = len(moved)
    marks = np.column_stack([moved, reference[moved]]).ravel()
    return Rows(np.arange(0, 2 * m + 1, 2), marks, np.tile([1.0, -1.0], m), np.zeros(m), np.ones(m))


def _cut_errors(cuts: Cuts) -> Floats:
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
        shared=None,
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
