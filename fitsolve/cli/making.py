"""Commands for cutting and joining: made and close.

`made` writes down what a mark was cut to: the size that is said, else the size advised now, else
plan. `close` says what it fixes for good, and which readings are wanted now.
"""

from __future__ import annotations

from collections.abc import Sequence

import click

from fitsolve.build.assembly import Contact
from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, Written, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_joint, complete_mark
from fitsolve.cli.enter import enter, sized_row
from fitsolve.light import dataclass

SAME_MM = 5e-4
"""An advised size this near to plan is plan."""

KNIFE = "knife"


@dataclass(frozen=True)
class Advised:
    """A size advised for a mark: what it is laid out from, by name, and how far."""

    mark: str
    reference: str
    figure_mm: float
    plan_mm: float


@click.command()
@click.argument("name", shell_complete=complete_mark)
@click.argument("size", nargs=-1)
@click.option("--from", "reference", metavar="MARK|PART",
              help="The end it was laid out from; or the part it was knifed off, and no size.")  # fmt: skip
@click.option("--as-planned", is_flag=True, help="It was cut to plan, whatever was advised.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def made(name: str, size: tuple[str, ...], reference: str | None, as_planned: bool, note: str) -> None:
    """Say that a part or a mark is cut.

    SIZE is what one mark was laid out to, from the reference end. Without it: the size advised
    now, which is the plan where nothing else is known. NAME may be the beginning of several marks,
    as both walls of a dado: apron.front.l.dado.

    \b
    Example:
        $ fitsolve made apron.front.l.dado-o 8-15/16
        #40 made apron.front.l.dado-o at 8 15/16 in from apron.front.l.end
    """
    text = " ".join(size)
    bench = open_bench(build_folder())
    if text and as_planned:
        raise refuse("a size, or as planned?", "Leave out one of them.", text)
    whole = bench.names.covered(name)
    mate = _part_knifed_off(bench, whole, reference) if reference is not None and not text else ""
    if mate:
        _knifed(bench, whole, mate, note)
    elif text or reference is not None:
        _sized(bench, whole, text, reference, note)
    elif as_planned:
        from fitsolve.cli.advised import advised

        bench.said.extend(advised(bench, whole))
        row = Row(event="made", start=whole, note=note)
        enter(bench, row, lambda w: f"{_echo_plain(bench, w, whole)}, as planned")
    else:
        rows = [*_advised_rows(bench, whole, note), Row(event="made", start=whole, note=note)]
        _written(bench, rows, whole)


def _sized(bench: Bench, whole: str, text: str, reference: str | None, note: str) -> None:
    """One mark at the size said, from its reference end."""
    from fitsolve.lengths import read_length, write_length

    row = sized_row(bench, Row(event="made", start=whole, reading=text, note=note), reference)
    end = row.end

    def echo(written: Written) -> str:
        if not text:
            return f"#{written.row.no} made {whole} as planned from {end}"
        length = write_length(float(read_length(text, bench.assembly.unit)), bench.assembly.unit, marked=True)
        return f"#{written.row.no} made {whole} at {length} from {end}"

    enter(bench, row, echo)


def _echo_plain(bench: Bench, written: Written, whole: str) -> str:
    return f"#{written.row.no} made {whole}{_marks_meant(bench, whole)}"


def _marks_meant(bench: Bench, name: str) -> str:
    """The marks that a beginning covers, so that nothing is made unseen."""
    if name in bench.assembly.index or name in bench.assembly.parts:
        return ""
    marks = (bench.assembly.marks[mark] for mark in bench.names.lookup.covered(name, 0))
    return ": " + ", ".join(mark.name[len(mark.part) + 1 :] for mark in marks)


def _covered(bench: Bench, whole: str) -> list[int]:
    """The marks that a name covers, as numbers."""
    if whole in bench.assembly.parts:
        return [k for k, mark in enumerate(bench.assembly.marks) if mark.part == whole]
    return bench.names.lookup.covered(whole, 0)


def advised_sizes(bench: Bench, marks: Sequence[int]) -> list[Advised]:
    """The sizes advised now for these marks, where they are not made and something fixes them; none as
    long as nothing was read: then the plan is what one cuts to."""
    from fitsolve.build.state import settle
    from fitsolve.findings.running import layouts
    from fitsolve.findings.solved import solved
    from fitsolve.graph import make_graph
    from fitsolve.solve.pieces import solve_pieces

    assembly, state = settle(bench.assembly, bench.log, bench.tools)
    if not state.readings:
        return []
    graph = make_graph(assembly, state)
    whole = solved(assembly, state, graph, list(solve_pieces(graph.network)))
    names = {bench.assembly.marks[k].name for k in marks}
    found = []
    for layout in layouts(whole):
        for one in layout.marks:
            if assembly.marks[one.mark].name in names and one.figure_mm is not None:
                reference = assembly.marks[layout.reference].name
                found.append(Advised(assembly.marks[one.mark].name, reference, one.figure_mm, one.plan_mm))
    return found


def _advised_rows(bench: Bench, whole: str, note: str) -> list[Row]:
    """A row for each mark covered whose advised size is not plan."""
    from fitsolve.lengths import write_length

    unit = bench.assembly.unit
    off_plan = [
        one for one in advised_sizes(bench, _covered(bench, whole))
        if abs(one.figure_mm - one.plan_mm) > SAME_MM and one.figure_mm > 0
    ]  # fmt: skip
    return [
        Row(event="made", start=one.mark, end=one.reference, reading=write_length(one.figure_mm, unit), note=note)
        for one in off_plan
    ]


def _written(bench: Bench, rows: list[Row], whole: str) -> None:
    """Write rows of sizes advised and the row that covers the rest, if there is a rest."""
    from fitsolve.lengths import read_length, write_length

    unit = bench.assembly.unit
    sized = {row.start for row in rows if row.reading}
    if whole and sized.issuperset(bench.assembly.marks[mark].name for mark in _covered(bench, whole)):
        rows = rows[:-1]
    status = 0
    alone = ", as planned" if len(rows) == 1 and whole and _to_be_cut(bench, whole) else ""
    for written in write_all(bench, rows):
        row = written.row
        if row.event == "made" and row.reading:
            length = write_length(float(read_length(row.reading, unit)), unit, marked=True)
            say(f"#{row.no} made {row.start} at {length} from {row.end}, as advised")
        elif row.event == "compare":
            say(f"#{row.no} made {row.start.replace('..', ' and ')}: knifed off {row.end}")
        else:
            rest = alone or (", the rest as planned" if len(rows) > 1 else "")
            say(f"{_echo_plain(bench, written, whole)}{rest}")
        status = max(status, show_problems(written.problems))
    finish(status)


def _to_be_cut(bench: Bench, whole: str) -> bool:
    """Whether anything that a name covers was not there yet."""
    from fitsolve.cli.advised import covered

    state, marks = covered(bench, whole)
    return bool(marks) and not any(state.marks[mark] for mark in marks)


# -- knifed off the real thing --------------------------------------------------------------


def _part_knifed_off(bench: Bench, whole: str, typed: str | None) -> str:
    """The part that --from means; empty where it means a mark of the same part."""
    from fitsolve.cli.names import begins

    own = bench.assembly.marks[_covered(bench, whole)[0]].part
    if typed is None or (typed not in bench.assembly.parts and typed in bench.names._own(own)):
        return ""
    meant = [part for part in bench.assembly.parts if part == typed] or [
        part for part in bench.assembly.parts if begins(typed, part)
    ]
    return meant[0] if len(meant) == 1 and meant[0] != own else ""


def _knifed(bench: Bench, whole: str, mate: str, note: str) -> None:
    """Marks copied from the real part: the width between them is that part's own, whatever it measures."""
    covered = set(_covered(bench, whole))
    contacts = [c for c in bench.assembly.contacts if c.kind == "housing" and _pairs(bench, c, covered, mate)]
    if not contacts:
        raise refuse(
            f"no pair of marks of {whole} houses {mate}, or is housed by it",
            "Name both walls, as apron.front.l.dado, and the part they were knifed off.",
            mate,
        )
    names = [mark.name for mark in bench.assembly.marks]
    rows = _advised_rows(bench, whole, note)
    for contact in contacts:
        spans = [f"{names[low]}..{names[high]}" for low, high in _pairs(bench, contact, covered, mate)]
        rows.append(Row(event="compare", start=spans[0], end=spans[1], reading="0", tool=KNIFE, note=note))
    _written(bench, rows, "")


def _pairs(
    bench: Bench, contact: Contact, covered: set[int], mate: str
) -> tuple[tuple[int, int], ...]:
    """The two walls covered and the two marks of the mate that face them; empty where this is no such pair."""
    tongue, socket = (contact.marks[0], contact.marks[1]), (contact.marks[2], contact.marks[3])
    for own, other in ((socket, tongue), (tongue, socket)):
        if covered.issuperset(own) and bench.assembly.marks[other[0]].part == mate:
            return own, other
    return ()


# -- joints -----------------------------------------------------------------------------------


@click.command()
@click.argument("joint", nargs=-1, required=True, shell_complete=complete_joint)
@click.option("--dry", is_flag=True, help="Put together, and can come apart again.")
@click.option("--glued", is_flag=True, help="Glued, pegged or wedged: for good.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def close(joint: tuple[str, ...], dry: bool, glued: bool, note: str) -> None:
    """Say that a joint is closed, dry or glued; what that fixes for good is said.

    \b
    Example:
        $ fitsolve close tenon left-low fl --glued
        #41 closed, glued: tenon rail.left-low leg.fl
    """
    bench = open_bench(build_folder())
    how, words = _dry_or_glued(bench, joint, dry, glued, note)
    name = bench.names.joint(" ".join(words))
    before = _closed_how(bench, name)
    if before == how or before == "glued":
        raise refuse(f"{name} is closed already, {before}", "fitsolve log shows when.")
    if note.split()[:1] and note.split()[0].strip(",;:.").lower() in ("dry", "glued"):
        note = f"({note})"
    rows = write_all(bench, [Row(event="close", start=name, note=f"{how} {note}".strip())])
    say(f"#{rows[0].row.no} closed, {how}: {name}")
    status = show_problems(rows[0].problems)
    _what_it_fixes(rows[0], how)
    _wanted_then(bench)
    finish(status)


def _dry_or_glued(
    bench: Bench, joint: tuple[str, ...], dry: bool, glued: bool, note: str
) -> tuple[str, tuple[str, ...]]:
    """How the joint was closed, which may have been typed behind its name without the dashes; and its name."""
    if dry and glued:
        raise refuse("dry or glued, not both", "Say the one that it is.")
    how = "dry" if dry else "glued" if glued else ""
    if joint[-1].lower() in ("dry", "glued") and not bench.names.is_word_of_joint(joint[-1]):
        said, joint = joint[-1].lower(), joint[:-1]
        if how not in ("", said):
            raise refuse("dry or glued, not both", "Say the one that it is.")
        how = said
    if not how:
        hint = "Say --dry or --glued."
        if note.lower().startswith(("dry", "glued")):
            hint += " The note does not say it: that is for anything worth keeping."
        raise refuse("dry or glued?", hint)
    return how, joint


def _closed_how(bench: Bench, name: str) -> str:
    """How a joint is closed already; empty where it is open."""
    from fitsolve.build.state import settle

    assembly, state = settle(bench.assembly, bench.log, bench.tools)
    return next((how for number, how in state.closed.items() if assembly.joints[number].name == name), "")


def _what_it_fixes(written: Written, how: str) -> None:
    """Say what a closed joint settles: its parts move as one, and what it hides can't be read any more."""
    assembly, state = written.assembly, written.state
    joint = next(joint for joint in assembly.joints if joint.name == written.row.start)
    hidden = {mark for contact in joint.contacts for mark in assembly.contacts[contact].marks}
    read = {mark for reading in state.readings for mark, _ in reading.terms}
    unread = [assembly.marks[mark].name for mark in sorted(hidden - read)]
    good = " for good" if how == "glued" else " until it is opened"
    say(f"  {' and '.join(joint.parts)} move as one{good}.")
    if unread:
        more = f" and {len(unread) - 4} more" if len(unread) > 4 else ""
        say(f"  Never read, and hidden now: {', '.join(unread[:4])}{more}; taken as cut.")


def _wanted_then(bench: Bench) -> None:
    """Ask for the readings that are wanted now, or say how many there are."""
    from fitsolve.cli.ask import agreed, ask, listening
    from fitsolve.cli.paper import wanted_now

    bench = open_bench(bench.folder)
    listed = wanted_now(bench, "")
    if not listed:
        return
    count = f"{len(listed)} reading{'s' if len(listed) > 1 else ''} wanted now"
    if listening() and agreed(f"  {count}. Read them?"):
        ask(bench, "", None)
    else:
        say(f"  {count}: fitsolve wanted")
