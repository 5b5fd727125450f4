"""Sentences of joints, keeps and checks, read into plain values; names are not looked up here.

    contact    =  name "/" name "in" name "/" name "," fit [ "," "rests" name ]
               |  name "against" name "," fit [ "," name ( "above" | "below" ) ]
               |  name "short of" name "by" length "to" length [ "," name ( "above" | "below" ) ]
    rule       =  name "flush with" name { "," condition }
               |  span "=" ( length | span { "=" span } ) { "," condition }
    span       =  name ".." name
    condition  =  "give" length | "by" length "to" length | "within" length

Grammar and an example of every construct: specs/language.md.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from fitsolve.build.draft_language import Cursor, Misread, read_limits
from fitsolve.lengths import Unit

LATER = ("peg", "in line with")
"""What the language has words for and the numbers do not yet use."""


@dataclass(frozen=True, slots=True)
class Named:
    """A name as written, with its column."""

    text: str
    column: int


@dataclass(frozen=True, slots=True)
class ContactSentence:
    """One sentence of a joint. `first` and `second` hold two names each for a housing, else one.

    `limits` are those of a room; `fit` the name of a fit; `rests` the mark it rests on;
    `above` the side that is said to lie above (or, with `below`, below).
    """

    kind: Literal["housing", "butt", "room"]
    first: tuple[Named, ...]
    second: tuple[Named, ...]
    fit: Named | None = None
    limits: tuple[Fraction, Fraction] | None = None
    rests: Named | None = None
    above: Named | None = None
    below: Named | None = None


@dataclass(frozen=True, slots=True)
class SpanText:
    """A span as written: `a..b`."""

    start: Named
    end: Named


@dataclass(frozen=True, slots=True)
class RuleSentence:
    """A keep or a check as written: spans that shall be equal, or one span and its length."""

    spans: tuple[SpanText, ...]
    length: Fraction | None
    flush: bool
    give: Fraction | None = None
    limits: tuple[Fraction, Fraction] | None = None
    within: Fraction | None = None


def not_yet(text: str) -> str:
    """The construct of a sentence that is understood but not used in the numbers, or nothing."""
    if re.match(r"\s*peg\b", text):
        return "peg"
    return "in line with" if re.search(r"\sin\s+line\s+with\s", text) else ""


def read_contact(text: str, unit: Unit) -> ContactSentence:
    """Read one sentence of a joint. Raises Misread."""
    cursor = Cursor(text, unit)
    first = _named(cursor)
    if cursor.take("/"):
        return _housing(cursor, first)
    if cursor.take("against"):
        second = _named(cursor)
        cursor.need(",", "Name the fit behind a comma: A against B, tight-up.")
        fit = _named(cursor, "a fit")
        above, below = _sides(cursor)
        return ContactSentence("butt", (first,), (second,), fit=fit, above=above, below=below)
    if cursor.take("short"):
        cursor.need("of", "A room reads: A short of B by 1/16 to 1/4.")
        second = _named(cursor)
        cursor.need("by", "A room reads: A short of B by 1/16 to 1/4.")
        begins = cursor.at
        limits = read_limits(cursor, "two lengths were expected here, as in by 1/16 to 1/4")
        if limits[0] == limits[1]:
            raise Misread(begins, "these limits leave no room", "Make the second more than the first.", cursor.at - begins)
        above, below = _sides(cursor)
        return ContactSentence("room", (first,), (second,), limits=limits, above=above, below=below)
    raise cursor.misread(
        '"/", "against" or "short of" was expected here',
        "A joint's sentences: A/B in C/D, FIT; A against B, FIT; A short of B by L to L.",
    )


def _housing(cursor: Cursor, first: Named) -> ContactSentence:
    tongue = (first, _named(cursor))
    cursor.need("in", "A housing reads: A/B in C/D, FIT.")
    third = _named(cursor)
    cursor.need("/", "The socket has two walls: C/D.")
    socket = (third, _named(cursor))
    cursor.need(",", "Name the fit behind a comma: A/B in C/D, slip.")
    fit = _named(cursor, "a fit")
    rests = None
    if cursor.take(","):
        cursor.need("rests", "Behind the fit of a housing only `rests A` may stand.")
        rests = _named(cursor)
    _end(cursor)
    return ContactSentence("housing", tongue, socket, fit=fit, rests=rests)


def _named(cursor: Cursor, what: str = "a mark") -> Named:
    return Named(*cursor.name(what))


def _sides(cursor: Cursor) -> tuple[Named | None, Named | None]:
    """`, B above` or `, B below`, if it comes next, and then the end."""
    if not cursor.take(","):
        _end(cursor)
        return None, None
    side = _named(cursor, "a part or a mark")
    if cursor.take("above"):
        found: tuple[Named | None, Named | None] = (side, None)
    else:
        cursor.need("below", "Say which side lies above: , B above.")
        found = (None, side)
    _end(cursor)
    return found


def _end(cursor: Cursor) -> None:
    if not cursor.done:
        raise cursor.misread("nothing more was expected here", "")


def read_rule(text: str, unit: Unit) -> RuleSentence:
    """Read a keep or a check. Raises Misread."""
    cursor = Cursor(text, unit)
    first = _named(cursor)
    if cursor.take("flush"):
        cursor.need("with", "A flush rule reads: A flush with B.")
        spans, length, flush = (SpanText(first, _named(cursor)),), None, True
    else:
        cursor.need("..", "A span reads a..b; a flush rule A flush with B.")
        spans, length = (SpanText(first, _named(cursor)),), None
        flush = False
        while cursor.take("="):
            if cursor.peek().isnumeric() or cursor.peek() == ".":
                if len(spans) > 1:
                    raise cursor.misread("a length can only stand for one span", "Write one rule for each span.")
                length = cursor.length()
                break
            spans = (*spans, _span(cursor))
    return _rule_conditions(cursor, spans, length, flush)


def _span(cursor: Cursor) -> SpanText:
    start = _named(cursor)
    cursor.need("..", "A span reads a..b.")
    return SpanText(start, _named(cursor))


def _rule_conditions(
    cursor: Cursor, spans: tuple[SpanText, ...], length: Fraction | None, flush: bool
) -> RuleSentence:
    give = limits = within = None
    while cursor.take(","):
        begins = cursor.at
        if cursor.take("give"):
            give = cursor.length()
            if give == 0:
                raise Misread(begins, "a give of 0 cannot be weighed", "Use limits: by L to L.", cursor.at - begins)
        elif cursor.take("by"):
            limits = read_limits(cursor, "two lengths were expected here, as in by 8 3/4 to 9 1/4")
        elif cursor.take("within"):
            within = cursor.length()
        else:
            raise cursor.misread("give, by or within was expected here")
    _end(cursor)
    if len(spans) == 1 and length is None and not flush and limits is None:
        raise cursor.misread("a span alone says nothing", "Write SPAN = SPAN, SPAN = LENGTH, or limits: by L to L.")
    return RuleSentence(spans, length, flush, give, limits, within)


@dataclass(frozen=True, slots=True)
class Table:
    """An `each` table: column names, and rows of words with the line (from 0) each stands on."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]


def read_table(text: str) -> Table:
    """Read an `each` table. Raises Misread with the column in its line; `line` is set on it."""
    header: tuple[str, ...] = ()
    rows, lines = [], []
    for number, line in enumerate(text.splitlines()):
        words = line.split()
        if not words:
            continue
        if not header:
            header = tuple(words)
            if len(set(header)) < len(header):
                raise TableMisread(number, 0, "a column stands twice in this table", len(line))
            continue
        if len(words) != len(header):
            what = f"{len(words)} words for {len(header)} columns ({' '.join(header)})"
            raise TableMisread(number, len(line) - len(line.lstrip()), what, len(line.strip()))
        rows.append(tuple(words))
        lines.append(number)
    if not rows:
        raise TableMisread(0, 0, "this table has no rows", 1)
    return Table(header, tuple(rows), tuple(lines))


class TableMisread(Misread):
    """A line of a table that makes no sense; `line` counts from 0 in the table's text."""

    def __init__(self, line: int, column: int, what: str, width: int) -> None:
        self.line = line
        super().__init__(column, what, "Every row needs one word a column.", width)
