"""Problems: what is wrong with something the maker wrote, where, and how to mend it.

Three kinds of wrong are kept apart (see DEVELOPERS.md). This module is for the first, the
maker's files and typing: a `Problem` is a value, collected with its fellows and shown in
one go. It never holds a traceback and never guesses.
"""

from __future__ import annotations

from typing import Literal

from fitsolve.light import dataclass

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
