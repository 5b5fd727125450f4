"""The example builds tell the story that they are there to tell."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import fitsolve
from fitsolve.build.folder import load_build
from fitsolve.build.shoplog import read_log

EXAMPLES = Path(__file__).parents[1] / "examples"


def seats(found):
    return {seat.part: seat for seat in found.seats}


@pytest.fixture(scope="module")
def table():
    return fitsolve.reconcile(load_build(EXAMPLES / "wedging-table"))


@pytest.fixture(scope="module")
def chest():
    return fitsolve.reconcile(load_build(EXAMPLES / "drawer-case"))


@pytest.mark.parametrize("name", ["wedging-table", "drawer-case"])
def test_a_maker_can_read_the_plan(name):
    assert (EXAMPLES / name / "plan.toml").read_text(encoding="utf-8").count("\n") <= 120


def test_every_row_of_every_log_is_used(table, chest):
    for found in (table, chest):
        assert [problem for problem in found.problems if problem.level != "notice"] == []
        assert found.state.set_aside == {}
        assert found.proven
        assert found.contradictions == ()


@pytest.mark.parametrize("part", ["apron.front", "apron.rear"])
def test_an_apron_cut_to_plan_would_not_have_gone_on_and_as_advised_it_does(table, part):
    seat = seats(table)[part]
    assert seat.as_planned_mm < -1.0
    assert seat.verdict == "goes on"


def test_by_tape_alone_nobody_can_tell():
    build = load_build(EXAMPLES / "wedging-table")
    by_tape = replace(build, log=read_log(EXAMPLES / "wedging-table" / "log-by-tape.csv"))
    found = seats(fitsolve.reconcile(by_tape))
    assert found["apron.front"].verdict == found["apron.rear"].verdict == "can't tell"


def test_a_drawer_grooved_to_plan_would_jam_on_battens_that_differ(chest):
    # By hand: its battens sit at 74.0 and 74.9 from their dividers' housings, 0.9 mm apart in height
    # (less what the two housings differ by), and the plan leaves grooves of 12.00 for battens of
    # 12.06 and 12.00: no play at all.
    seat = seats(chest)["drawer-b"]
    assert seat.as_planned_mm < -0.8
    assert seat.verdict == "goes on"
