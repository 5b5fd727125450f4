"""Gone: wood that is gone, where a size presses on what a rough mark still is.

A rough mark can be given a size only below what it is, b, which was read with uncertainty u. Where the size
presses on that bound it is b, and moves with b as the answer does with that row of its active set: so

    x_err = M e + m u,       M the map of the readings, m the column of the pressing bound,

and the finished piece, left there as it is, misses by u as well.

Not here: which bounds press (allocate).
"""

from __future__ import annotations

import numpy as np

from fitsolve.rows import Entries, Ints, Network
from fitsolve.solve.allocate import Allocation

NONE = np.zeros(0, dtype=np.intp)


def pressing_wood(network: Network, allocation: Allocation) -> Ints:
    """The bounds (by number in the piece) of wood that is gone on which something presses: a wish, or what could
    not be kept and comes as near as the wood allows."""
    pressed = [bounds for _, _, bounds in allocation.pressed if len(bounds)]
    if not pressed:
        return NONE
    bounds = network.bounds
    gone = bounds.hard & ~bounds.relaxable & (allocation.missed_mm == 0.0)
    presses = np.zeros(len(gone), dtype=bool)
    presses[np.concatenate(pressed)] = True
    return np.flatnonzero(gone & presses)


def advice_noise(network: Network, allocation: Allocation) -> dict[int, Entries]:
    """How the rows of each stage that hold pressing bounds err, (m, e) by stage, mm."""
    wood = set(pressing_wood(network, allocation).tolist())
    found: dict[int, Entries] = {}
    if not wood:
        return found
    for stage, first, bounds in allocation.pressed:
        own = np.array([k for k, bound in enumerate(bounds.tolist()) if bound in wood], dtype=np.intp)
        if len(own):
            found[stage] = Entries(first + own, np.arange(len(own)), network.bounds.rows.scale[bounds[own]], len(own))
    return found


def left_as_it_is(network: Network, allocation: Allocation) -> Entries:
    """How marks (n, e) miss where they are left as the wood is, mm: an end and all that is cut with it. Of two that
    can both come down it is the one laid out from the other, else the farther from where it is laid out."""
    cuts, bounds = network.cuts, network.bounds.rows
    wood = pressing_wood(network, allocation)
    if len(wood) == 0:
        return Entries(NONE, NONE, np.zeros(0), 0)
    far = np.abs(network.plan_mm - network.plan_mm[cuts.reference])
    rows, columns, values = [NONE], [NONE], [np.zeros(0)]
    for column, bound in enumerate(wood.tolist()):
        own = bounds.mark[bounds.start[bound] : bounds.start[bound + 1]].tolist()
        uncut = [mark for mark in own if network.uncut[mark]]
        laid = [mark for mark in uncut if int(cuts.reference[mark]) in own and cuts.reference[mark] != mark]
        mark = max(laid or uncut, key=lambda one: (round(float(far[one]), 6), one))
        together = np.flatnonzero((cuts.group == cuts.group[mark]) & (cuts.side == cuts.side[mark]))
        rows.append(together)
        columns.append(np.full(len(together), column, dtype=np.intp))
        values.append(np.full(len(together), bounds.scale[bound]))
    return Entries(np.concatenate(rows), np.concatenate(columns), np.concatenate(values), len(wood))
