"""The plan as it was understood: parts with their runs and sums, joints, keeps, checks, what stands alone.

Copies of a part are drawn once: what is said of one holds for all, with the axis reversed for
those that are handed.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Mapping
from fractions import Fraction

from fitsolve.build.assembly import AXES, Assembly, Contact, Distance, Peg, Rule
from fitsolve.build.tools import Tool
from fitsolve.report.framewords import frame_text
from fitsolve.report.measures import Measures
from fitsolve.report.naming import counted, housed, inside, span_of, words_of
from fitsolve.report.screen import Block, Line, Table, show

PAIRS_MOST = 4
_HANDS = {"x": "left for right", "y": "front for rear", "z": "top for bottom"}
_AXIS_WORDS = {"x": "left to right", "y": "front to back", "z": "up"}


def show_plan(assembly: Assembly, give_mm: float | None, tools: Mapping[str, Tool]) -> None:
    """Print the plan as it was understood; `give_mm` is the give of the whole plan, if it has one, `tools` are those
    that it changes or adds."""
    show(plan_blocks(assembly, give_mm, tools))


def plan_blocks(assembly: Assembly, give_mm: float | None, tools: Mapping[str, Tool]) -> list[Block]:
    """The plan as blocks."""
    measures = Measures.of(assembly)
    unit = "inches" if assembly.unit == "in" else "millimetres"
    counts = f"{counted(len(assembly.parts), 'part')}, {counted(len(assembly.joints), 'joint')}"
    finest = measures.exact(assembly.finest_mm)
    title = f"{assembly.title or 'This build'}   in {unit}, laid out to {finest}   {counts}"
    cutting = f"cuts land within ± {measures.exact(assembly.workmanship_mm)}"
    widths = f"widths within ± {measures.exact(assembly.workmanship_width_mm)}"
    axes = ", ".join(f"{axis} {_AXIS_WORDS[axis]}" for axis in AXES)
    blocks = [
        Block("", (Line(title, style="bold"),)),
        Block("AXES", (Line(axes),)),
        Block("CUTS", (Line(f"{cutting}, {widths}"),)),
        *_drift(give_mm, measures),
        *_tools(tools, measures),
    ]
    blocks += [Block("PART", tuple(lines)) for lines in _parts(assembly, measures, give_mm)]
    blocks += _joints(assembly, measures)
    blocks += _rules("KEEP", assembly, assembly.keeps, measures)
    blocks += _rules("CHECK", assembly, assembly.checks, measures)
    if assembly.alone:
        alone = f"no joint or keep reaches {', '.join(assembly.alone)}"
        blocks.append(Block("ALONE", (Line(alone),)))
    return [*blocks, *_of_nothing(assembly)]


def _drift(give_mm: float | None, measures: Measures) -> list[Block]:
    if give_mm is None:
        return []
    return [Block("GIVE", (Line(f"a distance may drift {measures.exact(give_mm)} where nothing else is said"),))]


def _tools(tools: Mapping[str, Tool], measures: Measures) -> list[Block]:
    """The tools that the plan changes or adds, one a line."""
    told = [_tool(tool, measures) for tool in tools.values()]
    return [Block("TOOLS", tuple(Line(text, 10 * (k > 0), 3) for k, text in enumerate(told)))] if told else []


def _tool(tool: Tool, measures: Measures) -> str:
    """A tool: what it is good to, and by how much all it reads may be off alike."""
    told = f"{tool.name} ± {measures.exact(tool.good_to_mm)}"
    if tool.per_length:
        told += f", and {tool.per_length:g} of what it reads"
    alike = [measures.exact(tool.zero_mm)] if tool.zero_mm else []
    alike += [f"{tool.scale:g} of what it reads"] if tool.scale else []
    return told + (f"; all it reads may be off alike, by {' and '.join(alike)}" if alike else "")


def _of_nothing(assembly: Assembly) -> list[Block]:
    """Pairs of walls that nothing goes between: a mortise or a dado whose piece was left out, or renamed. Said only of
    pairs that are named as one (`up.a` and `up.b`), on parts that have walls which something does go between, and
    where no copy of the part uses them: many marks are there to be laid out and for nothing else."""
    marks = assembly.marks
    used = {_in_kind(assembly, mark) for mark in _used(assembly)}
    walled = {marks[mark].part for one in assembly.contacts if one.kind == "housing" for mark in one.marks}
    by_pair: dict[str, dict[str, None]] = {}
    for low, high in (pair for run in assembly.runs for pair in itertools.pairwise(run)):
        first, second = inside(marks[low]), inside(marks[high])
        stems = {name.rpartition("." if "." in name else "-")[0] for name in (first, second)}
        idle = not {_in_kind(assembly, low), _in_kind(assembly, high)} & used
        if idle and len(stems) == 1 and "" not in stems and marks[low].part in walled:
            by_pair.setdefault(f"{first}/{second}", {})[marks[low].part] = None
    pairs = [f"{pair} of {words_of(list(parts))}" for pair, parts in by_pair.items()]
    more = [f"{len(pairs) - PAIRS_MOST} more"] if len(pairs) > PAIRS_MOST else []
    if not pairs:
        return []
    return [Block("UNUSED", (Line(f"nothing goes between {words_of([*pairs[:PAIRS_MOST], *more])}"),))]


def _used(assembly: Assembly) -> set[int]:
    """The marks that something is asked of, or that something is counted from."""
    used = {mark for contact in assembly.contacts for mark in contact.every_mark}
    used |= {mark for rule in (*assembly.keeps, *assembly.checks) for mark in rule.every_mark}
    used |= {mark for slope in assembly.slopes for mark in slope.every_mark}
    used |= {mark for peg in assembly.pegs for mark in (peg.hole, peg.face, peg.tenon_hole, peg.shoulder)}
    used |= {mark for ends in assembly.outer_ends.values() for mark in ends}
    used |= {mark.station_of for mark in assembly.marks if mark.station_of is not None}
    return used | assembly.holes


def _in_kind(assembly: Assembly, mark: int) -> tuple[str, str]:
    """A mark as all copies of its part have it."""
    one = assembly.marks[mark]
    return one.part.partition(".")[0], inside(one)


def _parts(assembly: Assembly, measures: Measures, give_mm: float | None) -> list[list[Line | Table]]:
    """Parts whose runs read the same are one kind, said once with all its copies."""
    kinds: dict[tuple[tuple[str, str], ...], list[str]] = {}
    runs = _runs(assembly, measures, give_mm)
    handed = _handed(assembly)
    for part in assembly.parts:
        kinds.setdefault(tuple(runs.get(part, [])), []).append(part)
    found = []
    for own, parts in kinds.items():
        lines: list[Line | Table] = [Line(", ".join(part + handed.get(part, "") for part in parts))]
        lines += [Line(f"{axis}  {text}", 3, 3) for axis, text in own]
        found.append(lines)
    return found


def _handed(assembly: Assembly) -> dict[str, str]:
    """How each copy that is not as drawn is handed: its runs, written one way along their axis, go the other."""
    marks = assembly.marks
    turned: dict[str, set[str]] = defaultdict(set)
    for run in assembly.runs:
        if run and marks[run[-1]].plan_mm < marks[run[0]].plan_mm:
            turned[marks[run[0]].part].add(marks[run[0]].axis)
    told = {part: [_HANDS[axis] for axis in sorted(axes)] for part, axes in turned.items()}
    return {part: " (both)" if turned[part] == {"x", "y"} else f" ({', '.join(told[part])})" for part in turned}


def _runs(assembly: Assembly, measures: Measures, give_mm: float | None) -> dict[str, list[tuple[str, str]]]:
    """For each part its runs by axis, read like a tape, with the sum of each."""
    conditions = {
        frozenset((distance.start, distance.end)): _conditions(distance, measures, give_mm)
        for distance in assembly.distances
    }
    found: dict[str, list[tuple[str, str]]] = {}
    for run in assembly.runs:
        if not run:
            continue
        first = assembly.marks[run[0]]
        text, total = inside(first), Fraction(0)
        for start, end in itertools.pairwise(run):
            length = abs(assembly.marks[end].plan_mm - assembly.marks[start].plan_mm)
            total += Fraction(length)
            text += f" {measures.exact(length)}{conditions.get(frozenset((start, end)), '')}"
            text += f" {inside(assembly.marks[end])}"
        if len(run) > 2:
            text += f"   = {measures.exact(float(total))}"
        found.setdefault(first.part, []).append((first.axis, text))
    for slope in assembly.slopes:
        if slope.whole is not None:
            continue  # a station on a slanted face
        ends = "..".join(inside(assembly.marks[mark]) for mark in (slope.start, slope.end))
        on_it = [
            inside(assembly.marks[one.end])
            for one in assembly.on_slope.get(slope.own_marks, ())
            if not one.crossing
        ]
        text = f"slope {ends} {slope.angle}{f', and {words_of(on_it)} on it' if on_it else ''}"
        found.setdefault(slope.part, []).append((assembly.marks[slope.start].axis, text))
    return found


def _conditions(distance: Distance, measures: Measures, usual_mm: float | None) -> str:
    """What stands in brackets behind a distance, where it is not the usual."""
    said = ["hold"] if distance.hold else []
    if distance.low_mm is not None and distance.high_mm is not None:
        said.append(f"{measures.exact(distance.low_mm)} to {measures.exact(distance.high_mm)}")
    if distance.give_mm not in (None, usual_mm) and not distance.hold:
        said.append(f"give {measures.exact(distance.give_mm or 0.0)}")
    if distance.finest_mm is not None:
        said.append(f"finest {measures.exact(distance.finest_mm)}")
    return f" ({', '.join(said)})" if said else ""


def _joints(assembly: Assembly, measures: Measures) -> list[Block]:
    blocks = []
    pegs_of: dict[int, list[Peg]] = defaultdict(list)
    for peg in assembly.pegs:
        pegs_of[peg.joint].append(peg)
    for number, joint in enumerate(assembly.joints):
        rows = tuple(_contact(assembly, assembly.contacts[contact], measures) for contact in joint.contacts)
        pegs = [Line(_peg(assembly, peg, measures), 3, 3) for peg in pegs_of.get(number, ())]
        blocks.append(Block("JOINT", (Line(joint.name), Table(rows, 3), *pegs)))
    return blocks


def _peg(assembly: Assembly, peg: Peg, measures: Measures) -> str:
    hole, own = assembly.marks[peg.hole].name, assembly.marks[peg.tenon_hole].name
    draw = f"drawn {measures.exact(peg.draw_mm)} toward the shoulder"
    return f"{assembly.marks[peg.hole].axis}  peg {measures.exact(peg.diameter_mm)} through {hole}, {own} {draw}"


def _contact(assembly: Assembly, contact: Contact, measures: Measures) -> tuple[str, ...]:
    """Axis, what meets, and with which fit."""
    marks = [assembly.marks[mark] for mark in contact.marks]
    limits = f"{measures.limit(contact.least_mm)} to {measures.limit(contact.most_mm)} {measures.unit}"
    if contact.kind == "housing":
        what = housed(assembly, contact)
        rests = {"low": 2, "high": 3}.get(contact.rests or "")
        if rests is not None:
            limits += f", rests {inside(marks[rests])}"
    else:
        word = "below" if contact.axis == "z" else "before"
        what = f"{marks[0].part} {inside(marks[0])} {word} {marks[1].part} {inside(marks[1])}"
    name = "room" if contact.kind == "room" else contact.fit
    return contact.axis, what, f"{name}: {limits}"


def _rules(tag: str, assembly: Assembly, rules: tuple[Rule, ...], measures: Measures) -> list[Block]:
    return [Block(tag, (Line(f"{rule.name}: {rule_text(assembly, rule, measures)}"),)) for rule in rules]


def rule_text(assembly: Assembly, rule: Rule, measures: Measures) -> str:
    """A keep or a check: its spans, what they shall be, and how closely."""
    spans = [span_of(assembly, span.start, span.end) for span in rule.spans]
    if rule.frame is not None:
        what = frame_text(assembly, rule)
    elif rule.kind == "plumb":
        what = f"{spans[0]} plumb"
    elif rule.kind in ("flush", "in line"):
        what = f" {rule.kind} with ".join(assembly.marks[m].name for m in (rule.spans[0].start, rule.spans[0].end))
    elif len(spans) == 1:
        what = (
            f"{spans[0]} = {measures.exact(rule.length_mm or 0.0)}"
            if rule.length_mm is not None
            else spans[0]
        )
    else:
        what = " = ".join(spans)
    ends = []
    if rule.give_mm is not None:
        ends.append(f"give {measures.exact(rule.give_mm)}")
    if rule.low_mm is not None and rule.high_mm is not None:
        ends.append(f"by {measures.exact(rule.low_mm)} to {measures.exact(rule.high_mm)}")
    if rule.within_mm is not None:
        ends.append(f"within {measures.exact(rule.within_mm)}")
    return ", ".join([what, *ends])
