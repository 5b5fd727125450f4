"""A part with very many joints: all pairs of its gaps are wanted, and their covariances are those of dense inverses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csc_array

from fitsolve import reconcile
from fitsolve.build.folder import Build, load_build
from fitsolve.build.logtext import HEADER, parse_log
from fitsolve.build.plan import read_plan
from fitsolve.rows import stacked
from fitsolve.solve import pieces, selected

EXAMPLES = Path(__file__).parents[1] / "examples"


def eliminated(places):
    """Every place that Gaussian elimination can fill, one row after the other on a table of yes and no."""
    full = places | places.T | np.eye(len(places), dtype=bool)
    for k in range(len(full)):
        below = np.flatnonzero(full[:, k])
        below = below[below > k]
        full[np.ix_(below, below)] = True
    return np.tril(full)


@settings(max_examples=40)
@given(st.integers(1, 25), st.integers(0, 2**32 - 1), st.floats(0, 0.4))
def test_the_places_that_are_filled(n, seed, share):
    places = np.random.default_rng(seed).random((n, n)) < share
    places |= places.T
    assert (selected._filled(csc_array(places.astype(float))).toarray() != 0).tolist() == eliminated(places).tolist()


@pytest.mark.parametrize("n", [1, 2, 30])
def test_entries_of_an_inverse_by_places_that_are_worked_out(monkeypatch, n):
    monkeypatch.setattr(selected, "VANISHES", np.inf)
    rng = np.random.default_rng(n)
    matrix = np.where(rng.random((n, n)) < 0.2, rng.normal(size=(n, n)), 0.0)
    matrix += np.diag(1.0 + np.abs(matrix).sum(axis=0) + np.abs(matrix).sum(axis=1))
    rows, columns = np.nonzero(matrix)
    entries = selected.selected_inverse(csc_array(matrix), rows, columns)
    assert entries == pytest.approx(np.linalg.inv(matrix)[rows, columns], abs=1e-12)


@pytest.mark.parametrize("most", [0, 10**6])
def test_covariances_of_many_coordinates_are_the_dense_ones(monkeypatch, most):
    build = load_build(EXAMPLES / "wedging-table")
    dense = reconcile(build).solved.pieces
    monkeypatch.setattr(pieces, "DENSE_MARKS", 0)
    monkeypatch.setattr(selected, "COORDINATES_MOST", most)
    for one, other in zip(dense, reconcile(build).solved.pieces, strict=True):
        rows, read = stacked([one.network.measured, one.network.wishes]), len(one.network.measured)
        groups = [np.arange(read), np.arange(read, len(rows)), np.arange(0, len(rows), 3)]
        errors = one.outlook.errors, other.outlook.errors
        for a, b in zip(*(own.covariances(rows, groups) for own in errors), strict=True):
            assert b == pytest.approx(a, abs=1e-9)


def test_a_hundred_housings_in_one_part():
    names = [f"n{k}" for k in range(100)]
    plan = 'unit = "mm"\n[part.slat]\ncopies = [' + ", ".join(f'"{name}"' for name in names) + ']\nx = "l 90 r"\n'
    plan += '[part.rail]\nx = "end ' + " ".join(f"150 {name}.l 90 {name}.r" for name in names) + ' 150 tip"\n'
    plan += "[joint.dado]\neach = '''\ns\n" + "\n".join(names) + "\n'''\nmeet = 'slat.{s}.l/r in rail.{s}.l/r, slip'\n"
    rows = [f"{k},2026-03-02T08:00:00+00:00,reading,slat.{name}.l,slat.{name}.r,91,caliper," for k, name in
            enumerate(names, 1)]  # fmt: skip
    log = parse_log("\n".join([HEADER, *rows, "101,2026-03-02T08:00:00+00:00,made,rail,,,,", ""]).encode())
    found = reconcile(Build(plan=read_plan(plan), log=log))
    assert [joint.verdict for joint in found.joints] == ["tight"] * 100
