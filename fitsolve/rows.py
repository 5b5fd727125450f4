"""Rows: linear statements about marks, as arrays. What `graph` makes and `solve` reads.

A row says  sum(coef * x[mark]) = value,  or bounds that sum. Positions and values are
*deviations from the plan*, in millimetres: a piece exactly as drawn is all zeros. Working in
deviations keeps the digits: a hundredth of a millimetre does not stand behind four metres.

`scale` is what the value is weighed by: a standard uncertainty (k = 1) for a row that was
measured, a give or half a fit's band for a row that is wished for.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field

import numpy as np
import numpy.typing as npt

from fitsolve.light import cached_property, dataclass

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
Terms = Sequence[tuple[int, float]]

PLAIN = frozenset((1.0, -1.0, 2.0, -2.0, 0.5, -0.5))
"""What nearly all coefficients are."""


@dataclass(frozen=True)
class Rows:
    """m rows in compressed form: row k holds entries start[k] to start[k + 1] of mark, coef.

    Shapes: start (m + 1,), mark and coef (entries,), value and scale (m,); mm.
    """

    start: Ints
    mark: Ints
    coef: Floats
    value: Floats
    scale: Floats

    def __len__(self) -> int:
        return len(self.value)

    def terms(self) -> Iterator[list[tuple[int, float]]]:
        """Each row as its (mark, coefficient) pairs."""
        starts, marks, coefs = self.start.tolist(), self.mark.tolist(), self.coef.tolist()
        for k in range(len(starts) - 1):
            a, b = starts[k], starts[k + 1]
            yield list(zip(marks[a:b], coefs[a:b], strict=True))

    @cached_property
    def plain(self) -> bool:
        """Whether all coefficients are 1, 2 or 1/2, as nearly all are: floats add them up exactly."""
        return PLAIN.issuperset(self.coef.tolist())

    @cached_property
    def lengths(self) -> Ints:
        """How many entries each row has (m,)."""
        return self.start[1:] - self.start[:-1]

    @cached_property
    def _owner(self) -> Ints:
        return np.arange(len(self.value)).repeat(self.lengths)

    def owner(self) -> Ints:
        """For each entry, the number of the row it belongs to."""
        return self._owner

    def dense(self, width: int) -> Floats:
        """The rows as a dense (m, width) matrix, not to be written to: it is made once."""
        m, made = len(self.value), self._dense
        if width not in made:
            flat: Floats = np.bincount(self._owner * width + self.mark, self.coef, m * width).astype(float, copy=False)
            flat.flags.writeable = False
            made[width] = flat.reshape(m, width)
        return made[width]

    @cached_property
    def _dense(self) -> dict[int, Floats]:
        return {}

    def of(self, x: Floats) -> Floats:
        """What each row comes to at positions x (n,), or at each column of x (n, k)."""
        if x.ndim == 1:
            return np.asarray(np.bincount(self._owner, self.coef * x[self.mark], len(self.value)), dtype=np.float64)
        return self.dense(len(x)) @ x

    def pick(self, chosen: Ints) -> Rows:
        """These rows only, in this order."""
        if len(chosen) == len(self.value) and bool((chosen == np.arange(len(chosen))).all()):
            return self
        lengths = self.lengths[chosen]
        start = np.zeros(len(chosen) + 1, dtype=np.intp)
        lengths.cumsum(out=start[1:])
        entry = (self.start[chosen] - start[:-1]).repeat(lengths) + np.arange(start[-1])
        return Rows(start, self.mark[entry], self.coef[entry], self.value[chosen], self.scale[chosen])

    def stretch(self, first: int, end: int) -> Rows:
        """The rows from one to before another."""
        a, b = int(self.start[first]), int(self.start[end])
        start = self.start[first : end + 1] - a
        return Rows(start, self.mark[a:b], self.coef[a:b], self.value[first:end], self.scale[first:end])

    def renumber(self, number: Ints) -> Rows:
        """The same rows with mark i called number[i]."""
        return Rows(self.start, number[self.mark], self.coef, self.value, self.scale)


def differences(marks: Ints, sign: Floats) -> Rows:
    """One row for each two marks (m, 2), sign (m,) times the first less the second, of value 0 and scale 1."""
    m = len(sign)
    coef = np.empty((m, 2))
    coef[:, 0], coef[:, 1] = sign, -sign
    return Rows(np.arange(0, 2 * m + 1, 2), marks.ravel(), coef.ravel(), np.zeros(m), np.ones(m))


def stacked(groups: Sequence[Rows]) -> Rows:
    """Rows of several lists, one list after another."""
    lengths = np.concatenate([rows.lengths for rows in groups])
    return Rows(
        np.concatenate([[0], np.cumsum(lengths)]).astype(np.intp),
        np.concatenate([rows.mark for rows in groups]),
        np.concatenate([rows.coef for rows in groups]),
        np.concatenate([rows.value for rows in groups]),
        np.concatenate([rows.scale for rows in groups]),
    )


@dataclass(frozen=True)
class Entries:
    """A matrix with few entries: value[i] stands in row[i], column[i] of so many columns."""

    row: Ints
    column: Ints
    value: Floats
    columns: int

    def dense(self, rows: int) -> Floats:
        """The matrix (rows, columns)."""
        matrix = np.zeros((rows, self.columns))
        matrix[self.row, self.column] = self.value
        return matrix


@dataclass(frozen=True)
class Bounds:
    """low <= sum(coef * x) <= high. `hard` (q,) where an uncut mark can still change the sum;
    `relaxable` (q,) where the maker could give way (never a fact, never wood that is gone)."""

    rows: Rows
    low: Floats
    high: Floats
    hard: Flags
    relaxable: Flags


@dataclass(frozen=True)
class Cuts:
    """How the marks still to be cut may miss: mark i errs by location[group[i]] + side[i] * width / 2.

    `group` (n,) is -1 for marks that exist; both walls of a housing share a group and have
    sides -1 and +1, any other mark stands alone with side 0. `reference` (n,) is the mark an
    uncut one is laid out from: the one that the figures of its part run from.
    Location and width errors are independent, with the standard uncertainties given.
    """

    group: Ints
    side: Floats
    reference: Ints
    u_location_mm: float
    u_width_mm: float


@dataclass(frozen=True)
class Shared:
    """Errors that many measured rows have together. With t the k errors, measured row `row[i]` reads
    `coef[i] * t[column[i]]` more than is there; `u` (k,) is the standard uncertainty of each about
    0. Bound `bound[i]` was read that way too: its high is `bound_coef[i] * t[bound_column[i]]` too high."""

    u: Floats
    row: Ints
    column: Ints
    coef: Floats
    bound: Ints
    bound_column: Ints
    bound_coef: Floats


@dataclass(frozen=True)
class Network:
    """A whole build as rows; see `fitsolve.graph` for what each list means.

    `plan_mm` (n,) are plan positions; `uncut` (n,) is true for marks that are not yet as they
    will be; `judged` are rows nothing is asked of, whose value and uncertainty are wanted; `shared`
    is what measured rows are off together, None where nothing is. `turning` are the numbers of the
    measured rows whose coefficients turn with their marks, None where there are none (solve/turning);
    `counted` are then the measured rows as they are counted, `as_drawn` where they are counted so however they
    lie. `asked` (p,) is true for holds that are
    asked of placements and are no wood that keeps its shape, None where there are none.
    """

    plan_mm: Floats
    uncut: Flags
    measured: Rows
    planned: Rows
    wishes: Rows
    late: Rows
    holds: Rows
    bounds: Bounds
    cuts: Cuts
    judged: Rows
    shared: Shared | None = None
    turning: Ints | None = None
    counted: Rows | None = None
    as_drawn: bool = False
    asked: Flags | None = None

    def __len__(self) -> int:
        return len(self.plan_mm)


@dataclass
class RowList:
    """Collects rows one at a time and hands them over as arrays."""

    start: list[int] = field(default_factory=lambda: [0])
    terms: list[tuple[int, float]] = field(default_factory=list)
    value: list[float] = field(default_factory=list)
    scale: list[float] = field(default_factory=list)

    def add(self, terms: Terms, value: float, scale: float) -> int:
        """Append a row and return its number."""
        self.terms += terms
        self.start.append(len(self.terms))
        self.value.append(value)
        self.scale.append(scale)
        return len(self.value) - 1

    def rows(self) -> Rows:
        """All rows collected so far."""
        return Rows(
            np.array(self.start, dtype=np.intp),
            np.array([mark for mark, _ in self.terms], dtype=np.intp),
            np.array([coef for _, coef in self.terms], dtype=np.float64),
            np.array(self.value, dtype=np.float64),
            np.array(self.scale, dtype=np.float64),
        )
