"""Typed wrongly: the command that was meant is named, and how it is typed."""

from __future__ import annotations

import pytest
from cli_folder import FRAMES, PLAN, folder_of, rows_on_disk, run

from fitsolve.cli.main import COMMANDS
from fitsolve.cli.misuse import _OTHER_WORDS, unknown_command


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("reed", "fitsolve read"), ("siz", "fitsolve sizes"), ("GLUE", "fitsolve close"), ("leg.fl", "fitsolve --help")],
)
def test_an_unknown_command_is_met_with_what_was_meant(typed, meant):
    result = run(typed)
    assert result.exit_code == 2
    assert f'there is no command "{typed}"' in result.stderr
    assert meant in result.stderr


def test_other_words_name_commands_and_are_none():
    assert set(_OTHER_WORDS.values()) <= set(COMMANDS)
    assert not set(_OTHER_WORDS) & set(COMMANDS)


def test_what_is_typed_is_shown_short_and_printable():
    assert len(unknown_command("x\x1b" * 500, list(COMMANDS))) < 150
    assert "\x1b" not in unknown_command("x\x1b", list(COMMANDS))


@pytest.mark.parametrize("command", ["new", "layout", "between", "made", "trim", "remake", "close", "open", "gap",
                                     "strike", "rename", "draw", "sheet", "strip", "diagonal", "compare"])  # fmt: skip
def test_what_is_missing_comes_with_an_example(tmp_path, command):
    result = run(command, at=folder_of(tmp_path / "b"))
    assert result.exit_code == 2
    assert f"As in: fitsolve {command}" in result.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("layout", "apron", "front"), "extra argument (front). As in: fitsolve layout"),
        (("read", "leg.l", "left", "right", "3.5", "--tol", "tape"), "No such option '--tol'. Did you mean '--tool'?"),
        (("read", "leg.l", "left", "3.5", "--tool", "tape"), "a mark is missing before 3.5"),
        (("read", "leg.l", "3", "1/2", "--tool", "tape"), "As in: fitsolve read leg.l FROM TO 3 1/2"),
        (("read", "leg.l", "left-right", "3.5", "--tool", "tape"), "A span is written left..right."),
        (("read", "leg.l", "lft", "3.5", "--tool", "tape"), "Did you mean left?"),
        (("between", "leg.l", "left"), "leg.l is a part: name two of its marks"),
    ],
)
def test_what_is_wrong_is_said_with_the_way_out(tmp_path, words, said):
    at = folder_of(tmp_path / "b")
    result = run(*words, at=at)
    assert result.exit_code == 2
    assert said in result.stderr
    assert rows_on_disk(at) == []


class TestAToolBehindTheReading:
    """A tool may be typed where it is spoken: behind the reading, as on a sheet."""

    @pytest.mark.parametrize(
        ("words", "row"),
        [
            (("3.53", "caliper"), "3.53,caliper"),
            (("3", "17/32", "cal"), "3 17/32,caliper"),
            (("3-17/32", "tape-1"), "3-17/32,tape-1"),
            (("89.7", "mm"), "89.7 mm,tape"),
            (("3.53", "in"), "3.53 in,tape"),
        ],
    )
    def test_it_is_none_of_the_reading(self, tmp_path, words, row):
        at = folder_of(tmp_path / "b", rows="reading,leg.r.left,leg.r.right,3.5,tape,")
        assert run("read", "leg.l", "left..right", *words, at=at).exit_code == 0
        assert rows_on_disk(at)[-1] == f"reading,leg.l.left,leg.l.right,{row},"

    def test_what_is_no_tool_is_refused_with_the_reading(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,leg.r.left,leg.r.right,3.5,tape,")
        result = run("read", "leg.l", "left..right", "3.5", "short", at=at)
        assert result.exit_code == 2
        assert len(rows_on_disk(at)) == 1


def test_a_starred_mark_where_one_is_meant_names_its_copies(tmp_path):
    result = run("between", "leg.*.left", "right", at=folder_of(tmp_path / "b", rows=FRAMES))
    assert result.exit_code == 2
    assert "leg.*.left is 2 marks: leg.l.left, leg.r.left" in result.stderr
    assert "Name one of them." in result.stderr


def test_new_without_a_choice_says_which_there_are(tmp_path):
    said = run("new", str(tmp_path / "a")).stdout
    assert "--like NAME: table-base, divided-case; from nothing: --empty" in said
    assert "--like NAME" not in run("new", str(tmp_path / "b"), "--like", "table-base").stdout


class TestFarOff:
    """Where nobody can be asked a size far off is written, with a warning; --sure says that it is meant."""

    def test_trimmed_to(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="made,apron,,,,")
        result = run("trim", "apron", "l.left", "4", at=at)  # 6 in plan, so 2 in off by hand
        assert result.exit_code == 1
        assert "apron l.left..l.end, 4: 2 less than plan, far more than cuts here miss by" in result.stderr
        assert "Kept. Wrong? fitsolve undo" in result.stderr
        assert rows_on_disk(at)[-1].startswith("trim,apron.l.left,apron.l.end,4")
        assert "than plan" not in run("trim", "apron", "l.left", "3", "--sure", at=at).stderr

    def test_a_width_given_where_how_much_wider_was_asked_for(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("made", "apron", "l.left..right", "3-1/2", "--from", "leg.l", at=at)
        assert result.exit_code == 1
        assert "SIZE is the play it was given, the shim beside it, not how wide it is." in result.stderr
        fresh = folder_of(tmp_path / "c", rows=FRAMES)
        result = run("made", "apron", "l.left..right", "0.008", "--from", "leg.l", at=fresh)
        assert (result.exit_code, result.stderr) == (0, "")


def test_hints_speak_in_the_unit_of_the_build(tmp_path):
    in_mm = PLAN.replace('unit = "in"', 'unit = "mm"').replace('"1/32"', '"0.5"')
    at = folder_of(tmp_path / "b", plan=in_mm)
    assert "as 89.7." in run("read", "leg.l", "left", "right", at=at).stderr
    assert "fitsolve read w1 89.7," in run("wanted", at=at).stdout


def test_a_long_reading_under_a_caliper_on_a_sheet_is_kept_with_a_warning(tmp_path):
    at = folder_of(tmp_path / "b", rows="made,leg.l,,,,\nmade,leg.r,,,,")
    head = run("wanted", at=at).stdout.splitlines()[0].rsplit(" ", 1)[1]
    (tmp_path / "sheet").write_text(f"list {head}\ncaliper\nw1 3.53\nw2 3.5\nw3 41-3/32\n", encoding="utf-8")
    result = run("read", "--sheet", str(tmp_path / "sheet"), at=at)
    assert result.exit_code == 1
    assert result.stderr.count("hardly spans") == 1
    assert "#5: 41-3/32 by caliper, which hardly spans it" in result.stderr
    assert len(rows_on_disk(at)) == 5
