"""Commands that show: sizes, between, plan, log, and where things stand."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import schema_faults
from cli_folder import FRAMES, PLAN, folder_of, run

from fitsolve.cli.main import COMMANDS, LISTED

_SPECS = Path(__file__).parent.parent / "specs"
SCHEMA = json.loads((_SPECS / "sizes.schema.json").read_text(encoding="utf-8"))
IN = 25.4


def faults(value, schema):
    """What of a value the schema of an answer refuses."""
    return schema_faults.faults(value, schema, SCHEMA)


class TestJson:
    """What `--json` prints is as specs/sizes.schema.json says, and nothing else is on that stream."""

    @pytest.mark.parametrize(
        "rows",
        [
            "",
            FRAMES,
            FRAMES + "reading,leg.l.left,leg.r.left,45 5/8,tape,\n",
            FRAMES + "made,apron.l,,,,\nreading,apron.l.left,apron.l.right,3.4,caliper,\n",
            FRAMES + "made,leg.l,,,,\nclose,dado leg.l apron,,,,glued\n",
            FRAMES + "rough,apron.l.end,apron.r.end,59 1/2,tape,\n",
        ],
    )
    def test_sizes(self, tmp_path, rows):
        result = run("sizes", "--json", at=folder_of(tmp_path / "b", rows=rows))
        assert result.exit_code in (0, 1)
        assert list(faults(json.loads(result.stdout), SCHEMA)) == []

    def test_a_contradiction_is_in_it_with_its_rows(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES + "rough,apron.l.end,apron.r.end,59 1/2,tape,\n")
        result = run("sizes", "--json", at=at)
        assert result.exit_code == 1
        (one,) = json.loads(result.stdout)["contradictions"]
        assert "apron l.end..r.end held at 60 (plan.toml:20)" in one["text"]
        assert "for the wood is gone (#5)" in one["text"]

    def test_between(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,")
        result = run("between", "leg.l.left", "leg.l.right", "--json", at=at)
        answer = json.loads(result.stdout)
        assert list(faults(answer, SCHEMA["$defs"]["between"])) == []
        # One reading, and nothing to check it: the distance is the reading, U that of the tool.
        assert answer["distance_mm"] == pytest.approx(3.531 * IN, abs=1e-9)
        assert answer["expanded_uncertainty_mm"] == pytest.approx(0.002 * IN, abs=1e-9)
        assert answer["state"] == "made"

    def test_distances_are_those_of_the_plan_once_each(self, tmp_path):
        plan = PLAN.replace('x = "left 3 1/2 right"', 'x = ["left 3 1/2 right", "left 3 1/2 right"]')
        result = run("sizes", "--json", at=folder_of(tmp_path / "b", plan=plan))
        pairs = [(one["from"], one["to"]) for one in json.loads(result.stdout)["distances"]]
        # Worked by hand: one for each leg, the apron's overall one and its five.
        assert len(pairs) == len(set(pairs)) == 2 + 1 + 5

    def test_problems_go_to_the_other_stream(self, tmp_path):
        plan = PLAN + '\n[part.shim]\nx = "a 1 b"\n'
        result = run("sizes", "--json", at=folder_of(tmp_path / "b", plan=plan))
        json.loads(result.stdout)
        assert "shim" in result.stderr


class TestBetween:
    """How far apart two marks are, in words; the second is looked for beside the first."""

    def test_made(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,")
        result = run("between", "leg.l.left", "right", at=at)
        # 3.531 = 3 17/32 - 0.00025, which is less than half a thousandth.
        assert (result.exit_code, result.stdout) == (0, "leg.l left..right   3 17/32 in, ± 0.002, made\n")

    def test_nothing_fixes_it(self, tmp_path):
        at = folder_of(tmp_path / "b", plan='unit = "mm"\n[part.a]\nx = "l 10 r"\n[part.b]\nx = "l 10 r"\n')
        result = run("between", "a.l", "b.l", at=at)
        said = "nothing fixes how a and b stand to each other along x: no joint and no keep of the plan does"
        assert (result.exit_code, result.stdout) == (1, f"a.l..b.l   {said}\n")

    def test_the_reading_that_would_fix_it_is_named_and_does(self, tmp_path):
        plan = 'unit = "mm"\n[part.a]\nx = "l 10 r"\n[part.b]\nx = "l 10 r"\n'
        at = folder_of(tmp_path / "b", plan=plan, rows="made,a,,,,\nmade,b,,,,\n")
        said = "nothing fixes how a and b stand to each other along x: read a.l..b.r"
        assert said in run("between", "a.l", "b.r", at=at).stdout
        assert run("read", "a.l", "b.r", "25", "--tool", "tape", at=at).exit_code in (0, 1)
        assert run("between", "a.l", "b.r", at=at).stdout.startswith("a.l..b.r   25 mm, ")

    def test_a_mark_that_is_not(self, tmp_path):
        result = run("between", "leg.l.left", "rihgt", at=folder_of(tmp_path / "b"))
        assert (result.exit_code, result.stdout) == (2, "")
        assert "Did you mean right?" in result.stderr


class TestPlan:
    """The plan as understood."""

    def test_the_whole_text(self, tmp_path):
        result = run("plan", at=folder_of(tmp_path / "b"), width=100)
        assert result.stdout == (
            "Sawing bench   in inches, laid out to 1/32   3 parts, 2 joints\n"
            "AXES      x left to right, y front to back, z up\n"
            "CUTS      cuts land within ± 1/32, widths within ± 0.004\n"
            "GIVE      a distance may drift 1/16 where nothing else is said\n"
            "TOOLS     caliper ± 0.002\n"
            "          tape ± 1/32, and 0.0005 of what it reads\n"
            "PART      leg.l, leg.r\n"
            "   x  left 3 1/2 right\n"
            "PART      apron\n"
            "   x  l.end 60 (hold) r.end\n"
            "   x  l.end 6 (give 1/8) l.left 3 1/2 l.right 41 r.left 3 1/2 r.right 6 (give 1/8) r.end   = 60\n"
            "JOINT     dado leg.l apron\n"
            "   x  leg.l left/right in apron l.left/l.right  slip: 0.002 to 0.016 in\n"
            "JOINT     dado leg.r apron\n"
            "   x  leg.r left/right in apron r.left/r.right  slip: 0.002 to 0.016 in\n"
            "KEEP      ends: apron l.end..l.left = apron r.right..r.end, give 1/32\n"
            "CHECK     apart: leg.l.right..leg.r.left = 41, within 1/16\n"
        )
        assert result.exit_code == 0

    def test_every_condition_is_said(self, tmp_path):
        run_of = "a 3 (hold, finest 1/64) b 4 (3 7/8 to 4 1/8, give 1/32) c 5 d 1/2 (give 1/4) e 1 f"
        result = run("plan", at=folder_of(tmp_path / "b", plan=PLAN + f'\n[part.shim]\nx = "{run_of}"\n'))
        assert f"   x  {run_of}   = 13 1/2\n" in result.stdout

    def test_the_give_of_the_plan_is_the_usual_one_however_few_have_it(self, tmp_path):
        plan = 'unit = "mm"\ngive = 1\n[part.a]\nx = "l 9 (give 3) m1 9 (give 3) m2 9 r"\n'
        at = folder_of(tmp_path / "b", plan=plan)
        assert "GIVE      a distance may drift 1 where" in run("plan", at=at).stdout
        assert "l 9 (give 3) m1 9 (give 3) m2 9 r   = 27" in run("plan", at=at).stdout
        at = folder_of(tmp_path / "c", plan=plan.replace("give = 1\n", ""))
        assert "GIVE" not in run("plan", at=at).stdout

    def test_what_a_tool_reads_off_alike_is_said(self, tmp_path):
        plan = 'unit = "mm"\n[tool.old]\ngood_to = 0.5\nzero = 1.5\nscale = 0.001\n[part.a]\nx = "l 9 r"\n'
        said = run("plan", at=folder_of(tmp_path / "b", plan=plan)).stdout
        assert "TOOLS     old ± 0.5; all it reads may be off alike, by 1.5 and 0.001 of what it reads\n" in said

    def test_how_copies_are_handed_is_said(self, tmp_path):
        plan = (
            'unit = "mm"\ngive = 1\n[part.a]\nx = "l 9 r"\ny = "f 9 b"\nz = "u 9 o"\ncopies = { p = "as drawn", '
            'q = "left for right", r = "both", s = "top for bottom, front for rear", t = "both, both" }\n'
        )
        result = run("plan", at=folder_of(tmp_path / "b", plan=plan), width=120)
        assert "PART      a.p, a.q (left for right), a.r (both), a.s (front for rear, top for bottom), a.t\n" in result.stdout

    def test_what_stands_alone_is_said(self, tmp_path):
        result = run("plan", at=folder_of(tmp_path / "b", plan=PLAN + '\n[part.shim]\nx = "a 1 b"\n'))
        assert "ALONE     no joint or keep reaches shim\n" in result.stdout
        assert result.exit_code == 0


class TestLog:
    """The log: every row, and why one no longer counts."""

    def test_a_struck_row_stays_to_be_seen(self, tmp_path):
        at = folder_of(
            tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3.531,caliper,at the foot\nstrike,1,,,,"
        )
        result = run("log", at=at, width=110)
        first = "#1  Tue 25 Nov 14:01  reading  leg.l left..right  3.531  caliper  "
        assert result.stdout == (
            "Sawing bench   2 rows\n"
            f"{first}(at the foot) no longer counts: struck by #2\n"
            "#2  Tue 25 Nov 14:02  strike   1\n"
        )
        assert result.exit_code == 0

    def test_rows_that_make_no_sense_are_shown_with_the_rest(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES + "reading,leg.x.left,leg.l.right,3,tape,\n")
        result = run("log", at=at)
        assert "#5" in result.stdout
        assert 'the plan has no mark "leg.x.left"' in result.stderr
        assert result.exit_code == 2

    def test_an_empty_log(self, tmp_path):
        assert "The log is empty." in run("log", at=folder_of(tmp_path / "b")).stdout


class TestBare:
    """`fitsolve` alone says where things stand, or how to start."""

    def test_in_a_build(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES + "close,dado leg.l apron,,,,glued\n")
        result = run(at=at, width=100)
        said = [line for line in result.stdout.splitlines() if not line.startswith("LAST")]
        assert said == [
            "Sawing bench   4 readings",
            "NEXT      cut apron:",
            "          fitsolve layout apron",
            "GLUED     1 of 2 joints: dado leg.l apron",
            "TO CUT    apron",
            "BEYOND    apart: fitsolve sizes says by how much",  # 41 3/32 was read, 41 within 1/16 asked for
        ]
        assert "LAST      #5 Tue 25 Nov 14:05" in result.stdout
        assert result.exit_code == 1

    def test_elsewhere(self, tmp_path):
        result = run(at=tmp_path)
        assert result.stdout.startswith("There is no build here")
        assert "fitsolve new FOLDER" in result.stdout
        assert result.exit_code == 0


    def test_builds_nearby_are_named(self, tmp_path):
        folder_of(tmp_path / "shop" / "bench")
        folder_of(tmp_path / "shop" / "stand")
        (tmp_path / "shop" / "offcuts").mkdir()
        said = run(at=tmp_path / "shop").stdout.splitlines()
        assert [line.split()[1] for line in said if line.startswith("  cd ")] == ["bench", "stand"]
        (tmp_path / "shop" / "bench" / "photos").mkdir()
        said = run(at=tmp_path / "shop" / "bench" / "photos").stdout
        assert f"cd {tmp_path / 'shop' / 'bench'}     a build is there" in said

    def test_a_log_without_its_plan(self, tmp_path):
        at = folder_of(tmp_path / "b")
        (at / "plan.toml").unlink()
        assert "log.csv is here without its plan" in run(at=at).stdout

    def test_a_folder_that_is_not_there(self, tmp_path):
        result = run(at=tmp_path / "nowhere")
        assert result.exit_code == 2
        assert "there is no such folder" in result.stderr


class TestHelp:
    """Each command's help has an example with its output."""

    @pytest.mark.parametrize(
        "command",
        ["new", "plan", "read", "made", "trim", "remake", "close", "open", "apart", "rename", "strike", "log",
         "sizes", "between", "grounds", "wind"],
    )  # fmt: skip
    def test_example(self, command):
        result = run(command, "--help")
        assert result.exit_code == 0
        assert f"$ fitsolve {command}" in result.stdout

    def test_the_group_names_every_command_once_and_cuts_none_off(self):
        listed = [name for commands in LISTED.values() for name in commands]
        assert sorted(listed) == sorted(COMMANDS)
        said = run("--help", width=80).stdout
        assert all(re.search(rf"^  {name}  +\S", said, re.MULTILINE) for name in COMMANDS)
        assert "..." not in said.partition("Options:")[2]

    def test_the_group_names_all_and_the_exit_status(self):
        result = run("--help")
        assert "Exit status: 0 all well, 1 a warning, 2 bad input." in result.stdout


def test_a_part_with_no_end_of_play_has_no_note(tmp_path):
    # A room has one side only: made to plan, how far the part could move on is no number.
    plan = (
        'unit = "mm"\nfinest = "0.5"\nworkmanship = "0.2"\ngive = "1"\nfits = { slip = ["0.1", "0.2", "0.4"] }\n'
        '[part.a]\nx = "l 40 r"\nz = "low 40 high"\n[part.b]\nx = "l 40 r"\nz = "low 40 high"\n[joint.j]\n'
        'meet = ["a.l/r in b.l/r, slip", "a.high short of b.low by 1 to 3, b.low above"]\n'
    )
    at = folder_of(tmp_path / "b", plan, "reading,a.l,a.r,39.8,caliper,\nreading,b.l,b.r,40,caliper,\n")
    result = run("sizes", at=at)
    assert "Infinity" not in result.output
    assert "CUT NOW   a and b\n" in result.output


def test_a_built_in_fit_in_a_build_in_millimetres_is_said_to_a_hundredth(tmp_path):
    # By hand: tight-up is 0 to 0.008 in, 0.2032 mm; easy to 1/16 in, 1.5875 mm.
    plan = 'unit = "mm"\ngive = 1\n[part.a]\nx = "l 60 r"\ny = "f 20 b"\n[part.b]\nx = "l 60 r"\ny = "f 20 b"\n'
    plan += '[joint.j]\nmeet = ["b.l against a.r, tight-up", "b.f/b in a.f/b, easy"]\n'
    told = run("plan", at=folder_of(tmp_path / "b", plan=plan, rows="")).output
    assert "tight-up: 0 to 0.2 mm" in told
    assert "easy: 0 to 1.59 mm" in told
