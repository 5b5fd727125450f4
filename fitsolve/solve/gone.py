"""Gone: wood that is gone, where a size presses on what a rough mark still is.

A rough mark can be given a size only below what it is, b, which was read with uncertainty u. Where the size
presses on that bound it is b, and moves with b as the answer does with that row of its active set: so

    x_err = M e + m u,       M the map of the readings, m the column of the pressing bound,

and the finished piece, left there as it is, misses by u as well.

Where such bounds contradict each other (readings of rough wood that do not add up), each is missed in units of its u,
and the mark lies where all of them together say: it errs by all of them, m_k u_k, and is left as it is with that.

Not here: which bounds press (allocate).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitsolve.rows import Entries, Flags, Floats, Ints, Network
from fitsolve.solve.allocate import Allocation

NONE = np.zeros(0, dtype=np.intp)


def _wood(network: Network) -> Flags:
    """Which bounds say what a rough mark still is."""
    return network.bounds.hard & ~network.bounds.relaxable


def pressing_wood(network: Network, allocation: Allocation) -> Ints:
    """The bounds (by number in the piece) of wood that is gone on which something presses: a wish, or what could
    not be kept and comes as near as the wood allows."""
    pressed = [bounds for _, _, bounds in allocation.pressed if len(bounds)]
    if not pressed:
        return NONE
    gone = _wood(network) & (allocation.missed_mm == 0.0)
    presses = np.zeros(len(gone), dtype=bool)
    presses[np.concatenate(pressed)] = True
    return np.flatnonzero(gone & presses)


def advice_noise(network: Network, allocation: Allocation) -> dict[int, Entries]:
    """How the rows of each stage that hold pressing bounds err, (m, e) by stage, mm; those of bounds that gave way by
    their own u, for which the rows are weighed."""
    found: dict[int, Entries] = {}
    for stage, rows, values in _noisy_rows(network, allocation):
        found[stage] = Entries(rows, np.arange(len(rows)), values, len(rows))
    return found


def _noisy_rows(network: Network, allocation: Allocation) -> Iterator[tuple[int, Ints, Floats]]:
    """The stages that hold bounds of wood, each with the rows of these and by how much they err."""
    wood = set(pressing_wood(network, allocation).tolist())
    for stage, first, bounds in allocation.pressed if wood else ():
        own = np.array([k for k, bound in enumerate(bounds.tolist()) if bound in wood], dtype=np.intp)
        if len(own):
            yield stage, first + own, network.bounds.rows.scale[bounds[own]]
    for stage, first, bounds in allocation.gave:
        own = np.flatnonzero(_wood(network)[bounds])
        if len(own):
            yield stage, first + own, np.ones(len(own))


def left_as_it_is(network: Network, allocation: Allocation) -> Entries:
    """How marks (n, e) miss where they are left as the wood is, mm: an end and all that is cut with it. Of two that
    can both come down it is the one laid out from the other, else the farther from where it is laid out."""
    wood = pressing_wood(network, allocation)
    gave = [bounds[_wood(network)[bounds]] for _, _, bounds in allocation.gave]
    if len(wood) == 0 and not any(len(bounds) for bounds in gave):
        return Entries(NONE, NONE, np.zeros(0), 0)
    rows, columns, values, count = [NONE], [NONE], [np.zeros(0)], len(wood)
    for column, bound in enumerate(wood.tolist()):
        marks = _left(network, bound)
        rows.append(marks)
        columns.append(np.full(len(marks), column, dtype=np.intp))
        values.append(np.full(len(marks), network.bounds.rows.scale[bound]))
    for marks, errors in _left_between(network, allocation, np.concatenate(gave)) if gave else ():
        rows.append(np.repeat(marks, len(errors)))
        columns.append(np.tile(np.arange(len(wood), len(wood) + len(errors)), len(marks)))
        values.append(np.tile(errors, len(marks)))
        count = len(wood) + len(errors)
    return Entries(np.concatenate(rows), np.concatenate(columns), np.concatenate(values), count)


def _left(network: Network, bound: int) -> Ints:
    """The marks that are left as the wood is where a bound leaves them no choice."""
    cuts, bounds = network.cuts, network.bounds.rows
    far = np.abs(network.plan_mm - network.plan_mm[cuts.reference])
    own = bounds.mark[bounds.start[bound] : bounds.start[bound + 1]].tolist()
    uncut = [mark for mark in own if network.uncut[mark]]
    laid = [mark for mark in uncut if int(cuts.reference[mark]) in own and cuts.reference[mark] != mark]
    mark = max(laid or uncut, key=lambda one: (round(float(far[one]), 6), one))
    return np.flatnonzero((cuts.group == cuts.group[mark]) & (cuts.side == cuts.side[mark]))


def _left_between(network: Network, allocation: Allocation, gave: Ints) -> list[tuple[Ints, Floats]]:
    """Of bounds that contradict each other the marks that are left, and by how much each misses with all bounds: as
    where it is taken to lie moves with them from the mark it is laid out from."""
    noise = {stage: Entries(rows, np.arange(len(rows)), values, len(rows))
             for stage, rows, values in _noisy_rows(network, allocation)}  # fmt: skip
    errors = allocation.staged.errors(0, noise)
    found: dict[int, tuple[Ints, Floats]] = {}
    for bound in gave.tolist():
        marks = _left(network, bound)
        weights = np.zeros(len(network))
        weights[marks[0]] += 1.0
        weights[network.cuts.reference[marks[0]]] -= 1.0
        found.setdefault(int(marks[0]), (marks, errors.influence(weights)))
    return list(found.values())
