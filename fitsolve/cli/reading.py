"""The command `read`: one reading, a sheet of them, or one after another as they are wanted.

Not here: the conversation at the bench (ask), what a row says (build.readings).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Bench, Written, open_bench
from fitsolve.cli.builtin import ListsTools
from fitsolve.cli.common import at_least, build_folder, build_option, finish, refuse, say
from fitsolve.cli.complete import complete_name, complete_tool
from fitsolve.cli.enter import enter, gathered, length_problems, no_stray_options, reading_echo
from fitsolve.errors import BuildError, Problem
from fitsolve.lengths import LengthError
from fitsolve.light import dataclass, pattern

if TYPE_CHECKING:
    from fitsolve.findings.tags import Tagged

_TAKES_ALL = {"ignore_unknown_options": True}
_TAG = pattern(r"[wc][1-9][0-9]{0,5}")
APART_MOST = 3.2905
"""Two readings of the same differ by more than so many times their u once in a thousand (two-sided normal)."""
_JOINED = pattern(r"\+(?=\s*[^\d\s])")
"""A + between two spans; one before a digit is of a length, and no name begins with a digit."""


@dataclass(frozen=True)
class How:
    """How a reading was taken, as the options say."""

    tool: str | None = None
    rough: bool = False
    lean: bool = False
    proud: str | None = None
    longer_than: str | None = None
    note: str = ""
    sure: bool = False


@click.command(cls=ListsTools, context_settings=_TAKES_ALL)
@click.argument("words", nargs=-1, metavar="[PART] [FROM TO] [READING]", shell_complete=complete_name)
@click.option("--tool", metavar="TOOL", shell_complete=complete_tool,
              help="What it was read with; if not said, the last tool of the log.")  # fmt: skip
@click.option("--rough", is_flag=True, help="It can still come down: the piece is rough here.")
@click.option("--proud", metavar="MARK",
              help="For two marks flush in the plan: the one (or its part) that stands further out.")  # fmt: skip
@click.option("--longer-than", metavar="SPAN",
              help="A comparison: the span read is longer than this one by READING.")  # fmt: skip
@click.option("--lean", is_flag=True, help="A lean: what stands open at the end of the square's blade.")
@click.option("--sheet", metavar="FILE", help="A sheet of tags and readings, one a line; - for the keyboard.")
@click.option("--again", is_flag=True, help="With --sheet: what is on it was read once more, as repeats.")
@click.option("--sure", is_flag=True, help="Keep it without a question, however far off it is.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def read(
    words: tuple[str, ...], tool: str | None, rough: bool, proud: str | None, longer_than: str | None,
    lean: bool, sheet: str | None, again: bool, sure: bool, note: str,
) -> None:  # fmt: skip
    """Enter readings: how far TO is from FROM.

    The part is named once; the marks are its own unless they are named whole. A span may be
    written FROM..TO. The reading is the rest of the line; a tool may stand behind it. Any
    unambiguous beginning of a name will do. A tag of `fitsolve wanted` may stand for part and marks.

    Without a reading, asks for it; without marks, for all that is wanted, of one part if one is
    named. A number and Enter keeps, Enter skips, - takes the last one back, . stops, a tool's
    name changes the tool, ? shows these keys. A + asks for the last one once more (a repeat);
    behind a number it keeps that one and asks for the same again.

    Several equal pieces stacked and read at once: join their spans with +, as
    leg.fl.outer..inner+leg.fr.outer..inner, or for all copies 'leg.*.outer..inner'.

    \b
    Example:
        $ fitsolve read stretcher.front l.notch-o l.notch-i 2-17/32 --tool caliper
        #56 stretcher.front l.notch-o..l.notch-i 2 17/32 in caliper, plan 2 1/2: 1/32 more
    """
    no_stray_options(words)
    how = How(tool, rough, lean, proud, longer_than, note, sure)
    bench = open_bench(build_folder())
    if sheet is not None:
        from fitsolve.cli.paper import read_sheet

        read_sheet(bench, sheet, words, how.tool, again)
        return
    if words and words[0].startswith("#"):
        raise _row_typed(bench, words)
    if not words or (len(words) == 1 and _is_part(bench, words[0])):
        from fitsolve.cli.ask import ask

        ask(bench, _part_to_read(bench, words[0]) if words else "", tool)
        return
    read_one(bench, words, how)


def _row_typed(bench: Bench, words: Sequence[str]) -> BuildError:
    """The number of a row where marks belong: how what it read is read once more."""
    no = words[0][1:]
    rows = [row for row in bench.log.rows if str(row.no) == no and row.event in ("reading", "lean", "rough")]
    if not rows:
        return refuse(f"{words[0]} is the number of a row, and no mark", "fitsolve log shows what it says.", words[0])
    from fitsolve.report.naming import span_named

    again = span_named(bench.assembly, rows[0].start, rows[0].end)
    hint = f"To read the same once more: fitsolve read {again} {' '.join(words[1:]) or bench.example}"
    return refuse(f"{words[0]} is the number of a row, and no mark", hint, words[0])


def _is_part(bench: Bench, word: str) -> bool:
    """Whether a single word means a part (and not, say, a tag without its reading)."""
    if _TAG.fullmatch(word) and word not in bench.assembly.parts:
        return False
    return ".." not in word and "+" not in word


def _part_to_read(bench: Bench, word: str) -> str:
    """The part that a single word means."""
    if word in bench.assembly.index and word not in bench.assembly.parts:
        raise refuse(f"{word} is a mark; a reading has two", f"As in: fitsolve read {word}..MARK {bench.example}", word)
    return bench.names.part_with_marks(word)


def read_one(bench: Bench, words: Sequence[str], how: How) -> None:
    """Enter the one reading that the words say."""
    words, how = _tool_behind(bench, words, how)
    problems: list[Problem] = []
    if how.rough and (how.proud or how.lean or how.longer_than):
        raise refuse("rough wood has only a length", "Leave out --proud, --lean and --longer-than, or --rough.")
    alone = _named_alone(bench, words, how)
    if alone is not None:
        from fitsolve.cli.ask import ask_for

        ask_for(bench, (alone,), how.tool)
        return
    meant = gathered_row(bench, words, how, problems)
    tool = gathered(problems, tool_named, bench, how.tool, meant)
    if problems or meant is None or tool is None:
        raise BuildError(problems)
    row = Row(
        event=meant.event, start=meant.start, end=meant.end, reading=meant.reading, tool=tool, note=meant.note
    )
    if how.tool is None and row.event in ("reading", "rough", "gang", "diagonal"):
        within_reach(bench, row)
    enter_asked(bench, row, how.sure)


def enter_asked(bench: Bench, row: Row, sure: bool) -> None:
    """Enter a reading; a strange one is asked about first, unless it is `sure`. Another number typed at the
    question stands in its place, and is looked at likewise."""
    from fitsolve.cli.ask import keep_anyway
    from fitsolve.light import replace

    while not sure and (kept := keep_anyway(bench, row, row.reading)) is not True:
        if not kept:
            say("not kept: nothing was written")
            finish(1)
        row = replace(row, reading=str(kept).replace(",", "."))
    enter(bench, row, lambda written: full_echo(written, bench))


def _tool_behind(bench: Bench, words: Sequence[str], how: How) -> tuple[Sequence[str], How]:
    """A tool may stand behind the reading, as on a sheet; then it is none of its words."""
    begun = any(word[:1].isdigit() for word in words[1:-1])  # no name begins with a digit
    if how.tool is not None or not begun or not words[-1][:1].isalpha():
        return words, how
    from fitsolve.findings.tags import OF_LENGTHS
    from fitsolve.light import replace

    if words[-1] in OF_LENGTHS:
        return words, how
    try:
        return words[:-1], replace(how, tool=bench.names.tool(words[-1]))
    except BuildError as unknown:
        from fitsolve.build.tools import BUILT_IN

        if _close_to(words[-1], [*BUILT_IN, *bench.tools]):
            raise unknown from None
        return words, how


def _close_to(typed: str, names: Sequence[str]) -> bool:
    """Whether a word looks like a slip of one of some names."""
    import difflib

    return bool(difflib.get_close_matches(typed.lower(), names, n=1, cutoff=0.75))


def _named_alone(bench: Bench, words: Sequence[str], how: How) -> Tagged | None:
    """The reading that was named and not given, where somebody can be asked for it; else None."""
    from fitsolve.cli.questions import listening

    plain = not (how.rough or how.proud or how.lean or how.longer_than or how.note or how.sure)
    if not plain or words[-1][:1].isdigit() or any("+" in word or "*" in word for word in words) or not listening():
        return None
    from fitsolve.findings.tags import Tagged

    across = _diagonal_of(bench, words[0])
    if across is not None:
        return Tagged("", across.part, across.start, across.end, across.plan_mm, across.event, across.names)
    problems: list[Problem] = []
    _, first, second, rest = spanned(bench, words, problems)
    index, marks, placed = bench.assembly.index, bench.assembly.marks, bench.assembly.placed
    start, end = (index.get(name or "") for name in (first, second))
    if problems or rest or start is None or end is None:
        return None
    one, other = marks[start], marks[end]
    if one.axis != other.axis:
        raise refuse(f"{one.name} lies along {one.axis}, {other.name} along {other.axis}: "
                     "that is no distance along one axis", "Name two marks of one axis.", " ".join(words))  # fmt: skip
    return Tagged("", "", start, end, abs(other.plan_mm - one.plan_mm) if placed[start] == placed[end] else None)


def gathered_row(bench: Bench, words: Sequence[str], how: How, problems: list[Problem]) -> Row | None:
    """The row that the words and options say, without its tool; what is wrong gathers in `problems`."""
    if _JOINED.search(" ".join(words)) or "*" in words[0]:
        return _gang(bench, words, how, problems)
    across = _diagonal_of(bench, words[0])
    if across is not None:
        if how.rough or how.lean or how.proud or how.longer_than:
            raise refuse("a diagonal has only a length", "Leave out the other options.")
        text = " ".join(words[1:])
        problems += length_problems(text, bench)
        return Row(event="diagonal", start=across.names[0], end=across.names[1], reading=text, note=how.note)
    part, first, second, rest = spanned(bench, words, problems)
    text = " ".join(rest)
    if first and second and (":" in text or "°" in text or "deg" in text):
        from fitsolve.cli.angle import no_angle

        if (angle := no_angle(bench.assembly, first, second, text)) is not None:
            raise angle
    problems += length_problems(text, bench)
    other = gathered(problems, span_named_whole, bench, how.longer_than, part) if how.longer_than else ""
    proud = gathered(problems, _proud, bench, how.proud, part, first, second) if how.proud is not None else ""
    if first is None or second is None or other is None or proud is None:
        return None
    note = " ".join(piece for piece in (f"proud {proud}" if proud else "", how.note) if piece)
    if other:
        return Row(event="compare", start=f"{first}..{second}", end=other, reading=text, note=note)
    event = "rough" if how.rough else "lean" if how.lean else "reading"
    return Row(event=event, start=first, end=second, reading=text, note=note)


def _diagonal_of(bench: Bench, word: str) -> Tagged | None:
    """The diagonal that a tag means; None where it is no tag, or one of a span."""
    if not _TAG.fullmatch(word) or word in bench.assembly.parts:
        return None
    from fitsolve.cli.paper import tag_meant

    one = tag_meant(bench, word)
    return one if one.event == "diagonal" else None


def _gang(bench: Bench, words: Sequence[str], how: How, problems: list[Problem]) -> Row | None:
    """Equal pieces stacked: spans joined with +, each as one alone is named."""
    if how.rough or how.lean or how.proud or how.longer_than:
        raise refuse("a stack of pieces has only a length", "Leave out the other options.")
    typed = " ".join(words)
    groups = [group.split() for group in _JOINED.split(typed)]
    spans: list[str] = []
    rest: Sequence[str] = ()
    for group in groups:
        if not group or rest:  # nothing stands on one side of a +, or a length in the midst
            raise refuse("a + joins two spans", "As in leg.fl.outer..inner+leg.fr.outer..inner", typed)
        if "*" in group[0]:
            spans, rest = [*spans, group[0]], group[1:]
            continue
        _, first, second, rest = spanned(bench, group, problems)
        if first and second:
            spans.append(f"{first}..{second}")
    text = " ".join(rest)
    problems += length_problems(text, bench)
    if len(spans) < len(groups):
        return None
    return Row(event="gang", start="+".join(spans), reading=text, note=how.note)


def spanned(
    bench: Bench, words: Sequence[str], problems: list[Problem]
) -> tuple[str, str | None, str | None, Sequence[str]]:
    """The part that was named, the two marks by their whole names, and the words behind them."""
    names, first = bench.names, words[0]
    if _TAG.fullmatch(first) and first not in bench.assembly.parts:
        from fitsolve.cli.paper import tag_meant

        one = tag_meant(bench, first)
        return one.part, *one.ends(bench.assembly), words[1:]
    if ".." in first:
        pair = gathered(problems, span_named_whole, bench, first)
        start, _, end = (pair or "").partition("..")
        return "", start or None, end or None, words[1:]
    if first in bench.assembly.index and first not in bench.assembly.parts and len(words) > 1:
        own = bench.assembly.marks[bench.assembly.index[first]].part
        return own, first, gathered(problems, names.mark, words[1], own, names.axis_of(first)), words[2:]
    part = gathered(problems, names.part, first)
    if len(words) > 1 and ".." in words[1]:
        pair = gathered(problems, span_named_whole, bench, words[1], part) if part else None
        start, _, end = (pair or "").partition("..")
        return part or "", start or None, end or None, words[2:]
    if len(words) < 3:
        raise refuse("a mark is missing", f"As in: fitsolve read leg.fl outer inner {bench.example}", " ".join(words))
    if part is None:
        return "", None, None, words[3:]
    if words[1][:1].isdigit() or words[2][:1].isdigit():  # no name begins with a digit
        if not words[1][:1].isdigit() and gathered(problems, names.mark, words[1], part) is None:
            return part, None, None, words[2:]
        given = " ".join(words[1:] if words[1][:1].isdigit() else words[2:])
        hint = f"As in: fitsolve read {part} FROM TO {given}"
        raise refuse(f"a mark is missing before {given}", hint, " ".join(words))
    start_mark = gathered(problems, names.first, words[1], part, words[2])
    along = names.axis_of(start_mark) if start_mark else ""
    if len(words) > 3 and words[2] in bench.assembly.parts and words[3][:1].isalpha():  # PART FROM PART TO
        return "", start_mark, gathered(problems, names.mark, words[3], words[2], along), words[4:]
    end_mark = gathered(problems, names.mark, words[2], part, along)
    return part, start_mark, end_mark, words[3:]


def span_named_whole(bench: Bench, typed: str, part: str | None = "") -> str:
    """A span FROM..TO with both marks by their whole names; TO is of the part of FROM unless it is whole."""
    return "..".join(bench.names.span(typed, part or ""))


def _proud(bench: Bench, typed: str, part: str, first: str | None, second: str | None) -> str:
    """The one of two marks that was said to stand proud: by its name, or by its part where they differ."""
    index, marks = bench.assembly.index, bench.assembly.marks
    ends = [name for name in (first, second) if name in index]
    parts = {marks[index[name]].part for name in ends if name}
    if len(parts) > 1:
        from fitsolve.cli.names import begins

        meant = [name for name in sorted(parts) if name == typed] or [n for n in sorted(parts) if begins(typed, n)]
        if len(meant) == 1:
            return meant[0]
    return bench.names.mark(typed, part)


def tool_named(bench: Bench, typed: str | None, meant: Row | None = None) -> str:
    """The tool that was named, else the last one of the log. Where there is none, one that suits what was read."""
    if typed is not None:
        return bench.names.tool(typed)
    last = bench.last_tool()
    if not last:
        hint = f"Say --tool {_suited(bench, meant)}, or another. It is remembered from then on."
        raise refuse("which tool was it read with?", hint)
    return bench.names.tool(last)


def _suited(bench: Bench, meant: Row | None) -> str:
    """A tool that suits what was read; a tape where that is no length, or can't be read as one."""
    from fitsolve.report.reading_list import tool_for

    try:
        length_mm = bench.length_mm(meant.reading) if meant and meant.event in ("reading", "rough") else None
    except LengthError:
        length_mm = None
    return tool_for(length_mm, bench.tools)


def within_reach(bench: Bench, row: Row) -> None:
    """Refuse the tool that was not named, only remembered, where it does not span what was read."""
    from fitsolve.build.tools import find_tool, reaches
    from fitsolve.findings.wanted import SMALL_MM
    from fitsolve.report.reading_list import tool_for

    length_mm = bench.length_mm(row.reading)
    if not reaches(find_tool(row.tool, bench.tools), length_mm):
        other = tool_for(max(length_mm, SMALL_MM + 1.0), bench.tools)
        what = f"the last tool was {row.tool}, which hardly spans {row.reading}"
        raise refuse(what, f"Say what it was read with: --tool {other}, or --tool {row.tool} if it was that.")


def full_echo(written: Written, bench: Bench) -> str:
    """What is on disk now, and how it lies with the readings of the same that count already."""
    return reading_echo(written, bench) + repeats(written)


def repeats(written: Written) -> str:
    """`; 3 readings, 0.006 apart`, where the same was read before; where they are further apart than readings of such
    tools come to (a chance of 0.001), that is said, and is a warning."""
    from fitsolve.report.measures import Measures

    state, no = written.state, written.row.no
    said = next((one for one in state.readings if one.no == no), None)
    if said is None:
        return ""
    ends = frozenset(said.terms)
    turned = frozenset((mark, -coef) for mark, coef in said.terms)
    alike = [one for one in state.readings if frozenset(one.terms) in (ends, turned)]
    if len(alike) < 2:
        return ""
    same = [one.value_mm if frozenset(one.terms) == ends else -one.value_mm for one in alike]
    apart_mm = max(same) - min(same)
    told = f"; {len(same)} readings, {Measures.of(written.assembly).bare(apart_mm)} apart"
    if apart_mm > APART_MOST * math.sqrt(2.0) * max(one.u_mm for one in alike):
        at_least(1)
        told += ", more than they are good to: read it once more"
    return told
