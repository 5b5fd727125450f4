"""Pieces: the network split into what hangs together, and each piece solved.

Rows that share no mark have nothing to do with each other, so each connected piece (parts) is solved
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

import numpy as np

from fitsolve.light import cached_property, dataclass, replace
from fitsolve.rows import Cuts, Entries, Flags, Floats, Ints, Network, Rows, differences
from fitsolve.solve.allocate import Allocation, allocate
from fitsolve.solve.covariance import DenseErrors, Errors
from fitsolve.solve.freedom import Freedom
from fitsolve.solve.gone import NONE, advice_noise, left_as_it_is
from fitsolve.solve.judge import Outlook
from fitsolve.solve.parts import Parts, split, taken_out
from fitsolve.solve.shared import PieceShared, SharedErrors, corrected, find_shared, with_shared
from fitsolve.solve.staged import Staged
from fitsolve.solve.turning import (
    NO_LENGTH_MM,
    SWINGS_MOST,
    Turned,
    Unfit,
    across,
    as_counted,
    swung,
    turn,
    turned,
)
from fitsolve.solve.turning import (
    NONE as NO_ROWS,
)
from fitsolve.solve.wanted import AnyStaged, Wanted

NOISY = 2
"""The stages whose rows have errors: what was measured, and what was planned and made."""

DENSE_MARKS = 400
"""Up to so many marks a piece is solved densely."""

FEW_PLACES = 20_000
"""So many places of a table are added up as they are, of more only those that hold something."""

CHECKED = 1e-9
"""A redundancy below this is rounding: nothing checks the reading."""

BENT = 1e-6
"""The same where rows lie otherwise than they are counted: as built they differ by the fourth power of a slope."""


@dataclass(frozen=True)
class Piece:
    """One piece that hangs together. `marks` (n,) are its marks in the whole; `chosen` gives,
    list by list, its rows in the whole; rows inside are numbered by its own marks. `read` is
    what readings and closed contacts alone leave free; `bent`, where their rows lie otherwise than they are
    counted, how positions err with them before anything that is free was moved."""

    marks: Ints
    chosen: dict[str, Ints]
    network: Network
    read: Freedom
    estimate: AnyStaged
    allocation: Allocation
    outlook: Outlook
    shared: PieceShared | None = None
    bent: Errors | None = None

    @property
    def x(self) -> Floats:
        """Positions (n,) as estimated and as chosen, deviations from the plan, mm."""
        return self.allocation.staged.x

    @cached_property
    def advice(self) -> Errors:
        """How positions err with the readings, what to cut following them."""
        wood = advice_noise(self.network, self.allocation)
        return with_shared(self.allocation.staged.errors(NOISY, wood), self.shared)

    @property
    def adjusted(self) -> Errors:
        """How positions err with the readings, as these adjust each other, what they share taken as known."""
        if self.bent is not None:
            return self.bent
        return self.advice.base if isinstance(self.advice, SharedErrors) else self.advice

    @cached_property
    def facts(self) -> Errors:
        """How what is there errs, before anything is chosen."""
        return with_shared(self.estimate.errors(NOISY), self.shared)

    @cached_property
    def _unit_cuts(self) -> Errors:
        """How the finished piece errs when every line is cut 1 mm, and each half of every width 1 mm, off."""
        cuts = replace(self.network.cuts, u_location_mm=1.0, u_width_mm=2.0)
        return _outlook(self.estimate, replace(self.network, cuts=cuts)).errors

    def moved_by_cuts(self, rows: Rows) -> Floats:
        """How each row (m,) changes with the place of each mark (n,) still to be cut, mm a mm, placements
        having followed; 0 for marks that are made."""
        cuts = self.network.cuts
        groups = int(cuts.group.max(initial=-1)) + 1
        moved = np.zeros((len(rows), len(cuts.group)))
        if groups == 0:
            return moved
        cut = cuts.group >= 0
        share = np.where(cuts.side == 0.0, 1.0, 0.5)
        for k, weights in enumerate(rows.dense(len(cuts.group))):
            influence = self._unit_cuts.influence(weights)[-2 * groups :]
            location, width = influence[:groups][cuts.group], influence[groups:][cuts.group]
            moved[k] = np.where(cut, share * (location + cuts.side * width), 0.0)
        return moved

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
        inverse = rows.owner()[cut] * groups + cuts.group[rows.mark[cut]]
        if len(rows) * groups <= FEW_PLACES:
            places = np.arange(len(rows) * groups)
        else:
            places, inverse = np.unique(inverse, return_inverse=True)
        location = np.bincount(inverse, rows.coef[cut], len(places)) * cuts.u_location_mm
        sides = rows.coef[cut] * cuts.side[rows.mark[cut]]
        width = np.bincount(inverse, sides, len(places)) * cuts.u_width_mm / 2
        owner = places // max(groups, 1)
        return np.sqrt(np.bincount(owner, location**2 + width**2, len(rows)))


RESOLVED_MARKS_MAX = 400
"""Pieces with more marks are not solved again to see what one reading moves."""


def moved_by_change(piece: Piece, row: int, change_mm: float) -> Floats | None:
    """Return how all marks (n,) move, mm, when a measured row says so much more, everything chosen anew.

    Unlike the derivative it lets go of bounds that press only because of that row. None for large pieces,
    and where rows turn: there the derivative has to do.
    """
    network = piece.network
    if len(network) > RESOLVED_MARKS_MAX or network.turning is not None:
        return None
    value = network.measured.value.copy()
    value[row] += change_mm
    changed = replace(network, measured=replace(network.measured, value=value))
    return np.asarray(allocate(_estimated(changed, None).stages, wanted_of(changed), named=False).staged.x - piece.x)


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
    redundancy = 1.0 - piece.adjusted.variance(rows) / scale**2
    if piece.shared is not None:
        redundancy = redundancy - np.square(piece.shared.spread).sum(axis=1)
    redundancy = np.minimum(np.maximum(redundancy, 0.0), 1.0)
    checked = redundancy > (CHECKED if piece.bent is None else BENT)
    w = np.zeros(len(rows))
    w[checked] = v[checked] / scale[checked] / np.sqrt(redundancy[checked])
    return Residuals(v, np.where(checked, redundancy, 0.0), w)


@dataclass(frozen=True)
class Whole:
    """All pieces of a network, and how its turning rows came out, None where it has none."""

    pieces: tuple[Piece, ...]
    turned: Turned | None = None


def solve_pieces(network: Network) -> Iterator[Piece]:
    """Solve every piece of the network, one after another."""
    yield from _solved(network, None) if network.turning is None else solve_network(network).pieces


def solve_network(network: Network) -> Whole:
    """Solve every piece of the network, its turning rows turned to where they lie. Where some come to no end from
    the directions they are first taken to have, they begin in those of the points as they are put down; of both
    what leaves out fewer is kept, and then it is sought which of them may be wrong."""
    if network.turning is None:
        return Whole(tuple(_solved(network, None)))
    begun = _solve_turning(network, seek=False)
    if not _left_out(begun):
        return begun
    ways = [network, turned(network, np.zeros(len(network)))]
    put = _solve_turning(ways[1], seek=False)
    if not _left_out(put):
        return put
    return _solve_turning(ways[_left_out(put) <= _left_out(begun)], seek=True)


def _left_out(whole: Whole) -> int:
    assert whole.turned is not None, "asked for only where rows turn"
    return len(whole.turned.left_out)


def _solve_turning(network: Network, seek: bool) -> Whole:
    """Solve every piece of a network with rows that turn; `seek` which of those that fit nowhere may be wrong."""
    found, swings = turn(network, _Steps(), seek=seek), 0
    while True:
        pieces = tuple(_solved(found.network, found))
        vague = np.concatenate([_vague(piece) for piece in pieces])
        x, swung = _swung(found, pieces)
        if len(vague):
            found = turn(network, _Steps(), found.unfit, np.concatenate([found.vague, vague]), seek=seek)
        elif len(swung) == 0:
            return Whole(pieces, found)
        elif (swings := swings + 1) < SWINGS_MOST:
            found = turn(network, _Steps(), found.unfit, found.vague, x, seek=seek)
        elif not network.as_drawn:
            return _solve_turning(replace(network, as_drawn=True), seek)
        else:
            found = turn(network, _Steps(), (*found.unfit, Unfit(swung, NO_ROWS)), found.vague, seek=seek)


def _swung(found: Turned, pieces: Sequence[Piece]) -> tuple[Floats, Ints]:
    """Positions (n,) as chosen in the pieces with rows that turn, and the rows that lie there in another direction
    than they were solved in: what was chosen moved their points along what the readings leave free."""
    x = np.zeros(len(found.network))
    for piece in pieces:
        if piece.network.turning is not None:
            x[piece.marks] = piece.x
    return x, np.setdiff1d(swung(found.network, x), found.left_out)


def _solved(network: Network, found: Turned | None) -> Iterator[Piece]:
    parts = split(network, None if found is None else found.left_out)
    x = None if found is None else found.x
    network, shares = _unshared(network, parts, x)
    for (marks, chosen), own, shared in zip(parts, taken_out(network, parts), shares, strict=True):
        yield solve_piece(marks, chosen, own, shared, None if x is None else x[marks])


def _unshared(network: Network, parts: Parts, x: Floats | None) -> tuple[Network, Sequence[PieceShared | None]]:
    """The network with what readings share taken off, and for each piece what it shares."""
    if network.shared is None:
        return network, [None] * len(parts)
    shares = find_shared(network, [_measured(network, *part, x) for part in parts], _start)
    return (corrected(network, shares[0].told) if shares else network), shares


class _Steps:
    """Steps of turning: the estimate of the pieces that have rows which turn."""

    def __init__(self) -> None:
        self.parts: Parts = []
        self.out = np.full(1, -1, dtype=np.intp)

    def __call__(self, network: Network, x: Floats, out: Ints) -> tuple[list[Floats], list[Ints]]:
        if not np.array_equal(out, self.out):
            self.parts, self.out = split(network, out), out
        network, _ = _unshared(network, self.parts, x)
        found, own = [], []
        for (marks, _), piece in zip(self.parts, taken_out(network, self.parts), strict=True):
            if piece.turning is not None or network.shared is not None:
                found.append(_estimated(piece, x[marks]).x)
                own.append(marks)
        return found, own


@dataclass(frozen=True)
class _Estimated:
    """What is there: positions, the two stages, what the first alone leaves free, and `bent` as in a piece."""

    x: Floats
    stages: AnyStaged
    read: Freedom
    bent: Errors | None


def _estimated(network: Network, x: Floats | None) -> _Estimated:
    estimate, bent = _start(len(network)), None
    if x is not None:
        estimate.x = x.copy()
    try:
        counted = as_counted(
            network.measured, network.counted, network.planned, len(network), network.as_drawn
        )
        estimate.add(network.measured, counted)
        if counted is not None:
            bent = estimate.errors(1)
        read = estimate.freedom.copy()
        estimate.add(network.planned)
    except (np.linalg.LinAlgError, RuntimeError):  # no rank left in the directions that rows have come to
        if network.turning is None:
            raise
        return _Estimated(np.full(len(network), np.nan), estimate, estimate.freedom, bent)
    return _Estimated(estimate.x, estimate, read, bent)


def _vague(piece: Piece) -> Ints:
    """The turning rows, by their numbers in the whole, of a piece that says so little of what lies across them
    that their length is no use."""
    network = piece.network
    if network.turning is None:
        return np.zeros(0, dtype=np.intp)
    flat = network.turning[network.measured.lengths[network.turning] == 4]
    rows = across(network.measured, flat)
    settled = piece.estimate.settled(rows)
    length = np.abs(network.measured.of(network.plan_mm + piece.estimate.x)[flat])
    bent = piece.facts.variance(rows) / (2 * np.maximum(length, NO_LENGTH_MM))
    return np.asarray(piece.chosen["measured"][flat[settled & (bent > network.measured.scale[flat])]])


def _measured(
    network: Network, marks: Ints, chosen: dict[str, Ints], x: Floats | None
) -> tuple[Ints, Rows, Rows | None]:
    """The measured rows of a piece: their numbers in the whole, the rows by the piece's own marks with
    what is left of them at positions x, and how they are counted if otherwise."""
    number = np.zeros(len(network), dtype=np.intp)
    number[marks] = np.arange(len(marks))
    rows = network.measured.pick(chosen["measured"]).renumber(number)
    if x is not None:
        rows = replace(rows, value=rows.value - rows.of(x[marks]))
    counted = None if network.counted is None else network.counted.pick(chosen["measured"]).renumber(number)
    then = network.planned.pick(chosen["planned"]).renumber(number)
    return chosen["measured"], rows, as_counted(rows, counted, then, len(marks), network.as_drawn)


def solve_piece(
    marks: Ints,
    chosen: dict[str, Ints],
    network: Network,
    shared: PieceShared | None = None,
    x: Floats | None = None,
) -> Piece:
    """Estimate, allocate and look ahead for one piece; x (n,) are positions to start from."""
    found = _estimated(network, x)
    estimate = found.stages
    allocation = allocate(estimate, wanted_of(network))
    outlook = _outlook(estimate, network, left_as_it_is(network, allocation))
    outlook = replace(outlook, errors=with_shared(outlook.errors, shared))
    return Piece(marks, chosen, network, found.read, estimate, allocation, outlook, shared, found.bent)


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


def _outlook(estimate: AnyStaged, network: Network, left: Entries | None = None) -> Outlook:
    """How the finished piece errs: uncut marks follow the mark they are laid out from and miss
    by their cut; made marks that only a hold ties to uncut ones follow the hold; placements that are
    still free then follow the wishes, and only where these leave a choice what is held on trial. `left` (n, e) is
    how rough marks err beside."""
    if left is None:
        left = Entries(NONE, NONE, np.zeros(0), 0)
    in_wood, asked = _two_kinds(network)
    if isinstance(estimate, Staged):
        dense = estimate.copy().follow(_layout(network))
        dense.maps = [np.hstack([*dense.maps[:NOISY], _cut_errors(network.cuts), left.dense(len(network))])]
        freedom = dense.follow(in_wood).freedom.copy()
        return Outlook(freedom, DenseErrors(dense.follow(network.wishes).follow(asked).maps[0]))
    from fitsolve.solve.selected import SparseErrors
    from fitsolve.solve.sparse import cut_noise, system

    staged = estimate.copy().add(_layout(network))
    noise = cut_noise(staged, network.cuts, left)
    freedom = staged.add(in_wood).freedom.copy()
    staged.add(network.wishes).add(asked)
    return Outlook(freedom, SparseErrors(system(staged, [None] * NOISY + [noise])))


def _two_kinds(network: Network) -> tuple[Rows, Rows]:
    """The holds that are wood keeping its shape, and those asked of placements, which tie nothing."""
    if network.asked is None:
        return network.holds, network.holds.pick(NONE)
    return network.holds.pick(np.flatnonzero(~network.asked)), network.holds.pick(np.flatnonzero(network.asked))


def _layout(network: Network) -> Rows:
    """One row for each uncut mark: where it lies from the mark it is laid out from."""
    reference = network.cuts.reference
    moved = np.flatnonzero(network.uncut & (reference != np.arange(len(network))))
    return differences(np.stack([moved, reference[moved]], axis=1), np.ones(len(moved)))


def _cut_errors(cuts: Cuts) -> Floats:
    """How each mark (n, 2 groups) misses per independent unit error of location and width."""
    groups = int(cuts.group.max(initial=-1)) + 1
    errors = np.zeros((len(cuts.group), 2 * groups))
    cut = np.flatnonzero(cuts.group >= 0)
    errors[cut, cuts.group[cut]] = cuts.u_location_mm
    errors[cut, groups + cuts.group[cut]] = cuts.side[cut] * cuts.u_width_mm / 2
    return errors
