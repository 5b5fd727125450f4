"""Where things stand in a plan: the line of every key, and the text of every string under it.

The TOML reader gives values without places. This light scan goes over the same text once and
remembers, for each key path, its line and the strings of its value in order, so that a caret
can be put under the word that is wrong. It reads only text that the TOML reader accepted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from fitsolve.errors import Place

Path = tuple[str, ...]

TOKEN = re.compile(
    r'(?P<multi>"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\')'
    r'|(?P<single>"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\')'
    r"|(?P<comment>#[^\n]*)|(?P<line>\n)|(?P<punct>[\[\]{}=,.])|(?P<blank>[ \t\r]+)|(?P<bare>[^\s\[\]{}=,.#\"']+)",
    re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Quoted:
    """A string: the line (from 1) and column (from 0) where its text begins, and that text."""

    line: int
    column: int
    text: str


@dataclass(slots=True)
class Entry:
    """A key: its line, and the strings of its value in the order they stand."""

    line: int
    strings: list[Quoted] = field(default_factory=list)


@dataclass
class Source:
    """The text of a plan with the place of every key; empty for a plan made in Python."""

    file: str = ""
    lines: list[str] = field(default_factory=list)
    entries: dict[Path, Entry] = field(default_factory=dict)

    def place(self, path: Path, number: int | None = None, column: int = 0, width: int = 1) -> Place:
        """The place of a key, or with `number` of a column in one of its strings."""
        key = ".".join(path)
        entry = self.entries.get(path)
        if entry is None:
            return self.place(path[:-1]) if len(path) > 1 and self.entries else Place(self.file, None, key)
        if number is None or number >= len(entry.strings):
            return Place(self.file, entry.line, key)
        quoted = entry.strings[number]
        before = quoted.text[:column].count("\n")
        line = quoted.line + before
        shift = quoted.column + column if before == 0 else column - quoted.text.rfind("\n", 0, column) - 1
        text = self.lines[line - 1] if line <= len(self.lines) else ""
        indent = len(text) - len(text.lstrip())
        return Place(self.file, line, key, text.strip(), max(0, shift - indent), width)


def scan(text: str, file: str) -> Source:
    """Return where every key and string of a valid TOML text stands."""
    source = Source(file, text.split("\n"))
    _Scanner(text, source).run()
    return source


class _Scanner:
    """Goes over the tokens once, keeping the table, the key being given, and the depth of brackets."""

    def __init__(self, text: str, source: Source) -> None:
        self.text, self.source = text, source
        self.table: Path = ()
        self.line, self.line_start = 1, 0
        self.key: list[str] = []
        self.entries: list[tuple[Path, Entry, int]] = []
        self.depth = 0
        self.in_value = False
        self.header: list[str] | None = None

    def run(self) -> None:
        for match in TOKEN.finditer(self.text):
            kind, token = match.lastgroup, match.group()
            if kind in ("multi", "single"):
                self.string(match.start(), token, 3 if kind == "multi" else 1)
            elif kind == "line":
                self.newline()
            elif kind == "punct":
                self.punctuation(token)
            elif kind == "bare" and (self.header is not None or not self.in_value or self._keys_here()):
                self._name(token)
            newlines = token.count("\n")
            if newlines:
                self.line += newlines
                self.line_start = match.start() + token.rfind("\n") + 1

    def _keys_here(self) -> bool:
        """Whether the value is an inline table that waits for a key."""
        return bool(self.entries) and self.entries[-1][2] < 0

    def _name(self, token: str) -> None:
        (self.header if self.header is not None else self.key).append(token)

    def string(self, at: int, token: str, quotes: int) -> None:
        body = token[quotes:-quotes]
        if self.header is not None or not self.in_value or self._keys_here():
            self._name(body)
            return
        line, column = self.line, at - self.line_start + quotes
        if quotes == 3 and body[:1] == "\n":
            line, column, body = line + 1, 0, body[1:]
        for _, entry, _ in self.entries:
            entry.strings.append(Quoted(line, column, body))

    def newline(self) -> None:
        if self.header is not None:
            self.table = tuple(self.header)
            self.source.entries.setdefault(self.table, Entry(self.line))
            self.header = None
        if self.in_value and self.depth == 0:
            self.in_value, self.entries, self.key = False, [], []

    def punctuation(self, token: str) -> None:
        if self.header is not None or (not self.in_value and token == "["):
            self.header = self.header if self.header is not None else []
            return
        if token == "=":
            self.begin()
        elif token in "[{":
            self.depth += 1
            if token == "{":
                path = self.entries[-1][0] if self.entries else self.table
                self.entries.append((path, Entry(self.line), -self.depth))
                self.key = []
        elif token in "]}":
            while self.entries and abs(self.entries[-1][2]) >= self.depth and len(self.entries) > 1:
                self.entries.pop()
            self.depth = max(0, self.depth - 1)
        elif token == "," and len(self.entries) > 1 and self.entries[-1][2] > 0 and self.depth == self.entries[-1][2]:
            self.entries.pop()
            self.key = []

    def begin(self) -> None:
        """A key is complete: what follows is its value."""
        inside = bool(self.entries)
        path = ((*self.entries[-1][0],) if inside else self.table) + tuple(self.key)
        entry = Entry(self.line)
        self.source.entries.setdefault(path, entry)
        entry = self.source.entries[path]
        self.entries.append((path, entry, self.depth if inside else 1 << 30))
        self.in_value, self.key = True, []
