"""Knifed off the real thing: a mark that copies the width, or the place, of the part it meets.

No number is taken. A dado whose walls are knifed off a leg is as wide as that leg, whatever the
leg is; with a shim beside it as much wider, and a tongue with one in its socket as much narrower. Where the apron
lay on the frame with one mark on its mate, the distance from that mark is copied too. Both are
comparisons, of a span of the piece with a span of what stands there:

    compare  apron.front.l.dado-o..l.dado-i   leg.fl.outer..inner   0     knife
    compare  rail.lap-o..lap-i   stretcher.front..back   0.010   knife    the stretcher is that much narrower
    compare  apron.front.l.dado-o..r.dado-o   leg.fl.outer..leg.fr.outer   0   knife

They hold beside the readings of the leg and move with them. Where they stop counting (the leg is
made anew, the setting-up ends), the sizes that were written down with them stay: so the marks are
first made at what was advised.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitsolve.build.assembly import Contact
from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, Written
from fitsolve.cli.common import refuse
from fitsolve.cli.cut import Cut, made_rows
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.light import dataclass

KNIFE = "knife"
NARROWER = "narrower"


@dataclass(frozen=True)
class Mates:
    """A contact between the piece and the other part: the piece's marks in it, and what each meets."""

    contact: Contact
    own: tuple[int, ...]
    other: tuple[int, ...]

    @property
    def socket(self) -> bool:
        """Whether what was knifed is a socket, and no tongue."""
        return self.own == self.contact.marks[2:]


def knifed_rows(bench: Bench, cut: Cut, other: str, held: str | None) -> list[tuple[Row, str]]:
    """Rows for marks that were knifed off another part, with the word for each. Raises BuildError."""
    met = [one for one in _mates(bench, cut.part, other) if set(one.own) & set(cut.marks)]
    if not met:
        parts = f"{cut.part} and {other}"
        raise refuse(f"{_named(bench, cut)} meets nothing of {other}", f"fitsolve plan lists where {parts} meet.")
    housings = [one for one in met if one.contact.kind == "housing"]
    if not held and not housings:
        raise refuse(
            f"{_named(bench, cut)} is a single line: a width is copied by two",
            "Say which mark of the piece lay on its mate meanwhile: --held MARK",
        )
    marks = [mark for one in met for mark in one.own if mark in cut.marks or one in housings]
    rows = _first_made(bench, list(dict.fromkeys(marks)))
    for one in housings:
        span, copied = (f"{_name(bench, pair[0])}..{_name(bench, pair[1])}" for pair in (one.own, one.other))
        if cut.size and not one.socket:
            span, copied = copied, span  # it says which is the wider
        why = "" if one.socket else NARROWER
        rows.append((Row(event="compare", start=span, end=copied, reading=cut.size or "0", tool=KNIFE), why))
        _say_fit(bench, one, cut)
    if held:
        if cut.size and not housings:
            raise refuse("a place is copied as it is", "Leave out the size.", cut.size)
        rows += _placed(bench, cut, met, held)
    return rows


def _mates(bench: Bench, part: str, other: str) -> list[Mates]:
    """Where the two parts meet; rooms are no contact."""
    marks = bench.assembly.marks
    found = []
    for contact in bench.assembly.contacts:
        if contact.kind == "room":
            continue
        half = len(contact.marks) // 2
        for own, mate in ((contact.marks[:half], contact.marks[half:]), (contact.marks[half:], contact.marks[:half])):
            if marks[own[0]].part == part and marks[mate[0]].part == other:
                found.append(Mates(contact, own, mate))
    return found


def _first_made(bench: Bench, marks: Sequence[int]) -> list[tuple[Row, str]]:
    """The marks at what was advised, or planned: where they stay if the comparison ever stops counting."""
    from fitsolve.cli.advised import is_made

    _, state = bench.settled
    marks = [mark for mark in marks if not is_made(state, mark)]
    names = [_name(bench, mark) for mark in marks]
    if not marks:
        return []
    try:
        return made_rows(bench, names, marks, planned_only=False)
    except BuildError:  # nothing was advised: the comparison says what there is to say
        return made_rows(bench, names, marks, planned_only=True)


def _placed(bench: Bench, cut: Cut, met: Sequence[Mates], held: str) -> list[tuple[Row, str]]:
    """The place of one of the marks, copied from where another mark of the piece lay on its mate."""
    name = bench.names.mark(held, cut.part)
    mark = bench.assembly.index.get(name, -1)
    mate = _lay_on(bench, mark)
    if mate is None:
        raise refuse(f"{name} meets nothing that it could have lain on", "Name a mark that a joint meets.", held)
    rows = []
    axis = bench.assembly.marks[mark].axis
    for one in met:
        pairs = [(own, other) for own, other in zip(one.own, one.other, strict=True) if own in cut.marks]
        if one.contact.axis != axis or not pairs or mark in one.own:
            continue
        own, other = pairs[0]
        span, copied = f"{name}..{_name(bench, own)}", f"{_name(bench, mate)}..{_name(bench, other)}"
        rows.append((Row(event="compare", start=span, end=copied, reading="0", tool=KNIFE), ""))
    if not rows:
        raise refuse(f"{name} does not say where along {axis} the lines are", "Name another mark of the piece.", held)
    return rows


def _lay_on(bench: Bench, mark: int) -> int | None:
    """What a mark of the piece meets in a joint."""
    for contact in bench.assembly.contacts:
        if contact.kind != "room" and mark in contact.marks:
            half, place = len(contact.marks) // 2, contact.marks.index(mark)
            return contact.marks[(place + half) % (2 * half)]
    return None


def _say_fit(bench: Bench, one: Mates, cut: Cut) -> None:
    """Say it where what was knifed has less play than its fit asks for."""
    from fitsolve.report.measures import Measures

    assembly, measures = bench.assembly, Measures.of(bench.assembly)
    gap = bench.length_mm(cut.size) if cut.size else 0.0
    if gap >= one.contact.least_mm:
        return
    least, aim = measures.clearance(one.contact.least_mm), measures.bare(one.contact.aim_mm)
    only = f"with {measures.clearance(gap)} of play" if gap else "knifed off it and no shim"
    what = f"{only} it is tighter than a {one.contact.fit} fit, which is {least} open at least"
    knifed = next(mark for mark in (*cut.marks, *one.own) if mark in one.own)
    marks = [assembly.marks[mark] for mark in (knifed, one.other[0])]
    words = f"fitsolve made {marks[0].part} {marks[0].name[len(marks[0].part) + 1 :]} {aim} --from {marks[1].part}"
    took = "wider" if one.socket else "narrower"
    pare = measures.bare(one.contact.aim_mm - gap)
    hint = f"Cut {took}, or with a shim? Say by how much: fitsolve undo, then {words}. Else pare it by {pare}"
    bench.said.append(Problem(Place(), what, hint, level="notice"))


def knifed_echo(bench: Bench, written: Written, how: str) -> str:
    """`#44 apron.front l.dado-o..l.dado-i knifed off leg.fl outer..inner`, and by how much it is wider or narrower."""
    from fitsolve.report.naming import span_named
    from fitsolve.written import write_length

    assembly, row = written.assembly, written.row
    own, copied = (span_named(assembly, *_whole(text)) for text in (row.start, row.end))
    wider = bench.length_mm(row.reading)
    more = f", {write_length(wider, assembly.unit, marked=True)} {how or 'wider'}" if wider else ""
    if wider and how == NARROWER:
        own, copied = copied, own
    return f"#{row.no} {own} knifed off {copied}{more}"


def _whole(span: str) -> tuple[str, str]:
    first, _, second = span.partition("..")
    return first, second


def _name(bench: Bench, mark: int) -> str:
    return bench.assembly.marks[mark].name


def _named(bench: Bench, cut: Cut) -> str:
    return " ".join(cut.names)
