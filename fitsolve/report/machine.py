"""Machine: findings for other programs, as JSON. Lengths in mm, uncertainties expanded (k = 2).

null stands where nothing fixes a number. The keys are written down in specs/sizes.schema.json.
"""

from __future__ import annotations

import json
from typing import Any

from fitsolve.findings.values import (
    Agreement,
    Bent,
    Between,
    CheckFinding,
    ContactFinding,
    DistanceFinding,
    Doubt,
    JointFinding,
    PegFinding,
    SeatFinding,
    Slant,
    Suspect,
    Suspicion,
    ToolError,
)
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.demands import contradiction_text


def sizes_json(found: Reconciliation, only: str = "") -> str:
    """The whole answer of `sizes --json`; where `only` names a part, of that part alone."""
    waits = _waits(found, only)  # what a part waits for may stand in joints of others
    if only:
        found = found.of_part(only)
    whole = {
        "distances": [_distance(found, one) for one in found.distances],
        "joints": [_joint(found, one) for one in found.joints],
        "seats": [_seat(found, one) for one in found.seats],
        "pegs": [_peg(one) for one in found.pegs],
        "checks": [_check(one) for one in found.checks],
        "doubts": [doubt_json(one) for one in found.doubts],
        "suspicions": [_suspicion(one) for one in found.suspicions],
        "agreement": _agreement(found.agreement),
        "tools": [_tool(one) for one in found.tools],
        "waits": waits,
        "shape": [_shape(one) for one in found.bent],
        "contradictions": [
            {"text": contradiction_text(found, one), "rows": list(one.rows)} for one in found.contradictions
        ],
    }
    return json.dumps(whole, indent=2, allow_nan=False)


def between_json(found: Between) -> str:
    """The whole answer of `between --json`."""
    answer = {
        "distance_mm": found.distance_mm,
        "expanded_uncertainty_mm": found.expanded_mm,
        "state": found.state,
        "first": found.first,
    }
    return json.dumps(answer, indent=2, allow_nan=False)


def _distance(found: Reconciliation, one: DistanceFinding) -> dict[str, Any]:
    from fitsolve.findings.lines import layout_distance_mm
    from fitsolve.report.linewords import no_line_json

    distance = found.assembly.distances[one.number]
    layout = layout_distance_mm(found.solved, found.laid_out, one.number, one.size_mm)
    missing = found.laid_out.missing((distance.start, distance.end)) if layout is None else []
    return {
        "part": one.part,
        "axis": one.axis,
        "from": one.start,
        "to": one.end,
        "plan_mm": one.plan_mm,
        "size_mm": one.size_mm,
        "layout_mm": layout,
        "no_line": [no_line_json(found, line) for line in missing],
        "advice_expanded_uncertainty_mm": one.advice_expanded_mm,
        "outcome_expanded_uncertainty_mm": one.outcome_expanded_mm,
        "state": one.state,
    }


def _joint(found: Reconciliation, one: JointFinding) -> dict[str, Any]:
    return {
        "name": one.name,
        "contacts": [_contact(found, contact) for contact in one.contacts],
        "verdict": one.verdict,
        "closed": one.closed,
    }


def _contact(found: Reconciliation, one: ContactFinding) -> dict[str, Any]:
    from fitsolve.findings.lines import layout_clearance_mm

    return {
        "kind": one.kind,
        "axis": one.axis,
        "clearance_mm": one.clearance_mm,
        "layout_clearance_mm": layout_clearance_mm(found.solved, found.laid_out, one.number, one.clearance_mm),
        "expanded_uncertainty_mm": one.expanded_mm,
        "least_mm": one.least_mm,
        "aim_mm": one.aim_mm,
        "most_mm": one.most_mm,
        "chance": one.chance,
        "verdict": one.verdict,
        "slant": None if one.slant is None else _slant(one.slant),
        "read_first": _spans(found, one.unread),
    }


def _spans(found: Reconciliation, pairs: tuple[tuple[int, int], ...]) -> list[dict[str, str]]:
    """What is to be read before anything is done: its two marks."""
    marks = found.assembly.marks
    return [{"from": marks[start].name, "to": marks[end].name} for start, end in pairs]


def _slant(one: Slant) -> dict[str, Any]:
    return {
        "angle": one.angle,
        "axis": one.axis,
        "run_per_width": one.run_per_width,
        "travel_mm": one.travel_mm,
        "expanded_uncertainty_mm": one.expanded_mm,
        "stand_off_mm": one.stand_off_mm,
        "left_mm": one.left_mm,
        "left_expanded_uncertainty_mm": one.left_expanded_mm,
    }


def _peg(one: PegFinding) -> dict[str, Any]:
    pairs = {"layout": one.layout, "gap": one.gap, "offset": one.offset}
    values = {f"{key}_mm": None if pair is None else pair[0] for key, pair in pairs.items()}
    spreads = {f"{key}_expanded_uncertainty_mm": None if pair is None else pair[1] for key, pair in pairs.items()}
    return {
        "joint": one.joint,
        "hole": one.hole,
        "tenon_hole": one.tenon_hole,
        "shoulder": one.shoulder,
        "face": one.face,
        "diameter_mm": one.diameter_mm,
        "draw_mm": one.draw_mm,
        **values,
        **spreads,
        "direction": "toward the shoulder",
        "most_mm": one.most_mm,
        "chance": one.chance,
        "verdict": one.verdict,
        "bored": one.bored,
        "read_first": [] if one.read else [one.face, one.hole],
    }


def _seat(found: Reconciliation, one: SeatFinding) -> dict[str, Any]:
    from fitsolve.findings.unread import unread

    tightest = found.squeeze_of(one.part) if one.verdict != "goes on" else None
    first = unread(found.solved, list(tightest.terms)) if tightest and one.verdict == "jams" else ()
    return {
        "part": one.part,
        "chance": one.chance,
        "verdict": one.verdict,
        "joints": list(one.joints),
        "room_mm": None if tightest is None else tightest.room_mm,
        "room_expanded_uncertainty_mm": None if tightest is None else tightest.expanded_mm,
        "as_planned_mm": one.as_planned_mm,
        "read_first": _spans(found, first),
    }


def _check(one: CheckFinding) -> dict[str, Any]:
    return {
        "name": one.name,
        "kind": one.kind,
        "value_mm": one.value_mm,
        "expanded_uncertainty_mm": one.expanded_mm,
        "within_mm": one.within_mm,
        "verdict": one.verdict,
        "missing": [{"event": read.event, "from": read.start, "to": read.end} for read in one.missing],
    }


def doubt_json(one: Doubt) -> dict[str, Any]:
    """One reading held against all others."""
    return {
        "row": one.row,
        "from": one.start,
        "to": one.end,
        "reading_mm": one.reading_mm,
        "residual_mm": one.residual_mm,
        "standardised": one.standardised,
        "redundancy": one.redundancy,
        "suspect": one.suspect,
        "would_be_mm": one.would_be_mm,
        "smallest_error_mm": one.smallest_error_mm,
        "off_plan_mm": one.off_plan_mm,
    }


def _suspicion(one: Suspicion) -> dict[str, Any]:
    return {
        "worst": _suspect(one.worst),
        "equals": [_suspect(who) for who in one.equals],
        "because": [_suspect(who) for who in one.because],
        "after": [_suspect(who) for who in one.after],
        "others": one.others,
        "rest_agrees": one.rest_agrees,
        "rest_chance": one.rest_chance,
        "by_plan": one.by_plan,
    }


def _suspect(who: Suspect) -> dict[str, Any]:
    return {
        "kind": who.kind,
        "number": who.number,
        "standardised": who.standardised,
        "error_mm": who.error_mm,
    }


def _waits(found: Reconciliation, only: str) -> list[dict[str, Any]]:
    """The parts that should not be cut yet: the readings that move them, and why, a sentence each."""
    from fitsolve.report.doubtwords import waiting
    from fitsolve.report.waits import Waits

    rows, waits = waiting(found), Waits(found)
    said = ((part, waits.texts(part)) for part in found.assembly.parts if only in ("", part))
    return [{"part": part, "rows": rows.get(part, []), "why": list(why)} for part, why in said if why]


def _shape(one: Bent) -> dict[str, Any]:
    return {
        "row": one.row,
        "from": one.start,
        "to": one.end,
        "reading_mm": one.reading_mm,
        "plain_from": one.plain_start,
        "plain_to": one.plain_end,
        "plain_mm": one.plain_mm,
        "plain_expanded_uncertainty_mm": one.expanded_mm,
        "off_mm": one.off_mm,
        "read_twice": one.again,
        "moves": list(one.moved),
    }


def _tool(one: ToolError) -> dict[str, Any]:
    unit = "mm" if one.term == "zero" else "mm_in_a_metre"
    return {
        "tool": one.tool,
        "term": one.term,
        "unit": unit,
        "error": one.error,
        "expanded_uncertainty": one.expanded,
        "given_expanded_uncertainty": one.given_expanded,
        "told": one.told,
    }


def _agreement(one: Agreement) -> dict[str, Any]:
    return {
        "chi_square": one.chi_square,
        "degrees_of_freedom": one.freedom,
        "chance": one.chance,
        "agrees": one.agrees,
        "tools": [
            {
                "tool": tool.tool,
                "readings": tool.readings,
                "degrees_of_freedom": tool.freedom,
                "factor": tool.factor,
                "chance": tool.chance,
                "verdict": tool.verdict,
            }
            for tool in one.tools
        ],
    }
