"""The figures of the docs are what the code draws from the examples now."""

from __future__ import annotations

import importlib.util
import re
import shlex
import shutil
from pathlib import Path

from cli_folder import run
from paper_builds import EXAMPLES

DOCS = Path(__file__).parent.parent / "docs"


def made_now() -> dict[str, str]:
    spec = importlib.util.spec_from_file_location("make_figures", DOCS / "make_figures.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return dict(module.figures())


def test_no_figure_is_stale():
    now = made_now()
    there = {path.name: path.read_text(encoding="utf-8") for path in (DOCS / "figures").iterdir()}
    assert sorted(there) == sorted(now), "make them again: python docs/make_figures.py"
    stale = [name for name, text in now.items() if not same(there[name], text)]
    assert stale == [], "make them again: python docs/make_figures.py"


def same(one: str, other: str) -> bool:
    """Whether two drawings are the same, places on paper to 0.01 mm: the last digit may round another way elsewhere."""
    if one == other:
        return True
    first, second = (re.split(r"(-?\d+\.\d+)", text) for text in (one, other))
    return len(first) == len(second) and all(
        a == b or (k % 2 == 1 and abs(float(a) - float(b)) < 0.01) for k, (a, b) in enumerate(zip(first, second))
    )


def test_a_stale_figure_is_seen():
    assert same('x="1.2345"', 'x="1.2346"')
    assert not same('x="1.2345"', 'x="1.3345"')
    assert not same("<text>1 less</text>", "<text>1 more</text>")


def test_every_figure_that_is_shown_is_there():
    for page in DOCS.glob("**/*.md"):
        for figure in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
            assert (page.parent / figure).exists(), f"{page.name}: {figure}"


def test_what_the_page_on_paper_says_to_type_works(tmp_path, monkeypatch):
    at = tmp_path / "table"
    shutil.copytree(EXAMPLES / "wedging-table", at)
    monkeypatch.chdir(at)
    page = (DOCS / "drawings.md").read_text(encoding="utf-8")
    [evening] = re.findall(r"```text\n(.*?)```", page, re.S)
    (at / "evening.txt").write_text(evening, encoding="utf-8")
    commands = [line for fence in re.findall(r"```sh\n(.*?)```", page, re.S) for line in fence.splitlines()]
    assert len(commands) >= 6
    for command in commands:
        program, *words = shlex.split(command)
        result = run(*words)
        assert program == "fitsolve"
        assert result.exit_code in (0, 1), f"{command}\n{result.output}"
        if "--sheet" in words:
            assert "2 kept." in result.output
