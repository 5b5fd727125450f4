"""The plan's little language: names, and runs read like a tape.

    run        = name { distance name }
    distance   = length [ "(" conditions ")" ]  |  "(" "equal" { "," condition } ")"
    conditions = condition { "," condition }
    condition  = "give" length  |  "hold"  |  "finest" length  |  length "to" length
    name       = word { "." word } [ "@" word { "." word } ]

A word is letters, digits, `-` and `_`; the first word of a name begins with a letter, a length
with a digit. The units in, ft, mm, cm, m are no names. Lengths come out as exact fractions of
a millimetre.

What can't be read is a `Misread`: what is wrong, the column for a caret, and what to do. Slips
that leave the run readable (a mark twice, a give of 0) are collected; the first one that does
not ends the reading of that run.

Not here: sentences of joints, keeps and checks (sentences), what runs add up to (sums).

The grammar, with an example of each construct: specs/language.md.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction

from fitsolve.lengths import LengthError, Unit, scan_length
from fitsolve.light import dataclass, pattern

UNIT_WORDS = frozenset({"in", "ft", "mm", "cm", "m"})

_WORD = r"[^\W_][\w-]*+"
_REST = rf"(?:\.(?:{_WORD}))*+(?:@{_WORD}(?:\.{_WORD})*+)?+"
NAME = pattern(rf"[^\W\d_][\w-]*+{_REST}")
STARRED_TEXT = rf"[^\W\d_][\w-]*+(?:\.(?:\*|{_WORD}))*+(?:@{_WORD}(?:\.{_WORD})*+)?+"
STARRED = pattern(STARRED_TEXT)
_PIECE = pattern(r"[^\s,()]++|[,()]|")
_LENGTH_STARTS = frozenset(".½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒+-\u2010\u2011\u2012\u2013\u2212")
_UNIT_BEFORE = pattern(r"[ ](in|ft|mm|cm|m)\s*\Z")
_TRIED_NAMES_MAX = 3000
_PLAIN_LENGTHS_MOST = 4096


class Misread(Exception):
    """A text that can't be read: what is wrong, what to do, and where a caret goes.

    `silent` where it only follows from something that was reported already; `alike` is the same
    for slips that are one slip to the maker, such as one name written once and meant for four copies. `more` is what
    else is wrong with the same text.
    """

    def __init__(
        self, what: str, column: int | None = None, width: int = 1, hint: str = "", *, silent: bool = False
    ) -> None:
        self.what, self.column, self.width, self.hint, self.silent = what, column, width, hint, silent
        self.alike = what
        self.more: list[Misread] = []
        super().__init__(what)

    def all(self) -> list[Misread]:
        """It, and what else is wrong with the same text; without those that are silent."""
        return [one for one in (self, *self.more) if not one.silent]


def gathered(wrong: list[Misread]) -> Misread:
    """Several things that are wrong with one text, as one."""
    wrong[0].more = wrong[1:]
    return wrong[0]


@dataclass(frozen=True, slots=True)
class Name:
    """A name as written, and its column."""

    text: str
    column: int

    @property
    def width(self) -> int:
        """How wide a caret under it is."""
        return len(self.text)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What stands in brackets behind a length; lengths in mm, exact."""

    give: Fraction | None = None
    hold: bool = False
    finest: Fraction | None = None
    limits: tuple[Fraction, Fraction] | None = None


FREE = Conditions()


@dataclass(frozen=True, slots=True)
class Step:
    """One distance of a run, in mm; None for `(equal)`."""

    length: Fraction | None
    column: int
    width: int
    conditions: Conditions = FREE


@dataclass(frozen=True, slots=True)
class Run:
    """Marks along an axis and the distances between them, one less than marks."""

    marks: tuple[Name, ...]
    steps: tuple[Step, ...]


class Cursor:
    """A place in a text that moves along as pieces of it are read."""

    def __init__(self, text: str, unit: Unit, at: int = 0) -> None:
        self.text, self.unit, self.at = text, unit, at

    def peek(self) -> str:
        """Pass blanks and return the next character, or nothing at the end."""
        text, at = self.text, self.at
        while text[at : at + 1].isspace():
            at += 1
        self.at = at
        return text[at : at + 1]

    def here(self, what: str, hint: str = "") -> Misread:
        """Return that something is wrong with the piece that stands here."""
        self.peek()
        match = _PIECE.match(self.text, self.at)
        return Misread(what, self.at, max(1, len(match.group()) if match else 1), hint)

    def piece(self) -> str:
        """Return the piece that stands here, for a message."""
        self.peek()
        match = _PIECE.match(self.text, self.at)
        return match.group()[:40] if match else ""

    def literal(self, sign: str) -> bool:
        """Take a sign if it is next."""
        if self.peek() and self.text.startswith(sign, self.at):
            self.at += len(sign)
            return True
        return False

    def word(self, word: str) -> bool:
        """Take a word if it is next and whole."""
        if self.peek() and self.text.startswith(word, self.at):
            end = self.at + len(word)
            behind = self.text[end : end + 1]
            if not (behind.isalnum() or (behind and behind in "_.@-")):
                self.at = end
                return True
        return False

    def name(self, expected: str, pattern: re.Pattern[str] = NAME) -> Name:
        """Take a name."""
        self.peek()
        match = pattern.match(self.text, self.at)
        if match is None or not match.group()[0].isalpha():
            raise self.here(f"{expected} was expected here", "Names begin with a letter, lengths with a digit.")
        if match.group() in UNIT_WORDS:
            raise self.here(
                f'"{match.group()}" is a unit, no name; {expected} was expected here',
                "Give the mark another name.",
            )
        name = Name(match.group(), self.at)
        self.at = match.end()
        return name

    def length_next(self) -> bool:
        """Whether what stands here begins like a length."""
        begins = self.peek()
        return begins in _LENGTH_STARTS or begins.isdecimal()

    def length(self, expected: str = "a length") -> Fraction:
        """Take a length, in mm."""
        if not self.length_next():
            raise self.here(f"{expected} was expected here, as in 3 1/2")
        try:
            length, self.at = scan_length(self.text, self.at, self.unit)
        except LengthError as error:
            hint = _sentence(error.expected)
            unit = _UNIT_BEFORE.search(self.text, self.at, error.column)
            if unit:
                hint = f'"{unit[1]}" was read as a unit: if it is a mark, give it another name.'
            raise Misread(error.what, error.column, error.width, hint) from None
        return length

    def limits(self) -> tuple[Fraction, Fraction]:
        """Take `L to L`, the first the smaller."""
        self.peek()
        start = self.at
        low = self.length()
        if not self.word("to"):
            raise self.here('"to" was expected here: two limits, as in 8 3/4 to 9 1/4')
        high = self.length("the higher limit")
        if low >= high:
            what = "these limits leave no room" if low == high else "the first limit is above the second"
            raise Misread(what, start, self.at - start, "Write the smaller first: 8 3/4 to 9 1/4.")
        return low, high


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + "."


def read_run(text: str, unit: Unit, wrong: list[Misread]) -> Run | None:
    """Return a run; None where it can't be read to its end. What is wrong is added to `wrong`."""
    cursor = Cursor(text, unit)
    marks: list[Name] = []
    steps: list[Step] = []
    try:
        if not cursor.peek():
            raise Misread("there is no mark in this run", 0, 1, 'Write it like a tape: "left 3 1/2 right".')
        marks.append(cursor.name("a mark"))
        while cursor.peek():
            if _plain_step(cursor, marks, steps):
                continue
            steps.append(_step(cursor, marks[-1], wrong))
            marks.append(_next_mark(cursor))
    except Misread as misread:
        wrong.append(misread)
        return None
    if len(marks) > 1:
        seen: set[str] = set()
        for mark in marks:
            if mark.text in seen:
                what = f"{mark.text} stands twice in this run"
                hint = "A run goes one way and passes each mark once."
                wrong.append(Misread(what, mark.column, mark.width, hint))
                return None
            seen.add(mark.text)
    return Run(tuple(marks), tuple(steps))


_PLAIN = pattern(
    r"((?:[0-9]{1,6}(?: [0-9]{1,3}/[0-9]{1,3})?+|[0-9]{1,3}/[0-9]{1,3}|[0-9]{0,6}\.[0-9]{1,6}))[ ]+"
    rf"([^\W\d_][\w-]*+{_REST})(?![^\s])"
)
_plain_lengths: dict[tuple[str, Unit], Fraction] = {}
"""Lengths read lately: a large plan has few different ones, and each is exact and never changes."""


def _plain_step(cursor: Cursor, marks: list[Name], steps: list[Step]) -> bool:
    """Take a plain length and the mark behind it, nearly every step of a large plan; false where
    the careful way through has something to say."""
    match = _PLAIN.match(cursor.text, cursor.at)
    if match is None:
        return False
    text, mark = match.groups()
    if mark in UNIT_WORDS or not mark[0].isalpha():
        return False
    length = _plain_lengths.get((text, cursor.unit))
    if length is None:
        try:
            length, end = scan_length(text, 0, cursor.unit)
        except LengthError:
            return False
        if end < len(text):
            return False
        if len(_plain_lengths) < _PLAIN_LENGTHS_MOST:
            _plain_lengths[text, cursor.unit] = length
    steps.append(Step(length, cursor.at, len(text)))
    marks.append(Name(mark, match.start(2)))
    cursor.at = match.end()
    return True


def _next_mark(cursor: Cursor) -> Name:
    if not cursor.peek():
        hint = "A run begins and ends with a mark."
        last = cursor.text.split()[-1]
        if last in UNIT_WORDS:
            hint = f'"{last}" was read as a unit: give the mark another name.'
        raise Misread("the mark behind this distance is missing", len(cursor.text), 1, hint)
    if cursor.length_next():
        raise cursor.here("a mark was expected here: between two lengths stands a mark", "Names begin with a letter.")
    return cursor.name("a mark")


def _step(cursor: Cursor, behind: Name, wrong: list[Misread]) -> Step:
    """The distance that stands here: a length or (equal), and its conditions."""
    start = cursor.at
    bracket = cursor.peek() == "("
    if not bracket and not cursor.length_next():
        follows = cursor.piece()
        raise cursor.here(
            f"a length was expected here, between {behind.text} and {follows}",
            "Every two marks of a run have a length between them, or (equal).",
        )
    length = None if bracket else cursor.length()
    width = cursor.at - start
    if cursor.peek() != "(":
        return Step(length, start, width)
    at = cursor.at
    equal, conditions = _conditions(cursor, wrong)
    if bracket and not equal:
        raise Misread(
            "a length was expected before these conditions",
            at,
            1,
            'Only "(equal)" stands in place of a length.',
        )
    if equal and not bracket:
        raise Misread(
            '"equal" stands in place of a length, not behind one', at, cursor.at - at, "Take out one of them."
        )
    return Step(length, start, width if length is not None else cursor.at - start, conditions)


_CONDITION_WORDS = ("give", "hold", "finest", "equal")


def _conditions(cursor: Cursor, wrong: list[Misread]) -> tuple[bool, Conditions]:
    """The conditions in brackets, and whether `equal` is among them."""
    opened = cursor.at
    cursor.literal("(")
    found: dict[str, Fraction | bool | tuple[Fraction, Fraction]] = {}
    while True:
        cursor.peek()
        at = cursor.at
        kind, value = _condition(cursor)
        if kind in found:
            wrong.append(Misread(f"{kind} stands twice here", at, cursor.at - at, "Take one of them out."))
        elif value == 0 and value is not False:
            what, hint = (
                ("a give of 0 can't be weighed", "Write (hold) for a distance that may not drift at all.")
                if kind == "give"
                else ("the finest line can't be 0", "Write the smallest step laid out, as in (finest 1/64).")
            )
            wrong.append(Misread(what, at, cursor.at - at, hint))
        else:
            found[kind] = value
        if cursor.literal(")"):
            break
        if not cursor.literal(","):
            if not cursor.peek():
                raise Misread("this bracket is not closed", opened, 1, "Close it with ).")
            raise cursor.here('"," or ")" was expected here')
    for other in ("give", "limits"):
        if "hold" in found and other in found:
            what = f"a distance that holds has no {other}: hold means not at all"
            wrong.append(Misread(what, opened, cursor.at - opened, f"Take out hold, or the {other}."))
    equal = bool(found.pop("equal", False))
    return equal, Conditions(**found)  # type: ignore[arg-type]


def read_conditions(cursor: Cursor, wrong: list[Misread]) -> Conditions:
    """Take the conditions in brackets behind a length that is said. Raises Misread."""
    cursor.peek()
    at = cursor.at
    equal, conditions = _conditions(cursor, wrong)
    if equal:
        what = '"equal" stands in place of a length, not behind one'
        raise Misread(what, at, cursor.at - at, "Take out one of them.")
    return conditions


def _condition(cursor: Cursor) -> tuple[str, Fraction | bool | tuple[Fraction, Fraction]]:
    for kind in ("hold", "equal"):
        if cursor.word(kind):
            return kind, True
    for kind in ("give", "finest"):
        if cursor.word(kind):
            return kind, cursor.length(f"the length of the {kind}")
    if cursor.length_next():
        return "limits", cursor.limits()
    if not cursor.peek():
        raise cursor.here("a condition was expected here", "Close the bracket with ).")
    word = cursor.piece()
    hint = did_you_mean(word, _CONDITION_WORDS) or "There are: give L, hold, L to L, finest L, equal."
    raise cursor.here(f'"{word}" is no condition', hint)


def did_you_mean(name: str, known: Iterable[str], otherwise: str = "") -> str:
    """Return `Did you mean ...?` for the names most like an unknown one, or `otherwise`."""
    names = list(known)
    if len(name) > 100:
        return otherwise
    if len(names) > _TRIED_NAMES_MAX:
        names = [other for other in names if other[:3] == name[:3]][:_TRIED_NAMES_MAX]
    import difflib

    near = difflib.get_close_matches(name, names, n=2, cutoff=0.6)
    return f"Did you mean {' or '.join(near)}?" if near else otherwise
