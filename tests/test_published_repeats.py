"""Repeats of one distance, one of them wrong: a published table of readings, as a build.

Values with their source: specs/references/networks.toml, [grubbs].
"""

from __future__ import annotations

import math
import statistics
import tomllib
from pathlib import Path

import pytest

import fitsolve
from fitsolve.build.plan import read_plan

CASE = tomllib.loads((Path(__file__).parents[1] / "specs/references/networks.toml").read_text())["grubbs"]
READINGS: list[float] = CASE["readings"]


def repeated(u: float) -> fitsolve.Reconciliation:
    """The readings as repeats of one distance, each with u."""
    plan = f'unit = "mm"\ngive = 1\n[tool.stick]\ngood_to = "{2 * u:.12f}"\n[part.board]\nx = "l 200 r"\n'
    rows = [
        fitsolve.Row(
            time="2026-01-01T08:00:00+00:00", event="reading", start="board.l", end="board.r", reading=f"{x}", tool="stick"
        )
        for x in READINGS
    ]
    return fitsolve.reconcile(fitsolve.Build(plan=read_plan(plan), log=rows))


def test_the_statistic_comes_out_as_published():
    """With s of the readings as their u: w = G / sqrt(1 - 1 / n), the redundancy of one of n repeats."""
    found = repeated(statistics.stdev(READINGS))
    n = len(READINGS)
    w = [doubt.standardised for doubt in found.doubts]
    assert all(doubt.redundancy == pytest.approx(1 - 1 / n, abs=1e-12) for doubt in found.doubts)
    assert max(abs(one) for one in w) * math.sqrt(1 - 1 / n) == pytest.approx(CASE["G"], abs=0.51e-7)
    assert abs(w[-1]) == max(abs(one) for one in w)


def test_the_published_outlier_is_named_alone_and_what_it_would_have_to_be():
    """With s of the others as their u the last is wrong, as published (G above its critical value)."""
    assert CASE["G"] > CASE["critical"]
    others = READINGS[:-1]
    found = repeated(statistics.stdev(others))
    (one,) = found.suspicions
    assert (one.worst.number, one.equals, one.rest_agrees) == (len(READINGS), (), True)
    assert found.doubts[-1].would_be_mm == pytest.approx(statistics.mean(others), abs=1e-9)
    assert one.worst.error_mm == pytest.approx(READINGS[-1] - statistics.mean(others), abs=1e-9)
