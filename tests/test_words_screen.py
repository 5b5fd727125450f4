"""The screen: nothing is lost at any width, colour is never the only sign, plain characters where need be."""

from __future__ import annotations

import io
import re
import sys

import pytest
from cli_folder import FRAMES, PLAN, folder_of, run
from hypothesis import given
from hypothesis import strategies as st

import fitsolve
from fitsolve.errors import Place, Problem
from fitsolve.report.screen import Block, Line, Table, laid_out, show, wrapped
from fitsolve.report.terminal import sizes_blocks

EVERYTHING = FRAMES + (
    "reading,leg.l.left,leg.r.left,45 5/8,tape,\n"
    "reading,apron.l.left,apron.l.right,3.520,caliper,\n"
    "rough,apron.l.end,apron.r.end,59 7/8,tape,\n"
)

TEXTS = st.lists(st.from_regex(r"[a-z0-9±.#/]{1,14}", fullmatch=True), min_size=1, max_size=20).map(" ".join)


def letters(text):
    return re.sub(r"\s", "", text)


@given(TEXTS, st.integers(4, 90), st.integers(4, 90))
def test_wrapping_loses_nothing_and_stays_within_the_width(text, first, further):
    lines = wrapped(text, first, further)
    assert letters("".join(lines)) == letters(text)
    assert all(len(line) <= max(first, further) for line in lines)


@given(st.lists(st.lists(TEXTS, min_size=1, max_size=5).map(tuple), min_size=1, max_size=4), st.integers(24, 120))
def test_a_table_loses_nothing_and_stays_within_the_width(rows, width):
    block = Block("TAG", (Line("head"), Table(tuple(rows), 3)))
    lines = [line.plain for line in laid_out(block, width)]
    assert sorted(letters("".join(lines))) == sorted(letters("TAGhead" + "".join("".join(row) for row in rows)))
    assert all(len(line) <= width for line in lines)
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize("width", [50, 60, 80])
def test_a_name_is_not_broken_for_the_sake_of_columns(width):
    name = "post.hl.outer@head..post.hr.outer@head"
    rows = (("square rack", "? of 3", f"missing: a reading of {name}"), ("level", "0 of 3", "within"))
    lines = [line.plain for line in laid_out(Block("FRAME", (Line("1"), Table(rows, 3))), width)]
    assert any(name in line for line in lines)


def test_a_sign_stays_with_its_number():
    assert wrapped("off by ± 0.004 in", 10, 10) == ["off by", "± 0.004 in"]
    assert wrapped("cuts land (± 0.20)", 12, 12) == ["cuts land", "(± 0.20)"]


def test_a_block_behind_its_tag_and_under_it():
    block = Block("WAIT", (Line("apron: needs #5"), Line("more", 3)))
    assert [line.plain for line in laid_out(block, 80)] == ["WAIT      apron: needs #5", "   more"]
    assert [line.plain for line in laid_out(block, 40)] == ["WAIT", "apron: needs #5", "   more"]


class TestSizesOnTheScreen:
    """`sizes` as it stands on a terminal."""

    def test_the_whole_text(self, tmp_path):
        # One dado, cut: 3.509 - 3.500 = 0.009 in of clearance, within 0.002 to 0.016.
        plan = (
            'title = "One dado"\nunit = "in"\nfinest = "1/32"\nworkmanship = "1/32"\n'
            'fits = { slip = ["0.002", "0.008", "0.016"] }\n[tool.caliper]\ngood_to = "0.002"\n'
            '[part.leg]\nx = "left 3 1/2 right"\n[part.apron]\nx = "end 6 left 3 1/2 right 30 far"\n'
            '[joint.dado]\nmeet = "leg.left/right in apron.left/right, slip"\n'
        )
        rows = "reading,leg.left,leg.right,3.500,caliper,\nreading,apron.left,apron.right,3.509,caliper,\n"
        result = run("sizes", at=folder_of(tmp_path / "b", plan=plan, rows=rows), width=80)
        assert result.exit_code == 0
        assert result.stdout == (
            "One dado   Tue 25 Nov 14:02   2 readings, last #2\n"
            "CUT NOW   apron\n"
            " x from left: end 6 the other way, far 33 1/2, as planned\n"
            "JOINTS    1 fit\n"
            "SEATS     2 go on\n"
            "UNCHECKED 2 of 2 readings: a slip in one of them would not show\n"
            "   which: fitsolve sizes --assumed\n"
            "Lengths in inches. ± is at k = 2: the truth lies within about 95 times in 100.\n"
            "Sizes to cut are lines that keep the joints; behind them exact and ± are of the\n"
            "size wanted, and how cuts land (± 0.032) comes on top. Faces, sides of the waste\n"
            "and what to leave on: fitsolve layout PART.\n"
        )

    def test_the_order_of_its_sections(self, tmp_path):
        result = run("sizes", at=folder_of(tmp_path / "b", rows=EVERYTHING))
        tags = re.findall(r"^([A-Z]{4,}(?: NOW)?)\b", result.stdout, re.MULTILINE)
        order = ["STOP", "CONFLICT", "CUT NOW", "WAIT", "JOINTS", "SEATS", "FRAME", "UNCHECKED", "ASSUMED"]
        assert [tag for tag in order if tag in tags] == list(dict.fromkeys(tags))
        assert {"STOP", "CONFLICT", "JOINTS", "SEATS", "FRAME"} <= set(tags)
        assert result.exit_code == 1

    def test_a_part_that_a_doubt_moves_shows_no_size(self, tmp_path):
        rows = FRAMES + "reading,leg.l.left,leg.r.left,45 5/8,tape,\n"
        result = run("sizes", at=folder_of(tmp_path / "b", rows=rows))
        assert "WAIT      apron: needs #5" in result.stdout
        assert "CUT NOW" not in result.stdout

    @pytest.mark.parametrize("width", [24, 40, 60, 80, 200])
    def test_nothing_is_lost_at_any_width(self, tmp_path, width):
        found = fitsolve.reconcile(fitsolve.load(folder_of(tmp_path / "b", rows=EVERYTHING)))
        blocks = sizes_blocks(found)
        wide = sorted(letters("".join(line.plain for block in blocks for line in laid_out(block, 2000))))
        narrow = [line.plain for block in blocks for line in laid_out(block, width)]
        assert sorted(letters("".join(narrow))) == wide
        assert max(len(line) for line in narrow) <= width

    def test_assumed_in_full(self, tmp_path):
        at = folder_of(tmp_path / "b", rows="made,leg.l,,,,\nmade,leg.r,,,,\nmade,apron,,,,\n")
        few, all_of_it = run("sizes", at=at).stdout, run("sizes", "--assumed", at=at).stdout
        assert "fitsolve sizes --assumed" in few
        assert all_of_it.count("made, never read") == 8
        assert "fitsolve sizes --assumed" not in all_of_it


class TestColour:
    """A file gets none; NO_COLOR and TERM=dumb are heeded; the words are the same."""

    def test_a_file_gets_no_escapes(self, tmp_path):
        result = run("sizes", at=folder_of(tmp_path / "b", rows=EVERYTHING))
        assert "\x1b" not in result.stdout

    @pytest.mark.parametrize(
        ("environment", "coloured"),
        [({"TERM": "xterm"}, True), ({"TERM": "xterm", "NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)],
    )
    def test_on_a_terminal(self, monkeypatch, environment, coloured):
        class Screen(io.StringIO):
            encoding = "utf-8"

            def isatty(self):
                return True

        for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "TERM", "COLORTERM"):
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        screen = Screen()
        monkeypatch.setattr(sys, "stdout", screen)
        show([Block("STOP", (Line("read it again"),), "bold red")])
        text = screen.getvalue()
        assert ("\x1b[" in text and "31" in text) == coloured
        assert re.sub(r"\x1b\[[0-9;]*m", "", text).rstrip("\n") == "STOP      read it again"


ROWS = st.lists(
    st.one_of(
        st.builds(
            "reading,{0},{1},{2},{3},".format,
            st.sampled_from(["leg.l.left", "leg.r.left", "apron.l.left", "apron.l.end"]),
            st.sampled_from(["leg.l.right", "leg.r.right", "apron.l.right", "apron.r.right", "apron.r.end"]),
            st.sampled_from(["3 1/2", "3.53", "3.47", "41", "48", "48 1/4", "6", "53", "54", "60", "0"]),
            st.sampled_from(["caliper", "tape"]),
        ),
        st.sampled_from(
            ["made,leg.l,,,,", "made,apron,,,,", "made,apron.l.left,apron.l.end,6.1,,", "remake,leg.l,,,,",
             "trim,leg.r.right,,,,", "close,dado leg.l apron,,,,glued", "close,dado leg.r apron,,,,dry",
             "rough,apron.l.end,apron.r.end,61,tape,", "rough,apron.l.end,apron.r.end,59,tape,", "apart,,,,,",
             "rough,leg.r.left,leg.r.right,3 3/4,tape,", "strike,1,,,,", "made,leg.r.right,,,,"]
        ),
    ),
    max_size=9,
)  # fmt: skip


@given(ROWS, st.sampled_from(["6 (give 1/8)", "6 (hold)", "6 (6 to 6 1/16)"]))
def test_whatever_the_log_holds_there_are_words_for_it(tmp_path_factory, rows, end):
    plan = PLAN.replace("6 (give 1/8)", end)
    at = folder_of(tmp_path_factory.mktemp("b"), plan=plan, rows="\n".join(rows))
    for command in (("sizes", "--assumed"), ("sizes", "--json"), ("log",), ()):
        result = run(*command, at=at, width=40)
        assert result.exit_code in (0, 1, 2)
        assert "This is our mistake" not in result.stderr
        assert "nan" not in result.stdout.lower()


class TestProblemsOnATerminal:
    """Sentences are broken between words; of a line that is too long the piece is shown that the caret stands under."""

    PROBLEM = Problem(Place("plan.toml", 3, "part.a.x", "left 60 r " * 12, 72, 2), ("this can't be read " * 4).strip(), "Mend it.")

    @pytest.mark.parametrize("columns", [24, 40, 60, 79])
    def test_no_line_is_wider(self, columns):
        lines = self.PROBLEM.within(columns, "warning: ").split("\n")
        assert max(map(len, lines)) <= columns
        assert " ".join(" ".join(lines[:-3]).split()) == ("warning: plan.toml:3: part.a.x: " + "this can't be read " * 4).strip()
        shown, carets = lines[-3][4:], lines[-2][4:]
        assert carets.strip() == "^^"
        assert shown[carets.index("^") :].startswith(self.PROBLEM.place.text[72:74])
        assert lines[-1] == "  Mend it."

    def test_where_there_is_room_it_is_the_same(self):
        assert self.PROBLEM.within(200) == str(self.PROBLEM)
