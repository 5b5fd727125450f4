"""The process ends at once, with its status, and nothing shown is lost: what was printed arrives whole."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from cli_folder import FRAMES, folder_of


def ran(folder, *words, **how):
    code = "from fitsolve.cli.main import main; main()"
    command = [sys.executable, "-c", code, "--build", str(folder), *words]
    how = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | how
    return subprocess.run(command, check=False, env={**os.environ, "COLUMNS": "100", "NO_COLOR": "1"}, **how)


class TestLeaving:
    def test_all_of_a_long_answer_arrives_through_a_pipe(self, tmp_path):
        import json

        done = ran(folder_of(tmp_path, rows=FRAMES), "sizes", "--json")
        assert json.loads(done.stdout)["distances"]
        assert done.returncode == 1

    def test_the_status_of_a_usage_error(self, tmp_path):
        done = ran(folder_of(tmp_path), "sizes", "--no-such-option")
        assert done.returncode == 2
        assert b"No such option" in done.stderr

    def test_help_is_all_well(self, tmp_path):
        assert ran(folder_of(tmp_path), "--help").returncode == 0

    @pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no device here that is always full")
    @pytest.mark.parametrize("words", [("sizes",), ("sizes", "--json"), ("log",), ("plan",), ("--help",)])
    def test_a_full_disk_is_said(self, tmp_path, words):
        with open("/dev/full", "w") as full:
            done = ran(folder_of(tmp_path, rows=FRAMES), *words, stdout=full)
        assert done.returncode == 2
        assert done.stderr.decode().count("No space left") == 1
        assert b"Traceback" not in done.stderr

    def test_a_reader_that_leaves_early_is_no_fault(self, tmp_path):
        reader = subprocess.Popen(["head", "-c", "1"], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
        done = ran(folder_of(tmp_path, rows=FRAMES), "sizes", "--json", stdout=reader.stdin)
        reader.stdin.close()
        reader.wait()
        assert b"Traceback" not in done.stderr
        assert done.returncode in (0, 1)
