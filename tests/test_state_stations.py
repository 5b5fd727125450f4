"""A station that only the log names (`inner@foot`) is found, added to the assembly, and used.

The assembly is the one of `state_bench`; there leg.a's inner face lies at 100 and looks to the right.
"""

from __future__ import annotations

import pytest
from state_bench import TOOLS, bench, log_of, names_in, said

from fitsolve.build.state import MarkState, settle

BENCH = bench()


def test_a_lean_names_two_stations_the_plan_does_not_have():
    log = log_of("lean,leg.a.inner@foot,leg.a.inner@head,1.5,stick,proud leg.a.inner@head")
    assembly, state = settle(BENCH, log, TOOLS)
    assert state.problems == ()
    assert set(assembly.index) - set(BENCH.index) == {"leg.a.inner@foot", "leg.a.inner@head"}
    for name in ("leg.a.inner@foot", "leg.a.inner@head"):
        station = assembly.marks[assembly.index[name]]
        assert station.station_of == BENCH.index["leg.a.inner"]
        assert station.plan_mm == 100
    assert said(assembly, state) == [(1, {"leg.a.inner@head": 1, "leg.a.inner@foot": -1}, 1.5)]
    assert "leg.a.inner" in names_in(assembly, state, MarkState.MADE)


@pytest.mark.parametrize(
    "row",
    [
        "compare,leg.a.outer@head..inner@head,leg.a.outer@foot..inner@foot,0.5,stick",
        "gang,leg.a.outer@foot..leg.a.inner@foot + leg.a.outer@head..inner@head,,200,stick",
        "compare,leg.a.out@head..inner@head,leg.a.out@foot..inner@foot,0.5,stick\nrename,leg.a.out,leg.a.outer",
        "compare,post.a.outer@head..inner@head,post.a.outer@foot..inner@foot,0.5,stick\nrename,post.a,leg.a",
    ],
)
def test_in_spans_and_under_names_of_before_a_rename(row):
    assembly, state = settle(BENCH, log_of(row), TOOLS)
    assert state.problems == ()
    new = {f"leg.a.{edge}@{end}" for edge in ("outer", "inner") for end in ("head", "foot")}
    assert set(assembly.index) - set(BENCH.index) == new
    assert new < names_in(assembly, state, MarkState.MADE)


def test_a_station_of_a_mark_that_is_not_there_is_an_unknown_mark():
    assembly, state = settle(BENCH, log_of("reading,leg.a.iner@foot,leg.a.outer@foot,1,stick"), TOOLS)
    assert [p.what for p in state.problems] == ['the plan has no mark "leg.a.iner@foot"']
    assert "leg.a.iner@foot" not in assembly.index


def test_a_struck_row_adds_no_station():
    log = log_of("lean,leg.a.inner@foot,leg.a.inner@head,0,stick\nstrike,1")
    assert settle(BENCH, log, TOOLS)[0] is BENCH
