"""Sentences: how parts meet, what shall be kept, what is checked, and the tables behind them.

    meet    = pair "in" pair "," fit [ "," "rests" name ]
            | name "against" name "," fit [ "," name side ]
            | name "short of" name "by" limits [ "," name side ]
            | "peg" name length "," "draw" length
            | name "in line with" ...  "within" length               a check: see inline
    rule    = name "flush with" name { "," wish }
            | span [ "=" length | { "=" span } ] { "," wish }
    wish    = "give" length  |  "by" limits  |  "within" length
    pair    = name "/" name      span = name ".." name      limits = length "to" length
    side    = "above" | "below"

In a rule `*` stands for a copy of a part. In the sentences of a joint, {column} stands for a
word of its table: a line of column names, then one row for each joint.

Not here: which mark a name means (names), which side is which (place).

The grammar, with an example of each construct: specs/language.md.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from fitsolve.build.language import STARRED, Cursor, Misread, Name, did_you_mean
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern

_HOLE = pattern(r"\{([^{}]*)\}")
_CELL = pattern(r"\S++")
_FORMS = "There are: A/B in C/D, FIT; A against B, FIT; A short of B by L to L."

MeetKind = Literal["housing", "butt", "room", "peg", "line"]


@dataclass(frozen=True, slots=True)
class Meeting:
    """One sentence of a joint. `one` and `other` are the two sides: two names each for a housing.

    `upper` is the name that was said to lie above or below, and whether above. A peg has its
    diameter and its draw; what stands "in line" is read elsewhere.
    """

    kind: MeetKind
    one: tuple[Name, ...] = ()
    other: tuple[Name, ...] = ()
    fit: Name | None = None
    limits: tuple[Fraction, Fraction] | None = None
    rests: Name | None = None
    side: tuple[Name, bool] | None = None
    peg: tuple[Fraction, Fraction] | None = None


@dataclass(frozen=True, slots=True)
class SpanText:
    """`start..end` as written."""

    start: Name
    end: Name


@dataclass(frozen=True, slots=True)
class RuleText:
    """A keep or a check as written; lengths in mm. A flush rule is one span and `flush`."""

    spans: tuple[SpanText, ...]
    flush: bool = False
    length: Fraction | None = None
    give: Fraction | None = None
    limits: tuple[Fraction, Fraction] | None = None
    within: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table: its words by column, its text, and its line in the table (from 0)."""

    words: dict[str, str]
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Table:
    """A table: the names of its columns, and its rows."""

    columns: tuple[Name, ...]
    rows: tuple[Row, ...]


# -- how parts meet --------------------------------------------------------------------------


def read_meeting(text: str, unit: Unit) -> Meeting:
    """Return a sentence of a joint. Raises Misread."""
    cursor = Cursor(text, unit)
    if cursor.word("peg"):
        return _peg(cursor)
    first = cursor.name("a mark")
    if cursor.literal("/"):
        return _housing(cursor, first)
    if cursor.word("against"):
        other = cursor.name("a mark")
        _no_pair(cursor, other)
        fit = _fit(cursor)
        return Meeting("butt", (first,), (other,), fit, side=_side(cursor))
    if cursor.word("short"):
        return _room(cursor, first)
    if cursor.word("in"):
        if cursor.word("line"):
            return Meeting("line")
        what = "what goes in has two marks: A/B in C/D"
        raise Misread(what, first.column, first.width, "Write both of its faces, as in outer/inner.")
    raise cursor.here('"/", "against" or "short of" was expected here', _FORMS)


def _peg(cursor: Cursor) -> Meeting:
    """`peg A DIAMETER, draw L`: lengths above 0."""
    hole = cursor.name("the bored hole")
    at = cursor.at
    diameter = cursor.length("the diameter of the peg")
    if not cursor.literal(","):
        raise cursor.here("a comma and the draw were expected here", "As in: peg leg.fl.low.peg 3/8, draw 1/16")
    if not cursor.word("draw"):
        raise cursor.here('"draw" was expected here', "As in: peg leg.fl.low.peg 3/8, draw 1/16")
    draw = cursor.length("how far it draws")
    _end(cursor)
    if not (diameter and 0 < draw < diameter):
        hint = "Usual is 1/16 in with pegs of 1/4 to 3/8 in."
        raise Misread("a peg draws by more than 0 and by less than its diameter", at, cursor.at - at, hint)
    return Meeting("peg", (hole,), peg=(diameter, draw))


def _no_pair(cursor: Cursor, name: Name) -> None:
    if cursor.peek() == "/":
        what = "a pair goes into a pair: A/B in C/D; against stands between two marks"
        raise Misread(what, name.column, name.width, _FORMS)


def _housing(cursor: Cursor, first: Name) -> Meeting:
    one = (first, cursor.name("the second mark of the pair"))
    if not cursor.word("in"):
        raise cursor.here('"in" was expected here: A/B in C/D, FIT')
    third = cursor.name("a pair of marks")
    if not cursor.literal("/"):
        raise cursor.here('"/" was expected here: what it goes in has two walls, C/D')
    other = (third, cursor.name("the second mark of the pair"))
    fit = _fit(cursor)
    rests = None
    if cursor.literal(","):
        if not cursor.word("rests"):
            raise cursor.here('"rests" was expected here', "Behind the fit may stand: rests A.")
        rests = cursor.name("the mark it rests on")
    _end(cursor)
    return Meeting("housing", one, other, fit, rests=rests)


def _room(cursor: Cursor, first: Name) -> Meeting:
    if not cursor.word("of"):
        raise cursor.here('"of" was expected here: A short of B by L to L')
    other = cursor.name("a mark")
    if not cursor.word("by"):
        raise cursor.here('"by" was expected here: A short of B by L to L')
    limits = cursor.limits()
    return Meeting("room", (first,), (other,), limits=limits, side=_side(cursor))


def _fit(cursor: Cursor) -> Name:
    if not cursor.literal(","):
        raise cursor.here("a comma and a fit were expected here", "As in: , slip")
    return cursor.name("a fit")


def _side(cursor: Cursor) -> tuple[Name, bool] | None:
    """`, B above` or `, B below`, if it stands here, and the end."""
    side = None
    if cursor.literal(","):
        name = cursor.name("a mark or part")
        if cursor.word("above"):
            side = (name, True)
        elif cursor.word("below"):
            side = (name, False)
        else:
            raise cursor.here('"above" or "below" was expected here')
    _end(cursor)
    return side


_BEHIND_A_COMMA = frozenset({"give", "by", "within", "rests"})


def _end(cursor: Cursor) -> None:
    if cursor.peek():
        word = cursor.piece()
        hint = f"A comma stands in front of it: , {word} ..." if word in _BEHIND_A_COMMA else ""
        raise cursor.here("the end of the sentence was expected here", hint)


# -- what is kept and checked ------------------------------------------------------------------


def read_rule(text: str, unit: Unit, kind: Literal["keep", "check"]) -> RuleText:
    """Return the sentence of a keep or a check. Raises Misread."""
    cursor = Cursor(text, unit)
    spans, flush, length = _subject(cursor)
    wishes = _wishes(cursor, kind)
    _end(cursor)
    if kind == "check" and "within" not in wishes:
        hint = "Say how far off it may be: , within 1/16."
        raise Misread("a check needs a tolerance", len(text.rstrip()), 1, hint)
    if not flush and length is None and len(spans) == 1 and (kind == "check" or "limits" not in wishes):
        hint = "As in A..B = C..D, or A..B = 12, or A..B, by 11 7/8 to 12 1/8 in a keep."
        raise Misread("this span is not compared with anything", len(text.rstrip()), 1, hint)
    return RuleText(tuple(spans), flush, length, **wishes)  # type: ignore[arg-type]


def _subject(cursor: Cursor) -> tuple[list[SpanText], bool, Fraction | None]:
    first = cursor.name("a mark", STARRED)
    if cursor.word("flush"):
        if not cursor.word("with"):
            raise cursor.here('"with" was expected here: A flush with B')
        return [SpanText(first, cursor.name("a mark", STARRED))], True, None
    spans = [_span(cursor, first)]
    length = None
    while length is None and cursor.literal("="):
        if cursor.length_next():
            if len(spans) > 1:
                raise cursor.here("a span was expected here: a length stands behind one span only")
            length = cursor.length()
        else:
            spans.append(_span(cursor, cursor.name("a span or a length", STARRED)))
    return spans, False, length


def _span(cursor: Cursor, start: Name) -> SpanText:
    if not cursor.literal(".."):
        raise cursor.here('".." or "flush with" was expected here', "A span is two marks: A..B.")
    return SpanText(start, cursor.name("the second mark of the span", STARRED))


def _wishes(cursor: Cursor, kind: str) -> dict[str, Fraction | tuple[Fraction, Fraction]]:
    found: dict[str, Fraction | tuple[Fraction, Fraction]] = {}
    while cursor.literal(","):
        cursor.peek()
        at = cursor.at
        word = next((word for word in ("give", "by", "within") if cursor.word(word)), None)
        if word is None:
            known = ("within",) if kind == "check" else ("give", "by")
            expected = "within L" if kind == "check" else "give L, or by L to L,"
            raise cursor.here(f"{expected} was expected here", did_you_mean(cursor.piece(), known))
        if (word == "within") != (kind == "check"):
            hint = "A keep has give L, or by L to L; a check has within L."
            raise Misread(f'"{word}" has no place in a {kind}', at, len(word), hint)
        value = cursor.limits() if word == "by" else cursor.length()
        key = "limits" if word == "by" else word
        if key in found:
            raise Misread(f'"{word}" stands twice here', at, len(word), "Take one of them out.")
        if value == 0:
            hint = "As in give 1/16." if word == "give" else "As in within 1/16: nothing is proven exact."
            raise Misread(f"a {word} of 0 can't be weighed", at, cursor.at - at, hint)
        found[key] = value
    return found


# -- tables --------------------------------------------------------------------------------------


def read_table(text: str, wrong: list[Misread]) -> Table:
    """Return a table. Rows that don't fill its columns are left out and added to `wrong`."""
    columns: tuple[Name, ...] = ()
    rows: list[Row] = []
    start = 0
    for number, line in enumerate(text.split("\n")):
        cells = [Name(match.group(), start + match.start()) for match in _CELL.finditer(line)]
        start += len(line) + 1
        if not cells:
            continue
        if not columns:
            columns = tuple(cells)
            _columns_differ(columns, wrong)
        elif len(cells) != len(columns):
            _uneven(columns, cells, start - 1, wrong)
        else:
            words = {column.text: cell.text for column, cell in zip(columns, cells, strict=True)}
            rows.append(Row(words, line.strip(), number))
    if not columns:
        wrong.append(Misread("this table is empty", 0, 1, "First a line of column names, then rows of words."))
    elif not rows and not wrong:
        wrong.append(Misread("this table has columns but no row", columns[0].column, 1, "Each row is a joint."))
    return Table(columns, tuple(rows))


def _columns_differ(columns: tuple[Name, ...], wrong: list[Misread]) -> None:
    seen: set[str] = set()
    for column in columns:
        if column.text in seen:
            wrong.append(Misread(f"the column {column.text} stands twice", column.column, column.width, "Rename one."))
        seen.add(column.text)


def _uneven(columns: tuple[Name, ...], cells: list[Name], end: int, wrong: list[Misread]) -> None:
    """A row with too few words or too many."""
    if len(cells) < len(columns):
        missing = ", ".join(column.text for column in columns[len(cells) :])
        verb = "is" if len(columns) - len(cells) == 1 else "are"
        last = cells[-1].column + cells[-1].width
        words = f"{len(cells)} word{'s' if len(cells) > 1 else ''}"
        what = f"this row has {words} for {len(columns)} columns: {missing} {verb} missing"
        wrong.append(Misread(what, min(last + 1, end), 1, "Each row has one word for each column."))
    else:
        extra = cells[len(columns)]
        what = f"this row has {len(cells)} words for {len(columns)} column{'s' if len(columns) > 1 else ''}"
        wrong.append(Misread(what, extra.column, extra.width, "Each row has one word for each column."))


class Template:
    """A sentence with {columns} in it, ready to be filled in with rows of a table."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.pieces = _HOLE.split(text)
        self.columns = [Name(match.group(1).strip(), match.start() + 1) for match in _HOLE.finditer(text)]

    def misread(self, columns: list[str]) -> list[Misread]:
        """Return what is wrong with it: columns that the table does not have, odd brackets."""
        wrong = []
        for name in self.columns:
            if name.text not in columns:
                what = f'the table has no column "{name.text}"' if columns else "there is no table: no each"
                hint = did_you_mean(name.text, columns) or (
                    f"Its columns: {', '.join(columns)}." if columns else "Write the names out, or add each."
                )
                wrong.append(Misread(what, name.column, max(1, name.width), hint))
        for match in re.finditer(r"[{}]", _HOLE.sub(lambda hole: " " * len(hole.group()), self.text)):
            wrong.append(Misread("this bracket has no partner", match.start(), 1, "Columns stand as {column}."))
        return wrong

    def filled(self, words: dict[str, str]) -> str:
        """Return the sentence with the words of a row in it."""
        if not self.columns:
            return self.text
        pieces = list(self.pieces)
        for k in range(1, len(pieces), 2):
            pieces[k] = words.get(pieces[k].strip(), "")
        return "".join(pieces)
