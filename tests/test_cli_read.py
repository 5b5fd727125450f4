"""`fitsolve read`: one reading, checked before it is written, echoed as it stands on disk."""

from __future__ import annotations

import subprocess
import sys

import pytest
from cli_folder import PLAN, folder_of, rows_on_disk, run

FLUSH = 'unit = "in"\n[part.leg]\nx = ["outer 4 inner", "outer@foot 4 inner"]\n'


@pytest.fixture
def bench(tmp_path):
    return folder_of(tmp_path / "bench")


class TestEcho:
    """What is on disk is echoed whole, with the plan and the difference from it."""

    def test_a_reading_on_one_part_names_it_once(self, bench):
        # 3 17/32 - 3 1/2 = 1/32
        result = run("read", "leg.l", "left", "right", "3-17/32", "--tool", "caliper", at=bench)
        assert result.stdout == "#1 leg.l left..right 3 17/32 in caliper, plan 3 1/2: 1/32 more\n"
        assert result.exit_code == 0
        assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3-17/32,caliper,"]

    def test_a_reading_between_parts_names_both(self, bench):
        # The legs stand where their dados are: 41 + 2 * 3 1/2 = 48, and 48 1/8 is 1/8 more.
        result = run("read", "leg.l", "left", "leg.r.right", "48", "1/8", "--tool", "tape", at=bench)
        assert result.stdout == "#1 leg.l.left..leg.r.right 48 1/8 in tape, plan 48: 1/8 more\n"

    def test_marks_named_whole_need_no_part_before_them(self, bench):
        result = run("read", "leg.l.left", "leg.r.right", "48-1/8", "--tool", "tape", at=bench)
        assert result.stdout == "#1 leg.l.left..leg.r.right 48 1/8 in tape, plan 48: 1/8 more\n"

    def test_a_difference_that_no_rule_shows_is_in_decimals(self, bench):
        result = run("read", "leg.l", "left", "right", "3.504", "--tool", "caliper", at=bench)
        assert result.stdout == "#1 leg.l left..right 3.504 in caliper, plan 3 1/2: 0.004 more\n"

    def test_millimetres_in_the_text_outrank_the_unit_of_the_build(self, bench):
        # 88.9 mm = 3 1/2 in exactly (1 in = 25.4 mm)
        result = run("read", "leg.l", "left", "right", "88.9 mm", "--tool", "caliper", at=bench)
        assert result.stdout == "#1 leg.l left..right 3 1/2 in caliper, plan 3 1/2: as planned\n"

    def test_beginnings_of_names_do(self, bench):
        # 3 1/2 + 41 + 3 1/2 = 48
        result = run("read", "apr", "l.l", "r.r", "48", "--tool", "cal", at=bench)
        assert result.stdout == "#1 apron l.left..r.right 48 in caliper, plan 48: as planned\n"
        assert rows_on_disk(bench) == ["reading,apron.l.left,apron.r.right,48,caliper,"]

    def test_a_beginning_that_several_names_have_is_refused(self, bench):
        result = run("read", "apron", "l.", "r.", "48", "--tool", "ta", at=bench)
        assert result.exit_code == 2
        assert '"l." could be 3 marks: apron.l.end, apron.l.left, apron.l.right' in result.stderr
        assert '"ta" could be 4 tools: tape, tape-1, tape-2, tape-3' in result.stderr
        assert rows_on_disk(bench) == []

    def test_a_name_typed_whole_is_meant_though_others_begin_with_it(self, bench):
        result = run("read", "leg.l", "left", "right", "3 1/2", "--tool", "tape", at=bench)
        assert " tape, " in result.stdout

    def test_the_last_tool_is_remembered_and_shown(self, bench):
        run("read", "leg.l", "left", "right", "3 1/2", "--tool", "caliper", at=bench)
        result = run("read", "leg.r", "left", "right", "3 1/2", at=bench)
        assert result.stdout == "#2 leg.r left..right 3 1/2 in caliper, plan 3 1/2: as planned\n"

    def test_rough_wood_can_still_come_down(self, bench):
        result = run("read", "apron", "l.end", "r.end", "60 1/8", "--tool", "tape", "--rough", at=bench)
        assert result.stdout == "#1 rough apron l.end..r.end 60 1/8 in tape, plan 60: 1/8 more\n"
        assert rows_on_disk(bench) == ["rough,apron.l.end,apron.r.end,60 1/8,tape,"]

    def test_a_note_is_kept(self, bench):
        run("read", "leg.l", "left", "right", "3 1/2", "--tool", "rule", "--note", "at the foot", at=bench)
        assert rows_on_disk(bench) == ["reading,leg.l.left,leg.l.right,3 1/2,rule,at the foot"]

    def test_the_option_build_may_stand_behind_the_command(self, bench):
        result = run("read", "leg.l", "left", "right", "3 1/2", "--tool", "rule", "--build", str(bench))
        assert result.exit_code == 0
        assert len(rows_on_disk(bench)) == 1


class TestFlush:
    """Where the plan distance is 0 the reading must say which stands proud, or is refused."""

    def test_it_is_refused_without(self, tmp_path):
        at = folder_of(tmp_path / "b", FLUSH)
        args = ("read", "leg", "outer", "outer@foot", "1/32", "--tool", "rule")
        result = run(*args, at=at)
        assert result.exit_code == 2
        assert "which stands proud?" in result.stderr
        assert "Say which, as: --proud leg.outer" in result.stderr
        assert rows_on_disk(at) == []
        result = run(*args, "--proud", "outer@foot", at=at)
        assert result.exit_code == 0
        assert rows_on_disk(at) == ["reading,leg.outer,leg.outer@foot,1/32,rule,proud leg.outer@foot"]


class TestRefused:
    """What cannot be is refused before anything is written, with all that is wrong, and status 2."""

    @pytest.mark.parametrize(
        ("args", "said"),
        [
            (
                ("leg.l", "left", "right", "30", "1/", "--tool", "tape"),
                'can\'t read "30 1/" as a length\n    30 1/\n         ^\n'
                "  a whole number was expected here, as in 30 1/4\n",
            ),
            (
                ("leg.l", "left", "right", "-3", "--tool", "tape"),
                'can\'t read "-3" as a length\n    -3\n    ^\n'
                "  a length was expected here, without a sign: it is never negative\n",
            ),
            (
                ("leg.l", "left", "right", "--tool", "tape"),
                "the reading is missing\n  Put it at the end of the line, as 3-17/32.\n",
            ),
            (
                ("leg.l", "left", "right", "3"),
                "which tool was it read with?\n"
                "  Say --tool caliper, or another. It is remembered from then on.\n",
            ),
            (  # both at once, where neither is known
                ("leg.l", "left", "right", "30", "1/"),
                'can\'t read "30 1/" as a length\n    30 1/\n         ^\n'
                "  a whole number was expected here, as in 30 1/4\n\n"
                "which tool was it read with?\n"
                "  Say --tool tape, or another. It is remembered from then on.\n",
            ),
            (
                ("leg.l.right..leg.r.left", "41"),
                "which tool was it read with?\n"
                "  Say --tool tape, or another. It is remembered from then on.\n",
            ),
            (
                ("leg", "left", "right", "3", "--tool", "tape"),
                '"leg" could be 2 parts: leg.l, leg.r\n    leg\n    ^^^\n  Type more of it.\n',
            ),
            (
                ("leg.l", "left", "rihgt", "3", "--tool", "tape"),
                'leg.l has no mark "rihgt"\n    rihgt\n    ^^^^^\n  Did you mean right?\n',
            ),
            (
                ("leg.l", "left", "left", "3", "--tool", "tape"),
                "from and to are one and the same mark\n    leg.l.left\n    ^^^^^^^^^^\n  Name two marks.\n",
            ),
            (
                ("leg.l", "left", "right", "3", "--tool", "tap-2"),
                'no tool is called "tap-2"\n    tap-2\n    ^^^^^\n  Did you mean tape-2 or tape-3? '
                "A tool of your own goes into the plan, as [tool.NAME].\n",
            ),
        ],
    )
    def test_the_message(self, bench, args, said):
        result = run("read", *args, at=bench)
        assert result.stderr == said
        assert result.exit_code == 2
        assert result.stdout == ""
        assert rows_on_disk(bench) == []

    def test_everything_wrong_is_said_at_once(self, bench):
        result = run("read", "leg.l", "lef", "rihgt", "3,5", "--tool", "zollstock", at=bench)
        assert result.exit_code == 2
        for said in ('no mark "rihgt"', 'no tool is called "zollstock"', 'can\'t read "3,5" as a length'):
            assert said in result.stderr
        assert "lef" not in result.stderr.replace("left", ""), "the beginning of left is no mistake"

    def test_a_misspelled_option_is_not_taken_for_the_reading(self, bench):
        result = run("read", "leg.l", "left", "right", "3", "--tol", "tape", at=bench)
        assert result.exit_code == 2
        assert "No such option" in result.stderr
        assert rows_on_disk(bench) == []

    def test_errors_of_the_plan_stop_it(self, tmp_path):
        at = folder_of(tmp_path / "b", PLAN.replace("3 1/2 right", "3 1/ right"))
        result = run("read", "leg.l", "left", "right", "3", "--tool", "tape", at=at)
        assert result.exit_code == 2
        assert "plan.toml:17" in result.stderr
        assert rows_on_disk(at) == []

    def test_an_error_in_an_earlier_row_does_not(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,leg.x.left,leg.l.right,3,tape,")
        result = run("read", "leg.l", "left", "right", "3 1/2", "--tool", "tape", at=at)
        assert result.exit_code == 0
        assert result.stdout.startswith("#2 leg.l left..right 3 1/2 in tape")


def test_read_brings_in_no_solver(tmp_path):
    at = folder_of(tmp_path / "b")
    code = (
        "import sys\nfrom fitsolve.cli.main import cli\n"
        f"cli(['--build', {str(at)!r}, 'read', 'leg.l', 'left', 'right', '3', '--tool', 'tape'], "
        "standalone_mode=False)\n"
        "print([name for name in ('numpy', 'scipy', 'networkx', 'rich') if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[-1] == "[]", done.stderr


def test_the_number_of_a_row_is_no_tag_and_no_mark(bench):
    run("read", "leg.l", "left", "right", "3-17/32", "--tool", "caliper", at=bench)
    again = run("read", "#1", "3.53", at=bench)
    assert again.exit_code == 2
    assert "#1 is the number of a row, and no mark" in again.stderr
    assert "To read the same once more: fitsolve read leg.l left..right 3.53" in again.stderr
    assert "fitsolve log shows what it says" in run("read", "#7", "3", at=bench).stderr
