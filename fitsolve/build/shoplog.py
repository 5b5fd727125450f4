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
from contextlib import suppress
from datetime import datetime, timedelta
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
from fitsolve.light import replace

__all__ = ["Check", "Log", "OpenLog", "Row", "append", "parse_log", "read_log"]

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

    Rows without a time get the present one, the same for all and not that of the row before. `check` is asked
    under the lock: an error it returns stops all the rows. Raises BuildError with all problems; then no row was
    added.
    """
    with OpenLog(path) as log:
        return log.append(rows, check)


class OpenLog:
    """The log kept open for several rows, one after another; locked only while rows are added.

    Each time it looks, under the lock, whether the file is still what it was: the same file, of
    the same size and time of change. The clock of a file system may be coarse, so a file that
    had changed just before it was looked at is held against its bytes. Only what another program
    has changed is read and parsed again; a file that was put in its place is opened.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        self._descriptor = -1
        self._content = b""
        self._log: Log | None = None
        self._stamp: tuple[int, ...] = ()
        self._sure = False

    def __enter__(self) -> OpenLog:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        descriptor, self._descriptor = self._descriptor, -1
        if descriptor >= 0:
            os.close(descriptor)

    def append(self, rows: Sequence[Row], check: Check | None = None) -> tuple[Row, ...]:
        """Add rows, as the function `append` does. `check` is given the log as it is under the lock; it is
        the very same object as `self.log` was after the last rows unless another program has written."""
        rows = tuple(clean(row) for row in rows)
        problems = [problem for row in rows for problem in row_problems(row, self.path.name)]
        if problems:
            raise BuildError(problems)
        if not rows:
            return ()
        try:
            self._take()
            try:
                return self._add(rows, check)
            finally:
                _unlock(self._descriptor)
        except (OSError, ValueError) as why:
            self.close()
            raise _trouble(self.path, "can't be written, and no row was added", why) from None

    def look(self) -> Log | None:
        """Read the log now, so that the first row need not wait for it; None where there is none yet."""
        if not self.path.is_file():
            return None
        try:
            self._take()
            try:
                return self._current()
            finally:
                _unlock(self._descriptor)
        except (OSError, ValueError) as why:
            self.close()
            raise _trouble(self.path, "can't be read", why) from None

    @property
    def log(self) -> Log | None:
        """The log as it was when it was read or added to last."""
        return self._log

    def _take(self) -> None:
        """Open and lock the file; where it is open already, lock it and see that it is still the one."""
        if self._descriptor >= 0:
            until = time.monotonic() + WRITER_WAITS_S
            if not _lock(self._descriptor, shared=False, until=until):
                raise _held_up(self.path)
            if _still_there(self._descriptor, self.path):
                return
            self.close()
        self._descriptor = _open_locked(self.path)

    def _current(self) -> Log:
        """The log as it is on disk now; read again only where it has changed."""
        if self._log is not None and self._stamp == _stamp(self._descriptor) and self._sure:
            return self._log
        content = _content(self._descriptor, self.path)
        if self._log is None or content != self._content:
            self._content, self._log = content, parse_log(content, self.path.name)
        self._note()
        return self._log

    def _note(self) -> None:
        """Remember what the file looks like."""
        self._stamp = _stamp(self._descriptor)
        self._sure = time.time_ns() - max(self._stamp[-2:]) > _COARSE_NS

    def _add(self, rows: tuple[Row, ...], check: Check | None) -> tuple[Row, ...]:
        log = self._current()
        written = _numbered(log, rows, self.path)
        if check is not None:
            errors = tuple(problem for problem in check(log, written) if problem.level == "error")
            if errors:
                raise BuildError(errors)
        lines = [] if log.headed else [HEADER]
        for row in written:
            lines.append(row_text(row, log.dialect))
            assert len(split_cells(lines[-1], log.dialect.separator)[0]) == len(log.dialect.columns)
        text = log.finish + "".join(line + log.dialect.newline for line in lines)
        before, self._log = self._content, None  # nothing is known of the file while it is written
        _store(self._descriptor, text.encode("utf-8"), len(before))
        if not before:
            _sync_folder(self.path.parent)
        self._follow(before + text.encode("utf-8"), log, written)
        return written

    def _follow(self, content: bytes, log: Log, written: tuple[Row, ...]) -> None:
        """Take what was written as read, where that is plainly what reading it would give."""
        if log.finish or not log.headed:
            return
        self._content = content
        self._log = replace(log, rows=(*log.rows, *written), highest=written[-1].no)
        self._note()


_COARSE_NS = 2_100_000_000
"""The coarsest clock of a file system in use, FAT's, ticks every 2 s."""


def _stamp(descriptor: int) -> tuple[int, ...]:
    """What would change with a file, its times of change last."""
    seen = os.fstat(descriptor)
    return seen.st_dev, seen.st_ino, seen.st_size, seen.st_ctime_ns, seen.st_mtime_ns


def _numbered(log: Log, rows: tuple[Row, ...], path: Path) -> tuple[Row, ...]:
    """The rows with their numbers and times."""
    if log.foreign:
        raise BuildError(tuple(problem for problem in log.problems if problem.level == "error")[:3])
    time = _time_behind(next((row.time for row in reversed(log.rows) if row.no == log.highest), ""))
    written = tuple(
        replace(row, no=log.highest + 1 + k, time=row.time or time, line=0) for k, row in enumerate(rows)
    )
    if not row_number(str(written[-1].no)):
        what = f"row {log.highest} stands in the log already; numbers behind it can't be read back"
        raise BuildError([Problem(Place(path.name), what, "Give that row its own number, by hand.")])
    return written


def _held_up(path: Path) -> BuildError:
    what = "another program has been writing to the log all the while; no row was added"
    return BuildError([Problem(Place(path.name), what, "Close it, then try again.")])


def now() -> str:
    """Return the present local time with its offset from UTC, to the second (ISO 8601)."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def _time_behind(last: str) -> str:
    """The present time for rows that go behind one of the time `last`, and unlike it: to the second, or to the
    thousandth where that second is taken. So rows of one time are those that one command wrote."""
    present = datetime.now().astimezone()
    text = present.isoformat(timespec="seconds")
    if text[:19] != last[:19]:
        return text
    taken = last[:23] if last[19:20] == "." else last[:19]
    while (text := present.isoformat(timespec="milliseconds"))[:23] <= taken:
        present += timedelta(milliseconds=1)
    return text


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
                raise _held_up(path)
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


def _unlock(descriptor: int) -> None:
    """Let others at the file, if it is still open here."""
    if descriptor < 0:
        return
    if sys.platform == "win32":  # pragma: no cover
        os.lseek(descriptor, LOG_BYTES_MAX * 2, os.SEEK_SET)
        msvcrt.locking(descriptor, msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_UN)


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
        with suppress(OSError):
            os.ftruncate(descriptor, size_before)
            _sync(descriptor)
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
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _trouble(path: Path, what: str, why: OSError | ValueError) -> BuildError:
    """What the system has against a file, as a problem."""
    reason = (getattr(why, "strerror", None) or str(why)).lower()
    hint = "Is the disk full, the folder there, and the file yours to write? Is it open in another program?"
    return BuildError([Problem(Place(path.name), f"the log {what}: {reason}", hint)])
