"""What commands at the bench answer has no line wider than the terminal, and says the same as on a wide one."""

from __future__ import annotations

import json
import re

import pytest
from cli_folder import FRAMES, folder_of, run

COMMANDS = [
    "read leg.l left right 3.531 caliper",
    "read apron l.left l.right 3.9 caliper",
    "made apron",
    "trim leg.l left",
    "close dado leg.l --dry",
    "remake apron --sure",
    "strike 3",
    "undo",
    "compare leg.l.left..right leg.r.left..right 0.4 caliper",
    "read leg.q left right 3",
    "rename leg.q leg.l",
    "between leg.l.left leg.r.right",
]


def answers(at, width) -> list[str]:
    return [run(*command.split(), at=folder_of(at, rows=FRAMES), width=width).output for command in COMMANDS]


@pytest.mark.parametrize("width", [40, 60])
def test_no_line_is_wider_and_no_word_is_lost(tmp_path, width):
    narrow, wide = answers(tmp_path / "narrow", width), answers(tmp_path / "wide", 100)
    for command, one, other in zip(COMMANDS, narrow, wide, strict=True):
        assert max(map(len, one.splitlines())) <= width, command
        times = r"\d\d:\d\d"
        assert re.sub(times, "", " ".join(one.split())) == re.sub(times, "", " ".join(other.split())), command
    assert any(max(map(len, one.splitlines())) > width for one in wide), "else nothing was wrapped"


def test_a_caret_stays_under_its_word(tmp_path):
    word = "left-of-the-mark-that-is-further-from-the-end"
    said = run("read", "leg.l", word, "right", "3", at=folder_of(tmp_path / "b"), width=40).output
    lines = said.splitlines()
    under = next(number for number, line in enumerate(lines) if set(line.strip()) == {"^"})
    assert lines[under - 1].strip() == word
    assert lines[under].index("^") == lines[under - 1].index(word)


def test_what_other_programs_read_is_not_wrapped(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    assert max(map(len, run("sizes", "--json", at=at, width=40).stdout.splitlines())) > 40
    assert json.loads(run("sizes", "--json", at=at, width=40).stdout)
