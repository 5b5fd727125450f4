"""Entering at the edges: what is typed almost right is said plainly, and nothing is kept in silence."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_folder import FRAMES, PLAN, folder_of, rows_on_disk, run

from fitsolve.build.fits import BUILT_IN as FITS
from fitsolve.build.tools import BUILT_IN as TOOLS
from fitsolve.written import write_length


class TestClose:
    """Dry or glued: one of them, said as an option or as the last word."""

    def test_not_both(self, tmp_path):
        at = folder_of(tmp_path)
        for more in (["--dry", "--glued"], ["glued", "--dry"]):
            result = run("close", "dado", "leg.l", *more, at=at)
            assert (result.exit_code, "dry or glued, not both" in result.output) == (2, True)
        assert rows_on_disk(at) == []

    @pytest.mark.parametrize("more", [["glued"], ["--glued"], ["--glued", "--note", "dry run first"]])
    def test_as_a_word_or_an_option(self, tmp_path, more):
        at = folder_of(tmp_path)
        result = run("close", "dado", "leg.l", *more, at=at)
        assert (result.exit_code, result.output.splitlines()[0]) == (0, "#1 closed, glued: dado leg.l apron")
        assert rows_on_disk(at)[0].split(",")[:2] == ["close", "dado leg.l apron"]

    def test_the_note_does_not_say_it(self, tmp_path):
        result = run("close", "dado", "leg.l", "--note", "glued", at=folder_of(tmp_path))
        assert result.exit_code == 2
        assert "The note does not say it" in result.output

    def test_a_joint_that_is_closed_already(self, tmp_path):
        at = folder_of(tmp_path)
        run("close", "dado", "leg.l", "--dry", at=at)
        assert "dado leg.l apron is closed already, dry" in run("close", "dado", "leg.l", "--dry", at=at).output
        assert "already" not in run("close", "dado", "leg.l", "--glued", at=at).output
        result = run("close", "dado", "leg.l", "--dry", at=at)
        assert result.exit_code == 2
        assert "is closed already, glued\n" in result.stderr
        assert len(rows_on_disk(at)) == 2


class TestFolders:
    """What is named instead of the folder of a build is said once."""

    def test_a_file_named_instead_of_its_folder(self, tmp_path):
        at = folder_of(tmp_path)
        result = run("--build", str(at / "plan.toml"), "sizes")
        assert result.exit_code == 2
        assert f"Did you mean its folder, --build {at}?" in result.output
        assert "log" not in result.output.replace("plan.toml", "")

    def test_what_is_to_be_typed_holds_together_over_blanks(self, tmp_path):
        at = folder_of(tmp_path / "my bench")
        result = run("--build", str(at / "plan.toml"), "sizes")
        assert f"Did you mean its folder, --build '{at}'?" in result.output

    def test_no_name_for_a_new_one(self):
        result = run("new", "")
        assert (result.exit_code, "a folder is missing" in result.output) == (2, True)


class TestProud:
    """`--proud` takes a part where the two marks are of different parts, as the log does."""

    PLAN = PLAN.replace('x = "left 3 1/2 right"', 'x = "left 3 1/2 right"\nz = "foot 30 head"').replace(
        'x = ["l.end 60', 'z = "low 5 top"\nx = ["l.end 60') + 'f = "apron.top flush with leg.*.head, within 1/16"\n'

    @pytest.mark.parametrize("typed, kept", [("leg", "proud leg.l"), ("leg.l", "proud leg.l"), ("apron", "proud apron")])
    def test_by_its_part(self, tmp_path, typed, kept):
        at = folder_of(tmp_path, plan=self.PLAN)
        result = run("read", "leg.l", "head", "apron.top", "0.2", "--tool", "caliper", "--proud", typed, at=at)
        assert result.exit_code == 0
        assert rows_on_disk(at)[0].endswith(kept)


class TestHelp:
    """The built-in tools and fits stand where a maker looks, with their numbers."""

    @pytest.mark.parametrize("command, words", [
        ("read", ["caliper", "± 0.1 mm", "tape-3", "feeler"]),
        ("plan", ["caliper", "slip", "0.002", "tight-up"]),
    ])  # fmt: skip
    def test_they_are_listed(self, command, words):
        text = run(command, "--help").output
        assert all(word in text for word in words)

    def test_the_specification_has_the_same_numbers(self):
        text = (Path(__file__).parent.parent / "specs" / "language.md").read_text(encoding="utf-8")
        for tool in TOOLS.values():
            assert f"| `{tool.name}` | {tool.good_to_mm:g} mm | {1000 * tool.per_length:g} mm |" in text
        for fit in FITS.values():
            sizes = " | ".join(f"{write_length(mm, 'in')} in" for mm in (fit.least_mm, fit.aim_mm, fit.most_mm))
            assert f"| `{fit.name}` | {sizes} |" in text


def test_a_check_on_stations_of_what_is_uncut_claims_no_certainty(tmp_path):
    plan = PLAN + 'straight = "apron.l.left@foot..r.left@foot = apron.l.left@head..r.left@head, within 1/16"\n'
    result = run("sizes", at=folder_of(tmp_path, plan=plan))
    assert "straight  0 of 1/16      within as drawn: nothing of it is cut or read yet" in result.stdout
    assert result.stderr.count('called "foot"') == 1


def test_what_u_is_meant_is_said(tmp_path):
    at = folder_of(tmp_path, rows=FRAMES)
    assert "behind them exact and ± are of the size wanted, and how cuts land (± 0.032) comes on top." in " ".join(
        run("sizes", at=at).stdout.split())
    # l.end and l.left are both still to be cut, each ± 1/32, beside the ± 0.019 of the size: their squares added up
    assert "± 0.049 with how cuts land, to be cut" in run("between", "apron.l.end", "l.left", at=at).stdout


class TestRename:
    """A name that is short in the log, beside the first of its span, is renamed by its whole name."""

    @pytest.mark.parametrize("row, copies", [
        ("compare,leg.l.left..rigt,leg.r.left..right,0.1,caliper,", ["l"]),
        ("gang,leg.*.left..rigt,,7,caliper,", ["l", "r"]),
        ("gang,leg.l.left..rigt+leg.r.left..right,,7,caliper,", ["l"]),
    ])  # fmt: skip
    def test_as_the_hint_says(self, tmp_path, row, copies):
        at = folder_of(tmp_path, rows=row + "\n")
        result = run("log", at=at)
        assert "fitsolve rename leg.l.rigt leg.l.right" in result.stderr
        assert ("and so for each copy" in result.stderr) == (len(copies) > 1)
        for copy in copies:
            assert run("rename", f"leg.{copy}.rigt", f"leg.{copy}.right", at=at).exit_code in (0, 2)
        assert "has no mark" not in run("log", at=at).stderr

    def test_what_no_row_names_is_refused(self, tmp_path):
        at = folder_of(tmp_path, rows=FRAMES)
        for old in ("leg.l.rigt", "rigt", "leg.q", "*", "leg.*"):
            assert "no row of the log names it" in run("rename", old, "leg.l.right", at=at).output


def test_what_was_meant_of_a_joint_is_told_where_the_same_was_taken_for_a_part(tmp_path):
    at = folder_of(tmp_path / "b", rows="remake,dado leg.l apro,,,,\nclose,dado leg.l apro,,,,dry\n")
    assert "Did you mean dado leg.l apron?" in run("log", at=at).stderr


def test_a_keep_or_a_check_without_a_sentence(tmp_path):
    for kind in ("keep", "check"):
        result = run("plan", at=folder_of(tmp_path / kind, plan=f'unit = "in"\n[part.a]\nx = "l 3 r"\n[{kind}]\nk = []\n'))
        assert (result.exit_code, f"this {kind} has no sentence" in result.output) == (2, True)


def test_a_joint_a_keep_or_a_check_whose_key_is_nothing_but_blanks(tmp_path):
    parts = 'unit = "mm"\n[part.a]\nx = "l 3 r"\n[part.b]\nx = "l 3 r"\n'
    tables = {
        "joint": '[joint.""]\nmeet = "a.r against b.l, tight-up"\n',
        "keep": '[keep]\n"" = "a.l..a.r, by 1 to 9"\n',
        "check": '[check]\n" " = "a.l..a.r = 3, within 1"\n',
    }
    for kind, table in tables.items():
        result = run("plan", at=folder_of(tmp_path / kind, plan=parts + table))
        assert (result.exit_code, f"this {kind} has no name" in result.output) == (2, True)
        assert result.output.count("\n\n") == 0  # and nothing else


class TestAStarAndAMisspeltMark:
    """A misspelt mark behind a star gets the hint that it gets without one, star and all."""

    def test_at_the_command_line(self, tmp_path):
        at = folder_of(tmp_path / "b")
        said = run("read", "leg.*.lft..right", "3-1/2", "--tool", "caliper", at=at).stderr
        assert 'the plan has no mark "leg.*.lft"' in said
        assert "Did you mean leg.*.left" in said
        assert "fitsolve rename leg.l.lft leg.l.left, and so for each copy" in said

    def test_in_the_log(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="gang,leg.*.lft..right,,3 1/2,caliper,\n")
        said = run("sizes", at=at).stderr
        assert "log.csv:2" in said
        assert "Did you mean leg.*.left" in said


@pytest.mark.parametrize("words", [
    ("made", "bare"), ("trim", "bare"), ("remake", "bare", "--sure"), ("read", "bare"), ("layout", "bare"),
    ("sizes", "--part", "bare"), ("draw", "bare", "--output", "OUT.svg"), ("strip", "bare", "--output", "OUT.pdf"),
])  # fmt: skip
def test_a_part_without_marks_is_told_and_nothing_is_written(tmp_path, words):
    at = folder_of(tmp_path / "b", plan='unit = "mm"\n[part.bare]\n[part.leg]\nx = "left 70 right"\n')
    result = run(*(word.replace("OUT", str(tmp_path / "out")) for word in words), at=at)
    assert (result.exit_code, result.stderr.splitlines()[0]) == (2, "bare has no marks yet")
    assert rows_on_disk(at) == []
    assert not list(tmp_path.glob("out*"))


def test_a_part_without_marks_stands_in_no_other_answers_way(tmp_path):
    at = folder_of(tmp_path / "b", plan='unit = "mm"\n[part.bare]\n[part.leg]\nx = "left 70 right"\n')
    for words in ((), ("plan",), ("sizes",), ("wanted",), ("draw", "--assembled", "--output", str(tmp_path / "a.svg")),
                  ("sheet", "--output", str(tmp_path / "a.html"))):  # fmt: skip
        assert run(*words, at=at).exit_code == 0


def test_a_joint_closes_though_the_log_alone_names_a_station(tmp_path):
    at = folder_of(tmp_path / "b", rows=FRAMES)
    assert run("read", "leg.l", "left@foot", "right@foot", "3.53", "--tool", "caliper", at=at).exit_code == 0
    closed = run("close", "dado", "l", "--glued", at=at)
    assert closed.exit_code == 1
    assert "apart is beyond, 3/32 of 1/16: closed so it stays." in closed.output
    assert "leg.l and apron are one piece now, for good." in closed.output


def test_a_station_of_the_reference_end_has_no_size_from_it(tmp_path):
    plan = PLAN.replace("[check]\n", '[check]\nwidth = "leg.l.left@foot..leg.l.right@foot = 3 1/2, within 1/16"\n')
    at = folder_of(tmp_path / "b", plan=plan)
    asked = run("made", "leg.l", "left@foot", "3 1/2", at=at)
    assert (asked.exit_code, "leg.l.left@foot is the reference end of leg.l itself" in asked.output) == (2, True)
    assert run("made", "leg.l", "left@foot", "3 1/2", "--from", "right@foot", at=at).exit_code == 0


class TestAToolBehindTheReading:
    """Behind the number, its unit or its bare the tool may stand; a slip of a tool's name is said to be one."""

    @pytest.mark.parametrize("words", ["89 mm caliper", "3 1/2 in caliper", "3 1/2 bare cal", "3-1/2 caliper"])
    def test_it_is_the_tool(self, tmp_path, words):
        at = folder_of(tmp_path)
        result = run("read", "leg.l", "left", "right", *words.split(), at=at)
        assert result.exit_code == 0, result.output
        assert rows_on_disk(at)[0].split(",")[4] == "caliper"

    def test_a_slip_of_its_name(self, tmp_path):
        at = folder_of(tmp_path)
        result = run("read", "leg.l", "left", "right", "3-17/32", "calliper", at=at)
        assert result.exit_code == 2
        assert 'no tool is called "calliper"' in result.output
        assert "Did you mean caliper?" in result.output
        assert rows_on_disk(at) == []

    def test_any_other_word_is_none(self, tmp_path):
        result = run("read", "leg.l", "left", "right", "3", "1/2", "snug", "--tool", "rule", at=folder_of(tmp_path))
        assert (result.exit_code, "a unit was expected here" in result.output) == (2, True)


class TestWhatIsOddIsSaidAtOnce:
    """Common practice, no source: rules of inches are divided by two and two again, or by ten."""

    def test_a_fraction_of_no_rule(self, tmp_path):
        at = folder_of(tmp_path)
        result = run("read", "leg.l", "left", "right", "3-11/23", "--tool", "rule", at=at)
        assert "No rule has 23rds: 11/32?" in result.output
        assert rows_on_disk(at)  # nobody could be asked: it is kept, and said

    def test_readings_of_the_same_further_apart_than_their_tool_allows(self, tmp_path):
        # u = 0.002 in each: sqrt(2) * 0.002 * 3.2905 = 0.0093 (two-sided normal, once in a thousand)
        at = folder_of(tmp_path)
        caliper = ("--tool", "caliper", "--note", "good to 0.004")
        run("read", "leg.l", "left", "right", "3.500", *caliper, at=at)
        near = run("read", "leg.l", "left", "right", "3.509", *caliper, at=at)
        assert "2 readings, 0.009 apart" in near.output
        assert "read it once more" not in near.output
        assert near.exit_code == 0
        far = run("read", "leg.l", "left", "right", "3.5098", *caliper, at=at)
        assert "3 readings, 0.010 apart, more than they are good to: read it once more" in far.output
        assert far.exit_code == 1


class TestAListThatIsEmpty:
    def test_its_tags_are_not_those_of_the_list_before(self, tmp_path):
        at = folder_of(tmp_path, rows="made,leg.l,,,,\n")
        assert "w1" in run("wanted", at=at).output
        run("read", "w1", "3.5", "--tool", "caliper", at=at)
        assert "w1" not in run("wanted", at=at).output
        result = run("read", "w1", "3.5", at=at)
        assert result.exit_code == 2
        assert "has no w1" in result.output
        assert len(rows_on_disk(at)) == 2


class TestRemakeRefused:
    def test_nothing_sounds_done(self, tmp_path):
        at = folder_of(tmp_path, rows="close,dado leg.l apron,,,,glued\n")
        result = run("remake", "apron", at=at)
        assert result.exit_code == 2
        assert "uncut again" not in result.output
        assert "does not open" in result.output
        assert len(rows_on_disk(at)) == 1


def test_what_was_cut_to_another_size_than_plan_is_read_against_that(tmp_path):
    # By hand: 41 + 1/16 = 41 1/16 laid out; read 41 1/8: 1/8 more than plan, 1/16 more than it was cut to.
    at = folder_of(tmp_path, rows="made,apron.l.right,apron.l.end,9.5,,\nmade,apron.r.left,apron.l.end,50-9/16,,\n")
    result = run("read", "apron", "l.right", "r.left", "41-1/8", "--tool", "rule", at=at)
    assert "41 1/8 in rule, plan 41: 1/8 more, cut to 41 1/16: 1/16 more" in result.output
    assert "cut to" not in run("read", "leg.l", "left", "right", "3.52", "--tool", "rule", at=at).output


TWO_WAYS = """
unit = "mm"
workmanship = 0.3
[tool.caliper]
good_to = "0.1"
[part.leg]
x = ["face 70 back", "face 80 low"]
"""


class TestComparisonsKeepTheirSign:
    """By hand: 70 is 10 shorter than 80. 0.3 longer is 10.3 more than that; 10.4 longer looks taken the wrong way."""

    def test_as_it_is_entered(self, tmp_path):
        at = folder_of(tmp_path, plan=TWO_WAYS)
        result = run("compare", "leg", "face..back", "leg", "face..low", "10.4", "--tool", "caliper", at=at)
        assert "by 10.4 mm caliper, plan 10 shorter: 20.4 more" in result.output
        assert "20.4 more than plan, far more than cuts here miss by. Were the two taken the other way" in result.output

    def test_as_it_is_doubted(self, tmp_path):
        at = folder_of(tmp_path, plan=TWO_WAYS, rows="compare,leg.face..leg.back,leg.face..leg.low,0.3,caliper,\n")
        said = " ".join(run("sizes", at=at).stdout.split())
        assert "10.3 mm more than plan" in said
        assert "less than plan" not in said


def test_a_line_beside_the_plan_says_what_it_is_off_the_plan_itself(tmp_path):
    # 78.75 lies between the lines 78.5 and 79; held to 78.5 the line is 0.25 less than plan, not a whole step.
    plan = 'unit = "mm"\nfinest = 0.5\n[part.board]\nx = ["l 78.75 (78.2 to 78.6) mid", "l 120 r"]\n'
    said = run("sizes", at=folder_of(tmp_path, plan=plan)).stdout
    assert "78.5" in said
    assert "0.5 less" not in said
