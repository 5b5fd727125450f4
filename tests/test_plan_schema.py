"""specs/plan.schema.json takes what the program reads and refuses what it refuses, as far as one text tells."""

import json
import re
import tomllib
from pathlib import Path

import pytest
from schema_faults import faults

from fitsolve.build.plan import read_plan
from fitsolve.build.planschema import LENGTH, plan_schema
from fitsolve.errors import BuildError

ROOT = Path(__file__).parents[1]
SCHEMA = json.loads(plan_schema())
TAKEN = """
    format = 1.0
    finest = "2' - 6 1/4''"
    workmanship_width = 0
    overcut = "5 %"
    fits = { s = [-1, 0, 1] }
    fits = { s = ["-1/2", 0, 1] }
    tool.t.class = "II"
    tool.tape = {}
    tool.t = { good_to = 1, scale = 0.0005 }
    part.b = {}
    part.b.note = "a word"
    part."Bänke".x = "l 1 r"
    part.b.copies = ["1", "b"]
    part.b.copies = { c = "as  drawn" }
    part.b.copies = { c = "left for right, both" }
    part.b = { x = "l 60 r", z = "u 9 o", holes = { p = ["1 from l", "1 from u"] } }
    part.b = { x = "l 60 r", z = "u 9 o", holes.low.p = ["1 from l", "1 from u"] }
"""
REFUSED = """
    format = true
    format = 2
    finest = -1
    finest = 0
    finest = "-1/2"
    finest = "1/"
    finest = "1,5"
    give = 0
    workmanship = 0
    overcut = 0.6
    fits = { s = [0, 1] }
    fits = { in = [0, 1, 2] }
    fits = { "a b" = [0, 1, 2] }
    fits = { 1a = [0, 1, 2] }
    tool.t = {}
    tool.t.class = "IV"
    tool.t = { good_to = 0 }
    tool.t = { good_to = 1, per_length = "1/32" }
    tool."my tape".good_to = 1
    part.b.x = ""
    part.b.x = 3
    part.b.slope = []
    part.1b.x = "l 1 r"
    part."b.c".x = "l 1 r"
    part.b.copies = []
    part.b.copies = ["1", "1"]
    part.b.copies = { c = "mirrored" }
    part.b = { x = "l 60 r", z = "u 9 o", holes = { p = ["1 from l"] } }
    part.b = { x = "l 60 r", z = "u 9 o", holes = { p = "1 from l" } }
    joint.j = {}
    joint.j = { meet = [] }
    joint."" = { meet = "a.r against a.l, glue" }
    keep = { k = [] }
    keep = { "" = "a.l..a.r, by 1 to 9" }
    check = { " " = "a.l..a.r = 9, within 1" }
    check = { "a b" = 3 }
    parts = {}
"""


def lines(text):
    return [line.strip() for line in text.strip().splitlines()]


def read(text):
    try:
        read_plan(text)
    except BuildError:
        return False
    return True


@pytest.mark.parametrize(("line", "reads"), [(one, text is TAKEN) for text in (TAKEN, REFUSED) for one in lines(text)])
def test_a_line_of_a_plan(line, reads):
    text = f'unit = "mm"\n{line}\n[part.a]\nx = "l 9 r"\n'
    assert read(text) == reads
    assert (not list(faults(tomllib.loads(text), SCHEMA))) == reads


@pytest.mark.parametrize("plan", [*ROOT.glob("examples/*/plan.toml"), *ROOT.glob("fitsolve/cli/plans/*.toml")])
def test_whole_plans(plan):
    assert list(faults(tomllib.loads(plan.read_text(encoding="utf-8")), SCHEMA)) == []


def test_every_length_of_the_page_and_of_those_refused_only_what_takes_arithmetic():
    page = (ROOT / "specs" / "lengths.md").read_text(encoding="utf-8")
    taken, refused = (re.findall(r"^\| `([^`]*)` \|", half, re.MULTILINE) for half in page.split("## What is refused"))
    assert [text for text in taken if not re.search(LENGTH, text)] == []
    left = ["3 1/0", "3 4/3", "3 4/4", "2' 14\"", "1'000", "99999 m"]
    assert [text for text in refused if re.search(LENGTH, text)] == left
