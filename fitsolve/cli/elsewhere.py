"""What the command says when it is called by itself where no build is: builds nearby, and how to start one."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from shlex import quote

from fitsolve.build.folder import LOG, PLAN
from fitsolve.cli.common import say

_LISTED_MOST = 6
_LOOKED_AT_MOST = 1000


def say_how_to_start(folder: Path) -> None:
    """Say that there is no build in a folder, which are near, and how to start one."""
    say("There is no build here: a build is a folder with a plan in it, plan.toml.")
    if (folder / LOG).is_file():
        say(f"  {LOG} is here without its plan: put {PLAN} back beside it")
    for name in _near(folder):
        say(f"  cd {quote(name)}     a build is there")
    say("  fitsolve new FOLDER     starts one, with a worked plan to change")
    say("  fitsolve --help         lists the commands")


def _near(folder: Path) -> Iterator[str]:
    """The folder above that is a build, else the first few of those inside that are."""
    try:
        above = next((up for up in folder.resolve().parents if (up / PLAN).is_file()), None)
        if above is not None:
            yield str(above)
            return
        inside = [one for one, _ in zip(folder.iterdir(), range(_LOOKED_AT_MOST), strict=False)]
        yield from sorted(one.name for one in inside if (one / PLAN).is_file())[:_LISTED_MOST]
    except OSError:  # a folder that must not be looked into: then nothing is known of it
        return
