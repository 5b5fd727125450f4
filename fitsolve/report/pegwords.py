"""Pegs in words: where to bore the tenon, which way it is offset, and whether the peg will draw.

A direction is always a word: toward the shoulder or away from it.
"""

from __future__ import annotations

from fractions import Fraction

from fitsolve.findings.values import PegFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.doubtwords import rests_on, stops_between
from fitsolve.report.linewords import line_mm
from fitsolve.report.measures import Measures
from fitsolve.report.told import Told

TO_BE_READ, NOT_BORED = "to be read", "not bored"
IN_PLURAL = {
    "does not draw": "do not draw",
    "draws too much": "draw too much",
    NOT_BORED: NOT_BORED,
    TO_BE_READ: TO_BE_READ,
    "can't tell": "can't tell",
    "draws": "draw",
}
"""What is said of a peg and of several, the worst first."""


def judged(peg: PegFinding) -> str:
    """What is said of a peg in a word: its verdict, or that its hole has to be read before there is any, or that it
    was glued in without one."""
    return NOT_BORED if peg.shut else peg.verdict if peg.read else TO_BE_READ


def peg_name(found: Reconciliation, peg: PegFinding) -> str:
    """A peg by its joint, and by its hole too where the joint has several: `tenon rail leg.l, leg.l.pin-a`."""
    own = [one for one in found.assembly.pegs if found.assembly.joints[one.joint].name == peg.joint]
    if len(own) == 1:
        return peg.joint
    mark = found.assembly.marks[found.assembly.index[peg.hole]]
    return f"{peg.joint}, {peg.hole.removesuffix(f'.{mark.axis}')}"


def peg_texts(found: Reconciliation, peg: PegFinding) -> list[str]:
    """Return what is to be said of one peg: where its hole goes, or how far it is off; what to read first."""
    measures = Measures.of(found.assembly)
    if peg.shut:
        return [_shut_text(found, peg)]
    if peg.bored and not peg.read:
        return [_as_drawn(peg, measures)]
    lines = []
    if not peg.read:
        lines.append(f"Read {peg.face} to {peg.hole} first: the tenon's hole is laid out from that")
    if not peg.bored and peg.layout is not None:
        at, spread = peg.layout
        line, exact = _bored_at(found, peg, at)
        where = f"bore {peg.tenon_hole} {line} from {peg.shoulder}{exact}, {measures.u(spread)}"
        if not peg.read:
            where = f"then bore {peg.tenon_hole}, as drawn {line} from {peg.shoulder}"
        lines.append(f"{where}: {measures.exact(peg.draw_mm)} nearer to the shoulder than {peg.hole} to {peg.face}")
        lines.append(f"or prick it through {peg.hole} and move it {_moved(peg, measures)} toward the shoulder")
    if peg.offset is None:
        lines.append("its offset is not fixed by anything yet")
    elif peg.read:
        lines.append(offset_text(found, peg, named=False))
    return lines


def peg_said(found: Reconciliation, peg: PegFinding, told: Told) -> list[str]:
    """The same in one sentence, where what holds for every peg of the same draw stands above already."""
    measures, index = Measures.of(found.assembly), found.assembly.index
    if not (peg.bored or peg.shut) and stops_between(found, index[peg.shoulder], index[peg.tenon_hole]):
        return [f"bore {peg.tenon_hole} once what stands under STOP is settled: it moves where that goes"]
    if peg.shut and not told.once("a peg's hole that is glued in"):
        return [f"glued likewise. Is it bored? {_bored_before(found, peg)}"]
    pricked = not peg.shut and not peg.bored and peg.gap is None
    if pricked and peg.layout is not None and not told.once(f"a peg's draw of {measures.exact(peg.draw_mm)}"):
        return [_in_short(found, peg, peg.layout, measures)]
    return peg_texts(found, peg)


def _in_short(found: Reconciliation, peg: PegFinding, layout: tuple[float, float], measures: Measures) -> str:
    line, exact = _bored_at(found, peg, layout[0])
    if not peg.read:
        where = f"then bore {peg.tenon_hole}, as drawn {line} from {peg.shoulder}"
        return f"Read {peg.face} to {peg.hole} first, {where}"
    where = f"bore {peg.tenon_hole} {line} from {peg.shoulder}{exact}, {measures.u(layout[1])}, or prick it as above"
    return f"{where}; {offset_text(found, peg, named=False)}" if peg.offset is not None else where


def _shut_text(found: Reconciliation, peg: PegFinding) -> str:
    """What is said of a hole that is not bored though its joint is closed for good."""
    return (
        f"glued, and of {peg.tenon_hole} it was not said that it is bored. It is? {_bored_before(found, peg)}. Else "
        "bore straight through both: such a peg holds, but draws nothing"
    )


def _bored_before(found: Reconciliation, peg: PegFinding) -> str:
    """The command that says that a tenon's hole is bored."""
    part = found.assembly.marks[found.assembly.index[peg.tenon_hole]].part
    return f"fitsolve made {part} {peg.tenon_hole[len(part) + 1 :]}"


def _as_drawn(peg: PegFinding, measures: Measures) -> str:
    """What is known of a tenon's hole that is bored while the mortise's was never read."""
    first = f"Read {peg.face} to {peg.hole} first, which never was"
    if peg.offset is None:
        return first
    value, spread = peg.offset
    return f"{first}. As drawn: {_which_way(measures, value)}, {measures.u(spread)}"


def not_yet_bored(found: Reconciliation) -> dict[int, str]:
    """The holes of tenons, by mark, that are not to be bored now: with what to read first, or that it is too late."""
    index = found.assembly.index
    late = {index[peg.tenon_hole]: f"{peg.joint} is glued: see PEGS, fitsolve sizes" for peg in found.pegs if peg.shut}
    return late | {
        index[peg.tenon_hole]: f"read {peg.face} to {peg.hole} first: it is bored by that"
        for peg in found.pegs
        if not (peg.read or peg.bored or peg.shut)
    }


def shut_in(found: Reconciliation) -> set[int]:
    """The holes of tenons, by mark, that it is too late to bore: nobody is told to."""
    return {found.assembly.index[peg.tenon_hole] for peg in found.pegs if peg.shut}


def _bored_at(found: Reconciliation, peg: PegFinding, at_mm: float) -> tuple[str, str]:
    """Where the tenon's hole is laid out from its shoulder, on the lines of the layout, and what these leave out:
    `31/32`, `, exact - 0.009`; where one of the two has no line, `31/32 - 0.009`."""
    measures, index = Measures.of(found.assembly), found.assembly.index
    hole, shoulder = index[peg.tenon_hole], index[peg.shoulder]
    for layout in found.layouts:
        lines = {layout.reference: 0.0, **{one.mark: line_mm(found, one.mark) for one in layout.marks}}
        line, start = lines.get(hole), lines.get(shoulder)
        if line is not None and start is not None:
            rest = measures.rest(abs(at_mm), laid := Fraction(abs(line - start)))
            return measures.size(laid), f", exact{rest}" if rest else ""
    return measures.full(at_mm), ""


def _moved(peg: PegFinding, measures: Measures) -> str:
    """How far a pricked hole is moved: the draw, and the gap there was."""
    draw = measures.exact(peg.draw_mm)
    if peg.gap is None:
        return f"{draw}, and by whatever the shoulder stood off,"
    gap = max(peg.gap[0], 0.0)
    return f"{measures.full(peg.draw_mm + gap)} ({draw} and {measures.clearance(gap)} that it stood off)"


def offset_text(found: Reconciliation, peg: PegFinding, named: bool = True) -> str:
    """The offset of a peg, which is known, `named` with its verdict; never a bare sign."""
    assert peg.offset is not None
    measures = Measures.of(found.assembly)
    value, spread = peg.offset
    said = f"{_which_way(measures, value)}, {measures.u(spread)}{f': {peg.verdict}' if named else ''}"
    most = measures.clearance(peg.most_mm)
    index = found.assembly.index
    if rests := rests_on(found, [(index[peg.hole], 1.0), (index[peg.tenon_hole], -1.0)]):
        return f"{said}. It rests on {rests}: see STOP"
    if peg.verdict in ("does not draw", "draws too much") and (held := _held_by(found, peg)):
        late = "The tenon can't be plugged any more: bore both out straight for a thicker peg"
        return f"{said}. {late}" if held == "glued" else said
    if peg.verdict in ("does not draw", "draws too much") and not peg.bored:
        return f"{said}. Before it is bored see JOINTS: why does the shoulder not come home?"
    if peg.verdict == "draws too much":
        return f"{said}. A quarter of the peg, {most}, is what its taper finds: plug the tenon's hole and bore again"
    if peg.verdict == "does not draw":
        return f"{said}. Plug the tenon's hole and bore it again, nearer to the shoulder"
    if peg.verdict == "can't tell":
        return f"{said}. It should lie between 0 and a quarter of the peg, {most}"
    return said


def _which_way(measures: Measures, value_mm: float) -> str:
    return f"{measures.clearance(abs(value_mm))} {'toward' if value_mm >= 0 else 'away from'} the shoulder"


def _held_by(found: Reconciliation, peg: PegFinding) -> str:
    """What holds the joint of a peg for good; empty where nothing does yet."""
    number = next(one.joint for one in found.assembly.pegs if one.tenon_hole == found.assembly.index[peg.tenon_hole])
    return found.state.for_good.get(number, "")
