"""The command `wind`: what two sticks stand open, one across each end of a part or a frame."""

from __future__ import annotations

import click

from fitsolve.build.logtext import Row
from fitsolve.cli.bench import Written, open_bench
from fitsolve.cli.common import build_folder, build_option, refuse
from fitsolve.cli.complete import complete_name, complete_tool
from fitsolve.cli.enter import enter, gathered, length_problems
from fitsolve.cli.reading import tool_named
from fitsolve.errors import BuildError, Problem


@click.command()
@click.argument("words", nargs=-1, metavar="A B C D GAP", shell_complete=complete_name)
@click.option("--stick", required=True, metavar="LENGTH", help="How long the sticks are.")
@click.option("--width", required=True, metavar="LENGTH", help="How far apart the two marks under a stick are.")
@click.option("--proud", metavar="MARK", help="The corner that stands proud of the plane of the other three.")
@click.option("--tool", metavar="TOOL", shell_complete=complete_tool, help="What the gap was read with.")
@click.option("--note", default="", help="Anything worth keeping.")
@build_option
def wind(words: tuple[str, ...], stick: str, width: str, proud: str | None, tool: str | None, note: str) -> None:
    """Enter wind seen by sticks: one lies across A and B, the other across C and D.

    GAP is what they stand open at the stick's end, sighted over each other. C lies on the same
    side as A.

    \b
    Example:
        $ fitsolve wind leg.fl.head leg.fr.head leg.rl.head leg.rr.head 1/16 \\
              --stick 24 --width 18 --proud leg.fl.head --tool rule
        #56 wind leg.fl.head + leg.fr.head against leg.rl.head + leg.rr.head: 1/16 rule
    """
    if len(words) < 5:
        raise refuse("four marks and a gap are needed", "As in: fitsolve wind A B C D 1/16 --stick 24 --width 18")
    bench = open_bench(build_folder())
    problems: list[Problem] = []
    marks = [gathered(problems, bench.names.mark, typed) for typed in words[:4]]
    out = gathered(problems, bench.names.mark, proud) if proud is not None else ""
    text = " ".join(words[4:])
    with_tool = gathered(problems, tool_named, bench, tool)
    for length in (text, stick, width):
        problems += length_problems(length, bench)
    if problems or with_tool is None:
        raise BuildError(problems)
    said = [f"proud {out}"] if out else []
    said += [f"stick {stick}", f"width {width}", *([note] if note else [])]
    row = Row(
        event="wind",
        start=f"{marks[0]} + {marks[1]}",
        end=f"{marks[2]} + {marks[3]}",
        reading=text,
        tool=with_tool,
        note=", ".join(said),
    )
    enter(bench, row, _echo)


def _echo(written: Written) -> str:
    row = written.row
    return f"#{row.no} wind {row.start} against {row.end}: {row.reading} {row.tool}"
