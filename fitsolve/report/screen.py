"""Screen: blocks of words laid out to the width there is, on a terminal or in a file.

A block is a tag (JOINTS), a line behind it, and lines under it. A line is a sentence, wrapped with a hanging
indent, or a row of a table. Where a table is too wide each of its rows becomes a sentence:
nothing is ever cut off. Colour is never the only sign; NO_COLOR, TERM=dumb and a file get
none. Where the stream does not speak UTF-8, ± is spelled +/-.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import field
from typing import TYPE_CHECKING

from fitsolve.light import dataclass

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

TAG_WIDTH = 10
NARROW = 60
WIDTH_MIN = 24
_GAP = "  "
LAST_COLUMN_LEAST = 24
_WITH_THE_NEXT = ("±", "+", "-", "exact")

_PLAIN = str.maketrans({
    "±": "+/-", "°": " deg", "–": "-", "—": "-", "‘": "'", "’": "'", "“": '"', "”": '"', "′": "'", "″": '"',
    "\u00a0": " ",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence, `indent` columns in, with more of it another `hang` columns in. So many letters of its beginning
    `lead`: they are set bold."""

    text: str
    indent: int = 0
    hang: int = 2
    style: str = ""
    lead: int = 0


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells in columns, `indent` columns in. The last cell of a row that is shorter than others reaches
    over the columns behind it."""

    rows: tuple[tuple[str, ...], ...]
    indent: int = 0


@dataclass(frozen=True, slots=True)
class Block:
    """A tag and what stands behind it."""

    tag: str
    lines: Sequence[Line | Table] = field(default_factory=tuple)
    style: str = "bold"


def console() -> Console:
    """The console on standard output, without any reading of meaning into text."""
    from rich.console import Console

    return Console(file=sys.stdout, highlight=False, markup=False, emoji=False)


def width_of(screen: Console) -> int:
    """The columns there are; at least 80 where nobody looks on, as in a file, unless COLUMNS says."""
    told = os.environ.get("COLUMNS", "")
    if told.isascii() and told.isdigit() and int(told) > 0:
        return max(WIDTH_MIN, min(int(told), 10_000))
    if screen.is_dumb_terminal:  # the library takes it to have 80 columns, whatever it has
        for descriptor in (1, 0, 2):
            with suppress(OSError):
                if columns := os.get_terminal_size(descriptor).columns:
                    return max(columns, WIDTH_MIN)
    return max(screen.width, WIDTH_MIN) if screen.is_terminal else max(screen.width, 80)


def show(blocks: Iterable[Block]) -> None:
    """Print blocks on standard output."""
    from rich.text import Text

    screen = console()
    width = width_of(screen)
    lines = [spelled(text) for block in blocks for text in laid_out(block, width)]
    if lines:
        screen.print(Text("\n").join(lines), soft_wrap=True)  # at once: each print asks the terminal anew


def spelled(text: Text) -> Text:
    """The text in characters that standard output can show."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    if encoding.lower().replace("-", "").startswith("utf"):
        return text
    from rich.text import Text

    return Text(plainly(text.plain, encoding))


def plainly(text: str, encoding: str) -> str:
    """The text in characters that an encoding has; what the program itself writes keeps its meaning."""
    text = text.translate(_PLAIN)
    try:
        return text.encode(encoding, "replace").decode(encoding)
    except LookupError:  # an encoding that nobody knows
        return text.encode("ascii", "replace").decode("ascii")


def laid_out(block: Block, width: int) -> list[Text]:
    """Return the lines of a block, none wider than `width` as long as a word of it is not.

    The first line stands behind the tag, or under it where there is little room.
    """
    from rich.text import Text

    lines: list[Text] = []
    rest = list(block.lines)
    if block.tag:
        head = Text(block.tag, style=block.style)
        if width < NARROW or not rest or not isinstance(rest[0], Line):
            lines.append(head)
        else:
            first = rest.pop(0)
            assert isinstance(first, Line), "checked above"
            pieces = _sentence(Line(first.text, TAG_WIDTH, first.hang, first.style), width)
            head.append(" " * (TAG_WIDTH - len(block.tag)))
            head.append_text(pieces[0][TAG_WIDTH:])
            lines += [head, *pieces[1:]]
    for line in rest:
        lines += _table(line, width) if isinstance(line, Table) else _sentence(line, width)
    return lines


def _sentence(line: Line, width: int) -> list[Text]:
    """A sentence wrapped to the width, its further lines hanging."""
    from rich.text import Text

    if not line.text:
        return [Text("")]
    indent = min(line.indent, width // 4)
    if line.indent == TAG_WIDTH and width < NARROW:  # behind a tag that stands on a line of its own there
        indent = 2
    hang = min(line.hang, width // 8)
    pieces = wrapped(line.text, width - indent, width - indent - hang)
    lines = [
        Text(" " * (indent + (hang if number else 0)) + piece, style=line.style)
        for number, piece in enumerate(pieces)
    ]
    if line.lead:
        lines[0].stylize("bold", indent, indent + line.lead)
    return lines


def wrapped(text: str, first: int, further: int) -> list[str]:
    """Return the text broken at blanks; a word longer than the line is broken where it must be."""
    from rich.cells import cell_len, chop_cells

    if cell_len(text) <= first and not text.startswith(" "):
        return [text]
    lines: list[str] = []
    line, room = "", first
    for word in _words(text):
        longer = f"{line} {word}" if line else word
        if cell_len(longer) <= room:
            line = longer
            continue
        if line:
            lines.append(line.rstrip())
            room = further
        *whole, line = chop_cells(word, max(room, 1)) or [""]
        if whole:
            lines += whole
            room = further
    return [*lines, line] if line.strip() or not lines else lines


def folded(text: str, width: int) -> str:
    """Lines of words, each wrapped to the width with its further lines hanging. What stands four columns in or more is
    shown as it was written, with a caret under it perhaps: it stays as it is."""
    lines: list[str] = []
    for line in text.split("\n"):
        indent = len(line) - len(line.lstrip(" "))
        if len(line) <= width or indent >= 4:
            lines.append(line)
            continue
        own, *further = wrapped(line[indent:], width - indent, width - indent - 2)
        lines += [" " * indent + own, *(" " * (indent + 2) + piece for piece in further)]
    return "\n".join(lines)


def _words(text: str) -> list[str]:
    """The words of a text; a sign stays with its number, as in ± 0.004 and exact + 0.004, and a length in [ ] in
    one piece."""
    words: list[str] = []
    for word in text.split(" "):
        if words and (words[-1].rpartition(" ")[2].lstrip("(") in _WITH_THE_NEXT or _unclosed(words[-1])):
            words[-1] += f" {word}"
        else:
            words.append(word)
    return words


def _unclosed(word: str) -> bool:
    return word.startswith("[") and "]" not in word and len(word) < LAST_COLUMN_LEAST


def _table(table: Table, width: int) -> list[Text]:
    """Rows in columns, the last one wrapped if need be; where they do not fit, each row as a sentence."""
    from rich.cells import cell_len
    from rich.text import Text

    if not table.rows:
        return []
    columns = max(len(row) for row in table.rows)
    rows = [row for row in table.rows if row]
    wide = [0] * columns
    for row in rows:
        for k, cell in enumerate(row[:-1] if len(row) < columns else row):
            wide[k] = max(wide[k], cell_len(cell))
    *used, last = [k for k in range(columns) if wide[k]] or [0]
    before = [table.indent + sum(wide[j] + len(_GAP) for j in used if j < k) for k in range(columns)]
    room = width - before[last]
    longest = max((cell_len(word) for row in rows if len(row) == columns for word in row[-1].split(" ")), default=0)
    least = max(min(wide[last], LAST_COLUMN_LEAST), longest)  # a name is not broken for the sake of columns
    over = (width - before[len(row) - 1] for row in rows if len(row) < columns and row[-1])
    if room < least or any(left < LAST_COLUMN_LEAST for left in over):
        sentences: list[Text] = []
        for row in rows:
            sentences += _sentence(Line("  ".join(cell for cell in row if cell), table.indent, 4), width)
        return sentences
    lines = []
    for row in rows:
        end = last if len(row) == columns else len(row) - 1
        cells = "".join(row[k] + " " * (wide[k] - cell_len(row[k])) + _GAP for k in used if k < end)
        first, *further = wrapped(row[end], width - before[end], width - before[end])
        lines.append(Text((" " * table.indent + cells + first).rstrip()))
        lines += [Text(" " * before[end] + piece) for piece in further]
    return lines
