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

from collections.abc import Sequence

from fitsolve.drawing.flow import Block, Frame, Type, beside, flowed, paragraph, run_in, spaced
from fitsolve.drawing.metrics import fitted, width_mm
from fitsolve.drawing.papers import SHEET_MARGIN_MM, SHEETS
from fitsolve.drawing.shapes import BLACK, GREY, THICK, Page, Shape, Sketch, Text, moved, scaled
from fitsolve.drawing.sheetparts import ROW_MM, SIZE_MM, SheetPart, box_for, part_blocks
from fitsolve.drawing.symbols import tick_box
from fitsolve.light import dataclass, replace
from fitsolve.report import screen

SMALL_MM, LINE_MM = 2.5, 3.05
JOINED = ("UNCHECKED", "ASSUMED")
"""What is listed under each other on a screen, and behind each other on paper."""
FOOT_MM = 4.0
TAG_ROOM_MM = 20.0

SMALLEST = 0.94
LARGEST_FIRST = (
    (1.03, True), (1.0, True), (0.97, True), (1.03, False), (1.0, False), (0.97, False), (SMALLEST, True),
)  # fmt: skip
"""How large type is, and whether parts are kept whole on a page: what is liked best comes first."""
ROOM_LEAST_MM = 188.0
"""Columns want so much at least."""
TRIED_MOST = 8
"""A sheet of more pages than this is as it comes."""


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


def sheet_pages(sheet: ShopSheet, paper: str) -> list[Page]:
    """Return the pages of a sheet on a paper, "letter" or "a4": as few as there can be, their type as large as goes on
    so many, no part torn apart where that can be."""
    fewest = _Set.at(sheet, paper, SMALLEST)
    best = fewest.pages(False)
    if len(best) > TRIED_MOST:
        return _Set.at(sheet, paper, 1.0).pages(False)
    sets = {SMALLEST: fewest}
    for scale, whole in LARGEST_FIRST:
        if scale > 1.0 and (SHEETS[paper][0] - 2 * SHEET_MARGIN_MM) / scale < ROOM_LEAST_MM:
            continue
        if scale not in sets:
            sets[scale] = _Set.at(sheet, paper, scale)
        pages = sets[scale].pages(whole)
        if len(pages) <= len(best):
            return pages
    return best


@dataclass(frozen=True)
class _Set:
    """A sheet set in a frame, which is then scaled to its paper."""

    sheet: ShopSheet
    frame: Frame
    scale: float
    blocks: tuple[Block, ...]

    @classmethod
    def at(cls, sheet: ShopSheet, paper: str, scale: float) -> _Set:
        """The pieces of a sheet with type so large."""
        width, height = (side / scale for side in SHEETS[paper])
        margin = SHEET_MARGIN_MM / scale
        frame = Frame(width, height, (margin, margin, width - margin, height - margin - FOOT_MM))
        room = frame.room_mm
        blocks = [*_head(sheet, frame.room_mm), *_words(sheet.first, room)]
        for part in sheet.parts:
            blocks += part_blocks(part, room)
        blocks += _readings(sheet, room)
        blocks += [spaced(1.0), *_words(sheet.last, room), spaced(0.5)]
        for caution in sheet.cautions:
            blocks += paragraph(caution, room, Type(SMALL_MM, LINE_MM))
        return cls(sheet, frame, scale, tuple(blocks))

    def pages(self, whole: bool) -> list[Page]:
        """The pages; with `whole` no part goes over from one to the next that fits on one."""
        flow = flowed(self.blocks, self.frame, whole)
        pages = [_page(self.sheet, self.frame, shapes, (k, len(flow))) for k, shapes in enumerate(flow, 1)]
        return pages if self.scale == 1.0 else [_scaled_page(page, self.scale) for page in pages]


def _scaled_page(page: Page, by: float) -> Page:
    shapes = tuple(scaled(shape, by) for shape in page.shapes)
    return Page(page.width_mm * by, page.height_mm * by, shapes, page.title)


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
    """Lines and tables; what stands further in under a bold line, or behind a lead, is run in behind it."""
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
        elif line.lead:
            found += run_in(line.text[: line.lead], _ended(line.text[line.lead :].strip()), room, how)
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
            short = len(rows) == 1 and _reading_words_mm(rows[0]) <= _reading_room(half)
            found.append(_reading(rows.pop(0), half if short else room))
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
    box_for(sketch, room - 22.0, room, one.tag)
    return Block(ROW_MM, tuple(sketch.shapes))
