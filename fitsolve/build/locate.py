"""Locate: on which line of plan.toml a key or a value stands.

The TOML reader of the standard library gives values without their places. Once it has read
the text without complaint, one pass over the same text with a few patterns finds where every
key and every value begins: tables, dotted and quoted keys, arrays over several lines, inline
tables, multi-line strings. A path is the keys on the way, and numbers in arrays:
("part", "leg", "x", 1).

A `Spot` is one text of the plan and where it stands; it makes the problems about that text,
with a caret under the word. A plan made in Python has no file: its spots have keys only.

Not here: reading TOML, what the texts mean.

Source: TOML 1.0.0, sections Keys, String, Array, Inline Table.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right

from fitsolve.errors import Level, Place, Problem
from fitsolve.light import dataclass, pattern

Path = tuple[str | int, ...]

_WIDEST = 96
"""A longer line is shown in part, around the caret."""

_BETWEEN = pattern(r"(?:[ \t\n]+|#[^\n]*)*+")
_BLANKS = pattern(r"[ \t]*+")
_KEY = pattern(r"[ \t]*+(?:([A-Za-z0-9_-]++)|\"((?:[^\"\\\n]++|\\.)*+)\"|'([^'\n]*+)')[ \t]*+")
_STRING = pattern(
    r'"""((?:[^"\\]++|\\[\s\S]|"{1,2}+(?!"))*+"{0,2})"""'
    r"|'''((?:[^']++|'{1,2}+(?!'))*+'{0,2})'''"
    r'|"(?!"")((?:[^"\\\n]++|\\.)*+)"'
    r"|'(?!'')([^'\n]*+)'"
)
_IN_LIST = pattern(r"[\[{]|[^,\]}\n#\"']*+")
_SCALAR = pattern(r"[^,\]}\n#]*+")


class Source:
    """The text of a plan and where everything stands in it; empty for a plan made in Python."""

    def __init__(self, text: str = "", file: str = "") -> None:
        self.text, self.file = text, file
        self._breaks = [match.start() for match in re.finditer("\n", text)] if text else []
        self._keys: dict[Path, tuple[int, int]] = {}
        self._values: dict[Path, int] = {}
        self._dotted: dict[Path, str] = {}
        if text:
            _Scan(text, self._keys, self._values).statements()

    def line_at(self, offset: int) -> int:
        """Return the line (from 1) of a place in the text."""
        return bisect_right(self._breaks, offset - 1) + 1 if offset else 1

    def line_text(self, line: int) -> str:
        """Return the text of a line, without its break."""
        start = 0 if line == 1 else self._breaks[line - 2] + 1
        end = self._breaks[line - 1] if line <= len(self._breaks) else len(self.text)
        return self.text[start:end]

    def line(self, path: Path) -> int | None:
        """Return the line where the text of a value begins, or what holds it; None without a file."""
        while path:
            offset = self._values.get(path)
            if offset is None and path in self._keys:
                offset = self._keys[path][0]
            if offset is not None:
                return self.line_at(offset)
            path = path[:-1]
        return None

    def key_place(self, path: Path) -> Place:
        """Return the place of a key itself, the caret under the key; in a list that of the value."""
        key = dotted(path)
        where = self._keys.get(path) or self._value(path)
        if where is None:
            return Place(self.file, self.line(path), key)
        offset, width = where
        line = self.line_at(offset)
        text = self.line_text(line)
        column = offset - (self._breaks[line - 2] + 1 if line > 1 else 0)
        shown, column = shown_line(text, column)
        return Place(self.file, line, key, shown, column, width)

    def _value(self, path: Path) -> tuple[int, int] | None:
        """Where a value in a list begins, and how wide it is on its first line."""
        start = self._values.get(path)
        match = None if start is None else _IN_LIST.match(self.text, start)
        return None if start is None or match is None else (start, max(1, match.end() - start))

    def key(self, path: Path) -> str:
        """Return a path as a message names it; its places in lists only where there are no lines."""
        key = self._dotted.get(path)
        if key is None:
            key = self._dotted[path] = dotted(path, not self.text)
        return key

    def spot(self, path: Path, text: str) -> Spot:
        """Return the spot of a text that stands at `path`."""
        breaks = [match.start() for match in re.finditer("\n", text)] if "\n" in text else []
        return Spot(self, path, text, self.line(path), tuple(breaks))


@dataclass(frozen=True, slots=True)
class Spot:
    """One text of the plan and where it stands. `line` is that of its first line, None without a file.

    `also` are lines shown below a problem's text, such as the row of the table it came from.
    """

    source: Source
    path: Path
    text: str
    line: int | None
    breaks: tuple[int, ...] = ()
    also: tuple[str, ...] = ()

    def place(self, column: int | None = None, width: int = 1) -> Place:
        """Return the place of this text, the caret at a column (from 0) of it."""
        key, line = self.source.key(self.path), self.line
        if column is None:
            return Place(self.source.file, line, key)
        column = min(max(column, 0), len(self.text))
        row = bisect_left(self.breaks, column)
        start = self.breaks[row - 1] + 1 if row else 0
        end = self.breaks[row] if row < len(self.breaks) else len(self.text)
        if line is not None:
            line += row
        shown, at = shown_line(self.text, column, start, end)
        return Place(self.source.file, line, key, shown, at, max(1, min(width, len(shown) - at)))

    def problem(
        self, what: str, hint: str = "", column: int | None = None, width: int = 1, level: Level = "error"
    ) -> Problem:
        """Return a problem with this text."""
        return Problem(self.place(column, width), what, hint, self.also, level)

    def where(self) -> str:
        """Return where this text stands: its line, else its key."""
        return self.name() if self.line is not None else self.source.key(self.path)

    def name(self) -> str:
        """Return how a message speaks of this text: by its line, else by its place in a list."""
        if self.line is not None:
            return f"line {self.line}"
        number = next((step for step in reversed(self.path) if isinstance(step, int)), 0)
        return f"run {number + 1}"


def shown_line(text: str, column: int, start: int = 0, end: int | None = None) -> tuple[str, int]:
    """Return a line of a text as a message shows it, and the column in it: printable, and not endless.

    The line runs from `start` to `end`; `column` counts in the text.
    """
    end = len(text) if end is None else end
    first = max(start, column - _WIDEST * 2 // 3) if end - start > _WIDEST else start
    last = min(end, first + _WIDEST)
    piece = text[first:last]
    if not piece.isprintable():
        piece = "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in piece)
    column -= first
    if first > start:
        piece, column = "..." + piece, column + 3
    return piece + ("..." if last < end else ""), column


def shown(text: str, most: int = 60) -> str:
    """Return a short text as a message may hold it: nothing unprintable, not endless."""
    if len(text) <= most and text.isprintable():
        return text
    plain = "".join(c if c.isprintable() else "\ufffd" for c in text[: most + 1])
    return plain if len(plain) <= most else plain[: most - 3] + "..."


def dotted(path: Path, numbered: bool = False) -> str:
    """Return a path as a key is written: part.leg.x; its places in lists only where asked."""
    text = ""
    for step in path[:8]:
        if isinstance(step, int):
            text += f"[{step + 1}]" if numbered else ""
        else:
            text += ("." if text else "") + shown(step, 40)
    return text


class _Scan:
    """One pass over a text that is known to be TOML; gives up quietly where it is not."""

    def __init__(self, text: str, keys: dict[Path, tuple[int, int]], values: dict[Path, int]) -> None:
        self.text, self.keys, self.values = text, keys, values
        self.at = 0

    def statements(self) -> None:
        """Go through all lines: headers of tables, and keys with their values."""
        text = self.text
        table: Path = ()
        tables: dict[Path, int] = {}
        while True:
            self.pass_blanks(_BETWEEN)
            if self.at >= len(text):
                return
            if text.startswith("[", self.at):
                several = text.startswith("[[", self.at)
                self.at += 2 if several else 1
                header = self.key(())
                if header is None:
                    return
                if several:
                    tables[header] = tables.get(header, -1) + 1
                    header = (*header, tables[header])
                table = header
                self.at += 2 if several else 1
            elif not self.pair(table):
                return

    def pass_blanks(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def key(self, table: Path) -> Path | None:
        """Take a key, perhaps dotted, and note where each piece of it stands."""
        path = table
        while True:
            match = _KEY.match(self.text, self.at)
            if match is None:
                return None
            bare, basic, literal = match.groups()
            if basic is not None:
                bare = _unescaped(basic)
            path = (*path, bare if bare is not None else literal)
            group = next(k for k in (1, 2, 3) if match.group(k) is not None)
            quoted = group > 1
            start, end = match.start(group) - quoted, match.end(group) + quoted
            self.keys.setdefault(path, (start, end - start))
            self.at = match.end()
            if not self.text.startswith(".", self.at):
                return path
            self.at += 1

    def pair(self, table: Path) -> bool:
        """Take `key = value`; false where that is not what stands here."""
        path = self.key(table)
        if path is None or not self.text.startswith("=", self.at):
            return False
        self.at += 1
        self.pass_blanks(_BLANKS)
        return self.value(path)

    def value(self, path: Path) -> bool:
        """Take one value and note where its text begins."""
        text = self.text
        self.values[path] = self.at
        match = _STRING.match(text, self.at)
        if match is not None:
            start = match.start(match.lastindex or 0)
            if start - self.at == 3 and text.startswith("\n", start):
                start += 1  # TOML leaves out the line break behind the opening quotes
            self.values[path] = start
            self.at = match.end()
            return True
        if text.startswith("[", self.at):
            return self.array(path)
        if text.startswith("{", self.at):
            return self.inline_table(path)
        before = self.at
        self.pass_blanks(_SCALAR)
        return self.at > before

    def array(self, path: Path) -> bool:
        self.at += 1
        number = 0
        while True:
            self.pass_blanks(_BETWEEN)
            if self.text.startswith("]", self.at):
                self.at += 1
                return True
            if not self.value((*path, number)):
                return False
            number += 1
            self.pass_blanks(_BETWEEN)
            if self.text.startswith(",", self.at):
                self.at += 1
            elif not self.text.startswith("]", self.at):
                return False

    def inline_table(self, path: Path) -> bool:
        self.at += 1
        while True:
            self.pass_blanks(_BLANKS)
            if self.text.startswith("}", self.at):
                self.at += 1
                return True
            if not self.pair(path):
                return False
            self.pass_blanks(_BLANKS)
            if self.text.startswith(",", self.at):
                self.at += 1
            elif not self.text.startswith("}", self.at):
                return False


def _unescaped(basic: str) -> str:
    """A quoted key with its escapes worked out; as it stands where that is beyond this."""
    if "\\" not in basic:
        return basic
    try:
        import json

        return str(json.loads(f'"{basic}"'))
    except ValueError:
        return basic
