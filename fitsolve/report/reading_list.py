"""The readings wanted, in words: part by part, each with its tag, its plan and the tool to take."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitsolve.build.assembly import Assembly
from fitsolve.build.tools import BUILT_IN, Tool
from fitsolve.findings.tags import Tagged
from fitsolve.findings.wanted import SMALL_MM
from fitsolve.report.naming import counted, inside, span_of
from fitsolve.report.screen import Block, Line, Table

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
    from fitsolve.written import write_length

    return "not tied by the plan" if one.plan_mm is None else f"plan {write_length(one.plan_mm, assembly.unit)}"


def wanted_blocks(
    assembly: Assembly, listed: tuple[Tagged, ...], number: str, tools: Mapping[str, Tool]
) -> list[Block]:
    """Return the list as blocks for a screen."""
    title = assembly.title or "This build"
    if not listed:
        hint = Line("Something else made? fitsolve read PART asks for all that is to be read of it.")
        return [Block("", (Line(f"{title}   no reading is wanted: what is made is read", style="bold"), hint))]
    head = f"{title}   {counted(len(listed), 'reading')} wanted, list {number}"
    blocks = [Block("", (Line(head, style="bold"),))]
    for part, rows in _by_part(listed):
        cells = tuple(
            (one.tag, _name(assembly, one), plan_words(assembly, one), tool_for(one.plan_mm, tools)) for one in rows
        )
        blocks.append(Block("", (Line(part or "between parts"), Table(cells, indent=2))))
    return blocks


def _name(assembly: Assembly, one: Tagged) -> str:
    if one.part:
        return f"{inside(assembly.marks[one.start])}..{inside(assembly.marks[one.end])}"
    return span_of(assembly, one.start, one.end)


def _by_part(listed: tuple[Tagged, ...]) -> Iterator[tuple[str, list[Tagged]]]:
    order = dict.fromkeys(one.part for one in listed)
    for part in order:
        yield part, [one for one in listed if one.part == part]
