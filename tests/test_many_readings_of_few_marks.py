"""Very many readings of few marks: what they err by is kept over as few unit errors as there are marks."""

from __future__ import annotations

import statistics

import numpy as np
import pytest

import fitsolve
from fitsolve.build.plan import read_plan
from fitsolve.build.shoplog import Row
from fitsolve.rows import RowList
from fitsolve.solve.covariance import DenseErrors

RAIL = 'unit = "mm"\n[tool.caliper]\ngood_to = 0.2\n[part.rail]\nx = "l 100 (give 1) mid 60 (give 1) r"\n'


def test_many_unit_errors_give_the_covariance_of_their_map():
    # C M M' C' written out, by numpy.
    maps = np.random.default_rng(7).normal(size=(4, 90))
    rows = RowList()
    for start, end in ((0, 1), (1, 3), (0, 3)):
        rows.add([(end, 1.0), (start, -1.0)], 0.0, 1.0)
    made = rows.rows()
    coefs = made.dense(4)
    whole = coefs @ maps @ maps.T @ coefs.T
    errors = DenseErrors(maps)
    assert errors.few.shape == (4, 4)
    assert errors.variance(made) == pytest.approx(np.diag(whole), rel=1e-12)
    assert errors.covariances(made, [np.arange(len(made))])[0] == pytest.approx(whole, rel=1e-12)


def test_repeats_scatter_by_their_sample_standard_deviation():
    # Of n repeats of one distance trace R = trace (R R) = n - 1, so what is told is s / u with n - 1 degrees of
    # freedom, s the sample standard deviation (GUM 4.2.2; here by the standard library) and u = good_to / 2.
    values = [100.0 + 0.01 * ((37 * k) % 23) for k in range(60)]
    rows = tuple(
        Row(no, "2026-03-02T08:00:00+01:00", "reading", "rail.l", "rail.mid", f"{value:.2f}", "caliper")
        for no, value in enumerate(values, 1)
    )
    found = fitsolve.reconcile(fitsolve.Build(plan=read_plan(RAIL), log=rows))
    (told,) = found.agreement.tools
    assert (told.readings, told.freedom) == (60, pytest.approx(59, rel=1e-9))
    assert told.factor == pytest.approx(statistics.stdev(round(value, 2) for value in values) / 0.1, rel=1e-9)


def test_a_tool_that_is_hardly_checked_has_the_freedom_it_has():
    # Of two readings of one distance the one of standard uncertainty u has redundancy r = u^2 / (u^2 + v^2), v that of
    # the other: alone with its tool, trace R = r and trace (R R) = r^2, one degree of freedom, however small r is.
    plan = RAIL + '[tool.stick]\ngood_to = "200"\n'
    readings = (("100.00", "caliper"), ("150.00", "stick"))
    rows = tuple(
        Row(no, "2026-03-02T08:00:00+01:00", "reading", "rail.l", "rail.mid", said, tool)
        for no, (said, tool) in enumerate(readings, 1)
    )
    found = fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=rows))
    assert [told.freedom for told in found.agreement.tools] == pytest.approx([1.0, 1.0], rel=1e-7)
