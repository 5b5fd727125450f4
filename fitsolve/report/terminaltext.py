"""Text for a terminal: how wide it stands there, its styles, and whether it gets any.

A letter of Chinese, Japanese or Korean takes two columns, a sign that stands on the letter before it none
(Unicode Standard Annex 11, East Asian Width; general categories Mn, Me, Cf). Styles are those of ECMA-48:
bold, dim, red, green, yellow.

Not here: what is laid out (screen).
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import Any

from fitsolve.light import dataclass

WIDTH_MIN = 24
_PLAIN_BELOW = "\u0300"
"""Every printed letter below this takes one column."""
_CODES = {"bold": "1", "dim": "2", "red": "31", "green": "32", "yellow": "33"}
_CONTROLS = dict.fromkeys((*range(9), *range(11, 32), 127))
"""What would move the cursor or change the screen is left out."""


@dataclass(frozen=True, slots=True)
class Text:
    """A line in pieces, each with its style."""

    pieces: tuple[tuple[str, str], ...]

    @property
    def plain(self) -> str:
        """The letters alone."""
        return "".join(text for text, _ in self.pieces)

    def written(self, styled: bool) -> str:
        """The line as it goes to the screen."""
        if not styled:
            return self.plain.translate(_CONTROLS)
        return "".join(_styled(text.translate(_CONTROLS), style) for text, style in self.pieces)


def _styled(text: str, style: str) -> str:
    codes = ";".join(_CODES[word] for word in dict.fromkeys(style.split()))
    return f"\x1b[{codes}m{text}\x1b[0m" if codes and text else text


# -- columns -------------------------------------------------------------------------------------


def cells(text: str) -> int:
    """How many columns a text takes."""
    if text.isascii() or max(text) < _PLAIN_BELOW:
        return len(text)
    return sum(_columns(letter) for letter in text)


def _columns(letter: str) -> int:
    if letter < _PLAIN_BELOW:
        return 1
    from unicodedata import category, east_asian_width

    if category(letter) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if east_asian_width(letter) in ("W", "F") else 1


def chopped(word: str, room: int) -> list[str]:
    """A word in pieces that take no more columns than there are, or one letter each."""
    if cells(word) <= room:
        return [word] if word else []
    pieces, piece, taken = list[str](), "", 0
    for letter in word:
        columns = _columns(letter)
        if piece and taken + columns > room:
            pieces.append(piece)
            piece, taken = "", 0
        piece += letter
        taken += columns
    return [*pieces, piece]


# -- the terminal --------------------------------------------------------------------------------


def width_of_screen() -> int:
    """The columns there are; at least 80 where nobody looks on, as in a file, unless COLUMNS says."""
    told = os.environ.get("COLUMNS", "")
    if told.isascii() and told.isdigit() and int(told) > 0:
        return max(WIDTH_MIN, min(int(told), 10_000))
    found = 0
    for descriptor in (1, 0, 2):
        with suppress(OSError, ValueError):
            found = found or os.get_terminal_size(descriptor).columns
    return max(found or 80, WIDTH_MIN if _is_terminal(sys.stdout) else 80)


def takes_styles(stream: Any) -> bool:
    """Whether a stream is a terminal that shows styles, and nobody said that none are wanted. Of Windows' consoles
    only those are taken to show them that say who they are."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") in ("dumb", "unknown"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    able = os.name != "nt" or any(name in os.environ for name in ("WT_SESSION", "TERM", "TERM_PROGRAM"))
    return able and _is_terminal(stream)


def _is_terminal(stream: Any) -> bool:
    return bool(getattr(stream, "isatty", None) and stream.isatty())
