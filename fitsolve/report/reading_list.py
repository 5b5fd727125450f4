"""The readings wanted, in words: part by part, each with its tag, its plan and the tool to take."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitsolve.build.assembly import Assembly, Rule
from fitsolve.build.readings import FLUSH_MM
from fitsolve.build.tools import BUILT_IN, Tool
from fitsolve.findings.tags import Tagged
from fitsolve.findings.values import MissingReading
from fitsolve.findings.wanted import SMALL_MM
from fitsolve.report.naming import asked, counted, inside, span_named, words_of
from fitsolve.report.screen import Block, Line, Table

BEGUN_MOST = 6

_LONG_MM = 1000.0
"""A rule of the usual length, 1 m or 39 in: above that a rod, or else a tape."""


def tool_for(plan_mm: float | None, own: Mapping[str, Tool]) -> str:
    """Return the tool that suits a length: a caliper, a rule, a rod where the plan has one, or else a tape."""
    if plan_mm is not None and plan_mm <= SMALL_MM:
        return "caliper"
    kinds = {tool.kind if tool.kind != "other" else name: name for name, tool in own.items()}
    if "rod" in kinds:
        return kinds["rod"]
    name = "rule" if plan_mm is not None and plan_mm <= _LONG_MM else "tape"
    return name if name in own or name in BUILT_IN else "tape"


def plan_words(assembly: Assembly, one: Tagged) -> str:
    """What the plan says of it: `plan 4`, or that it says nothing."""
    from fitsolve.report.measures import Measures
    from fitsolve.written import write_length

    if one.plan_mm is None:
        return "not tied by the plan"
    shown = Measures.of(assembly).bare(one.plan_mm) if one.names[0] else write_length(one.plan_mm, assembly.unit)
    return f"plan {shown}"


def wanted_blocks(
    assembly: Assembly, listed: tuple[Tagged, ...], number: str, tools: Mapping[str, Tool], made: bool = True,
    more: bool = False,
) -> list[Block]:  # fmt: skip
    """Return the list as blocks for a screen; where nothing is `made` it says what there will be to read. `more`
    says that what checks need follows, or what there is on parts that are begun."""
    title = assembly.title or "This build"
    if not assembly.parts:
        hint = Line("A worked one to begin from: fitsolve new FOLDER.")
        return [Block("", (Line(f"{title}   the plan has no part yet", style="bold"), hint))]
    if not listed and more:
        return [Block("", (Line(f"{title}   what is made is read, but that is not all", style="bold"),))]
    if not listed:
        hint = Line("Something else made? fitsolve read PART asks for all that is to be read of it.")
        return [Block("", (Line(f"{title}   no reading is wanted: what is made is read", style="bold"), hint))]
    head = f"{title}   {counted(len(listed), 'reading')} wanted, list {number}"
    if not made:
        head = f"{title}   nothing is made yet; {counted(len(listed), 'reading')} as parts get made, list {number}"
    blocks = [Block("", (Line(head, style="bold"),))]
    for part, rows in _by_part(listed):
        cells = tuple(
            (one.tag, _name(assembly, one), plan_words(assembly, one), tool_for(one.plan_mm, tools)) for one in rows
        )
        blocks.append(Block("", (Line(part or "between parts"), Table(cells, indent=2))))
    return blocks


def begun_text(begun: Mapping[str, int]) -> str:
    """What there is to read on parts that are begun, once the rest of them is cut: `leg.l is begun: 6 more ...`"""
    named = [f"{part} ({count})" for part, count in begun.items()]
    if len(named) == 1:
        (part, count), = begun.items()
        return f"{part} is begun: {count} more to read once the rest of it is cut. Cut already? fitsolve read {part}"
    listed = words_of([*named[:BEGUN_MOST], *([f"{len(named) - BEGUN_MOST} more"] if len(named) > BEGUN_MOST else [])])
    return f"{listed} are begun: so many more to read once the rest is cut. Cut already? fitsolve read PART"


def check_blocks(assembly: Assembly, by_check: Sequence[tuple[Rule, Sequence[MissingReading]]]) -> list[Block]:
    """Return what checks need that has no tag, for it leans to a side: each with the command that takes it."""
    lines: list[Line] = []
    for check, missing in by_check:
        lines.append(Line(f"for the check {check.name}", hang=0))
        lines += [Line(_command(assembly, one), 2) for one in missing]
    return [Block("", tuple(lines))]


def _command(assembly: Assembly, one: MissingReading) -> str:
    """The command line that takes a reading of the frame."""
    if one.event == "wind":
        four = " ".join((*one.start.split(" + "), *one.end.split(" + ")))
        return f"fitsolve wind {four} GAP --stick LENGTH --width LENGTH --proud MARK"
    lean = " --lean" if one.event == "lean" else ""
    index, marks = assembly.index, assembly.marks
    flush = abs(marks[index[one.start]].plan_mm - marks[index[one.end]].plan_mm) < FLUSH_MM
    proud = " --proud MARK" if flush else ""
    return f"fitsolve read {span_named(assembly, one.start, one.end)} READING{lean}{proud}"


def _name(assembly: Assembly, one: Tagged) -> str:
    if one.part and not one.names[0]:
        return f"{inside(assembly.marks[one.start])}..{inside(assembly.marks[one.end])}"
    return asked(assembly, one)


def _by_part(listed: tuple[Tagged, ...]) -> Iterator[tuple[str, list[Tagged]]]:
    order = dict.fromkeys(one.part for one in listed)
    for part in order:
        yield part, [one for one in listed if one.part == part]
