"""The worked plans that `new` writes: sound, invented, and such that the piece goes together when cut as advised."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from cli_folder import run

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import HEADER
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.cli.sample import WORKED, worked_plan
from fitsolve.errors import BuildError
from fitsolve.reconciliation import reconcile


@pytest.fixture(params=list(WORKED))
def worked(request, tmp_path):
    at = tmp_path / "piece"
    assert run("new", str(at), "--like", request.param).exit_code == 0
    return at


def test_sound_and_without_a_word_of_warning(worked):
    build = load_build(worked)
    assembly = assemble(build.plan)
    assert (assembly.notices, assembly.alone) == ((), ())
    assert len(assembly.joints) >= 8
    result = run("plan", at=worked)
    assert (result.exit_code, result.stderr) == (0, "")


def test_short_and_said_to_be_invented(worked):
    lines = (worked / "plan.toml").read_text(encoding="utf-8").splitlines()
    assert "invented" in lines[0]
    assert len(lines) <= 110
    assert max(map(len, lines)) <= 120


def test_cut_as_advised_and_read_so_it_all_goes_together(worked):
    found = reconcile(load_build(worked))
    rows = [
        f"{no},2026-03-02T08:00:00+01:00,reading,{one.start},"
        f"{one.end},{one.size_mm:.4f} mm,micrometer,"
        for no, one in enumerate((one for one in found.distances if one.size_mm), start=1)
    ]
    (worked / "log.csv").write_text("\n".join([HEADER, *rows, ""]), encoding="utf-8")
    text = (worked / "plan.toml").read_text(encoding="utf-8")
    text += '\n[tool.micrometer]\ngood_to = "0.004 mm"\n'
    (worked / "plan.toml").write_text(text, encoding="utf-8")
    made = reconcile(load_build(worked))
    assert {joint.verdict for joint in made.joints} == {"fits"}
    assert {seat.verdict for seat in made.seats} == {"goes on"}
    assert {check.verdict for check in made.checks} <= {"within", "can't tell"}
    assert not made.contradictions


def test_the_trade_units_differ_and_the_first_is_the_one_without_an_option(tmp_path):
    assert run("new", str(tmp_path / "a")).exit_code == 0
    assert (tmp_path / "a" / "plan.toml").read_text(encoding="utf-8") == worked_plan(next(iter(WORKED)))
    assert {read_plan(worked_plan(name)).unit for name in WORKED} == {"in", "mm"}


def test_empty_and_like_are_not_both(tmp_path):
    result = run("new", str(tmp_path / "a"), "--empty", "--like", "table-base")
    assert result.exit_code == 2
    assert "not both" in result.stderr
    assert not (tmp_path / "a").exists()


@pytest.mark.parametrize(
    ("name", "part", "also"),
    [
        ("table-base", "part.top", ["keep.overhang", "keep.reach", "keep.top-down"]),
        ("bench-base", "part.apron", ["joint.dado", "keep.apron-ends"]),
        ("divided-case", "part.divider", ["joint.divider"]),
    ],
)
def test_a_part_struck_out_names_all_that_goes_with_it(name, part, also):
    lines = worked_plan(name).splitlines()
    start = lines.index(next(line for line in lines if line.startswith(f"[{part}]")))
    end = next(k for k in range(start + 1, len(lines)) if lines[k].startswith(("[", "#")))
    with pytest.raises(BuildError) as caught:
        assemble(read_plan("\n".join(lines[:start] + lines[end:])))
    said = "\n".join(f"{problem.place}" for problem in caught.value.problems)
    assert all(table in said for table in also)


def without(lines, table):
    """The lines of a plan without a table, or without one line of [keep] or [check]."""
    kind, _, name = table.partition(".")
    if kind in ("keep", "check"):
        return [line for line in lines if not line.startswith(f"{name} = ")]
    start = next(k for k, line in enumerate(lines) if line.startswith(f"[{table}]"))
    end = next((k for k in range(start + 1, len(lines)) if lines[k].startswith(("[", "#"))), len(lines))
    return lines[:start] + lines[end:]


PARTS = [(name, part) for name in WORKED for part in re.findall(r"^\[(part\.\w+)\]", worked_plan(name), re.MULTILINE)]


@pytest.mark.parametrize(("name", "part"), PARTS)
def test_any_part_and_what_is_named_with_it_can_be_struck_out(name, part):
    lines = without(worked_plan(name).splitlines(), part)
    with pytest.raises(BuildError) as caught:
        assemble(read_plan("\n".join(lines)))
    tables = re.findall(r"plan\.toml:\d+: ((?:joint|keep|check)\.[\w-]+)", "\n".join(map(str, caught.value.problems)))
    for table in dict.fromkeys(tables):
        lines = without(lines, table)
    assemble(read_plan("\n".join(lines)))


def test_the_plans_are_data_of_the_package():
    beside = Path(worked_plan.__code__.co_filename).parent / "plans"
    assert sorted(path.stem for path in beside.glob("*.toml")) == sorted(WORKED)


def test_what_is_made_before_anything_is_read_is_as_advised_too(tmp_path):
    """A room that aims at its middle asks for another size than is drawn; whoever cut that is not taken at the plan."""
    at = tmp_path / "table"
    assert run("new", str(at), "--like", "table-base", at=None).exit_code == 0
    asked = json.loads(run("layout", "apron.front", "--json", at=at).stdout)
    line = next(mark for axis in asked["axes"] for mark in axis["marks"] if mark["mark"] == "apron.front.r.end")
    assert run("made", "apron.front", at=at).exit_code == 0
    told = json.loads(run("between", "apron.front", "l.end..r.end", "--json", at=at).stdout)
    assert line["line_mm"] < line["plan_mm"]
    assert told["distance_mm"] == pytest.approx(line["line_mm"], abs=1e-3)
    assert told["state"] == "made"
