"""Closing for good, in words: what is known to be wrong with a joint that could not be mended any more.

    a conflict in which one of its fits stands
    its own verdict: tight, proud, loose, open; a part that jams on it
    a peg of it that does not draw, or draws too much
    a reading of its marks that is not to be believed: it cannot be read again inside a joint

A check of the frame that is beyond is told by itself: the maker may have made up his mind about it.
What cannot be told is no known trouble. Not here: who is asked (cli).
"""

from __future__ import annotations

from fitsolve.findings.causes import squeeze
from fitsolve.findings.values import JointFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.demands import contradiction_text
from fitsolve.report.doubtwords import doubted_readings
from fitsolve.report.fitwords import joint_lines, to_be_read
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, rows_listed, span_named
from fitsolve.report.pegwords import offset_text
from fitsolve.report.seatwords import seat_text, seat_to_be_read
from fitsolve.report.words import check_rests_on

CHECKS_MOST = 3
_WELL = ("fits", "can't tell", "draws", "goes on")


def trouble_texts(found: Reconciliation, number: int) -> list[str]:
    """Return what is known to be wrong with a joint, by its number in the plan; nothing where all is well. Of one
    that is closed for good already only its pegs can still be seen to."""
    joint = found.joint_of[number]
    if found.state.closed.get(number) == "glued":
        return _pegs(found, joint)
    return [*_conflicts(found, number), *_fit(found, joint), *_pegs(found, joint), *_unbelieved(found, number)]


def _conflicts(found: Reconciliation, number: int) -> list[str]:
    own = found.assembly.joints[number].contacts
    return [
        f"CONFLICT: {contradiction_text(found, one)}"
        for one in found.contradictions
        if any(demand.kind in ("contact", "gap") and demand.number in own for demand in one.demands)
    ]


def _fit(found: Reconciliation, joint: JointFinding) -> list[str]:
    """The worst fault of the joint itself, and the parts that jam on it."""
    said = []
    if any(one.verdict not in _WELL for one in joint.contacts):
        first = ", to be read" if to_be_read(found, joint) else ""
        said = [f"{joint.name} is {joint.verdict}{first}: {line}" for line in joint_lines(found, joint)[:1]]
    own = set(found.assembly.joints[joint.number].contacts)
    for seat in found.seats:
        if joint.name in seat.joints and seat.verdict == "jams":
            tightest = squeeze(found.solved, seat.part)
            if tightest is None or own & {tightest.first, tightest.second}:
                first = ", to be read" if seat_to_be_read(found, seat) else ""
                said.append(f"{seat.part} jams{first}: {seat_text(found, seat)}")
    return said


def _pegs(found: Reconciliation, joint: JointFinding) -> list[str]:
    return [
        f"the peg through {peg.hole}{'' if peg.read else ', which was never read'}: {offset_text(found, peg)}"
        for peg in found.pegs
        if peg.joint == joint.name and peg.verdict not in _WELL and peg.offset is not None
    ]


def _unbelieved(found: Reconciliation, number: int) -> list[str]:
    contacts = found.assembly.joints[number].contacts
    inside = {mark for contact in contacts for mark in found.assembly.contacts[contact].every_mark}
    touching = {one.no for one in found.state.readings if inside & {mark for mark, _ in one.terms}}
    doubted = [doubt for doubt in doubted_readings(found) if doubt.row in touching]
    if not doubted:
        return []
    if len(doubted) == 1:
        name = span_named(found.assembly, doubted[0].start, doubted[0].end)
        return [f"#{doubted[0].row} {name} is not to be believed (fitsolve sizes: STOP), and cannot be read again then"]
    rows = rows_listed(sorted(doubt.row for doubt in doubted))
    return [f"not all of {rows} are to be believed (fitsolve sizes: STOP), and they cannot be read again then"]


def frame_texts(found: Reconciliation, number: int) -> list[str]:
    """Return which checks of the frame are beyond in which a joint's parts stand against others: before it is closed
    for good they can still be pulled true."""
    joint = found.joint_of[number]
    if found.state.closed.get(number) == "glued":
        return []
    assembly, measures = found.assembly, Measures.of(found.assembly)
    said = []
    for check in found.checks:
        parts = {assembly.marks[mark].part for mark in assembly.checks[check.number].every_mark}
        if check.verdict != "beyond" or len(parts) < 2 or parts.isdisjoint(joint.parts) or check.value_mm is None:
            continue
        rests = check_rests_on(found, check)
        doubted = f" It rests on {rests}, which is not to be believed." if rests else ""
        value, within = measures.coarse(abs(check.value_mm)), measures.coarse(check.within_mm)
        said.append(f"{check.name} is beyond, {value} of {within}: closed so it stays.{doubted}")
    more = len(said) - CHECKS_MOST
    rest = [f"beyond too: {counted(more, 'other check')} (fitsolve sizes, FRAME)"] if more > 0 else []
    return said[:CHECKS_MOST] + rest
