"""Bad input: every problem of both files in one go, never a traceback, exit status 0, 1 or 2 only."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from cli_folder import FRAMES, PLAN, folder_of, log_text, rows_on_disk, run
from hypothesis import given, settings
from hypothesis import strategies as st

COMMANDS = (("sizes",), ("sizes", "--json"), ("plan",), ("log",), ("between", "leg.l.left", "right"), ())


def sane(result):
    """No traceback, and one of the three statuses."""
    assert result.exit_code in (0, 1, 2)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    for text in (result.stdout, result.stderr):
        assert "Traceback" not in text
        assert "This is our mistake" not in text


class TestNoBuild:
    """A folder that is no build is told with what to do."""

    @pytest.mark.parametrize("command", [command for command in COMMANDS if command])
    def test_no_plan_in_it(self, tmp_path, command):
        result = run(*command, at=tmp_path)
        assert result.exit_code == 2
        assert result.stderr == (
            f"{tmp_path}: there is no plan.toml in this folder\n"
            "  A build is a folder that holds a plan. fitsolve new FOLDER starts one; "
            "--build FOLDER names one.\n"
        )

    def test_no_such_folder(self, tmp_path):
        result = run("sizes", at=tmp_path / "gone")
        assert result.exit_code == 2
        assert "there is no such folder" in result.stderr

    def test_a_file_for_a_folder(self, tmp_path):
        (tmp_path / "bench").write_text("x")
        result = run("sizes", at=tmp_path / "bench")
        assert result.exit_code == 2
        assert "this is no folder" in result.stderr

    def test_a_folder_for_the_plan(self, tmp_path):
        (tmp_path / "plan.toml").mkdir()
        result = run("sizes", at=tmp_path)
        assert result.exit_code == 2
        assert "the plan can't be read" in result.stderr


class TestBothFiles:
    """Errors of plan and log come together."""

    def test_plan_not_readable_and_log_not_readable(self, tmp_path):
        at = folder_of(tmp_path / "b", plan='unit = "in"\nunti = 1\n')
        (at / "log.csv").write_text(log_text("reading,a.b,a.c,3,5,tape,snug"), encoding="utf-8")
        result = run("sizes", at=at)
        assert result.exit_code == 2
        assert "plan.toml:2" in result.stderr
        assert "log.csv:2" in result.stderr

    def test_plan_not_sound_and_log_not_readable(self, tmp_path):
        at = folder_of(tmp_path / "b", plan=PLAN.replace("in apron.", "in appron."))
        (at / "log.csv").write_text(log_text("reading,a.b,a.c,3,5,tape,snug"), encoding="utf-8")
        result = run("sizes", at=at)
        assert result.exit_code == 2
        assert "plan.toml" in result.stderr
        assert "log.csv:2" in result.stderr

    def test_rows_that_make_no_sense(self, tmp_path):
        at = folder_of(tmp_path / "b", rows=FRAMES + "reading,leg.l.left,leg.l.right,30 1/,tape,\n")
        result = run("sizes", at=at)
        assert result.exit_code == 2
        assert result.stdout == ""
        assert 'log.csv:6: can\'t read "30 1/" as a length\n    30 1/\n         ^\n' in result.stderr


class TestStreams:
    """A closed pipe, an interrupted run, a stream that knows ASCII alone."""

    def start(self, at, *args, **environment):
        code = "from fitsolve.cli.main import main; main()"
        return subprocess.Popen(
            [sys.executable, "-c", code, "--build", str(at), *args],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, **environment},
        )

    @pytest.mark.parametrize("args", [("sizes",), ("sizes", "--json"), ("plan",), ("log",)])
    def test_a_closed_pipe_is_no_error_to_speak_of(self, tmp_path, args):
        done = self.start(folder_of(tmp_path / "b", rows=FRAMES), *args)
        done.stdout.close()
        said = done.stderr.read()
        done.stderr.close()
        assert b"Traceback" not in said
        assert done.wait(60) in (0, 1)

    def test_ascii(self, tmp_path):
        plan = PLAN.replace("Sawing bench", "Sägebock")
        at = folder_of(tmp_path / "b", plan=plan, rows=FRAMES)
        done = self.start(at, "sizes", PYTHONIOENCODING="ascii")
        out, said = done.communicate(timeout=60)
        assert out.isascii()
        assert b"+/- " in out
        assert b"Traceback" not in said


def test_an_exception_nobody_foresaw_is_said_to_be_our_fault(tmp_path, monkeypatch):
    import fitsolve.reconciliation

    def broken(_):
        raise KeyError("apron")

    monkeypatch.setattr(fitsolve.reconciliation, "reconcile", broken)
    result = run("sizes", at=folder_of(tmp_path / "b"))
    assert result.exit_code == 2
    assert result.stderr == (
        "fitsolve has failed: KeyError: 'apron'\n"
        "  This is our mistake, not yours, and nothing more was written. "
        "FITSOLVE_DEBUG=1 shows where it happened.\n"
    )


# -- anything at all -----------------------------------------------------------------------

WORDS = st.one_of(
    st.sampled_from(
        ["leg.l", "leg", "apron", "left", "right", "l.end", "leg.r.right", "l", "@", "left@foot", "..", "-3",
         "--", "--tool", "tape", "--proud", "--rough", "3 1/2", "3", "1/2", "--note", "x", "", "-", "--help"]
    ),
    st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=12),
)  # fmt: skip


@given(st.lists(WORDS, max_size=9))
@settings(max_examples=120, deadline=None)
def test_any_arguments_of_read_end_in_order_and_write_only_what_reads_back(args):
    with tempfile.TemporaryDirectory() as name:
        at = folder_of(Path(name), rows=FRAMES)
        sane(run("read", *args, at=at))
        result = run("log", at=at)
        sane(result)
        assert result.exit_code != 2, "what was written makes sense"
        assert len(rows_on_disk(at)) in (4, 5)


OTHERS = ["made", "close", "open", "strike", "trim", "remake", "rename", "between"]


@given(st.sampled_from(OTHERS), st.lists(WORDS, max_size=4))
@settings(max_examples=80, deadline=None)
def test_any_arguments_of_the_others_end_in_order(command, args):
    with tempfile.TemporaryDirectory() as name:
        at = folder_of(Path(name), rows=FRAMES)
        sane(run(command, *args, at=at))
        assert run("log", at=at).exit_code != 2


def spoiled(content: bytes):
    """The content with a stretch of it replaced by any bytes."""
    return st.builds(
        lambda at, length, new: content[:at] + new + content[at + length :],
        st.integers(0, len(content)),
        st.integers(0, 40),
        st.one_of(
            st.binary(max_size=20),
            st.sampled_from([b'"', b"\n", b"\0", b"\xff", b"[", b"= 1e400", b"1/0"]),
        ),
    )


PLAIN, ROWS = PLAN.encode(), log_text(FRAMES).encode()


@given(
    st.one_of(
        st.tuples(spoiled(PLAIN), st.just(ROWS)),
        st.tuples(st.just(PLAIN), spoiled(ROWS)),
        st.tuples(spoiled(PLAIN), spoiled(ROWS)),
    ),
    st.sampled_from(COMMANDS),
)
@settings(max_examples=200, deadline=None)
def test_any_bytes_in_the_files_end_in_order(files, command):
    with tempfile.TemporaryDirectory() as name:
        at = Path(name)
        (at / "plan.toml").write_bytes(files[0])
        (at / "log.csv").write_bytes(files[1])
        sane(run(*command, at=at))
