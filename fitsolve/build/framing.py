"""Framing: sentences of checks of the whole frame, and the marks they mean.

    framed  = [ kind ] marks { "over" marks }                       "," "within" length
            | [ "plumb" ] name [ "/" name ] "at" name "and" "at" name  "," "within" length
            | [ "square" ] "corners" pairs { "at" name "and" }         "," "within" length
    marks   = name { "+" name }        pairs = name "/" name { "+" name "/" name }
    kind    = "wind" | "level" | "rock"

The kind may stand before the marks, or in the key: `wind = "leg.*.head, within 1/32"`. `*` stands for
all copies of a part together; of a plumb, for each by itself. `at STATION` is the mark at that station,
`outer at foot` that of `outer@foot`; of the corners of a square it is also a mark along the third axis.

Not here: where the marks stand (stand_up does that once parts are placed), what they come to (standing).
"""

from __future__ import annotations

import re
from dataclasses import field
from fractions import Fraction

from fitsolve.build.assembly import AXES, RuleKind
from fitsolve.build.language import STARRED, STARRED_TEXT, Cursor, Misread, Name, did_you_mean
from fitsolve.build.locate import Spot
from fitsolve.build.rules import RuleDraft, star_block
from fitsolve.build.sentences import RuleText
from fitsolve.build.stock import Stock
from fitsolve.lengths import Unit
from fitsolve.light import dataclass, pattern

_KINDS = ("wind", "level", "rock", "plumb", "square")
_LISTED = pattern(
    rf"\s*+{STARRED_TEXT}(?:\s*+/\s*+{STARRED_TEXT})?+\s*+(?:[+,]|over(?![\w.@-])|at(?![\w.@-])|$)"
)
_FORMS = {
    "wind": "leg.*.head, within 1/32",
    "level": "leg.*.head, within 1/16",
    "rock": "leg.*.foot, within 1/32",
    "plumb": "leg.*.outer at foot and at head, within 1/16",
    "square": "corners leg.*.outer/face at foot and at head, within 1/16",
}
_SIDEWAYS: tuple[RuleKind, ...] = ("rack", "taper")
_LEAST = {"wind": 4, "level": 2, "rock": 4}


@dataclass(frozen=True, slots=True)
class Framed:
    """A check of the frame as written; lengths in mm. `names` are marks, or pairs of a corner or an edge."""

    kind: str
    names: tuple[tuple[Name, ...], ...]
    over: tuple[Name, ...]
    stations: tuple[Name, ...]
    within: Fraction


@dataclass(slots=True)
class FrameDraft:
    """The marks of a check on its way: `base` is None where what they are measured from is not said.
    `columns` is where in its sentence they stand. `corners` are the marks along two axes of the four
    corners of a square, at each of its stations."""

    marks: list[int]
    base: list[int] | None = field(default_factory=list)
    columns: tuple[int, int] = (0, 1)
    corners: list[list[tuple[int, int]]] = field(default_factory=list)


def read_framed(text: str, unit: Unit, key: str) -> Framed | None:
    """Return a check of the frame; None for any other sentence. Raises Misread."""
    cursor = Cursor(text, unit)
    said = next((kind for kind in _KINDS if cursor.word(kind)), None)
    keyed = next((word for word in re.split(r"[-_.]", key) if word in _KINDS), None)
    if cursor.word("corners"):
        return _read(cursor, "square", pairs=True)
    if said is None and not _LISTED.match(text):
        _misspelt(text)
        return None
    kind = said or keyed
    if kind == "square":
        raise cursor.here('"corners" was expected here', f"As in: {_FORMS['square']}")
    if kind is None and _edge_follows(text):
        kind = "plumb"
    if kind is None:
        hint = f'Say it before them or in the key, as in: wind = "{_FORMS["wind"]}". There are: {", ".join(_KINDS)}.'
        cursor.name("a mark", STARRED)
        raise cursor.here("what is checked of these marks?", hint)
    return _read(cursor, kind, pairs=kind == "plumb")


def _misspelt(text: str) -> None:
    """Raise Misread where a sentence begins with a word that is nearly one of these checks."""
    match = re.match(r"\s*+([^\W\d_][\w-]*+)\s++(?=[^\W\d_])", text)
    if match is None or match[1] in _KINDS:
        return
    hint = did_you_mean(match[1], (*_KINDS, "corners"))
    if hint:
        raise Misread(f'no check of the frame is called "{match[1]}"', match.start(1), len(match[1]), hint)


def _edge_follows(text: str) -> bool:
    """Whether marks are followed by `at`, as an edge is."""
    match = _LISTED.match(text)
    return match is not None and match.group().endswith("at")


def _read(cursor: Cursor, kind: str, pairs: bool) -> Framed:
    names = [_marks(cursor, pairs)]
    while kind != "plumb" and cursor.literal("+"):
        names.append(_marks(cursor, pairs))
    over: list[Name] = []
    if kind == "level" and cursor.word("over"):
        over.append(cursor.name("a mark it stands on", STARRED))
        while cursor.literal("+"):
            over.append(cursor.name("a mark it stands on", STARRED))
    stations = _stations(cursor, kind)
    within = _within(cursor, kind)
    return Framed(kind, tuple(names), tuple(over), stations, within)


def _marks(cursor: Cursor, pairs: bool) -> tuple[Name, ...]:
    """A mark; or for a corner or an edge, its mark along one axis and that along another."""
    first = cursor.name("a mark", STARRED)
    if not pairs or not cursor.literal("/"):
        return (first,)
    return first, cursor.name("its mark along the other axis", STARRED)


def _stations(cursor: Cursor, kind: str) -> tuple[Name, ...]:
    """`at foot and at head`: two for an edge, any number for corners, none else."""
    found: list[Name] = []
    if kind in ("plumb", "square"):
        while cursor.word("at"):
            found.append(cursor.name("a station", STARRED))
            if not cursor.word("and"):
                break
            if cursor.peek() and not cursor.text.startswith("at", cursor.at):
                raise cursor.here('"at" was expected here: at foot and at head', f"As in: {_FORMS[kind]}")
    if kind == "plumb" and len(found) != 2:
        raise cursor.here("an edge is plumb between two stations: at A and at B", f"As in: {_FORMS['plumb']}")
    for one in found:
        if "*" in one.text or "@" in one.text:
            raise Misread("a station is a plain name", one.column, one.width, "As in at foot and at head.")
    if len({one.text for one in found}) < len(found):
        raise Misread("one station stands twice here", found[-1].column, found[-1].width, "Name two.")
    return tuple(found)


def _within(cursor: Cursor, kind: str) -> Fraction:
    cursor.literal(",")
    if not cursor.word("within"):
        raise cursor.here("within L was expected here", f"As in: {_FORMS[kind]}")
    cursor.peek()
    at = cursor.at
    within = cursor.length()
    if not within:
        hint = "As in within 1/16: nothing is proven exact."
        raise Misread("a within of 0 can't be weighed", at, cursor.at - at, hint)
    if cursor.peek():
        raise cursor.here("the end of the sentence was expected here")
    return within


# -- the marks they mean -----------------------------------------------------------------------


def frame_drafts(stock: Stock, key: str, said: Framed, spot: Spot) -> list[RuleDraft]:
    """Return the checks of one sentence. Raises Misread."""
    if said.kind == "plumb":
        return _plumb(stock, key, said, spot)
    if said.kind == "square":
        return _square(stock, key, said, spot)
    found = [(name, stock.mark(name)) for (name, *_) in said.names for name in copies_of(stock, name)]
    _one_axis(stock, said.kind, found)
    few = _too_few(said.kind, len(found))
    if few:
        raise Misread(few, *_columns(said), f"As in: {_FORMS[said.kind]}")
    base: list[int] | None = None if said.kind == "level" else []
    if said.over:
        over = [(name, stock.mark(name)) for one in said.over for name in copies_of(stock, one)]
        _one_axis(stock, "level", over)
        base = [mark for _, mark in over]
    draft = FrameDraft([mark for _, mark in found], base, _columns(said))
    return [_draft(key, said.kind, said, spot, draft)]  # type: ignore[arg-type]


def _draft(name: str, kind: RuleKind, said: Framed, spot: Spot, frame: FrameDraft | None) -> RuleDraft:
    return RuleDraft(name, kind, [], RuleText((), within=said.within), None, spot, frame)


def _columns(said: Framed) -> tuple[int, int]:
    """Where the names stand: column and width."""
    first, last = said.names[0][0], said.names[-1][-1]
    return first.column, last.column + last.width - first.column


def copies_of(stock: Stock, name: Name) -> list[Name]:
    """Return the name for each copy that its star stands for; itself where it has none. Raises Misread."""
    if "*" not in name.text:
        return [name]
    block = star_block(stock, name)
    return [Name(name.text.replace(".*.", f".{copy}.", 1), name.column) for copy in stock.copies[block]]


def _one_axis(stock: Stock, kind: str, found: list[tuple[Name, int]]) -> None:
    """The marks lie along one axis, are different, and are as many as it takes. Raises Misread."""
    first = found[0][1]
    seen: set[int] = set()
    for name, mark in found:
        if stock.axis[mark] != stock.axis[first]:
            what = (
                f"{stock.name[first]} lies along {AXES[stock.axis[first]]}, "
                f"{stock.name[mark]} along {AXES[stock.axis[mark]]}: these marks lie along one axis"
            )
            raise Misread(what, name.column, name.width, "Each axis is a check of its own.")
        if mark in seen:
            raise Misread(f"{stock.name[mark]} stands twice here", name.column, name.width, "Name each mark once.")
        seen.add(mark)
    name = found[0][0]
    width = found[-1][0].column + found[-1][0].width - name.column
    if kind in ("level", "rock") and stock.axis[first] != 2:
        what = f"{stock.name[first]} lies along {AXES[stock.axis[first]]}: {kind} is about heights, along z"
        raise Misread(what, name.column, name.width, "For marks along x or y there are wind, parallel and plumb.")
    from fitsolve.build.standing import FEET_MOST, MARKS_MOST

    most = FEET_MOST if kind == "rock" else MARKS_MOST
    if len(found) > most:
        what = f"these are {len(found)} marks: name {most} at most"
        raise Misread(what, name.column, width, "Those at the corners tell most.")


def _too_few(kind: str, count: int) -> str:
    """What is wrong with so few marks; nothing where they are enough."""
    if count >= _LEAST[kind]:
        return ""
    if kind == "level":
        return "one mark is level with itself: name two or more"
    why = "on three feet nothing rocks" if kind == "rock" else "three marks lie in one plane always"
    return f"this names {count} mark{'' if count == 1 else 's'}, and {why}: name four or more"


def _plumb(stock: Stock, key: str, said: Framed, spot: Spot) -> list[RuleDraft]:
    """A check for each edge of each copy: how far it leans from one station to the other."""
    found: list[tuple[str, str, tuple[int, int]]] = []
    (names,) = said.names
    for name in copies_of(stock, names[0]):
        own = _edge(stock, name, None, said.stations)
        pairs = [own]
        if len(names) > 1:
            pairs.append(_edge(stock, names[1], own[0], said.stations))
            if stock.axis[pairs[1][0]] == stock.axis[own[0]]:
                what = " and ".join(stock.name[pair[0]].partition("@")[0] for pair in pairs) + " lie along one axis"
                raise Misread(what, names[1].column, names[1].width, "Name a mark along the other axis.")
        found += [(stock.parts[stock.part[a]], AXES[stock.axis[a]], (a, b)) for a, b in pairs]
    several, both = len({part for part, _, _ in found}) > 1, len(names) > 1
    drafts = []
    for part, axis, edge in found:
        words = [key, *([part] if several else []), *([axis] if both else [])]
        text = RuleText((), flush=True, within=said.within)
        drafts.append(RuleDraft(" ".join(words), "plumb", [edge], text, Fraction(0), spot))
    return drafts


def _edge(stock: Stock, name: Name, beside: int | None, stations: tuple[Name, ...]) -> tuple[int, int]:
    """The marks of an edge at its two stations. Raises Misread."""
    marks = []
    for station in stations:
        whole = Name(f"{name.text}@{station.text}", name.column)
        if "@" in name.text:
            raise Misread("this has its station already", name.column, name.width, "Name the mark: at says where.")
        marks.append(stock.mark(whole) if beside is None else stock.beside(beside, whole))
    if stock.axis[marks[0]] == 2:
        what = f"{stock.name[marks[0]].partition('@')[0]} lies along z: an edge is out of plumb to the side"
        raise Misread(what, name.column, name.width, "Name a mark along x or y.")
    return marks[0], marks[1]


def _square(stock: Stock, key: str, said: Framed, spot: Spot) -> list[RuleDraft]:
    """Rack, taper and wind at each station, and the twist from the first station to the last. Raises Misread."""
    stations: tuple[Name | None, ...] = said.stations or (None,)
    corners = [_corners(stock, said, station) for station in stations]
    drafts = []
    for station, own in zip(stations, corners, strict=True):
        name = f" {station.text}" if station and len(stations) > 1 else ""
        for kind in _SIDEWAYS:
            frame = FrameDraft([], columns=_columns(said), corners=[own])
            drafts.append(_draft(f"{key} {kind}{name}", kind, said, spot, frame))
        heights = _heights(stock, own, station, spot)
        if heights:
            frame = FrameDraft(heights, columns=_columns(said), corners=[own])
            drafts.append(_draft(f"{key} wind{name}", "wind", said, spot, frame))
    if len(stations) > 1:
        frame = FrameDraft([], columns=_columns(said), corners=[corners[0], corners[-1]])
        drafts.append(_draft(f"{key} twist", "twist", said, spot, frame))
    return drafts


def _corners(stock: Stock, said: Framed, station: Name | None) -> list[tuple[int, int]]:
    """The marks of the four corners at a station, that along the earlier axis first. Raises Misread."""
    at = f"@{station.text}" if station else ""
    found = []
    for pair in said.names:
        if len(pair) < 2:
            what = f"{pair[0].text} is one mark: a corner has two, along two axes"
            raise Misread(what, pair[0].column, pair[0].width, f"As in: {_FORMS['square']}")
        for name in copies_of(stock, pair[0]):
            if at and any("@" in one.text for one in pair):
                raise Misread("this has its station already", name.column, name.width, "Leave at out, or the @.")
            first = stock.mark(Name(f"{name.text}{at}", name.column))
            second = stock.beside(first, Name(f"{pair[1].text}{at}", pair[1].column))
            if stock.axis[first] == stock.axis[second]:
                what = f"{stock.name[first]} and {stock.name[second]} lie along one axis"
                raise Misread(what, pair[1].column, pair[1].width, "A corner is a mark on each of two axes.")
            found.append((first, second) if stock.axis[first] < stock.axis[second] else (second, first))
    column, width = _columns(said)
    if len(found) != 4:
        what = f"a square has four corners, and this names {len(found)}"
        raise Misread(what, column, width, f"As in: {_FORMS['square']}")
    if len({tuple(stock.axis[mark] for mark in corner) for corner in found}) > 1:
        raise Misread("these corners do not lie along the same two axes", column, width, "Name marks of the same two.")
    if len(set(found)) < 4:
        raise Misread("one corner stands twice here", column, width, "Name four.")
    if any(len({corner[k] for corner in found}) < 4 for k in range(2)):
        what = "two of these corners share a mark, so nothing could differ between them"
        raise Misread(what, column, width, "Name each mark where it is: top.left@front/front@left.")
    return found


def _stations_there(stock: Stock, corners: list[tuple[int, int]], third: int) -> str:
    """Which station could be named: a mark along the third axis that the part of each corner has."""
    parts = [stock.part[first] for first, _ in corners]
    own = [mark for mark in stock.members[parts[0]] if stock.axis[mark] == third and stock.station_of[mark] is None]
    names = [stock.name[mark][len(stock.parts[parts[0]]) + 1 :] for mark in own]
    shared = [name for name in names if all(f"{stock.parts[part]}.{name}" in stock.index for part in parts)]
    if not shared or len(set(parts)) < 4:
        return f"Wanted? As a check of its own: {_FORMS['wind']}."
    return f"Wanted? Name a station, as in: {' or '.join(f'at {name}' for name in shared[:3])}."


def _heights(stock: Stock, corners: list[tuple[int, int]], station: Name | None, spot: Spot) -> list[int]:
    """The marks along the third axis at a station; none, with a notice, where the station is no such mark."""
    third = ({0, 1, 2} - {stock.axis[mark] for mark in corners[0]}).pop()
    if station is None:
        what = "without a station along the third axis these corners tell rack and taper, and no wind"
        stock.notices.append(spot.problem(what, _stations_there(stock, corners, third), level="notice"))
        return []
    found = [stock.index.get(f"{stock.parts[stock.part[first]]}.{station.text}") for first, _ in corners]
    marks = [mark for mark in found if mark is not None and stock.axis[mark] == third]
    if len(marks) == len(set(marks)) == 4:
        return marks
    what = f"{station.text} is no mark along {AXES[third]} of each corner's part: these corners tell no wind there"
    column, width = station.column, station.width
    stock.notices.append(spot.problem(what, f"Name a mark along {AXES[third]}.", column, width, "notice"))
    return []
