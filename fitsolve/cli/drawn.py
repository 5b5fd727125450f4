"""Commands that put findings on paper: draw, strip, sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fitsolve.cli.common import build_option, finish, refuse, say, show_problems, warn
from fitsolve.cli.complete import complete_part
from fitsolve.cli.output import checked_output, write_output
from fitsolve.cli.show import reconciled

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fitsolve.build.folder import Build
    from fitsolve.drawing.papers import Paper
    from fitsolve.drawing.shapes import Page
    from fitsolve.drawing.strip import StripPlan
    from fitsolve.findings.edges import Edge
    from fitsolve.findings.tags import Tagged
    from fitsolve.reconciliation import Reconciliation

_SCALE_OFF_MOST = 0.05
_LETTERS_MOST = 12


def _one_of(*names: str) -> click.Choice[str]:
    """One of these, as it is typed: A4, a4."""
    return click.Choice(names, case_sensitive=False)


output_option = click.option("--output", metavar="FILE", required=True, help="The file to write; its ending says what.")
replace_option = click.option("--replace", is_flag=True, help="Write over a file that is there.")


@click.command()
@click.argument("part", shell_complete=complete_part)
@output_option
@click.option("--along", type=_one_of("x", "y", "z"), help="Which axis; the longest unless said.")
@click.option("--paper", type=_one_of("letter", "a4", "roll"), help="Letter for inches, A4 for mm, unless said.")
@click.option("--scale-reads", metavar="LENGTH", help="What the printed scale measures, where the printer is off.")
@replace_option
@build_option
def strip(
    part: str, output: str, along: str | None, paper: str | None, scale_reads: str | None, replace: bool
) -> None:
    """Every mark of one edge of a part at true size, to lay on the wood and knife through.

    Print it at 100 %, and hold a rule against the printed scale before you trust it.

    \b
    Example:
        $ fitsolve strip apron.front --output apron.pdf
        apron.front x from l.end: 6 marks on 8 pieces, 4 pages of Letter, in apron.pdf
    """
    from fitsolve.drawing.cutlines import START, cut_lines
    from fitsolve.drawing.papers import STRIPS, usual_paper
    from fitsolve.drawing.strip import PIECES_MOST, StripPlan, pieces_of, strip_pages

    path = checked_output(output, (".pdf",), replace)
    build, found = reconciled()
    edge = edge_meant(build, found, part, along)
    sheet = STRIPS[paper or usual_paper(found.assembly.unit)]
    [lines] = cut_lines(found, [edge], exact=True)
    if found.assembly.slopes:
        from fitsolve.drawing.slants import with_slanted_ends

        lines = with_slanted_ends(found, edge, lines)
    start = next(line.name for line in lines if line.word == START)
    inches = found.assembly.unit == "in"
    plan = StripPlan(edge.part, edge.axis, start, lines, number_of(build, found), found.assembly.title or "",
                     inches, _scale(scale_reads, inches))  # fmt: skip
    pieces = pieces_of(plan, sheet)
    if len(pieces) > PIECES_MOST:
        raise refuse(f"{edge.part} would need {len(pieces)} pieces of paper", "--paper roll prints it on one.", part)
    pages = strip_pages(plan, sheet)
    write_output(path, _pdf(pages, f"{edge.part} {edge.axis}"))
    say(f"{_strip_said(plan, len(pieces), len(pages), sheet)}, in {path}")
    status = show_problems(found.warnings)
    for line in plan.lines:
        if line.at_mm is None:
            say(f"not on it: {line.name}, not fixed by anything")
            status = max(status, 1)
    for why in dict.fromkeys(line.why for line in plan.lines if line.why.startswith("wait")):
        say(f"{edge.part}: {why} before you cut")
        status = max(status, 1)
    finish(status)


def _pdf(pages: Sequence[Page], title: str) -> bytes:
    """Pages as a PDF; letters that its font lacks are said, for a question mark stands for them."""
    from fitsolve.drawing.metrics import lacking
    from fitsolve.drawing.pdf import pdf_bytes

    if letters := lacking(pages):
        told = " ".join(letters[:_LETTERS_MOST]) + (" and others" if len(letters) > _LETTERS_MOST else "")
        warn(f"note: a PDF prints Latin, Greek and Cyrillic letters, and ? for {told}. SVG and HTML show them")
    return pdf_bytes(pages, title)


def _strip_said(plan: StripPlan, pieces: int, pages: int, paper: Paper) -> str:
    from fitsolve.report.naming import counted

    marks = sum(line.at_mm is not None for line in plan.lines)
    name = {"letter": "Letter", "a4": "A4", "roll": "a roll"}[paper.name]
    on = f"{counted(pieces, 'piece')}, {counted(pages, 'page')} of {name}"
    return f"{plan.part} {plan.axis} from {plan.start}: {counted(marks, 'mark')} on {on}"


def edge_meant(build: Build, found: Reconciliation, typed: str, along: str | None) -> Edge:
    """The edge of a part that was meant: the longest unless an axis is said."""
    from fitsolve.cli.names import Names
    from fitsolve.drawing.cutlines import main_axis
    from fitsolve.findings.edges import edges

    part = Names(found.assembly, build.plan.tools()).part_with_marks(typed)
    own = edges(found.solved, [part])
    if along is None:
        return main_axis(own)
    meant = [edge for edge in own if edge.axis == along]
    if not meant:
        has = " and ".join(edge.axis for edge in own)
        raise refuse(f"{part} has no marks along {along}", f"It has some along {has}.", along)
    return meant[0]


def number_of(build: Build, found: Reconciliation) -> str:
    """The number of what is made now: of which rows it was made."""
    from fitsolve.findings.tags import list_number

    return list_number(found.assembly, build.log)


def _scale(reads: str | None, inches: bool) -> float:
    """What lengths are multiplied by, for a scale that reads so much."""
    if reads is None:
        return 1.0
    from fitsolve.errors import BuildError, Place
    from fitsolve.lengths import LengthError, read_length

    try:
        measured = float(read_length(reads, "in" if inches else "mm"))
    except LengthError as error:
        raise BuildError([error.problem(Place())]) from None
    nominal = 254.0 if inches else 200.0
    if not abs(measured / nominal - 1) <= _SCALE_OFF_MOST:
        said = "10 in" if inches else "200 mm"
        raise refuse(f"the printed scale should be {said} long, within 5 in 100",
                     "Print it at 100 %, not fitted to the page; then measure it again.", reads)  # fmt: skip
    return nominal / measured


@click.command()
@output_option
@click.option("--paper", type=_one_of("letter", "a4"), help="Letter for inches, A4 for mm, unless said.")
@replace_option
@build_option
def sheet(output: str, paper: str | None, replace: bool) -> None:
    """What to settle, cut and read, on paper for the bench, with boxes for what comes back.

    One HTML file without links, or a PDF: as the file's name ends.

    \b
    Example:
        $ fitsolve sheet --output sheet.html
        sheet 55-8e3e: 5 parts to cut, 2 readings wanted, 2 pages of Letter, in sheet.html
    """
    from datetime import datetime

    from fitsolve.drawing.papers import usual_paper
    from fitsolve.drawing.sheet import sheet_pages
    from fitsolve.drawing.sheetwords import shop_sheet
    from fitsolve.drawing.svg import html_text
    from fitsolve.report.naming import counted

    path = checked_output(output, (".html", ".pdf"), replace)
    build, found = reconciled()
    tags = _tags_now()
    number = number_of(build, found)
    made = f"made {datetime.now().isoformat(sep=' ', timespec='minutes')}"
    whole = shop_sheet(found, tags, number, made)
    kind = paper or usual_paper(found.assembly.unit)
    pages = sheet_pages(whole, kind)
    title = f"{whole.title}, sheet {number}"
    content = _pdf(pages, title) if path.suffix.lower() == ".pdf" else html_text(pages, title).encode("utf-8")
    write_output(path, content)
    name = {"letter": "Letter", "a4": "A4"}[kind]
    say(
        f"sheet {number}: {counted(len(whole.parts), 'part')} to cut, {counted(len(whole.to_read), 'reading')} wanted, "
        f"{counted(len(pages), 'page')} of {name}, in {path}"
    )
    finish(max(show_problems(found.warnings), 0 if found.all_well else 1))


def _tags_now() -> tuple[Tagged, ...]:
    """The tags of a list that is made now."""
    from fitsolve.cli.bench import open_bench
    from fitsolve.cli.common import build_folder
    from fitsolve.cli.paper import cuts_then, wanted_now

    bench = open_bench(build_folder())
    return (*wanted_now(bench, ""), *cuts_then(bench, bench.log))


@click.command()
@click.argument("part", required=False, shell_complete=complete_part)
@click.option("--assembled", is_flag=True, help="All that is joined, in elevation and plan, as it came out.")
@click.option("--loops", is_flag=True, help="The loops in which readings check each other.")
@output_option
@replace_option
@build_option
def draw(part: str | None, assembled: bool, loops: bool, output: str, replace: bool) -> None:
    """One part with its marks, the whole as it came out, or the loops of the readings.

    An SVG or a PDF: as the file's name ends.

    \b
    Example:
        $ fitsolve draw apron.front --output apron.svg
        apron.front: 3 views, in apron.svg
    """
    from fitsolve.drawing.svg import svg_text

    if (part is not None) + assembled + loops != 1:
        raise refuse("what is to be drawn?", "Name one part, or say --assembled or --loops.")
    path = checked_output(output, (".svg", ".pdf"), replace)
    build, found = reconciled()
    page, said, warned = _drawn(build, found, part, assembled)
    pdf = path.suffix.lower() == ".pdf"
    write_output(path, _pdf([page], page.title) if pdf else svg_text(page).encode("utf-8"))
    say(f"{said}, in {path}")
    finish(max(show_problems(found.warnings), int(warned)))


def _drawn(build: Build, found: Reconciliation, part: str | None, assembled: bool) -> tuple[Page, str, bool]:
    """What was asked for as a page, and in words; and whether it warns of something."""
    from fitsolve.report.naming import counted

    number = number_of(build, found)
    if part is not None:
        from fitsolve.cli.names import Names
        from fitsolve.drawing.partdraw import part_page
        from fitsolve.drawing.partwords import part_drawing

        name = Names(found.assembly, build.plan.tools()).part_with_marks(part)
        drawing = part_drawing(found, name, number)
        waits = dict.fromkeys(line.why for view in drawing.views for line in view.lines if line.why)
        said = f"{drawing.part}: {counted(len(drawing.views), 'view')}"
        return part_page(drawing), "; ".join((said, *waits)), bool(waits)
    if assembled:
        from fitsolve.drawing.assembled import assembled_page
        from fitsolve.drawing.assembledwords import assembled_drawing

        whole = assembled_drawing(found, number)
        said = f"{counted(len(whole.views), 'view')}, {counted(len(whole.gaps), 'gap')}"
        return assembled_page(whole), said, any(gap.verdict not in ("fits", "can't tell") for gap in whole.gaps)
    from fitsolve.drawing.loops import loops_page
    from fitsolve.drawing.loopwords import loops_drawing

    ways = loops_drawing(found, number)
    gaping = sum(loop.open for loop in ways.loops)
    said = counted(len(ways.loops), "loop") + (f", {gaping} open" if gaping else "")
    return loops_page(ways), said, gaping > 0
