"""In line: two holes or marks of two parts that shall stand opposite each other.

    name "in line with" name [ "," ] "within" length

A hole has a place on two axes, so holes are held against each other on every axis on which both
have one, each a check of its own: the screw of a vise jaw in the hole of an apron, to the side
and in height. The sentence stands among the checks, or with a joint's sentences. A `*` stands for each
copy of a part, as in other rules.

Not here: what it comes to (findings).
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import combinations, product

from fitsolve.build.assembly import AXES
from fitsolve.build.language import STARRED, Cursor, Misread, Name
from fitsolve.build.locate import Spot
from fitsolve.build.pegs import hole_marks
from fitsolve.build.rules import RuleDraft, star_block
from fitsolve.build.sentences import RuleText, SpanText
from fitsolve.build.stock import Stock
from fitsolve.lengths import Unit


def read_in_line(text: str, unit: Unit) -> tuple[Name, Name, Fraction] | None:
    """Return the two names and how far off they may be; None for any other sentence. Raises Misread."""
    cursor = Cursor(text, unit)
    try:
        first = cursor.name("a mark", STARRED)
    except Misread:
        return None
    if not (cursor.word("in") and cursor.word("line")):
        return None
    if not cursor.word("with"):
        raise cursor.here('"with" was expected here: A in line with B within L')
    second = cursor.name("a mark or a hole", STARRED)
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
    """Return a check for each axis on which both have a place, and for all copies that stars stand for.
    Raises Misread."""
    first, second, within = said
    pairs = _copies(stock, first, second)
    drafts = []
    for one, other in pairs:
        name = key
        if len(pairs) > 1:
            parts = (stock.parts[stock.part[next(iter(hole_marks(stock, name).values()))]] for name in (one, other))
            name = " ".join((key, *parts))
        drafts += _pair_drafts(stock, name, (one, other, within), spot)
    return drafts


def _copies(stock: Stock, first: Name, second: Name) -> list[tuple[Name, Name]]:
    """The two names for every copy that their stars stand for: one star, each copy; two of one part, the same
    copy, or where that is a thing with itself every pair of copies; two of two parts, every pair."""
    blocks = [star_block(stock, name) if "*" in name.text else "" for name in (first, second)]
    if not any(blocks):
        return [(first, second)]
    own = [stock.copies[block] if block else [""] for block in blocks]
    ways: Iterable[tuple[str, str]] = product(own[0], own[1])
    if blocks[0] == blocks[1]:
        ways = combinations(own[0], 2) if first.text == second.text else zip(own[0], own[0], strict=True)
    found = [(_of_copy(first, one), _of_copy(second, other)) for one, other in ways]
    if not found:
        raise Misread(f"this needs two copies of {blocks[0]}, and there is one", first.column, first.width,
                      "Name a mark or a hole of another part.")  # fmt: skip
    return found


def _of_copy(name: Name, copy: str) -> Name:
    return Name(name.text.replace("*", copy), name.column) if "*" in name.text else name


def _pair_drafts(stock: Stock, key: str, said: tuple[Name, Name, Fraction], spot: Spot) -> list[RuleDraft]:
    first, second, within = said
    one, other = hole_marks(stock, first), hole_marks(stock, second)
    if stock.part[next(iter(one.values()))] == stock.part[next(iter(other.values()))]:
        raise Misread("both belong to one part", second.column, second.width, "Holes of two parts come in line.")
    axes = [axis for axis in one if axis in other]
    if not axes:
        places = [" and ".join(AXES[axis] for axis in marks) for marks in (one, other)]
        what = f"{first.text} has its place along {places[0]}, {second.text} along {places[1]}: on no axis both"
        raise Misread(what, second.column, second.width, "Name holes, or marks along one axis.")
    text = RuleText((SpanText(first, second),), flush=True, within=within)
    names = [key if len(axes) == 1 else f"{key} {AXES[axis]}" for axis in axes]
    return [
        RuleDraft(name, "in line", [(one[axis], other[axis])], text, Fraction(0), spot)
        for name, axis in zip(names, axes, strict=True)
    ]
