"""Sheet words: what a shop sheet says, gathered from the findings; where it stands is not known here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitsolve.build.history import MarkState
from fitsolve.drawing.cutlines import cut_lines, length_mm, waits_of
from fitsolve.drawing.sheet import ShopSheet, ToRead
from fitsolve.drawing.sheetparts import SheetAxis, SheetPart
from fitsolve.drawing.slants import seen_so, slants_of
from fitsolve.errors import Problem
from fitsolve.findings.edges import Edge, edges
from fitsolve.findings.tags import Tagged
from fitsolve.findings.wanted import awaited
from fitsolve.light import replace
from fitsolve.reconciliation import Reconciliation
from fitsolve.report.cutting import part_sizes
from fitsolve.report.fitwords import to_be_read
from fitsolve.report.leavewords import leave_texts
from fitsolve.report.measures import Measures
from fitsolve.report.naming import asked, counted, inside, words_of
from fitsolve.report.pegwords import IN_PLURAL
from fitsolve.report.screen import Block, Line
from fitsolve.report.seatwords import seat_to_be_read
from fitsolve.report.terminal import sizes_blocks
from fitsolve.report.words import footing

CAUTIONS = (
    "About fit only, never strength. Heavy assemblies crush fingers and feet: dry-fit with help, lift with help, keep "
    "hands out of closing joints. Where people stand or sit on the work, follow your local codes and ask a licensed "
    "professional. Keep guards on, and measure the wood in front of you before you cut it: a sheet can be wrong.",
)
_CUTS = "CUT NOW"
_ABOUT = {"rack": {"rack", "square"}, "taper": {"taper", "square", "parallel"}, "wind": {"wind", "twist"}}
_WAYS = {
    "rack": "both diagonals tell rack", "taper": "opposite sides tell taper", "wind": "winding sticks tell wind",
}  # fmt: skip
_SETTLED = "Nothing stands in the way: no reading is in doubt, no part waits."
_LAST = ("UNCHECKED", "ASSUMED")
_FIRST = ("STOP", "TOOLS", "CONFLICT", "SHAPE", "UNPROVEN", "WAIT")


def shop_sheet(found: Reconciliation, tags: Sequence[Tagged], number: str, made: str) -> ShopSheet:
    """Return what a sheet says. `tags` are those of its list: readings wanted (w) and sizes to cut (c)."""
    first, last = _around(found)
    cut_tags = {one.end: one.tag for one in tags if one.tag.startswith("c")}
    state = found.state
    made_marks = [mark == MarkState.MADE for mark in state.marks]
    wanted = [one for one in tags if one.tag.startswith("w") and made_marks[one.start] and made_marks[one.end]]
    rows = f"from rows 1 to {state.last_row} of the log" if state.last_row else "from the plan alone"
    rows += f", {counted(len(state.readings), 'reading')}" if state.readings else ", nothing read yet"
    parts = _by_tags(found, _parts(found, cut_tags), wanted)
    return ShopSheet(
        found.assembly.title or "This build", number, made, rows, first, parts,
        tuple(_to_read(found, one) for one in wanted), last, (*CAUTIONS, footing(found)),
    )  # fmt: skip


def _by_tags(
    found: Reconciliation, parts: tuple[SheetPart, ...], wanted: Sequence[Tagged]
) -> tuple[SheetPart, ...]:
    """The parts, those that wait for readings listed on the sheet with their tags: where the names are too long for a
    row, these stand there."""
    tag_of = {frozenset((one.start, one.end)): one.tag for one in wanted}
    waiting = [part.part for part in parts if any(line.why for axis in part.axes for line in axis.lines)]
    short = {}
    for name, readings in awaited(found.solved, waiting).items() if waiting else ():
        tags = [tag_of.get(frozenset((one.start, one.end)), "") for one in readings]
        if tags and all(tags):
            short[name] = f"read {words_of(tags)} first"
    return tuple(
        replace(part, axes=tuple(_tagged(axis, short[part.part]) for axis in part.axes)) if part.part in short else part
        for part in parts
    )


def _tagged(axis: SheetAxis, short: str) -> SheetAxis:
    lines = [replace(line, short_why=short) if line.why.startswith("read ") else line for line in axis.lines]
    return replace(axis, lines=tuple(lines))


def _around(found: Reconciliation) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """The blocks of `sizes` before the parts, and those after; what is to be cut stands in between."""
    every = [block for block in sizes_blocks(found) if block.tag]
    blocks = [block for block in every if block.tag != _CUTS]
    first = [_short(block) for block in blocks if block.tag in _FIRST]
    last = [block for block in blocks if block.tag not in _FIRST]
    _add_unchecked(found, last)
    warned = [problem for problem in found.problems if problem.level == "warning"]
    first += [Block("WARNING", (Line(_problem_text(problem)),)) for problem in warned]
    if not found.layouts:
        first += [block for block in every if block.tag == _CUTS]  # which says that there is nothing, and why
    amiss = _amiss(found)
    if found.layouts and not first:
        said = "No reading is in doubt, no part waits." if amiss else _SETTLED
        first = [Block("SETTLED", (Line(said),))]
    if amiss:
        first.append(Block("LOOK", (Line(f"{amiss}. What to do stands there."),)))
    return tuple(first), tuple(last)


def _amiss(found: Reconciliation) -> str:
    """What is known to be wrong: `3 tight and 1 open under JOINTS; 2 jam under SEATS`; empty for nothing. What rests on
    sizes that were never read is to be read first, and not known."""
    joints = [one for one in found.joints if not to_be_read(found, one)]
    jams = [one for one in found.seats if one.verdict == "jams" and not seat_to_be_read(found, one)]
    every: tuple[tuple[str, list[str], tuple[str, ...]], ...] = (
        ("JOINTS", [one.verdict for one in joints], ("tight", "proud", "loose", "open")),
        ("PEGS", [one.verdict for one in found.pegs if one.read], ("draws too much", "does not draw")),
        ("SEATS", ["jam"] * len(jams), ("jam",)),
        ("FRAME", [one.verdict for one in found.checks], ("beyond",)),
    )
    said = []
    for where, verdicts, bad in every:
        times = {word: verdicts.count(word) for word in bad if word in verdicts}
        counts = [f"{count} {word if count == 1 else IN_PLURAL.get(word, word)}" for word, count in times.items()]
        if counts:
            said.append(f"{words_of(counts)} under {where}")
    return "; ".join(said)


def _add_unchecked(found: Reconciliation, blocks: list[Block]) -> None:
    """Say behind the frame's checks which of rack, taper and wind none of them is about; each is another thing."""
    told = {word for check in found.checks for word in (check.kind, *check.name.replace("-", " ").split())}
    missing = [word for word in ("rack", "taper", "wind") if not told & _ABOUT[word]]
    if not missing or not found.assembly.joints:
        return
    ways = words_of([_WAYS[word] for word in missing])
    them = "it" if len(missing) == 1 else "them"
    line = Line(f"{', '.join(missing)}: no check in the plan is about {them}; {ways}", 3)
    for number, block in enumerate(blocks):
        if block.tag == "FRAME":
            blocks[number] = Block(block.tag, (*block.lines, line), block.style)
            return
    behind = next((k for k, block in enumerate(blocks) if block.tag in _LAST), len(blocks))
    blocks.insert(behind, Block("FRAME", (line,)))


def _short(block: Block) -> Block:
    """A part that waits, without its sizes: those stand beside its strip."""
    if block.tag != "WAIT":
        return block
    first = block.lines[0]
    if isinstance(first, Line):  # what would follow there stands beside no strip: a size that waits is not cut to
        text = first.text.removesuffix(" With it as drawn:").removesuffix(" With them as drawn:")
        first = replace(first, text=text)
    return Block(block.tag, (first,), block.style)


def _problem_text(problem: Problem) -> str:
    return " ".join(str(problem).split())


def _parts(found: Reconciliation, tags: Mapping[int, str]) -> tuple[SheetPart, ...]:
    """Every part with something to cut, in the order of `sizes`; the axis it is longest along first."""
    said = {one.part: one for one in part_sizes(found)}
    waits = waits_of(found)
    own: dict[str, list[SheetAxis]] = {}
    longest: dict[str, tuple[float, int]] = {}
    every = edges(found.solved, list(said))
    open_edges = [edge for edge in every if edge.to_cut]
    edges_of: dict[str, list[Edge]] = {}
    for edge in every:
        edges_of.setdefault(edge.part, []).append(edge)
    for edge, lines in zip(open_edges, cut_lines(found, open_edges, tags), strict=True):
        sizes = next((axis for axis in said[edge.part].axes if axis.axis == edge.axis), None)
        axes = own.setdefault(edge.part, [])
        long = length_mm(edge)
        if long > longest.get(edge.part, (-1.0, 0))[0] + 1e-6:
            longest[edge.part] = long, len(axes)
        shown = {one.axis for one in edges_of[edge.part] if one.to_cut} if found.assembly.slopes else ()
        slants = slants_of(found, edge, shown) if shown else ()
        notes = (*sizes.rough, *sizes.why) if sizes is not None else ()
        if sizes is not None and edge.part not in waits:
            notes = (*sizes.slopes, *filter(None, [seen_so(slants)]), *notes, *sizes.room)
        axes.append(SheetAxis(edge.axis, inside(found.assembly.marks[edge.reference]), lines, notes, slants))
    parts = []
    for part, sizes_of in said.items():
        if part in own:
            first = own[part].pop(longest[part][1])
            leave = () if part in waits else tuple(leave_texts(found, part, edges_of[part]))
            parts.append(SheetPart(part, sizes_of.note, (first, *own[part]), leave))
    return tuple(parts)


def _to_read(found: Reconciliation, one: Tagged) -> ToRead:
    measures = Measures.of(found.assembly)
    exact = measures.bare if one.names[0] else measures.exact  # a diagonal in the plan is no fraction
    plan = "" if one.plan_mm is None else f"plan {exact(one.plan_mm)}"
    return ToRead(one.tag, asked(found.assembly, one), plan)
