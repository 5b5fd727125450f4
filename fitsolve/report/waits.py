"""Waits: why a part should not be cut yet, though it has sizes.

    a reading not to be believed moves it       its sizes are not shown
    a closed joint that may stand off moves it  they are those with the joint home
    a tool that is not as it is said to be      they are those with the tool as the plan has it
    a reading at a station does not go with it  they are those of the plain marks
    its sizes give way in a conflict            they are those of the compromise
    two of its marks would change sides         no piece can be cut so
    a face that it meets is to lose wood first  they are those with that face as it is
    what it goes over is made and not read      they are those with that as drawn

Not here: what is wrong with a reading (doubtwords), what cannot be had (demands).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from fitsolve.build.history import MarkState
from fitsolve.findings.values import ContradictionFinding, Demand, Doubt, Suspect
from fitsolve.light import cached_property, dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import stop_texts, suspect_groups, waiting
from fitsolve.report.naming import span_of, words_of
from fitsolve.report.turnedwords import turned_sets, turned_text

LISTED_MOST = 4
IN_WHAT_FOLLOWS = "stands in a conflict that follows from what stands under STOP"


def wait_texts(found: Reconciliation, part: str) -> tuple[str, ...]:
    """Why a part should not be cut yet, a sentence each; empty where it may be."""
    return Waits(found).texts(part)


@dataclass(frozen=True)
class Waits:
    """Why parts should not be cut yet: what is looked at for all of them together is looked at once."""

    found: Reconciliation

    def texts(self, part: str) -> tuple[str, ...]:
        """Why a part should not be cut yet, a sentence each; empty where it may be."""
        found, said = self.found, []
        rows = set(self._doubted.get(part, ()))
        for group, (lead, *more) in self._stops if rows else ():
            if rows & {doubt.row for doubt in group}:
                said.append(" ".join((lead, *more[:1])))
        for cut in (one for one in found.odd_cuts if one.row in self._doubted.get(part, ())):
            from fitsolve.report.oddwords import odd_cut_texts

            said.append(" ".join(odd_cut_texts(found, cut)[:2]))
        if what := self._shapes.get(part):
            said.append(f"{part}: {what}, fitsolve sizes.")
        if what := self._joints.get(part):
            said.append(f"{what}: see STOP, fitsolve sizes.")
        if part in self._conflicts:
            from fitsolve.report.demands import contradiction_text

            concerned = [
                one for one in found.conflicts
                if not one.facts and any(part in uncut_parts(found, demand) for demand in one.demands)
            ]  # fmt: skip
            said += [contradiction_text(found, one) for one in concerned]
            if not said:
                said.append(f"{part} {IN_WHAT_FOLLOWS}. Settle that first.")
        if _meets_made(found, part) and (first := self._pared.get(part)):
            said.append(f"{part}: {first}, under fitsolve sizes.")
        sets = turned_sets(found, (one for one in found.turned if one.part == part))
        said += [f"Not to be cut so: {turned_text(found, *some)}" for some in sets]
        return tuple(said)

    @cached_property
    def _doubted(self) -> dict[str, list[int]]:
        return waiting(self.found)

    @cached_property
    def _stops(self) -> list[tuple[list[Doubt], list[str]]]:
        return list(zip(suspect_groups(self.found), stop_texts(self.found), strict=True))

    @cached_property
    def _shapes(self) -> dict[str, str]:
        return shape_waits(self.found)

    @cached_property
    def _joints(self) -> dict[str, str]:
        return joint_waits(self.found)

    @cached_property
    def _conflicts(self) -> dict[str, int]:
        return conflict_waits(self.found)

    @cached_property
    def _pared(self) -> dict[str, str]:
        from fitsolve.report.pared import pared_first

        return pared_first(self.found)


def _meets_made(found: Reconciliation, part: str) -> bool:
    """Whether a part meets made wood in open joints."""
    assembly, state = found.assembly, found.state
    for contact in (assembly.contacts[number] for number in assembly.contacts_of[part]):
        others = (mark for mark in contact.marks if assembly.marks[mark].part != part)
        if contact.joint not in state.closed and any(state.marks[mark] == MarkState.MADE for mark in others):
            return True
    return False


def conflict_waits(found: Reconciliation) -> dict[str, int]:
    """The parts whose sizes to be cut a conflict is about, each with the number of such conflicts that are told: 0
    where all of them follow from something not to be believed."""
    waits: dict[str, int] = defaultdict(int)
    told = found.conflicts
    for one in found.contradictions:
        if not one.facts:
            for part in {part for demand in one.demands for part in uncut_parts(found, demand)}:
                waits[part] += one in told
    return dict(waits)


def joint_waits(found: Reconciliation) -> dict[str, str]:
    """The parts still to be cut that something moves which stands out and is no reading, each with what it is: a
    closed joint that may not be home, a tool that may not be what the plan says of it."""
    waits: dict[str, str] = {}
    if not found.suspicions:
        return waits
    from fitsolve.findings.moved import moved_parts

    for one in found.suspicions:
        for who in (one.worst, *one.equals, *one.because):
            if who.kind != "reading":
                for part in moved_parts(found.solved, who):
                    waits.setdefault(part, _what_stands_out(found, who))
    return waits


def shape_waits(found: Reconciliation) -> dict[str, str]:
    """The parts still to be cut that would move with what does not go with a reading at a station."""
    if not found.bent:
        return {}
    from fitsolve.report.bentwords import bent_waits

    return bent_waits(found)


def _what_stands_out(found: Reconciliation, who: Suspect) -> str:
    if who.kind == "contact":
        return f"{found.assembly.joints[found.assembly.contacts[who.number].joint].name} may not be home"
    shared = found.solved.graph.shared[who.number]
    return f"the {shared.term} of the {shared.tool} may not be what the plan gives it"


def in_conflict(found: Reconciliation, contact: int) -> ContradictionFinding | None:
    """The first conflict in which the fit of a contact stands, one that is told before one that follows."""
    return next(iter(found.clashes_of.get(contact, ())), None)


def settling(found: Reconciliation, conflict: ContradictionFinding) -> str:
    """What is to be done of a conflict, by the word under which it stands on the page: one that follows from what is
    not to be believed is only counted there."""
    return "settle the CONFLICT" if conflict in found.conflicts else "settle what stands under STOP"


def at_odds(found: Reconciliation, contact: int) -> bool:
    """Whether a contact of made wood stands in a conflict of which one fit lacks what another has too much: what
    to take off is then told of all of them together, for what each misses by is only its share."""
    return any(opposite(one) for one in found.clashes_of.get(contact, ()))


def opposite(one: ContradictionFinding) -> bool:
    """Whether in a conflict of made wood some fits lack what others have too much."""
    return one.facts and {demand.side for demand in one.demands} >= {-1, 1}


def gone_from(found: Reconciliation, one: ContradictionFinding, part: str) -> int:
    """The row of the log that says how little is left of a part, where a conflict is about that; else 0."""
    marks = found.assembly.marks
    for demand in one.demands:
        if demand.kind == "rough":
            bound = found.state.rough[demand.number]
            if marks[bound.start].part == part:
                return bound.no
    return 0


def uncut_parts(found: Reconciliation, demand: Demand) -> set[str]:
    """The parts of which a demand speaks with a mark that can still be cut."""
    marks, states = found.assembly.marks, found.state.marks
    return {marks[mark].part for mark in demand_marks(found, demand) if states[mark] != MarkState.MADE}


def demand_marks(found: Reconciliation, demand: Demand) -> tuple[int, ...]:
    """The marks a demand is about."""
    assembly, number = found.assembly, demand.number
    if demand.kind == "distance":
        return assembly.distances[number].start, assembly.distances[number].end
    if demand.kind in ("contact", "gap"):
        return assembly.contacts[number].marks
    if demand.kind == "keep":
        return assembly.keeps[number].every_mark
    if demand.kind == "rough":
        return found.state.rough[number].start, found.state.rough[number].end
    if demand.kind == "slope":
        slope = assembly.slopes[number]
        return slope.start, slope.end, slope.run_start, slope.run_end
    if demand.kind == "peg":
        return assembly.pegs[number].tenon_hole, assembly.pegs[number].shoulder
    return (number,) if demand.kind == "station" else ()


def held_up(found: Reconciliation) -> dict[str, str]:
    """The parts whose sizes are those of a compromise, or cannot be cut, and why."""
    from fitsolve.report.pared import pared_first

    held = {part: f"{first}. As it is now:" for part, first in pared_first(found).items()}
    held |= {part: f"{what}. By the plain marks:" for part, what in shape_waits(found).items()}
    held |= {part: f"{what}, see STOP. If it is:" for part, what in joint_waits(found).items()}
    for part, count in conflict_waits(found).items():
        where = "the CONFLICT above" if len(found.conflicts) == 1 else f"{count} of the CONFLICTs above"
        stands = f"it stands in {where}" if count else f"it {IN_WHAT_FOLLOWS}"
        held[part] = f"{stands}. Settle that first; the compromise would be:"
    why = "two of its marks would change sides, see CONFLICT. Not to be cut so:"
    return {**held, **dict.fromkeys((one.part for one in found.turned), why)}


def reading_waits(found: Reconciliation, parts: Iterable[str]) -> dict[str, str]:
    """The parts among these that a reading should come before, and which: of wood that is made and that they go
    over, as long as it is not sure without it that they go together."""
    unsure = [part for part in parts if not _sure(found, part)]
    waits: dict[str, str] = {}
    if not unsure:
        return waits
    from fitsolve.findings.wanted import awaited

    for part, readings in awaited(found.solved, unsure).items():
        names = [span_of(found.assembly, one.start, one.end) for one in readings]
        more = [f"{len(names) - LISTED_MOST} more"] if len(names) > LISTED_MOST else []
        if names:
            waits[part] = f"read {words_of([*names[:LISTED_MOST], *more])} first"
    return waits


def _sure(found: Reconciliation, part: str) -> bool:
    """Whether nothing of a part's open joints is left that can't be told."""
    seat = found.seat_of.get(part)
    joints = (found.joint_of[number] for number in found.assembly.joints_of[part])
    told = all(joint.closed or joint.verdict != "can't tell" for joint in joints)
    return told and (seat is None or seat.verdict != "can't tell")
