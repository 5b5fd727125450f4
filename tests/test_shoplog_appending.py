"""A row that was acknowledged is on disk, whole, with a number of its own, whatever happens next."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitsolve.build import shoplog
from fitsolve.build.logtext import HEADER, Row
from fitsolve.build.shoplog import append, parse_log, read_log
from fitsolve.errors import BuildError, Place, Problem

ROOT = Path(__file__).parent.parent
MADE = Row(event="made", start="apron.front")


def reading(note: str = "") -> Row:
    return Row(0, "", "reading", "leg.fl.outer", "leg.fl.inner", "3 17/32", "caliper", note)


def run(script: str, *arguments: object) -> subprocess.Popen[str]:
    """A program of its own that appends rows; what it prints was acknowledged."""
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


WRITER = """
import sys
from fitsolve.build.shoplog import Row, append
path, name, count = sys.argv[1], sys.argv[2], int(sys.argv[3])
for k in range(count):
    (row,) = append(path, [Row(event="made", start="apron.front", note=f"{name} {k}")])
    print(row.no, row.note, flush=True)
"""


class TestTheFirstRow:
    def test_makes_the_file_with_its_header(self, tmp_path):
        rows = append(tmp_path / "log.csv", [reading("by the window, twice")])
        assert rows[0].no == 1
        lines = (tmp_path / "log.csv").read_bytes().split(b"\n")
        assert lines[0] == HEADER.encode()
        cells = 'reading,leg.fl.outer,leg.fl.inner,3 17/32,caliper,"by the window, twice"'
        assert lines[1:] == [f"1,{rows[0].time},{cells}".encode(), b""]

    def test_has_the_local_time_to_the_second_with_its_offset(self, tmp_path):
        (row,) = append(tmp_path / "log.csv", [MADE])
        # ISO 8601-1:2019, 5.4.2.1 (from memory): date, T, time of day, offset from UTC
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d", row.time)
        assert abs(datetime.fromisoformat(row.time).timestamp() - datetime.now().timestamp()) < 60

    def test_keeps_a_time_that_was_given(self, tmp_path):
        given_row = Row(event="made", start="a", time="2024-05-17T14:10:00+02:00")
        (row,) = append(tmp_path / "log.csv", [given_row])
        assert row.time == "2024-05-17T14:10:00+02:00"

    def test_a_log_that_does_not_exist_is_empty(self, tmp_path):
        assert read_log(tmp_path / "log.csv").rows == ()


class TestOneTimeACommand:
    def test_rows_written_together_have_one_time_and_those_of_the_next_another(self, tmp_path):
        times = []
        for _ in range(4):
            rows = append(tmp_path / "log.csv", [MADE, MADE])
            assert rows[0].time == rows[1].time
            times.append(rows[0].time)
        moments = [datetime.fromisoformat(time) for time in times]
        assert moments == sorted(moments)
        assert len(set(moments)) == 4
        assert not read_log(tmp_path / "log.csv").problems

    @pytest.mark.parametrize("written", ["", "yesterday", "2099-01-01T00:00:00Z", "24/11/2026 08:37"])
    def test_a_time_of_another_hand_stops_nothing(self, tmp_path, written):
        append(tmp_path / "log.csv", [Row(event="made", start="apron.front", time=written)])
        (row,) = append(tmp_path / "log.csv", [MADE])
        assert len(row.time) == len("2026-03-02T08:00:00+01:00") or "." in row.time



class TestNumbers:
    """Numbers go up by one from the highest that stands there, used or not."""

    def test_several_rows_at_once_are_numbered_in_their_order(self, tmp_path):
        path = tmp_path / "log.csv"
        append(path, [MADE])
        assert [row.no for row in append(path, [MADE, reading(), MADE])] == [2, 3, 4]
        assert [row.no for row in read_log(path).rows] == [1, 2, 3, 4]

    def test_a_number_that_stands_in_a_broken_row_is_not_given_again(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(f"{HEADER}\n12,t,made,a,b,c,d,e,too many cells\n")
        assert append(path, [MADE])[0].no == 13

    def test_a_number_that_could_not_be_read_back_is_refused(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text(f"{HEADER}\n999999999,t,made,a,,,,\n")
        with pytest.raises(BuildError, match="row 999999999 stands in the log already"):
            append(path, [MADE])


class TestWhatIsRefused:
    def test_an_event_that_is_none(self, tmp_path):
        with pytest.raises(BuildError, match='"measure" is no event of the log'):
            append(tmp_path / "log.csv", [Row(event="measure", start="a")])
        assert not (tmp_path / "log.csv").exists()

    @pytest.mark.parametrize("cell", ["a\nb", "a\rb", "a\0b", "a\u2028b", "a\ud800b"])
    def test_a_name_with_a_break_or_a_control_character(self, tmp_path, cell):
        with pytest.raises(BuildError, match="holds a line break or a control character"):
            append(tmp_path / "log.csv", [MADE, Row(event="made", start=cell)])
        assert not (tmp_path / "log.csv").exists()

    def test_a_note_is_put_on_one_line_instead(self, tmp_path):
        append(tmp_path / "log.csv", [reading("one\ntwo\tthree\0 \ud800  four")])
        assert read_log(tmp_path / "log.csv").rows[0].note == "one two three \ufffd four"

    def test_what_the_caller_has_against_it_once_the_log_is_locked(self, tmp_path):
        path = tmp_path / "log.csv"
        append(path, [MADE])
        before = path.read_bytes()
        seen = []

        def check(log, rows):
            seen.append(([row.no for row in log.rows], [row.no for row in rows]))
            return [Problem(Place(key="strike"), "no such row")]

        with pytest.raises(BuildError, match="no such row"):
            append(path, [Row(event="strike", start="9")], check)
        assert seen == [([1], [2])]
        assert path.read_bytes() == before

    def test_a_warning_of_the_caller_stops_nothing(self, tmp_path):
        warning = Problem(Place(), "a whole inch off plan", level="warning")
        assert append(tmp_path / "log.csv", [MADE], lambda log, rows: [warning])[0].no == 1

    def test_a_file_that_is_no_log(self, tmp_path):
        path = tmp_path / "log.csv"
        path.write_text("a shopping list\n")
        with pytest.raises(BuildError, match="the log does not begin with its header"):
            append(path, [MADE])
        assert path.read_text() == "a shopping list\n"

    def test_a_folder_in_its_place_or_none_to_put_it_in(self, tmp_path):
        for path in (tmp_path, tmp_path / "gone" / "log.csv"):
            with pytest.raises(BuildError, match="can't be written, and no row was added"):
                append(path, [MADE])
        with pytest.raises(BuildError):
            read_log(tmp_path)


def test_a_row_in_a_folder_that_nobody_may_list_is_acknowledged_all_the_same(tmp_path, monkeypatch):
    # The folder is opened only to wait until the new file's name is on disk; the row itself is there already.
    real = os.open

    def refusing(path, flags, *mode):
        if Path(path) == tmp_path:
            raise PermissionError(13, "Permission denied")
        return real(path, flags, *mode)

    monkeypatch.setattr(shoplog.os, "open", refusing)
    (row,) = append(tmp_path / "log.csv", [MADE])
    assert row.no == 1
    assert [one.no for one in read_log(tmp_path / "log.csv").rows] == [1]


class TestTheFileKeepsItsSpelling:
    """Rows are added in the dialect of the file; what stands there is not touched."""

    @pytest.mark.parametrize(
        ("before", "added"),
        [
            (f"{HEADER}\n", '4,t,reading,a,b,"3 1/2""","x,y;z",\n'),
            (f"{HEADER.replace(',', ';')}\r\n", '4;t;reading;a;b;"3 1/2""";"x,y;z";\r\n'),
            (f"\ufeff{HEADER}\r\n", '4,t,reading,a,b,"3 1/2""","x,y;z",\r\n'),
            (
                "event;no;weather;to;from;time;tool;note;reading;;\n",
                'reading;4;;b;a;t;"x,y;z";;"3 1/2"""\n',
            ),
        ],
    )
    def test_separator_line_break_and_columns(self, tmp_path, before, added):
        path = tmp_path / "log.csv"
        path.write_bytes(before.encode())
        rows = [Row(event="made", start="a")] * 3
        append(path, rows)
        between = path.read_bytes()
        append(path, [Row(0, "t", "reading", "a", "b", '3 1/2"', "x,y;z", "")])
        assert between.startswith(before.encode())
        assert path.read_bytes() == between + added.encode()
        assert [row.no for row in read_log(path).rows] == [1, 2, 3, 4]

    @pytest.mark.parametrize(
        ("written", "lies"), [("4.01", "4,01"), (".5 mm", ",5 mm"), ("3 1/2", "3 1/2"), ("4.02 strong", "4,02 strong")]
    )
    def test_decimals_as_the_spreadsheet_has_them(self, tmp_path, written, lies):
        # One whose decimal sign is the comma takes 4.01 for the fourth of January, and saves that.
        path = tmp_path / "log.csv"
        row = Row(event="reading", start="a.l", end="a.r", reading=written, tool="rule", note="at 1.5")
        for before, after in (("3,5", lies), ("3 1/2", written)):
            path.write_text(f"{HEADER.replace(',', ';')}\n1;2026-03-02T08:00:00+01:00;reading;a.l;a.r;{before};rule;\n", encoding="utf-8")
            append(path, [row])
            assert path.read_text(encoding="utf-8").splitlines()[-1].split(";")[3:] == ["a.l", "a.r", after, "rule", "at 1.5"]
            assert read_log(path).rows[-1].reading == written


LOG = f'''{HEADER}
1,2024-05-17T14:10:00+02:00,reading,leg.fl.outer,leg.fl.inner,"3 17/32""",caliper,"by the window, ""café"""
2,2024-05-17T14:30:00+02:00,close,dado apron.front leg.fl,,,,dry
'''.encode()


class TestAfterACrash:
    """Whatever a crash left of the last line, the next row starts on a line of its own."""

    @settings(max_examples=100)
    @given(cut=st.integers(0, len(LOG)), tail=st.sampled_from([b"", b"\0\0\0\0", b'"', b"\xc3"]))
    def test_what_was_whole_stays_and_the_next_row_counts(self, tmp_path_factory, cut, tail):
        path = tmp_path_factory.mktemp("build") / "log.csv"
        left = LOG[:cut] + tail
        path.write_bytes(left)
        before = read_log(path)
        if before.foreign:
            return
        (row,) = append(path, [MADE])
        (second,) = append(path, [reading()])
        after = read_log(path)
        assert path.read_bytes().startswith(left)
        assert [(r.no, r.event, r.start) for r in after.rows] == [
            *((r.no, r.event, r.start) for r in before.rows),
            (row.no, "made", "apron.front"),
            (second.no, "reading", "leg.fl.outer"),
        ]
        assert len({r.no for r in after.rows}) == len(after.rows)

    def test_a_line_cut_off_never_becomes_a_row_even_where_the_reading_is_the_last_column(self, tmp_path):
        # "3 17" of "3 17/32" would be a length too: 13/32 short of it and nobody the wiser.
        path = tmp_path / "log.csv"
        path.write_text("no,time,event,from,to,tool,note,reading\n1,t,reading,a,b,rule,,3 17")
        (row,) = append(path, [MADE])
        log = read_log(path)
        assert [r.no for r in log.rows] == [row.no] == [2]
        assert [p.level for p in log.problems] == ["notice"]
        assert path.read_text().splitlines()[1] == "1,t,reading,a,b,rule,,3 17,cut off"


class TestSeveralProgramsAtOnce:
    def test_nothing_is_lost_and_every_number_is_given_once(self, tmp_path):
        path = tmp_path / "log.csv"
        writers = [run(WRITER, path, name, 80) for name in "abcd"]
        said = [line for writer in writers for line in writer.communicate()[0].splitlines()]
        log = read_log(path)
        assert log.problems == ()
        assert sorted(f"{row.no} {row.note}" for row in log.rows) == sorted(said)
        assert [row.no for row in log.rows] == list(range(1, 321))
        for name in "abcd":
            assert [row.note for row in log.rows if row.note[0] == name] == [f"{name} {k}" for k in range(80)]

    def test_a_file_put_in_its_place_meanwhile_is_noticed(self, tmp_path, monkeypatch):
        path, lock = tmp_path / "log.csv", shoplog._lock
        append(path, [MADE])
        replaced = []

        def lock_late(descriptor, **how):
            if not replaced:
                replaced.append(path)
                (tmp_path / "new").write_text(f"{HEADER}\n7,t,made,a,,,,\n")
                os.replace(tmp_path / "new", path)
            return lock(descriptor, **how)

        monkeypatch.setattr(shoplog, "_lock", lock_late)
        assert append(path, [MADE])[0].no == 8
        assert [row.no for row in read_log(path).rows] == [7, 8]

    @pytest.mark.skipif(sys.platform == "win32", reason="locks are taken otherwise there")
    def test_a_program_that_never_lets_go_is_named_as_the_trouble(self, tmp_path, monkeypatch):
        import fcntl

        path = tmp_path / "log.csv"
        append(path, [MADE])
        monkeypatch.setattr(shoplog, "WRITER_WAITS_S", 0.05)
        monkeypatch.setattr(shoplog, "READER_WAITS_S", 0.05)
        with path.open("rb") as held:
            fcntl.flock(held, fcntl.LOCK_EX)
            with pytest.raises(BuildError, match="another program has been writing to the log"):
                append(path, [MADE])
            assert len(read_log(path).rows) == 1


class TestOnDisk:
    """Nothing is acknowledged before the system has stored it, and nothing half."""

    def test_the_lines_are_synced_after_they_are_written_and_before_the_answer(self, tmp_path, monkeypatch):
        steps, write, sync = [], os.write, os.fsync

        def noting_write(descriptor, content):
            steps.append("write")
            return write(descriptor, content)

        def noting_sync(descriptor):
            steps.append("sync folder" if os.path.isdir(f"/proc/self/fd/{descriptor}") else "sync")
            sync(descriptor)

        monkeypatch.setattr(os, "write", noting_write)
        monkeypatch.setattr(os, "fsync", noting_sync)
        append(tmp_path / "log.csv", [MADE, MADE])
        if sys.platform == "linux":
            assert steps == ["write", "sync", "sync folder"]
        steps.clear()
        append(tmp_path / "log.csv", [MADE])
        assert steps == ["write", "sync"]

    @given(st.integers(1, 30))
    @settings(max_examples=20)
    def test_a_write_that_takes_only_some_bytes_is_gone_on_with(self, tmp_path_factory, most):
        path = tmp_path_factory.mktemp("build") / "log.csv"
        write = os.write
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(os, "write", lambda descriptor, content: write(descriptor, content[:most]))
            append(path, [reading("a note, with a comma"), MADE])
        log = read_log(path)
        assert [row.no for row in log.rows] == [1, 2]
        assert log.problems == ()

    @pytest.mark.parametrize("failing", ["write", "fsync"])
    def test_what_fails_half_way_leaves_the_file_as_it_was(self, tmp_path, monkeypatch, failing):
        path = tmp_path / "log.csv"
        append(path, [MADE])
        before, write = path.read_bytes(), os.write
        calls = []

        def half(descriptor, content):
            calls.append("write")
            if len(calls) > 1:
                raise OSError(28, "No space left on device")
            return write(descriptor, content[:20])

        def never(descriptor):
            calls.append("sync")
            if len(calls) == 1:
                raise OSError(5, "Input/output error")

        if failing == "write":
            monkeypatch.setattr(os, "write", half)
        else:
            monkeypatch.setattr(os, "fsync", never)
        with pytest.raises(BuildError, match="can't be written, and no row was added"):
            append(path, [MADE, reading()])
        monkeypatch.undo()
        assert path.read_bytes() == before
        assert append(path, [MADE])[0].no == 2

    @pytest.mark.skipif(sys.platform == "win32", reason="no limit on the size of files there")
    def test_a_disk_that_is_full_is_said_and_the_rows_before_stay(self, tmp_path):
        # POSIX.1-2017 (from memory), write(): over the limit RLIMIT_FSIZE it takes what fits, then fails
        script = """
import resource, signal, sys
from fitsolve.build.shoplog import Row, append
from fitsolve.errors import BuildError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
for k in range(100):
    try:
        (row,) = append(sys.argv[1], [Row(event="made", start="apron.front", note=f"full {k}")])
    except BuildError as error:
        print(str(error).splitlines()[0])
        break
    print(row.no, row.note)
"""
        path = tmp_path / "log.csv"
        *said, last = run(script, path).communicate()[0].splitlines()
        assert last == "log.csv: the log can't be written, and no row was added: file too large"
        log = parse_log(path.read_bytes())
        assert [f"{row.no} {row.note}" for row in log.rows] == said
        assert len(said) > 5
        assert log.problems == ()
        assert path.read_bytes().endswith(b"\n")
