"""The text of the shop log: one row a line, as the program writes it and a spreadsheet may save it.

    no,time,event,from,to,reading,tool,note

The program writes commas and line feeds. What comes back may have been through a spreadsheet
or an editor, so reading is tolerant: a byte order mark, CRLF or CR, semicolons or tabs (told
from the header), readings with a decimal comma where commas do not part the cells, quotes, blank
lines, empty cells at the end left out or added, columns in another order or unknown ones. Every
line that cannot be used is a `Problem`; the others stay.

Quotes are read line by line. A quote that is never closed would otherwise swallow all the
rows behind it; a cell may still run over several lines, as long as none of them is a row.

A line break ends a row. A last line without one was cut off, by a crash or a full disk: it was
never acknowledged, and counts for nothing even where all its cells seem to stand there, for the
note may be half (`glued` of `glued, pegged`; `good to 1/6` of `good to 1/64`). The next row that
is written closes it with one more cell, `cut off`, so that it can never be taken for a whole row.
Nothing that stands in the file is changed.

Not here: files and locks (shoplog), what a row means (state).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import field
from datetime import datetime
from functools import lru_cache

from fitsolve.errors import Place, Problem
from fitsolve.light import dataclass, pattern, replace

COLUMNS = ("no", "time", "event", "from", "to", "reading", "tool", "note")
HEADER = ",".join(COLUMNS)
EVENTS = (
    "reading", "rough", "compare", "gang", "lean", "wind", "diagonal", "made", "trim", "remake",
    "close", "open", "apart", "rename", "strike",
)  # fmt: skip
CUT_OFF = "cut off"

CELL_LENGTH_MAX = 10_000
"""No cell of a log is longer than this; one that is was not written by hand or by us."""

NEEDS_TOOL = frozenset({"reading", "rough", "compare", "gang", "lean", "wind", "diagonal"})
_JOINED_LINES_MAX = 50
_BREAK = pattern("\r\n|\n|\r")
_DATE = pattern(r"\d{1,4}([-./]) ?\d{1,2}\1 ?\d{1,4}(?!\d)")
_DAMAGED = pattern("[\udc80-\udcff]")
_DECIMAL_POINT = pattern(r"^(\d*)\.(\d+)(?=[a-z ]*$)")
_DECIMAL_COMMA = pattern(r"(\d*),(\d+)(?=[a-z ]*$)")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the log, as written: texts, not yet understood.

    `start` and `end` are the columns `from` and `to`. `no` is 0 until the row is written,
    `line` 0 where it did not come from a file.
    """

    no: int = 0
    time: str = ""
    event: str = ""
    start: str = ""
    end: str = ""
    reading: str = ""
    tool: str = ""
    note: str = ""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Dialect:
    """How the file is written: kept when rows are added, so that it stays of one piece."""

    separator: str = ","
    newline: str = "\n"
    columns: tuple[str, ...] = COLUMNS
    decimal_comma: bool = False


@dataclass(frozen=True)
class Log:
    """The rows that can be used, in the order of the file, and the problems of the others.

    `broken` gives, for rows that cannot be used but whose number can be read, their problem
    (it stands in `problems` too): striking such a row settles it. `highest` is the highest
    number seen. `finish` is what the next rows must be written behind, so that they start on
    a line of their own. `headed` is false where a header must be written first; `foreign`
    where the file is no log that rows could be added to.
    """

    rows: tuple[Row, ...] = ()
    problems: tuple[Problem, ...] = ()
    file: str = "log.csv"
    broken: dict[int, Problem] = field(default_factory=dict)
    dialect: Dialect = Dialect()
    highest: int = 0
    finish: str = ""
    headed: bool = False
    foreign: bool = False


@lru_cache(maxsize=1)
def parse_log(content: bytes, file: str = "log.csv") -> Log:
    """Return the log that `content` holds. Never raises: all trouble is in `problems`.

    The same bytes again are not read again: a command reads its log once to answer by and once under the lock.
    """
    return _Reader(content, file).log()


def split_cells(line: str, separator: str) -> tuple[list[str], bool]:
    """Return the cells of a line, and whether a quote was left open.

    >>> split_cells('1,"3 1/2"", snug",x', ",")
    (['1', '3 1/2", snug', 'x'], False)
    """
    if '"' not in line:
        return line.split(separator), False
    cells: list[str] = []
    at = 0
    while True:
        text = ""
        if line.startswith('"', at):
            text, at, closed = _quoted(line, at + 1)
            if not closed:
                return [*cells, text], True
        end = line.find(separator, at)
        if end < 0:
            return [*cells, text + line[at:]], False
        cells.append(text + line[at:end])
        at = end + 1


def _quoted(line: str, at: int) -> tuple[str, int, bool]:
    """The text of a quoted cell from behind its first quote, where it ends, whether it does."""
    text = ""
    while True:
        end = line.find('"', at)
        if end < 0:
            return text + line[at:], len(line), False
        text += line[at:end]
        if not line.startswith('"', end + 1):
            return text, end + 1, True
        text += '"'
        at = end + 2


def join_cells(cells: Iterable[str], separator: str) -> str:
    """Return the line that `split_cells` splits into `cells`.

    >>> join_cells(["1", '3 1/2"', "a, b", ""], ",")
    '1,"3 1/2\"\"","a, b",'
    """
    return separator.join(
        '"' + cell.replace('"', '""') + '"' if '"' in cell or separator in cell else cell for cell in cells
    )


def row_text(row: Row, dialect: Dialect) -> str:
    """Return a row as a line of the file, without its line break."""
    cells = dict(zip(COLUMNS, _cells(row), strict=True))
    if dialect.decimal_comma:  # such a spreadsheet would make a date of 4.01
        cells["reading"] = _DECIMAL_POINT.sub(r"\1,\2", row.reading)
    return join_cells((cells.get(column, "") for column in dialect.columns), dialect.separator)


def _cells(row: Row) -> tuple[str, ...]:
    return (str(row.no), row.time, row.event, row.start, row.end, row.reading, row.tool, row.note)


class _Reader:
    """Reads one file from top to bottom."""

    def __init__(self, content: bytes, file: str) -> None:
        self.file = file
        self.rows: list[Row] = []
        self.problems: list[Problem] = []
        self.broken: dict[int, Problem] = {}
        self.numbers: dict[int, int] = {}
        self.highest = 0
        self.finish = ""
        self.headed = self.foreign = False
        self.dialect = Dialect()
        self.at: list[int | None] = list(range(len(COLUMNS)))
        self.decimal_commas: list[int] = []
        self.wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = content.decode("utf-8", "surrogateescape").removeprefix("\ufeff")
        self.suspect = "\0" in text or (not text.isascii() and _DAMAGED.search(text) is not None)
        first_break = _BREAK.search(text)
        self.newline = first_break.group() if first_break else "\n"
        self.ended = not text or text.endswith(("\n", "\r"))
        self.lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")

    def log(self) -> Log:
        if self.wide:
            self.foreign = True
            self.fault(
                1, "this file is written in UTF-16; nothing of it was read", "Save it as CSV in UTF-8."
            )
        else:
            if not self.ended:
                self.finish = self.newline
            self.read_rows(self.read_header())
            self.say_decimal_commas()
        return Log(
            tuple(self.rows),
            tuple(self.problems),
            self.file,
            self.broken,
            self.dialect,
            self.highest,
            self.finish,
            self.headed,
            self.foreign,
        )

    def fault(self, line: int, what: str, hint: str, cell: str = "", level: str = "error") -> Problem:
        """Report what is wrong with a line, with a caret under the cell."""
        shown = _printable(cell if len(cell) <= 60 else cell[:57] + "...")
        place = Place(self.file, line, text=shown, column=0 if shown else None, width=len(shown))
        problem = Problem(place, what, hint, level=level)  # type: ignore[arg-type]
        self.problems.append(problem)
        return problem

    # -- the header ----------------------------------------------------------------------

    def read_header(self) -> int:
        """Find the header; return the index of the first line behind it."""
        for index, line in enumerate(self.lines):
            bare = line.strip().strip("\0")
            if not bare.strip(",;\t ") or bare.lower().startswith("sep="):
                continue
            if HEADER.startswith(bare) and bare != HEADER:
                self.fault(index + 1, "the header was cut off", "It is written again below.", bare, "notice")
                continue
            if self.is_header(index + 1, line):
                return index + 1
            self.foreign = True
            what, hint = "the log does not begin with its header", f"Put this line first: {HEADER}"
            self.fault(index + 1, what, hint, bare)
            return index
        return len(self.lines)

    def is_header(self, line_no: int, line: str) -> bool:
        """Take the line as the header if it names columns of the log; tell the separator from it."""
        best: list[str] = []
        separator = ","
        for candidate in ",;\t":
            names = [cell.strip().lower() for cell in split_cells(line, candidate)[0]]
            if sum(name in COLUMNS for name in names) > sum(name in COLUMNS for name in best):
                best, separator = names, candidate
        while best and not best[-1]:
            best.pop()
        if len(set(best) & set(COLUMNS)) < 4 or "no" not in best:
            return False
        self.headed = True
        self.dialect = Dialect(separator, self.newline, tuple(best))
        self.at = [best.index(name) if name in best else None for name in COLUMNS]
        self.check_columns(line_no, best)
        return True

    def check_columns(self, line_no: int, names: list[str]) -> None:
        missing = [name for name in COLUMNS if name not in names]
        twice = sorted({name for name in names if name and names.count(name) > 1})
        unknown = [name for name in names if name and name not in COLUMNS]
        if missing:
            self.foreign = True
            self.fault(line_no, f"the header lacks {_listed(missing)}", f"The columns are: {HEADER}")
        if twice:
            self.foreign = True
            self.fault(line_no, f"the header has {_listed(twice)} twice", f"The columns are: {HEADER}")
        if unknown:
            self.fault(line_no, f"not a column of the log: {_listed(unknown)}", "Not read.", level="notice")

    # -- the rows ------------------------------------------------------------------------

    def read_rows(self, index: int) -> None:
        separator = self.dialect.separator
        while len(self.lines) > index and not self.lines[-1].strip(separator + " \t"):
            self.lines.pop()
            self.ended = True
        while index < len(self.lines):
            line, line_no = self.lines[index], index + 1
            index += 1
            cells, is_open = split_cells(line, separator)
            if is_open:
                cells, is_open, index = self.joined(line, index)
            self.read_row(line_no, cells, is_open, index == len(self.lines))

    def joined(self, line: str, index: int) -> tuple[list[str], bool, int]:
        """A cell that runs over several lines, unless one of them is a row of its own."""
        for end in range(index, min(index + _JOINED_LINES_MAX, len(self.lines))):
            if self.looks_like_a_row(self.lines[end]):
                break
            line += " " + self.lines[end]
            cells, is_open = split_cells(line, self.dialect.separator)
            if not is_open:
                return cells, False, end + 1
        cells, is_open = split_cells(self.lines[index - 1], self.dialect.separator)
        return cells, is_open, index

    def looks_like_a_row(self, line: str) -> bool:
        cells, _ = split_cells(line, self.dialect.separator)
        return len(cells) >= len(self.dialect.columns) - 1 and row_number(cells[self.at[0] or 0]) > 0

    def read_row(self, line_no: int, cells: list[str], is_open: bool, last: bool) -> None:
        width = len(self.dialect.columns)
        cut = last and not self.ended
        if len(cells) > width:
            if cells[-1] == CUT_OFF:
                self.never_whole(line_no, cells, "notice")
                return
            while len(cells) > width and not cells[-1].strip():
                cells.pop()
        if not (cells[0].strip() or any(cell.strip() for cell in cells)):
            return
        number = self.number_of(cells)
        problem = self.shape(line_no, cells, is_open, last, cut)
        if problem is None and self.suspect:
            problem = self.damage(line_no, cells)
        if problem is None:
            problem = self.take(line_no, cells, number)
        if problem is not None:
            self.highest = max(self.highest, number)
            if number and number not in self.numbers:
                self.broken[number] = problem

    def number_of(self, cells: list[str]) -> int:
        at = self.at[0]
        return row_number(cells[at]) if at is not None and at < len(cells) else 0

    def shape(self, line_no: int, cells: list[str], is_open: bool, last: bool, cut: bool) -> Problem | None:
        """What is wrong with the number of cells, the quotes, or the end of a line."""
        width, count = len(self.dialect.columns), len(cells)
        if cut:
            self.finish = ('"' if is_open else "") + self.dialect.separator * (max(0, width - count) + 1)
            self.finish += CUT_OFF + self.newline
            return self.never_whole(line_no, cells, "warning", seems=not is_open and count == width)
        if is_open:
            return self.fault(line_no, 'a quote (") is never closed', "Close it, or take it away.", cells[-1])
        if count > width:
            what = f"{count} cells where the header has {width}"
            separator = {"\t": "a tab"}.get(self.dialect.separator, f"a {self.dialect.separator!r}")
            hint = f"A cell that holds {separator} must stand in quotes."
            return self.fault(line_no, what, hint, cells[width])
        if count < width and self.too_short(cells, last):
            return self.never_whole(line_no, cells, "warning")
        return None

    def too_short(self, cells: list[str], last: bool) -> bool:
        """Whether a line with cells left out was cut off. A spreadsheet leaves out empty cells at the end."""
        by_name = dict(zip(self.dialect.columns, (cell.strip() for cell in cells), strict=False))
        event = by_name.get("event", "")
        if "from" not in by_name or (event in NEEDS_TOOL and "tool" not in by_name) or event == "close":
            return True
        return last and len(cells) < len(self.dialect.columns) - 1

    def never_whole(self, line_no: int, cells: list[str], level: str, seems: bool = False) -> Problem:
        what = "this line was cut off, as by a crash; nothing of it counts"
        shown = self.dialect.separator.join(cells[: len(self.dialect.columns)]).rstrip(self.dialect.separator)
        hint = "What it should have said must be entered again."
        if seems:
            hint = "It has no line break at its end. Is it whole, typed by hand? Then add one; else enter it again."
        return self.fault(line_no, what, hint, shown, level)

    def damage(self, line_no: int, cells: list[str]) -> Problem | None:
        """Bytes that are no text. In the note or an unknown column they do no harm."""
        for index, cell in enumerate(cells):
            if "\0" in cell:
                return self.fault(line_no, "NUL bytes, as a crash leaves them", "Enter the row again.", cell)
            if not cell.isascii() and _DAMAGED.search(cell):
                name = self.dialect.columns[index]
                what, hint = f"{name}: not UTF-8", "Save the file as UTF-8."
                if name in COLUMNS and name != "note":
                    return self.fault(line_no, what, hint, cell)
                self.fault(line_no, what, hint, cell, "warning")
                cells[index] = _DAMAGED.sub("\ufffd", cell)
        return None

    def take(self, line_no: int, cells: list[str], number: int) -> Problem | None:
        """Keep the row, or say why not."""
        count = len(cells)
        texts = [cells[at].strip() if at is not None and at < count else "" for at in self.at]
        if not number:
            what = f"can't read {_quote(texts[0])} as a row number" if texts[0] else "this row has no number"
            return self.fault(line_no, what, "Row numbers are 1, 2, 3 and so on, each once.", texts[0])
        if number in self.numbers:
            what = f"row {number} stands in line {self.numbers[number]} already"
            return self.fault(line_no, what, "Give this one the next free number.", texts[0])
        for name, text in zip(COLUMNS, texts, strict=True):
            if len(text) > CELL_LENGTH_MAX:
                what = f"{name}: {len(text)} characters; at most {CELL_LENGTH_MAX} are read"
                return self.fault(line_no, what, "Enter the row again.", text)
        if not texts[1]:
            hint = "Say when it was, as in 2024-05-17T14:10:00."
            self.fault(line_no, f"row {number} has no time", hint, level="warning")
        elif not _is_time(texts[1]):
            what = f"row {number}: can't read {_quote(texts[1])} as a time"
            hint = "Say when it was, as in 2024-05-17T14:10:00. The row counts all the same."
            self.fault(line_no, what, hint, texts[1], level="warning")
        self.numbers[number] = line_no
        self.highest = max(self.highest, number)
        _, time, event, start, end, reading, tool, note = texts
        if self.dialect.separator != "," and _DECIMAL_COMMA.match(reading):
            reading = _DECIMAL_COMMA.sub(r"\1.\2", reading)
            self.decimal_commas.append(number)
        self.rows.append(Row(number, time, event, start, end, reading, tool, note, line_no))
        return None


    def say_decimal_commas(self) -> None:
        """A spreadsheet that parts cells by semicolons or tabs does so because its comma is that of decimals."""
        rows = self.decimal_commas
        if rows:
            self.dialect = replace(self.dialect, decimal_comma=True)
            first = f"row {rows[0]}" if len(rows) == 1 else f"row {rows[0]} and {len(rows) - 1} more"
            what = f"decimal commas, as a spreadsheet writes them, read as points: {first}"
            self.fault(self.numbers[rows[0]], what, "Look whether the readings are right: fitsolve log", level="notice")


def _is_time(text: str) -> bool:
    """Whether a text is a date, with or without a time: ISO 8601, or as a spreadsheet turns it around."""
    iso = text[4:5] == text[7:8] == "-"
    if (not iso or text[10:11].isdigit()) and not _DATE.match(text):
        return False
    if iso:
        try:
            datetime.fromisoformat(text)
        except ValueError:
            return False
    return True


def row_number(text: str) -> int:
    """Return the row number that a text is, as `12` or `#12`; 0 where it is none."""
    text = text.strip().removeprefix("#")
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else 0


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "\ufffd" for c in text)


def _quote(text: str) -> str:
    return f'"{_printable(text if len(text) <= 40 else text[:37] + "...")}"'


def _listed(names: list[str]) -> str:
    return ", ".join(_quote(name) for name in names)
