"""The tenon's hole of a peg, said to be bored: at a size, or pricked through the other part.

A size is written down even where it is that of the plan: the tenon's hole is laid out from the
mortise's, so without one it would count as bored wherever a later reading of the mortise puts it.
Pricked through the mortise it does lie where that is, whenever it is read, nearer to the shoulder
by the draw: that row has no size.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitsolve.build.assembly import Assembly, Peg
from fitsolve.build.logtext import Row
from fitsolve.build.state import State
from fitsolve.cli.bench import Bench
from fitsolve.cli.common import refuse


def pegs_bored(assembly: Assembly, marks: Sequence[int]) -> list[Peg]:
    """The pegs whose tenon's hole is among these marks."""
    return [peg for peg in assembly.pegs if peg.tenon_hole in marks]


def bored_as_planned(bench: Bench, state: State, peg: Peg) -> tuple[Row, str]:
    """A row for a hole bored as planned from its shoulder, with the word for it."""
    from fitsolve.cli.advised import size_text

    marks = bench.assembly.marks
    hole, shoulder = marks[peg.tenon_hole], marks[peg.shoulder]
    size = size_text(bench.assembly, hole.plan_mm - shoulder.plan_mm)
    unread = not any({peg.hole, peg.face} == {mark for mark, _ in one.terms} for one in state.readings)
    word = f"as planned; {marks[peg.hole].name} was not read" if unread else "as planned"
    return Row(event="made", start=hole.name, end=shoulder.name, reading=size), word


def pricked_rows(bench: Bench, marks: Sequence[int], other: str, size: str) -> list[tuple[Row, str]]:
    """Rows for holes pricked through those of another part; none where no peg goes through the two.

    Raises BuildError where a size is given too, or the hole is bored already.
    """
    assembly = bench.assembly
    pegs = [peg for peg in pegs_bored(assembly, marks) if assembly.marks[peg.hole].part == other]
    if not pegs or len(pegs) < len(set(marks)):
        return []
    if size:
        raise refuse("a hole that is pricked through has no size", "Leave out the size, or --from.", size)
    from fitsolve.cli.advised import is_made
    from fitsolve.written import write_length

    _, state = bench.settled
    rows = []
    for peg in pegs:
        name, through = assembly.marks[peg.tenon_hole].name, assembly.marks[peg.hole].name
        if is_made(state, peg.tenon_hole):
            raise refuse(f"{name} is bored already", "fitsolve log shows the row that says so: strike it first.")
        note = f"pricked through {through}"
        nearer = f"{write_length(peg.draw_mm, assembly.unit, marked=True)} nearer to the shoulder"
        rows.append((Row(event="made", start=name, note=note), f"{note}, {nearer}"))
    return rows
