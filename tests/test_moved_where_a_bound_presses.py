"""A size that a doubtful reading moves waits, also where a limit or rough wood presses and its derivative is 0."""

from __future__ import annotations

import pytest
from cli_folder import run

from fitsolve.build.logtext import HEADER

PLAN = """
unit = "mm"
workmanship = 0.4
workmanship_width = 0.1
give = 2
[part.p]
x = ["a 500 (490 to 510) b", "a 250 f 250 b"]
[part.q]
x = "o 500 i"
[keep]
same = "p.a..b = q.o..i, give 0.05"
"""


def folder(at, plan, *rows):
    at.mkdir(exist_ok=True)
    (at / "plan.toml").write_text(plan)
    log = [f"{no},2026-03-02T08:00:00+01:00,{row}" for no, row in enumerate(rows, 1)]
    (at / "log.csv").write_text("\n".join([HEADER, *log, ""]))
    return at


def test_a_limit_that_presses_only_because_of_the_reading(tmp_path):
    """By hand: with 500 read, b is at 500; with 525 the limit stops it at 510, however much more is read."""
    said = run("sizes", at=folder(tmp_path / "b", PLAN, "reading,q.o,q.i,525,tape,")).stdout
    assert "It moves p." in said
    assert "WAIT      p: needs #1" in said
    assert "CUT NOW" not in said


def test_rough_wood_that_presses(tmp_path):
    """By hand: the plan's own 500 would be cut; with 530 read all of the rough 508 is kept."""
    plan = PLAN.replace("(490 to 510) ", "")
    said = run("sizes", at=folder(tmp_path / "b", plan, "rough,p.a,p.b,508,rule,", "reading,q.o,q.i,530,tape,")).stdout
    assert "WAIT      p: needs #2" in said


def test_what_the_plan_alone_would_not_show(tmp_path):
    """By hand: of rough wood of 500 all is kept with 525 read, and with the plan's 500 too; but what was read as 525
    may really be 499, and then 1 comes off."""
    plan = PLAN.replace("(490 to 510) ", "")
    said = run("sizes", at=folder(tmp_path / "b", plan, "rough,p.a,p.b,500,rod,", "reading,q.o,q.i,525,tape,")).stdout
    assert "WAIT      p: needs #2" in said


@pytest.mark.parametrize("read", ["500.3", "502"])
def test_what_is_not_in_doubt_moves_nothing_of_note(tmp_path, read):
    said = run("sizes", at=folder(tmp_path / "b", PLAN, f"reading,q.o,q.i,{read},tape,")).stdout
    assert "CUT NOW   p" in said
    assert "STOP" not in said
