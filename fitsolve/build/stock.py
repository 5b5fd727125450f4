"""Stock: every copy of every part, with all its marks, before the parts are put together.

A part is drawn once and may be copied; a copy may be handed, which turns an axis around:
position p becomes -p, and every length stays positive. A mark gets a number, a whole name
(`leg.fl.low.cheek-o`, or `top.left` for a part without copies) and a place `at` along its
axis, exact, in mm, counted within its own part.

A station (`outer@foot`) with no run of its own is made when a sentence names it: it lies where
its mark lies, or on the slanted face that it belongs to (faces).

Names are looked up here too: a whole name, or one that stands beside another.

Not here: what runs add up to (sums), where parts lie against each other (place).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.assembly import AXES, Axis, Distance
from fitsolve.build.language import STARRED, UNIT_WORDS, Misread, Name, Run, did_you_mean, read_run
from fitsolve.build.locate import Path, Spot, shown
from fitsolve.build.sums import Axle, Rules, add_up, misread_problems
from fitsolve.errors import Place, Problem

if TYPE_CHECKING:
    from fitsolve.build.bridges import Bridge
    from fitsolve.build.holes import HoleRuns
    from fitsolve.build.plan import PartTable, Plan
    from fitsolve.build.slopes import SlopeDraft
    from fitsolve.build.slopetext import SlopeText

HANDS = {
    "as drawn": "",
    "left for right": "x",
    "front for rear": "y",
    "top for bottom": "z",
    "both": "xy",
}
_LISTED = 12
_SUGGESTIONS_MOST = 50


class Stock:
    """All parts and marks of a plan; lists run over marks, `members` and `turned`
    (the axes that a handed copy turns around) over parts."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.number: dict[str, int] = {}
        self.block_of: list[str] = []
        self.copies: dict[str, list[str]] = {}
        self.members: list[list[int]] = []
        self.turned: list[str] = []
        self.damaged: set[str] = set()
        self.name: list[str] = []
        self.part: list[int] = []
        self.axis: list[int] = []
        self.at: list[Fraction] = []
        self.station_of: list[int | None] = []
        self.index: dict[str, int] = {}
        self.runs: list[tuple[int, ...]] = []
        self.distances: list[Distance] = []
        self.spots: dict[str, Spot] = {}
        self.notices: list[Problem] = []
        self.unknown_names = 0
        self.faces: dict[str, list[SlopeDraft]] = {}
        self.on_faces: list[SlopeDraft] = []

    # -- marks -----------------------------------------------------------------------------

    def add(self, name: str, part: int, axis: int, at: Fraction, station_of: int | None = None) -> int:
        """Add a mark and return its number."""
        mark = len(self.name)
        self.name.append(name)
        self.part.append(part)
        self.axis.append(axis)
        self.at.append(at)
        self.station_of.append(station_of)
        self.index[name] = mark
        self.members[part].append(mark)
        return mark

    def within(self, mark: int) -> str:
        """Return a mark's name without its part."""
        return self.name[mark][len(self.parts[self.part[mark]]) + 1 :]

    def copies_of(self, block: str) -> list[str]:
        """Return the whole names of a part's copies."""
        return [f"{block}.{copy}" if copy else block for copy in self.copies.get(block, ())]

    # -- names -------------------------------------------------------------------------------

    def known(self, text: str) -> int | None:
        """Return the mark of a whole name, making its station if need be; None where there is none."""
        mark = self.index.get(text)
        if mark is not None or "@" not in text:
            return mark
        slanted = text.partition("@")[0] in self.faces
        if slanted and (on_face := self._on_face(text)) is not None:
            return on_face
        base = self.index.get(text.partition("@")[0])
        if base is None:
            return None
        station = text.partition("@")[2]
        doubt = station_doubt(station, self.parts[self.part[base]], map(self.within, self.members[self.part[base]]))
        mark = self.add(text, self.part[base], self.axis[base], self.at[base], base)
        if doubt:
            spot = self.spots[self.block_of[self.part[base]]]
            self.notices.append(spot.problem(*doubt, level="notice"))
        if slanted and (mend := self._beyond(text, mark)):
            spot = self.faces[text.partition("@")[0]][0].spot
            what = f"{self.within(mark)} lies beyond this slope: taken where {self.within(base)} lies"
            if all(other.what != what for other in self.notices):
                self.notices.append(spot.problem(what, mend, 0, len(spot.text), "warning"))
        return mark

    def _on_face(self, name: str) -> int | None:
        from fitsolve.build.faces import station_on_face

        return station_on_face(self, name)

    def _beyond(self, name: str, mark: int | None = None) -> str:
        from fitsolve.build.faces import beyond

        return beyond(self, name, mark)

    def mark(self, name: Name) -> int:
        """Return the mark of a whole name. Raises Misread."""
        mark = self.known(name.text)
        if mark is None:
            raise self.unknown(name, name.text)
        return mark

    def beside(self, first: int, name: Name) -> int:
        """Return the mark a second name means: beside the first, else in its part, else whole."""
        part = self.parts[self.part[first]]
        parent = self.name[first].partition("@")[0].rpartition(".")[0]
        for candidate in dict.fromkeys((f"{parent}.{name.text}", f"{part}.{name.text}", name.text)):
            mark = self.known(candidate)
            if mark is None:  # a hole has a mark on each of its axes
                mark = self.index.get(f"{candidate}.{AXES[self.axis[first]]}")
            if mark is not None:
                return mark
        whole = self._names_a_part(part, name.text)
        raise self.unknown(name, name.text if whole else f"{part}.{name.text}")

    def _names_a_part(self, part: str, text: str) -> bool:
        """Whether a name that is no mark of a part begins with the name of another, if of one that is not there:
        no mark of the part begins so, or is nearly called so."""
        block, dot, _ = text.partition(".")
        if not dot or block in self.copies:
            return bool(dot)
        marks = [self.within(mark) for mark in self.members[self.number[part]]]
        return all(block not in mark.split(".")[:-1] for mark in marks) and not self.meant(text, marks, "")

    def meant(self, name: str, known: Iterable[str], otherwise: str) -> str:
        """Return what may have been meant; nothing where so many names are unknown that it would take long."""
        return did_you_mean(name, known, otherwise) if self.unknown_names <= _SUGGESTIONS_MOST else ""

    def unknown(self, name: Name, text: str) -> Misread:
        """Return what is wrong with a name that no mark has; `text` is how it was understood."""
        block, _, rest = text.partition(".")
        self.unknown_names += 1
        if block not in self.copies:
            what = f'there is no part "{shown(block)}"'
            hint = self.meant(block, self.copies, f"There are: {_list(self.copies)}.")
            return Misread(what, name.column, name.width, hint, silent=block in self.damaged)
        silent = block in self.damaged
        copies = self.copies[block]
        part = block
        if copies != [""]:
            copy, _, rest = rest.partition(".")
            part = f"{block}.{copy}"
            if copy not in copies:
                what = f'part.{block} has no copy "{shown(copy)}"' if copy else f"{block} has copies: say which"
                hint = self.meant(copy, copies, f"Its copies: {_list(copies)}.")
                return Misread(what, name.column, name.width, hint, silent=silent)
        few = self.unknown_names <= _SUGGESTIONS_MOST
        marks = [self.within(mark) for mark in self.members[self.number[part]]] if few else []
        what = f'{part} has no mark "{shown(rest)}"' if rest else f"a mark of {part} was expected, not the part"
        hint = self._beyond(f"{part}.{rest}") if f"{part}.{rest}".partition("@")[0] in self.faces else ""
        hint = hint or self.meant(rest, marks, f"It has: {_list(marks)}." if marks else "It has no marks at all.")
        misread = Misread(what, name.column, name.width, hint, silent=silent)
        misread.alike = f"{block} {rest}"
        return misread


def named_by(marks: Iterable[str], station: str) -> bool:
    """Whether a mark is what stands behind an @, or begins so."""
    return any(mark == station or (mark.startswith(station) and mark[len(station)] in ".-") for mark in marks)


def station_doubt(station: str, part: str, marks: Iterable[str]) -> tuple[str, str] | None:
    """Return what is odd about a station that is no mark of its part and no beginning of one."""
    known = list(dict.fromkeys(mark.partition("@")[0] for mark in marks))
    if named_by(known, station) or all(named_by(known, word) for word in station.split(".")):
        return None
    what = f'{part} has no mark, and no beginning of one, called "{shown(station)}"; the station was kept'
    return what, did_you_mean(station, {*known, *(mark.partition(".")[0] for mark in known)})


def _list(names: Iterable[str]) -> str:
    names = list(names)
    text = ", ".join(shown(name, 40) for name in names[:_LISTED])
    return f"{text} and {len(names) - _LISTED} more" if len(names) > _LISTED else text


# -- from the plan ---------------------------------------------------------------------------


def take_stock(plan: Plan, rules: Rules, problems: list[Problem]) -> Stock:
    """Return all parts of a plan with their marks; what is wrong is added to `problems`."""
    stock = Stock()
    stock.damaged |= plan.damaged_parts
    for block, table in plan.part.items():
        _Drawing(plan, block, table, rules, problems).into(stock)
    return stock


class _Drawing:
    """One part as drawn, on its way into the stock."""

    def __init__(self, plan: Plan, block: str, table: PartTable, rules: Rules, problems: list[Problem]) -> None:
        self.plan, self.block, self.table, self.rules, self.problems = plan, block, table, rules, problems
        self.path: Path = ("part", block)
        self.sound = True
        self.places: dict[int, list[Place]] = {}

    def into(self, stock: Stock) -> None:
        stock.spots[self.block] = self.plan.source.spot(self.path, "")
        fault = name_fault(self.block, "part")
        if fault:
            self.wrong(self.plan.source.key_place(self.path), *fault)
        axles = self.axles()
        self.one_axis_each(axles)
        copies = self.copies()
        stock.copies[self.block] = list(copies)
        if not self.sound:
            stock.damaged.add(self.block)
        for copy, turned in copies.items():
            self.copy_into(stock, copy, turned, axles)

    def wrong(self, place: Place, what: str, hint: str) -> None:
        self.sound = False
        self.problems.append(Problem(place, what, hint))

    def axles(self) -> dict[int, Axle]:
        """The axes that have runs which can be used, with the holes on them."""
        lines = [self.lines(k) for k in range(3)]
        if self.table.holes:
            for axis, runs in self.holes(lines).items():
                lines[axis] = [*(lines[axis] or ()), *runs]
        return self.added_up(lines, self.problems)

    def added_up(self, lines: list[list[tuple[Run, Spot]] | None], problems: list[Problem]) -> dict[int, Axle]:
        """All axes worked out; runs that share no mark may be tied by a slope."""
        if not self.table.slopes:
            return {k: axle for k in range(3) if (axle := self.axle(k, lines[k], problems)) is not None}
        from fitsolve.build.bridges import added_up

        return added_up(lines, self.slopes(), lambda k, bridges: self.axle(k, lines[k], problems, bridges))

    def slopes(self) -> list[tuple[SlopeText, Spot]]:
        """The slopes that can be read, with their spots."""
        from fitsolve.build.bridges import read_quietly

        spots = [self.plan.source.spot((*self.path, "slopes", k), text) for k, text in enumerate(self.table.slopes)]
        return read_quietly(zip(self.table.slopes, spots, strict=True), self.rules.unit)

    def holes(self, lines: list[list[tuple[Run, Spot]] | None]) -> HoleRuns:
        """The runs that holes add, read against the axes as they are without them."""
        from fitsolve.build.holes import Bench, hole_runs

        bare = self.added_up(lines, [])
        if not self.sound:  # an axis can't be used, which is said where it is worked out
            self.sound = True
            return {}
        slanted = None
        if self.table.slopes:
            from fitsolve.build.bridges import Slanted

            slanted = Slanted(self.slopes(), bare)
        bench = Bench(f"part.{self.block}", bare, self.plan.source, self.rules.unit, self.path, slanted)
        found = hole_runs(self.table.holes, bench, self.problems)
        self.sound = found is not None
        return found or {}

    def axle(
        self,
        number: int,
        runs: list[tuple[Run, Spot]] | None,
        problems: list[Problem],
        bridges: Sequence[Bridge] = (),
    ) -> Axle | None:
        """One axis worked out; None where there are no runs along it, or they can't be used."""
        if not runs:
            self.sound = self.sound and runs is not None
            return None
        axle = add_up(self.block, AXES[number], runs, self.rules, problems, bridges)
        self.sound = self.sound and axle is not None
        return axle

    def lines(self, number: int) -> list[tuple[Run, Spot]] | None:
        """The runs along one axis; None where one of them can't be read, which is said."""
        axis = AXES[number]
        texts: list[str] = getattr(self.table, axis)
        runs: list[tuple[Run, Spot]] = []
        sound = True
        for k, text in enumerate(texts):
            spot = self.plan.source.spot((*self.path, axis, k), text)
            misread: list[Misread] = []
            run = read_run(text, self.rules.unit, misread)
            self.problems += misread_problems(spot, misread)
            if run is None:
                sound = False
            else:
                sound = sound and not misread
                runs.append((run, spot))
        return runs if sound else None

    def one_axis_each(self, axles: dict[int, Axle]) -> None:
        """A mark's name says its axis, so it may stand on one only."""
        seen: dict[str, int] = {}
        for number, axle in axles.items():
            for mark in axle.marks:
                if mark in seen:
                    first, second = AXES[seen[mark]], AXES[number]
                    what = f"{shown(mark)} stands along {first} and along {second} of part.{self.block}"
                    hint = "A mark lies along one axis: give one of the two another name."
                    self.wrong(self.in_a_run(second, mark), what, hint)
                seen.setdefault(mark, number)

    def in_a_run(self, axis: str, mark: str) -> Place:
        """Where a mark first stands in the runs along an axis; where only a hole makes it, the axis."""
        path = (*self.path, axis)
        for number, text in enumerate(getattr(self.table, axis)):
            match = re.search(rf"(?<![\w.@-]){re.escape(mark)}(?![\w.@-])", text)
            if match:
                return self.plan.source.spot((*path, number), text).place(match.start(), len(mark))
        return self.plan.source.key_place(path)

    def copies(self) -> dict[str, str]:
        """The copies and the axes that each turns around; one nameless copy where there are none."""
        given = self.table.copies
        if given is None:
            return {"": ""}
        path = (*self.path, "copies")
        if not given:
            self.wrong(self.plan.source.key_place(path), "there are no copies in this list", "Leave copies out.")
            return {}
        if isinstance(given, list):
            for name in [name for name, times in Counter(given).items() if times > 1]:
                again = given.index(name, given.index(name) + 1)
                place = self.plan.source.key_place((*path, again))
                self.wrong(place, f'the copy "{shown(name)}" stands twice', "Give each copy its own name.")
        listed = given if isinstance(given, list) else []
        turned = {}
        for copy, hand in (dict.fromkeys(listed, "as drawn") if isinstance(given, list) else given).items():
            fault = name_fault(copy, "copy")
            if fault:
                self.wrong(self.plan.source.key_place((*path, listed.index(copy) if listed else copy)), *fault)
            turned[copy] = self.turned((*path, copy), hand)
        return turned

    def turned(self, path: Path, hand: str) -> str:
        """The axes that a handed copy turns around."""
        axes: set[str] = set()
        spot = self.plan.source.spot(path, hand)
        start = 0
        for word in hand.split(","):
            plain = " ".join(word.split())
            if plain not in HANDS:
                column = start + len(word) - len(word.lstrip())
                hint = did_you_mean(plain, HANDS, f"There are: {', '.join(HANDS)}; several with commas.")
                place = spot.place(column, max(1, len(word.strip())))
                self.wrong(place, f'"{shown(plain)}" is no way to hand a copy', hint)
            else:
                axes ^= set(HANDS[plain])
            start += len(word) + 1
        return "".join(sorted(axes))

    def copy_into(self, stock: Stock, copy: str, turned: str, axles: dict[int, Axle]) -> None:
        name = f"{self.block}.{copy}" if copy else self.block
        part = len(stock.parts)
        stock.parts.append(name)
        stock.number[name] = part
        stock.block_of.append(self.block)
        stock.members.append([])
        stock.turned.append(turned)
        for axis, axle in axles.items():
            sign = -1 if AXES[axis] in turned else 1
            first = len(stock.name)
            numbers: list[int] = []
            for k, mark in enumerate(axle.marks):
                whole = f"{name}.{mark}"
                if whole in stock.index:  # stands along two axes, which has been said
                    numbers.append(stock.index[whole])
                else:
                    numbers.append(stock.add(whole, part, axis, axle.at[k] if sign > 0 else -axle.at[k]))
            assert first <= len(stock.name)
            stock.runs += [tuple(numbers[mark] for mark in run) for run in axle.runs]
            self.distances_into(stock, name, AXES[axis], sign, (axle, numbers))

    def places_of(self, axle: Axle) -> list[Place]:
        """Where the distances stand in the plan, for all copies alike."""
        key = id(axle)
        if key not in self.places:
            self.places[key] = [reach.spot.place(reach.step.column, reach.step.width) for reach in axle.reaches]
        return self.places[key]

    def distances_into(self, stock: Stock, part: str, axis: Axis, sign: int, drawn: tuple[Axle, list[int]]) -> None:
        axle, numbers = drawn
        usual = None if self.rules.give is None else float(self.rules.give)
        for reach, place in zip(axle.reaches, self.places_of(axle), strict=True):
            conditions = reach.conditions
            limits = conditions.limits
            stock.distances.append(
                Distance(
                    part,
                    axis,
                    numbers[reach.start],
                    numbers[reach.end],
                    sign,
                    float(reach.length),
                    usual if conditions.give is None else float(conditions.give),
                    conditions.hold,
                    None if limits is None else float(limits[0]),
                    None if limits is None else float(limits[1]),
                    None if conditions.finest is None else float(conditions.finest),
                    place,
                )
            )


def name_fault(name: str, what: str) -> tuple[str, str] | None:
    """Return what is wrong with the name of a part, a copy, a fit or a tool, or None where nothing is."""
    match = STARRED.fullmatch(name if what != "copy" else f"a.{name}")
    first = "a letter or a digit" if what == "copy" else "a letter"
    hint = f"Names are letters, digits and hyphens, and begin with {first}."
    if match is None or "*" in name or "." in name or "@" in name or not (name[:1].isalpha() or what == "copy"):
        return f'"{shown(name)}" can\'t be the name of a {what}', hint
    if what == "fit" and name in UNIT_WORDS:
        return f'"{name}" is a unit and can\'t be the name of a fit', hint
    return None


def nameless(what: str) -> tuple[str, str]:
    """Return what is wrong with a joint, a keep or a check whose key is nothing but blanks, and what to do."""
    return f"this {what} has no name", "It is called by its key: write a word there."
