"""Every example and every table of specs/language.md, and the schema that stands beside it."""

import json
import re
from pathlib import Path

import pytest
from plans import problems, warnings

from fitsolve.build.planschema import plan_schema

SPECS = Path(__file__).parents[1] / "specs"
TEXT = (SPECS / "language.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```toml\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
HEAD = 'unit = "mm"\ngive = 1\n'


def rows(title):
    table = TEXT.split(f"| {title} | what is said | column |\n| --- | --- | --- |\n")[1].split("\n\n")[0]
    return [tuple(cell.strip(" `") for cell in line.strip("|").split(" | ")) for line in table.split("\n")]


def first(text):
    problem = problems(text)[0]
    assert problem.level == "error"
    return problem


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_is_read_without_complaint(example):
    assert warnings(HEAD + example) == []


def test_there_are_examples_of_all_that_the_page_names():
    assert len(EXAMPLES) >= 6
    for construct in ("(equal", "(hold", "finest", "copies", "@", "slopes", "°", "holes", "against", "short of", "flush with", ".*."):
        assert any(construct in example for example in EXAMPLES)


@pytest.mark.parametrize(("run", "what", "column"), rows("a run"))
def test_a_run_that_can_not_be_read(run, what, column):
    problem = first(f"{HEAD}[part.a]\nx = '{run}'")
    assert (problem.what, problem.place.column) == (what, int(column))
    assert problem.place.text == run
    assert (problem.place.line, problem.place.key) == (4, "part.a.x")


PARTS = '[part.a]\nx = ["l 60 r", "k 1 r"]\n[part.b]\nx = "l 60 r"\ny = "f 20 g"\n'


@pytest.mark.parametrize(("sentence", "what", "column"), rows("a sentence"))
def test_a_sentence_that_makes_no_sense(sentence, what, column):
    problem = first(f'{HEAD}{PARTS}[joint.j]\nmeet = "{sentence}"')
    assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), sentence)
    assert (problem.place.line, problem.place.key) == (9, "joint.j.meet")


@pytest.mark.parametrize(("sentence", "what", "column"), rows("a keep"))
def test_a_keep_that_makes_no_sense(sentence, what, column):
    problem = first(f'{HEAD}{PARTS}[keep]\nk = "{sentence}"')
    assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), sentence)


@pytest.mark.parametrize(("sentence", "what", "column"), rows("a check"))
def test_a_check_of_the_frame_that_makes_no_sense(sentence, what, column):
    problem = first(f'{HEAD}{PARTS}[check]\nk = "{sentence}"')
    assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), sentence)


SLANTED = '[part.a]\nx = "l 60 r"\nz = ["u 5 k 20 t", "u@l 5 k@r 20 t"]\nslopes = "{}"'


@pytest.mark.parametrize(("slope", "what", "column"), rows("a slope"))
def test_a_slope_that_makes_no_sense(slope, what, column):
    problem = first(HEAD + SLANTED.format(slope))
    assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), slope)
    assert (problem.place.line, problem.place.key) == (6, "part.a.slopes")


HOLED = '[part.a]\nx = "l 60 r"\nz = "u 5 k 20 t"\nholes = {{ b = ["9 from l", "{}"] }}'


@pytest.mark.parametrize(("place", "what", "column"), rows("a place"))
def test_a_place_of_a_hole_that_makes_no_sense(place, what, column):
    problem = first(HEAD + HOLED.format(place))
    assert (problem.what, problem.place.column, problem.place.text) == (what, int(column), place)
    assert (problem.place.line, problem.place.key) == (6, "part.a.holes.b")


def test_the_schema_is_the_one_the_models_make():
    stands = (SPECS / "plan.schema.json").read_text(encoding="utf-8")
    assert stands == plan_schema(), "write it anew: fitsolve.build.planschema.plan_schema()"


def test_the_schema_names_every_key_of_the_page():
    keys = set(json.loads(plan_schema())["properties"])
    page = set(re.findall(r"^\| `(\w+)", TEXT.split("## Names")[0], re.MULTILINE)) | {"check"}
    assert page == keys
