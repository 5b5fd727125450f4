"""Adding a row to the log and echoing it; the command strike. Other commands stand in cut, join, change.

Each works out whole names, tries the row against the history, writes it, and echoes what is
now on disk. A row that cannot be is refused before anything is written.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import click

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import Log, Row, row_number
from fitsolve.build.readings import FLUSH_MM, Reading, RoughBound
from fitsolve.cli.bench import Bench, Written, open_bench, write
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.errors import BuildError, Problem


def gathered(problems: list[Problem], find: Callable[..., str], *typed: object) -> str | None:
    """Return what `find` comes to; where it refuses, None, and its problems with the others."""
    try:
        return find(*typed)
    except BuildError as error:
        problems += error.problems
        return None


def length_problems(text: str, bench: Bench) -> list[Problem]:
    """What is wrong with a reading as typed."""
    from fitsolve.errors import Place
    from fitsolve.lengths import LengthError

    if not text.strip():
        return [Problem(Place(), "the reading is missing", f"Put it at the end of the line, as {bench.example}.")]
    try:
        bench.length_mm(text)
    except LengthError as error:
        return [error.problem(Place())]
    return []


def enter(bench: Bench, row: Row, echo: Callable[[Written], str]) -> None:
    """Write a row and echo it; its warnings go with it."""
    try:
        written = write(bench, row)
    except BuildError as error:
        raise BuildError([_said_here(problem, row) for problem in error.problems]) from None
    say(echo(written))
    finish(show_problems([*bench.said, *written.problems]))


def _said_here(problem: Problem, row: Row) -> Problem:
    """A problem with the way out that the command line has."""
    if "which stands proud?" in problem.what:
        return Problem(problem.place, problem.what, f"Say which, as: --proud {row.start}")
    return problem


# -- echoes --------------------------------------------------------------------------------


def reading_echo(written: Written, bench: Bench) -> str:
    """What is on disk now, with the plan and the difference from it.

    `#39 leg.fl outer..inner 3 17/32 in caliper, plan 4: 15/32 less`
    """
    from fitsolve.written import write_length

    assembly, row = written.assembly, written.row
    standing: list[Reading | RoughBound] = [*written.state.readings, *written.state.rough]
    said = next((one for one in standing if one.no == row.no), None)
    if row.event in ("compare", "gang"):
        return _of_several(written)
    if row.event == "diagonal":
        return _of_points(written)
    kind = "rough " if row.event == "rough" else ""
    names = span_name(assembly, row.start, row.end)
    if said is None:
        return f"#{row.no} {kind}{names} {row.reading} {row.tool}"
    value = said.shown_mm if isinstance(said, Reading) else said.most_mm
    length = write_length(value, assembly.unit, marked=True)
    return f"#{row.no} {kind}{names} {length} {row.tool}{_against_plan(assembly, said)}{_against_cut(written, said)}"


def _of_several(written: Written) -> str:
    """A comparison or a stack of pieces: `#60 leg.fl outer..inner longer than leg.fr outer..inner by 0.04 in`."""
    from fitsolve.report.measures import off_plan
    from fitsolve.written import write_length

    assembly, row = written.assembly, written.row
    said = next((one for one in written.state.readings if one.no == row.no), None)
    spans = [span_name(assembly, *text.split("..")) for text in f"{row.start}+{row.end}".split("+") if text]
    names = f"{spans[0]} longer than {spans[-1]} by" if row.event == "compare" else " and ".join(spans) + " together"
    if said is None:
        return f"#{row.no} {names} {row.reading} {row.tool}"
    length = write_length(said.shown_mm, assembly.unit, marked=True)
    plan = sum(coef * assembly.marks[mark].plan_mm for mark, coef in said.terms)
    off = off_plan(said.value_mm - plan, assembly.unit)
    if row.event == "compare" and len({assembly.placed[mark] for mark, _ in said.terms}) > 1:
        return f"#{row.no} {names} {length} {row.tool}"
    shorter = " shorter" if plan < -FLUSH_MM else ""
    return f"#{row.no} {names} {length} {row.tool}, plan {write_length(abs(plan), assembly.unit)}{shorter}: {off}"


def _of_points(written: Written) -> str:
    """A diagonal: `#50 diagonal leg.fl.outer/face to leg.rr.outer/face 51.94 in rod, plan 51.884: 0.056 more`."""
    from fitsolve.build.points import planned_apart
    from fitsolve.report.measures import Measures, off_plan
    from fitsolve.written import write_length

    assembly, row = written.assembly, written.row
    said = next((one for one in written.state.readings if one.no == row.no), None)
    if said is None:
        return f"#{row.no} diagonal {row.start} to {row.end} {row.reading} {row.tool}"
    lead = f"#{row.no} diagonal {said.start} to {said.end} {write_length(said.shown_mm, assembly.unit, marked=True)}"
    marks = [mark for mark, _ in said.terms]
    plan = planned_apart(assembly, zip(marks[1::2], marks[::2], strict=True))
    if plan is None:
        return f"{lead} {row.tool}, not tied by the plan"
    off = off_plan(said.shown_mm - plan, assembly.unit)
    return f"{lead} {row.tool}, plan {Measures.of(assembly).bare(plan)}: {off}"


def span_name(assembly: Assembly, start: str, end: str) -> str:
    """Two marks, the part named once: `leg.fl outer..inner`, else `leg.fl.outer..leg.fr.outer`."""
    if start not in assembly.index or end not in assembly.index:  # all copies, as leg.*.outer..inner
        return f"{start}..{end}"
    first, second = (assembly.marks[assembly.index[name]] for name in (start, end))
    if first.part != second.part:
        return f"{start}..{end}"
    cut = len(first.part) + 1
    return f"{first.part} {start[cut:]}..{end[cut:]}"


def _against_plan(assembly: Assembly, said: Reading | RoughBound) -> str:
    """`, plan 4: 15/32 less`, or why there is nothing to compare with, and then which way it was taken."""
    from fitsolve.report.measures import off_plan
    from fitsolve.report.naming import lies_text
    from fitsolve.written import write_length

    if isinstance(said, Reading):
        (end, _), (start, _) = said.terms
        value = said.value_mm
    else:
        start, end, value = said.start, said.end, said.sign * said.most_mm
    if assembly.placed[start] != assembly.placed[end]:
        lies = lies_text(assembly, start, end, value)
        return ", not tied by the plan" + (f": taken as {lies}" if lies else "")
    plan = assembly.marks[end].plan_mm - assembly.marks[start].plan_mm
    if abs(plan) < FLUSH_MM:
        return "" if value == 0 else ", flush in the plan"
    way = 1.0 if plan > 0 else -1.0
    shown = write_length(abs(plan), assembly.unit)
    return f", plan {shown}: {off_plan(way * value - abs(plan), assembly.unit)}"


def _against_cut(written: Written, said: Reading | RoughBound) -> str:
    """`, cut to 16 31/32: 1/16 more`, where the two marks were cut to another distance than the plan's."""
    if not isinstance(said, Reading) or len(said.terms) != 2:
        return ""
    from fitsolve.report.measures import off_plan
    from fitsolve.written import write_length

    (end, _), (start, _) = said.terms
    assembly, cut = written.assembly, written.state.cut_to_mm
    if end >= len(cut) or assembly.placed[start] != assembly.placed[end]:
        return ""
    off = cut[end] - cut[start]
    laid = assembly.marks[end].plan_mm - assembly.marks[start].plan_mm + off
    if assembly.marks[start].part != assembly.marks[end].part or abs(off) < FLUSH_MM or abs(laid) < FLUSH_MM:
        return ""
    missed = off_plan((1.0 if laid > 0 else -1.0) * said.value_mm - abs(laid), assembly.unit)
    return f", cut to {write_length(abs(laid), assembly.unit)}: {'the same' if missed == 'as planned' else missed}"


def reference_of(bench: Bench, name: str, typed: str | None) -> str:
    """The mark a size counts from: the one named, else the reference end of the part."""
    from fitsolve.build.reference import reference_ends

    number = bench.assembly.index.get(name)
    if number is None:
        raise refuse(f"a size for all of {name}?", "Name one mark, and give its size.", name)
    mark = bench.assembly.marks[number]
    if typed is not None:
        return bench.names.mark(typed, mark.part)
    reference = reference_ends(bench.assembly)[mark.part, mark.axis]
    end = bench.assembly.marks[reference]
    if reference == number or (reference == mark.station_of and end.plan_mm == mark.plan_mm):  # no end of a slope
        raise refuse(
            f"{name} is the reference end of {mark.part} itself",
            "Say what it was laid out from: --from MARK.",
        )
    return end.name


@click.command()
@click.argument("number", metavar="NO")
@click.option("--note", default="", help="Why.")
@build_option
def strike(number: str, note: str) -> None:
    """Strike a row of the log: it then counts for nothing, and stays to be seen.

    \b
    Example:
        $ fitsolve strike 23
        #56 struck #23: reading leg.rl.foot leg.rl.head 32.006 rod
    """
    from fitsolve.build.folder import LOG
    from fitsolve.build.shoplog import append
    from fitsolve.build.state import struck_rows

    said: list[str] = []

    def check(log: Log, rows: tuple[Row, ...]) -> list[Problem]:
        target = row_number(number)
        by_number = {row.no: row for row in log.rows}
        if target in by_number:
            said.append(row_words(by_number[target]))
        elif target in log.broken:
            said.append("a row that could not be read")
        else:
            last = f"The rows are 1 to {log.highest}." if log.highest else "The log is empty."
            return list(refuse(f'the log has no row "{number[:40]}"', last, number).problems)
        earlier = struck_rows(log).get(target, 0)
        if earlier:
            return list(refuse(f"#{target} is struck already, by #{earlier}", word=number).problems)
        return []

    folder = build_folder()
    if not (folder / LOG).is_file():
        open_bench(folder)
        raise refuse("there is no log yet, so there is nothing to strike")
    target = row_number(number)
    written = append(folder / LOG, [Row(event="strike", start=str(target or number), note=note)], check)
    say(f"#{written[0].no} struck #{target}: {said[-1]}")


def no_stray_options(words: Sequence[str]) -> None:
    """A misspelled option must not be taken for part of a reading."""
    for word in words:
        if word.startswith("--") and len(word) > 2 and word[2].isalpha():
            from fitsolve.cli.misuse import no_such_option

            raise no_such_option(word)


def row_words(row: Row) -> str:
    """A row of the log in a few words: `reading leg.fl.inner leg.fr.inner 40 3/32 tape`."""
    return " ".join(cell for cell in (row.event, row.start, row.end, row.reading, row.tool) if cell)
