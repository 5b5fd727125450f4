"""In line: two holes or marks of two parts that shall stand opposite each other.

    name "in line with" name [ "," ] "within" length

A hole has a place on two axes, so holes are held against each other on every axis on which both
have one, each a check of its own: the screw of a vise jaw in the hole of an apron, to the side
and in height. The sentence stands among the checks, or with a joint's sentences.

Not here: what it comes to (findings).
"""

from __future__ import annotations

from fractions import Fraction

from fitsolve.build.assembly import AXES
from fitsolve.build.language import Cursor, Misread, Name
from fitsolve.build.locate import Spot
from fitsolve.build.pegs import hole_marks
from fitsolve.build.rules import RuleDraft
from fitsolve.build.sentences import RuleText, SpanText
from fitsolve.build.stock import Stock
from fitsolve.lengths import Unit


def read_in_line(text: str, unit: Unit) -> tuple[Name, Name, Fraction] | None:
    """Return the two names and how far off they may be; None for any other sentence. Raises Misread."""
    cursor = Cursor(text, unit)
    try:
        first = cursor.name("a mark")
    except Misread:
        return None
    if not (cursor.word("in") and cursor.word("line")):
        return None
    if not cursor.word("with"):
        raise cursor.here('"with" was expected here: A in line with B within L')
    second = cursor.name("a mark or a hole")
    cursor.literal(",")
    if not cursor.word("within"):
        raise cursor.here("within L was expected here", "Say how far off it may be: within 1/32.")
    within = cursor.length()
    if not within:
        raise cursor.here("a within of 0 can't be weighed", "As in within 1/16: nothing is proven exact.")
    if cursor.peek():
        raise cursor.here("the end of the sentence was expected here")
    return first, second, within


def line_drafts(stock: Stock, key: str, said: tuple[Name, Name, Fraction], spot: Spot) -> list[RuleDraft]:
    """Return a check for each axis on which both have a place. Raises Misread."""
    first, second, within = said
    one, other = hole_marks(stock, first), hole_marks(stock, second)
    if stock.part[next(iter(one.values()))] == stock.part[next(iter(other.values()))]:
        raise Misread("both belong to one part", second.column, second.width, "Holes of two parts come in line.")
    axes = [axis for axis in one if axis in other]
    if not axes:
        places = [" and ".join(AXES[axis] for axis in marks) for marks in (one, other)]
        what = f"{first.text} has its place along {places[0]}, {second.text} along {places[1]}: on no axis both"
        raise Misread(what, second.column, second.width)
    text = RuleText((SpanText(first, second),), flush=True, within=within)
    names = [key if len(axes) == 1 else f"{key} {AXES[axis]}" for axis in axes]
    return [
        RuleDraft(name, "in line", [(one[axis], other[axis])], text, Fraction(0), spot)
        for name, axis in zip(names, axes, strict=True)
    ]
