"""Where things stand: the last row, what is closed, what comes next, what waits, and what is old.

    next     the first of: a row to be mended; a plan without parts; a reading not to be believed; a conflict;
             with nothing made yet, the first part by the drawing; a reading that a part waits for; a joint
             that is made and does not fit, then one that does: read first where something of it was
             not, closed where it fits or can't be told; a part that can be cut; any reading still
             wanted; a glued joint whose peg is to be driven; else the whole answer
    old      a reading across the grain more than OLD_DAYS ago, of marks that an open joint still asks for.
             Nothing in a plan says which way the grain runs: it is taken to run along the part's
             longest axis, and a part with marks along one axis only has no width

Not here: the numbers, the sizes, the words for what is doubtful.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import MarkState, State
from fitsolve.build.logtext import Log
from fitsolve.build.readings import Reading
from fitsolve.findings.values import JointFinding
from fitsolve.findings.wanted import WantedReading, awaited, wanted_readings
from fitsolve.light import cached_property, dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import suspect_groups, waiting
from fitsolve.report.firstread import first_to_read
from fitsolve.report.measures import Measures
from fitsolve.report.naming import asked, counted, rows_listed, span_named, words_of
from fitsolve.report.past import row_cells
from fitsolve.report.pegwords import shut_in
from fitsolve.report.screen import TAG_WIDTH, Block, Line
from fitsolve.report.waits import held_up, reading_waits, shape_waits
from fitsolve.report.when import age, ago, when

OLD_DAYS = 14
"""Across the grain wood follows the air of the room within a week or two. Common practice, no source."""

_LISTED_MOST = 6
_AGAIN_MOST = 3
_GOOD = ("fits", "can't tell")


@dataclass(frozen=True)
class Standing:
    """A build, its log, what the log leaves true, and what was found; `found` is None where a row must be
    mended first. `now` has a time zone."""

    assembly: Assembly
    log: Log
    state: State
    found: Reconciliation | None
    now: datetime

    @property
    def to_settle(self) -> bool:
        """Whether something must be settled before anything is cut."""
        found = self.found
        return found is None or bool(suspect_groups(found) or found.odd_cuts or found.contradictions or found.turned)

    @property
    def to_mend(self) -> bool:
        """Whether something of what is made is not as it should be: a joint does not fit, a check is beyond."""
        return bool(self.beyond) or any(joint.verdict not in _GOOD for joint in self.to_close)

    @property
    def beyond(self) -> tuple[str, ...]:
        """The checks that are not kept."""
        checks = self.found.checks if self.found is not None else ()
        return tuple(one.name for one in checks if one.verdict == "beyond")

    @cached_property
    def wanted(self) -> tuple[WantedReading, ...]:
        """The readings of made wood that are wanted, in walking order."""
        return wanted_readings(self.assembly, self.state)

    @cached_property
    def to_cut(self) -> tuple[str, ...]:
        """The parts with marks still to be cut, in the order of the plan; what it is too late to bore is none."""
        late = shut_in(self.found) if self.found is not None and self.assembly.pegs else ()
        marks = enumerate(zip(self.assembly.marks, self.state.marks, strict=True))
        return tuple(dict.fromkeys(mark.part for k, (mark, one) in marks if one != MarkState.MADE and k not in late))

    @cached_property
    def to_peg(self) -> tuple[str, ...]:
        """The joints that are glued and have a peg in the plan that nobody said is driven."""
        glued = sorted(joint for joint, how in self.state.for_good.items() if how == "glued")
        pegged = {peg.joint for peg in self.assembly.pegs}
        return tuple(self.assembly.joints[joint].name for joint in glued if joint in pegged)

    @cached_property
    def waits(self) -> dict[str, str]:
        """The parts that wait, each with what it waits for."""
        if self.found is None:
            return {}
        held = {part: f"needs {rows_listed(rows)} read again" for part, rows in waiting(self.found).items()}
        held |= {part: "see SHAPE, fitsolve sizes" for part in shape_waits(self.found) if part not in held}
        held |= {part: "see fitsolve sizes" for part in held_up(self.found) if part not in held}
        return held | reading_waits(self.found, [part for part in self.to_cut if part not in held])

    @cached_property
    def to_close(self) -> tuple[JointFinding, ...]:
        """The open joints of which everything is made, in the order of the plan."""
        assembly, found = self.assembly, self.found
        joints = [one for one in found.joints if not one.closed] if found is not None else []
        marks = {
            one.number: [mark for contact in assembly.joints[one.number].contacts
                         for mark in assembly.contacts[contact].marks]
            for one in joints
        }  # fmt: skip
        made = MarkState.MADE
        return tuple(one for one in joints if all(self.state.marks[mark] == made for mark in marks[one.number]))


_CLOSED = ("GLUED", "PEGGED", "WEDGED", "DRY")


def standing_blocks(standing: Standing) -> list[Block]:
    """Return where things stand, as blocks for a screen: first what is next."""
    count = len(standing.state.readings)
    title = standing.assembly.title or "This build"
    blocks = [Block("", (Line(f"{title}   {counted(count, 'reading')}", style="bold"),))]
    words, *commands = next_step(standing)
    step = Block("NEXT", _lines([f"{words}:" if commands else words, *commands]))
    return [*blocks, step, *(Block(tag, _lines(texts)) for tag, texts in _said(standing) if texts)]


def _lines(texts: list[str]) -> tuple[Line, ...]:
    """The first behind the tag, the others under it."""
    return tuple(Line(text, indent=TAG_WIDTH if number else 0, hang=0) for number, text in enumerate(texts))


def _said(standing: Standing) -> Iterator[tuple[str, list[str]]]:
    yield "LAST", _last(standing)
    for tag in _CLOSED:
        yield tag, _closed(standing, tag.lower())
    yield "WAIT", _waiting(standing)
    yield "TO CUT", [_listed(standing.to_cut) or "nothing; everything is made"] if standing.assembly.parts else []
    yield "TO READ", _to_read(standing)
    yield "TO PEG", [_listed(standing.to_peg)] if standing.to_peg else []
    yield "BEYOND", [f"{_listed(standing.beyond)}: fitsolve sizes says by how much"] if standing.beyond else []
    yield "OLD", _old(standing)


def _waiting(standing: Standing) -> list[str]:
    """A line for each part that waits, and what for."""
    lines = [f"{part}: {what}" for part, what in standing.waits.items()]
    more = [f"and {len(lines) - _LISTED_MOST} more: fitsolve sizes"] if len(lines) > _LISTED_MOST else []
    return [*lines[:_LISTED_MOST], *more]


def _to_read(standing: Standing) -> list[str]:
    """How many readings are wanted, and the one to take first."""
    if standing.found is None or not standing.wanted:
        return []
    first = standing.wanted[0]
    name = asked(standing.assembly, first)
    return [f"{counted(len(standing.wanted), 'reading')}, {name} first: fitsolve wanted lists them"]


def _last(standing: Standing) -> list[str]:
    last = max(standing.log.rows, key=lambda row: row.no, default=None)
    if last is None:
        return []
    number, _, *cells = row_cells(standing.assembly, last, standing.state)
    gone = age(last.time, standing.now)
    lead = f"{number} {when(last.time)}" + (f", {ago(gone)}" if gone is not None else "")
    return [f"{lead}: {' '.join(cell for cell in cells if cell)}"]


def _closed(standing: Standing, how: str) -> list[str]:
    joints = standing.assembly.joints
    ways = standing.state.closed | standing.state.for_good
    names = [joints[joint].name for joint, one in sorted(ways.items()) if one == how]
    return [f"{len(names)} of {counted(len(joints), 'joint')}: {_listed(names)}"] if names else []


def _listed(names: list[str] | tuple[str, ...]) -> str:
    more = f" and {len(names) - _LISTED_MOST} more" if len(names) > _LISTED_MOST else ""
    return ", ".join(names[:_LISTED_MOST]) + more


# -- what is next --------------------------------------------------------------------------------


def next_step(standing: Standing) -> tuple[str, ...]:
    """What to do next, in words, and the commands for it."""
    return next(_steps(standing))


def _steps(standing: Standing) -> Iterator[tuple[str, ...]]:
    found = standing.found
    if found is None:
        yield ("mend or strike the row named below; until then nothing can be worked out",)
        return
    if not standing.assembly.parts:
        yield "write the parts into plan.toml, then see how they are understood", "fitsolve plan"
        return
    alone = {one.worst.number for one in found.suspicions if one.by_plan and one.worst.kind == "reading"}
    for group in suspect_groups(found):
        rows = [doubt.row for doubt in group if doubt.row]
        if len(rows) > _AGAIN_MOST:  # where the plan tells which, that one first
            rows = [row for row in rows if row in alone] or rows
        again = f"read {rows_listed(rows)} again; " if rows else ""
        yield f"{again}what is not to be believed, and why", "fitsolve sizes"
    if found.odd_cuts:
        yield f"read what {rows_listed([one.row for one in found.odd_cuts])} said; why", "fitsolve sizes"
    for shape in found.bent:
        if shape.moved:
            yield f"read #{shape.row} again; what it does not go with", "fitsolve sizes"
    if found.contradictions or found.turned:
        yield "settle what cannot all be had", "fitsolve sizes"
    if not standing.log.rows and standing.to_cut:
        part = standing.to_cut[0]
        commands = f"fitsolve layout {part}", f"fitsolve read {part}"
        yield "cut the first parts by the drawing, then read them", *commands
    yield from _to_wait_for(standing, found)
    yield from _to_join(standing, found)
    free = [part for part in standing.to_cut if part not in standing.waits]
    if free:
        yield f"cut {free[0]}", f"fitsolve layout {free[0]}"
    if standing.wanted:
        yield _reading_step(standing, standing.wanted[0])
    for joint in standing.to_peg[:1]:
        yield f"drive the peg of {joint}, and say so", f"fitsolve close {joint} --pegged"
    true = "all is cut and read; some checks are beyond" if standing.beyond else "all is cut and read; how true it came"
    yield true, "fitsolve sizes"


def _to_wait_for(standing: Standing, found: Reconciliation) -> Iterator[tuple[str, ...]]:
    """The reading that a part waits for."""
    for part, what in standing.waits.items():
        if what.startswith("read "):
            for readings in awaited(found.solved, [part]).values():
                for one in readings[:1]:
                    words, command = _reading_step(standing, one)
                    yield f"{words}, before {part} is cut", command


def _to_join(standing: Standing, found: Reconciliation) -> Iterator[tuple[str, ...]]:
    """The joint that is made: what is to be read before, what is wrong with it, or that it can be closed."""
    by_need = sorted(standing.to_close, key=lambda joint: (joint.verdict in _GOOD, not _own_fault(joint)))
    for joint in by_need:
        for one in _unread(standing, found, joint)[:1]:
            words, command = _reading_step(standing, one)
            yield f"{words}, before {joint.name} is put together", command
        if joint.verdict not in _GOOD:
            yield f"{_fault(found, joint)}; what would save it", "fitsolve sizes"
        only_room = all(one.kind == "room" for one in joint.contacts)
        step = f"put {joint.name} in place, where it has room" if only_room else f"put {joint.name} together"
        yield step, f"fitsolve close {joint.name} --dry"


def _own_fault(joint: JointFinding) -> bool:
    """Whether something of a joint itself does not fit, not only a part on all its joints at once."""
    return any(one.verdict not in _GOOD for one in joint.contacts)


def _fault(found: Reconciliation, joint: JointFinding) -> str:
    """What is wrong with a joint that is made: of itself, or only that a part hardly goes on all its joints at once."""
    if _own_fault(joint):
        return f"{joint.name} is {joint.verdict} as it is made"
    jams = [part for part in joint.parts if (seat := found.seat_of.get(part)) and seat.verdict == "jams"]
    own = words_of(jams or list(joint.parts))
    goes = "goes on all its joints" if len(jams or joint.parts) == 1 else "go on all their joints"
    return f"{own} hardly {goes} at once as made, {joint.name} among them"


def _unread(standing: Standing, found: Reconciliation, joint: JointFinding) -> list[WantedReading]:
    """What is to be read before a joint is put together: what `sizes` names of it; where it names nothing and can't
    tell, what is wanted of its parts, between marks that meet something, for closing hides it."""
    if joint.verdict == "fits":
        return []
    assembly, closed = standing.assembly, standing.state.closed
    if (pair := first_to_read(found, joint)) is not None:
        return [WantedReading(assembly.marks[pair[0]].part, *pair, None)]
    if joint.verdict != "can't tell":
        return []
    meeting = {mark for contact in assembly.contacts if contact.joint not in closed for mark in contact.marks}
    return [one for one in standing.wanted if one.part in joint.parts and {one.start, one.end} <= meeting]


def _reading_step(standing: Standing, one: WantedReading) -> tuple[str, str]:
    """A reading to take, and the command that asks for it."""
    name = asked(standing.assembly, one)
    if one.event == "diagonal":
        return f"read the {name}", f"fitsolve diagonal {' '.join(one.names)} READING"
    return f"read {name}", f"fitsolve read {name}"


# -- what is old ---------------------------------------------------------------------------------


def _old(standing: Standing) -> list[str]:
    """The widths that were read so long ago that the wood may have moved since, a line for each."""
    old = list(old_widths(standing))
    if not old:
        return []
    measures = Measures.of(standing.assembly)
    alike = len({ago(gone) for _, gone in old}) == 1
    since = ago(old[0][1]) if alike else f"more than {OLD_DAYS} days ago"
    one = len(old) == 1
    lead = f"{counted(len(old), 'width')} {'was' if one else 'were'} read {since}, and across the grain wood moves. "
    lead += f"Read {'it' if one else 'them'} again before you cut to {'it' if one else 'them'}:"
    lines = []
    for reading, gone in old[:_LISTED_MOST]:
        name = span_named(standing.assembly, reading.start, reading.end)
        when_read = "" if alike else f", {ago(gone)}"
        lines.append(f"fitsolve read {name}   was {measures.exact(reading.shown_mm)} (#{reading.no}){when_read}")
    more = [f"and {len(old) - _LISTED_MOST} more"] if len(old) > _LISTED_MOST else []
    return [lead, *lines, *more]


def old_widths(standing: Standing) -> Iterator[tuple[Reading, timedelta]]:
    """Yield the readings across the grain that are old, with their age, the last of each span; see the module."""
    state = standing.state
    met = _asked(standing)
    along = _along(standing.assembly)
    times = {row.no: row.time for row in standing.log.rows}
    last: dict[frozenset[int], tuple[Reading, timedelta]] = {}
    for reading in state.readings:
        gone = age(times.get(reading.no, ""), standing.now)
        if gone is None or not _across_grain(standing.assembly, along, reading):
            continue
        marks = frozenset(mark for mark, _ in reading.terms)
        if met & marks and (marks not in last or gone <= last[marks][1]):
            last[marks] = reading, gone
    yield from (one for one in last.values() if one[1].days >= OLD_DAYS)


def _asked(standing: Standing) -> set[int]:
    """The marks that an open joint asks for."""
    closed = standing.state.closed
    return {mark for one in standing.assembly.contacts if one.joint not in closed for mark in one.marks}


def _across_grain(assembly: Assembly, along: dict[str, str], reading: Reading) -> bool:
    """Whether a reading lies on one part, and not along it."""
    marks = [assembly.marks[mark] for mark, _ in reading.terms]
    parts = {mark.part for mark in marks}
    if reading.across or len(parts) != 1:
        return False
    part = parts.pop()
    return part in along and along[part] not in {mark.axis for mark in marks}


def _along(assembly: Assembly) -> dict[str, str]:
    """The longest axis of each part that has marks along more than one."""
    reaches = assembly.reach_mm.items()
    return {part: max(reach, key=lambda axis: reach[axis]) for part, reach in reaches if len(reach) > 1}
