"""Slopes: two marks of a part that lie on a slanted line, such as the side of a half dovetail.

A slope `A@P..B@Q r:R` ties four marks over two axes: along its own axis A@P and B@Q, along the
other the marks P and Q that their stations are named after,

    at(B@Q) - at(A@P) = s (at(Q) - at(P)),       s = + or - r / R.

Where the runs give both ends a place, they say which way it slants, and have to agree with it to
half of `finest`. An end without a run is put where the slope leads from the other end; then the
sentence says which way, as the part is drawn. A handed copy that turns one of the two axes around
has the other sign.

Not here: how a slope is written (slopetext), what it means for wood (graph).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from fitsolve.build.assembly import AXES, SHARES, Slope
from fitsolve.build.language import Misread, Name
from fitsolve.build.locate import Spot
from fitsolve.build.slopetext import TOWARD, SlopeText, read_slope, unsaid_way
from fitsolve.build.stock import Stock
from fitsolve.build.sums import Rules
from fitsolve.errors import Problem
from fitsolve.light import dataclass
from fitsolve.written import write_length

if TYPE_CHECKING:
    from fitsolve.build.plan import Plan


@dataclass(slots=True)
class SlopeDraft:
    """A slope of one copy: at(end) - at(start) = ratio (at(run_end) - at(run_start)). `placed` is
    the end that lies where the slope leads, None where both have runs of their own."""

    part: str
    start: int
    end: int
    run_start: int
    run_end: int
    ratio: Fraction
    angle: str
    placed: int | None
    spot: Spot
    whole: SlopeDraft | None = None
    share: Fraction = Fraction(0)
    give: Fraction | None = None
    crossing: bool = False

    @property
    def marks(self) -> tuple[int, int, int, int]:
        """Its ends, and the marks of its run."""
        return self.start, self.end, self.run_start, self.run_end

    def worked_out(self) -> Slope:
        """Return the slope as the assembly has it."""
        whole = None if self.whole is None else self.whole.marks
        said = (float(self.ratio), self.angle, self.placed, self.spot.place())
        give = None if self.give is None else float(self.give)
        share = self.share.limit_denominator(SHARES)
        shares = (share.numerator, share.denominator)
        return Slope(self.part, *self.marks, *said, whole, *shares, self.crossing, give)


def read_slopes(plan: Plan, stock: Stock, rules: Rules, problems: list[Problem]) -> list[SlopeDraft]:
    """Return the slopes of all copies, their ends put in place; what is wrong is added to `problems`."""
    drafts: list[SlopeDraft] = []
    led: dict[int, int] = {}
    for block, table in plan.part.items():
        leaning = _Leaning(stock, rules, led)
        for k, text in _faces_first(table.slopes):
            spot = plan.source.spot(("part", block, "slopes", k), text)
            try:
                slope = read_slope(text, rules.unit)
                parts = [stock.number[name] for name in stock.copies_of(block)]
                found = [leaning.draft(slope, part, spot) for part in parts]
            except Misread as misread:
                if not (misread.silent or block in stock.damaged):
                    problems.append(spot.problem(misread.what, misread.hint, misread.column, misread.width))
                continue
            drafts += leaning.once(found, problems)
            problems += [one for one in leaning.unsaid(slope, found, spot) if one not in problems]
        drafts += leaning.crossed
    if drafts:
        from fitsolve.build.faces import keep_straight

        keep_straight(stock, drafts, led, rules, problems)
    return drafts


def _faces_first(texts: Sequence[str]) -> list[tuple[int, str]]:
    """The slopes of a part with their numbers, those last whose runs end on faces that others slant."""
    ends = [[name for name in re.split(r"\.\.|\s", text)[:2] if "@" in name] for text in texts]
    slanted = {names[0].partition("@")[0] for names in ends if len(names) == 2}
    runs = [{name.partition("@")[2] for name in names} for names in ends]
    return sorted(enumerate(texts), key=lambda one: bool(runs[one[0]] & slanted))


class _Leaning:
    """The slopes of one part, one after another: which of its marks have a place already."""

    def __init__(self, stock: Stock, rules: Rules, led: dict[int, int]) -> None:
        self.stock, self.rules, self.led = stock, rules, led
        self.placed: set[int] = set()
        self.faces: dict[str, list[SlopeDraft]] = {}
        self.crossed: list[SlopeDraft] = []
        self.before: dict[frozenset[int], SlopeDraft] = {}

    def draft(self, slope: SlopeText, part: int, spot: Spot) -> SlopeDraft:
        """One slope of one copy, the end without a place put where the slope leads."""
        start, end = self.ends(part, slope)
        slanted = [self.slanted(part, name, start) for name in (slope.start, slope.end)]
        draft = (self.crossing if any(slanted) else self.straight)(slope, part, (start, end), spot)
        base = self.stock.name[start].partition("@")[0]
        if base == self.stock.name[end].partition("@")[0]:
            self.faces.setdefault(base, []).append(draft)
        return draft

    def straight(self, slope: SlopeText, part: int, ends: tuple[int, int], spot: Spot) -> SlopeDraft:
        """A slope whose run lies between two marks."""
        stock, (start, end) = self.stock, ends
        run_start, run_end = self.along(part, slope.start), self.along(part, slope.end)
        self.two_axes(slope, ends, (run_start, run_end))
        run = stock.at[run_end] - stock.at[run_start]
        if run == 0:
            what = f"{stock.within(run_start)} and {stock.within(run_end)} lie in one place: there is no run"
            hint = "Behind the two @ stand two marks that lie some way apart."
            raise Misread(what, slope.start.column, slope.end.column + slope.end.width - slope.start.column, hint)
        placed = self.to_place(ends)
        ratio = self.ratio(slope, part, ends, run, placed is not None)
        if not any(self.has_place(mark) for mark in ends):
            self.lead(start, run_start, ratio)
        if placed is not None:
            other = start if placed == end else end
            self.put(placed, stock.at[other] + ratio * (run if placed == end else -run))
        return self.drafted(slope, ends, (run_start, run_end), (ratio, placed), spot)

    def crossing(self, slope: SlopeText, part: int, ends: tuple[int, int], spot: Spot) -> SlopeDraft:
        """A slope whose run ends on slanted faces: see the module of that name."""
        from fitsolve.build.crossing import face_here, on_face, other_end

        stock, names = self.stock, (slope.start, slope.end)
        placed = self.to_place(ends)
        known, other = (1, 0) if placed == ends[0] else (0, 1)

        def run_at(k: int, at: Fraction) -> tuple[SlopeDraft | None, Fraction]:
            faces = self.slanted(part, names[k], ends[0])
            if not faces:
                return None, stock.at[self.along(part, names[k])]
            face = face_here(stock, faces, at, names[k], beyond=k == other)
            return face, stock.at[face.start] + face.ratio * (at - stock.at[face.run_start])

        at = stock.at[ends[known]]
        start = run_at(known, at)[1]
        far = run_at(other, at if placed is not None else stock.at[ends[other]])
        run = (far[1] - start) * (1 if known == 0 else -1)
        ratio = self.ratio(slope, part, ends, run, placed is not None)
        if placed is not None and far[0] is not None:
            there = other_end(stock, (at, start), ratio, far[0])
            if there is None:
                width = slope.end.column + slope.end.width - slope.start.column
                what = f"this slope runs along the face it should end on, which is {far[0].angle if far[0] else ''} too"
                raise Misread(what, slope.start.column, width, "End it on another face, or correct one of the two.")
            self.put(placed, there)
        elif placed is not None:
            self.put(placed, at + ratio * (far[1] - start))
        runs = []
        for k, mark in enumerate(ends):
            face = run_at(k, stock.at[mark])[0]
            if face is None:
                runs.append(self.along(part, names[k]))
                continue
            new, draft = on_face(stock, face, mark, stock.within(mark).replace("@", "."))
            self.crossed.append(draft)
            runs.append(new)
        return self.drafted(slope, ends, (runs[0], runs[1]), (ratio, placed), spot)

    def drafted(
        self,
        slope: SlopeText,
        ends: tuple[int, int],
        runs: tuple[int, int],
        said: tuple[Fraction, int | None],
        spot: Spot,
    ) -> SlopeDraft:
        """The slope; with a give its end lies where it is cut to, near where the slope leads."""
        stock, (ratio, placed) = self.stock, said
        if placed is not None and slope.give is not None:
            stock.station_of[placed] = None
            placed = None
        part = stock.parts[stock.part[ends[0]]]
        return SlopeDraft(part, *ends, *runs, ratio, slope.angle, placed, spot, give=slope.give)

    def has_place(self, mark: int) -> bool:
        """Whether a mark stands in a run, or was put where a slope leads."""
        return self.stock.station_of[mark] is None or mark in self.placed

    def to_place(self, ends: tuple[int, int]) -> int | None:
        """The end that lies where the slope leads; None where both have their places."""
        start, end = ends
        if self.has_place(start) and self.has_place(end):
            return None
        return start if self.has_place(end) else end

    def put(self, mark: int, at: Fraction) -> None:
        """Put an end where its slope leads."""
        self.stock.at[mark] = at
        self.placed.add(mark)

    def slanted(self, part: int, name: Name, end: int) -> list[SlopeDraft]:
        """The slopes of the face that a station is named after, where that slants along the axis of an end."""
        base, _, station = name.text.partition("@")
        whole = self.stock.parts[part]
        beside = base.rpartition(".")[0]
        for candidate in (f"{whole}.{station}", f"{whole}.{beside}.{station}"):
            faces = [
                face for face in self.faces.get(candidate, ())
                if self.stock.axis[face.run_start] == self.stock.axis[end]
            ]  # fmt: skip
            if faces:
                return faces
        return []

    def once(self, found: list[SlopeDraft], problems: list[Problem]) -> list[SlopeDraft]:
        """The slopes of a sentence that no sentence before has said; that it is said twice is told."""
        known, new = self.before, {frozenset((one.start, one.end)): one for one in found}
        first = next((known[ends] for ends in new if ends in known), None)
        if first is not None:
            what = f"this slope stands in {first.spot.name()} already: it counts once"
            spot = found[0].spot
            problems.append(spot.problem(what, "Take one of the two out.", 0, len(spot.text), "notice"))
        fresh = [one for ends, one in new.items() if ends not in known]
        known.update(new | known)
        return fresh

    def lead(self, start: int, run_start: int, ratio: Fraction) -> None:
        """Put the first end of a slope where a station of the same mark leads that stands in a run; where none does,
        or the mark itself does, it lies where its mark lies."""
        stock = self.stock
        base = stock.name[start].partition("@")[0]
        root = stock.station_of[start]
        if root is None or stock.name[root] == base:
            return
        station = stock.name[root].partition("@")[2]
        run = self.along(stock.part[start], Name(f"{stock.within(start).partition('@')[0]}@{station}", 0))
        if stock.axis[run] == stock.axis[run_start]:
            stock.at[start] = stock.at[root] + ratio * (stock.at[run_start] - stock.at[run])
            self.led[start] = root
            self.placed.add(start)

    # -- names -------------------------------------------------------------------------------

    def ends(self, part: int, slope: SlopeText) -> tuple[int, int]:
        """The marks of both ends. One of them may stand nowhere else: it is a station of the other."""
        names = (self.names(part, slope.start), self.names(part, slope.end, slope.start))
        start, end = (self.known(candidates) for candidates in names)
        if start is None and end is not None:
            start = self.hung(end, names[0])
        elif end is None and start is not None:
            end = self.hung(start, names[1])
        elif start is None and (there := self.between(part, slope)) is not None:
            start, end = self.hung(there, names[0]), self.hung(there, names[1])
        if start is None:
            raise self.stock.unknown(slope.start, names[0][0])
        if end is None:
            raise self.stock.unknown(slope.end, names[1][0])
        return start, end

    def names(self, part: int, name: Name, first: Name | None = None) -> list[str]:
        """The whole names that one may mean in its part; a second one may stand beside the first."""
        whole = f"{self.stock.parts[part]}."
        found = [whole + name.text]
        if first is not None and "." in first.text.partition("@")[0]:
            found.append(f"{whole}{first.text.partition('@')[0].rpartition('.')[0]}.{name.text}")
        return found

    def known(self, names: list[str]) -> int | None:
        return next((mark for name in names if (mark := self.stock.known(name)) is not None), None)

    def hung(self, there: int, names: list[str]) -> int | None:
        """A station of the same name as `there`, which stands on a run at its own station alone, as a
        new mark that the slope puts in place; None where it has another name."""
        stock = self.stock
        base = stock.name[there].partition("@")[0]
        whole = next((name for name in names if name.partition("@")[0] == base), None)
        if whole is None:
            return None
        root = stock.station_of[there]
        root = there if root is None else root
        return stock.add(whole, stock.part[there], stock.axis[there], stock.at[there], root)

    def between(self, part: int, slope: SlopeText) -> int | None:
        """A station of the same mark that stands in a run, where neither end of a slope does."""
        begins = f"{self.stock.parts[part]}.{slope.start.text.partition('@')[0]}@"
        return next((mark for mark in self.stock.members[part] if self.stock.name[mark].startswith(begins)), None)

    def along(self, part: int, name: Name) -> int:
        """The mark that a station is named after: of the part, or beside its own mark."""
        whole = f"{self.stock.parts[part]}."
        base, _, station = name.text.partition("@")
        beside = base.rpartition(".")[0]
        for candidate in dict.fromkeys((whole + station, f"{whole}{beside}.{station}" if beside else "")):
            mark = self.stock.known(candidate) if candidate else None
            if mark is not None:
                return mark
        column = name.column + len(base) + 1
        misread = self.stock.unknown(Name(station, column), whole + station)
        if (other := self.elsewhere(part, station)) and not misread.silent:
            hint = f"{other} belongs to another part: behind the @ stands a mark of {whole[:-1]} itself."
            misread = Misread(misread.what, misread.column, misread.width, hint)
        raise misread

    def elsewhere(self, part: int, station: str) -> str:
        """A mark of another part that is called so, or whose whole name that is."""
        stock = self.stock
        if stock.known(station) is not None:
            return station
        names = (f"{other}.{station}" for number, other in enumerate(stock.parts) if number != part)
        return next((name for name in names if name in stock.index), "")

    def two_axes(self, slope: SlopeText, ends: tuple[int, int], run: tuple[int, int]) -> None:
        """Both ends lie along one axis, both marks of the run along one other."""
        stock = self.stock
        width = slope.end.column + slope.end.width - slope.start.column
        if ends[0] == ends[1]:
            hint = "As in lower@shoulder..lower@end: one mark, at two places along the part."
            raise Misread("a slope has two different ends", slope.start.column, width, hint)
        for pair in (ends, run):
            first, second = (stock.axis[mark] for mark in pair)
            if first != second:
                what = (
                    f"{stock.within(pair[0])} lies along {AXES[first]}, {stock.within(pair[1])} along "
                    f"{AXES[second]}: both ends of a slope, and both marks of its run, lie along one axis"
                )
                hint = "Name marks along one axis before the @, and marks along one other behind it."
                raise Misread(what, slope.start.column, width, hint)
        if stock.axis[ends[0]] == stock.axis[run[0]]:
            what = f"{stock.within(run[0])} lies along {AXES[stock.axis[run[0]]]} too: a slope needs two axes"
            hint = "Behind the @ stands a mark along the other axis, where the slope begins or ends."
            raise Misread(what, slope.start.column, width, hint)

    # -- which way ---------------------------------------------------------------------------

    def ratio(
        self, slope: SlopeText, part: int, ends: tuple[int, int], run: Fraction, leads: bool
    ) -> Fraction:
        """Rise over run with its sign, on this copy; `leads` where the slope places one of the ends."""
        stock = self.stock
        axis = stock.axis[ends[0]]
        turned = stock.turned[part]
        rises = self.said(slope, axis)
        if rises is not None and AXES[axis] in turned:
            rises = -rises
        way = 1 if run > 0 else -1
        if not leads:
            return self.as_drawn(slope, ends, run, rises)
        if rises is not None:
            return slope.rise * rises * way
        other = self.run_axis(slope, part, ends[0])
        flips = (AXES[axis] in turned) != (AXES[other] in turned)
        return -slope.rise if flips else slope.rise

    def run_axis(self, slope: SlopeText, part: int, end: int) -> int:
        """The axis that the run of a slope lies along."""
        slanted = self.slanted(part, slope.start, end)
        return self.stock.axis[slanted[0].start if slanted else self.along(part, slope.start)]

    def said(self, slope: SlopeText, axis: int) -> int | None:
        """The sign of the way from the first end to the second that the sentence says, as drawn."""
        if slope.way is None:
            return None
        if slope.way[0] != axis:
            what = f"this slope lies along {AXES[axis]}: it goes {' or '.join(TOWARD[axis][::-1])}"
            raise Misread(what, slope.way_at, 1, "The way from the first mark to the second, as drawn.")
        return slope.way[1]

    def as_drawn(
        self, slope: SlopeText, ends: tuple[int, int], run: Fraction, rises: int | None
    ) -> Fraction:
        """The slope between two ends that have their places, held against what is written."""
        stock = self.stock
        there = stock.at[ends[1]] - stock.at[ends[0]]
        wanted = slope.rise * abs(run)
        width = slope.end.column + slope.end.width - slope.start.column
        names = f"{stock.within(ends[0])} and {stock.within(ends[1])}"
        if abs(abs(there) - wanted) * 2 >= self.rules.finest:
            what = (
                f"the runs have {names} {self.length(abs(there))} apart; {slope.angle} over "
                f"{self.length(abs(run))} makes {self.length(wanted)}"
            )
            raise Misread(what, slope.start.column, width, "One of them is a misprint: correct it.")
        if rises is not None and rises * there < 0:
            what = f"by their runs {names} go the other way"
            hint = f"Take the word out, or correct the runs, by which they lie {self.length(abs(there))} apart."
            raise Misread(what, slope.way_at, 1, hint)
        return slope.rise if (there > 0) == (run > 0) else -slope.rise

    def length(self, mm: Fraction) -> str:
        return write_length(mm, self.rules.unit, marked=True)

    def unsaid(self, slope: SlopeText, found: list[SlopeDraft], spot: Spot) -> list[Problem]:
        """A notice where neither a run nor a word says which way a slope goes."""
        if slope.way is not None or not found or found[0].placed is None:
            return []
        return [unsaid_way(slope, self.stock.axis[found[0].start], self.stock.axis[found[0].run_start], spot)]
