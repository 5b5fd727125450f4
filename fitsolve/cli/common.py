"""What all commands share: which folder is meant, how a message is said, which status it ends with.

Exit status: 0 all well, 1 a warning, 2 bad input (nothing was written).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import click

from fitsolve.errors import BuildError, Place, Problem

F = TypeVar("F", bound=Callable[..., Any])

_ROOT_KEY = "fitsolve.build"
_STATUS_KEY = "fitsolve.status"


def build_option(command: F) -> F:
    """The option --build, which may stand before or behind the name of a command."""
    return click.option(
        "--build",
        metavar="FOLDER",
        envvar="FITSOLVE_BUILD",
        expose_value=False,
        is_eager=True,
        callback=_remember,
        help="The folder of the build, if it is not the one you stand in.",
    )(command)


def _remember(context: click.Context, option: click.Parameter, value: str | None) -> None:
    """Keep the folder that was named last; one from the environment only where none was typed."""
    typed = context.get_parameter_source("build") is click.core.ParameterSource.COMMANDLINE
    root = context.find_root().meta
    if value is not None and (typed or _ROOT_KEY not in root):
        root[_ROOT_KEY] = value


def build_folder() -> Path:
    """The folder of the build that the command line means."""
    return Path(click.get_current_context().find_root().meta.get(_ROOT_KEY, "."))


# -- saying things -------------------------------------------------------------------------


def speaks_unicode(stream: Any) -> bool:
    """Whether a stream can be given any character."""
    return (getattr(stream, "encoding", None) or "").lower().replace("-", "").startswith("utf")


def spelled_for(text: str, stream: Any) -> str:
    """The text in characters that a stream can show."""
    if not speaks_unicode(stream):
        from fitsolve.report.screen import plainly

        text = plainly(text, getattr(stream, "encoding", None) or "ascii")
    return text.encode("utf-8", "replace").decode("utf-8")


def say(text: str) -> None:
    """A line for the maker, on standard output, as wide as the terminal is."""
    say_as_it_is(fitted(text, sys.stdout))


def say_as_it_is(text: str) -> None:
    """What other programs read, on standard output."""
    click.echo(spelled_for(text, sys.stdout))


def warn(text: str) -> None:
    """A line for the maker, on standard error, as wide as the terminal is."""
    click.echo(spelled_for(fitted(text, sys.stderr), sys.stderr), err=True)


def fitted(text: str, stream: Any) -> str:
    """The text with its lines wrapped where a terminal is narrower; in a file as it is, unless COLUMNS says that it
    will be looked at in fewer than are usual."""
    longest = max(map(len, text.split("\n")))
    if longest <= COLUMNS_LEAST or longest <= (columns := _columns_of(stream)):
        return text
    from fitsolve.report.screen import folded

    return folded(text, columns)


COLUMNS_LEAST, COLUMNS_USUAL = 24, 80
_ANY_NUMBER = 1 << 30


def _columns_of(stream: Any) -> int:
    """How many columns a stream shows; as many as are asked for where nobody looks on."""
    told = os.environ.get("COLUMNS", "")
    columns = int(told) if told.isascii() and told.isdigit() and len(told) < 6 else 0
    try:
        if stream.isatty():
            return max(columns or os.get_terminal_size(stream.fileno()).columns or COLUMNS_USUAL, COLUMNS_LEAST)
    except (AttributeError, OSError, ValueError):  # no file of the system's, or one that is closed
        pass
    return max(columns, COLUMNS_LEAST) if 0 < columns < COLUMNS_USUAL else _ANY_NUMBER


def _columns(stream: Any) -> int:
    """How wide a terminal is; 0 where the stream is none."""
    try:
        return os.get_terminal_size(stream.fileno()).columns if stream.isatty() else 0
    except (OSError, ValueError, AttributeError):
        return 0


def show_problems(problems: Iterable[Problem]) -> int:
    """Show problems on standard error; return the exit status that they ask for."""
    status = 0
    columns = _columns(sys.stderr)
    for number, problem in enumerate(dict.fromkeys(problems)):
        marked = {"error": "", "warning": "warning: ", "notice": "note: "}[problem.level]
        text = problem.within(columns, marked) if columns else marked + str(problem)
        warn(("\n" if number else "") + text)
        status = max(status, {"error": 2, "warning": 1, "notice": 0}[problem.level])
    return status


def refuse(what: str, hint: str = "", word: str = "") -> BuildError:
    """An error in what was typed, with a caret under the word; nothing has been written."""
    shown = "".join(c if c.isprintable() else "\ufffd" for c in word)
    shown = shown if len(shown) <= 70 else shown[:67] + "..."
    place = Place(text=shown, column=0, width=len(shown)) if shown else Place()
    return BuildError([Problem(place, what, hint)])


def at_least(status: int) -> bool:
    """See to it that the command does not end with a lower exit status, whatever else it finds; true where that is
    new."""
    meta = click.get_current_context().find_root().meta
    before: int = meta.get(_STATUS_KEY, 0)
    meta[_STATUS_KEY] = max(status, before)
    return status > before


def finish(status: int = 0) -> None:
    """End the command with an exit status."""
    context = click.get_current_context()
    context.exit(max(status, context.find_root().meta.get(_STATUS_KEY, 0)))
