"""Flow: pieces of a page put under each other, on as many pages as it takes.

A piece is as high as it says and is never torn apart; where it does not fit under the others a new
page begins. Pieces that say `keep` stay on the page of the piece after them. The maker of a sheet knows
pieces; only here is it known on which page they come to stand.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from fitsolve.drawing.metrics import fitted, width_mm, wrapped
from fitsolve.drawing.shapes import BLACK, Box, Shape, Text, moved
from fitsolve.light import dataclass, replace


@dataclass(frozen=True)
class Block:
    """A piece of a page: shapes drawn from (0, 0), the left margin and its own top, down to its height. `of` is
    what it belongs to, which is said again where that goes over to another page."""

    height_mm: float
    shapes: tuple[Shape, ...]
    keep: bool = False
    of: str = ""


@dataclass(frozen=True)
class Frame:
    """The room on a page: its size, and the box that pieces stand in."""

    width_mm: float
    height_mm: float
    box: Box

    @property
    def room_mm(self) -> float:
        """How wide a piece may be."""
        return self.box[2] - self.box[0]


def flowed(blocks: Sequence[Block], frame: Frame, whole: bool = False) -> list[list[Shape]]:
    """Return the shapes of each page; with `whole` what belongs together stays on one page where it fits on one."""
    layer = _Layer(frame)
    k = 0
    while k < len(blocks):
        end = k + 1
        if whole and blocks[k].of and blocks[k].of != layer.of:
            [high, *_] = (sum(one.height_mm for one in own) for _, own in itertools.groupby(blocks[k:], _of))
            if not layer.fits(high) and high <= frame.box[3] - frame.box[1]:
                layer.turn(blocks[k])
        while blocks[end - 1].keep and end < len(blocks):
            end += 1
        if not layer.fits(sum(block.height_mm for block in blocks[k:end])):
            layer.turn(blocks[k])
        for block in blocks[k:end]:
            if not layer.fits(block.height_mm):
                layer.turn(block)
            layer.put(block)
        k = end
    return layer.pages


def _of(block: Block) -> str:
    return block.of


class _Layer:
    """Puts pieces on pages."""

    def __init__(self, frame: Frame) -> None:
        self.frame = frame
        self.pages: list[list[Shape]] = [[]]
        self.y = frame.box[1]
        self.of = ""

    def fits(self, height_mm: float) -> bool:
        """Whether there is so much room; an empty page takes anything."""
        return self.y + height_mm <= self.frame.box[3] + 1e-6 or self.y <= self.frame.box[1] + CONTINUED_MM

    def turn(self, block: Block) -> None:
        """Begin a page; say whose piece it is where that began on the one before."""
        self.pages.append([])
        self.y = self.frame.box[1]
        if block.of and block.of == self.of:
            words = fitted(f"{block.of}, continued", self.frame.room_mm, 2.8, True)
            self.pages[-1].append(Text(self.frame.box[0], self.y + 3.0, words, 2.8, "start", True))
            self.y += CONTINUED_MM

    def put(self, block: Block) -> None:
        """Put a piece under the others."""
        self.pages[-1] += [moved(shape, self.frame.box[0], self.y) for shape in block.shapes]
        self.y += block.height_mm
        self.of = block.of


CONTINUED_MM = 4.4


@dataclass(frozen=True, slots=True)
class Type:
    """How words are set: size, line height, weight, colour, and how far in."""

    size_mm: float = 2.8
    line_mm: float = 3.5
    bold: bool = False
    colour: str = BLACK
    indent_mm: float = 0.0
    hang_mm: float = 0.0


def paragraph(words: str, room_mm: float, how: Type = Type(), keep: bool = False) -> list[Block]:  # noqa: B008
    """Return words as one piece a line, so that a long text can go over to the next page."""
    lines = wrapped(words, room_mm - how.indent_mm - how.hang_mm, how.size_mm, how.bold)
    blocks = []
    for number, line in enumerate(lines):
        x = how.indent_mm + (how.hang_mm if number else 0.0)
        text = Text(x, how.line_mm * 0.74, line, how.size_mm, "start", how.bold, False, how.colour)
        blocks.append(Block(how.line_mm, (text,), keep or number + 1 < min(len(lines), 2)))
    return blocks


def run_in(lead: str, words: str, room_mm: float, how: Type) -> list[Block]:
    """Return words behind a lead in bold, as one piece a line; the lead stands on lines of its own
    where it takes more than half of one."""
    first = width_mm(lead, how.size_mm, True) + how.size_mm
    room = room_mm - how.indent_mm
    if first > room / 2:
        return paragraph(lead, room_mm, replace(how, bold=True), True) + paragraph(words, room_mm, how)
    start, *rest = wrapped(words, room - first, how.size_mm)
    further = wrapped(" ".join(words.split())[len(start) :].strip(), room - how.hang_mm, how.size_mm) if rest else []
    bold = Text(how.indent_mm, how.line_mm * 0.74, lead, how.size_mm, "start", True)
    line = Text(how.indent_mm + first, how.line_mm * 0.74, start, how.size_mm, "start", False, False, how.colour)
    blocks = [Block(how.line_mm, (bold, line), bool(further))]
    for words in further:
        x = how.indent_mm + how.hang_mm
        blocks.append(Block(how.line_mm, (Text(x, how.line_mm * 0.74, words, how.size_mm, colour=how.colour),)))
    return blocks


def beside(left: Sequence[Block], right: Sequence[Block], dx_mm: float) -> list[Block]:
    """Return two columns of pieces beside each other as one piece."""
    shapes: list[Shape] = []
    height = 0.0
    for x, column in ((0.0, left), (dx_mm, right)):
        y = 0.0
        for block in column:
            shapes += [moved(shape, x, y) for shape in block.shapes]
            y += block.height_mm
        height = max(height, y)
    return [Block(height, tuple(shapes))]


def spaced(height_mm: float) -> Block:
    """Return empty room."""
    return Block(height_mm, ())
