"""Running: what the log leaves true, kept up while rows are added one after another.

Replaying a history of n rows takes time in proportion to n, and a maker with a caliper in hand
waits for it between two readings. A reading changes nothing behind it: so the replayed history
is kept, and the new row is replayed on it. Whatever reaches back or names what is not there yet
(strike, rename, a new station), and a log that another program has added to, is replayed whole.

    state after (log, rows) = replay(replay(log), rows)      for rows that only say a distance

A row that is refused leaves no trace: the history it was tried on is forgotten.

Not here: files (shoplog), what the rows do (history).
"""

from __future__ import annotations

from collections.abc import Mapping

from fitsolve.build.assembly import Assembly
from fitsolve.build.history import History, State
from fitsolve.build.logtext import Log, Row
from fitsolve.build.state import replayed
from fitsolve.build.tools import Tool
from fitsolve.errors import Problem
from fitsolve.light import replace

_PLAIN = frozenset({"reading", "lean", "rough", "compare", "gang"})


class Running:
    """The history of one log, at hand for the next row."""

    def __init__(self, assembly: Assembly, tools: Mapping[str, Tool]) -> None:
        self.assembly = assembly
        self.tools = tools
        self._log: Log | None = None
        self._history: History | None = None

    def tried(self, log: Log, rows: tuple[Row, ...]) -> tuple[Assembly, State, tuple[Problem, ...]]:
        """Return what would be true with these rows behind the log, and the problems of the rows.

        `kept` or `refused` is to be called next, as they were written or not.
        """
        history = self._history
        if history is None or log is not self._log or not all(self._only_adds(history, row) for row in rows):
            history = replayed(self.assembly, replace(log, rows=(*log.rows, *rows)), self.tools)
        else:
            history.replay(rows)
        self._history, self._log = history, None
        problems = history.reader.problems
        count = len(problems)
        state = history.state(rows[-1])
        said = tuple(state.problems)
        del problems[count:]  # what has grown is said anew each time
        new = {f"#{row.no}" for row in rows}
        return history.assembly, state, tuple(one for one in said if one.place.key in new)

    def ready(self, log: Log) -> None:
        """Replay a log before its next row comes."""
        self._history, self._log = replayed(self.assembly, log, self.tools), log

    def kept(self, log: Log | None) -> None:
        """The rows are written, and this is the log with them."""
        self._log = log

    def refused(self) -> None:
        """The rows were not written."""
        self._history = self._log = None

    def _only_adds(self, history: History, row: Row) -> bool:
        return row.event in _PLAIN and "@" not in f"{row.start}{row.end}"
