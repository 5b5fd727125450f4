"""Killed while writing, at every possible moment: nothing acknowledged is lost, nothing half is believed."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
TIMES = int(os.environ.get("FITSOLVE_DEATHS", "480"))
"""Some 380 of them walk through every step of writing two rows; the others fall by lot."""


@pytest.mark.skipif(os.name != "posix", reason="processes are forked and killed otherwise there")
def test_nothing_acknowledged_is_lost_and_nothing_half_is_believed(tmp_path):
    ran = subprocess.run(
        [sys.executable, str(HERE / "killed_while_writing.py"), str(tmp_path), str(TIMES), "20251125"],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(HERE.parent)},
    )
    assert (ran.returncode, ran.stderr) == (0, ""), ran.stdout
    assert f"{TIMES} deaths" in ran.stdout
    assert ran.stdout.rstrip().endswith("0 wrong")
    torn = int(ran.stdout.split(" lines torn")[0].rsplit(" ", 1)[1])
    assert torn > 100, "the deaths must have hit lines half written"
