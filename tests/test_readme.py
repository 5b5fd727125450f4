"""What the README shows is what the commands print."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from fitsolve.cli.main import cli

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_output_in_the_readme_is_the_output_of_its_command():
    block = re.findall(r"```text\n(.*?)```", README, re.DOTALL)[0]
    folder = re.search(r"--build (\S+) sizes", README)
    assert folder is not None
    result = CliRunner().invoke(cli, ["--build", str(ROOT / folder.group(1)), "sizes"], env={"COLUMNS": "80"})
    assert result.exit_code == 1
    assert block in result.output


def test_every_page_the_readme_names_is_there():
    for page in re.findall(r"\]\(([^)]+)\)", README):
        assert (ROOT / page).is_file(), page


def test_the_plan_of_the_readme_is_as_short_as_it_says():
    lines = (ROOT / "examples/wedging-table/plan.toml").read_text(encoding="utf-8").count("\n")
    assert f"{lines} lines" in README
    assert lines <= 120
