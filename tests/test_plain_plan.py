"""The plain way into a plan gives what the careful one gives, and nothing where that one would object."""

from __future__ import annotations

import copy
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest
from cli_folder import PLAN
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.build import plainplan
from fitsolve.build.plainplan import plain_plan
from fitsolve.build.plan import JointTable, PartTable, Plan, ToolTable
from fitsolve.errors import BuildError

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*/plan.toml"))
BUILT_IN = sorted((Path(__file__).parents[1] / "fitsolve" / "cli" / "plans").glob("*.toml"))


def tables(text: str) -> dict:
    return tomllib.loads(text, parse_float=Decimal)


@pytest.mark.parametrize("path", [*EXAMPLES, *BUILT_IN], ids=str)
def test_every_worked_plan_goes_the_plain_way(path):
    read = tables(path.read_text(encoding="utf-8"))
    plain = plain_plan(read)
    assert plain is not None
    assert plain.model_dump() == Plan(**read).model_dump()


@pytest.mark.parametrize(
    ("model", "known"),
    [(Plan, plainplan._PLAN), (PartTable, plainplan._PART), (JointTable, plainplan._JOINT), (ToolTable, plainplan._TOOL)],
)
def test_every_key_is_known(model, known):
    assert {field.alias or name for name, field in model.model_fields.items()} == set(known)


VALUES = st.sampled_from(
    [1, 0, True, None, "", "in", "mm", "a 3 b", 2.5, Decimal("3.531"), Decimal("NaN"), 10**40, [], ["a 3 b"], ["0", 1, "2"],
     ["0", True], [["a"]], {}, {"a": "as drawn"}, {"low": {"peg": ["1 from l", "2 from top"]}}, {"p": "1 from l"}, {"a": 1},
     {"meet": "A against B"}, {"x": "a 3 b", "copies": ["l", "r"]}, {"p": {"x": 3}}, {"t": {"good_to": 0.1, "class": "II"}},
     {"j": {"meet": ["A against B"], "each": "x"}}, {"j": {}}, {"k": ["A..B = 3", "C..D = 4"]}, (1, 2)]
)  # fmt: skip
KEYS = [*plainplan._PLAN, "parts"]
KINDS = {"part": plainplan._PART, "joint": plainplan._JOINT, "tool": plainplan._TOOL}


@st.composite
def plans(draw) -> dict:
    """Tables near enough to a plan: an inner table is the plan's own with some keys changed."""
    plan = tables(PLAN)
    if draw(st.booleans()):
        plan[draw(st.sampled_from(KEYS))] = draw(VALUES)
    if draw(st.booleans()):
        return plan
    kind = draw(st.sampled_from(sorted(KINDS)))
    inner = plan.get(kind)
    if isinstance(inner, dict) and inner and all(isinstance(one, dict) for one in inner.values()):
        one = inner[draw(st.sampled_from(sorted(inner)))]
        one[draw(st.sampled_from([*KINDS[kind], "odd"]))] = draw(VALUES)
    return plan


@given(plans())
@settings(max_examples=100, deadline=None)
def test_what_goes_the_plain_way_goes_the_careful_one_too(drawn):
    plain = plain_plan(copy.deepcopy(drawn))
    try:
        careful = Plan(**drawn)
    except BuildError:
        careful = None
    if plain is not None:
        assert careful is not None
        assert plain.model_dump() == careful.model_dump()


def test_very_many_tables_go_the_careful_way():
    assert plain_plan({"unit": "mm", "part": {f"p{k}": {"x": "a"} for k in range(plainplan.TABLES_MOST + 1)}}) is None
