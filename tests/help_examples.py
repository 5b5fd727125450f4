"""The example in the help of each command, and what it really prints on the wedging table.

    PYTHONPATH=.:tests python tests/help_examples.py

writes the examples into the commands anew. The test of the same name holds them.
"""

from __future__ import annotations

import contextlib
import os
import re
import shlex
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from cli_folder import run

ROOT = Path(__file__).parents[1]
WIDTH = 84


@dataclass(frozen=True)
class Scene:
    """What is typed, how many lines of the answer are shown, what was typed before, and a word of the log that
    was another one then."""

    typed: str
    shown: int = 1
    before: tuple[str, ...] = ()
    log_word: tuple[str, str] = ("", "")


WIND = "wind leg.fl.head leg.fr.head leg.rl.head leg.rr.head 1/16 --stick 24 --width 18 --proud leg.fl.head --tool rule"

SCENES = (
    Scene("new table --like table-base", 3),
    Scene("plan", 5),
    Scene("wanted", 5),
    Scene("read stretcher.front l.notch-o l.notch-i 2-17/32 --tool caliper"),
    Scene("compare leg.fl outer..inner leg.fr outer..inner 1/32 --tool rod"),
    Scene("gap tenon left-low fl 0.004 --tool feeler"),
    Scene("diagonal leg.fl outer+face leg.rr outer+face 59-3/8 --tool tape"),
    Scene(WIND),
    Scene("made apron.front l.dado 6-5/32", 2),
    Scene("trim leg.fl outer"),
    Scene("remake stretcher.front", 2, ("read stretcher.front l.notch-o l.notch-i 2-17/32 --tool caliper",)),
    Scene("close dado front fl --dry", 6),
    Scene("open dado leg.fl apron.front", 1, ("close dado front fl --dry",)),
    Scene("apart"),
    Scene("rename leg.fl.out leg.fl.outer", log_word=("leg.fl.outer", "leg.fl.out")),
    Scene("undo", 1, ("made top",)),
    Scene("strike 23"),
    Scene("log", 3),
    Scene("sizes", 5),
    Scene("layout stretcher.front", 5),
    Scene("between leg.fl.outer inner"),
    Scene("grounds dado front fl", 5),
    Scene("draw apron.front --output apron.svg"),
    Scene("sheet --output sheet.html"),
    Scene("strip apron.front --output apron.pdf"),
)


def command_of(scene: Scene) -> str:
    """The name of the command."""
    return scene.typed.split()[0]


def real_lines(scene: Scene) -> list[str]:
    """The first lines of what is really printed, as many as the help shows."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        at = Path(folder) / "build"
        shutil.copytree(ROOT / "examples" / "wedging-table", at)
        (at / ".last-list").unlink(missing_ok=True)
        if scene.log_word[0]:
            log = at / "log.csv"
            log.write_text(log.read_text(encoding="utf-8").replace(*scene.log_word), encoding="utf-8")
        if command_of(scene) == "new":
            shutil.rmtree(at)
        else:
            os.chdir(at)
        for before in scene.before:
            assert run(*shlex.split(before), width=WIDTH).exit_code in (0, 1), before
        result = run(*shlex.split(scene.typed), width=WIDTH)
        assert result.exit_code in (0, 1), result.output
        lines = result.stdout.rstrip("\n").splitlines()
    assert lines, scene.typed
    return [*lines[: scene.shown], *(["..."] if len(lines) > scene.shown else [])]


def typed_lines(scene: Scene) -> list[str]:
    """What is typed, a long line broken."""
    line = f"$ fitsolve {scene.typed}"
    if len(line) <= WIDTH:
        return [line]
    head, _, tail = line.partition(" --")
    return [f"{head} \\", f"      --{tail}"]


def example(scene: Scene) -> list[str]:
    """The lines of the example."""
    return [*typed_lines(scene), *real_lines(scene)]


def _into(text: str, scene: Scene) -> str:
    """The text of a module with the example of a command in its docstring made anew."""
    name = re.escape(command_of(scene))
    block = re.compile(rf"(    Example:\n)        \$ fitsolve {name}\b.*?(?=\n    \"\"\"|\n\n)", re.DOTALL)
    lines = "\n".join(f"        {line}" if line else "" for line in example(scene)).replace("\\", "\\\\")
    return block.sub(lambda found: found[1] + lines, text)


if __name__ == "__main__":
    for path in (ROOT / "fitsolve" / "cli").glob("*.py"):
        old = path.read_text(encoding="utf-8")
        new = old
        for scene in SCENES:
            if f"$ fitsolve {command_of(scene)}" in new:
                new = _into(new, scene)
        if new != old:
            path.write_text(new, encoding="utf-8")
            print(f"{path}: written")
