"""The history replayed: one method for each event of the log.

    reading, lean, compare, gang, wind, diagonal   say that their marks are made
    rough            says that its marks exist and can still come down
    made             the marks are as they will be, cut to plan or to the size given; where they were
                     less than that already, at what they were (growth)
    trim             the same, and earlier rows that touch the marks no longer count
    remake           the part is uncut again; rows that touch it no longer count
    close, open      a joint; closing it says that its marks are made, and sets aside what was read of
                     its gaps before
    apart            rows across parts no longer count, unless joints closed at that moment
                     tie the parts: a row counts as long as its sum stays the same however
                     the bodies (parts and what is closed to them) shift against each other

A made mark stays made until its part is remade. So for readings alone order does not matter.
A mark and its stations are one edge: they exist together and were cut to the same place.

Each row touches only the rows before it that it sets aside, and each of those once, so that a
long history costs no more a row than a short one.

Not here: what a row says (readings), names (lookup), what reaches back (state).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import field

from fitsolve.build.assembly import Assembly
from fitsolve.build.bodies import Bodies, closed_marks, cut_together, families, fastened, pegged_holes
from fitsolve.build.growth import Growth
from fitsolve.build.laying import LaidFrom
from fitsolve.build.logtext import EVENTS, Row
from fitsolve.build.markstate import MarkState
from fitsolve.build.readings import Reading, RoughBound, RowReader
from fitsolve.build.renaming import leads_nowhere
from fitsolve.errors import Problem
from fitsolve.light import dataclass

__all__ = ["OPEN_AGAIN", "History", "MarkState", "State"]
OPEN_AGAIN = " counts as open again"


@dataclass(frozen=True)
class State:
    """What is true after the last row.

    `marks` and `cut_to_mm` go by mark number; `cut_to_mm` is where the mark was cut to, less its plan position, 0
    unless a row said a size; `laid_from` then gives the mark that it was laid out from, `laid_by` that row. `closed`
    gives each closed joint "glued" (for good) or "dry"; `for_good` what holds the former: glued, pegged, wedged.
    `set_aside` says of rows, by number, why they no longer count. `gap_read` holds the contacts between whose marks
    a reading that counts stands. `problems` are those of the log and of its rows; a row that was struck has none.
    """

    marks: tuple[MarkState, ...]
    cut_to_mm: tuple[float, ...]
    readings: tuple[Reading, ...] = ()
    rough: tuple[RoughBound, ...] = ()
    closed: dict[int, str] = field(default_factory=dict)
    set_aside: dict[int, str] = field(default_factory=dict)
    gap_read: frozenset[int] = frozenset()
    problems: tuple[Problem, ...] = ()
    last_row: int = 0
    last_time: str = ""
    laid_from: dict[int, int] = field(default_factory=dict)
    laid_by: dict[int, int] = field(default_factory=dict)
    for_good: dict[int, str] = field(default_factory=dict)


class History:
    """Replays the rows; one method an event."""

    def __init__(self, assembly: Assembly, reader: RowReader) -> None:
        self.assembly = assembly
        self.reader = reader
        self.lookup = reader.lookup
        self.marks = [MarkState.UNCUT] * len(assembly.marks)
        self.cut_to = [0.0] * len(assembly.marks)
        self.laid = LaidFrom()
        self.family = families(assembly)
        self.cut_together = cut_together(assembly)
        self.standing: dict[int, Reading | RoughBound] = {}
        self.touching: dict[int, list[int]] = defaultdict(list)
        self.cuts: dict[str, list[int]] = defaultdict(list)
        self.across: list[int] = []
        self.tied: list[int] = []
        self.closed: dict[int, str] = {}
        self.closed_by: dict[int, tuple[Row, tuple[str, ...]]] = {}  # the row, and all notes since
        self.set_aside: dict[int, str] = {}
        self.fresh: list[int] = []
        self.epoch = 0
        self.growth = Growth(assembly, self.cut_to)

    def replay(self, rows: Iterable[Row]) -> None:
        """Let each row do what it does."""
        by_event = {event: getattr(self, f"_on_{event}") for event in EVENTS}
        for row in rows:
            handle = by_event.get(row.event)
            if handle is None:
                self._unknown_event(row)
            else:
                handle(row)
                if self.fresh:
                    self._stay_within(row)

    def _unknown_event(self, row: Row) -> None:
        import difflib

        near = difflib.get_close_matches(row.event[:40], EVENTS, n=1)
        hint = f"Did you mean {near[0]}? " if near else ""
        what = "the event is missing" if not row.event else "no event of the log"
        self.reader.report(row, what, f"{hint}There are: {', '.join(EVENTS)}.", row.event)

    def state(self, last: Row) -> State:
        """Return what is true now; `last` is the last row of the log, struck or not."""
        readings = [row for row in self.standing.values() if isinstance(row, Reading)]
        rough = (row for row in self.standing.values() if isinstance(row, RoughBound))
        self._say_what_grew(readings)
        return State(
            marks=tuple(self.marks),
            cut_to_mm=tuple(self.cut_to),
            laid_from=dict(self.laid.out_of), laid_by=dict(self.laid.by_row),
            readings=tuple(readings),
            rough=tuple(row for row in rough if not (self._made(row.start) and self._made(row.end))),
            closed=dict(self.closed),
            for_good={k: fastened(self.closed_by[k][1]) for k, how in self.closed.items() if how == "glued"},
            set_aside=self.set_aside,
            gap_read=self._gaps_read(readings),
            problems=tuple(self.reader.problems),
            last_row=last.no,
            last_time=last.time,
        )

    def _gaps_read(self, readings: list[Reading]) -> frozenset[int]:
        read: set[int] = set()
        for row in readings:
            if row.across and len(row.terms) == 2:
                read.update(self.reader.gap_contacts(row.terms[0][0], row.terms[1][0]))
        return frozenset(read)

    # -- marks -----------------------------------------------------------------------------

    def _made(self, mark: int) -> bool:
        return self.marks[mark] == MarkState.MADE

    def _become(self, mark: int, state: MarkState) -> None:
        """A mark and its stations are one edge; what is made stays made."""
        if state == MarkState.MADE and self.marks[mark] != MarkState.MADE:
            self.fresh.append(mark)
        for one in self.family.get(mark, (mark,)):
            self.marks[one] = max(self.marks[one], state)

    def _stay_within(self, row: Row) -> None:
        """Marks made by this row lie no further apart than their wood was rough, unless the row says how far: a
        comparison or a stack does not, by itself."""
        fresh, self.fresh = self.fresh, []
        bounds = {
            no: bound
            for mark in fresh
            for no in self.touching.get(mark, ())
            if isinstance(bound := self.standing.get(no), RoughBound)
        }
        if not bounds:
            return
        said = self.standing.get(row.no)
        told = {mark for mark, _ in said.terms} if isinstance(said, Reading) else set()
        sized = bool(row.reading) and not told
        compared = len(told) > 2
        waiting = set(fresh)
        for mark in self.growth.in_order(fresh):
            waiting.discard(mark)
            for no in self.touching[mark]:
                bound = bounds.get(no)
                if bound is None:
                    continue
                within = {bound.start, bound.end} <= told
                if within and not compared:
                    continue
                other = bound.start if mark == bound.end else bound.end
                if (self._made(other) or sized) and other not in waiting and no != row.no:
                    self._cut(mark, self.growth.within(row, mark, bound, sized=sized, told=within))

    def _say_what_grew(self, readings: list[Reading]) -> None:
        pairs = (frozenset(mark for mark, _ in row.terms) for row in readings if len(row.terms) == 2)
        self.growth.say(pairs, self.reader.report)

    def _cut(self, mark: int, cut_to_mm: float) -> None:
        for one in self.cut_together.get(mark, (mark,)):
            self.cut_to[one] = cut_to_mm

    # -- rows that say a distance -------------------------------------------------------------

    def _on_reading(self, row: Row) -> None:
        self._stand(self.reader.reading(row, self.epoch))

    _on_lean = _on_reading

    def _on_compare(self, row: Row) -> None:
        self._stand(self.reader.compare(row, self.epoch))

    def _on_gang(self, row: Row) -> None:
        self._stand(self.reader.gang(row, self.epoch))

    def _on_wind(self, row: Row) -> None:
        from fitsolve.build.wind import read_wind

        self._stand(read_wind(self.reader, row, self.epoch))

    def _on_diagonal(self, row: Row) -> None:
        from fitsolve.build.diagonals import read_diagonal

        self._stand(read_diagonal(self.reader, row, self.epoch))

    def _stand(self, said: Reading | None) -> None:
        if said is None:
            return
        self.standing[said.no] = said
        for mark, _ in said.terms:
            if self.marks[mark] != MarkState.MADE:
                self._become(mark, MarkState.MADE)
            self.touching[mark].append(said.no)
        if said.across:
            self.across.append(said.no)

    def _on_rough(self, row: Row) -> None:
        said = self.reader.rough(row, self.epoch)
        if said is None:
            return
        if self._made(said.start) and self._made(said.end):
            what = f"rough, but {row.start} and {row.end} are both made: neither can come down"
            hint = f"Was it meant as a reading? Strike it (fitsolve strike {row.no}) and enter it as one."
            self.reader.report(row, what, hint, level="warning")
            return
        self.standing[said.no] = said
        parts = set()
        for mark in (said.start, said.end):
            self._become(mark, MarkState.ROUGH)
            self.touching[mark].append(said.no)
            parts.add(self.assembly.marks[mark].part)
        if len(parts) > 1:
            self.across.append(said.no)

    def _put_aside(self, rows: Iterable[int], why: str) -> None:
        for no in rows:
            if self.standing.pop(no, None) is not None:
                self.set_aside[no] = why

    # -- cuts ------------------------------------------------------------------------------

    def _on_made(self, row: Row) -> None:
        """A mark that is made already keeps what it was cut to unless the row says a size."""
        marks = self._meant(row, self._covered(row, row.start))
        if marks is None or not (sized := self._sized(row, marks)):
            return
        bored = {peg.tenon_hole for peg in self.assembly.pegs} if len(marks) > 2 else set()
        for mark in marks:
            if mark in bored:
                continue  # a part is made before the tenon is bored
            if sized[0] is not None:
                self._cut(mark, sized[0])
            elif not self._made(mark):
                self._cut(mark, 0.0)
            self._become(mark, MarkState.MADE)
            self._bound_by_size(row, mark)
        self.cuts[self.assembly.marks[marks[0]].part].append(row.no)

    def _on_trim(self, row: Row) -> None:
        marks = self._meant(row, self._covered(row, row.start))
        if marks is None:
            return
        if row.end and not row.reading:
            others = self._covered(row, row.end)
            if others is None:
                return
            marks = marks + others
        sized = self._sized(row, marks)
        if not sized:
            return
        for mark in marks:
            name = self.assembly.marks[mark].name
            before = [self.standing[no] for no in self.touching.get(mark, ()) if no in self.standing]
            cut_to = self.growth.trimmed(row, mark, before, sized[0])
            for one in self.family.get(mark, (mark,)) if self._is_base(mark) else (mark,):
                self._put_aside(self.touching.pop(one, ()), f"{name} was trimmed in #{row.no}")
                self.laid.moved(one)
            if sized[0] is None:
                self.laid.out_of.pop(mark, None)
            self._cut(mark, cut_to)
            self._become(mark, MarkState.MADE)
            self._bound_by_size(row, mark)
            self.cuts[self.assembly.marks[mark].part].append(row.no)

    def _is_base(self, mark: int) -> bool:
        return self.assembly.marks[mark].station_of is None and "@" not in self.assembly.marks[mark].name

    def _covered(self, row: Row, name: str) -> list[int] | None:
        """The marks that a cell names, all of one part."""
        marks = self.lookup.covered(name, self.epoch) if name else []
        if not marks:
            self.reader.unknown_mark(row, name, name)
            return None
        parts = sorted({self.assembly.marks[mark].part for mark in marks})
        if len(parts) > 1:
            what = f'"{name}" means {len(parts)} parts: {", ".join(parts[:4])}{", ..." if parts[4:] else ""}'
            self.reader.report(row, what, "Name one of them.", name)
            return None
        return marks

    def _meant(self, row: Row, marks: list[int] | None) -> list[int] | None:
        """Of the two marks of a hole that is given a size, the one along the axis the size lies on."""
        if marks is None or len(marks) != 2 or not (row.end and row.reading):
            return marks
        name = self.lookup.current(row.start, self.epoch)
        pair = [self.assembly.marks[mark] for mark in marks]
        if any(mark.name != f"{name}.{mark.axis}" for mark in pair):
            return marks
        reference = self.lookup.mark(row.end, self.epoch)
        along = None if reference is None else self.assembly.marks[reference].axis
        return [number for number, mark in zip(marks, pair, strict=True) if mark.axis == along] or marks

    def _sized(self, row: Row, marks: list[int]) -> tuple[float | None] | None:
        """Where the row says that a mark was cut to, less its plan position; (None,) where it says
        no size; None where what it says cannot be used."""
        if not row.reading and (not row.end or row.event == "trim" or len(marks) > 1):
            return (None,)
        if len(marks) > 1:
            what = f"a size for {len(marks)} marks at once"
            self.reader.report(row, what, "Enter a row for each mark, with its size.", row.start)
            return None
        if not row.end:
            hint = "Put the mark it was laid out from into the column to."
            self.reader.report(row, "a size, but from where?", hint, row.reading)
            return None
        end = self.lookup.along(row.end, self.assembly.marks[marks[0]].axis, self.epoch)
        if end is None:
            self.reader.unknown_mark(row, row.end, row.end)
        length = self.reader.length(row) if row.reading else 0.0
        if end is None or length is None or (row.tool and self.reader.tool(row) is None):
            return None
        return self._laid_out(row, marks[0], end, length)

    def _laid_out(self, row: Row, mark: int, reference: int, length_mm: float) -> tuple[float] | None:
        """Where a mark lies that was laid out from a reference end, less its plan position."""
        marks = self.assembly.marks
        if marks[mark].part != marks[reference].part or mark == reference:
            what = f"{marks[mark].name} can't be laid out from {marks[reference].name}"
            self.reader.report(row, what, "Name another mark of the same part.", row.end)
            return None
        if not self.reader.one_axis(row, mark, reference, row.end):
            return None
        plan = marks[mark].plan_mm - marks[reference].plan_mm
        sign = self.reader.sign(row, reference, mark, length_mm, self.epoch)
        if sign is None:
            return None
        self._become(reference, MarkState.MADE if self.marks[reference] == MarkState.UNCUT else MarkState.ROUGH)
        self.laid.lay_out(self.cut_together.get(mark, (mark,)), reference, row.no)
        off_plan = sign * length_mm - plan if row.reading else 0.0
        return (self.cut_to[reference] + off_plan,)

    def _bound_by_size(self, row: Row, mark: int) -> None:
        """A size laid out from an end that can still come down is the most that it can be."""
        reference = self.laid.out_of.get(mark, mark) if row.reading else mark
        if self.marks[reference] != MarkState.ROUGH:
            return
        size = self.growth.place(mark) - self.growth.place(reference)
        u = self.assembly.workmanship_mm / 2
        bound = RoughBound(row.no, reference, mark, -1 if size < 0 else 1, abs(size), u)
        self.standing[row.no] = bound
        for one in (reference, mark):
            self.touching[one].append(row.no)

    def _on_remake(self, row: Row) -> None:
        name = self.lookup.current(row.start, self.epoch)
        marks = self.lookup.parts.get(name)
        if not marks:
            near = self.lookup.near(name)
            meant = f"Did you mean {near[0]}? " if near else ""
            self.reader.report(row, "remake: no such part", f"{meant}Name the part whole.", row.start)
            return
        why = f"{name} was remade in #{row.no}"
        for mark in marks:
            self._put_aside(self.touching.pop(mark, ()), why)
            self.marks[mark] = MarkState.UNCUT
            self.cut_to[mark] = 0.0
            self.laid.out_of.pop(mark, None)
        self.set_aside.update(dict.fromkeys(self.cuts.pop(name, ()), why))
        for joint in [joint for joint in self.closed if name in self.assembly.joints[joint].parts]:
            del self.closed[joint]
            self._loosened()
            what = f"{self.assembly.joints[joint].name}{OPEN_AGAIN}: {name} was remade"
            self.reader.report(row, what, "Close it again when it is.", level="notice")

    # -- joints ----------------------------------------------------------------------------

    def _on_close(self, row: Row) -> None:
        joint = self._joint(row)
        if joint is None:
            return
        how = (row.note.split() or [""])[0].strip(",;:.").lower()
        if how not in ("glued", "dry"):
            how = "dry"
            if joint not in self.closed:
                hint = "Begin the note with glued or dry."
                self.reader.report(row, "glued or dry? Taken as dry", hint, row.note, level="notice")
        before = self.closed.get(joint)
        if before in ("glued", how) and not pegged_holes(self.assembly, joint, row.note):
            what = f"{self.assembly.joints[joint].name} is closed already, {before}"
            hint = "It stays glued." if before != how else "Read its gaps again if they were read before."
            self.reader.report(row, what, hint, row.start, level="notice")
        first, said = self.closed_by[joint] if before == "glued" else (row, ())
        self.closed_by[joint] = first, (*said, row.note)  # glued first, its peg driven later
        self.closed[joint] = "glued" if before == "glued" else how
        for contact in self.assembly.joints[joint].contacts:
            if self.assembly.contacts[contact].kind != "room":
                self._closing_moves(row, joint, contact)
        for mark in closed_marks(self.assembly, joint, row.note):
            self._become(mark, MarkState.MADE)

    def _closing_moves(self, row: Row, joint: int, contact: int) -> None:
        """A gap that was read before its joint was closed tells nothing of the joint as it is closed now."""
        gaps = []
        for mark in self.assembly.contacts[contact].marks:
            for no in self.touching.get(mark, ()):
                said = self.standing.get(no)
                if not isinstance(said, Reading) or not said.across or len(said.terms) != 2:
                    continue
                if contact in self.reader.gap_contacts(said.terms[0][0], said.terms[1][0]):
                    gaps.append(no)
        name = self.assembly.joints[joint].name
        self._put_aside(gaps, f"a gap of {name} before it was closed in #{row.no}")

    def _on_open(self, row: Row) -> None:
        joint = self._joint(row)
        if joint is None:
            return
        name = self.assembly.joints[joint].name
        if self.closed.get(joint) == "glued":
            by, _ = self.closed_by[joint]
            what = f"{name} is {fastened([by.note])} since #{by.no}: it can't be opened"
            hint = f"Was it closed dry? Strike #{by.no} and close it dry. Broken or cut apart? Remake what is spoilt."
            self.reader.report(row, what, hint, row.start)
        elif joint not in self.closed:
            self.reader.report(row, f"{name} is open already", "", row.start, level="notice")
        else:
            del self.closed[joint]
            self._loosened()

    def _joint(self, row: Row) -> int | None:
        """The joint that a row names."""
        found = self.lookup.joints(row.start, self.epoch)
        if len(found) == 1:
            return found[0]
        if found:
            names = [self.assembly.joints[joint].name for joint in found[:4]]
            what = f"{len(found)} joints are called that: {'; '.join(names)}{'; ...' if found[4:] else ''}"
            self.reader.report(row, what, "Name one of them.", row.start)
        else:
            near = self.lookup.near_joint(row.start)
            hint = f"Did you mean {' or '.join(near)}?" if near else "A joint is its block and its parts."
            self.reader.report(row, "the plan has no such joint", hint, row.start)
        return None

    def _loosened(self) -> None:
        """A joint opened: rows it tied may go at the next `apart`."""
        self.across = self.tied + self.across
        self.tied = []

    def _on_apart(self, row: Row) -> None:
        """Rows across parts stay only while closed joints hold their parts together."""
        if not self.across:
            return
        body = Bodies(self.assembly.joints[joint].parts for joint in self.closed)
        for no in self.across:
            said = self.standing.get(no)
            if said is None:
                continue
            terms = said.terms if isinstance(said, Reading) else ((said.end, 1.0), (said.start, -1.0))
            if self.reader.moves_with(terms, body.of):
                parts = sorted({self.assembly.marks[mark].part for mark, _ in terms})
                why = f"taken apart in #{row.no}: no closed joint ties {' and '.join(parts)}"
                self._put_aside((no,), why)
            else:
                self.tied.append(no)
        self.across = []

    # -- names -----------------------------------------------------------------------------

    def _on_rename(self, row: Row) -> None:
        if not (row.start and row.end):
            hint = "The old name goes into from, the new one into to."
            self.reader.report(row, "rename: two names are needed", hint, row.start)
            return
        self.epoch += 1
        if not self.lookup.covered(row.end, self.epoch):
            hint, level = leads_nowhere(self.lookup, row, row.no in self.reader.lost.values())
            self.reader.report(row, "rename: the plan has no such name", hint, row.end, level=level)

    def _on_strike(self, row: Row) -> None:
        """Seen to beforehand."""
