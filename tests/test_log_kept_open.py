"""A log kept open for one row after another says the same as one that is read anew each time."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest
from cli_folder import PLAN
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.build.logtext import HEADER, Log, Row
from fitsolve.build.place import assemble
from fitsolve.build.plan import read_plan
from fitsolve.build.running import Running
from fitsolve.build.shoplog import OpenLog, append, parse_log, read_log
from fitsolve.build.state import settle
from fitsolve.errors import BuildError, Place, Problem

MADE = Row(event="made", start="apron")


def seen(log):
    return [replace(row, line=0) for row in log.rows], log.highest, log.finish, log.headed, log.foreign


class TestTheFile:
    """Only what another program has changed is read again, and it never goes unseen."""

    def test_rows_come_out_as_if_each_had_been_added_by_itself(self, tmp_path):
        with OpenLog(tmp_path / "log.csv") as log:
            for no in range(1, 6):
                assert log.append([MADE])[0].no == no
            assert seen(log.log) == seen(read_log(tmp_path / "log.csv"))

    def test_no_row_of_its_own_is_parsed_again(self, tmp_path, monkeypatch):
        from fitsolve.build import shoplog

        parsed = []
        monkeypatch.setattr(shoplog, "parse_log", lambda *args: parsed.append(args) or parse_log(*args))
        with OpenLog(tmp_path / "log.csv") as log:
            for _ in range(20):
                log.append([MADE])
        assert len(parsed) <= 2  # the file without a header, then with it

    def test_two_that_take_turns_see_each_other(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as one, OpenLog(path) as other:
            for no in range(1, 9):
                assert (one if no % 2 else other).append([MADE])[0].no == no
        assert [row.no for row in read_log(path).rows] == list(range(1, 9))

    def test_a_change_of_the_same_length_at_the_same_moment_is_seen(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as log:
            log.append([MADE])
            log.append([MADE])
            then = os.stat(path)
            path.write_bytes(path.read_bytes().replace(b"\n2,", b"\n7,"))
            os.utime(path, ns=(then.st_atime_ns, then.st_mtime_ns))  # a clock too coarse to tell
            assert log.append([MADE])[0].no == 8

    def test_an_old_file_that_nobody_touched_is_not_even_read(self, tmp_path, monkeypatch):
        from fitsolve.build import shoplog

        path = tmp_path / "log.csv"
        monkeypatch.setattr(shoplog, "_COARSE_NS", -1)  # any clock is fine enough
        with OpenLog(path) as log:
            log.append([MADE])
            log.append([MADE])
            monkeypatch.setattr(shoplog, "_content", lambda *args: pytest.fail("read again"))
            assert log.append([MADE])[0].no == 3

    def test_a_spreadsheet_that_saves_a_new_file_meanwhile_is_followed(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as log:
            log.append([MADE])
            rows = path.read_text().splitlines()
            (tmp_path / "new").write_text("\r\n".join(line.replace(",", ";") for line in rows) + "\r\n")
            os.replace(tmp_path / "new", path)
            assert log.append([MADE])[0].no == 2
        assert path.read_bytes().count(b";made;") == 2
        assert path.read_bytes().count(b"\r\n") == 3

    def test_a_line_cut_off_by_another_is_closed_first(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as log:
            log.append([MADE])
            with path.open("a") as file:
                file.write("2,2025-11-25T14:10:00+00:00,made,apr")
            assert log.append([MADE])[0].no == 3
            assert log.append([MADE])[0].no == 4
        assert [row.no for row in read_log(path).rows] == [1, 3, 4]

    def test_the_log_is_free_between_two_rows(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as log:
            log.append([MADE])
            assert append(path, [MADE])[0].no == 2
            with pytest.raises(BuildError):
                log.append([MADE], lambda *_: [Problem(Place(), "no")])
            assert append(path, [MADE])[0].no == 3
            assert log.append([MADE])[0].no == 4

    def test_a_file_taken_away_meanwhile_is_begun_anew(self, tmp_path):
        path = tmp_path / "log.csv"
        with OpenLog(path) as log:
            log.append([MADE])
            path.unlink()
            assert log.append([MADE])[0].no == 1
        assert path.read_text().startswith(HEADER)


MARKS = ["leg.l.left", "leg.l.right", "leg.r.left", "leg.r.right", "apron.l.left", "apron.l.end", "apron.r.end",
         "leg.l.left@foot", "no.such"]  # fmt: skip


@st.composite
def rows(draw):
    event = draw(st.sampled_from(
        ["reading"] * 6 + ["rough", "lean", "made", "trim", "remake", "strike", "compare", "gang", "apart", "rename"]
    ))  # fmt: skip
    a, b = draw(st.sampled_from(MARKS)), draw(st.sampled_from(MARKS))
    length = draw(st.sampled_from(["3 1/2", "3 17/32", "48", "0", "x", "6"]))
    if event in ("reading", "rough", "lean"):
        return Row(event=event, start=a, end=b, reading=length, tool="caliper")
    if event == "compare":
        return Row(event=event, start="leg.l.left..right", end="leg.r.left..right", reading=length, tool="rule")
    if event == "gang":
        return Row(event=event, start="leg.*.left..right", reading=length, tool="rule")
    if event == "strike":
        return Row(event=event, start=str(draw(st.integers(1, 12))))
    if event == "rename":
        return Row(event=event, start="leg.l.old", end="leg.l.left")
    return Row(event=event, start="" if event == "apart" else a.partition("@")[0].rpartition(".")[0])


class TestTheHistory:
    """Replayed row by row or all at once, the history leaves the same true and objects to the same."""

    ASSEMBLY, TOOLS = assemble(read_plan(PLAN)), read_plan(PLAN).tools()

    @given(st.lists(rows(), min_size=1, max_size=14), st.integers(0, 6))
    @settings(max_examples=150, deadline=None)
    def test_as_if_replayed_whole(self, said, ready_after):
        running, log = Running(self.ASSEMBLY, self.TOOLS), Log(headed=True)
        for k, row in enumerate(said):
            if k == ready_after:
                running.ready(log)
            row = replace(row, no=log.highest + 1, time="t")
            assembly, state, problems = running.tried(log, (row,))
            longer = replace(log, rows=(*log.rows, row), highest=row.no)
            whole_assembly, whole = settle(self.ASSEMBLY, longer, self.TOOLS)
            assert assembly.index == whole_assembly.index
            assert replace(state, problems=()) == replace(whole, problems=())
            assert problems == tuple(p for p in whole.problems if p.place.key == f"#{row.no}")
            if any(problem.level == "error" for problem in problems):
                running.refused()
            else:
                log = longer
                running.kept(log)
