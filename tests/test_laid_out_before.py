"""What was cut was laid out before it was said to be made: a reading in between must not move it unasked.

By hand, all lines in mm: the plan is 100, 300, 400 from l. With l..a read at 103, r held at 400, the 3 mm that are
lacking are shared by a..b and b..r: b is then due at 301.5.
"""

from __future__ import annotations

import pytest
from at_the_bench import Terminal
from cli_folder import folder_of, rows_on_disk, run

PLAN = """
unit = "mm"
finest = 0.5
workmanship = 0.4
give = 1
[part.rail]
x = ["l 400 (hold) r", "l 100 a 200 b 100 r"]
[part.post]
x = "l 50 r"
[keep]
as-wide = "rail.b..rail.r = post.l..post.r, give 1/8"
"""


@pytest.fixture
def build(tmp_path):
    return folder_of(tmp_path / "b", PLAN.split("[part.post]")[0], "reading,rail.l,rail.a,103,caliper,\n")


def made(at):
    cells = [row.split(",") for row in rows_on_disk(at)]
    return {mark: (end, size) for event, mark, end, size, *_ in cells if event == "made"}


def test_where_nobody_can_be_asked_it_is_said(build):
    result = run("made", "rail", at=build)
    assert result.exit_code == 1
    assert "warning: #1 has moved what is advised for rail: b was 300 from l, now 1.5 more" in result.stderr
    assert "Before? fitsolve undo, then: fitsolve made rail --as-of 0" in result.stderr
    assert made(build)["rail.b"] == ("rail.l", "301.5")


def test_as_of_a_row_it_is_at_the_lines_of_then(build):
    result = run("made", "rail", "--as-of", "0", at=build)
    assert (result.exit_code, result.stderr) == (0, "")
    assert made(build)["rail.b"] == ("rail.l", "300")
    assert made(build)["rail.a"] == ("rail.l", "100"), "of it only the reading said that it is made"
    told = run("between", "rail", "l", "b", at=build).stdout
    assert told.startswith("rail l..b   300 mm")


@pytest.mark.parametrize(("answer", "size"), [("y\n", "300"), ("n\n", "301.5")])
def test_at_the_keyboard_it_is_asked(build, answer, size):
    terminal = Terminal("made", "rail", at=build)
    terminal.until("b was 300 from l, now 1.5 more")
    terminal.until("Was it laid out before that? y or n: ")
    terminal.type(answer)
    assert terminal.ended() == 0
    assert made(build)["rail.b"][1] == size


def test_what_moves_nothing_asks_nothing(tmp_path):
    at = folder_of(tmp_path / "b", PLAN.split("[part.post]")[0], "reading,rail.l,rail.a,100,caliper,\n")
    result = run("made", "rail", at=at)
    assert (result.exit_code, result.stderr) == (0, "")


def test_what_was_read_before_it_was_laid_out_asks_nothing(tmp_path):
    """Readings of other wood come before a part is laid out; a part that was never changed is laid out last."""
    at = folder_of(tmp_path / "b", PLAN.replace("post.r, give 1/8", "post.r, give 0.1").replace("x = \"l 50 r\"", 'x = "l 100 r"'),
                   "reading,post.l,post.r,104,caliper,\n")  # fmt: skip
    result = run("made", "rail", at=at)
    assert result.exit_code == 0
    assert "moved" not in result.stderr
    assert made(at)["rail.b"][1] != "300"


@pytest.mark.parametrize("row", ["1", "x", "-1", ""])
def test_as_of_names_a_row_of_the_log(build, row):
    result = run("made", "rail", "--as-of", row, at=folder_of(build / "empty", PLAN))
    assert result.exit_code == 2
    assert "the log has no row" in result.stderr


def test_as_of_goes_with_no_size(build):
    for more in (["b", "300"], ["--as-planned"], ["b", "--from", "l"]):
        result = run("made", "rail", *more, "--as-of", "0", at=build)
        assert result.exit_code == 2
        assert "Leave out --as-of" in result.stderr


def test_closing_a_joint_says_it_too(tmp_path):
    joint = '[part.post]\nx = "o 50 i"\n[joint.m]\nmeet = "post.i against rail.b, tight-up, rail above"\n'
    at = folder_of(tmp_path / "b", PLAN.split("[part.post]")[0] + joint, "reading,rail.l,rail.a,103,caliper,\n")
    result = run("close", "m", "--dry", at=at)
    assert "#1 has moved what is advised for rail: b was 300 from l" in result.stderr
    assert (result.exit_code, rows_on_disk(at)[-1].split(",")[0]) == (1, "close")
