"""Beside: two choices side by side, the one of the plan and one that is tried.

    sizes      each mark whose figure the change moves: the line it is laid out at here, with the change, and the
               difference of the sizes wanted
    verdicts   joints, seats and checks of which another thing is said
    conflicts  what cannot be had with the change alone; of the rest how many

Figures run from the reference end of a part, as in `sizes` and `layout`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from fitsolve.build.rulevalues import rule_values
from fitsolve.findings.running import Running
from fitsolve.findings.values import CheckFinding
from fitsolve.light import dataclass
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.demands import contradiction_text
from fitsolve.report.linewords import laid_of, step_text
from fitsolve.report.measures import Measures
from fitsolve.report.naming import inside, words_of
from fitsolve.report.screen import TAG_WIDTH, Block, Line, Table
from fitsolve.report.triedwords import brought_about, tried_conflicts
from fitsolve.report.words import footing, title_text, waiting

_SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class MovedMark:
    """A mark still to be cut, with its figure here and with the change, in mm from the mark `start`;
    None where nothing fixes it. `here_said` and `tried_said` are the lines it is laid out at."""

    part: str
    axis: str
    start: str
    name: str
    here_mm: float | None
    tried_mm: float | None
    here_said: str
    tried_said: str


@dataclass(frozen=True, slots=True)
class MovedVerdict:
    """A joint, a seat or a check of which another thing is said with the change. `values_mm` are the
    values of a check, here and with the change."""

    kind: str
    name: str
    here: str
    tried: str
    values_mm: tuple[float | None, float | None] = (None, None)
    expanded_mm: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True, slots=True)
class Beside:
    """Two choices compared: `texts` are the changes, `same` the parts whose sizes stay, `unmoved` the
    checks that were to be held at something else, but are settled by what is made; `new` says of each conflict of
    what is tried whether the change brings it about."""

    texts: tuple[str, ...]
    moved: tuple[MovedMark, ...]
    same: tuple[str, ...]
    verdicts: tuple[MovedVerdict, ...]
    unmoved: tuple[int, ...] = ()
    new: tuple[bool, ...] = ()


def compared(here: Reconciliation, tried: Reconciliation, texts: tuple[str, ...], part: str = "") -> Beside:
    """Return how two choices differ; of one part alone where it is named."""
    least = _least(here)
    moved: list[MovedMark] = []
    parts: dict[str, bool] = {}
    figures = {(one.part, one.axis): one for one in tried.layouts}
    for layout in here.layouts:
        if part and layout.part != part:
            continue
        parts.setdefault(layout.part, False)
        other = {one.mark: one for one in figures[layout.part, layout.axis].marks}
        for one in layout.marks:
            if _differs(one, other[one.mark], least):
                parts[layout.part] = True
                start, name = (inside(here.assembly.marks[mark]) for mark in (layout.reference, one.mark))
                figures_mm = one.figure_mm, other[one.mark].figure_mm
                said = _laid_text(here, one), _laid_text(tried, other[one.mark])
                moved.append(MovedMark(layout.part, layout.axis, start, name, *figures_mm, *said))
    same = tuple(name for name, any_moved in parts.items() if not any_moved)
    verdicts = tuple(_verdicts_of(here, tried, least, part))
    return Beside(texts, tuple(moved), same, verdicts, _unmoved(tried, least), brought_about(here, tried))


def _laid_text(found: Reconciliation, one: Running) -> str:
    """A mark as it is laid out, as `sizes` says it: `6 3/16, exact - 0.016`; `no 1/32: 10 7/32 - 0.005`."""
    if one.figure_mm is None:
        return "not fixed"
    line = found.laid_out.lines.get(one.mark)
    measures = Measures.of(found.assembly)
    own = measures if line is None else measures.stepped(line.step_mm)
    laid = laid_of(found, one.mark, one.figure_mm, one.plan_mm, one.fitted)
    if laid.line_mm is None:
        return f"no {step_text(measures, float(own.step_mm))}: {laid.exact(own).removeprefix('exact ')}"
    return ", ".join(piece for piece in (laid.figure(own), laid.exact(own)) if piece)


def _unmoved(tried: Reconciliation, least_mm: float) -> tuple[int, ...]:
    """The held keeps (by number) that are missed though no conflict is: nothing to be cut moves them."""
    named = {demand.number for one in tried.contradictions for demand in one.demands if demand.kind == "keep"}
    return tuple(
        number
        for number, keep in enumerate(tried.assembly.keeps)
        if keep.held_mm is not None
        and number not in named
        and any(
            abs(tried.solved.value_mm(terms) - value - keep.held_mm) >= least_mm
            for terms, value in rule_values(keep, tried.solved.positions_mm)
        )
    )


def _least(found: Reconciliation) -> float:
    """The smallest difference that is said: half of the last decimal of a clearance."""
    measures = Measures.of(found.assembly)
    return 0.5 * 10.0**-measures.places * measures.unit_mm


def _differs(one: Running, other: Running, least_mm: float) -> bool:
    if one.figure_mm is None or other.figure_mm is None:
        return one.figure_mm is not other.figure_mm
    return abs(one.figure_mm - other.figure_mm) >= least_mm


def _verdicts(here: Reconciliation, tried: Reconciliation, least_mm: float) -> Iterator[MovedVerdict]:
    for joint, other in zip(here.joints, tried.joints, strict=True):
        if joint.verdict != other.verdict:
            yield MovedVerdict("joint", joint.name, joint.verdict, other.verdict)
    for seat, seated in zip(here.seats, tried.seats, strict=True):
        if seat.verdict != seated.verdict:
            yield MovedVerdict("seat", seat.part, seat.verdict, seated.verdict)
    for check, checked in zip(here.checks, tried.checks, strict=True):
        if check.verdict != checked.verdict or _value_moved(check, checked, least_mm):
            yield MovedVerdict(
                "check", check.name, check.verdict, checked.verdict,
                (check.value_mm, checked.value_mm), (check.expanded_mm, checked.expanded_mm),
            )  # fmt: skip


def _verdicts_of(here: Reconciliation, tried: Reconciliation, least_mm: float, part: str) -> Iterator[MovedVerdict]:
    """The verdicts that are about one part, or all where none is named; those of checks all the same."""
    of_part = {joint.name for joint in here.joints if part in joint.parts}
    for one in _verdicts(here, tried, least_mm):
        if not part or one.kind == "check" or one.name == part or one.name in of_part:
            yield one


def _value_moved(check: CheckFinding, other: CheckFinding, least_mm: float) -> bool:
    if check.value_mm is None or other.value_mm is None:
        return check.value_mm is not other.value_mm
    return abs(check.value_mm - other.value_mm) >= least_mm


# -- on a screen ---------------------------------------------------------------------------------


def beside_blocks(here: Reconciliation, tried: Reconciliation, beside: Beside) -> list[Block]:
    """Return both choices side by side, as blocks for a screen."""
    blocks = [Block("", (Line(title_text(here), style="bold"),))]
    tries = [Line(text, 0 if number == 0 else TAG_WIDTH, 0) for number, text in enumerate(beside.texts)]
    tries += [Line(_unmoved_text(tried, number), 3) for number in beside.unmoved]
    blocks.append(Block("TRIED", tuple(tries)))
    if here.contradictions or tried.contradictions or here.turned or tried.turned:
        blocks += [Block("CONFLICT", (Line(text, hang=0),), "bold red") for text in tried_conflicts(here, tried)]
    blocks += _sizes(here, beside) + _changed_verdicts(here, beside)
    return [*blocks, Block("", (Line(footing(here), hang=0, style="dim"),))]


def _unmoved_text(tried: Reconciliation, number: int) -> str:
    keep, measures = tried.assembly.keeps[number], Measures.of(tried.assembly)
    terms, value = rule_values(keep, tried.solved.positions_mm)[0]
    stays = measures.coarse(abs(tried.solved.value_mm(terms) - (0.0 if keep.kind == "length" else value)))
    return f"{keep.name} stays at {stays}: what is made settles it, and nothing still to be cut moves it."


def _sizes(here: Reconciliation, beside: Beside) -> list[Block]:
    measures, waits = Measures.of(here.assembly), waiting(here)
    by_part: dict[str, dict[tuple[str, str], list[MovedMark]]] = {}
    for one in beside.moved:
        by_part.setdefault(one.part, {}).setdefault((one.axis, one.start), []).append(one)
    blocks = []
    for part, axes in by_part.items():
        lines: list[Line | Table] = [Line(f"{part}{'   but wait: see fitsolve sizes' if part in waits else ''}")]
        for (axis, start), marks in axes.items():
            head = (f"{axis} from {start}", "here", "tried", "difference")
            lines.append(Table((head, *(_size_row(one, measures) for one in marks)), 1))
        blocks.append(Block("SIZES", tuple(lines)))
    if beside.same:
        lead = "the same" if blocks else "no size changes"
        blocks.append(Block("SIZES", (Line(f"{lead}: {words_of(beside.same)}"),)))
    if not by_part and not beside.same:
        blocks.append(Block("SIZES", (Line("nothing is left to cut"),)))
    return blocks


def _size_row(one: MovedMark, measures: Measures) -> tuple[str, str, str, str]:
    if one.here_mm is None or one.tried_mm is None:
        return f"  {one.name}", one.here_said, one.tried_said, ""
    off = one.tried_mm - one.here_mm
    difference = f"{measures.bare(abs(off))} {'more' if off > 0 else 'less'}"
    return f"  {one.name}", one.here_said, one.tried_said, difference


def _changed_verdicts(here: Reconciliation, beside: Beside) -> list[Block]:
    measures = Measures.of(here.assembly)
    rows = []
    for one in beside.verdicts:
        if one.kind == "check":
            said = [
                f"{'?' if value is None else measures.coarse(abs(value))}"
                f"{'' if u is None else ', ' + measures.coarse_u(u)}, {verdict}"
                for value, u, verdict in zip(one.values_mm, one.expanded_mm, (one.here, one.tried), strict=True)
            ]
            rows.append((f"  check {one.name}", *said))
        else:
            name = f"seat {one.name}" if one.kind == "seat" else one.name
            rows.append((f"  {name}", one.here, one.tried))
    if not rows:
        return [Block("VERDICTS", (Line("the same for every joint, seat and check"),))]
    return [Block("VERDICTS", (Line("what changes; all others stay"), Table((("", "here", "tried"), *rows), 1)))]


# -- for other programs ------------------------------------------------------------------------


def beside_json(tried: Reconciliation, beside: Beside) -> str:
    """The whole answer of `sizes --try --json`; lengths in mm."""
    whole = {
        "tried": list(beside.texts),
        "sizes": [_size(one) for one in beside.moved],
        "same": list(beside.same),
        "unmoved": [tried.assembly.keeps[number].name.removeprefix("check ") for number in beside.unmoved],
        "verdicts": [_verdict(one) for one in beside.verdicts],
        "contradictions": [
            {"text": contradiction_text(tried, one), "rows": list(one.rows), "new": new}
            for one, new in zip(tried.contradictions, beside.new, strict=True)
        ],
    }
    return json.dumps(whole, indent=2, allow_nan=False)


def _size(one: MovedMark) -> dict[str, Any]:
    return {
        "part": one.part,
        "axis": one.axis,
        "from": f"{one.part}.{one.start}",
        "to": f"{one.part}.{one.name}",
        "size_mm": one.here_mm,
        "tried_size_mm": one.tried_mm,
    }


def _verdict(one: MovedVerdict) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "name": one.name,
        "verdict": one.here,
        "tried_verdict": one.tried,
        "value_mm": one.values_mm[0],
        "tried_value_mm": one.values_mm[1],
    }
