"""One day from morning to evening in a real terminal, everything in one build, as it happens at a bench.

A frame of two legs and two aprons, invented. The sizes that are cut at the end are those worked out
by hand below from what the caliper and the rod have said.
"""

from __future__ import annotations

import os

import pytest
from at_the_bench import Terminal, ran
from cli_folder import PLAN

from fitsolve.build.folder import load_build
from fitsolve.reconciliation import reconcile

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a pseudo-terminal is a thing of POSIX")

TWO_APRONS = (
    PLAN.replace("[part.apron]\n", '[part.apron]\ncopies = ["front", "rear"]\n')
    .replace("each = '''\nleg\nl\nr\n'''", "each = '''\napron leg\nfront l\nfront r\nrear l\nrear r\n'''")
    .replace("in apron.{leg}.left/right", "in apron.{apron}.{leg}.left/right")
    .replace("apron.l.end..l.left = r.right..r.end", "apron.*.l.end..l.left = r.right..r.end")
)
CALIPER = "[caliper]: "


def answered(terminal, prompt, keys):
    """Wait for a prompt, then type; what stood on the screen up to the prompt."""
    seen = terminal.until(prompt)
    terminal.type(keys)
    return seen


def morning(bench):
    """The legs, by a caliper that is set to millimetres; one slip, answered with no, and one sent twice."""
    reading = Terminal("read", "leg.l", "--tool", "cal", at=bench)
    answered(reading, f"leg.l left..right  plan 3 1/2  {CALIPER}", " 89,69\n")
    answered(reading, "89.69 fits the plan in mm only: is the caliper set to mm today? y or n: ", "y\n")
    reading.until("#1 leg.l left..right 3.5311 in caliper, plan 3 1/2: 0.031 more")
    assert reading.ended() == 0
    reading = Terminal("read", "leg.r", at=bench)
    answered(reading, f"leg.r left..right  plan 3 1/2  {CALIPER}", "114,00\n")  # 25.4 mm too much
    said = answered(reading, "Keep it? y or n: ", "n\n")
    assert "Just 1 in" in said
    assert "whole inch misread?" in said
    answered(reading, CALIPER, "88,60\n")
    reading.until("#2 leg.r left..right 3.4882 in caliper")
    assert reading.ended() == 0


def two_at_once(bench):
    """The distance between the legs, read by two people in two terminals; both readings are kept."""
    first = Terminal("read", at=bench, columns=120)
    second = Terminal("read", "--tool", "rod", at=bench, columns=120)
    for one, keys in ((first, "rod\n"), (second, "41 3/32\n")):
        answered(one, "leg.l.right..leg.r.left  plan 41", keys)
    second.until("41 3/32 in rod")
    answered(first, "[rod]: ", "41-3/32\n")
    assert "2 readings, 0.000 apart" in first.until("apart")
    for one in (first, second):
        one.type(".\n")
        one.ended()


def a_spreadsheet(bench):
    """The log is looked at in a spreadsheet, which saves it in its own way, with a word in a note."""
    path = bench / "log.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    lines[1] += "by the window"
    path.write_bytes(b"\xef\xbb\xbf" + "".join(line.replace(",", ";") + "\r\n" for line in lines).encode())


def test_from_an_empty_folder_to_both_aprons_cut(tmp_path):
    status, text = ran("new", "bench", "--empty", at=tmp_path)
    assert status == 0
    bench = tmp_path / "bench"
    (bench / "plan.toml").write_text(TWO_APRONS, encoding="utf-8")
    assert ran("made", "leg.l", "--as-planned", at=bench)[0] == 0
    assert "struck #1: made leg.l" in ran("undo", at=bench)[1]
    (bench / "log.csv").unlink()

    morning(bench)
    two_at_once(bench)
    a_spreadsheet(bench)

    # What to cut, on a narrow terminal, without colour, for a screen reader: the same words.
    screen = Terminal("sizes", at=bench, columns=44, environment={"NO_COLOR": "1", "TERM": "dumb"})
    screen.ended()
    assert "\x1b" not in screen.raw
    assert [line for line in screen.text.splitlines() if len(line) > 44] == []
    assert "CUT NOW" in screen.text
    wide = ran("sizes", at=bench, columns=160)[1]
    assert screen.text.split()[8:] == wide.split()[8:], "the same words, whatever the width"

    # The front apron is cut as advised; it splits, and is made anew.
    assert "as advised" in ran("made", "apron.front", at=bench)[1]
    again = Terminal("remake", "apron.f", at=bench)
    again.until("apron.front: uncut again; #")
    answered(again, "Is it made anew? y or n: ", "y\n")
    again.until("remake apron.front")
    assert again.ended() == 0

    # Both are cut; the rear one's left dado is knifed off the leg, 0.006 in wider than its lines.
    for words in (("apron.front",), ("apron.rear", "l.left..right", "0.006", "--from", "leg.l"), ("apron.rear",)):
        status, text = ran("made", *words, at=bench)
        assert status == 0, text
    status, text = ran("read", "apron.front", "l.left..right", "3.539", "--tool", "caliper", at=bench)
    assert status == 0
    assert "3.539 in caliper, plan 3 1/2: 0.039 more" in text

    # By hand: 89.69 mm is 3.53110 in; 0.006 in wider is 3.53710 in.
    found = reconcile(load_build(bench))
    rear = found.between("apron.rear.l.left", "apron.rear.l.right").distance_mm
    assert rear / 25.4 == pytest.approx(3.53110 + 0.006, abs=2e-4)
    front = found.between("apron.front.l.left", "apron.front.l.right").distance_mm
    assert front / 25.4 == pytest.approx(3.539, abs=2e-4)
    assert {one.state for one in found.distances} == {"made"}

    # In the evening: put together dry, what it fixes is said, and nothing was lost all day.
    closed = Terminal("close", "front", "leg.l", "--dry", at=bench)
    closed.until("leg.l and apron.front are one piece now, until it is opened.")
    answered(closed, "]: ", ".\n")  # it asks for what can be read now
    assert closed.ended() == 0
    log = load_build(bench).log
    assert [row.no for row in log.rows] == list(range(1, log.highest + 1))
    assert log.rows[0].note == "by the window"
    assert not [problem for problem in log.problems if problem.level == "error"]
    status, text = ran("log", at=bench)
    assert status == 0
    assert "apron.front was remade in #" in text
