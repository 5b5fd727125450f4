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
    "history": "log", "list": "wanted", "next": "wanted", "start": "new",
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


def with_example(error: click.UsageError) -> click.UsageError:
    """The same error, with the example of the command's help behind it where words are missing or too many."""
    example = typed_as(error.ctx.command if error.ctx else None)
    if isinstance(error, click.MissingParameter):
        return click.MissingParameter(
            error.message or example, error.ctx, error.param, error.param_hint, error.param_type
        )
    if type(error) is click.UsageError and example and example not in error.message:
        return click.UsageError(f"{error.message.rstrip('.')}. {example}", error.ctx)
    return error


def no_such_option(typed: str) -> click.NoSuchOption:
    """The error for an option that the command has not, with the one that may have been meant."""
    context = click.get_current_context()
    known = [name for option in context.command.params for name in option.opts if name.startswith("--")]
    return click.NoSuchOption(typed, possibilities=difflib.get_close_matches(typed, known), ctx=context)
