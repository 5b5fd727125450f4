"""What is refused or not known yet says what would do, in names of the plan at hand."""

from __future__ import annotations

import pytest
from cli_folder import folder_of, rows_on_disk, run

PLAN = """
unit = "mm"
workmanship = 0.4
give = 1
[part.post]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = "outer 60 inner"
y = "face 80 back"
z = "base 700 cap"
[part.shelf]
z = "under 20 over"
[check]
square = "corners post.*.outer/face, within 3"
high = "shelf.over flush with post.fl.cap, within 200"
"""


@pytest.fixture
def build(tmp_path):
    return folder_of(tmp_path / "b", PLAN)


def test_two_axes_are_a_diagonal_and_the_command_for_it_is_named(build):
    result = run("read", "post.fl", "outer", "base", "703", "--tool", "rule", at=build)
    assert result.exit_code == 2
    assert "post.fl outer+base: fitsolve diagonal POINT POINT 703" in result.stderr
    as_told = run("diagonal", "post.fl", "outer+base", "post.fl", "inner+cap", "703", "--tool", "rule", at=build)
    assert as_told.exit_code == 0


def test_a_mark_of_each_of_two_parts_may_be_named_with_its_part(build):
    said = run("read", "post.fl", "inner", "post.rl", "inner", "0", "--tool", "rule", at=build)
    other = run("read", "post.fl.inner..post.rl.inner", "0", at=build)
    assert (said.exit_code, rows_on_disk(build)[0]) == (other.exit_code, rows_on_disk(build)[1])
    told = [run("between", *words, at=build).stdout for words in (("post.fl", "inner", "post.rl", "inner"),
                                                                  ("post.fl.inner", "post.rl.inner"))]  # fmt: skip
    assert told[0] == told[1] != ""


def test_a_square_names_stations_that_the_posts_have(build):
    assert "no wind\n  Wanted? Name a station, as in: at base or at cap.\n" in run("plan", at=build).stderr
    without = folder_of(build / "other", PLAN.replace("z = \"base 700 cap\"\n[part.shelf]", "[part.shelf]")
                        .replace("high = ", "# "))  # fmt: skip
    assert "Wanted? As a check of its own: " in run("plan", at=without).stderr


def test_what_is_noticed_of_the_plan_stands_with_the_whole_and_not_with_each_part(build):
    for words in (("plan",), ("sizes",)):
        assert "no wind" in run(*words, at=build).stderr
    for words in (("layout", "shelf"), ("between", "post.fl", "base", "cap"), ("grounds", "high")):
        result = run(*words, at=build)
        assert result.stdout
        assert result.stderr == ""


def test_a_check_of_what_the_plan_does_not_tie_says_what_to_read(build):
    assert "not tied by the plan: once made and set up, read shelf.over..post.fl.cap" in " ".join(
        run("sizes", at=build, width=200).stdout.split()
    )
    for part in ("shelf", "post.fl"):
        run("made", part, at=build)
    assert "missing: a reading of shelf.over..post.fl.cap" in run("sizes", at=build, width=200).stdout


@pytest.mark.parametrize(("typed", "meant"), [("70.04", "700.4"), ("7001", "700.1"), ("70", "700")])
def test_a_slip_of_ten_is_recognised_before_it_is_kept(build, typed, meant):
    result = run("read", "post.fl", "base", "cap", typed, "--tool", "rule", at=build)
    assert result.exit_code == 1
    assert f"Ten times off: was it {meant}, " in result.stderr
