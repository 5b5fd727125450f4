"""Grounds in words and as JSON: what a verdict or a distance stands on.

    dado leg.fl apron.front   can't tell
    x  housing   0.010 in, ± 0.006; limits 0.002 to 0.022; chance: within 1.00
       proven; it would be with any U up to 0.009 in
       its ± comes from
         58 %  how the cuts still to come land
         40 %  #5 leg.fl outer..inner by caliper  0.016 in off would show
"""

from __future__ import annotations

import json
import math
from typing import Any

from fitsolve.findings.causes import Share
from fitsolve.findings.grounds import Ground, could_hide
from fitsolve.findings.values import CheckFinding
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.framewords import missing_text
from fitsolve.report.measures import Measures
from fitsolve.report.naming import span_named, span_of
from fitsolve.report.screen import Block, Line, Table

LEAST_SHARE = 0.01
SHOWN_MOST = 8
"""Smaller shares of a variance than this, and more of them, are not listed one by one."""

_SIDES = {
    "contact": ("too little", "within", "too much"),
    "check": ("beyond", "within", "beyond the other way"),
    "seat": ("jams", "goes on", "goes on"),
    "distance": ("", "", ""),
}


def grounds_blocks(found: Reconciliation, title: str, grounds: list[Ground]) -> list[Block]:
    """The whole answer of `grounds`."""
    blocks = [Block("", (Line(title, style="bold"),))]
    for one, after in zip(grounds, [*grounds[1:], None], strict=True):
        lines: list[Line | Table] = [Line(_lead(found, one))]
        lines += [Line(text, 3) for text in _proof(found, one)]
        shown = [share for share in one.shares if share.share >= LEAST_SHARE][:SHOWN_MOST]
        if shown:
            lines += [Line("its ± comes from", 3), Table(tuple(_share_row(found, share) for share in shown), 5)]
        rest = one.shares[len(shown) :]
        if shown and rest:
            lines.append(
                Line(f"{100 * sum(share.share for share in rest):.0f} %  {len(rest)} more: --json lists all", 5)
            )
        blocks.append(Block("", tuple(lines)))
        if one.kind == "check" and (after is None or after.number != one.number):
            blocks += _where(found, one.number)
    return blocks


def _where(found: Reconciliation, number: int) -> list[Block]:
    """Which way a check is off, where that comes from, what would bring it in."""
    from fitsolve.report.wherewords import LIFT, as_sentence, check_texts, parts_text, shims

    texts = check_texts(found, number)
    if not texts:
        return []
    shares = parts_text(found, number)
    texts = [*texts[:-1], shares, texts[-1]] if shares else texts
    lines = [Line(as_sentence(text)) for text in texts]
    if shims(found, number):
        lines.append(Line(LIFT, style="dim"))
    return [Block("", tuple(lines))]


def readings_blocks(found: Reconciliation) -> list[Block]:
    """All readings, each with what checks it: redundancy, standardised residual, smallest error found."""
    measures = Measures.of(found.assembly)
    rows = []
    for one in found.doubts:
        lead = f"#{one.row} {span_named(found.assembly, one.start, one.end)} by {one.tool}"
        if one.smallest_error_mm is None or one.standardised is None:
            rows.append((lead, "nothing checks it"))
            continue
        off = measures.clearance(abs(one.residual_mm) / one.redundancy)
        said = f"{off} off by what others say ({abs(one.standardised):.1f} u)"
        shows = f"{measures.clearance(one.smallest_error_mm)} off would show"
        rows.append((lead, f"{100 * one.redundancy:.0f} % checked, {said}; {shows}"))
    agreement = found.agreement
    whole = (
        f"All together: chi-square {agreement.chi_square:.1f} on {agreement.freedom}, chance {agreement.chance:.3f}: "
        f"{'they agree' if agreement.agrees else 'they do not agree'}."
        if agreement.freedom
        else "Nothing checks anything."
    )
    return [Block("", (Table(tuple(rows)),)), Block("", (Line(whole),))]


def _lead(found: Reconciliation, one: Ground) -> str:
    measures = Measures.of(found.assembly)
    name = one.name
    if one.kind == "contact":
        contact = found.assembly.contacts[one.number]
        name = f"{contact.axis}  {contact.kind}"
    if one.kind == "distance":
        name = span_named(found.assembly, *one.name.split(".."))
    if one.value_mm is None or one.expanded_mm is None:
        if one.kind == "check":
            return f"{name}   {missing_text(found.assembly, _check(found, one))}"
        return f"{name}   not fixed by anything"
    shown = _shown(measures, one)
    return f"{name}   {shown}, {measures.u(one.expanded_mm)}{_limits(measures, one)}{_chances(found, one)}"


def _check(found: Reconciliation, one: Ground) -> CheckFinding:
    return next(check for check in found.checks if check.number == one.number)


def _shown(measures: Measures, one: Ground) -> str:
    value = one.value_mm or 0.0
    if one.kind != "distance":
        return measures.clearance(value)
    return f"{measures.full(value)}{f' {measures.unit}' if measures.marks_unit else ''}"


def _limits(measures: Measures, one: Ground) -> str:
    low = "" if math.isinf(one.low_mm) else measures.bare(one.low_mm)
    high = "" if math.isinf(one.high_mm) else measures.bare(one.high_mm)
    if not low and not high:
        return ""
    return f"; limits {low} to {high}" if low and high else f"; at least {low}" if low else f"; at most {high}"


def _chances(found: Reconciliation, one: Ground) -> str:
    below, within, above = _SIDES[one.kind]
    if not within:
        return ""
    if one.kind == "check" and found.assembly.checks[one.number].frame is not None:
        told = [(one.within, within), (one.below + one.above, "beyond")]  # which corner it is counted from is all one
        return f"; chance: {', '.join(f'{word} {chance:.2f}' for chance, word in told if chance >= 0.005)}"
    told = [(one.within, within), (one.below, below), (one.above, above)]
    if one.kind == "seat":
        told = [(one.within + one.above, within), (one.below, below)]
    shown = [f"{word} {chance:.2f}" for chance, word in told if chance >= 0.005]
    return f"; chance: {', '.join(shown)}" if shown else ""


def _proof(found: Reconciliation, one: Ground) -> list[str]:
    measures = Measures.of(found.assembly)
    if one.value_mm is None or one.expanded_mm is None or (math.isinf(one.low_mm) and math.isinf(one.high_mm)):
        return []
    if one.to_prove_mm is None:
        return ["it stands on a limit: no reading, however good, would prove it"]
    if one.to_prove_mm >= one.expanded_mm:
        return [f"proven; it would be with any U up to {measures.clearance(min(one.to_prove_mm, 1e4))}"]
    return [f"not proven; it would take a U of {measures.clearance(one.to_prove_mm)} or better"]


def _share_row(found: Reconciliation, one: Share) -> tuple[str, str, str]:
    measures = Measures.of(found.assembly)
    hides = ""
    if one.kind == "reading":
        smallest = could_hide(found.doubts, one)
        hides = "nothing checks it" if smallest is None else f"{measures.clearance(smallest)} off would show"
    return f"{100 * one.share:.0f} %", source_text(found, one), hides


def source_text(found: Reconciliation, one: Share) -> str:
    """What a share comes from: `#5 leg.fl outer..inner by caliper`."""
    assembly = found.assembly
    if one.kind == "reading":
        reading = next(r for r in found.state.readings if r.no == one.number)
        return f"#{one.number} {span_named(assembly, reading.start, reading.end)} by {reading.tool}"
    if one.kind == "contact":
        contact = assembly.contacts[one.number]
        return f"{assembly.joints[contact.joint].name}, closed, its {contact.kind} on {contact.axis}"
    if one.kind == "distance":
        distance = assembly.distances[one.number]
        return f"{span_of(assembly, distance.start, distance.end)}, made, never read"
    if one.kind == "cut":
        return "how the cuts still to come land"
    if one.kind == "tool":
        tools = dict.fromkeys(shared.tool for shared in found.solved.graph.shared)
        return f"what all readings by {' or by '.join(tools)} are off together"
    if one.kind in ("station", "layout"):
        return f"{assembly.marks[one.number].name}, made, never read"
    if one.kind == "run" and one.number < len(assembly.runs) and assembly.runs[one.number]:
        run = assembly.runs[one.number]
        return f"{span_of(assembly, run[0], run[-1])}, made, never read"
    return f"a {one.kind} taken as drawn"


def grounds_json(found: Reconciliation, title: str, grounds: list[Ground]) -> str:
    """The whole answer of `grounds --json`: mm, k = 2, null where nothing fixes a number."""
    whole: dict[str, Any] = {"of": title, "grounds": [_one(found, one) for one in grounds]}
    if grounds and grounds[0].kind == "check" and len({one.number for one in grounds}) == 1:
        from fitsolve.report.wherewords import check_json

        whole |= check_json(found, grounds[0].number)
    return json.dumps(whole, indent=2, allow_nan=False)


def _finite(mm: float | None) -> float | None:
    return None if mm is None or math.isinf(mm) else mm


def _one(found: Reconciliation, one: Ground) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "name": one.name,
        "value_mm": one.value_mm,
        "expanded_uncertainty_mm": one.expanded_mm,
        "least_mm": _finite(one.low_mm),
        "most_mm": _finite(one.high_mm),
        "chance_below": one.below,
        "chance_within": one.within,
        "chance_above": one.above,
        "uncertainty_to_prove_mm": _finite(one.to_prove_mm),
        "shares": [
            {
                "kind": share.kind,
                "number": share.number,
                "text": source_text(found, share),
                "share": share.share,
                "smallest_error_mm": could_hide(found.doubts, share),
            }
            for share in one.shares
        ],
    }
