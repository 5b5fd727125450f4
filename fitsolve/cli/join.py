"""Commands for joints: close and open.

Closing says of every mark of the joint that it is made. What was cut and not written down is
written down first, at what was advised, so that nobody who followed the advice is thrown back to
the plan. Then it says what can't be read any more, and asks for what can be read now.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import State
from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_joint
from fitsolve.cli.enter import enter
from fitsolve.errors import BuildError, Place, Problem

if TYPE_CHECKING:
    from fitsolve.findings.wanted import WantedReading

_WAYS = ("dry", "glued", "pegged")
_LISTED_MOST = 8


@click.command()
@click.argument("joint", nargs=-1, required=True, shell_complete=complete_joint)
@click.option("--dry", is_flag=True, help="Put together, and can come apart again.")
@click.option("--glued", is_flag=True, help="For good.")
@click.option("--pegged", is_flag=True, help="Pegged or wedged: for good, with glue or without.")
@click.option("--sure", is_flag=True, help="For good, whatever is known to be wrong.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def close(joint: tuple[str, ...], dry: bool, glued: bool, pegged: bool, sure: bool, note: str) -> None:
    """Say that a joint is closed: dry, glued or pegged.

    What was cut for it and not written down yet is taken as cut to what was advised. Says what it
    fixes, then asks for what can be read now. Asks first where it would fix for good what is known
    to be wrong: a conflict, a fault of the joint, a peg that does not draw, a doubtful reading, a
    check of the frame that is beyond.

    \b
    Example:
        $ fitsolve close dado front fl --dry
        #56 made apron.front l.dado-o at 6 3/16 in from l.end, as advised
        #57 made apron.front l.dado-i at 10.2297 in from l.end, as advised
        #58 made apron.front l.floor at 1 1/4 in from show, as advised
        #59 made apron.front l.step at 2 in from low, as advised
        #60 closed, dry: dado leg.fl apron.front
          leg.fl, leg.rl, rail.left-low, rail.left-up and apron.front are one piece now, until it is opened.
        ...
    """
    bench = open_bench(build_folder())
    typed = [way for way, said in zip(_WAYS, (dry, glued, pegged), strict=True) if said]
    if joint[-1].lower() in _WAYS and not bench.names.is_word_of_joint(joint[-1]):
        typed, joint = [*typed, joint[-1].lower()], joint[:-1]  # typed without its dashes
    how = _how(typed, note)
    name = bench.names.joint(" ".join(joint))
    number = next(k for k, one in enumerate(bench.assembly.joints) if one.name == name)
    assembly, before = bench.settled
    _refuse_closed_already(bench, number, how, before)
    if note.lower().startswith(_WAYS):
        note = f"({note})"  # the first word of the row's note says how it was closed
    row = Row(event="close", start=name, note=f"{'glued, pegged' if how == 'pegged' else how} {note}".strip())
    said = len(bench.said)
    made = _made_first(bench, number, before, row.note)
    known: int | None = 0
    if how != "dry":
        from fitsolve.cli.forgood import status_of_closing

        unadvised, bench.said[said:] = bench.said[said:], []
        known = status_of_closing(bench, number, [one for one, _ in made], row, sure, unadvised)
        if known is None:
            finish(1)
    written = write_all(bench, [*(one for one, _ in made), row])
    _echo_made(bench, written, made)
    last = written[-1]
    say(f"#{last.row.no} closed, {how}: {name}")
    if how == "glued" and any(peg.joint == number for peg in bench.assembly.pegs):
        hint = f"Once it is: fitsolve close {name} --pegged"
        what = "the plan has a peg in it, which is not driven by that"
        bench.said.append(Problem(Place(), what, hint, level="notice"))
    status = show_problems([*bench.said, *(problem for one in written for problem in one.problems)])
    if number not in before.closed:
        from fitsolve.findings.wanted import wanted_readings

        wanted = wanted_readings(last.assembly, last.state)
        _say_what_is_fixed(assembly, number, before, last.state, wanted)
        _want_next(bench, set(wanted_readings(assembly, before)), wanted)
    finish(max(status, known or 0))


def _refuse_closed_already(bench: Bench, number: int, how: str, before: State) -> None:
    """A joint is closed once; one that is glued can still get its peg."""
    from fitsolve.build.history import MarkState

    already = before.closed.get(number)
    pegs = [peg for peg in bench.assembly.pegs if peg.joint == number]
    driven = how == "pegged" and any(before.marks[peg.tenon_hole] == MarkState.UNCUT for peg in pegs)
    if already in ("glued", how) and not driven:
        by = before.for_good.get(number, already)
        raise refuse(f"{bench.assembly.joints[number].name} is closed already, {by}", "fitsolve log shows since when.")


def _how(typed: Sequence[str], note: str) -> str:
    """The one way that was said."""
    ways = set(typed)
    if ways == {"glued", "pegged"}:
        return "pegged"
    if len(ways) > 1:
        raise refuse("dry or glued, not both", "Say the one that it is.")
    if not ways:
        hint = "Say --dry or --glued."
        if note.lower().startswith(_WAYS):
            hint += " The note does not say it: that is for anything worth keeping."
        raise refuse("dry or glued?", hint)
    return ways.pop()


def _made_first(bench: Bench, joint: int, state: State, note: str) -> list[tuple[Row, str]]:
    """Rows for what was cut for the joint and not written down: at what was advised, where that is off plan."""
    from fitsolve.build.bodies import pegged_holes
    from fitsolve.build.history import MarkState

    assembly = bench.assembly
    marks: dict[str, list[int]] = {}
    met = (mark for contact in assembly.joints[joint].contacts for mark in assembly.contacts[contact].marks)
    for mark in (*met, *pegged_holes(assembly, joint, note)):
        if state.marks[mark] != MarkState.MADE:
            marks.setdefault(assembly.marks[mark].part, []).append(mark)
    rows: list[tuple[Row, str]] = []
    for part, own in marks.items():
        try:
            rows += _advised_rows(bench, list(dict.fromkeys(own)))
        except BuildError as error:
            hint = f"It is taken as drawn. Read it, or say its sizes: fitsolve made {part} MARK SIZE"
            bench.said.append(Problem(Place(), error.problems[0].what, hint, level="warning"))
    return rows


def _advised_rows(bench: Bench, marks: list[int]) -> list[tuple[Row, str]]:
    from fitsolve.cli.cut import made_rows
    from fitsolve.cli.laidsince import log_laid_out_by

    names = [bench.assembly.marks[mark].name for mark in marks]
    log = log_laid_out_by(bench, bench.assembly.marks[marks[0]].part, tuple(marks))
    rows = made_rows(bench, names, marks, planned_only=False, log=log)
    holes = {bench.assembly.marks[peg.tenon_hole].name for peg in bench.assembly.pegs}
    if any(why == "as advised" for _, why in rows) or any(row.reading and row.start not in holes for row, _ in rows):
        return rows
    return [(row, why) for row, why in rows if row.start in holes]  # without its size it would go with the mortise


def _echo_made(bench: Bench, written: Sequence[object], made: Sequence[tuple[Row, str]]) -> None:
    from fitsolve.cli.bench import Written
    from fitsolve.cli.cut import cut_echo

    for one, (_, why) in zip(written, made, strict=False):
        assert isinstance(one, Written)
        say(cut_echo(bench, one, why))


def _say_what_is_fixed(
    assembly: Assembly, joint: int, before: State, after: State, wanted: Sequence[WantedReading]
) -> None:
    """What is one piece now, and what of the joint was never read and can't be any more."""
    from fitsolve.cli.forgood import as_made
    from fitsolve.findings.wanted import wanted_readings
    from fitsolve.report.naming import span_of, words_of

    body = _body(assembly, joint, after)
    for_good = after.closed.get(joint) == "glued"
    say(f"  {words_of(body)} are one piece now{', for good' if for_good else ', until it is opened'}.")
    hidden = {mark for contact in assembly.joints[joint].contacts for mark in assembly.contacts[contact].marks}
    still = set(wanted)
    state = before if all(before.marks[mark] for mark in hidden) else as_made(before, hidden)
    lost = [one for one in wanted_readings(assembly, state)
            if {one.start, one.end} & hidden and one not in still and one.event == "reading"]  # fmt: skip
    if lost:
        names = [span_of(assembly, one.start, one.end) for one in lost]
        more = [f"{len(names) - _LISTED_MOST} more"] if len(names) > _LISTED_MOST else []
        say(f"  never read, and taken as cut from here on: {words_of([*names[:_LISTED_MOST], *more])}")


def _body(assembly: Assembly, joint: int, state: State) -> list[str]:
    """The parts that closed joints (glued ones, if this one is) hold together with this one, in the order of
    the plan."""
    from fitsolve.build.bodies import Bodies

    joints = assembly.joints
    holding = [k for k, how in state.closed.items() if how == "glued" or state.closed.get(joint) != "glued"]
    bodies = Bodies(joints[k].parts for k in holding)
    own = bodies.of(joints[joint].parts[0])
    return [part for part in assembly.parts if bodies.of(part) == own]


def _want_next(bench: Bench, known: set[WantedReading], wanted: Sequence[WantedReading]) -> None:
    """Ask for what is wanted now and was not known to be; where nobody can be asked, list it."""
    from fitsolve.cli.ask import ask_for
    from fitsolve.cli.questions import listening
    from fitsolve.findings.tags import tagged_wanted
    from fitsolve.report.naming import asked

    new = [one for one in wanted if one not in known]
    if not new:
        return
    if listening():
        say("To be read now:")
        ask_for(open_bench(bench.folder), tagged_wanted(new), None)
        return
    for one in new[:_LISTED_MOST]:
        say(f"  to be read now: {asked(bench.assembly, one)}")
    rest = len(new) - _LISTED_MOST
    say(f"  {f'and {rest} more; ' if rest > 0 else ''}fitsolve read asks for them, fitsolve wanted lists all")


@click.command("open")
@click.argument("joint", nargs=-1, required=True, shell_complete=complete_joint)
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def open_joint(joint: tuple[str, ...], note: str) -> None:
    """Say that a joint closed dry is open again. One that is glued or pegged does not open.

    \b
    Example:
        $ fitsolve open dado leg.fl apron.front
        #61 opened: dado leg.fl apron.front
    """
    bench = open_bench(build_folder())
    name = bench.names.joint(" ".join(joint))
    enter(bench, Row(event="open", start=name, note=note), lambda w: f"#{w.row.no} opened: {name}")
