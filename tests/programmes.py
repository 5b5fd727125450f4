"""Quadratic programmes for tests, and exact arithmetic to judge their answers by."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
from hypothesis import strategies as st

from fitsolve.solve.quadratic import Programme

INF = float("inf")


def programme(objective, target, equal=(), equal_to=(), bounds=(), low=(), high=()):
    n = np.asarray(objective, dtype=float).shape[1]
    matrix = lambda rows: np.asarray(rows, dtype=float).reshape(len(rows), n)  # noqa: E731
    vector = lambda values: np.asarray(values, dtype=float)  # noqa: E731
    return Programme(
        matrix(objective), vector(target), matrix(equal), vector(equal_to), matrix(bounds), vector(low), vector(high)
    )


@st.composite
def rows_between_marks(draw, n):
    """A difference of two marks, of two distances, or a single mark."""
    row = np.zeros(n)
    for sign in draw(st.sampled_from([(1,), (1, -1), (1, -1), (1, -1), (1, -1, 1, -1), (2, -1, -1)])):
        row[draw(st.integers(0, n - 1))] += sign
    return row


@st.composite
def degenerate_programmes(draw, most_marks=5, most_bounds=8, feasible=None, weights=(0.01, 0.5, 1.0, 3.0, 1e4)):
    """Duplicated and dependent rows, redundant equalities, bounds that meet, touch or cross, flat wishes."""
    n = draw(st.integers(1, most_marks))
    quarter = st.integers(-8, 8).map(lambda k: k / 4)
    F = [draw(st.sampled_from(weights)) * draw(rows_between_marks(n)) for _ in range(draw(st.integers(0, n + 3)))]
    g = [draw(quarter) * float(np.abs(row).max()) for row in F]
    E = [draw(rows_between_marks(n)) for _ in range(draw(st.integers(0, 2)))]
    if len(E) == 2 and draw(st.booleans()):
        E.append(E[0] + E[1])
    G = [draw(rows_between_marks(n)) for _ in range(draw(st.integers(0, most_bounds)))]
    if len(G) >= 2 and draw(st.booleans()):
        G[-1] = draw(st.sampled_from([G[0], -G[0], G[0] + G[1], 2 * G[1]]))
    point = np.array([draw(quarter) for _ in range(n)])
    holds = draw(st.booleans()) if feasible is None else feasible
    e = [float(row @ point) + (0 if holds else draw(st.sampled_from([0, 0, 0.25]))) for row in E]
    low, high = [], []
    for row in G:
        at = float(row @ point) if holds else draw(quarter)
        width = draw(st.sampled_from([0, 0.25, 1, INF]))
        below = draw(st.sampled_from([0, 0, 0.25, 2])) if width else 0
        low.append(at - below if draw(st.booleans()) or width == 0 else -INF)
        high.append(at + width)
    return programme(np.array(F).reshape(-1, n), g, np.array(E).reshape(-1, n), e, np.array(G).reshape(-1, n), low, high)


def exactly(values):
    """The same numbers as fractions: a float is one."""
    return [[Fraction(float(v)) for v in row] for row in np.atleast_2d(values)]


def solve_exactly(matrix, right):
    """Any solution of a linear system in fractions (free unknowns 0), or None when it has none."""
    rows = [[*row, value] for row, value in zip(matrix, right, strict=True)]
    width = len(matrix[0]) if matrix else 0
    pivots = []
    for column in range(width):
        pivot = next((k for k in range(len(pivots), len(rows)) if rows[k][column]), None)
        if pivot is None:
            continue
        at = len(pivots)
        rows[at], rows[pivot] = rows[pivot], rows[at]
        rows[at] = [v / rows[at][column] for v in rows[at]]
        for k in range(len(rows)):
            if k != at and rows[k][column]:
                by = rows[k][column]
                rows[k] = [a - by * b for a, b in zip(rows[k], rows[at], strict=True)]
        pivots.append(column)
    if any(row[width] for row in rows[len(pivots) :]):
        return None
    solution = [Fraction(0)] * width
    for at, column in enumerate(pivots):
        solution[column] = rows[at][width]
    return solution


def held_exactly(p: Programme, held):
    """z and multipliers of the held rows [(row, value)], equalities first, from F'F and exact elimination.

    None when the held rows contradict each other.
    """
    F, g = exactly(p.objective) if len(p.target) else [], [Fraction(float(v)) for v in p.target]
    n, a = p.size, len(held)
    square = [[sum((f[i] * f[j] for f in F), Fraction(0)) for j in range(n)] for i in range(n)]
    force = [sum((f[i] * w for f, w in zip(F, g, strict=True)), Fraction(0)) for i in range(n)]
    rows = [[Fraction(float(v)) for v in row] for row, _ in held]
    matrix = [[*square[i], *(-rows[k][i] for k in range(a))] for i in range(n)]
    matrix += [[*row, *([Fraction(0)] * a)] for row in rows]
    solved = solve_exactly(matrix, force + [Fraction(float(v)) for _, v in held])
    return None if solved is None else (solved[:n], solved[n:])


def keeps_exactly(p: Programme, z):
    """Whether z (fractions) keeps every row."""
    for row, value in zip(p.equal, p.equal_to, strict=True):
        if sum(Fraction(float(c)) * v for c, v in zip(row, z, strict=True)) != Fraction(float(value)):
            return False
    for row, low, high in zip(p.bounds, p.low, p.high, strict=True):
        there = sum(Fraction(float(c)) * v for c, v in zip(row, z, strict=True))
        if (low > -INF and there < Fraction(float(low))) or (high < INF and there > Fraction(float(high))):
            return False
    return True


def cost_exactly(p: Programme, z):
    rows = exactly(p.objective) if len(p.target) else []
    off = [
        sum((c * v for c, v in zip(row, z, strict=True)), Fraction(0)) - Fraction(float(w))
        for row, w in zip(rows, p.target, strict=True)
    ]
    return sum((v * v for v in off), Fraction(0)) / 2


def brute_force(p: Programme):
    """The minimiser by trying every choice of held bounds, in fractions; None when no z keeps all rows.

    Needs wishes that fix every mark: then each choice has one answer, the optimum is among
    them, and no answer that keeps all rows is better than it.
    """
    best = None
    equal = list(zip(p.equal, p.equal_to, strict=True))
    choices = [[None, *{v for v in (low, high) if abs(v) < INF}] for low, high in zip(p.low, p.high, strict=True)]
    for choice in product(*choices):
        held = equal + [(row, v) for row, v in zip(p.bounds, choice, strict=True) if v is not None]
        found = held_exactly(p, held)
        if found is None or not keeps_exactly(p, found[0]):
            continue
        cost = cost_exactly(p, found[0])
        if best is None or cost < best[0]:
            best = (cost, found[0])
    return None if best is None else best[1]
