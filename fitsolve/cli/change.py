"""Commands for what becomes of made wood, and of names: open, apart, trim, remake, rename."""

from __future__ import annotations

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import open_bench, write
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say
from fitsolve.cli.enter import enter, sized_row


@click.command("open")
@click.argument("joint", nargs=-1, required=True)
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def open_joint(joint: tuple[str, ...], note: str) -> None:
    """Say that a joint closed dry is open again.

    \b
    Example:
        $ fitsolve open dado leg.fl apron.front
        #43 opened: dado leg.fl apron.front
    """
    bench = open_bench(build_folder())
    name = bench.names.joint(" ".join(joint))
    enter(bench, Row(event="open", start=name, note=note), lambda w: f"#{w.row.no} opened: {name}")


@click.command()
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def apart(note: str) -> None:
    """Say that a setting-up has ended: parts that no closed joint ties have moved.

    \b
    Example:
        $ fitsolve apart
        #44 apart: readings across parts that no closed joint ties no longer count
    """
    said = "readings across parts that no closed joint ties no longer count"
    enter(open_bench(build_folder()), Row(event="apart", note=note), lambda w: f"#{w.row.no} apart: {said}")


@click.command()
@click.argument("name")
@click.argument("size", nargs=-1)
@click.option("--from", "start", metavar="MARK", help="The end it was laid out from.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def trim(name: str, size: tuple[str, ...], start: str | None, note: str) -> None:
    """Say that made wood was cut back: earlier readings that touch the mark no longer count.

    \b
    Example:
        $ fitsolve trim leg.fl.outer
        #45 trimmed leg.fl.outer: earlier readings of it no longer count
    """
    bench = open_bench(build_folder())
    row = sized_row(bench, Row(event="trim", start=name, reading=" ".join(size), note=note), start)
    whole = row.start
    enter(bench, row, lambda w: f"#{w.row.no} trimmed {whole}: earlier readings of it no longer count")


@click.command()
@click.argument("part")
@click.option("--note", default="", help="Why.")
@build_option
def remake(part: str, note: str) -> None:
    """Say that a part is made anew: it is uncut again, and its readings no longer count.

    \b
    Example:
        $ fitsolve remake rail.left-low
        #46 remake rail.left-low: it is uncut again, its readings no longer count
    """
    from fitsolve.build.state import settle
    from fitsolve.cli.ask import agreed, listening

    bench = open_bench(build_folder())
    name = bench.names.part(part)
    assembly, state = settle(bench.assembly, bench.log, bench.tools)
    own = {k for k, mark in enumerate(assembly.marks) if mark.part == name}
    aside = [one.no for one in state.readings if own & {mark for mark, _ in one.terms}]
    aside += [one.no for one in state.rough if own & {one.start, one.end}]
    for number, how in sorted(state.closed.items()):
        if name in assembly.joints[number].parts:
            first = "broken open" if how == "glued" else "opened"
            say(f"  first to be {first}: {assembly.joints[number].name} ({how})")
    rows = ", ".join(f"#{no}" for no in sorted(aside)[:8]) + (", ..." if len(aside) > 8 else "")
    if aside:
        say(f"  set aside then: {rows}")
    if listening() and not agreed(f"Remake {name}?"):
        say("not remade: nothing was written")
        finish(1)
    said = "it is uncut again, its readings no longer count"
    enter(bench, Row(event="remake", start=name, note=note), lambda w: f"#{w.row.no} remake {name}: {said}")


@click.command()
@click.argument("count", type=click.IntRange(1, 1000), default=1)
@click.option("--note", default="", help="Why.")
@build_option
def undo(count: int, note: str) -> None:
    """Strike the last row of the log that still counts, or the last COUNT of them.

    \b
    Example:
        $ fitsolve undo
        #48 struck #46: remake rail.left-low
    """
    from fitsolve.build.state import struck_rows
    from fitsolve.cli.enter import row_words

    bench = open_bench(build_folder())
    struck = struck_rows(bench.log)
    rows = sorted(bench.log.rows, key=lambda row: row.no, reverse=True)
    standing = [row for row in rows if row.event != "strike" and row.no not in struck]
    if len(standing) < count:
        have = f"{len(standing)} rows that count" if standing else "no row that counts"
        raise refuse(f"there is nothing to undo: the log has {have}" if not standing
                     else f"only {have}", "fitsolve log shows them.")  # fmt: skip
    for row in standing[:count]:
        written = write(bench, Row(event="strike", start=str(row.no), note=note))
        say(f"#{written.row.no} struck #{row.no}: {row_words(row)}")


@click.command()
@click.argument("old")
@click.argument("new")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def rename(old: str, new: str, note: str) -> None:
    """Say what a name of the log's earlier rows is called in the plan now.

    \b
    Example:
        $ fitsolve rename leg.fl.out leg.fl.outer
        #47 renamed: leg.fl.out in the rows before is now leg.fl.outer
    """
    bench = open_bench(build_folder())
    if old in bench.assembly.index or old in bench.assembly.parts:
        hint = "Rename in the plan first; then say here what the old name has become."
        raise refuse(f"{old} stands in the plan still", hint, old)
    named = {cell for row in bench.log.rows for cell in (row.start, row.end)}
    if not any(_names(cell, old) for cell in named):
        raise refuse("no row of the log names it: nothing to rename", "fitsolve log shows them.", old)
    name = bench.names.covered(new)
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
