"""Screen: blocks of words laid out to the width there is, on a terminal or in a file.

A block is a tag (JOINTS), a line behind it, and lines under it. A line is a sentence, wrapped with a hanging
indent, or a row of a table. Where a table is too wide each of its rows becomes a sentence:
nothing is ever cut off. Colour is never the only sign; NO_COLOR, TERM=dumb and a file get
none. Where the stream does not speak UTF-8, ± is spelled +/-.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import field

from fitsolve.light import dataclass
from fitsolve.report.terminaltext import Text, cells, chopped, takes_styles, width_of_screen

TAG_WIDTH = 10
NARROW = 60
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


def show(blocks: Iterable[Block]) -> None:
    """Print blocks on standard output."""
    width, styled = width_of_screen(), takes_styles(sys.stdout)
    lines = [text.written(styled) for block in blocks for text in laid_out(block, width)]
    if lines:
        sys.stdout.write(spelled("\n".join(lines)) + "\n")
        sys.stdout.flush()  # before what is said of it on standard error


def spelled(text: str) -> str:
    """The text in characters that standard output can show."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    if encoding.lower().replace("-", "").startswith("utf"):
        return text.encode("utf-8", "replace").decode("utf-8")
    return plainly(text, encoding)


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
    lines: list[Text] = []
    rest = list(block.lines)
    if block.tag:
        if width < NARROW or not rest or not isinstance(rest[0], Line):
            lines.append(Text(((block.tag, block.style),)))
        else:
            first = rest.pop(0)
            assert isinstance(first, Line), "checked above"
            pieces = _sentence(Line(first.text, TAG_WIDTH, first.hang, first.style), width)
            tag, behind = block.tag.ljust(TAG_WIDTH), pieces[0].plain[TAG_WIDTH:]
            styled = ((tag, block.style), (behind, f"{block.style} {first.style}"))
            lines += [Text(styled if first.style else ((tag + behind, block.style),)), *pieces[1:]]
    for line in rest:
        lines += _table(line, width) if isinstance(line, Table) else _sentence(line, width)
    return lines


def _sentence(line: Line, width: int) -> list[Text]:
    """A sentence wrapped to the width, its further lines hanging."""
    if not line.text:
        return [Text((("", ""),))]
    indent = min(line.indent, width // 4)
    if line.indent == TAG_WIDTH and width < NARROW:  # behind a tag that stands on a line of its own there
        indent = 2
    hang = min(line.hang, width // 8)
    pieces = wrapped(line.text, width - indent, width - indent - hang)
    starts = [" " * (indent + (hang if number else 0)) for number in range(len(pieces))]
    lines = [Text(((start + piece, line.style),)) for start, piece in zip(starts, pieces, strict=True)]
    if line.lead:
        bold, rest = pieces[0][: line.lead], pieces[0][line.lead :]
        lines[0] = Text(((starts[0], line.style), (bold, f"bold {line.style}"), (rest, line.style)))
    return lines


def wrapped(text: str, first: int, further: int) -> list[str]:
    """Return the text broken at blanks; a word longer than the line is broken where it must be."""
    if cells(text) <= first and not text.startswith(" "):
        return [text]
    lines: list[str] = []
    line, room = "", first
    for word in _words(text):
        longer = f"{line} {word}" if line else word
        if cells(longer) <= room:
            line = longer
            continue
        if line:
            lines.append(line.rstrip())
            room = further
        *whole, line = chopped(word, max(room, 1)) or [""]
        if whole:
            lines += whole
            room = further
    return [*lines, line] if line.strip() or not lines else lines


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
    if not table.rows:
        return []
    columns = max(len(row) for row in table.rows)
    rows = [row for row in table.rows if row]
    wide = [0] * columns
    for row in rows:
        for k, cell in enumerate(row[:-1] if len(row) < columns else row):
            wide[k] = max(wide[k], cells(cell))
    *used, last = [k for k in range(columns) if wide[k]] or [0]
    before = [table.indent + sum(wide[j] + len(_GAP) for j in used if j < k) for k in range(columns)]
    room = width - before[last]
    longest = max((cells(word) for row in rows if len(row) == columns for word in row[-1].split(" ")), default=0)
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
        left = "".join(row[k] + " " * (wide[k] - cells(row[k])) + _GAP for k in used if k < end)
        first, *further = wrapped(row[end], width - before[end], width - before[end])
        lines.append(Text((((" " * table.indent + left + first).rstrip(), ""),)))
        lines += [Text(((" " * before[end] + piece, ""),)) for piece in further]
    return lines
