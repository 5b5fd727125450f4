"""Lists to read by: the command `wanted`, what a tag means, and a whole sheet of tags and readings."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path

import click

from fitsolve.build.assembly import Assembly
from fitsolve.build.logtext import Log, Row
from fitsolve.build.state import State
from fitsolve.cli.bench import Bench, open_bench, write_all
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, show_problems
from fitsolve.cli.complete import complete_part
from fitsolve.errors import BuildError, Place, Problem
from fitsolve.findings.tags import OF_LENGTHS, Tagged, list_number, log_of_list, tagged, tagged_wanted
from fitsolve.light import dataclass, replace

LAST_LIST = ".last-list"
"""The number of the list that was shown last in this folder, so that `read w2` knows which list is meant.
It may be deleted at any time: then the list is shown again."""

SHEET_MAX = 1 << 20
"""A sheet of more letters than this is none."""


@click.command()
@click.option("--part", metavar="PART", shell_complete=complete_part, help="What is wanted of one part.")
@build_option
def wanted(part: str | None) -> None:
    """Readings still wanted, part by part, small tools first, each with a tag.

    \b
    Example:
        $ fitsolve wanted
        Wedging table   2 readings wanted, list 55-8e3e
        rail.left-low
          w1  f.lap-i..r.lap-i  plan 10  rod
        rail.right-low
          w2  f.lap-i..r.lap-i  plan 10  rod
        ...
    """
    from fitsolve.findings.wanted import of_checks
    from fitsolve.report.reading_list import wanted_blocks
    from fitsolve.report.screen import Block, Line, show

    bench = open_bench(build_folder(), to_answer=True)
    whole = wanted_now(bench, "")
    number = list_number(bench.assembly, bench.log)
    name = bench.names.part(part) if part is not None else ""
    listed = tuple(one for one in whole if not name or one.part == name)
    assembly, state = bench.settled
    made = any(state.marks)
    by_check = of_checks(assembly, state) if not name else ()
    begun = begun_now(assembly, state, [name] if name else assembly.parts)
    show(wanted_blocks(bench.assembly, listed, number, bench.tools, made, bool(by_check or begun)))
    if by_check:
        from fitsolve.report.reading_list import check_blocks

        show(check_blocks(assembly, by_check))
    if begun:
        from fitsolve.report.reading_list import begun_text

        show([Block("", (Line(begun_text(begun), hang=0),))])
    _remember(bench.folder, number)  # an empty list too: tags of the one before were not shown last
    if listed:
        hint = f"Enter one: fitsolve read w1 {bench.example}, or all one after another: fitsolve read"
        show([Block("", (Line(hint, hang=0),))])


def wanted_now(bench: Bench, part: str, log: Log | None = None) -> tuple[Tagged, ...]:
    """The readings wanted, with tags: of all that is made; of one part, also where it is not made yet; of
    every part where nothing is made at all."""
    from fitsolve.build.state import MarkState
    from fitsolve.findings.wanted import left_on_part, readings_of_parts, wanted_readings

    assembly, state = bench.settled_by(bench.log if log is None else log)
    found = wanted_readings(assembly, state)
    if part:
        own = [s for m, s in zip(assembly.marks, state.marks, strict=True) if m.part == part]
        if MarkState.UNCUT not in own:
            found = tuple(one for one in found if one.part == part)
        elif any(own):
            found = left_on_part(assembly, state, part)
        else:
            found = readings_of_parts(assembly, state, [part])
    elif all(mark == MarkState.UNCUT for mark in state.marks):
        found = readings_of_parts(assembly, state, assembly.parts)
    return tagged_wanted(found)


def begun_now(assembly: Assembly, state: State, parts: Iterable[str]) -> dict[str, int]:
    """The parts of which something is made and something is not cut yet, each with how many readings there will be to
    take once the rest is cut."""
    from fitsolve.build.state import MarkState
    from fitsolve.findings.wanted import left_on_part, wanted_readings

    own: dict[str, set[MarkState]] = {}
    for mark, one in zip(assembly.marks, state.marks, strict=True):
        own.setdefault(mark.part, set()).add(one)
    some = [part for part in parts if {MarkState.MADE, MarkState.UNCUT} <= own.get(part, set())]
    now = set(wanted_readings(assembly, state)) if some else set()
    counts = {part: len([one for one in left_on_part(assembly, state, part) if one not in now]) for part in some}
    return {part: count for part, count in counts.items() if count}


# -- tags ----------------------------------------------------------------------------------


def _remember(folder: Path, number: str) -> None:
    with suppress(OSError):  # a folder that can only be read: the list is shown, only its tags can't be used
        (folder / LAST_LIST).write_text(number + "\n", encoding="utf-8")


def tag_meant(bench: Bench, tag: str) -> Tagged:
    """What a tag of the list shown last means."""
    try:
        number = (bench.folder / LAST_LIST).read_text(encoding="utf-8")[:40].strip()
    except (OSError, UnicodeDecodeError):
        raise refuse(f"{tag} is a tag of a list, but none was shown here", "fitsolve wanted shows one.", tag) from None
    return _looked_up(_listed(bench, number), tag, number)


def _looked_up(listed: Sequence[Tagged], tag: str, number: str) -> Tagged:
    found = next((one for one in listed if one.tag == tag), None)
    if found is None:
        letter = [one for one in listed if one.tag[0] == tag[:1]]
        count = f"It has {letter[0].tag} to {letter[-1].tag}." if letter else "It has none of that letter."
        raise refuse(f"list {number} has no {tag}", count, tag)
    return found


def _listed(bench: Bench, number: str) -> tuple[Tagged, ...]:
    """All tags of a list: made again from the log as it was then."""
    then = log_of_list(bench.assembly, bench.log, number)
    if isinstance(then, str):
        raise refuse(then, "fitsolve wanted shows a new one.")
    return (*wanted_now(bench, "", then), *cuts_then(bench, then))


def cuts_then(bench: Bench, log: Log) -> tuple[Tagged, ...]:
    """The sizes to be cut, with tags c1, c2, ..., as they stood then: running figures, part by part."""
    from fitsolve.build.history import MarkState
    from fitsolve.findings.running import cut_pairs

    assembly, state = bench.settled_by(log)
    if all(mark == MarkState.MADE for mark in state.marks):
        return ()
    return tagged("c", cut_pairs(assembly, state))


# -- a whole sheet --------------------------------------------------------------------------


def read_sheet(bench: Bench, source: str, words: Sequence[str], tool: str | None, again: bool = False) -> None:
    """Enter a sheet: its list number on the first line, then a tag and a reading on each; all or none.

    What stands in the log from this very list, the same reading by the same tool, is not entered a second time
    unless it was read `again`.
    """
    if words:
        raise refuse("a sheet brings its own tags and readings", "Leave out the words behind the options.", words[0])
    lines = _sheet_lines(source)
    number, listed, rest = _headed(bench, lines)
    problems: list[Problem] = []
    rows = []
    in_hand = bench.names.tool(tool) if tool is not None else bench.last_tool()
    whole = _Sheet(bench, source, listed, number, problems)
    for line, text in rest:
        row, in_hand = whole.row(line, text, in_hand)
        rows += [row] if row is not None else []
    if problems:
        raise BuildError(problems)
    if not rows:
        raise refuse("there is no reading on this sheet", f"A line is a tag and a reading, as: w2 {bench.example}")
    if not again:
        _not_twice(bench, rows)
    _entered(bench, rows)


def _not_twice(bench: Bench, rows: list[Row]) -> None:
    """Refuse a sheet of which something is in the log already: read in twice it would check itself."""
    from fitsolve.build.state import struck_rows
    from fitsolve.report.naming import rows_listed

    struck = struck_rows(bench.log)
    read = [row for row in bench.log.rows if row.event in ("reading", "diagonal") and row.no not in struck]
    known = {_said(row): row.no for row in read}
    there = sorted({known[_said(row)] for row in rows if _said(row) in known})
    if there:
        count = f"{len(there)} of its {len(rows)} readings" if len(there) < len(rows) else "all of it"
        hint = "Strike those lines out of it; or were they read once more? Then say --again. Nothing was written."
        raise refuse(f"of this sheet {count} is in the log already: {rows_listed(there)}", hint)


def _said(row: Row) -> tuple[str, ...]:
    """What a reading of a sheet says, and from which list."""
    return row.note, row.start, row.end, " ".join(row.reading.split()), row.tool


def _entered(bench: Bench, rows: list[Row]) -> None:
    from fitsolve.cli.ask import strange
    from fitsolve.cli.reading import full_echo

    status = 0
    for written in write_all(bench, rows):
        say(full_echo(written, bench))
        odd = [Problem(Place(), f"#{written.row.no}: {why}", f"Wrong? fitsolve strike {written.row.no}",
                       level="warning")
               for why in (strange(bench, written.row), _hardly_spans(bench, written.row)) if why]  # fmt: skip
        status = max(status, show_problems([*odd, *written.problems]))
    say(f"{len(rows)} kept.")
    finish(status)


def _hardly_spans(bench: Bench, row: Row) -> str:
    """What is odd about the tool of a reading: on paper its name is easily forgotten."""
    from fitsolve.build.tools import find_tool, reaches

    odd = not reaches(find_tool(row.tool, bench.tools), bench.length_mm(row.reading))
    return f"{row.reading} by {row.tool}, which hardly spans it" if odd else ""


def _sheet_lines(source: str) -> list[tuple[int, str]]:
    """The lines of a sheet that say something, with their numbers."""
    try:
        if source == "-":
            text = sys.stdin.read(SHEET_MAX + 1)
        else:
            with open(source, encoding="utf-8-sig") as file:
                text = file.read(SHEET_MAX + 1)
    except OSError as why:
        reason = (why.strerror or str(why)).lower()
        raise refuse(f"the sheet {source} can't be read: {reason}", "Name the file it stands in.") from None
    except UnicodeDecodeError:
        hint = "Save the sheet as UTF-8 text, a tag and a reading a line."
        raise refuse(f"{source} is no plain text", hint) from None
    if len(text) > SHEET_MAX:
        raise refuse(f"{source} has more than {SHEET_MAX} letters: nothing of it was read", "Is this the right file?")
    lines = enumerate(text.splitlines(), 1)
    return [(number, line.strip()) for number, line in lines if line.split("#")[0].strip()]


def _headed(
    bench: Bench, lines: list[tuple[int, str]]
) -> tuple[str, tuple[Tagged, ...], list[tuple[int, str]]]:
    """The number of the sheet's list, its tags, and the lines behind its head."""
    first = lines[0][1].split() if lines else []
    if not first or first[0].lower() not in ("list", "sheet") or len(first) != 2:
        raise refuse(
            "the first line of a sheet is the number of its list",
            "Copy it from the head of the list, as: list 55-3f2a",
            lines[0][1] if lines else "",
        )
    return first[1], _listed(bench, first[1]), lines[1:]


@dataclass(frozen=True)
class _Sheet:
    """A sheet that is being read: where it stands, its list, and what is wrong with its lines so far."""

    bench: Bench
    source: str
    listed: Sequence[Tagged]
    number: str
    problems: list[Problem]

    def row(self, line: int, text: str, in_hand: str) -> tuple[Row | None, str]:
        """A line of the sheet as a row, and the tool in hand behind it: a tool's name alone changes it, one
        behind a reading counts for that one."""
        from fitsolve.lengths import LengthError

        words = text.split("#")[0].split()
        try:
            if len(words) == 1 and words[0][0].isalpha() and not any(c.isdigit() for c in words[0]):
                return None, self.bench.names.tool(words[0])
            one = _looked_up(self.listed, words[0].rstrip(":"), self.number)
            tool, length = in_hand, words[1:]
            if len(length) > 1 and length[-1][0].isalpha() and length[-1] not in OF_LENGTHS:
                tool, length = self.bench.names.tool(length[-1]), length[:-1]
            if not tool:
                raise refuse("which tool was it read with?", "Write its name on a line of its own, above.")
            reading = " ".join(length)
            if not reading:
                raise refuse("the reading is missing", "Leave the line out, or write it behind the tag.")
            self.bench.length_mm(reading)
            names = one.ends(self.bench.assembly)
            note = f"list {self.number}"
            return Row(event=one.event, start=names[0], end=names[1], reading=reading, tool=tool, note=note), in_hand
        except BuildError as error:
            self.problems.extend([replace(p, place=Place(self.source, line, text=text)) for p in error.problems])
        except LengthError as error:
            found = error.problem(Place())
            where = found.place
            place = Place(self.source, line, text=where.text, column=where.column, width=where.width)
            self.problems.append(replace(found, place=place))
        return None, in_hand
