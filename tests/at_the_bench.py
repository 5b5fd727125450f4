"""A real terminal for tests: a pseudo-terminal with a command running in it, keystrokes and all."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from contextlib import suppress
from fcntl import ioctl
from pathlib import Path

WAIT_S = 60.0
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Terminal:
    """A command in a terminal of so many columns. `until` waits for text; `type` sends keystrokes."""

    def __init__(self, *words: str, at: Path, columns: int = 80, environment: dict[str, str] | None = None) -> None:
        code = "from fitsolve.cli.main import main; main()"
        self.raw = ""
        self.pid, self.fd = pty.fork()
        if self.pid == 0:  # pragma: no cover
            ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
            os.chdir(at)
            own = {key: value for key, value in os.environ.items() if key not in ("FITSOLVE_BUILD", "COLUMNS", "LINES")}
            own |= {"TERM": "xterm", "PYTHONPATH": os.pathsep.join(sys.path), **(environment or {})}
            # with its own environment: a line editor that is loaded here says COLUMNS=80 behind Python's back
            os.execve(sys.executable, [sys.executable, "-c", code, *words], own)
        self.seen = 0

    @property
    def text(self) -> str:
        """What stands on the screen so far, without colours."""
        return ESCAPES.sub("", self.raw).replace("\r\n", "\n").replace("\r", "")

    def _more(self, seconds: float) -> bool:
        ready, _, _ = select.select([self.fd], [], [], seconds)
        if not ready:
            return False
        try:
            piece = os.read(self.fd, 65536)
        except OSError:  # Linux says so when the other end is closed
            return False
        self.raw += piece.decode("utf-8", "replace")
        return bool(piece)

    def until(self, text: str) -> str:
        """Wait until the text stands on the screen behind what was waited for before."""
        end = time.monotonic() + WAIT_S
        while text not in self.text[self.seen :]:
            assert time.monotonic() < end, f"waited for {text!r}, on the screen: {self.text[self.seen:]!r}"
            if not self._more(0.2) and self._gone() and text not in self.text[self.seen :]:
                raise AssertionError(f"it ended; waited for {text!r}, on the screen: {self.text[self.seen:]!r}")
        at = self.text.index(text, self.seen) + len(text)
        piece, self.seen = self.text[self.seen : at], at
        return piece

    def _gone(self) -> bool:
        return os.waitpid(self.pid, os.WNOHANG)[0] != 0 if not hasattr(self, "status") else True

    def type(self, keys: str) -> None:
        """Keystrokes, as from a keyboard or a caliper; Enter is a carriage return."""
        os.write(self.fd, keys.replace("\n", "\r").encode())

    def ended(self) -> int:
        """Wait for the end of the command; its exit status. One that only waits for keys is ended, and fails."""
        while self._more(WAIT_S):
            pass
        with suppress(ProcessLookupError):
            if os.waitid(os.P_PID, self.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None and not self._closing():
                os.kill(self.pid, signal.SIGKILL)
        _, status = os.waitpid(self.pid, 0)
        os.close(self.fd)
        return os.waitstatus_to_exitcode(status)

    def _closing(self) -> bool:
        """Whether it ends within a moment, now that it says no more."""
        for _ in range(100):
            if os.waitid(os.P_PID, self.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
                return True
            time.sleep(0.05)
        return False

    def kill(self) -> None:
        """End it the hard way, at whatever it was doing."""
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self.fd)


def ran(*words: str, at: Path, columns: int = 80, environment: dict[str, str] | None = None) -> tuple[int, str]:
    """Run a command to its end in a terminal; its status and what stands on the screen."""
    terminal = Terminal(*words, at=at, columns=columns, environment=environment)
    status = terminal.ended()
    return status, terminal.text
