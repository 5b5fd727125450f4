"""Questions at the bench: a line that is typed, yes or no, and what a caliper sends meanwhile.

A caliper cannot answer a question, yet it may speak: it sends its number twice, ends it with two line
ends, or is pressed again because the first number looked wrong. None of these is a yes or a no. What
was typed before a question stood on the screen is no answer to it either.
"""

from __future__ import annotations

import sys

from fitsolve.cli.common import say
from fitsolve.light import pattern

_NUMBER = pattern(r"(?:\d+(?:[.,]\d*)?|[.,]\d+|(?:\d+[ -])?\d+/\d+)")


def listening() -> bool:
    """Whether somebody sits at the keyboard who can be asked."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def typed_line(prompt: str) -> str | None:
    """A line that was typed behind a prompt; None at the end of what is typed."""
    sys.stdout.write(prompt)
    sys.stdout.flush()
    line = sys.stdin.readline()
    if not line:
        say("")
        return None
    return line.rstrip("\r\n")


def typed_ahead() -> bool:
    """Whether a line lies ready already, typed before its prompt stands on the screen."""
    if not listening():
        return False
    import select

    try:
        return bool(select.select([sys.stdin], [], [], 0)[0])
    except (OSError, ValueError):  # no such thing on this system: then nothing is known of it
        return False


def agreed(question: str) -> bool:
    """Whether a question was answered with yes; the end of all that is typed is a no."""
    return answer(question) is True


def answer(question: str, instead_of: str = "") -> bool | str:
    """Yes or no; or, where the question is about the number `instead_of`, another number typed in its place."""
    while True:
        ahead = typed_ahead()
        line = typed_line(f"{question} y or n: ")
        if line is None:
            return False
        word = line.strip().lower()
        if word in ("y", "yes"):
            return True
        if word in ("n", "no", ".", "-") or not (word or ahead) or not listening():
            return False
        if instead_of and word != instead_of.strip() and _NUMBER.fullmatch(word):
            return word
