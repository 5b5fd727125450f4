"""Kills a small program while it adds rows to a log, again and again, and looks what became of them.

    python killed_while_writing.py FOLDER TIMES SEED

Each child opens the log of FOLDER, adds rows and acknowledges each in a pipe as soon as `append`
has returned. It is ended the hard way (SIGKILL), with a system that takes only some bytes at a time:

    by itself     at the n-th step of its work, n = 1, 2, 3, ...: each byte written, each sync, each
                  lock taken or let go is a step; through two rows, so that no moment is left out
    by another    after a time drawn by lot

After each death the log is read: all that was ever acknowledged must stand there, cell by cell,
and whatever is believed must be a row that was meant, whole. The last row of a child may stand
there unacknowledged: it was on disk, and only the word of it was lost. Prints what it found.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from fitsolve.build import shoplog
from fitsolve.build.logtext import Row
from fitsolve.build.shoplog import OpenLog, read_log

ROWS_OF_A_CHILD = 40
LOG_STARTS_ANEW = 60


def meant(child: int, k: int) -> Row:
    """The k-th row of a child, with what makes trouble in a file: commas, quotes, letters of two bytes."""
    note = f'child {child} row {k}, "snug", ± {child * 1000 + k}'
    return Row(0, "2025-11-25T14:10:00+01:00", "reading", "leg.fl.outer", "leg.fl.inner", f"{k} 17/32", "caliper", note)


def work(path: Path, child: int, acknowledged: int, dies_at: int, piece: int, with_open_log: bool) -> None:
    """Add rows; die at a step of the work if one is given."""
    steps = 0
    write, sync, lock = os.write, os.fsync, shoplog._lock

    def step() -> None:
        nonlocal steps
        steps += 1
        if steps == dies_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def some(descriptor: int, content: bytes) -> int:
        step()
        return write(descriptor, content[:piece])

    def synced(descriptor: int) -> None:
        step()
        sync(descriptor)
        step()

    def locked(descriptor: int, **how: object) -> bool:
        step()
        done = lock(descriptor, **how)  # type: ignore[arg-type]
        step()
        return done

    os.write, os.fsync, shoplog._lock = some, synced, locked  # type: ignore[assignment]
    log = OpenLog(path)
    for k in range(ROWS_OF_A_CHILD):
        row = log.append([meant(child, k)])[0] if with_open_log else shoplog.append(path, [meant(child, k)])[0]
        step()
        write(acknowledged, f"{row.no} {k}\n".encode())
        step()


def one_death(path: Path, child: int, dies_at: int, piece: int, after_s: float) -> dict[int, Row]:
    """Let a child live and die; return what it acknowledged, by number."""
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        try:
            work(path, child, writing, dies_at, piece, with_open_log=bool(child % 2))
        finally:
            os._exit(0)
    os.close(writing)
    if not dies_at:
        time.sleep(after_s)
        os.kill(pid, signal.SIGKILL)
    said = b""
    while more := os.read(reading, 65536):
        said += more
    os.close(reading)
    os.waitpid(pid, 0)
    words = (line.split() for line in said.decode().split("\n") if line)
    return {int(no): meant(child, int(k)) for no, k in words}


def cells(row: Row) -> tuple[str, ...]:
    return row.time, row.event, row.start, row.end, row.reading, row.tool, row.note


def look(path: Path, promised: dict[int, Row], everything: set[tuple[str, ...]], believed: set[str]) -> list[str]:
    """What is wrong with the log now: lost rows, and believed ones that nobody meant."""
    log = read_log(path)
    standing = {row.no: row for row in log.rows}
    wrong = [f"#{no} was acknowledged and is lost" for no in promised if no not in standing]
    wrong += [f"#{no} is not what it was" for no, row in promised.items()
              if no in standing and cells(standing[no]) != cells(row)]  # fmt: skip
    wrong += [f"#{row.no} was never meant: {row}" for row in log.rows if cells(row) not in everything]
    wrong += [f"a problem: {problem}" for problem in log.problems if problem.level == "error"]
    believed.update(row.note for row in log.rows)
    return wrong


def main(folder: str, times: int, seed: int) -> None:
    lot = random.Random(seed)
    child = kept = torn = 0
    wrong: list[str] = []
    believed: set[str] = set()
    dies_at, past_the_end = 1, False
    while child < times and not wrong:
        path = Path(folder) / f"log-{child}.csv"
        promised: dict[int, Row] = {}
        everything: set[tuple[str, ...]] = set()
        for _ in range(LOG_STARTS_ANEW):
            if child >= times:
                break
            child += 1
            everything |= {cells(meant(child, k)) for k in range(ROWS_OF_A_CHILD)}
            if past_the_end:
                said = one_death(path, child, 0, lot.choice((1, 5, 30, 1000)), lot.uniform(0, 0.012))
            else:
                said = one_death(path, child, dies_at, 1, 0)
                past_the_end = len(said) > 2
                dies_at += 1
            promised |= said
            wrong += look(path, promised, everything, believed)
        kept += len(promised)
        torn += path.read_bytes().count(b"cut off")
    print(f"{child} deaths, the first {dies_at - 1} one step further each; {kept} rows acknowledged, "
          f"{torn} lines torn, {len(wrong)} wrong")  # fmt: skip
    print("\n".join(wrong[:20]))
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
