"""The plan's little language: runs, names, tables, and the sentences of joints, keeps and checks.

Text in, plain values out; nothing here knows a part. What cannot be read is a `Misread` with
the column and what was expected, so that the caller can put a caret under it.

    run        =  name { step name }
    step       =  ( length | "(equal" { "," condition } ")" ) [ "(" condition { "," condition } ")" ]
    condition  =  "give" length | "hold" | "finest" length | length "to" length
    name       =  letter { letter | digit | "-" } { "." ... } [ "@" name ]

Grammar and an example of every construct: specs/language.md.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from fitsolve.lengths import LengthError, Unit, scan_length

WORD = r"[A-Za-z][A-Za-z0-9_-]*"
DOTTED = rf"(?:{WORD}|\*)(?:\.(?:{WORD}|[0-9]+|\*))*"
NAME = re.compile(rf"{DOTTED}(?:@{DOTTED})?")
SPACE = re.compile(r"\s*")
UNIT_WORDS = ("in", "ft", "mm", "cm", "m")


class Misread(ValueError):
    """Text of the plan that makes no sense at a column (from 0)."""

    def __init__(self, column: int, what: str, hint: str = "", width: int = 1) -> None:
        self.column, self.what, self.hint, self.width = column, what, hint, width
        super().__init__(what)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What stands in brackets behind a length; lengths in exact mm."""

    give: Fraction | None = None
    hold: bool = False
    limits: tuple[Fraction, Fraction] | None = None
    finest: Fraction | None = None
    column: int = 0


@dataclass(frozen=True, slots=True)
class Step:
    """The way from one mark of a run to the next: a length in mm, or None for `(equal)`."""

    length: Fraction | None
    conditions: Conditions
    column: int
    text: str


@dataclass(frozen=True, slots=True)
class Run:
    """Marks along an axis, with their columns, and the steps between them."""

    marks: tuple[str, ...]
    columns: tuple[int, ...]
    steps: tuple[Step, ...]


@dataclass
class Cursor:
    """Reads through one text from left to right."""

    text: str
    unit: Unit
    at: int = 0
    words: list[str] = field(default_factory=list)

    def skip(self) -> None:
        """Pass over blanks."""
        match = SPACE.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    @property
    def done(self) -> bool:
        """Whether only blanks are left."""
        self.skip()
        return self.at >= len(self.text)

    def peek(self) -> str:
        """The next character that is no blank, or nothing."""
        self.skip()
        return self.text[self.at : self.at + 1]

    def take(self, literal: str) -> bool:
        """Take this very text if it comes next; a word must end there."""
        self.skip()
        end = self.at + len(literal)
        if self.text[self.at : end] != literal:
            return False
        if literal[-1:].isalpha() and re.match(r"[A-Za-z0-9_.@*-]", self.text[end : end + 1]):
            return False
        self.at = end
        return True

    def need(self, literal: str, hint: str = "") -> None:
        """Take this text or say that it was expected."""
        if not self.take(literal):
            raise self.misread(f'"{literal}" was expected here', hint)

    def name(self, what: str = "a mark") -> tuple[str, int]:
        """Take a name and return it with its column."""
        self.skip()
        match = NAME.match(self.text, self.at)
        if match is None:
            raise self.misread(f"{what} was expected here", "Names begin with a letter, lengths with a digit.")
        column, self.at = self.at, match.end()
        return match.group(), column

    def length(self) -> Fraction:
        """Take a length and return it in exact mm."""
        self.skip()
        if not re.match(r"[0-9.+\-½¼¾⅛⅜⅝⅞⅓⅔⅕⅖⅗⅘⅙⅚]", self.text[self.at : self.at + 1] or " "):
            raise self.misread("a length was expected here", "Lengths begin with a digit, as in 3 1/2.")
        try:
            length, self.at = scan_length(self.text, self.at, self.unit)
        except LengthError as wrong:
            raise Misread(wrong.column, f"can't read this length: {wrong.expected}", "", wrong.width) from None
        return length

    def misread(self, what: str, hint: str = "") -> Misread:
        """What is wrong at this place, as wide as the word that stands there."""
        self.skip()
        match = re.match(r"[^\s,()]+", self.text[self.at :])
        return Misread(self.at, what, hint, len(match.group()) if match else 1)


def read_run(text: str, unit: Unit) -> Run:
    """Read a run such as `l.end 9 (give 1/4) l.dado-o 4 l.dado-i`. Raises Misread."""
    cursor = Cursor(text, unit)
    marks, columns, steps = [], [], []
    while True:
        name, column = cursor.name()
        _plain_name(name, column)
        if name in marks:
            raise Misread(column, f"{name} stands twice in this run", "A run passes each mark once.", len(name))
        marks.append(name)
        columns.append(column)
        if cursor.done:
            return Run(tuple(marks), tuple(columns), tuple(steps))
        steps.append(_step(cursor))


def _plain_name(name: str, column: int) -> None:
    if "*" in name:
        raise Misread(column, "a run names its marks in full", "", len(name))
    if name in UNIT_WORDS:
        raise Misread(column, f"{name} is a unit, not a mark", "Give the mark another name.", len(name))


def _step(cursor: Cursor) -> Step:
    cursor.skip()
    column = cursor.at
    if cursor.peek() == "(":
        cursor.take("(")
        cursor.need("equal", "A length, or (equal), stands between two marks.")
        conditions = Conditions(column=column) if cursor.take(")") else _conditions(cursor, column)
        return Step(None, conditions, column, cursor.text[column : cursor.at])
    length = cursor.length()
    text = cursor.text[column : cursor.at].strip()
    conditions = Conditions(column=column)
    if cursor.peek() == "(":
        begins = cursor.at
        cursor.take("(")
        conditions = _conditions(cursor, begins, first=True)
    return Step(length, conditions, column, text)


def _conditions(cursor: Cursor, column: int, first: bool = False) -> Conditions:
    """The conditions up to the closing bracket; `first` when no comma must come before them."""
    found: dict[str, object] = {}
    while True:
        if not first:
            cursor.need(",", "Conditions stand apart by commas.")
        first = False
        cursor.skip()
        begins = cursor.at
        key, value = _condition(cursor)
        if key in found:
            raise Misread(begins, "this condition stands here twice", "", cursor.at - begins)
        found[key] = value
        if cursor.take(")"):
            break
        if cursor.done:
            raise Misread(column, "this bracket is never closed", "Close it with ).")
    if "hold" in found and "give" in found:
        raise Misread(column, "a distance that holds cannot give", "Keep one of the two.", cursor.at - column)
    return Conditions(**found, column=column)  # type: ignore[arg-type]


def _condition(cursor: Cursor) -> tuple[str, object]:
    if cursor.take("hold"):
        return "hold", True
    if cursor.take("give"):
        begins = cursor.at
        give = cursor.length()
        if give == 0:
            raise Misread(begins, "a give of 0 is a hold", "Write (hold).", cursor.at - begins)
        return "give", give
    if cursor.take("finest"):
        begins = cursor.at
        finest = cursor.length()
        if finest == 0:
            raise Misread(begins, "the finest line cannot be 0", "", cursor.at - begins)
        return "finest", finest
    return "limits", read_limits(cursor, "give, hold, finest or two limits (8 3/4 to 9 1/4) were expected here")


def read_limits(cursor: Cursor, expected: str) -> tuple[Fraction, Fraction]:
    """Two lengths with `to` between them, the smaller first."""
    cursor.skip()
    begins = cursor.at
    if not cursor.peek().isnumeric() and cursor.peek() != ".":
        raise cursor.misread(expected)
    low = cursor.length()
    cursor.need("to", "Limits read 8 3/4 to 9 1/4.")
    high = cursor.length()
    if low > high:
        raise Misread(begins, "the first limit is more than the second", "Write the smaller first.", cursor.at - begins)
    return low, high
