"""A layout on a screen, and for other programs.

Each axis is a table, from its start on: what to do, the mark, its running figure, what that is off
plan, the length from the mark before in [ ], what the figure leaves out with ± of the advice, and the side
of the waste; what meets at the marks stands under it, each joint once. Behind the axes stands what to leave on.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from fitsolve.reconciliation import Reconciliation
from fitsolve.report.layout import BORE, OPEN, START, TO_CUT, WAIT, AxisLayout, LayoutMark, Met, PartLayout
from fitsolve.report.naming import counted, words_of
from fitsolve.report.screen import Block, Line, Table
from fitsolve.report.words import footing

if TYPE_CHECKING:
    from fitsolve.findings.leaving import LeaveOn

UNSURE = "can't tell"
SHIMMED = "A shim is the play of the fit: knife along part and shim together; less a shim, with it in the socket."
WASTE = {1: "x>", -1: "<x", 0: ""}


def layout_blocks(found: Reconciliation, layout: PartLayout) -> list[Block]:
    """Return a layout as blocks for a screen; what must wait says so first."""
    blocks = [Block("WAIT", (Line(text, hang=0),), "bold yellow") for text in layout.waits]
    if layout.first:
        said = f"{layout.first}: the figures are those with it as drawn"
        blocks.append(Block("WAIT", (Line(said, hang=0),), "bold yellow"))
    blocks.append(Block("", (Line(_title(found, layout), style="bold"),)))
    blocks += [Block("", tuple(_axis_lines(axis))) for axis in layout.axes]
    if layout.leave is not None:
        from fitsolve.report.leavewords import leave_block

        blocks += leave_block(found, layout.leave)
    if not layout.waits and layout.to_cut:
        said = "Mark all of it from the start with one tape. More and less are than plan; [ ] is the check from the "
        said += "mark before. The waste lies beyond the line at x>, before it at <x."
        if any(" shim" in one.no_line for axis in layout.axes for one in axis.marks):
            said += f" {SHIMMED}"
        blocks.append(Block("", (Line(said, hang=0, style="dim"),)))
    return [*blocks, Block("", (Line(footing(found), hang=0, style="dim"),))]


def _title(found: Reconciliation, layout: PartLayout) -> str:
    marks = [one for axis in layout.axes for one in axis.marks]
    cut = sum(one.word in TO_CUT for one in marks)
    wait = sum(one.word == WAIT for one in marks)
    made = sum(one.state == "made" for one in marks)
    unsettled = sum(one.word == OPEN for one in marks)
    counts = [
        f"{counted(amount, 'mark')} {what}"
        for amount, what in ((cut, "to cut"), (wait, "waiting"), (made, "made"), (unsettled, "not fixed by anything"))
        if amount
    ]
    if not layout.to_cut:
        return f"{layout.part}   made: nothing is left to cut"
    title = found.assembly.title or "This build"
    return f"{layout.part}   {', '.join(counts)}   ({title})"


def _axis_lines(axis: AxisLayout) -> list[Line | Table]:
    lead = f"{axis.axis} from {axis.start}"
    if axis.faces:
        lead += f", on {words_of(axis.faces)}"
    rows = tuple(_row(axis, one) for one in axis.marks)
    lines: list[Line | Table] = [Line(lead, 1, style="bold"), Table(rows, 3)]
    lines.append(Table(tuple(_meetings(axis)), 6))
    return lines + [Line(text, 6, style="dim") for text in axis.notes]


def _row(axis: AxisLayout, one: LayoutMark) -> tuple[str, ...]:
    word = one.word.ljust(len(START))
    if not one.before:
        return word, one.name, one.figure
    if one.word == OPEN:
        return word, one.name, "not fixed by anything"
    chain = "" if one.before == axis.start and one.chain == f"[{one.figure}]" else one.chain
    where = f"on {words_of(one.faces)}" if one.faces and not axis.faces else ""
    waste = WASTE[one.waste] if one.word in TO_CUT else ""
    if one.no_line:
        return word, one.name, f"{one.no_line}, waste {waste}" if waste else one.no_line
    return word, one.name, one.figure, one.off, chain, one.beside, waste, where


def _meetings(axis: AxisLayout) -> list[tuple[str, ...]]:
    """What meets on this axis, each contact once: our marks, theirs, the fit, the verdict. Where a slanted face is met
    at several stations alike, that is one line."""
    found: dict[tuple[str, str, tuple[str, ...]], list[str]] = {}
    which: dict[tuple[str, str, tuple[str, ...]], Met] = {}
    for one in axis.marks:
        for met in one.meets:
            key = (met.joint, met.kind, met.marks)
            found.setdefault(key, []).append(one.name)
            which[key] = met
    rows: dict[tuple[str, ...], tuple[str, ...]] = {}
    for key, own in found.items():
        met = which[key]
        bases = tuple(mark.partition("@")[0] for mark in met.marks)
        alike = ("/".join(own), met.joint, _how(met), met.part, met.fit, verdict_text(met), *bases)
        marks = bases if alike in rows else met.marks
        rows[alike] = (alike[0], f"{_how(met)} {met.part} {'/'.join(marks)}", met.fit, verdict_text(met))
    return list(rows.values())


def _how(met: Met) -> str:
    return {"housing": "with", "butt": "against", "room": "clear of"}[met.kind]


def verdict_text(met: Met) -> str:
    """What becomes of a contact: `fits`, `tight`, `closed`, or that the other side is not made yet. One that fits is no
    better than the seats of its parts: `fits by itself; seat of stretcher.rear: can't tell`."""
    if met.closed:
        return "closed" if met.verdict in ("fits", "can't tell") else f"closed, {met.verdict}"
    ahead = ", not made yet" if met.ahead else ""
    if met.verdict != "fits" or not met.seats:
        return f"{met.verdict}{ahead}"
    jams = [part for part, verdict in met.seats if verdict == "jams"]
    parts = words_of(jams or [part for part, _ in met.seats])
    return f"fits by itself{ahead}; seat of {parts}: {'jams' if jams else UNSURE}"


# -- for other programs ------------------------------------------------------------------------


def layout_json(found: Reconciliation, layout: PartLayout) -> str:
    """The whole answer of `layout --json`; lengths in mm."""
    whole = {
        "part": layout.part,
        "waits": [*layout.waits, *([layout.first] if layout.first else [])],
        "axes": [_axis(found, layout.part, axis) for axis in layout.axes],
        "leave_on": None if layout.leave is None else _leave(found, layout.leave),
    }
    return json.dumps(whole, indent=2, allow_nan=False)


def _axis(found: Reconciliation, part: str, axis: AxisLayout) -> dict[str, Any]:
    return {
        "axis": axis.axis,
        "from": f"{part}.{axis.start}",
        "faces": [f"{part}.{name}" for name in axis.faces],
        "marks": [_mark(found, part, one) for one in axis.marks],
    }


def _leave(found: Reconciliation, leave: LeaveOn) -> dict[str, Any]:
    assembly = found.assembly
    return {
        "allowed": leave.allowed,
        "chance_exact": leave.chance_exact,
        "chance": leave.chance,
        "marks": [
            {"mark": assembly.marks[one.mark].name, "left_on_mm": one.left_on_mm, "line_mm": one.line_mm}
            for one in leave.marks
        ],
        "contacts": [
            {
                "joint": assembly.joints[assembly.contacts[one.number].joint].name,
                "kind": assembly.contacts[one.number].kind,
                "axis": assembly.contacts[one.number].axis,
                "chance_exact": one.chance_exact,
                "chance": one.chance,
                "clearance_mm": one.clearance_mm,
                "expected_trimming_mm": one.trimming_mm,
            }
            for one in leave.contacts
        ],
        "limits": [
            {
                "from": assembly.marks[assembly.distances[one.distance].start].name,
                "to": assembly.marks[assembly.distances[one.distance].end].name,
                "limit": "least" if one.side < 0 else "most",
                "chance_exact": one.chance_exact,
                "chance": one.chance,
                "size_mm": one.size_mm,
                "expected_trimming_mm": one.trimming_mm,
            }
            for one in leave.limits
        ],
    }


def _mark(found: Reconciliation, part: str, one: LayoutMark) -> dict[str, Any]:
    from fitsolve.report.linewords import no_line_json

    line = None if one.figure_mm is None else found.laid_out.lines.get(one.mark)
    without = line is not None and line.line_mm is None
    return {
        "mark": f"{part}.{one.name}",
        "do": {WAIT: "wait", OPEN: "open", BORE: "bore"}.get(one.word, "made" if one.state == "made" else "cut"),
        "state": one.state,
        "plan_mm": one.plan_mm,
        "figure_mm": one.figure_mm,
        "finest_mm": None if line is None else line.step_mm,
        "line_mm": None if line is None else line.line_mm,
        "finer_mm": found.laid_out.finer_mm(one.mark) if without else None,
        "no_line": [no_line_json(found, line)] if line is not None and without else [],
        "waste": {1: "beyond", -1: "before", 0: None}[one.waste],
        "advice_expanded_uncertainty_mm": one.expanded_mm,
        "before": f"{part}.{one.before}" if one.before else None,
        "chain_mm": one.chain_mm,
        "faces": [f"{part}.{name}" for name in one.faces],
        "meets": [
            {
                "part": met.part,
                "marks": [f"{met.part}.{name}" for name in met.marks],
                "joint": met.joint,
                "kind": met.kind,
                "fit": met.fit,
                "closed": met.closed,
                "verdict": met.verdict,
                "seats": [{"part": part, "verdict": verdict} for part, verdict in met.seats],
            }
            for met in one.meets
        ],
    }
