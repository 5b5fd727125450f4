"""The shop log: `log.csv`, a history that is only ever added to.

A row that has been acknowledged is on disk. `append` takes a lock on the file, reads it again
to find the next number, writes whole lines at its end, and returns only when the system says
that they are stored. Two programs writing at once wait for each other and lose nothing.

If the disk fills up half way, what was written of the new rows is taken off again and none of
them counts. If the power goes, the last line may be left without its end; the next row then
starts on a line of its own (see logtext).

The lock is on the file itself, so no other file is left about. A program that replaces the file
meanwhile (as an editor may) is noticed, and the new file is taken. Reading waits a moment for
a writer, but not for ever: the worst it can meet is a last line without its end.

When it fails: another program holds the file, the folder cannot be written, the disk is full,
the file is no log. All of these are a `BuildError`; nothing is then acknowledged.

Not here: how a row is spelled (logtext), what it means (state).
"""

from __future__ import annotations

import os
import stat
import sys
import time
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from fitsolve.build.logtext import (
    CELL_LENGTH_MAX,
    EVENTS,
    HEADER,
    Log,
    Row,
    parse_log,
    row_number,
    row_text,
    split_cells,
)
from fitsolve.errors import BuildError, Place, Problem

__all__ = ["Check", "Log", "Row", "append", "parse_log", "read_log"]

if sys.platform == "win32":  # pragma: no cover
    import msvcrt
else:
    import fcntl

Check = Callable[[Log, tuple[Row, ...]], Iterable[Problem]]
"""What may still speak against rows, given the log as it is under the lock and the rows numbered."""

WRITER_WAITS_S = 30.0
READER_WAITS_S = 2.0
LOG_BYTES_MAX = 1 << 28


def read_log(path: str | os.PathLike[str]) -> Log:
    """Return the log in a file; a file that does not exist is an empty log.

    Raises BuildError where it is there but cannot be read. Lines that make no sense are
    problems of the log.
    """
    path = Path(path)
    try:
        descriptor = os.open(path, os.O_RDONLY | _flags("O_BINARY", "O_CLOEXEC", "O_NONBLOCK"))
    except FileNotFoundError:
        return Log(file=path.name)
    except (OSError, ValueError) as why:
        raise _trouble(path, "can't be read", why) from None
    try:
        _regular(descriptor, path)
        _lock(descriptor, shared=True, until=time.monotonic() + READER_WAITS_S)
        return parse_log(_content(descriptor, path), path.name)
    except OSError as why:
        raise _trouble(path, "can't be read", why) from None
    finally:
        os.close(descriptor)


def append(path: str | os.PathLike[str], rows: Sequence[Row], check: Check | None = None) -> tuple[Row, ...]:
    """Add rows to the log and return them with their numbers, once they are on disk.

    A row without a time gets the present one. `check` is asked under the lock: an error it
    returns stops all the rows. Raises BuildError with all problems; then no row was added.
    """
    path = Path(path)
    rows = tuple(clean(row) for row in rows)
    problems = [problem for row in rows for problem in row_problems(row, path.name)]
    if problems:
        raise BuildError(problems)
    if not rows:
        return ()
    try:
        descriptor = _open_locked(path)
        try:
            return _append(descriptor, path, rows, check)
        finally:
            os.close(descriptor)
    except (OSError, ValueError) as why:
        raise _trouble(path, "can't be written, and no row was added", why) from None


def _append(descriptor: int, path: Path, rows: tuple[Row, ...], check: Check | None) -> tuple[Row, ...]:
    """`append`, with the file open and locked."""
    content = _content(descriptor, path)
    log = parse_log(content, path.name)
    if log.foreign:
        errors = tuple(problem for problem in log.problems if problem.level == "error")
        raise BuildError(errors[:3])
    written = tuple(
        replace(row, no=log.highest + 1 + k, time=row.time or now(), line=0) for k, row in enumerate(rows)
    )
    if not row_number(str(written[-1].no)):
        what = f"row {log.highest} stands in the log already; numbers behind it can't be read back"
        raise BuildError([Problem(Place(path.name), what, "Give that row its own number, by hand.")])
    if check is not None:
        errors = tuple(problem for problem in check(log, written) if problem.level == "error")
        if errors:
            raise BuildError(errors)
    lines = [] if log.headed else [HEADER]
    for row in written:
        lines.append(row_text(row, log.dialect))
        assert len(split_cells(lines[-1], log.dialect.separator)[0]) == len(log.dialect.columns)
    text = log.finish + "".join(line + log.dialect.newline for line in lines)
    _store(descriptor, text.encode("utf-8"), len(content))
    if not content:
        _sync_folder(path.parent)
    return written


def now() -> str:
    """Return the present local time with its offset from UTC, to the second (ISO 8601)."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def clean(row: Row) -> Row:
    """Return the row with spaces trimmed, and its note on one line of printable text."""
    note = "".join(_plain(c) for c in row.note)
    return replace(
        row,
        time=row.time.strip(),
        event=row.event.strip(),
        start=row.start.strip(),
        end=row.end.strip(),
        reading=row.reading.strip(),
        tool=row.tool.strip(),
        note=" ".join(note.split()),
    )


def _plain(c: str) -> str:
    """A character of a note as it may be written: breaks and tabs as spaces, no control characters."""
    kind = unicodedata.category(c)
    if kind in ("Cc", "Zl", "Zp"):
        return " "
    return "\ufffd" if kind == "Cs" else c


def row_problems(row: Row, file: str = "log.csv") -> list[Problem]:
    """Say why a row cannot be written: an unknown event, or a cell that would not read back."""
    problems = []
    if row.event not in EVENTS:
        hint = f"There are: {', '.join(EVENTS)}."
        problems.append(
            Problem(Place(file, key="event"), f'"{_shown(row.event)}" is no event of the log', hint)
        )
    cells = {
        "time": row.time, "from": row.start, "to": row.end, "reading": row.reading, "tool": row.tool,
        "note": row.note,
    }  # fmt: skip
    for key, cell in cells.items():
        if any(unicodedata.category(c) in ("Cc", "Cs", "Zl", "Zp") for c in cell):
            what = f'"{_shown(cell)}" holds a line break or a control character'
            problems.append(Problem(Place(file, key=key), what, "Write it on one line, in plain characters."))
        if len(cell) > CELL_LENGTH_MAX:
            what = f"{len(cell)} characters; at most {CELL_LENGTH_MAX} can be kept"
            problems.append(Problem(Place(file, key=key), what, "Make it shorter."))
    return problems


def _shown(text: str) -> str:
    return "".join(
        c if c.isprintable() else "\ufffd" for c in (text if len(text) < 60 else text[:57] + "...")
    )


# -- the file ------------------------------------------------------------------------------


def _flags(*names: str) -> int:
    """Flags for opening a file, those that this system has."""
    return sum(getattr(os, name, 0) for name in names)


def _open_locked(path: Path) -> int:
    """Open the file for adding to it, made if need be, and lock it."""
    until = time.monotonic() + WRITER_WAITS_S
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT | _flags("O_BINARY", "O_CLOEXEC", "O_NONBLOCK")
    while True:
        descriptor = os.open(path, flags, 0o666)
        try:
            _regular(descriptor, path)
            if not _lock(descriptor, shared=False, until=until):
                raise BuildError([
                    Problem(
                        Place(path.name),
                        "another program has been writing to the log all the while; no row was added",
                        "Close it, then try again.",
                    )
                ])  # fmt: skip
            if _still_there(descriptor, path):
                return descriptor
        except BaseException:
            os.close(descriptor)
            raise
        os.close(descriptor)


def _still_there(descriptor: int, path: Path) -> bool:
    """Whether the file that was locked is still the one of that name."""
    try:
        return os.path.samestat(os.fstat(descriptor), os.stat(path))
    except FileNotFoundError:
        return False


def _regular(descriptor: int, path: Path) -> None:
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        raise BuildError([Problem(Place(path.name), "this is no file", "The log is a plain file, log.csv.")])


def _lock(descriptor: int, *, shared: bool, until: float) -> bool:
    """Lock the file, waiting for others until that time; return whether it is locked now.

    It asks again and again rather than sleeping in the system, so that a program that hangs
    while it holds the log cannot make this one hang.
    """
    pause = 0.0005
    while True:
        try:
            if sys.platform == "win32":  # pragma: no cover
                if not shared:
                    os.lseek(descriptor, LOG_BYTES_MAX * 2, os.SEEK_SET)
                    msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
            return True
        except (BlockingIOError, PermissionError):
            if time.monotonic() > until:
                return False
        except OSError:
            if shared:
                return False
            raise
        time.sleep(pause)
        pause = min(pause * 1.5, 0.02)


def _content(descriptor: int, path: Path) -> bytes:
    """The whole file."""
    size = os.fstat(descriptor).st_size
    if size > LOG_BYTES_MAX:
        what = f"{size} bytes; a log of more than {LOG_BYTES_MAX} is not read"
        raise BuildError([Problem(Place(path.name), what, "Is this the right file?")])
    os.lseek(descriptor, 0, os.SEEK_SET)
    pieces = []
    while piece := os.read(descriptor, 1 << 20):
        pieces.append(piece)
    return b"".join(pieces)


def _store(descriptor: int, lines: bytes, size_before: int) -> None:
    """Write the lines at the end of the file, and wait until they are on disk.

    If that fails the file is cut back to what it was: no row may be there that the maker was
    told is not.
    """
    try:
        rest = memoryview(lines)
        while rest:
            count = os.write(descriptor, rest)
            if not count:
                raise OSError("the system wrote nothing")
            rest = rest[count:]
        _sync(descriptor)
    except OSError:
        try:
            os.ftruncate(descriptor, size_before)
            _sync(descriptor)
        except OSError:
            pass
        raise


def _sync(descriptor: int) -> None:
    """Wait until the file is on disk; on macOS `fsync` alone stops at the drive's own memory."""
    if sys.platform == "darwin":  # pragma: no cover
        try:
            fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
            return
        except OSError:
            pass
    os.fsync(descriptor)


def _sync_folder(folder: Path) -> None:
    """Wait until the name of a new file is on disk; not every system can, or needs to."""
    if sys.platform == "win32":  # pragma: no cover
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    except OSError:
        pass
    finally:
        os.close(descriptor)


def _trouble(path: Path, what: str, why: OSError | ValueError) -> BuildError:
    """What the system has against a file, as a problem."""
    reason = (getattr(why, "strerror", None) or str(why)).lower()
    hint = "Is the disk full, the folder there, and the file yours to write? Is it open in another program?"
    return BuildError([Problem(Place(path.name), f"the log {what}: {reason}", hint)])
