"""Commands for what is to count no longer, and for names: apart, undo, rename."""

from __future__ import annotations

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_mark
from fitsolve.cli.enter import enter


@click.command()
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def apart(note: str) -> None:
    """Say that a setting-up has ended: parts that no closed joint ties have moved.

    \b
    Example:
        $ fitsolve apart
        #56 apart: readings across parts that no closed joint ties no longer count
    """
    said = "readings across parts that no closed joint ties no longer count"
    enter(open_bench(build_folder()), Row(event="apart", note=note), lambda w: f"#{w.row.no} apart: {said}")


@click.command()
@click.argument("count", type=click.IntRange(1, 1000), default=1)
@click.option("--note", default="", help="Why.")
@build_option
def undo(count: int, note: str) -> None:
    """Strike the last row of the log that still counts, or the last COUNT of them.

    Rows that one command wrote together, as `made apron.front` does, go together. A strike is taken
    back likewise: what it struck counts again.

    \b
    Example:
        $ fitsolve undo
        #57 struck #56: made top
    """
    from fitsolve.cli.enter import row_words

    bench = open_bench(build_folder())
    acts = last_acts(bench)
    if len(acts) < count:
        have = f"{len(acts)} that count" if acts else "no row that counts"
        raise refuse(f"there is nothing to undo: the log has {have}" if not acts
                     else f"there are only {have}", "fitsolve log shows them.")  # fmt: skip
    rows = [row for act in acts[:count] for row in act]
    note = f"{UNDONE} {note}".strip()
    written = write_all(bench, [Row(event="strike", start=str(row.no), note=note) for row in rows])
    for one, row in zip(written, rows, strict=True):
        said = f"#{row.start} counts again" if row.event == "strike" else row_words(row)
        say(f"#{one.row.no} struck #{row.no}: {said}")
    finish(show_problems([*bench.said, *(problem for one in written for problem in one.problems)]))


UNDONE, TAKEN_BACK = "undo", "taken back"
"""How the note of a strike begins that took something back: it is no act of its own, and is not taken back itself."""
_TOGETHER = ("made", "compare", "open", "remake", "close")
"""Events that one command may write several rows of, some with others; `trim` only with its like."""


def _of_one_sheet(one: Row, other: Row) -> bool:
    """Whether two readings came of one sheet."""
    readings = {one.event, other.event} <= {"reading", "diagonal"}
    return readings and one.note == other.note and one.note.startswith("list ")


def last_acts(bench: Bench) -> list[list[Row]]:
    """The rows that still count, the last first, those together that one command wrote: one behind the other with
    the same time. Logs were once written to the second alone, so that readings may share theirs: they go one by
    one, but for those of one sheet; and no command goes on behind a row that always is the last of one."""
    from fitsolve.build.state import struck_rows

    struck = struck_rows(bench.log)
    acts: list[list[Row]] = []
    for row in sorted(bench.log.rows, key=lambda row: row.no, reverse=True):
        if row.no in struck or (row.event == "strike" and row.note.startswith((UNDONE, TAKEN_BACK))):
            continue
        before = acts[-1][-1] if acts else None
        if before is not None and before.time == row.time and before.no == row.no + 1 and _go_together(row, before):
            acts[-1].append(row)
        else:
            acts.append([row])
    return acts


def _go_together(row: Row, after: Row) -> bool:
    """Whether one command may have written a row and the one after it."""
    if row.event == after.event == "trim" or _of_one_sheet(after, row):
        return True
    return {row.event, after.event} <= set(_TOGETHER) and not _ends_an_act(row)


def _ends_an_act(row: Row) -> bool:
    """Whether a row is always the last that a command writes."""
    return row.event in ("remake", "close") or (row.event == "compare" and row.tool != "knife")


@click.command()
@click.argument("old")
@click.argument("new", shell_complete=complete_mark)
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def rename(old: str, new: str, note: str) -> None:
    """Say what a name of the log's earlier rows is called in the plan now.

    \b
    Example:
        $ fitsolve rename leg.fl.out leg.fl.outer
        #56 renamed: leg.fl.out in the rows before is now leg.fl.outer
    """
    bench = open_bench(build_folder())
    if old in bench.assembly.index or old in bench.assembly.parts:
        hint = "Rename in the plan first; then say here what the old name has become."
        raise refuse(f"{old} stands in the plan still", hint, old)
    named = {cell for row in bench.log.rows for cell in (row.start, row.end)}
    if not any(_names(cell, old) for cell in named):
        raise refuse("no row of the log names it: nothing to rename", "fitsolve log shows them.", old)
    name = bench.names.covered(new, whole_block=True)
    row = Row(event="rename", start=old, end=name, note=note)
    enter(bench, row, lambda w: f"#{w.row.no} renamed: {old} in the rows before is now {name}")


def _names(cell: str, old: str) -> bool:
    """Whether a cell of the log has a name in it, or a name that begins with it. The second name of a span
    may be short, beside the first or in its part; a star stands for any word."""
    import fnmatch

    words = set(cell.replace("..", " ").replace("+", " ").split())
    for span in cell.split("+"):
        first, dots, second = (word.strip() for word in span.partition(".."))
        while dots and "." in first:
            first = first.rpartition(".")[0]
            words.add(f"{first}.{second}")
    old_words = old.split(".")
    for word in words:
        own = word.partition("@")[0].split(".") if "@" not in old else word.split(".")
        if old and len(old_words) <= len(own) and all(map(fnmatch.fnmatchcase, old_words, own)):
            return True
    return False
