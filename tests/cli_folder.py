"""A build in a folder for tests of the command line: an invented bench, and the commands run on it.

The bench lies on x alone: two legs, 3 1/2 in wide, and an apron with a dado for each.
"""

from __future__ import annotations

import os
from pathlib import Path

from click.testing import CliRunner, Result

from fitsolve.build.logtext import HEADER
from fitsolve.cli.main import cli

HEAD = """\
unit = "in"
finest = "1/32"
workmanship = "1/32"
workmanship_width = "0.004"
give = "1/16"
fits = { slip = ["0.002", "0.008", "0.016"] }

[tool.caliper]
good_to = "0.002"
"""

PLAN = f'title = "Sawing bench"\n{HEAD}' + """\
[tool.tape]
good_to = "1/32"
per_length = 0.0005

[part.leg]
copies = ["l", "r"]
x = "left 3 1/2 right"

[part.apron]
x = ["l.end 60 (hold) r.end",
     "l.end 6 (give 1/8) l.left 3 1/2 l.right 41 r.left 3 1/2 r.right 6 (give 1/8) r.end"]

[joint.dado]
each = '''
leg
l
r
'''
meet = "leg.{leg}.left/right in apron.{leg}.left/right, slip"

[keep]
ends = "apron.l.end..l.left = r.right..r.end, give 1/32"

[check]
apart = "leg.l.right..leg.r.left = 41, within 1/16"
"""

FRAMES = """\
reading,leg.l.left,leg.l.right,3.531,caliper,
reading,leg.r.left,leg.r.right,3.488,caliper,
reading,leg.l.right,leg.r.left,41 3/32,tape,
reading,leg.l.left,leg.r.right,48 1/8,tape,
"""


def log_text(rows: str) -> str:
    """A log from rows written without number and time."""
    lines = [line.strip() for line in rows.strip().splitlines() if line.strip()]
    numbered = [f"{no},2025-11-25T14:{no:02}:00+00:00,{line}" for no, line in enumerate(lines, 1)]
    return "\n".join([HEADER, *numbered, ""])


def folder_of(at: Path, plan: str = PLAN, rows: str = "") -> Path:
    """A folder with a plan and a log."""
    at.mkdir(parents=True, exist_ok=True)
    (at / "plan.toml").write_text(plan, encoding="utf-8")
    (at / "log.csv").write_text(log_text(rows), encoding="utf-8")
    return at


def run(*args: str, at: Path | None = None, width: int = 100) -> Result:
    """Run a command on the build in a folder, at a width of the terminal."""
    place = [] if at is None else ["--build", str(at)]
    environment = {"COLUMNS": str(width), "NO_COLOR": "1", "FITSOLVE_BUILD": None, "FITSOLVE_DEBUG": None}
    before = os.environ.get("COLUMNS")
    result = CliRunner().invoke(cli, [*place, *args], env=environment, prog_name="fitsolve")
    assert os.environ.get("COLUMNS") == before
    return result


def rows_on_disk(at: Path) -> list[str]:
    """The rows of the log, without number and time."""
    lines = (at / "log.csv").read_text(encoding="utf-8").splitlines()[1:]
    return [line.split(",", 2)[2] for line in lines]
