"""The examples of the docs, run: each page's console blocks, one after another, in a copy of a build.

    python tests/shown_in_docs.py        writes the output of every command into the pages anew

A page says in a comment which build it starts from, `<!-- build: examples/wedging-table -->`, or
`<!-- build: nothing -->` for an empty folder. In a block a line `$ fitsolve ...` is a command; below it
stands its output, of which `...` leaves out any number of lines. `$ cat > plan.toml` takes the
lines up to `EOF`; `$ cp` copies a file, `$ mkdir` makes a folder, `$ cd` goes there. Times of day and numbers of lists differ from day to day: they are not compared.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner

from fitsolve.cli.main import cli

ROOT = Path(__file__).parents[1]
PAGES = sorted(page for page in (ROOT / "docs").rglob("*.md") if "```console" in page.read_text(encoding="utf-8"))
BLOCK = re.compile(r"(```console\n)(.*?)(```)", re.DOTALL)
CHANGES = [
    (re.compile(r"(Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) \d\d:\d\d"), "DAY"),
    (re.compile(r"\b\d+-[0-9a-f]{4}\b"), "LIST"),
    (re.compile(r"made \d{4}-\d\d-\d\d \d\d:\d\d"), "made DAY"),
]


def same(text: str) -> str:
    """The text without what differs from day to day."""
    for pattern, word in CHANGES:
        text = pattern.sub(word, text)
    return re.sub(r" +$", "", text, flags=re.MULTILINE)


def commands(block: str) -> Iterator[tuple[str, str]]:
    """Each command of a block with the output that stands below it."""
    for piece in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command, _, output = piece.partition("\n")
        yield command, output


def ran(command: str, output: str, at: Path) -> str:
    """What a command prints, in that folder; of both streams, as a terminal shows them."""
    if command.startswith("cat > "):
        (at / command.split()[-1]).write_text(output.split("EOF")[0], encoding="utf-8")
        return output
    words = shlex.split(command)
    if words[0] == "cd":
        os.chdir(words[1])
        return ""
    if words[0] == "mkdir":
        (at / words[1]).mkdir()
        return ""
    if words[0] == "cp":
        shutil.copyfile(at / words[1], at / words[2])
        return ""
    assert words[0] == "fitsolve", command
    environment = {"COLUMNS": "80", "NO_COLOR": "1", "FITSOLVE_BUILD": None, "FITSOLVE_DEBUG": None}
    result = CliRunner().invoke(cli, words[1:], env=environment, prog_name="fitsolve")
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.output


def page_runs(page: Path) -> Iterator[tuple[str, str, str]]:
    """Each command of a page with the output that stands there and the one it has."""
    text = page.read_text(encoding="utf-8")
    start = re.search(r"<!-- build: (\S+) -->", text)
    assert start is not None, f"{page}: no comment says which build it starts from"
    before = os.getcwd()
    with tempfile.TemporaryDirectory() as folder:
        at = Path(folder) / "build"
        if start[1] == "nothing":
            at.mkdir()
        else:
            shutil.copytree(ROOT / start[1], at)
        os.chdir(at)
        try:
            for _, block, _ in BLOCK.findall(text):
                for command, output in commands(block):
                    yield command, output, ran(command, output, Path.cwd())
        finally:
            os.chdir(before)


def agrees(shown: str, printed: str) -> bool:
    """Whether what stands in a page is what is printed, `...` standing for any lines."""
    shown, printed = same(shown).strip("\n"), same(printed).strip("\n")
    parts = [re.escape(part.strip("\n")) for part in re.split(r"^ *\.\.\.$", shown, flags=re.MULTILINE)]
    pattern = parts[0]
    for place, part in enumerate(parts[1:]):
        before = r"(?:.*\n)?" if place == 0 and not parts[0] else r"\n(?:.*\n)?"
        pattern += (before + part) if part else r"(?:\n.*)?"
    return re.fullmatch(pattern, printed, re.DOTALL) is not None


def renewed(shown: str, printed: str) -> str:
    """The output as it is to stand: whole, or as many lines as `@N` or what stood there before `...` asks for."""
    if len(re.findall(r"^ *\.\.\.$", shown, flags=re.MULTILINE)) > 1 and agrees(shown, printed):
        return shown
    asked = re.fullmatch(r"@(\d+)\n*", shown)
    if asked or shown.rstrip().endswith("\n..."):
        count = int(asked[1]) if asked else len(shown.rstrip().splitlines()) - 1
        return "\n".join(printed.rstrip("\n").splitlines()[:count]) + "\n...\n"
    return shown if agrees(shown, printed) and shown.strip() else printed.rstrip("\n") + "\n" * bool(printed)


def write_anew() -> None:
    for page in PAGES:
        runs = iter(list(page_runs(page)))

        def block(match: re.Match[str], runs: Iterator[tuple[str, str, str]] = runs) -> str:
            pieces = []
            for command, shown in commands(match[2]):
                _, _, printed = next(runs)
                kept = shown if command.startswith(("cat >", "cd ", "cp ")) else renewed(shown, printed)
                pieces.append(f"$ {command}\n{kept}")
            return match[1] + "".join(pieces) + match[3]

        page.write_text(BLOCK.sub(block, page.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    write_anew()
