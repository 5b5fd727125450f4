"""What is made without a size was cut to the lines that were shown, also where the plan lies between two lines."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from cli_folder import folder_of, rows_on_disk, run

import fitsolve
from fitsolve.findings.lines import lines_of_part

PLAN = """
unit = "mm"
finest = 0.5
workmanship = 0.4
give = 1
[part.ledger]
y = ["h 1000 f", "h (equal) a 90 b (equal) c 90 d (equal) f"]
z = "bottom 40 top"
"""


@pytest.fixture
def build(tmp_path):
    return folder_of(tmp_path / "b", PLAN)


def sizes_written(at):
    cells = [row.split(",") for row in rows_on_disk(at)]
    return {mark.split(".")[-1]: float(size) for event, mark, _, size, *_ in cells if event == "made" and size}


def test_equal_spacing_is_made_at_its_lines(build):
    """By hand: (1000 - 180) / 3 is 273.333; so 273.333, 363.333, 636.667, 726.667 lie nearest to these lines."""
    assert run("made", "ledger", at=build).exit_code == 0
    written = sizes_written(build)
    assert {mark: written[mark] for mark in "abcd"} == {"a": 273.5, "b": 363.5, "c": 636.5, "d": 726.5}
    between = json.loads(run("between", "ledger", "a", "c", "--json", at=build).stdout)
    assert between["distance_mm"] == pytest.approx(363.0, abs=1e-9)


def test_one_of_them_too(build):
    assert run("made", "ledger", "a", at=build).exit_code == 0
    assert sizes_written(build) == {"a": 273.5}


def test_what_is_drawn_on_lines_is_made_in_one_row(tmp_path):
    at = folder_of(tmp_path / "b", PLAN.replace("h 1000 f", "h 990 f"))  # by hand: 270, 360, 630, 720
    assert run("made", "ledger", at=at).exit_code == 0
    assert rows_on_disk(at) == ["made,ledger,,,,"]


def test_as_planned_is_the_drawing(build):
    assert run("made", "ledger", "--as-planned", at=build).exit_code == 0
    assert rows_on_disk(build) == ["made,ledger,,,,"]


@pytest.mark.parametrize("name", ["wedging-table", "drawer-case", "trestle"])
def test_the_lines_of_a_part_alone_are_those_of_the_whole(name):
    """Made asks for the lines of one part; what it writes must be what was shown with all others."""
    found = fitsolve.reconcile(fitsolve.load(Path(__file__).parents[1] / "examples" / name))
    whole, marks = found.laid_out, found.assembly.marks
    assert whole.lines
    for part in found.assembly.parts:
        alone = lines_of_part(found.solved, found.layouts, part)
        assert alone.lines == {mark: line for mark, line in whole.lines.items() if marks[mark].part == part}
        assert alone.without == {mark for mark in whole.without if marks[mark].part == part}
