"""Given: what could not be kept, and by how much it gave way. Most often nothing.

Not here: how what gives way is found (compromise).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fitsolve.light import dataclass
from fitsolve.rows import Floats, Ints
from fitsolve.solve.wanted import Wanted

if TYPE_CHECKING:
    from fitsolve.solve.contradict import Contradiction


@dataclass(frozen=True)
class GivenWay:
    """What could not be kept: by how much bounds (q,) and holds (p,) are missed, with what weight facts
    (q,) are, and the contradictions. `proven` is false where less might have done. `pressed` are the firm bounds
    that it presses on: in which stage, from which row of it on, and which; `gave` likewise those that give way, each
    weighed by its scale."""

    missed: Floats
    hold_missed: Floats
    fact_weight: Floats
    found: tuple[Contradiction, ...] = ()
    proven: bool = True
    pressed: tuple[tuple[int, int, Ints], ...] = ()
    gave: tuple[tuple[int, int, Ints], ...] = ()


def nothing_given(wanted: Wanted) -> GivenWay:
    """Everything is kept."""
    q, p = len(wanted.bounds), len(wanted.holds)
    return GivenWay(np.zeros(q), np.zeros(p), np.zeros(q))
