"""Sheet: what the maker takes to the bench, and brings back with the sizes as cut.

First what must be settled and what waits; then a strip and a table for each part that still has
something to be cut, a line for each cut, with a box to tick and a box for its size as cut, under the
tag by which it comes back; then joints, seats and frame with what saves them; what is assumed; the
cautions. What comes before and after the parts are the blocks of `sizes`, in the same words.

The head gives the sheet's number (findings.tags): which rows it was made from. Only a sheet as old as
the wood is comes back in.

Not here: sizes (findings), words (report, cutlines), pages (flow).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from fitsolve.drawing.bar import HEIGHT_MM, bar_shapes, bars
from fitsolve.drawing.cutlines import AS_PLANNED, TO_CUT, CutLine, from_words
from fitsolve.drawing.flow import Block, Frame, Type, beside, flowed, paragraph, run_in, spaced
from fitsolve.drawing.metrics import fitted, width_mm
from fitsolve.drawing.papers import SHEET_MARGIN_MM, SHEETS
from fitsolve.drawing.shapes import BLACK, GREY, THICK, THIN, Page, Shape, Sketch, Text, moved
from fitsolve.drawing.slants import Slant
from fitsolve.drawing.symbols import arrow, tick_box
from fitsolve.light import dataclass
from fitsolve.report import screen

ROW_MM = 4.7
SIZE_MM = 2.8
SMALL_MM, LINE_MM = 2.5, 3.05
NOTE_MM = 2.4
JOINED = ("UNCHECKED", "ASSUMED")
"""What is listed under each other on a screen, and behind each other on paper."""
FOOT_MM = 4.0
TAG_ROOM_MM = 20.0


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


@dataclass(frozen=True)
class ToRead:
    """A reading that is wanted, with its tag."""

    tag: str
    words: str
    plan: str


@dataclass(frozen=True)
class ShopSheet:
    """All that stands on a sheet. `first` and `last` are blocks as `sizes` shows them."""

    title: str
    number: str
    made: str
    rows: str
    first: tuple[screen.Block, ...]
    parts: tuple[SheetPart, ...]
    to_read: tuple[ToRead, ...]
    last: tuple[screen.Block, ...]
    cautions: tuple[str, ...]


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


def sheet_pages(sheet: ShopSheet, paper: str) -> list[Page]:
    """Return the pages of a sheet on a paper, "letter" or "a4"."""
    width, height = SHEETS[paper]
    margin = SHEET_MARGIN_MM
    box = (margin, margin, width - margin, height - margin - FOOT_MM)
    frame = Frame(width, height, box)
    blocks = _head(sheet, frame.room_mm)
    blocks += _words(sheet.first, frame.room_mm)
    for part in sheet.parts:
        blocks += _part(part, frame.room_mm)
    blocks += _readings(sheet, frame.room_mm)
    blocks += [spaced(1.0), *_words(sheet.last, frame.room_mm), spaced(0.5)]
    for caution in sheet.cautions:
        blocks += paragraph(caution, frame.room_mm, Type(SMALL_MM, LINE_MM))
    pages = flowed(blocks, frame)
    return [_page(sheet, frame, shapes, (k, len(pages))) for k, shapes in enumerate(pages, 1)]


def _page(sheet: ShopSheet, frame: Frame, shapes: Sequence[Shape], number: tuple[int, int]) -> Page:
    left, _, right, bottom = frame.box
    y = bottom + FOOT_MM
    said = f"sheet {sheet.number}   page {number[0]} of {number[1]}"
    foot = Text(right, y, said, 2.6, "end", True)
    room = right - left - width_mm(said, 2.6, True) - 4
    whose = Text(left, y, fitted(f"{sheet.title}   {sheet.made}", room, 2.6), 2.6)
    return Page(frame.width_mm, frame.height_mm, (*shapes, whose, foot), f"{sheet.title}, {said}")


def _head(sheet: ShopSheet, room: float) -> list[Block]:
    number = f"sheet {sheet.number}"
    right = width_mm(number, 5.0, True)
    sketch = Sketch()
    sketch.shapes.append(Text(0, 4.4, fitted(sheet.title, room - right - 5, 5.0, True), 5.0, "start", True))
    sketch.shapes.append(Text(room, 4.4, number, 5.0, "end", True))
    sketch.line(0, 6.2, room, 6.2, THICK)
    back = f"{sheet.made}, {sheet.rows}. When wood, joints or plan have changed since, this sheet is old: "
    back += "print another."
    boxes = (
        f" Sizes as cut come back as text: a first line \"sheet {sheet.number}\", then a line for each box filled in, "
        "tag and size (c1 8-15/16), by fitsolve read --sheet FILE."
    )
    signs = (
        "Heavy line: measure from here; where it is not cut yet, cut it square first. Full line: cut. Dashed: made. "
        "X: waste. Arrow: moved from plan that way. [ ]: from the mark before, as a check. Exact: how far off the line "
        "the size wanted is. Loop and angle: lay out from one face side and one face edge, and mark them on the wood."
    )
    if sheet.parts or sheet.to_read:
        back += boxes
    return [
        Block(7.4, tuple(sketch.shapes), True),
        *paragraph(back, room, Type(SMALL_MM, LINE_MM)),
        *(paragraph(signs, room, Type(SMALL_MM, LINE_MM, colour=GREY)) if sheet.parts else []),
        spaced(1.0),
    ]


# -- words as `sizes` shows them --------------------------------------------------------------


def _words(blocks: Sequence[screen.Block], room: float) -> list[Block]:
    """Blocks of a screen on paper: the tag in a column of its own, the lines beside it."""
    found: list[Block] = []
    for block in blocks:
        lines = _lines(_joined(block) if block.tag in JOINED else block.lines, room - TAG_ROOM_MM)
        lines = [replace(one, shapes=tuple(moved(s, TAG_ROOM_MM, 0.0) for s in one.shapes)) for one in lines]
        if lines:
            tag = fitted(block.tag, TAG_ROOM_MM - 1, SMALL_MM, True)
            lead = Text(0, LINE_MM * 0.74, tag, SMALL_MM, "start", True)
            lines[0] = replace(lines[0], shapes=(lead, *lines[0].shapes))
        found += [*lines, spaced(0.8)]
    return found


def _joined(block: screen.Block) -> list[screen.Line]:
    """The lines of a block as one."""
    words = [line.text for line in block.lines if isinstance(line, screen.Line)]
    return [screen.Line("; ".join(words))]


def _lines(lines: Sequence[screen.Line | screen.Table], room: float) -> list[Block]:
    """Lines and tables; what stands further in under a bold line is run in behind it."""
    found: list[Block] = []
    k = 0
    while k < len(lines):
        line = lines[k]
        k += 1
        if isinstance(line, screen.Table):
            found += _table(line, room)
            continue
        under: list[str] = []
        while line.style.startswith("bold") and k < len(lines) and _under(lines[k], line):
            under.append(getattr(lines[k], "text", ""))
            k += 1
        how = Type(SMALL_MM, LINE_MM, False, GREY if line.style == "dim" else BLACK, 0.0, 4.0)
        if under:
            found += run_in(line.text, " ".join(_ended(text) for text in under), room, how)
        else:
            found += paragraph(line.text, room, replace(how, bold=line.style.startswith("bold")))
    return found


def _under(line: screen.Line | screen.Table, lead: screen.Line) -> bool:
    return isinstance(line, screen.Line) and line.indent > lead.indent and not line.style


def _ended(text: str) -> str:
    return text if text.endswith((".", "?", "!", ":")) else f"{text}."


def _table(table: screen.Table, room: float) -> list[Block]:
    """Rows in columns; two rows side by side where both are short, else the last column wrapped."""
    columns = max((len(row) for row in table.rows), default=0)
    rows = [(*row, *[""] * (columns - len(row))) for row in table.rows]
    wide = [max((width_mm(row[k], SMALL_MM) for row in rows), default=0.0) + 3.0 for k in range(columns)]
    wide = [min(one, room * 0.45) for one in wide]
    half = room / 2
    short = [row for row in rows if sum(wide[:-1]) + width_mm(row[-1], SMALL_MM) < half - 3.0]
    found: list[Block] = []
    for k in range(0, len(short), 2):
        left = _table_row(short[k], wide, half)
        right = _table_row(short[k + 1], wide, half) if k + 1 < len(short) else []
        found += beside(left, right, half)
    for row in rows:
        if row not in short:
            found += _table_row(row, wide, room)
    return found


def _table_row(row: Sequence[str], wide: Sequence[float], room: float) -> list[Block]:
    x, shapes = 0.0, []
    for k, cell in enumerate(row[:-1]):
        shapes.append(Text(x, LINE_MM * 0.74, fitted(cell, wide[k] - 1.0, SMALL_MM), SMALL_MM))
        x += wide[k]
    first, *further = paragraph(row[-1], room, Type(SMALL_MM, LINE_MM, indent_mm=x))
    return [replace(first, shapes=(*shapes, *first.shapes)), *further]


# -- parts ----------------------------------------------------------------------------------


def _part(part: SheetPart, room: float) -> list[Block]:
    """The axis the part is longest along with its bar, then the others, beside each other where they are short."""
    main, *others = part.axes
    blocks = [_part_head(part, room)]
    for some in bars(main.lines):
        shapes = bar_shapes(some, (0.0, 0.0, room, HEIGHT_MM), slants=main.slants)
        blocks.append(Block(HEIGHT_MM, tuple(shapes), True))
    blocks += _rows(main, room)
    half = (room - 5.0) / 2
    while others:
        first, *rest = others
        if rest and _short(first, half) and _short(rest[0], half):
            columns = [[_axis_head(axis, half), *_rows(axis, half, short=True)] for axis in (first, rest[0])]
            blocks += beside(columns[0], columns[1], half + 5.0)
            others = rest[1:]
        else:
            blocks += [_axis_head(first, room), *_rows(first, room)]
            others = rest
    for text in part.leave:
        blocks += paragraph(text, room, Type(NOTE_MM, 3.0, indent_mm=_columns(room).word, hang_mm=3.0))
    return [*(replace(block, of=part.part) for block in blocks), spaced(1.1)]


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
        _box(sketch, at.box, at.end, line.tag)
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
        write(at.meets, at.box, " and ".join(line.meets), colour=GREY)
    _box(sketch, at.box, at.end, line.tag)
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


def _box(sketch: Sketch, left: float, right: float, tag: str) -> None:
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
    words = line.off if line.off != AS_PLANNED else "as planned"
    sketch.shapes.append(Text(x, y, fitted(words, at.meets - x - 1.0, SIZE_MM), SIZE_MM))


def _readings(sheet: ShopSheet, room: float) -> list[Block]:
    """Readings that are wanted, each with a box; two beside each other where both are short."""
    if not sheet.to_read:
        return []
    found = [Block(5.2, (Text(0, 3.6, "READ", SIZE_MM, "start", True),), True)]
    half = (room - 5.0) / 2
    rows = list(sheet.to_read)
    while rows:
        if len(rows) > 1 and all(_reading_words_mm(one) <= _reading_room(half) for one in rows[:2]):
            found += beside([_reading(rows[0], half)], [_reading(rows[1], half)], half + 5.0)
            rows = rows[2:]
        else:
            found.append(_reading(rows.pop(0), room))
    return found


def _reading_words_mm(one: ToRead) -> float:
    return width_mm(f"{one.words}   {one.plan}", SIZE_MM)


def _reading_room(room: float) -> float:
    return room - 13.5 - 23.0


def _reading(one: ToRead, room: float) -> Block:
    sketch = Sketch()
    sketch.shapes.append(tick_box(0.4, 0.7, 3.2))
    sketch.shapes.append(Text(5.5, ROW_MM * 0.7, one.tag, SIZE_MM, "start", True))
    words = fitted(f"{one.words}   {one.plan}", _reading_room(room), SIZE_MM)
    sketch.shapes.append(Text(13.5, ROW_MM * 0.7, words, SIZE_MM))
    _box(sketch, room - 22.0, room, one.tag)
    return Block(ROW_MM, tuple(sketch.shapes))
