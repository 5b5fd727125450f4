"""Problems: what is wrong with something the maker wrote, where, and how to mend it.

Three kinds of wrong are kept apart (see DEVELOPERS.md). This module is for the first, the
maker's files and typing: a `Problem` is a value, collected with its fellows and shown in
one go. It never holds a traceback and never guesses.
"""

from __future__ import annotations

from typing import Literal

from fitsolve.light import dataclass, replace

Level = Literal["error", "warning", "notice"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: a file, a line (from 1), a key, and the text a caret goes under."""

    file: str = ""
    line: int | None = None
    key: str = ""
    text: str = ""
    column: int | None = None
    width: int = 1

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        if self.key:
            return f"{where}: {self.key}" if where else self.key
        return where


_NARROWEST = 20


def _piece(place: Place, most: int) -> Place:
    """The place with so much of its text, around the caret."""
    column = place.column or 0
    first = max(0, min(column - most // 2, len(place.text) - most + 3))
    before = "..." if first else ""
    end = first + most - len(before)
    behind = "..." if end < len(place.text) else ""
    text = before + place.text[first : end - len(behind)] + behind
    column += len(before) - first
    return replace(place, text=text, column=column, width=max(1, min(place.width, len(text) - column)))


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: the place, what is wrong, and what to do about it.

    `detail` holds further lines shown under the text, such as the two sums of two runs.
    An `error` stops the answer (exit status 2), a `warning` comes with it (1), a `notice`
    only informs.
    """

    place: Place
    what: str
    hint: str = ""
    detail: tuple[str, ...] = ()
    level: Level = "error"

    def within(self, columns: int, marked: str = "") -> str:
        """Return it for a terminal, `marked` in front: sentences broken between words, and of a line that is too
        long the piece that the caret stands under."""
        import textwrap

        place = self.place
        if place.column is not None and len(place.text) > columns - 4:
            place = _piece(place, max(columns - 4, _NARROWEST))
        return "\n".join(
            line if line.startswith("    ") else textwrap.fill(
                line, columns, subsequent_indent="    ", break_long_words=False, break_on_hyphens=False
            )
            for line in (marked + str(replace(self, place=place))).split("\n")
        )

    def __str__(self) -> str:
        where = str(self.place)
        lines = [f"{where}: {self.what}" if where else self.what]
        lines += [f"    {line}" for line in self.detail]
        if self.place.text and self.place.column is not None:
            lines.append(f"    {self.place.text}")
            lines.append("    " + " " * self.place.column + "^" * max(1, self.place.width))
        if self.hint:
            lines.append(f"  {self.hint}")
        return "\n".join(lines)


class BuildError(Exception):
    """Raised at the public door when the maker's files hold errors; it carries them all."""

    def __init__(self, problems: list[Problem] | tuple[Problem, ...]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
