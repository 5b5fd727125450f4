"""Completion in the shell: what stands in the plan is offered, and nothing goes wrong aloud."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from cli_folder import PLAN, folder_of
from click.shell_completion import ShellComplete

from fitsolve.cli.main import cli

ROOT = Path(__file__).parent.parent


def offered(at, *words):
    """What is offered for the last of the words; click's own class, as its scripts for the shells use it."""
    complete = ShellComplete(cli, {}, "fitsolve", "_FITSOLVE_COMPLETE")
    place = [] if at is None else ["--build", str(at)]
    return [one.value for one in complete.get_completions([*place, *words[:-1]], words[-1])]


@pytest.fixture
def bench(tmp_path):
    return folder_of(tmp_path / "bench")


def test_the_worked_plans_are_offered():
    assert offered(None, "new", "table", "--like", "") == ["bench-base", "table-base", "divided-case"]


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("read", "l"), ["leg.l", "leg.r"]),
        (("read", "leg.l", ""), ["left", "right"]),
        (("read", "leg.l", "left", "r"), ["right"]),
        (("read", "leg.l", "left..r"), ["left..right"]),
        (("read", "leg.l.left..r"), ["leg.l.left..right"]),
        (("read", "leg.l.le"), ["leg.l.left"]),
        (("read", "--tool", "tape-"), ["tape-1", "tape-2", "tape-3"]),
        (("compare", "leg.l", "left..right", "leg.r", "left..r"), ["left..right"]),
        (("made", "apr"), ["apron"]),
        (("made", "apron", "l."), ["l.end", "l.left", "l.right"]),
        (("made", "apron", "l.left", "--from", "leg"), ["leg.l", "leg.r"]),
        (("trim", "leg.r", ""), ["left", "right"]),
        (("remake", "leg"), ["leg.l", "leg.r"]),
        (("close", ""), ["dado", "leg.l", "apron", "leg.r"]),
        (("close", "dado", "leg"), ["leg.l", "leg.r"]),
        (("close", "leg.l", "a"), ["apron"]),
        (("open", "d"), ["dado"]),
        (("gap", "d"), ["dado"]),
        (("wanted", "--part", "a"), ["apron"]),
        (("rename", "old", "leg.l.r"), ["leg.l.right"]),
        (("between", "leg.l."), ["leg.l.left", "leg.l.right"]),
        (("layout", "a"), ["apron"]),
        (("sizes", "--try", ""), ["give", "hold", "size", "limit", "fit", "keep", "check"]),
        (("sizes", "--try", "h"), ["hold leg.l", "hold leg.r", "hold apron"]),
        (("sizes", "--try", "give leg"), ["give leg.l", "give leg.r"]),
        (("sizes", "--try", "give apron l."), ["give apron l.end..", "give apron l.left..", "give apron l.right.."]),
        (("sizes", "--try", "give apron l.end..l.l"), ["give apron l.end..l.left"]),
        (("sizes", "--try", "fit "), ["fit slip"]),
        (("sizes", "--try", "check a"), ["check apart =", "check apart within"]),
        (("sizes", "--try", "check apart w"), ["check apart within"]),
        (("sizes", "--try", "give apron l.end..l.left 1"), []),
    ],
)  # fmt: skip
def test_names_of_the_plan(bench, words, found):
    assert offered(bench, *words) == found


def test_a_tool_of_the_plan(tmp_path):
    at = folder_of(tmp_path / "b", plan=PLAN.replace("[tool.tape]", '[tool.trammel]\ngood_to = "1/64"\n[tool.tape]'))
    assert offered(at, "read", "--tool", "tr") == ["trammel"]


@pytest.mark.parametrize("plan", ["unit = ", "", "\0"])
def test_where_there_is_no_plan_there_are_no_names(tmp_path, plan):
    at = folder_of(tmp_path / "b", plan=plan)
    assert offered(at, "read", "l") == []
    assert offered(at / "nowhere", "close", "d") == []
    assert "caliper" in offered(at, "read", "--tool", "c")


def test_through_the_shell_in_the_folder_one_stands_in(bench):
    """As bash calls it: the words in COMP_WORDS, the place in COMP_CWORD; FITSOLVE_BUILD counts."""
    said = "from fitsolve.cli.main import main; main()"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "_FITSOLVE_COMPLETE": "bash_complete",
                   "COMP_WORDS": "fitsolve read leg.l ri", "COMP_CWORD": "3"}  # fmt: skip
    for place in ({"cwd": bench}, {"cwd": bench.parent, "env": {**environment, "FITSOLVE_BUILD": str(bench)}}):
        ran = subprocess.run([sys.executable, "-c", said], capture_output=True, text=True, check=True,
                             **{"env": environment, **place})  # fmt: skip
        assert (ran.stdout, ran.stderr) == ("plain,right\n", "")
