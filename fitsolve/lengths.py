"""Lengths: read as the trade writes them, exact from then on. How they are written: `written`.

A length is one number, or feet and inches:

    length   = amount [unit]  |  whole FEET ["-"] amount [INCHES]
    amount   = decimal  |  fraction  |  whole [fraction]  |  whole "-" fraction
    unit     = in " ″ ” ''  |  ft ' ′ ’  |  mm  |  cm  |  m

`3 17/32`, `3-17/32`, `3½`, `2' - 6 1/4"`, `2 ft 6 in`, `89.7 mm`, `.5`. A unit in the text
outranks the unit of the build. What comes back is a Fraction of a millimetre, with
1 in = 25.4 mm exactly, so nothing is lost between the maker's pencil and the program.

What could be read in two ways is refused, with the column for a caret and what was expected
there: `3,531` (a comma can mean thousands or a decimal), `3 - 1/2` (a sum, or 3 1/2?),
`2' 14"`, `1'000`, `3 4/3`. So is what can't be a length of anything that is built: a sign, more than
24 digits in a number, more than 10 km.

Reading has two ways through. One pattern takes the plain forms, nearly every length of a
large plan; all the rest, and everything refused, goes through the reader below it, one token
at a time. Where the pattern matches, both read the same.

Not here: which unit or step a build has (plan), names and brackets beside a length (language).

Source: 1 in = 25.4 mm exactly, by definition since 1959 (NIST Handbook 44, Appendix C).
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Literal

from fitsolve.errors import Place, Problem
from fitsolve.light import dataclass, pattern, replace

Unit = Literal["in", "mm"]

MM_PER_INCH = Fraction(127, 5)
DIGITS_MOST = 24
LENGTH_MM_MOST = 10_000_000

_MM = {
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
}
_VULGAR = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5),
    "⅗": (3, 5), "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅐": (1, 7), "⅛": (1, 8), "⅜": (3, 8),
    "⅝": (5, 8), "⅞": (7, 8), "⅑": (1, 9), "⅒": (1, 10),
}  # fmt: skip

_BLANK = " \t\u00a0\u2000-\u200a\u202f\u205f\u3000"
_NO_NAME = r"(?![\w.@\-])"  # so that `in` is a unit, and `in-board` a mark
_PLAIN = (
    r"(?:(?P<whole>[0-9]{1,9})(?:[ \-](?P<over>[0-9]{1,4})/(?P<under>[0-9]{1,4}))?+(?![0-9/.])"
    r"|(?P<top>[0-9]{1,4})/(?P<bottom>[0-9]{1,4})"
    r"|(?P<point>[0-9]{0,9}\.[0-9]{1,9}))"
    rf"(?:[ ]?(?P<unit>in|mm|cm|m|ft)\.?{_NO_NAME})?+"
)
_PLAIN_FORM = pattern(_PLAIN + rf"(?=\Z|[ ]?[()]|,[ ]|[ ](?!(?:in|mm|cm|m|ft)\.?{_NO_NAME})[A-Za-z])")
_TOKEN = (
    rf"(?P<blank>[{_BLANK}]+)"
    r"|(?P<decimal>[0-9]*\.[0-9]+)"
    r"|(?P<whole>[0-9]+)"
    r"|(?P<vulgar>[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒])"
    r"|(?P<slash>[/\u2044\u2215])"
    r"|(?P<hyphen>[-\u2010\u2011\u2013])"
    r"|(?P<in>[\"″“”]|['′‘’]{2})"
    r"|(?P<ft>['′‘’])"
)
_TOKEN_ALONE = pattern(_TOKEN + r"|(?P<unit>(?:in|ft|mm|cm|m)(?![^\W\d_])\.?)")
_TOKEN_IN_TEXT = pattern(_TOKEN + rf"|(?P<unit>(?:in|ft|mm|cm|m)\.?{_NO_NAME})")

_WORD = pattern(r"[^\s(),]*+(?:,[0-9]+)?")  # what a message shows of a length in a larger text


class LengthError(ValueError):
    """A text that is not one length: where it goes wrong, and what was expected there.

    `column` (from 0) and `width` say where a caret goes under `text`; `expected` is in plain
    words; `written` is the piece of the text that was to be the length.
    """

    def __init__(self, text: str, column: int, width: int, expected: str, written: str | None = None) -> None:
        self.text, self.column, self.width, self.expected = text, column, width, expected
        self.written = text if written is None else written
        super().__init__(f"{self.what}: {expected}")

    @property
    def what(self) -> str:
        """What is wrong, without the reason: `can't read "30 1/" as a length`."""
        return f'can\'t read "{_shown(self.written, 60)}" as a length'

    def problem(self, place: Place) -> Problem:
        """Return this as a Problem at `place`, whose own text and column, if any, lead the caret."""
        if place.text:
            place = replace(place, column=(place.column or 0) + self.column, width=self.width)
        else:
            place = replace(place, text=_shown(self.text, 100), column=self.column, width=self.width)
        return Problem(place, self.what, self.expected)


def _shown(text: str, most: int) -> str:
    """Return a text that can stand in one line of a message: no control characters, not endless."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in text[: most + 1])
    return shown if len(shown) <= most else shown[: most - 3] + "..."


def read_length(text: str, unit: Unit) -> Fraction:
    """Return the length written in `text`, exactly, in mm; `unit` counts where the text has none.

    Raises LengthError, and nothing else, for any text that is not one length.

    >>> read_length("3-17/32", "in") == Fraction(113, 32) * MM_PER_INCH
    True
    >>> read_length("89.7 mm", "in")
    Fraction(897, 10)
    """
    match = _PLAIN_FORM.match(text)
    plain = _plain(match, unit) if match and match.end() == len(text) else None
    return _Reader(text, 0, unit, alone=True).read()[0] if plain is None else plain


def scan_length(text: str, start: int, unit: Unit) -> tuple[Fraction, int]:
    """Return the length that begins at `start` in a larger text, in mm, and where it ends.

    It ends before a name, a bracket, a comma, or any sign that belongs to no length, and the
    blanks in front of that are not part of it. The words in, ft, mm, cm, m are never names.
    Raises LengthError where more of a number follows than a length can hold.

    >>> scan_length("l 60 in r", 2, "mm")
    (Fraction(1524, 1), 7)
    """
    match = _PLAIN_FORM.match(text, start)
    plain = _plain(match, unit) if match else None
    if match is None or plain is None:
        return _Reader(text, start, unit, alone=False).read()
    return plain, match.end()


def _plain(match: re.Match[str], unit: Unit) -> Fraction | None:
    """Return the mm of a plain form, or None where the reader has something to say about it."""
    whole, over, under, top, bottom, point, own = match.groups()
    if point is not None:
        before, after = point.split(".")
        above, below = int(before + after), 10 ** len(after)
    elif top is not None:
        above, below = int(top), int(bottom)
    elif over is not None:
        above, below = int(over), int(under)
        if above >= below:
            return None
        above += int(whole) * below
    else:
        above, below = int(whole), 1
    scale = _MM[own or unit]
    above *= scale.numerator
    below *= scale.denominator
    if below == 0 or above > LENGTH_MM_MOST * below:
        return None
    return Fraction(above, below)


@dataclass(frozen=True, slots=True)
class _Token:
    """One piece of a length; `kind` is a group of the pattern, "other", or "end"."""

    kind: str
    text: str
    column: int
    spaced: bool
    """Whether a blank stands in front of it."""

    @property
    def end(self) -> int:
        return self.column + len(self.text)


@dataclass(frozen=True, slots=True)
class _Amount:
    value: Fraction
    first: _Token
    whole: bool


class _Reader:
    """Reads one length a token at a time, and knows what it expected where it fails."""

    def __init__(self, text: str, start: int, unit: Unit, *, alone: bool) -> None:
        self.text, self.start, self.unit, self.alone = text, start, unit, alone
        self.pattern = _TOKEN_ALONE if alone else _TOKEN_IN_TEXT
        self.end = start
        self.next = self._token(start)

    def _token(self, column: int) -> _Token:
        match = self.pattern.match(self.text, column)
        spaced = match is not None and match.lastgroup == "blank"
        if match is not None and spaced:
            column = match.end()
            match = self.pattern.match(self.text, column)
        if match is not None and match.lastgroup is not None:
            return _Token(match.lastgroup, match.group(), column, spaced)
        kind = "other" if column < len(self.text) else "end"
        return _Token(kind, self.text[column : column + 1], column, spaced)

    def take(self) -> _Token:
        taken = self.next
        self.end = taken.end
        self.next = self._token(taken.end)
        return taken

    def refuse(self, token: _Token, expected: str, upto: int | None = None) -> LengthError:
        """Return the error for `token`, or for all from `token` up to a column."""
        width = min(40, max(1, (token.end if upto is None else upto) - token.column))
        written = self.text
        if not self.alone:
            word = _WORD.match(self.text, max(token.column, self.end))
            written = self.text[self.start : word.end() if word else token.end]
        return LengthError(self.text, token.column, width, expected, written)

    def read(self) -> tuple[Fraction, int]:
        first = self.next
        amount = self.amount(starts=True)
        unit = self.unit_word() or self.unit
        length = amount.value * _MM[unit]
        if unit == "ft" and self.next.kind in ("whole", "decimal", "vulgar", "hyphen"):
            length += self.inches_behind(amount)
        if length > LENGTH_MM_MOST:
            raise self.refuse(first, "a length of at most 10 km was expected", upto=self.end)
        self.nothing_more()
        return length, self.end

    def amount(self, *, starts: bool = False) -> _Amount:
        token = self.next
        if token.kind == "decimal":
            value = Fraction(self.digits(self.take()))
            return _Amount(value, token, False)
        if token.kind == "vulgar":
            return _Amount(Fraction(*_VULGAR[self.take().text]), token, False)
        if token.kind != "whole":
            raise self.refuse(token, _not_a_number(token, starts))
        number = int(self.digits(self.take()))
        if self.next.kind == "slash":
            return _Amount(self.over(number), token, False)
        if self.next.kind == "hyphen":
            self.hyphen_before_fraction()
        elif self.next.kind == "whole" and self._token(self.next.end).kind != "slash":
            raise self.refuse(self.next, "a fraction, a unit or the end was expected here, as in 3 1/2")
        if self.next.kind in ("whole", "vulgar"):
            return _Amount(number + self.proper_fraction(), token, False)
        return _Amount(Fraction(number), token, True)

    def digits(self, token: _Token) -> str:
        if len(token.text) - token.text.count(".") > DIGITS_MOST:
            raise self.refuse(token, f"a number of at most {DIGITS_MOST} digits was expected here")
        return token.text

    def over(self, above: int) -> Fraction:
        self.take()
        if self.next.kind != "whole":
            raise self.refuse(self.next, "a whole number was expected here, as in 30 1/4")
        token = self.take()
        below = int(self.digits(token))
        if below == 0:
            raise self.refuse(token, "a number above 0 was expected here: nothing can be divided by 0")
        return Fraction(above, below)

    def proper_fraction(self) -> Fraction:
        token = self.next
        if token.kind == "vulgar":
            return Fraction(*_VULGAR[self.take().text])
        value = self.over(int(self.digits(self.take())))
        if value >= 1:
            raise self.refuse(
                token, "a fraction below 1 was expected behind a whole number, as in 3 1/2", upto=self.end
            )
        return value

    def hyphen_before_fraction(self) -> None:
        """Take the hyphen of `3-1/2`; with blanks around it could as well be a subtraction."""
        hyphen = self.take()
        fraction = self.next.kind == "vulgar" or (
            self.next.kind == "whole" and self._token(self.next.end).kind == "slash"
        )
        if not fraction:
            raise self.refuse(hyphen, "a fraction was expected behind the hyphen, as in 3-1/2")
        if hyphen.spaced or self.next.spaced:
            raise self.refuse(
                hyphen, "no blanks were expected around a hyphen: write 3-1/2 or 3 1/2; a length is no sum"
            )

    def unit_word(self) -> str:
        """Take the unit, if one stands here: in, ft, mm, cm, m, or nothing."""
        if self.next.kind == "unit":
            return self.take().text.rstrip(".")
        return self.take().kind if self.next.kind in ("in", "ft") else ""

    def inches_behind(self, feet: _Amount) -> Fraction:
        """Take the inches that follow feet, and return them in mm."""
        if not feet.whole:
            raise self.refuse(feet.first, "whole feet were expected in front of inches, as in 2' 6\"")
        if self.next.kind == "hyphen":
            self.take()
        inches = self.amount()
        if inches.whole and len(inches.first.text) > 2:
            thousands = f"{feet.first.text}{inches.first.text}"
            expected = f"inches in one or two digits were expected behind feet; a thousand is written {thousands}"
            raise self.refuse(inches.first, expected)
        if inches.value >= 12:
            raise self.refuse(
                inches.first, "less than 12 in was expected behind feet, as in 2' 6 1/4\"", upto=self.end
            )
        token = self.next
        if self.unit_word() not in ("", "in"):
            raise self.refuse(token, "inches were expected behind feet, as in 2' 6 1/4\"")
        return inches.value * MM_PER_INCH

    def nothing_more(self) -> None:
        """Refuse what follows, unless it is the end or, in a larger text, something that is no length."""
        token = self.next
        if token.kind == "end":
            return
        behind = self.text[token.end : token.end + 1]
        if token.text == "," and (self.alone or (behind.isascii() and behind.isdigit())):
            before = re.search(r"[0-9.]{1,9}$", self.text[: token.end - 1])
            after = re.match(r"[0-9]{1,9}", self.text[token.end :])
            a, b = (before[0].replace(".", ""), after[0]) if before and after else ("3", "531")
            other = "" if before and "." in before[0] else f", or {a}{b}"
            what = f"no comma was expected: it can mean thousands or a decimal; write {a}.{b}{other}"
            raise self.refuse(token, what, upto=token.end)
        attached = token.text.isalpha() and not token.spaced
        if token.kind != "other" or self.alone or attached or token.text == "." or token.text.isdigit():
            raise self.refuse(token, _too_much(token))


def _not_a_number(token: _Token, starts: bool) -> str:
    """Return what was expected where a number should stand."""
    if starts and token.text in ("-", "\u2010", "\u2011", "\u2013", "\u2212", "+"):
        return "a length was expected here, without a sign: it is never negative"
    if token.text.isdigit():
        return "plain digits, 0 to 9, were expected here"
    if token.kind == "end":
        return "a length was expected here, as in 3 1/2" if starts else "a number was expected here"
    return "a digit was expected here: a length begins with one, as in 3 1/2"


def _too_much(token: _Token) -> str:
    """Return what was expected where a complete length goes on."""
    if token.text == ".":
        return "a digit was expected behind the point, as in 3.5"
    if token.text.isdigit() and not token.text.isascii():
        return "plain digits, 0 to 9, were expected here"
    if token.kind == "other" and token.text.isalpha():
        return "a unit was expected here (in, ft, mm, cm or m), or the end of the length"
    if token.kind in ("unit", "in", "ft"):
        return "one unit only was expected; with two, feet come first, as in 2' 6\""
    return "the end of the length was expected here: it is one number, as in 3 1/2 or 3.5"
