"""The command that starts a build: `new`."""

from __future__ import annotations

import os
from pathlib import Path

import click

from fitsolve.build.folder import LOG, PLAN
from fitsolve.build.logtext import HEADER
from fitsolve.cli.common import refuse, say
from fitsolve.cli.sample import EMPTY, WORKED, worked_plan
from fitsolve.errors import BuildError


@click.command()
@click.argument("name", metavar="FOLDER", type=click.Path())
@click.option("--like", type=click.Choice(list(WORKED)), help="Which worked plan to begin from; bench-base.")
@click.option("--empty", is_flag=True, help="A plan with nothing in it, instead of a worked one.")
def new(name: str, like: str | None, empty: bool) -> None:
    """Start a build: a folder with a plan to change and an empty log.

    The worked plans, all invented: bench-base (end frames tenoned, aprons with dados over the legs),
    table-base (aprons and rails tenoned into four legs, a top), divided-case (boards housed in
    sides, dividers housed in boards, in mm). Strike out what yours has not.

    \b
    Example:
        $ fitsolve new table --like table-base
        table: plan.toml (an invented example, to be changed), log.csv (empty)
          a kitchen table: aprons and rails tenoned into four legs, a top
          cd table, then: fitsolve plan
    """
    if not str(name).strip():
        raise refuse("a folder is missing", "Name one that does not exist yet, as: fitsolve new bench")
    if like and empty:
        raise refuse("--like or --empty, not both", "A plan like another is not empty.")
    folder = Path(name)
    chosen = like or next(iter(WORKED))
    try:
        if folder.is_dir() and any(folder.iterdir()):
            raise refuse(f"{folder} is not empty", "Name a folder that does not exist yet.")
        if folder.exists() and not folder.is_dir():
            raise refuse(
                f"{folder} is there already, and no folder", "Name a folder that does not exist yet."
            )
        folder.mkdir(parents=True, exist_ok=True)
        _write(folder / PLAN, EMPTY if empty else worked_plan(chosen))
        _write(folder / LOG, HEADER + "\n")
    except (OSError, ValueError) as why:
        raise _cannot(folder, why) from None
    if empty:
        say(f"{folder}: {PLAN} (no part yet), {LOG} (empty)")
    else:
        say(f"{folder}: {PLAN} (an invented example, to be changed), {LOG} (empty)")
        say(f"  {WORKED[chosen]}")
    say(f"  cd {folder}, then: fitsolve plan")
    if not empty and not like:
        others = ", ".join(name for name in WORKED if name != chosen)
        say(f"  Rather another? fitsolve new FOLDER --like NAME: {others}; from nothing: --empty")


def _write(path: Path, text: str) -> None:
    """Write a file that must not be there yet."""
    with open(path, "x", encoding="utf-8", newline="\n") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _cannot(folder: Path, why: OSError | ValueError) -> BuildError:
    reason = (getattr(why, "strerror", None) or str(why)).lower()
    return refuse(f"{folder} can't be made: {reason}", "Name another folder, one that you may write to.")
