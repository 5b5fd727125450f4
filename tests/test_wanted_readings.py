"""Which readings are wanted: what is made, not read, and still counts for something; and no more than that."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from cli_folder import folder_of, log_text, run
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.build.folder import load_build
from fitsolve.build.logtext import Log, parse_log
from fitsolve.build.place import assemble
from fitsolve.build.state import settle
from fitsolve.findings.tags import list_number, log_of_list
from fitsolve.findings.wanted import wanted_readings
from fitsolve.graph import make_graph
from fitsolve.rows import RowList
from fitsolve.solve.freedom import Freedom

TABLE = Path(__file__).parents[1] / "examples" / "wedging-table"
BUILD = load_build(TABLE)
PLAN = assemble(BUILD.plan)


def until(last):
    """The wedging table as its log stood at a row."""
    log = Log(rows=tuple(row for row in BUILD.log.rows if row.no <= last), highest=last)
    return settle(PLAN, log, BUILD.plan.tools())


def names(last):
    assembly, state = until(last)
    found = wanted_readings(assembly, state)
    return {(assembly.marks[one.start].name, assembly.marks[one.end].name) for one in found}


def test_nothing_is_wanted_of_what_is_not_made():
    assert names(0) == set()


def test_a_mortise_is_wanted_while_it_is_open_and_not_when_a_joint_hides_it():
    cheeks = ("leg.fl.low.cheek-o", "leg.fl.low.cheek-i")
    assert cheeks in names(40)
    assert cheeks not in names(48)


def test_the_spacing_of_the_frames_is_wanted_once_they_are_glued_and_until_it_is_read():
    spacing = ("leg.fl.inner", "leg.fr.inner")
    assert spacing not in names(40)  # before that the legs stand about loose
    assert spacing in names(48)
    assert spacing not in names(55)


@given(st.integers(0, 55))
@settings(max_examples=25)
def test_each_wanted_reading_settles_something_and_none_is_settled_already(last):
    assembly, state = until(last)
    freedom = Freedom(len(assembly.marks))
    freedom.tie(make_graph(assembly, state).network.measured)
    for one in wanted_readings(assembly, state):
        row = [(one.end, 1.0), (one.start, -1.0)]
        assert not freedom.settled(row)
        rows = RowList()
        rows.add(row, 0.0, 1.0)
        freedom.tie(rows.rows())  # so not one of them follows from those before it


class TestListNumbers:
    """A list can be made again from its number as long as what it stood on is still so."""

    ROWS = "made,leg.l,,,,\nmade,leg.r,,,,\n"

    def log(self, more=""):
        return parse_log(log_text(self.ROWS + more).encode())

    def plan(self, tmp_path):
        return assemble(load_build(folder_of(tmp_path)).plan)

    def test_readings_since_do_not_matter(self, tmp_path):
        plan = self.plan(tmp_path)
        number = list_number(plan, self.log())
        then = log_of_list(plan, self.log("reading,leg.l.left,leg.l.right,3.5,caliper,\n"), number)
        assert isinstance(then, Log)
        assert [row.no for row in then.rows] == [1, 2]

    @pytest.mark.parametrize(("row", "why"), [
        ("remake,leg.l,,,,", "#3 remake leg.l came after it"),
        ("trim,leg.l.left,,,,", "#3 trim leg.l.left came after it"),
        ("apart,,,,,", "#3 apart came after it"),
        ("strike,1,,,,", "#3 struck #1 after it"),
    ])  # fmt: skip
    def test_wood_that_changed_makes_it_old(self, tmp_path, row, why):
        plan = self.plan(tmp_path)
        number = list_number(plan, self.log())
        assert why in str(log_of_list(plan, self.log(row + "\n"), number))

    def test_another_plan_or_another_log_has_other_numbers(self, tmp_path):
        plan = self.plan(tmp_path)
        number = list_number(plan, self.log())
        assert "another plan, or other rows" in str(log_of_list(PLAN, self.log(), number))
        other = parse_log(log_text(self.ROWS.replace("leg.r", "apron")).encode())
        assert "another plan, or other rows" in str(log_of_list(plan, other, number))
        assert "is no number of a list" in str(log_of_list(plan, self.log(), "w2"))


class TestSheets:
    """A sheet of tags and readings comes in whole or not at all."""

    ROWS = "made,leg.l,,,,\nmade,leg.r,,,,\n"

    def sheet(self, tmp_path, *lines):
        at = folder_of(tmp_path / "b", rows=self.ROWS)
        number = run("wanted", at=at).stdout.splitlines()[0].split()[-1]
        (tmp_path / "sheet.txt").write_text("\n".join([f"list {number}", *lines]), encoding="utf-8")
        return at, run("read", "--sheet", str(tmp_path / "sheet.txt"), at=at)

    def test_an_evening_of_paper(self, tmp_path):
        at, result = self.sheet(tmp_path, "caliper", "w1 3-17/32", "w2: 3.488  # at the foot", "w3 41 3/32 tape")
        assert result.exit_code == 0, result.output
        lines = (at / "log.csv").read_text(encoding="utf-8").splitlines()[3:]
        assert all(re.fullmatch(r"list \d+-[0-9a-f]{4}", line.rsplit(",", 1)[1]) for line in lines)
        assert [line.split(",", 2)[2].rsplit(",", 1)[0] for line in lines] == [
            "reading,leg.l.left,leg.l.right,3-17/32,caliper",
            "reading,leg.r.left,leg.r.right,3.488,caliper",
            "reading,leg.l.right,leg.r.left,41 3/32,tape",
        ]

    @pytest.mark.parametrize(("line", "said"), [
        ("w9 3", "has no w9"), ("w2", "the reading is missing"), ("w2 3,5", "can mean thousands"), ("w2 3 hammer", "hammer"),
    ])  # fmt: skip
    def test_one_wrong_line_and_nothing_is_written(self, tmp_path, line, said):
        at, result = self.sheet(tmp_path, "caliper", "w1 3-17/32", line)
        assert result.exit_code == 2
        assert said in result.stderr
        assert "sheet.txt:4" in result.stderr
        assert len((at / "log.csv").read_text(encoding="utf-8").splitlines()) == 3

    def test_a_sheet_without_end_is_none(self, tmp_path):
        at, result = self.sheet(tmp_path, "caliper", "w1 3-17/32", *["# a line that says nothing"] * 50_000)
        assert (result.exit_code, len((at / "log.csv").read_text(encoding="utf-8").splitlines())) == (2, 3)
        assert "nothing of it was read" in result.stderr

    def test_a_sheet_without_its_number(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=self.ROWS)
        (tmp_path / "s").write_text("w1 3-17/32\n", encoding="utf-8")
        result = run("read", "--sheet", str(tmp_path / "s"), at=at)
        assert result.exit_code == 2
        assert "the first line of a sheet is the number of its list" in result.stderr


def test_the_span_of_a_check_on_one_part_is_wanted_on_that_part(tmp_path):
    # No joint meets at b, so neither half of a..c counts for anything; and top is joined to nothing yet, and meant
    # for parts of two kinds. The check asks for the whole all the same, and it is read on the board as it lies.
    plan = """\
unit = "mm"
finest = "0.5"
give = 1

[part.top]
x = "l 100 a 200 b 200 c 100 r"
y = "front 300 back"

[part.leg]
x = "left 100 right"

[part.bar]
y = "f 300 b"

[joint.lap]
meet = "leg.left/right in top.l/a, slip"

[joint.dado]
meet = "bar.f/b in top.front/back, slip"

[check]
long = "top.a..c = 400, within 1"
"""
    build = load_build(folder_of(tmp_path / "b", plan, "made,top,,,,\n"))
    assembly, state = settle(assemble(build.plan), build.log, build.plan.tools())
    named = [
        (one.part, assembly.marks[one.start].name, assembly.marks[one.end].name, one.plan_mm)
        for one in wanted_readings(assembly, state)
    ]
    assert ("top", "top.a", "top.c", 400.0) in named


class TestAPartThatIsBegun:
    """Its first reading says that two of its marks are made; what else there is to read of it is not forgotten."""

    PLAN = 'unit = "mm"\nworkmanship = 0.4\n[part.leg]\ncopies = ["l", "r"]\nz = "foot 100 a 50 b 500 head"\n'

    def test_what_is_left_of_it_is_told(self, tmp_path):
        # By hand: three distances a leg; one is read, two are left.
        at = folder_of(tmp_path / "b", self.PLAN, "reading,leg.l.foot,leg.l.a,100,rule,")
        said = run("wanted", at=at).stdout
        assert "no reading is wanted" not in said
        assert "leg.l is begun: 2 more to read once the rest of it is cut. Cut already? fitsolve read leg.l" in said
        assert "leg.l is begun" in run("read", at=at).stdout

    def test_several_are_named_and_what_is_whole_is_not(self, tmp_path):
        rows = "reading,leg.l.foot,leg.l.a,100,rule,\nreading,leg.r.foot,leg.r.b,150,rule,\nmade,leg.r,,,,"
        said = run("wanted", at=folder_of(tmp_path / "b", self.PLAN, rows)).stdout
        assert "leg.l is begun: 2 more" in said
        rows = "reading,leg.l.foot,leg.l.a,100,rule,\nreading,leg.r.foot,leg.r.b,150,rule,"
        said = run("wanted", at=folder_of(tmp_path / "c", self.PLAN, rows)).stdout
        assert "leg.l (2) and leg.r (2) are begun" in said
