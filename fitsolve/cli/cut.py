"""Commands for wood that was cut: made, trim.

What was cut is named as a part, then marks of it: a mark, the beginning of both walls of a dado,
a span FROM..TO. What it was cut to comes behind; without that it was cut as advised (advised).

    made apron.front                           all that is still to be cut, as advised
    made apron.front l.dado                    both walls, as advised
    made apron.front l.dado 8-15/16            the nearer wall there; the other as far from it as advised
    made apron.front l.dado --from leg.fl      knifed off the leg (knifed)

Rows that say one thing are written together, all of them or none.
"""

from __future__ import annotations

from collections.abc import Sequence

import click

from fitsolve.build.history import State
from fitsolve.build.logtext import Log, Row
from fitsolve.cli.bench import Bench, Written, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_name, complete_place
from fitsolve.cli.enter import gathered, length_problems, no_stray_options, reference_of
from fitsolve.errors import BuildError, Problem
from fitsolve.light import dataclass

_TAKES_ALL = {"ignore_unknown_options": True}


@dataclass(frozen=True)
class Cut:
    """What was named: whole names (a part, marks, beginnings), the marks they cover, the size typed."""

    names: tuple[str, ...]
    part: str
    marks: tuple[int, ...]
    size: str


def cut_meant(bench: Bench, words: Sequence[str], problems: list[Problem]) -> Cut | None:
    """What the words of a command name; what is wrong with them gathers in `problems`."""
    no_stray_options(words)
    count = 1
    while count < len(words) and words[count][:1].isalpha():
        count += 1
    size = " ".join(words[count:])
    problems += length_problems(size, bench) if size else []
    names = gathered_names(bench, words[:count], problems)
    for name in names:
        if name in bench.assembly.parts:
            gathered(problems, bench.names.part_with_marks, name)
    if not names or problems:
        return None
    marks = tuple(dict.fromkeys(mark for name in names for mark in covered(bench, name)))
    parts = sorted({_part(bench, name) for name in names})
    if len(parts) > 1:
        problems += refuse(f"these are {len(parts)} parts: {', '.join(parts)}", "Name one part at a time.").problems
        return None
    return Cut(tuple(names), parts[0], marks, size)


def gathered_names(bench: Bench, words: Sequence[str], problems: list[Problem]) -> list[str]:
    """Whole names: a part alone, or marks of it, or marks named whole."""
    first = words[0]
    if len(words) == 1 and ".." not in first:
        name = gathered(problems, bench.names.covered, first)
        return [name] if name else []
    part = ""
    if len(words) > 1:
        part = gathered(problems, bench.names.part, first) or ""
        if not part:
            return []
        words = words[1:]
    names = []
    for word in words:
        if ".." in word:
            from fitsolve.cli.reading import span_named_whole

            pair = gathered(problems, span_named_whole, bench, word, part)
            names += pair.split("..") if pair else []
        else:
            name = gathered(problems, bench.names.covered_in, word, part)
            if name and part and _part(bench, name) != part:
                problems += refuse(f"{name} is no mark of {part}", "Name one part at a time.", word).problems
            names += [name] if name else []
    return names


def covered(bench: Bench, name: str) -> list[int]:
    """The marks that a whole name covers."""
    if name.partition("@")[0] != name and name not in bench.assembly.index:
        return [bench.names.kin(name)]  # a station that only the log will name
    return list(bench.names.lookup.covered(name, 0))


def _part(bench: Bench, name: str) -> str:
    return bench.assembly.marks[covered(bench, name)[0]].part


# -- made ----------------------------------------------------------------------------------


@click.command(context_settings=_TAKES_ALL)
@click.argument("words", nargs=-1, required=True, metavar="PART [MARK]... [SIZE]", shell_complete=complete_name)
@click.option("--from", "reference", metavar="MARK|PART", shell_complete=complete_place,
              help="The end it was laid out from; or the part it was knifed off or pricked through.")  # fmt: skip
@click.option("--held", metavar="MARK", shell_complete=complete_name,
              help="With --from PART: the mark of this piece that lay on its mate when it was knifed.")  # fmt: skip
@click.option("--as-planned", is_flag=True, help="It was cut to the drawing, whatever was advised.")
@click.option("--as-of", metavar="NO", help="It was laid out when row NO was the last of the log; 0: before the first.")
@click.option("--sure", is_flag=True, help="Write SIZE down without a question, however far off it is.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def made(
    words: tuple[str, ...], reference: str | None, held: str | None, as_planned: bool, as_of: str | None, sure: bool,
    note: str,
) -> None:  # fmt: skip
    """Say that a part or a mark is cut, and to what.

    Without SIZE it is taken as cut to the lines that were advised last, else to the plan; asks where it may
    have been laid out before a reading that moved them. SIZE counts from
    the reference end. A name that begins both walls of a dado means both: SIZE is then that of the
    nearer one.

    With --from PART it was knifed off that part, and copies its width as it really is; SIZE then
    says how much wider it was cut, or a tongue narrower: the shim beside it. --held MARK copies
    the place too. The hole of a peg is pricked through that part, and moved by the draw.

    \b
    Example:
        $ fitsolve made apron.front l.dado 6-5/32
        #56 made apron.front l.dado-o at 6 5/32 in from l.end
        #57 made apron.front l.dado-i at 4.0422 in from l.dado-o, as advised
        ...
    """
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    cut = cut_meant(bench, words, problems)
    if cut is None:
        raise BuildError(problems)
    other = _other_part(bench, cut, reference)
    if held is not None and not other:
        raise refuse("--held goes with --from PART", "Name the part it was knifed off.")
    if as_planned and (other or cut.size):
        raise refuse("as planned, or something else?", "Leave out --as-planned, or the rest.")
    if as_of is not None and (other or cut.size or as_planned or reference is not None):
        raise refuse("as advised then, or something else?", "Leave out --as-of, or the rest.")
    if other:
        from fitsolve.cli.bored import pricked_rows
        from fitsolve.cli.knifed import knifed_rows

        rows = pricked_rows(bench, cut.marks, other, cut.size) or knifed_rows(bench, cut, other, held)
        if not sure and not _wider_meant(bench, cut, other):
            say("not kept: nothing was written")
            finish(1)
    elif cut.size:
        rows = _sized(bench, cut, reference)
        if not sure and not all(_meant(bench, row) for row, _ in rows[:1]):
            say("not kept: nothing was written")
            finish(1)
    elif reference is not None:
        rows = _at_plan_from(bench, cut, reference)
    elif as_planned:
        rows = made_rows(bench, cut.names, cut.marks, as_planned)
    else:
        from fitsolve.cli.laidsince import log_as_of, log_laid_out_by

        log = log_laid_out_by(bench, cut.part, cut.marks) if as_of is None else log_as_of(bench, as_of)
        rows = made_rows(bench, cut.names, cut.marks, as_planned, log)
    if not rows:
        finish(0)
    write_cuts(bench, [(Row(event=row.event, start=row.start, end=row.end, reading=row.reading, tool=row.tool,
                            note=", ".join(filter(None, (row.note, note)))), why) for row, why in rows])  # fmt: skip


def _meant(bench: Bench, row: Row) -> bool:
    from fitsolve.cli.ask import cut_anyway

    return cut_anyway(bench, row)


def _wider_meant(bench: Bench, cut: Cut, other: str) -> bool:
    from fitsolve.cli.ask import wider_anyway

    return wider_anyway(bench, ", ".join(cut.names), other, cut.size)


def _other_part(bench: Bench, cut: Cut, typed: str | None) -> str:
    """The part that something was knifed off, where --from names a part and no mark of the piece itself."""
    if typed is None:
        return ""
    names = bench.names
    if typed in bench.assembly.parts:
        return typed if typed != cut.part else ""
    try:
        names.mark(typed, cut.part)
    except BuildError as no_mark:
        try:
            return names.part(typed)
        except BuildError:
            raise no_mark from None
    return ""


def _sized(bench: Bench, cut: Cut, reference: str | None) -> list[tuple[Row, str]]:
    """A size for one mark, or for the nearer of two walls."""
    if len(cut.marks) == 1:
        end = reference_of(bench, cut.names[0], reference)
        return [(Row(event="made", start=cut.names[0], end=end, reading=cut.size), "")]
    if len(cut.marks) != 2 or len(cut.names) != 1:
        raise refuse(f"a size for {len(cut.marks)} marks at once: {_inside_all(bench, cut)}",
                     "Name one mark, or the beginning of both walls of a dado, and give its size.")  # fmt: skip
    marks = bench.assembly.marks
    first, second = (marks[mark].name for mark in cut.marks)
    if marks[cut.marks[0]].axis != marks[cut.marks[1]].axis:  # a hole: the row says along which axis
        end = reference_of(bench, first, reference)
        return [(Row(event="made", start=cut.names[0], end=end, reading=cut.size), "")]
    end = reference_of(bench, first if _is_end(bench, second) else second, reference)
    at = marks[bench.assembly.index[end]].plan_mm
    near, far = sorted(cut.marks, key=lambda mark: abs(marks[mark].plan_mm - at))
    width, why = _apart(bench, near, far)
    return [
        (Row(event="made", start=marks[near].name, end=end, reading=cut.size), ""),
        (Row(event="made", start=marks[far].name, end=marks[near].name, reading=width), why),
    ]


def _is_end(bench: Bench, name: str) -> bool:
    from fitsolve.build.reference import reference_ends

    return bench.assembly.index[name] in reference_ends(bench.assembly).values()


def _apart(bench: Bench, near: int, far: int) -> tuple[str, str]:
    """How far apart two marks were advised to be, else are planned, and which of the two it is."""
    from fitsolve.cli.advised import advised_cuts, size_text

    marks = bench.assembly.marks
    planned = abs(marks[far].plan_mm - marks[near].plan_mm)
    try:
        cuts = advised_cuts(bench, (near, far))
    except BuildError:
        cuts = {}
    if near in cuts and far in cuts and not (cuts[near].as_drawn and cuts[far].as_drawn):
        why = "as planned" if cuts[near].planned and cuts[far].planned else "as advised"
        return size_text(bench.assembly, cuts[far].size_mm - cuts[near].size_mm), why
    return size_text(bench.assembly, planned), "as planned"


def _at_plan_from(bench: Bench, cut: Cut, reference: str) -> list[tuple[Row, str]]:
    """At its plan distance from a mark of the piece."""
    if len(cut.marks) > 1:
        raise refuse(f"{len(cut.marks)} marks from {reference}?", "Name one mark, or leave out --from.")
    end = reference_of(bench, cut.names[0], reference)
    return [(Row(event="made", start=cut.names[0], end=end), f"as planned from {end}")]


def made_rows(
    bench: Bench, names: Sequence[str], marks: Sequence[int], planned_only: bool, log: Log | None = None
) -> list[tuple[Row, str]]:
    """Rows for what is still to be cut of these names, as advised else as planned, with the word for it.

    Where all of it is as planned, one row for each name. `log` is the log as it stood when it was laid out, where
    that is not now. Raises BuildError where the part waits.
    """
    from fitsolve.cli.advised import advised_cuts, is_made, size_text

    _, state = bench.settled
    earlier = log is not None and log is not bench.log
    if log is not None and earlier:
        from fitsolve.cli.laidsince import without_readings_since

        state = without_readings_since(bench, log)
    waiting = [mark for mark in _cut_with(bench, names, marks) if not is_made(state, mark)]
    cuts = advised_cuts(bench, waiting, log) if waiting and not planned_only else {}
    moved = [cut for cut in cuts.values() if earlier or not cut.as_drawn]  # what was read since must not move it
    word = "as planned" if waiting and not any(state.marks[mark] for mark in waiting) else ""
    own = bench.assembly.marks
    left = [mark for mark in waiting if not moved or mark not in cuts]
    holes = [peg for peg in bench.assembly.pegs if peg.tenon_hole in left]
    rows = []
    if holes:
        from fitsolve.cli.bored import bored_as_planned

        rows = [bored_as_planned(bench, state, peg) for peg in holes]
    bored = {own[peg.tenon_hole].name for peg in holes}
    if not moved:
        return [*((Row(event="made", start=name), word) for name in names if name not in bored), *rows]
    told = {*cuts, *(cut.reference for cut in cuts.values())}  # what a size counts from is there too
    for mark in waiting:
        if mark not in told and own[mark].station_of is None and own[mark].name not in bored:
            rows.append((Row(event="made", start=own[mark].name), word))
    for cut in cuts.values():
        size = size_text(bench.assembly, cut.size_mm)
        said = "as planned" if cut.planned else "as advised"
        rows.append((Row(event="made", start=own[cut.mark].name, end=own[cut.reference].name, reading=size), said))
    return rows


def _cut_with(bench: Bench, names: Sequence[str], marks: Sequence[int]) -> list[int]:
    """The marks that are cut when these names are said to be made: a part that is made is not bored by that for
    its pegs, for their holes are laid out from the other part's; a hole that is named is."""
    bored = {peg.tenon_hole for peg in bench.assembly.pegs}
    parts = {bench.assembly.marks[mark].part for mark in marks if bench.assembly.marks[mark].part in names}
    return [mark for mark in marks if mark not in bored or bench.assembly.marks[mark].part not in parts]


def write_cuts(bench: Bench, rows: Sequence[tuple[Row, str]]) -> None:
    """Write rows and echo them; their warnings go with them."""
    written = write_all(bench, [row for row, _ in rows])
    for one, (_, why) in zip(written, rows, strict=True):
        say(cut_echo(bench, one, why))
    _say_what_to_read(bench, written)
    finish(show_problems([*bench.said, *(problem for one in written for problem in one.problems)]))


def _say_what_to_read(bench: Bench, written: Sequence[Written]) -> None:
    """What is cut and not read is less sure than the size it was to be cut to: say so, and what gets that back."""
    from fitsolve.findings.wanted import wanted_readings
    from fitsolve.report.measures import Measures

    last = written[-1]
    if any(one.row.event == "compare" for one in written):  # knifed off another part, it is as wide as that
        return
    cut = {mark for one in written if one.row.event == "made" for mark in covered(bench, one.row.start)}
    unread = [one for one in wanted_readings(last.assembly, last.state)
              if one.event == "reading" and one.part and {one.start, one.end} & cut]  # fmt: skip
    for part in dict.fromkeys(one.part for one in unread):
        spread = Measures.of(last.assembly).u(last.assembly.workmanship_mm)
        say(f"  till it is read {spread}, as cuts land: fitsolve read {part}")


def cut_echo(bench: Bench, written: Written, why: str) -> str:
    """`#40 made apron.front l.dado-o at 8 15/16 in from l.end, as advised`."""
    from fitsolve.written import write_length

    row, unit = written.row, bench.assembly.unit
    if row.event == "compare":
        from fitsolve.cli.knifed import knifed_echo

        return knifed_echo(bench, written, why)
    behind = f", {why}" if why else ""
    if not row.reading:
        return f"#{row.no} {row.event} {row.start}{_marks_meant(bench, row.start)}{behind}"
    length = write_length(bench.length_mm(row.reading), unit, marked=True)
    part = _part(bench, row.start)
    start, end = row.start[len(part) + 1 :], row.end[len(part) + 1 :]
    return f"#{row.no} {row.event} {part} {start} at {length} from {end}{behind}"


def _marks_meant(bench: Bench, name: str) -> str:
    """The marks that a beginning covers, so that nothing is made unseen."""
    if name in bench.assembly.index or name in bench.assembly.parts or "@" in name:
        return ""
    marks = (bench.assembly.marks[mark] for mark in bench.names.lookup.covered(name, 0))
    return ": " + ", ".join(mark.name[len(mark.part) + 1 :] for mark in marks)


def _inside_all(bench: Bench, cut: Cut) -> str:
    from fitsolve.cli.names import listed

    return listed([bench.assembly.marks[mark].name[len(cut.part) + 1 :] for mark in cut.marks])


# -- trim ----------------------------------------------------------------------------------


@click.command(context_settings=_TAKES_ALL)
@click.argument("words", nargs=-1, required=True, metavar="PART [MARK]... [SIZE]", shell_complete=complete_name)
@click.option("--from", "reference", metavar="MARK", shell_complete=complete_place,
              help="The end it was laid out from.")  # fmt: skip
@click.option("--sure", is_flag=True, help="Write SIZE down without a question, however far off it is.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def trim(words: tuple[str, ...], reference: str | None, sure: bool, note: str) -> None:
    """Say that made wood was cut back: earlier readings that touch the mark no longer count.

    SIZE is what it was cut back to, from the reference end; without it, read it again.

    \b
    Example:
        $ fitsolve trim leg.fl outer
        #56 trim leg.fl.outer: #5 and #53 no longer count. Read it again.
    """
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    cut = cut_meant(bench, words, problems)
    if cut is None:
        raise BuildError(problems)
    end = ""
    if cut.size or reference is not None:
        if len(cut.names) > 1:
            raise refuse("a size for several marks?", "Name one mark, and give its size.")
        end = reference_of(bench, cut.names[0], reference)
    before = set(bench.settled[1].set_aside)
    if cut.size and not sure and not _meant(bench, Row(event="trim", start=cut.names[0], end=end, reading=cut.size)):
        say("not kept: nothing was written")
        finish(1)
    rows = [Row(event="trim", start=name, end=end, reading=cut.size, note=note) for name in cut.names]
    written = write_all(bench, rows)
    for one in written:
        say(cut_echo(bench, one, "") + _no_longer(one.state, before, one.row))
    finish(show_problems([*bench.said, *(problem for one in written for problem in one.problems)]))


def _no_longer(state: State, before: set[int], row: Row) -> str:
    """Which readings a trimmed mark takes with it, and what is to be done."""
    from fitsolve.report.naming import rows_listed

    rows = sorted(no for no, why in state.set_aside.items() if no not in before and why.endswith(f"#{row.no}"))
    verb = "counts" if len(rows) == 1 else "count"
    gone = f": {rows_listed(rows)} no longer {verb}" if rows else ": nothing was read of it yet"
    return f"{gone}." + ("" if row.reading else " Read it again.")
