"""The command remake: a part is made anew. It says first what goes with the old one."""

from __future__ import annotations

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_part
from fitsolve.light import dataclass, replace

_APART = {"glued": "cut apart", "pegged": "drilled out or cut apart", "wedged": "cut apart"}


@dataclass(frozen=True)
class Gone:
    """What a remake takes with it: the rows that no longer count, the joints that are closed dry, those that are
    closed for good, each with what holds it."""

    rows: tuple[int, ...]
    dry: tuple[str, ...]
    for_good: dict[str, str]


@click.command()
@click.argument("part", shell_complete=complete_part)
@click.option("--sure", is_flag=True, help="Without a question; joints that are closed count as opened, or cut apart.")
@click.option("--note", default="", help="Why.")
@build_option
def remake(part: str, sure: bool, note: str) -> None:
    """Say that a part is made anew: it is uncut again, and its readings no longer count.

    Says first what is set aside and which joints must be opened, and asks.

    \b
    Example:
        $ fitsolve remake stretcher.front
        stretcher.front: uncut again; #56 no longer counts.
        #57 remake stretcher.front
    """
    from fitsolve.cli.questions import agreed, listening

    bench = open_bench(build_folder())
    name = bench.names.part_with_marks(part)
    gone = what_goes(bench, name)
    refused = not sure and not listening() and bool(gone.dry or gone.for_good)
    _say(bench, name, gone, refused)
    if refused:
        _refuse_closed(name, gone)
    if not sure and listening() and not agreed(_question(gone)):
        say("nothing was written")
        finish(1)
        return
    rows = [Row(event="open", start=joint, note=f"for the remake of {name}") for joint in gone.dry]
    written = write_all(bench, [*rows, Row(event="remake", start=name, note=note)])
    for one in written:
        say(f"#{one.row.no} {'opened:' if one.row.event == 'open' else 'remake'} {one.row.start}")
    finish(show_problems([*bench.said, *(problem for one in written for problem in one.problems)]))


def what_goes(bench: Bench, name: str) -> Gone:
    """What a remake of a part would take with it; nothing is written."""
    log = bench.log
    _, before = bench.settled
    row = Row(no=log.highest + 1, time="-", event="remake", start=name)
    _, after = bench.settled_by(replace(log, rows=(*log.rows, row)))
    rows = tuple(sorted(after.set_aside.keys() - before.set_aside.keys()))
    joints = bench.assembly.joints
    closed = {joints[k].name: how for k, how in sorted(before.closed.items()) if name in joints[k].parts}
    return Gone(
        rows,
        tuple(joint for joint, how in closed.items() if how != "glued"),
        {joints[k].name: way for k, way in sorted(before.for_good.items()) if name in joints[k].parts},
    )


def _say(bench: Bench, name: str, gone: Gone, refused: bool) -> None:
    from fitsolve.report.naming import rows_listed, words_of

    if gone.rows:
        aside = f"{rows_listed(gone.rows)} no longer count{'s' if len(gone.rows) == 1 else ''}"
    else:
        aside = "nothing was read or cut of it yet"
    say(f"{name}: {'not remade yet. Once it is:' if refused else 'uncut again;'} {aside}.")
    if gone.dry:
        say(f"  must be opened first: {words_of(gone.dry)} (closed dry)")
    for way in dict.fromkeys(gone.for_good.values()):
        say(f"  {way}, and must be {_APART[way]}: {words_of([one for one, by in gone.for_good.items() if by == way])}")
    others = _others(bench, name, gone)
    if others:
        say(f"  what it was joined to keeps its readings: {words_of(others)}")


def _others(bench: Bench, name: str, gone: Gone) -> list[str]:
    closed = {*gone.dry, *gone.for_good}
    parts = {part for joint in bench.assembly.joints if joint.name in closed for part in joint.parts}
    return [part for part in bench.assembly.parts if part in parts and part != name]


def _question(gone: Gone) -> str:
    if gone.for_good:
        return "Are they cut apart, and is it made anew?"
    return "Are they open, and is it made anew?" if gone.dry else "Is it made anew?"


def _refuse_closed(name: str, gone: Gone) -> None:
    """Where nobody can be asked, joints that are closed must be dealt with first."""
    if gone.for_good:
        joint, way = next(iter(gone.for_good.items()))
        apart = _APART[way]
        raise refuse(f"{joint} is {way}: it does not open",
                     f"{apart[0].upper()}{apart[1:]}? Then: fitsolve remake {name} --sure")  # fmt: skip
    if gone.dry:
        raise refuse(f"{gone.dry[0]} is closed", f"First: fitsolve open {gone.dry[0]}. Or all at once: "
                     f"fitsolve remake {name} --sure")  # fmt: skip
