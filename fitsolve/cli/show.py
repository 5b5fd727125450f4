"""Commands that show: plan, sizes, between, log. Each loads the build, asks one function, and shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fitsolve.cli.builtin import ListsToolsAndFits
from fitsolve.cli.common import build_folder, build_option, finish, refuse, say, say_as_it_is, show_problems, warn
from fitsolve.cli.complete import complete_change, complete_name, complete_part
from fitsolve.errors import BuildError

if TYPE_CHECKING:
    from pathlib import Path

    from fitsolve.build.folder import Build
    from fitsolve.reconciliation import Reconciliation


def reconciled() -> tuple[Build, Reconciliation]:
    """The build of the command line with all its findings."""
    from fitsolve.build.folder import load_build, unmended
    from fitsolve.reconciliation import reconcile

    build = load_build(build_folder())
    try:
        return build, reconcile(build)
    except BuildError as error:
        known = set(error.problems)
        raise BuildError([*error.problems, *(p for p in unmended(build.log) if p not in known)]) from None


def stand(folder: Path) -> None:
    """Where things stand: what the command says when it is called by itself in a build."""
    from datetime import datetime

    from fitsolve.cli.bench import open_bench
    from fitsolve.reconciliation import findings_of
    from fitsolve.report.screen import show
    from fitsolve.report.stands import Standing, standing_blocks

    bench = open_bench(folder, to_answer=True)
    assembly, state = bench.settled
    found = None if any(one.level == "error" for one in state.problems) else findings_of(assembly, state)
    standing = Standing(assembly, bench.log, state, found, datetime.now().astimezone())
    show(standing_blocks(standing))
    finish(max(show_problems([*assembly.notices, *state.problems]), 1 if standing.to_settle or standing.to_mend else 0))


@click.command()
@click.option("--part", metavar="PART", shell_complete=complete_part, help="Of one part alone, and its joints.")
@click.option("--try", "tries", metavar="CHANGE", multiple=True, shell_complete=complete_change,
              help="Another choice beside this one; may be given several times. The plan stays as it is.")
@click.option("--assumed", is_flag=True, help="List everything that is made but was never read.")
@click.option("--json", "as_json", is_flag=True, help="For other programs: JSON, lengths in mm.")
@build_option
def sizes(part: str | None, tries: tuple[str, ...], assumed: bool, as_json: bool) -> None:
    """What to settle first, what to cut now, whether each joint goes together.

    A size stands from the reference end of its part. Exit status 1 says that there is
    something to settle; with --part, only where that is about the part, its joints or
    checks, or moves it. A CHANGE is one of: give SPAN L; hold SPAN; size SPAN L; limit
    SPAN L to L; fit NAME L to L; keep NAME give L (or by L to L); check NAME = L (or
    within L). A SPAN is apron.front l.end..l.dado-o.

    \b
    Example:
        $ fitsolve sizes
        Wedging table   Mon 24 Nov 16:37   39 readings, last #55
        CUT NOW   stretcher.front   cut to plan it would jam by 0.156 in
         x from l.end
           l.notch-o  1 15/16  1/16 less than plan  [1 15/16]  exact + 0.007, ± 0.003
           l.notch-i  no 1/32 keeps lap rail.left-low: knife it off rail.left-low and a
        ...
    """  # fmt: skip
    build, found = reconciled()
    only = ""
    if part is not None:
        from fitsolve.cli.names import Names

        only = Names(found.assembly, build.plan.tools()).part_with_marks(part)
    if tries:
        _show_beside(build, found, tries, only, as_json)
        return
    if as_json:
        from fitsolve.report.machine import sizes_json

        say_as_it_is(sizes_json(found, only))
    else:
        from fitsolve.report.terminal import show_sizes

        show_sizes(found, all_assumed=assumed, only=only)
    show_problems(found.problems)
    finish(_status(found, build, only))


def _status(found: Reconciliation, build: Build, only: str) -> int:
    """The exit status of sizes: of the whole, or of what is about one part."""
    if not only:
        return 0 if found.all_well else 1
    from fitsolve.report.ofpart import part_is_well

    return 0 if part_is_well(found, build.log, only) else 1


def _show_beside(build: Build, found: Reconciliation, tries: tuple[str, ...], only: str, as_json: bool) -> None:
    """Show two choices side by side; the exit status is that of the one that is tried."""
    from fitsolve.cli.names import Names
    from fitsolve.cli.trying import assembly_tried
    from fitsolve.reconciliation import findings_of
    from fitsolve.report.beside import beside_blocks, beside_json, compared
    from fitsolve.report.screen import show

    names = Names(found.assembly, build.plan.tools())
    changed = assembly_tried(found.assembly, found.state, names, tries)
    tried = findings_of(changed, found.state, build.notices)
    beside = compared(found, tried, tuple(" ".join(text.split()) for text in tries), only)
    if as_json:
        say_as_it_is(beside_json(tried, beside))
    else:
        show(beside_blocks(found, tried, beside))
    show_problems(found.warnings)
    finish(_status(tried, build, only))


@click.command()
@click.argument("part", shell_complete=complete_part)
@click.option("--json", "as_json", is_flag=True, help="For other programs: JSON, lengths in mm.")
@build_option
def layout(part: str, as_json: bool) -> None:
    """How to lay out one part: running figures from one end, and what meets at each mark.

    Where a reading in doubt or a conflict moves it, the first line says WAIT and the exit status is 1.

    \b
    Example:
        $ fitsolve layout stretcher.front
        stretcher.front   8 marks to cut   (Wedging table)
         x from l.end, on bottom
           START  l.end      0
           CUT    l.notch-o  1 15/16  1/16 less  exact + 0.007, ± 0.003  x>
           CUT    l.notch-i  no 1/32 keeps lap rail.left-low: knife it off rail.left-low and
        ...
    """
    from fitsolve.cli.names import Names
    from fitsolve.report.layout import part_layout

    build, found = reconciled()
    laid = part_layout(found, Names(found.assembly, build.plan.tools()).part_with_marks(part))
    if as_json:
        from fitsolve.report.layout_screen import layout_json

        say_as_it_is(layout_json(found, laid))
    else:
        from fitsolve.report.layout_screen import layout_blocks
        from fitsolve.report.screen import show

        show(layout_blocks(found, laid))
    finish(max(show_problems(found.warnings), 1 if laid.waits else 0))


@click.command()
@click.argument("words", nargs=-1, required=True, metavar="[PART] FROM TO", shell_complete=complete_name)
@click.option("--json", "as_json", is_flag=True, help="For other programs: JSON, lengths in mm.")
@build_option
def between(words: tuple[str, ...], as_json: bool) -> None:
    """How far apart two marks are, as built or as to be cut. FROM..TO will do too.

    \b
    Example:
        $ fitsolve between leg.fl.outer inner
        leg.fl outer..inner   4 1/32 + 0.001 in, ± 0.004, made
    """
    from fitsolve.cli.names import Names

    build, found = reconciled()
    names = Names(found.assembly, build.plan.tools())
    pair = names.pair(words)
    found = _with_faces(build, found, pair)
    first, second = (_known(found, name) for name in pair)
    one, other = (found.assembly.marks[found.assembly.index[name]] for name in (first, second))
    if one.axis != other.axis:
        what = f"{one.name} lies along {one.axis}, {other.name} along {other.axis}: that is no distance along one axis"
        raise refuse(what, "Name two marks of one axis.", words[-1])
    answer = found.between(first, second)
    if as_json:
        from fitsolve.report.machine import between_json

        say_as_it_is(between_json(answer))
    else:
        from fitsolve.report.words import between_text

        say(between_text(found, first, second, answer))
    stops = _stops(found, first, second)
    finish(max(show_problems(found.warnings), 1 if answer.distance_mm is None or stops else 0))


def _with_faces(build: Build, found: Reconciliation, names: tuple[str, str]) -> Reconciliation:
    """The findings, with stations of slanted faces that neither plan nor log names."""
    missing = [name for name in names if name not in found.assembly.index]
    if not (missing and found.assembly.slopes):
        return found
    from fitsolve.build.place import assemble
    from fitsolve.build.state import settle
    from fitsolve.build.stations import with_stations
    from fitsolve.reconciliation import findings_of

    more = with_stations(assemble(build.plan), missing, on_faces_alone=True)
    return findings_of(*settle(more, build.log, build.plan.tools()), build.notices)


def _known(found: Reconciliation, name: str) -> str:
    """A mark; for a station that neither plan nor log names, the mark that it would be a station of."""
    base = name.partition("@")[0]
    if name in found.assembly.index or base not in found.assembly.index:
        return name
    warn(f"note: nothing was read at {name}: taken where {base} lies")
    return base


def _stops(found: Reconciliation, start: str, end: str) -> int:
    """Repeat what is not to be believed and moves a distance; how many there are."""
    if not found.suspicions and not found.odd_cuts and not any(doubt.suspect for doubt in found.doubts):
        return 0
    from fitsolve.report.doubtwords import stops_between

    index = found.assembly.index
    stops = stops_between(found, index[start], index[end])
    for text in stops:
        warn(f"STOP  {text}")
    return len(stops)


@click.command(cls=ListsToolsAndFits)
@build_option
def plan() -> None:
    """The plan as it was understood: parts, joints, keeps, checks, what stands alone.

    \b
    Example:
        $ fitsolve plan
        Wedging table   in inches, laid out to 1/32   13 parts, 16 joints
        AXES      x left to right, y front to back, z up
        CUTS      cuts land within ± 0.005, widths within ± 0.004
        GIVE      a distance may drift 1/16 where nothing else is said
        TOOLS     rod ± 0.004
        ...
    """
    from fitsolve.build.folder import plan_text
    from fitsolve.build.otherunit import misspelt_tools, other_unit_doubts
    from fitsolve.build.place import assemble
    from fitsolve.build.plan import read_plan
    from fitsolve.report.planned import show_plan

    read = read_plan(plan_text(build_folder()))
    assembly = assemble(read)
    give = read.head().give
    show_plan(assembly, None if give is None else float(give), read.tools())
    finish(show_problems([*assembly.notices, *other_unit_doubts(read), *misspelt_tools(read)]))


@click.command()
@build_option
def log() -> None:
    """All rows of the log, and why a row no longer counts.

    \b
    Example:
        $ fitsolve log
        Wedging table   55 rows
        #1  Mon 24 Nov 08:37  made  leg.fl  (planed and mortised)
        #2  Mon 24 Nov 09:02  made  leg.fr  (planed and mortised)
        ...
    """
    from fitsolve.cli.bench import open_bench
    from fitsolve.report.past import show_log

    bench = open_bench(build_folder())
    assembly, state = bench.settled
    show_log(assembly, bench.log, state)
    finish(show_problems(state.problems))
