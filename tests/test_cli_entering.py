"""Commands that add other rows: made, close, open, strike, trim, remake, apart, rename; and new."""

from __future__ import annotations

import pytest
from cli_folder import FRAMES, folder_of, rows_on_disk, run

from fitsolve.build.folder import load_build
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.cli.sample import EMPTY


@pytest.fixture
def bench(tmp_path):
    return folder_of(tmp_path / "bench")


TILL = "  till it is read ± 0.032, as cuts land: fitsolve read {}\n"


class TestMade:
    """A part or a mark is cut: to plan, or to a size from the reference end."""

    def test_a_part_cut_to_the_drawing(self, bench):
        result = run("made", "leg.l", "--as-planned", at=bench)
        assert result.stdout == "#1 made leg.l, as planned\n" + TILL.format("leg.l")
        assert rows_on_disk(bench) == ["made,leg.l,,,,"]

    def test_a_size_counts_from_the_reference_end(self, bench):
        # The longest run of the apron begins at l.end.
        result = run("made", "apron.l.left", "5-15/16", at=bench)
        assert result.stdout == "#1 made apron l.left at 5 15/16 in from l.end\n" + TILL.format("apron")
        assert rows_on_disk(bench) == ["made,apron.l.left,apron.l.end,5-15/16,,"]

    def test_from_another_mark(self, bench):
        result = run("made", "apron.l.right", "3.540", "--from", "l.left", at=bench)
        assert result.stdout == "#1 made apron l.right at 3.54 in from l.left\n" + TILL.format("apron")

    def test_the_beginning_of_several_marks_shows_which(self, bench):
        result = run("made", "apron.l", "--as-planned", at=bench)
        assert result.stdout == "#1 made apron.l: l.end, l.left, l.right, as planned\n" + TILL.format("apron")
        assert rows_on_disk(bench) == ["made,apron.l,,,,"]

    @pytest.mark.parametrize(
        ("args", "said"),
        [
            (("apron", "3"), "a size for 6 marks at once"),
            (("apron.l.end", "3"), "apron.l.end is the reference end of apron itself"),
            (("apron.l.left", "3x"), 'can\'t read "3x" as a length'),
            (("tabletop",), 'the plan has no mark "tabletop"'),
        ],
    )
    def test_what_cannot_be_is_refused(self, bench, args, said):
        result = run("made", *args, at=bench)
        assert result.exit_code == 2
        assert said in result.stderr
        assert rows_on_disk(bench) == []


class TestClose:
    """A joint is named by any words that only it has; dry or glued must be said."""

    @pytest.mark.parametrize(
        "words", [("dado", "leg.l", "apron"), ("leg.l",), ("dado", "l"), ("da", "leg.l")]
    )
    def test_words_that_only_one_joint_has(self, bench, words):
        result = run("close", *words, "--glued", at=bench)
        assert result.stdout.splitlines()[:2] == [
            "#1 closed, glued: dado leg.l apron",
            "  leg.l and apron are one piece now, for good.",
        ]
        assert rows_on_disk(bench) == ["close,dado leg.l apron,,,,glued"]

    def test_words_that_several_have(self, bench):
        result = run("close", "apron", "--dry", at=bench)
        assert result.exit_code == 2
        assert result.stderr == (
            '"apron" could be 2 joints: dado leg.l apron; dado leg.r apron\n    apron\n    ^^^^^\n'
            "  Type more of it.\n"
        )
        assert rows_on_disk(bench) == []

    @pytest.mark.parametrize(
        ("words", "meant"), [("dad apron leg.rr", "dado leg.r apron?"), ("dadoo", "dado leg.l apron or dado leg.r apron?")]
    )
    def test_words_that_none_has_are_mended_one_by_one(self, bench, words, meant):
        result = run("close", *words.split(), "--dry", at=bench)
        assert result.exit_code == 2
        assert f"Did you mean {meant}" in result.stderr
        assert rows_on_disk(bench) == []

    def test_dry_or_glued_must_be_said(self, bench):
        result = run("close", "leg.l", at=bench)
        assert (result.exit_code, result.stderr) == (2, "dry or glued?\n  Say --dry or --glued.\n")

    def test_a_dry_joint_opens_and_a_glued_one_does_not(self, bench):
        run("close", "leg.l", "--dry", at=bench)
        assert run("open", "leg.l", at=bench).stdout == "#2 opened: dado leg.l apron\n"
        run("close", "leg.r", "--glued", at=bench)
        result = run("open", "leg.r", at=bench)
        assert result.exit_code == 2
        assert "dado leg.r apron is glued since #3: it can't be opened" in result.stderr
        assert len(rows_on_disk(bench)) == 3


class TestStrike:
    """A row is struck by its number; it stays in the log."""

    def test_the_row_is_shown(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("strike", "3", at=at)
        assert result.stdout == "#5 struck #3: reading leg.l.right leg.r.left 41 3/32 tape\n"
        assert rows_on_disk(at)[-1] == "strike,3,,,,"

    @pytest.mark.parametrize("number", ["9", "0", "x", "", "3.0"])
    def test_no_such_row(self, tmp_path, number):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        result = run("strike", number, at=at)
        assert result.exit_code == 2
        assert "The rows are 1 to 4." in result.stderr
        assert len(rows_on_disk(at)) == 4

    def test_struck_already(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        run("strike", "#3", at=at)
        result = run("strike", "3", at=at)
        assert (result.exit_code, result.stderr.splitlines()[0]) == (2, "#3 is struck already, by #5")
        assert run("strike", "5", at=at).exit_code == 0, "a strike can be struck"
        assert run("strike", "3", at=at).exit_code == 0

    def test_a_row_that_cannot_be_read_is_settled_by_it(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,leg.l.left,leg.l.right,3,5,tape,snug")
        assert run("sizes", at=at).exit_code == 2
        result = run("strike", "1", at=at)
        assert result.exit_code == 0
        assert result.stdout == "#2 struck #1: a row that could not be read\n"
        assert run("sizes", at=at).exit_code in (0, 1)

    def test_it_needs_no_sound_plan(self, tmp_path):
        at = folder_of(tmp_path / "b", plan="unit = ", rows=FRAMES)
        assert run("strike", "1", at=at).exit_code == 0


class TestChange:
    """Made wood is cut back or made anew; a setting-up ends; a name changes."""

    def test_trim_remake_apart(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        assert run("trim", "leg.l.left", at=at).stdout.startswith("#5 trim leg.l.left: #1 and #4 no longer count.")
        assert run("remake", "leg.r", at=at).stdout.startswith("leg.r: uncut again; #2 and #3 no longer count.\n#6 remake leg.r\n")
        assert run("apart", at=at).stdout.startswith("#7 apart:")
        assert rows_on_disk(at)[4:] == ["trim,leg.l.left,,,,", "remake,leg.r,,,,", "apart,,,,,"]

    def test_rename_takes_a_name_of_the_log_and_one_of_the_plan(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="reading,post.left,post.right,3.531,caliper,")
        result = run("rename", "post", "leg.l", at=at)
        assert result.stdout == "#2 renamed: post in the rows before is now leg.l\n"
        assert run("between", "leg.l.left", "right", at=at).stdout.startswith("leg.l left..right   3 17/32")

    def test_rename_refuses_what_would_do_nothing(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES)
        assert "no row of the log names it" in run("rename", "post", "leg.l", at=at).stderr
        assert "stands in the plan still" in run("rename", "leg.r", "leg.l", at=at).stderr
        assert len(rows_on_disk(at)) == 4


class TestNew:
    """A build starts with a plan that works, and an empty log."""

    def test_the_worked_plan_is_sound(self, tmp_path):
        at = tmp_path / "shop" / "bench"
        result = run("new", str(at))
        assert result.exit_code == 0
        build = load_build(at)
        assembly = assemble(build.plan)
        assert assembly.notices == ()
        assert assembly.alone == ()
        assert (build.log.rows, build.log.problems) == ((), ())
        assert run("sizes", at=at).exit_code in (0, 1)
        assert run("plan", at=at).exit_code == 0

    def test_the_empty_plan_parses(self, tmp_path):
        at = tmp_path / "bench"
        assert run("new", str(at), "--empty").exit_code == 0
        assert (at / "plan.toml").read_text(encoding="utf-8") == EMPTY
        assert sum(line.startswith("#") for line in EMPTY.splitlines()) == 3
        assert assemble(read_plan(EMPTY)).parts == ()
        assert run("plan", at=at).exit_code == 0
        assert run("sizes", at=at).exit_code == 0

    def test_a_folder_with_something_in_it_is_refused(self, tmp_path):
        (tmp_path / "keepsake").write_text("dear")
        result = run("new", str(tmp_path))
        assert result.exit_code == 2
        assert "is not empty" in result.stderr
        assert sorted(path.name for path in tmp_path.iterdir()) == ["keepsake"]

    def test_a_file_in_its_place_is_refused(self, tmp_path):
        (tmp_path / "bench").write_text("dear")
        assert run("new", str(tmp_path / "bench")).exit_code == 2
        assert run("new", str(tmp_path / "bench" / "under")).exit_code == 2
        assert (tmp_path / "bench").read_text() == "dear"


def test_four_millimetres_off_a_plan_is_asked_back_where_cuts_land_within_a_third(tmp_path):
    plan = 'unit = "mm"\nworkmanship = 0.3\n[part.rail]\nz = "low 80 up"\nx = "l.end 16.5 pin"\n'
    at = folder_of(tmp_path / "b", plan=plan)
    for words in (("low", "up", "84"), ("l.end", "pin", "20.5")):
        result = run("read", "rail", *words, "--tool", "caliper", at=at)
        assert result.exit_code == 1
        assert "4 more than plan, far more than cuts here miss by." in result.stderr
    assert run("read", "rail", "low", "up", "81.2", "--tool", "caliper", at=at).stderr == ""
