"""`between`: one axis only; a reading not to be believed that moves the distance is repeated."""

from __future__ import annotations

import json

import pytest
from cli_folder import FRAMES, PLAN, folder_of, run

from tests.test_cli_showing import SCHEMA, faults

TWO_AXES = PLAN.replace('x = "left 3 1/2 right"', 'x = "left 3 1/2 right"\ny = "face 3 back"')
AN_INCH_OFF = FRAMES + "reading,leg.l.left,leg.r.left,45 5/8,tape,\nreading,apron.l.end,apron.l.left,6,caliper,\n"


def test_marks_on_two_axes_are_refused(tmp_path):
    result = run("between", "leg.l.left", "leg.l.face", at=folder_of(tmp_path, plan=TWO_AXES))
    assert result.exit_code == 2
    assert "leg.l.left lies along x, leg.l.face along y: that is no distance along one axis" in result.output


def test_a_mark_of_another_part_is_looked_for_there(tmp_path):
    result = run("between", "leg.l.left", "leg.r.rihgt", at=folder_of(tmp_path))
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == 'leg.r has no mark "rihgt"\n    rihgt\n    ^^^^^\n  Did you mean right?\n'


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_a_suspect_that_moves_the_distance_is_repeated(tmp_path, more):
    at = folder_of(tmp_path, rows=AN_INCH_OFF)
    result = run("between", "leg.l.left", "leg.r.right", *more, at=at)
    assert result.exit_code == 1
    assert "STOP  #5 leg.l.left..leg.r.left, 45 5/8 by tape: 1 in more than the others say." in result.stderr
    if more:
        json.loads(result.stdout)


def test_one_that_does_not_is_not(tmp_path):
    result = run("between", "apron.l.end", "apron.l.left", at=folder_of(tmp_path, rows=AN_INCH_OFF))
    assert (result.exit_code, "STOP" in result.output) == (0, False)


def test_one_that_nothing_checks_is_repeated_too(tmp_path):
    at = folder_of(tmp_path, rows="reading,leg.l.left,leg.l.right,4.5,caliper,\n")  # an inch over its plan
    result = run("between", "leg.l.left", "leg.l.right", at=at)
    assert result.exit_code == 1
    assert "STOP  #1 leg.l left..right, 4 1/2 by caliper: 1 in more than plan" in result.stderr


def test_a_station_that_nothing_names_lies_with_its_mark(tmp_path):
    result = run("between", "leg.l.left", "leg.l.right@foot", at=folder_of(tmp_path))
    assert result.stdout.startswith("leg.l left..right   3 1/2")
    assert "nothing was read at leg.l.right@foot" in result.stderr


SLANTED = PLAN.replace(
    'x = "left 3 1/2 right"',
    'x = "left 3 1/2 right"\nz = "foot 4 bottom@right 2 top"\nslopes = "bottom@right..bottom@left 1:8 down"',
)


@pytest.mark.parametrize(
    "words",
    [("leg.l", "bottom@left", "top"), ("leg.l.top", "leg.l.bottom@left"), ("leg.l", "top", "bot@le")],
)
def test_a_mark_that_lies_at_its_stations_alone_is_found_by_its_name(tmp_path, words):
    """3 1/2 at 1:8 are 7/16."""
    result = run("between", *words, "--json", at=folder_of(tmp_path, plan=SLANTED, rows="made,leg.l,,,,\n"))
    assert json.loads(result.stdout)["distance_mm"] == pytest.approx((2 + 7 / 16) * 25.4, abs=1e-9)


def test_a_station_that_it_does_not_have_is_not_guessed(tmp_path):
    result = run("between", "leg.l", "top", "bottom@middle", at=folder_of(tmp_path, plan=SLANTED))
    assert (result.exit_code, "Did you mean bottom@" in result.output) == (2, True)


UNTIED = """
format = 1
unit = "mm"
finest = "0.5"
give = 1
[tool.rule]
good_to = "0.1"
[part.post]
x = "outer 90 inner"
y = "face 60 back"
z = "foot 750 head"
[part.chop]
x = "left 120 right"
y = "front 40 back"
z = "low 560 top"
"""


@pytest.mark.parametrize(
    ("first", "second", "lies"),
    [
        ("chop.low", "post.foot", "chop.low below post.foot"),
        ("post.foot", "chop.low", "post.foot below chop.low"),
        ("chop.left", "post.outer", "chop.left left of post.outer"),
        ("post.face", "chop.back", "post.face in front of chop.back"),
    ],
)
def test_a_reading_between_parts_that_nothing_ties_says_which_way_it_was_taken(tmp_path, first, second, lies):
    at = folder_of(tmp_path, plan=UNTIED)
    echo = run("read", f"{first}..{second}", "50.2", "--tool", "rule", at=at).stdout
    assert echo == f"#1 {first}..{second} 50.2 mm rule, not tied by the plan: taken as {lies}\n"
    for pair in ((first, second), (second, first)):  # whichever way it is asked
        said = run("between", *pair, at=at).stdout
        assert said.startswith(f"{pair[0]}..{pair[1]}   50 + 0.20 mm, {lies}, ± ")
        told = json.loads(run("between", *pair, "--json", at=at).stdout)
        assert (told["first"], told["distance_mm"]) == (first, pytest.approx(50.2))
        assert list(faults(told, SCHEMA["$defs"]["between"])) == []
        assert f"{pair[0]}..{pair[1]}   50 + 0.20" in run("grounds", *pair, at=at).stdout  # and not below 0


def test_marks_that_the_plan_ties_do_not_say_which_way_they_lie(tmp_path):
    at = folder_of(tmp_path, plan=UNTIED, rows="reading,chop.low,chop.top,560,rule,\n")
    assert "below" not in run("between", "chop.low", "chop.top", at=at).stdout


class TestLooseParts:
    """Two made parts that no joint and no reading holds are nowhere yet: how they are advised to stand is no fact."""

    LEGS = "made,leg.l,,,,\nmade,leg.r,,,,\n"

    def test_they_are_not_called_made(self, tmp_path):
        at = folder_of(tmp_path, rows=self.LEGS)
        result = run("between", "leg.l.right", "leg.r.left", at=at)
        assert result.stdout.rstrip().endswith("as advised: both are made, but nothing holds them there yet")
        told = json.loads(run("between", "leg.l.right", "leg.r.left", "--json", at=at).stdout)
        assert told["state"] == "made"

    def test_across_one_of_them_is_made(self, tmp_path):
        result = run("between", "leg.l.left", "leg.l.right", at=folder_of(tmp_path, rows=self.LEGS))
        assert "holds them" not in result.stdout

    @pytest.mark.parametrize(
        "held",
        ["reading,leg.l.right,leg.r.left,41,tape,\n",
         "made,apron,,,,\nclose,dado leg.l apron,,,,dry\nclose,dado leg.r apron,,,,dry\n"],
    )  # fmt: skip
    def test_read_or_joined_they_are(self, tmp_path, held):
        result = run("between", "leg.l.right", "leg.r.left", at=folder_of(tmp_path, rows=self.LEGS + held))
        assert ", made" in result.stdout
        assert "holds them" not in result.stdout
