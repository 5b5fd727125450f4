"""Sheet parts: a part on the sheet for the bench, its strip and a row for each line to cut.

    the strip   of the axis that the part is longest along; of another one where more is to be cut there and only the
                length here; and of each in which a slanted line lies
    a row       box to tick, tag, word, name, figure, chain, how far off the size wanted is, change, part met, and a
                box for the size as cut

Axes with short rows stand beside each other; one that is alone goes on in a second column.

Not here: what is said (cutlines), what stands before and behind the parts (sheet), pages (flow).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitsolve.drawing.bar import HEIGHT_MM, bar_shapes, bars
from fitsolve.drawing.cutlines import LEAVE, TO_CUT, CutLine, from_words
from fitsolve.drawing.flow import Block, Type, beside, paragraph, spaced
from fitsolve.drawing.metrics import fitted, fitted_end, width_mm
from fitsolve.drawing.shapes import BLACK, GREY, THIN, Sketch, Text, moved
from fitsolve.drawing.slants import Slant
from fitsolve.drawing.symbols import arrow, tick_box
from fitsolve.light import dataclass, replace

ROW_MM = 4.7
SIZE_MM = 2.8
NOTE_MM = 2.4


@dataclass(frozen=True)
class SheetAxis:
    """What is said of a part along one axis: its lines, what is rough, and why."""

    axis: str
    start: str
    lines: tuple[CutLine, ...]
    notes: tuple[str, ...]
    slants: tuple[Slant, ...] = ()


@dataclass(frozen=True)
class SheetPart:
    """A part with something to cut; the axis it is longest along comes first. `leave` says what wood to leave on."""

    part: str
    note: str
    axes: tuple[SheetAxis, ...]
    leave: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the columns of a table of cuts stand, from the left margin; `box` to `end` is written in."""

    tick: float
    tag: float
    word: float
    name: float
    figure: float
    chain: float
    beside: float
    off: float
    meets: float
    box: float
    end: float


def _columns(room: float) -> Columns:
    spare = (room - 184.0) / 3
    figure = 46.0 + spare
    off = figure + 70.0 + spare
    return Columns(0.0, 5.5, 14.0, 25.0, figure, figure + 24.0, figure + 42.0, off, off + 21.0, room - 25.0, room)


def _half_columns(room: float) -> Columns:
    box = room - 19.0
    off = box - 20.0
    return Columns(0.0, 5.5, 14.0, 23.5, 37.5, off, off, off, box, box, room)


def part_blocks(part: SheetPart, room: float) -> list[Block]:
    """Return a part: the axis it is longest along, then the others, beside each other where they are short."""
    main, *others = part.axes
    drawn = _drawn(part.axes)
    if why := _waits_for(part):
        return _waiting(part, why, room, drawn)
    blocks = [_part_head(part, room), *_strips(main, room, drawn), *_rows(main, room)]
    half = (room - 5.0) / 2
    while others:
        first, *rest = others
        if rest and _short(first, half) and _short(rest[0], half):
            columns = [
                [_axis_head(axis, half), *_strips(axis, half, drawn), *_rows(axis, half, short=True)]
                for axis in (first, rest[0])
            ]
            blocks += beside(columns[0], columns[1], half + 5.0)
            others = rest[1:]
        else:
            blocks += [_axis_head(first, room), *_strips(first, room, drawn), *_rows(first, room)]
            others = rest
    for text in part.leave:
        blocks += paragraph(text, room, Type(NOTE_MM, 3.0, indent_mm=_columns(room).word, hang_mm=3.0))
    return [*(replace(block, of=part.part) for block in blocks), spaced(1.1)]


def _waits_for(part: SheetPart) -> str:
    """What all lines of a part wait for; empty where some can be cut, or they wait for different things."""
    lines = [line for axis in part.axes for line in axis.lines if line.word in TO_CUT]
    whys = {line.why for line in lines}
    return whys.pop() if len(lines) > 1 and len(whys) == 1 and all(line.word == LEAVE for line in lines) else ""


def _waiting(part: SheetPart, why: str, room: float, drawn: set[str]) -> list[Block]:
    """A part that waits as a whole: its strips, and what it waits for once. There are no sizes to write down yet."""
    lines = [line for axis in part.axes for line in axis.lines if line.word in TO_CUT]
    short = next((line.short_why for line in lines if line.short_why), "")
    fits = width_mm(why, SIZE_MM) <= room - _columns(room).figure
    blocks = [_part_head(part, room)]
    for axis in part.axes:
        blocks += _strips(axis, room, drawn)
    at = _columns(room)
    said = f"all {len(lines)} lines: {why if fits or not short else short}. Then print another sheet."
    first, *more = paragraph(said, room, Type(SIZE_MM, ROW_MM * 0.8, indent_mm=at.name))
    lead = Text(at.word, ROW_MM * 0.8 * 0.74, LEAVE, SIZE_MM, "start", True)
    rows = [replace(first, shapes=(lead, *first.shapes)), *more]
    return [*(replace(block, of=part.part) for block in (*blocks, *rows)), spaced(1.1)]


def _drawn(axes: Sequence[SheetAxis]) -> set[str]:
    """The axes that have a strip: the first, or another where more is to be cut than the length alone; and those in
    which slanted lines lie."""
    cuts = [sum(line.word in TO_CUT and line.at_mm is not None for line in axis.lines) for axis in axes]
    most = max(range(len(axes)), key=lambda k: (cuts[k] > 1, -k))  # the first of those with more than one
    first = axes[0 if cuts[0] > 1 else most].axis
    return {first, *(axis.axis for axis in axes if axis.slants)}


def _strips(axis: SheetAxis, room: float, drawn: set[str]) -> list[Block]:
    """An axis drawn, in as many strips as its marks need."""
    return [
        Block(HEIGHT_MM, tuple(bar_shapes(some, (0.0, 0.0, room, HEIGHT_MM), slants=axis.slants)), True)
        for some in bars(axis.lines)
        if axis.axis in drawn
    ]


def _axis_head(axis: SheetAxis, room: float) -> Block:
    words = fitted(_axis_words(axis, room), room - 14.0, 2.6)
    return Block(3.4, (Text(14.0, 2.7, words, 2.6, colour=GREY),), True)


def _axis_words(axis: SheetAxis, room: float) -> str:
    """Where figures run from and, for short rows, what is met where a row has no room for it."""
    at = _half_columns(room)
    met = dict.fromkeys(
        " and ".join(line.meets)
        for line in axis.lines
        if line.word in TO_CUT and line.meets and not _meets_in_row(line, at)
    )
    return from_words(axis.axis, axis.start, axis.lines) + (f", meets {'; '.join(met)}" if met else "")


def _meets_in_row(line: CutLine, at: Columns) -> bool:
    """Whether a short row has room for what it meets."""
    taken = line.shift or line.knife or _exact(line)
    return not taken and width_mm(" and ".join(line.meets), SIZE_MM) <= at.box - at.off - 1


def _met_words(line: CutLine, room: float) -> str:
    """The parts met; of names that have no room their ends, in which copies differ."""
    words = " and ".join(line.meets)
    if len(line.meets) < 2 or width_mm(words, SIZE_MM) <= room:
        return fitted_end(words, room, SIZE_MM)
    first, *others = line.meets
    kind = first.partition(".")[0] + "."
    if all(name.startswith(kind) for name in others):
        alike = ", ".join((first, *(name[len(kind) :] for name in others)))
        if width_mm(alike, SIZE_MM) <= room:
            return alike
    joint = width_mm(" and ", SIZE_MM)
    each = (room - joint * (len(line.meets) - 1)) / len(line.meets)
    return " and ".join(fitted_end(name, each, SIZE_MM) for name in line.meets)


def _exact(line: CutLine) -> str:
    """How far off the size wanted is, without ±: `exact - 0.016`."""
    words = line.beside.partition(",")[0]
    return words if words.startswith("exact") else ""


def _rows(axis: SheetAxis, room: float, short: bool = False) -> list[Block]:
    """A row for each line to cut, then what is to be said of them."""
    columns = _half_columns(room) if short else _columns(room)
    lines = [line for line in axis.lines if line.word in TO_CUT]
    blocks = [_row(line, columns, short) for line in lines]
    notes = [*_said_under(lines, columns, short), *axis.notes]
    if notes:
        blocks += paragraph("; ".join(notes), room, Type(NOTE_MM, 3.0, indent_mm=columns.word, hang_mm=3.0))
    return blocks


def _said_under(lines: Sequence[CutLine], at: Columns, short: bool) -> list[str]:
    """What of its lines has no room in their rows: why there is none, and how far off exact ones are."""
    lost = [line for line in lines if line.no_line and (short or not _no_line_fits(line, at))]
    moved_ones = [f"{line.name} {_exact(line)}" for line in lines if short and line.shift and _exact(line)]
    return [*(f"{line.name}: {line.no_line}" for line in lost), *moved_ones]


def _no_line_fits(line: CutLine, at: Columns) -> bool:
    return width_mm(line.no_line, SIZE_MM) <= at.box - at.figure - 1.0


def _short(axis: SheetAxis, half: float) -> bool:
    """Whether all rows of an axis fit into half the width."""
    at = _half_columns(half)
    for line in axis.lines:
        if line.word not in TO_CUT:
            continue
        name = width_mm(line.name, SIZE_MM)
        figure = width_mm(_figured(line), SIZE_MM, True)
        off = width_mm(line.off, SIZE_MM) + (5.0 if line.shift else 0.0)
        if line.why or name > at.figure - at.name - 1 or figure > at.off - at.figure - 1 or off > at.box - at.off - 1:
            return False
    return width_mm(_axis_words(axis, half), 2.6) <= half - 14.0


def _figured(line: CutLine) -> str:
    """The figure with its chain, where that is another length."""
    if line.knife:
        return "no line"
    return f"{line.figure} {line.chain}" if line.chained and line.chain else line.figure


def _beside_words(line: CutLine, at: Columns) -> str:
    """In a short row that did not move: how far off the size wanted is, what it meets, or else as planned."""
    if line.knife:
        return "see below"
    return _exact(line) or (" and ".join(line.meets) if line.meets and _meets_in_row(line, at) else line.off)


def _part_head(part: SheetPart, room: float) -> Block:
    main = part.axes[0]
    sketch = Sketch()
    sketch.line(0, 0.6, room, 0.6, THIN)
    name = fitted(part.part, room, 3.8, True)
    sketch.shapes.append(Text(0, 4.6, name, 3.8, "start", True))
    x, y = width_mm(name, 3.8, True) + 5, 4.6
    lead = from_words(main.axis, main.start, main.lines) + (f"   {part.note}" if part.note else "")
    if x + width_mm(lead, SIZE_MM) > room:
        x, y = 0.0, 8.4
    sketch.shapes.append(Text(x, y, fitted(lead, room - x, SIZE_MM), SIZE_MM))
    return Block(y + 0.8, tuple(sketch.shapes), True)


def _row(line: CutLine, at: Columns, short: bool) -> Block:
    """A line to cut: tick box, tag, word, name, figure, chain, change, what it meets, box for the size as cut."""
    y = ROW_MM * 0.70
    sketch = Sketch()
    sketch.shapes.append(tick_box(at.tick + 0.4, 0.7, 3.2))

    def write(x: float, end: float, words: str, bold: bool = False, colour: str = BLACK) -> None:
        kept = fitted(words, end - x - 1.0, SIZE_MM, bold)
        sketch.shapes.append(Text(x, y, kept, SIZE_MM, "start", bold, False, colour))

    if width_mm(line.name, SIZE_MM) > at.figure - at.name - 1.0:  # a long name stands over its row
        long = Text(at.name, 2.7, fitted(line.name, at.end - at.name, SIZE_MM), SIZE_MM)
        row = _row(replace(line, name=""), at, short)
        return Block(row.height_mm + 3.3, (long, *(moved(shape, 0.0, 3.3) for shape in row.shapes)))
    write(at.tag, at.word, line.tag, True)
    write(at.word, at.name, line.word, True)
    write(at.name, at.figure, line.name)
    if line.no_line and not short:
        write(at.figure, at.box, line.no_line if _no_line_fits(line, at) else f"{line.knife}, see below")
        box_for(sketch, at.box, at.end, line.tag)
        return Block(ROW_MM, tuple(sketch.shapes))
    if short:
        write(at.figure, at.chain, _figured(line), True)
    else:
        _figure_columns(write, line, at)
    if line.why:
        begin = at.off if short else at.chain
        fits = width_mm(line.why, SIZE_MM) <= at.box - begin - 1.0
        write(begin, at.box, line.why if fits else line.short_why or "wait, see WAIT")
    elif short and not line.shift:
        words = _beside_words(line, at)
        write(at.off, at.box, words, colour=GREY if words == " and ".join(line.meets) else BLACK)
    else:
        _change(sketch, line, at, y)
        write(at.meets, at.box, _met_words(line, at.box - at.meets - 1.0), colour=GREY)
    box_for(sketch, at.box, at.end, line.tag)
    return Block(ROW_MM, tuple(sketch.shapes))


def _figure_columns(write: Callable[..., None], line: CutLine, at: Columns) -> None:
    """Figure, chain and how far off the size wanted is; a long figure takes the column of its chain."""
    if width_mm(line.figure, SIZE_MM, True) <= at.chain - at.figure - 1.0:
        write(at.figure, at.chain, line.figure, True)
        write(at.chain, at.beside, line.chain)
        write(at.beside, at.off, line.beside)
        return
    write(at.figure, at.beside, line.figure, True)
    chain = [line.chain] if line.chained else []
    write(at.beside, at.off, "  ".join(filter(None, [*chain, line.beside])))


def box_for(sketch: Sketch, left: float, right: float, tag: str) -> None:
    """An empty box under its tag."""
    sketch.rect((left, 0.2, right, ROW_MM - 0.1), THIN)
    sketch.shapes.append(Text(left + 0.8, ROW_MM - 1.2, tag, 2.0, colour=GREY))


def _change(sketch: Sketch, line: CutLine, at: Columns, y: float) -> None:
    """Which way the line moved from plan, and by how much."""
    x = at.off
    if line.shift:
        start, end = (x + 4.0, x) if line.shift < 0 else (x, x + 4.0)
        sketch.add(arrow((start, y - 0.9), (end, y - 0.9), THIN, 1.9))
        x += 5.0
    sketch.shapes.append(Text(x, y, fitted(line.off, at.meets - x - 1.0, SIZE_MM), SIZE_MM))
