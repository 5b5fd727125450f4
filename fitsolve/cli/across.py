"""Commands for readings that are no single span: compare, gap, diagonal.

    compare leg.fl outer..inner leg.fr outer..inner 1/32    the first is longer than the second by 1/32
    gap tenon left-low fl 0.004                             how far the shoulder of a closed joint stands open
    diagonal leg.fl outer+face leg.rr outer+back 61-3/8     corner to corner

A stack of equal pieces is `read` with its spans joined by +, a lean `read --lean`, wind a command of
its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, open_bench
from fitsolve.cli.common import build_folder, build_option, refuse
from fitsolve.cli.complete import complete_joint, complete_mark, complete_name, complete_tool
from fitsolve.cli.enter import enter, gathered, length_problems, no_stray_options, reading_echo
from fitsolve.cli.names import begins, listed
from fitsolve.cli.reading import enter_asked, span_named_whole, tool_named, within_reach
from fitsolve.errors import BuildError, Problem

_TAKES_ALL = {"ignore_unknown_options": True}


def names_and_reading(words: Sequence[str]) -> tuple[list[str], str]:
    """The words that are names, which begin with a letter, and the reading behind them.

    >>> names_and_reading(["leg.fl", "outer..inner", "3", "17/32", "strong"])
    (['leg.fl', 'outer..inner'], '3 17/32 strong')
    """
    no_stray_options(words)
    count = 0
    while count < len(words) and words[count][:1].isalpha():
        count += 1
    return list(words[:count]), " ".join(words[count:])


# -- compare -------------------------------------------------------------------------------


@click.command(context_settings=_TAKES_ALL)
@click.argument("words", nargs=-1, required=True, metavar="[PART] A..B [PART] C..D DIFFERENCE",
                shell_complete=complete_name)  # fmt: skip
@click.option("--tool", metavar="TOOL", shell_complete=complete_tool, help="What the difference was read with.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def compare(words: tuple[str, ...], tool: str | None, note: str) -> None:
    """Enter by how much the first of two spans is longer than the second, as a pinch rod tells it.

    \b
    Example:
        $ fitsolve compare leg.fl outer..inner leg.fr outer..inner 1/32 --tool rod
        #56 leg.fl outer..inner longer than leg.fr outer..inner by 1/32 in rod, plan 0: 1/32 more
    """
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    names, text = names_and_reading(words)
    spans = _spans(bench, names, problems)
    problems += length_problems(text, bench)
    with_tool = gathered(problems, tool_named, bench, tool)
    if problems or with_tool is None:
        raise BuildError(problems)
    row = Row(event="compare", start=spans[0], end=spans[1], reading=text, tool=with_tool, note=note)
    enter_asked(bench, row, False)


def _spans(bench: Bench, names: Sequence[str], problems: list[Problem]) -> list[str]:
    """Two spans with whole names; a part may stand before each, and counts until another is named."""
    spans = []
    part = ""
    for name in names:
        if ".." in name:
            span = gathered(problems, span_named_whole, bench, name, part)
            spans.append(span or "")
        else:
            part = gathered(problems, bench.names.part, name) or part
    if len(spans) != 2 and not problems:
        problems += refuse("two spans are compared", "As in: fitsolve compare leg.fl outer..inner leg.fr outer..inner "
                           "1/32", " ".join(names)).problems  # fmt: skip
    return [*spans, "", ""][:2]


# -- gap -----------------------------------------------------------------------------------


@click.command(context_settings=_TAKES_ALL)
@click.argument("joint", nargs=-1, required=True, metavar="JOINT... READING", shell_complete=complete_joint)
@click.option("--at", "mark", metavar="MARK", shell_complete=complete_mark,
              help="Which gap of the joint: a mark beside it. If not said, its one shoulder.")  # fmt: skip
@click.option("--tool", metavar="TOOL", shell_complete=complete_tool, help="What it was read with.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def gap(joint: tuple[str, ...], mark: str | None, tool: str | None, note: str) -> None:
    """Enter how far a joint stands open. Of a closed joint it stands in place of what closing it says.

    \b
    Example:
        $ fitsolve gap tenon left-low fl 0.004 --tool feeler
        #56 leg.fl.back..rail.left-low.f.shoulder 0.004 in feeler, flush in the plan
    """
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    names, text = names_and_reading(joint)
    name = gathered(problems, bench.names.joint, " ".join(names))
    problems += length_problems(text, bench)
    with_tool = gathered(problems, tool_named, bench, tool)
    if problems or name is None or with_tool is None:
        raise BuildError(problems)
    start, end = gap_meant(bench, name, mark)
    row = Row(event="reading", start=start, end=end, reading=text, tool=with_tool, note=note)
    enter(bench, row, lambda written: reading_echo(written, bench))


def gap_meant(bench: Bench, joint: str, mark: str | None) -> tuple[str, str]:
    """The two marks of the gap that is meant, the lower first. Raises BuildError where it could be several."""
    assembly = bench.assembly
    number = next(k for k, one in enumerate(assembly.joints) if one.name == joint)
    contacts = [assembly.contacts[k] for k in assembly.joints[number].contacts]
    all_gaps = [pair for contact in contacts for pair in contact.gap_marks]
    if mark is None:
        butts = [pair for contact in contacts if contact.kind == "butt" for pair in contact.gap_marks]
        found = butts if len(butts) == 1 else all_gaps
    else:
        found = [pair for pair in all_gaps if any(_means(bench, mark, one) for one in pair)]
    names = [(assembly.marks[a].name, assembly.marks[b].name) for a, b in found]
    if len(names) == 1:
        return names[0]
    if not names:
        every = [assembly.marks[one].name for pair in all_gaps for one in pair]
        raise refuse(f"{joint} has no gap at {mark}", f"There are: {listed(every)}.", mark or "")
    which = listed([f"{a} and {b}" for a, b in names])
    raise refuse(f"{joint} has {len(names)} gaps that it could be: {which}", "Say which: --at MARK", mark or "")


def _means(bench: Bench, typed: str, mark: int) -> bool:
    """Whether a mark is meant: by its whole name or a beginning of it, with its part or without."""
    one = bench.assembly.marks[mark]
    inside = one.name[len(one.part) + 1 :]
    return begins(typed, one.name) or begins(typed, inside)


# -- diagonal ------------------------------------------------------------------------------


@click.command(context_settings=_TAKES_ALL)
@click.argument("words", nargs=-1, required=True, metavar="[PART] POINT [PART] POINT READING",
                shell_complete=complete_name)  # fmt: skip
@click.option("--tool", metavar="TOOL", shell_complete=complete_tool, help="What it was read with.")
@click.option("--sure", is_flag=True, help="Keep it without a question, however far off it is.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def diagonal(words: tuple[str, ...], tool: str | None, sure: bool, note: str) -> None:
    """Enter a distance from corner to corner. A point is a hole, or marks of different axes joined by + or /.

    \b
    Example:
        $ fitsolve diagonal leg.fl outer+face leg.rr outer+face 59-3/8 --tool tape
        #56 diagonal leg.fl.outer/face to leg.rr.outer/face 59 3/8 in tape, plan 59.483: 0.108 less
    """
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    names, text = names_and_reading(words)
    points = _points(bench, names, problems)
    problems += length_problems(text, bench)
    with_tool = gathered(problems, tool_named, bench, tool)
    if problems or with_tool is None:
        raise BuildError(problems)
    row = Row(event="diagonal", start=points[0], end=points[1], reading=text, tool=with_tool, note=note)
    if tool is None:
        within_reach(bench, row)
    enter_asked(bench, row, sure)


def _points(bench: Bench, names: Sequence[str], problems: list[Problem]) -> list[str]:
    """Two points, each a hole or `mark + mark`, with whole names."""
    points: list[str] = []
    part = ""
    for name in names:
        if name in bench.assembly.parts or not (part or "+" in name or "/" in name or _is_point(bench, name)):
            part = gathered(problems, bench.names.part, name) or ""
            if not part:
                break
            continue
        if hole := bench.names.hole(name, part):
            points.append(hole)
            part = ""
            continue
        marks: list[str] = []
        for word in name.replace("/", "+").split("+"):
            mark = gathered(problems, bench.names.mark, word, part)
            if mark is None:
                break
            part = bench.assembly.marks[bench.names.kin(mark)].part
            marks.append(mark)
        points.append(" + ".join(marks))
        part = ""
    if len(points) != 2 and not problems:
        hint = "As in: fitsolve diagonal leg.fl outer+face leg.rr outer+back 61-3/8"
        problems += refuse("a diagonal goes from one point to another", hint, " ".join(names)).problems
    return [*points, "", ""][:2]


def _is_point(bench: Bench, typed: str) -> bool:
    """Whether a word by itself may be a point: a hole, or a mark, which is half of one."""
    if bench.names.hole(typed):
        return True
    try:
        bench.names.mark(typed)
    except BuildError:
        return False
    return True
