"""What to say where a command is used wrongly: the command that was meant, and how it is typed.

Imported only then.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence

import click

_OTHER_WORDS = {
    "measure": "read", "enter": "read", "cut": "made", "done": "made", "plane": "trim", "shave": "trim",
    "glue": "close", "assemble": "close", "fit": "close", "unclose": "open", "delete": "strike", "remove": "strike",
    "history": "log", "list": "wanted", "todo": "wanted", "next": "wanted", "start": "new", "init": "new",
    "size": "sizes", "solve": "sizes", "distance": "between", "why": "grounds", "print": "sheet", "twist": "wind",
}  # fmt: skip
"""Words a maker may try, and the command that does it."""


def unknown_command(typed: str, known: Sequence[str]) -> str:
    """What to say of a word that is no command.

    >>> unknown_command("reed", ["new", "read", "sizes"])
    'there is no command "reed". Did you mean: fitsolve read?'
    """
    word = typed.lower()
    begun = [name for name in known if word and name.startswith(word)]
    other = [_OTHER_WORDS[word]] if word in _OTHER_WORDS else []
    meant = other or begun or difflib.get_close_matches(word, known, n=2, cutoff=0.6)
    shown = "".join(c if c.isprintable() else "\ufffd" for c in typed)[:60]
    said = " or ".join(f"fitsolve {name}" for name in meant[:3])
    hint = f"Did you mean: {said}?" if said else "fitsolve --help lists them."
    return f'there is no command "{shown}". {hint}'


def typed_as(command: click.Command | None) -> str:
    """`As in: fitsolve layout stretcher.front`: the example of a command's help; empty where it has none."""
    lines = iter((command.help or "").splitlines() if command is not None else ())
    example = next((line.strip() for line in lines if line.strip().startswith("$ fitsolve ")), "")
    if example.endswith("\\"):
        example = f"{example[:-1].strip()} {next(lines, '').strip()}"
    return f"As in: {example[2:]}" if example else ""


def with_example(error: click.MissingParameter) -> click.MissingParameter:
    """The same error, with the example of the command's help behind it."""
    message = error.message or typed_as(error.ctx.command if error.ctx else None)
    return click.MissingParameter(message, error.ctx, error.param, error.param_hint, error.param_type)
